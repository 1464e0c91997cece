/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "base/day.h"
#include "base/limits.h"
#include "base/value.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define COUNT(a) (sizeof(a) / sizeof(a)[0])

static const cw_holds line = { .type = CW_LINE_T, .high = 5 }, note = { .type = CW_TEXT_T },
                      needed = { .type = CW_TEXT_T, .low = 1, .high = 5 }, code = { .type = CW_CODE_T },
                      word = { .type = CW_TEXT_T, .words = "allow|warn|block" },
                      two = { .type = CW_TEXT_T, .words = "clump|division" },
                      whole = { .type = CW_INT_T, .low = -2, .high = 1000000 },
                      any_whole = { .type = CW_INT_T },
                      real = { .type = CW_REAL_T, .low = 0.01, .high = 0.9999 },
                      any_real = { .type = CW_REAL_T }, money = { .type = CW_MONEY_T },
                      day = { .type = CW_DAY_T }, instant = { .type = CW_INSTANT_T },
                      week = { .type = CW_WEEK_T }, yes = { .type = CW_BOOL_T },
                      country = { .type = CW_COUNTRY_T }, mail = { .type = CW_MAIL_T, .high = CW_MAX_NAME },
                      days = { .type = CW_DAYS_T, .high = 2 };

/* One text by one description: its value, or why it has none. */
static void test_texts_are_read_or_refused_with_a_reason(void **state)
{
    static const struct {
        const cw_holds *holds;
        const char *text;
        int64_t i;
        double r;
        const char *why; /* NULL: it is read */
    } rows[] = {
        { &line, "abcde", 0, 0, NULL },
        { &line, "", 0, 0, NULL },
        { &line, "abcdef", 0, 0, "must be at most 5 bytes: abcdef" },
        { &line, "a\nb", 0, 0, "must be one line without control characters: a?b" },
        { &line, "a\tb", 0, 0, "must be one line without control characters: a?b" },
        { &note, "a\n\tb", 0, 0, NULL },
        { &note, "a\x01", 0, 0, "must not have control characters: a?" },
        { &note, "a\x7f", 0, 0, "must not have control characters: a?" },
        { &needed, "", 0, 0, "must not be empty" },
        { &code, "RED 1", 0, 0, NULL },
        { &code, " RED", 0, 0, "must not begin or end with a space:  RED" },
        { &code, "RED ", 0, 0, "must not begin or end with a space: RED " },
        { &code, "123456789012345678901234567890123", 0, 0,
          "must be at most 32 bytes: 123456789012345678901234567890123" },
        { &word, "allow", 0, 0, NULL },
        { &word, "block", 2, 0, NULL },
        { &word, "warn|block", 0, 0, "must be allow, warn or block: warn|block" },
        { &word, "war", 0, 0, "must be allow, warn or block: war" },
        { &word, "", 0, 0, "must be allow, warn or block" },
        { &two, "division", 1, 0, NULL },
        { &two, "tuber", 0, 0, "must be clump or division: tuber" },
        { &whole, "-2", -2, 0, NULL },
        { &whole, "1000000", 1000000, 0, NULL },
        { &whole, "1000001", 0, 0, "must be a whole number from -2 to 1000000: 1000001" },
        { &whole, "1.0", 0, 0, "must be a whole number from -2 to 1000000: 1.0" },
        { &any_whole, "-999999999999999999", -999999999999999999, 0, NULL },
        { &any_whole, "x", 0, 0, "must be a whole number: x" },
        { &real, "0.5", 0, 0.5, NULL },
        { &real, "1", 0, 0, "must be a number from 0.01 to 0.9999: 1" },
        { &real, "0,5", 0, 0, "must be a number from 0.01 to 0.9999, with a decimal point: 0,5" },
        { &any_real, "-1e9", 0, -1e9, NULL },
        { &any_real, "nan", 0, 0, "must be a number: nan" },
        { &money, "12.5", 1250, 0, NULL },
        { &money, "-1", 0, 0, "must be an amount of money, as 12.50, never negative: -1" },
        { &day, "1970-01-02", 1, 0, NULL },
        { &day, "2032-02-30", 0, 0, "must be a day that exists, as 2032-04-19: 2032-02-30" },
        { &instant, "1970-01-01T00:00:01Z", 1000, 0, NULL },
        { &instant, "1970-01-01", 0, 0,
          "must be an instant with its offset, as 2032-01-31T09:15:00Z or ...+01:00: 1970-01-01" },
        { &week, "2032-W16", 203216, 0, NULL },
        { &week, "2032-W99", 0, 0, "must be an ISO week that exists, as 2032-W16: 2032-W99" },
        { &yes, "Yes", 1, 0, NULL },
        { &yes, "0", 0, 0, NULL },
        { &yes, "perhaps", 0, 0, "must be yes or no (1/0, yes/no, true/false): perhaps" },
        { &country, "Atlantis", 0, 0, "must be a country of ISO 3166-1, by its code or by name: Atlantis" },
        { &mail, "", 0, 0, NULL },
        { &mail, "The Nursery <office@nursery.example>", 0, 0, NULL },
        { &mail, "office", 0, 0,
          "must be an e-mail address, such as office@nursery.example or The Nursery "
          "<office@nursery.example>: office" },
        { &days, "", 0, 0, NULL },
        { &days, "2032-04-19 2032-04-20", 0, 0, NULL },
        { &days, "2032-04-19 2032-04-20 2032-04-21", 0, 0,
          "must be at most 2 days, as 2032-04-19: 2032-04-19 2032-04-20 2032-04-21" },
        { &days, "2032-04-31", 0, 0, "must be at most 2 days, as 2032-04-19: 2032-04-31" },
    };
    (void)state;
    for (size_t k = 0; k < COUNT(rows); k++) {
        cw_value v = { 0 };
        char why[CW_WHY_BYTES] = "";
        size_t n = strlen(rows[k].text);
        bool read = cw_value_parse(rows[k].holds, rows[k].text, n, &v);
        if (!read)
            cw_value_why(rows[k].holds, rows[k].text, n, why);
        if (read != (rows[k].why == NULL) || (rows[k].why && strcmp(why, rows[k].why) != 0))
            fail_msg("%s: %s, want %s", rows[k].text, read ? "read" : why,
                     rows[k].why ? rows[k].why : "read");
        if (read && rows[k].holds != &country && (v.i != rows[k].i || v.r < rows[k].r || v.r > rows[k].r))
            fail_msg("%s: %lld, %g", rows[k].text, (long long)v.i, v.r);
    }
    cw_value v = { 0 };
    assert_true(cw_value_parse(&country, "germany", 7, &v));
    assert_string_equal(v.t, "DE");
}

/* The same in JSON: a value of another kind is refused, not read as well as it goes. */
static void test_json_is_read_by_its_kind(void **state)
{
    static const cw_holds longer = { .type = CW_LONG_T };
    static const struct {
        const cw_holds *holds;
        const char *json;
        int64_t i;
        double r;
        const char *why;
    } rows[] = {
        { &whole, "5", 5, 5, NULL },
        { &whole, "5.0", 0, 0, "must be a whole number from -2 to 1000000: 5" },
        { &whole, "-3", 0, 0, "must be a whole number from -2 to 1000000: -3" },
        { &whole, "\"5\"", 0, 0, "must be a whole number from -2 to 1000000, not a text" },
        { &whole, "true", 0, 0, "must be a whole number from -2 to 1000000, not true or false" },
        { &real, "0.5", 0, 0.5, NULL },
        { &any_real, "7", 7, 7, NULL },
        { &real, "[]", 0, 0, "must be a number from 0.01 to 0.9999, not a list" },
        { &money, "\"12.50\"", 1250, 0, NULL },
        { &money, "12.5", 1250, 12.5, NULL },
        { &money, "1.005", 0, 0, "must be an amount of money, as 12.50, never negative: 1.005" },
        { &money, "-1", 0, 0, "must be an amount of money, as 12.50, never negative: -1" },
        { &money, "1e300", 0, 0, "must be an amount of money, as 12.50, never negative: 1e+300" },
        { &money, "false", 0, 0, "must be an amount of money, as 12.50, never negative, not true or false" },
        { &yes, "true", 1, 0, NULL },
        { &yes, "1", 0, 0, "must be true or false, not a number" },
        { &yes, "\"yes\"", 0, 0, "must be true or false, not a text" },
        { &day, "\"1970-01-02\"", 1, 0, NULL },
        { &day, "19700102", 0, 0, "must be a day that exists, as 2032-04-19, not a number" },
        { &two, "\"division\"", 1, 0, NULL },
        { &two, "\"tuber\"", 0, 0, "must be clump or division: tuber" },
        { &note, "{}", 0, 0, "must be a text, not an object" },
        { &code, "5", 0, 0, "must be a code, not a number" },
        { &longer, "\"a\\u0001\"", 0, 0, NULL },
    };
    (void)state;
    for (size_t k = 0; k < COUNT(rows); k++) {
        cw_value v = { 0 };
        char why[CW_WHY_BYTES] = "";
        json_t *json = json_loads(rows[k].json, JSON_DECODE_ANY, NULL);
        bool read = cw_value_from_json(rows[k].holds, json, &v);
        if (!read)
            cw_value_why_json(rows[k].holds, json, why);
        if (read != (rows[k].why == NULL) || (rows[k].why && strcmp(why, rows[k].why) != 0))
            fail_msg("%s: %s, want %s", rows[k].json, read ? "read" : why,
                     rows[k].why ? rows[k].why : "read");
        if (read && (v.i != rows[k].i || v.r < rows[k].r || v.r > rows[k].r))
            fail_msg("%s: %lld, %g", rows[k].json, (long long)v.i, v.r);
        json_decref(json);
    }
}

/* What is written is read as the same value. */
static void test_what_is_written_is_read_again(void **state)
{
    static const struct {
        const cw_holds *holds;
        int64_t i;
        const char *text;
    } rows[] = {
        { &any_whole, -999999999999999999, "-999999999999999999" },
        { &money, 1205, "12.05" },
        { &day, 22754, "2032-04-19" },
        { &instant, 1500, "1970-01-01T00:00:01.500Z" },
        { &week, 203216, "2032-W16" },
        { &yes, 1, "yes" },
        { &yes, 0, "no" },
    };
    (void)state;
    for (size_t k = 0; k < COUNT(rows); k++) {
        char out[CW_CELL_BYTES];
        cw_value v = { .i = rows[k].i }, again = { 0 };
        size_t n = cw_value_format(rows[k].holds->type, 0, &v, out);
        if (n != strlen(rows[k].text) || memcmp(out, rows[k].text, n) != 0)
            fail_msg("%.*s, want %s", (int)n, out, rows[k].text);
        assert_true(cw_value_parse(rows[k].holds, out, n, &again));
        assert_int_equal(again.i, v.i);
    }
    char out[CW_CELL_BYTES];
    size_t n = cw_value_format(CW_REAL_T, 2, &(cw_value){ .r = -0.125 }, out);
    assert_memory_equal(out, "-0.12", n);
}

static void has_schema(const cw_holds *h, const char *want)
{
    json_t *s = cw_value_schema(h);
    char *text = json_dumps(s, JSON_COMPACT);
    assert_string_equal(text, want);
    free(text);
    json_decref(s);
}

static void test_schemas(void **state)
{
    (void)state;
    has_schema(&needed, "{\"type\":\"string\",\"minLength\":1,\"maxLength\":5}");
    has_schema(&code, "{\"type\":\"string\",\"maxLength\":32}");
    has_schema(&two, "{\"type\":\"string\",\"enum\":[\"clump\",\"division\"]}");
    has_schema(&whole, "{\"type\":\"integer\",\"minimum\":-2,\"maximum\":1000000}");
    has_schema(&any_real, "{\"type\":\"number\"}");
    has_schema(&money, "{\"type\":[\"string\",\"number\"],\"pattern\":\"^[0-9]+(\\\\.[0-9]{1,2})?$\"}");
    has_schema(&day, "{\"type\":\"string\",\"format\":\"date\"}");
    has_schema(&days, "{\"type\":\"string\"}");
    has_schema(&yes, "{\"type\":\"boolean\"}");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_texts_are_read_or_refused_with_a_reason),
        cmocka_unit_test(test_json_is_read_by_its_kind),
        cmocka_unit_test(test_what_is_written_is_read_again),
        cmocka_unit_test(test_schemas),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "base/limits.h"
#include "base/money.h"
#include "base/text.h"
#include <stdlib.h>
#include <limits.h>
#include <stdio.h>
#include <string.h>

#define COUNT(a) (sizeof(a) / sizeof(a)[0])

static void test_appending_and_the_cap(void **state)
{
    (void)state;
    cw_text t = CW_TEXT(600);
    char long_text[560];
    memset(long_text, 'x', sizeof long_text);
    long_text[sizeof long_text - 1] = '\0';
    cw_text_add(&t, "lot ");
    cw_text_addf(&t, "%d/%s", 31, "b");
    cw_text_addc(&t, '.');
    assert_string_equal(t.data, "lot 31/b.");
    cw_text_addf(&t, "%s", long_text); /* longer than the first try of addf */
    assert_int_equal(t.length, 9 + 559);
    cw_check_ok(cw_text_check(&t, NULL), NULL);
    cw_text_addn(&t, long_text, 32); /* to the cap exactly */
    assert_int_equal(t.length, 600);
    cw_check_ok(cw_text_check(&t, NULL), NULL);
    cw_text_addc(&t, '!');
    assert_int_equal(cw_text_check(&t, NULL), CW_MACHINE);
    cw_text_clear(&t);
    cw_text_add(&t, "again");
    cw_check_ok(cw_text_check(&t, NULL), NULL);
    char *taken = cw_text_take(&t);
    assert_string_equal(taken, "again");
    free(taken);
    assert_null(t.data);
    taken = cw_text_take(&t);
    assert_string_equal(taken, "");
    free(taken);
    cw_text_free(&t);
    cw_text_free(&t);
}

/* As printf writes them. */
static void test_whole_numbers_are_written(void **state)
{
    static const int64_t values[] = { 0, 7, -7, 10, 1234567890123, INT64_MAX, INT64_MIN };
    (void)state;
    for (size_t i = 0; i < sizeof values / sizeof values[0]; i++) {
        char want[32];
        cw_text t = CW_TEXT(64);
        snprintf(want, sizeof want, "%lld", (long long)values[i]);
        cw_text_add_int(&t, values[i]);
        assert_string_equal(t.data, want);
        cw_text_free(&t);
    }
}

static void test_copy_never_cuts_a_character(void **state)
{
    (void)state;
    static const struct {
        const char *in;
        size_t size;
        const char *out;
    } rows[] = { { "abc", 10, "abc" },
                 { "abc", 4, "abc" },
                 { "abc", 3, "ab" },
                 { "a\xC3\xA9", 3, "a" },
                 { "a\xC3\xA9", 4, "a\xC3\xA9" },
                 { "\xF0\x9F\x8C\xB7", 4, "" },
                 { "abc", 1, "" } };
    for (size_t i = 0; i < COUNT(rows); i++) {
        char out[16];
        cw_copy(out, rows[i].size, rows[i].in);
        assert_string_equal(out, rows[i].out);
    }
}

/* A sentence that is too long for an error ends before the character that would be cut, wherever the cut falls. */
static void test_errors_never_cut_a_character(void **state)
{
    (void)state;
    for (int before = 0; before < 4; before++) {
        cw_error err = CW_ERROR_NONE;
        char longer[1024] = "";
        for (size_t i = 0; i + 5 < sizeof longer; i += 4)
            memcpy(longer + i, "\xF0\x9F\x8C\xB8", 5);
        (void)cw_error_set(&err, CW_REFUSED, "%.*s%s", before, "abc", longer);
        size_t n = strlen(err.text);
        assert_true(n >= sizeof err.text - 5 && n < sizeof err.text);
        assert_true(cw_utf8_valid(err.text, n, NULL));
    }
    for (int cut = 1; cut <= 8; cut++) { /* by a precision, or by a library that wrote the sentence */
        cw_error err = CW_ERROR_NONE;
        (void)cw_error_set(&err, CW_REFUSED, "near %.*s, and more", cut, "\xF0\x9F\x8C\xB8\xF0\x9F\x8C\xB8");
        assert_true(cw_utf8_valid(err.text, strlen(err.text), NULL));
        assert_non_null(strstr(err.text, ", and more"));
    }
}

/* Well-formed and ill-formed sequences by RFC 3629 section 4 (its grammar, from memory). */
static void test_utf8(void **state)
{
    (void)state;
    static const struct {
        const char *row, *s;
        size_t n;
        int bad; /* offset of the first wrong byte, -1 = valid */
    } rows[] = { { "empty", "", 0, -1 },
                 { "ASCII", "tuber", 5, -1 },
                 { "last of two bytes", "\xDF\xBF", 2, -1 },
                 { "first of three", "\xE0\xA0\x80", 3, -1 },
                 { "before the surrogates", "\xED\x9F\xBF", 3, -1 },
                 { "after the surrogates", "\xEE\x80\x80", 3, -1 },
                 { "first of four", "\xF0\x90\x80\x80", 4, -1 },
                 { "last of all", "\xF4\x8F\xBF\xBF", 4, -1 },
                 { "NUL", "a\0b", 3, 1 },
                 { "lone continuation", "a\x80", 2, 1 },
                 { "overlong two", "\xC1\xBF", 2, 0 },
                 { "overlong three", "\xE0\x9F\xBF", 3, 0 },
                 { "overlong four", "\xF0\x8F\xBF\xBF", 4, 0 },
                 { "surrogate", "ab\xED\xA0\x80", 5, 2 },
                 { "beyond the last", "\xF4\x90\x80\x80", 4, 0 },
                 { "five bytes", "\xF8\x88\x80\x80\x80", 5, 0 },
                 { "cut short", "\xE2\x82", 2, 0 },
                 { "broken inside", "\xE2\x28\xA1", 3, 0 } };
    for (size_t i = 0; i < COUNT(rows); i++) {
        size_t bad = 99;
        print_message("%s\n", rows[i].row);
        assert_int_equal(cw_utf8_valid(rows[i].s, rows[i].n, &bad), rows[i].bad < 0);
        if (rows[i].bad >= 0)
            assert_int_equal(bad, rows[i].bad);
    }
}

static void test_whole_numbers(void **state)
{
    (void)state;
    static const struct {
        const char *s;
        bool ok;
        int64_t v;
    } rows[] = { { "0", true, 0 },
                 { "42", true, 42 },
                 { "-7", true, -7 },
                 { "007", true, 7 },
                 { "1000", true, 1000 },
                 { "1001", false, 0 },
                 { "-11", false, 0 },
                 { "", false, 0 },
                 { "-", false, 0 },
                 { "+1", false, 0 },
                 { " 1", false, 0 },
                 { "1 ", false, 0 },
                 { "1.0", false, 0 },
                 { "1,000", false, 0 },
                 { "1e3", false, 0 },
                 { "0x10", false, 0 },
                 { "--1", false, 0 },
                 { "12a", false, 0 },
                 { "9223372036854775808", false, 0 } };
    for (size_t i = 0; i < COUNT(rows); i++) {
        int64_t v = 0;
        print_message("%s\n", rows[i].s);
        assert_int_equal(cw_parse_int(rows[i].s, strlen(rows[i].s), -10, 1000, &v), rows[i].ok);
        assert_int_equal(v, rows[i].v);
    }
}

static void test_reals_and_yes_no(void **state)
{
    (void)state;
    static const struct {
        const char *s;
        bool ok;
        double v;
    } rows[] = { { "5.5", true, 5.5 }, { "-3", true, -3 },  { "1e2", true, 100 },  { "101", false, 0 },
                 { "", false, 0 },     { "nan", false, 0 }, { "inf", false, 0 },   { "0x1p3", false, 0 },
                 { "1,5", false, 0 },  { "+1", false, 0 },  { "1.2.3", false, 0 }, { "1e999", false, 0 },
                 { " 1", false, 0 },   { "1-1", false, 0 }, { "e", false, 0 } };
    for (size_t i = 0; i < COUNT(rows); i++) {
        double v = 0;
        print_message("%s\n", rows[i].s);
        assert_int_equal(cw_parse_real(rows[i].s, strlen(rows[i].s), -100, 100, &v), rows[i].ok);
        assert_true(v == rows[i].v);
    }
    static const struct {
        const char *s;
        int v; /* -1 = refused */
    } words[] = { { "1", 1 },     { "0", 0 },  { "Yes", 1 }, { "NO", 0 },    { "true", 1 },
                  { "False", 0 }, { "y", -1 }, { "", -1 },   { "yes ", -1 }, { "2", -1 } };
    for (size_t i = 0; i < COUNT(words); i++) {
        bool v = false;
        assert_int_equal(cw_parse_bool(words[i].s, strlen(words[i].s), &v), words[i].v >= 0);
        assert_int_equal(v, words[i].v == 1);
    }
}

static void test_money(void **state)
{
    (void)state;
    static const struct {
        const char *s;
        bool ok;
        cw_cents v;
        const char *shown;
    } rows[] = { { "12", true, 1200, "12.00" },
                 { "12.5", true, 1250, "12.50" },
                 { "12.05", true, 1205, "12.05" },
                 { "0.00", true, 0, "0.00" },
                 { "1000000000.00", true, CW_MAX_CENTS, "1000000000.00" },
                 { "1000000000.01", false, 0, "" },
                 { "12.505", false, 0, "" },
                 { "12.", false, 0, "" },
                 { ".50", false, 0, "" },
                 { "-1", false, 0, "" },
                 { "1.-5", false, 0, "" },
                 { "1.-0", false, 0, "" },
                 { "1.0-", false, 0, "" },
                 { "1.5-", false, 0, "" },
                 { "-0", false, 0, "" },
                 { "1.2.3", false, 0, "" },
                 { "0.99", true, 99, "0.99" },
                 { "0.09", true, 9, "0.09" },
                 { "7.0", true, 700, "7.00" },
                 { "7", true, 700, "7.00" },
                 { "-", false, 0, "" },
                 { "1000000001", false, 0, "" },
                 { "999999999.99", true, CW_MAX_CENTS - 1, "999999999.99" },
                 { "-0.50", false, 0, "" },
                 { "1.005", false, 0, "" },
                 { "0.000", false, 0, "" },
                 { "1,50", false, 0, "" },
                 { "$5", false, 0, "" },
                 { "", false, 0, "" } };
    for (size_t i = 0; i < COUNT(rows); i++) {
        cw_cents v = 0;
        char shown[24];
        print_message("%s\n", rows[i].s);
        assert_int_equal(cw_cents_parse(rows[i].s, strlen(rows[i].s), &v), rows[i].ok);
        assert_int_equal(v, rows[i].v);
        cw_cents_format(v, shown);
        if (rows[i].ok)
            assert_string_equal(shown, rows[i].shown);
    }
    char shown[24];
    cw_cents_format(-5, shown);
    assert_string_equal(shown, "-0.05");
    cw_cents_format(-12345, shown);
    assert_string_equal(shown, "-123.45");
    cw_cents_format(INT64_MIN, shown);
    assert_string_equal(shown, "-92233720368547758.08");
}

static void test_shown(void **state)
{
    (void)state;
    char out[80], wide[200];
    assert_string_equal(cw_shown("a\tb\x7F\xC3", 5, out), "a?b??");
    memset(wide, 'w', sizeof wide);
    assert_int_equal(strlen(cw_shown(wide, sizeof wide, out)), 63);
    assert_string_equal(out + 60, "...");
    for (size_t i = 0; i + 4 <= sizeof wide; i += 4)
        memcpy(wide + i, "\xF0\x9F\x8C\xB7", 4);
    assert_true(cw_utf8_valid(cw_shown(wide, sizeof wide, out), strlen(out), NULL));
    wide[0] = 'w';
    assert_string_equal(cw_shown("", 0, out), "");
}

static void test_markup_stands_as_itself(void **state)
{
    (void)state;
    cw_text t = CW_TEXT(200);
    cw_text_add_markup(&t, "<b a=\"1\"> & S\xC3\xB6hne");
    assert_string_equal(t.data, "&lt;b a=&quot;1&quot;&gt; &amp; S\xC3\xB6hne");
    cw_text_free(&t);
}

static void test_control_characters(void **state)
{
    static const struct {
        const char *text, *but;
        bool has;
    } rows[] = {
        { "Fern and S\xC3\xB6hne", "", false },
        { "", "", false },
        { "two\nlines", "", true },
        { "two\nlines\tand a tab", "\n\t", false },
        { "a bell \a", "\n\t", true },
        { "rubbed out \x7F", "\n\t", true },
    };
    (void)state;
    for (size_t i = 0; i < COUNT(rows); i++)
        assert_int_equal(cw_has_control(rows[i].text, strlen(rows[i].text), rows[i].but), rows[i].has);
    assert_true(cw_has_control("a\0b", 3, "\n\t"));
}

/* What it knows it says as snprintf does, also where it has no room for all of it. */
#define SAME(size, ...)                                                                                      \
    do {                                                                                                     \
        char said[128] = "untouched", printed[128] = "untouched";                                            \
        int n = snprintf(printed, size, __VA_ARGS__);                                                        \
        size_t length = cw_say(said, size, __VA_ARGS__);                                                     \
        assert_string_equal(said, printed);                                                                  \
        assert_int_equal(length, n < (int)(size) ? n : (int)(size)-1);                                       \
    } while (0)
static void test_says_as_printf(void **state)
{
    (void)state;
    for (size_t size = 1; size <= 128; size++) {
        SAME(size, "plain");
        SAME(size, "%d of %d%s", -1, INT_MAX, " and more");
        SAME(size, "%s%s", "", "x");
        SAME(size, "%lld%% of %lld", 9223372036854775807LL, -9223372036854775807LL - 1);
        SAME(size, "%d", INT_MIN);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_says_as_printf),
        cmocka_unit_test(test_markup_stands_as_itself),
        cmocka_unit_test(test_appending_and_the_cap),
        cmocka_unit_test(test_whole_numbers_are_written),
        cmocka_unit_test(test_copy_never_cuts_a_character),
        cmocka_unit_test(test_errors_never_cut_a_character),
        cmocka_unit_test(test_utf8),
        cmocka_unit_test(test_whole_numbers),
        cmocka_unit_test(test_reals_and_yes_no),
        cmocka_unit_test(test_money),
        cmocka_unit_test(test_shown),
        cmocka_unit_test(test_control_characters),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* SPDX-License-Identifier: MIT */
/* Days, money and set phrases as buyers read them. */
#include "support/check.h"

#include "base/text.h"
#include "base/tongue.h"
#include "base/words.h"
#include <ctype.h>
#include <stdio.h>
#include <string.h>

static const char *const languages[] = { "en", "de", "fr", "nl" };

/* The long form of Intl.DateTimeFormat in Node 20 (Unicode CLDR 48): new Date("2032-04-16").toLocaleDateString(locale,
 * { dateStyle: "long" }). Only French differs, on the first of a month: CLDR has "1 avril", the language writes "1er". */
static void days_in_the_readers_form(void **state)
{
    static const struct {
        const char *language, *country;
        int month, day;
        const char *want;
    } rows[] = {
        { "en", "GB", 4, 16, "16 April 2032" },    { "en", "US", 4, 16, "April 16, 2032" },
        { "en", "CA", 12, 1, "December 1, 2032" }, { "en", "", 4, 16, "16 April 2032" },
        { "en", NULL, 4, 16, "16 April 2032" },    { "de", "DE", 4, 16, "16. April 2032" },
        { "de", "US", 3, 1, "1. März 2032" },      { "fr", "FR", 8, 16, "16 août 2032" },
        { "fr", "BE", 4, 1, "1er avril 2032" },    { "nl", "NL", 3, 16, "16 maart 2032" },
        { NULL, "US", 4, 16, "April 16, 2032" },   { "it", "IT", 4, 16, "16 April 2032" },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char out[CW_TONGUE_DAY];
        cw_tongue_day(cw_tongue_of(rows[i].language, rows[i].country),
                      cw_day_from_ymd(2032, rows[i].month, rows[i].day), out);
        assert_string_equal(out, rows[i].want);
    }
}

static void days_as_notices_once_kept_them(void **state)
{
    static const char *const none[] = {
        "",          "3",          "16 April",       "16 Aprill 2032", "31 April 2032",
        "2032-04-1", "0 May 2032", "16 April 20321", "-1 May 2032"
    };
    cw_day d = 0;
    (void)state;
    for (int m = 1; m <= 12; m++) {
        char words[24];
        cw_day_words(cw_day_from_ymd(2032, m, 28), words);
        assert_true(cw_tongue_day_read(words, &d));
        assert_int_equal(d, cw_day_from_ymd(2032, m, 28));
    }
    for (size_t i = 0; i < sizeof none / sizeof none[0]; i++)
        if (cw_tongue_day_read(none[i], &d))
            fail_msg("\"%s\" is no day", none[i]);
}

/* Intl.NumberFormat in Node 20 (Unicode CLDR 48) with two decimals. */
static void money_in_the_readers_form(void **state)
{
    static const struct {
        cw_cents v;
        const char *want[4];
    } rows[] = {
        { 5, { "0.05", "0,05", "0,05", "0,05" } },
        { 99999, { "999.99", "999,99", "999,99", "999,99" } },
        { 123450, { "1,234.50", "1.234,50", "1\u202f234,50", "1.234,50" } },
        { 123456789, { "1,234,567.89", "1.234.567,89", "1\u202f234\u202f567,89", "1.234.567,89" } },
        { -123450, { "-1,234.50", "-1.234,50", "-1\u202f234,50", "-1.234,50" } },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        for (size_t l = 0; l < 4; l++) {
            char out[CW_TONGUE_MONEY];
            cw_tongue_money(cw_tongue_of(languages[l], NULL), rows[i].v, out);
            assert_string_equal(out, rows[i].want[l]);
        }
}

static void is_said(const char *language, cw_phrase p, int64_t n, const char *want)
{
    cw_text out = CW_TEXT(4096);
    char count[24];
    snprintf(count, sizeof count, "%lld", (long long)n);
    cw_tongue_say(cw_tongue_of(language, NULL), p, n, count, "B", &out);
    assert_string_equal(out.data, want);
    cw_text_free(&out);
}

static void phrases_count_as_their_language_does(void **state)
{
    (void)state;
    is_said("en", CW_PHRASE_SLIP_COUNT, 0, "0 divisions in this parcel.");
    is_said("en", CW_PHRASE_SLIP_COUNT, 1, "1 division in this parcel.");
    is_said("fr", CW_PHRASE_SLIP_COUNT, 0, "0 éclat dans ce colis.");
    is_said("fr", CW_PHRASE_SLIP_COUNT, 2, "2 éclats dans ce colis.");
    is_said("de", CW_PHRASE_SLIP_COUNT, 0, "0 Teilstücke in diesem Paket.");
    is_said("nl", CW_PHRASE_WHAT_PART, 3, "3 × B");
}

static size_t times(const char *text, const char *part)
{
    size_t n = 0;
    for (const char *s = text; (s = strstr(s, part)) != NULL; s += strlen(part))
        n++;
    return n;
}

/* Every phrase in every language: said, with the same things to fill in, plain UTF-8 without blanks at its ends. */
static void no_phrase_lacks_a_language(void **state)
{
    (void)state;
    assert_string_equal(cw_words_languages, "de|en|fr|nl");
    for (int p = 0; p < CW_PHRASES; p++) {
        const char *english = cw_tongue_phrase(cw_tongue_of("en", NULL), (cw_phrase)p);
        for (size_t l = 0; l < 4; l++) {
            const char *text = cw_tongue_phrase(cw_tongue_of(languages[l], NULL), (cw_phrase)p);
            assert_string_equal(cw_tongue_language(cw_tongue_of(languages[l], NULL)), languages[l]);
            if (text[0] == '\0' || isspace((unsigned char)text[0]) ||
                isspace((unsigned char)text[strlen(text) - 1]) || !cw_utf8_valid(text, strlen(text), NULL))
                fail_msg("phrase %d in %s: \"%s\"", p, languages[l], text);
            static const char *const parts[] = { "{", "{a}", "{b}", "|" };
            for (size_t i = 0; i < 4; i++)
                if (times(text, parts[i]) != times(english, parts[i]))
                    fail_msg("phrase %d in %s fills in other things: \"%s\"", p, languages[l], text);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(days_in_the_readers_form),   cmocka_unit_test(days_as_notices_once_kept_them),
        cmocka_unit_test(money_in_the_readers_form),  cmocka_unit_test(phrases_count_as_their_language_does),
        cmocka_unit_test(no_phrase_lacks_a_language),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

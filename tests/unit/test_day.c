/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "base/day.h"
#include <string.h>
#include <time.h>

static const struct {
    const char *day, *week;
} weeks[] = {
    /* ISO 8601: week 1 holds the year's first Thursday. Examples of Wikipedia's "ISO week date", from memory. */
    { "2005-01-01", "2004-W53" },
    { "2005-01-02", "2004-W53" },
    { "2005-12-31", "2005-W52" },
    { "2007-01-01", "2007-W01" },
    { "2008-12-29", "2009-W01" },
    { "2010-01-03", "2009-W53" },
    { "2032-04-19", "2032-W17" },
    /* Turns of years that manuals give: PostgreSQL's, of `week` (2005, 2006, 2012); M. Kuhn's summary of ISO 8601:1988 (1996); the
     * table of IBM's WEEK_ISO (1998, 1999, 2000). */
    { "2005-01-01", "2004-W53" },
    { "2006-01-01", "2005-W52" },
    { "2012-12-31", "2013-W01" },
    { "1996-12-31", "1997-W01" },
    { "1997-12-28", "1997-W52" },
    { "1997-12-31", "1998-W01" },
    { "1999-01-01", "1998-W53" },
    { "1999-01-04", "1999-W01" },
    { "2000-01-01", "1999-W52" },
    { "2000-01-03", "2000-W01" },
    { "2008-01-01", "2008-W01" },
};

static void test_iso_weeks(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof weeks / sizeof weeks[0]; i++) {
        cw_day d = 0;
        cw_week w = 0;
        char out[11];
        assert_true(cw_day_parse(weeks[i].day, 10, &d));
        cw_week_format(cw_week_of(d), out);
        assert_string_equal(out, weeks[i].week);
        assert_true(cw_week_parse(weeks[i].week, 8, &w));
        assert_true(cw_week_monday(w) <= d && d < cw_week_monday(w) + 7);
    }
}

static void test_days_round_trip(void **state)
{
    (void)state;
    for (cw_day d = -25000; d < 80000; d += 17) {
        char out[11];
        cw_day back = 0;
        cw_day_format(d, out);
        assert_true(cw_day_parse(out, 10, &back));
        assert_int_equal(d, back);
    }
}

/* Every day of eight hundred years as the C library's own calendar has it (gmtime_r and strftime of POSIX: %G-W%V is the week of
 * ISO 8601). */
static void test_every_day_as_the_library_has_it(void **state)
{
    (void)state;
    for (cw_day d = cw_day_from_ymd(1600, 1, 1); d <= cw_day_from_ymd(2399, 12, 31); d++) {
        time_t seconds = (time_t)d * 86400;
        struct tm t;
        char day[11], week[9], their_day[32], their_week[32];
        int year = 0, month = 0, mday = 0;
        assert_non_null(gmtime_r(&seconds, &t));
        cw_day_to_ymd(d, &year, &month, &mday);
        if (year != t.tm_year + 1900 || month != t.tm_mon + 1 || mday != t.tm_mday ||
            cw_day_from_ymd(year, month, mday) != d)
            fail_msg("day %d is %d-%d-%d", d, year, month, mday);
        strftime(their_day, sizeof their_day, "%Y-%m-%d", &t);
        cw_day_format(d, day);
        assert_string_equal(day, their_day);
        strftime(their_week, sizeof their_week, "%G-W%V", &t);
        cw_week_format(cw_week_of(d), week);
        if (strcmp(week, their_week) != 0)
            fail_msg("%s is in %s, not in %s", day, their_week, week);
        cw_day monday = cw_week_monday(cw_week_of(d));
        if (monday > d || monday < d - 6 || ((t.tm_wday + 6) % 7) != d - monday)
            fail_msg("%s: its week begins %d days before", day, d - monday);
    }
}

static void test_weeks_are_counted_on(void **state)
{
    static const struct {
        const char *from, *to;
        int weeks;
    } rows[] = {
        { "2004-W53", "2005-W01", 1 },  { "2005-W01", "2004-W53", -1 }, { "2032-W17", "2032-W17", 0 },
        { "2032-W17", "2033-W17", 53 }, { "2031-W17", "2032-W17", 52 }, /* 2032 has 53 weeks, 2031 has 52 */
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_week w = 0;
        char out[9];
        assert_true(cw_week_parse(rows[i].from, 8, &w));
        assert_int_equal(cw_week_between(w, cw_week_add(w, rows[i].weeks)), rows[i].weeks);
        cw_week_format(cw_week_add(w, rows[i].weeks), out);
        assert_string_equal(out, rows[i].to);
    }
    static const char *const good[] = { "1900-W01", "2199-W52", "2032-W53", "2031-W01" };
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++) {
        cw_week w = 0;
        char out[9];
        assert_true(cw_week_parse(good[i], 8, &w));
        cw_week_format(w, out);
        assert_string_equal(out, good[i]);
    }
    static const char *const bad[] = { "1899-W52", "2200-W01",  "2032-W00", "2032-W54", "2031-W53",
                                       "2032-w10", "2032xW10",  "2032-W1x", "x032-W10", "-032-W10",
                                       "2032-W-1", "2032-W100", "2032-W1",  "",         "2032W10x" };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        cw_week w = 7;
        if (cw_week_parse(bad[i], strlen(bad[i]), &w) || w != 7)
            fail_msg("%s is read", bad[i]);
    }
}

static void test_days_in_words(void **state)
{
    char out[24];
    (void)state;
    cw_day_words(cw_day_from_ymd(2032, 4, 19), out);
    assert_string_equal(out, "19 April 2032");
    cw_day_words(cw_day_from_ymd(2031, 9, 30), out);
    assert_string_equal(out, "30 September 2031");
    cw_day_words(cw_day_from_ymd(2032, 1, 1), out);
    assert_string_equal(out, "1 January 2032");
}

static void test_days_that_do_not_exist(void **state)
{
    (void)state;
    const char *bad[] = { "2031-02-29",
                          "2031-13-01",
                          "2031-00-10",
                          "2031-04-31",
                          "31-04-2031",
                          "2031/04/01",
                          "2031-4-1 ",
                          "1800-01-01",
                          "2031-04/01",
                          "2031/04-01",
                          "2031-04-00",
                          "2031-04-32",
                          "1899-12-31",
                          "2200-01-01",
                          "203x-04-01",
                          "2031-x4-01",
                          "2031-04-0x",
                          "-031-04-01",
                          "2031--4-01",
                          "2031-04-001",
                          "2031-04-1",
                          "2100-02-29",
                          "" };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        cw_day d = 7;
        if (cw_day_parse(bad[i], strlen(bad[i]), &d) || d != 7)
            fail_msg("%s is read", bad[i]);
    }
    const char *good[] = {
        "1900-01-01", "2199-12-31", "2032-02-29", "2000-02-29", "2031-12-01", "2031-01-31"
    };
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++) {
        cw_day d = 0;
        char out[11];
        assert_true(cw_day_parse(good[i], 10, &d));
        cw_day_format(d, out);
        assert_string_equal(out, good[i]);
    }
}

static void test_instants(void **state)
{
    (void)state;
    const struct {
        const char *in, *out;
    } rows[] = { { "2032-01-31T09:15:00Z", "2032-01-31T09:15:00Z" },
                 { "2032-01-31T09:15:00+01:00", "2032-01-31T08:15:00Z" },
                 { "2032-01-31T23:30-06:00", "2032-02-01T05:30:00Z" },
                 { "2032-01-31T09:15:00.250Z", "2032-01-31T09:15:00.250Z" },
                 { "2032-01-31t09:15z", "2032-01-31T09:15:00Z" },
                 { "2032-01-31 09:15:07Z", "2032-01-31T09:15:07Z" },
                 { "2032-01-31T23:59:59.9999Z", "2032-01-31T23:59:59.999Z" },
                 { "2032-01-31T00:00:00.5+00:01", "2032-01-30T23:59:00.500Z" },
                 { "2032-01-31T12:00:00.007-23:59", "2032-02-01T11:59:00.007Z" },
                 { "1969-12-31T23:59:59.999Z", "1969-12-31T23:59:59.999Z" },
                 { "1900-01-01T00:00:00Z", "1900-01-01T00:00:00Z" } };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_instant t = 0;
        char out[25];
        assert_true(cw_instant_parse(rows[i].in, strlen(rows[i].in), &t));
        cw_instant_format(t, out);
        assert_string_equal(out, rows[i].out);
    }
    const char *bad[] = { "2032-01-31T09:15:00",        "2032-01-31",
                          "2032-01-31T24:15:00Z",       "2032-01-31T09:15:00.Z",
                          "2032-02-30T09:15:00Z",       "2032-01-31T09:60:00Z",
                          "2032-01-31T09:15:60Z",       "2032-01-31x09:15:00Z",
                          "2032-01-31T09.15:00Z",       "2032-01-31T09:15:0Z",
                          "2032-01-31T9:15:00Z",        "2032-01-31T09:15:00+24:00",
                          "2032-01-31T09:15:00+10:60",  "2032-01-31T09:15:00+1000",
                          "2032-01-31T09:15:00+1:000",  "2032-01-31T09:15:00x01:00",
                          "2032-01-31T09:15:00+01:00x", "2032-01-31T09:15:00ZZ",
                          "2032-01-31T09:15:00.250",    "2032-01-31T09:15",
                          "2032-01-31T09:15:",          "2032-01-31T09:15:0",
                          "2032-01-31T09:15:00+x1:00",  "2032-01-31T09:15:00+01:0x",
                          "2032-01-31Tx9:15:00Z",       "2032-01-31T09:x5:00Z",
                          "2032-01-31T09:15:xxZ",       "2032-01-31T09:15:00x" };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        cw_instant t = 7;
        if (cw_instant_parse(bad[i], strlen(bad[i]), &t) || t != 7)
            fail_msg("%s is read", bad[i]);
    }
    assert_int_equal(cw_instant_day(0), 0);
    assert_int_equal(cw_instant_day(CW_DAY_MS - 1), 0);
    assert_int_equal(cw_instant_day(CW_DAY_MS), 1);
    assert_int_equal(cw_instant_day(-1), -1);
    assert_int_equal(cw_instant_day(-CW_DAY_MS), -1);
    assert_int_equal(cw_instant_day(-CW_DAY_MS - 1), -2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_iso_weeks),
        cmocka_unit_test(test_days_round_trip),
        cmocka_unit_test(test_every_day_as_the_library_has_it),
        cmocka_unit_test(test_weeks_are_counted_on),
        cmocka_unit_test(test_days_in_words),
        cmocka_unit_test(test_days_that_do_not_exist),
        cmocka_unit_test(test_instants),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

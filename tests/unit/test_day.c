/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "base/day.h"
#include <string.h>

static const struct {
    const char *day, *week;
} weeks[] = {
    /* ISO 8601: week 1 holds the year's first Thursday. Examples of Wikipedia's "ISO week date", from memory. */
    { "2005-01-01", "2004-W53" }, { "2005-01-02", "2004-W53" }, { "2005-12-31", "2005-W52" },
    { "2007-01-01", "2007-W01" }, { "2008-12-29", "2009-W01" }, { "2010-01-03", "2009-W53" },
    { "2032-04-19", "2032-W17" },
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
    const char *bad[] = { "2031-02-29", "2031-13-01", "2031-00-10", "2031-04-31",
                          "31-04-2031", "2031/04/01", "2031-4-1 ",  "1800-01-01" };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        cw_day d = 0;
        assert_false(cw_day_parse(bad[i], strlen(bad[i]), &d));
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
                 { "2032-01-31T09:15:00.250Z", "2032-01-31T09:15:00.250Z" } };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_instant t = 0;
        char out[25];
        assert_true(cw_instant_parse(rows[i].in, strlen(rows[i].in), &t));
        cw_instant_format(t, out);
        assert_string_equal(out, rows[i].out);
    }
    const char *bad[] = { "2032-01-31T09:15:00", "2032-01-31", "2032-01-31T24:15:00Z",
                          "2032-01-31T09:15:00.Z", "2032-02-30T09:15:00Z" };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        cw_instant t = 0;
        assert_false(cw_instant_parse(bad[i], strlen(bad[i]), &t));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_iso_weeks),     cmocka_unit_test(test_days_round_trip),
        cmocka_unit_test(test_days_in_words), cmocka_unit_test(test_days_that_do_not_exist),
        cmocka_unit_test(test_instants),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

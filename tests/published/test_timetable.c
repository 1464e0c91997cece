/* SPDX-License-Identifier: MIT */
/* Timetables of notices and refunds against what is in print.
 *
 * Sources of the rules: 16 CFR part 435 as reprinted at uslegal.com and federal.elaws.us (435.1, 435.2) and quoted in the
 * business guide to it; Directive 2011/83/EU art. 18 and the Consumer Rights Act 2015 s. 28 at legislation.gov.uk. Only
 * figures that were seen there are oracles; rows that rest on memory say so. The days of the week come from the ISO 8601
 * calendar: 2032-04-19 is a Monday (week 17). */
#include "support/check.h"

#include "model/timetable.h"
#include <string.h>

#include "base/banned.h"

static cw_day day(const char *s)
{
    cw_day d = CW_NO_DAY;
    if (s)
        assert_true(cw_day_parse(s, strlen(s), &d));
    return d;
}

static void same_day(const char *what, cw_day got, const char *want)
{
    char a[11] = "never", b[11] = "never";
    if (got != CW_NO_DAY)
        cw_day_format(got, a);
    if (want)
        cw_day_format(day(want), b);
    if (strcmp(a, b) != 0)
        fail_msg("%s: %s, not %s", what, a, b);
}

static cw_timetable preset(const char *name)
{
    cw_timetable t;
    assert_true(cw_timetable_named(name, 45, 10, &t));
    return t;
}

static void an_order_leaves_in_time(void **state)
{
    static const struct {
        const char *what, *timetable, *received, *promised, *by;
    } rows[] = {
        { "US, no time stated: 30 days, 435.2(a)(1)", "us-435", "2032-03-01", NULL, "2032-03-31" },
        { "US, the time stated, 435.2(a)(1)", "us-435", "2032-01-05", "2032-04-23", "2032-04-23" },
        { "EU, nothing agreed: 30 days, art. 18(1)", "eu-2011-83", "2032-02-01", NULL,
          "2032-03-02" }, /* leap year */
        { "UK, nothing agreed: 30 days, s. 28(3)", "uk-cra", "2032-12-15", NULL, "2033-01-14" },
        { "own days", "own", "2032-03-01", NULL, "2032-04-15" },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_timetable t = preset(rows[i].timetable);
        same_day(rows[i].what, cw_timetable_ship_by(&t, day(rows[i].received), day(rows[i].promised)),
                 rows[i].by);
    }
}

static void a_delay_is_told_in_time(void **state)
{
    static const struct {
        const char *what, *timetable, *promised, *expected;
        int told;
        cw_silence silence;
        const char *cancelled, *refund;
    } rows[] = {
        { "US: 30 days later, silence is consent, 435.2(b)(1)(ii)", "us-435", "2032-04-23", "2032-05-23", 0,
          CW_SILENCE_CONSENTS, NULL, NULL },
        { "US: 31 days later, cancelled after 30 days, 435.2(b)(1)(iii)", "us-435", "2032-04-23",
          "2032-05-24", 0, CW_SILENCE_CANCELS, "2032-05-23", "2032-06-01" }, /* Sunday + 7 working days */
        { "US: new date unknown, 435.2(b)(1)(iii)", "us-435", "2032-04-23", NULL, 0, CW_SILENCE_CANCELS,
          "2032-05-23", "2032-06-01" },
        /* the paragraph's number is from memory; the rule is in the guide */
        { "US: a second delay, silence is never consent, 435.2(b)(2)", "us-435", "2032-05-07", "2032-05-14",
          1, CW_SILENCE_CANCELS, "2032-05-07", "2032-05-18" },
        { "EU: silence settles nothing, art. 18(2)", "eu-2011-83", "2032-04-23", "2032-05-07", 0,
          CW_SILENCE_SETTLES_NOTHING, NULL, NULL },
        { "UK: the same, s. 28(6)", "uk-cra", "2032-04-23", NULL, 1, CW_SILENCE_SETTLES_NOTHING, NULL, NULL },
        { "own", "own", "2032-04-23", "2032-05-07", 0, CW_SILENCE_SETTLES_NOTHING, NULL, NULL },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_timetable t = preset(rows[i].timetable);
        cw_delay_rule r = cw_timetable_delay(&t, day(rows[i].promised), day(rows[i].expected), rows[i].told);
        same_day(rows[i].what, r.notice_by,
                 rows[i].promised); /* never later than the promised time, 435.2(b)(1) */
        if (r.silence != rows[i].silence)
            fail_msg("%s: silence %d", rows[i].what, (int)r.silence);
        same_day(rows[i].what, r.cancelled_on, rows[i].cancelled);
        same_day(rows[i].what, r.refund_by, rows[i].refund);
        assert_non_null(r.source);
    }
}

static void money_is_back_in_time(void **state)
{
    static const struct {
        const char *what, *timetable, *from, *by;
    } rows[] = {
        { "US: 7 working days from a Monday, 435.1(b)", "us-435", "2032-04-19", "2032-04-28" },
        { "US: from a Friday", "us-435", "2032-04-23", "2032-05-04" },
        { "US: from a Saturday", "us-435", "2032-04-24", "2032-05-04" },
        { "UK: 14 days, reg. 34", "uk-cra", "2032-04-19", "2032-05-03" },
        { "EU: 14 days, art. 13(1), from memory", "eu-2011-83", "2032-04-19", "2032-05-03" },
        { "own: 10 working days", "own", "2032-04-19", "2032-05-03" },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_timetable t = preset(rows[i].timetable);
        same_day(rows[i].what, cw_timetable_refund_by(&t, day(rows[i].from)), rows[i].by);
    }
}

/* A holiday on a working day moves the end by one working day; one on a weekend moves nothing. Against counting day by day
 * with a weekday from the ISO week itself. */
static void holidays_are_not_working_days(void **state)
{
    cw_day holidays[] = { day("2032-05-31"), day("2032-05-29") }; /* a Monday, a Saturday */
    cw_timetable t = preset("us-435");
    (void)state;
    t.holidays = holidays;
    t.holiday_count = 2;
    same_day("across the holiday", cw_timetable_refund_by(&t, day("2032-05-24")), "2032-06-03");
    for (cw_day from = day("2031-12-25"); from < day("2033-01-10"); from++) {
        cw_day end = cw_timetable_add_working(&t, from, 7);
        int counted = 0;
        for (cw_day d = from + 1; d <= end; d++)
            counted += d - cw_week_monday(cw_week_of(d)) < 5 && d != holidays[0];
        assert_int_equal(counted, 7);
        assert_true(end - cw_week_monday(cw_week_of(end)) < 5);
    }
}

static void presets_are_known_by_name(void **state)
{
    cw_timetable t;
    (void)state;
    assert_false(cw_timetable_named("us", 1, 1, &t));
    t = preset("us-435");
    assert_non_null(strstr(cw_timetable_caution(&t), "435.3(a)"));
    t = preset("uk-cra");
    assert_non_null(strstr(cw_timetable_caution(&t), "Not legal advice"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_order_leaves_in_time),   cmocka_unit_test(a_delay_is_told_in_time),
        cmocka_unit_test(money_is_back_in_time),     cmocka_unit_test(holidays_are_not_working_days),
        cmocka_unit_test(presets_are_known_by_name),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

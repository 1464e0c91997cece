/* SPDX-License-Identifier: MIT */
#include "model/timetable.h"

#include <assert.h>
#include <string.h>

#include "base/banned.h"

#define US_SHIP_DAYS   30 /* 435.2(a)(1) */
#define US_DELAY_DAYS  30 /* 435.2(b)(1)(ii), (iii) */
#define US_REFUND_DAYS 7  /* 435.1(b), working days */
#define EU_SHIP_DAYS   30 /* art. 18(1); s. 28(3) */
#define EU_REFUND_DAYS 14 /* calendar; see the header */

bool cw_timetable_named(const char *name, int own_ship_days, int own_refund_days, cw_timetable *out)
{
    static const struct {
        const char *name;
        cw_timetable t;
    } presets[] = {
        { "us-435", { CW_TIMES_US_435, US_SHIP_DAYS, US_REFUND_DAYS, true, NULL, 0 } },
        { "eu-2011-83", { CW_TIMES_EU_2011_83, EU_SHIP_DAYS, EU_REFUND_DAYS, false, NULL, 0 } },
        { "uk-cra", { CW_TIMES_UK_CRA, EU_SHIP_DAYS, EU_REFUND_DAYS, false, NULL, 0 } },
        { "own", { CW_TIMES_OWN, 0, 0, true, NULL, 0 } },
    };
    for (size_t i = 0; i < sizeof presets / sizeof presets[0]; i++) {
        if (strcmp(presets[i].name, name) != 0)
            continue;
        *out = presets[i].t;
        if (out->kind == CW_TIMES_OWN) {
            out->ship_days = own_ship_days;
            out->refund_days = own_refund_days;
        }
        return true;
    }
    return false;
}

bool cw_timetable_working(const cw_timetable *t, cw_day day)
{
    int weekday = (int)(((int64_t)day + 3) % 7); /* 1970-01-01 was a Thursday: 0 is Monday */
    if (weekday < 0)
        weekday += 7;
    if (weekday >= 5)
        return false;
    for (size_t i = 0; i < t->holiday_count; i++)
        if (t->holidays[i] == day)
            return false;
    return true;
}

cw_day cw_timetable_add_working(const cw_timetable *t, cw_day from, int days)
{
    assert(days >= 0);
    cw_day day = from;
    while (days > 0)
        days -= cw_timetable_working(t, ++day);
    return day;
}

cw_day cw_timetable_ship_by(const cw_timetable *t, cw_day received, cw_day promised)
{
    return promised != CW_NO_DAY ? promised : received + t->ship_days;
}

cw_day cw_timetable_refund_by(const cw_timetable *t, cw_day right_began)
{
    return t->refund_working ? cw_timetable_add_working(t, right_began, t->refund_days)
                             : right_began + t->refund_days;
}

static cw_delay_rule us_delay(const cw_timetable *t, cw_day promised, cw_day expected, int told)
{
    cw_delay_rule r = { promised, CW_SILENCE_CANCELS, CW_NO_DAY, CW_NO_DAY, NULL };
    if (told > 0) {
        r.cancelled_on = promised;
        r.source = "16 CFR 435.2(b)(2)";
    } else if (expected != CW_NO_DAY && expected <= promised + US_DELAY_DAYS) {
        r.silence = CW_SILENCE_CONSENTS;
        r.source = "16 CFR 435.2(b)(1)(ii)";
    } else {
        r.cancelled_on = promised + US_DELAY_DAYS;
        r.source = "16 CFR 435.2(b)(1)(iii)";
    }
    if (r.cancelled_on != CW_NO_DAY)
        r.refund_by = cw_timetable_refund_by(t, r.cancelled_on);
    return r;
}

cw_delay_rule cw_timetable_delay(const cw_timetable *t, cw_day promised, cw_day expected, int told)
{
    cw_delay_rule r = { promised, CW_SILENCE_SETTLES_NOTHING, CW_NO_DAY, CW_NO_DAY, NULL };
    assert(expected == CW_NO_DAY || expected > promised);
    switch (t->kind) {
    case CW_TIMES_US_435:
        return us_delay(t, promised, expected, told);
    case CW_TIMES_EU_2011_83:
        r.source = "Directive 2011/83/EU art. 18(2)";
        break;
    case CW_TIMES_UK_CRA:
        r.source = "Consumer Rights Act 2015 s. 28(6)-(8)";
        break;
    case CW_TIMES_OWN:
        r.source = "the nursery's own timetable";
        break;
    }
    return r;
}

const char *cw_timetable_caution(const cw_timetable *t)
{
    return t->kind == CW_TIMES_US_435 ? "Not legal advice; local law governs. 16 CFR 435.3(a) excludes seeds "
                                        "and growing plants, so a nursery may "
                                        "follow these dates by choice."
                                      : "Not legal advice; local law governs.";
}

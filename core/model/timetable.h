/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_TIMETABLE_H
#define CW_MODEL_TIMETABLE_H

#include "base/day.h"

#include <stdbool.h>
#include <stddef.h>

/* What must a buyer be told by which day, does silence count as consent, and by which day must money be back?
 *
 * Not legal advice: local law governs, and rules change. These are the dates that a nursery chose to keep to.
 *
 * us-435, after 16 CFR part 435. Its 435.3(a) excludes orders of seeds and growing plants, so a nursery may follow it by
 * choice or by state law:
 *   ship within the time stated, else 30 days after a complete order and its payment        435.2(a)(1), 435.1(c)
 *   first delay: told before the promised time, with the choice to agree or cancel          435.2(b)(1)
 *     new date at most 30 days later: silence is consent, and the notice must say so        435.2(b)(1)(ii)
 *     later than that or unknown: without the buyer's word the order is cancelled once
 *     30 days after the promised time have passed, unless it was shipped by then            435.2(b)(1)(iii)
 *   further delays: told before the date last promised; silence is never consent, so the
 *     order is cancelled on that date unless the buyer agreed                               435.2(b)(2)
 *   refund within 7 working days of the day on which the buyer's right to it began          435.1(b)
 * eu-2011-83, after Directive 2011/83/EU:
 *   deliver within the time agreed, else 30 days from conclusion                            art. 18(1)
 *   late: the buyer may set a further time, then end the contract; nothing is agreed by
 *   silence, nothing ends by itself                                                         art. 18(2)
 *   refund without undue delay (18(3)); the outer bound here is the 14 days that art. 13(1)
 *   gives after a withdrawal (figure from memory)
 * uk-cra, after the Consumer Rights Act 2015:
 *   deliver within the time agreed, else 30 days after the contract                         s. 28(3)
 *   late: as above, s. 28(6)-(8); refund without undue delay, s. 28(9); outer bound here the 14 days of
 *   the Consumer Contracts Regulations 2013, reg. 34
 * own: days that the nursery set itself; silence is never consent.
 *
 * Working days are Monday to Friday, less the nursery's own list of holidays. The day from which days are counted is not
 * counted itself. Pure: no clock, no allocation. */
typedef enum cw_timetable_kind {
    CW_TIMES_US_435,
    CW_TIMES_EU_2011_83,
    CW_TIMES_UK_CRA,
    CW_TIMES_OWN
} cw_timetable_kind;

typedef struct cw_timetable {
    cw_timetable_kind kind;
    int ship_days;   /* when no time was stated */
    int refund_days; /* working days if refund_working, else calendar days */
    bool refund_working;
    const cw_day *holidays; /* borrowed; any order */
    size_t holiday_count;
} cw_timetable;

/* False if there is no preset of this name. The two figures are used by "own" only. */
bool cw_timetable_named(const char *name, int own_ship_days, int own_refund_days, cw_timetable *out);

bool cw_timetable_working(const cw_timetable *t, cw_day day);
cw_day cw_timetable_add_working(const cw_timetable *t, cw_day from, int days); /* days >= 0 */

/* The day by which an order must leave: what was promised, else by the days of the timetable. promised may be CW_NO_DAY. */
cw_day cw_timetable_ship_by(const cw_timetable *t, cw_day received, cw_day promised);
cw_day cw_timetable_refund_by(const cw_timetable *t, cw_day right_began);

typedef enum cw_silence { CW_SILENCE_CONSENTS, CW_SILENCE_CANCELS, CW_SILENCE_SETTLES_NOTHING } cw_silence;

typedef struct cw_delay_rule {
    cw_day notice_by; /* the last day; in all of them as soon as it is known */
    cw_silence silence;
    cw_day cancelled_on; /* end of this day, without the buyer's word; CW_NO_DAY: never by itself */
    cw_day refund_by;    /* when it is so cancelled; CW_NO_DAY otherwise */
    const char *source;  /* section */
} cw_delay_rule;

/* promised: the day last promised. expected: the day now expected, CW_NO_DAY when it is not known. told: delays that the
 * buyer was told of before (0: this is the first). No delay (expected <= promised) is the caller's error (assert). */
cw_delay_rule cw_timetable_delay(const cw_timetable *t, cw_day promised, cw_day expected, int told);

/* The caution that stands on every output. */
const char *cw_timetable_caution(const cw_timetable *t);

#endif

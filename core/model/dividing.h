/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_DIVIDING_H
#define CW_MODEL_DIVIDING_H

#include "base/error.h"
#include "base/go_on.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Which lot is cut on which working day?
 *
 * A lot takes minutes at the bench, and before that minutes of washing on the working day before; a day has so many of
 * either. Whoever asks says what it costs to cut a lot on each day (what is lost, what is not known in time, what is late;
 * model/dividing_cost), and what if it is not cut within these days at all.
 *
 *     minimise    sum over lots of cost[lot][its day]
 *     subject to  minutes of cutting  of the lots of day d  <=  day[d].cut_minutes
 *                 minutes of washing  of the lots of day d  <=  day[d].wash_minutes    (washed the working day before)
 *
 * A lot that is larger than any day takes whole days, one after the other from its first, and what is left of it leaves room
 * on the last; its cost is that of its days by their shares.
 *
 * Bound. If lots could be cut up into minutes and washing took none it were a transportation problem, which model/flow solves to
 * optimality. Its prices of a minute of each day (and, where washing is scarce, prices of those minutes found by the
 * subgradient method) give the bound by Lagrange's relaxation in floating point, so that it holds whatever was rounded:
 *
 *     bound = sum over lots of min over d of (cost[d] + cut price[d] + wash w[d]) - sum over d of (price[d] C[d] + w[d] W[d])
 *
 * Method. What the relaxation gives one day whole stays there; the others are placed by the cheapest day with room; then lots move
 * to a cheaper day, push one out to its next best, or two days deal their lots out anew (all ways, where they are few);
 * then single days are emptied and dealt out again, a fixed number of times. Few lots are searched exhaustively
 * (branch and bound), and `proven` says so. Deterministic: no clock, a fixed seed.
 *
 * Units: minutes are whole; cost is money in any unit; days are counted from 0 and are working days. */

#define CW_DIVIDING_OPEN    (-1) /* fixed: the plan decides; day: not within these days */
#define CW_DIVIDING_MINUTES 10000000

typedef struct cw_dividing_lot {
    int64_t cut_minutes, wash_minutes; /* 1 and 0 .. CW_DIVIDING_MINUTES */
    double never;                      /* cost if it is not cut within these days */
    int32_t fixed; /* the day that it must keep (washed, or moved by hand), or CW_DIVIDING_OPEN */
} cw_dividing_lot;

typedef struct cw_dividing_day {
    int64_t cut_minutes;  /* >= 0 */
    int64_t wash_minutes; /* of the working day before */
} cw_dividing_day;

typedef struct cw_dividing_input { /* all borrowed for the call */
    size_t lots, days;
    const cw_dividing_lot *lot;
    const cw_dividing_day *day;
    const double *cost; /* [lots * days], finite */
    cw_go_on go_on;
} cw_dividing_input;

typedef struct cw_dividing_plan {
    int32_t *day;        /* [lots] first day of each, or CW_DIVIDING_OPEN */
    double *price;       /* [days] what one more minute at the bench would save that day, by the relaxation */
    double total, bound; /* cost of the plan; no plan costs less than the bound */
    bool proven;         /* nothing is cheaper: searched to the end */
    int64_t missing;     /* minutes at the bench of the lots that found no day */
} cw_dividing_plan;

/* CW_REFUSED names the lot (from 1) whose minutes or costs cannot be. Freed with ..._free, which leaves it empty. */
cw_code cw_dividing_solve(const cw_dividing_input *in, cw_dividing_plan *out, cw_error *err) CW_MUST_CHECK;
void cw_dividing_plan_free(cw_dividing_plan *p);

/* (total - bound) / bound; 0 where the bound is not above 0 and the total no more than it. */
double cw_dividing_above(const cw_dividing_plan *p);

/* The part of a lot that is cut on each day from `first` on: minutes of both kinds, in order of the days. Returns how many days it
 * takes, 0 if it does not come to its end within them. `cut` and `wash` have room for in->days - first, or are NULL. */
size_t cw_dividing_days_of(const cw_dividing_input *in, size_t lot, int32_t first, int64_t *cut,
                           int64_t *wash);

#endif

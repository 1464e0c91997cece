/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_ORDERS_CURVE_H
#define CW_MODEL_ORDERS_CURVE_H

#include <stddef.h>
#include <stdint.h>

/* By which day of a season has which share of its orders come?
 *
 * Days are counted from that season's shipping day, before it negative. The curve is the share of all divisions ordered up
 * to a day, over the varieties and seasons whose offer lasted; those that ended early would make orders look early. With
 * little or nothing to learn from it leans on a default (common practice, no source): the catalogue opens twenty weeks
 * before shipping, half of the orders have come eleven weeks before, and some still come in the weeks of shipping.
 *
 * `sure` says how far the single varieties' seasons keep to it: the share that had come by a day of share F is spread about
 * F as Beta(sure F, sure (1 - F)), beside the chance of single orders. It is matched in variance at the days on which the
 * curve passes 1/4, 1/2 and 3/4. */
#define CW_CURVE_FIRST (-300)
#define CW_CURVE_DAYS  400 /* -300 .. 99 */

typedef struct cw_order_day {
    int64_t series; /* a variety in a season: rows of one stand together */
    int day;
    int64_t quantity; /* divisions ordered on that day, >= 0 */
} cw_order_day;

typedef struct cw_orders_curve {
    double share[CW_CURVE_DAYS]; /* by the end of the day, rising to 1 */
    double sure;
    int64_t learned; /* divisions it was learned from; 0: the default */
} cw_orders_curve;

void cw_orders_curve_learn(const cw_order_day *rows, size_t n, cw_orders_curve *out);
double cw_orders_curve_at(const cw_orders_curve *c, int day);

#endif

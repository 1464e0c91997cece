/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_REFINING_H
#define CW_DESK_REFINING_H

#include "desk/nursery/nursery.h"

/* Which figures are those of a program that has run for a while, and how do they become those of one that begins now?
 *
 * A projection after an entry takes what it can from the one before: fits of which few varieties have changed (mixed_near.c), laws
 * that have hardly moved. That is quick, and a quantity may differ by one or two from what a fresh start says. So a program
 * that runs learns once more from nothing, beside the requests, and every nursery that it has open of the file then takes
 * that: at rest all say the same, to the last bit.
 *
 *     request ──▶ cw_forecast_near: these are not whole ──▶ a thread with a nursery of its own: cw_forecast_refine
 *     next request ──▶ cw_forecast_take_refined ◀── cw_refined ◀──┘
 *
 * A cw_refined is for all threads; a cw_nursery, as ever, for one. */
typedef struct cw_refined cw_refined;

/* Which projection: of this stock, to this shipping day, as of that day. */
typedef struct cw_refine_want {
    int64_t stock;
    cw_day ship, as_of;
} cw_refine_want;

#define CW_REFINE_MOST 3 /* at once: what a nursery keeps */

/* NULL without memory. Freed after every nursery that shares it is closed. */
cw_refined *cw_refined_new(void);
void cw_refined_free(cw_refined *r);
void cw_forecast_share(cw_nursery *n, cw_refined *r); /* from now on; NULL: with nobody */

/* Before a request, never within one: projections that are not whole are forgotten where they are learned whole by now. */
void cw_forecast_take_refined(cw_nursery *n);

/* After a request: which of what is kept is not whole, and nowhere learned whole yet? How many; the first is the last asked for. */
size_t cw_forecast_near(const cw_nursery *n, cw_refine_want out[CW_REFINE_MOST]);

/* Learns it, unless the stock is another one by now; `learned` tells. who->progress gives it up. Raises cw_revision.figures. */
cw_code cw_forecast_refine(cw_nursery *n, const cw_asker *who, const cw_refine_want *want, bool *learned,
                           cw_error *err) CW_MUST_CHECK;

#endif

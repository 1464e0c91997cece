/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_DIVIDING_INSIDE_H
#define CW_MODEL_DIVIDING_INSIDE_H

#include "model/dividing.h"

/* The inside of model/dividing:
 *     dividing.c         puts the input in order
 *     dividing_bound.c   relaxation and bound
 *     dividing_place.c   whole lots on days, and exchanges
 *     dividing_exact.c   few lots: all ways */

#define NEVER CW_DIVIDING_OPEN

/* A plan in the making. A lot that fits a single day is small; it stands in the list of its day. */
typedef struct dividing {
    const cw_dividing_input *in;
    size_t lots, days;
    double *cost;                  /* [lots * days] of beginning on a day; INFINITY where it cannot */
    uint16_t *by_cost;             /* [lots * days] the days of each, cheapest first */
    uint8_t *small;                /* [lots] */
    uint8_t *fixed;                /* [lots] */
    int32_t *at;                   /* [lots] */
    int64_t *cut_room, *wash_room; /* [days] what is left */
    int32_t *first;                /* [days] first small lot of a day, -1 = none */
    int32_t *next;                 /* [lots] */
    int64_t *part_cut, *part_wash; /* [days] scratch */
    int64_t *changed;              /* [days] when its lots last changed, on a clock of changes: */
    int64_t clock;
    double total;
    double floor; /* no plan costs less */
} dividing;

static inline double cw_dividing_cost_at(const dividing *w, size_t lot, int32_t day)
{
    return day == NEVER ? w->in->lot[lot].never : w->cost[lot * w->days + (size_t)day];
}

static inline bool cw_dividing_small_fits(const dividing *w, size_t lot, size_t day)
{
    return w->in->lot[lot].cut_minutes <= w->cut_room[day] &&
           w->in->lot[lot].wash_minutes <= w->wash_room[day];
}

#define CW_DIVIDING_MOST_DAYS 4096

bool cw_dividing_fits(dividing *w, size_t lot, int32_t day);
void cw_dividing_put(dividing *w, size_t lot, int32_t day); /* it has no day yet */
void cw_dividing_take(dividing *w, size_t lot);             /* off its day: NEVER */

/* `hint` [lots]: a day for each lot that the relaxation gave one, else NEVER. Not `improved`: the first plan, for a start. */
cw_code cw_dividing_place(dividing *w, const int32_t *hint, bool improved, cw_error *err) CW_MUST_CHECK;

/* What bounds from below and guides: prices of a minute of each day, of either kind. The rooms are those that fixed lots leave. */
typedef struct cw_bounding {
    double *cut, *wash;            /* [days] the prices */
    double bound;                  /* cost of the free lots at least */
    double kept;                   /* cost of the fixed ones */
    int32_t *hint;                 /* [lots] a day for each lot that the relaxation does not cut up */
    bool scarce;                   /* washing is */
    int64_t *cut_room, *wash_room; /* [days] */
    double *block;                 /* scratch */
    int32_t *choice;               /* [lots] scratch */
} cw_bounding;
cw_code cw_bounding_new(const dividing *w, cw_bounding *b, cw_error *err) CW_MUST_CHECK;
void cw_bounding_free(cw_bounding *b);

/* From a plan that stands, whatever its cost, to the relaxation's optimum. */
cw_code cw_bounding_solve(dividing *w, cw_bounding *b, cw_error *err) CW_MUST_CHECK;
/* Both kinds of minutes are scarce: raises the bound, knowing what a good plan costs. */
void cw_bounding_both(const dividing *w, cw_bounding *b);

/* True if all ways were weighed and w holds the cheapest; price, wash_price [days] guide the search. */
bool cw_dividing_exact(dividing *w, const double *price, const double *wash_price, int32_t *best);

#endif

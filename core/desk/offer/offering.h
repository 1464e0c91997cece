/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_OFFERING_H
#define CW_DESK_OFFERING_H

#include "base/money.h"
#include "base/shape.h"
#include "desk/nursery/nursery.h"

#include <jansson.h>

/* How many of each variety should the catalogue offer, and at what risk? What was released, when and why? */

/* A "what if": figures that are tried without touching the record. What is not named stays as it is on record. */
typedef struct cw_offering_try {
    const char *variety;        /* code */
    int64_t hold_back, reserve; /* -1: as on record */
    cw_cents price;             /* -1: as on record */
} cw_offering_try;

/* "AMB:price:7.50,AMB:hold_back:40,BRI:reserve:0" as tries; the items borrow from `text` in the same struct. CW_USAGE names
 * what is not understood. */
#define CW_OFFERING_TRIES 200
typedef struct cw_offering_tries {
    cw_offering_try item[CW_OFFERING_TRIES];
    size_t count;
    char text[4001];
} cw_offering_tries;
cw_code cw_offering_tries_read(const char *text, cw_offering_tries *out, cw_error *err) CW_MUST_CHECK;

typedef struct cw_offering_ask {
    double confidence; /* 0 .. 1; 0: by money, or the nursery's setting when there is no money either */
    cw_cents margin, short_cost;  /* per division, the same for every variety; -1: not given */
    cw_day ship, as_of;           /* CW_NO_DAY: the season's shipping day, today */
    const char *variety;          /* code; NULL: all */
    double rot;                   /* what if rot were so many times as fast; 0 or 1: as projected */
    const cw_offering_try *tries; /* borrowed */
    size_t n_tries;
    double margin_share, short_cost_share; /* of each variety's price, in place of money; both 0: not given */
} cw_offering_ask;

/* variety,offered,sold,quantity,confidence,p_short,expected_short,expected_unsold,binds,demand,supported : what past sales and the
 * owner say will be asked, and how many that supports (no figure where both say nothing). */
cw_code cw_offering_plan(cw_nursery *n, const cw_asker *who, const cw_offering_ask *ask, cw_table *out,
                         cw_error *err) CW_MUST_CHECK;

/* The same for the winter desk: names, classes, prices and the projection beside each row. `totals` (may be NULL): of the
 * nursery, from joint draws: what is offered and proposed, expected refunds, shorts, unsold and margin; it is the point
 * of the curve at the plan's confidence. New reference. */
cw_code cw_offering_desk(cw_nursery *n, const cw_asker *who, const cw_offering_ask *ask, cw_table *out,
                         json_t **totals, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_offering_desk_shape;

/* confidence,offered,expected_short,short_q90,expected_refunds,refunds_q90,expected_unsold,margin,margin_q10,p_any_short,
 * too_far,too_far_short,too_far_refunds : how the nursery's totals move with the confidence. The last three are of the
 * varieties of which more is sold than the stock would offer at that confidence, and part of the sums. */
cw_code cw_offering_curve(cw_nursery *n, const cw_asker *who, const cw_offering_ask *ask, cw_table *out,
                          cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_offering_curve_shape;

/* variety,name,measure,count,saves,elsewhere : the ten measurements that save most at the plan's confidence, the best first:
 * `divide` clumps, look at `clumps` or at `divisions`. Money; `elsewhere` is what of it is saved in other varieties, because
 * they share the season, the room, the form or what is not known of the nursery. */
cw_code cw_offering_measures(cw_nursery *n, const cw_asker *who, const cw_offering_ask *ask, cw_table *out,
                             cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_offering_measures_shape;

/* Puts quantities on offer, on record with the projection that they rest on. items[n_items] gives quantities by hand;
 * without items the plan of `ask` is released whole. Refused: a quantity below what is sold unless that is what the plan
 * proposes; a role other than owner. out: variety,before,offered. */
typedef struct cw_offering_item {
    const char *variety;
    int64_t quantity;
} cw_offering_item;
cw_code cw_offering_release(cw_nursery *n, const cw_asker *who, const cw_offering_ask *ask,
                            const cw_offering_item *items, size_t n_items, const char *why, cw_table *out,
                            cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_offering_release_shape, cw_offering_release_based; /* based: quantities on offer */

/* What would another shipping day move? variety,offered,sold,quantity,quantity_then,p_short,p_short_then : each variety that stands
 * in the plan, at the nursery's own confidence or money, on the day on record and on `day`. Writes nothing. */
extern const cw_shape cw_offering_ship_shape;
cw_code cw_offering_ship_preview(cw_nursery *n, const cw_asker *who, cw_day day, cw_table *out,
                                 cw_error *err) CW_MUST_CHECK;

/* Moves it, on record with the reason. Owner only. Based on "day". Ship weeks on record stay: `schedule` gives orders theirs again. */
cw_code cw_offering_ship_move(cw_nursery *n, const cw_asker *who, cw_day day, const char *why,
                              cw_error *err) CW_MUST_CHECK;

/* variety,low,high,sold,ended,held,expected,sales_only,nearer : once the shipping day has come, each range of demand that the owner
 * said (beds.h) held against what this season asked for, and what was expected with it against past sales alone. */
cw_code cw_offering_said(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_offering_said_shape;

cw_code cw_offering_releases(cw_nursery *n, const char *variety, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_offering_releases_shape;
cw_code cw_offering_availability(cw_nursery *n, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_offering_availability_shape;
cw_code cw_offering_asked_by_day(cw_nursery *n, const char *variety, cw_table *out,
                                 cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_offering_asked_by_day_shape;

#endif

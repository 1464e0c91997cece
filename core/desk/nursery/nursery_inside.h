/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_NURSERY_INSIDE_H
#define CW_DESK_NURSERY_INSIDE_H

/* Inside of a cw_nursery: for the rooms of core/desk only. */
#include "base/table.h"
#include "desk/nursery/nursery.h"
#include "desk/nursery/roles_inside.h"
#include "store/db.h"
#include "store/snapshot.h"

#include <stdatomic.h>

struct cw_shop;
struct cw_demand_kept;
struct cw_beds_kept;
struct cw_spare;
struct cw_past_beside;
struct cw_refined;
struct cw_forecast_cache; /* desk/forecast: the last projections, by stock revision, day and shipping day */

struct cw_nursery {
    cw_db *db;
    cw_season season;
    /* owned; made by desk/forecast at its first use, may be NULL until then */
    struct cw_forecast_cache *cache;
    void (*cache_free)(struct cw_forecast_cache *cache); /* set together with it */
    /* borrowed, or NULL; what is learned whole beside the requests, desk/forecast */
    struct cw_refined *refined;
    const _Atomic int64_t *figures; /* in it: how often it has got something */
    cw_snap_kept kept;              /* what past seasons taught and what stood in the field, as last read */
    struct cw_demand_kept *demand;  /* owned; what past sales say of demand, desk/offer; may be NULL */
    void (*demand_free)(struct cw_demand_kept *demand); /* set together with it */
    struct cw_beds_kept *beds; /* owned; the price of a place in the beds, desk/offer; may be NULL */
    void (*beds_free)(struct cw_beds_kept *beds); /* set together with it */
    struct cw_shop *shop; /* owned; what taking a shop's orders keeps, desk/intake; may be NULL */
    void (*shop_free)(struct cw_shop *shop); /* set together with it */
    struct cw_spare *spare; /* owned; what those who wait leave of each variety, desk/share; may be NULL */
    void (*spare_free)(struct cw_spare *spare); /* set together with it */
    struct cw_past_beside *beside;              /* owned; files of past seasons, past_inside.h; may be NULL */
    void (*settle)(cw_nursery *n,
                   bool kept); /* of what waits beside the file for the commit; NULL: nothing does */
    uint64_t taken_back;       /* how often writes were, or may have been, taken back */
    cw_instant wipe_at;        /* when what a forgetting left in the bytes is to be wiped; 0: nothing is */
    bool batch;                /* between cw_nursery_batch_begin and its end */
    bool working;              /* between cw_work_begin and cw_work_end */
    bool sure;                 /* the work was begun by cw_work_begin_sure */
};

/* What was derived from a projection that is another one now. */
void cw_nursery_drop_derived(cw_nursery *n);

/* Another connection can move the shipping day. Work that needs it reads the record again, inside its transaction if it has
 * one. */
cw_code cw_season_look(cw_nursery *n, cw_error *err) CW_MUST_CHECK;
/* CW_REFUSED with the day */
cw_code cw_season_check_ship(int season, cw_day ship, cw_error *err) CW_MUST_CHECK;

/* The transaction of one write use case: BEGIN IMMEDIATE, or a savepoint when the caller runs a batch. end commits if
 * `code` is CW_OK and rolls back otherwise; it returns `code`, or why the commit failed. They do not nest. */
cw_code cw_work_begin(cw_nursery *n, cw_error *err) CW_MUST_CHECK;
cw_code cw_work_end(cw_nursery *n, cw_code code, cw_error *err) CW_MUST_CHECK;

/* The same for what a closed season still takes (closing.h). Any other work is
 * refused then. */
cw_code cw_work_begin_after(cw_nursery *n, cw_error *err) CW_MUST_CHECK;

/* For a work that has checked everything before its first write, so that only the machine can still fail it: within a batch it
 * goes without a savepoint, whose copies of pages cost a fifth of an order. If it fails all the same, the whole batch does. */
cw_code cw_work_begin_sure(cw_nursery *n, cw_error *err) CW_MUST_CHECK;
void cw_work_drop(cw_nursery *n); /* ends it by taking everything back */

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_OFFERS_H
#define CW_STORE_OFFERS_H

#include "base/day.h"
#include "base/shape.h"
#include "store/db.h"

#include <stdbool.h>

/* What is on offer, each release of it, and what may be sold beyond it?
 *
 *
 * Invariant (a CHECK of the database): sold <= offered + beyond. `beyond` is the sum of what was allowed on record. */
typedef struct cw_offer {
    bool released;
    int64_t offered, sold, beyond;
} cw_offer;

/* Zeros for a variety that nobody offered or ordered. */
cw_code cw_offer_read(cw_db *db, int64_t variety_id, cw_offer *out, cw_error *err) CW_MUST_CHECK;

typedef struct cw_release {
    int64_t variety_id;
    cw_instant at;
    const char *actor;
    int64_t offered;
    double confidence, p_short; /* NaN: not said */
    const char *basis;          /* JSON: the projection that it rests on */
    const char *why;            /* may be NULL */
} cw_release;

/* Sets what is offered, on record, inside the caller's transaction. `beyond` becomes just what the standing sales already
 * need, so that it does not add to the new offer; that goes on record, too. *before is the offer until now. */
cw_code cw_offer_release(cw_db *db, const cw_release *r, int64_t *before, cw_error *err) CW_MUST_CHECK;

/* variety,at,actor,before,offered,confidence,p_short,basis,why, newest first; variety NULL: all. */
cw_code cw_offer_releases(cw_db *db, const char *variety, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_offer_releases_shape;

/* variety,offered,sold,left of all varieties that were released. */
cw_code cw_offer_availability(cw_db *db, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_offer_availability_shape;

/* day,asked : what a variety's lines ask, by the day they came. */
cw_code cw_offer_asked_by_day(cw_db *db, const char *variety, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_offer_asked_by_day_shape;

/* Calls take for each past sale, by variety and season. sold_out_on: CW_NO_DAY when the offer lasted. */
cw_code cw_offer_past_sales(cw_db *db,
                            void (*take)(void *context, int64_t variety_id, int season, int64_t sold,
                                         cw_day sold_out_on),
                            void *context, cw_error *err) CW_MUST_CHECK;

/* Calls take for each day on which a past season's orders came, by season, variety and day; those of a variety that sold
 * out in that season are left out. */
cw_code cw_offer_past_orders(cw_db *db,
                             void (*take)(void *context, int64_t variety_id, int season, cw_day day,
                                          int64_t quantity),
                             void *context, cw_error *err) CW_MUST_CHECK;

#endif

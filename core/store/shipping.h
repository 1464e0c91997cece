/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_SHIPPING_H
#define CW_STORE_SHIPPING_H

#include "base/day.h"
#include "base/texts.h"
#include "store/db.h"

#include <stdbool.h>
#include <stddef.h>

/* What does the schedule read, and what does it write? Orders with their weeks, the zone table, frost holds, destinations.
 * Texts of a read belong to it. */
typedef struct cw_ship_order {
    int64_t id;
    const char *number; /* texts: "" not known, never NULL; owned by the book */
    cw_instant received_at;
    const char *zone;
    cw_week wish, week; /* 0: none */
    bool pinned, shipped, in_wave;
    const char *customer, *country, *region;
    /* to send: promised, or asked on lines that nothing was shared out to yet; less what has left */
    int64_t divisions;
    int64_t version;
    const char *blocked; /* why nothing may be sent to it, as a clause; "" when something may */
} cw_ship_order;

typedef struct cw_ship_zone {
    char code[33];
    cw_week first_week;
} cw_ship_zone;

/* A place: an alpha-2 code and a region, or a range of postcodes, or both; a carrier, everywhere or there; "" what it does not name. */
typedef struct cw_ship_held_place {
    char country[33], region[201], from[33], to[33], carrier[201];
} cw_ship_held_place;

typedef struct cw_ship_hold {
    int64_t id, order_id; /* order_id 0: a zone's hold, or a place's: then its zone is "" */
    char zone[33], order[33];
    cw_ship_held_place place;
    cw_week first_week, last_week;
    char why[201];
    cw_instant at;
    char actor[201];
    int64_t touches[3]; /* orders, parcels, stops with something open: of parcels that have not left */
} cw_ship_hold;

typedef struct cw_ship_held { /* the order lies where the hold of a place is */
    int64_t hold_id, order_id;
} cw_ship_held;

typedef struct cw_ship_leave { /* the order goes in spite of the hold */
    int64_t hold_id, order_id;
} cw_ship_leave;

typedef struct cw_ship_book {
    cw_ship_order *order;
    size_t orders;
    cw_ship_zone *zone;
    size_t zones;
    cw_ship_hold *hold;
    size_t holds;
    cw_ship_leave *leave; /* by hold, order */
    size_t leaves;
    cw_ship_held *held; /* by hold, order: of holds of a place */
    size_t helds;
    cw_texts texts;
} cw_ship_book;

/* All orders that are not cancelled, by row id; zones by code; holds by row id. Freed with cw_ship_book_free. */
cw_code cw_ship_book_read(cw_db *db, cw_ship_book *out, cw_error *err) CW_MUST_CHECK;
/* The holds alone, with what they touch in this week. */
cw_code cw_ship_holds_read(cw_db *db, cw_week now, cw_ship_book *out, cw_error *err) CW_MUST_CHECK;
void cw_ship_book_free(cw_ship_book *b);

/* Week 0: none. `reason` is the schedule's own code. */
cw_code cw_ship_set_week(cw_db *db, int64_t order_id, cw_week week, int reason, bool pinned,
                         cw_error *err) CW_MUST_CHECK;
cw_code cw_ship_event(cw_db *db, int64_t order_id, cw_instant at, const char *actor, const char *before,
                      const char *after, const char *note, cw_error *err) CW_MUST_CHECK;

/* Exactly one of zone and order_id (0: none) is given. brought: the file that it came with (store/brought), 0 for none. */
cw_code cw_ship_hold_add(cw_db *db, const char *zone, int64_t order_id, cw_week first, cw_week last,
                         const char *why, cw_instant at, const char *actor, int64_t brought, int64_t *id,
                         cw_error *err) CW_MUST_CHECK;
cw_code cw_ship_hold_place(cw_db *db, const cw_ship_held_place *place, cw_week first, cw_week last,
                           const char *why, cw_instant at, const char *actor, int64_t brought,
                           cw_error *err) CW_MUST_CHECK;
/* *order_id: of the open order of that number, 0 for none; *known: the zone table has that zone. NULL: not asked. */
cw_code cw_ship_hold_names(cw_db *db, const char *order, const char *zone, int64_t *order_id, bool *known,
                           cw_error *err) CW_MUST_CHECK;
/* Whether a hold keeps this carrier from taking the order in the week, and why; not where it is overruled. */
cw_code cw_ship_carrier_held(cw_db *db, int64_t order_id, const char *carrier, cw_week week, bool *held,
                             char why[301], cw_error *err) CW_MUST_CHECK;
cw_code cw_ship_hold_lift(cw_db *db, int64_t id, cw_error *err) CW_MUST_CHECK; /* CW_NOT_FOUND */

/* Whether a frost hold binds the order in either week, and "frost hold: why". */
cw_code cw_ship_frost(cw_db *db, int64_t order_id, cw_week week, cw_week or_week, bool *held, char why[301],
                      cw_error *err) CW_MUST_CHECK;

/* Allows the order to be sent in spite of the holds that bind it now, of one week or (0) of all. why NULL: no longer. */
cw_code cw_ship_overrule_frost(cw_db *db, int64_t order_id, cw_week week, cw_instant at, const char *actor,
                               const char *why, cw_error *err) CW_MUST_CHECK;

/* The rule for a destination ("allow" when the table says nothing) and its note; the region's rule goes before the
 * country's. country is an alpha-2 code. */
cw_code cw_ship_destination(cw_db *db, const char *country, const char *region, char rule[8], char note[301],
                            cw_error *err) CW_MUST_CHECK;

/* The same for an order on record. A block that the owner overruled for it is a warning. */
typedef struct cw_ship_place {
    char rule[8], note[301];
    char country[33], region[33];
} cw_ship_place;
cw_code cw_ship_order_destination(cw_db *db, int64_t order_id, cw_ship_place *out,
                                  cw_error *err) CW_MUST_CHECK;

/* What keeps one order back, as clauses; "" each where nothing does. */
typedef struct cw_ship_gates {
    /* nothing may be sent where it goes; who overruled that, and why */
    char blocked[401], blocked_overruled[401];
    char warning[401]; /* the destination table warns */
    /* the holds that bind it, of any week; those that are overruled for it */
    char frost[401], frost_overruled[401];
} cw_ship_gates;
cw_code cw_ship_gates_read(cw_db *db, int64_t order_id, cw_ship_gates *out, cw_error *err) CW_MUST_CHECK;

/* Open orders where nothing may be sent: how many, the first one's number and country. */
cw_code cw_ship_blocked(cw_db *db, int64_t *count, char number[33], char country[33],
                        cw_error *err) CW_MUST_CHECK;

/* Allows the order to be sent although its destination is blocked, for the place it goes to now. why NULL: no longer. */
cw_code cw_ship_overrule(cw_db *db, int64_t order_id, cw_instant at, const char *actor, const char *why,
                         cw_error *err) CW_MUST_CHECK;

#endif

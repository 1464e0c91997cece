/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_SHIPPING_H
#define CW_STORE_SHIPPING_H

#include "base/day.h"
#include "store/db.h"

#include <stdbool.h>
#include <stddef.h>

/* What the schedule reads and writes: orders with their weeks, the zone table, frost holds, destinations. Texts of a
 * read belong to it. */
typedef struct cw_ship_order {
    int64_t id;
    char number[33];
    cw_instant received_at;
    char zone[33];      /* "" not known */
    cw_week wish, week; /* 0: none */
    bool pinned, shipped, in_wave;
    char customer[201];
    char country[33], region[33];
    int64_t divisions; /* asked on all lines */
    int64_t version;
} cw_ship_order;

typedef struct cw_ship_zone {
    char code[33];
    cw_week first_week;
} cw_ship_zone;

typedef struct cw_ship_hold {
    int64_t id, order_id; /* order_id 0: a zone's hold */
    char zone[33], order[33];
    cw_week first_week, last_week;
    char why[201];
    cw_instant at;
    char actor[201];
} cw_ship_hold;

typedef struct cw_ship_book {
    cw_ship_order *order;
    size_t orders;
    cw_ship_zone *zone;
    size_t zones;
    cw_ship_hold *hold;
    size_t holds;
} cw_ship_book;

/* All orders that are not cancelled, by row id; zones by code; holds by row id. Freed with cw_ship_book_free. */
cw_code cw_ship_book_read(cw_db *db, cw_ship_book *out, cw_error *err) CW_MUST_CHECK;
cw_code cw_ship_holds_read(cw_db *db, cw_ship_book *out, cw_error *err) CW_MUST_CHECK; /* the holds alone */
void cw_ship_book_free(cw_ship_book *b);

/* week 0: none. `reason` is the schedule's own code. */
cw_code cw_ship_set_week(cw_db *db, int64_t order_id, cw_week week, int reason, bool pinned,
                         cw_error *err) CW_MUST_CHECK;
cw_code cw_ship_event(cw_db *db, int64_t order_id, cw_instant at, const char *actor, const char *before,
                      const char *after, const char *note, cw_error *err) CW_MUST_CHECK;

/* Exactly one of zone and order_id (0: none) is given. */
cw_code cw_ship_hold_add(cw_db *db, const char *zone, int64_t order_id, cw_week first, cw_week last,
                         const char *why, cw_instant at, const char *actor, int64_t *id,
                         cw_error *err) CW_MUST_CHECK;
cw_code cw_ship_hold_lift(cw_db *db, int64_t id, cw_error *err) CW_MUST_CHECK; /* CW_NOT_FOUND */

/* The rule for a destination ("allow" when the table says nothing) and its note; the region's rule goes before the
 * country's. */
cw_code cw_ship_destination(cw_db *db, const char *country, const char *region, char rule[8], char note[201],
                            cw_error *err) CW_MUST_CHECK;

#endif

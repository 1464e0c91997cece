/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_LEDGER_H
#define CW_STORE_LEDGER_H

#include "base/day.h"
#include "store/db.h"

/* What came and went, and what is therefore on hand? Movements are only ever added (the database sees to it);
 * balances per lot and place are their sums. The schema (sql/migrations) lists the reasons and the sign that
 * each has.
 *
 * Invariants, refused here with a sentence and guarded again by the database and sql/checks.sql:
 *  1. No place ever holds less than nothing of a lot.
 *  2. No lot holds less than nothing at the end of any day, also when a movement is entered late, under an
 * earlier day: what was taken later must still have been there. */
typedef struct cw_movement {
    cw_instant at; /* when it was entered */
    cw_day day;    /* when it happened */
    const char *actor;
    int64_t lot, place; /* ids */
    int64_t clumps, divisions;
    const char *reason; /* dug, divided, made, found, missing, rotten, shrivelled, discarded, planted, picked,
                           returned, moved */
    const char *cause;  /* lot, dividing, check, stock_take, pick, claim, move, entry */
    int64_t cause_id;
    const char *note; /* may be NULL */
} cw_movement;

typedef struct cw_on_hand {
    int64_t clumps, divisions;
} cw_on_hand;

/* Appends one movement; one of nothing is passed over. */
cw_code cw_ledger_add(cw_db *db, const cw_movement *m, cw_error *err) CW_MUST_CHECK;

/* Takes m->clumps and m->divisions (both given as what to take, not negative) out of the lot wherever it
 * lies: from m->place first if that is not negative, then the lot's own place, then along the walk; one
 * movement a place. */
cw_code cw_ledger_take(cw_db *db, const cw_movement *m, cw_error *err) CW_MUST_CHECK;

/* Reverses every movement of a cause that is not reversed yet, by counter-entries of the same day.
 * CW_NOT_FOUND if there is none; CW_CONFLICT if what came has meanwhile gone. */
cw_code cw_ledger_reverse(cw_db *db, const char *cause, int64_t cause_id, cw_instant at, const char *actor,
                          const char *note, cw_error *err) CW_MUST_CHECK;

/* On hand of a lot: at one place; at all places now; at the end of a day. */
cw_code cw_ledger_at(cw_db *db, int64_t lot, int64_t place, cw_on_hand *out, cw_error *err) CW_MUST_CHECK;
cw_code cw_ledger_lot(cw_db *db, int64_t lot, cw_on_hand *out, cw_error *err) CW_MUST_CHECK;
cw_code cw_ledger_on(cw_db *db, int64_t lot, cw_day day, cw_on_hand *out, cw_error *err) CW_MUST_CHECK;

/* The least that the lot holds at the end of `day` and of every later day: what may be taken under that day.
 */
cw_code cw_ledger_free_on(cw_db *db, int64_t lot, cw_day day, cw_on_hand *out, cw_error *err) CW_MUST_CHECK;

#endif

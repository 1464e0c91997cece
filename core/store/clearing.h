/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_CLEARING_H
#define CW_STORE_CLEARING_H

#include "base/day.h"
#include "base/limits.h"
#include "store/db.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* What of an order lies on lists and in parcels, and how does it come off them? All inside the caller's transaction.
 *
 * A division that was taken goes back into the ledger at the place that it came from, at once, so that no list is planned without it;
 * that it still lies in a slot is a row of put_back, until a packer says that it is back. What was found rotten or missing on
 * the way stays found. */
typedef struct cw_lying {
    int64_t wave, parcel, slot, stop, pick, lot_id, place_id, variety_id;
    cw_week week;
    int64_t quantity;      /* still to be taken, or taken */
    bool found_short;      /* taken, and the rest of the pick was rotten or missing */
    char what[8];          /* open, taken, left */
    char parcel_state[16]; /* open, packed, shipped */
    char place[CW_MAX_CODE + 1], lot[CW_MAX_CODE + 1], variety[CW_MAX_CODE + 1];
    char name[CW_MAX_NAME + 1], taken_by[CW_MAX_NAME + 1]; /* "" nobody works there */
} cw_lying;

/* Of an order, or (not 0) of one line and one variety of it, along the walks; *rows is to be freed. */
cw_code cw_lying_read(cw_db *db, int64_t order, int64_t line, int64_t variety, cw_lying **rows, size_t *count,
                      cw_error *err) CW_MUST_CHECK;

/* Takes one of them off: an open pick from its list, what was taken back into the ledger and onto the list of what is to be put
 * back. because: cancelled, changed. */
cw_code cw_lying_clear(cw_db *db, const cw_lying *l, int64_t order, const char *because, cw_instant at,
                       const char *actor, cw_error *err) CW_MUST_CHECK;

/* Has a packer found a variety of a line short? */
cw_code cw_lying_found_short(cw_db *db, int64_t line, int64_t variety, bool *found,
                             cw_error *err) CW_MUST_CHECK;

/* The parcel after that: gone when nothing is in it. */
cw_code cw_lying_parcel(cw_db *db, int64_t parcel, cw_error *err) CW_MUST_CHECK;

/* What packers are to put back, of a wave. Texts are borrowed for the call. */
typedef struct cw_put_back {
    int64_t id, slot, quantity;
    const char *order, *variety, *name, *lot, *place, *because;
} cw_put_back;
cw_code cw_put_backs(cw_db *db, int64_t wave, void (*take)(void *context, const cw_put_back *row),
                     void *context, cw_error *err) CW_MUST_CHECK;

typedef struct cw_put_back_row {
    char done_by[CW_MAX_NAME + 1]; /* "": not yet */
    char order[CW_MAX_CODE + 1], variety[CW_MAX_CODE + 1];
    int64_t slot, quantity;
} cw_put_back_row;
/* CW_NOT_FOUND */
cw_code cw_put_back_read(cw_db *db, int64_t id, cw_put_back_row *out, cw_error *err) CW_MUST_CHECK;
cw_code cw_put_back_done(cw_db *db, int64_t id, cw_instant at, const char *by, cw_error *err) CW_MUST_CHECK;

#endif

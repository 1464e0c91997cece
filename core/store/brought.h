/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_BROUGHT_H
#define CW_STORE_BROUGHT_H

#include "base/limits.h"
#include "base/shape.h"
#include "store/db.h"
#include "store/waves.h"

/* Which files of holds and of carriers came, and what did each bring, so that it can be taken back whole? Writes happen inside the
 * caller's transaction. */

/* id, kind, name, at, actor, stands, undone_at, undone_by, why; newest first. */
cw_code cw_brought_list(cw_db *db, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_brought_list_shape;

cw_code cw_brought_add(cw_db *db, const char *kind, const char *name, cw_instant at, const char *actor,
                       int64_t *id, cw_error *err) CW_MUST_CHECK;

/* How a parcel had left before the file (texts NULL for none; on CW_NO_DAY: it had not), and how it left by it. */
typedef struct cw_brought_parcel {
    int64_t parcel;
    bool sent; /* by the file */
    char carrier[CW_MAX_NAME + 1], tracking[CW_MAX_NAME + 1], more[CW_SENT_MORE + 1];
    cw_day on;
    char said[601];
} cw_brought_parcel;
cw_code cw_brought_add_parcel(cw_db *db, int64_t brought, const cw_brought_parcel *p,
                              cw_error *err) CW_MUST_CHECK;

typedef struct cw_brought_row {
    char kind[16], name[256];
    bool undone;
} cw_brought_row;
cw_code cw_brought_one(cw_db *db, int64_t id, cw_brought_row *out,
                       cw_error *err) CW_MUST_CHECK; /* CW_NOT_FOUND */

/* What it brought that is still known of; freed by the caller. */
cw_code cw_brought_parcels(cw_db *db, int64_t id, cw_brought_parcel **out, size_t *count,
                           cw_error *err) CW_MUST_CHECK;
cw_code cw_brought_holds(cw_db *db, int64_t id, int64_t **out, size_t *count, cw_error *err) CW_MUST_CHECK;

cw_code cw_brought_undo(cw_db *db, int64_t id, cw_instant at, const char *actor, const char *why,
                        cw_error *err) CW_MUST_CHECK;

/* Parcels with something in them of the order of that number. has: one of its boxes left under `number`. */
typedef struct cw_brought_may {
    int64_t parcel;
    char state[8];
    bool numbered, has;
} cw_brought_may;
#define CW_BROUGHT_MAY 50 /* parcels of one order that are looked at */
cw_code cw_brought_parcels_of(cw_db *db, const char *order, const char *number,
                              cw_brought_may out[CW_BROUGHT_MAY], size_t *count,
                              bool *known, /* there is such an order */
                              cw_error *err) CW_MUST_CHECK;

#endif

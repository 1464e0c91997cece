/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_JOINING_H
#define CW_STORE_JOINING_H

#include "base/limits.h"
#include "store/db.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Two orders of one buyer: which are they, and how are they put together and taken apart? All inside the caller's transaction.
 *
 * Merged: the lines of one stand in the other, with their promises, notices and history; each keeps the number that it came with
 * (line.from_order, from_line), by which a file that is loaded again still finds it.
 * Together: both stay; with_order says with which one an order travels, in_slot in whose slot a parcel lies. */
typedef struct cw_beside {
    int64_t id, week, lines, asked; /* week 0: none */
    char number[CW_MAX_CODE + 1], customer[CW_MAX_NAME + 1], tier[CW_MAX_NAME + 1];
    int paid; /* 1, 0, -1: nobody said */
    bool replaces, same_place, together, pulled, merged;
} cw_beside;
/* The buyer's other open orders, and those that were put into this one; *rows is to be freed. */
cw_code cw_beside_read(cw_db *db, int64_t order, cw_beside **rows, size_t *count,
                       cw_error *err) CW_MUST_CHECK;

/* How many orders were put into this one. */
cw_code cw_merged_here(cw_db *db, int64_t order, int64_t *out, cw_error *err) CW_MUST_CHECK;
/* The highest number of a line, 0 for none. */
cw_code cw_join_last_line(cw_db *db, int64_t order, int64_t *out, cw_error *err) CW_MUST_CHECK;
/* What `from` asks stands in `into`, behind line `after`; `from` is cancelled and says where it went. */
cw_code cw_join_lines(cw_db *db, int64_t from, int64_t into, int64_t after, cw_error *err) CW_MUST_CHECK;
/* Is something of what came from there on a list, or was it? */
cw_code cw_join_pulled(cw_db *db, int64_t from, bool *out, cw_error *err) CW_MUST_CHECK;
cw_code cw_join_return(cw_db *db, int64_t from, cw_error *err) CW_MUST_CHECK;

/* ---- Together ---- */
/* The order that leads those which travel with `order`: itself when it travels alone. */
cw_code cw_together_leader(cw_db *db, int64_t order, int64_t *out, cw_error *err) CW_MUST_CHECK;
/* `order` and what travels with it go with `leader`. */
cw_code cw_together_join(cw_db *db, int64_t order, int64_t leader, cw_error *err) CW_MUST_CHECK;
cw_code cw_together_leave(cw_db *db, int64_t order, cw_error *err) CW_MUST_CHECK;

typedef struct cw_together_parcel {
    int64_t id, wave, slot, lies; /* its own slot, and that in which it lies */
    char order[CW_MAX_CODE + 1], state[16];
} cw_together_parcel;
/* Parcels that have not left of those who travel with `leader`, where two are in one wave; by wave and slot. */
cw_code cw_together_parcels(cw_db *db, int64_t leader, cw_together_parcel **rows, size_t *count,
                            cw_error *err) CW_MUST_CHECK;
cw_code cw_together_lie(cw_db *db, int64_t parcel, int64_t slot, cw_error *err) CW_MUST_CHECK;
/* The slots of a wave that was just written. */
cw_code cw_together_slots(cw_db *db, int64_t wave, cw_error *err) CW_MUST_CHECK;

#endif

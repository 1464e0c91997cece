/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_SPLITTING_H
#define CW_STORE_SPLITTING_H

#include "store/naming.h"

#include <stdbool.h>
#include <stdint.h>

/* What stands on record of a part of a lot that became a lot of its own? Inside the caller's transaction. */

/* What rests on the lot: sessions of it, divisions that open walks are to take of it, and what went out of it since a day, in so
 * many parcels. */
typedef struct cw_split_reach {
    int64_t sessions, sessions_since, open_picks, taken, parcels;
} cw_split_reach;
cw_code cw_splitting_reach(cw_db *db, int64_t lot, cw_day since, cw_split_reach *out,
                           cw_error *err) CW_MUST_CHECK;

cw_code cw_splitting_code_taken(cw_db *db, const char *code, bool *taken, cw_error *err) CW_MUST_CHECK;

typedef struct cw_split_row {
    int64_t from, variety; /* ids */
    const char *code;      /* of the new lot */
    cw_day day;
    int64_t clumps, divisions;
    int64_t move; /* the number of the move that took them out of `from` */
} cw_split_row;

/* Makes the new lot, puts down as it what the move took, and keeps that it is so. The move's first half was added before. */
cw_code cw_splitting_add(cw_db *db, const cw_split_row *row, int64_t was, const cw_naming_record *r,
                         cw_error *err) CW_MUST_CHECK;

/* Is a move one by which a part was split off, and not taken back? *touched: something was entered of the new lot since. */
cw_code cw_splitting_of_move(cw_db *db, int64_t move, bool *found, bool *touched, int64_t *id,
                             char code[CW_MAX_CODE + 1], cw_error *err) CW_MUST_CHECK;
cw_code cw_splitting_mark_undone(cw_db *db, int64_t id, cw_error *err) CW_MUST_CHECK;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_STOCK_H
#define CW_STORE_STOCK_H

#include "store/ledger.h"

#include <stdbool.h>
#include <stdint.h>

/* What did people note of a lot: cutting, checks, counts? The movements that follow from it are the ledger's. All ids are
 * those of the file; `source` is the file that it was loaded from, NULL: a form. Inside of the caller's transaction. */
typedef struct cw_dividing_row {
    int64_t lot;
    cw_day day;
    int64_t clumps, rotten, saleable, blind, place;
    const int64_t *minutes, *people; /* NULL: nobody looked at the clock; it was one */
    const int64_t *source;
} cw_dividing_row;
cw_code cw_stock_add_dividing(cw_db *db, const cw_dividing_row *r, int64_t *id, cw_error *err) CW_MUST_CHECK;

/* The first session on record that equals this one and was not timed gets its minutes; *found is false if there is none. */
cw_code cw_stock_time_dividing(cw_db *db, const cw_dividing_row *r, bool *found, cw_error *err) CW_MUST_CHECK;

typedef struct cw_check_row {
    int64_t lot;
    cw_day day;
    const char *stage; /* clump, division */
    int64_t inspected, rotten;
    const int64_t *shrivelled; /* NULL: nobody looked for it */
    const char *why;           /* round, suspicion, or NULL */
    const int64_t *source;
} cw_check_row;
cw_code cw_stock_add_check(cw_db *db, const cw_check_row *r, int64_t *id, cw_error *err) CW_MUST_CHECK;

typedef struct cw_count_row {
    int64_t lot;
    cw_day day;
    const char *stage; /* clump, division */
    int64_t count, before;
    const int64_t *place;  /* NULL: everywhere */
    const int64_t *looked; /* 1: looked through and sound, 0: not; NULL: nobody said */
    const int64_t *source;
} cw_count_row;
cw_code cw_stock_add_count(cw_db *db, const cw_count_row *r, int64_t *id, cw_error *err) CW_MUST_CHECK;

/* Marks a record as undone: cause dividing, check or stock_take. *found is false if there is none, or it was undone before. */
cw_code cw_stock_mark_undone(cw_db *db, const char *cause, int64_t id, bool *found,
                             cw_error *err) CW_MUST_CHECK;

/* The place of a lot, as it was dug or loaded. 0: none. */
cw_code cw_stock_lot_place(cw_db *db, int64_t lot, int64_t *place, cw_error *err) CW_MUST_CHECK;

/* On hand at one place at the end of a day. */
cw_code cw_stock_place_on(cw_db *db, int64_t lot, int64_t place, cw_day day, cw_on_hand *out,
                          cw_error *err) CW_MUST_CHECK;

/* The number that the next movement will have. */
cw_code cw_stock_next_movement(cw_db *db, int64_t *id, cw_error *err) CW_MUST_CHECK;

/* Places by their code. */
cw_code cw_stock_place_known(cw_db *db, const char *code, bool *known, cw_error *err) CW_MUST_CHECK;
cw_code cw_stock_place_rename(cw_db *db, const char *from, const char *to, cw_error *err) CW_MUST_CHECK;

#endif

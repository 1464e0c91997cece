/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_FACTOR_H
#define CW_STORE_FACTOR_H

#include "base/day.h"
#include "store/db.h"

/* What is kept of a person's second factor? Its secret, and the recovery codes as salted digests. No function opens a transaction. */
#define CW_FACTOR_SECRET 40 /* hexadecimal digits */
#define CW_FACTOR_SALT   32
#define CW_FACTOR_DIGEST 64

typedef struct cw_factor_row {
    char secret[CW_FACTOR_SECRET + 1];
    cw_instant on_at;  /* CW_NO_INSTANT: begun only */
    int64_t last_step; /* of the last code that was taken; 0: none */
} cw_factor_row;

cw_code cw_factor_row_find(cw_db *db, int64_t person, bool *found, cw_factor_row *out,
                           cw_error *err) CW_MUST_CHECK;
/* In the place of one that was begun before; *done is false when one is on. */
cw_code cw_factor_row_begin(cw_db *db, int64_t person, const char *secret, cw_instant at, bool *done,
                            cw_error *err) CW_MUST_CHECK;
cw_code cw_factor_row_turn_on(cw_db *db, int64_t person, cw_instant at, cw_error *err) CW_MUST_CHECK;
/* *first is false when a code of this step or of a later one was taken before. */
cw_code cw_factor_row_took(cw_db *db, int64_t person, int64_t step, bool *first, cw_error *err) CW_MUST_CHECK;
cw_code cw_factor_row_drop(cw_db *db, int64_t person, cw_error *err) CW_MUST_CHECK; /* with its codes */

cw_code cw_recovery_add(cw_db *db, int64_t person, const char *salt, const char *digest,
                        cw_error *err) CW_MUST_CHECK;
cw_code cw_recovery_each(cw_db *db, int64_t person,
                         void (*row)(void *context, const char *salt, const char *digest), void *context,
                         cw_error *err) CW_MUST_CHECK;
cw_code cw_recovery_count(cw_db *db, int64_t person, int64_t *out, cw_error *err) CW_MUST_CHECK;
cw_code cw_recovery_take(cw_db *db, int64_t person, const char *digest, cw_error *err) CW_MUST_CHECK;

#endif

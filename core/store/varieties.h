/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_VARIETIES_H
#define CW_STORE_VARIETIES_H

#include "base/money.h"
#include "base/shape.h"
#include "store/db.h"

#include <stdbool.h>

/* What may the owner edit of a variety? */

typedef struct cw_variety_terms {
    int64_t hold_back, reserve;
    int64_t limit_per_order; /* 0: none */
    cw_cents price;          /* -1: not known */
    bool retired;
    double own_low, own_high; /* divisions a sound clump, as the owner says; 0: nothing is said */
    int64_t version;          /* of the row that was edited */
} cw_variety_terms;

/* CW_NOT_FOUND when there is no such variety. */
cw_code cw_variety_terms_read(cw_db *db, const char *code, cw_variety_terms *out,
                              cw_error *err) CW_MUST_CHECK;

/* Writes the terms if the row still has terms->version; *done is false if somebody was quicker. */
cw_code cw_variety_terms_write(cw_db *db, const char *code, const cw_variety_terms *terms, bool *done,
                               cw_error *err) CW_MUST_CHECK;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_TELLING_H
#define CW_STORE_TELLING_H

#include "base/limits.h"
#include "store/db.h"

/* What was a shop told last, and what is not so any more? Of a variety what may be sold of it, of an order its state and what left of
 * it. */
typedef struct cw_changed {
    bool order; /* of an order, else of a variety */
    char name[CW_MAX_CODE + 1];
} cw_changed;

/* The first `most` that are not as they were told. */
cw_code cw_telling_changed(cw_db *db, cw_changed *out, size_t most, size_t *count,
                           cw_error *err) CW_MUST_CHECK;
/* How it is now, as JSON, which is noted as told. To be freed; NULL: it is no more (not offered, forgotten, of another name). */
cw_code cw_telling_tell(cw_db *db, const cw_changed *what, char **out, cw_error *err) CW_MUST_CHECK;
cw_code cw_telling_again(cw_db *db, int64_t hook, cw_error *err) CW_MUST_CHECK; /* what this hook says */
cw_code cw_telling_forget(cw_db *db, cw_error *err) CW_MUST_CHECK;

#endif

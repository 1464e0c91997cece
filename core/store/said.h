/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_SAID_H
#define CW_STORE_SAID_H

#include "base/day.h"
#include "store/db.h"

#include <stdbool.h>
#include <stdint.h>

/* What did we project at the time? Writes happen inside the caller's transaction. */
#define CW_SAID_QUANTILES 7 /* 5, 10, 25, 50, 75, 90, 95 % */

typedef struct cw_said {
    int64_t id;      /* set when added */
    const char *why; /* release, month; borrowed */
    cw_day day, ship;
    int64_t stock_revision;
} cw_said;

/* The last one, of a reason or (NULL) of any; *found false if there is none. `why` of it is not read. */
cw_code cw_said_last(cw_db *db, const char *why, bool *found, cw_said *out, cw_error *err) CW_MUST_CHECK;
/* Since when the file is there. */
cw_code cw_said_begun(cw_db *db, cw_instant *at, cw_error *err) CW_MUST_CHECK;
cw_code cw_said_add(cw_db *db, cw_said *s, cw_instant at, const char *actor, cw_error *err) CW_MUST_CHECK;

typedef struct cw_said_row {
    int64_t variety_id;
    double expected;
    int64_t quantile[CW_SAID_QUANTILES];
} cw_said_row;
cw_code cw_said_add_row(cw_db *db, int64_t id, const cw_said_row *row, cw_error *err) CW_MUST_CHECK;

/* Calls take for each row said of a shipping day before it came, by when it was said. */
cw_code cw_said_rows(cw_db *db, cw_day ship,
                     void (*take)(void *context, const cw_said *said, const cw_said_row *row), void *context,
                     cw_error *err) CW_MUST_CHECK;

#endif

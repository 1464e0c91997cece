/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_KEPT_H
#define CW_STORE_KEPT_H

#include "base/money.h"
#include "base/shape.h"
#include "store/db.h"

/* What did the owner say of a variety's planting, and which hold-backs were written at once? */

typedef struct cw_kept_said {
    int64_t variety_id;
    double demand_low, demand_high; /* NaN: not said */
    double growth;                  /* NaN: not said */
    cw_cents cost;                  /* -1: not said */
    int64_t least;                  /* -1: not said */
} cw_kept_said;

/* Calls take for each variety of which something was said, by id. */
cw_code cw_kept_said_each(cw_db *db, void (*take)(void *context, const cw_kept_said *said), void *context,
                          cw_error *err) CW_MUST_CHECK;
/* Of one, by its code; CW_NOT_FOUND when there is no such variety. */
cw_code cw_kept_said_of(cw_db *db, const char *code, cw_kept_said *out, cw_error *err) CW_MUST_CHECK;
cw_code cw_kept_say(cw_db *db, const cw_kept_said *said, cw_error *err) CW_MUST_CHECK;

cw_code cw_kept_run(cw_db *db, cw_instant at, const char *actor, int64_t *run, cw_error *err) CW_MUST_CHECK;
cw_code cw_kept_change(cw_db *db, int64_t run, int64_t variety_id, int64_t before, int64_t after,
                       cw_error *err) CW_MUST_CHECK;

/* variety,before,after of a run; run,at,actor,varieties,undone_at,undone_by, newest first. */
cw_code cw_kept_changes(cw_db *db, int64_t run, cw_table *out, cw_error *err) CW_MUST_CHECK;
cw_code cw_kept_runs(cw_db *db, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_kept_changes_shape, cw_kept_runs_shape;

/* *done is false if there is no such run, or it was taken back before. */
cw_code cw_kept_undo(cw_db *db, int64_t run, cw_instant at, const char *actor, bool *done,
                     cw_error *err) CW_MUST_CHECK;

/* Calls take for the rows that each variety's lots were dug from, by variety, the most clumps first. */
cw_code cw_kept_rows(cw_db *db, void (*take)(void *context, int64_t variety_id, const char *row),
                     void *context, cw_error *err) CW_MUST_CHECK;

#endif

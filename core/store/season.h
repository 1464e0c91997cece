/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_SEASON_H
#define CW_STORE_SEASON_H

#include "base/day.h"
#include "store/db.h"

/* Which season is this, what are its settings, and what was written last? The one row of the nursery itself, its revisions and
 * its settings. */
typedef struct cw_season_row {
    int season;
    cw_day ship;
    char currency[4];
    char timezone[64];
} cw_season_row;

cw_code cw_season_make(cw_db *db, const cw_season_row *row, cw_instant at, cw_error *err) CW_MUST_CHECK;
cw_code cw_season_read(cw_db *db, cw_season_row *out, cw_error *err) CW_MUST_CHECK;

cw_code cw_season_move_ship(cw_db *db, cw_day ship, cw_error *err) CW_MUST_CHECK; /* raises both revisions */
cw_code cw_season_revision(cw_db *db, int64_t *stock, int64_t *trade, cw_error *err) CW_MUST_CHECK;
cw_code cw_season_touch(cw_db *db, bool stock, bool trade, cw_error *err) CW_MUST_CHECK;

/* *found is false when the setting was never set. The value is cut to `size`. */
cw_code cw_season_setting(cw_db *db, const char *name, char *out, size_t size, bool *found,
                          cw_error *err) CW_MUST_CHECK;
cw_code cw_season_set(cw_db *db, const char *name, const char *value, cw_error *err) CW_MUST_CHECK;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_CELLAR_H
#define CW_STORE_CELLAR_H

#include "base/day.h"
#include "base/limits.h"
#include "store/db.h"

#include <stdint.h>

/* What does the cellar's sheet show beside its lists? The lists are filled by name (store/rows.h). */

/* The lot that a record is about. cause: dividing, check, stock_take, move, entry; *lot is 0 and code "" if there is none. */
cw_code cw_lot_of_record(cw_db *db, const char *cause, int64_t cause_id, int64_t *lot,
                         char code[CW_MAX_CODE + 1], cw_error *err) CW_MUST_CHECK;

/* The rooms whose air was measured, by name; the text is borrowed until the next. */
cw_code cw_air_rooms(cw_db *db, void (*take)(void *context, const char *room), void *context,
                     cw_error *err) CW_MUST_CHECK;

/* The measurements of a room, oldest first: degrees Celsius and relative humidity in per cent. */
cw_code cw_air_points(cw_db *db, const char *room,
                      void (*take)(void *context, cw_instant at, double temp_c, double rh), void *context,
                      cw_error *err) CW_MUST_CHECK;

#endif

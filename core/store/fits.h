/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_FITS_H
#define CW_STORE_FITS_H

#include "base/shape.h"
#include "store/db.h"

/* How was a spreadsheet of another make fitted the last time? Kept is each fit under the shape of its header; and the codes that they are held against.
 * Writes happen inside the caller's transaction. */

/* name, kind, kept_at, actor, columns */
cw_code cw_fits_list(cw_db *db, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_fits_list_shape;

/* The one of a name, or of a header's digest (the other is NULL): *name and *fit, its JSON, are appended to; *found false: none. */
cw_code cw_fits_read(cw_db *db, const char *named, const char *shape, bool *found, cw_text *name,
                     cw_text *fit, cw_error *err) CW_MUST_CHECK;

typedef struct cw_fit_row {
    const char *shape, *name, *kind, *fit;
} cw_fit_row;
cw_code cw_fits_keep(cw_db *db, const cw_fit_row *row, cw_instant at, const char *actor,
                     cw_error *err) CW_MUST_CHECK;
/* *found false: there is none of that name. */
cw_code cw_fits_rename(cw_db *db, const char *name, const char *to, bool *found, cw_error *err) CW_MUST_CHECK;
cw_code cw_fits_forget(cw_db *db, const char *name, bool *found, cw_error *err) CW_MUST_CHECK;

/* Calls take with the code of each variety, its name and its price in cents (-1: none), of each lot, of each place and its number in the
 * walk; what there is not is NULL or 0. False from it: no memory. */
typedef bool (*cw_fits_taker)(void *context, const char *code, const char *name, int64_t figure);
cw_code cw_fits_varieties(cw_db *db, cw_fits_taker take, void *context, cw_error *err) CW_MUST_CHECK;
cw_code cw_fits_lots(cw_db *db, cw_fits_taker take, void *context, cw_error *err) CW_MUST_CHECK;
cw_code cw_fits_places(cw_db *db, cw_fits_taker take, void *context, cw_error *err) CW_MUST_CHECK;

#endif

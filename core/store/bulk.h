/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_BULK_H
#define CW_STORE_BULK_H

#include "store/db.h"

/* Where does the time of a first load go? A third of it into four indexes that each row is put into at a place of its own. On tables
 * that are empty they are taken away before the first row and made again, sorted at once, after the last. Inside the caller's
 * transaction: nobody ever sees the file without them, and what is rolled back has them again. As much goes into looking for the
 * parents of each row (foreign keys), so that is done for all rows at once, too, after the last. Between begin and end nothing may
 * be written but rows of orders and line. */
typedef struct cw_bulk cw_bulk;

/* *out is NULL where there are orders already: then all stays as it is. */
cw_code cw_bulk_begin(cw_db *db, cw_bulk **out, cw_error *err) CW_MUST_CHECK;
/* Makes the indexes again, in the file's own words, looks for the parents of all orders and lines (CW_CONFLICT: one lacks), and
 * frees; NULL: nothing to do. */
cw_code cw_bulk_end(cw_db *db, cw_bulk *b, cw_error *err) CW_MUST_CHECK;
/* When the transaction is to be rolled back. */
void cw_bulk_free(cw_bulk *b);

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_ROWS_H
#define CW_STORE_ROWS_H

#include "base/table.h"
#include "store/db.h"

/* The rows of a started statement into a table, column by column as the table's types say (money, days, instants and
 * weeks are whole numbers in the file). `started` is what cw_stmt_start returned; the statement is ended in any case. */
cw_code cw_rows_fill(cw_stmt *s, cw_code started, cw_table *out, cw_error *err) CW_MUST_CHECK;

/* The same without keeping them: each piece of rows goes through `piece` (initialised; its rows are lost) to the writer, which the
 * caller ends. */
cw_code cw_rows_write(cw_stmt *s, cw_code started, cw_table *piece, cw_writer *to,
                      cw_error *err) CW_MUST_CHECK;

/* The same for a statement whose one column are ids: a list that the caller frees, also after an error. */
cw_code cw_rows_ids(cw_stmt *s, cw_code started, int64_t **ids, size_t *count, cw_error *err) CW_MUST_CHECK;

#endif

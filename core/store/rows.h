/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_ROWS_H
#define CW_STORE_ROWS_H

#include "base/table.h"
#include "store/db.h"
#include "store/letters.h"

/* How does the answer of a statement become a table? The rows of a named statement ("cellar.lots") go into
 * a table, column by column as the table's types say; money, days, instants and weeks are whole numbers in the file. `types`
 * has a letter for each parameter, and the parameters follow: i int64_t, r double, t const char * (NULL binds null), I pointer to int64_t (NULL binds null). */
cw_code cw_rows_fill(cw_db *db, const char *statement, cw_table *out, cw_error *err, const char *types,
                     ...) CW_MUST_CHECK;

/* The same without keeping them: each row goes to the writer, which the caller has begun and ends. The statement has no
 * parameters. */
cw_code cw_rows_write(cw_db *db, const char *statement, cw_writer *to, cw_error *err) CW_MUST_CHECK;

/* The same of rows that share much (of an order's lines: what is the order's own), told by two statements: `own` gives what is
 * shared, `rows` the rest of each row; the first column of both is the id of what they share, ascending. The writer's columns are
 * found by their names in the one or the other; the first is shared, the last is not. */
cw_code cw_rows_write_shared(cw_db *db, const char *own, const char *rows, cw_writer *to,
                             cw_error *err) CW_MUST_CHECK;

/* The same for a statement whose one column is an id: a list that the caller frees, also after an error. */
cw_code cw_rows_ids(cw_db *db, const char *statement, int64_t **ids, size_t *count, cw_error *err,
                    const char *types, ...) CW_MUST_CHECK;

#define cw_rows_fill(db, statement, out, err, ...)                                                           \
    (CW_LETTERS_FIT(__VA_ARGS__), cw_rows_fill(db, statement, out, err, __VA_ARGS__))
#define cw_rows_ids(db, statement, ids, count, err, ...)                                                     \
    (CW_LETTERS_FIT(__VA_ARGS__), cw_rows_ids(db, statement, ids, count, err, __VA_ARGS__))

#endif

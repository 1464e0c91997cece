/* SPDX-License-Identifier: MIT */
#include "store/rows.h"

#include "base/grow.h"
#include "store/statement_inside.h"
#include <stdlib.h>

#include "base/banned.h"

#define PIECE 512 /* rows that are handed on at once: they stay in the processor's cache */

static void put(cw_table *t, cw_stmt *s, cw_sql_column c, cw_type type)
{
    if (cw_col_null(s, c))
        cw_put_null(t);
    else if (type == CW_TEXT_T)
        cw_put_text(t, cw_col_text(s, c));
    else if (type == CW_REAL_T)
        cw_put_real(t, cw_col_real(s, c));
    else if (type == CW_BOOL_T)
        cw_put_bool(t, cw_col_int(s, c) != 0);
    else if (type == CW_MONEY_T)
        cw_put_money(t, cw_col_int(s, c));
    else
        cw_put_int(t, cw_col_int(s, c));
}

static void put_row(cw_table *t, cw_stmt *s)
{
    for (size_t c = 0; c < t->width; c++)
        put(t, s, cw_col_nth(s, c), t->columns[c].type);
}

cw_code cw_rows_fill(cw_db *db, const char *statement, cw_table *out, cw_error *err, const char *types, ...)
{
    cw_stmt *s = cw_db_stmt(db, statement);
    va_list args;
    va_start(args, types);
    cw_code started = cw_stmt_start_list(s, err, types, args);
    va_end(args);
    while (started == CW_OK && !out->failed && cw_stmt_next(s))
        put_row(out, s);
    cw_code end = cw_stmt_end(s, err);
    if (started != CW_OK)
        return started;
    return end == CW_OK ? cw_table_check(out, err) : end;
}

cw_code cw_rows_write(cw_db *db, const char *statement, cw_table *piece, cw_writer *to, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, statement);
    cw_code code = cw_stmt_start(s, err, "");
    bool more = code == CW_OK && cw_stmt_next(s);
    while (code == CW_OK) {
        cw_table_clear(piece);
        for (size_t r = 0; r < PIECE && more && !piece->failed; r++) {
            put_row(piece, s);
            more = cw_stmt_next(s);
        }
        code = cw_table_check(piece, err);
        if (code == CW_OK)
            code = cw_writer_rows(to, piece, err);
        if (!more)
            break;
    }
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

cw_code cw_rows_ids(cw_db *db, const char *statement, int64_t **ids, size_t *count, cw_error *err,
                    const char *types, ...)
{
    size_t room = 0;
    cw_stmt *s = cw_db_stmt(db, statement);
    va_list args;
    va_start(args, types);
    cw_code code = cw_stmt_start_list(s, err, types, args);
    va_end(args);
    *ids = NULL;
    *count = 0;
    while (code == CW_OK && cw_stmt_next(s)) {
        if (!cw_grow(ids, *count, &room, sizeof **ids)) {
            code = cw_error_memory(err);
            break;
        }
        (*ids)[(*count)++] = cw_col_int(s, cw_col_nth(s, 0));
    }
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

/* SPDX-License-Identifier: MIT */
#include "store/rows.h"

#include "base/grow.h"
#include "base/limits.h"
#include "base/text.h"
#include "store/statement_inside.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define ASK_EVERY 512 /* rows: whether the writer can still be written to */

static void put(cw_table *t, cw_stmt *s, cw_sql_column c, cw_type type)
{
    cw_given g = cw_col_given(s, c, type);
    if (g.null)
        cw_put_null(t);
    else if (type == CW_TEXT_T)
        cw_put_text(t, g.text);
    else if (type == CW_REAL_T)
        cw_put_real(t, g.real);
    else if (type == CW_BOOL_T)
        cw_put_bool(t, g.whole != 0);
    else if (type == CW_MONEY_T)
        cw_put_money(t, g.whole);
    else
        cw_put_int(t, g.whole);
}

static void put_row(cw_table *t, cw_stmt *s)
{
    for (size_t c = 0; c < t->width; c++)
        put(t, s, cw_col_nth(s, c), t->columns[c].type);
}

static void write_cell(cw_writer *w, cw_stmt *s, size_t c)
{
    cw_type type = w->columns[c].type;
    cw_given g = cw_col_given(s, cw_col_nth(s, c), type);
    if (g.null)
        cw_write_null(w);
    else if (type == CW_TEXT_T)
        cw_write_text(w, g.text, strlen(g.text));
    else if (type == CW_REAL_T)
        cw_write_real(w, g.real);
    else
        cw_write_int(w, g.whole);
}

/* What was written of the row before. */
typedef struct written {
    cw_rows_alike alike;
    cw_text first; /* its first column */
    cw_text bytes; /* of the columns that are alike; nothing: to be written anew */
} written;

/* Is the row's first column that of the row before? If not, it is noted. */
static bool follows(written *was, cw_stmt *s)
{
    cw_given g = cw_col_given(s, cw_col_nth(s, 0), CW_TEXT_T);
    const char *text = g.null ? "" : g.text;
    if (was->bytes.length > 0 && strcmp(was->first.data, text) == 0)
        return true;
    cw_text_clear(&was->first);
    cw_text_clear(&was->bytes);
    cw_text_addn(&was->first, text, strlen(text) + 1);
    return false;
}

static void write_row(cw_writer *w, cw_stmt *s, written *was)
{
    bool same = was->alike.to > 0 && follows(was, s);
    cw_writer_mark mark = { 0 };
    for (size_t c = 0; c < w->width; c++) {
        if (same && c == was->alike.from) {
            cw_write_cells(w, was->bytes.data, was->bytes.length, was->alike.to - c);
            c = was->alike.to;
        }
        if (c == was->alike.from)
            mark = cw_writer_here(w);
        write_cell(w, s, c);
        if (!same && c + 1 == was->alike.to && !was->first.failed) {
            size_t n = 0;
            const char *bytes = cw_writer_since(w, mark, &n);
            if (bytes)
                cw_text_addn(&was->bytes, bytes, n);
        }
    }
}

cw_code(cw_rows_fill)(cw_db *db, const char *statement, cw_table *out, cw_error *err, const char *types, ...)
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

cw_code cw_rows_write(cw_db *db, const char *statement, cw_rows_alike alike, cw_writer *to, cw_error *err)
{
    written was = { alike, CW_TEXT(CW_MAX_RECORD_BYTES), CW_TEXT(CW_MAX_RECORD_BYTES) };
    cw_stmt *s = cw_db_stmt(db, statement);
    cw_code code = cw_stmt_start(s, err, "");
    for (size_t r = 1; code == CW_OK && cw_stmt_next(s); r++) {
        write_row(to, s, &was);
        if (r % ASK_EVERY == 0)
            code = cw_writer_check(to, err);
    }
    cw_text_free(&was.first);
    cw_text_free(&was.bytes);
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

cw_code(cw_rows_ids)(cw_db *db, const char *statement, int64_t **ids, size_t *count, cw_error *err,
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

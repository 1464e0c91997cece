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

static void write_cell(cw_writer *w, cw_stmt *s, cw_sql_column c)
{
    cw_type type = w->columns[w->at].type;
    cw_given g = cw_col_given(s, c, type);
    if (g.null)
        cw_write_null(w);
    else if (type == CW_TEXT_T)
        cw_write_text(w, g.text, strlen(g.text));
    else if (type == CW_REAL_T)
        cw_write_real(w, g.real);
    else
        cw_write_int(w, g.whole);
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

cw_code cw_rows_write(cw_db *db, const char *statement, cw_writer *to, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, statement);
    cw_code code = cw_stmt_start(s, err, "");
    for (size_t r = 1; code == CW_OK && cw_stmt_next(s); r++) {
        for (size_t c = 0; c < to->width; c++)
            write_cell(to, s, cw_col_nth(s, c));
        if (r % ASK_EVERY == 0)
            code = cw_writer_check(to, err);
    }
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

/* A column of the writer: where it is read, and of those that are shared and follow each other which is the last. */
typedef struct shared_column {
    bool own;
    cw_sql_column column;
    size_t to;         /* of the first of several: one past the last, but never the first of a row; else 0 */
    size_t at, length; /* their bytes as they were written; 0: they are to be written anew */
} shared_column;

typedef struct shared {
    cw_stmt *own, *rows;
    shared_column *column; /* [width] */
    cw_text bytes;
    int64_t id; /* of what is shared by now; 0: nothing yet */
} shared;

static void find_columns(shared *s, const cw_writer *w)
{
    for (size_t c = 0; c < w->width; c++) {
        shared_column *k = &s->column[c];
        k->own = cw_col_find(s->own, w->columns[c].name, &k->column);
        if (!k->own)
            k->column = cw_col_named(s->rows, w->columns[c].name);
    }
    for (size_t c = 1, to = 1; c<w->width; c = to> c ? to : c + 1) {
        for (to = c; to < w->width && s->column[to].own;)
            to++;
        s->column[c].to = to > c ? to : 0;
    }
}

/* Shared columns from c on, as bytes where they were written before and nothing came between. */
static void write_shared(cw_writer *w, shared *s, size_t c)
{
    shared_column *k = &s->column[c];
    if (k->length > 0) {
        cw_write_cells(w, s->bytes.data + k->at, k->length, k->to - c);
        return;
    }
    cw_writer_mark mark = cw_writer_here(w);
    for (size_t i = c; i < k->to; i++)
        write_cell(w, s->own, s->column[i].column);
    const char *bytes = cw_writer_since(w, mark, &k->length);
    k->at = s->bytes.length;
    if (bytes)
        cw_text_addn(&s->bytes, bytes, k->length);
    if (s->bytes.failed)
        k->length = 0;
}

static void write_row(cw_writer *w, shared *s)
{
    for (size_t c = 0; c < w->width;) {
        const shared_column *k = &s->column[c];
        if (k->to > 0)
            write_shared(w, s, c);
        else
            write_cell(w, k->own ? s->own : s->rows, k->column);
        c = k->to > 0 ? k->to : c + 1;
    }
}

/* Steps to what the row shares, which stands at or after what the row before shared; false: it is not there. */
static bool turn_to(shared *s, const cw_writer *w, int64_t id)
{
    while (s->id < id && cw_stmt_next(s->own))
        s->id = cw_col_int(s->own, cw_col_nth(s->own, 0));
    cw_text_clear(&s->bytes);
    for (size_t c = 0; c < w->width; c++)
        s->column[c].length = 0;
    return s->id == id;
}

cw_code cw_rows_write_shared(cw_db *db, const char *own, const char *rows, cw_writer *to, cw_error *err)
{
    shared s = { .own = cw_db_stmt(db, own),
                 .rows = cw_db_stmt(db, rows),
                 .column = calloc(to->width, sizeof *s.column),
                 .bytes = CW_TEXT(CW_MAX_RECORD_BYTES) };
    bool there = true;
    cw_code code = s.column ? cw_stmt_start(s.own, err, "") : cw_error_memory(err);
    if (code == CW_OK)
        code = cw_stmt_start(s.rows, err, "");
    if (code == CW_OK)
        find_columns(&s, to);
    for (size_t r = 1; code == CW_OK && cw_stmt_next(s.rows); r++) {
        int64_t id = cw_col_int(s.rows, cw_col_nth(s.rows, 0));
        there = id == s.id || turn_to(&s, to, id);
        if (!there)
            break;
        write_row(to, &s);
        if (r % ASK_EVERY == 0)
            code = cw_writer_check(to, err);
    }
    cw_code end = cw_stmt_end(s.rows, err), own_end = cw_stmt_end(s.own, err);
    cw_text_free(&s.bytes);
    free(s.column);
    code = code != CW_OK ? code : end != CW_OK ? end : own_end;
    return code == CW_OK && !there ? cw_db_damaged(err, own) : code;
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

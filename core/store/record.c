/* SPDX-License-Identifier: MIT */
#include "store/record.h"

#include "store/statement_inside.h"
#include <assert.h>
#include <string.h>

#include "base/banned.h"

#define MOST 40 /* columns */

cw_code cw_record_write(cw_db *db, const char *statement, const cw_bind *values, size_t n, cw_error *err)
{
    return cw_stmt_run_named(cw_db_stmt(db, statement), err, values, (int)n);
}

/* Texts move while more of them come: until all are there, a text is the place where it begins. */
static void read_column(cw_stmt *s, cw_bind *b, cw_text *texts, size_t *begins)
{
    cw_sql_column c = cw_col_named(s, b->name);
    *begins = texts->length;
    if (cw_col_null(s, c)) {
        b->type = 'n';
    } else if (b->type == 't') {
        const char *t = cw_col_text(s, c);
        cw_text_addn(texts, t, strlen(t) + 1);
    } else if (b->type == 'r') {
        b->r = cw_col_real(s, c);
    } else {
        assert(b->type == 'i');
        b->i = cw_col_int(s, c);
    }
}

cw_code cw_record_find(cw_db *db, const char *statement, const cw_bind *key, size_t keys, cw_bind *columns,
                       size_t n, cw_text *texts, bool *found, cw_error *err)
{
    size_t begins[MOST];
    assert(n <= MOST);
    cw_stmt *s = cw_db_stmt(db, statement);
    cw_code code = cw_stmt_one_named(s, found, err, key, (int)keys);
    for (size_t c = 0; *found && c < n; c++)
        read_column(s, &columns[c], texts, &begins[c]);
    cw_code end = cw_stmt_end(s, err);
    code = code == CW_OK ? end : code;
    if (code == CW_OK)
        code = cw_text_check(texts, err);
    for (size_t c = 0; code == CW_OK && *found && c < n; c++)
        if (columns[c].type == 't')
            columns[c].t = texts->data + begins[c];
    return code;
}

cw_code cw_record_each(cw_db *db, const char *statement, size_t width, cw_record_taker take, void *context,
                       cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, statement);
    cw_code code = cw_stmt_start(s, err, "");
    assert(width <= MOST);
    while (code == CW_OK && cw_stmt_next(s)) {
        int64_t values[MOST] = { 0 };
        unsigned nulls = 0;
        for (size_t c = 0; c < width; c++) {
            values[c] = cw_col_int(s, cw_col_nth(s, c));
            nulls |= cw_col_null(s, cw_col_nth(s, c)) ? 1u << c : 0;
        }
        if (!take(context, values, nulls))
            code = cw_error_memory(err);
    }
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

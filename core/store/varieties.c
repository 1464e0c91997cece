/* SPDX-License-Identifier: MIT */
#include "store/varieties.h"

#include "base/text.h"
#include "store/statement_inside.h"
#include <string.h>

#include "base/banned.h"

enum {
    CODE,
    NAME,
    FORM,
    SIZE,
    COLOUR,
    HEIGHT,
    PRICE,
    HOLD_BACK,
    RESERVE,
    LIMIT,
    INTRODUCED,
    RETIRED,
    VERSION,
    COLUMNS
};

static const cw_column columns[COLUMNS] = {
    { "code", CW_TEXT_T },
    { "name", CW_TEXT_T },
    { "form", CW_TEXT_T, .null = true },
    { "size", CW_TEXT_T, .null = true },
    { "colour", CW_TEXT_T, .null = true },
    { "height_cm", CW_INT_T, .null = true },
    { "price", CW_MONEY_T, .null = true },
    { "hold_back", CW_INT_T },
    { "reserve", CW_INT_T },
    { "limit_per_order", CW_INT_T, .null = true },
    { "introduced", CW_INT_T, .null = true },
    { "retired", CW_BOOL_T },
    { "version", CW_INT_T },
};

const cw_shape cw_varieties_list_shape = CW_ROWS(columns);

static void put_row(cw_stmt *q, cw_table *t)
{
    for (int c = 0; c < COLUMNS; c++) {
        if (cw_col_null(q, c))
            cw_put_null(t);
        else if (columns[c].type == CW_TEXT_T)
            cw_put_text(t, cw_col_text(q, c));
        else if (columns[c].type == CW_MONEY_T)
            cw_put_money(t, cw_col_int(q, c));
        else if (columns[c].type == CW_BOOL_T)
            cw_put_bool(t, cw_col_int(q, c) != 0);
        else
            cw_put_int(t, cw_col_int(q, c));
    }
}

cw_code cw_varieties_list(cw_db *db, const char *code, cw_table *out, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "varieties.list");
    cw_table_init(out, columns, COLUMNS);
    cw_code done = cw_stmt_start(q, err, "t", code);
    while (done == CW_OK && cw_stmt_next(q))
        put_row(q, out);
    cw_code end = cw_stmt_end(q, err);
    done = done == CW_OK ? end : done;
    return done == CW_OK ? cw_table_check(out, err) : done;
}

cw_code cw_variety_terms_read(cw_db *db, const char *code, cw_variety_terms *out, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "varieties.list");
    bool found = false;
    char shown[80];
    cw_code done = cw_stmt_one(q, &found, err, "t", code);
    if (done == CW_OK && found)
        *out = (cw_variety_terms){ cw_col_int(q, HOLD_BACK),    cw_col_int(q, RESERVE),
                                   cw_col_int(q, LIMIT),        cw_col_int_or(q, PRICE, -1),
                                   cw_col_int(q, RETIRED) != 0, cw_col_int(q, VERSION) };
    cw_code end = cw_stmt_end(q, err);
    if (done == CW_OK && !found)
        return cw_error_set(err, CW_NOT_FOUND, "there is no variety with the code %s",
                            cw_shown(code, strlen(code), shown));
    return done == CW_OK ? end : done;
}

cw_code cw_variety_terms_write(cw_db *db, const char *code, const cw_variety_terms *t, bool *done,
                               cw_error *err)
{
    cw_code c =
        cw_stmt_run(cw_db_stmt(db, "varieties.edit"), err, "tiiIIii", code, t->hold_back, t->reserve,
                    t->price >= 0 ? &t->price : NULL, t->limit_per_order > 0 ? &t->limit_per_order : NULL,
                    (int64_t)t->retired, t->version);
    *done = c == CW_OK && cw_db_changes(db) == 1;
    return c;
}

/* SPDX-License-Identifier: MIT */
#include "store/fits.h"

#include "columns/fits.h"
#include "store/statement_inside.h"

#include "base/banned.h"

static const cw_column list_columns[] = {
    { "name", CW_TEXT_T },  { "kind", CW_TEXT_T },   { "kept_at", CW_INSTANT_T },
    { "actor", CW_TEXT_T }, { "columns", CW_INT_T },
};
const cw_shape cw_fits_list_shape = CW_ROWS(list_columns);

cw_code cw_fits_list(cw_db *db, cw_table *out, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "fits.list");
    cw_table_init(out, list_columns, CW_WIDTH(list_columns));
    cw_code code = cw_stmt_start(q, err, "");
    while (code == CW_OK && cw_stmt_next(q)) {
        cw_put_text(out, cw_col_text(q, fits_list_name));
        cw_put_text(out, cw_col_text(q, fits_list_kind));
        cw_put_int(out, cw_col_int(q, fits_list_at));
        cw_put_text(out, cw_col_text(q, fits_list_actor));
        cw_put_int(out, cw_col_int(q, fits_list_columns));
    }
    cw_code end = cw_stmt_end(q, err);
    if (code == CW_OK)
        code = end;
    return code == CW_OK ? cw_table_check(out, err) : code;
}

cw_code cw_fits_read(cw_db *db, const char *named, const char *shape, bool *found, cw_text *name,
                     cw_text *fit, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "fits.read");
    cw_code code = cw_stmt_one(q, found, err, "tt", named, shape);
    if (code == CW_OK && *found) {
        cw_text_add(name, cw_col_text(q, fits_read_name));
        cw_text_add(fit, cw_col_text(q, fits_read_fit));
        code = cw_text_check(name, err);
        if (code == CW_OK)
            code = cw_text_check(fit, err);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_fits_keep(cw_db *db, const cw_fit_row *row, cw_instant at, const char *actor, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "fits.keep"), err, "ttttit", row->shape, row->name, row->kind, row->fit,
                       (int64_t)at, actor);
}

cw_code cw_fits_rename(cw_db *db, const char *name, const char *to, bool *found, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "fits.rename"), err, "tt", name, to);
    *found = code == CW_OK && cw_db_changes(db) > 0;
    return code;
}

cw_code cw_fits_forget(cw_db *db, const char *name, bool *found, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "fits.forget"), err, "t", name);
    *found = code == CW_OK && cw_db_changes(db) > 0;
    return code;
}

static cw_code each(cw_stmt *q, cw_fits_taker take, void *context, cw_error *err)
{
    cw_code code = cw_stmt_start(q, err, "");
    while (code == CW_OK && cw_stmt_next(q))
        if (!take(context, cw_col_text(q, fits_varieties_code), cw_col_text(q, fits_varieties_name),
                  cw_col_int(q, fits_varieties_figure)))
            code = cw_error_memory(err);
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_fits_varieties(cw_db *db, cw_fits_taker take, void *context, cw_error *err)
{
    return each(cw_db_stmt(db, "fits.varieties"), take, context, err);
}

cw_code cw_fits_lots(cw_db *db, cw_fits_taker take, void *context, cw_error *err)
{
    return each(cw_db_stmt(db, "fits.lots"), take, context, err);
}

cw_code cw_fits_places(cw_db *db, cw_fits_taker take, void *context, cw_error *err)
{
    return each(cw_db_stmt(db, "fits.places"), take, context, err);
}

/* SPDX-License-Identifier: MIT */
#include "store/tracing.h"

#include "base/text.h"
#include <string.h>

#include "base/banned.h"

static const cw_column trace_columns[] = {
    { "lot", CW_TEXT_T, 0 },      { "variety", CW_TEXT_T, 0 },   { "row", CW_TEXT_T, 0 },
    { "dug_on", CW_DAY_T, 0 },    { "order", CW_TEXT_T, 0 },     { "line", CW_INT_T, 0 },
    { "customer", CW_TEXT_T, 0 }, { "email", CW_TEXT_T, 0 },     { "postcode", CW_TEXT_T, 0 },
    { "country", CW_TEXT_T, 0 },  { "week", CW_WEEK_T, 0 },      { "slot", CW_INT_T, 0 },
    { "state", CW_TEXT_T, 0 },    { "shipped_on", CW_DAY_T, 0 }, { "quantity", CW_INT_T, 0 },
    { "by", CW_TEXT_T, 0 },
};

static const cw_column balance_columns[] = {
    { "variety", CW_TEXT_T, 0 },          { "name", CW_TEXT_T, 0 },
    { "clumps_dug", CW_INT_T, 0 },        { "clumps_found", CW_INT_T, 0 },
    { "clumps_divided", CW_INT_T, 0 },    { "clumps_rotten", CW_INT_T, 0 },
    { "clumps_lost", CW_INT_T, 0 },       { "clumps_on_hand", CW_INT_T, 0 },
    { "divisions_made", CW_INT_T, 0 },    { "divisions_found", CW_INT_T, 0 },
    { "divisions_rotten", CW_INT_T, 0 },  { "divisions_shrivelled", CW_INT_T, 0 },
    { "divisions_lost", CW_INT_T, 0 },    { "divisions_planted", CW_INT_T, 0 },
    { "divisions_picked", CW_INT_T, 0 },  { "divisions_on_hand", CW_INT_T, 0 },
    { "divisions_shipped", CW_INT_T, 0 },
};

/* Every column of the row by the table's own types; a null stays a null. */
static void put_row(cw_stmt *q, cw_table *t)
{
    for (size_t c = 0; c < t->width; c++) {
        if (cw_col_null(q, (int)c))
            cw_put_null(t);
        else if (t->columns[c].type == CW_TEXT_T)
            cw_put_text(t, cw_col_text(q, (int)c));
        else
            cw_put_int(t, cw_col_int(q, (int)c));
    }
}

static cw_code known(cw_db *db, const char *name, const char *what, const char *key, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, name);
    bool found = false;
    char shown[80];
    cw_code code = cw_stmt_one(q, &found, err, "t", key);
    cw_code end = cw_stmt_end(q, err);
    if (code == CW_OK && !found)
        return cw_error_set(err, CW_NOT_FOUND, "there is no %s %s", what, cw_shown(key, strlen(key), shown));
    return code == CW_OK ? end : code;
}

static cw_code trace(cw_db *db, const char *name, const char *key, cw_table *out, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, name);
    cw_table_init(out, trace_columns, sizeof trace_columns / sizeof trace_columns[0]);
    cw_code code = cw_stmt_start(q, err, "t", key);
    while (code == CW_OK && cw_stmt_next(q))
        put_row(q, out);
    cw_code end = cw_stmt_end(q, err);
    code = code == CW_OK ? end : code;
    return code == CW_OK ? cw_table_check(out, err) : code;
}

cw_code cw_trace_lot(cw_db *db, const char *lot, cw_table *out, cw_error *err)
{
    cw_code code = known(db, "tracing.lot", "lot", lot, err);
    return code == CW_OK ? trace(db, "tracing.of_lot", lot, out, err) : code;
}

cw_code cw_trace_order(cw_db *db, const char *order, cw_table *out, cw_error *err)
{
    cw_code code = known(db, "tracing.order", "order", order, err);
    return code == CW_OK ? trace(db, "tracing.of_order", order, out, err) : code;
}

cw_code cw_trace_balance(cw_db *db, cw_table *out, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "tracing.balance");
    cw_table_init(out, balance_columns, sizeof balance_columns / sizeof balance_columns[0]);
    cw_code code = cw_stmt_start(q, err, "");
    while (code == CW_OK && cw_stmt_next(q))
        put_row(q, out);
    cw_code end = cw_stmt_end(q, err);
    code = code == CW_OK ? end : code;
    return code == CW_OK ? cw_table_check(out, err) : code;
}

cw_code cw_trace_hold(cw_db *db, const char *lot, const char *why, bool anew, cw_error *err)
{
    cw_code code = known(db, "tracing.lot", "lot", lot, err);
    if (code == CW_OK)
        code = cw_stmt_run(cw_db_stmt(db, "tracing.hold"), err, "tti", lot, why, (int64_t)anew);
    if (code == CW_OK && cw_db_changes(db) == 0)
        code = cw_error_set(err, CW_CONFLICT, "lot %s is held already; the office can say why anew", lot);
    return code;
}

/* SPDX-License-Identifier: MIT */
#include "store/tracing.h"

#include "base/text.h"
#include "columns/tracing.h"
#include "store/rows.h"
#include "store/statement_inside.h"
#include <string.h>

#include "base/banned.h"

#define TRACE_COLUMNS                                                                                        \
    { "lot", CW_TEXT_T }, { "variety", CW_TEXT_T }, { "row", CW_TEXT_T, .null = true },                      \
        { "dug_on", CW_DAY_T }, { "order", CW_TEXT_T }, { "line", CW_INT_T },                                \
        { "customer", CW_TEXT_T, .null = true }, { "email", CW_TEXT_T, .null = true },                       \
        { "postcode", CW_TEXT_T, .null = true }, { "country", CW_TEXT_T, .null = true },                     \
        { "week", CW_WEEK_T, .null = true }, { "slot", CW_INT_T, .null = true }, { "state", CW_TEXT_T },     \
        { "shipped_on", CW_DAY_T, .null = true }, { "quantity", CW_INT_T }, { "by", CW_TEXT_T },             \
    {                                                                                                        \
        "notice", CW_TEXT_T, .null = true, .words = cw_words_notice_states,                                  \
                             .says = "how far the recall notice is; null: there is none"                     \
    }

static const cw_column trace_columns[] = { TRACE_COLUMNS };
static const cw_column year_columns[] = {
    { "season", CW_INT_T },
    { "sure", CW_BOOL_T, .says = "it is on record that the lot descends from what was asked for" },
    TRACE_COLUMNS,
};

static const cw_column balance_columns[] = {
    { "variety", CW_TEXT_T },
    { "name", CW_TEXT_T },
    { "clumps_dug", CW_INT_T },
    { "clumps_found", CW_INT_T },
    { "clumps_divided", CW_INT_T },
    { "clumps_rotten", CW_INT_T },
    { "clumps_lost", CW_INT_T },
    { "clumps_renamed", CW_INT_T,
      .says = "parts of lots that proved to be this variety, less those that proved to be another" },
    { "clumps_on_hand", CW_INT_T },
    { "divisions_made", CW_INT_T },
    { "divisions_found", CW_INT_T },
    { "divisions_rotten", CW_INT_T },
    { "divisions_shrivelled", CW_INT_T },
    { "divisions_lost", CW_INT_T },
    { "divisions_planted", CW_INT_T },
    { "divisions_picked", CW_INT_T },
    { "divisions_renamed", CW_INT_T },
    { "divisions_on_hand", CW_INT_T },
    { "divisions_shipped", CW_INT_T },
};

const cw_shape cw_trace_shape = CW_ROWS(trace_columns), cw_trace_years_shape = CW_ROWS(year_columns),
               cw_trace_balance_shape = CW_ROWS(balance_columns);

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
    cw_table_init(out, trace_columns, sizeof trace_columns / sizeof trace_columns[0]);
    return cw_rows_fill(db, name, out, err, "t", key);
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
    cw_table_init(out, balance_columns, sizeof balance_columns / sizeof balance_columns[0]);
    return cw_rows_fill(db, "tracing.balance", out, err, "");
}

cw_code cw_trace_held(cw_db *db, const char *lot, char out[CW_MAX_NAME + 1], cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "tracing.held");
    bool found = false;
    char shown[80];
    cw_code code = cw_stmt_one(q, &found, err, "t", lot);
    const char *held = found ? cw_col_text(q, tracing_held_held) : NULL;
    cw_copy(out, CW_MAX_NAME + 1, held ? held : "");
    cw_code end = cw_stmt_end(q, err);
    if (code == CW_OK && end == CW_OK && !found)
        return cw_error_set(err, CW_NOT_FOUND, "there is no lot %s", cw_shown(lot, strlen(lot), shown));
    return code == CW_OK ? end : code;
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

/* SPDX-License-Identifier: MIT */
#include "store/kept.h"

#include "base/text.h"
#include "columns/kept.h"
#include "store/rows.h"
#include "store/statement_inside.h"
#include <math.h>
#include <string.h>

#include "base/banned.h"

static double real_or_nan(cw_stmt *q, cw_sql_column column)
{
    return cw_col_null(q, column) ? NAN : cw_col_real(q, column);
}

static cw_kept_said said_row(cw_stmt *q)
{
    return (cw_kept_said){ .variety_id = cw_col_int(q, kept_said_variety_id),
                           .demand_low = real_or_nan(q, kept_said_demand_low),
                           .demand_high = real_or_nan(q, kept_said_demand_high),
                           .growth = real_or_nan(q, kept_said_growth),
                           .cost = cw_col_int_or(q, kept_said_cost, -1),
                           .least = cw_col_int_or(q, kept_said_least, -1) };
}

cw_code cw_kept_said_each(cw_db *db, void (*take)(void *context, const cw_kept_said *said), void *context,
                          cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "kept.said");
    cw_code code = cw_stmt_start(q, err, "");
    while (code == CW_OK && cw_stmt_next(q)) {
        const cw_kept_said said = said_row(q);
        take(context, &said);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_kept_said_of(cw_db *db, const char *code, cw_kept_said *out, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "kept.said_of");
    bool found = false;
    char shown[80];
    cw_code done = cw_stmt_one(q, &found, err, "t", code);
    if (done == CW_OK && found)
        *out = said_row(q);
    cw_code end = cw_stmt_end(q, err);
    if (done == CW_OK && !found)
        return cw_error_set(err, CW_NOT_FOUND, "there is no variety with the code %s",
                            cw_shown(code, strlen(code), shown));
    return done == CW_OK ? end : done;
}

static cw_bind real_or_null(const char *name, double v)
{
    return (cw_bind){ .type = isnan(v) ? 'n' : 'r', .r = v, .name = name };
}

static cw_bind whole_or_null(const char *name, int64_t v)
{
    return (cw_bind){ .type = v < 0 ? 'n' : 'i', .i = v, .name = name };
}

cw_code cw_kept_say(cw_db *db, const cw_kept_said *s, cw_error *err)
{
    const cw_bind values[] = { { .type = 'i', .i = s->variety_id, .name = "variety_id" },
                               real_or_null("demand_low", s->demand_low),
                               real_or_null("demand_high", s->demand_high),
                               real_or_null("growth", s->growth),
                               whole_or_null("cost", s->cost),
                               whole_or_null("least", s->least) };
    return cw_record_write(db, "kept.say", values, sizeof values / sizeof values[0], err);
}

cw_code cw_kept_run(cw_db *db, cw_instant at, const char *actor, int64_t *run, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "kept.run"), err, "it", (int64_t)at, actor);
    *run = cw_db_last_id(db);
    return code;
}

cw_code cw_kept_change(cw_db *db, int64_t run, int64_t variety_id, int64_t before, int64_t after,
                       cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "kept.change"), err, "iiii", run, variety_id, before, after);
}

static const cw_column change_columns[] = { { "variety", CW_TEXT_T },
                                            { "before", CW_INT_T },
                                            { "after", CW_INT_T } };
static const cw_column run_columns[] = {
    { "run", CW_INT_T },
    { "at", CW_INSTANT_T },
    { "actor", CW_TEXT_T },
    { "varieties", CW_INT_T, .says = "Whose hold-back it changed." },
    { "undone_at", CW_INSTANT_T, .null = true },
    { "undone_by", CW_TEXT_T, .null = true },
};
const cw_shape cw_kept_changes_shape = CW_ROWS(change_columns), cw_kept_runs_shape = CW_ROWS(run_columns);

cw_code cw_kept_changes(cw_db *db, int64_t run, cw_table *out, cw_error *err)
{
    cw_table_init(out, change_columns, CW_WIDTH(change_columns));
    return cw_rows_fill(db, "kept.changes", out, err, "i", run);
}

cw_code cw_kept_runs(cw_db *db, cw_table *out, cw_error *err)
{
    cw_table_init(out, run_columns, CW_WIDTH(run_columns));
    return cw_rows_fill(db, "kept.runs", out, err, "");
}

cw_code cw_kept_undo(cw_db *db, int64_t run, cw_instant at, const char *actor, bool *done, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "kept.undo"), err, "iit", run, (int64_t)at, actor);
    *done = code == CW_OK && cw_db_changes(db) == 1;
    return code;
}

cw_code cw_kept_rows(cw_db *db, void (*take)(void *context, int64_t variety_id, const char *row),
                     void *context, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "kept.rows");
    cw_code code = cw_stmt_start(q, err, "");
    while (code == CW_OK && cw_stmt_next(q))
        take(context, cw_col_int(q, kept_rows_variety_id), cw_col_text(q, kept_rows_row));
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

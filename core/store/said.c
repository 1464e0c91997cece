/* SPDX-License-Identifier: MIT */
#include "store/said.h"

#include "columns/said.h"
#include "store/statement_inside.h"

#include "base/banned.h"

cw_code cw_said_last(cw_db *db, const char *why, bool *found, cw_said *out, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "said.last");
    cw_code code = cw_stmt_one(q, found, err, "t", why);
    if (code == CW_OK && *found)
        *out = (cw_said){ .day = (cw_day)cw_col_int(q, said_last_day),
                          .ship = (cw_day)cw_col_int(q, said_last_ship_day),
                          .stock_revision = cw_col_int(q, said_last_stock_revision) };
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_said_begun(cw_db *db, cw_instant *at, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, "said.begun");
    cw_code code = cw_stmt_one(q, &found, err, "");
    *at = code == CW_OK && found ? cw_col_int(q, said_begun_made_at) : 0;
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_said_add(cw_db *db, cw_said *s, cw_instant at, const char *actor, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "said.add"), err, "ittiii", (int64_t)at, actor, s->why,
                               (int64_t)s->day, (int64_t)s->ship, s->stock_revision);
    s->id = cw_db_last_id(db);
    return code;
}

cw_code cw_said_add_row(cw_db *db, int64_t id, const cw_said_row *row, cw_error *err)
{
    const int64_t *q = row->quantile;
    return cw_stmt_run(cw_db_stmt(db, "said.add_of"), err, "iiriiiiiii", id, row->variety_id, row->expected,
                       q[0], q[1], q[2], q[3], q[4], q[5], q[6]);
}

cw_code cw_said_rows(cw_db *db, cw_day ship,
                     void (*take)(void *context, const cw_said *said, const cw_said_row *row), void *context,
                     cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "said.rows");
    cw_code code = cw_stmt_start(q, err, "i", (int64_t)ship);
    while (code == CW_OK && cw_stmt_next(q)) {
        const cw_said said = { .id = cw_col_int(q, said_rows_id),
                               .why = cw_col_text(q, said_rows_why),
                               .day = (cw_day)cw_col_int(q, said_rows_day),
                               .ship = ship };
        cw_said_row row = { .variety_id = cw_col_int(q, said_rows_variety_id),
                            .expected = cw_col_real(q, said_rows_expected) };
        const cw_sql_column quantiles[CW_SAID_QUANTILES] = { said_rows_p05, said_rows_p10, said_rows_p25,
                                                             said_rows_p50, said_rows_p75, said_rows_p90,
                                                             said_rows_p95 };
        for (int i = 0; i < CW_SAID_QUANTILES; i++)
            row.quantile[i] = cw_col_int(q, quantiles[i]);
        take(context, &said, &row);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

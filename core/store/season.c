/* SPDX-License-Identifier: MIT */
#include "store/season.h"

#include "base/text.h"
#include "columns/season.h"
#include "store/statement_inside.h"

#include "base/banned.h"

cw_code cw_season_make(cw_db *db, const cw_season_row *row, cw_instant at, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "season.make"), err, "iitti", (int64_t)row->season, (int64_t)row->ship,
                       row->currency, row->timezone, (int64_t)at);
}

cw_code cw_season_read(cw_db *db, cw_season_row *out, cw_error *err)
{
    bool found = false;
    cw_stmt *s = cw_db_stmt(db, "season.read");
    cw_code code = cw_stmt_one(s, &found, err, "");
    if (code == CW_OK && !found)
        code = cw_error_at(err, CW_REFUSED, cw_db_path(db), 0, NULL,
                           "is an unfinished nursery file without a season");
    if (code == CW_OK) {
        out->season = (int)cw_col_int(s, season_read_season);
        out->ship = (cw_day)cw_col_int(s, season_read_ship_day);
        cw_copy(out->currency, sizeof out->currency, cw_col_text(s, season_read_currency));
        cw_copy(out->timezone, sizeof out->timezone, cw_col_text(s, season_read_timezone));
    }
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_season_move_ship(cw_db *db, cw_day ship, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "season.move_ship"), err, "i", (int64_t)ship);
}

cw_code cw_season_revision(cw_db *db, int64_t *stock, int64_t *trade, cw_error *err)
{
    bool found = false;
    cw_stmt *s = cw_db_stmt(db, "season.revision");
    cw_code code = cw_stmt_one(s, &found, err, "");
    *stock = found ? cw_col_int(s, season_revision_stock_revision) : 0;
    *trade = found ? cw_col_int(s, season_revision_trade_revision) : 0;
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_season_touch(cw_db *db, bool stock, bool trade, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "season.touch"), err, "ii", (int64_t)stock, (int64_t)trade);
}

cw_code cw_season_setting(cw_db *db, const char *name, char *out, size_t size, bool *found, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "season.setting");
    *found = false;
    cw_code code = cw_stmt_one(s, found, err, "t", name);
    if (*found)
        cw_copy(out, size, cw_col_text(s, season_setting_value));
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_season_set(cw_db *db, const char *name, const char *value, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "season.set"), err, "tt", name, value);
}

/* SPDX-License-Identifier: MIT */
#include "store/stock.h"

#include "columns/stock.h"
#include "store/statement_inside.h"
#include <stdio.h>

#include "base/banned.h"

cw_code cw_stock_add_dividing(cw_db *db, const cw_dividing_row *r, int64_t *id, cw_error *err)
{
    cw_code code =
        cw_stmt_run(cw_db_stmt(db, "stock.add_dividing"), err, "iiiiiiiIII", r->lot, (int64_t)r->day,
                    r->clumps, r->rotten, r->saleable, r->blind, r->place, r->source, r->minutes, r->people);
    *id = cw_db_last_id(db);
    return code;
}

cw_code cw_stock_time_dividing(cw_db *db, const cw_dividing_row *r, bool *found, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "stock.time_taken"), err, "iiiiiiiII", r->lot, (int64_t)r->day,
                               r->clumps, r->saleable, r->blind, r->rotten, r->place, r->minutes, r->people);
    *found = code == CW_OK && cw_db_changes(db) > 0;
    return code;
}

cw_code cw_stock_add_check(cw_db *db, const cw_check_row *r, int64_t *id, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "stock.add_check"), err, "iitiiItI", r->lot, (int64_t)r->day,
                               r->stage, r->inspected, r->rotten, r->shrivelled, r->why, r->source);
    *id = cw_db_last_id(db);
    return code;
}

cw_code cw_stock_add_count(cw_db *db, const cw_count_row *r, int64_t *id, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "stock.add_count"), err, "iitiiIII", r->lot, (int64_t)r->day,
                               r->stage, r->count, r->before, r->place, r->looked, r->source);
    *id = cw_db_last_id(db);
    return code;
}

cw_code cw_stock_mark_undone(cw_db *db, const char *cause, int64_t id, bool *found, cw_error *err)
{
    char name[64];
    snprintf(name, sizeof name, "stock.undo_%s", cause);
    cw_code code = cw_stmt_run(cw_db_stmt(db, name), err, "i", id);
    *found = code == CW_OK && cw_db_changes(db) > 0;
    return code;
}

cw_code cw_stock_lot_place(cw_db *db, int64_t lot, int64_t *place, cw_error *err)
{
    bool found = false;
    cw_stmt *s = cw_db_stmt(db, "stock.lot_place");
    cw_code code = cw_stmt_one(s, &found, err, "i", lot);
    *place = found ? cw_col_int(s, stock_lot_place_place_id) : 0;
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

/* Today's balance less what came later, and not the sum of all before: a lot has few late entries and many early ones. */
cw_code cw_stock_place_on(cw_db *db, int64_t lot, int64_t place, cw_day day, cw_on_hand *out, cw_error *err)
{
    bool found = false;
    cw_stmt *s = cw_db_stmt(db, "stock.place_on");
    cw_code code = cw_stmt_one(s, &found, err, "iii", lot, place, (int64_t)day);
    *out = found
               ? (cw_on_hand){ cw_col_int(s, stock_place_on_clumps), cw_col_int(s, stock_place_on_divisions) }
               : (cw_on_hand){ 0, 0 };
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

/* Moves and entries have no table of their own; the number of their first movement is their name, so it is asked before. */
cw_code cw_stock_next_movement(cw_db *db, int64_t *id, cw_error *err)
{
    bool found = false;
    cw_stmt *s = cw_db_stmt(db, "stock.next_movement");
    cw_code code = cw_stmt_one(s, &found, err, "");
    *id = found ? cw_col_int(s, stock_next_movement_id) : 1;
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_stock_place_known(cw_db *db, const char *code, bool *known, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "stock.place_known");
    cw_code done = cw_stmt_one(s, known, err, "t", code);
    cw_code end = cw_stmt_end(s, err);
    return done == CW_OK ? end : done;
}

cw_code cw_stock_place_rename(cw_db *db, const char *from, const char *to, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "stock.place_rename"), err, "tt", from, to);
}

/* SPDX-License-Identifier: MIT */
#include "store/splitting.h"

#include "base/text.h"
#include "columns/splitting.h"
#include "store/statement_inside.h"

#include "base/banned.h"

cw_code cw_splitting_reach(cw_db *db, int64_t lot, cw_day since, cw_split_reach *out, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "splitting.reach");
    bool found = false;
    cw_code code = cw_stmt_one(s, &found, err, "ii", lot, (int64_t)since);
    if (code == CW_OK && found)
        *out =
            (cw_split_reach){ cw_col_int(s, splitting_reach_sessions),
                              cw_col_int(s, splitting_reach_sessions_since),
                              cw_col_int(s, splitting_reach_open_picks), cw_col_int(s, splitting_reach_taken),
                              cw_col_int(s, splitting_reach_parcels) };
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

cw_code cw_splitting_code_taken(cw_db *db, const char *code, bool *taken, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "splitting.taken_code");
    cw_code done = cw_stmt_one(s, taken, err, "t", code);
    cw_code end = cw_stmt_end(s, err);
    return done == CW_OK ? end : done;
}

cw_code cw_splitting_add(cw_db *db, const cw_split_row *row, int64_t was, const cw_naming_record *r,
                         cw_error *err)
{
    cw_code code =
        cw_stmt_run(cw_db_stmt(db, "splitting.lot"), err, "iti", row->from, row->code, row->variety);
    int64_t lot = cw_db_last_id(db);
    if (code == CW_OK)
        code = cw_stmt_run(cw_db_stmt(db, "splitting.put"), err, "ii", row->move, lot);
    if (code == CW_OK)
        code = cw_stmt_run(cw_db_stmt(db, "splitting.keep"), err, "iiiiii", lot, row->from, (int64_t)row->day,
                           row->clumps, row->divisions, row->move);
    if (code == CW_OK)
        code = cw_stmt_run(cw_db_stmt(db, "naming.relabelled"), err, "iiiitt", lot, was, row->variety,
                           (int64_t)r->at, r->actor, r->why);
    return code;
}

cw_code cw_splitting_of_move(cw_db *db, int64_t move, bool *found, bool *touched, int64_t *id,
                             char code[CW_MAX_CODE + 1], cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "splitting.of_move");
    *found = *touched = false;
    code[0] = '\0';
    cw_code done = cw_stmt_one(s, found, err, "i", move);
    if (done == CW_OK && *found) {
        *id = cw_col_int(s, splitting_of_move_id);
        *touched = cw_col_int(s, splitting_of_move_touched) != 0;
        cw_copy(code, CW_MAX_CODE + 1, cw_col_text(s, splitting_of_move_code));
    }
    cw_code end = cw_stmt_end(s, err);
    return done == CW_OK ? end : done;
}

cw_code cw_splitting_mark_undone(cw_db *db, int64_t id, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "splitting.undo"), err, "i", id);
}

/* SPDX-License-Identifier: MIT */
#include "store/cellar.h"

#include "base/text.h"
#include "columns/cellar.h"
#include "store/statement_inside.h"

#include "base/banned.h"

/* Moves and entries are known by their movements, the others by a record of their own. */
cw_code cw_lot_of_record(cw_db *db, const char *cause, int64_t cause_id, int64_t *lot,
                         char code[CW_MAX_CODE + 1], cw_error *err)
{
    bool found = false;
    cw_stmt *s = cw_db_stmt(db, "cellar.lot_of_record");
    cw_code result = cw_stmt_one(s, &found, err, "ti", cause, cause_id);
    *lot = found ? cw_col_int(s, cellar_lot_of_record_id) : 0;
    cw_copy(code, CW_MAX_CODE + 1, found ? cw_col_text(s, cellar_lot_of_record_code) : "");
    cw_code end = cw_stmt_end(s, err);
    return result != CW_OK ? result : end;
}

cw_code cw_air_rooms(cw_db *db, void (*take)(void *context, const char *room), void *context, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "cellar.rooms");
    cw_code code = cw_stmt_start(s, err, "");
    while (code == CW_OK && cw_stmt_next(s))
        take(context, cw_col_text(s, cellar_rooms_room));
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_air_points(cw_db *db, const char *room,
                      void (*take)(void *context, cw_instant at, double temp_c, double rh), void *context,
                      cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "cellar.air");
    cw_code code = cw_stmt_start(s, err, "t", room);
    while (code == CW_OK && cw_stmt_next(s))
        take(context, cw_col_int(s, cellar_air_at), cw_col_real(s, cellar_air_temp_c),
             cw_col_real(s, cellar_air_rh));
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

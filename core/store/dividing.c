/* SPDX-License-Identifier: MIT */
#include "store/dividing.h"

#include "base/text.h"
#include "columns/dividing.h"
#include "store/statement_inside.h"

#include "base/banned.h"

cw_code cw_whole_lots(cw_db *db, void (*take)(void *context, const cw_whole_lot *row), void *context,
                      cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "dividing.lots");
    cw_code code = cw_stmt_start(s, err, "");
    while (code == CW_OK && cw_stmt_next(s)) {
        cw_whole_lot row = { .id = cw_col_int(s, dividing_lots_id),
                             .place = cw_col_text(s, dividing_lots_place),
                             .room = cw_col_text(s, dividing_lots_room),
                             .walk_order = cw_col_int(s, dividing_lots_walk_order),
                             .held = cw_col_int(s, dividing_lots_held) != 0,
                             .kept_day = (cw_day)cw_col_int(s, dividing_lots_kept_day) };
        cw_copy(row.kept_why, sizeof row.kept_why, cw_col_text(s, dividing_lots_kept_why));
        row.kept_day = row.kept_why[0] ? row.kept_day : CW_NO_DAY;
        take(context, &row);
    }
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_crates(cw_db *db, void (*take)(void *context, const cw_crate_row *row), void *context,
                  cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "dividing.crates");
    cw_code code = cw_stmt_start(s, err, "");
    while (code == CW_OK && cw_stmt_next(s)) {
        cw_crate_row row = { .lot = cw_col_int(s, dividing_crates_id),
                             .divisions = cw_col_int(s, dividing_crates_divisions) != 0,
                             .place = cw_col_text(s, dividing_crates_place),
                             .room = cw_col_text(s, dividing_crates_room),
                             .walk_order = cw_col_int(s, dividing_crates_walk_order),
                             .held = cw_col_int(s, dividing_crates_held) != 0 };
        take(context, &row);
    }
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_lying_rows(cw_db *db, void (*take)(void *context, const cw_lying_row *row), void *context,
                      cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "dividing.lying");
    cw_code code = cw_stmt_start(s, err, "");
    while (code == CW_OK && cw_stmt_next(s)) {
        cw_lying_row row = { .place_id = cw_col_int(s, dividing_lying_place_id),
                             .walk_order = cw_col_int(s, dividing_lying_walk_order),
                             .lot = cw_col_int_or(s, dividing_lying_lot_id, 0),
                             .clumps = cw_col_int(s, dividing_lying_clumps),
                             .divisions = cw_col_int(s, dividing_lying_divisions),
                             .place = cw_col_text(s, dividing_lying_code),
                             .room = cw_col_text(s, dividing_lying_room),
                             .held = cw_col_int(s, dividing_lying_held) != 0 };
        take(context, &row);
    }
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_timed_sessions(cw_db *db, void (*take)(void *context, const cw_timed_session *row), void *context,
                          cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "dividing.sessions");
    cw_code code = cw_stmt_start(s, err, "");
    while (code == CW_OK && cw_stmt_next(s)) {
        cw_timed_session row = { cw_col_int(s, dividing_sessions_variety_id),
                                 cw_col_int(s, dividing_sessions_clumps),
                                 cw_col_int(s, dividing_sessions_minutes),
                                 cw_col_int(s, dividing_sessions_people) };
        take(context, &row);
    }
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_crew_days(cw_db *db, void (*take)(void *context, const cw_crew_row *row), void *context,
                     cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "dividing.crew");
    cw_code code = cw_stmt_start(s, err, "");
    while (code == CW_OK && cw_stmt_next(s)) {
        cw_crew_row row = { (cw_day)cw_col_int(s, dividing_crew_day), cw_col_int(s, dividing_crew_cutters),
                            cw_col_int(s, dividing_crew_washers), cw_col_real(s, dividing_crew_hours) };
        take(context, &row);
    }
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_crew_set(cw_db *db, const cw_crew_row *row, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "dividing.set_crew"), err, "iiir", (int64_t)row->day, row->cutters,
                       row->washers, row->hours);
}

cw_code cw_promised_weeks(cw_db *db, void (*take)(void *context, const cw_promised_row *row), void *context,
                          cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "dividing.promised");
    cw_code code = cw_stmt_start(s, err, "");
    while (code == CW_OK && cw_stmt_next(s)) {
        cw_promised_row row = { cw_col_int(s, dividing_promised_variety_id),
                                cw_col_int(s, dividing_promised_q),
                                (cw_week)cw_col_int(s, dividing_promised_ship_week) };
        take(context, &row);
    }
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_last_release(cw_db *db, cw_instant *at, cw_error *err)
{
    bool found = false;
    cw_stmt *s = cw_db_stmt(db, "dividing.released");
    cw_code code = cw_stmt_one(s, &found, err, "");
    *at = found ? cw_col_int_or(s, dividing_released_at, CW_NO_INSTANT) : CW_NO_INSTANT;
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_dividing_day_of(cw_db *db, const char *code, int64_t *id, cw_day *kept, char why[8], cw_error *err)
{
    bool found = false;
    cw_stmt *s = cw_db_stmt(db, "dividing.lot");
    cw_code status = cw_stmt_one(s, &found, err, "t", code);
    *id = found ? cw_col_int(s, dividing_lot_id) : 0;
    *kept = found ? (cw_day)cw_col_int_or(s, dividing_lot_day, CW_NO_DAY) : CW_NO_DAY;
    cw_copy(why, 8, found && !cw_col_null(s, dividing_lot_why) ? cw_col_text(s, dividing_lot_why) : "");
    cw_code end = cw_stmt_end(s, err);
    return status != CW_OK ? status : end;
}

cw_code cw_dividing_day_keep(cw_db *db, int64_t lot, cw_day day, const char *why, cw_instant at,
                             const char *actor, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "dividing.keep"), err, "iitit", lot, (int64_t)day, why, at, actor);
}

cw_code cw_dividing_day_let_go(cw_db *db, int64_t lot, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "dividing.let_go"), err, "i", lot);
}

/* SPDX-License-Identifier: MIT */
#include "store/intake.h"

#include "base/text.h"
#include "columns/intake.h"
#include "store/statement_inside.h"
#include <string.h>

#include "base/banned.h"

static cw_code ended(cw_stmt *s, cw_code code, cw_error *err)
{
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

cw_code cw_intake_find_variety(cw_db *db, const char *code, bool *found, cw_variety_found *out, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "intake.variety");
    cw_code done = cw_stmt_one(s, found, err, "t", code);
    if (*found)
        *out = (cw_variety_found){ .id = cw_col_int(s, intake_variety_id),
                                   .retired = cw_col_int(s, intake_variety_retired) != 0,
                                   .released = cw_col_int(s, intake_variety_released) != 0,
                                   .stands = cw_col_int(s, intake_variety_stands) != 0,
                                   .offered = cw_col_int(s, intake_variety_offered),
                                   .sold = cw_col_int(s, intake_variety_sold),
                                   .beyond = cw_col_int(s, intake_variety_beyond) };
    cw_copy(out->code, sizeof out->code, *found ? cw_col_text(s, intake_variety_code) : "");
    return ended(s, done, err);
}

cw_code cw_intake_merged_into(cw_db *db, const char *code, char into[CW_MAX_CODE + 1], cw_error *err)
{
    bool found = false;
    cw_stmt *s = cw_db_stmt(db, "intake.merged_into");
    cw_code done = cw_stmt_one(s, &found, err, "t", code);
    cw_copy(into, CW_MAX_CODE + 1, found ? cw_col_text(s, intake_merged_into_code) : "");
    return ended(s, done, err);
}

cw_code cw_intake_namesake(cw_db *db, const char *name, const char *code, bool *found, cw_namesake *out,
                           cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "intake.namesake");
    cw_code done = cw_stmt_one(s, found, err, "tt", name, code);
    if (done == CW_OK && *found) {
        out->id = cw_col_int(s, intake_namesake_id);
        cw_copy(out->code, sizeof out->code, cw_col_text(s, intake_namesake_code));
        cw_copy(out->name, sizeof out->name, cw_col_text(s, intake_namesake_name));
    }
    return ended(s, done, err);
}

cw_code cw_intake_find_lot(cw_db *db, const char *code, bool *found, cw_lot_found *out, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "intake.lot");
    cw_code done = cw_stmt_one(s, found, err, "t", code);
    if (*found)
        *out = (cw_lot_found){ cw_col_int(s, intake_lot_id), (cw_day)cw_col_int(s, intake_lot_dug_on),
                               cw_col_int(s, intake_lot_place_id) };
    return ended(s, done, err);
}

cw_code cw_intake_find_place(cw_db *db, const char *code, bool *found, int64_t *id, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "intake.place");
    cw_code done = cw_stmt_one(s, found, err, "t", code);
    if (*found)
        *id = cw_col_int(s, intake_place_id);
    return ended(s, done, err);
}

cw_code cw_intake_place_used(cw_db *db, const char *code, bool *used, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "intake.place_used");
    cw_code done = cw_stmt_one(s, used, err, "t", code);
    return ended(s, done, err);
}

cw_code cw_source_add(cw_db *db, const cw_source_row *row, int64_t *id, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "intake.source_add"), err, "tttiti", row->kind, row->name,
                               row->digest, row->rows, row->actor, (int64_t)row->at);
    *id = cw_db_last_id(db);
    return code;
}

cw_code cw_source_find(cw_db *db, const char *kind, const char *digest, bool *found, cw_source_found *out,
                       cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "intake.source_known");
    cw_code code = cw_stmt_one(s, found, err, "tt", kind, digest);
    if (*found) {
        out->id = cw_col_int(s, intake_source_known_id);
        cw_copy(out->name, sizeof out->name, cw_col_text(s, intake_source_known_name));
        out->at = cw_col_int(s, intake_source_known_at);
    }
    return ended(s, code, err);
}

cw_code cw_source_stands(cw_db *db, int64_t id, bool *stands, cw_error *err)
{
    bool found = false;
    cw_stmt *s = cw_db_stmt(db, "intake.source_stands");
    cw_code code = cw_stmt_one(s, &found, err, "i", id);
    *stands = found && cw_col_int(s, intake_source_stands_rows) > 0;
    return ended(s, code, err);
}

cw_code cw_past_add_divided(cw_db *db, int64_t season, int64_t variety, int64_t clumps, int64_t divisions,
                            int64_t source, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "intake.add_history"), err, "iiiii", season, variety, clumps, divisions,
                       source);
}

cw_code cw_past_add_check(cw_db *db, const cw_past_check_row *row, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "intake.add_past_check"), err, "iitriiIi", row->season, row->variety,
                       row->stage, row->weeks, row->inspected, row->rotten, row->shrivelled, row->source);
}

cw_code cw_intake_order_paid(cw_db *db, int64_t order, int64_t paid, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "intake.order_paid"), err, "ii", order, paid);
}

cw_code cw_intake_order_latest(cw_db *db, cw_instant before, cw_instant *at, cw_error *err)
{
    bool found = false;
    cw_stmt *s = cw_db_stmt(db, "intake.order_latest");
    cw_code code = cw_stmt_one(s, &found, err, "i", (int64_t)before);
    *at = found ? cw_col_int(s, intake_order_latest_latest) : 0;
    return ended(s, code, err);
}

/* "" for none. */
static void copy_text(char *out, size_t size, cw_stmt *s, cw_sql_column column)
{
    const char *text = cw_col_text(s, column);
    cw_copy(out, size, text ? text : "");
}

cw_code cw_intake_find_line(cw_db *db, int64_t order, int64_t line, bool *found, cw_line_found *out,
                            cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "intake.line");
    cw_code code = cw_stmt_one(s, found, err, "ii", order, line);
    if (*found) {
        out->id = cw_col_int(s, intake_line_id);
        out->quantity = cw_col_int(s, intake_line_quantity);
        out->price = cw_col_int(s, intake_line_unit_price);
        out->all_or_none = cw_col_int(s, intake_line_all_or_none);
        out->first_asked = cw_col_int(s, intake_line_first_asked);
        out->promised = cw_col_int(s, intake_line_promised);
        out->instead = cw_col_int(s, intake_line_instead);
        copy_text(out->variety, sizeof out->variety, s, intake_line_code);
        copy_text(out->assortment, sizeof out->assortment, s, intake_line_assortment);
        copy_text(out->consent, sizeof out->consent, s, intake_line_consent);
        copy_text(out->named, sizeof out->named, s, intake_line_named);
    }
    return ended(s, code, err);
}

cw_code cw_intake_line_add(cw_db *db, int64_t order, int64_t line, const cw_line_row *row, int64_t *id,
                           cw_error *err)
{
    cw_code code =
        cw_stmt_run(cw_db_stmt(db, "intake.line_add"), err, "iiItiitti", order, line, row->variety,
                    row->assortment, row->quantity, row->price, row->consent, row->named, row->all_or_none);
    *id = cw_db_last_id(db);
    return code;
}

#define LINE_VALUES 9

static cw_bind whole(int64_t v)
{
    return (cw_bind){ .type = 'i', .i = v };
}

static cw_bind text_or_null(const char *t)
{
    return (cw_bind){ .type = t ? 't' : 'n', .t = t };
}

cw_code cw_intake_lines_add(cw_db *db, const cw_line_new lines[CW_LINES_AT_ONCE], cw_error *err)
{
    cw_bind values[CW_LINES_AT_ONCE * LINE_VALUES];
    for (size_t i = 0; i < CW_LINES_AT_ONCE; i++) {
        const cw_line_row *row = &lines[i].row;
        const cw_bind of[LINE_VALUES] = { whole(lines[i].order),
                                          whole(lines[i].line),
                                          row->variety ? whole(*row->variety) : (cw_bind){ .type = 'n' },
                                          text_or_null(row->assortment),
                                          whole(row->quantity),
                                          whole(row->price),
                                          text_or_null(row->consent),
                                          text_or_null(row->named),
                                          whole(row->all_or_none) };
        memcpy(values + i * LINE_VALUES, of, sizeof of);
    }
    return cw_stmt_run_with(cw_db_stmt(db, "intake.lines_add"), err, values, CW_LINES_AT_ONCE * LINE_VALUES);
}

cw_code cw_intake_line_change(cw_db *db, int64_t id, const cw_line_row *row, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "intake.line_change"), err, "iItiitti", id, row->variety,
                       row->assortment, row->quantity, row->price, row->consent, row->named,
                       row->all_or_none);
}

cw_code cw_intake_line_unshare(cw_db *db, int64_t id, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "intake.line_unshared"), err, "i", id);
    return code == CW_OK ? cw_stmt_run(cw_db_stmt(db, "intake.line_not_restored"), err, "i", id) : code;
}

cw_code cw_intake_was_first(cw_db *db, int64_t order, int64_t line, const char *column, const char *text,
                            bool *was, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "intake.first");
    cw_code code = cw_stmt_one(s, was, err, "iitt", order, line, column, text);
    return ended(s, code, err);
}

cw_code cw_intake_sold_by(cw_db *db, int64_t variety, bool stands, int64_t sold, int64_t beyond,
                          cw_error *err)
{
    cw_code code = stands ? CW_OK : cw_stmt_run(cw_db_stmt(db, "intake.offering_there"), err, "i", variety);
    return code == CW_OK
               ? cw_stmt_run(cw_db_stmt(db, "intake.offering_sold"), err, "iii", variety, sold, beyond)
               : code;
}

cw_code cw_intake_oversell_add(cw_db *db, int64_t variety, cw_instant at, const char *actor, int64_t quantity,
                               const char *why, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "offers.leave"), err, "iitit", variety, (int64_t)at, actor, quantity,
                       why);
}

cw_code cw_intake_lonely_room(cw_db *db, bool *found, char room[CW_MAX_NAME + 1], cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "intake.lonely_room");
    cw_code code = cw_stmt_one(s, found, err, "");
    if (*found)
        cw_copy(room, CW_MAX_NAME + 1, cw_col_text(s, intake_lonely_room_room));
    return ended(s, code, err);
}

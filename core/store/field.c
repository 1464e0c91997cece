/* SPDX-License-Identifier: MIT */
#include "store/field.h"

#include "base/text.h"
#include "columns/field.h"
#include "store/statement_inside.h"

#include "base/banned.h"

static cw_planting_row planting(cw_stmt *s)
{
    cw_planting_row p = { .id = cw_col_int(s, field_planting_id),
                          .variety_id = cw_col_int(s, field_planting_variety_id),
                          .plants = cw_col_int(s, field_planting_plants),
                          .planted_on = (cw_day)cw_col_int(s, field_planting_planted_on) };
    cw_copy(p.variety, sizeof p.variety, cw_col_text(s, field_planting_code));
    cw_copy(p.row, sizeof p.row, cw_col_text(s, field_planting_row));
    return p;
}

cw_code cw_field_planting(cw_db *db, int64_t id, bool *found, cw_planting_row *out, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "field.planting");
    cw_code code = cw_stmt_one(s, found, err, "i", id);
    if (code == CW_OK && *found)
        *out = planting(s);
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

cw_code cw_field_in_row(cw_db *db, const char *row, void (*take)(void *context, const cw_planting_row *p),
                        void *context, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "field.in_row");
    cw_code code = cw_stmt_start(s, err, "t", row);
    while (code == CW_OK && cw_stmt_next(s)) {
        cw_planting_row p = planting(s);
        take(context, &p);
    }
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

static cw_code events(cw_db *db, const char *statement, bool dug, int64_t of, cw_field_taker take,
                      void *context, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, statement);
    cw_code code = cw_stmt_start(s, err, "i", of);
    while (code == CW_OK && cw_stmt_next(s))
        take(context, dug, cw_col_int(s, field_rounds_id), (cw_day)cw_col_int(s, field_rounds_day),
             cw_col_int(s, field_rounds_a), cw_col_int(s, field_rounds_b));
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

cw_code cw_field_events(cw_db *db, int64_t of, cw_field_taker take, void *context, cw_error *err)
{
    cw_code code = events(db, "field.rounds", false, of, take, context, err);
    return code == CW_OK ? events(db, "field.lots", true, of, take, context, err) : code;
}

cw_code cw_field_add_round(cw_db *db, const cw_round_row *r, int64_t *id, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "field.add_round"), err, "iiiitit", r->planting,
                               (int64_t)r->day, r->alive, r->rogued, r->reason, (int64_t)r->at, r->actor);
    *id = cw_db_last_id(db);
    return code;
}

cw_code cw_field_undo_round(cw_db *db, int64_t id, bool *found, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "field.undo_round"), err, "i", id);
    *found = code == CW_OK && cw_db_changes(db) > 0;
    return code;
}

static cw_code one_number(cw_stmt *s, int64_t of, int64_t *out, cw_error *err)
{
    bool found = false;
    cw_code code = cw_stmt_one(s, &found, err, "i", of);
    *out = found ? cw_col_int_or(s, field_round_of_planting_id, 0) : 0;
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

cw_code cw_field_of_round(cw_db *db, int64_t round, int64_t *out, cw_error *err)
{
    return one_number(cw_db_stmt(db, "field.round_of"), round, out, err);
}

cw_code cw_field_of_lot(cw_db *db, int64_t lot, int64_t *out, cw_error *err)
{
    return one_number(cw_db_stmt(db, "field.lot_of"), lot, out, err);
}

cw_code cw_field_link_lot(cw_db *db, int64_t lot, int64_t to, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "field.link_lot"), err, "ii", lot, to);
}

cw_code cw_field_link_lots(cw_db *db, int64_t to, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "field.link_lots"), err, "i", to);
}

cw_code cw_field_untouched(cw_db *db, int64_t lot, bool *out, cw_error *err)
{
    int64_t is = 0;
    cw_code code = one_number(cw_db_stmt(db, "field.untouched"), lot, &is, err);
    *out = is != 0;
    return code;
}

cw_code cw_field_planting_used(cw_db *db, const char *row, int64_t variety, bool *out, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "field.planting_used");
    cw_code code = cw_stmt_one(s, out, err, "ti", row, variety);
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

cw_code cw_field_undig(cw_db *db, int64_t lot, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "field.undig"), err, "i", lot);
}

cw_code cw_field_lot_there(cw_db *db, const char *code, bool *out, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "field.code_there");
    cw_code result = cw_stmt_one(s, out, err, "t", code);
    cw_code end = cw_stmt_end(s, err);
    return result == CW_OK ? end : result;
}

cw_code cw_field_take(cw_db *db, int64_t of, const char *by, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "field.take"), err, "it", of, by);
}

cw_code cw_field_move_in(cw_db *db, int64_t of, const char *row, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "field.move_in"), err, "it", of, row);
}

cw_code cw_field_plant_out(cw_db *db, int64_t lot, const char *row, int64_t plants, cw_day day, int64_t entry,
                           cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "field.plant_out"), err, "itiii", lot, row, plants, (int64_t)day,
                       entry);
}

cw_code cw_field_goes_to_row(cw_db *db, const char *row, int64_t lot, bool *out, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "field.goes_to_row");
    cw_code code = cw_stmt_one(s, out, err, "ti", row, lot);
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

cw_code cw_field_unplant(cw_db *db, int64_t entry, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "field.unplant"), err, "i", entry);
}

cw_code cw_field_list(cw_db *db, void (*take)(void *context, const cw_field_listed *p), void *context,
                      cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "field.list");
    cw_code code = cw_stmt_start(s, err, "");
    while (code == CW_OK && cw_stmt_next(s)) {
        cw_field_listed p = { .id = cw_col_int(s, field_list_id),
                              .plants = cw_col_int(s, field_list_plants),
                              .spacing_cm = cw_col_int_or(s, field_list_spacing_cm, -1),
                              .row = cw_col_text(s, field_list_row),
                              .variety = cw_col_text(s, field_list_code),
                              .name = cw_col_text(s, field_list_name),
                              .lot = cw_col_text(s, field_list_lot),
                              .taken_by = cw_col_text(s, field_list_taken_by),
                              .walked_by = cw_col_text(s, field_list_walked_by),
                              .planted_on = (cw_day)cw_col_int(s, field_list_planted_on),
                              .loose = cw_col_int(s, field_list_loose) != 0 };
        take(context, &p);
    }
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

cw_code cw_field_all_events(cw_db *db,
                            void (*take)(void *context, int64_t planting, bool dug, int64_t id, cw_day day,
                                         int64_t a, int64_t b),
                            void *context, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "field.events");
    cw_code code = cw_stmt_start(s, err, "");
    while (code == CW_OK && cw_stmt_next(s))
        take(context, cw_col_int(s, field_events_planting_id), cw_col_int(s, field_events_dug) != 0,
             cw_col_int(s, field_events_id), (cw_day)cw_col_int(s, field_events_day),
             cw_col_int(s, field_events_a), cw_col_int(s, field_events_b));
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

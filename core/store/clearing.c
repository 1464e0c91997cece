/* SPDX-License-Identifier: MIT */
#include "store/clearing.h"

#include "base/grow.h"
#include "base/text.h"
#include "columns/clearing.h"
#include "store/statement_inside.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static void text(char *out, size_t size, cw_stmt *q, cw_sql_column column)
{
    const char *s = cw_col_text(q, column);
    cw_copy(out, size, s ? s : "");
}

static void take_row(cw_stmt *q, cw_lying *l)
{
    *l = (cw_lying){ .wave = cw_col_int(q, clearing_lying_wave),
                     .week = (cw_week)cw_col_int(q, clearing_lying_week),
                     .slot = cw_col_int(q, clearing_lying_slot),
                     .parcel = cw_col_int(q, clearing_lying_parcel),
                     .stop = cw_col_int(q, clearing_lying_stop),
                     .quantity = cw_col_int(q, clearing_lying_quantity),
                     .pick = cw_col_int(q, clearing_lying_pick),
                     .lot_id = cw_col_int(q, clearing_lying_lot_id),
                     .place_id = cw_col_int(q, clearing_lying_place_id),
                     .variety_id = cw_col_int(q, clearing_lying_variety_id),
                     .found_short = cw_col_int(q, clearing_lying_found_short) != 0 };
    text(l->parcel_state, sizeof l->parcel_state, q, clearing_lying_state);
    text(l->place, sizeof l->place, q, clearing_lying_place);
    text(l->taken_by, sizeof l->taken_by, q, clearing_lying_taken_by);
    text(l->lot, sizeof l->lot, q, clearing_lying_lot);
    text(l->variety, sizeof l->variety, q, clearing_lying_variety);
    text(l->name, sizeof l->name, q, clearing_lying_name);
    text(l->what, sizeof l->what, q, clearing_lying_what);
}

cw_code cw_lying_read(cw_db *db, int64_t order, int64_t line, int64_t variety, cw_lying **rows, size_t *count,
                      cw_error *err)
{
    size_t room = 0;
    cw_stmt *q = cw_db_stmt(db, "clearing.lying");
    *rows = NULL;
    *count = 0;
    cw_code code = cw_stmt_start(q, err, "iII", order, line ? &line : NULL, variety ? &variety : NULL);
    while (code == CW_OK && cw_stmt_next(q)) {
        if (!cw_grow(rows, *count, &room, sizeof **rows)) {
            code = cw_error_memory(err);
            break;
        }
        take_row(q, &(*rows)[(*count)++]);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

/* The movements by which the pick's divisions left their place; a pick has one, or none that still stands. */
static cw_code picked_by(cw_db *db, int64_t pick, int64_t *movement, int64_t *day, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, "clearing.picked");
    cw_code code = cw_stmt_one(q, &found, err, "i", pick);
    *movement = code == CW_OK && found ? cw_col_int(q, clearing_picked_id) : 0;
    *day = *movement ? cw_col_int(q, clearing_picked_day) : 0;
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

static cw_code give_back(cw_db *db, const cw_lying *l, cw_instant at, const char *actor, const char *because,
                         cw_error *err)
{
    int64_t movement = 0, day = 0;
    cw_code code = picked_by(db, l->pick, &movement, &day, err);
    while (code == CW_OK && movement) {
        code = cw_stmt_run(cw_db_stmt(db, "ledger.reverse"), err, "iiitt", movement, (int64_t)at, day, actor,
                           because);
        if (code == CW_OK)
            code = picked_by(db, l->pick, &movement, &day, err);
    }
    return code;
}

cw_code cw_lying_clear(cw_db *db, const cw_lying *l, int64_t order, const char *because, cw_instant at,
                       const char *actor, cw_error *err)
{
    cw_code code = CW_OK;
    bool taken = strcmp(l->what, "taken") == 0;
    if (taken)
        code = give_back(db, l, at, actor, because, err);
    if (code == CW_OK)
        code = cw_stmt_run(
            cw_db_stmt(db, taken && l->found_short ? "clearing.empty_pick" : "clearing.drop_pick"), err, "i",
            l->pick);
    if (code == CW_OK && taken)
        code = cw_stmt_run(cw_db_stmt(db, "clearing.put_back"), err, "iiiiiiitit", l->wave, l->slot, order,
                           l->variety_id, l->lot_id, l->place_id, l->quantity, because, (int64_t)at, actor);
    return code;
}

cw_code cw_lying_found_short(cw_db *db, int64_t line, int64_t variety, bool *found, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "clearing.found_short");
    cw_code code = cw_stmt_one(q, found, err, "ii", line, variety);
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_lying_parcel(cw_db *db, int64_t parcel, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "waves.drop_empty_parcel"), err, "i", parcel);
}

cw_code cw_put_backs(cw_db *db, int64_t wave, void (*take)(void *context, const cw_put_back *row),
                     void *context, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "clearing.to_put_back");
    cw_code code = cw_stmt_start(q, err, "i", wave);
    while (code == CW_OK && cw_stmt_next(q)) {
        cw_put_back row = { .id = cw_col_int(q, clearing_to_put_back_id),
                            .slot = cw_col_int(q, clearing_to_put_back_slot),
                            .order = cw_col_text(q, clearing_to_put_back_number),
                            .variety = cw_col_text(q, clearing_to_put_back_variety),
                            .name = cw_col_text(q, clearing_to_put_back_name),
                            .lot = cw_col_text(q, clearing_to_put_back_lot),
                            .place = cw_col_text(q, clearing_to_put_back_place),
                            .quantity = cw_col_int(q, clearing_to_put_back_quantity),
                            .because = cw_col_text(q, clearing_to_put_back_because) };
        take(context, &row);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_put_back_read(cw_db *db, int64_t id, cw_put_back_row *out, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, "clearing.put_back_read");
    cw_code code = cw_stmt_one(q, &found, err, "i", id);
    if (code == CW_OK && found) {
        *out = (cw_put_back_row){ .slot = cw_col_int(q, clearing_put_back_read_slot),
                                  .quantity = cw_col_int(q, clearing_put_back_read_quantity) };
        text(out->done_by, sizeof out->done_by, q, clearing_put_back_read_done_by);
        text(out->order, sizeof out->order, q, clearing_put_back_read_number);
        text(out->variety, sizeof out->variety, q, clearing_put_back_read_variety);
    }
    cw_code end = cw_stmt_end(q, err);
    code = code == CW_OK ? end : code;
    return code == CW_OK && !found
               ? cw_error_set(err, CW_NOT_FOUND, "there is nothing of number %lld to put back", (long long)id)
               : code;
}

cw_code cw_put_back_done(cw_db *db, int64_t id, cw_instant at, const char *by, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "clearing.put_back_done"), err, "iit", id, (int64_t)at, by);
}

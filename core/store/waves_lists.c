/* SPDX-License-Identifier: MIT */
/* Waves as lists: picks along the walk, parcels, stops, shorts. */
#include "store/waves.h"

#include "store/statement_inside.h"

#include "base/banned.h"

static cw_code ended(cw_stmt *q, cw_code code, cw_error *err)
{
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_waves_walk(cw_db *db, int64_t wave, cw_week now,
                      void (*take)(void *context, const cw_walk_row *row), void *context, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "waves.rows");
    cw_code code = cw_stmt_start(q, err, "iti", wave, NULL, (int64_t)now);
    while (code == CW_OK && cw_stmt_next(q)) {
        cw_walk_row row = { .stop = cw_col_int(q, 0),
                            .stop_id = cw_col_int(q, 1),
                            .place = cw_col_text(q, 2),
                            .room = cw_col_text(q, 3),
                            .taken_by = cw_col_text(q, 4),
                            .id = cw_col_int(q, 5),
                            .lot = cw_col_text(q, 6),
                            .variety = cw_col_text(q, 7),
                            .name = cw_col_text(q, 8),
                            .quantity = cw_col_int(q, 9),
                            .order = cw_col_text(q, 10),
                            .line = cw_col_int(q, 11),
                            .slot = cw_col_int(q, 12),
                            .state = cw_col_text(q, 13),
                            .taken = cw_col_int(q, 14),
                            .reason = cw_col_text(q, 15),
                            .held = cw_col_text(q, 16),
                            .answered_by = cw_col_text(q, 17),
                            .answered_at = cw_col_int_or(q, 18, CW_NO_INSTANT),
                            .form = cw_col_text(q, 19),
                            .size = cw_col_text(q, 20),
                            .colour = cw_col_text(q, 21),
                            .parcel = cw_col_int(q, 22),
                            .frost = cw_col_text(q, 23) };
        take(context, &row);
    }
    return ended(q, code, err);
}

cw_code cw_waves_parcels(cw_db *db, int64_t wave, const char *state, cw_week now,
                         void (*take)(void *context, const cw_parcel_listed *row), void *context,
                         cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "waves.parcels");
    cw_code code = cw_stmt_start(q, err, "Iti", wave ? &wave : NULL, state, (int64_t)now);
    while (code == CW_OK && cw_stmt_next(q)) {
        cw_parcel_listed row = { .id = cw_col_int(q, 0),
                                 .order = cw_col_text(q, 1),
                                 .slot = cw_col_int(q, 2),
                                 .state = cw_col_text(q, 3),
                                 .customer = cw_col_text(q, 4),
                                 .postcode = cw_col_text(q, 5),
                                 .country = cw_col_text(q, 6),
                                 .region = cw_col_text(q, 7),
                                 .email = cw_col_text(q, 8),
                                 .quantity = cw_col_int(q, 9),
                                 .taken = cw_col_int(q, 10),
                                 .open = cw_col_int(q, 11),
                                 .weight_g = cw_col_int(q, 12),
                                 .packed_at = cw_col_int_or(q, 13, CW_NO_INSTANT),
                                 .packed_by = cw_col_text(q, 14),
                                 .shipped_on = (cw_day)cw_col_int_or(q, 15, CW_NO_DAY),
                                 .carrier = cw_col_text(q, 16),
                                 .tracking = cw_col_text(q, 17),
                                 .wave = cw_col_int(q, 18),
                                 .week = (cw_week)cw_col_int(q, 19),
                                 .channel = cw_col_text(q, 20),
                                 .zone = cw_col_text(q, 21),
                                 .frost = cw_col_text(q, 22),
                                 .name2 = cw_col_text(q, 23),
                                 .phone = cw_col_text(q, 24),
                                 .street = cw_col_text(q, 25),
                                 .town = cw_col_text(q, 26) };
        take(context, &row);
    }
    return ended(q, code, err);
}

cw_code cw_waves_parcel_lots(cw_db *db, int64_t parcel, void (*take)(void *context, const cw_parcel_lot *row),
                             void *context, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "waves.parcel_lots");
    cw_code code = cw_stmt_start(q, err, "i", parcel);
    while (code == CW_OK && cw_stmt_next(q)) {
        cw_parcel_lot row = { cw_col_text(q, 0), cw_col_text(q, 1), cw_col_int(q, 2) };
        take(context, &row);
    }
    return ended(q, code, err);
}

cw_code cw_waves_stops(cw_db *db, int64_t wave, void (*take)(void *context, const cw_stop_listed *row),
                       void *context, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "waves.stops");
    cw_code code = cw_stmt_start(q, err, "i", wave);
    while (code == CW_OK && cw_stmt_next(q)) {
        cw_stop_listed row = { cw_col_int(q, 0), cw_col_int(q, 1), cw_col_int(q, 2), cw_col_int(q, 3),
                               cw_col_text(q, 4) };
        take(context, &row);
    }
    return ended(q, code, err);
}

cw_code cw_waves_shorts(cw_db *db, int64_t wave, void (*take)(void *context, const cw_short_row *row),
                        void *context, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "waves.shorts");
    cw_code code = cw_stmt_start(q, err, "I", wave ? &wave : NULL);
    while (code == CW_OK && cw_stmt_next(q)) {
        cw_short_row row = { .wave = cw_col_int(q, 0),
                             .order = cw_col_text(q, 1),
                             .line = cw_col_int(q, 2),
                             .customer = cw_col_text(q, 3),
                             .variety_id = cw_col_int(q, 4),
                             .variety = cw_col_text(q, 5),
                             .name = cw_col_text(q, 6),
                             .reason = cw_col_text(q, 7),
                             .lot = cw_col_text(q, 8),
                             .place = cw_col_text(q, 9),
                             .found_by = cw_col_text(q, 10),
                             .found_at = cw_col_int(q, 11),
                             .consent = cw_col_text(q, 12),
                             .unit_price = cw_col_int(q, 13),
                             .parcel = cw_col_int(q, 14),
                             .parcel_state = cw_col_text(q, 15),
                             .missing = cw_col_int(q, 16) };
        take(context, &row);
    }
    return ended(q, code, err);
}

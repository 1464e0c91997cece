/* SPDX-License-Identifier: MIT */
/* Waves as lists: picks along the walk, parcels, stops, shorts. */
#include "store/waves.h"

#include "columns/waves.h"
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
        cw_walk_row row = { .stop = cw_col_int(q, waves_rows_stop),
                            .stop_id = cw_col_int(q, waves_rows_stop_id),
                            .place = cw_col_text(q, waves_rows_place),
                            .room = cw_col_text(q, waves_rows_room),
                            .taken_by = cw_col_text(q, waves_rows_taken_by),
                            .id = cw_col_int(q, waves_rows_id),
                            .lot = cw_col_text(q, waves_rows_lot),
                            .variety = cw_col_text(q, waves_rows_variety),
                            .name = cw_col_text(q, waves_rows_name),
                            .quantity = cw_col_int(q, waves_rows_quantity),
                            .order = cw_col_text(q, waves_rows_number),
                            .line = cw_col_int(q, waves_rows_line),
                            .slot = cw_col_int(q, waves_rows_slot),
                            .state = cw_col_text(q, waves_rows_state),
                            .taken = cw_col_int(q, waves_rows_taken),
                            .reason = cw_col_text(q, waves_rows_short_reason),
                            .held = cw_col_text(q, waves_rows_held),
                            .answered_by = cw_col_text(q, waves_rows_answered_by),
                            .answered_at = cw_col_int_or(q, waves_rows_answered_at, CW_NO_INSTANT),
                            .form = cw_col_text(q, waves_rows_form),
                            .size = cw_col_text(q, waves_rows_size),
                            .colour = cw_col_text(q, waves_rows_colour),
                            .parcel = cw_col_int(q, waves_rows_parcel),
                            .frost = cw_col_text(q, waves_rows_frost) };
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
        cw_parcel_listed row = { .id = cw_col_int(q, waves_parcels_id),
                                 .order = cw_col_text(q, waves_parcels_number),
                                 .slot = cw_col_int(q, waves_parcels_slot),
                                 .state = cw_col_text(q, waves_parcels_state),
                                 .customer = cw_col_text(q, waves_parcels_customer),
                                 .postcode = cw_col_text(q, waves_parcels_postcode),
                                 .country = cw_col_text(q, waves_parcels_country),
                                 .region = cw_col_text(q, waves_parcels_region),
                                 .email = cw_col_text(q, waves_parcels_email),
                                 .quantity = cw_col_int(q, waves_parcels_quantity),
                                 .taken = cw_col_int(q, waves_parcels_taken),
                                 .open = cw_col_int(q, waves_parcels_open),
                                 .weight_g = cw_col_int(q, waves_parcels_weight_g),
                                 .packed_at = cw_col_int_or(q, waves_parcels_packed_at, CW_NO_INSTANT),
                                 .packed_by = cw_col_text(q, waves_parcels_packed_by),
                                 .shipped_on = (cw_day)cw_col_int_or(q, waves_parcels_shipped_on, CW_NO_DAY),
                                 .carrier = cw_col_text(q, waves_parcels_carrier),
                                 .tracking = cw_col_text(q, waves_parcels_tracking),
                                 .wave = cw_col_int(q, waves_parcels_wave),
                                 .week = (cw_week)cw_col_int(q, waves_parcels_week),
                                 .channel = cw_col_text(q, waves_parcels_channel),
                                 .zone = cw_col_text(q, waves_parcels_zone),
                                 .frost = cw_col_text(q, waves_parcels_frost),
                                 .unpaid = cw_col_int(q, waves_parcels_unpaid) != 0,
                                 .corrected = cw_col_int(q, waves_parcels_corrected) != 0,
                                 .joined = cw_col_text(q, waves_parcels_joined),
                                 .follows = cw_col_int(q, waves_parcels_follows) != 0,
                                 .box = cw_col_int(q, waves_parcels_box),
                                 .slots = cw_col_text(q, waves_parcels_slots),
                                 .further = cw_col_int(q, waves_parcels_further),
                                 .more = cw_col_text(q, waves_parcels_more),
                                 .weights = cw_col_text(q, waves_parcels_weights),
                                 .name2 = cw_col_text(q, waves_parcels_name2),
                                 .phone = cw_col_text(q, waves_parcels_phone),
                                 .street = cw_col_text(q, waves_parcels_street),
                                 .town = cw_col_text(q, waves_parcels_town) };
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
        cw_parcel_lot row = { cw_col_text(q, waves_parcel_lots_lot),
                              cw_col_text(q, waves_parcel_lots_variety),
                              cw_col_int(q, waves_parcel_lots_taken) };
        take(context, &row);
    }
    return ended(q, code, err);
}

cw_code cw_waves_in_slot(cw_db *db, int64_t parcel, int64_t out[CW_SLOT_PARCELS], size_t *count,
                         cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "waves.in_slot");
    *count = 0;
    cw_code code = cw_stmt_start(q, err, "ii", parcel, (int64_t)CW_SLOT_PARCELS);
    while (code == CW_OK && cw_stmt_next(q))
        out[(*count)++] = cw_col_int(q, waves_in_slot_id);
    return ended(q, code, err);
}

cw_code cw_waves_stops(cw_db *db, int64_t wave, void (*take)(void *context, const cw_stop_listed *row),
                       void *context, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "waves.stops");
    cw_code code = cw_stmt_start(q, err, "i", wave);
    while (code == CW_OK && cw_stmt_next(q)) {
        cw_stop_listed row = { cw_col_int(q, waves_stops_stop), cw_col_int(q, waves_stops_picks),
                               cw_col_int(q, waves_stops_quantity), cw_col_int(q, waves_stops_open),
                               cw_col_text(q, waves_stops_code) };
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
        cw_short_row row = { .wave = cw_col_int(q, waves_shorts_wave_id),
                             .order = cw_col_text(q, waves_shorts_number),
                             .line = cw_col_int(q, waves_shorts_line),
                             .customer = cw_col_text(q, waves_shorts_customer),
                             .variety_id = cw_col_int(q, waves_shorts_variety_id),
                             .variety = cw_col_text(q, waves_shorts_variety),
                             .name = cw_col_text(q, waves_shorts_name),
                             .reason = cw_col_text(q, waves_shorts_short_reason),
                             .lot = cw_col_text(q, waves_shorts_lot),
                             .place = cw_col_text(q, waves_shorts_place),
                             .found_by = cw_col_text(q, waves_shorts_answered_by),
                             .found_at = cw_col_int(q, waves_shorts_answered_at),
                             .consent = cw_col_text(q, waves_shorts_consent),
                             .unit_price = cw_col_int(q, waves_shorts_unit_price),
                             .parcel = cw_col_int(q, waves_shorts_parcel),
                             .parcel_state = cw_col_text(q, waves_shorts_state),
                             .missing = cw_col_int(q, waves_shorts_missing) };
        take(context, &row);
    }
    return ended(q, code, err);
}

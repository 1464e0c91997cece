/* SPDX-License-Identifier: MIT */
/* Waves as they stand on record: the printed walk, the list of waves, the phone's document. */
#include <string.h>

#include "base/json.h"
#include "base/text.h"
#include "desk/ship/picking_inside.h"

#include "base/banned.h"

/* Columns of waves.rows. */
enum {
    R_STOP,
    R_STOP_ID,
    R_PLACE,
    R_ROOM,
    R_TAKEN_BY,
    R_ID,
    R_LOT,
    R_VARIETY,
    R_NAME,
    R_QUANTITY,
    R_ORDER,
    R_LINE,
    R_SLOT,
    R_STATE,
    R_TAKEN,
    R_REASON,
    R_HELD,
    R_BY,
    R_AT,
    R_FORM,
    R_SIZE,
    R_COLOUR,
    R_PARCEL,
    R_FROST,
};

static void put_row(void *context, cw_stmt *q)
{
    cw_table *out = context;
    const char *place = cw_col_text(q, R_PLACE);
    if (!cw_col_null(q, R_FROST) && cw_col_text(q, R_STATE)[0] == 'o')
        return;
    cw_put_int(out, cw_col_int(q, R_STOP));
    cw_put_text(out, place[0] ? place : NULL);
    cw_put_text(out, cw_col_text(q, R_LOT));
    cw_put_text(out, cw_col_text(q, R_VARIETY));
    cw_put_int(out, cw_col_int(q, R_QUANTITY));
    cw_put_text(out, cw_col_text(q, R_ORDER));
    cw_put_int(out, cw_col_int(q, R_LINE));
    cw_put_int(out, cw_col_int(q, R_SLOT));
}

cw_code cw_picking_list(cw_nursery *n, const cw_asker *who, int64_t wave, cw_table *out, cw_error *err)
{
    cw_wave_row row;
    cw_table_init(out, cw_pick_columns, CW_PICK_COLUMNS);
    cw_code code = cw_waves_one(n->db, wave, &row, err);
    if (code == CW_OK)
        code = cw_waves_each(
            n->db, &(cw_waves_by){ .statement = "waves.rows", .id = &wave, .now = cw_week_of(who->today) },
            put_row, out, err);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

static void put_wave(void *context, cw_stmt *q)
{
    cw_table *out = context;
    cw_put_int(out, cw_col_int(q, 0));
    cw_put_int(out, cw_col_int(q, 1));
    cw_put_text(out, cw_col_text(q, 2));
    cw_put_int(out, cw_col_int(q, 3));
    cw_put_text(out, cw_col_text(q, 4));
    for (int c = 5; c < 14; c++)
        cw_put_int(out, cw_col_int(q, c));
}

static const cw_column picking_waves_columns[] = {
    { "wave", CW_INT_T },
    { "week", CW_WEEK_T },
    { "state", CW_TEXT_T, .words = "open|closed|dropped" },
    { "made_at", CW_INSTANT_T },
    { "made_by", CW_TEXT_T },
    { "stops", CW_INT_T },
    { "parcels", CW_INT_T },
    { "packed", CW_INT_T },
    { "shipped", CW_INT_T },
    { "picks", CW_INT_T },
    { "open", CW_INT_T },
    { "divisions", CW_INT_T },
    { "taken", CW_INT_T },
    { "forgotten", CW_INT_T,
      .says = "Parcels still here though the week is over and no frost hold keeps them." },
};
const cw_shape cw_picking_waves_shape = CW_ROWS(picking_waves_columns);

cw_code cw_picking_waves(cw_nursery *n, const cw_asker *who, cw_week week, cw_table *out, cw_error *err)
{
    int64_t w = week;
    cw_table_init(out, picking_waves_columns, CW_WIDTH(picking_waves_columns));
    cw_code code = cw_waves_each(
        n->db,
        &(cw_waves_by){ .statement = "waves.list", .id = week ? &w : NULL, .now = cw_week_of(who->today) },
        put_wave, out, err);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

static const cw_shape picks_shape = { .list = true,
                                      .parts = (const cw_part[]){
                                          { "id", CW_INT_T },
                                          { "lot", CW_TEXT_T },
                                          { "variety", CW_TEXT_T },
                                          { "name", CW_TEXT_T },
                                          { "form", CW_TEXT_T, .null = true },
                                          { "size", CW_TEXT_T, .null = true },
                                          { "colour", CW_TEXT_T, .null = true },
                                          { "quantity", CW_INT_T },
                                          { "order", CW_TEXT_T },
                                          { "line", CW_INT_T },
                                          { "slot", CW_INT_T },
                                          { "parcel", CW_INT_T },
                                          { "state", CW_TEXT_T, .words = "open|done" },
                                          { "taken", CW_INT_T },
                                          { "short_reason", CW_TEXT_T, .null = true },
                                          { "held", CW_TEXT_T, .null = true },
                                          { "answered_by", CW_TEXT_T, .null = true },
                                          { "answered_at", CW_INSTANT_T, .null = true },
                                          { "frost", CW_TEXT_T, .null = true },
                                          { 0 },
                                      } };
static const cw_shape stops_shape = { .list = true,
                                      .parts = (const cw_part[]){
                                          { "stop", CW_INT_T },
                                          { "id", CW_INT_T },
                                          { "place", CW_TEXT_T, .null = true },
                                          { "room", CW_TEXT_T, .null = true },
                                          { "taken_by", CW_TEXT_T, .null = true },
                                          { "picks", .shape = &picks_shape },
                                          { 0 },
                                      } };
static const cw_shape parcels_shape = { .list = true,
                                        .parts = (const cw_part[]){
                                            { "id", CW_INT_T },
                                            { "order", CW_TEXT_T },
                                            { "slot", CW_INT_T },
                                            { "state", CW_TEXT_T, .words = "open|packed|shipped" },
                                            { "frost", CW_TEXT_T, .null = true },
                                            { 0 },
                                        } };
const cw_shape cw_picking_document_shape = { .parts = (const cw_part[]){
                                                 { "wave", CW_INT_T },
                                                 { "week", CW_WEEK_T },
                                                 { "state", CW_TEXT_T, .words = "open|closed|dropped" },
                                                 { "stops", .shape = &stops_shape },
                                                 { "parcels", .shape = &parcels_shape },
                                                 { 0 },
                                             } };

static json_t *pick_json(cw_stmt *q)
{
    char at[25] = "";
    bool answered = !cw_col_null(q, R_AT);
    if (answered)
        cw_instant_format(cw_col_int(q, R_AT), at);
    return json_pack(
        "{s:I,s:o,s:o,s:o,s:o,s:o,s:o,s:I,s:o,s:I,s:I,s:I,s:o,s:I,s:o,s:o,s:o,s:o,s:o}", "id",
        (json_int_t)cw_col_int(q, R_ID), "lot", cw_json_known(cw_col_text(q, R_LOT)), "variety",
        cw_json_known(cw_col_text(q, R_VARIETY)), "name", cw_json_known(cw_col_text(q, R_NAME)), "form",
        cw_json_known(cw_col_text(q, R_FORM)), "size", cw_json_known(cw_col_text(q, R_SIZE)), "colour",
        cw_json_known(cw_col_text(q, R_COLOUR)), "quantity", (json_int_t)cw_col_int(q, R_QUANTITY), "order",
        cw_json_known(cw_col_text(q, R_ORDER)), "line", (json_int_t)cw_col_int(q, R_LINE), "slot",
        (json_int_t)cw_col_int(q, R_SLOT), "parcel", (json_int_t)cw_col_int(q, R_PARCEL), "state",
        cw_json_known(cw_col_text(q, R_STATE)), "taken", (json_int_t)cw_col_int(q, R_TAKEN), "short_reason",
        cw_json_known(cw_col_text(q, R_REASON)), "held", cw_json_known(cw_col_text(q, R_HELD)), "answered_by",
        cw_json_known(cw_col_text(q, R_BY)), "answered_at", cw_json_known(answered ? at : NULL), "frost",
        cw_json_known(cw_col_text(q, R_FROST)));
}

typedef struct builder {
    json_t *stops, *parcels, *picks; /* picks: of the last stop; borrowed from stops */
    int64_t stop;
    bool failed;
} builder;

static void add_row(void *context, cw_stmt *q)
{
    builder *b = context;
    if (b->failed)
        return;
    if (b->picks == NULL || b->stop != cw_col_int(q, R_STOP_ID)) {
        b->stop = cw_col_int(q, R_STOP_ID);
        b->picks = json_array();
        json_t *stop = json_pack("{s:I,s:I,s:o,s:o,s:o,s:o}", "stop", (json_int_t)cw_col_int(q, R_STOP), "id",
                                 (json_int_t)b->stop, "place", cw_json_known(cw_col_text(q, R_PLACE)), "room",
                                 cw_json_known(cw_col_text(q, R_ROOM)), "taken_by",
                                 cw_json_known(cw_col_text(q, R_TAKEN_BY)), "picks", b->picks);
        b->failed = json_array_append_new(b->stops, stop) != 0;
    }
    b->failed = b->failed || json_array_append_new(b->picks, pick_json(q)) != 0;
}

static void add_parcel(void *context, cw_stmt *q)
{
    builder *b = context;
    cw_json_append_take(&b->parcels,
                        json_pack("{s:I,s:o,s:I,s:o,s:o}", "id", (json_int_t)cw_col_int(q, 0), "order",
                                  cw_json_known(cw_col_text(q, 1)), "slot", (json_int_t)cw_col_int(q, 2),
                                  "state", cw_json_known(cw_col_text(q, 3)), "frost",
                                  cw_json_known(cw_col_text(q, 22))));
}

cw_code cw_picking_document(cw_nursery *n, const cw_asker *who, int64_t wave, json_t **out, cw_error *err)
{
    cw_wave_row row;
    char week[9];
    builder b = { .stops = json_array(), .parcels = json_array() };
    *out = NULL;
    cw_code code = b.stops && b.parcels ? cw_waves_one(n->db, wave, &row, err) : cw_error_memory(err);
    if (code == CW_OK)
        code = cw_waves_each(
            n->db, &(cw_waves_by){ .statement = "waves.rows", .id = &wave, .now = cw_week_of(who->today) },
            add_row, &b, err);
    if (code == CW_OK)
        code = cw_waves_each(
            n->db, &(cw_waves_by){ .statement = "waves.parcels", .id = &wave, .now = cw_week_of(who->today) },
            add_parcel, &b, err);
    if (code == CW_OK && (b.failed || b.parcels == NULL))
        code = cw_error_memory(err);
    if (code == CW_OK) {
        cw_week_format(row.week, week);
        *out = json_pack("{s:I,s:s,s:s,s:O,s:O}", "wave", (json_int_t)wave, "week", week, "state", row.state,
                         "stops", b.stops, "parcels", b.parcels);
        code = *out ? CW_OK : cw_error_memory(err);
    }
    json_decref(b.stops);
    json_decref(b.parcels);
    return code;
}

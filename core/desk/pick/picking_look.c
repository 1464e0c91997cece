/* SPDX-License-Identifier: MIT */
/* Waves as they stand on record: the printed walk, the list of waves, the phone's document. */
#include "base/json.h"
#include "base/text.h"
#include "desk/pick/picking_inside.h"
#include "store/clearing.h"
#include "store/rows.h"

#include "base/banned.h"

static void put_row(void *context, const cw_walk_row *r)
{
    cw_table *out = context;
    if (r->frost && r->state[0] == 'o')
        return;
    cw_put_int(out, r->stop);
    cw_put_text(out, r->place[0] ? r->place : NULL);
    cw_put_text(out, r->lot);
    cw_put_text(out, r->variety);
    cw_put_int(out, r->quantity);
    cw_put_text(out, r->order);
    cw_put_int(out, r->line);
    cw_put_int(out, r->slot);
}

cw_code cw_picking_list(cw_nursery *n, const cw_asker *who, int64_t wave, cw_table *out, cw_error *err)
{
    cw_wave_row row;
    cw_table_init(out, cw_pick_columns, CW_PICK_COLUMNS);
    cw_code code = cw_waves_one(n->db, wave, &row, err);
    if (code == CW_OK)
        code = cw_waves_walk(n->db, wave, cw_week_of(who->today), put_row, out, err);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

static const cw_column picking_waves_columns[] = {
    { "wave", CW_INT_T },
    { "week", CW_WEEK_T },
    { "state", CW_TEXT_T, .words = cw_words_wave_states },
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
    return cw_rows_fill(n->db, "waves.list", out, err, "Iti", week ? &w : NULL, NULL,
                        (int64_t)cw_week_of(who->today));
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
                                          { "state", CW_TEXT_T, .words = cw_words_pick_states },
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
                                            { "state", CW_TEXT_T, .words = cw_words_parcel_states },
                                            { "frost", CW_TEXT_T, .null = true },
                                            { "unpaid", CW_BOOL_T },
                                            { 0 },
                                        } };
static const cw_shape put_back_shape = { .list = true,
                                         .parts = (const cw_part[]){
                                             { "id", CW_INT_T },
                                             { "slot", CW_INT_T },
                                             { "order", CW_TEXT_T },
                                             { "variety", CW_TEXT_T },
                                             { "name", CW_TEXT_T },
                                             { "lot", CW_TEXT_T },
                                             { "place", CW_TEXT_T, .null = true },
                                             { "quantity", CW_INT_T },
                                             { "because", CW_TEXT_T, .words = cw_words_put_back_causes },
                                             { 0 },
                                         } };
const cw_shape cw_picking_document_shape = { .parts = (const cw_part[]){
                                                 { "wave", CW_INT_T },
                                                 { "week", CW_WEEK_T },
                                                 { "state", CW_TEXT_T, .words = cw_words_wave_states },
                                                 { "stops", .shape = &stops_shape },
                                                 { "parcels", .shape = &parcels_shape },
                                                 { "put_back", .shape = &put_back_shape },
                                                 { 0 },
                                             } };

static json_t *pick_json(const cw_walk_row *r)
{
    char at[25] = "";
    bool answered = r->answered_at != CW_NO_INSTANT;
    if (answered)
        cw_instant_format(r->answered_at, at);
    return json_pack(
        "{s:I,s:o,s:o,s:o,s:o,s:o,s:o,s:I,s:o,s:I,s:I,s:I,s:o,s:I,s:o,s:o,s:o,s:o,s:o}", "id",
        (json_int_t)r->id, "lot", cw_json_known(r->lot), "variety", cw_json_known(r->variety), "name",
        cw_json_known(r->name), "form", cw_json_known(r->form), "size", cw_json_known(r->size), "colour",
        cw_json_known(r->colour), "quantity", (json_int_t)r->quantity, "order", cw_json_known(r->order),
        "line", (json_int_t)r->line, "slot", (json_int_t)r->slot, "parcel", (json_int_t)r->parcel, "state",
        cw_json_known(r->state), "taken", (json_int_t)r->taken, "short_reason", cw_json_known(r->reason),
        "held", cw_json_known(r->held), "answered_by", cw_json_known(r->answered_by), "answered_at",
        cw_json_known(answered ? at : NULL), "frost", cw_json_known(r->frost));
}

typedef struct builder {
    json_t *stops, *parcels, *put_back, *picks; /* picks: of the last stop; borrowed from stops */
    int64_t stop;
    bool failed;
} builder;

static void add_row(void *context, const cw_walk_row *r)
{
    builder *b = context;
    if (b->failed)
        return;
    if (b->picks == NULL || b->stop != r->stop_id) {
        b->stop = r->stop_id;
        b->picks = json_array();
        json_t *stop =
            json_pack("{s:I,s:I,s:o,s:o,s:o,s:o}", "stop", (json_int_t)r->stop, "id", (json_int_t)b->stop,
                      "place", cw_json_known(r->place), "room", cw_json_known(r->room), "taken_by",
                      cw_json_known(r->taken_by), "picks", b->picks);
        b->failed = json_array_append_new(b->stops, stop) != 0;
    }
    b->failed = b->failed || json_array_append_new(b->picks, pick_json(r)) != 0;
}

static void add_parcel(void *context, const cw_parcel_listed *r)
{
    builder *b = context;
    cw_json_append_take(&b->parcels, json_pack("{s:I,s:o,s:I,s:o,s:o,s:b}", "id", (json_int_t)r->id, "order",
                                               cw_json_known(r->order), "slot", (json_int_t)r->slot, "state",
                                               cw_json_known(r->state), "frost", cw_json_known(r->frost),
                                               "unpaid", r->unpaid));
}

static void add_put_back(void *context, const cw_put_back *r)
{
    builder *b = context;
    json_t *row = json_pack("{s:I,s:I,s:s,s:s,s:s,s:s,s:o,s:I,s:s}", "id", (json_int_t)r->id, "slot",
                            (json_int_t)r->slot, "order", r->order, "variety", r->variety, "name", r->name,
                            "lot", r->lot, "place", cw_json_known(r->place), "quantity",
                            (json_int_t)r->quantity, "because", r->because);
    b->failed = json_array_append_new(b->put_back, row) != 0 || b->failed;
}

cw_code cw_picking_document(cw_nursery *n, const cw_asker *who, int64_t wave, json_t **out, cw_error *err)
{
    cw_wave_row row;
    char week[9];
    builder b = { .stops = json_array(), .parcels = json_array(), .put_back = json_array() };
    *out = NULL;
    cw_code code =
        b.stops && b.parcels && b.put_back ? cw_waves_one(n->db, wave, &row, err) : cw_error_memory(err);
    if (code == CW_OK)
        code = cw_waves_walk(n->db, wave, cw_week_of(who->today), add_row, &b, err);
    if (code == CW_OK)
        code = cw_waves_parcels(n->db, wave, NULL, cw_week_of(who->today), add_parcel, &b, err);
    if (code == CW_OK)
        code = cw_put_backs(n->db, wave, add_put_back, &b, err);
    if (code == CW_OK && (b.failed || b.parcels == NULL))
        code = cw_error_memory(err);
    if (code == CW_OK) {
        cw_week_format(row.week, week);
        *out = json_pack("{s:I,s:s,s:s,s:O,s:O,s:O}", "wave", (json_int_t)wave, "week", week, "state",
                         row.state, "stops", b.stops, "parcels", b.parcels, "put_back", b.put_back);
        code = *out ? CW_OK : cw_error_memory(err);
    }
    json_decref(b.stops);
    json_decref(b.parcels);
    json_decref(b.put_back);
    return code;
}

/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "desk/pick/picking.h"
#include <stddef.h>
#include <stdlib.h>

#include "base/banned.h"

static const cw_shape made_shape = { .parts = (const cw_part[]){
                                         { "wave", CW_INT_T },
                                         { "week", CW_WEEK_T },
                                         { "notes", .shape = &cw_picking_notes_shape },
                                         { 0 },
                                     } };

static const cw_shape wave_state_shape = { .parts = (const cw_part[]){
                                               { "wave", CW_INT_T },
                                               { "state", CW_TEXT_T },
                                               { 0 },
                                           } };

static const cw_shape pick_state_shape = { .parts = (const cw_part[]){
                                               { "pick", CW_INT_T },
                                               { "state", CW_TEXT_T },
                                               { 0 },
                                           } };

static const cw_shape parcel_state_shape = { .parts = (const cw_part[]){
                                                 { "parcel", CW_INT_T },
                                                 { "state", CW_TEXT_T },
                                                 { 0 },
                                             } };

static const cw_shape put_back_state_shape = { .parts = (const cw_part[]){
                                                   { "put_back", CW_INT_T },
                                                   { "state", CW_TEXT_T },
                                                   { 0 },
                                               } };

static const cw_shape filled_shape = { .parts = (const cw_part[]){
                                           { "added", CW_INT_T },
                                           { 0 },
                                       } };

struct waves_query {
    cw_week week;
    int64_t wave, packers;
};
static const cw_member week_shape[] = {
    { "week", CW_WEEK_T, offsetof(struct waves_query, week), false, 0, 0, NULL }, { 0 }
};
static const cw_member wave_shape[] = {
    { "wave", CW_INT_T, offsetof(struct waves_query, wave), false, 1, 1e15, NULL }, { 0 }
};
static const cw_member packers_shape[] = {
    { "packers", CW_INT_T, offsetof(struct waves_query, packers), true, 1, 64, NULL }, { 0 }
};

/* What became of a row. An answer with a body is kept under its idempotency key, so that a repeat is not refused as
 * already done. */
static cw_code reply_state(cw_request *q, const char *what, int64_t id, const char *state, cw_error *err)
{
    return cw_reply_json_take(q, 200, json_pack("{s:I,s:s}", what, (json_int_t)id, "state", state), err);
}

static const cw_contract contract_waves_list = {
    .says = "Waves and their progress.",
    .query = week_shape,
    .answer = &cw_picking_waves_shape,
};

static cw_code route_waves_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct waves_query in = { 0, 0, 0 };
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK)
        code = cw_picking_waves(n, cw_request_asker(q), in.week, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

struct wave_body {
    cw_week week;
    const json_t *orders;
};
static const cw_member wave_body_shape[] = {
    { "week", CW_WEEK_T, offsetof(struct wave_body, week), true, 0, 0, NULL },
    { "orders", CW_LIST_T, offsetof(struct wave_body, orders), false, 1, CW_MAX_ORDERS_PER_POST },
    { 0 },
};

/* A JSON list of texts into an array that borrows them; *out is freed by the caller. */
static cw_code read_texts(const json_t *list, const char ***out, size_t *count, cw_error *err)
{
    *out = NULL;
    *count = json_array_size(list);
    if (list == NULL)
        return CW_OK;
    *out = calloc(*count, sizeof **out);
    if (*out == NULL)
        return cw_error_memory(err);
    for (size_t i = 0; i < *count; i++)
        (*out)[i] = json_string_value(json_array_get(list, i));
    return CW_OK;
}

static const cw_contract contract_waves_post = {
    .says = "Make the wave of a week, or of chosen orders of it; tells what is left out and what waits.",
    .body = wave_body_shape,
    .answer = &made_shape,
    .status = 201,
};

static cw_code route_waves_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct wave_body b = { 0, NULL };
    const char **orders = NULL;
    size_t count = 0;
    int64_t wave = 0;
    cw_table notes = { 0 };
    char week[9];
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = read_texts(b.orders, &orders, &count, err);
    if (code == CW_OK) {
        cw_picking_ask ask = { .week = b.week, .orders = orders, .count = count };
        code = cw_picking_make(n, cw_request_asker(q), &ask, &wave, &notes, err);
    }
    if (code == CW_OK) {
        cw_week_format(b.week, week);
        code = cw_reply_json_take(q, 201,
                                  json_pack("{s:I,s:s,s:o}", "wave", (json_int_t)wave, "week", week, "notes",
                                            cw_table_to_json(&notes)),
                                  err);
    }
    free(orders);
    cw_table_free(&notes);
    return code;
}

static const cw_contract contract_wave_get = {
    .says = "A wave as one walk: stops in walking order with their picks, and the parcels.",
    .answer = &cw_picking_document_shape,
};

static cw_code route_wave_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    int64_t wave = 0;
    json_t *doc = NULL;
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_path_int(q, "wave", &wave, err);
    if (code == CW_OK)
        code = cw_picking_document(n, cw_request_asker(q), wave, &doc, err);
    return code == CW_OK ? cw_reply_json_take(q, 200, doc, err) : code;
}

struct why_body {
    const char *why, *packer;
};
static const cw_member why_shape[] = {
    { "why", CW_TEXT_T, offsetof(struct why_body, why), true, 0, CW_MAX_NOTE, NULL }, { 0 }
};
static const cw_member packer_shape[] = {
    { "packer", CW_TEXT_T, offsetof(struct why_body, packer), false, 0, CW_MAX_NAME, NULL }, { 0 }
};
static const cw_member from_shape[] = {
    { "lot", CW_TEXT_T, offsetof(cw_picking_from, lot), false, 0, CW_MAX_CODE, NULL },
    { "place", CW_TEXT_T, offsetof(cw_picking_from, place), false, 0, CW_MAX_CODE, NULL },
    { 0 },
};

static const cw_contract contract_wave_drop = {
    .says = "Drop a wave. Only while none of its picks is answered.",
    .body = why_shape,
    .answer = &wave_state_shape,
};

static cw_code route_wave_drop(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct why_body b = { NULL, NULL };
    int64_t wave = 0;
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_path_int(q, "wave", &wave, err);
    if (code == CW_OK)
        code = cw_picking_drop(n, cw_request_asker(q), wave, b.why, err);
    return code == CW_OK ? reply_state(q, "wave", wave, "dropped", err) : code;
}

static const cw_contract contract_wave_stretches = {
    .says = "What is still open, shared among packers in stretches of equal work.",
    .query = packers_shape,
    .answer = &cw_picking_stretches_shape,
};

static cw_code route_wave_stretches(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct waves_query in = { 0, 0, 0 };
    int64_t wave = 0;
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK)
        code = cw_path_int(q, "wave", &wave, err);
    if (code == CW_OK)
        code = cw_picking_stretches(n, wave, (size_t)in.packers, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static cw_code stop_work(cw_request *q, cw_nursery *n,
                         cw_code (*work)(cw_nursery *n, const cw_asker *who, int64_t stop, const char *packer,
                                         cw_error *err),
                         cw_error *err)
{
    struct why_body b = { NULL, NULL };
    int64_t stop = 0;
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_path_int(q, "stop", &stop, err);
    if (code == CW_OK)
        code = work(n, cw_request_asker(q), stop, b.packer, err);
    return code == CW_OK ? cw_reply_none(q) : code;
}

static const cw_contract contract_stop_take = {
    .says = "Work at a stop; 409 names who has it.",
    .body = packer_shape,
};

static cw_code route_stop_take(cw_request *q, cw_nursery *n, cw_error *err)
{
    return stop_work(q, n, cw_picking_take, err);
}

static const cw_contract contract_stop_release = {
    .says = "Give a stop back.",
    .body = packer_shape,
};

static cw_code route_stop_release(cw_request *q, cw_nursery *n, cw_error *err)
{
    return stop_work(q, n, cw_picking_release, err);
}

static const cw_member answer_shape[] = {
    { "key", CW_TEXT_T, offsetof(cw_picking_answer, key), true, 0, CW_PICKING_MAX_KEY, NULL },
    { "pick", CW_INT_T, offsetof(cw_picking_answer, pick), true, 1, 1e15, NULL },
    { "taken", CW_INT_T, offsetof(cw_picking_answer, taken), true, 0, CW_MAX_DIVISIONS, NULL },
    { "reason", CW_TEXT_T, offsetof(cw_picking_answer, reason), false, 0, 0, cw_words_short_reasons },
    { "at", CW_INSTANT_T, offsetof(cw_picking_answer, at), false, 0, 0, NULL },
    { "packer", CW_TEXT_T, offsetof(cw_picking_answer, packer), false, 0, CW_MAX_NAME, NULL },
    { "empty", CW_BOOL_T, offsetof(cw_picking_answer, empty), false,
      .says = "With the reason missing: the crate is empty now. All that the ledger still has of the lot at "
              "this place is missing, too." },
    { 0 },
};
struct picks_body {
    const json_t *confirmations;
};
static const cw_member picks_shape[] = { { "confirmations", CW_LIST_T,
                                           offsetof(struct picks_body, confirmations), true, 1,
                                           CW_PICKING_MAX_ANSWERS, .each = answer_shape },
                                         { 0 } };

static const cw_contract contract_picks_post = {
    .says = "Answers of a picker. Each key is booked once: done, already, or clash (not booked; the detail "
            "says why).",
    .body = picks_shape,
    .answer = &cw_picking_answer_all_shape,
};

static cw_code route_picks_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct picks_body b = { NULL };
    cw_picking_answer *answers = NULL;
    cw_table t = { 0 };
    cw_code code = cw_body_read(q, &b, err);
    size_t count = json_array_size(b.confirmations);
    if (code == CW_OK && (answers = calloc(count, sizeof *answers)) == NULL)
        code = cw_error_memory(err);
    for (size_t i = 0; i < count && code == CW_OK; i++) {
        answers[i].at = CW_NO_INSTANT;
        code =
            cw_object_read(json_array_get(b.confirmations, i), (long)i + 1, answer_shape, &answers[i], err);
    }
    if (code == CW_OK)
        code = cw_picking_answer_all(n, cw_request_asker(q), answers, count, &t, err);
    free(answers);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_pick_undo = {
    .says = "Take an answer back by counter-entries, while its parcel is open.",
    .body = why_shape,
    .answer = &pick_state_shape,
};

static cw_code route_pick_undo(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct why_body b = { NULL, NULL };
    int64_t pick = 0;
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_path_int(q, "pick", &pick, err);
    if (code == CW_OK)
        code = cw_picking_undo(n, cw_request_asker(q), pick, b.why, err);
    return code == CW_OK ? reply_state(q, "pick", pick, "open", err) : code;
}

static const cw_contract contract_put_back_done = {
    .says = "What was no longer meant for a slot is back at its place.",
    .body = packer_shape,
    .answer = &put_back_state_shape,
};

static cw_code route_put_back_done(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct why_body b = { NULL, NULL };
    int64_t id = 0;
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_path_int(q, "put_back", &id, err);
    if (code == CW_OK)
        code = cw_picking_put_back(n, cw_request_asker(q), id, b.packer, err);
    return code == CW_OK ? reply_state(q, "put_back", id, "done", err) : code;
}

static const cw_contract contract_shorts_list = {
    .says = "Lines that a packer found short and nobody has settled, with the choices left.",
    .query = wave_shape,
    .answer = &cw_picking_shorts_shape,
};

static cw_code route_shorts_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct waves_query in = { 0, 0, 0 };
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK)
        code = cw_picking_shorts(n, cw_request_asker(q), in.wave, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_parcel_fill = {
    .says =
        "Add picks for what the order of an open parcel is promised and has not; from the lot and the place "
        "named, or from any.",
    .body = from_shape,
    .answer = &filled_shape,
};

static cw_code route_parcel_fill(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_picking_from b = { NULL, NULL };
    int64_t parcel = 0, added = 0;
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_path_int(q, "parcel", &parcel, err);
    if (code == CW_OK)
        code = cw_picking_fill(n, cw_request_asker(q), parcel, &b, &added, err);
    return code == CW_OK ? cw_reply_json_take(q, 200, json_pack("{s:I}", "added", (json_int_t)added), err)
                         : code;
}

static const cw_contract contract_parcel_take_off = {
    .says = "Take what is open of a parcel off the pick list.",
    .body = why_shape,
    .answer = &parcel_state_shape,
};

static cw_code route_parcel_take_off(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct why_body b = { NULL, NULL };
    int64_t parcel = 0;
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_path_int(q, "parcel", &parcel, err);
    if (code == CW_OK)
        code = cw_picking_take_off(n, cw_request_asker(q), parcel, b.why, err);
    return code == CW_OK ? reply_state(q, "parcel", parcel, "off the list", err) : code;
}

const cw_route cw_routes_picking[] = {
    CW_ROUTE(GET, "/api/waves", LOOK, STAFF, CW_NO_BODY, waves_list),
    CW_ROUTE(POST, "/api/waves", WORK, PACK, CW_SMALL_BODY, waves_post),
    CW_ROUTE(GET, "/api/waves/{wave}", LOOK, STAFF, CW_NO_BODY, wave_get),
    CW_ROUTE(POST, "/api/waves/{wave}/drop", WORK, OFFICE, CW_SMALL_BODY, wave_drop),
    CW_ROUTE(GET, "/api/waves/{wave}/stretches", LOOK, STAFF, CW_NO_BODY, wave_stretches),
    CW_ROUTE(POST, "/api/stops/{stop}/take", WORK, PACK, CW_SMALL_BODY, stop_take),
    CW_ROUTE(POST, "/api/stops/{stop}/release", WORK, PACK, CW_SMALL_BODY, stop_release),
    CW_ROUTE(POST, "/api/picks", WORK, PACK, CW_BIG_BODY, picks_post),
    CW_ROUTE(POST, "/api/picks/{pick}/undo", WORK, PACK, CW_SMALL_BODY, pick_undo),
    CW_ROUTE(GET, "/api/shorts", LOOK, STAFF, CW_NO_BODY, shorts_list),
    CW_ROUTE(POST, "/api/put-backs/{put_back}/done", WORK, PACK, CW_SMALL_BODY, put_back_done),
    CW_ROUTE(POST, "/api/parcels/{parcel}/fill", WORK, PACK, CW_SMALL_BODY, parcel_fill),
    CW_ROUTE(POST, "/api/parcels/{parcel}/take-off", WORK, OFFICE, CW_SMALL_BODY, parcel_take_off),
    { 0 },
};

/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "desk/ship/picking.h"
#include <stddef.h>
#include <stdlib.h>

#include "base/banned.h"

struct waves_query {
    cw_week week;
    int64_t wave, packers;
};
static const cw_member week_shape[] = {
    { "week", CW_M_WEEK, offsetof(struct waves_query, week), false, 0, 0, NULL }, { 0 }
};
static const cw_member wave_shape[] = {
    { "wave", CW_M_INT, offsetof(struct waves_query, wave), false, 1, 1e15, NULL }, { 0 }
};
static const cw_member packers_shape[] = {
    { "packers", CW_M_INT, offsetof(struct waves_query, packers), true, 1, 64, NULL }, { 0 }
};

/* What became of a row. An answer with a body is kept under its idempotency key, so that a repeat is not refused as
 * already done. */
static cw_code reply_state(cw_request *q, const char *what, int64_t id, const char *state, cw_error *err)
{
    return cw_reply_json_take(q, 200, json_pack("{s:I,s:s}", what, (json_int_t)id, "state", state), err);
}

static cw_code reply(cw_request *q, cw_code code, unsigned status, cw_table *t, cw_error *err)
{
    if (code == CW_OK)
        code = cw_reply_table(q, status, t, err);
    cw_table_free(t);
    return code;
}

cw_code cw_route_waves_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct waves_query in = { 0, 0, 0 };
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, week_shape, &in, err);
    if (code == CW_OK)
        code = cw_picking_waves(n, in.week, &t, err);
    return reply(q, code, 200, &t, err);
}

struct wave_body {
    cw_week week;
    const json_t *orders;
};
static const cw_member wave_body_shape[] = {
    { "week", CW_M_WEEK, offsetof(struct wave_body, week), true, 0, 0, NULL },
    { "orders", CW_M_JSON, offsetof(struct wave_body, orders), false, 0, 0, NULL },
    { 0 },
};

/* A JSON list of texts into an array that borrows them; *out is freed by the caller. */
static cw_code read_texts(const json_t *list, const char *name, size_t most, const char ***out, size_t *count,
                          cw_error *err)
{
    *out = NULL;
    *count = json_array_size(list);
    if (list == NULL)
        return CW_OK;
    if (!json_is_array(list) || *count < 1 || *count > most)
        return cw_error_at(err, CW_USAGE, NULL, 0, name, "must be a list of 1 to %zu texts", most);
    *out = calloc(*count, sizeof **out);
    if (*out == NULL)
        return cw_error_memory(err);
    for (size_t i = 0; i < *count; i++) {
        (*out)[i] = json_string_value(json_array_get(list, i));
        if ((*out)[i] == NULL)
            return cw_error_at(err, CW_USAGE, NULL, (long)i + 1, name, "must be a text");
    }
    return CW_OK;
}

cw_code cw_route_waves_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct wave_body b = { 0, NULL };
    const char **orders = NULL;
    size_t count = 0;
    int64_t wave = 0;
    cw_table notes = { 0 };
    char week[9];
    cw_code code = cw_body_read(q, wave_body_shape, &b, err);
    if (code == CW_OK)
        code = read_texts(b.orders, "orders", CW_MAX_ORDERS_PER_POST, &orders, &count, err);
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

cw_code cw_route_wave_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    int64_t wave = 0;
    json_t *doc = NULL;
    cw_code code = cw_query_read(q, NULL, NULL, err);
    if (code == CW_OK)
        code = cw_path_int(q, "wave", &wave, err);
    if (code == CW_OK)
        code = cw_picking_document(n, wave, &doc, err);
    return code == CW_OK ? cw_reply_json_take(q, 200, doc, err) : code;
}

struct why_body {
    const char *why, *packer;
};
static const cw_member why_shape[] = {
    { "why", CW_M_TEXT, offsetof(struct why_body, why), true, 0, CW_MAX_NOTE, NULL }, { 0 }
};
static const cw_member packer_shape[] = {
    { "packer", CW_M_TEXT, offsetof(struct why_body, packer), false, 0, CW_MAX_NAME, NULL }, { 0 }
};
static const cw_member from_shape[] = {
    { "lot", CW_M_TEXT, offsetof(cw_picking_from, lot), false, 0, CW_MAX_CODE, NULL },
    { "place", CW_M_TEXT, offsetof(cw_picking_from, place), false, 0, CW_MAX_CODE, NULL },
    { 0 },
};

cw_code cw_route_wave_drop(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct why_body b = { NULL, NULL };
    int64_t wave = 0;
    cw_code code = cw_body_read(q, why_shape, &b, err);
    if (code == CW_OK)
        code = cw_path_int(q, "wave", &wave, err);
    if (code == CW_OK)
        code = cw_picking_drop(n, cw_request_asker(q), wave, b.why, err);
    return code == CW_OK ? reply_state(q, "wave", wave, "dropped", err) : code;
}

cw_code cw_route_wave_stretches(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct waves_query in = { 0, 0, 0 };
    int64_t wave = 0;
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, packers_shape, &in, err);
    if (code == CW_OK)
        code = cw_path_int(q, "wave", &wave, err);
    if (code == CW_OK)
        code = cw_picking_stretches(n, wave, (size_t)in.packers, &t, err);
    return reply(q, code, 200, &t, err);
}

static cw_code stop_work(cw_request *q, cw_nursery *n,
                         cw_code (*work)(cw_nursery *n, const cw_asker *who, int64_t stop, const char *packer,
                                         cw_error *err),
                         cw_error *err)
{
    struct why_body b = { NULL, NULL };
    int64_t stop = 0;
    cw_code code = cw_body_read(q, packer_shape, &b, err);
    if (code == CW_OK)
        code = cw_path_int(q, "stop", &stop, err);
    if (code == CW_OK)
        code = work(n, cw_request_asker(q), stop, b.packer, err);
    return code == CW_OK ? cw_reply_none(q) : code;
}

cw_code cw_route_stop_take(cw_request *q, cw_nursery *n, cw_error *err)
{
    return stop_work(q, n, cw_picking_take, err);
}

cw_code cw_route_stop_release(cw_request *q, cw_nursery *n, cw_error *err)
{
    return stop_work(q, n, cw_picking_release, err);
}

static const cw_member answer_shape[] = {
    { "key", CW_M_TEXT, offsetof(cw_picking_answer, key), true, 0, CW_PICKING_MAX_KEY, NULL },
    { "pick", CW_M_INT, offsetof(cw_picking_answer, pick), true, 1, 1e15, NULL },
    { "taken", CW_M_INT, offsetof(cw_picking_answer, taken), true, 0, CW_MAX_DIVISIONS, NULL },
    { "reason", CW_M_WORD, offsetof(cw_picking_answer, reason), false, 0, 0,
      "rotten|shrivelled|missing|mislabelled" },
    { "at", CW_M_INSTANT, offsetof(cw_picking_answer, at), false, 0, 0, NULL },
    { "packer", CW_M_TEXT, offsetof(cw_picking_answer, packer), false, 0, CW_MAX_NAME, NULL },
    { "empty", CW_M_BOOL, offsetof(cw_picking_answer, empty), false, 0, 0, NULL },
    { 0 },
};
struct picks_body {
    const json_t *confirmations;
};
static const cw_member picks_shape[] = {
    { "confirmations", CW_M_JSON, offsetof(struct picks_body, confirmations), true, 0, 0, NULL }, { 0 }
};

cw_code cw_route_picks_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct picks_body b = { NULL };
    cw_picking_answer *answers = NULL;
    cw_table t = { 0 };
    cw_code code = cw_body_read(q, picks_shape, &b, err);
    size_t count = json_array_size(b.confirmations);
    if (code == CW_OK && (!json_is_array(b.confirmations) || count < 1 || count > CW_PICKING_MAX_ANSWERS))
        code = cw_error_at(err, CW_USAGE, NULL, 0, "confirmations", "must be a list of 1 to %d confirmations",
                           CW_PICKING_MAX_ANSWERS);
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
    return reply(q, code, 200, &t, err);
}

cw_code cw_route_pick_undo(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct why_body b = { NULL, NULL };
    int64_t pick = 0;
    cw_code code = cw_body_read(q, why_shape, &b, err);
    if (code == CW_OK)
        code = cw_path_int(q, "pick", &pick, err);
    if (code == CW_OK)
        code = cw_picking_undo(n, cw_request_asker(q), pick, b.why, err);
    return code == CW_OK ? reply_state(q, "pick", pick, "open", err) : code;
}

cw_code cw_route_shorts_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct waves_query in = { 0, 0, 0 };
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, wave_shape, &in, err);
    if (code == CW_OK)
        code = cw_picking_shorts(n, cw_request_asker(q), in.wave, &t, err);
    return reply(q, code, 200, &t, err);
}

cw_code cw_route_parcel_fill(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_picking_from b = { NULL, NULL };
    int64_t parcel = 0, added = 0;
    cw_code code = cw_body_read(q, from_shape, &b, err);
    if (code == CW_OK)
        code = cw_path_int(q, "parcel", &parcel, err);
    if (code == CW_OK)
        code = cw_picking_fill(n, cw_request_asker(q), parcel, &b, &added, err);
    return code == CW_OK ? cw_reply_json_take(q, 200, json_pack("{s:I}", "added", (json_int_t)added), err)
                         : code;
}

cw_code cw_route_parcel_take_off(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct why_body b = { NULL, NULL };
    int64_t parcel = 0;
    cw_code code = cw_body_read(q, why_shape, &b, err);
    if (code == CW_OK)
        code = cw_path_int(q, "parcel", &parcel, err);
    if (code == CW_OK)
        code = cw_picking_take_off(n, cw_request_asker(q), parcel, b.why, err);
    return code == CW_OK ? reply_state(q, "parcel", parcel, "off the list", err) : code;
}

/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "desk/pack/packing.h"
#include <stddef.h>
#include <stdlib.h>

#include "base/banned.h"

static const cw_shape state_shape = { .parts = (const cw_part[]){
                                          { "parcel", CW_INT_T },
                                          { "state", CW_TEXT_T },
                                          { 0 },
                                      } };

static const cw_shape shipped_shape = { .parts = (const cw_part[]){
                                            { "parcel", CW_INT_T },
                                            { "state", CW_TEXT_T },
                                            { "rest", CW_INT_T },
                                            { 0 },
                                        } };

/* An answer with a body is kept under its idempotency key, so that a repeat is not refused as already done. */
static cw_code reply_state(cw_request *q, int64_t parcel, const char *state, cw_error *err)
{
    return cw_reply_json_take(q, 200, json_pack("{s:I,s:s}", "parcel", (json_int_t)parcel, "state", state),
                              err);
}

struct parcels_query {
    int64_t wave;
    const char *state;
};
static const cw_member parcels_shape[] = {
    { "wave", CW_INT_T, offsetof(struct parcels_query, wave), false, 1, 1e15, NULL },
    { "state", CW_TEXT_T, offsetof(struct parcels_query, state), false, 0, 0, cw_words_parcel_states },
    { 0 },
};

static const cw_contract contract_parcels_list = {
    .says = "Parcels, by wave and slot.",
    .query = parcels_shape,
    .answer = &cw_packing_list_shape,
};

static cw_code route_parcels_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct parcels_query in = { 0, NULL };
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK)
        code = cw_packing_list(n, cw_request_asker(q), in.wave, in.state, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

struct pack_body {
    int64_t count, weight_g;
    const json_t *labels, *further;
};
struct box_body {
    int64_t weight_g;
};
static const cw_member box_shape[] = {
    { "weight_g", CW_INT_T, offsetof(struct box_body, weight_g), false, 1, 1000000, NULL },
    { 0 },
};
static const cw_member pack_shape[] = {
    { "count", CW_INT_T, offsetof(struct pack_body, count), false, 0, CW_MAX_DIVISIONS, NULL },
    { "labels", CW_LIST_T, offsetof(struct pack_body, labels), false, 0, CW_PACKING_MAX_LABELS },
    { "weight_g", CW_INT_T, offsetof(struct pack_body, weight_g), false, 1, 1000000, NULL },
    { "further", CW_LIST_T, offsetof(struct pack_body, further), false, 0, CW_PACKING_MAX_FURTHER,
      .each = box_shape, .says = "The boxes beside the first, where it does not go into one." },
    { 0 },
};

static cw_code read_labels(const json_t *list, cw_packing_count *out, const char ***texts, cw_error *err)
{
    size_t n = json_array_size(list);
    if (list == NULL)
        return CW_OK;
    *texts = calloc(n + 1, sizeof **texts);
    if (*texts == NULL)
        return cw_error_memory(err);
    for (size_t i = 0; i < n; i++)
        (*texts)[i] = json_string_value(json_array_get(list, i));
    out->labels = *texts;
    out->label_count = n;
    return CW_OK;
}

static cw_code read_boxes(const json_t *list, int64_t grams[CW_PACKING_MAX_FURTHER], cw_packing_count *out,
                          cw_error *err)
{
    cw_code code = CW_OK;
    out->further = grams;
    out->further_count = json_array_size(list);
    for (size_t i = 0; i < out->further_count && code == CW_OK; i++) {
        struct box_body b = { 0 };
        code = cw_object_read(json_array_get(list, i), (long)i + 1, box_shape, &b, err);
        grams[i] = b.weight_g;
    }
    return code;
}

static const cw_contract contract_parcel_pack = {
    .says = "Close a parcel by count, or by the labels scanned; 409 tells what is missing or too many, or "
            "what stands against it.",
    .body = pack_shape,
    .answer = &state_shape,
};

static cw_code route_parcel_pack(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct pack_body b = { -1, 0, NULL, NULL };
    int64_t grams[CW_PACKING_MAX_FURTHER];
    const char **texts = NULL;
    int64_t parcel = 0;
    cw_packing_count count = { .count = -1 };
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_path_int(q, "parcel", &parcel, err);
    if (code == CW_OK)
        code = read_labels(b.labels, &count, &texts, err);
    if (code == CW_OK)
        code = read_boxes(b.further, grams, &count, err);
    if (code == CW_OK) {
        count.count = b.count;
        count.weight_g = b.weight_g;
        code = cw_packing_pack(n, cw_request_asker(q), parcel, &count, err);
    }
    free(texts);
    return code == CW_OK ? reply_state(q, parcel, "packed", err) : code;
}

#define SHARED "Another order's parcel left under the number, too, and that is meant."
#define MORE   "The numbers of the boxes beside the first, parted by commas."
struct ship_body {
    cw_packing_sent sent;
    const char *why;
};
#define SENT(member) offsetof(struct ship_body, sent.member)
static const cw_member ship_shape[] = {
    { "carrier", CW_TEXT_T, SENT(carrier), false, 0, CW_MAX_NAME, NULL },
    { "tracking", CW_TEXT_T, SENT(tracking), false, 0, CW_MAX_NAME, NULL },
    { "more_tracking", CW_TEXT_T, SENT(more), false, 0, CW_PACKING_MAX_MORE, .says = MORE },
    { "shared", CW_BOOL_T, SENT(shared), false, .says = SHARED },
    { "shipped_on", CW_DAY_T, SENT(on), false, 0, 0, NULL },
    { 0 },
};
static const cw_member correct_shape[] = {
    { "carrier", CW_TEXT_T, SENT(carrier), false, 0, CW_MAX_NAME, NULL },
    { "tracking", CW_TEXT_T, SENT(tracking), false, 0, CW_MAX_NAME, NULL },
    { "more_tracking", CW_TEXT_T, SENT(more), false, 0, CW_PACKING_MAX_MORE, .says = MORE },
    { "shared", CW_BOOL_T, SENT(shared), false, .says = SHARED },
    { "shipped_on", CW_DAY_T, SENT(on), false, 0, 0, NULL },
    { "why", CW_TEXT_T, offsetof(struct ship_body, why), true, 0, CW_MAX_NOTE, NULL },
    { 0 },
};
static const cw_member unpack_shape[] = {
    { "why", CW_TEXT_T, offsetof(struct ship_body, why), true, 0, CW_MAX_NOTE, NULL }, { 0 }
};

static const cw_contract contract_parcel_unpack = {
    .says = "Open a packed parcel again.",
    .body = unpack_shape,
    .answer = &state_shape,
};

/* A step back needs a parcel and a reason. */
static cw_code back(cw_request *q, cw_nursery *n,
                    cw_code (*step)(cw_nursery *n, const cw_asker *who, int64_t parcel, const char *why,
                                    cw_error *err),
                    const char *state, cw_error *err)
{
    struct ship_body b = { .why = NULL };
    int64_t parcel = 0;
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_path_int(q, "parcel", &parcel, err);
    if (code == CW_OK)
        code = step(n, cw_request_asker(q), parcel, b.why, err);
    return code == CW_OK ? reply_state(q, parcel, state, err) : code;
}

static cw_code route_parcel_unpack(cw_request *q, cw_nursery *n, cw_error *err)
{
    return back(q, n, cw_packing_unpack, "open", err);
}

static const cw_shape parcel_correct_based = { .parts = (const cw_part[]){
                                                   { "carrier", CW_TEXT_T, .lack = true, .null = true },
                                                   { "tracking", CW_TEXT_T, .lack = true, .null = true },
                                                   { "more_tracking", CW_TEXT_T, .lack = true, .null = true },
                                                   { "shipped_on", CW_DAY_T, .lack = true },
                                                   { 0 },
                                               } };

static const cw_contract contract_parcel_correct = {
    .says = "Put right how a parcel left: its number, carrier or day. What is absent stays; an empty text "
            "means none. On record.",
    .body = correct_shape,
    .answer = &state_shape,
    .based = &parcel_correct_based,
};

static cw_code route_parcel_correct(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct ship_body b = { .sent.on = CW_NO_DAY };
    int64_t parcel = 0;
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_path_int(q, "parcel", &parcel, err);
    if (code == CW_OK)
        code = cw_packing_correct(n, cw_request_asker(q), parcel, &b.sent, b.why, err);
    return code == CW_OK ? reply_state(q, parcel, "shipped", err) : code;
}

static const cw_contract contract_parcel_unship = {
    .says = "A parcel has not left after all: packed again, its order open. On record; refused once the "
            "buyer claimed.",
    .body = unpack_shape,
    .answer = &state_shape,
    .based = &parcel_correct_based,
};

static cw_code route_parcel_unship(cw_request *q, cw_nursery *n, cw_error *err)
{
    return back(q, n, cw_packing_unship, "packed", err);
}

static const cw_contract contract_parcel_ship = {
    .says = "A packed parcel has left. rest: what its order still waits for. The tracking number of another "
            "order's parcel is refused (409), unless shared says that both went under it.",
    .body = ship_shape,
    .answer = &shipped_shape,
};

/* rest: what the order still waits for. */
static cw_code route_parcel_ship(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct ship_body b = { .sent.on = cw_request_asker(q)->today };
    int64_t parcel = 0, rest = 0;
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_path_int(q, "parcel", &parcel, err);
    if (code == CW_OK)
        code = cw_packing_ship(n, cw_request_asker(q), parcel, &b.sent, &rest, err);
    return code == CW_OK ? cw_reply_json_take(q, 200,
                                              json_pack("{s:I,s:s,s:I}", "parcel", (json_int_t)parcel,
                                                        "state", "shipped", "rest", (json_int_t)rest),
                                              err)
                         : code;
}

static const cw_contract contract_carrier_file = {
    .says = "Packed parcels for a carrier, in the columns of the setting carrier_columns.",
    .type = "text/csv; charset=utf-8",
};

static cw_code route_carrier_file(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_packing_file file = { 0 };
    int64_t wave = 0;
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_path_int(q, "wave", &wave, err);
    if (code == CW_OK)
        code = cw_packing_carrier_file(n, cw_request_asker(q), wave, &file, err);
    if (code == CW_OK)
        code = cw_table_csv(&file.table, cw_reply_sink(q, 200, "text/csv; charset=utf-8"), err);
    if (code == CW_OK)
        cw_reply_name(q, "carrier.csv");
    cw_packing_file_free(&file);
    return code;
}

const cw_route cw_routes_packing[] = {
    CW_ROUTE(GET, "/api/parcels", LOOK, STAFF, CW_NO_BODY, parcels_list),
    CW_ROUTE(POST, "/api/parcels/{parcel}/pack", WORK, PACK, CW_BIG_BODY, parcel_pack),
    CW_ROUTE(POST, "/api/parcels/{parcel}/unpack", WORK, PACK, CW_SMALL_BODY, parcel_unpack),
    CW_ROUTE(POST, "/api/parcels/{parcel}/ship", WORK, PACK, CW_SMALL_BODY, parcel_ship),
    CW_ROUTE(POST, "/api/parcels/{parcel}/correct", WORK, OFFICE, CW_SMALL_BODY, parcel_correct),
    CW_ROUTE(POST, "/api/parcels/{parcel}/unship", WORK, OFFICE, CW_SMALL_BODY, parcel_unship),
    CW_ROUTE(GET, "/api/waves/{wave}/carrier.csv", LOOK, PACK, CW_NO_BODY, carrier_file),
    { 0 },
};

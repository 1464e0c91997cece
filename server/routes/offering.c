/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "desk/offer/offering.h"
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define MARGIN_SHARE                                                                                         \
    "What a delivered division earns, as a share of its price. In place of a confidence or of money per "    \
    "division."

struct plan_query {
    double confidence, rot, margin_share, short_cost_share;
    cw_cents margin, short_cost;
    cw_day ship;
    const char *variety, *try_text;
};
static const cw_member plan_shape[] = {
    { "confidence", CW_REAL_T, offsetof(struct plan_query, confidence), false, 0.01, 0.9999, NULL },
    { "margin", CW_MONEY_T, offsetof(struct plan_query, margin), false, 0, 0, NULL },
    { "short_cost", CW_MONEY_T, offsetof(struct plan_query, short_cost), false, 0, 0, NULL },
    { "margin_share", CW_REAL_T, offsetof(struct plan_query, margin_share), false, 0, 1,
      .says = MARGIN_SHARE },
    { "short_cost_share", CW_REAL_T, offsetof(struct plan_query, short_cost_share), false, 0, 20,
      .says = "What a division sold and not delivered costs, in prices." },
    { "ship", CW_DAY_T, offsetof(struct plan_query, ship), false, 0, 0, NULL },
    { "variety", CW_TEXT_T, offsetof(struct plan_query, variety), false, 0, CW_MAX_CODE, NULL },
    { "rot", CW_REAL_T, offsetof(struct plan_query, rot), false, 0.01, 100, NULL },
    { "try", CW_TEXT_T, offsetof(struct plan_query, try_text), false, 0, 4000, NULL },
    { 0 },
};

static cw_code read_ask(const cw_request *q, struct plan_query *in, cw_offering_tries *t,
                        cw_offering_ask *ask, cw_error *err)
{
    *in = (struct plan_query){ .rot = 1, .margin = -1, .short_cost = -1, .ship = CW_NO_DAY };
    cw_code code = cw_query_read(q, in, err);
    if (code == CW_OK)
        code = cw_offering_tries_read(in->try_text, t, err);
    *ask = (cw_offering_ask){ .confidence = in->confidence,
                              .margin = in->margin,
                              .short_cost = in->short_cost,
                              .ship = in->ship,
                              .as_of = CW_NO_DAY,
                              .variety = in->variety,
                              .rot = in->rot,
                              .tries = t->item,
                              .n_tries = t->count,
                              .margin_share = in->margin_share,
                              .short_cost_share = in->short_cost_share };
    return code;
}

static const cw_contract contract_plan_get = {
    .says = "Quantities for the catalogue, with totals.",
    .query = plan_shape,
    .answer = &cw_offering_desk_shape,
};

static cw_code route_plan_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct plan_query in;
    cw_offering_ask ask;
    cw_table rows = { 0 };
    json_t *totals = NULL;
    cw_offering_tries *t = calloc(1, sizeof *t);
    cw_code code = t ? read_ask(q, &in, t, &ask, err) : cw_error_memory(err);
    if (code == CW_OK)
        code = cw_offering_desk(n, cw_request_asker(q), &ask, &rows, &totals, err);
    if (code == CW_OK)
        code = cw_reply_json_rows_take(q, 200, json_pack("{s:o}", "totals", totals), "varieties", &rows, err);
    cw_table_free(&rows);
    free(t);
    return code;
}

/* A table of what the plan would be with what is tried. */
static cw_code reply_asked(cw_request *q, cw_nursery *n,
                           cw_code (*of)(cw_nursery *n, const cw_asker *who, const cw_offering_ask *ask,
                                         cw_table *out, cw_error *err),
                           cw_error *err)
{
    struct plan_query in;
    cw_offering_ask ask;
    cw_table rows = { 0 };
    cw_offering_tries *t = calloc(1, sizeof *t);
    cw_code code = t ? read_ask(q, &in, t, &ask, err) : cw_error_memory(err);
    if (code == CW_OK)
        code = of(n, cw_request_asker(q), &ask, &rows, err);
    code = cw_reply_table_take(q, code, 200, &rows, err);
    free(t);
    return code;
}

static const cw_contract contract_plan_curve = {
    .says = "How the totals move with the confidence.",
    .query = plan_shape,
    .answer = &cw_offering_curve_shape,
};

static cw_code route_plan_curve(cw_request *q, cw_nursery *n, cw_error *err)
{
    return reply_asked(q, n, cw_offering_curve, err);
}

static const cw_contract contract_plan_measures = {
    .says = "The ten measurements that would save most.",
    .query = plan_shape,
    .answer = &cw_offering_measures_shape,
};

static cw_code route_plan_measures(cw_request *q, cw_nursery *n, cw_error *err)
{
    return reply_asked(q, n, cw_offering_measures, err);
}

struct item_body {
    const char *variety;
    int64_t quantity;
};
static const cw_member item_shape[] = {
    { "variety", CW_TEXT_T, offsetof(struct item_body, variety), true, 0, CW_MAX_CODE, NULL },
    { "quantity", CW_INT_T, offsetof(struct item_body, quantity), true, 0, CW_MAX_DIVISIONS, NULL },
    { 0 },
};
struct release_body {
    double confidence, margin_share, short_cost_share;
    cw_cents margin, short_cost;
    const json_t *items;
    const char *why;
};
static const cw_member release_shape[] = {
    { "confidence", CW_REAL_T, offsetof(struct release_body, confidence), false, 0.01, 0.9999, NULL },
    { "margin", CW_MONEY_T, offsetof(struct release_body, margin), false, 0, 0, NULL },
    { "short_cost", CW_MONEY_T, offsetof(struct release_body, short_cost), false, 0, 0, NULL },
    { "margin_share", CW_REAL_T, offsetof(struct release_body, margin_share), false, 0, 1,
      .says = MARGIN_SHARE },
    { "short_cost_share", CW_REAL_T, offsetof(struct release_body, short_cost_share), false, 0, 20,
      .says = "What a division sold and not delivered costs, in prices." },
    { "items", CW_LIST_T, offsetof(struct release_body, items), false, 1, CW_MAX_VARIETIES,
      .each = item_shape },
    { "why", CW_TEXT_T, offsetof(struct release_body, why), false, 0, CW_MAX_NOTE, NULL },
    { 0 },
};

static cw_code read_items(const json_t *list, cw_offering_item **out, size_t *count, cw_error *err)
{
    *count = 0;
    *out = NULL;
    if (list == NULL)
        return CW_OK;
    *out = calloc(json_array_size(list), sizeof **out);
    if (*out == NULL)
        return cw_error_memory(err);
    for (size_t i = 0; i < json_array_size(list); i++) {
        struct item_body b = { NULL, 0 };
        cw_code code = cw_object_read(json_array_get(list, i), (long)i + 1, item_shape, &b, err);
        if (code != CW_OK)
            return code;
        (*out)[(*count)++] = (cw_offering_item){ b.variety, b.quantity };
    }
    return CW_OK;
}

static const cw_contract contract_releases_post = {
    .says = "Put quantities on offer, on record.",
    .body = release_shape,
    .answer = &cw_offering_release_shape,
    .status = 201,
    .based = &cw_offering_release_based,
};

static cw_code route_releases_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct release_body b = { .margin = -1, .short_cost = -1 };
    cw_offering_item *items = NULL;
    size_t count = 0;
    cw_table t = { 0 };
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = read_items(b.items, &items, &count, err);
    if (code == CW_OK) {
        const cw_offering_ask ask = { .confidence = b.confidence,
                                      .margin = b.margin,
                                      .short_cost = b.short_cost,
                                      .ship = CW_NO_DAY,
                                      .as_of = CW_NO_DAY,
                                      .rot = 1,
                                      .margin_share = b.margin_share,
                                      .short_cost_share = b.short_cost_share };
        code = cw_offering_release(n, cw_request_asker(q), &ask, items, count, b.why, &t, err);
    }
    code = cw_reply_table_take(q, code, 201, &t, err);
    free(items);
    return code;
}

struct variety_query {
    const char *variety;
};
static const cw_member variety_shape[] = {
    { "variety", CW_TEXT_T, offsetof(struct variety_query, variety), false, 0, CW_MAX_CODE, NULL },
    { 0 },
};

static const cw_contract contract_releases_list = {
    .says = "Releases: what was offered, when and why.",
    .query = variety_shape,
    .answer = &cw_offering_releases_shape,
};

static cw_code route_releases_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct variety_query in = { NULL };
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK)
        code = cw_offering_releases(n, in.variety, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_hindsight_demand = {
    .says =
        "What the owner said of demand against what the season asked for, once its shipping day has come.",
    .answer = &cw_offering_said_shape,
};

static cw_code route_hindsight_demand(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_offering_said(n, cw_request_asker(q), &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_asked_by_day = {
    .says = "Divisions asked for, day by day.",
    .answer = &cw_offering_asked_by_day_shape,
};

static cw_code route_asked_by_day(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_offering_asked_by_day(n, cw_path_text(q, "code"), &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_availability_list = {
    .says = "What is left to sell. The same bytes for everybody, kept until the next write; under many "
            "writes up to a tenth of a second old.",
    .answer = &cw_offering_availability_shape,
};

static cw_code route_availability_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_offering_availability(n, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

const cw_route cw_routes_offering[] = {
    CW_ROUTE(GET, "/api/availability", KEPT, ANYKEY, CW_NO_BODY, availability_list),
    CW_ROUTE(GET, "/api/plan", TAGGED, OFFICE, CW_NO_BODY, plan_get),
    CW_ROUTE(GET, "/api/plan/curve", TAGGED, OFFICE, CW_NO_BODY, plan_curve),
    CW_ROUTE(GET, "/api/plan/measures", TAGGED, OFFICE, CW_NO_BODY, plan_measures),
    CW_ROUTE(GET, "/api/releases", LOOK, OFFICE, CW_NO_BODY, releases_list),
    CW_ROUTE(POST, "/api/releases", WORK, OWNER, CW_BIG_BODY, releases_post),
    CW_ROUTE(GET, "/api/hindsight/demand", TAGGED, OFFICE, CW_NO_BODY, hindsight_demand),
    CW_ROUTE(GET, "/api/varieties/{code}/asked", LOOK, OFFICE, CW_NO_BODY, asked_by_day),
    { 0 },
};

/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "desk/stock/lineage.h"
#include "desk/stock/tracing.h"
#include <stddef.h>

#include "base/banned.h"

struct trace_query {
    const char *lot, *order;
};
static const cw_member trace_shape[] = {
    { "lot", CW_TEXT_T, offsetof(struct trace_query, lot), false, 0, CW_MAX_CODE, NULL },
    { "order", CW_TEXT_T, offsetof(struct trace_query, order), false, 0, CW_MAX_CODE, NULL },
    { 0 },
};

static const cw_contract contract_trace_get = {
    .says = "Who received of a lot, or which lots an order came from.",
    .query = trace_shape,
    .answer = &cw_tracing_shape,
};

static cw_code route_trace_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct trace_query in = { NULL, NULL };
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK && (in.lot == NULL) == (in.order == NULL))
        code = cw_error_set(err, CW_USAGE, "name a lot or an order");
    if (code == CW_OK)
        code = in.lot ? cw_tracing_lot(n, cw_request_asker(q), in.lot, &t, err)
                      : cw_tracing_order(n, cw_request_asker(q), in.order, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

struct lineage_query {
    const char *lot, *row, *order;
    int64_t season;
};
static const cw_member lineage_shape[] = {
    { "lot", CW_TEXT_T, offsetof(struct lineage_query, lot), false, 0, CW_MAX_CODE, NULL },
    { "row", CW_TEXT_T, offsetof(struct lineage_query, row), false, 0, CW_MAX_NAME, NULL },
    { "order", CW_TEXT_T, offsetof(struct lineage_query, order), false, 0, CW_MAX_CODE, NULL },
    { "season", CW_INT_T, offsetof(struct lineage_query, season), false, 1900, 2199,
      .says = "Whose lot, row or order; this file's where it is not said." },
    { 0 },
};

static const cw_contract contract_lineage_get = {
    .says = "What a lot, a row or an order came from and what came of it over the years, as far as the files "
            "that "
            "are served tell, and everybody who received of it.",
    .query = lineage_shape,
    .answer = &cw_lineage_told_shape,
};

static cw_code route_lineage_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct lineage_query in = { 0 };
    json_t *doc = NULL;
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK && (in.lot != NULL) + (in.row != NULL) + (in.order != NULL) != 1)
        code = cw_error_set(err, CW_USAGE, "name a lot, a row or an order");
    const cw_lineage_ask ask = { in.lot, in.row, in.order, (int)in.season };
    if (code == CW_OK)
        code = cw_lineage_told(n, cw_request_asker(q), &ask, &doc, err);
    return code == CW_OK ? cw_reply_json_take(q, 200, doc, err) : code;
}

static const cw_contract contract_mass_balance_get = {
    .says = "Each variety's way from clumps dug to divisions shipped.",
    .answer = &cw_tracing_balance_shape,
};

static cw_code route_mass_balance_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_tracing_balance(n, cw_request_asker(q), &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

struct hold_body {
    const char *why;
};
static const cw_member hold_shape[] = {
    { "why", CW_TEXT_T, offsetof(struct hold_body, why), false, 0, CW_MAX_NAME, NULL },
    { 0 },
};

static const cw_shape lot_hold_post_based = { .parts = (const cw_part[]){
                                                  { "held", CW_TEXT_T, .lack = true, .null = true },
                                                  { 0 },
                                              } };

static const cw_contract contract_lot_hold_post = {
    .says = "Hold a lot back, or without a reason let it go, which is for the office and the owner.",
    .body = hold_shape,
    .based = &lot_hold_post_based,
};

/* Without "why" the lot may leave again. */
static cw_code route_lot_hold_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct hold_body b = { NULL };
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_tracing_hold(n, cw_request_asker(q), cw_path_text(q, "lot"), b.why, err);
    return code == CW_OK ? cw_reply_none(q) : code;
}

const cw_route cw_routes_tracing[] = {
    CW_ROUTE(GET, "/api/trace", LOOK, STAFF, CW_NO_BODY, trace_get),
    CW_ROUTE(GET, "/api/lineage", LOOK, STAFF, CW_NO_BODY, lineage_get),
    CW_ROUTE(GET, "/api/mass-balance", LOOK, STAFF, CW_NO_BODY, mass_balance_get),
    CW_ROUTE(POST, "/api/lots/{lot}/hold", WORK, STAFF, CW_SMALL_BODY, lot_hold_post),
    { 0 },
};

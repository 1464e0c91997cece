/* SPDX-License-Identifier: MIT */
#include "base/limits.h"
#include "desk/orders/adding.h"
#include "desk/orders/joining.h"
#include "http/route.h"
#include <stddef.h>

#include "base/banned.h"

/* One thing more on an order, and two orders of one buyer. */
static const cw_member line_shape[] = {
    { "variety", CW_TEXT_T, offsetof(cw_adding_ask, variety), true, 0, CW_MAX_CODE, NULL },
    { "quantity", CW_INT_T, offsetof(cw_adding_ask, quantity), true, 1, CW_MAX_LINE_QUANTITY, NULL },
    { "unit_price", CW_MONEY_T, offsetof(cw_adding_ask, unit_price), false, 0, 0, NULL,
      .says = "Not said: the catalogue's." },
    { "consent", CW_TEXT_T, offsetof(cw_adding_ask, consent), false, 0, 0, "none|same|any" },
    { "why", CW_TEXT_T, offsetof(cw_adding_ask, why), false, 0, CW_MAX_NOTE, NULL },
    { 0 },
};
static const cw_shape line_added_shape = { .parts = (const cw_part[]){
                                               { "line", CW_INT_T },
                                               { "tells", .shape = &cw_shape_texts },
                                               { 0 },
                                           } };

static const cw_contract contract_order_line_post = {
    .says = "One thing more on an open order: a line of its own, promised at once if there is enough. What "
            "is on a list stays; the new line waits for the next wave. 409 when not so much is on offer.",
    .body = line_shape,
    .answer = &line_added_shape,
    .status = 201,
};

static cw_code route_order_line_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_adding_ask ask = { .unit_price = -1 };
    json_t *out = NULL;
    cw_code code = cw_body_read(q, &ask, err);
    if (code == CW_OK)
        code = cw_adding_line(n, cw_request_asker(q), cw_path_text(q, "order"), &ask, &out, err);
    return code == CW_OK ? cw_reply_json_take(q, 201, out, err) : code;
}

static const cw_contract contract_order_beside_get = {
    .says = "The buyer's other open orders, and those that were put into this one. The same buyer: the same "
            "e-mail, or the same name at the same postcode.",
    .answer = &cw_joining_beside_shape,
};

static cw_code route_order_beside_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_joining_beside(n, cw_request_asker(q), cw_path_text(q, "order"), &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

struct other_body {
    const char *other;
};
static const cw_member other_shape[] = {
    { "other", CW_TEXT_T, offsetof(struct other_body, other), true, 0, CW_MAX_CODE, NULL,
      .says = "The number of the buyer's other order." },
    { 0 },
};
static const cw_shape tells_shape = { .parts = (const cw_part[]){
                                          { "tells", .shape = &cw_shape_texts },
                                          { 0 },
                                      } };

static cw_code set(cw_request *q, cw_nursery *n, cw_joining_what what, cw_error *err)
{
    struct other_body b = { NULL };
    json_t *tells = NULL;
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_joining_set(n, cw_request_asker(q), cw_path_text(q, "order"), b.other, what, &tells, err);
    return code == CW_OK ? cw_reply_json_take(q, 200, json_pack("{s:o}", "tells", tells), err) : code;
}

static const cw_contract contract_order_merge_post = {
    .says = "Put the buyer's other order into this one, with all that it is promised. Not when something of "
            "it is on a list.",
    .body = other_shape,
    .answer = &tells_shape,
};
static cw_code route_order_merge_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    return set(q, n, CW_MERGE, err);
}

static const cw_contract contract_order_unmerge_post = {
    .says = "Take the other order out of this one again, as long as nothing that came from it is on a list.",
    .body = other_shape,
    .answer = &tells_shape,
};
static cw_code route_order_unmerge_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    return set(q, n, CW_UNMERGE, err);
}

static const cw_contract contract_order_together_post = {
    .says = "One parcel for both: what of them is in one wave lies in one slot, is packed and leaves "
            "together.",
    .body = other_shape,
    .answer = &tells_shape,
};
static cw_code route_order_together_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    return set(q, n, CW_TOGETHER, err);
}

static const cw_contract contract_order_apart_post = {
    .says = "The other order goes in a parcel of its own again.",
    .body = other_shape,
    .answer = &tells_shape,
};
static cw_code route_order_apart_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    return set(q, n, CW_APART, err);
}

const cw_route cw_routes_joining[] = {
    CW_ROUTE(POST, "/api/orders/{order}/lines", WORK, OFFICE, CW_SMALL_BODY, order_line_post),
    CW_ROUTE(GET, "/api/orders/{order}/beside", LOOK, OFFICE, CW_NO_BODY, order_beside_get),
    CW_ROUTE(POST, "/api/orders/{order}/merge", WORK, OFFICE, CW_SMALL_BODY, order_merge_post),
    CW_ROUTE(POST, "/api/orders/{order}/unmerge", WORK, OFFICE, CW_SMALL_BODY, order_unmerge_post),
    CW_ROUTE(POST, "/api/orders/{order}/together", WORK, OFFICE, CW_SMALL_BODY, order_together_post),
    CW_ROUTE(POST, "/api/orders/{order}/apart", WORK, OFFICE, CW_SMALL_BODY, order_apart_post),
    { 0 },
};

/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "desk/orders/rest.h"
#include <stddef.h>
#include <stdlib.h>

#include "base/banned.h"

/* Orders whose rest will not come, closed together; and what packers found short, settled together. */
static const cw_contract contract_rests_list = {
    .says = "Open orders of which something was shared out and that ask more than they are sure of.",
    .answer = &cw_rest_list_shape,
};

static cw_code route_rests_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_rest_list(n, cw_request_asker(q), &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

struct close_body {
    const json_t *orders;
    const char *why;
};
static const cw_member close_shape[] = {
    { "orders", CW_LIST_T, offsetof(struct close_body, orders), true, 1, CW_REST_MOST },
    { "why", CW_TEXT_T, offsetof(struct close_body, why), false, 0, CW_MAX_NOTE, NULL },
    { 0 },
};
static const cw_shape closed_shape = { .parts = (const cw_part[]){
                                           { "orders", CW_INT_T },
                                           { "divisions", CW_INT_T },
                                           { "refund", CW_MONEY_T },
                                           { 0 },
                                       } };

static const cw_contract contract_rests_close = {
    .says = "Close these orders and refund their rest: each asks what it is sure of. All of them, or none.",
    .body = close_shape,
    .answer = &closed_shape,
};

static cw_code route_rests_close(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct close_body b = { NULL, NULL };
    cw_rest_done done = { 0, 0, 0 };
    char refund[24];
    cw_code code = cw_body_read(q, &b, err);
    size_t count = json_array_size(b.orders);
    const char **orders = code == CW_OK ? calloc(count + 1, sizeof *orders) : NULL;
    if (code == CW_OK && orders == NULL)
        code = cw_error_memory(err);
    for (size_t i = 0; i < count && code == CW_OK; i++)
        orders[i] = json_string_value(json_array_get(b.orders, i));
    if (code == CW_OK)
        code = cw_rest_close(n, cw_request_asker(q), orders, count, b.why, &done, err);
    free(orders);
    if (code != CW_OK)
        return code;
    cw_cents_format(done.refund, refund);
    return cw_reply_json_take(q, 200,
                              json_pack("{s:I,s:I,s:s}", "orders", (json_int_t)done.orders, "divisions",
                                        (json_int_t)done.divisions, "refund", refund),
                              err);
}

static const cw_member item_shape[] = {
    { "order", CW_TEXT_T, offsetof(cw_rest_item, order), true, 0, CW_MAX_CODE, NULL },
    { "line", CW_INT_T, offsetof(cw_rest_item, line), true, 1, INT32_MAX, NULL },
    { "parcel", CW_INT_T, offsetof(cw_rest_item, parcel), true, 1, 1e15, NULL },
    { "lot", CW_TEXT_T, offsetof(cw_rest_item, lot), false, 0, CW_MAX_CODE, NULL },
    { "place", CW_TEXT_T, offsetof(cw_rest_item, place), false, 0, CW_MAX_CODE, NULL },
    { 0 },
};
struct settle_body {
    const json_t *items;
    const char *why;
};
static const cw_member settle_shape[] = {
    { "items", CW_LIST_T, offsetof(struct settle_body, items), true, 1, CW_REST_MOST, .each = item_shape },
    { "why", CW_TEXT_T, offsetof(struct settle_body, why), false, 0, CW_MAX_NOTE, NULL },
    { 0 },
};
static const cw_shape settled_shape = { .parts = (const cw_part[]){
                                            { "filled", CW_INT_T },
                                            { "refunded", CW_INT_T },
                                            { "refund", CW_MONEY_T },
                                            { 0 },
                                        } };

static const cw_contract contract_shorts_settle = {
    .says = "What packers found short, settled at once: each line filled from the lot named, or without one "
            "its rest "
            "refunded. All of them, or none.",
    .body = settle_shape,
    .answer = &settled_shape,
};

static cw_code route_shorts_settle(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct settle_body b = { NULL, NULL };
    cw_rest_settled done = { 0, 0, 0 };
    char refund[24];
    cw_code code = cw_body_read(q, &b, err);
    size_t count = json_array_size(b.items);
    cw_rest_item *items = code == CW_OK ? calloc(count + 1, sizeof *items) : NULL;
    if (code == CW_OK && items == NULL)
        code = cw_error_memory(err);
    for (size_t i = 0; i < count && code == CW_OK; i++)
        code = cw_object_read(json_array_get(b.items, i), (long)i + 1, item_shape, &items[i], err);
    if (code == CW_OK)
        code = cw_rest_settle(n, cw_request_asker(q), items, count, b.why, &done, err);
    free(items);
    if (code != CW_OK)
        return code;
    cw_cents_format(done.refund, refund);
    return cw_reply_json_take(q, 200,
                              json_pack("{s:I,s:I,s:s}", "filled", (json_int_t)done.filled, "refunded",
                                        (json_int_t)done.refunded, "refund", refund),
                              err);
}

const cw_route cw_routes_rests[] = {
    CW_ROUTE(GET, "/api/rests", LOOK, OFFICE, CW_NO_BODY, rests_list),
    CW_ROUTE(POST, "/api/rests/close", WORK, OFFICE, CW_BIG_BODY, rests_close),
    CW_ROUTE(POST, "/api/shorts/settle", WORK, OFFICE, CW_BIG_BODY, shorts_settle),
    { 0 },
};

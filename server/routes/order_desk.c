/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "desk/orders/clearing.h"
#include "desk/orders/correcting.h"
#include "desk/orders/ordering.h"
#include <stddef.h>

#include "base/banned.h"

static const cw_shape found_shape = { .parts = (const cw_part[]){
                                          { "items", .shape = &cw_ordering_find_shape },
                                          { "more", CW_BOOL_T },
                                          { 0 },
                                      } };

static const cw_shape oversold_shape = { .parts = (const cw_part[]){
                                             { "variety", CW_TEXT_T },
                                             { "left", CW_INT_T },
                                             { 0 },
                                         } };

/* The order desk: finding an order, its sheet, and what may be changed on the phone. A change is answered with the sheet
 * as it then stands. */
struct find_query {
    const char *text, *variety, *state;
    cw_week week;
    int64_t page;
};
static const cw_member find_shape[] = {
    { "q", CW_TEXT_T, offsetof(struct find_query, text), false, 0, CW_MAX_NAME, NULL },
    { "variety", CW_TEXT_T, offsetof(struct find_query, variety), false, 0, CW_MAX_CODE, NULL },
    { "state", CW_TEXT_T, offsetof(struct find_query, state), false, 0, 0, cw_words_order_states },
    { "week", CW_WEEK_T, offsetof(struct find_query, week), false, 0, 0, NULL },
    { "page", CW_INT_T, offsetof(struct find_query, page), false, 1, 1000000, NULL },
    { 0 },
};

static const cw_contract contract_orders_list = {
    .says = "Find orders by number, name, e-mail or postcode, of a variety, in a state, of a ship week; 50 a "
            "page, the latest received first.",
    .query = find_shape,
    .answer = &found_shape,
};

struct buyers_query {
    const char *text;
};
static const cw_member buyers_shape[] = {
    { "q", CW_TEXT_T, offsetof(struct buyers_query, text), true, 0, CW_MAX_NAME, NULL },
    { 0 },
};

static const cw_contract contract_buyers_list = {
    .says = "Who ordered before, by name, e-mail or postcode: this season's orders, buyers taken along from "
            "a season before, and "
            "files of past seasons that are served.",
    .query = buyers_shape,
    .answer = &cw_ordering_buyers_shape,
};

static cw_code route_buyers_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct buyers_query b = { 0 };
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, &b, err);
    if (code == CW_OK)
        code = cw_ordering_buyers(n, cw_request_asker(q), b.text, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static cw_code route_orders_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct find_query f = { .page = 1 };
    cw_table t = { 0 };
    bool more = false;
    cw_code code = cw_query_read(q, &f, err);
    cw_ordering_query query = { f.text, f.variety, f.state, f.week, f.page };
    if (code == CW_OK)
        code = cw_ordering_find(n, cw_request_asker(q), &query, &t, &more, err);
    if (code == CW_OK)
        code = cw_reply_json_take(q, 200, json_pack("{s:o,s:b}", "items", cw_table_to_json(&t), "more", more),
                                  err);
    cw_table_free(&t);
    return code;
}

static cw_code reply_sheet(cw_request *q, cw_nursery *n, cw_error *err)
{
    json_t *sheet = NULL;
    cw_code code = cw_ordering_sheet(n, cw_request_asker(q), cw_path_text(q, "order"), &sheet, err);
    return code == CW_OK ? cw_reply_json_take(q, 200, sheet, err) : code;
}

static const cw_contract contract_order_get = {
    .says = "One order whole, with every line's fate in a sentence.",
    .answer = &cw_ordering_sheet_shape,
};

static cw_code route_order_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_code code = cw_query_read(q, NULL, err);
    return code == CW_OK ? reply_sheet(q, n, err) : code;
}

struct lying_query {
    int64_t line;
};
static const cw_member lying_shape[] = {
    { "line", CW_INT_T, offsetof(struct lying_query, line), false, 1, INT32_MAX, NULL },
    { 0 },
};

static const cw_contract contract_order_lying_get = {
    .says = "What of an order, or of one line, lies on packers' lists and in parcels: what a cancellation "
            "takes off.",
    .query = lying_shape,
    .answer = &cw_clearing_lying_shape,
};

static cw_code route_order_lying_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct lying_query in = { 0 };
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK)
        code = cw_clearing_lying(n, cw_request_asker(q), cw_path_text(q, "order"), (int)in.line, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

struct cancel_body {
    const char *why;
    int64_t line;
};
static const cw_member cancel_shape[] = {
    { "why", CW_TEXT_T, offsetof(struct cancel_body, why), true, 0, CW_MAX_NOTE, NULL },
    { "line", CW_INT_T, offsetof(struct cancel_body, line), false, 1, INT32_MAX, NULL },
    { 0 },
};

static const cw_shape order_cancel_post_based = { .parts = (const cw_part[]){
                                                      { "quantity", CW_INT_T, .lack = true },
                                                      { "version", CW_INT_T, .lack = true },
                                                      { 0 },
                                                  } };

static const cw_contract contract_order_cancel_post = {
    .says = "Cancel an order, or one line of it: it comes off packers' lists and out of parcels that are "
            "here, and what "
            "was promised is free again; what has left stays. Answered with the order as it then stands.",
    .body = cancel_shape,
    .answer = &cw_ordering_sheet_shape,
    .based = &order_cancel_post_based,
};

static cw_code route_order_cancel_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct cancel_body b = { NULL, 0 };
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_ordering_cancel(n, cw_request_asker(q), cw_path_text(q, "order"), (int)b.line, b.why, err);
    return code == CW_OK ? reply_sheet(q, n, err) : code;
}

static const cw_member correct_shape[] = {
    { "customer", CW_LINE_T, offsetof(cw_correcting_ask, customer), false, 0, CW_MAX_NAME, NULL },
    { "name2", CW_LINE_T, offsetof(cw_correcting_ask, name2), false, 0, CW_MAX_NAME, NULL },
    { "email", CW_LINE_T, offsetof(cw_correcting_ask, email), false, 0, CW_MAX_NAME, NULL },
    { "phone", CW_LINE_T, offsetof(cw_correcting_ask, phone), false, 0, CW_MAX_NAME, NULL },
    { "street", CW_LINE_T, offsetof(cw_correcting_ask, street), false, 0, CW_MAX_NAME, NULL },
    { "town", CW_LINE_T, offsetof(cw_correcting_ask, town), false, 0, CW_MAX_NAME, NULL },
    { "postcode", CW_LINE_T, offsetof(cw_correcting_ask, postcode), false, 0, CW_MAX_NAME, NULL },
    { "country", CW_LINE_T, offsetof(cw_correcting_ask, country), false, 0, CW_MAX_NAME, NULL },
    { "region", CW_LINE_T, offsetof(cw_correcting_ask, region), false, 0, CW_MAX_NAME, NULL },
    { "language", CW_LINE_T, offsetof(cw_correcting_ask, language), false, 0, 8, NULL },
    { "zone", CW_LINE_T, offsetof(cw_correcting_ask, zone), false, 0, CW_MAX_NAME, NULL },
    { "wish_week", CW_LINE_T, offsetof(cw_correcting_ask, wish_week), false, 0, CW_MAX_NAME, NULL },
    { "paid", CW_TEXT_T, offsetof(cw_correcting_ask, paid), false, 0, 0, cw_words_yes_no },
    { "consent", CW_TEXT_T, offsetof(cw_correcting_ask, consent), false, 0, 0, cw_words_consents },
    { "named", CW_LINE_T, offsetof(cw_correcting_ask, named), false, 0, CW_MAX_NAMED *(CW_MAX_CODE + 1),
      NULL },
    { "line", CW_INT_T, offsetof(cw_correcting_ask, line), false, 1, INT32_MAX, NULL },
    { "why", CW_TEXT_T, offsetof(cw_correcting_ask, why), false, 0, CW_MAX_NOTE, NULL },
    { 0 },
};

static const cw_shape corrected_shape = { .parts = (const cw_part[]){
                                              { "tells", .shape = &cw_shape_texts },
                                              { "sheet", .shape = &cw_ordering_sheet_shape },
                                              { 0 },
                                          } };

static const cw_shape order_patch_based = { .parts = (const cw_part[]){
                                                { "customer", CW_TEXT_T, .null = true, .lack = true },
                                                { "name2", CW_TEXT_T, .null = true, .lack = true },
                                                { "email", CW_TEXT_T, .null = true, .lack = true },
                                                { "phone", CW_TEXT_T, .null = true, .lack = true },
                                                { "street", CW_TEXT_T, .null = true, .lack = true },
                                                { "town", CW_TEXT_T, .null = true, .lack = true },
                                                { "postcode", CW_TEXT_T, .null = true, .lack = true },
                                                { "country", CW_TEXT_T, .null = true, .lack = true },
                                                { "region", CW_TEXT_T, .null = true, .lack = true },
                                                { "language", CW_TEXT_T, .null = true, .lack = true },
                                                { "zone", CW_TEXT_T, .null = true, .lack = true },
                                                { "wish_week", CW_TEXT_T, .null = true, .lack = true },
                                                { "paid", CW_TEXT_T, .null = true, .lack = true },
                                                { "consent", CW_TEXT_T, .lack = true },
                                                { 0 },
                                            } };

static const cw_contract contract_order_patch = {
    .says = "Put right who the buyer is and where they live, their zone, wish, or what they allow in place "
            "of what they "
            "asked (of all lines, or of one). An empty text is none. Answered with what that means for "
            "weeks, lists "
            "and parcels, and the order as it then stands.",
    .body = correct_shape,
    .answer = &corrected_shape,
    .based = &order_patch_based,
};

static cw_code route_order_patch(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_correcting_ask ask = { .customer = NULL };
    json_t *tells = NULL, *sheet = NULL;
    const char *order = cw_path_text(q, "order");
    cw_code code = cw_body_read(q, &ask, err);
    if (code == CW_OK)
        code = cw_correcting_set(n, cw_request_asker(q), order, &ask, &tells, err);
    if (code == CW_OK)
        code = cw_ordering_sheet(n, cw_request_asker(q), order, &sheet, err);
    if (code == CW_OK)
        return cw_reply_json_take(q, 200, json_pack("{s:o,s:o}", "tells", tells, "sheet", sheet), err);
    json_decref(tells);
    return code;
}

struct change_body {
    int64_t quantity;
    const char *why;
};
static const cw_member change_shape[] = {
    { "quantity", CW_INT_T, offsetof(struct change_body, quantity), true, 1, CW_MAX_LINE_QUANTITY, NULL },
    { "why", CW_TEXT_T, offsetof(struct change_body, why), true, 0, CW_MAX_NOTE, NULL },
    { 0 },
};

static const cw_shape order_line_patch_based = { .parts = (const cw_part[]){
                                                     { "quantity", CW_INT_T, .lack = true },
                                                     { 0 },
                                                 } };

static const cw_contract contract_order_line_patch = {
    .says = "Change what a line asks. Answered with the order as it then stands; 409 when not so much is "
            "left on offer.",
    .body = change_shape,
    .answer = &cw_ordering_sheet_shape,
    .based = &order_line_patch_based,
};

static cw_code route_order_line_patch(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct change_body b = { 0, NULL };
    int64_t line = 0;
    cw_code code = cw_path_int(q, "line", &line, err);
    if (code == CW_OK)
        code = cw_body_read(q, &b, err);
    if (code == CW_OK && line > INT32_MAX)
        code = cw_error_at(err, CW_NOT_FOUND, NULL, 0, "line", "there is no such line");
    if (code == CW_OK)
        code = cw_ordering_change(n, cw_request_asker(q), cw_path_text(q, "order"), (int)line, b.quantity,
                                  b.why, err);
    return code == CW_OK ? reply_sheet(q, n, err) : code;
}

struct oversell_body {
    const char *variety, *why;
    int64_t quantity;
};
static const cw_member oversell_shape[] = {
    { "variety", CW_TEXT_T, offsetof(struct oversell_body, variety), true, 0, CW_MAX_CODE, NULL },
    { "quantity", CW_INT_T, offsetof(struct oversell_body, quantity), true, -CW_MAX_DIVISIONS,
      CW_MAX_DIVISIONS, NULL },
    { "why", CW_TEXT_T, offsetof(struct oversell_body, why), true, 0, CW_MAX_NOTE, NULL },
    { 0 },
};

static const cw_contract contract_oversell_post = {
    .says = "Allow more of a variety to be sold than is offered. The owner's, and on record. A negative "
            "quantity takes back what was allowed and not sold.",
    .body = oversell_shape,
    .answer = &oversold_shape,
};

static cw_code route_oversell_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct oversell_body b = { NULL, NULL, 0 };
    int64_t left = 0;
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_ordering_oversell(n, cw_request_asker(q), b.variety, b.quantity, b.why, &left, err);
    if (code != CW_OK)
        return code;
    return cw_reply_json_take(q, 200, json_pack("{s:s,s:I}", "variety", b.variety, "left", (json_int_t)left),
                              err);
}

const cw_route cw_routes_order_desk[] = {
    CW_ROUTE(GET, "/api/orders", LOOK, OFFICE, CW_NO_BODY, orders_list),
    CW_ROUTE(GET, "/api/buyers", LOOK, OFFICE, CW_NO_BODY, buyers_list),
    CW_ROUTE(GET, "/api/orders/{order}", LOOK, OFFICE, CW_NO_BODY, order_get),
    CW_ROUTE(GET, "/api/orders/{order}/lying", LOOK, OFFICE, CW_NO_BODY, order_lying_get),
    CW_ROUTE(POST, "/api/orders/{order}/cancel", WORK, OFFICE, CW_SMALL_BODY, order_cancel_post),
    CW_ROUTE(PATCH, "/api/orders/{order}", WORK, OFFICE, CW_SMALL_BODY, order_patch),
    CW_ROUTE(PATCH, "/api/orders/{order}/lines/{line}", WORK, OFFICE, CW_SMALL_BODY, order_line_patch),
    CW_ROUTE(POST, "/api/oversell", WORK, OWNER, CW_SMALL_BODY, oversell_post),
    { 0 },
};

/* SPDX-License-Identifier: MIT */
#include "http/route.h"

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

const cw_contract cw_contract_orders_list = {
    .says = "Find orders by number, name, e-mail or postcode, of a variety, in a state, of a ship week; 50 a "
            "page, the latest received first.",
    .query = find_shape,
    .answer = &found_shape,
};

cw_code cw_route_orders_list(cw_request *q, cw_nursery *n, cw_error *err)
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

const cw_contract cw_contract_order_get = {
    .says = "One order whole, with every line's fate in a sentence.",
    .answer = &cw_ordering_sheet_shape,
};

cw_code cw_route_order_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_code code = cw_query_read(q, NULL, err);
    return code == CW_OK ? reply_sheet(q, n, err) : code;
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

const cw_contract cw_contract_order_cancel_post = {
    .says = "Cancel an order, or one line of it; what was promised is free again. Answered with the order as "
            "it then stands.",
    .body = cancel_shape,
    .answer = &cw_ordering_sheet_shape,
    .based = &order_cancel_post_based,
};

cw_code cw_route_order_cancel_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct cancel_body b = { NULL, 0 };
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_ordering_cancel(n, cw_request_asker(q), cw_path_text(q, "order"), (int)b.line, b.why, err);
    return code == CW_OK ? reply_sheet(q, n, err) : code;
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

const cw_contract cw_contract_order_line_patch = {
    .says = "Change what a line asks. Answered with the order as it then stands; 409 when not so much is "
            "left on offer.",
    .body = change_shape,
    .answer = &cw_ordering_sheet_shape,
    .based = &order_line_patch_based,
};

cw_code cw_route_order_line_patch(cw_request *q, cw_nursery *n, cw_error *err)
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

const cw_contract cw_contract_oversell_post = {
    .says = "Allow more of a variety to be sold than is offered. The owner's, and on record. A negative "
            "quantity takes back what was allowed and not sold.",
    .body = oversell_shape,
    .answer = &oversold_shape,
};

cw_code cw_route_oversell_post(cw_request *q, cw_nursery *n, cw_error *err)
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

/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "desk/ship/overruling.h"
#include "desk/ship/shipping.h"
#include <string.h>
#include <stddef.h>

#include "base/banned.h"

static const cw_shape breaks_shape = { .parts = (const cw_part[]){
                                           { "breaks", .shape = &cw_shipping_breaks_shape },
                                           { 0 },
                                       } };

static const cw_member board_shape[] = {
    { "week", CW_WEEK_T, offsetof(cw_board_ask, week), false, 0, 0, NULL },
    { "without", CW_BOOL_T, offsetof(cw_board_ask, without), false, 0, 0, NULL },
    { "most", CW_INT_T, offsetof(cw_board_ask, most), false, 0, INT32_MAX, NULL },
    { 0 },
};

static const cw_contract contract_schedule_get = {
    .says = "Weeks with their load, and each order's week with the reason; or only the orders of a week, or "
            "those that have something to send and no week; at most so many of them.",
    .query = board_shape,
    .answer = &cw_shipping_board_shape,
};

static cw_code route_schedule_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_board_ask ask = { .most = INT64_MAX };
    cw_code code = cw_query_read(q, &ask, err);
    if (code != CW_OK)
        return code;
    return cw_shipping_board(n, cw_request_asker(q), &ask, cw_reply_sink(q, 200, "application/json"), err);
}

static const cw_contract contract_schedule_post = {
    .says = "Give orders their weeks.",
    .answer = &cw_shipping_schedule_shape,
};

static cw_code route_schedule_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_shipping_schedule(n, cw_request_asker(q), true, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

struct week_body {
    cw_week week;
    const char *why;
    bool preview;
};
static const cw_member week_shape[] = {
    { "week", CW_WEEK_T, offsetof(struct week_body, week), false, 0, 0, NULL },
    { "why", CW_TEXT_T, offsetof(struct week_body, why), false, 0, CW_MAX_NOTE, NULL },
    { "preview", CW_BOOL_T, offsetof(struct week_body, preview), false, 0, 0, NULL },
    { 0 },
};

static const cw_shape order_week_post_based = { .parts = (const cw_part[]){
                                                    { "week", CW_WEEK_T, .lack = true, .null = true },
                                                    { 0 },
                                                } };

static const cw_contract contract_order_week_post = {
    .says = "Move an order to another ship week; tells what that breaks.",
    .body = week_shape,
    .answer = &breaks_shape,
    .based = &order_week_post_based,
};

/* Moves an order, or with "preview" only tells what the move would break. */
static cw_code route_order_week_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct week_body b = { 0, NULL, false };
    cw_table t = { 0 };
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK && b.preview)
        code = cw_shipping_breaks(n, cw_request_asker(q), cw_path_text(q, "order"), b.week, &t, err);
    else if (code == CW_OK)
        code = cw_shipping_move(n, cw_request_asker(q), cw_path_text(q, "order"), b.week, b.why, &t, err);
    if (code == CW_OK)
        code = cw_reply_json_take(q, 200, json_pack("{s:o}", "breaks", cw_table_to_json(&t)), err);
    cw_table_free(&t);
    return code;
}

static const cw_contract contract_frost_holds_list = {
    .says = "Weeks in which a zone, an order, a place or a carrier is kept back, and what each hold keeps "
            "now: orders and "
            "parcels in waves that "
            "have not left, and stops where something of them is still to be taken.",
    .answer = &cw_shipping_holds_shape,
};

static cw_code route_frost_holds_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_shipping_holds(n, cw_request_asker(q), &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

struct hold_body {
    const char *zone, *order, *why;
    cw_hold_place place;
    cw_week first, last;
};
static const cw_member hold_shape[] = {
    { "zone", CW_TEXT_T, offsetof(struct hold_body, zone), false, 0, CW_MAX_CODE, NULL },
    { "order", CW_TEXT_T, offsetof(struct hold_body, order), false, 0, CW_MAX_CODE, NULL },
    { "country", CW_TEXT_T, offsetof(struct hold_body, place.country), false, 0, CW_MAX_NAME, NULL,
      .says = "of a place, by any name" },
    { "region", CW_TEXT_T, offsetof(struct hold_body, place.region), false, 0, CW_MAX_NAME, NULL },
    { "postcode_from", CW_TEXT_T, offsetof(struct hold_body, place.postcode_from), false, 0, CW_MAX_CODE,
      NULL, .says = "the first letters and digits" },
    { "postcode_to", CW_TEXT_T, offsetof(struct hold_body, place.postcode_to), false, 0, CW_MAX_CODE, NULL },
    { "carrier", CW_TEXT_T, offsetof(struct hold_body, place.carrier), false, 0, CW_MAX_NAME, NULL,
      .says = "what goes by it, everywhere or to the place" },
    { "first_week", CW_WEEK_T, offsetof(struct hold_body, first), true, 0, 0, NULL },
    { "last_week", CW_WEEK_T, offsetof(struct hold_body, last), true, 0, 0, NULL },
    { "why", CW_TEXT_T, offsetof(struct hold_body, why), false, 0, CW_MAX_NAME, NULL },
    { 0 },
};

static const cw_contract contract_frost_holds_post = {
    .says = "Hold back a zone, an order, a place (country, region, postcodes) or a carrier. It binds at once "
            "what is "
            "in waves: marked on walks, off printed lists and the "
            "carrier's file, "
            "neither packed nor sent until it is lifted, over, or overruled. Answered with all holds and "
            "what they keep.",
    .body = hold_shape,
    .answer = &cw_shipping_holds_shape,
    .status = 201,
};

static cw_code route_frost_holds_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct hold_body b = { 0 };
    cw_table t = { 0 };
    cw_code code = cw_body_read(q, &b, err);
    bool place =
        b.place.country || b.place.region || b.place.postcode_from || b.place.postcode_to || b.place.carrier;
    if (code == CW_OK && place && (b.zone || b.order))
        code = cw_error_set(err, CW_REFUSED, "a hold names a zone, an order or a place, one of them");
    else if (code == CW_OK && place)
        code = cw_shipping_hold_place(n, cw_request_asker(q), &b.place, b.first, b.last, b.why, &t, err);
    else if (code == CW_OK)
        code = cw_shipping_hold(n, cw_request_asker(q), b.zone, b.order, b.first, b.last, b.why, &t, err);
    return cw_reply_table_take(q, code, 201, &t, err);
}

static const cw_contract contract_frost_hold_delete = {
    .says = "Lift a hold. Weeks that are on record are set again.",
};

static cw_code route_frost_hold_delete(cw_request *q, cw_nursery *n, cw_error *err)
{
    int64_t hold = 0;
    cw_code code = cw_path_int(q, "hold", &hold, err);
    if (code == CW_OK)
        code = cw_shipping_lift(n, cw_request_asker(q), hold, err);
    return code == CW_OK ? cw_reply_none(q) : code;
}

struct touched_query {
    int64_t hold;
};
static const cw_member touched_shape[] = {
    { "hold", CW_INT_T, offsetof(struct touched_query, hold), false, 1, 1e15, NULL,
      .says = "Of this hold; without it of all." },
    { 0 },
};

static const cw_contract contract_frost_touched_list = {
    .says = "Each parcel that frost holds keep: what of it is open, what is taken, at how many stops.",
    .query = touched_shape,
    .answer = &cw_shipping_touched_shape,
};

static cw_code route_frost_touched_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct touched_query in = { 0 };
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK)
        code = cw_shipping_touched(n, cw_request_asker(q), in.hold, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

struct overrule_body {
    const char *rule, *why;
    bool heed;
};
static const cw_member overrule_shape[] = {
    { "rule", CW_TEXT_T, offsetof(struct overrule_body, rule), true, 0, 0, cw_words_overruled_rules },
    { "why", CW_TEXT_T, offsetof(struct overrule_body, why), false, 0, CW_MAX_NOTE, NULL },
    { "heed", CW_BOOL_T, offsetof(struct overrule_body, heed), false, 0, 0, NULL },
    { 0 },
};

static const cw_shape overruled_shape = { .parts = (const cw_part[]){
                                              { "order", CW_TEXT_T },
                                              { "rule", CW_TEXT_T, .words = cw_words_overruled_rules },
                                              { "overruled", CW_BOOL_T },
                                              { 0 },
                                          } };

static const cw_contract contract_order_overrule_post = {
    .says = "Let one order go in spite of a rule that keeps it, on record; with heed keep it back again. "
            "destination: the "
            "owner alone, for the place it goes to now. frost: for the holds that bind it now.",
    .body = overrule_shape,
    .answer = &overruled_shape,
};

/* Lets one order go in spite of a rule, or with "heed" keeps it back again. */
static cw_code route_order_overrule_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct overrule_body b = { NULL, NULL, false };
    const char *order = cw_path_text(q, "order");
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_overruling_set(n, cw_request_asker(q), order,
                                 strcmp(b.rule, "frost") == 0 ? CW_OVERRULE_FROST : CW_OVERRULE_DESTINATION,
                                 b.heed  ? NULL
                                 : b.why ? b.why
                                         : "",
                                 err);
    return code == CW_OK
               ? cw_reply_json_take(
                     q, 200, json_pack("{s:s,s:s,s:b}", "order", order, "rule", b.rule, "overruled", !b.heed),
                     err)
               : code;
}

const cw_route cw_routes_shipping[] = {
    CW_ROUTE(GET, "/api/schedule", TAGGED, OFFICE, CW_NO_BODY, schedule_get),
    CW_ROUTE(POST, "/api/schedule", WORK, OFFICE, CW_SMALL_BODY, schedule_post),
    CW_ROUTE(POST, "/api/orders/{order}/week", WORK, OFFICE, CW_SMALL_BODY, order_week_post),
    CW_ROUTE(POST, "/api/orders/{order}/overrule", WORK, OFFICE, CW_SMALL_BODY, order_overrule_post),
    CW_ROUTE(GET, "/api/frost-holds/touched", LOOK, OFFICE, CW_NO_BODY, frost_touched_list),
    CW_ROUTE(GET, "/api/frost-holds", LOOK, OFFICE, CW_NO_BODY, frost_holds_list),
    CW_ROUTE(POST, "/api/frost-holds", WORK, OFFICE, CW_SMALL_BODY, frost_holds_post),
    CW_ROUTE(DELETE, "/api/frost-holds/{hold}", WORK, OFFICE, CW_NO_BODY, frost_hold_delete),
    { 0 },
};

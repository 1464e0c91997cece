/* SPDX-License-Identifier: MIT */
#include "base/json.h"
#include "desk/intake/intake.h"
#include "desk/share/arriving.h"
#include "http/route.h"
#include <stddef.h>

#include "base/banned.h"

/* Orders as they come in. Each is taken or refused by itself, also in a list; one that a shop sends twice is taken once. */

/* What became of one order, for the list in the answer. */
static json_t *fate_of(json_t *answer, cw_code code, const cw_error *err)
{
    json_t *fate = answer ? answer : json_object();
    if (code != CW_OK) {
        cw_json_put_take(&fate, "taken", json_false());
        cw_json_put_take(&fate, "detail", json_string(err->text));
        if (err->column[0])
            cw_json_put_take(&fate, "column", json_string(err->column));
    }
    return fate;
}

/* Machine failures end the list; anything else is one order's own fate. *first keeps the first refusal. */
static cw_code take_all(cw_request *q, cw_nursery *n, json_t **fates, cw_error *first, cw_error *err)
{
    const json_t *order = NULL;
    for (long i = 0;; i++) {
        cw_error own = CW_ERROR_NONE;
        json_t *answer = NULL;
        cw_code code = cw_body_next(q, &order, err);
        if (code != CW_OK || order == NULL)
            return code;
        code = cw_intake_order(n, cw_request_asker(q), order, &answer, &own);
        if (code == CW_MACHINE) {
            json_decref(answer);
            return cw_error_set(err, code, "%s", own.text);
        }
        own.row = own.row ? own.row : i + 1;
        if (code != CW_OK && first->code == CW_OK)
            *first = own;
        cw_json_append_take(fates, fate_of(answer, code, &own));
    }
}

/* Those that came after the shares were made firm are promised at once where there is enough; the others are told what they wait
 * for. If that cannot be worked out, they wait as all orders did: they are taken in any case. */
static cw_code promise_late(cw_request *q, cw_nursery *n, int64_t mark, json_t *fates, cw_error *err)
{
    cw_error own = CW_ERROR_NONE;
    cw_arriving_done done;
    int64_t fresh = 0;
    size_t i;
    json_t *fate, *told = NULL;
    json_array_foreach(fates, i, fate) fresh += json_is_false(json_object_get(fate, "known"));
    if (mark < 0 || fresh == 0)
        return CW_OK;
    if ((told = json_object()) == NULL)
        return cw_error_memory(err);
    cw_code code = cw_arriving_promise(n, cw_request_asker(q), mark, fresh, told, &done, &own);
    json_array_foreach(fates, i, fate)
    {
        const char *number = json_string_value(json_object_get(fate, "order"));
        json_t *of = code == CW_OK && number ? json_object_get(told, number) : NULL;
        if (of && json_is_false(json_object_get(fate, "known")) && json_object_update(fate, of) != 0)
            code = cw_error_memory(&own);
    }
    json_decref(told);
    return code == CW_MACHINE ? cw_error_set(err, code, "%s", own.text) : CW_OK;
}

static cw_code post_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_error first = CW_ERROR_NONE;
    size_t count = cw_body_elements(q);
    if (count == 0 || count > CW_MAX_ORDERS_PER_POST)
        return cw_error_set(err, CW_REFUSED, "a list has 1 to %d orders", CW_MAX_ORDERS_PER_POST);
    int64_t mark = -1;
    json_t *fates = json_array();
    cw_code code = cw_arriving_mark(n, &mark, err);
    if (code == CW_OK)
        code = take_all(q, n, &fates, &first, err);
    if (code == CW_OK)
        code = promise_late(q, n, mark, fates, err);
    if (code == CW_OK && first.code == CW_OK)
        return cw_reply_json_take(q, 201, fates, err);
    if (code != CW_OK) {
        json_decref(fates);
        return code;
    }
    cw_reply_with(q, "orders", fates);
    *err = first;
    return first.code;
}

static const cw_contract contract_orders_post = {
    .says =
        "Take one order or a list. Each stands by itself: in a list, those that could be taken are taken, "
        "and the problem's \"orders\" tells the fate of each. The same order again is answered as taken.",
    .takes = &cw_intake_orders_shape,
    .refusal = (const cw_part[]){ { "orders", .shape = &cw_intake_fates_shape },
                                  { "order", CW_TEXT_T, .null = true },
                                  { "taken", CW_BOOL_T },
                                  { "line", CW_INT_T },
                                  { "variety", CW_TEXT_T },
                                  { "left", CW_INT_T },
                                  { 0 } },
    .answer = &cw_intake_taken_shape,
    .status = 201,
};

static cw_code route_orders_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    const json_t *body = NULL;
    json_t *answer = NULL, *v;
    const char *name;
    int64_t mark = -1;
    if (cw_body_is_list(q))
        return post_list(q, n, err);
    cw_code code = cw_body_json(q, &body, err);
    if (code != CW_OK)
        return code;
    code = cw_arriving_mark(n, &mark, err);
    if (code == CW_OK)
        code = cw_intake_order(n, cw_request_asker(q), body, &answer, err);
    if (code == CW_OK) {
        json_t *fates = json_pack("[o]", answer);
        code = fates ? promise_late(q, n, mark, fates, err) : cw_error_memory(err);
        if (code == CW_OK)
            return cw_reply_json_take(q, 201, fates, err);
        json_decref(fates);
        return code;
    }
    json_object_foreach(answer, name, v) cw_reply_with(q, name, json_incref(v));
    json_decref(answer);
    return code;
}

const cw_route cw_routes_orders[] = {
    CW_ROUTE(POST, "/api/orders", WORK, SHOP, CW_BIG_BODY, orders_post),
    { 0 },
};

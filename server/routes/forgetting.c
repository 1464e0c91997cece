/* SPDX-License-Identifier: MIT */
#include "desk/buyers/forgetting.h"
#include "http/people.h"
#include <stddef.h>

#include "base/banned.h"

/* Removing a buyer's data from the orders: first a look, then the removal with one's own password. Both by POST, so that no
 * name stands in an address. */
struct person {
    const char *customer, *postcode, *current;
    cw_day before;
};
static const cw_member preview_shape[] = {
    { "customer", CW_TEXT_T, offsetof(struct person, customer), false, 0, CW_MAX_NAME, NULL },
    { "before", CW_DAY_T, offsetof(struct person, before), false, 0, 0, NULL },
    { "postcode", CW_TEXT_T, offsetof(struct person, postcode), false, 0, CW_MAX_NAME, NULL },
    { 0 },
};
static const cw_member person_shape[] = {
    { "customer", CW_TEXT_T, offsetof(struct person, customer), false, 0, CW_MAX_NAME, NULL },
    { "before", CW_DAY_T, offsetof(struct person, before), false, 0, 0, NULL },
    { "postcode", CW_TEXT_T, offsetof(struct person, postcode), false, 0, CW_MAX_NAME, NULL },
    CW_CURRENT_MEMBER(struct person),
    { 0 },
};

/* A person, or a day: one of both. */
static cw_code read_ask(cw_request *q, struct person *p, cw_error *err)
{
    cw_code code = cw_body_read(q, p, err);
    if (code == CW_OK && (p->customer == NULL) == (p->before == CW_NO_DAY))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "customer", "or before is needed, not both");
    if (code == CW_OK && p->postcode && p->customer == NULL)
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "postcode", "goes with a customer's name");
    return code;
}

/* A refusal carries the list of those whom the name could mean. */
static void tell_who(cw_request *q, cw_code code, const cw_table *t)
{
    if (code == CW_CONFLICT && cw_table_rows(t) > 0)
        cw_reply_with(q, "orders", cw_table_to_json(t));
}

static const cw_contract contract_forget_preview = {
    .says = "Which orders would lose the buyer's data, and how many texts. Changes nothing. 409 lists whom "
            "the name could mean.",
    .body = preview_shape,
    .answer = &cw_forgetting_preview_shape,
    .refusal = (const cw_part[]){ { "orders", .shape = &cw_forgetting_preview_shape }, { 0 } },
};

static cw_code route_forget_preview(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct person p = { .before = CW_NO_DAY };
    cw_table t = { 0 };
    cw_code code = read_ask(q, &p, err);
    cw_forget_ask ask = { p.customer, p.postcode, p.before };
    if (code == CW_OK)
        code = cw_forgetting_preview(n, cw_request_asker(q), &ask, &t, err);
    tell_who(q, code, &t);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static cw_code forget(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct person p = { .before = CW_NO_DAY };
    cw_table t = { 0 };
    cw_code code = read_ask(q, &p, err);
    cw_forget_ask ask = { p.customer, p.postcode, p.before };
    if (code == CW_OK)
        code = cw_forgetting(n, cw_request_asker(q), &ask, &t, err);
    tell_who(q, code, &t);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_forget_post = {
    .says = "Remove a buyer's data from the orders. The orders stay.",
    .body = person_shape,
    .answer = &cw_forgetting_shape,
    .refusal = (const cw_part[]){ { "orders", .shape = &cw_forgetting_preview_shape }, { 0 } },
};

static cw_code route_forget_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct person p = { .before = CW_NO_DAY };
    cw_code code = read_ask(q, &p, err);
    return code == CW_OK ? cw_request_prove(q, n, p.current, forget, err) : code;
}

const cw_route cw_routes_forgetting[] = {
    CW_ROUTE(POST, "/api/forget/preview", LOOK, OWNER, CW_SMALL_BODY, forget_preview),
    CW_ROUTE(POST, "/api/forget", SLOW, OWNER, CW_SMALL_BODY, forget_post),
    { 0 },
};

/* SPDX-License-Identifier: MIT */
#include "http/people.h"

#include "desk/post/hook.h"
#include <stddef.h>
#include <string.h>

#include "base/banned.h"

/* Where a shop is told by itself what changed. The address is the owner's, who proves to be it: it hears of every order. */

static const cw_contract contract_hook_get = {
    .says = "Where a shop is told what changes (without the secret), and how many messages wait, were sent, "
            "or were refused.",
    .answer = &cw_hook_view_shape,
};

static cw_code route_hook_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    json_t *o = NULL;
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_hook_view(n, cw_request_asker(q), &o, err);
    return code == CW_OK ? cw_reply_json_take(q, 200, o, err) : code;
}

struct where {
    const char *address, *current;
};
static const cw_member where_shape[] = {
    { "address", CW_TEXT_T, offsetof(struct where, address), true, 0, CW_MAX_NAME, NULL,
      .says = "https://HOST/PATH; http:// on this machine itself only" },
    CW_CURRENT_MEMBER(struct where),
    { 0 },
};
static const cw_shape secret_shape = { .parts = (const cw_part[]){
                                           { "secret", CW_TEXT_T,
                                             .says = "whsec_ and base64; told in this answer only" },
                                           { 0 },
                                       } };

static cw_code set_where(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct where w = { NULL, NULL };
    char secret[CW_MAX_HOOK_SECRET + 1] = "";
    cw_code code = cw_body_read(q, &w, err);
    if (code == CW_OK)
        code = cw_hook_set(n, cw_request_asker(q), w.address, secret, err);
    cw_request_accounts_changed(q);
    if (code == CW_OK)
        code = cw_reply_json_take(q, 200, json_pack("{s:s}", "secret", secret), err);
    explicit_bzero(secret, sizeof secret);
    return code;
}

static const cw_contract contract_hook_put = {
    .says = "Set the address where a shop is told what changes. It gets a new secret, and nothing but a test "
            "before it took one.",
    .body = where_shape,
    .answer = &secret_shape,
};

static cw_code route_hook_put(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct where w = { NULL, NULL };
    cw_code code = cw_body_read(q, &w, err);
    return code == CW_OK ? cw_request_prove(q, n, w.current, set_where, err) : code;
}

static const cw_member forget_shape[] = { CW_CURRENT_MEMBER(struct where), { 0 } };

static cw_code forget_where(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_code code = cw_hook_forget(n, cw_request_asker(q), err);
    return code == CW_OK ? cw_reply_none(q) : code;
}

static const cw_contract contract_hook_forget = {
    .says = "Forget the address and its secret, and what waits for it.",
    .body = forget_shape,
};

static cw_code route_hook_forget(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct where w = { NULL, NULL };
    cw_code code = cw_body_read(q, &w, err);
    return code == CW_OK ? cw_request_prove(q, n, w.current, forget_where, err) : code;
}

static const cw_contract contract_hook_test = {
    .says = "Send the shop's address a signed test that tells of nothing. What it said stands in the outbox.",
};

static cw_code route_hook_test(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_hook_test(n, cw_request_asker(q), err);
    return code == CW_OK ? cw_reply_none(q) : code;
}

struct stop {
    bool stopped;
};
static const cw_member stop_shape[] = {
    { "stopped", CW_BOOL_T, offsetof(struct stop, stopped), true, 0, 0, NULL },
    { 0 },
};

static const cw_contract contract_hook_stop = {
    .says = "Tell the shop nothing, or go on: it then hears at once what has changed since.",
    .body = stop_shape,
};

static cw_code route_hook_stop(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct stop b = { false };
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_hook_stop(n, cw_request_asker(q), b.stopped, err);
    return code == CW_OK ? cw_reply_none(q) : code;
}

const cw_route cw_routes_hook[] = {
    CW_ROUTE(GET, "/api/hook", LOOK, OFFICE, CW_NO_BODY, hook_get),
    CW_ROUTE(PUT, "/api/hook", SLOW, OWNER, CW_SMALL_BODY, hook_put),
    CW_ROUTE(POST, "/api/hook/forget", SLOW, OWNER, CW_SMALL_BODY, hook_forget),
    CW_ROUTE(POST, "/api/hook/test", WORK, OWNER, CW_SMALL_BODY, hook_test),
    CW_ROUTE(POST, "/api/hook/stop", WORK, OFFICE, CW_SMALL_BODY, hook_stop),
    { 0 },
};

/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_HTTP_HELD_H
#define CW_TESTS_HTTP_HELD_H

/* Every answer that a test over HTTP gets is held against the contract: its status, and of JSON every member. A server that is
 * started by serving.h has its answers looked at by wire_ask itself, whatever the test is about. */
#include "http/route.h"
#include "support/check.h"
#include "support/routes.h"
#include "support/schema.h"
#include "support/wire.h"

#include <stdatomic.h>
#include <stdio.h>
#include <string.h>

static json_t *held_contract; /* made at the first start of a server */
static atomic_int held_wrong;
static atomic_uint held_good[ROUTES_MOST]; /* by route: answers with its good status */

static inline const json_t *held_operation(const cw_route *r)
{
    static const char *const methods[] = { "get", "post", "put", "patch", "delete" };
    return json_object_get(json_object_get(json_object_get(held_contract, "paths"), r->path),
                           methods[r->method]);
}

static inline const cw_route *held_route(const char *method, const char *target)
{
    static const char *const methods[] = { "GET", "POST", "PUT", "PATCH", "DELETE" };
    cw_path_param params[CW_MAX_PATH_PARAMS];
    char path[512];
    bool other;
    snprintf(path, sizeof path, "%.*s", (int)strcspn(target, "?"), target);
    for (int m = 0; m < 5; m++)
        if (strcmp(methods[m], method) == 0)
            return cw_route_find((cw_method)m, path, params, &other);
    return NULL;
}

/* What the contract says of an answer of this status; of a problem by "default". */
static inline const json_t *held_schema(const cw_route *r, const wire_reply *reply, const char *type)
{
    char status[16];
    snprintf(status, sizeof status, "%d", reply->status);
    const json_t *responses = json_object_get(held_operation(r), "responses");
    const json_t *response = json_object_get(responses, reply->status >= 400 ? "default" : status);
    if (json_object_get(response, "$ref"))
        response = json_object_get(json_object_get(json_object_get(held_contract, "components"), "responses"),
                                   "Problem");
    return json_object_get(json_object_get(json_object_get(response, "content"), type), "schema");
}

/* What the server takes, the contract describes. */
static inline void held_look_at_body(const cw_route *r, const char *at, const char *body)
{
    const json_t *described = json_object_get(held_operation(r), "requestBody");
    const json_t *schema =
        json_object_get(json_object_get(json_object_get(described, "content"), "application/json"), "schema");
    json_t *sent = json_loads(body, 0, NULL);
    if (sent && schema && schema_check(held_contract, schema, sent, at) > 0) {
        print_error("%s was taken, but is not as described: %.200s\n", at, body);
        atomic_fetch_add(&held_wrong, 1);
    }
    json_decref(sent);
}

/* What goes with what was asked for, never with why it is not there: a handler may have set it before it found out. */
static const char *const held_of_good[] = { "Content-Disposition", "ETag", "Set-Cookie" };

static inline void held_look(const char *method, const char *target, const char *asked,
                             const wire_reply *reply)
{
    char type[512] = "", at[200], more[512];
    const cw_route *r = held_route(method, target);
    if (r == NULL || reply->status == 0)
        return;
    snprintf(at, sizeof at, "%s %.150s", method, target);
    for (size_t i = 0; reply->status >= 400 && i < sizeof held_of_good / sizeof held_of_good[0]; i++)
        if (wire_header(reply, held_of_good[i], more)) {
            print_error("%s: a problem (%d) with %s: %s\n", at, reply->status, held_of_good[i], more);
            atomic_fetch_add(&held_wrong, 1);
        }
    if (asked && reply->status < 300)
        held_look_at_body(r, at, asked);
    if (reply->status == (int)cw_contract_status(r->contract))
        atomic_fetch_add(&held_good[route_place(r)], 1);
    else if (reply->status < 400 && reply->status != 304) {
        print_error("%s %s: answered with %d, described as %u\n", method, target, reply->status,
                    cw_contract_status(r->contract));
        atomic_fetch_add(&held_wrong, 1);
    }
    wire_header(reply, "Content-Type", type);
    if (strstr(type, "json") == NULL)
        return;
    json_t *body = json_loads(reply->body ? reply->body : "", 0, NULL);
    const json_t *schema = held_schema(r, reply, type);
    if (body && schema == NULL)
        print_error("%s: an answer of %d as %s is not described\n", at, reply->status, type);
    if (body) /* not: packed, or cut off */
        atomic_fetch_add(&held_wrong, schema ? schema_check(held_contract, schema, body, at) : 1);
    json_decref(body);
}

static inline void held_begin(void)
{
    held_contract = held_contract ? held_contract : cw_openapi();
    wire_watch = held_look;
}

static inline void held_end(void)
{
    int wrong = atomic_exchange(&held_wrong, 0);
    if (wrong > 0)
        fail_msg("%d answers or members of them are not as the contract says", wrong);
}

#endif

/* SPDX-License-Identifier: MIT */
#include "base/qr.h"
#include "desk/people/accounts.h"
#include "desk/people/factor.h"
#include "http/people.h"
#include <sodium.h>
#include <stddef.h>
#include <string.h>

#include "base/banned.h"

static const cw_shape factor_shape = { .parts = (const cw_part[]){
                                           { "person", CW_BOOL_T },
                                           { "on", CW_BOOL_T },
                                           { "since", CW_INSTANT_T, .null = true },
                                           { "left", CW_INT_T },
                                           { 0 },
                                       } };

static const cw_shape qr_shape = { .parts = (const cw_part[]){
                                       { "side", CW_INT_T },
                                       { "path", CW_TEXT_T },
                                       { 0 },
                                   } };

static const cw_shape secret_shape = { .parts = (const cw_part[]){
                                           { "secret", CW_TEXT_T },
                                           { "uri", CW_TEXT_T },
                                           { "qr", .shape = &qr_shape },
                                           { 0 },
                                       } };

static const cw_shape codes_shape = { .parts = (const cw_part[]){
                                          { "recovery", .shape = &cw_shape_texts },
                                          { 0 },
                                      } };

/* Everybody's own second factor, and the owner's way to take away the one of somebody who lost the telephone. */
struct typed {
    const char *code, *current;
};
static const cw_member typed_shape[] = {
    { "code", CW_TEXT_T, offsetof(struct typed, code), true, 0, CW_FACTOR_TYPED, NULL },
    CW_CURRENT_MEMBER(struct typed),
    { 0 },
};

static const cw_contract contract_factor_get = {
    .says = "Your own second factor: is it on, and how many recovery codes are left?",
    .answer = &factor_shape,
};

static cw_code route_factor_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_factor_state f;
    char since[25] = "";
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_factor_look(n, cw_request_asker(q), &f, err);
    if (code != CW_OK)
        return code;
    if (f.on)
        cw_instant_format(f.on_at, since);
    return cw_reply_json_take(q, 200,
                              json_pack("{s:b,s:b,s:s?,s:I}", "person", f.person, "on", f.on, "since",
                                        f.on ? since : NULL, "left", (json_int_t)f.left),
                              err);
}

/* The QR code as path data, for the page makes its own picture: markup is not handed out. */
static cw_code reply_secret(cw_request *q, const cw_factor_secret *secret, cw_error *err)
{
    cw_qr qr = { 0, NULL };
    cw_text path = CW_TEXT((size_t)1 << 16);
    cw_code code = cw_qr_encode_secret(secret->uri, &qr, err);
    int side = qr.width + 2 * CW_QR_QUIET;
    if (code == CW_OK) {
        cw_qr_path(&qr, 1, &path);
        code = cw_text_check(&path, err);
    }
    if (code == CW_OK)
        code = cw_reply_json_take(q, 200,
                                  json_pack("{s:s,s:s,s:{s:i,s:s}}", "secret", secret->letters, "uri",
                                            secret->uri, "qr", "side", side, "path", path.data),
                                  err);
    cw_qr_free(&qr);
    cw_text_wipe(&path);
    return code;
}

static const cw_contract contract_factor_begin = {
    .says = "Begin a second factor: a secret for the telephone, shown in this answer only. Signing in does "
            "not ask for it yet.",
    .answer = &secret_shape,
};

static cw_code route_factor_begin(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_factor_secret secret = { "", "" };
    cw_code code = cw_factor_begin(n, cw_request_asker(q), &secret, err);
    cw_request_accounts_changed(q);
    if (code == CW_OK)
        code = reply_secret(q, &secret, err);
    sodium_memzero(&secret, sizeof secret);
    return code;
}

/* The code's own tries are counted and slowed down; here runs one after the other. */
static bool has_to_wait(cw_request *q)
{
    int wait = cw_request_code_wait(q, cw_request_asker(q)->actor);
    return wait > 0 && cw_reply_wait(q, wait) == CW_OK;
}

static void count_try(cw_request *q, cw_code code)
{
    if (code == CW_OK || code == CW_FORBIDDEN)
        cw_request_code_tried(q, cw_request_asker(q)->actor, code == CW_OK);
}

static cw_code reply_codes(cw_request *q, const cw_factor_codes *codes, cw_error *err)
{
    json_t *list = json_array();
    for (size_t i = 0; i < CW_FACTOR_CODES && list; i++)
        if (json_array_append_new(list, json_string(codes->code[i])) != 0) {
            json_decref(list);
            list = NULL;
        }
    return list ? cw_reply_json_take(q, 200, json_pack("{s:o}", "recovery", list), err)
                : cw_error_memory(err);
}

static cw_code turn_on(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct typed t = { NULL, NULL };
    cw_factor_codes codes;
    cw_code code = cw_body_read(q, &t, err);
    if (code != CW_OK || has_to_wait(q))
        return code;
    code = cw_factor_turn_on(n, cw_request_asker(q), t.code, cw_request_session(q), &codes, err);
    count_try(q, code);
    cw_request_accounts_changed(q);
    if (code == CW_OK)
        code = reply_codes(q, &codes, err);
    sodium_memzero(&codes, sizeof codes);
    return code;
}

static const cw_contract contract_factor_on = {
    .says = "Turn the second factor on by its first code. The recovery codes are shown in this answer only. "
            "All your other sessions end.",
    .body = typed_shape,
    .answer = &codes_shape,
};

static cw_code route_factor_on(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct typed t = { NULL, NULL };
    cw_code code = cw_body_read(q, &t, err);
    return code == CW_OK ? cw_request_prove(q, n, t.current, turn_on, err) : code;
}

static cw_code turn_off(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct typed t = { NULL, NULL };
    cw_code code = cw_body_read(q, &t, err);
    if (code != CW_OK || has_to_wait(q))
        return code;
    code = cw_factor_turn_off(n, cw_request_asker(q), t.code, err);
    count_try(q, code);
    return code == CW_OK ? cw_reply_none(q) : code;
}

static const cw_contract contract_factor_off = {
    .says = "Turn your own second factor off.",
    .body = typed_shape,
};

static cw_code route_factor_off(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct typed t = { NULL, NULL };
    cw_code code = cw_body_read(q, &t, err);
    return code == CW_OK ? cw_request_prove(q, n, t.current, turn_off, err) : code;
}

struct clearing {
    const char *current;
};
static const cw_member clearing_shape[] = {
    CW_CURRENT_MEMBER(struct clearing),
    { 0 },
};

static cw_code clear(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_code code = cw_factor_clear(n, cw_request_asker(q), cw_path_text(q, "name"), err);
    cw_request_accounts_changed(q);
    return code == CW_OK ? cw_reply_none(q) : code;
}

static const cw_contract contract_factor_clear = {
    .says = "Clear the second factor of someone who lost the telephone; they are signed out at once. Not "
            "your own.",
    .body = clearing_shape,
};

/* The own one needs its code: else the password alone would do. */
static cw_code route_factor_clear(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct clearing c = { NULL };
    bool own = cw_request_session(q)[0] && strcmp(cw_request_asker(q)->actor, cw_path_text(q, "name")) == 0;
    cw_code code = cw_body_read(q, &c, err);
    if (code == CW_OK && own)
        code =
            cw_error_set(err, CW_CONFLICT,
                         "turn your own off under \"Your account\", by a code; or clear it at the machine");
    return code == CW_OK ? cw_request_prove(q, n, c.current, clear, err) : code;
}

const cw_route cw_routes_factor[] = {
    CW_ROUTE(GET, "/api/factor", LOOK, STAFF, CW_NO_BODY, factor_get),
    CW_ROUTE(POST, "/api/factor", WORK, STAFF, CW_NO_BODY, factor_begin),
    CW_ROUTE(POST, "/api/factor/on", SLOW, STAFF, CW_SMALL_BODY, factor_on),
    CW_ROUTE(POST, "/api/factor/off", SLOW, STAFF, CW_SMALL_BODY, factor_off),
    CW_ROUTE(POST, "/api/people/{name}/clear-factor", SLOW, OWNER, CW_SMALL_BODY, factor_clear),
    { 0 },
};

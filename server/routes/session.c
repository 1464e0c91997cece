/* SPDX-License-Identifier: MIT */
#include "desk/people/accounts.h"
#include "desk/people/factor.h"
#include "http/people.h"
#include <stddef.h>
#include <stdlib.h>

#include "base/banned.h"

static const cw_shape session_shape = { .parts = (const cw_part[]){
                                            { "signed_in", CW_BOOL_T },
                                            { "name", CW_TEXT_T, .null = true },
                                            { "role", CW_TEXT_T, .null = true, .words = cw_words_roles },
                                            { "csrf", CW_TEXT_T, .null = true },
                                            { "accounts", CW_BOOL_T },
                                            { "weak", CW_BOOL_T, .lack = true },
                                            { "code_wanted", CW_BOOL_T, .lack = true },
                                            { 0 },
                                        } };

/* Signing in and out. POST is in two steps: the password is checked on a reader; the writer takes the code of a second factor,
 * if one is on, and writes the session. */
struct sign_in {
    const char *name, *password, *code;
};
static const cw_member sign_in_shape[] = {
    { "name", CW_TEXT_T, offsetof(struct sign_in, name), true, 0, CW_MAX_NAME, NULL },
    { "password", CW_TEXT_T, offsetof(struct sign_in, password), true, 0, 4 * CW_MAX_PASSWORD, NULL },
    { "code", CW_TEXT_T, offsetof(struct sign_in, code), false, 0, CW_FACTOR_TYPED, NULL },
    { 0 },
};

/* `weak` comes with a sign-in only: a password from before passwords were judged should be replaced. */
static cw_code reply_session(cw_request *q, const char *name, cw_role role, const char *csrf,
                             const bool *weak, cw_error *err)
{
    bool in = role != CW_ROLE_NONE;
    return cw_reply_json_take(q, 200,
                              json_pack("{s:b,s:s?,s:s?,s:s?,s:b,s:o*}", "signed_in", in, "name",
                                        in ? name : NULL, "role", in ? cw_role_word(role) : NULL, "csrf",
                                        csrf[0] ? csrf : NULL, "accounts", !cw_request_no_accounts(q), "weak",
                                        weak ? json_boolean(*weak) : NULL),
                              err);
}

/* The password is right; only its owner learns that. */
static cw_code reply_code_wanted(cw_request *q, cw_error *err)
{
    return cw_reply_json_take(q, 200,
                              json_pack("{s:b,s:n,s:n,s:n,s:b,s:b}", "signed_in", 0, "name", "role", "csrf",
                                        "accounts", 1, "code_wanted", 1),
                              err);
}

static const cw_contract contract_session_get = {
    .says = "Who am I here, and do accounts exist?",
    .answer = &session_shape,
};

static cw_code route_session_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    const cw_asker *who = cw_request_asker(q);
    (void)n;
    cw_code code = cw_query_read(q, NULL, err);
    return code == CW_OK ? reply_session(q, who->actor, who->role, cw_request_csrf(q), NULL, err) : code;
}

static cw_code open_session(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_identity *who = cw_request_kept(q);
    struct sign_in given = { NULL, NULL, NULL };
    char token[CW_TOKEN_TEXT] = "", says[CW_VERDICT_TEXT];
    cw_code code = cw_body_read(q, &given, err);
    if (code != CW_OK)
        return code;
    int wait = who->factor ? cw_request_code_wait(q, who->name) : 0;
    if (wait > 0)
        return cw_reply_wait(q, wait);
    code = cw_accounts_open(n, cw_request_asker(q), who, given.code, token, err);
    if (who->factor && (code == CW_OK || code == CW_FORBIDDEN))
        cw_request_code_tried(q, who->name, code == CW_OK);
    if (code == CW_FORBIDDEN)
        return cw_reply_unknown(q, "the code is not right, or was used before");
    if (code != CW_OK)
        return code;
    bool weak = !cw_accounts_judge(who->name, given.password, says);
    cw_request_accounts_changed(q);
    code = reply_session(q, who->name, who->role, who->csrf, &weak, err);
    cw_request_cookie(q, token);
    return code;
}

static const cw_contract contract_session_post = {
    .says = "Sign in. Wrong tries are slowed down (429). If the person has a second factor and no code came, "
            "the answer to the right password is code_wanted and no session.",
    .body = sign_in_shape,
    .answer = &session_shape,
};

static cw_code route_session_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct sign_in given = { NULL, NULL, NULL };
    cw_identity *who = NULL;
    cw_code code = cw_body_read(q, &given, err);
    if (code != CW_OK)
        return code;
    int wait = cw_request_wait(q, given.name);
    if (wait > 0)
        return cw_reply_wait(q, wait);
    who = calloc(1, sizeof *who);
    if (who == NULL)
        return cw_error_memory(err);
    code = cw_accounts_verify(n, given.name, given.password, who, err);
    cw_request_account(q, who->person);
    if (code == CW_OK || code == CW_FORBIDDEN)
        cw_request_tried(q, given.name, code == CW_OK);
    if (code == CW_OK && (given.code || !who->factor)) {
        cw_request_then_write(q, open_session, who);
        return CW_OK;
    }
    free(who);
    if (code == CW_OK)
        return reply_code_wanted(q, err);
    return code == CW_FORBIDDEN ? cw_reply_unknown(q, "name or password is wrong") : code;
}

static const cw_contract contract_session_delete = {
    .says = "Sign out.",
};

static cw_code route_session_delete(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_code code = cw_accounts_close(n, cw_request_session(q), err);
    cw_request_cookie(q, NULL);
    cw_request_accounts_changed(q);
    return code == CW_OK ? cw_reply_none(q) : code;
}

const cw_route cw_routes_session[] = {
    CW_ROUTE(GET, "/api/session", LOOK, ANYBODY, CW_NO_BODY, session_get),
    CW_ROUTE(POST, "/api/session", SLOW, ANYBODY, CW_SMALL_BODY, session_post),
    CW_ROUTE(DELETE, "/api/session", WORK, STAFF, CW_NO_BODY, session_delete),
    { 0 },
};

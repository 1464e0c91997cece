/* SPDX-License-Identifier: MIT */
#include "desk/people/accounts.h"
#include "http/people.h"
#include <stddef.h>
#include <string.h>

#include "base/banned.h"

static const cw_shape verdict_shape = { .parts = (const cw_part[]){
                                            { "good", CW_BOOL_T },
                                            { "says", CW_TEXT_T },
                                            { 0 },
                                        } };

/* What everybody may do to their own account: the password, what it is worth, and where one is signed in. */
struct new_password {
    const char *password, *current;
};
static const cw_member password_shape[] = {
    { "password", CW_TEXT_T, offsetof(struct new_password, password), true, 0, 512, NULL },
    CW_CURRENT_MEMBER(struct new_password),
    { 0 },
};

static cw_code set_password(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct new_password p = { NULL, NULL };
    cw_code code = cw_body_read(q, &p, err);
    if (code == CW_OK)
        code = cw_accounts_password(n, cw_request_asker(q), cw_path_text(q, "name"), p.password, err);
    cw_request_accounts_changed(q);
    return code == CW_OK ? cw_reply_none(q) : code;
}

static const cw_contract contract_password_put = {
    .says = "Set a password: everyone their own, the owner anyone's.",
    .body = password_shape,
};

static cw_code route_password_put(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct new_password p = { NULL, NULL };
    cw_code code = cw_body_read(q, &p, err);
    if (code == CW_OK) /* before the slow part */
        code = cw_accounts_check_password(cw_path_text(q, "name"), p.password, err);
    return code == CW_OK ? cw_request_prove(q, n, p.current, set_password, err) : code;
}

struct judged {
    const char *name, *password;
};
static const cw_member judged_shape[] = {
    { "name", CW_TEXT_T, offsetof(struct judged, name), false, 0, CW_MAX_NAME, NULL },
    { "password", CW_TEXT_T, offsetof(struct judged, password), true, 0, 512, NULL },
    { 0 },
};

static const cw_contract contract_password_judge = {
    .says = "How strong a password is, in a sentence. Nothing is kept.",
    .body = judged_shape,
    .answer = &verdict_shape,
};

static cw_code route_password_judge(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct judged p = { "", NULL };
    char says[CW_VERDICT_TEXT];
    (void)n;
    cw_code code = cw_body_read(q, &p, err);
    if (code != CW_OK)
        return code;
    bool good = cw_accounts_judge(p.name, p.password, says);
    return cw_reply_json_take(q, 200, json_pack("{s:b,s:s}", "good", good, "says", says), err);
}

static const cw_contract contract_sessions_list = {
    .says = "Your own sessions that have not ended.",
    .answer = &cw_accounts_sessions_shape,
};

static cw_code route_sessions_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_accounts_sessions(n, cw_request_asker(q), cw_request_session(q), &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

struct ending {
    const char *session, *current;
};
static const cw_member ending_shape[] = {
    { "session", CW_TEXT_T, offsetof(struct ending, session), false, 0, 64, NULL },
    CW_CURRENT_MEMBER(struct ending),
    { 0 },
};

static cw_code end_sessions(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct ending e = { NULL, NULL };
    cw_code code = cw_body_read(q, &e, err);
    if (code == CW_OK)
        code = cw_accounts_end_sessions(n, cw_request_asker(q), e.session, cw_request_session(q), err);
    cw_request_accounts_changed(q);
    return code == CW_OK ? cw_reply_none(q) : code;
}

static const cw_contract contract_sessions_end = {
    .says = "End one of your own sessions; without a name, all but this one.",
    .body = ending_shape,
};

static cw_code route_sessions_end(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct ending e = { NULL, NULL };
    cw_code code = cw_body_read(q, &e, err);
    return code == CW_OK ? cw_request_prove(q, n, e.current, end_sessions, err) : code;
}

const cw_route cw_routes_account[] = {
    CW_ROUTE(PUT, "/api/people/{name}/password", SLOW, STAFF, CW_SMALL_BODY, password_put),
    CW_ROUTE(POST, "/api/password-verdict", LOOK, STAFF, CW_SMALL_BODY, password_judge),
    CW_ROUTE(GET, "/api/sessions", LOOK, STAFF, CW_NO_BODY, sessions_list),
    CW_ROUTE(POST, "/api/sessions/end", SLOW, STAFF, CW_SMALL_BODY, sessions_end),
    { 0 },
};

/* SPDX-License-Identifier: MIT */
#include "desk/people/accounts.h"
#include "http/people.h"
#include <stddef.h>
#include <string.h>

#include "base/banned.h"

/* Who may in: people with passwords, programs with keys. All of it is the owner's, who proves to be it before a change. */

static const cw_shape added_shape = { .parts = (const cw_part[]){
                                          { "name", CW_TEXT_T },
                                          { "role", CW_TEXT_T, .words = cw_words_person_roles },
                                          { 0 },
                                      } };

static const cw_shape key_made_shape = { .parts = (const cw_part[]){
                                             { "name", CW_TEXT_T },
                                             { "role", CW_TEXT_T, .words = cw_words_roles },
                                             { "key", CW_TEXT_T },
                                             { 0 },
                                         } };

static const cw_contract contract_people_get = {
    .says = "People who may sign in.",
    .answer = &cw_accounts_list_shape,
};

static cw_code route_people_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_accounts_list(n, cw_request_asker(q), &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

struct person {
    const char *name, *role, *password, *current;
};
static const cw_member person_shape[] = {
    { "name", CW_TEXT_T, offsetof(struct person, name), true, 0, CW_MAX_NAME, NULL },
    { "role", CW_TEXT_T, offsetof(struct person, role), true, 0, 0, cw_words_person_roles },
    { "password", CW_TEXT_T, offsetof(struct person, password), true, 0, 512, NULL },
    CW_CURRENT_MEMBER(struct person),
    { 0 },
};

static cw_code add_person(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct person p = { 0 };
    cw_role role = CW_ROLE_NONE;
    cw_code code = cw_body_read(q, &p, err);
    if (code == CW_OK && cw_role_parse(p.role, &role))
        code = cw_accounts_add(n, cw_request_asker(q), p.name, role, p.password, err);
    if (code != CW_OK)
        return code;
    cw_request_accounts_changed(q);
    return cw_reply_json_take(q, 201, json_pack("{s:s,s:s}", "name", p.name, "role", p.role), err);
}

static const cw_contract contract_people_post = {
    .says = "Add a person.",
    .body = person_shape,
    .answer = &added_shape,
    .status = 201,
};

static cw_code route_people_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct person p = { 0 };
    cw_code code = cw_body_read(q, &p, err);
    return code == CW_OK ? cw_request_prove(q, n, p.current, add_person, err) : code;
}

struct change {
    bool disabled;
    const char *role, *current;
};
static const cw_member change_shape[] = {
    { "disabled", CW_BOOL_T, offsetof(struct change, disabled), true, 0, 0, NULL },
    CW_CURRENT_MEMBER(struct change),
    { 0 },
};
static const cw_member role_shape[] = {
    { "role", CW_TEXT_T, offsetof(struct change, role), true, 0, 0, cw_words_person_roles },
    CW_CURRENT_MEMBER(struct change),
    { 0 },
};

static cw_code change_person(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct change c = { false, NULL, NULL };
    cw_code code = cw_body_read(q, &c, err);
    if (code == CW_OK)
        code = cw_accounts_disable(n, cw_request_asker(q), cw_path_text(q, "name"), c.disabled, err);
    cw_request_accounts_changed(q);
    return code == CW_OK ? cw_reply_none(q) : code;
}

static const cw_shape person_patch_based = { .parts = (const cw_part[]){
                                                 { "disabled", CW_BOOL_T, .lack = true },
                                                 { 0 },
                                             } };

static const cw_contract contract_person_patch = {
    .says = "Disable or enable a person; who is disabled is signed out at once.",
    .body = change_shape,
    .based = &person_patch_based,
};

static cw_code route_person_patch(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct change c = { false, NULL, NULL };
    cw_code code = cw_body_read(q, &c, err);
    return code == CW_OK ? cw_request_prove(q, n, c.current, change_person, err) : code;
}

static cw_code change_role(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct change c = { false, NULL, NULL };
    cw_role role = CW_ROLE_NONE;
    cw_code code = cw_body_read(q, &c, err);
    if (code == CW_OK && cw_role_parse(c.role, &role))
        code = cw_accounts_role(n, cw_request_asker(q), cw_path_text(q, "name"), role, err);
    cw_request_accounts_changed(q);
    return code == CW_OK ? cw_reply_none(q) : code;
}

static const cw_shape role_put_based = { .parts = (const cw_part[]){
                                             { "role", CW_TEXT_T, .lack = true },
                                             { 0 },
                                         } };

static const cw_contract contract_role_put = {
    .says = "Set a person to another desk; they are signed out at once.",
    .body = role_shape,
    .based = &role_put_based,
};

static cw_code route_role_put(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct change c = { false, NULL, NULL };
    cw_code code = cw_body_read(q, &c, err);
    return code == CW_OK ? cw_request_prove(q, n, c.current, change_role, err) : code;
}

static const cw_contract contract_keys_get = {
    .says = "Keys of programs; \"replace\" marks those that end within 14 days.",
    .answer = &cw_accounts_keys_shape,
};

static cw_code route_keys_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_accounts_keys(n, cw_request_asker(q), &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

struct key {
    const char *name, *role, *current;
    cw_day expires_on;
};
static const cw_member key_shape[] = {
    { "name", CW_TEXT_T, offsetof(struct key, name), true, 0, CW_MAX_NAME, NULL },
    { "role", CW_TEXT_T, offsetof(struct key, role), true, 0, 0, cw_words_roles },
    { "expires_on", CW_DAY_T, offsetof(struct key, expires_on), false, 0, 0, NULL },
    CW_CURRENT_MEMBER(struct key),
    { 0 },
};

static cw_code add_key(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct key k = { .expires_on = CW_NO_DAY };
    char text[CW_TOKEN_TEXT] = "";
    cw_role role = CW_ROLE_NONE;
    cw_code code = cw_body_read(q, &k, err);
    if (code == CW_OK && cw_role_parse(k.role, &role))
        code = cw_accounts_key_add(n, cw_request_asker(q), k.name, role, k.expires_on, text, err);
    cw_request_accounts_changed(q);
    if (code != CW_OK)
        return code;
    return cw_reply_json_take(q, 201, json_pack("{s:s,s:s,s:s}", "name", k.name, "role", k.role, "key", text),
                              err);
}

static const cw_contract contract_keys_post = {
    .says = "Make a key; its text is shown in this answer only.",
    .body = key_shape,
    .answer = &key_made_shape,
    .status = 201,
};

static cw_code route_keys_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct key k = { .expires_on = CW_NO_DAY };
    cw_code code = cw_body_read(q, &k, err);
    return code == CW_OK ? cw_request_prove(q, n, k.current, add_key, err) : code;
}

static const cw_contract contract_key_delete = {
    .says = "Disable a key.",
};

/* To take a key away needs no proof: it can only close a door. */
static cw_code route_key_delete(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_code code = cw_accounts_key_disable(n, cw_request_asker(q), cw_path_text(q, "name"), err);
    cw_request_accounts_changed(q);
    return code == CW_OK ? cw_reply_none(q) : code;
}

const cw_route cw_routes_people[] = {
    CW_ROUTE(GET, "/api/people", LOOK, OWNER, CW_NO_BODY, people_get),
    CW_ROUTE(POST, "/api/people", SLOW, OWNER, CW_SMALL_BODY, people_post),
    CW_ROUTE(PATCH, "/api/people/{name}", SLOW, OWNER, CW_SMALL_BODY, person_patch),
    CW_ROUTE(PUT, "/api/people/{name}/role", SLOW, OWNER, CW_SMALL_BODY, role_put),
    CW_ROUTE(GET, "/api/keys", LOOK, OWNER, CW_NO_BODY, keys_get),
    CW_ROUTE(POST, "/api/keys", SLOW, OWNER, CW_SMALL_BODY, keys_post),
    CW_ROUTE(DELETE, "/api/keys/{name}", WORK, OWNER, CW_NO_BODY, key_delete),
    { 0 },
};

/* SPDX-License-Identifier: MIT */
#include "http/request.h"

#include "base/json.h"
#include "desk/people/accounts.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* The contract as a document: one walk over the table of routes. What a route takes and answers it says itself (cw_contract);
 * here stands only what is the same for all. */

static const char *const methods[] = { "get", "post", "put", "patch", "delete" };

#define ABOUT                                                                                                \
    "The nursery's interface for its pages and for programs. Lists are arrays of objects; money is a "       \
    "decimal "                                                                                               \
    "text, days, weeks and instants are ISO 8601, what is missing is null. Every error is an RFC 9457 "      \
    "problem. "                                                                                              \
    "A write is answered only when it is durable; an Idempotency-Key on it makes a repeat safe. A browser "  \
    "session sends X-CSRF-Token with every write. An edit that overwrites a value takes \"based_on\": the "  \
    "values it was typed "                                                                                   \
    "over, by name. Where one has changed since, the edit is refused with 409, and \"current\" has each "    \
    "such value as it is. "                                                                                  \
    "Without based_on nothing is compared."

static json_t *members_schema(const cw_member *members);

static json_t *list_schema(const cw_member *m)
{
    return json_pack("{s:s,s:o,s:I,s:I}", "type", "array", "items",
                     m->each ? members_schema(m->each) : cw_type_schema(CW_TEXT_T, false, NULL), "minItems",
                     (json_int_t)m->low, "maxItems", (json_int_t)m->high);
}

static json_t *member_schema(const cw_member *m, bool query)
{
    const cw_holds h = cw_member_holds(m);
    if (m->type == CW_LIST_T)
        return list_schema(m);
    if (m->type == CW_BOOL_T && query)
        return cw_type_schema(CW_TEXT_T, false, "yes|no|true|false|1|0");
    return cw_value_schema(&h);
}

/* A member that need not be there may be null as well. */
static json_t *members_schema(const cw_member *members)
{
    json_t *o = cw_schema_object();
    for (const cw_member *m = members; m && m->name; m++) {
        json_t *s = member_schema(m, false);
        if (!m->required)
            s = json_pack("{s:[o,{s:s}]}", "anyOf", s, "type", "null");
        cw_schema_member_take(&o, m->name, m->required, cw_schema_says_take(s, m->says));
    }
    return o;
}

static void put_parameter(json_t **list, const char *where, const char *name, size_t length, bool required,
                          json_t *schema)
{
    json_t *o = json_pack("{s:s,s:s%,s:b,s:o}", "in", where, "name", name, length, "required", required,
                          "schema", schema);
    cw_json_append_take(list, o);
}

static bool repeatable(const cw_route *r)
{
    return r->method != CW_GET && (r->access == CW_ROUTE_WORK || r->access == CW_ROUTE_SLOW);
}

static json_t *parameters_json(const cw_route *r)
{
    json_t *list = json_array();
    for (const char *at = strchr(r->path, '{'); at; at = strchr(at + 1, '{'))
        put_parameter(&list, "path", at + 1, strcspn(at + 1, "}"), true,
                      cw_type_schema(CW_TEXT_T, false, NULL));
    for (const cw_member *m = r->contract->query; m && m->name; m++)
        put_parameter(&list, "query", m->name, strlen(m->name), m->required,
                      cw_schema_says_take(member_schema(m, true), m->says));
    if (repeatable(r))
        put_parameter(&list, "header", "Idempotency-Key", strlen("Idempotency-Key"), false,
                      cw_type_schema(CW_TEXT_T, false, NULL));
    return list;
}

static json_t *content_json(const char *type, json_t *schema)
{
    return json_pack("{s:{s:o}}", type, "schema", schema);
}

static const cw_shape places_shape = { .list = true,
                                       .parts = (const cw_part[]){
                                           { "file", CW_TEXT_T, .lack = true },
                                           { "row", CW_INT_T, .lack = true },
                                           { "column", CW_TEXT_T, .lack = true },
                                           { "detail", CW_TEXT_T },
                                           { 0 },
                                       } };
static const cw_part problem_parts[] = {
    { "type", CW_TEXT_T },
    { "title", CW_TEXT_T },
    { "status", CW_INT_T },
    { "detail", CW_TEXT_T },
    { "errors", .shape = &places_shape, .lack = true },
    { 0 },
};

static json_t *problem_schema(const cw_part *more)
{
    json_t *o = cw_shape_schema(&(cw_shape){ .parts = problem_parts });
    json_t *extra = more ? cw_shape_schema(&(cw_shape){ .parts = more }) : NULL, *schema;
    const char *name;
    json_object_foreach(json_object_get(extra, "properties"), name, schema)
        cw_schema_member_take(&o, name, false, json_incref(schema));
    json_decref(extra);
    return o;
}

/* An edit may say what it was based on, and is told what of it has changed since. */
static json_t *refusal_schema(const cw_contract *c)
{
    json_t *o = problem_schema(c->refusal);
    if (c->based)
        cw_schema_member_take(
            &o, "current", false,
            cw_schema_says_take(cw_shape_schema(c->based), "Of based_on, what has changed since, as it is."));
    return o;
}

static json_t *body_schema(const cw_contract *c)
{
    json_t *o = c->body ? members_schema(c->body) : cw_shape_schema(c->takes);
    if (c->based)
        cw_schema_member_take(
            &o, "based_on", false,
            cw_schema_says_take(cw_shape_schema(c->based), "What this was typed over, as it was shown."));
    return o;
}

static json_t *responses_json(const cw_route *r)
{
    const cw_contract *c = r->contract;
    char status[4];
    snprintf(status, sizeof status, "%u", cw_contract_status(c));
    json_t *all = json_object(), *good = json_pack("{s:s}", "description", "Done.");
    if (c->answer)
        cw_json_put_take(&good, "content", content_json("application/json", cw_shape_schema(c->answer)));
    else if (c->type)
        cw_json_put_take(&good, "content", content_json(c->type, cw_type_schema(CW_TEXT_T, false, NULL)));
    cw_json_put_take(&all, status, good);
    if (r->access == CW_ROUTE_TAGGED || r->access == CW_ROUTE_KEPT)
        cw_json_put_take(&all, "304", json_pack("{s:s}", "description", "Unchanged since the ETag."));
    cw_json_put_take(&all, "default",
                     c->refusal || c->based
                         ? json_pack("{s:s,s:o}", "description", "A problem.", "content",
                                     content_json("application/problem+json", refusal_schema(c)))
                         : json_pack("{s:s}", "$ref", "#/components/responses/Problem"));
    return all;
}

static json_t *roles_json(unsigned may)
{
    if (may == CW_MAY_ANYBODY)
        return json_string("anybody");
    json_t *list = json_array();
    for (int role = CW_ROLE_OWNER; role <= CW_ROLE_SHOP; role++)
        if (may & CW_MAY(role))
            cw_json_append_take(&list, json_string(cw_role_word((cw_role)role)));
    return list;
}

static json_t *operation_json(const cw_route *r)
{
    const cw_contract *c = r->contract;
    json_t *o =
        json_pack("{s:s,s:s,s:o,s:o,s:o}", "operationId", r->name, "summary", c->says, "x-roles",
                  roles_json(r->may), "parameters", parameters_json(r), "responses", responses_json(r));
    if (r->may == CW_MAY_ANYBODY)
        cw_json_put_take(&o, "security", json_array());
    json_t *body = c->body || c->takes ? body_schema(c) : NULL;
    if (c->body || c->takes)
        cw_json_put_take(
            &o, "requestBody",
            json_pack("{s:b,s:o}", "required", 1, "content", content_json("application/json", body)));
    return o;
}

static json_t *info_json(void)
{
    return json_pack("{s:s,s:s,s:{s:s,s:s},s:s}", "title", "Clumpwise", "version", CW_VERSION, "license",
                     "name", "MIT", "identifier", "MIT", "description", ABOUT);
}

static json_t *components_json(void)
{
    json_t *session = json_pack("{s:s,s:s,s:s,s:s}", "type", "apiKey", "in", "cookie", "name", "clumpwise",
                                "description", "Under TLS the name is __Host-clumpwise.");
    json_t *key = json_pack("{s:s,s:s}", "type", "http", "scheme", "bearer");
    json_t *problem = json_pack("{s:s,s:o}", "description", "What is wrong, as RFC 9457.", "content",
                                content_json("application/problem+json", problem_schema(NULL)));
    return json_pack("{s:{s:o,s:o},s:{s:o}}", "securitySchemes", "session", session, "key", key, "responses",
                     "Problem", problem);
}

/* The sets of words by name, so that the page's lists can be held against them. */
static json_t *words_json(void)
{
    json_t *o = json_object();
    for (size_t i = 0; i < cw_word_set_count; i++)
        cw_json_put_take(&o, cw_word_sets[i].name, cw_words_schema(cw_word_sets[i].words));
    return o;
}

json_t *cw_openapi(void)
{
    json_t *paths = json_object();
    const cw_route *r;
    for (size_t i = 0; (r = cw_route_at(i)); i++) {
        json_t *path = json_object_get(paths, r->path);
        json_t *one = path ? json_incref(path) : json_object();
        cw_json_put_take(&one, methods[r->method], operation_json(r));
        cw_json_put_take(&paths, r->path, one);
    }
    return json_pack("{s:s,s:o,s:[{s:s}],s:o,s:[{s:[]},{s:[]}],s:o,s:o}", "openapi", "3.1.0", "info",
                     info_json(), "servers", "url", "/", "paths", paths, "security", "session", "key",
                     "components", components_json(), "x-words", words_json());
}

/* SPDX-License-Identifier: MIT */
/* server/openapi.json against the table of routes and against the running server on the demo season: every route is described
 * with its roles, nothing else is, and what a GET answers has the described shape (JSON Schema 2020-12, the part of it that
 * the file uses). */
#include "serving.h"

#include "desk/intake/intake.h"
#include "http/route.h"
#include <glob.h>
#include <time.h>

static const char *const methods[] = { "get", "post", "put", "patch", "delete" };

static json_t *load_contract(void)
{
    json_error_t where;
    json_t *doc = json_load_file(CW_SOURCE_DIR "/server/openapi.json", JSON_REJECT_DUPLICATES, &where);
    if (doc == NULL)
        fail_msg("openapi.json:%d: %s", where.line, where.text);
    return doc;
}

static unsigned roles_of(const json_t *operation)
{
    const json_t *list = json_object_get(operation, "x-roles");
    unsigned may = 0;
    size_t i;
    json_t *word;
    if (json_is_string(list) && strcmp(json_string_value(list), "anybody") == 0)
        return CW_MAY_ANYBODY;
    json_array_foreach(list, i, word)
    {
        cw_role role = CW_ROLE_NONE;
        assert_true(cw_role_parse(json_string_value(word), &role));
        may |= CW_MAY(role);
    }
    return may;
}

static void test_table_and_contract(void **state)
{
    json_t *doc = load_contract(), *paths = json_object_get(doc, "paths"), *path, *operation;
    const char *name, *method;
    size_t described = 0, routes = 0;
    int wrong = 0;
    (void)state;
    for (const cw_route *r = cw_routes; r->path; r++, routes++) {
        operation = json_object_get(json_object_get(paths, r->path), methods[r->method]);
        if (operation == NULL) {
            print_error("%s %s is not described\n", methods[r->method], r->path);
            wrong++;
            continue;
        }
        bool body = json_object_get(operation, "requestBody") != NULL;
        if (roles_of(operation) != r->may || body != (r->body_cap > 0)) {
            print_error("%s %s: roles or body differ\n", methods[r->method], r->path);
            wrong++;
        }
    }
    json_object_foreach(paths, name, path)
    {
        json_object_foreach(path, method, operation)
        {
            bool found = false;
            for (const cw_route *r = cw_routes; r->path; r++)
                found = found || (strcmp(r->path, name) == 0 && strcmp(methods[r->method], method) == 0);
            if (!found) {
                print_error("%s %s is described, but there is no such route\n", method, name);
                wrong++;
            }
            described++;
        }
    }
    print_message("%zu routes, %zu described\n", routes, described);
    assert_int_equal(wrong, 0);
    json_decref(doc);
}

/* A small validator. `at` names the place for the message. */
static bool type_fits(const char *type, const json_t *v)
{
    return (strcmp(type, "object") == 0 && json_is_object(v)) ||
           (strcmp(type, "array") == 0 && json_is_array(v)) ||
           (strcmp(type, "string") == 0 && json_is_string(v)) ||
           (strcmp(type, "integer") == 0 && json_is_integer(v)) ||
           (strcmp(type, "number") == 0 && json_is_number(v)) ||
           (strcmp(type, "boolean") == 0 && json_is_boolean(v)) ||
           (strcmp(type, "null") == 0 && json_is_null(v));
}

static bool any_type_fits(const json_t *type, const json_t *v)
{
    size_t i;
    json_t *one;
    if (type == NULL)
        return true;
    if (json_is_string(type))
        return type_fits(json_string_value(type), v);
    json_array_foreach((json_t *)(uintptr_t)type, i, one)
    {
        if (type_fits(json_string_value(one), v))
            return true;
    }
    return false;
}

static int check_shape(const json_t *doc, const json_t *schema, const json_t *v, const char *at);

static int check_members(const json_t *doc, const json_t *schema, const json_t *v, const char *at)
{
    json_t *properties = json_object_get(schema, "properties"),
           *required = json_object_get(schema, "required"), *one;
    const char *name;
    size_t i;
    int wrong = 0;
    json_array_foreach(required, i, one)
    {
        if (json_object_get(v, json_string_value(one)) == NULL) {
            print_error("%s: %s is missing\n", at, json_string_value(one));
            wrong++;
        }
    }
    json_object_foreach(properties, name, one)
    {
        char deeper[300];
        const json_t *member = json_object_get(v, name);
        snprintf(deeper, sizeof deeper, "%s.%s", at, name);
        wrong += member ? check_shape(doc, one, member, deeper) : 0;
    }
    return wrong;
}

static int check_shape(const json_t *doc, const json_t *schema, const json_t *v, const char *at)
{
    const char *ref = json_string_value(json_object_get(schema, "$ref"));
    const json_t *items = json_object_get(schema, "items");
    size_t i;
    json_t *one;
    int wrong = 0;
    if (ref) {
        assert_int_equal(strncmp(ref, "#/components/schemas/", 21), 0);
        const json_t *schemas = json_object_get(json_object_get(doc, "components"), "schemas");
        return check_shape(doc, json_object_get(schemas, ref + 21), v, at);
    }
    if (!any_type_fits(json_object_get(schema, "type"), v)) {
        char *shown = json_dumps(v, JSON_ENCODE_ANY);
        print_error("%s: not of the described type: %.80s\n", at, shown);
        free(shown);
        return 1;
    }
    if (json_is_object(v))
        return check_members(doc, schema, v, at);
    json_array_foreach((json_t *)(uintptr_t)v, i, one)
    {
        wrong += items && wrong < 5 ? check_shape(doc, items, one, at) : 0;
    }
    return wrong;
}

static void load_demo(serving *s)
{
    glob_t found;
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { 0 };
    cw_table t = { 0 };
    cw_intake_file files[32] = { { 0 } };
    assert_int_equal(glob(CW_SOURCE_DIR "/scripts/demo-season/*.csv", 0, NULL, &found), 0);
    assert_true(found.gl_pathc <= 32);
    for (size_t i = 0; i < found.gl_pathc; i++)
        files[i].path = found.gl_pathv[i];
    s->t.who.today = cw_day_from_ymd(2032, 2, 20);
    s->t.who.now = s->t.who.today * CW_DAY_MS + 43200000;
    s->how.today = s->t.who.today;
    cw_check_ok(cw_intake_load(s->t.n, &s->t.who, files, found.gl_pathc, &(cw_intake_options){ 0 }, &t,
                               &errors, &err),
                &err);
    cw_table_free(&t);
    globfree(&found);
}

/* The example that the contract gives for a parameter, NULL if none. */
static const char *example_of(const json_t *operation, const char *where, const char *name, size_t length)
{
    json_t *p;
    size_t i;
    json_array_foreach(json_object_get(operation, "parameters"), i, p)
    {
        const char *its_name = json_string_value(json_object_get(p, "name"));
        if (strcmp(json_string_value(json_object_get(p, "in")), where) == 0 && strlen(its_name) == length &&
            strncmp(its_name, name, length) == 0)
            return json_string_value(json_object_get(p, "example"));
    }
    return NULL;
}

/* The path and query with the examples filled in. */
static void example_path(const json_t *operation, const char *pattern, char out[300])
{
    size_t n = 0, i, asked = 0;
    json_t *p;
    while (*pattern && n < 200) {
        size_t length = *pattern == '{' ? strcspn(pattern, "}") - 1 : 0;
        const char *value = length ? example_of(operation, "path", pattern + 1, length) : NULL;
        if (length == 0)
            out[n++] = *pattern++;
        else
            n += (size_t)snprintf(out + n, 300 - n, "%.60s", value ? value : "1");
        pattern += length ? length + 2 : 0;
    }
    out[n] = '\0';
    json_array_foreach(json_object_get(operation, "parameters"), i, p)
    {
        const char *name = json_string_value(json_object_get(p, "name"));
        const char *value = example_of(operation, "query", name, strlen(name));
        if (value && n < 250)
            n += (size_t)snprintf(out + n, 300 - n, "%s%s=%.40s", asked++ ? "&" : "?", name, value);
    }
}

static const json_t *schema_of(const json_t *operation, int status, const char *type)
{
    char code[8];
    snprintf(code, sizeof code, "%d", status);
    const json_t *response = json_object_get(json_object_get(operation, "responses"), code);
    return json_object_get(json_object_get(json_object_get(response, "content"), type), "schema");
}

static void test_answers(void **state)
{
    json_t *doc = load_contract();
    json_t *problem = json_pack("{s:s}", "$ref", "#/components/schemas/Problem");
    serving s;
    int wrong = 0, good = 0;
    (void)state;
    serving_make(&s, false);
    load_demo(&s);
    serving_start(&s);
    for (const cw_route *r = cw_routes; r->path; r++) {
        char path[300], type[512] = "";
        const json_t *operation =
            json_object_get(json_object_get(json_object_get(doc, "paths"), r->path), methods[r->method]);
        if (r->method != CW_GET)
            continue;
        example_path(operation, r->path, path);
        wire_reply reply = wire_ask(s.port, "GET", path, NULL, NULL);
        wire_header(&reply, "Content-Type", type);
        json_t *body = json_loads(reply.body ? reply.body : "", 0, NULL);
        if (reply.status == 200 && strcmp(type, "application/json") == 0) {
            const json_t *schema = schema_of(operation, 200, type);
            wrong += schema ? check_shape(doc, schema, body, path) : 0;
            good++;
        } else if (reply.status >= 400) {
            print_message("%s: %d %s\n", path, reply.status, reply.body);
            wrong += strcmp(type, "application/problem+json") != 0 || check_shape(doc, problem, body, path);
        }
        json_decref(body);
        wire_free(&reply);
    }
    print_message("%d answers have the described shape\n", good);
    assert_int_equal(wrong, 0);
    assert_true(good > 5);
    json_decref(problem);
    json_decref(doc);
    serving_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_table_and_contract),
        cmocka_unit_test(test_answers),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

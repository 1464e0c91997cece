/* SPDX-License-Identifier: MIT */
#include "support/schema.h"

#include "base/day.h"
#include <regex.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

typedef struct walk {
    const json_t *document;
    int wrong;
    bool silent; /* only tried: one of several */
} walk;

static void check(walk *w, const json_t *schema, const json_t *v, const char *at);

static void say(walk *w, const char *at, const char *what, const json_t *v)
{
    w->wrong++;
    if (w->silent || w->wrong > 10)
        return;
    char *shown = v ? json_dumps(v, JSON_ENCODE_ANY) : NULL;
    print_error("%s: %s: %.120s\n", at, what, shown ? shown : "");
    free(shown);
}

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
    if (json_is_string(type))
        return type_fits(json_string_value(type), v);
    for (size_t i = 0; i < json_array_size(type); i++)
        if (type_fits(json_string_value(json_array_get(type, i)), v))
            return true;
    return false;
}

static bool pattern_fits(const char *pattern, const char *s)
{
    regex_t r;
    assert_int_equal(regcomp(&r, pattern, REG_EXTENDED | REG_NOSUB), 0);
    bool fits = regexec(&r, s, 0, NULL, 0) == 0;
    regfree(&r);
    return fits;
}

static bool format_fits(const char *format, const char *s)
{
    cw_day day;
    cw_instant instant;
    if (strcmp(format, "date") == 0)
        return cw_day_parse(s, strlen(s), &day);
    assert_string_equal(format, "date-time");
    return cw_instant_parse(s, strlen(s), &instant);
}

static size_t characters(const char *s)
{
    size_t n = 0;
    for (; *s; s++)
        n += ((unsigned char)*s & 0xC0) != 0x80;
    return n;
}

static bool bound_fits(const char *key, const json_t *bound, const json_t *v)
{
    double b = json_number_value(bound);
    if (strcmp(key, "minimum") == 0)
        return !json_is_number(v) || json_number_value(v) >= b;
    if (strcmp(key, "maximum") == 0)
        return !json_is_number(v) || json_number_value(v) <= b;
    if (strcmp(key, "minLength") == 0)
        return !json_is_string(v) || (double)characters(json_string_value(v)) >= b;
    if (strcmp(key, "maxLength") == 0)
        return !json_is_string(v) || (double)characters(json_string_value(v)) <= b;
    if (strcmp(key, "minItems") == 0)
        return !json_is_array(v) || (double)json_array_size(v) >= b;
    assert_string_equal(key, "maxItems");
    return !json_is_array(v) || (double)json_array_size(v) <= b;
}

static bool among(const json_t *list, const json_t *v)
{
    for (size_t i = 0; i < json_array_size(list); i++)
        if (json_equal(json_array_get(list, i), v))
            return true;
    return false;
}

static bool one_fits(const walk *w, const json_t *list, const json_t *v)
{
    for (size_t i = 0; i < json_array_size(list); i++) {
        walk tried = { w->document, 0, true };
        check(&tried, json_array_get(list, i), v, "");
        if (tried.wrong == 0)
            return true;
    }
    return false;
}

static void check_members(walk *w, const json_t *schema, const json_t *v, const char *at)
{
    json_t *properties = json_object_get(schema, "properties"),
           *required = json_object_get(schema, "required"), *member;
    const char *name;
    char deeper[400];
    assert_true(
        json_is_false(json_object_get(schema, "additionalProperties"))); /* every object of ours is closed */
    for (size_t i = 0; i < json_array_size(required); i++) {
        snprintf(deeper, sizeof deeper, "%s.%s", at, json_string_value(json_array_get(required, i)));
        if (json_object_get(v, json_string_value(json_array_get(required, i))) == NULL)
            say(w, deeper, "is missing", NULL);
    }
    json_object_foreach((json_t *)(uintptr_t)v, name, member)
    {
        snprintf(deeper, sizeof deeper, "%s.%s", at, name);
        if (json_object_get(properties, name))
            check(w, json_object_get(properties, name), member, deeper);
        else
            say(w, deeper, "is not described", member);
    }
}

static void check_keyword(walk *w, const char *key, const json_t *rule, const json_t *v, const char *at)
{
    if (strcmp(key, "type") == 0) {
        if (!any_type_fits(rule, v))
            say(w, at, "is not of the described type", v);
    } else if (strcmp(key, "enum") == 0) {
        if (!among(rule, v))
            say(w, at, "is none of the described words", v);
    } else if (strcmp(key, "anyOf") == 0) {
        if (!one_fits(w, rule, v))
            say(w, at, "is nothing that is described", v);
    } else if (strcmp(key, "pattern") == 0) {
        if (json_is_string(v) && !pattern_fits(json_string_value(rule), json_string_value(v)))
            say(w, at, "does not fit the pattern", v);
    } else if (strcmp(key, "format") == 0) {
        if (json_is_string(v) && !format_fits(json_string_value(rule), json_string_value(v)))
            say(w, at, "does not fit the format", v);
    } else if (!bound_fits(key, rule, v)) {
        say(w, at, "is outside of the described bounds", v);
    }
}

static void check(walk *w, const json_t *schema, const json_t *v, const char *at)
{
    static const char *const elsewhere[] = { "properties", "required", "additionalProperties", "items",
                                             "description" };
    json_t *rule;
    const char *key;
    json_object_foreach((json_t *)(uintptr_t)schema, key, rule)
    {
        bool done = false;
        for (size_t i = 0; i < sizeof elsewhere / sizeof elsewhere[0]; i++)
            done = done || strcmp(key, elsewhere[i]) == 0;
        if (!done)
            check_keyword(w, key, rule, v, at);
    }
    if (json_is_object(v) && json_object_get(schema, "properties"))
        check_members(w, schema, v, at);
    const json_t *items = json_object_get(schema, "items");
    for (size_t i = 0; items && i < json_array_size(v) && w->wrong < 10; i++)
        check(w, items, json_array_get(v, i), at);
}

int schema_check(const json_t *document, const json_t *schema, const json_t *value, const char *at)
{
    walk w = { document, 0, false };
    assert_non_null(schema);
    check(&w, schema, value, at);
    return w.wrong;
}

/* SPDX-License-Identifier: MIT */
#include "base/shape.h"

#include "base/json.h"
#include "base/limits.h"
#include <string.h>

#include "base/banned.h"

const cw_shape cw_shape_texts = { .list = true, .type = CW_TEXT_T };
const cw_shape cw_shape_numbers = { .list = true, .type = CW_REAL_T };

bool cw_shape_has_rows(const cw_shape *s, const cw_table *t)
{
    while (s && s->of)
        s = s->of;
    return s && s->list && s->columns == t->columns && s->width == t->width;
}

static const struct {
    const char *type, *key, *value; /* key and value: what else is known of such texts */
} plain[] = {
    [CW_TEXT_T] = { "string", NULL, NULL },
    [CW_INT_T] = { "integer", NULL, NULL },
    [CW_REAL_T] = { "number", NULL, NULL },
    [CW_MONEY_T] = { "string", "pattern", "^-?[0-9]+\\.[0-9]{2}$" },
    [CW_DAY_T] = { "string", "format", "date" },
    [CW_INSTANT_T] = { "string", "format", "date-time" },
    [CW_WEEK_T] = { "string", "pattern", "^[0-9]{4}-W[0-9]{2}$" },
    [CW_BOOL_T] = { "boolean", NULL, NULL },
};

static json_t *words_list(const char *words, bool null)
{
    json_t *list = json_array();
    size_t n = 0;
    const char *w;
    while ((w = cw_word_next(&words, &n)) != NULL)
        cw_json_append_take(&list, json_stringn(w, n));
    if (null)
        cw_json_append_take(&list, json_null());
    return list;
}

json_t *cw_words_schema(const char *words)
{
    return words_list(words, false);
}

json_t *cw_type_schema(cw_type type, bool null, const char *words)
{
    json_t *o = json_object();
    cw_json_put_take(&o, "type",
                     null ? json_pack("[s,s]", plain[type].type, "null") : json_string(plain[type].type));
    if (plain[type].key)
        cw_json_put_take(&o, plain[type].key, json_string(plain[type].value));
    if (words)
        cw_json_put_take(&o, "enum", words_list(words, null));
    return o;
}

static json_t *number_schema(const cw_holds *h)
{
    json_t *o = cw_type_schema(h->type, false, NULL);
    bool whole = h->type == CW_INT_T;
    if (h->low == 0 && h->high == 0)
        return o;
    cw_json_put_take(&o, "minimum", whole ? json_integer((json_int_t)h->low) : json_real(h->low));
    cw_json_put_take(&o, "maximum", whole ? json_integer((json_int_t)h->high) : json_real(h->high));
    return o;
}

/* Caps are bytes, the schema's are characters: what is longer in characters is so in bytes. */
static json_t *text_schema(const cw_holds *h)
{
    double most = h->type == CW_CODE_T ? CW_MAX_CODE : h->high > 0 ? h->high : CW_MAX_NOTE;
    json_t *o = cw_type_schema(CW_TEXT_T, false, h->words);
    if (h->low > 0)
        cw_json_put_take(&o, "minLength", json_integer((json_int_t)h->low));
    if (h->words == NULL)
        cw_json_put_take(&o, "maxLength", json_integer((json_int_t)most));
    return o;
}

json_t *cw_value_schema(const cw_holds *h)
{
    switch (h->type) {
    case CW_INT_T:
    case CW_REAL_T:
        return number_schema(h);
    case CW_MONEY_T:
        return json_pack("{s:[s,s],s:s}", "type", "string", "number", "pattern", "^[0-9]+(\\.[0-9]{1,2})?$");
    case CW_COUNTRY_T:
        return json_pack("{s:s,s:s}", "type", "string", "description",
                         "A country of ISO 3166-1, by its code or by name; kept as the alpha-2 code.");
    case CW_TEXT_T:
    case CW_LINE_T:
    case CW_CODE_T:
    case CW_MAIL_T:
        return text_schema(h);
    default:
        return cw_type_schema(CW_CELL_TYPE(h->type), false, NULL);
    }
}

json_t *cw_schema_object(void)
{
    return json_pack("{s:s,s:{},s:[],s:b}", "type", "object", "properties", "required",
                     "additionalProperties", 0);
}

void cw_schema_member_take(json_t **object, const char *name, bool required, json_t *schema)
{
    json_t *o = *object;
    bool good = o && schema && json_object_set(json_object_get(o, "properties"), name, schema) == 0 &&
                (!required || json_array_append_new(json_object_get(o, "required"), json_string(name)) == 0);
    json_decref(schema);
    if (good)
        return;
    json_decref(o);
    *object = NULL;
}

json_t *cw_schema_says_take(json_t *schema, const char *says)
{
    if (says)
        cw_json_put_take(&schema, "description", json_string(says));
    return schema;
}

static json_t *part_schema(const cw_part *p)
{
    if (p->shape == NULL)
        return cw_type_schema(p->type, p->null, p->words);
    json_t *s = cw_shape_schema(p->shape);
    return p->null ? json_pack("{s:[o,{s:s}]}", "anyOf", s, "type", "null") : s;
}

static json_t *object_schema(const cw_shape *s)
{
    json_t *o = cw_schema_object();
    for (size_t i = 0; i < s->width; i++) {
        const cw_column *c = &s->columns[i];
        cw_schema_member_take(&o, c->name, true,
                              cw_schema_says_take(cw_type_schema(c->type, c->null, c->words), c->says));
    }
    for (const cw_part *p = s->parts; p && p->name; p++)
        cw_schema_member_take(&o, p->name, !p->lack, cw_schema_says_take(part_schema(p), p->says));
    return o;
}

json_t *cw_shape_schema(const cw_shape *s)
{
    json_t *one = s->of                    ? cw_shape_schema(s->of)
                  : s->make                ? s->make()
                  : s->columns || s->parts ? object_schema(s)
                                           : cw_type_schema(s->type, false, NULL);
    return s->list ? json_pack("{s:s,s:o}", "type", "array", "items", one) : one;
}

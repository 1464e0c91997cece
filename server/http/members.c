/* SPDX-License-Identifier: MIT */
#include "http/request.h"

#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* Reading of queries and JSON objects by shape. A query is texts; of JSON what is a text there too is read by the same reader, so
 * "2032-04-19" is the same day in both. */

/* A text that is needed is not empty either. */
cw_holds cw_member_holds(const cw_member *m)
{
    bool text = m->type == CW_TEXT_T && m->words == NULL;
    return (cw_holds){
        .type = m->type, .low = text && m->required ? 1 : m->low, .high = m->high, .words = m->words
    };
}

/* Puts the value where the handler's struct has it. */
static void put(const cw_member *m, const cw_value *v, const json_t *json, void *out)
{
    void *at = (char *)out + m->offset;
    switch (m->type) {
    case CW_INT_T:
    case CW_MONEY_T:
    case CW_INSTANT_T:
        *(int64_t *)at = v->i;
        break;
    case CW_REAL_T:
        *(double *)at = v->r;
        break;
    case CW_DAY_T:
        *(cw_day *)at = (cw_day)v->i;
        break;
    case CW_WEEK_T:
        *(cw_week *)at = (cw_week)v->i;
        break;
    case CW_BOOL_T:
        *(bool *)at = v->i != 0;
        break;
    case CW_LONG_T:
    case CW_LIST_T:
        *(const json_t **)at = json;
        break;
    default:
        *(const char **)at = v->t;
    }
}

static cw_code read_text(const cw_member *m, const char *s, void *out, cw_error *err)
{
    cw_holds h = cw_member_holds(m);
    cw_value v = { 0 };
    char why[CW_WHY_BYTES];
    if (!cw_value_parse(&h, s, strlen(s), &v))
        return cw_error_at(err, CW_REFUSED, NULL, 0, m->name, "%s", cw_value_why(&h, s, strlen(s), why));
    put(m, &v, NULL, out);
    return CW_OK;
}

static const cw_member *find(const cw_member *shape, const char *name)
{
    for (const cw_member *m = shape; m && m->name; m++)
        if (strcmp(m->name, name) == 0)
            return m;
    return NULL;
}

cw_code cw_query_read(const cw_request *q, void *out, cw_error *err)
{
    const cw_member *shape = q->route->contract->query;
    for (size_t i = 0; i < q->uri.pair_count; i++)
        if (find(shape, q->uri.pairs[i].name) == NULL)
            return cw_error_at(err, CW_USAGE, NULL, 0, q->uri.pairs[i].name,
                               "is no parameter of this address");
    for (const cw_member *m = shape; m && m->name; m++) {
        const char *s = cw_uri_value(&q->uri, m->name);
        if (s == NULL && m->required)
            return cw_error_at(err, CW_USAGE, NULL, 0, m->name, "is needed in the address");
        cw_code code = s ? read_text(m, s, out, err) : CW_OK;
        if (code != CW_OK)
            return code;
    }
    return CW_OK;
}

/* A list as long as it may be, and of texts if they are not objects. */
static cw_code read_list(const cw_member *m, long row, const json_t *v, void *out, cw_error *err)
{
    size_t n = json_array_size(v);
    if (!json_is_array(v) || (double)n < m->low || (double)n > m->high)
        return cw_error_at(err, CW_REFUSED, NULL, row, m->name, "must be a list of %.0f to %.0f %s", m->low,
                           m->high, m->each ? "objects" : "texts");
    for (size_t i = 0; i < n && m->each == NULL; i++)
        if (!json_is_string(json_array_get(v, i)))
            return cw_error_at(err, CW_REFUSED, NULL, (long)i + 1, m->name, "must be a text");
    put(m, NULL, v, out);
    return CW_OK;
}

static cw_code read_json(const cw_member *m, long row, const json_t *json, void *out, cw_error *err)
{
    cw_holds h = cw_member_holds(m);
    cw_value v = { 0 };
    char why[CW_WHY_BYTES];
    if (m->type == CW_LIST_T)
        return read_list(m, row, json, out, err);
    if (!cw_value_from_json(&h, json, &v))
        return cw_error_at(err, CW_REFUSED, NULL, row, m->name, "%s", cw_value_why_json(&h, json, why));
    put(m, &v, json, out);
    return CW_OK;
}

cw_code cw_object_read(const json_t *object, long row, const cw_member *shape, void *out, cw_error *err)
{
    const char *name;
    json_t *v;
    char shown[80];
    if (!json_is_object(object))
        return cw_error_at(err, CW_REFUSED, NULL, row, NULL, "an object is needed here");
    json_object_foreach((json_t *)object, name, v)
    {
        const cw_member *m = find(shape, name);
        if (m == NULL)
            return cw_error_at(err, CW_REFUSED, NULL, row, cw_shown(name, strlen(name), shown),
                               "is not known here");
        cw_code code = json_is_null(v) ? CW_OK : read_json(m, row, v, out, err);
        if (code != CW_OK)
            return code;
    }
    for (const cw_member *m = shape; m && m->name; m++) {
        v = json_object_get(object, m->name);
        if (m->required && (v == NULL || json_is_null(v)))
            return cw_error_at(err, CW_REFUSED, NULL, row, m->name, "is needed");
    }
    return CW_OK;
}

void cw_based_lift(cw_request *q)
{
    json_t *on = json_object_get(q->json, "based_on");
    if (q->route->contract->based == NULL || !json_is_object(on))
        return;               /* what is no object stays, and is refused with the other members */
    json_decref(q->based.on); /* of the first step, when the body is read for a second */
    json_decref(q->based.now);
    q->based = (cw_based){ .on = json_incref(on) };
    q->who.based = &q->based;
    json_object_del(q->json, "based_on");
}

cw_code cw_based_known(const cw_request *q, cw_error *err)
{
    const cw_part *parts = q->route->contract->based ? q->route->contract->based->parts : NULL;
    const char *name;
    json_t *v;
    char shown[80];
    json_object_foreach(q->based.on, name, v)
    {
        const cw_part *p = parts;
        while (p && p->name && strcmp(p->name, name) != 0)
            p++;
        if (p && p->name == NULL)
            return cw_error_at(err, CW_REFUSED, NULL, 0, "based_on", "this changes no %s",
                               cw_shown(name, strlen(name), shown));
    }
    return CW_OK;
}

cw_code cw_body_read(const cw_request *q, void *out, cw_error *err)
{
    const json_t *body = NULL;
    cw_code code = cw_body_json(q, &body, err);
    return code == CW_OK ? cw_object_read(body, 0, q->route->contract->body, out, err) : code;
}

/* SPDX-License-Identifier: MIT */
#include "http/request.h"

#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* Reading of queries and JSON objects by shape. A query is texts; of JSON the kinds that are texts there too
 * share the same reader, so "2032-04-19" is the same day in both. */

static void *place(const cw_member *m, void *out)
{
    return (char *)out + m->offset;
}

static bool open_range(const cw_member *m)
{
    return m->low == 0 && m->high == 0;
}

static cw_code out_of_range(const cw_member *m, long row, const char *shown, cw_error *err)
{
    if (open_range(m))
        return cw_error_at(err, CW_REFUSED, NULL, row, m->name, "is not a number: %s", shown);
    return cw_error_at(err, CW_REFUSED, NULL, row, m->name, "is not a number from %.15g to %.15g: %s", m->low,
                       m->high, shown);
}

static cw_code read_plain(const cw_member *m, long row, const char *s, void *out, cw_error *err)
{
    size_t most = m->high > 0 ? (size_t)m->high : CW_MAX_NOTE;
    if (strlen(s) > most)
        return cw_error_at(err, CW_REFUSED, NULL, row, m->name, "is longer than %zu bytes", most);
    if (cw_has_control(s, strlen(s), "\n\t"))
        return cw_error_at(err, CW_REFUSED, NULL, row, m->name, "has control characters");
    if (m->required && *s == '\0')
        return cw_error_at(err, CW_REFUSED, NULL, row, m->name, "is empty");
    *(const char **)place(m, out) = s;
    return CW_OK;
}

static cw_code read_word(const cw_member *m, long row, const char *s, void *out, cw_error *err)
{
    char shown[80];
    size_t n = strlen(s);
    for (const char *w = m->words; w; w = strchr(w, '|')) {
        w += *w == '|';
        if (n > 0 && strcspn(w, "|") == n && strncmp(w, s, n) == 0) {
            *(const char **)place(m, out) = s;
            return CW_OK;
        }
    }
    return cw_error_at(err, CW_REFUSED, NULL, row, m->name, "is none of %s: %s", m->words,
                       cw_shown(s, n, shown));
}

static cw_code read_text_kind(const cw_member *m, long row, const char *s, void *out, cw_error *err)
{
    size_t n = strlen(s);
    char shown[80];
    bool all = open_range(m);
    static const char *const want[] = {
        [CW_M_MONEY] = "an amount such as \"12.50\"",
        [CW_M_DAY] = "a day such as \"2032-04-19\"",
        [CW_M_INSTANT] = "an instant such as \"2032-01-31T09:15:00Z\"",
        [CW_M_WEEK] = "a week such as \"2032-W16\"",
        [CW_M_BOOL] = "yes or no",
    };
    bool good = false;
    switch (m->kind) {
    case CW_M_TEXT:
        return read_plain(m, row, s, out, err);
    case CW_M_WORD:
        return read_word(m, row, s, out, err);
    case CW_M_INT:
        good = cw_parse_int(s, n, all ? INT64_MIN : (int64_t)m->low, all ? INT64_MAX : (int64_t)m->high,
                            place(m, out));
        return good ? CW_OK : out_of_range(m, row, cw_shown(s, n, shown), err);
    case CW_M_REAL:
        good = cw_parse_real(s, n, all ? -1e300 : m->low, all ? 1e300 : m->high, place(m, out));
        return good ? CW_OK : out_of_range(m, row, cw_shown(s, n, shown), err);
    case CW_M_MONEY:
        good = cw_cents_parse(s, n, place(m, out));
        break;
    case CW_M_DAY:
        good = cw_day_parse(s, n, place(m, out));
        break;
    case CW_M_INSTANT:
        good = cw_instant_parse(s, n, place(m, out));
        break;
    case CW_M_WEEK:
        good = cw_week_parse(s, n, place(m, out));
        break;
    case CW_M_BOOL:
        good = cw_parse_bool(s, n, place(m, out));
        break;
    case CW_M_LONG:
    case CW_M_LIST:
        return cw_error_at(err, CW_USAGE, NULL, row, m->name, "cannot stand in an address");
    }
    if (good)
        return CW_OK;
    return cw_error_at(err, CW_REFUSED, NULL, row, m->name, "is not %s: %s", want[m->kind],
                       cw_shown(s, n, shown));
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
        cw_code code = s ? read_text_kind(m, 0, s, out, err) : CW_OK;
        if (code != CW_OK)
            return code;
    }
    return CW_OK;
}

/* Prices come as "12.50"; a number is taken too if it is a whole number of hundredths. */
static cw_code read_money_number(const cw_member *m, long row, double v, void *out, cw_error *err)
{
    double cents = v * 100;
    int64_t whole = cents >= 0 && cents <= (double)CW_MAX_CENTS ? (int64_t)(cents + 0.5) : -1;
    double off = cents - (double)whole;
    if (whole < 0 || off > 1e-6 || off < -1e-6)
        return cw_error_at(err, CW_REFUSED, NULL, row, m->name,
                           "is not an amount with at most two decimals: %.15g", v);
    *(cw_cents *)place(m, out) = whole;
    return CW_OK;
}

static cw_code read_json_number(const cw_member *m, long row, const json_t *v, void *out, cw_error *err)
{
    char shown[40];
    double r = json_number_value(v);
    bool inside = open_range(m) || (r >= m->low && r <= m->high);
    snprintf(shown, sizeof shown, "%.15g", r);
    if (m->kind == CW_M_MONEY)
        return read_money_number(m, row, r, out, err);
    if (m->kind == CW_M_INT && !json_is_integer(v))
        return cw_error_at(err, CW_REFUSED, NULL, row, m->name, "is not a whole number: %s", shown);
    if (!inside)
        return out_of_range(m, row, shown, err);
    if (m->kind == CW_M_INT)
        *(int64_t *)place(m, out) = json_integer_value(v);
    else
        *(double *)place(m, out) = r;
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
    *(const json_t **)place(m, out) = v;
    return CW_OK;
}

static cw_code read_json(const cw_member *m, long row, const json_t *v, void *out, cw_error *err)
{
    bool number_kind = m->kind == CW_M_INT || m->kind == CW_M_REAL;
    if (m->kind == CW_M_LIST)
        return read_list(m, row, v, out, err);
    if (m->kind == CW_M_LONG && json_is_string(v)) {
        *(const json_t **)place(m, out) = v;
        return CW_OK;
    }
    if (m->kind == CW_M_BOOL && json_is_boolean(v)) {
        *(bool *)place(m, out) = json_is_true(v);
        return CW_OK;
    }
    if (json_is_number(v) && (number_kind || m->kind == CW_M_MONEY))
        return read_json_number(m, row, v, out, err);
    if (json_is_string(v) && !number_kind && m->kind != CW_M_BOOL)
        return read_text_kind(m, row, json_string_value(v), out, err);
    return cw_error_at(err, CW_REFUSED, NULL, row, m->name, "should be %s",
                       number_kind            ? "a number"
                       : m->kind == CW_M_BOOL ? "true or false"
                                              : "a text");
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

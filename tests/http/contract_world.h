/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_HTTP_CONTRACT_WORLD_H
#define CW_TESTS_HTTP_CONTRACT_WORLD_H

/* For test_contract: a file that is served, what it has, and every GET asked of it with what it wants. */
#include "serving.h"

#include "desk/intake/intake.h"

/* What stands for a name in a path or a query; taken from the file that is asked. */
typedef struct world {
    serving s;
    char variety[40], other[40], lot[40], place[40], order[40], headers[512];
    long long line, cause, run, hold, wave, stop, pick, parcel, notice, claim, letter;
} world;

static bool good[ROUTES_MOST]; /* by route: answered well by some file */

static json_t *asked(world *w, int status, const char *method, const char *target, const char *body)
{
    wire_reply r = wire_ask(w->s.port, method, target, w->headers, body);
    if (status && r.status != status)
        fail_msg("%s %s %s: %d instead of %d: %.600s", method, target, body ? body : "", r.status, status,
                 r.body ? r.body : "");
    json_t *o = json_loads(r.body ? r.body : "", 0, NULL);
    wire_free(&r);
    return o;
}

/* A POST whose answer is of no further use. */
static void post(world *w, int status, const char *target, const char *format, ...) CW_PRINTF(4, 5);
static void post(world *w, int status, const char *target, const char *format, ...)
{
    char body[2000];
    va_list args;
    va_start(args, format);
    vsnprintf(body, sizeof body, format, args);
    va_end(args);
    json_decref(asked(w, status, "POST", target, body));
}

/* A member of the first row (or of the document) as text or number; "" and 0 when there is none. */
static void note_text(const json_t *list, const char *name, size_t row, char out[40])
{
    const json_t *o = json_is_array(list) ? json_array_get(list, row) : list;
    const char *s = json_string_value(json_object_get(o, name));
    snprintf(out, 40, "%s", s ? s : "");
}

static long long number(const json_t *list, const char *name)
{
    const json_t *o = json_is_array(list) ? json_array_get(list, 0) : list;
    return json_integer_value(json_object_get(o, name));
}

static long long asked_number(world *w, int status, const char *method, const char *target, const char *body,
                              const char *name)
{
    json_t *o = asked(w, status, method, target, body);
    long long n = number(o, name);
    json_decref(o);
    return n;
}

/* What the file has, so that it can be asked after. */
static void look_around(world *w)
{
    json_t *o = asked(w, 200, "GET", "/api/varieties", NULL);
    note_text(o, "code", 0, w->variety);
    note_text(o, "code", 1, w->other);
    json_decref(o);
    o = asked(w, 200, "GET", "/api/lots", NULL);
    note_text(o, "lot", 0, w->lot);
    json_decref(o);
    o = asked(w, 200, "GET", "/api/places", NULL);
    note_text(o, "place", 0, w->place);
    json_decref(o);
    o = asked(w, 200, "GET", "/api/orders", NULL);
    note_text(json_object_get(o, "items"), "order", 0, w->order);
    json_decref(o);
    w->line = 1;
}

/* The value of a {name} or a parameter; NULL: the file has none. Every name in the contract must stand here. */
static const char *value_of(const world *w, const char *name, size_t length, char out[64])
{
    const struct {
        const char *name, *value;
        long long number;
    } known[] = {
        { "code", w->variety, 0 },
        { "variety", w->variety, 0 },
        { "substitute", w->other, 0 },
        { "lot", w->lot, 0 },
        { "lots", w->lot, 0 },
        { "order", w->order, 0 },
        { "line", NULL, w->line },
        { "wave", NULL, w->wave },
        { "stop", NULL, w->stop },
        { "pick", NULL, w->pick },
        { "parcel", NULL, w->parcel },
        { "notice", NULL, w->notice },
        { "letter", NULL, w->letter },
        { "claim", NULL, w->claim },
        { "hold", NULL, w->hold },
        { "name", "office", 0 },
        { "task", "some-task-1", 0 },
        { "q", "1", 0 },
        { "page", "2", 0 },
        { "most", "3", 0 },
        { "beds", "40", 0 },
        { "keep", "5", 0 },
        { "room", "north", 0 },
        { "days", "7", 0 },
        { "before", "900", 0 },
        { "try", "", 0 },
        { "file", "orders.csv", 0 },
        { "fit", "racks", 0 },
        { "row", "r1", 0 },
        { "season", "2032", 0 },
        { "ship", "2033-04-18", 0 },
        { "leave_open", "yes", 0 },
        { "desk", "winter", 0 },
    };
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        if (strlen(known[i].name) != length || strncmp(known[i].name, name, length) != 0)
            continue;
        if (known[i].number > 0)
            snprintf(out, 64, "%lld", known[i].number);
        else
            snprintf(out, 64, "%s", known[i].value ? known[i].value : "");
        return out[0] ? out : NULL;
    }
    fail_msg("no value is known here for the name %.*s of the contract", (int)length, name);
    return NULL;
}

/* The path with its names filled in; false: the file has none of something. */
static bool fill_path(const world *w, const char *pattern, char out[300])
{
    char value[64];
    size_t n = 0;
    for (const char *at = pattern; *at; n = strlen(out)) {
        size_t length = *at == '{' ? strcspn(at, "}") - 1 : 0;
        if (length && value_of(w, at + 1, length, value) == NULL)
            return false;
        snprintf(out + n, 300 - n, "%.*s", length ? 64 : 1, length ? value : at);
        at += length ? length + 2 : 1;
    }
    return true;
}

/* A value of a parameter: by its kind, or of a text by its name; NULL: the file has none. */
static const char *sample(const world *w, const cw_member *m, char out[64])
{
    static const char *const by_kind[] = {
        [CW_MONEY_T] = "6.00",    [CW_DAY_T] = "2032-01-10", [CW_INSTANT_T] = "2032-01-10T00:00:00Z",
        [CW_WEEK_T] = "2032-W16", [CW_BOOL_T] = "yes",
    };
    if (m->words)
        snprintf(out, 64, "%.*s", (int)strcspn(m->words, "|"), m->words);
    else if (m->type == CW_REAL_T)
        snprintf(out, 64, "%g", m->high > 0 ? (m->low + m->high) / 2 : 1);
    else if (m->type == CW_INT_T && m->required)
        snprintf(out, 64, "%.0f", m->low + 1);
    else if (m->type <= CW_BOOL_T && by_kind[m->type])
        snprintf(out, 64, "%s", by_kind[m->type]);
    else
        return value_of(w, m->name, strlen(m->name), out);
    return out;
}

/* A GET with what it needs and one parameter more (NULL: none). */
static void get(world *w, const cw_route *r, const cw_member *more)
{
    char target[400], value[64], sign = '?';
    if (!fill_path(w, r->path, target))
        return;
    for (const cw_member *m = r->contract->query; m && m->name; m++) {
        size_t n = strlen(target);
        if (!m->required && m != more)
            continue;
        if (sample(w, m, value) == NULL)
            return;
        snprintf(target + n, sizeof target - n, "%c%s=%s", sign, m->name, value);
        sign = '&';
    }
    json_decref(asked(w, 0, "GET", target, NULL));
}

/* Every GET, bare and with each of its parameters. */
static void ask_all(world *w, bool each_parameter)
{
    const cw_route *r;
    for (size_t i = 0; (r = cw_route_at(i)); i++) {
        if (r->method != CW_GET)
            continue;
        get(w, r, NULL);
        for (const cw_member *m = r->contract->query; each_parameter && m && m->name; m++)
            if (!m->required)
                get(w, r, m);
    }
}

static void world_begin(world *w, bool people)
{
    *w = (world){ 0 };
    serving_make(&w->s, people);
    w->s.t.who.today = cw_day_from_ymd(2032, 2, 20);
    w->s.t.who.now = w->s.t.who.today * CW_DAY_MS + 43200000;
    w->s.how.today = w->s.t.who.today;
}

static void world_end(world *w)
{
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++)
        good[i] = good[i] || held_good[i] > 0;
    serving_free(&w->s);
}

static void load_texts(world *w, const char *const files[][2], size_t count)
{
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { 0 };
    cw_table t = { 0 };
    cw_intake_file in[16] = { { 0 } };
    assert_true(count <= 16);
    for (size_t i = 0; i < count; i++)
        in[i] = (cw_intake_file){ .name = files[i][0], .bytes = files[i][1], .length = strlen(files[i][1]) };
    cw_check_ok(
        cw_intake_load(w->s.t.n, &w->s.t.who, in, count, &(cw_intake_options){ 0 }, &t, &errors, &err), &err);
    cw_table_free(&t);
    cw_error_list_free(&errors);
}

#endif

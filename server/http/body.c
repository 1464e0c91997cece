/* SPDX-License-Identifier: MIT */
#include <string.h>

#include "base/json.h"
#include "http/http_inside.h"

#include "base/banned.h"

/* What bodies may cost. A body of JSON becomes many times its bytes when it is read: "{}," are three bytes, and an object of
 * the library takes two hundred. So
 *
 *     while it comes   its marks are counted (no more: whether it is JSON is seen later); one that goes deeper than any route
 *                      needs, or would cost more than its class may, is refused, and what came of it is given back
 *     while it waits   it is bytes only; large ones have a budget in common, beyond which the next is told to try later
 *     when it runs     it is read by the worker that runs it, and dropped when the handler has ended: there are no more read
 *                      bodies than workers. A list is read element by element: it costs no more than its largest.
 *
 * Costs are those of jansson 2.14 on 64 bits with glibc's malloc, rounded up: an object 256 bytes with its table, a list 144,
 * a member 112 with its place in the table, what is listed 80 (tests/http/test_memory holds them against the machine's). */
#define COST_OBJECT 256
#define COST_LIST   144
#define COST_MEMBER 112
#define COST_VALUE  80
#define DEEPEST     12 /* routes need 5 */
#define SMALL_COST  ((size_t)1 << 20)
#define BIG_COST    ((size_t)8 << 20) /* and 8 times its bytes */
#define FLAGS       JSON_REJECT_DUPLICATES

static size_t cost_cap(const cw_request *q)
{
    size_t cap = q->route ? q->route->body_cap : 0;
    return cap == CW_BIG_BODY ? BIG_COST + 8 * q->told : SMALL_COST; /* a load is a few long texts */
}

void cw_body_expect(cw_request *q, size_t length)
{
    q->told = length;
    if (length > CW_SMALL_BODY) {
        q->held = length;
        if (atomic_fetch_add(&q->server->bodies, length) + length > CW_BODIES_AT_ONCE) {
            cw_reply_problem_as(q, 503, "busy", "too much is waiting; try again in a moment");
            q->retry_after = 5;
            q->refused = true;
            return;
        }
    }
    cw_text_reserve(&q->body, length); /* growing would cost twice, and leave copies of secrets behind */
}

void cw_body_drop(cw_request *q)
{
    json_decref(q->json);
    q->json = NULL;
    cw_text_wipe(&q->body); /* a password may be in it */
    if (q->held == 0)
        return;
    atomic_fetch_sub(&q->server->bodies, q->held);
    atomic_store(&q->server->gave_back, true);
    q->held = 0;
}

/* One byte outside of texts. */
static void look_at(cw_glance *g, char c)
{
    bool first = g->depth == 1 && g->list && g->elements == 0 && strchr("] \t\r\n", c) == NULL;
    if (first)
        g->elements = 1;
    switch (c) {
    case '"':
        g->text = true;
        break;
    case '{':
    case '[':
        g->list = g->list || (c == '[' && !g->begun);
        g->cost += c == '{' ? COST_OBJECT : COST_LIST;
        g->depth++;
        g->deepest = g->depth > g->deepest ? g->depth : g->deepest;
        break;
    case '}':
    case ']':
        g->depth -= g->depth > 0;
        break;
    case ':':
        g->cost += COST_MEMBER;
        break;
    case ',':
        g->cost += COST_VALUE;
        if (g->list && g->depth == 1) { /* an element has ended */
            g->elements++;
            g->cost = 0;
        }
        break;
    default:
        break;
    }
    g->begun = g->begun || strchr(" \t\r\n", c) == NULL;
    g->dearest = g->cost > g->dearest ? g->cost : g->dearest;
}

void cw_glance_add(cw_glance *g, const char *bytes, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        if (!g->text)
            look_at(g, bytes[i]);
        else if (g->escaped)
            g->escaped = false;
        else if (bytes[i] == '\\')
            g->escaped = true;
        else if (bytes[i] == '"')
            g->text = false;
    }
}

void cw_body_add(cw_request *q, const char *bytes, size_t n)
{
    cw_text_addn(&q->body, bytes, n);
    cw_glance_add(&q->glance, bytes, n);
    if (q->body.starved) {
        cw_reply_problem_as(q, 503, "machine", "there is no memory for the body");
        q->retry_after = 5;
    } else if (q->body.failed) {
        cw_reply_problem_as(q, 413, "too-large", "the body is larger than this address takes");
    } else if (q->glance.deepest > DEEPEST) {
        cw_reply_problem_as(q, 400, "bad-request", "the body is nested deeper than any address needs");
    } else if (q->glance.dearest > cost_cap(q)) {
        cw_reply_problem_as(q, 413, "too-large", "the body has more in it than this address can use");
    }
    if (q->status == 0)
        return;
    q->refused = true;
    cw_body_drop(q);
}

static cw_code no_json(const cw_request *q, const char *text, int line, cw_error *err)
{
    long row = line;
    for (size_t i = 0; row > 0 && i < q->body_at; i++)
        row += q->body.data[i] == '\n';
    return cw_error_at(err, CW_USAGE, "body", row > 0 ? row : 0, NULL, "is not JSON: %.200s", text);
}

static json_t *read_json(const cw_request *q, size_t flags, json_error_t *where, cw_error *err)
{
    (void)cw_json_starved(); /* of before */
    json_t *v = json_loadb(q->body.data + q->body_at, q->body.length - q->body_at, FLAGS | flags, where);
    if (v == NULL && cw_json_starved())
        cw_error_memory(err);
    else if (v == NULL)
        no_json(q, where->text, where->line, err);
    return v;
}

static void skip_blanks(cw_request *q)
{
    while (q->body_at < q->body.length && strchr(" \t\r\n", q->body.data[q->body_at]) &&
           q->body.data[q->body_at])
        q->body_at++;
}

/* The byte at hand, NUL at the end (and for a NUL, which JSON has not). */
static char at_hand(cw_request *q)
{
    skip_blanks(q);
    return q->body_at < q->body.length ? q->body.data[q->body_at] : '\0';
}

size_t cw_body_elements(const cw_request *q)
{
    return q->glance.elements;
}

bool cw_body_is_list(const cw_request *q)
{
    return q->glance.list;
}

/* Before the first element stands the bracket, before each other one a comma. */
cw_code cw_body_next(cw_request *q, const json_t **out, cw_error *err)
{
    json_error_t where;
    char c = at_hand(q);
    json_decref(q->json);
    *out = q->json = NULL;
    if (c == '\0' || strchr(q->body_row == 0 ? "[" : ",]", c) == NULL)
        return no_json(q, "',' or ']' expected", 1, err);
    q->body_at++;
    if (c == '[' && at_hand(q) == ']') {
        c = ']';
        q->body_at++;
    }
    if (c == ']') {
        skip_blanks(q);
        return q->body_at == q->body.length ? CW_OK : no_json(q, "end of file expected", 1, err);
    }
    skip_blanks(q);
    q->json = read_json(q, JSON_DECODE_ANY | JSON_DISABLE_EOF_CHECK, &where, err);
    if (q->json == NULL)
        return err->code;
    q->body_at += (size_t)where.position;
    q->body_row++;
    *out = q->json;
    return CW_OK;
}

static void rewind_body(cw_request *q)
{
    q->body_at = q->body_row = 0;
}

/* The whole list is JSON, or nothing of it is carried out. */
static cw_code check_list(cw_request *q, cw_error *err)
{
    const json_t *element = NULL;
    cw_code code = CW_OK;
    rewind_body(q);
    do
        code = cw_body_next(q, &element, err);
    while (code == CW_OK && element);
    rewind_body(q);
    return code;
}

cw_code cw_body_open(cw_request *q, cw_error *err)
{
    json_error_t where;
    if (q->body.length == 0 || q->json)
        return CW_OK;
    if (q->glance.list) /* of one that is too long nothing is read */
        return q->glance.elements > CW_MAX_ORDERS_PER_POST ? CW_OK : check_list(q, err);
    q->json = read_json(q, 0, &where, err);
    if (q->json)
        cw_based_lift(q);
    return q->json ? CW_OK : err->code;
}

void cw_body_close(cw_request *q)
{
    json_decref(q->json);
    q->json = NULL;
    rewind_body(q);
}

cw_code cw_body_json(const cw_request *q, const json_t **out, cw_error *err)
{
    *out = q->json;
    if (q->glance.list)
        return cw_error_at(err, CW_REFUSED, NULL, 0, NULL, "an object is needed here");
    if (q->json == NULL)
        return cw_error_set(err, CW_USAGE, "a JSON body is needed");
    return cw_based_known(q, err);
}

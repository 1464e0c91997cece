/* SPDX-License-Identifier: MIT */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "clock.h"
#include "http/daemon_inside.h"

#include "base/banned.h"

/* The library's call-backs, in the order in which a request meets them:
 *
 *   target     the request line is there: the cw_request is made, its address parsed
 *   handle #1  the headers are there: hygiene, route, who, caps; may set a refusal
 *   handle ..  pieces of the body
 *   handle #n  all is there: a kept reply, a file, or suspend and off to a worker
 *   handle #n+1 resumed: the reply is sent
 *   completed  freed */
#define DISCARD_UP_TO                                                                                        \
    CW_SMALL_BODY /* a refused body is read away up to here, so that the client sees the refusal */

void *cw_daemon_target(void *self, const char *target, struct MHD_Connection *c)
{
    cw_request *q = calloc(1, sizeof *q);
    const union MHD_ConnectionInfo *wire = MHD_get_connection_info(c, MHD_CONNECTION_INFO_SOCKET_CONTEXT);
    if (q == NULL)
        return NULL;
    q->server = self;
    q->connection = c;
    q->wire = wire ? wire->socket_context : NULL;
    q->target_length = strlen(target);
    q->body = CW_TEXT(CW_BIG_BODY);
    q->bad_target = cw_uri_parse(target, q->target_length, &q->uri, NULL) != CW_OK;
    cw_wire_enter(q->wire, CW_PHASE_HEAD);
    return q;
}

void cw_daemon_completed(void *self, struct MHD_Connection *c, void **request,
                         enum MHD_RequestTerminationCode why)
{
    cw_server *s = self;
    cw_request *q = *request;
    (void)c;
    (void)why;
    *request = NULL;
    if (q == NULL)
        return;
    cw_wire_enter(q->wire, CW_PHASE_IDLE);
    if (q->counted)
        atomic_fetch_sub(&s->in_flight, 1);
    cw_request_free(q);
}

static const struct {
    const char *word;
    cw_method method;
} methods[] = {
    { "GET", CW_GET }, { "HEAD", CW_GET },    { "POST", CW_POST },
    { "PUT", CW_PUT }, { "PATCH", CW_PATCH }, { "DELETE", CW_DELETE },
};

static bool read_method(cw_request *q, const char *word)
{
    for (size_t i = 0; i < sizeof methods / sizeof methods[0]; i++)
        if (strcmp(methods[i].word, word) == 0) {
            q->method = methods[i].method;
            return true;
        }
    return false;
}

static const char *header(const cw_request *q, const char *name)
{
    return MHD_lookup_connection_value(q->connection, MHD_HEADER_KIND, name);
}

/* The clock in the nursery's zone, or the day given at the start with a clock that runs from its noon. */
static void set_now(cw_request *q)
{
    cw_server *s = q->server;
    q->who.clock = cw_clock_now();
    q->who.day_of = cw_clock_day;
    if (s->how.today != CW_NO_DAY) {
        q->who.today = s->how.today;
        q->who.now = (cw_instant)s->how.today * CW_DAY_MS + CW_DAY_MS / 2 + cw_clock_ticks() - s->begun_at;
        return;
    }
    q->who.now = q->who.clock;
    int64_t second = q->who.now / 1000, at = atomic_load(&s->day_at);
    if (at >> 20 != second) {
        at = (second << 20) | (int64_t)cw_clock_day(q->who.now);
        atomic_store(&s->day_at, at);
    }
    q->who.today = (cw_day)(at & 0xFFFFF);
}

static void note_session_use(cw_request *q);

static cw_code ask_door(cw_request *q, cw_error *err)
{
    cw_identity who;
    bool stale = false;
    cw_visit v = { .cookie = header(q, "Cookie"),
                   .authorization = header(q, "Authorization"),
                   .csrf = header(q, "X-CSRF-Token"),
                   .origin = header(q, "Origin"),
                   .fetch_site = header(q, "Sec-Fetch-Site"),
                   .host = header(q, "Host"),
                   .tls = q->tls,
                   .writes = q->method != CW_GET };
    cw_code code =
        cw_door_ask(q->server->door, &v, q->who.now, cw_clock_ticks(), &who, q->token, &stale, err);
    snprintf(q->actor, sizeof q->actor, "%s%s", who.program ? CW_KEY_ACTOR : "", who.name);
    cw_copy(q->csrf, sizeof q->csrf, who.csrf);
    q->who.actor = q->actor;
    q->who.role = who.role;
    q->person = who.person;
    q->program = who.program;
    q->who.program = who.program != 0;
    if (code == CW_OK && stale)
        note_session_use(q);
    return code;
}

static void allow_header(cw_request *q)
{
    static const char *const words[] = { "GET", "POST", "PUT", "PATCH", "DELETE" };
    cw_path_param params[CW_MAX_PATH_PARAMS];
    cw_text list = CW_TEXT(60);
    bool other = false;
    for (int m = CW_GET; m <= CW_DELETE; m++)
        if (cw_route_find((cw_method)m, q->uri.path, params, &other))
            cw_text_addf(&list, "%s%s", list.length ? ", " : "", words[m]);
    cw_copy(q->allow, sizeof q->allow, list.data ? list.data : "GET");
    cw_text_free(&list);
}

static bool is_page(const cw_request *q)
{
    return q->method == CW_GET && strncmp(q->uri.path, "/api/", 5) != 0 &&
           strncmp(q->uri.path, "/print/", 7) != 0;
}

static void find_route(cw_request *q)
{
    bool other = false;
    q->route = cw_route_find(q->method, q->uri.path, q->params, &other);
    if (q->route || is_page(q))
        return;
    if (other) {
        allow_header(q);
        cw_reply_problem_as(q, 405, "method", "this address does not take that method");
    } else {
        cw_reply_problem_as(q, 404, "not-found", "there is no such address");
    }
}

static void check_leave(cw_request *q)
{
    bool anybody = q->route->may == CW_MAY_ANYBODY;
    if (anybody || (CW_MAY(q->who.role) & q->route->may && q->who.role != CW_ROLE_NONE))
        return;
    if (q->who.role == CW_ROLE_NONE) {
        cw_reply_problem_as(q, 401, "sign-in", "sign in first, or send a key");
    } else {
        cw_reply_problem_as(q, 403, "forbidden", "this role may not do that");
        q->refusal = "role";
    }
}

/* The body's length as told, 0 without one. */
static int64_t told_length(const cw_request *q)
{
    const char *length = header(q, "Content-Length");
    int64_t n = 0;
    if (length == NULL)
        return 0;
    return cw_parse_int(length, strlen(length), 0, INT64_MAX, &n) ? n : INT64_MAX;
}

static void check_body(cw_request *q, int64_t length)
{
    const char *type = header(q, "Content-Type");
    size_t cap = q->route ? q->route->body_cap : CW_NO_BODY; /* a page takes none */
    if (length != 0 && cap == CW_NO_BODY)
        cw_reply_problem_as(q, 413, "too-large", "this address takes no body");
    else if ((uint64_t)length > cap)
        cw_reply_problem_as(q, 413, "too-large", "the body is larger than this address takes");
    else if (length != 0 && (type == NULL || strncasecmp(type, "application/json", 16) != 0 ||
                             (type[16] != '\0' && type[16] != ';' && type[16] != ' ')))
        cw_reply_problem_as(q, 415, "media-type", "the body must be application/json");
    q->body.max = cap ? cap : 1;
}

static void read_small_headers(cw_request *q)
{
    const char *key = header(q, "Idempotency-Key"), *match = header(q, "If-None-Match");
    const char *coding = header(q, "Accept-Encoding");
    q->gzip_ok = coding && strstr(coding, "gzip") != NULL && strstr(coding, "gzip;q=0") == NULL;
    cw_copy(q->none_match, sizeof q->none_match, match ? match : "");
    if (key == NULL || q->method == CW_GET)
        return;
    if (strlen(key) < 8 || strlen(key) > 100)
        cw_reply_problem_as(q, 400, "bad-request", "an Idempotency-Key has 8 to 100 bytes");
    else /* with the name, so that nobody gets an answer given to another */
        snprintf(q->key, sizeof q->key, "%.100s %.200s", key, q->author[0] ? q->author : q->actor);
}

/* A name in a header, escaped as in an address. False if it is none; empty if the header is absent. */
static bool read_name(const cw_request *q, const char *name, char out[CW_MAX_NAME + 1])
{
    const char *text = header(q, name);
    out[0] = '\0';
    if (text == NULL)
        return true;
    if (!cw_uri_decode(text, strlen(text), false, out, CW_MAX_NAME + 1) || out[0] == '\0')
        return false;
    return !cw_has_control(out, strlen(out), "");
}

/* What a device kept while it had no network goes by its author's name only, whoever is signed in there now, unless it was
 * handed over to them by name. A repeat is known by key and author, so one that went through before it was handed over
 * is not done again. */
static void read_author(cw_request *q)
{
    char to[CW_MAX_NAME + 1], detail[3 * CW_MAX_NAME + 120];
    if (q->method == CW_GET)
        return;
    if (!read_name(q, "X-Author", q->author) || !read_name(q, "X-Handed-To", to)) {
        cw_reply_problem_as(q, 400, "bad-request",
                            "X-Author and X-Handed-To are names, escaped as in an address");
        return;
    }
    if (q->author[0] == '\0' || strcmp(q->author, q->actor) == 0)
        return;
    q->handed = strcmp(to, q->actor) == 0;
    if (q->handed)
        return;
    snprintf(detail, sizeof detail,
             "%.200s entered this, and %.200s is signed in: %.200s signs in, or it is handed over by name",
             q->author, q->actor, q->author);
    cw_reply_problem_as(q, 409, "author", detail);
}

/* What the headers decide. Returns with q->status set if the request is refused. */
static void begin(cw_request *q, const char *method, const char *version)
{
    cw_error err = CW_ERROR_NONE;
    if (q->bad_target || cw_hygiene_check(q, q->target_length, method, version, &err) != CW_OK) {
        if (q->bad_target)
            cw_error_set(&err, CW_USAGE, "the address is not well formed");
        if (q->status == 0)
            cw_reply_problem(q, &err);
        q->refusal = "header";
        q->refused = true;
        return;
    }
    /* The library reads chunks more freely than RFC 9112 section 7.1 lets it; a server may ask for a length instead (6.3). */
    if (header(q, "Transfer-Encoding")) {
        cw_reply_problem_as(q, 411, "length-required",
                            "a body is taken with its Content-Length, not in chunks");
        q->refusal = "header";
        q->refused = true;
        return;
    }
    if (!read_method(q, method)) {
        allow_header(q);
        cw_reply_problem_as(q, 405, "method", "this method is not known here");
        return;
    }
    /* A browser that speaks TLS with the proxy speaks TLS. */
    const char *scheme = q->wire && q->wire->proxied ? header(q, "X-Forwarded-Proto") : NULL;
    q->tls = q->server->tls || (scheme && strcmp(scheme, "https") == 0);
    set_now(q);
    q->came_at = atomic_load(&q->server->writes);
    find_route(q);
    if (q->status)
        return;
    if (q->route && ask_door(q, &err) != CW_OK) {
        cw_reply_problem(q, &err);
        q->refusal = "origin";
    } else if (q->route) { /* a page is for everybody */
        check_leave(q);
    }
    if (q->status == 0)
        read_author(q);
    if (q->status == 0)
        check_body(q, told_length(q));
    if (q->status == 0)
        read_small_headers(q);
    if (q->status == 0 && q->route && q->route->access == CW_ROUTE_SLOW)
        cw_daemon_address(q);
    if (q->status == 0)
        cw_body_expect(q, (size_t)told_length(q));
}

static enum MHD_Result finish(cw_request *q)
{
    if (q->status)
        return cw_send(q);
    if (q->route == NULL)
        return cw_files_answer(q);
    if (atomic_load(&q->server->stopping)) {
        cw_reply_problem_as(q, 503, "stopping", "the server is being stopped");
        q->retry_after = 10;
    }
    if (q->status)
        return cw_send(q);
    if (q->route->access == CW_ROUTE_KEPT && q->uri.pair_count == 0)
        return cw_kept_answer(cw_kept_of(q->server, q->route), q);
    if (q->route->access == CW_ROUTE_NOW) {
        cw_error err = CW_ERROR_NONE;
        cw_request_run(q, q->route->handler, NULL, &err);
        return cw_send(q);
    }
    cw_task_enter(q, header(q, "X-Task"));
    cw_wire_enter(q->wire, CW_PHASE_WORK);
    MHD_suspend_connection(q->connection);
    cw_jobs_put(&q->server->jobs, q);
    return MHD_YES;
}

enum MHD_Result cw_daemon_handle(void *self, struct MHD_Connection *c, const char *url, const char *method,
                                 const char *version, const char *bytes, size_t *n, void **request)
{
    cw_server *s = self;
    cw_request *q = *request;
    (void)c;
    (void)url;
    if (q == NULL)
        return MHD_NO;
    if (!q->started) {
        q->started = true;
        q->counted = !atomic_load(&s->stopping); /* a stop waits only for what came before it */
        if (q->counted)
            atomic_fetch_add(&s->in_flight, 1);
        begin(q, method, version);
        cw_wire_enter(q->wire, CW_PHASE_BODY);
        q->refused = q->refused || (q->status && told_length(q) > DISCARD_UP_TO);
        return q->status && q->refused ? cw_send(q) : MHD_YES;
    }
    if (*n > 0) {
        if (q->status == 0)
            cw_body_add(q, bytes, *n);
        *n = 0;
        return MHD_YES;
    }
    return finish(q);
}

/* A session's last use, written down by the writer in its own time: a request without a connection. */
static cw_code seen(cw_request *q, cw_nursery *n, cw_error *err)
{
    return cw_accounts_seen(n, q->token, q->who.now, err);
}

static void note_session_use(cw_request *q)
{
    cw_request *note = calloc(1, sizeof *note);
    if (note == NULL)
        return; /* it will be noted a minute later */
    note->server = q->server;
    note->route = q->route;
    note->who = q->who;
    cw_copy(note->token, sizeof note->token, q->token);
    note->then = seen;
    cw_jobs_put(&q->server->jobs, note);
}

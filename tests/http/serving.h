/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_HTTP_SERVING_H
#define CW_TESTS_HTTP_SERVING_H

/* A running server over a nursery in a fresh folder, on a port that the system chose. */
#include "http/server.h"
#include "held.h"
#include "support/nursery.h"
#include "support/wire.h"

#include "desk/people/accounts.h"
#include <jansson.h>

typedef struct serving {
    test_nursery t; /* its handle is closed while the server runs */
    cw_serve how;
    cw_server *server;
    unsigned port;
} serving;

#define OWNER_PASSWORD "correct horse staple"

/* With `people`, there is one of each role, named as the role. */
static inline void serving_make(serving *s, bool people)
{
    static const cw_role roles[] = { CW_ROLE_OWNER, CW_ROLE_OFFICE, CW_ROLE_PACKER, CW_ROLE_CELLAR };
    cw_error err = CW_ERROR_NONE;
    test_nursery_make(&s->t);
    for (size_t i = 0; people && i < sizeof roles / sizeof roles[0]; i++)
        cw_check_ok(
            cw_accounts_add(s->t.n, &s->t.who, cw_role_word(roles[i]), roles[i], OWNER_PASSWORD, &err), &err);
    s->how = (cw_serve){ .path = s->t.path, .listen = "127.0.0.1:0", .today = s->t.who.today };
    s->server = NULL;
}

static inline void serving_start(serving *s)
{
    cw_error err = CW_ERROR_NONE;
    cw_nursery_close(s->t.n);
    s->t.n = NULL;
    cw_check_ok(cw_server_start(&s->how, &s->server, &err), &err);
    s->port = cw_server_port(s->server);
    held_begin();
}

/* Stops the server and takes the file back. */
static inline void serving_stop(serving *s)
{
    cw_error err = CW_ERROR_NONE;
    cw_server_stop(s->server);
    s->server = NULL;
    cw_check_ok(cw_nursery_open(s->t.path, CW_WORK, "test", &s->t.n, &err), &err);
}

static inline void serving_free(serving *s)
{
    if (s->server || s->t.n == NULL)
        serving_stop(s);
    test_nursery_check(&s->t);
    test_nursery_free(&s->t);
    held_end();
}

/* Status alone. */
static inline int serving_status(serving *s, const char *method, const char *target, const char *headers,
                                 const char *body)
{
    wire_reply r = wire_ask(s->port, method, target, headers, body);
    int status = r.status;
    wire_free(&r);
    return status;
}

/* The answer has this status, and these words (NULL: any). */
static inline void serving_want(const serving *s, const char *headers, const char *method, const char *target,
                                const char *body, int status, const char *words)
{
    wire_reply r = wire_ask(s->port, method, target, headers, body);
    if (r.status != status || (words && (r.body == NULL || strstr(r.body, words) == NULL)))
        fail_msg("%s %s: %d, want %d with %s: %s", method, target, r.status, status, words ? words : "",
                 r.body ? r.body : "");
    wire_free(&r);
}

/* Signs in; `headers` becomes the cookie and CSRF lines of the session. */
static inline void serving_sign_in(serving *s, const char *name, char headers[512])
{
    char body[256], cookie[512];
    snprintf(body, sizeof body, "{\"name\":\"%s\",\"password\":\"%s\"}", name, OWNER_PASSWORD);
    wire_reply r = wire_ask(s->port, "POST", "/api/session", NULL, body);
    assert_int_equal(r.status, 200);
    json_t *o = json_loads(r.body, 0, NULL);
    assert_non_null(o);
    assert_non_null(wire_header(&r, "Set-Cookie", cookie));
    snprintf(headers, 512, "Cookie: %.*s\r\nX-CSRF-Token: %s\r\n", (int)strcspn(cookie, ";"), cookie,
             json_string_value(json_object_get(o, "csrf")));
    json_decref(o);
    wire_free(&r);
}

#endif

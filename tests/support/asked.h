/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_ASKED_H
#define CW_TESTS_SUPPORT_ASKED_H

/* Requests as the daemon hands them to their handlers, without a daemon: by a person who is signed in, through both steps
 * where a route asks for a password. For programs that ask ten thousand times, which link with what cheap_passwords.h wants and
 * with -Wl,--wrap=cw_throttle_failed: wrong tries are not counted. */
#include "http/http_inside.h"
#include "support/cheap_passwords.h"
#include "support/factor.h"

#include "desk/people/accounts.h"

#define ASKED_FOREVER (1ULL << 40) /* secrets of a request begin here, those before it end earlier */

typedef struct asked {
    cw_server server;
    cw_asker who;
    char name[CW_MAX_NAME + 1], token[65];
} asked;

/* Random numbers that are the same ones each time, so that a reply with a secret in it can be compared. */
static _Atomic uint64_t asked_drawn;

static inline uint32_t asked_random(void)
{
    uint64_t z = atomic_fetch_add(&asked_drawn, 1) * 0x9E3779B97F4A7C15ULL;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ULL;
    return (uint32_t)(z >> 32);
}

static inline void asked_fill(void *const out, const size_t n)
{
    for (size_t i = 0; i < n; i++)
        ((unsigned char *)out)[i] = (unsigned char)asked_random();
}

static inline const char *asked_source(void)
{
    return "repeats";
}

/* Before anything asks for a random number. */
static inline void asked_repeat(void)
{
    static struct randombytes_implementation repeats = { .implementation_name = asked_source,
                                                         .random = asked_random,
                                                         .buf = asked_fill };
    assert_int_equal(randombytes_set_implementation(&repeats), 0);
}

bool __wrap_cw_throttle_failed(cw_door *d, const cw_try *t, int64_t ticks);

bool __wrap_cw_throttle_failed(cw_door *d, const cw_try *t, int64_t ticks)
{
    (void)d;
    (void)t;
    (void)ticks;
    return false;
}

/* `name` signs in, and stays so. */
static inline void asked_sign_in(asked *a, test_nursery *t, const char *name, const char *password)
{
    cw_error err = CW_ERROR_NONE;
    cw_identity who;
    char token[CW_TOKEN_TEXT];
    cw_check_ok(cw_accounts_verify(t->n, name, password, &who, &err), &err);
    cw_check_ok(cw_accounts_open(t->n, &t->who, &who, NULL, token, &err), &err);
    cw_accounts_digest(token, a->token);
    cw_copy(a->name, sizeof a->name, name);
    a->who = t->who;
    a->who.actor = a->name;
    a->who.role = who.role;
    cw_check_ok(cw_door_open(t->path, &a->server.door, &err), &err);
}

/* `on` has a second factor, `begun` has begun one; of secrets that are the same ones each time, so that the bodies of the fuzz
 * target can hold codes of them. */
static inline void asked_factors(test_nursery *t, const char *on, const char *begun)
{
    cw_error err = CW_ERROR_NONE;
    cw_asker who = t->who;
    cw_factor_secret secret;
    cw_factor_codes codes;
    char code[CW_TOTP_DIGITS + 1];
    atomic_store(&asked_drawn, 2 * ASKED_FOREVER);
    who.actor = on;
    cw_check_ok(cw_factor_begin(t->n, &who, &secret, &err), &err);
    test_factor_code(t, on, 0, code);
    cw_check_ok(cw_factor_turn_on(t->n, &who, code, "", &codes, &err), &err);
    who.actor = begun;
    cw_check_ok(cw_factor_begin(t->n, &who, &secret, &err), &err);
}

static inline void asked_free(asked *a)
{
    cw_door_close(a->server.door);
}

static inline void asked_prepare(asked *a, cw_request *q)
{
    q->server = &a->server;
    q->who = a->who;
    cw_copy(q->actor, sizeof q->actor, a->name);
    cw_copy(q->token, sizeof q->token, a->token);
    cw_copy(q->csrf, sizeof q->csrf, "csrf");
    cw_copy(q->address, sizeof q->address, "192.0.2.1");
    atomic_store(&asked_drawn, ASKED_FOREVER);
}

/* As if it had come over the wire. */
static inline void asked_body(cw_request *q, const char *bytes, size_t n)
{
    q->body = CW_TEXT(CW_MAX_BODY_BYTES);
    cw_text_addn(&q->body, bytes, n);
    cw_glance_add(&q->glance, bytes, n);
}

/* What a reader and then, if the route wants it, the writer do. */
static inline cw_code asked_run(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_code code = cw_body_open(q, err);
    if (code == CW_OK)
        code = q->route->handler(q, n, err);
    if (code == CW_OK && q->then) {
        cw_handler then = q->then;
        q->then = NULL;
        code = then(q, n, err);
    }
    cw_body_close(q);
    return code;
}

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_WIRE_H
#define CW_TESTS_SUPPORT_WIRE_H

/* A bare HTTP client over a loopback socket, so that tests send exactly the bytes that they mean. Every wait is bounded
 * (WIRE_MS); a test that hangs fails. */
#include <stdbool.h>
#include <stddef.h>

#ifdef __SANITIZE_THREAD__
#define WIRE_MS 300000 /* a load of all that fits takes a minute then, more on a busy machine */
#else
#define WIRE_MS 10000
#endif

typedef struct wire_reply {
    int status;        /* 0: the connection was closed, or nothing came in time */
    char *head, *body; /* NUL-terminated; freed by wire_free */
    size_t body_length;
    bool closed; /* the server closed the connection after it */
} wire_reply;

int wire_open(unsigned port); /* -1: refused */
bool wire_send(int fd, const char *bytes, size_t n);
wire_reply wire_read(int fd); /* one reply, by its Content-Length */
void wire_free(wire_reply *r);
bool wire_is_closed(int fd, int ms); /* the other side closes within ms */
const char *wire_header(const wire_reply *r, const char *name, char out[512]); /* NULL if absent */

/* One request on a connection of its own. `headers` are lines ended by CRLF, may be NULL; body may be NULL. */
wire_reply wire_ask(unsigned port, const char *method, const char *target, const char *headers,
                    const char *body);

/* The same on an open connection. */
wire_reply wire_ask_on(int fd, const char *method, const char *target, const char *headers, const char *body);

/* Sees each reply of wire_ask and wire_ask_on and what was asked (body may be NULL). Also called by the threads of a test. */
typedef void (*wire_watcher)(const char *method, const char *target, const char *body,
                             const wire_reply *reply);
extern wire_watcher wire_watch; /* NULL: nobody does */

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_SERVER_HTTP_H
#define CW_SERVER_HTTP_H

#include "desk/nursery/nursery.h"

/* The running server: one nursery file, one listening address. It opens the file for work, so it is its only writer, and
 * closes it again when it is stopped.
 *
 *     pool of 2 epoll threads: parse, who is it, bytes that are at hand already
 *         | suspend                                   ^ resume
 *         v                                           |
 *     3 readers, each with a CW_LOOK nursery  ---->  reply
 *     1 writer, the CW_WORK nursery: takes what is queued, one COMMIT for all of it, then replies */
typedef struct cw_server cw_server;

typedef struct cw_serve {
    const char *path;        /* nursery file */
    const char *const *past; /* files of past seasons, to be looked into */
    size_t pasts;
    const char *listen;     /* "127.0.0.1:8473", "[::1]:0"; port 0 lets the system choose */
    const char *cert, *key; /* PEM files; both or neither */
    const char *web;        /* folder of the built pages, NULL: none */
    /* address of the reverse proxy whose X-Forwarded-For is believed, NULL: none */
    const char *trusted_proxy;
    const char *host;        /* a further name under which browsers reach it, may be NULL */
    const char *backup_dir;  /* NULL: no backups */
    const char *standby;     /* folder to which an engine of its own copies the file, NULL: none is known */
    unsigned backup_minutes; /* between two of them; 0: 60 */
    bool insecure_lan;       /* leave to listen beyond this machine without TLS */
    cw_day today;            /* CW_NO_DAY: the clock's */
    unsigned per_address;    /* connections that one address may hold; 0: 100 */
    unsigned header_ms, body_ms; /* deadlines of a slow client; 0: 20 s and 60 s */
    long mail_ms;                /* patience with an answer of the mail server; 0: ten minutes */
    long hook_ms;                /* patience with a shop that is told; 0: ten seconds */
    unsigned read_ms;            /* that a reading request may be worked on; 0: base/limits.h says */
    unsigned refine_ms;          /* of rest before figures are worked out whole; 0: a second */
    int again_ms;                /* a list that took as long is kept for who asks again; 0: 20; -1: any */
    /* in a fleet: the only Host it goes by, and connections come over `handed`; else NULL */
    const char *fleet_name;
    int handed;
    struct cw_turns *turns; /* of the fleet at what costs much memory (http/turns.h); NULL: none are shared */
    void (*say)(const char *line); /* told what an operator should know; no personal data; may be NULL */
} cw_serve;

/* All of `how` is borrowed until stop. Errors: CW_REFUSED for an address that may not be listened on (with what to do),
 * CW_MACHINE for a port in use, a bad certificate, a locked file. */
cw_code cw_server_start(const cw_serve *how, cw_server **out, cw_error *err) CW_MUST_CHECK;
unsigned cw_server_port(const cw_server *s);
const char *cw_server_url(const cw_server *s);  /* "http://127.0.0.1:8473" */
bool cw_server_open_to_all(const cw_server *s); /* there are no accounts yet */

/* Written requests and the commits that they shared, and lists that were given again, since the start. */
typedef struct cw_served {
    uint64_t written, groups, again;
} cw_served;
cw_served cw_server_served(const cw_server *s);

/* Takes no new request, finishes what it took within two seconds, and gives up what takes longer: it changes nothing then, and
 * is answered 503. Closes the file. All of it takes 5 s at most. NULL is fine. */
void cw_server_stop(cw_server *s);

#endif

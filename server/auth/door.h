/* SPDX-License-Identifier: MIT */
#ifndef CW_SERVER_DOOR_H
#define CW_SERVER_DOOR_H

#include "desk/people/accounts.h"

/* Who is at the door, and may they come in? Knows cookies, keys, CSRF tokens, origins and throttling, but no HTTP library:
 * the headers are handed in. Safe for many threads.
 *
 * Order of the questions: a key, else a session, else nobody. Without accounts everybody is the owner "local" (the server
 * listens on the own machine only then). What a browser sends by itself (a cookie) counts for a write only together with
 * the CSRF token and an own origin. */
typedef struct cw_door cw_door;

typedef struct cw_visit {
    /* headers; NULL if absent; borrowed */
    const char *cookie, *authorization, *csrf, *origin, *fetch_site, *host;
    bool tls;
    bool writes; /* method is not GET */
} cw_visit;

cw_code cw_door_open(const char *path, cw_door **out, cw_error *err) CW_MUST_CHECK;
void cw_door_close(cw_door *d);

/* *who is nobody (role CW_ROLE_NONE, CW_OK) when nothing good was shown. CW_FORBIDDEN: a write that its page did not send.
 * `digest` gets the session's, empty if it is none; *stale tells that its last use should be written down again. */
cw_code cw_door_ask(cw_door *d, const cw_visit *v, cw_instant now, int64_t ticks, cw_identity *who,
                    char digest[65], bool *stale, cw_error *err) CW_MUST_CHECK;
bool cw_door_no_accounts(cw_door *d);
void cw_door_changed(cw_door *d); /* people, sessions or keys changed: forget what was known */

/* Name of the cookie under TLS or not, and the cookie's text for a token (NULL: delete it). */
void cw_door_cookie(bool tls, const char *token, char *out, size_t size);

/* One try at a secret. Who guesses must wait, and nobody else:
 *
 *   at sign-in       by name and address together, 5 free tries; by address, whatever the names, 20; and by name, whatever the
 *                    addresses, 30, since guesses can come from many. The last does not hold for an address from which this
 *                    person signed in well before (KNOWN_PLACES of them are remembered while the program runs): an owner is
 *                    not locked out of the place where they work
 *   in a session     by session alone: what others guess elsewhere does not touch it
 *   codes            of a second factor by account and by address, for who tries them knows the password */
typedef struct cw_try {
    const char *name, *address; /* borrowed */
    const char *session;        /* digest of the session that the try is made in, "" for none */
    bool code;
} cw_try;

/* Seconds to wait before this try may be made, 0 for none. A wrong try is told with _failed (true when from now on it has to
 * wait), a right one with _passed. */
int cw_throttle_wait(cw_door *d, const cw_try *t, int64_t ticks);
bool cw_throttle_failed(cw_door *d, const cw_try *t, int64_t ticks);
void cw_throttle_passed(cw_door *d, const cw_try *t);

#endif

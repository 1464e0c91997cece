/* SPDX-License-Identifier: MIT */
#ifndef CW_SERVER_PEOPLE_H
#define CW_SERVER_PEOPLE_H

#include "http/route.h"

/* For the routes of accounts only: signing in and out, who asks once more, and telling the door that accounts changed. */
int cw_request_wait(const cw_request *q, const char *name); /* seconds until a sign-in may be tried, 0: now */
void cw_request_tried(cw_request *q, const char *name, bool good);
/* The same for the codes of a second factor. They have a count of their own, which a right password does not clear. */
int cw_request_code_wait(const cw_request *q, const char *name);
void cw_request_code_tried(cw_request *q, const char *name, bool good);
void cw_request_account(cw_request *q, int64_t person); /* whose account is tried, for the log; 0: nobody's */
void cw_request_cookie(cw_request *q, const char *token); /* NULL: delete it */
const char *cw_request_session(const cw_request *q);      /* digest of the session, "" without one */
const char *cw_request_csrf(const cw_request *q);         /* "" without a session */
bool cw_request_no_accounts(const cw_request *q);
/* Before the reply is made: people, sessions or keys changed, or the reply tells a secret. The door forgets what it knew; the
 * reply is not kept for repeats and its bytes are overwritten when they have left. */
void cw_request_accounts_changed(cw_request *q);

/* 429 and how long to wait; 401. */
cw_code cw_reply_wait(cw_request *q, int seconds);
cw_code cw_reply_unknown(cw_request *q, const char *detail);

/* Runs `step` on the writer after this handler has returned CW_OK. `keep` (may be NULL, freed with the request) is handed
 * on: cw_request_kept gives it back. */
void cw_request_then_write(cw_request *q, cw_handler step, void *keep);

/* What must not be done by whoever finds a page left open: in a session `current` has to be the asker's own password
 * (throttled as a sign-in is), then `step` runs on the writer. A key proves itself with every request, and without accounts
 * there is nothing to prove. For a SLOW route. CW_REFUSED without `current`, CW_FORBIDDEN if it is wrong. */
cw_code cw_request_prove(cw_request *q, cw_nursery *n, const char *current, cw_handler step,
                         cw_error *err) CW_MUST_CHECK;
#define CW_CURRENT_MEMBER(type)                                                                              \
    {                                                                                                        \
        "current", CW_TEXT_T, offsetof(type, current), false, 0, 512, NULL                                   \
    }
void *cw_request_kept(const cw_request *q);

#endif

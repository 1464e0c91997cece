/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_HOOK_H
#define CW_DESK_HOOK_H

#include "base/text.h"
#include "desk/post/account.h"
#include "desk/post/outbox.h"

/* How does a shop hear of it by itself when what it may sell, or the state of an order, changes?
 *
 * By a signed POST to its address (Standard Webhooks 1.0: webhook-id, webhook-timestamp, webhook-signature), beside the asking
 * (GET /api/availability), which stays. It waits in the outbox as letters do:
 *
 *  1. What is told is what is, not each step on the way: whatever differs from what was told last goes in one message, and while
 *     that waits nothing else is written. A shop that was away hears the newest state once, and nothing out of order.
 *  2. A message has one id for good, however often it is tried; each try has its own time. So a shop knows a repeat by its id, and
 *     one that somebody kept by its time. An answer that was lost means a repeat, never a loss.
 *  3. An answer of 2xx is taken; 400, 410, 413, 415 and 422 are refused for good, in the shop's words (after 410, "gone", all stop);
 *     whatever else, or none, is tried again after 1, 2, 4 ... 60 minutes, CW_OUTBOX_TRIES times. Nobody is redirected.
 *  4. Nothing leaves before this address and secret took a test. A new address is another shop: it gets a new secret, and is told
 *     all from the beginning.
 *  5. No buyer stands in it: codes, figures, order numbers, weeks, tracking numbers. */
#define CW_HOOK_MOST 200 /* varieties and orders in one message */

/* {address, set, elsewhere, trouble, tested, stopped, waits, sent, refused} */
extern const cw_shape cw_hook_view_shape;
cw_code cw_hook_view(cw_nursery *n, const cw_asker *who, json_t **out, cw_error *err) CW_MUST_CHECK;

/* The owner's. `secret` is told here and never again. CW_REFUSED: without TLS only on this machine itself. */
cw_code cw_hook_set(cw_nursery *n, const cw_asker *who, const char *address,
                    char secret[CW_MAX_HOOK_SECRET + 1], cw_error *err) CW_MUST_CHECK;
cw_code cw_hook_forget(cw_nursery *n, const cw_asker *who, cw_error *err) CW_MUST_CHECK;
cw_code cw_hook_test(cw_nursery *n, const cw_asker *who, cw_error *err) CW_MUST_CHECK;

/* The office's. Going on, what waits is due at once. */
cw_code cw_hook_stop(cw_nursery *n, const cw_asker *who, bool stopped, cw_error *err) CW_MUST_CHECK;

/* For the thread that carries it (server/http/poster.c): what is to be told, as a reader finds it. Zeroed before the first look, and
 * kept for the next. */
typedef struct cw_hook_look {
    bool due; /* something waits, or has changed */
    size_t count;
    struct cw_changed *changed; /* CW_HOOK_MOST of them; owned */
    int64_t stock, trade;       /* the last time nothing had changed */
    cw_instant at;
} cw_hook_look;
cw_code cw_hook_waits(cw_nursery *n, cw_instant now, cw_hook_look *look, cw_error *err) CW_MUST_CHECK;
void cw_hook_look_free(cw_hook_look *look);

typedef struct cw_hook_message {
    int64_t id;    /* 0: nothing is to be carried now */
    char name[40]; /* the webhook-id */
    bool test;
    cw_text body;
    cw_hook_account account;
} cw_hook_message;
void cw_hook_message_free(cw_hook_message *m);

/* Writes what changed into the outbox, unless something waits there, and puts on record that the next one goes; to be committed before
 * it does. */
cw_code cw_hook_take(cw_nursery *n, const cw_asker *who, const cw_hook_look *look, cw_hook_message *out,
                     cw_error *err) CW_MUST_CHECK;
/* `gone`: the shop says that nothing is to come to this address ever again. */
cw_code cw_hook_told(cw_nursery *n, const cw_asker *who, const cw_hook_message *m, cw_carried how, bool gone,
                     const char *words, cw_error *err) CW_MUST_CHECK;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_OUTBOX_H
#define CW_DESK_OUTBOX_H

#include "base/text.h"
#include "desk/post/account.h"

/* Which letters leave by themselves, and what became of each?
 *
 *   queue ──▶ waits ──take──▶ going ──told──▶ sent      the server took it; its notice is on record as sent
 *               ▲ ▲             ├───────────▶ waits     not now: again after 1, 2, 4 ... 60 minutes
 *               │ └─────────────┤
 *               └────again──────┼───────────▶ refused   for good, in the server's words; or 100 tries were in vain
 *                               └───────────▶ unsure    it was handed over whole, and no answer came
 *
 *  1. The same letter never goes twice by itself. It is `going` on record before the server hears of it. If the program, the
 *     machine or the line ends between the letter's last byte and the server's answer, nobody here can know whether it was taken:
 *     it is then unsure, and a person says which (RFC 5321 6.1 leaves the doubt to the sender). So we err on the side of a letter
 *     that did not leave, never of one that left twice.
 *  2. A letter has one Message-ID for good, however often it is tried.
 *  3. Nothing leaves before the account took a test letter to the nursery's own address. Another server, user or sender is another
 *     account.
 *  4. What is no more true (its notice is withdrawn, settled by hand, or the buyer is forgotten) does not leave any more.
 *  5. When the server itself fails (no line, no sign-in, "try later" to everybody), all wait, for 1, 2, 4 ... 60 minutes.
 *
 * Instants are the machine's clock (cw_asker.clock), whatever day is told. */
#define CW_OUTBOX_TRIES 100 /* four days: RFC 5321 4.5.4.1 says at least 4 to 5 */

/* Of a way out: {server, user, per_minute, account, elsewhere, trouble, sender, tested, stopped, quiet_until, words, waits, sent,
 * refused, unsure}. */
extern const cw_shape cw_post_view_shape;
cw_code cw_post_view(cw_nursery *n, const cw_asker *who, json_t **out, cw_error *err) CW_MUST_CHECK;

/* The owner's. password NULL: it stays, if server and user do. CW_REFUSED: without TLS only on this machine itself. */
cw_code cw_post_account_set(cw_nursery *n, const cw_asker *who, const char *server, const char *user,
                            const char *password, const char *authority, int64_t per_minute,
                            cw_error *err) CW_MUST_CHECK;
cw_code cw_post_account_forget(cw_nursery *n, const cw_asker *who, cw_error *err) CW_MUST_CHECK;

cw_code cw_post_test(cw_nursery *n, const cw_asker *who, cw_error *err) CW_MUST_CHECK;

/* Letters of notices. Those that are no longer so are withdrawn first, as cw_notices_make does. */
typedef struct cw_post_queued {
    int64_t queued, known, addressless, settled; /* known: in the outbox already; settled: not due any more */
} cw_post_queued;
cw_code cw_post_letters(cw_nursery *n, const cw_asker *who, const int64_t *notices, size_t count,
                        cw_post_queued *out, cw_error *err) CW_MUST_CHECK;

cw_code cw_post_stop(cw_nursery *n, const cw_asker *who, bool stopped, cw_error *err) CW_MUST_CHECK;
cw_code cw_post_again(cw_nursery *n, const cw_asker *who, int64_t letter, cw_error *err) CW_MUST_CHECK;
cw_code cw_post_remove(cw_nursery *n, const cw_asker *who, int64_t letter, cw_error *err) CW_MUST_CHECK;

/* letter,kind,state,notice,order,email,tries,next_at,queued_at,queued_by,done_at,words, the newest first. state NULL: all. */
extern const cw_shape cw_post_list_shape;
cw_code cw_post_list(cw_nursery *n, const cw_asker *who, const char *state, cw_table *out,
                     cw_error *err) CW_MUST_CHECK;

/* For the thread that carries letters (server/http/poster.c): */
typedef struct cw_post_letter {
    int64_t id; /* 0: nothing is to be carried now */
    char from[256], to[256];
    cw_text message;
    cw_mail_account account;
} cw_post_letter;
void cw_post_letter_free(cw_post_letter *l);

typedef enum cw_carried {
    CW_CARRIED_TAKEN,
    CW_CARRIED_LATER,   /* this one not now */
    CW_CARRIED_REFUSED, /* this one never */
    CW_CARRIED_DOWN,    /* nothing now: the way there, the sign-in, the server */
    CW_CARRIED_UNSURE,
    CW_CARRIED_STOPPED, /* we were asked to stop */
} cw_carried;

cw_code cw_post_waits(cw_nursery *n, cw_instant now, bool *out, cw_error *err) CW_MUST_CHECK;
/* Puts on record that it goes; to be committed before it does. */
cw_code cw_post_take(cw_nursery *n, const cw_asker *who, cw_post_letter *out, cw_error *err) CW_MUST_CHECK;
cw_code cw_post_told(cw_nursery *n, const cw_asker *who, int64_t letter, cw_carried how, const char *words,
                     cw_error *err) CW_MUST_CHECK;
/* Once when the program begins: what was going then is unsure. */
cw_code cw_post_recover(cw_nursery *n, const cw_asker *who, cw_error *err) CW_MUST_CHECK;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_SERVER_SMTP_H
#define CW_SERVER_SMTP_H

#include "base/go_on.h"
#include "desk/post/outbox.h"

/* Hands one letter to the mail server of the nursery's account (message submission, RFC 6409, by libcurl) and tells what became of
 * it, with the server's own last words.
 *
 * TLS from the start (smtps) or by STARTTLS, with the server's certificate verified; without TLS on this machine itself only, so
 * that a password never crosses a network in the clear. What was handed over whole (the body's last byte was given to the line) and
 * not answered is CW_CARRIED_UNSURE; whatever ends before that was not taken, because a server takes no letter without its end
 * (RFC 5321 4.1.1.4). */
typedef struct cw_carry_words {
    char text[CW_MAX_NAME + 1];
} cw_carry_words;

/* `patience_ms`: for each answer of the server; 0: ten minutes, which RFC 5321 4.5.3.2.6 wants for the last one. */
cw_carried cw_smtp_carry(const cw_post_letter *letter, long patience_ms, cw_go_on go_on,
                         cw_carry_words *said);

#endif

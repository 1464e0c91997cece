/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_MAIL_H
#define CW_BASE_MAIL_H

#include "base/day.h"
#include "base/text.h"

/* Writes one message as a file that a mail program can open (.eml): headers by RFC 5322, other than ASCII in them as
 * encoded-words (RFC 2047, B encoding), the body as UTF-8 text in quoted-printable (RFC 2045), line ends CRLF.
 *
 * Nothing that stands in a field can end it and begin another: control characters are refused, and addresses are held to
 * the plain form of RFC 5322 (dot-atom "@" dot-atom, ASCII). */
typedef struct cw_mail_address {
    char name[256];    /* display name, may be empty; UTF-8 */
    char address[255]; /* RFC 5321: at most 254 */
} cw_mail_address;

/* Is it an address that this writer takes? */
bool cw_mail_is_address(const char *s);

/* "Name <address>" or "address". False when it is neither. */
bool cw_mail_parse(const char *s, cw_mail_address *out);

typedef struct cw_mail {
    const cw_mail_address *from, *to;
    const char *subject, *body; /* UTF-8; the body's lines end with \n */
    cw_instant at;
    const char *id; /* unique word before the "@" of the Message-ID: letters, digits, '-', '.' */
} cw_mail;

/* Appends the message to `out`. CW_REFUSED when a field holds what it must not. */
cw_code cw_mail_write(const cw_mail *m, cw_text *out, cw_error *err) CW_MUST_CHECK;

/* The two encodings by themselves. */
void cw_mail_word(const char *s, cw_text *out); /* as it is if plain ASCII, else encoded-words, folded */
void cw_mail_quoted(const char *s, size_t n, cw_text *out); /* quoted-printable, \n becomes CRLF */

#endif

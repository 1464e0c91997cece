/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_ACCOUNTS_H
#define CW_DESK_ACCOUNTS_H

#include "base/shape.h"
#include "base/limits.h"
#include "desk/nursery/nursery.h"

/* Who may do what here? People sign in with a password, programs show a key. As long as no person is in the
 * file there are no accounts, and whoever can reach the machine itself is the owner.
 *
 * Passwords are kept as Argon2id (RFC 9106) with 64 MiB and 2 passes; tokens and keys are 256 random bits of
 * which only the BLAKE2b digest is kept. A password has 12 to 128 bytes, any of them, and is not among those that
 * are guessed first (passwords.c). */
#define CW_MIN_PASSWORD 12
#define CW_MAX_PASSWORD 128 /* characters both; of at most four bytes */
#define CW_TOKEN_TEXT   44  /* 43 letters of base64url and the NUL */

#define CW_VERDICT_TEXT 240

typedef struct cw_identity {
    int64_t person;  /* 0: a program's key */
    int64_t program; /* number of that key; 0: a person */
    char name[CW_MAX_NAME + 1];
    cw_role role;
    char csrf[CW_TOKEN_TEXT]; /* sessions only */
    cw_instant until;         /* when it ends if nobody uses it; CW_NO_INSTANT: never */
    bool factor;              /* verified ones: a code is wanted, too (desk/people/factor) */
} cw_identity;

const char *cw_role_word(cw_role role); /* "owner"; "none" */
bool cw_role_parse(const char *word, cw_role *out);

cw_code cw_accounts_any(cw_nursery *n, bool *out, cw_error *err) CW_MUST_CHECK;

/* How strong is a password for this person? One sentence without its subject ("is good: ..."); true if it is accepted. Costs
 * up to a few milliseconds, needs no file and no network. */
bool cw_accounts_judge(const char *name, const char *password, char says[CW_VERDICT_TEXT]);
cw_code cw_accounts_check_password(const char *name, const char *password, cw_error *err) CW_MUST_CHECK;

/* For the owner. A last owner cannot be disabled; who is disabled is signed out at once. */
cw_code cw_accounts_add(cw_nursery *n, const cw_asker *who, const char *name, cw_role role,
                        const char *password, cw_error *err) CW_MUST_CHECK;
cw_code cw_accounts_disable(cw_nursery *n, const cw_asker *who, const char *name, bool disabled,
                            cw_error *err) CW_MUST_CHECK;
/* Moves a person to another desk. They are signed out at once and sign in again with the new rights. */
cw_code cw_accounts_role(cw_nursery *n, const cw_asker *who, const char *name, cw_role role,
                         cw_error *err) CW_MUST_CHECK;
cw_code cw_accounts_list(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_accounts_list_shape;

/* The owner's for anybody, everybody's own for themselves (not a key's that has the same name); all sessions of that person
 * end. */
cw_code cw_accounts_password(cw_nursery *n, const cw_asker *who, const char *name, const char *password,
                             cw_error *err) CW_MUST_CHECK;

/* What a key does stands in the record under its name with this before it: "key till". So it is never taken for a person, and
 * nobody's name may begin so, be one that the program uses itself, or be both a person's and a key's. */
#define CW_KEY_ACTOR "key "

/* Keys: `key` gets the text to hand over, once. expires_on is the last good day: CW_NO_DAY for a year from
 * now, and two years at most, so that a forgotten key ends before it is two seasons old. The list's `replace` marks a key that
 * ends within a fortnight (or, in an older file, never). */
#define CW_KEY_DAYS          365
#define CW_MOST_KEY_DAYS     731
#define CW_KEY_REMINDER_DAYS 14
cw_code cw_accounts_key_add(cw_nursery *n, const cw_asker *who, const char *name, cw_role role,
                            cw_day expires_on, char key[CW_TOKEN_TEXT], cw_error *err) CW_MUST_CHECK;
cw_code cw_accounts_key_disable(cw_nursery *n, const cw_asker *who, const char *name,
                                cw_error *err) CW_MUST_CHECK;
cw_code cw_accounts_keys(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_accounts_keys_shape;

/* Signing in, in two steps: verify reads and costs about 0.1 s of a processor, whether the name exists or
 * not; CW_FORBIDDEN does not tell which of name and password is wrong (out->person is for the log). open writes the session; if
 * out->factor, not without `typed`, a one-time or recovery code of that person (NULL: none given; CW_FORBIDDEN). */
cw_code cw_accounts_verify(cw_nursery *n, const char *name, const char *password, cw_identity *out,
                           cw_error *err) CW_MUST_CHECK;
cw_code cw_accounts_open(cw_nursery *n, const cw_asker *who, cw_identity *identity, const char *typed,
                         char token[CW_TOKEN_TEXT], cw_error *err) CW_MUST_CHECK;

/* By the digest of what the request shows. A session ends session_hours after its last use and session_days
 * after it began. */
void cw_accounts_new_token(char out[CW_TOKEN_TEXT]);
void cw_accounts_digest(const char *token, char hex[65]);
cw_code cw_accounts_session(cw_nursery *n, const char *digest, cw_instant now, bool *found, cw_identity *out,
                            cw_error *err) CW_MUST_CHECK;
cw_code cw_accounts_key(cw_nursery *n, const char *digest, cw_instant now, bool *found, cw_identity *out,
                        cw_error *err) CW_MUST_CHECK;
cw_code cw_accounts_seen(cw_nursery *n, const char *digest, cw_instant now, cw_error *err) CW_MUST_CHECK;
cw_code cw_accounts_close(cw_nursery *n, const char *digest, cw_error *err) CW_MUST_CHECK;
/* The own sessions that have not ended, newest use first: session,since,seen,here. `session` is a short name made of the
 * digest, with which nobody can sign in; `here` marks the one whose digest is given. */
cw_code cw_accounts_sessions(cw_nursery *n, const cw_asker *who, const char *digest, cw_table *out,
                             cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_accounts_sessions_shape;

/* Ends one of the own sessions by its short name, or with NULL all but the one whose digest is given. CW_NOT_FOUND. */
cw_code cw_accounts_end_sessions(cw_nursery *n, const cw_asker *who, const char *session, const char *digest,
                                 cw_error *err) CW_MUST_CHECK;
/* Drops what has ended. */
cw_code cw_accounts_expire(cw_nursery *n, cw_instant now, cw_error *err) CW_MUST_CHECK;

#endif

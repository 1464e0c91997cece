/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_PEOPLE_H
#define CW_STORE_PEOPLE_H

#include "base/day.h"
#include "base/limits.h"
#include "store/db.h"

/* Who may in? People with their password's Argon2id text, their sessions, and the keys of programs. Of
 * session tokens and keys only digests are kept. No function opens a transaction. */
typedef struct cw_person_row {
    int64_t id;
    char name[CW_MAX_NAME + 1];
    char role[16];
    char password[160]; /* as libsodium encodes it */
    bool disabled;
    cw_instant made_at;
    bool factor; /* a second one is on, store/factor */
} cw_person_row;

typedef struct cw_session_row {
    int64_t person;
    char name[CW_MAX_NAME + 1];
    char role[16];
    char csrf[65];
    cw_instant since, seen;
} cw_session_row;

typedef struct cw_key_row {
    int64_t id;
    char name[CW_MAX_NAME + 1];
    char role[16];
    cw_instant made_at, expires_at; /* CW_NO_INSTANT: never */
    bool disabled;
} cw_key_row;

/* owners: not disabled */
cw_code cw_people_count(cw_db *db, int64_t *all, int64_t *owners, cw_error *err) CW_MUST_CHECK;
cw_code cw_people_find(cw_db *db, const char *name, bool *found, cw_person_row *out,
                       cw_error *err) CW_MUST_CHECK;
cw_code cw_people_each(cw_db *db, void (*row)(void *context, const cw_person_row *p), void *context,
                       cw_error *err) CW_MUST_CHECK;
/* Does a person, a key bear this name, in whatever case of its letters? */
cw_code cw_people_taken(cw_db *db, const char *name, bool *person, bool *key, cw_error *err) CW_MUST_CHECK;
cw_code cw_people_add(cw_db *db, const char *name, const char *role, const char *password, cw_instant at,
                      cw_error *err) CW_MUST_CHECK;
cw_code cw_people_disable(cw_db *db, const char *name, bool disabled, cw_error *err) CW_MUST_CHECK;
cw_code cw_people_role(cw_db *db, const char *name, const char *role, cw_error *err) CW_MUST_CHECK;
cw_code cw_people_password(cw_db *db, const char *name, const char *password, cw_error *err) CW_MUST_CHECK;

cw_code cw_session_add(cw_db *db, const char *token, int64_t person, const char *csrf, cw_instant at,
                       cw_error *err) CW_MUST_CHECK;
cw_code cw_session_find(cw_db *db, const char *token, bool *found, cw_session_row *out,
                        cw_error *err) CW_MUST_CHECK;
cw_code cw_session_seen(cw_db *db, const char *token, cw_instant at, cw_error *err) CW_MUST_CHECK;
cw_code cw_session_end(cw_db *db, const char *token, cw_error *err) CW_MUST_CHECK;
cw_code cw_session_end_all(cw_db *db, const char *name, cw_error *err) CW_MUST_CHECK;

/* Of one person, newest use first; and their ending by name (the first letters of the digest), or all but one. */
#define CW_SESSION_NAME 12
cw_code cw_session_each(cw_db *db, const char *person,
                        void (*row)(void *context, const char *token, cw_instant since, cw_instant seen),
                        void *context, cw_error *err) CW_MUST_CHECK;
cw_code cw_session_end_named(cw_db *db, const char *person, const char *name, int64_t *ended,
                             cw_error *err) CW_MUST_CHECK;
cw_code cw_session_end_others(cw_db *db, const char *person, const char *token, int64_t *ended,
                              cw_error *err) CW_MUST_CHECK;
cw_code cw_session_expire(cw_db *db, cw_instant since, cw_instant seen, cw_error *err) CW_MUST_CHECK;

cw_code cw_key_find(cw_db *db, const char *token, bool *found, cw_key_row *out, cw_error *err) CW_MUST_CHECK;
cw_code cw_key_each(cw_db *db, void (*row)(void *context, const cw_key_row *k), void *context,
                    cw_error *err) CW_MUST_CHECK;
cw_code cw_key_add(cw_db *db, const char *name, const char *role, const char *token, cw_instant at,
                   cw_instant expires_at, cw_error *err) CW_MUST_CHECK;
cw_code cw_key_disable(cw_db *db, const char *name, bool *found, cw_error *err) CW_MUST_CHECK;

/* Answers given under an idempotency key. *body is the caller's to free. */
cw_code cw_answered_find(cw_db *db, const char *key, bool *found, char request[65], unsigned *status,
                         char **body, cw_error *err) CW_MUST_CHECK;
cw_code cw_answered_keep(cw_db *db, const char *key, const char *request, unsigned status, const char *body,
                         cw_instant at, cw_error *err) CW_MUST_CHECK;
cw_code cw_answered_forget(cw_db *db, cw_instant before, cw_error *err) CW_MUST_CHECK;

#endif

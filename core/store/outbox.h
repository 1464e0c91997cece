/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_OUTBOX_H
#define CW_STORE_OUTBOX_H

#include "base/day.h"
#include "base/limits.h"
#include "base/shape.h"
#include "store/db.h"

/* What waits to leave by itself, and how far is it? Changes happen inside the caller's transaction; a channel is 'mail' or
 * 'hook'. */
typedef struct cw_outbox_row {
    int64_t id, notice; /* id 0: there is none; notice 0: none */
    char kind[8], state[8];
    bool test; /* a letter to oneself, or a hook that tells of nothing */
    int64_t tries;
    cw_instant queued_at;
    char *body; /* of a hook; the caller frees it */
} cw_outbox_row;

cw_code cw_outbox_queue(cw_db *db, const char *kind, int64_t notice, const char *body, cw_instant at,
                        const char *actor, cw_error *err) CW_MUST_CHECK;
cw_code cw_outbox_next(cw_db *db, const char *channel, cw_instant now, cw_outbox_row *out,
                       cw_error *err) CW_MUST_CHECK;
cw_code cw_outbox_going(cw_db *db, int64_t id, cw_error *err) CW_MUST_CHECK;
typedef struct cw_outbox_end {
    const char *state, *words;
    bool uncounted;              /* the try was not the letter's fault */
    cw_instant next_at, done_at; /* done_at CW_NO_INSTANT: it waits on */
} cw_outbox_end;
cw_code cw_outbox_settle(cw_db *db, int64_t id, const cw_outbox_end *end, cw_error *err) CW_MUST_CHECK;
cw_code cw_outbox_interrupted(cw_db *db, const char *words, cw_error *err) CW_MUST_CHECK;
/* CW_NOT_FOUND. Without its body. */
cw_code cw_outbox_read(cw_db *db, int64_t id, cw_outbox_row *out, cw_error *err) CW_MUST_CHECK;
cw_code cw_outbox_of_notice(cw_db *db, int64_t notice, cw_outbox_row *out, cw_error *err) CW_MUST_CHECK;
cw_code cw_outbox_again(cw_db *db, int64_t id, cw_instant at, cw_error *err) CW_MUST_CHECK;
cw_code cw_outbox_remove(cw_db *db, int64_t id, cw_error *err) CW_MUST_CHECK;
cw_code cw_outbox_remove_tests(cw_db *db, cw_error *err) CW_MUST_CHECK;

#define CW_HOOKS_KEPT 200
/* Of hooks: does one wait or go; all away but the one that goes, or its tests only; those that were taken but the last CW_HOOKS_KEPT; those
 * that wait are due at once. */
cw_code cw_outbox_open_hook(cw_db *db, bool *out, cw_error *err) CW_MUST_CHECK;
cw_code cw_outbox_remove_hooks(cw_db *db, bool tests, cw_error *err) CW_MUST_CHECK;
cw_code cw_outbox_trim_hooks(cw_db *db, cw_error *err) CW_MUST_CHECK;
cw_code cw_outbox_hurry_hooks(cw_db *db, cw_instant at, cw_error *err) CW_MUST_CHECK;

/* The newest 2000. state NULL: all. */
extern const cw_shape cw_outbox_list_shape;
cw_code cw_outbox_list(cw_db *db, const char *state, cw_table *out, cw_error *err) CW_MUST_CHECK;

typedef struct cw_channel_row {
    bool stopped;
    char tested[65]; /* digest of the account that took the test letter; "": none has */
    int64_t failures;
    cw_instant quiet_until; /* 0: not */
    char words[CW_MAX_NAME + 1];
    int64_t waits, sent, refused, unsure;
} cw_channel_row;
cw_code cw_outbox_channel(cw_db *db, const char *channel, cw_channel_row *out, cw_error *err) CW_MUST_CHECK;
cw_code cw_outbox_counts(cw_db *db, const char *channel, cw_channel_row *out, cw_error *err) CW_MUST_CHECK;
cw_code cw_outbox_stop(cw_db *db, const char *channel, bool stopped, cw_error *err) CW_MUST_CHECK;
cw_code cw_outbox_tested(cw_db *db, const char *channel, const char *digest, cw_error *err) CW_MUST_CHECK;
cw_code cw_outbox_failed(cw_db *db, const char *channel, cw_instant quiet_until, const char *words,
                         cw_error *err) CW_MUST_CHECK;
cw_code cw_outbox_worked(cw_db *db, const char *channel, cw_error *err) CW_MUST_CHECK;

#endif

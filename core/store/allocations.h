/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_ALLOCATIONS_H
#define CW_STORE_ALLOCATIONS_H

#include "base/day.h"
#include "base/text.h"
#include "base/limits.h"
#include "store/db.h"

#include <stdbool.h>
#include <stdint.h>

/* Who was promised what, by which run, and why? A promise only grows by a run and only shrinks by being taken
 * back with a reason on record. All changes happen inside the caller's transaction. */

typedef struct cw_run_row {
    int64_t id;
    cw_instant at;
    const char *actor;
    const char *what; /* allocate, substitute */
    const char *rule;
    const char *supply; /* counted, projected */
    double confidence;  /* < 0: none */
    const char *digest;
    int64_t lines, placed;
    cw_instant undone; /* 0: it stands */
} cw_run_row;

/* `id` of the row is set by the call. */
cw_code cw_runs_add(cw_db *db, cw_run_row *row, cw_error *err) CW_MUST_CHECK;
cw_code cw_runs_each(cw_db *db, int64_t most, void (*take)(void *context, const cw_run_row *row),
                     void *context, cw_error *err) CW_MUST_CHECK;

/* How the last run of its kind was done. */
typedef struct cw_run_how {
    char rule[64];
} cw_run_how;
cw_code cw_runs_last(cw_db *db, const char *what, cw_run_how *out, bool *found, cw_error *err) CW_MUST_CHECK;

/* Lines that came after a mark (cw_line_last, before they came), in the order in which they are served. */
typedef struct cw_arrived_line {
    int64_t id, order_id, variety_id, quantity;
    int line;
    uint8_t tier; /* cw_book_tier */
    bool ship_complete;
    /* of a ship-complete order: it has other lines that want something, which did not come now or name no variety */
    bool rest;
    const char *code, *order;
} cw_arrived_line;
cw_code cw_line_last(cw_db *db, int64_t *out, cw_error *err) CW_MUST_CHECK;
/* take: false without memory */
cw_code cw_arrived_each(cw_db *db, int64_t mark, bool (*take)(void *context, const cw_arrived_line *line),
                        void *context, cw_error *err) CW_MUST_CHECK;

/* How the last run was done that shared out a variety (code). */
cw_code cw_runs_last_of(cw_db *db, const char *variety, cw_run_how *out, bool *found,
                        cw_error *err) CW_MUST_CHECK;

/* Undoing. The last run that stands; false in *found when there is none. */
typedef struct cw_run_standing {
    int64_t id;
    cw_instant at;
    char what[16];
    int64_t placed;
} cw_run_standing;
cw_code cw_run_standing_find(cw_db *db, cw_run_standing *out, bool *found, cw_error *err) CW_MUST_CHECK;

/* Puts every promise back as the run found it, what it added on record as taken back; *lines that lost by it. CW_CONFLICT
 * with a sentence when something rests on the run: picks, notices that were sent, promises taken back or changed since. */
cw_code cw_run_undo(cw_db *db, const cw_run_standing *run, cw_instant at, const char *actor, const char *why,
                    int64_t *lines, cw_error *err) CW_MUST_CHECK;

typedef enum cw_promise_kind { CW_PROMISE_OWN, CW_PROMISE_SUBSTITUTE, CW_PROMISE_ASSORTMENT } cw_promise_kind;

/* Why, in the numbers of the model that decided: its reason code and what its sentence needs. */
typedef struct cw_promise_why {
    int64_t reason, n[4];
} cw_promise_why;

/* One promise to add: `quantity` (0 keeps the reason why there was nothing) goes to what the line is promised of the
 * variety. */
typedef struct cw_promise {
    int64_t line, variety; /* ids */
    int64_t quantity;
    cw_promise_kind kind;
    cw_promise_why why;
} cw_promise;

/* Fills the next promise; false at the end. Best in ascending order of line and variety. */
typedef bool (*cw_promise_source)(void *context, cw_promise *out);
cw_code cw_promises_add(cw_db *db, int64_t run, cw_promise_source next, void *context,
                        cw_error *err) CW_MUST_CHECK;

const char *cw_promise_kind_word(cw_promise_kind kind); /* own, substitute, assortment */

typedef struct cw_promise_row {
    int64_t variety_id;
    const char *code, *name;
    int64_t quantity;
    cw_promise_kind kind;
    cw_promise_why why;
    cw_instant at;
    const char *rule;
    int64_t picked;  /* pulled from store */
    int64_t pulling; /* on an open pick list */
} cw_promise_row;
cw_code cw_promises_each(cw_db *db, int64_t line, void (*take)(void *context, const cw_promise_row *row),
                         void *context, cw_error *err) CW_MUST_CHECK;

/* Takes back what is promised, pulled and open picks apart: CW_CONFLICT when so much is not free. */
typedef struct cw_taking_back {
    int64_t line, variety, quantity;
    cw_instant at;
    const char *actor, *why;
} cw_taking_back;
cw_code cw_promise_take_back(cw_db *db, const cw_taking_back *t, cw_error *err) CW_MUST_CHECK;

typedef struct cw_taken_back_row {
    const char *code;
    int64_t quantity;
    cw_instant at;
    const char *actor, *why;
} cw_taken_back_row;
cw_code cw_taken_back_each(cw_db *db, int64_t line, void (*take)(void *context, const cw_taken_back_row *row),
                           void *context, cw_error *err) CW_MUST_CHECK;

/* What the office forbids a line to get in place of what it asked. */
typedef struct cw_forbidden_row {
    int64_t line_id, variety_id;
    const char *order;
    int line;
    const char *wanted; /* NULL: an assortment */
    const char *variety;
    cw_instant at;
    const char *actor, *why;
} cw_forbidden_row;
/* quantity is not used. */
cw_code cw_forbidden_add(cw_db *db, const cw_taking_back *f, cw_error *err) CW_MUST_CHECK;
cw_code cw_forbidden_drop(cw_db *db, int64_t line, int64_t variety, bool *was, cw_error *err) CW_MUST_CHECK;
cw_code cw_forbidden_each(cw_db *db, void (*take)(void *context, const cw_forbidden_row *row), void *context,
                          cw_error *err) CW_MUST_CHECK;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_DIVIDING_H
#define CW_STORE_DIVIDING_H

#include "base/day.h"
#include "base/limits.h"
#include "store/db.h"

#include <stdbool.h>
#include <stdint.h>

/* What does the plan of the cutting room rest on beside the ledger: where whole lots lie, days that are kept, the crew, how long
 * sessions took, what is promised for which week? Each list is handed over row by row. */

typedef struct cw_whole_lot { /* with clumps on hand; by id */
    int64_t id;
    /* where most of its clumps lie, "" where nobody wrote it down; borrowed until the next */
    const char *place, *room;
    int64_t walk_order;
    bool held;
    cw_day kept_day;  /* CW_NO_DAY: the plan is free */
    char kept_why[8]; /* frozen, moved, washed, or "" */
} cw_whole_lot;
cw_code cw_whole_lots(cw_db *db, void (*take)(void *context, const cw_whole_lot *row), void *context,
                      cw_error *err) CW_MUST_CHECK;

typedef struct cw_crate_row { /* by lot, clumps before divisions */
    int64_t lot;
    bool divisions;
    /* where most of them lie, "" where nobody wrote it down; borrowed until the next */
    const char *place, *room;
    int64_t walk_order;
    bool held;
} cw_crate_row;
cw_code cw_crates(cw_db *db, void (*take)(void *context, const cw_crate_row *row), void *context,
                  cw_error *err) CW_MUST_CHECK;

typedef struct cw_lying_row { /* in walking order; a place that holds nothing comes once, with lot 0 */
    int64_t place_id, walk_order, lot, clumps, divisions;
    const char *place, *room; /* borrowed until the next */
    bool held;
} cw_lying_row;
cw_code cw_lying_rows(cw_db *db, void (*take)(void *context, const cw_lying_row *row), void *context,
                      cw_error *err) CW_MUST_CHECK;

typedef struct cw_timed_session {
    int64_t variety, clumps, minutes, people;
} cw_timed_session;
cw_code cw_timed_sessions(cw_db *db, void (*take)(void *context, const cw_timed_session *row), void *context,
                          cw_error *err) CW_MUST_CHECK;

typedef struct cw_crew_row {
    cw_day day;
    int64_t cutters, washers;
    double hours;
} cw_crew_row;
cw_code cw_crew_days(cw_db *db, void (*take)(void *context, const cw_crew_row *row), void *context,
                     cw_error *err) CW_MUST_CHECK;
cw_code cw_crew_set(cw_db *db, const cw_crew_row *row, cw_error *err) CW_MUST_CHECK;

typedef struct cw_promised_row { /* of one variety, its weeks in order; not yet picked */
    int64_t variety, quantity;
    cw_week week;
} cw_promised_row;
cw_code cw_promised_weeks(cw_db *db, void (*take)(void *context, const cw_promised_row *row), void *context,
                          cw_error *err) CW_MUST_CHECK;

cw_code cw_last_release(cw_db *db, cw_instant *at, cw_error *err) CW_MUST_CHECK; /* CW_NO_INSTANT: none */

/* A lot by its code: *id is 0 if there is none. */
cw_code cw_dividing_day_of(cw_db *db, const char *code, int64_t *id, cw_day *kept, char why[8],
                           cw_error *err) CW_MUST_CHECK;
cw_code cw_dividing_day_keep(cw_db *db, int64_t lot, cw_day day, const char *why, cw_instant at,
                             const char *actor, cw_error *err) CW_MUST_CHECK;
cw_code cw_dividing_day_let_go(cw_db *db, int64_t lot, cw_error *err) CW_MUST_CHECK;

#endif

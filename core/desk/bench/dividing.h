/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_DIVIDING_H
#define CW_DESK_DIVIDING_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

#include <jansson.h>

/* What is washed tomorrow, and cut the day after? Every lot with whole clumps gets its day, so that what is lost, what is not
 * known in time for a release, and what comes too late for its ship week costs least (model/dividing). A lot is washed on the
 * working day before it is cut, and no earlier (common practice, no source).
 *
 * The plan is worked out anew each time. What stands is on record: a list that was frozen, a lot that was moved by hand, a lot that is
 * washed. A held lot stands in no plan. */
typedef struct cw_bench_ask {
    cw_day from;  /* first day; CW_NO_DAY: the asker's today */
    int64_t days; /* how many days of the plan are shown; 0: all, to the shipping day */
} cw_bench_ask;

/* day,step,lot,variety,place,clumps,minutes,loss,knowledge,late : step wash or cut, in walking order within a step; the money of a
 * lot stands at its first day of cutting. `notes` (may be NULL) gets the total, the bound, how far above it the plan is, and what
 * does not fit: one sentence a line. */
cw_code cw_bench_plan(cw_nursery *n, const cw_asker *who, const cw_bench_ask *ask, cw_table *out,
                      cw_text *notes, cw_error *err) CW_MUST_CHECK;

/* lot,day,minutes,loss,knowledge,late for every lot and day. */
cw_code cw_bench_costs(cw_nursery *n, const cw_asker *who, const cw_bench_ask *ask, cw_table *out,
                       cw_error *err) CW_MUST_CHECK;

/* The board: {today, total, bound, above, proven, missing_lots, missing_minutes, notes, days, tasks}. New reference. */
cw_code cw_bench_board(cw_nursery *n, const cw_asker *who, const cw_bench_ask *ask, json_t **out,
                       cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_bench_board_shape;

/* What would it cost to cut this lot on that day, all others planned around it? With `keep` it is put on record.
 * lot,was,day,price,total,bound. Refused: a day on which nobody cuts, or before which it cannot be washed any more; more than the
 * day has minutes for, with what stands on it already. Owner or office. */
cw_code cw_bench_move(cw_nursery *n, const cw_asker *who, const char *lot, cw_day day, bool keep,
                      cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_bench_move_shape;

/* Puts the plan's next days on record, so that they stay as they are: what is cut on the first two working days (which is washed on
 * the first), or what ask->days shows. lot,day,why. */
cw_code cw_bench_freeze(cw_nursery *n, const cw_asker *who, const cw_bench_ask *ask, cw_table *out,
                        cw_error *err) CW_MUST_CHECK;

/* A lot is washed (on a day, CW_NO_DAY: today): it is cut on the working day after. And back: the plan is free again. */
cw_code cw_bench_washed(cw_nursery *n, const cw_asker *who, const char *lot, cw_day washed_on, cw_table *out,
                        cw_error *err) CW_MUST_CHECK;
cw_code cw_bench_let_go(cw_nursery *n, const cw_asker *who, const char *lot, cw_table *out,
                        cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_bench_kept_shape;

/* Who is at the bench on a day, where it is otherwise than the settings say. Owner or office. day,cutters,washers,hours. */
cw_code cw_bench_crew(cw_nursery *n, const cw_asker *who, cw_day day, int64_t cutters, int64_t washers,
                      double hours, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_bench_crew_shape;

#endif

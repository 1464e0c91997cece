/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_DIVIDING_INSIDE_H
#define CW_DESK_DIVIDING_INSIDE_H

/* Inside of desk/bench: the plan before it is told. */
#include "base/limits.h"
#include "desk/bench/dividing.h"
#include "desk/offer/offering_inside.h"
#include "model/dividing.h"
#include "store/dividing.h"

/* A working day; washing is done on the working day before it. */
typedef struct cw_bench_day {
    cw_day day, washed_on;
    int64_t cutters, washers; /* of this day */
    double hours;
    int64_t wash_minutes; /* of this day, for the lots of the next */
} cw_bench_day;

typedef struct cw_bench_lot {
    size_t lot, variety; /* of the forecast */
    int64_t id, clumps, walk_order;
    char place[CW_MAX_CODE + 1], room[CW_MAX_NAME + 1];
    cw_day kept_day; /* CW_NO_DAY: free */
    char kept_why[8];
    double all;    /* divisions if nothing were lost */
    double *sound; /* [CW_BENCH_KNOTS] expected on the shipping day, cut on each knot's day */
    double value;  /* money that is earned by knowing it before the next release */
    double freed;  /* divisions more that can then be offered */
    /* the first week that it is to give divisions for; 0: none. If it is late for any, then for this one */
    cw_week owed;
} cw_bench_lot;

#define CW_BENCH_KNOTS 5

typedef struct cw_bench {
    const cw_forecast *forecast; /* borrowed from the nursery */
    const cw_demand *demand;
    cw_day today, from, ship;
    cw_bench_day *day; /* [days] */
    size_t days, day_room;
    cw_bench_lot *lot; /* [lots] */
    size_t lots, lot_room, held;
    cw_day knot[CW_BENCH_KNOTS];
    double *sounds;                  /* block of the lots' `sound` */
    double *loss, *knowledge, *late; /* [lots * days] cents */
    double *never_loss, *never_late; /* [lots] */
    cw_dividing_lot *model_lot;
    cw_dividing_day *model_day;
    double *cost;
    size_t *order; /* [lots] in which they are taken to be cut */
    cw_dividing_plan plan;
    cw_promised_row *promised;
    size_t promises, promise_room;
    cw_crew_row *crew;
    size_t crews, crew_room;
    double cut_minutes, wash_minutes; /* stated, per clump */
    double confidence, margin_share, short_share, lead_days, release_days, cutters, washers, hours, work_days;
    double price; /* of a variety without one, in cents */
    bool priced;  /* some variety has a price */
    cw_instant released;
    size_t timed; /* sessions that minutes were learned from */
    bool no_memory;
} cw_bench;

/* `moved` (may be NULL): a lot's code that is cut on `day`, whatever is on record. */
cw_code cw_bench_make(cw_nursery *n, const cw_asker *who, const cw_bench_ask *ask, const char *moved,
                      cw_day day, cw_bench **out, cw_error *err) CW_MUST_CHECK;
void cw_bench_free(cw_bench *b);
size_t cw_bench_find(const cw_bench *b, cw_day day); /* index of a working day, CW_NONE */

/* Steps of the making, by what they need: dividing_crew.c, dividing_costs.c */
cw_code cw_bench_read(cw_nursery *n, const cw_asker *who, cw_bench *b, cw_error *err) CW_MUST_CHECK;
cw_code cw_bench_days(cw_nursery *n, cw_bench *b, cw_error *err) CW_MUST_CHECK;
cw_code cw_bench_sound(cw_bench *b, const cw_asker *who, cw_error *err) CW_MUST_CHECK;
cw_code cw_bench_price(cw_bench *b, const cw_asker *who, cw_error *err) CW_MUST_CHECK;
cw_code cw_bench_minutes(cw_nursery *n, cw_bench *b, cw_error *err) CW_MUST_CHECK;

#endif

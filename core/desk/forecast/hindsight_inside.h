/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_HINDSIGHT_INSIDE_H
#define CW_DESK_HINDSIGHT_INSIDE_H

/* Inside of desk/forecast/hindsight: past days held against what came. */
#include "desk/forecast/forecast_inside.h"
#include "desk/forecast/hindsight.h"

#define CW_HINDSIGHT_DAYS 60 /* past days at most */
#define CW_HINDSIGHT_POINTS                                                                                  \
    9 /* equally likely numbers that stand for what came where some of it was not counted */

/* One projection held against what came. */
typedef struct cw_held {
    cw_day as_of;
    bool is_lot;
    const char *code; /* of the variety or lot, in the snapshot of the day that came */
    cw_distribution law;
    int64_t came;
    int64_t any[CW_HINDSIGHT_POINTS]; /* what came, as far as it is known */
    double counted;                   /* of it */
    /* What went wrong, as far as the ledger tells. */
    double rate, rate_low, rate_high; /* projected */
    int64_t cut_clumps, cut_divisions, lost;
} cw_held;

typedef struct cw_review {
    cw_nursery *n;
    const cw_asker *who;
    cw_day till;            /* the day that came */
    cw_forecast_data *then; /* as of `till` */
    /* [then->lots] divisions on hand then, less what rot and drying nobody saw yet */
    double *sound, *variance;
    int64_t *fresh;  /* [then->lots] of those on hand, looked at within FRESH_DAYS */
    cw_day *oldest;  /* [then->lots] day since which something on hand was not looked at */
    size_t left_out; /* lots on past days whose rest nobody has counted since */
    cw_held *row;
    size_t rows, room;
    cw_day days[CW_HINDSIGHT_DAYS];
    size_t n_days;
} cw_review;

/* What became of one lot between a past day and the day that came. */
typedef struct cw_fate {
    int64_t clumps_left, left_sound, on_hand, cut_clumps, cut_divisions, lost;
    double sound, variance, counted; /* of those on hand; of all that came */
    /* some of what is on hand was not looked at since the past day: what came of it is our own guess */
    bool unseen;
} cw_fate;

/* Reads, fits and projects every past day asked. cw_review_end frees, also after an error. */
cw_code cw_review_make(cw_review *r, cw_nursery *n, const cw_asker *who, const cw_hindsight_ask *ask,
                       cw_error *err) CW_MUST_CHECK;
void cw_review_end(cw_review *r);

/* What became of a lot of r->then since the end of a day; and of several together. */
cw_fate cw_review_fate(const cw_review *r, size_t lot, cw_day since);
void cw_fate_add(cw_fate *sum, const cw_fate *lot);

/* What came, as far as it is known. */
void cw_fate_points(const cw_fate *f, int64_t any[CW_HINDSIGHT_POINTS]);

/* How what was said at the time held: said_on,why,projections,expected,came,bias_percent,cover50,cover80,cover90,
 * quantile_loss_percent, a row for each time. */
cw_code cw_review_said(const cw_review *r, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_review_said_shape;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_RATE_H
#define CW_MODEL_RATE_H

#include "base/error.h"
#include "model/latent.h"
#include "model/mixed.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* How many saleable divisions does a sound clump of each variety give this season?
 *
 *     log rate = intercept + form + size + variety + season + variety x season + lot,
 *     E[divisions] = sound clumps * rate,  Var[divisions | rate] = phi * E[divisions]
 *
 * fitted to the dividing sessions of past seasons and of this one so far by the mixed model (mixed.h says how). A
 * variety never divided is known by its form, its size and the season; one divided this season also by its own cell.
 *
 * In the order of cutting the log rate changes within a lot by -order (2u - 1), u the share of it that was cut before: the
 * best are often cut first. It is learned from lots cut in several sessions; prior N(0, 0.15^2), or N(0.3, 0.15^2) where
 * the nursery says that the best go first (common practice, no source). Seasons may drift (mixed.h).
 *
 * In the order of varieties it changes, too: what does well this year is often cut first, so what is still whole is worse than
 * what has been seen. The log rate of a variety is higher by first * share, the share of this season's clumps that is cut; it is
 * learned from varieties of which more and less is cut; prior 0 + CW_RATE_FIRST_SCALE Student, 2 degrees (common practice, no source).
 *
 * Some lots are dead: frost or water took the eyes, and they give nothing at all. A lot of which all clumps gave nothing,
 * where CW_RATE_CERTAIN divisions were to be expected, is no row of the fit; how many there were is the chance of a lot
 * that is still whole to be dead, too, with a prior of 0.2 dead lots in 40.
 *
 * Units: clumps and divisions are whole; rates are divisions per sound clump, on the natural log scale.
 * Assumptions: divisions of different clumps are independent given the rate, so a session of n clumps varies like n
 * clumps; what a lot (row) has in common is the lot effect; the effects are normal.
 *
 * Without any row the answer is the priors below and `informed` is false: to be told to whoever reads the figures. They
 * say (common practice, no source): 2 to 12 divisions a clump for an unknown variety, 9 in 10 sure; seasons differ by some 15 %. */
#define CW_RATE_ORDER                                                                                        \
    1 /* the latent's tilt: log rate at u is higher by this times 1 - 2u than that of the lot */
#define CW_RATE_FIRST       2 /* and this: what a variety of which all is cut has over one that is whole */
#define CW_RATE_FIRST_SCALE 0.05
#define CW_RATE_FIRST_UNIT                                                                                   \
    0.1 /* the tilt is for a tenth: what is left open of it moves all that is whole, so it never counts as sharp (mixed_points.c) */
#define CW_RATE_CERTAIN 6.0
#define CW_RATE_DEFAULT 5.0 /* prior median of divisions per sound clump */

typedef struct cw_rate_row { /* a session, or a whole past season of a variety */
    int variety, season;     /* from 0 */
    int lot;                 /* sessions of one lot share its effect; -1 = not known, a lot of its own */
    int64_t clumps;          /* sound ones; a row with 0 is passed over */
    int64_t divisions;       /* saleable */
} cw_rate_row;

/* Which part of its lot a session cut, as shares of the lot's clumps in the order of cutting: 0 .. 1 is all of it. */
typedef struct cw_rate_cut {
    double from, to; /* both 0: not known */
} cw_rate_cut;

/* What the owner says of a variety's divisions per sound clump in a usual season: low to high, 8 in 10 sure; both 0: nothing.
 * People's ranges hold less often than they are said to (common finding, from memory), so it is read as half as wide again,
 * and never as surer than CW_RATE_OWN_SD on the log scale. */
#define CW_RATE_OWN_SD 0.15
typedef struct cw_rate_own {
    double low, high;
} cw_rate_own;

typedef struct cw_rate_data { /* arrays are borrowed for the call only */
    const cw_rate_row *rows;
    size_t n_rows;
    size_t varieties, seasons, forms, sizes;
    int season;             /* this season, 0 .. seasons - 1 */
    const int *form, *size; /* [varieties], -1 = unknown; NULL = all unknown */
    unsigned threads;       /* 0 = one per processor */
    size_t lots; /* answer also for lots 0 .. lots - 1 of this season (by the rows' lot numbers); 0: none */
    const cw_rate_cut *cut; /* [n_rows], or NULL: nothing is known of the order of cutting */
    bool best_first;        /* the nursery says that it cuts the best clumps first */
    const cw_rate_own *own; /* [varieties], or NULL: the owner says nothing */
    /* [varieties] clumps of this season not cut yet, or NULL: nothing is known of them */
    const int64_t *whole;
    cw_go_on go_on; /* for the call only; given up: CW_REFUSED */
} cw_rate_data;

typedef struct cw_rate cw_rate;

/* `before`: an earlier fit, to begin from; NULL for none. It changes the time, and the answer by no more than
 * cw_mixed_refit says, and is not needed
 * afterwards. CW_REFUSED names the row (from 1) that cannot be. *out is NULL unless CW_OK. */
cw_code cw_rate_fit(const cw_rate_data *data, const cw_rate *before, cw_rate **out,
                    cw_error *err) CW_MUST_CHECK;
void cw_rate_free(cw_rate *r);

const cw_latent *cw_rate_latent(const cw_rate *r); /* log rate of this season, units = varieties; borrowed */
const cw_mixed_report *cw_rate_report(const cw_rate *r); /* hyper-parameters, likelihood, sizes; borrowed */
/* Chance of each lot 0 .. lots - 1 of this season to be dead; borrowed. NULL: so small that it does not matter. */
const double *cw_rate_dead(const cw_rate *r);
bool cw_rate_informed(const cw_rate *r); /* false: there was no row, these are the stated defaults */

/* Where a variety's rate comes from. Parts are on the log scale: exp(sum of means) is the median rate, and the shares
 * add up to the variance (a share can be slightly negative). At the optimum of the hyper-parameters. */
typedef struct cw_rate_why {
    int64_t past_clumps, past_divisions; /* own rows of past seasons */
    int64_t now_clumps, now_divisions;   /* own rows of this season */
    cw_mixed_part nursery;               /* what all varieties have in common */
    cw_mixed_part form, size;
    cw_mixed_part history;    /* how the variety differs from its form and size, by its own rows */
    cw_mixed_part season;     /* this season against others, by everything divided so far */
    cw_mixed_part own_season; /* this variety in this season against what the above would say */
    double mean, variance;    /* of the log rate */
    /* of what is known of its rate in a usual season, what the owner says; 0: nothing is said */
    double own_share;
    double without_own; /* divisions a clump in a usual season without that */
} cw_rate_why;

/* Not for two threads at a time on one fit: it uses the fit's scratch. */
void cw_rate_explain(cw_rate *r, size_t variety, cw_rate_why *out);

#endif

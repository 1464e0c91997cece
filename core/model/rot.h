/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_ROT_H
#define CW_MODEL_ROT_H

#include "base/error.h"
#include "model/latent.h"
#include "model/mixed.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* How fast do clumps, and divisions, of each variety rot in store this season?
 *
 * A constant weekly hazard h for each stage: P(rotten within t weeks since last known sound) = 1 - exp(-h t), with
 *
 *     log h = intercept + variety + season + variety x season + lot
 *
 * plus what a row is unlike others by (mixed.h, tilts): age^age (hazards may grow with it); rows of a check that nobody said
 * the reason of, or that was made on suspicion, against rows that looked at all; the room of this season's lots. A season
 * that is bad for clumps is bad for divisions, too: the standardised season effects of the two stages have correlation
 * rho, learned with prior N(0.7, 0.2^2), and each stage is told what the other one saw.
 *
 * It is fitted to storage checks and to clumps found rotten at dividing by the mixed model (binomial, complementary log-log
 * link, offset log weeks). The lot effect is what makes checks differ by more than chance: it is learned from them, and
 * each latent point carries its sd as lot_sd, for the projection to give every lot its own.
 *
 * Units: weeks (not whole) since the inspected were last known sound; counts are whole. Stages are fitted apart.
 * Assumptions: the hazard is constant in time and not contagious within a lot beyond the lot effect; a check sees all
 * rot. Effects are normal.
 *
 * A stage without any row is answered by the priors and `informed` is false: the page must say so.
 * They say (common practice, no source): a loss of some 6 % of clumps, 4 % of divisions in ten weeks, by a factor of 4
 * either way.
 *
 * What the owner says of a usual winter ("10 to 25 % are lost to rot", 8 in 10 sure) is one observation of how the nursery's hazards
 * stand to what the priors say, alike for both stages: with h the priors' hazards of a nursery's mean clump and division, and half of
 * the weeks from digging to shipping spent as each (common practice, no source), a share L lost is -log(1 - L) / sum of h t / 2 times
 * them. On the log scale it is normal with its 8 in 10 at the range, never surer than CW_ROT_OWN_SD. Each stage's intercept
 * takes it with the variance divided by the sum of squares of the stages' parts of h t, so that both together are as sure of
 * the whole as was said. That seasons differ comes on top. It stands beside the prior of the intercept as two normal laws do
 * (precisions add up); rows of several seasons outweigh it. */
#define CW_ROT_DEFAULT_CLUMP    0.006 /* prior median of the weekly hazard */
#define CW_ROT_DEFAULT_DIVISION 0.004

#define CW_ROT_TILT_UNTOLD    1 /* the latents' tilts, besides CW_TILT_AGE */
#define CW_ROT_TILT_SUSPICION 2
#define CW_ROT_TILT_ROOM      3 /* and on: one for each room */
#define CW_ROT_ROOMS          (CW_TILTS - CW_ROT_TILT_ROOM)

typedef enum cw_rot_stage { CW_ROT_CLUMP, CW_ROT_DIVISION, CW_ROT_STAGES } cw_rot_stage;

typedef struct cw_rot_row {
    int variety, season;
    int lot; /* checks of one lot share its effect; -1 = not known, a lot of its own */
    cw_rot_stage stage;
    double weeks; /* since last known sound; a row with 0 weeks and nothing rotten is passed over */
    int64_t inspected, rotten;
} cw_rot_row;

/* How a row came to be. */
typedef enum cw_rot_why {
    CW_ROT_DIVIDING,  /* all that was cut was looked at */
    CW_ROT_ROUND,     /* a round that picks at random, or looks at all */
    CW_ROT_UNTOLD,    /* a check of which nobody said why */
    CW_ROT_SUSPICION, /* looked at because something seemed wrong */
    CW_ROT_WHYS
} cw_rot_why;
typedef struct cw_rot_look {
    double age; /* weeks since digging (clumps) or cutting (divisions) when last known sound */
    cw_rot_why why;
    int room; /* of this season's lots, from 0; -1 = not known */
} cw_rot_look;

/* What the owner says: the share that is lost to rot from digging to shipping in a usual winter. */
typedef struct cw_rot_own {
    double low, high; /* 0 <= low <= high < 1; high 0: nothing is said */
    double weeks;     /* from digging to shipping; 0: not known, and nothing can be made of it */
} cw_rot_own;
#define CW_ROT_OWN_SD 0.15 /* of the log */

typedef struct cw_rot_data { /* arrays are borrowed for the call only */
    const cw_rot_row *rows;
    size_t n_rows;
    size_t varieties, seasons;
    int season;       /* this season, 0 .. seasons - 1 */
    unsigned threads; /* 0 = one per processor */
    size_t lots; /* answer also for lots 0 .. lots - 1 of this season (by the rows' lot numbers); 0: none */
    const cw_rot_look *look; /* [n_rows], or NULL: every row as if age 0, dividing, no room */
    const int *lot_room;     /* [lots] the room of each, -1 = not known; NULL: of none */
    cw_go_on go_on;          /* for the call only; given up: CW_REFUSED */
    cw_rot_own own;
} cw_rot_data;

typedef struct cw_rot cw_rot;

/* `before`: an earlier fit, to begin from; NULL for none. It changes the time, and the answer by no more than cw_mixed_refit
 * says, and is not needed afterwards. CW_REFUSED names the row (from 1) that cannot be. *out is NULL unless CW_OK. */
cw_code cw_rot_fit(const cw_rot_data *data, const cw_rot *before, cw_rot **out, cw_error *err) CW_MUST_CHECK;
void cw_rot_free(cw_rot *r);

/* Log weekly hazard, units = varieties; borrowed. */
const cw_latent *cw_rot_latent(const cw_rot *r, cw_rot_stage stage);
const cw_mixed_report *cw_rot_report(const cw_rot *r, cw_rot_stage stage);
bool cw_rot_informed(const cw_rot *r, cw_rot_stage stage);

/* Covariance of the two stages' log hazards through this season's effect, for all varieties alike; and rho itself. */
double cw_rot_tie(const cw_rot *r);
double cw_rot_correlation(const cw_rot *r);

/* The share lost in a usual winter of own.weeks as it is known with what the owner said, how much of that is what was said (0: nothing
 * is), and what would be expected without it: precisions taken off, to first order. A fit without it may say up to some 15 % less or
 * more, where the word lies far from what the rows show and so widens the seasons. */
typedef struct cw_rot_usual {
    double lost, own_share, without;
} cw_rot_usual;
cw_rot_usual cw_rot_usual_winter(const cw_rot *r);
/* The share lost in so many weeks from digging to shipping at `times` the hazards of the priors, and what the priors expect of a row:
 * how many rotten. */
double cw_rot_lost(double times, double weeks);
double cw_rot_expected(const cw_rot_row *row);

/* Parts of a variety's log hazard (form and size are not in the model: 0). Not for two threads at a time on one fit. */
void cw_rot_explain(cw_rot *r, cw_rot_stage stage, size_t variety, cw_mixed_why *out);

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_PROJECTION_H
#define CW_MODEL_PROJECTION_H

#include "base/error.h"
#include "base/go_on.h"
#include "model/distribution.h"
#include "model/latent.h"
#include "model/shrink.h"

#include <stddef.h>
#include <stdint.h>

/* How many sound divisions of each variety, and of each lot, will there be on the shipping day?
 *
 * In:  what is on hand now, in cohorts (things of one lot and stage that share a clock), and what is known of
 *        eta    log of divisions per sound clump          (model/rate,  with dispersion phi)
 *        log h1 log weekly hazard of rot of a clump       (model/rot, clump stage)
 *        log h2 log weekly hazard of rot of a division    (model/rot, division stage)
 *        shrink mass loss and shrivel limits              (model/shrink)
 * Out: the predictive distribution of S, with all of that uncertainty in it.
 *
 * Given the latent values, a clump is sound at dividing with chance q = exp(-h1 t1) * (not shrivelled
 * meanwhile); n sound clumps give a total with mean n exp(eta) and variance phi * mean from the (a, b, 0)
 * family (binomial phi < 1, Poisson, negative binomial phi > 1); a division stays sound to the shipping day
 * with chance s = exp(-h2 t2) * (not shrivelled meanwhile). Cohorts are independent given the latent values.
 * A thinned total keeps its family with phi' = 1 + (phi - 1) s, and a clump that may be rotten adds exp(eta)
 * (1 - q) to phi.
 *
 * Lots of a variety differ: each has its own factor on rate and hazards, known in part if it has rows this season.
 *
 * The latent values are integrated over a fixed lattice of quasi-random nodes (no seed, so the same data give
 * the same figures on any number of threads and in any order of rows); at each node the law of S is matched
 * in mean, variance and third cumulant by a shifted (a, b, 0) law, exactly convolved where clumps are few.
 *
 * A lot may be dead (`dead`): the law is a mixture over which lots with whole clumps are, three of them at most (the
 * rest counts as living).
 *
 * Assumed: rot and drying are independent given the variety; what is divided now has nothing to dry from
 * before unless the cohort says so. Times to dividing and shipping are known days. */

typedef enum cw_stage { CW_CLUMP = 0, CW_DIVISION = 1 } cw_stage;

/* One cohort on hand. A check restarts the clock only for what was inspected, so a lot may have several
 * cohorts. */
typedef struct cw_stock {
    size_t lot; /* 0 .. lots - 1 */
    cw_stage stage;
    int64_t count;         /* clumps or divisions on hand, >= 0 */
    double clump_weeks;    /* clump: from last known sound to the expected dividing day; division: unused */
    double division_weeks; /* clump: from dividing to shipping; division: from last known sound to shipping */
    /* division: drying since its cutting when last known sound, and at shipping (clump, which does not shrivel itself: 0 and
     * what a division cut on the dividing day will stand) */
    double from_pa_days, to_pa_days;
    /* weeks since digging, and since cutting, when last known sound (a division of a clump: 0) */
    double clump_age, division_age;
    double cut;     /* clump: share of its lot's clumps that was cut before it, 0 .. 1 */
    double missing; /* clump: chance that it is not dug sound at all; 0: it is in store */
} cw_stock;

typedef struct cw_projection_input {
    size_t varieties, lots, stocks;
    const size_t *lot_variety;     /* [lots] */
    const cw_stock *stock;         /* [stocks], any order */
    double weeks_to_ship;          /* from today: what a check today would still leave at risk */
    const cw_latent *rate;         /* units = varieties; never NULL */
    const cw_latent *clump_rot;    /* NULL: clumps do not rot */
    const cw_latent *division_rot; /* NULL: divisions do not rot */
    const double *dead; /* [lots] chance of a lot's whole clumps to give nothing at all; NULL: none is dead */
    double rot_tie;     /* covariance of log h1 and log h2 through the seasons, of all varieties alike */
    const cw_shrink *shrink; /* lots as here; NULL: nothing shrivels */
} cw_projection_input;

/* The input put in order once; borrows everything that the input points to. */
typedef struct cw_projection cw_projection;
cw_code cw_projection_new(const cw_projection_input *in, cw_projection **out, cw_error *err) CW_MUST_CHECK;
void cw_projection_free(cw_projection *p);

/* The law of S of one variety, or of one lot alone. Safe to call from several threads. */
void cw_projection_variety(const cw_projection *p, size_t variety, cw_distribution *out);
void cw_projection_lot(const cw_projection *p, size_t lot, cw_distribution *out);

/* All varieties, out[varieties]; threads as in base/parallel.h. */
void cw_projection_all(const cw_projection *p, unsigned threads, cw_distribution *out);
/* The same; false, and `out` is not to be read, if it was given up. */
bool cw_projection_all_while(const cw_projection *p, unsigned threads, cw_go_on go_on, cw_distribution *out);

/* The same after an earlier projection, of laws `were`: a variety whose cohorts are the same, and of which nothing that is
 * known of rate, hazards and lots has moved by more than CW_PROJECTION_STILL (of a logarithm, or a chance) since its law was worked
 * out, keeps it, and kept[v] is true. `before` may be NULL: none does. */
#define CW_PROJECTION_STILL 0.001
bool cw_projection_all_after(const cw_projection *p, const cw_projection *before, const cw_distribution *were,
                             unsigned threads, cw_go_on go_on, cw_distribution *out, bool *kept);

/* What of a cohort will be rotten and what shrivelled (of divisions, not rotten) at the ends of its stretches, as expected
 * shares? `stretch` are cohorts of the variety, or of lots of its kind, with whatever weeks and drying are asked about: of a clump only
 * clump_weeks count. Both 0 for a variety of which nothing is on hand. */
typedef struct cw_lying {
    double rotten, shrivelled;
} cw_lying;
void cw_projection_lying(const cw_projection *p, size_t variety, const cw_stock *stretch, size_t n,
                         cw_lying *out);

/* Why is it so? Each step of the mean, each share of the variance, and what to measure next. */
typedef struct cw_projection_why {
    double clumps, divisions;         /* on hand */
    double rate, rate_low, rate_high; /* divisions per sound clump: median, 10 % and 90 % points */
    double clump_sound, clump_sound_low, clump_sound_high; /* share of clumps sound at dividing, likewise */
    /* share of divisions not rotten by shipping */
    double division_sound, division_sound_low, division_sound_high;
    double shrivelled; /* share of sound divisions that shrivel by shipping */
    /* mean: if nothing were lost -> after clump rot -> after division rot -> after shrink (= the mean of S)
     */
    double mean_if_all_sound, mean_after_clump_rot, mean_after_division_rot, mean;
    /* variance: parts of what is not known of each, and chance itself; they sum to `variance` up to
     * interaction, which is shared out in proportion */
    double variance, variance_rate, variance_clump_rot, variance_division_rot, variance_shrink,
        variance_chance;
    /* expected 80 % width (90 % quantile - 10 % quantile): now, after 10 more clumps are divided (or all, if
     * fewer), after 20 divisions are checked (or all) */
    double width_now, width_divide, width_check;
    int64_t divide, check; /* how many those are */
} cw_projection_why;
void cw_projection_explain(const cw_projection *p, size_t variety, cw_projection_why *out);

/* The nursery as a whole: draws of all varieties together, correlated through the shared factors, each
 * variety's own law being exactly the one given. The seed is fixed, so the same laws give the same draws. */
#define CW_JOINT_DRAWS 1000 /* enough: each factor and each law is drawn in slices of equal chance */
typedef struct cw_joint cw_joint;
cw_code cw_joint_new(const cw_projection *p, const cw_distribution *laws, size_t draws, unsigned threads,
                     cw_go_on go_on, cw_joint **out, cw_error *err) CW_MUST_CHECK; /* given up: CW_REFUSED */
/* The same where the varieties in `kept` have the draws of an earlier one, which may be NULL: they stay where they are, so it is
 * used up, and good for nothing but to be freed. */
cw_code cw_joint_new_after(const cw_projection *p, const cw_distribution *laws, cw_joint *before,
                           const bool *kept, size_t draws, unsigned threads, cw_go_on go_on, cw_joint **out,
                           cw_error *err) CW_MUST_CHECK;
void cw_joint_free(cw_joint *j);
size_t cw_joint_draws(const cw_joint *j);
/* sound divisions of a variety in a draw */
int64_t cw_joint_value(const cw_joint *j, size_t draw, size_t variety);
/* and what of them is left above `withheld`, never below 0, in each draw: out[draws] */
void cw_joint_above(const cw_joint *j, size_t variety, int64_t withheld, double *out);

typedef struct cw_spread {
    double mean, q05, q10, q25, q50, q75, q90, q95;
} cw_spread;

typedef struct cw_joint_totals {
    cw_spread saleable; /* sum of max(0, S - withheld) */
    cw_spread shorts;   /* sum of max(0, promised - saleable) */
    cw_spread unsold;   /* sum of max(0, saleable - promised) */
    cw_spread refunds;  /* sum of value * shorts, in the unit of `value` */
} cw_joint_totals;

/* withheld (hold-back + reserve), promised and value per variety; value may be NULL (then refunds are zero).
 */
cw_code cw_joint_sum(const cw_joint *j, const int64_t *withheld, const int64_t *promised, const double *value,
                     cw_joint_totals *out, cw_error *err) CW_MUST_CHECK;

#endif

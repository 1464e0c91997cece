/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_MIXED_H
#define CW_MODEL_MIXED_H

#include "base/error.h"
#include "base/go_on.h"
#include "model/latent.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* What do counts of many varieties over some seasons tell about each variety, each season, and how much they differ?
 *
 * A generalised linear mixed model. For a row of variety v in season t, from lot l,
 *
 *     eta = intercept + form[f(v)] + size[s(v)] + variety[v] + season[t] + cell[v, t] + lot[l]
 *
 * with each family of effects normal, mean 0, its own sd; and
 *
 *     CW_MIXED_COUNT    E[count] = exposure * exp(eta), Var[count | eta] = phi * E[count]. phi = 1 is Poisson. For
 *                       other phi the likelihood is Efron's double Poisson between lots, and the Pearson statistic
 *                       X2 / phi ~ chi-squared within lots that were counted in several rows.
 *     CW_MIXED_CLOGLOG  count of `trials` with P = 1 - exp(-exposure * exp(eta)): exp(eta) is a hazard per unit of
 *                       exposure (complementary log-log link, offset log exposure).
 *
 * Rows are not alike: a tilt is one number, common to all rows that it touches, that scales the exposure of a row by
 * exp(tilt * x) with the row's own x; so it stands on the scale of eta. Tilt CW_TILT_AGE is another: hazards grow with age
 * as age^tilt, so that exposure t from age a counts as ((a + t)^k - a^k) / (k A^tilt), k = 1 + tilt, A = 10 weeks.
 *
 * Seasons may drift: season = sd * u with Cov u = 1 + drift^2 (W + t t'), W a random walk from the last season backwards,
 * t a straight line likewise.
 *
 * The effects are integrated out by Laplace's approximation at their joint mode. Lots, cells and varieties are nested,
 * so they are eliminated one after another, and only intercept, forms, sizes and seasons (the "shared" effects) make
 * a dense system: the cost is linear in rows, cells and varieties for a bounded number of shared effects.
 *
 * Two modes:
 *     CW_MIXED_ML       maximum marginal likelihood of the sds, phi (if asked for) and a fixed intercept, no prior:
 *                       what lme4 and glmmTMB compute, to compare with them.
 *     CW_MIXED_PREDICT  sds, phi and drift get log-normal priors, tilts Student ones, the intercept a wide normal one. So every case is proper:
 *                       one variety, one season, all zeros, a form seen once, no rows at all. The posterior of sds
 *                       and phi is kept as weighted points: its mean, and two points along each axis of the curvature
 *                       that is not sharp, weighted by what the posterior density there says of the tail. Means of effects are corrected
 *                       from mode to mean to first order (the likelihood is skew where counts are small).
 *
 * Assumptions: effects of different varieties, seasons, cells and lots are independent; a variety or season without
 * rows has the prior of its kind. A variety of unknown form (or size) belongs to a form of its own, "unknown".
 *
 * The answer does not depend on the order of rows nor on the number of threads. A start from an older optimum changes
 * only the time: the optimum is rounded to a grid (1/512 in log sd) on which both land. An older fit's points change it a
 * little (cw_mixed_refit).
 *
 * Sources: Bates, Maechler, Bolker & Walker 2015, J. Stat. Softw. 67(1) (penalised least squares, spherical effects);
 * Rue, Martino & Chopin 2009, J. R. Stat. Soc. B 71:319 (integration points, corrected means); Efron 1986, JASA 81:709
 * (double Poisson); Lindley 1980, Trabajos de Estadistica 31:223 (mean from mode); all from memory. The gradient was derived here and is tested against differences. */

typedef enum cw_mixed_family { CW_MIXED_COUNT, CW_MIXED_CLOGLOG } cw_mixed_family;

typedef enum cw_mixed_mode { CW_MIXED_ML, CW_MIXED_PREDICT } cw_mixed_mode;

typedef enum cw_mixed_term {
    CW_TERM_FORM,
    CW_TERM_SIZE,
    CW_TERM_VARIETY,
    CW_TERM_SEASON,
    CW_TERM_CELL, /* variety x season */
    CW_TERM_LOT,  /* within a cell */
    CW_TERMS
} cw_mixed_term;

#define CW_TILTS CW_LATENT_TILTS

typedef struct cw_mixed_row {
    int variety, season;
    int lot; /* rows of a variety and season with the same lot share its effect; -1: a lot of its own */
    double exposure; /* counts: clumps; cloglog: weeks. A row with 0 tells nothing and is passed over. */
    double trials;   /* cloglog: how many were inspected, >= count; counts: not read */
    double count;
} cw_mixed_row;

/* What makes a row unlike others: two tilts at most besides age. */
typedef struct cw_mixed_tilt {
    double age;    /* when the row's exposure began, >= 0 */
    int32_t of[2]; /* which tilts; 0 = none */
    double x[2];
} cw_mixed_tilt;

/* What somebody says of a variety apart from its rows: its eta in a usual season (without season, cell and lot) is normal
 * about `mean`; weight = 1 / variance, 0: nothing is said. */
typedef struct cw_mixed_own {
    double mean, weight;
} cw_mixed_own;

/* All arrays are borrowed for the call only. */
typedef struct cw_mixed_data {
    cw_mixed_family family;
    const cw_mixed_row *rows;
    size_t n_rows;
    size_t varieties, seasons, forms, sizes;
    /* [varieties], 0 .. forms-1 or -1 = unknown; NULL: all unknown, and the term is left out */
    const int *form, *size;
    size_t lots; /* answer also for lots 0 .. lots - 1 of settings.season, by the row's lot number; 0: none */
    const cw_mixed_tilt *tilt; /* [n_rows]; NULL: all rows are alike */
    /* [lots] a tilt that a lot of the season has with x = 1, 0 = none; NULL: none has */
    const int32_t *lot_tilt;
    const cw_mixed_own *own; /* [varieties]; NULL: nobody says anything */
    int variety_tilt;        /* a tilt that each variety has in settings.season, with its own x; 0 = none */
    const double *variety_x; /* [varieties]; NULL: none has */
} cw_mixed_data;

typedef struct cw_mixed_settings {
    cw_mixed_mode mode;
    bool use[CW_TERMS];
    bool dispersion; /* estimate phi (counts only); else phi = 1 */
    /* ML, cloglog: expected instead of observed information in the determinant, as lme4 */
    bool expected_curvature;
    /* PREDICT: prior of a log sd: N(log median, spread^2), times exp(-(sd / limit)^2 / 2) so that no far tail of an sd
     * that the data leave open makes the mean of exp(eta) absurd. */
    double sd_median[CW_TERMS], sd_spread[CW_TERMS], sd_limit;
    double phi_median, phi_spread;       /* PREDICT: the same for phi */
    double intercept_mean, intercept_sd; /* PREDICT: prior of the intercept */
    /* PREDICT: prior of each tilt that some row has: mean + scale * Student with 2 degrees of freedom, so that noise is
     * drawn to the mean and what is far off is left alone; scale 0: there is no such tilt. Age counts as had by every
     * row of a cloglog model. */
    double tilt_mean[CW_TILTS], tilt_scale[CW_TILTS];
    /* PREDICT: prior of the drift of seasons; median 0: they do not drift */
    double drift_median, drift_spread;
    bool linked;      /* the answer is wanted from cw_mixed_link only: cw_mixed_latent is NULL */
    bool whole;       /* never from an earlier fit's points */
    int season;       /* the season that the answers speak of */
    unsigned threads; /* 0 = one per processor */
    cw_go_on go_on;   /* for the call only; given up: CW_REFUSED */
} cw_mixed_settings;

#define CW_MIXED_MAX (CW_TERMS + 3 + CW_TILTS) /* variables: log sds, log phi, log drift, tilts, intercept */

/* The variance parameters: an optimum, or where to start looking for one. */
typedef struct cw_mixed_hyper {
    bool known; /* false: nothing here, start from the priors' medians */
    double intercept, sd[CW_TERMS], phi, drift, tilt[CW_TILTS];
    size_t variables;           /* 0: the next two are not known */
    double exact[CW_MIXED_MAX]; /* the optimum before it was rounded, in the order of cw_mixed_density */
    double inverse[CW_MIXED_MAX * CW_MIXED_MAX]; /* inverse curvature there, in the same order */
} cw_mixed_hyper;

typedef struct cw_mixed_report {
    /* at the optimum; with `intercept` the fixed one (ML) or its posterior mean (PREDICT) */
    cw_mixed_hyper hyper;
    double log_likelihood; /* Laplace, with all constants, at hyper */
    double log_posterior;  /* PREDICT: plus the log prior densities of log sd and log phi */
    unsigned evaluations, points;
    double tilt_sd[CW_TILTS];   /* posterior sd of each tilt; 0 where there is none */
    double log_sd_sd[CW_TERMS]; /* PREDICT: and of each log sd */
    double intercept_sd;        /* PREDICT: and of the intercept, at the optimum */
    bool converged;             /* false: the climb ran out of evaluations; the best point seen is used */
    /* what there was: rows that tell something, and what they touch */
    size_t rows, lots, cells, varieties, shared;
} cw_mixed_report;

typedef struct cw_mixed cw_mixed; /* a fit; owns copies of all it needs */

/* A form, size, variety or season out of range, a negative count, more rotten than inspected, or a number that is not
 * finite: CW_REFUSED, naming the row (from 1). `start` may be NULL. *out is NULL unless CW_OK. */
cw_code cw_mixed_fit(const cw_mixed_data *data, const cw_mixed_settings *settings,
                     const cw_mixed_hyper *start, cw_mixed **out, cw_error *err) CW_MUST_CHECK;

/* The same after an earlier fit, which may be NULL: begins at its optimum; and if data and settings say the same as
 * then (in any order of rows), *out is that very fit with one more holder. Every holder frees it.
 *
 * Of a large nursery in which few varieties' rows have changed, the points of the earlier fit are kept, and only these
 * varieties and the shared effects are found anew at each (mixed_near.c). Means of eta are then those of a fit from nothing to
 * within CW_MIXED_NEAR of their sd, or the fit is made whole. */
#define CW_MIXED_NEAR 0.1
cw_code cw_mixed_refit(const cw_mixed_data *data, const cw_mixed_settings *settings, cw_mixed *before,
                       cw_mixed **out, cw_error *err) CW_MUST_CHECK;
void cw_mixed_free(cw_mixed *fit);

const cw_mixed_report *cw_mixed_result(const cw_mixed *fit);
bool cw_mixed_is_near(
    const cw_mixed *fit); /* made from an earlier one's points: no link is made of it, see cw_mixed_relink */

/* The posterior of eta (without lot effect, whose sd stands in each point) for every variety in settings.season; the
 * season's own cell is included: known in part if it has rows, else as wide as its sd. In ML mode there is one point:
 * the optimum. Borrowed from the fit. */
const cw_latent *cw_mixed_latent(const cw_mixed *fit);

/* What makes up a variety's eta in settings.season, at the mean of sds, phi and tilts (the first point): mean of each part, and its share Cov(part, eta) of the
 * variance, so that the shares add up to the whole (a share can be slightly negative). */
typedef struct cw_mixed_part {
    double mean, share;
} cw_mixed_part;
typedef struct cw_mixed_why {
    cw_mixed_part intercept, form, size, variety, season, cell;
    double mean, variance;        /* of eta: the sums of the above */
    double usual, usual_variance; /* of eta in a usual season */
} cw_mixed_why;
void cw_mixed_explain(const cw_mixed *fit, size_t variety, cw_mixed_why *out);

#define CW_TILT_SCALE 0.3

/* Log-likelihood (or log posterior in PREDICT mode) and its gradient at given parameters, for tests. `gradient` is by
 * log sd of each used term in order, then log phi and log drift if estimated, then tilts / CW_TILT_SCALE, then (ML) the intercept; NULL if not wanted. */
cw_code cw_mixed_density(const cw_mixed_data *data, const cw_mixed_settings *settings,
                         const cw_mixed_hyper *at, double *value, double *gradient,
                         cw_error *err) CW_MUST_CHECK;

/* What a fit says of each season's standardised effect u apart from its own prior, for another fit whose seasons are the
 * same years: the likelihood is exp(pull'u - u'precision u / 2). And how what is expected of a variety's eta in settings.season,
 * in the mean over varieties, moves with u: the intercept and the varieties are known by the same rows, so where all seasons
 * move alike they move against them, and eta hardly moves. */
typedef struct cw_mixed_seasons {
    size_t seasons;
    double *precision; /* [seasons^2] */
    double *pull;      /* [seasons] */
    double *lean;      /* [seasons] d E[eta | u] / du; may be NULL where it is only heard */
} cw_mixed_seasons;
cw_code cw_mixed_told(const cw_mixed *fit, cw_mixed_seasons *out, cw_error *err) CW_MUST_CHECK;
void cw_mixed_seasons_free(cw_mixed_seasons *s);

/* The same fit with its seasons told by somebody else, too, and their log sd moved by `shift` (all points of the posterior
 * are found anew, their weights are kept). */
typedef struct cw_mixed_linked cw_mixed_linked;
cw_code cw_mixed_link(const cw_mixed *fit, const cw_mixed_seasons *told, double shift, cw_mixed_linked **out,
                      cw_error *err) CW_MUST_CHECK;
/* The same from an earlier link for a fit that is near, or is, the one that it was made of; what was told and the shift
 * stay. false: it cannot be, or no memory. */
bool cw_mixed_relink(cw_mixed *fit, cw_mixed_linked *before, cw_mixed_linked **out);
void cw_mixed_linked_free(cw_mixed_linked *l);
const cw_latent *cw_mixed_linked_latent(const cw_mixed_linked *l);
void cw_mixed_linked_explain(const cw_mixed_linked *l, size_t variety, cw_mixed_why *out);

#endif

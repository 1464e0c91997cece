/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_SCORE_H
#define CW_MODEL_SCORE_H

#include "model/distribution.h"

#include <stddef.h>
#include <stdint.h>

/* Did the projections keep their promise, and were they sharp?
 *
 * Pinball loss of a quantile; CRPS of a count, sum over k of (F(k) - 1[k >= y])^2, and of an ensemble, mean
 * |x - y| - sum |xi - xj| / (2 m^2) (the fair form divides by 2 m (m - 1)); probability integral transform of
 * a count: the interval F(y - 1) .. F(y), over which the randomised PIT is uniform. All sums here use the
 * mean over that randomisation, so nothing is drawn. Sources: Gneiting & Raftery 2007; Czado, Gneiting & Held
 * 2009; Ferro 2014. */

double cw_score_pinball(double p, double y, double x);
double cw_score_crps(const cw_distribution *d, int64_t y);
/* sorts nothing, m >= 1 (2 if fair) */
double cw_score_crps_ensemble(const double *x, size_t m, double y, int fair);

typedef struct cw_pit {
    double low, high; /* F(y - 1), F(y) */
} cw_pit;
cw_pit cw_score_pit(const cw_distribution *d, int64_t y);

/* Share of the PIT interval within [from, to]: the chance that the randomised PIT falls there. */
double cw_score_pit_within(cw_pit pit, double from, double to);

#define CW_SCORE_BINS      10
#define CW_SCORE_QUANTILES 7
extern const double cw_score_levels[CW_SCORE_QUANTILES]; /* 0.05 0.10 0.25 0.50 0.75 0.90 0.95 */

/* A running account over many projections. Starts as zeros. */
typedef struct cw_scores {
    size_t count;
    double projected, came;           /* sums of means and of what came */
    double cover50, cover80, cover90; /* sums; cw_scores_* below divide */
    double below05, above95, below10, above90;
    double pinball[CW_SCORE_QUANTILES];
    double crps;
    double histogram[CW_SCORE_BINS]; /* PIT; flat when calibrated */
} cw_scores;
void cw_scores_add(cw_scores *s, const cw_distribution *d, int64_t came);

/* One projection of which it is not known for sure what came: n numbers of equal chance stand for it. */
void cw_scores_add_any(cw_scores *s, const cw_distribution *d, const int64_t *came, size_t n);
double cw_scores_loss(const cw_scores *s); /* mean pinball over the seven quantiles / mean of what came */

#endif

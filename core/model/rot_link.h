/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_ROT_LINK_H
#define CW_MODEL_ROT_LINK_H

/* Inside of model/rot: is a season that is bad for clumps bad for divisions, too?
 *
 * Standardised season effects u of the two stages have correlation rho in every season. Each fit's own rows say of its u
 * exp(h'u - u'Q u / 2) (cw_mixed_told), so the density of rho is that of two normal laws: with c = 1 - rho^2 and
 *     P = [ 1/c + Q1, -rho/c ; -rho/c, 1/c + Q2 ],   log p = -n/2 log c - 1/2 log |P| + 1/2 h'P^-1 h,
 * and what stage 2 tells stage 1 is precision rho^2 (1 - B) / c and pull rho B h2, B = (1 + c Q2)^-1. rho is its posterior
 * mean over a grid; prior N(0.7, 0.2^2). */
#include "model/mixed.h"

#include <stdatomic.h>

typedef struct cw_rot_pair cw_rot_pair;
struct cw_rot_pair {
    atomic_uint holders;
    const cw_mixed *fit[2]; /* of what it was made: borrowed */
    cw_mixed_linked *stage[2];
    double correlation, tie;
};

/* `before`: an earlier pair, or NULL; if it is of these very fits it is *out, with one holder more. If they are near the fits
 * it was made of it is followed (mixed.h); where that cannot be, and one is no whole fit, CW_CONFLICT. */
cw_code cw_rot_link(cw_mixed *const fit[2], cw_rot_pair *before, cw_rot_pair **out,
                    cw_error *err) CW_MUST_CHECK;
void cw_rot_pair_free(cw_rot_pair *p);

/* Posterior mean of rho, and given it the covariance of both stages' predictors as they lean on their seasons, for tests
 * too. */
cw_code cw_rot_correlate(const cw_mixed_seasons told[2], double *rho, double *covariance,
                         cw_error *err) CW_MUST_CHECK;

#endif

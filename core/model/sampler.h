/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_SAMPLER_H
#define CW_MODEL_SAMPLER_H

#include "base/rng.h"

#include <stdint.h>

/* How is a number drawn from one of the usual laws? From a counter-based stream: the same stream gives the same
 * draws anywhere. Sources: normal by Marsaglia's polar method (the spare is dropped, so that a stream has no hidden
 * state); gamma by Marsaglia & Tsang (2000) with the power step below shape 1; Poisson by PTRS and binomial by BTRS,
 * transformed rejection (Hormann 1993), and by inversion where the mean is small; negative binomial as Poisson of gamma. */

double cw_draw_normal(cw_rng *r);
double cw_draw_gamma(cw_rng *r, double shape); /* rate 1; shape > 0 */
double cw_draw_beta(cw_rng *r, double a, double b);
int64_t cw_draw_poisson(cw_rng *r, double mean);               /* mean >= 0 */
int64_t cw_draw_binomial(cw_rng *r, int64_t n, double chance); /* n >= 0, 0 <= chance <= 1 */
int64_t cw_draw_negbin(cw_rng *r, double size, double mean);   /* variance = mean + mean^2 / size */

/* A total with this mean and variance = phi * mean: binomial (phi < 1), Poisson, negative binomial (phi > 1).
 */
int64_t cw_draw_ab0(cw_rng *r, double mean, double phi);

#endif

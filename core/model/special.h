/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_SPECIAL_H
#define CW_MODEL_SPECIAL_H

#include <stdint.h>

/* What are the special functions and distributions that the models need? Special functions and the distributions built on
 * them, to about 1e-12 relative (1e-9 for shapes near 1e6). Quantiles are safe: for arguments in their domain they return a
 * number, never NaN, by Newton steps on log F held inside a bracket. Sources: Lentz's continued fractions and series as in
 * Abramowitz & Stegun 6.5, 26.5; normal quantile by Wichura, AS 241 (1988), polished once; log of pmf by Loader's saddle-point
 * form (2000). */

double cw_log_gamma(double x);             /* x > 0 */
double cw_gamma_p(double shape, double x); /* regularised lower incomplete gamma, P(G <= x) at rate 1 */
double cw_gamma_q(double shape, double x); /* 1 - P without cancellation */
double cw_gamma_quantile(double p, double shape); /* at rate 1; p in [0, 1], shape > 0; +inf at p = 1 */
double cw_beta_p(double x, double a, double b);   /* regularised incomplete beta, P(B <= x) */
double cw_beta_quantile(double p, double a, double b);

double cw_normal_density(double z);
double cw_normal_p(double z);        /* P(Z <= z) */
double cw_normal_quantile(double p); /* -inf at 0, +inf at 1 */

/* Counts. pmf is P(X = k), p is P(X <= k), q is P(X > k); k < 0 gives 0, 0, 1. Negative binomial by size and
 * mean: variance = mean + mean^2 / size. */
double cw_poisson_pmf(int64_t k, double mean);
double cw_poisson_p(int64_t k, double mean);
double cw_poisson_q(int64_t k, double mean);
double cw_binomial_pmf(int64_t k, int64_t n, double chance);
double cw_binomial_p(int64_t k, int64_t n, double chance);
double cw_negbin_pmf(int64_t k, double size, double mean);
double cw_negbin_p(int64_t k, double size, double mean);
double cw_negbin_q(int64_t k, double size, double mean);

#endif

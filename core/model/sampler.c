/* SPDX-License-Identifier: MIT */
#include "model/sampler.h"

#include "model/special.h"

#include <assert.h>
#include <math.h>

#include "base/banned.h"

double cw_draw_normal(cw_rng *r)
{
    for (;;) {
        double u = 2.0 * cw_rng_uniform(r) - 1.0, v = 2.0 * cw_rng_uniform(r) - 1.0;
        double s = u * u + v * v;
        if (s < 1.0 && s > 0.0)
            return u * sqrt(-2.0 * log(s) / s);
    }
}

double cw_draw_gamma(cw_rng *r, double shape)
{
    if (shape < 1.0) {
        double u = cw_rng_uniform(r);
        return cw_draw_gamma(r, shape + 1.0) * pow(u, 1.0 / shape);
    }
    double d = shape - 1.0 / 3.0, c = 1.0 / sqrt(9.0 * d);
    for (;;) {
        double x = cw_draw_normal(r), v = 1.0 + c * x;
        if (v <= 0.0)
            continue;
        v = v * v * v;
        double u = cw_rng_uniform(r), x2 = x * x;
        if (u < 1.0 - 0.0331 * x2 * x2 || log(u) < 0.5 * x2 + d * (1.0 - v + log(v)))
            return d * v;
    }
}

double cw_draw_beta(cw_rng *r, double a, double b)
{
    double x = cw_draw_gamma(r, a), y = cw_draw_gamma(r, b);
    /* Both shapes tiny: both gammas may underflow; then one end takes it all, in proportion. */
    if (x + y <= 0.0)
        return cw_rng_uniform(r) < a / (a + b) ? 1.0 : 0.0;
    return x / (x + y);
}

/* Smallest k with F(k) >= u, walking up from 0; mean below 10 or so. */
static int64_t poisson_walk(cw_rng *r, double mean)
{
    double u = cw_rng_uniform(r), p = exp(-mean), sum = p;
    int64_t k = 0;
    while (u > sum && k < 1000) {
        k++;
        p *= mean / (double)k;
        sum += p;
    }
    return k;
}

int64_t cw_draw_poisson(cw_rng *r, double mean)
{
    assert(mean >= 0.0);
    if (mean < 10.0)
        return mean == 0.0 ? 0 : poisson_walk(r, mean);
    double b = 0.931 + 2.53 * sqrt(mean), a = -0.059 + 0.02483 * b;
    double inverse_alpha = 1.1239 + 1.1328 / (b - 3.4), vr = 0.9277 - 3.6224 / (b - 2.0);
    double log_mean = log(mean);
    for (;;) {
        double u = cw_rng_uniform(r) - 0.5, v = cw_rng_uniform(r), us = 0.5 - fabs(u);
        double k = floor((2.0 * a / us + b) * u + mean + 0.43);
        if (us >= 0.07 && v <= vr)
            return (int64_t)k;
        if (k < 0.0 || (us < 0.013 && v > us))
            continue;
        if (log(v * inverse_alpha / (a / (us * us) + b)) <= k * log_mean - mean - cw_log_gamma(k + 1.0))
            return (int64_t)k;
    }
}

static int64_t binomial_walk(cw_rng *r, int64_t n, double p)
{
    double u = cw_rng_uniform(r), odds = p / (1.0 - p), f = exp((double)n * log1p(-p)), sum = f;
    int64_t k = 0;
    while (u > sum && k < n) {
        f *= odds * (double)(n - k) / (double)(k + 1);
        sum += f;
        k++;
    }
    return k;
}

int64_t cw_draw_binomial(cw_rng *r, int64_t n, double chance)
{
    assert(n >= 0 && chance >= 0.0 && chance <= 1.0);
    if (chance > 0.5)
        return n - cw_draw_binomial(r, n, 1.0 - chance);
    double p = chance, mean = (double)n * p;
    if (n == 0 || p == 0.0)
        return 0;
    if (mean < 10.0)
        return binomial_walk(r, n, p);
    double sd = sqrt(mean * (1.0 - p)), b = 1.15 + 2.53 * sd, a = -0.0873 + 0.0248 * b + 0.01 * p;
    double c = mean + 0.5, vr = 0.92 - 4.2 / b, alpha = (2.83 + 5.1 / b) * sd, log_odds = log(p / (1.0 - p));
    double top = (double)n, mode = floor((top + 1.0) * p);
    double h = cw_log_gamma(mode + 1.0) + cw_log_gamma(top - mode + 1.0);
    for (;;) {
        double u = cw_rng_uniform(r) - 0.5, v = cw_rng_uniform(r), us = 0.5 - fabs(u);
        double k = floor((2.0 * a / us + b) * u + c);
        if (k < 0.0 || k > top)
            continue;
        if (us >= 0.07 && v <= vr)
            return (int64_t)k;
        double bound = h - cw_log_gamma(k + 1.0) - cw_log_gamma(top - k + 1.0) + (k - mode) * log_odds;
        if (log(v * alpha / (a / (us * us) + b)) <= bound)
            return (int64_t)k;
    }
}

int64_t cw_draw_negbin(cw_rng *r, double size, double mean)
{
    if (mean <= 0.0)
        return 0;
    return cw_draw_poisson(r, cw_draw_gamma(r, size) * mean / size);
}

int64_t cw_draw_ab0(cw_rng *r, double mean, double phi)
{
    if (mean <= 0.0)
        return 0;
    if (phi > 1.0 + 1e-9)
        return cw_draw_negbin(r, mean / (phi - 1.0), mean);
    if (phi > 1.0 - 1e-9)
        return cw_draw_poisson(r, mean);
    /* A whole number of trials that holds the mean; the variance is then the nearest that a binomial can
     * have. */
    double trials = ceil(mean / (1.0 - phi) - 1e-9);
    return cw_draw_binomial(r, (int64_t)trials, fmin(1.0, mean / trials));
}

/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_PREDICTIVE_H
#define CW_TESTS_SUPPORT_PREDICTIVE_H

/* Plain Monte Carlo from a latent posterior, for tests that ask whether intervals hold what they promise. Header only,
 * because the support library does not know the models. */
#include "model/latent.h"
#include "model/sampler.h"

#include <math.h>
#include <stddef.h>

/* A point drawn by its weight. */
static inline const cw_latent_point *cw_test_point(const cw_latent *l, cw_rng *r)
{
    double u = cw_rng_uniform(r), sum = 0;
    for (size_t p = 0; p + 1 < l->points; p++)
        if ((sum += l->point[p].weight) > u)
            return &l->point[p];
    return &l->point[l->points - 1];
}

/* eta of one unit; each call draws its own shared effects (right for one unit at a time). */
static inline double cw_test_eta(const cw_latent *l, const cw_latent_point *p, size_t unit, cw_rng *r)
{
    double eta = p->mean[unit] + p->own_sd[unit] * cw_draw_normal(r);
    for (size_t k = 0; k < l->shared; k++)
        eta += p->loading[unit * l->shared + k] * cw_draw_normal(r);
    return eta;
}

/* eta of a lot of that unit; `lot` is its number, or no less than l->lots if nothing is known of it. */
static inline double cw_test_lot_eta(const cw_latent *l, const cw_latent_point *p, size_t unit, double eta,
                                     size_t lot, cw_rng *r)
{
    if (lot >= l->lots)
        return eta + p->lot_sd * cw_draw_normal(r);
    return eta + p->lot_mean[lot] - p->lot_pull[lot] * (eta - p->mean[unit]) +
           p->lot_own_sd[lot] * cw_draw_normal(r);
}

/* Randomised probability integral transform of `actual` divisions from lots of clumps[0 .. lots-1] sound clumps;
 * `lot` are their numbers, NULL if nothing is known of them. */
static inline double cw_test_rate_pit(const cw_latent *l, size_t unit, const double *clumps,
                                      const size_t *lot, int lots, int64_t actual, int draws, cw_rng *r)
{
    double less = 0, equal = 0;
    for (int i = 0; i < draws; i++) {
        const cw_latent_point *p = cw_test_point(l, r);
        double eta = cw_test_eta(l, p, unit, r), mean = 0;
        for (int k = 0; k < lots; k++)
            mean += clumps[k] * exp(cw_test_lot_eta(l, p, unit, eta, lot ? lot[k] : l->lots, r));
        int64_t y = cw_draw_ab0(r, mean, p->dispersion);
        less += y < actual;
        equal += y == actual;
    }
    return (less + equal * cw_rng_uniform(r)) / draws;
}

/* The same for `actual` sound of n after `weeks` at a weekly hazard exp(eta), one lot. */
static inline double cw_test_rot_pit(const cw_latent *l, size_t unit, int64_t n, double weeks, int64_t actual,
                                     int draws, cw_rng *r)
{
    double less = 0, equal = 0;
    for (int i = 0; i < draws; i++) {
        const cw_latent_point *p = cw_test_point(l, r);
        double eta = cw_test_eta(l, p, unit, r) + p->lot_sd * cw_draw_normal(r);
        int64_t y = cw_draw_binomial(r, n, exp(-weeks * exp(eta)));
        less += y < actual;
        equal += y == actual;
    }
    return (less + equal * cw_rng_uniform(r)) / draws;
}

/* Shares of PITs inside the central 50, 80 and 90 %, counted. */
typedef struct cw_test_coverage {
    int n, in50, in80, in90, low10, high10;
} cw_test_coverage;

static inline void cw_test_cover(cw_test_coverage *c, double pit)
{
    c->n++;
    c->in50 += fabs(pit - 0.5) < 0.25;
    c->in80 += fabs(pit - 0.5) < 0.40;
    c->in90 += fabs(pit - 0.5) < 0.45;
    c->low10 += pit <= 0.1;
    c->high10 += pit >= 0.9;
}

#endif

/* SPDX-License-Identifier: MIT */
/* The two likelihoods of a lot as functions of its eta, with three derivatives.
 *
 * Counts: l = (Y eta - E exp(eta)) / phi.
 * Cloglog: per item, x = exposure * exp(eta), r rotten of n:  l = r log(1 - exp(-x)) - (n - r) x;
 *     1 - exp(-x) = 1 / (1 + 1 / (exp(x) - 1)).
 *     A = x / (exp(x) - 1) is d log(1 - exp(-x)) / d eta;  A' = A (1 - x - A);  A'' = A' (1 - x - A) - A (x + A').
 *     The expected information is n x A, its derivative n x A (2 - x - A). */
#include "model/mixed_inside.h"
#include "model/wide.h"

#include <math.h>

#include "base/banned.h"

static double counts(mixed_work *w, double phi)
{
    const mixed_model *m = w->m;
    double sum = 0, precision = 1 / phi;
    cw_exp_each(m->lots, w->eta, w->weight);
    for (size_t i = 0; i < m->lots; i++) {
        double mean = w->exposure[i] * w->weight[i];
        sum += m->count[i] * w->eta[i] - mean;
        w->slope[i] = precision * (m->count[i] - mean);
        w->weight[i] = w->third[i] = precision * mean;
    }
    return precision * (sum + w->tilt_gain) + (precision - 1) * m->phi_offset -
           0.5 * m->phi_freedom * log(phi);
}

/* exp(x) - 1 for x >= 0 to 14 digits; the library's expm1 costs four times as much. */
static double exp_less_1(double x)
{
    if (x > 0.02)
        return exp(x) - 1;
    return x * (1 + x / 2 * (1 + x / 3 * (1 + x / 4 * (1 + x / 5 * (1 + x / 6)))));
}

static double cloglog(mixed_work *w)
{
    const mixed_model *m = w->m;
    double sum = 0;
    cw_exp_each(m->lots, w->eta, w->weight);
    for (size_t i = 0; i < m->lots; i++) {
        double hazard = w->weight[i], slope = 0, weight = 0, third = 0;
        for (size_t j = m->item_start[i]; j < m->item_start[i + 1]; j++) {
            double x = w->dose[j] * hazard, r = m->item[j].count;
            double sound = (m->item[j].trials - r) * x;
            sum -= sound;
            slope -= sound;
            weight += sound;
            third += sound;
            if (r == 0)
                continue;
            double odds = 1 / exp_less_1(x); /* of sound against rotten */
            double a = x * odds, b = 1 - x - a, a1 = a * b;
            sum -= r * log(1 + odds);
            slope += r * a;
            weight -= r * a1;
            third -= r * (a1 * b - a * (x + a1));
        }
        w->slope[i] = slope;
        w->weight[i] = weight;
        w->third[i] = third;
    }
    return sum;
}

double cw_mixed_likelihood(mixed_work *w, double phi)
{
    return w->m->family == CW_MIXED_COUNT ? counts(w, phi) : cloglog(w);
}

void cw_mixed_expected(mixed_work *w)
{
    const mixed_model *m = w->m;
    cw_exp_each(m->lots, w->eta, w->expected);
    for (size_t i = 0; i < m->lots; i++) {
        double hazard = w->expected[i], weight = 0, third = 0;
        for (size_t j = m->item_start[i]; j < m->item_start[i + 1]; j++) {
            double x = w->dose[j] * hazard, a = x / exp_less_1(x);
            weight += m->item[j].trials * x * a;
            third += m->item[j].trials * x * a * (2 - x - a);
        }
        w->expected[i] = weight;
        w->expected_third[i] = third;
    }
}

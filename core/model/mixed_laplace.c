/* SPDX-License-Identifier: MIT */
/* Laplace's approximation: mode, log-likelihood, gradient.
 *
 *     L = l(eta(u)) - u'u / 2 - 1/2 log |H| at the mode u,  H = I + Lambda Z' W Z Lambda.
 * With v = Var(eta), a change of eta moves L through W by s = -1/2 v dW/d eta. Let p = H^-1 Lambda Z' s. Then, since
 * Lambda Z' l' = u at the mode,
 *     dL / d log sd_k = sum over term k of  u^2 - (1 - Var u) + 2 p u
 *     dL / d log phi  = direct + 1/2 sum v W - sum of p u     (all of l', W scale with 1 / phi; of what is said of
 *                       varieties they do not, so its part of p u is put back)
 *     dL / d intercept = sum of l' + s - W (Z Lambda p).
 * p is also the first-order step from mode to mean of the effects. With the expected information in |H| the same holds
 * with v and Var u from it, and p from the observed one. */
#include "model/mixed_inside.h"
#include "model/linear.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

#define MOST_STEPS 100
#define CLOSE      0.1

static double objective(mixed_work *w, const mixed_theta *t)
{
    double said = 0;
    for (size_t v = 0; v < w->m->varieties; v++)
        said += w->m->own[v].weight * w->own_off[v] * w->own_off[v];
    return cw_mixed_likelihood(w, t->phi) - 0.5 * said - 0.5 * cw_dot(w->u_lot, w->u_lot, w->unknowns) +
           (w->rest       ? cw_mixed_rest_gain(w)
            : w->seasoned ? cw_mixed_season_gain(w)
                          : 0);
}

static void move(mixed_work *w, double step)
{
    for (size_t i = 0; i < w->unknowns; i++)
        w->u_lot[i] += step * w->x_lot[i];
    for (size_t i = 0; i < w->m->lots; i++)
        w->eta[i] += step * w->x_eta[i];
    for (size_t v = 0; v < w->m->varieties; v++)
        w->own_off[v] -= step * w->x_own[v];
}

/* u was found for other sds. An effect that the data determine keeps sd * u, one that they do not keeps u / sd (its mean
 * falls with the prior variance); between them by how much the data tell. Saves a Newton step or two. */
static void rescale(mixed_work *w, const mixed_theta *t)
{
    for (int k = 0; k < CW_TERMS; k++) {
        double *u, *x, from = w->sd_of_u[k], to = t->sd[k];
        w->sd_of_u[k] = to;
        if (from <= 0 || to <= 0 || from == to)
            continue;
        double ratio = pow(to / from, 1 - 2 * w->told[k]);
        size_t n = cw_mixed_term_effects(w, k, &u, &x);
        for (size_t i = 0; i < n; i++)
            u[i] *= ratio;
    }
}

double cw_mixed_laplace(mixed_work *w, const mixed_theta *t, bool expected, double tolerance)
{
    rescale(w, t);
    if (!cw_mixed_set_seasons(w, t))
        return -INFINITY;
    cw_mixed_set_doses(w, t);
    cw_mixed_predict(w, t);
    double value = objective(w, t);
    if (!isfinite(value)) { /* a start from elsewhere may be absurd here; u = 0 never is */
        memset(w->u_lot, 0, w->unknowns * sizeof *w->u_lot);
        cw_mixed_predict(w, t);
        value = objective(w, t);
    }
    double gain = INFINITY, before = INFINITY; /* twice what this step and the one before it promised */
    for (int steps = 0; isfinite(value) && steps < MOST_STEPS; steps++) {
        if (!cw_mixed_factor(w, t, w->weight))
            return -INFINITY;
        /* Newton squares the gain near the mode, next / gain is about (gain / before)^2, so there is no need to
         * compute the next to see that it is nothing. (Not trusted beyond 1e-4: the first steps may have been long
         * for another reason, and a likelihood with a wall is not square for long.) */
        double shrinking = isfinite(before) ? fmax(gain / before, 1e-2) : 1;
        if (gain * shrinking * shrinking < CLOSE * tolerance)
            break;
        before = gain;
        gain = cw_mixed_solve(w, t, w->weight, w->slope, true);
        /* The determinant moves with the mode to first order: a step is left out only if it is far too small. */
        if (gain < 1e-3 * tolerance)
            break;
        double step = 1, next;
        move(w, step);
        while (!((next = objective(w, t)) > value - 1e-9 * fabs(value)) && step > 1e-8) {
            move(w, -0.75 * step); /* overshot: a quarter of the step, from where it began */
            step *= 0.25;
            before = INFINITY;
        }
        value = next;
    }
    if (expected) {
        cw_mixed_expected(w);
        if (!cw_mixed_factor(w, t, w->expected))
            return -INFINITY;
    }
    value += w->m->constant - 0.5 * cw_mixed_log_determinant(w);
    return isfinite(value) ? value : -INFINITY;
}

/* The same for seasons with a prior of their own: of r u + r p + (P p) u, r = P u - pull; and of its p r. */
static double season_sum(mixed_work *w, double *pr)
{
    size_t n = w->m->level_count[CW_TERM_SEASON], first = w->m->first[CW_TERM_SEASON];
    const double *u = w->u_shared + first, *p = w->x_shared + first;
    double sum = 0;
    cw_mixed_resist(w, w->resist);
    for (size_t s = 0; s < n; s++) {
        sum += w->resist[s] * (u[s] + p[s]) + cw_dot(w->season_precision + s * n, p, n) * u[s];
        *pr += p[s] * w->resist[s];
    }
    return sum;
}

/* sum of a term's u (u + 2 p), and of its p u. */
static double term_sum(mixed_work *w, int term, double *pu)
{
    double *u, *x;
    if (term == CW_TERM_SEASON && w->seasoned)
        return season_sum(w, pu);
    size_t n = cw_mixed_term_effects(w, term, &u, &x);
    double both = cw_dot(u, x, n);
    *pu += both;
    return cw_dot(u, u, n) + 2 * both;
}

void cw_mixed_slopes(mixed_work *w, const mixed_theta *t, bool expected, mixed_gradient *out)
{
    const mixed_model *m = w->m;
    const double *weight = expected ? w->expected : w->weight;
    const double *third = expected ? w->expected_third : w->third;
    double *s = w->eta, direct_phi = 0, trace = 0; /* eta is not needed any more */
    bool tilted = m->item_start[m->lots] > 0 && cw_mixed_is_tilted(m);
    if (tilted)
        cw_mixed_item_slopes(w, t->phi);
    if (m->family == CW_MIXED_COUNT) {
        double kernel = w->tilt_gain;
        for (size_t i = 0; i < m->lots; i++)
            kernel += m->count[i] * w->eta[i] - t->phi * w->weight[i];
        direct_phi = -(kernel + m->phi_offset) / t->phi - 0.5 * m->phi_freedom;
    }
    cw_mixed_covariance(w, t, weight);
    for (size_t i = 0; i < m->lots; i++) {
        s[i] = -0.5 * w->variance[i] * third[i];
        trace += w->variance[i] * weight[i];
    }
    if (expected)
        (void)cw_mixed_factor(w, t, w->weight); /* it was positive definite on the way to the mode */
    cw_mixed_solve(w, t, w->weight, s, false);
    double pu = w->u_shared[0] * w->x_shared[0];
    for (int k = 0; k < CW_TERMS; k++) {
        double *u, *x;
        out->log_sd[k] = term_sum(w, k, &pu) - w->vanished[k];
        w->told[k] = w->vanished[k] / fmax(1, (double)cw_mixed_term_effects(w, k, &u, &x));
    }
    out->log_drift = w->seasoned && t->drift > 0 ? cw_mixed_drift_slope(w) : 0;
    memset(out->tilt, 0, sizeof out->tilt);
    if (tilted)
        cw_mixed_tilt_slopes(w, out->tilt);
    out->log_phi = direct_phi + 0.5 * trace - pu + cw_mixed_own_slope(w);
    out->intercept = 0;
    for (size_t i = 0; i < m->lots; i++)
        out->intercept += w->slope[i] + s[i] - w->weight[i] * w->x_eta[i];
    for (size_t v = 0; v < m->varieties; v++)
        out->intercept += m->own[v].weight * (w->own_off[v] - w->x_own[v]);
}

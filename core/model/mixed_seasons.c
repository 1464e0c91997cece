/* SPDX-License-Identifier: MIT */
/* The prior of the seasons' standardised effects u where it is not N(0, 1) each.
 *
 * With drift d, Cov u = K = 1 + d^2 (W + t t'), W[s, t] = min(s, t), t = 0, 1, .. from the last season backwards, so that
 * what is said of a nursery without rows does not depend on how many seasons there might have been. What another
 * fit tells of the seasons adds M to the precision and g to the pull: P = K^-1 + M. In mixed_laplace.c P takes the place
 * of 1 in H, and P u - g that of u where the likelihood's slope is meant. For the drift, with P' = dP / d log d,
 *     dL / d log d = -1/2 u'P'u - 1/2 tr(K^-1 K') - 1/2 tr(V P') - p'P'u. */
#include "model/mixed_inside.h"
#include "model/linear.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

static size_t seasons_of(const mixed_work *w)
{
    return w->m->level_count[CW_TERM_SEASON];
}

static double drift_of(size_t n, size_t s, size_t t)
{
    double back_s = (double)(n - 1 - s), back_t = (double)(n - 1 - t);
    return fmin(back_s, back_t) + back_s * back_t;
}

/* season_precision := K^-1; season_drift := d of it / d log d = -K^-1 (2 d^2 (W + tt')) K^-1. */
static bool drift(mixed_work *w, double d)
{
    size_t n = seasons_of(w);
    double *k = w->season_precision, *inverse = w->season_work, *slope = w->season_drift,
           *half = w->season_work + n * n;
    for (size_t s = 0; s < n; s++)
        for (size_t t = 0; t < n; t++)
            k[s * n + t] = (s == t ? 1 : 0) + d * d * drift_of(n, s, t);
    if (!cw_cholesky(k, n))
        return false;
    w->season_half_log = 0;
    for (size_t s = 0; s < n; s++)
        w->season_half_log -= log(k[s * (n + 1)]);
    cw_cholesky_invert_factor(k, n, inverse);
    cw_cholesky_inverse(inverse, n, k);
    w->season_trace = 0;
    for (size_t s = 0; s < n; s++) /* half = K^-1 K' */
        for (size_t t = 0; t < n; t++) {
            half[s * n + t] = 0;
            for (size_t i = 0; i < n; i++)
                half[s * n + t] += k[s * n + i] * 2 * d * d * drift_of(n, i, t);
        }
    for (size_t s = 0; s < n; s++) {
        w->season_trace += half[s * (n + 1)];
        for (size_t t = 0; t < n; t++) {
            slope[s * n + t] = 0;
            for (size_t i = 0; i < n; i++)
                slope[s * n + t] -= half[s * n + i] * k[i * n + t];
        }
    }
    return true;
}

bool cw_mixed_set_seasons(mixed_work *w, const mixed_theta *t)
{
    size_t n = seasons_of(w);
    w->seasoned = w->rest == NULL && n > 0 && (t->drift > 0 || w->heard != NULL);
    if (!w->seasoned)
        return true;
    w->season_half_log = w->season_trace = 0;
    memset(w->season_precision, 0, n * n * sizeof *w->season_precision);
    memset(w->season_pull, 0, n * sizeof *w->season_pull);
    for (size_t s = 0; s < n; s++)
        w->season_precision[s * (n + 1)] = 1;
    if (t->drift > 0 && !drift(w, t->drift))
        return false;
    for (size_t s = 0; s < n && w->heard; s++) {
        w->season_pull[s] = w->heard->pull[s];
        for (size_t i = 0; i < n; i++)
            w->season_precision[s * n + i] += w->heard->precision[s * n + i];
    }
    return true;
}

void cw_mixed_resist(const mixed_work *w, double *out)
{
    size_t n = seasons_of(w);
    const double *u = w->u_shared + w->m->first[CW_TERM_SEASON];
    for (size_t s = 0; s < n; s++)
        out[s] = cw_dot(w->season_precision + s * n, u, n) - w->season_pull[s];
}

double cw_mixed_season_gain(const mixed_work *w)
{
    size_t n = seasons_of(w);
    const double *u = w->u_shared + w->m->first[CW_TERM_SEASON];
    double sum = w->season_half_log;
    for (size_t s = 0; s < n; s++)
        sum += u[s] * (0.5 * u[s] - 0.5 * cw_dot(w->season_precision + s * n, u, n) + w->season_pull[s]);
    return sum;
}

double cw_mixed_season_vanished(const mixed_work *w)
{
    size_t n = seasons_of(w), q = w->m->shared, first = w->m->first[CW_TERM_SEASON];
    double sum = (double)n;
    for (size_t s = 0; s < n; s++)
        sum -= cw_dot(w->covariance + (first + s) * q + first, w->season_precision + s * n, n);
    return sum;
}

double cw_mixed_drift_slope(const mixed_work *w)
{
    size_t n = seasons_of(w), q = w->m->shared, first = w->m->first[CW_TERM_SEASON];
    const double *u = w->u_shared + first, *p = w->x_shared + first;
    double sum = -0.5 * w->season_trace;
    for (size_t s = 0; s < n; s++) {
        const double *row = w->season_drift + s * n;
        sum -= (0.5 * u[s] + p[s]) * cw_dot(row, u, n) +
               0.5 * cw_dot(w->covariance + (first + s) * q + first, row, n);
    }
    return sum;
}

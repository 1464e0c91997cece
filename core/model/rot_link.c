/* SPDX-License-Identifier: MIT */
#include "model/rot_link.h"

#include "model/linear.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define PRIOR_RHO    0.7
#define PRIOR_RHO_SD 0.2
#define LIKE         0.25
#define STEP_RHO     0.05
#define LEAST_RHO    (-0.5)
#define STEPS        30 /* to 0.95 */

/* Log density of rho without the prior; p [4 n^2] becomes the factor of the joint precision, x [2 n] its solution for h. */
static double log_density(const cw_mixed_seasons told[2], double rho, double *p, double *x)
{
    size_t n = told[0].seasons, all = 2 * n;
    double c = 1 - rho * rho, sum = -0.5 * (double)n * log(c);
    memset(p, 0, all * all * sizeof *p);
    for (size_t s = 0; s < n; s++) {
        for (size_t t = 0; t < n; t++) {
            p[s * all + t] = told[0].precision[s * n + t];
            p[(n + s) * all + n + t] = told[1].precision[s * n + t];
        }
        p[s * (all + 1)] += 1 / c;
        p[(n + s) * (all + 1)] += 1 / c;
        p[(n + s) * all + s] = p[s * all + n + s] = -rho / c;
        x[s] = told[0].pull[s];
        x[n + s] = told[1].pull[s];
    }
    if (!cw_cholesky(p, all))
        return -INFINITY;
    cw_cholesky_forward(p, all, x);
    for (size_t s = 0; s < all; s++)
        sum += 0.5 * x[s] * x[s] - log(p[s * (all + 1)]);
    return sum;
}

cw_code cw_rot_correlate(const cw_mixed_seasons told[2], double *rho, double *covariance, cw_error *err)
{
    size_t n = told[0].seasons, all = 2 * n;
    double *p = calloc(all * all + all + 1, sizeof *p), *x = p ? p + all * all : NULL, value[STEPS],
           top = -INFINITY;
    if (p == NULL)
        return cw_error_memory(err);
    for (int i = 0; i < STEPS; i++) {
        double at = LEAST_RHO + STEP_RHO * i, z = (at - PRIOR_RHO) / PRIOR_RHO_SD;
        value[i] = log_density(told, at, p, x) - 0.5 * z * z;
        top = fmax(top, value[i]);
    }
    double total = 0, sum = 0;
    for (int i = 0; i < STEPS; i++) {
        double weight = isfinite(value[i]) ? exp(value[i] - top) : 0;
        total += weight;
        sum += weight * (LEAST_RHO + STEP_RHO * i);
    }
    *rho = total > 0 ? sum / total : 0;
    *covariance = 0;
    if (isfinite(log_density(told, *rho, p, x))) {
        memset(x, 0, all * sizeof *x);
        memcpy(x + n, told[1].lean, n * sizeof *x);
        cw_cholesky_forward(p, all, x);
        cw_cholesky_backward(p, all, x);
        *covariance = cw_dot(told[0].lean, x, n);
    }
    free(p);
    return CW_OK;
}

/* What a stage's rows tell the other one. */
static cw_code message(const cw_mixed_seasons *from, double rho, cw_mixed_seasons *to, cw_error *err)
{
    size_t n = from->seasons;
    double c = 1 - rho * rho, *part = calloc(2 * n * n + 1, sizeof *part), *b = part ? part + n * n : NULL;
    *to = (cw_mixed_seasons){ .seasons = n,
                              .precision = calloc(n * n + 1, sizeof(double)),
                              .pull = calloc(n + 1, sizeof(double)) };
    if (part == NULL || to->precision == NULL || to->pull == NULL) {
        free(part);
        cw_mixed_seasons_free(to);
        return cw_error_memory(err);
    }
    for (size_t s = 0; s < n * n; s++)
        part[s] = c * from->precision[s] + (s % (n + 1) == 0 ? 1 : 0);
    if (cw_cholesky(part, n)) {
        cw_cholesky_invert_factor(part, n, b);
        cw_cholesky_inverse(b, n, part);
        for (size_t s = 0; s < n; s++) {
            to->pull[s] = rho * cw_dot(part + s * n, from->pull, n);
            for (size_t t = 0; t < n; t++)
                to->precision[s * n + t] = rho * rho * ((s == t ? 1 : 0) - part[s * n + t]) / c;
        }
    }
    free(part);
    return CW_OK;
}

/* The sds of the two stages are alike (log ratio N(0, LIKE^2)): each log sd is drawn to the other by how little it knows,
 * and what was told is put in the new units. */
static void tie_sds(cw_mixed *const fit[2], cw_mixed_seasons told[2], double shift[2])
{
    double apart = 0, variance[2];
    for (int k = 0; k < 2; k++) {
        const cw_mixed_report *r = cw_mixed_result(fit[k]);
        variance[k] = r->log_sd_sd[CW_TERM_SEASON] * r->log_sd_sd[CW_TERM_SEASON];
        apart += (k == 0 ? -1 : 1) * log(r->hyper.sd[CW_TERM_SEASON]);
    }
    double close = apart / (LIKE * LIKE + variance[0] + variance[1]);
    shift[0] = close * variance[0];
    shift[1] = -close * variance[1];
    for (int k = 0; k < 2; k++) {
        double scale = exp(shift[k]);
        for (size_t i = 0; i < told[k].seasons * told[k].seasons; i++)
            told[k].precision[i] *= scale * scale;
        for (size_t i = 0; i < told[k].seasons; i++) {
            told[k].pull[i] *= scale;
            told[k].lean[i] *= scale;
        }
    }
}

static cw_code make(cw_mixed *const fit[2], cw_rot_pair *p, cw_error *err)
{
    cw_mixed_seasons told[2] = { { 0 }, { 0 } }, heard[2] = { { 0 }, { 0 } };
    double shift[2] = { 0, 0 };
    cw_code code = CW_OK;
    for (int k = 0; k < 2 && code == CW_OK; k++)
        code = cw_mixed_told(fit[k], &told[k], err);
    if (code == CW_OK) {
        tie_sds(fit, told, shift);
        code = cw_rot_correlate(told, &p->correlation, &p->tie, err);
    }
    for (int k = 0; k < 2 && code == CW_OK; k++) {
        code = message(&told[1 - k], p->correlation, &heard[k], err);
        if (code == CW_OK)
            code = cw_mixed_link(fit[k], &heard[k], shift[k], &p->stage[k], err);
    }
    for (int k = 0; k < 2; k++) {
        cw_mixed_seasons_free(&told[k]);
        cw_mixed_seasons_free(&heard[k]);
    }
    return code;
}

/* Both stages from an earlier pair: what they tell each other is hardly another. */
static bool again(cw_mixed *const fit[2], const cw_rot_pair *before, cw_rot_pair *p)
{
    for (int k = 0; k < 2; k++)
        if (!cw_mixed_relink(fit[k], before->stage[k], &p->stage[k]))
            break;
    if (p->stage[1] != NULL) {
        p->correlation = before->correlation;
        p->tie = before->tie;
        return true;
    }
    cw_mixed_linked_free(p->stage[0]);
    p->stage[0] = NULL;
    return false;
}

cw_code cw_rot_link(cw_mixed *const fit[2], cw_rot_pair *before, cw_rot_pair **out, cw_error *err)
{
    *out = NULL;
    if (before != NULL && before->fit[0] == fit[0] && before->fit[1] == fit[1]) {
        atomic_fetch_add(&before->holders, 1);
        *out = before;
        return CW_OK;
    }
    cw_rot_pair *p = calloc(1, sizeof *p);
    if (p == NULL)
        return cw_error_memory(err);
    atomic_init(&p->holders, 1);
    p->fit[0] = fit[0];
    p->fit[1] = fit[1];
    cw_code code = before != NULL && again(fit, before, p) ? CW_OK
                   : cw_mixed_is_near(fit[0]) || cw_mixed_is_near(fit[1])
                       ? cw_error_set(err, CW_CONFLICT, "the seasons must be linked from whole fits")
                       : make(fit, p, err);
    if (code != CW_OK) {
        cw_rot_pair_free(p);
        return code;
    }
    *out = p;
    return CW_OK;
}

void cw_rot_pair_free(cw_rot_pair *p)
{
    if (p == NULL || atomic_fetch_sub(&p->holders, 1) > 1)
        return;
    for (int k = 0; k < 2; k++)
        cw_mixed_linked_free(p->stage[k]);
    free(p);
}

/* SPDX-License-Identifier: MIT */
#include "model/knowledge.h"

#include "model/special.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Gauss-Hermite for a standard normal, 9 nodes (Abramowitz & Stegun 25.4.46 and
 * table 25.10, scaled by sqrt 2 and 1 / sqrt pi; computed by scipy 1.10
 * roots_hermite); symmetric. */
#define BELLS 5
static const double bell_at[BELLS] = { 0, 1.0232556637891326, 2.0768479786778302, 3.2054290028564703,
                                       4.5127458633997826 };
static const double bell_weight[BELLS] = { 0.40634920634920635, 0.24409750289493909, 0.049916406765217867,
                                           0.0027891413212317675, 0.000022345844007746563 };

#define STRETCHES 24 /* of the integral over the quantity: Simpson's rule */

/* A law of S: log-normal, log S ~ N(log, sd^2). */
typedef struct law {
    double log, sd;
} law;

static law law_of(double mean, double log_variance)
{
    return (law){ log(mean) - log_variance / 2, sqrt(log_variance) };
}

static double below(law s, double x)
{
    if (x <= 0)
        return 0;
    return s.sd > 0 ? cw_normal_p((log(x) - s.log) / s.sd) : (log(x) > s.log ? 1 : 0);
}

static double asked_beyond(const cw_knowledge_variety *v, double x)
{
    if (v->demand == NULL)
        return 1;
    double low = floor(x), part = x - low; /* smooth between whole numbers */
    return (1 - part) * (1 - cw_distribution_cdf(v->demand, (int64_t)low - 1)) +
           part * (1 - cw_distribution_cdf(v->demand, (int64_t)low));
}

static double profit(const cw_knowledge_variety *v, law s)
{
    double q = exp(s.log - s.sd * cw_normal_quantile(v->confidence)) - v->withheld, sum = 0;
    if (q <= v->sold)
        return 0;
    double step = (q - v->sold) / STRETCHES;
    for (int i = 0; i <= STRETCHES; i++) {
        double x = v->sold + step * i;
        double earns = v->margin - (v->margin + v->short_cost) * below(s, x + v->withheld);
        sum += (i == 0 || i == STRETCHES ? 1 : i % 2 ? 4 : 2) * asked_beyond(v, x) * earns;
    }
    return sum * step / 3;
}

static double spread_of(const cw_knowledge_variety *v)
{
    return v->mean > 0 && v->variance > 0 ? log1p(v->variance / (v->mean * v->mean)) : 0;
}

double cw_knowledge_profit(const cw_knowledge_variety *v)
{
    return v->mean > 0 ? profit(v, law_of(v->mean, spread_of(v))) : 0;
}

/* Of log S with variance `all`, the part `known` gets known. */
static double rise_of(const cw_knowledge_variety *v, double all, double known)
{
    double after = 0;
    known = fmin(known, all);
    if (!(v->mean > 0) || !(known > 0))
        return 0;
    for (int i = 0; i < BELLS; i++)
        for (int side = i == 0 ? 1 : -1; side <= 1; side += 2) {
            double m = v->mean * exp(side * bell_at[i] * sqrt(known) - known / 2);
            after += bell_weight[i] * profit(v, law_of(m, all - known));
        }
    return fmax(0, after - profit(v, law_of(v->mean, all)));
}

double cw_knowledge_rise(const cw_knowledge_variety *v, double share)
{
    double all = spread_of(v);
    return rise_of(v, all, share * all);
}

/* ---- what each lot tells ---- */

typedef struct telling {
    const cw_knowledge_input *in;
    const cw_latent_point *point;
    size_t shared;
    double dispersion;
    double *z;        /* [shared^2] covariance of z */
    double *z_own;    /* [varieties * shared] covariance of z and a variety's own part */
    double *own;      /* [varieties] its variance */
    double *variance; /* [varieties] of log S, as it will be */
    double *whole;    /* [varieties] divisions expected of clumps that are not cut yet */
    double *part;     /* [varieties] and at first, as a part of the mean */
    double *loading;  /* [varieties * shared] of z in a variety's log rate */
    double *rate;     /* [varieties] divisions expected of a sound clump */
    double *others;   /* [shared^2] sum over varieties of worth * (whole / mean)^2 *
                     loading loading' */
    double *worth;    /* [varieties] money for a unit of the variance of log S */
    double *by_z;     /* [shared] scratch: covariance of z and the observation */
} telling;

static const double *loading(const telling *t, size_t variety)
{
    return t->loading + variety * t->shared;
}

static double square(double x)
{
    return x * x;
}

/* Variance of the log rate as the whole mixture has it: of the log-normal law
 * with the mixture's mean and variance. Its parts are taken in the proportions
 * of the heaviest point. */
static void mix(telling *t, size_t u)
{
    const cw_latent *l = t->in->rate;
    double mean = 0, squares = 0, here = 0;
    for (size_t p = 0; p < l->points; p++) {
        const cw_latent_point *at = &l->point[p];
        const double *has = cw_latent_loading(l, p, u);
        double spread = square(at->own_sd[u]);
        for (size_t k = 0; k < t->shared; k++)
            spread += square(has[k]);
        mean += at->weight * exp(at->mean[u] + spread / 2);
        squares += at->weight * exp(2 * at->mean[u] + 2 * spread);
        here = at == t->point ? spread : here;
    }
    double scale = here > 0 ? log(squares / (mean * mean)) / here : 1;
    const double *heaviest = cw_latent_loading(l, (size_t)(t->point - l->point), u);
    for (size_t k = 0; k < t->shared; k++)
        t->loading[u * t->shared + k] = sqrt(scale) * heaviest[k];
    t->own[u] = scale * square(t->point->own_sd[u]);
    t->rate[u] = mean;
}

static double dot(size_t n, const double *a, const double *b)
{
    double sum = 0;
    for (size_t k = 0; k < n; k++)
        sum += a[k] * b[k];
    return sum;
}

/* Which share of its variety's log rate a lot follows, and the spread of what
 * is its own. */
static double lot_pull(const telling *t, size_t lot, double *sd)
{
    const cw_latent *l = t->in->rate;
    double variance = 0, pull = 0;
    for (size_t p = 0; p < l->points; p++) {
        variance += l->point[p].weight * square(l->lots ? l->point[p].lot_own_sd[lot] : l->point[p].lot_sd);
        pull += l->point[p].weight * (l->lots ? 1 - l->point[p].lot_pull[lot] : 1);
    }
    *sd = sqrt(variance);
    return pull;
}

static void begin(telling *t)
{
    size_t k = t->shared;
    for (size_t p = 0; p < t->in->rate->points; p++)
        t->dispersion += t->in->rate->point[p].weight * t->in->rate->point[p].dispersion;
    for (size_t i = 0; i < k; i++)
        t->z[i * k + i] = 1;
    for (size_t l = 0; l < t->in->lots; l++)
        t->whole[t->in->lot[l].variety] += t->in->lot[l].divisions;
    for (size_t u = 0; u < t->in->varieties; u++) {
        const cw_knowledge_variety *v = &t->in->variety[u];
        mix(t, u);
        t->variance[u] = spread_of(v);
        double some = 0.05 * t->variance[u], w = t->part[u] = v->mean > 0 ? t->whole[u] / v->mean : 0;
        t->worth[u] = some > 0 ? rise_of(v, t->variance[u], some) / some : 0;
        for (size_t i = 0; i < k; i++)
            for (size_t j = 0; j < k; j++)
                t->others[i * k + j] += t->worth[u] * w * w * loading(t, u)[i] * loading(t, u)[j];
    }
}

static double offered(const cw_knowledge_variety *v, double spread)
{
    law s = law_of(v->mean, spread);
    return fmax(0, exp(s.log - s.sd * cw_normal_quantile(v->confidence)) - v->withheld);
}

/* What cutting a lot earns, given all lots before it; then it is one of those.
 */
static double tell(telling *t, size_t lot, double *freed)
{
    const cw_knowledge_lot *l = &t->in->lot[lot];
    const cw_knowledge_variety *v = &t->in->variety[l->variety];
    size_t k = t->shared, u = l->variety;
    double sd, pull = lot_pull(t, lot, &sd), expected = l->clumps * t->rate[u];
    *freed = 0;
    if (!(l->clumps > 0) || !(l->divisions > 0) || !(v->mean > 0))
        return 0;
    for (size_t i = 0; i < k; i++)
        t->by_z[i] = pull * (dot(k, t->z + i * k, loading(t, u)) + t->z_own[u * k + i]);
    double by_own = pull * (dot(k, t->z_own + u * k, loading(t, u)) + t->own[u]);
    double by_rate = dot(k, loading(t, u), t->by_z) + by_own; /* Cov(eta of the variety, o) */
    double noise = fmax(t->dispersion, 0.01) / fmax(expected, 1e-9);
    double of_lot = pull * by_rate + sd * sd; /* Var(eta of the lot) */
    double all = of_lot + noise;
    /* the other lots follow the variety; this one is counted */
    double covariance = ((t->whole[u] - l->divisions) * by_rate + l->divisions * all) / v->mean;
    double resolved = fmin(covariance * covariance / all, t->variance[u]);
    double rise = rise_of(v, t->variance[u], resolved);
    *freed = fmax(0, offered(v, t->variance[u] - resolved) - offered(v, t->variance[u]));
    double others = 0, own_w = t->part[u] * dot(k, loading(t, u), t->by_z);
    for (size_t i = 0; i < k; i++)
        others += t->by_z[i] * dot(k, t->others + i * k, t->by_z);
    others = fmax(0, (others - t->worth[u] * own_w * own_w) / all);
    for (size_t i = 0; i < k; i++) {
        for (size_t j = 0; j < k; j++)
            t->z[i * k + j] -= t->by_z[i] * t->by_z[j] / all;
        t->z_own[u * k + i] -= t->by_z[i] * by_own / all;
    }
    t->own[u] = fmax(0, t->own[u] - by_own * by_own / all);
    t->variance[u] -= resolved;
    t->whole[u] -= l->divisions;
    return rise + others;
}

static void telling_free(telling *t)
{
    void *parts[] = { t->z,      t->z_own, t->own,  t->variance, t->whole, t->part,
                      t->others, t->worth, t->by_z, t->loading,  t->rate };
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
        free(parts[i]);
}

cw_code cw_knowledge_values(const cw_knowledge_input *in, double *value, double *freed, cw_error *err)
{
    size_t k = in->rate->shared, n = in->varieties + 1, best = 0;
    bool wanted = true;
    for (size_t p = 1; p < in->rate->points; p++)
        if (in->rate->point[p].weight > in->rate->point[best].weight)
            best = p;
    telling t = { .in = in, .point = &in->rate->point[best], .shared = k };
    t.z = calloc(k * k + 1, sizeof *t.z);
    t.others = calloc(k * k + 1, sizeof *t.others);
    t.z_own = calloc(n * (k + 1), sizeof *t.z_own);
    t.own = calloc(n, sizeof *t.own);
    t.variance = calloc(n, sizeof *t.variance);
    t.whole = calloc(n, sizeof *t.whole);
    t.loading = calloc(n * (k + 1), sizeof *t.loading);
    t.rate = calloc(n, sizeof *t.rate);
    t.part = calloc(n, sizeof *t.part);
    t.worth = calloc(n, sizeof *t.worth);
    t.by_z = calloc(k + 1, sizeof *t.by_z);
    bool good = t.z && t.others && t.z_own && t.own && t.variance && t.whole && t.worth && t.part &&
                t.loading && t.rate && t.by_z;
    if (good) {
        begin(&t);
        size_t cut = in->order ? in->ordered : in->lots;
        for (size_t i = 0; i < in->lots; i++) {
            value[i] = 0;
            if (freed)
                freed[i] = 0;
        }
        for (size_t i = 0; i < cut && (wanted = cw_wanted(in->go_on)); i++) {
            size_t lot = in->order ? in->order[i] : i;
            double more = 0;
            value[lot] = tell(&t, lot, &more);
            if (freed)
                freed[lot] = more;
        }
    }
    telling_free(&t);
    if (good)
        return wanted ? CW_OK : cw_given_up(err);
    return cw_error_memory(err);
}

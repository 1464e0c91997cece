/* SPDX-License-Identifier: MIT */
#include "model/demand.h"

#include "base/parallel.h"
#include "model/special.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define GRID  41  /* points of log mu */
#define NODES 9   /* points of a share that is not known well */
#define FEW   120 /* varieties are enough to find alpha by */

/* The priors (from memory, no source): demand of a variety differs from season to season by some 40 %, give or take a
 * factor of three; varieties differ by a factor of two. */
#define ALPHA_PRIOR    0.15
#define ALPHA_PRIOR_SD 1.2
#define ALPHA_LEAST    0.002
#define ALPHA_MOST     3.0
#define SPREAD_PRIOR   0.8
#define SPREAD_WEIGHT  2.0
#define SPREAD_LEAST   0.2
#define LEVEL_WEIGHT   1.0

#define EIGHT_IN_TEN 2.5631 /* sds between the 10 % and the 90 % point of a normal law */
#define OWN_LEAST    0.5    /* divisions: what "none" is on the log scale */
#define LOOK_BELOW   6      /* of log mu, about a rough one */
#define LOOK_ABOVE   4

typedef struct season {
    int64_t sold;
    enum { WHOLE, ENDED, ENDED_ON, SAID } kind;
    double own, own_sd;     /* of log mu, as it was said */
    double log_node[NODES]; /* of the share */
    double log_factorial;
} season;

typedef struct variety {
    season *of;
    size_t n;
    double level;     /* log of a rough mean */
    double low, high; /* where to look for log mu */
    bool bounded, sold;
    double own_sd; /* 0: nothing is said */
    double own_share;
    /* at the alpha in hand: likelihood times step, the largest brought to 1 */
    double theta[GRID], weight[GRID];
    double top; /* what that was divided by, as a logarithm */
} variety;

typedef struct pool {
    variety *v; /* those with seasons */
    size_t count;
    unsigned threads;
    double alpha, level, spread, prior_level;
} pool;

/* log P(X = k) of a negative binomial, `constant` being what does not hang on the mean. */
static double log_pmf(double k, double size, double log_mean, double constant)
{
    double mean = exp(log_mean), log_sum = log(size + mean);
    return constant + size * (log(size) - log_sum) + k * (log_mean - log_sum);
}

static double of_season(const season *s, double theta, double size)
{
    double k = (double)s->sold;
    if (s->kind == SAID)
        return -0.5 * (theta - s->own) * (theta - s->own) / (s->own_sd * s->own_sd);
    if (s->kind == ENDED)
        return log(fmax(cw_negbin_q(s->sold - 1, size, exp(theta)), 1e-300));
    double constant = cw_log_gamma(k + size) - cw_log_gamma(size) - s->log_factorial;
    if (s->kind == WHOLE)
        return log_pmf(k, size, theta, constant);
    double each[NODES], top = -INFINITY, sum = 0;
    for (int i = 0; i < NODES; i++) {
        each[i] = log_pmf(k, size, theta + s->log_node[i], constant);
        top = fmax(top, each[i]);
    }
    for (int i = 0; i < NODES; i++)
        sum += exp(each[i] - top);
    return top + log(sum / NODES);
}

static double likelihood(const variety *v, double theta, double alpha)
{
    double sum = 0, size = 1 / alpha;
    for (size_t i = 0; i < v->n; i++)
        sum += of_season(&v->of[i], theta, size);
    return sum;
}

static season take_said(const cw_sales *s)
{
    double low = log(fmax(s->low, OWN_LEAST)), high = log(fmax(s->high, OWN_LEAST));
    return (season){ .kind = SAID,
                     .own = (low + high) / 2,
                     .own_sd = fmax(CW_DEMAND_OWN_SD, (high - low) / EIGHT_IN_TEN) };
}

/* The share's points: the middles of NODES equal parts of its Beta law. */
static season take(const cw_sales *s)
{
    if (s->said)
        return take_said(s);
    season out = { .sold = s->sold,
                   .kind = !s->sold_out   ? WHOLE
                           : s->share > 0 ? ENDED_ON
                                          : ENDED,
                   .log_factorial = cw_log_gamma((double)s->sold + 1) };
    double share = fmin(s->share, 1 - 1e-6);
    for (int i = 0; out.kind == ENDED_ON && i < NODES; i++)
        out.log_node[i] =
            log(fmax(1e-4, cw_beta_quantile((i + 0.5) / NODES, s->sure * share, s->sure * (1 - share))));
    return out;
}

double cw_demand_likelihood(const cw_sales *sales, size_t n, double mean, double alpha)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        season s = take(&sales[i]);
        sum += of_season(&s, log(mean), 1 / alpha);
    }
    return sum;
}

/* Where the likelihood has its top, within the reach of the level. */
static double top_of(const variety *v, double alpha)
{
    const double golden = 0.6180339887498949;
    double low = v->low, high = v->high;
    double a = high - golden * (high - low), b = low + golden * (high - low);
    double fa = likelihood(v, a, alpha), fb = likelihood(v, b, alpha);
    while (high - low > 0.02) {
        if (fa >= fb) {
            high = b;
            b = a;
            fb = fa;
            a = high - golden * (high - low);
            fa = likelihood(v, a, alpha);
        } else {
            low = a;
            a = b;
            fa = fb;
            b = low + golden * (high - low);
            fb = likelihood(v, b, alpha);
        }
    }
    return (low + high) / 2;
}

/* How far from the top the likelihood is still worth a look: it has fallen to exp(-14), or the reach ends. */
static double edge_of(const variety *v, double alpha, double top, double value, double end)
{
    double near = top, far = end;
    if (likelihood(v, end, alpha) > value - 14)
        return end;
    for (int i = 0; i < 7; i++) {
        double middle = (near + far) / 2;
        if (likelihood(v, middle, alpha) > value - 14)
            near = middle;
        else
            far = middle;
    }
    return far;
}

static void lay_grid(void *context, unsigned worker, size_t i)
{
    (void)worker;
    pool *p = context;
    variety *v = &p->v[i];
    double top = top_of(v, p->alpha), value = likelihood(v, top, p->alpha);
    double low = edge_of(v, p->alpha, top, value, v->low);
    double high = edge_of(v, p->alpha, top, value, v->high);
    v->top = -INFINITY;
    for (int g = 0; g < GRID; g++) {
        v->theta[g] = low + (high - low) * g / (GRID - 1);
        v->weight[g] = likelihood(v, v->theta[g], p->alpha);
        v->top = fmax(v->top, v->weight[g]);
    }
    for (int g = 0; g < GRID; g++)
        v->weight[g] = exp(v->weight[g] - v->top) * (high - low) / (GRID - 1);
}

/* Posterior weights of the grid under the pool's normal, summing to 1; returns the log of what they summed to. */
static double posterior(const pool *p, const variety *v, double *out)
{
    double sum = 0;
    for (int g = 0; g < GRID; g++) {
        out[g] = v->weight[g] * cw_normal_density((v->theta[g] - p->level) / p->spread) / p->spread;
        sum += out[g];
    }
    for (int g = 0; g < GRID; g++)
        out[g] = sum > 0 ? out[g] / sum : 1.0 / GRID;
    return v->top + log(fmax(sum, 1e-300));
}

/* Level and spread of log mu over the varieties, given the grids (EM with a weak prior). */
static void settle(pool *p)
{
    double weight[GRID];
    p->level = p->prior_level;
    p->spread = SPREAD_PRIOR;
    for (int round = 0; round < 40; round++) {
        double first = LEVEL_WEIGHT * p->prior_level, second = 0, n = (double)p->count;
        double before = p->level;
        for (size_t i = 0; i < p->count; i++) {
            double mean = 0, square = 0;
            posterior(p, &p->v[i], weight);
            for (int g = 0; g < GRID; g++) {
                mean += weight[g] * p->v[i].theta[g];
                square += weight[g] * p->v[i].theta[g] * p->v[i].theta[g];
            }
            first += mean;
            second += square - 2 * mean * before + before * before;
        }
        p->level = first / (n + LEVEL_WEIGHT);
        double shift = p->level - before, spread = p->spread;
        second -= n * shift * shift;
        p->spread = fmax(SPREAD_LEAST, sqrt((fmax(second, 0) + SPREAD_WEIGHT * SPREAD_PRIOR * SPREAD_PRIOR) /
                                            (n + SPREAD_WEIGHT)));
        if (fabs(p->spread - spread) + fabs(shift) < 1e-5)
            break;
    }
}

static double value_at(pool *p, double log_alpha)
{
    double weight[GRID], z = (log_alpha - log(ALPHA_PRIOR)) / ALPHA_PRIOR_SD, sum = -0.5 * z * z;
    p->alpha = exp(log_alpha);
    cw_parallel_for(p->threads, p->count, lay_grid, p);
    settle(p);
    for (size_t i = 0; i < p->count; i++)
        sum += posterior(p, &p->v[i], weight);
    return sum;
}

/* The best log alpha and how well it is known: a search, then a parabola through the top. */
static double best_alpha(pool *p, double *sd)
{
    const double golden = 0.6180339887498949, step = 0.3;
    double low = log(ALPHA_LEAST), high = log(ALPHA_MOST);
    double a = high - golden * (high - low), b = low + golden * (high - low);
    double fa = value_at(p, a), fb = value_at(p, b);
    while (high - low > 0.3) {
        if (fa >= fb) {
            high = b;
            b = a;
            fb = fa;
            a = high - golden * (high - low);
            fa = value_at(p, a);
        } else {
            low = a;
            a = b;
            fa = fb;
            b = low + golden * (high - low);
            fb = value_at(p, b);
        }
    }
    double best = (low + high) / 2, middle = value_at(p, best);
    double left = value_at(p, best - step), right = value_at(p, best + step);
    double bend = 2 * middle - left - right;
    *sd = ALPHA_PRIOR_SD;
    if (bend > 1e-6) {
        *sd = fmin(ALPHA_PRIOR_SD, step / sqrt(bend));
        best += fmax(-step, fmin(step, 0.5 * step * (right - left) / bend));
    }
    return fmin(fmax(best, log(ALPHA_LEAST)), log(ALPHA_MOST));
}

/* Alpha is found by some of the varieties when there are many: every so-manyth of them. */
static double alpha_of(const pool *p, double *sd, bool *memory)
{
    size_t every = (p->count + FEW - 1) / FEW;
    pool some = *p;
    some.v = calloc(p->count, sizeof *some.v);
    some.count = 0;
    *memory = some.v != NULL;
    if (some.v == NULL)
        return 0;
    for (size_t i = 0; i < p->count; i += every)
        some.v[some.count++] = p->v[i];
    double best = best_alpha(&some, sd);
    *sd *= sqrt((double)some.count / (double)p->count);
    free(some.v);
    return best;
}

/* Adds one alpha's moments of the coming season's demand. */
static void add_moments(pool *p, double share, double *mean, double *square)
{
    double weight[GRID];
    for (size_t i = 0; i < p->count; i++) {
        posterior(p, &p->v[i], weight);
        for (int g = 0; g < GRID; g++) {
            double mu = exp(p->v[i].theta[g]);
            mean[i] += share * weight[g] * mu;
            square[i] += share * weight[g] * (mu + (1 + p->alpha) * mu * mu);
        }
    }
}

/* Precisions add up: what was said is so much of the whole. */
static void weigh_own(pool *p)
{
    double weight[GRID];
    for (size_t i = 0; i < p->count; i++) {
        variety *v = &p->v[i];
        double mean = 0, square = 0;
        if (v->own_sd <= 0)
            continue;
        posterior(p, v, weight);
        for (int g = 0; g < GRID; g++) {
            mean += weight[g] * v->theta[g];
            square += weight[g] * v->theta[g] * v->theta[g];
        }
        v->own_share = fmin(1, fmax(0, square - mean * mean) / (v->own_sd * v->own_sd));
    }
}

static bool fit(pool *p, double *mean, double *square, cw_demand_pool *said)
{
    bool memory = true;
    double sd = 0, best = alpha_of(p, &sd, &memory);
    const double at[3] = { -sqrt(3), 0, sqrt(3) }, share[3] = { 1.0 / 6, 4.0 / 6, 1.0 / 6 };
    for (int k = 0; memory && k < 3; k++) {
        value_at(p, fmin(fmax(best + at[k] * sd, log(ALPHA_LEAST)), log(ALPHA_MOST)));
        add_moments(p, share[k], mean, square);
        if (k == 1)
            weigh_own(p);
        if (k == 1 && said)
            *said = (cw_demand_pool){ p->alpha, p->level, p->spread };
    }
    return memory;
}

static int by_variety(const void *pa, const void *pb)
{
    const cw_sales *a = pa, *b = pb;
    if (a->variety != b->variety)
        return a->variety < b->variety ? -1 : 1;
    if (a->said != b->said)
        return a->said ? 1 : -1;
    if (a->sold != b->sold)
        return a->sold < b->sold ? -1 : 1;
    if (a->sold_out != b->sold_out)
        return a->sold_out ? 1 : -1;
    if (a->share != b->share)
        return a->share < b->share ? -1 : 1;
    return (a->sure > b->sure) - (a->sure < b->sure);
}

static cw_code check(const cw_sales *s, size_t n, size_t varieties, cw_error *err)
{
    for (size_t i = 0; i < n; i++) {
        if (s[i].variety >= varieties)
            return cw_error_at(err, CW_REFUSED, NULL, (long)i + 1, "variety",
                               "there is no variety number %zu", s[i].variety);
        if (s[i].said && !(s[i].low >= 0 && s[i].low <= s[i].high && isfinite(s[i].high)))
            return cw_error_at(err, CW_REFUSED, NULL, (long)i + 1, "low",
                               "must lie between 0 and the high end, %g: %g", s[i].high, s[i].low);
        if (s[i].sold < 0)
            return cw_error_at(err, CW_REFUSED, NULL, (long)i + 1, "sold", "must not be negative: %lld",
                               (long long)s[i].sold);
        if (s[i].sold_out && (!(s[i].share >= 0 && s[i].share <= 1) || (s[i].share > 0 && !(s[i].sure > 0))))
            return cw_error_at(err, CW_REFUSED, NULL, (long)i + 1, "share",
                               "must lie between 0 and 1, and be known to some degree: %g", s[i].share);
    }
    return CW_OK;
}

/* One variety's rows, of which what was said is the last. Where it has seasons these say alone where its level is roughly. */
static void gather_one(const cw_sales *of, variety *v)
{
    double rough = 0, said = NAN;
    size_t seasons = 0;
    for (size_t i = 0; i < v->n; i++) {
        season *s = &v->of[i];
        *s = take(&of[i]);
        v->bounded = v->bounded || s->kind != ENDED;
        if (s->kind == SAID) {
            said = s->own;
            v->own_sd = s->own_sd;
            continue;
        }
        seasons++;
        rough += (double)s->sold / (s->kind == ENDED_ON ? fmax(of[i].share, 0.02) : 1);
    }
    v->sold = seasons > 0;
    v->level = v->sold ? log(rough / (double)seasons + 0.5) : said;
    v->low = fmin(v->level, said) - LOOK_BELOW; /* fmin and fmax pass over what is not said */
    v->high = fmax(v->level, said) + LOOK_ABOVE;
}

/* The rows in order, put together by variety. A variety that never sold says of others' level only where none did. */
static void gather(const cw_sales *sorted, size_t n, season *room, pool *p)
{
    double sum[2] = { 0 };
    size_t count[2] = { 0 };
    for (size_t i = 0; i < n;) {
        variety *v = &p->v[p->count++];
        size_t first = i;
        v->of = room + i;
        for (; i < n && sorted[i].variety == sorted[first].variety; i++)
            v->n++;
        gather_one(sorted + first, v);
        sum[v->sold] += v->level;
        count[v->sold]++;
    }
    bool any = count[true] > 0;
    p->prior_level = sum[any] / (double)count[any];
}

cw_code cw_demand_fit(const cw_sales *sales, size_t n, size_t varieties, unsigned threads, cw_demand *out,
                      cw_demand_pool *pool_out, cw_error *err)
{
    memset(out, 0, varieties * sizeof *out);
    cw_code code = check(sales, n, varieties, err);
    if (code != CW_OK || n == 0)
        return code;
    pool p = { .threads = threads, .v = calloc(varieties, sizeof *p.v) };
    cw_sales *sorted = calloc(n, sizeof *sorted);
    season *room = calloc(n, sizeof *room);
    double *moments = calloc(2 * varieties, sizeof *moments);
    if (p.v == NULL || sorted == NULL || room == NULL || moments == NULL) {
        code = cw_error_memory(err);
        goto done;
    }
    memcpy(sorted, sales, n * sizeof *sorted);
    qsort(sorted, n, sizeof *sorted, by_variety);
    gather(sorted, n, room, &p);
    if (!fit(&p, moments, moments + varieties, pool_out)) {
        code = cw_error_memory(err);
        goto done;
    }
    for (size_t i = 0; i < p.count; i++) {
        const variety *v = &p.v[i];
        double mean = moments[i];
        out[sorted[v->of - room].variety] = (cw_demand){ .known = v->bounded,
                                                         .mean = mean,
                                                         .variance = moments[varieties + i] - mean * mean,
                                                         .own_share = v->own_share };
    }
done:
    free(p.v);
    free(sorted);
    free(room);
    free(moments);
    return code;
}

#define BLOCK_LEAST 64 /* numbers; fewer are added one by one */
#define BLOCK_SHARE                                                                                          \
    32 /* a block is so small a part of where it begins that a cubic follows the law over it */

/* P(k) + ... + P(k + m - 1), m odd and >= 3: the rule of three points that is exact for a cubic over whole numbers. */
static double chance_of_block(int64_t k, int64_t m, double size, double mean)
{
    double edge = (double)(m + 1) / (6.0 * (double)(m - 1));
    return (double)m * (edge * (cw_negbin_pmf(k, size, mean) + cw_negbin_pmf(k + m - 1, size, mean)) +
                        (1 - 2 * edge) * cw_negbin_pmf(k + m / 2, size, mean));
}

void cw_demand_law(const cw_demand *d, cw_distribution *out)
{
    if (d->mean < 1e-9) {
        cw_distribution_point(out, 0);
        return;
    }
    double sd = sqrt(d->variance), dispersion = fmax(d->variance / d->mean, 1 + 1e-6);
    double size = d->mean / (dispersion - 1);
    int64_t first = (int64_t)fmax(0, floor(d->mean - 12 * sd));
    int64_t last = (int64_t)ceil(d->mean + 12 * sd + 30 * fmin(dispersion, d->mean + 1));
    out->first = first;
    out->step = out->lead = (last - first) / CW_DISTRIBUTION_CELLS + 1;
    out->atom = 0;
    out->cells = (size_t)((last - first) / out->step) + 1;
    out->mean = d->mean;
    out->variance = d->variance;
    double chance = cw_negbin_pmf(first, size, d->mean), sum = cw_negbin_p(first - 1, size, d->mean);
    int64_t k = first;
    for (size_t i = 0; i < out->cells; i++) {
        for (int64_t end = first + (int64_t)(i + 1) * out->step, many; k < end; k += many) {
            many = end - k < k / BLOCK_SHARE ? end - k : k / BLOCK_SHARE;
            if (many < BLOCK_LEAST) { /* P(k + 1) / P(k) is known: no function for each */
                many = 1;
                sum += chance;
                chance *= ((double)k + size) / ((double)k + 1) * (1 - 1 / dispersion);
            } else { /* so that a number typed wrong by thousands costs no second */
                many -= many % 2 == 0;
                sum += chance_of_block(k, many, size, d->mean);
                chance = cw_negbin_pmf(k + many, size, d->mean);
            }
        }
        out->cdf[i] = fmin(1, sum);
    }
    out->cdf[out->cells - 1] = 1;
}

/* SPDX-License-Identifier: MIT */
#include "model/shrink.h"

#include "base/sign.h"

#include "model/special.h"
#include "model/wide.h"

#include <assert.h>
#include <limits.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

#include "base/banned.h"

/* What is believed before there are data enough to say; each is worth the stated number of crates or lots. */
#define PRIOR_SPREAD      0.20 /* of log k, between lots */
#define PRIOR_LOTS        2.0
#define PRIOR_CRATE       0.10 /* of log k, between crates of a lot */
#define PRIOR_CRATES      2.0
#define PRIOR_MEAN_SD     1.0   /* of log k around its default: a wide prior, the crates decide */
#define PRIOR_NOISE       0.004 /* of a log mass: the scale, the film of water */
#define PRIOR_READINGS    2.0
#define LEAST_SLOPE_SHARE 0.2 /* a crate's k is not taken below this share of the typical one */
#define SQRT_HALF         0.707106781186547524400844362105
#define SAME_CRATE        0.01 /* correlation of shrivelling of divisions checked together */

double cw_shrink_loss(double k, double pa_days)
{
    return -expm1(-k * pa_days);
}

typedef struct crate {
    size_t lot;
    size_t n;
    double sx, sy, sxx, sxy, syy; /* of X and log mass; centred after the first pass */
    double mean_x, mean_y;
    double log_k, variance; /* of the estimate */
    bool used;
} crate;

/* Slopes of log mass on X, crate by crate; one noise variance for all. Returns the typical k, 0 if there is
 * none. */
static double slopes(crate *c, size_t crates, double *noise)
{
    double residual = PRIOR_READINGS * PRIOR_NOISE * PRIOR_NOISE, freedom = PRIOR_READINGS, sxx = 0.0,
           sxy = 0.0;
    for (size_t i = 0; i < crates; i++) {
        c[i].used = c[i].n >= 2 && c[i].sxx > 0.0;
        if (!c[i].used)
            continue;
        residual += fmax(0.0, c[i].syy - c[i].sxy * c[i].sxy / c[i].sxx);
        freedom += (double)c[i].n - 2.0;
        sxx += c[i].sxx;
        sxy += c[i].sxy;
    }
    *noise = residual / freedom;
    return sxx > 0.0 ? fmax(0.0, -sxy / sxx) : 0.0;
}

/* Squares of what differs between crates of one lot, beyond noise. */
static double crate_spread(const crate *c, size_t crates, size_t lots, double *scratch)
{
    double *sum = scratch, *count = scratch + lots, square = PRIOR_CRATES * PRIOR_CRATE * PRIOR_CRATE;
    double freedom = PRIOR_CRATES, noise = 0.0;
    for (size_t i = 0; i < 2 * lots; i++)
        scratch[i] = 0.0;
    for (size_t i = 0; i < crates; i++) {
        if (c[i].used) {
            sum[c[i].lot] += c[i].log_k;
            count[c[i].lot] += 1.0;
        }
    }
    for (size_t i = 0; i < crates; i++) {
        double n = c[i].used ? count[c[i].lot] : 0.0;
        if (n < 2.0)
            continue;
        double d = c[i].log_k - sum[c[i].lot] / n, share = (n - 1.0) / n;
        square += d * d;
        noise += c[i].variance * share;
        freedom += share;
    }
    return fmax(0.0, square - noise) / freedom;
}

/* Lots: estimates y with variance v (sums of weights in `weight`, weighted sums in `value`), spread tau^2
 * between them by moments, mean by weighting, each lot drawn towards the mean. */
static void lots_from_crates(cw_shrink *s, const crate *c, size_t crates, double rho2, double *scratch)
{
    double *weight = scratch, *value = scratch + s->lots;
    for (size_t i = 0; i < 2 * s->lots; i++)
        scratch[i] = 0.0;
    for (size_t i = 0; i < crates; i++) {
        if (c[i].used) {
            weight[c[i].lot] += 1.0 / (c[i].variance + rho2);
            value[c[i].lot] += c[i].log_k / (c[i].variance + rho2);
        }
    }
    double tau2 = PRIOR_SPREAD * PRIOR_SPREAD, mean = log(CW_SHRINK_DEFAULT_K), precision = 0.0;
    for (int round = 0; round < 20; round++) { /* moments and weighting in turn; settles at once */
        double total = 1.0 / (PRIOR_MEAN_SD * PRIOR_MEAN_SD), sum = total * log(CW_SHRINK_DEFAULT_K);
        for (size_t l = 0; l < s->lots; l++) {
            if (weight[l] > 0.0) {
                double w = 1.0 / (tau2 + 1.0 / weight[l]);
                total += w;
                sum += w * value[l] / weight[l];
            }
        }
        mean = sum / total;
        precision = total;
        double square = PRIOR_LOTS * PRIOR_SPREAD * PRIOR_SPREAD, n = PRIOR_LOTS;
        for (size_t l = 0; l < s->lots; l++) {
            if (weight[l] > 0.0) {
                double w = 1.0 / (tau2 + 1.0 / weight[l]), d = value[l] / weight[l] - mean;
                /* E of a lot's squared deviation given its estimate: drawn value squared plus what is left
                 * open */
                square +=
                    tau2 * w * tau2 * w * d * d + tau2 * (1.0 - tau2 * w) + tau2 * w * tau2 * w / precision;
                n += 1.0;
            }
        }
        tau2 = square / n;
    }
    s->lot_spread = sqrt(tau2);
    s->log_k = mean;
    s->log_k_sd = sqrt(tau2 + 1.0 / precision);
    for (size_t l = 0; l < s->lots; l++) {
        double keep = weight[l] > 0.0 ? tau2 / (tau2 + 1.0 / weight[l]) : 0.0;
        s->lot_log_k[l] = mean + (weight[l] > 0.0 ? keep * (value[l] / weight[l] - mean) : 0.0);
        s->lot_log_k_sd[l] = sqrt(tau2 * (1.0 - keep) + (1.0 - keep) * (1.0 - keep) / precision);
        s->lot_common_sd[l] = (1.0 - keep) / sqrt(precision);
    }
}

static void sums(crate *c, const cw_weighing *w, size_t weighings)
{
    for (size_t i = 0; i < weighings; i++) {
        crate *at = &c[w[i].crate];
        at->lot = w[i].lot;
        at->n++;
        at->sx += w[i].pa_days;
        at->sy += log(w[i].kg);
    }
    for (size_t i = 0; i < weighings; i++) {
        crate *at = &c[w[i].crate];
        double dx = w[i].pa_days - at->sx / (double)at->n, dy = log(w[i].kg) - at->sy / (double)at->n;
        at->sxx += dx * dx;
        at->sxy += dx * dy;
        at->syy += dy * dy;
    }
}

static cw_code fit_k(cw_shrink *s, const cw_weighing *w, size_t weighings, size_t crates, cw_error *err)
{
    cw_code code = CW_OK;
    crate *c = calloc(crates + 1, sizeof *c);
    double *scratch = calloc(2 * s->lots + 1, sizeof *scratch);
    if (c == NULL || scratch == NULL) {
        code = cw_error_memory(err);
        goto done;
    }
    sums(c, w, weighings);
    double noise = 0.0, typical = slopes(c, crates, &noise);
    for (size_t i = 0; i < crates; i++) {
        if (!c[i].used)
            continue;
        double floor_k = LEAST_SLOPE_SHARE * fmax(typical, 0.1 * CW_SHRINK_DEFAULT_K);
        double k = fmax(-c[i].sxy / c[i].sxx, floor_k);
        c[i].log_k = log(k);
        /* delta method at no less than half the typical k, else a crate of little loss would seem certain */
        double at = fmax(k, 0.5 * typical);
        c[i].variance = noise / c[i].sxx / (at * at);
        s->crates++;
    }
    if (s->crates > 0)
        lots_from_crates(s, c, crates, crate_spread(c, crates, s->lots, scratch), scratch);
done:
    free(scratch);
    free(c);
    return code;
}

static double log_k_of(const cw_shrink *s, size_t lot)
{
    return lot == CW_SHRINK_NO_LOT ? s->log_k : s->lot_log_k[lot];
}

/* Share sound at the end of a stretch, of what was sound at its start: chances of a limit beyond to and beyond from, each
 * handed in over sqrt 2 and with its erfc. */
static double share_of(double from, double to, double then, double now)
{
    if (to <= from)
        return 1.0;
    if (then < 1e-280) /* far beyond all limits both may be 0: Mills' ratio keeps what the tails cannot */
        return exp(from * from - to * to) * from / to;
    return now >= then ? 1.0 : now / then;
}

static double sound_share(double from, double to)
{
    from *= SQRT_HALF;
    to *= SQRT_HALF;
    return share_of(from, to, erfc(from), erfc(to));
}

static double log_loss(double log_k, double pa_days)
{
    return pa_days > 0.0 ? log(cw_shrink_loss(exp(log_k), pa_days)) : -INFINITY;
}

/* Loss beside the middle limit, in units of sigma, at log w50 = w and log sigma = t. */
static double standing(double log_k, double pa_days, double w, double t)
{
    return (log_loss(log_k, pa_days) - w) / exp(t);
}

/* What checks say of the limits, gathered: log loss when last looked at (-INFINITY: never) and at the check, and how many
 * were shrivelled and sound, each check counting for less than its number because one crate dries alike. */
typedef struct seen {
    double from, to;
    double shrivelled, sound;
} seen;

/* Losses less than this part from each other are read as one: far below what k is known to. */
#define SAME_LOSS 0.02

static long loss_step(double log_loss_now)
{
    return log_loss_now < -100.0 ? LONG_MIN : lround(log_loss_now / SAME_LOSS);
}

/* By step of loss, and within one by the loss itself, so that no order of the checks shows in the sums. */
static int by_loss(const void *pa, const void *pb)
{
    const seen *a = pa, *b = pb;
    const double x[] = {
        (double)loss_step(a->to), (double)loss_step(a->from), a->to, a->from, a->shrivelled, a->sound
    };
    const double y[] = {
        (double)loss_step(b->to), (double)loss_step(b->from), b->to, b->from, b->shrivelled, b->sound
    };
    for (size_t i = 0; i < sizeof x / sizeof x[0]; i++)
        if (x[i] != y[i])
            return x[i] < y[i] ? -1 : 1;
    return 0;
}

static void join(seen *into, const seen *x)
{
    double before = into->shrivelled + into->sound, more = x->shrivelled + x->sound;
    double share = before + more > 0.0 ? more / (before + more) : 0.0;
    into->to += share * (x->to - into->to);
    if (into->from > -100.0)
        into->from += share * (x->from - into->from);
    into->shrivelled += x->shrivelled;
    into->sound += x->sound;
}

/* Fills out[checks]; returns how many sums there are. */
static size_t gather(const cw_shrink *s, const cw_shrivel_check *check, size_t checks, seen *out)
{
    size_t rows = 0, sums = 0;
    for (size_t i = 0; i < checks; i++) {
        const cw_shrivel_check *c = &check[i];
        if (c->inspected <= 0 || c->to_pa_days <= c->from_pa_days)
            continue;
        double n = (double)c->inspected, y = (double)c->shrivelled,
               weight = 1.0 / (1.0 + (n - 1.0) * SAME_CRATE);
        double log_k = log_k_of(s, c->lot);
        out[rows++] = (seen){ log_loss(log_k, c->from_pa_days), log_loss(log_k, c->to_pa_days), weight * y,
                              weight * (n - y) };
    }
    if (rows > 1)
        qsort(out, rows, sizeof *out, by_loss);
    for (size_t i = 0; i < rows; i++) {
        if (sums > 0 && loss_step(out[sums - 1].to) == loss_step(out[i].to) &&
            loss_step(out[sums - 1].from) == loss_step(out[i].from))
            join(&out[sums - 1], &out[i]);
        else
            out[sums++] = out[i];
    }
    return sums;
}

static double seen_log_likelihood(const seen *x, double w, double t)
{
    double sigma = exp(t);
    double sound = sound_share((x->from - w) / sigma, (x->to - w) / sigma);
    sound = fmin(fmax(sound, 1e-12), 1.0 - 1e-12);
    return x->shrivelled * log1p(-sound) + x->sound * log(sound);
}

#define GRID   15
#define COARSE 5

typedef struct moments {
    double w, t, w_sd, t_sd, covariance;
} moments;

/* Posterior moments of (log w50, log sigma) on a grid of +-4 sd around the last ones. `grain` of a step's square is added
 * to the variances: much while the grid may be too coarse to see the mass, next to nothing at last. */
static moments grid(const seen *x, size_t count, double prior_w_sd, double grain, moments around)
{
    double logs[GRID][GRID], top = -INFINITY;
    moments m = { 0 };
    double step_w = around.w_sd * 8.0 / (GRID - 1), step_t = around.t_sd * 8.0 / (GRID - 1);
    for (int i = 0; i < GRID; i++) {
        for (int j = 0; j < GRID; j++) {
            double w = around.w + (i - GRID / 2) * step_w, t = around.t + (j - GRID / 2) * step_t;
            double zw = (w - log(CW_SHRINK_DEFAULT_W50)) / prior_w_sd;
            double zt = (t - log(CW_SHRINK_DEFAULT_SIGMA)) / CW_SHRINK_DEFAULT_SIGMA_SD;
            double sum = -0.5 * (zw * zw + zt * zt);
            for (size_t c = 0; c < count; c++)
                sum += seen_log_likelihood(&x[c], w, t);
            logs[i][j] = sum;
            top = fmax(top, sum);
        }
    }
    double total = 0.0, ww = 0.0, tt = 0.0, wt = 0.0;
    for (int i = 0; i < GRID; i++) {
        for (int j = 0; j < GRID; j++) {
            double p = exp(logs[i][j] - top), w = (i - GRID / 2) * step_w, t = (j - GRID / 2) * step_t;
            total += p;
            m.w += p * w;
            m.t += p * t;
            ww += p * w * w;
            tt += p * t * t;
            wt += p * w * t;
        }
    }
    m.w /= total;
    m.t /= total;
    m.w_sd = sqrt(fmax(ww / total - m.w * m.w, 0.0) + grain * step_w * step_w);
    m.t_sd = sqrt(fmax(tt / total - m.t * m.t, 0.0) + grain * step_t * step_t);
    m.covariance = wt / total - m.w * m.t;
    m.w += around.w;
    m.t += around.t;
    return m;
}

static cw_code fit_limits(cw_shrink *s, const cw_shrivel_check *check, size_t checks, cw_error *err)
{
    seen *x = calloc(checks + 1, sizeof *x);
    if (x == NULL)
        return cw_error_memory(err);
    size_t count = gather(s, check, checks, x);
    /* Only limit over k matters: never weighed, limits that are counted stand for both, and may lie as far off. */
    double w_sd =
        s->crates > 0 ? CW_SHRINK_WEIGHED_W50_SD : hypot(CW_SHRINK_DEFAULT_W50_SD, CW_SHRINK_DEFAULT_K_SD);
    moments m = { log(CW_SHRINK_DEFAULT_W50), log(CW_SHRINK_DEFAULT_SIGMA), w_sd, CW_SHRINK_DEFAULT_SIGMA_SD,
                  0.0 };
    for (size_t i = 0; i < checks; i++)
        s->inspected += check[i].to_pa_days > check[i].from_pa_days ? check[i].inspected : 0;
    /* Each pass narrows the grid to where the last one found the mass. */
    for (int pass = 0; s->inspected > 0 && pass < COARSE + 2; pass++)
        m = grid(x, count, w_sd, pass < COARSE ? 0.2 : 0.02, m);
    if (s->inspected == 0 && s->crates == 0)
        m.w_sd = CW_SHRINK_DEFAULT_W50_SD;
    s->log_w50 = m.w;
    s->log_w50_sd = m.w_sd;
    s->log_sigma = m.t;
    s->log_sigma_sd = m.t_sd;
    s->limit_covariance = m.covariance;
    free(x);
    return CW_OK;
}

static uint64_t sign_of(const cw_weighing *weighing, size_t weighings, size_t crates,
                        const cw_shrivel_check *check, size_t checks, size_t lots)
{
    uint64_t sign = cw_sign_add(cw_sign_add(cw_sign_add(weighings, crates), checks), lots);
    for (size_t i = 0; i < weighings; i++) {
        sign = cw_sign_add(cw_sign_add(sign, weighing[i].crate), weighing[i].lot);
        sign = cw_sign_real(cw_sign_real(sign, weighing[i].pa_days), weighing[i].kg);
    }
    for (size_t i = 0; i < checks; i++) {
        sign = cw_sign_real(cw_sign_add(sign, check[i].lot), check[i].from_pa_days);
        sign = cw_sign_add(cw_sign_real(sign, check[i].to_pa_days), (uint64_t)check[i].inspected);
        sign = cw_sign_add(sign, (uint64_t)check[i].shrivelled);
    }
    return sign;
}

cw_code cw_shrink_fit(const cw_weighing *weighing, size_t weighings, size_t crates,
                      const cw_shrivel_check *check, size_t checks, size_t lots, cw_shrink **out,
                      cw_error *err)
{
    return cw_shrink_refit(weighing, weighings, crates, check, checks, lots, NULL, out, err);
}

cw_code cw_shrink_refit(const cw_weighing *weighing, size_t weighings, size_t crates,
                        const cw_shrivel_check *check, size_t checks, size_t lots, cw_shrink *before,
                        cw_shrink **out, cw_error *err)
{
    uint64_t sign = sign_of(weighing, weighings, crates, check, checks, lots);
    *out = NULL;
    if (before != NULL && before->sign == sign) {
        atomic_fetch_add(&before->holders, 1);
        *out = before;
        return CW_OK;
    }
    cw_shrink *s = calloc(1, sizeof *s + 3 * lots * sizeof(double));
    if (s == NULL)
        return cw_error_memory(err);
    s->sign = sign;
    atomic_init(&s->holders, 1);
    s->lots = lots;
    s->lot_log_k = (double *)(void *)(s + 1);
    s->lot_log_k_sd = s->lot_log_k + lots;
    s->lot_common_sd = s->lot_log_k_sd + lots;
    s->log_k = log(CW_SHRINK_DEFAULT_K);
    s->lot_spread = PRIOR_SPREAD;
    s->log_k_sd = CW_SHRINK_DEFAULT_K_SD;
    cw_code code = fit_k(s, weighing, weighings, crates, err);
    if (code != CW_OK) {
        cw_shrink_free(s);
        return code;
    }
    if (s->crates == 0) {
        for (size_t l = 0; l < lots; l++)
            s->lot_log_k[l] = s->log_k;
    }
    code = fit_limits(s, check, checks, err);
    if (code != CW_OK) {
        cw_shrink_free(s);
        return code;
    }
    if (s->crates == 0) {
        /* Limits learned at the default k already hold its error: only the ratio of the two matters. */
        s->log_k_sd = s->inspected > 0 ? PRIOR_SPREAD : CW_SHRINK_DEFAULT_K_SD;
        double common =
            s->inspected > 0 ? 0.0 : sqrt(s->log_k_sd * s->log_k_sd - PRIOR_SPREAD * PRIOR_SPREAD);
        for (size_t l = 0; l < lots; l++) {
            s->lot_log_k_sd[l] = s->log_k_sd;
            s->lot_common_sd[l] = common;
        }
    }
    *out = s;
    return CW_OK;
}

void cw_shrink_free(cw_shrink *s)
{
    if (s != NULL && atomic_fetch_sub(&s->holders, 1) == 1)
        free(s);
}

/* Where loss stands, and by delta method how surely: d/dlog k of log loss is x exp(-x) / (1 - exp(-x)), x = k
 * X. */
static void place(const cw_shrink *s, size_t lot, double pa_days, double *at, double *sd)
{
    *sd = 0.0;
    *at = -INFINITY;
    if (pa_days <= 0.0)
        return;
    double log_k = log_k_of(s, lot), x = exp(log_k) * pa_days, sigma = exp(s->log_sigma);
    double k_sd = lot == CW_SHRINK_NO_LOT ? s->log_k_sd : s->lot_log_k_sd[lot];
    double slope = x > 1e-8 ? x / expm1(x) : 1.0;
    *at = standing(log_k, pa_days, s->log_w50, s->log_sigma);
    double by_k = slope * k_sd / sigma, by_w = s->log_w50_sd / sigma, by_t = *at * s->log_sigma_sd;
    *sd = sqrt(fmax(0.0, by_k * by_k + by_w * by_w + by_t * by_t + 2.0 * *at / sigma * s->limit_covariance));
}

double cw_shrink_common(const cw_shrink *s, size_t lot, double to_pa_days)
{
    double at, sd;
    place(s, lot, to_pa_days, &at, &sd);
    if (sd <= 0.0 || lot == CW_SHRINK_NO_LOT)
        return sd > 0.0 ? 1.0 : 0.0;
    double x = exp(s->lot_log_k[lot]) * to_pa_days, slope = x > 1e-8 ? x / expm1(x) : 1.0;
    double lots_own2 =
        s->lot_log_k_sd[lot] * s->lot_log_k_sd[lot] - s->lot_common_sd[lot] * s->lot_common_sd[lot];
    double own = slope * sqrt(fmax(0.0, lots_own2)) / exp(s->log_sigma);
    return fmax(0.0, 1.0 - own * own / (sd * sd));
}

cw_shrink_stretch cw_shrink_between(const cw_shrink *s, size_t lot, double from_pa_days, double to_pa_days)
{
    assert(lot == CW_SHRINK_NO_LOT || lot < s->lots);
    cw_shrink_stretch out;
    place(s, lot, from_pa_days, &out.from, &out.from_sd);
    place(s, lot, to_pa_days, &out.to, &out.to_sd);
    return out;
}

double cw_shrink_sound(const cw_shrink_stretch *stretch, double z)
{
    double to = stretch->to + z * stretch->to_sd;
    if (to < -9.0 || isinf(to))
        return 1.0;
    return sound_share(stretch->from + z * stretch->from_sd, to);
}

#define BATCH 64

void cw_shrink_sound_each(const cw_shrink_stretch *t, size_t n, const double *z, double by, double *out)
{
    double from[BATCH], to[BATCH], then[BATCH], now[BATCH];
    bool dried_before = !isinf(t->from); /* else it stood below all limits */
    for (size_t at = 0; at < n; at += BATCH) {
        size_t count = n - at < BATCH ? n - at : BATCH;
        for (size_t i = 0; i < count; i++) {
            to[i] = (t->to + by * z[at + i] * t->to_sd) * SQRT_HALF;
            from[i] = (t->from + by * z[at + i] * t->from_sd) * SQRT_HALF;
            then[i] = 2.0;
        }
        cw_erfc_each(count, to, now);
        if (dried_before)
            cw_erfc_each(count, from, then);
        for (size_t i = 0; i < count; i++)
            out[at + i] = share_of(from[i], to[i], then[i], now[i]);
    }
}

cw_shrink_share cw_shrink_shrivelled(const cw_shrink *s, size_t lot, double from_pa_days, double to_pa_days)
{
    cw_shrink_stretch t = cw_shrink_between(s, lot, from_pa_days, to_pa_days);
    double z = cw_normal_quantile(0.9);
    return (cw_shrink_share){ 1.0 - cw_shrink_sound(&t, -z), 1.0 - cw_shrink_sound(&t, 0.0),
                              1.0 - cw_shrink_sound(&t, z) };
}

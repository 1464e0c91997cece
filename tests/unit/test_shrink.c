/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "model/sampler.h"
#include "model/shrink.h"
#include "model/special.h"

#include <math.h>

static const double true_k = 2.6e-5;

/* Crates weighed five times on a scale that is 0.3 % unsure. */
static size_t weigh(cw_weighing *w, size_t lots, size_t crates_a_lot, double lot_sd, cw_rng *r, double *log_k)
{
    size_t n = 0;
    for (size_t lot = 0; lot < lots; lot++) {
        log_k[lot] = log(true_k) + lot_sd * cw_draw_normal(r);
        for (size_t c = 0; c < crates_a_lot; c++) {
            for (int i = 0; i < 5; i++) {
                double x = 1500.0 * i;
                w[n++] = (cw_weighing){ lot * crates_a_lot + c, lot, x,
                                        5.0 * exp(-exp(log_k[lot]) * x + 0.003 * cw_draw_normal(r)) };
            }
        }
    }
    return n;
}

static void test_k_is_found_with_its_spread(void **state)
{
    (void)state;
    cw_weighing w[40 * 2 * 5];
    double log_k[40], inside = 0.0;
    cw_rng r;
    cw_error err = CW_ERROR_NONE;
    cw_shrink *s = NULL;
    cw_rng_init(&r, 5, 1);
    size_t n = weigh(w, 40, 2, 0.3, &r, log_k);
    cw_check_ok(cw_shrink_fit(w, n, 80, NULL, 0, 60, &s, &err), &err);
    assert_int_equal(s->crates, 80);
    cw_check_near("log k", s->log_k, log(true_k), 0.02);
    cw_check_near("spread between lots", s->lot_spread, 0.3, 0.3);
    for (size_t lot = 0; lot < 40; lot++)
        inside += fabs(s->lot_log_k[lot] - log_k[lot]) < 1.645 * s->lot_log_k_sd[lot];
    assert_in_range((int)inside, 31, 40); /* nine in ten of forty, within three standard errors */
    cw_check_near("a lot not weighed", s->lot_log_k[50], s->log_k, 1e-12);
    assert_true(s->lot_log_k_sd[50] > s->lot_log_k_sd[0]);
    cw_shrink_free(s);
}

/* A crate that gained weight and one of no loss: kept, and nothing breaks. */
static void test_crates_without_loss(void **state)
{
    (void)state;
    cw_weighing w[] = {
        { 0, 0, 0, 5.00 }, { 0, 0, 3000, 5.01 }, { 1, 1, 0, 5.0 }, { 1, 1, 3000, 4.7 }, { 2, 2, 100, 4.0 }
    };
    cw_error err = CW_ERROR_NONE;
    cw_shrink *s = NULL;
    cw_check_ok(cw_shrink_fit(w, 5, 3, NULL, 0, 3, &s, &err), &err);
    assert_int_equal(s->crates, 2); /* the third was weighed once */
    for (size_t lot = 0; lot < 3; lot++)
        assert_true(isfinite(s->lot_log_k[lot]) && s->lot_log_k_sd[lot] > 0.0);
    assert_true(s->lot_log_k[0] < s->lot_log_k[1]);
    cw_shrink_free(s);
}

static void test_defaults_without_data(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    cw_shrink *s = NULL;
    cw_check_ok(cw_shrink_fit(NULL, 0, 0, NULL, 0, 1, &s, &err), &err);
    cw_check_near("k", exp(s->lot_log_k[0]), CW_SHRINK_DEFAULT_K, 1e-12);
    cw_check_near("w50", exp(s->log_w50), CW_SHRINK_DEFAULT_W50, 1e-12);
    /* 120 days of a good cellar: next to nothing */
    assert_true(cw_shrink_shrivelled(s, 0, 0, 120 * 54).middle < 0.001);
    /* a dry room: all */
    assert_true(cw_shrink_shrivelled(s, 0, 0, 60000).middle > 0.95);
    cw_shrink_free(s);
}

static void test_limits_are_learned(void **state)
{
    (void)state;
    enum { CHECKS = 120 };
    cw_shrivel_check c[CHECKS];
    cw_rng r;
    cw_error err = CW_ERROR_NONE;
    cw_shrink *s = NULL;
    cw_rng_init(&r, 6, 1);
    double w50 = 0.20, sigma = 0.30;
    for (size_t i = 0; i < CHECKS; i++) {
        double from = i % 3 == 0 ? 4000.0 : 0.0, to = 5000.0 + 60.0 * (double)i;
        double a = from > 0.0 ? log(cw_shrink_loss(CW_SHRINK_DEFAULT_K, from) / w50) / sigma : -INFINITY;
        double b = log(cw_shrink_loss(CW_SHRINK_DEFAULT_K, to) / w50) / sigma;
        double p = 1.0 - cw_normal_p(-b) / cw_normal_p(-a);
        c[i] = (cw_shrivel_check){ CW_SHRINK_NO_LOT, from, to, 60, cw_draw_binomial(&r, 60, p) };
    }
    cw_check_ok(cw_shrink_fit(NULL, 0, 0, c, CHECKS, 1, &s, &err), &err);
    cw_check_near("w50", exp(s->log_w50), w50, 0.015);
    cw_check_near("sigma", exp(s->log_sigma), sigma, 0.06);
    assert_true(fabs(s->log_w50 - log(w50)) < 3.0 * s->log_w50_sd);
    /* the same checks in another order give the same to the last bit */
    cw_shrink *again = NULL;
    for (size_t i = 0; i < CHECKS / 2; i++) {
        cw_shrivel_check t = c[i];
        c[i] = c[CHECKS - 1 - i];
        c[CHECKS - 1 - i] = t;
    }
    cw_check_ok(cw_shrink_fit(NULL, 0, 0, c, CHECKS, 1, &again, &err), &err);
    assert_true(again->log_w50 == s->log_w50 && again->log_sigma == s->log_sigma);
    cw_shrink_free(s);
    /* learned again from the same it is the same one; from any other number it is not */
    cw_check_ok(cw_shrink_refit(NULL, 0, 0, c, CHECKS, 1, again, &s, &err), &err);
    assert_ptr_equal(s, again);
    cw_shrink_free(s);
    for (int k = 0; k < 4; k++) {
        cw_shrivel_check was = c[3];
        c[3].inspected += k == 0;
        c[3].shrivelled += k == 1;
        c[3].from_pa_days += k == 2 ? 1e-9 : 0;
        c[3].to_pa_days += k == 3 ? 1e-9 : 0;
        cw_check_ok(cw_shrink_refit(NULL, 0, 0, c, CHECKS, 1, again, &s, &err), &err);
        assert_ptr_not_equal(s, again);
        cw_shrink_free(s);
        c[3] = was;
    }
    cw_shrink_free(again);
}

/* Divisions of one crate shrivel together: of n that were looked at, n / (1 + (n - 1) / 100) count. So eleven of one crate are as good
 * as ten of ten. */
static void test_divisions_of_one_crate_count_for_fewer(void **state)
{
    (void)state;
    cw_shrivel_check together[] = { { CW_SHRINK_NO_LOT, 0, 20000, 11, 0 },
                                    { CW_SHRINK_NO_LOT, 0, 26000, 11, 11 } },
                     apart[20];
    cw_error err = CW_ERROR_NONE;
    cw_shrink *a = NULL, *b = NULL;
    for (size_t i = 0; i < 20; i++)
        apart[i] = (cw_shrivel_check){ CW_SHRINK_NO_LOT, 0, i < 10 ? 20000 : 26000, 1, i >= 10 };
    cw_check_ok(cw_shrink_fit(NULL, 0, 0, together, 2, 1, &a, &err), &err);
    cw_check_ok(cw_shrink_fit(NULL, 0, 0, apart, 20, 1, &b, &err), &err);
    cw_check_near("w50", a->log_w50, b->log_w50, 1e-9);
    cw_check_near("its spread", a->log_w50_sd, b->log_w50_sd, 1e-9);
    cw_check_near("sigma", a->log_sigma, b->log_sigma, 1e-9);
    assert_true(fabs(a->log_w50 - log(CW_SHRINK_DEFAULT_W50)) > 1e-3); /* they taught something */
    assert_int_equal(a->inspected, 22);
    cw_shrink_free(a);
    cw_shrink_free(b);
}

static void test_share_is_monotone(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    cw_shrink *s = NULL;
    cw_check_ok(cw_shrink_fit(NULL, 0, 0, NULL, 0, 1, &s, &err), &err);
    double last = -1.0;
    for (double x = 0.0; x < 80000.0; x += 500.0) {
        cw_shrink_share share = cw_shrink_shrivelled(s, 0, 0, x);
        assert_true(share.middle >= last && share.low <= share.middle + 1e-12 &&
                    share.middle <= share.high + 1e-12);
        assert_true(share.low >= 0.0 && share.high <= 1.0);
        last = share.middle;
    }
    cw_check_near("nothing when nothing dries", cw_shrink_shrivelled(s, 0, 9000, 9000).high, 0.0, 1e-12);
    cw_shrink_free(s);
}

/* Five weighings of one crate, 1,500 Pa days apart, that dries by k; e says how far each log mass is off. The pattern 1, -2, 1, 0, 0
 * has no mean and no slope, so that k is met exactly and the squares that are left are 6 e^2. */
static size_t weigh_exactly(cw_weighing *w, size_t n, size_t crate, size_t lot, double k, double e)
{
    static const double off[] = { 1, -2, 1, 0, 0 };
    for (int i = 0; i < 5; i++)
        w[n++] = (cw_weighing){ crate, lot, 1500.0 * i, exp(1.5 - k * 1500.0 * i + e * off[i]) };
    return n;
}
#define FIVE_SXX (1500.0 * 1500.0 * 10.0)

/* Three lots of marked crates, one crate of which gained, and one lot never weighed: what is fitted fulfils the equations of the
 * header and of the constants in shrink.c, worked out here from the same numbers. */
static void test_moments_add_up(void **state)
{
    static const struct {
        size_t lot;
        double k, e;
    } crates[] = { { 0, 2.0e-5, 0.003 }, { 0, 2.6e-5, 0.001 }, { 1, 3.1e-5, 0.002 },
                   { 2, 1.2e-5, 0.004 }, { 2, 2.9e-5, 0.0 },   { 2, -1e-6, 0.001 } };
    enum { CRATES = 6, LOTS = 4 };
    cw_weighing w[CRATES * 5 + 1];
    double y[CRATES], v[CRATES], sum[LOTS] = { 0 }, count[LOTS] = { 0 }, weight[LOTS] = { 0 },
                                 value[LOTS] = { 0 };
    size_t n = 0;
    cw_error err = CW_ERROR_NONE;
    cw_shrink *s = NULL;
    (void)state;
    for (size_t c = 0; c < CRATES; c++)
        n = weigh_exactly(w, n, c, crates[c].lot, crates[c].k, crates[c].e);
    w[n++] = (cw_weighing){ CRATES, 3, 0, 4.0 }; /* weighed once: no slope */
    cw_check_ok(cw_shrink_fit(w, n, CRATES + 1, NULL, 0, LOTS, &s, &err), &err);
    assert_int_equal(s->crates, CRATES);
    /* One noise for all, with two readings of 0.4 % to begin with; each crate costs two. */
    double squares = 2.0 * 0.004 * 0.004, freedom = 2.0, typical = 0.0;
    for (size_t c = 0; c < CRATES; c++) {
        squares += 6.0 * crates[c].e * crates[c].e;
        freedom += 3.0;
        typical += crates[c].k / CRATES;
    }
    for (size_t c = 0; c < CRATES; c++) {
        double k = fmax(crates[c].k, 0.2 * typical), at = fmax(k, 0.5 * typical);
        y[c] = log(k);
        v[c] = squares / freedom / FIVE_SXX / (at * at);
        sum[crates[c].lot] += y[c];
        count[crates[c].lot] += 1.0;
    }
    /* Between crates of a lot: 0.1 of log k to begin with, worth two crates; alone in its lot one says nothing. */
    double square = 2.0 * 0.01, noise = 0.0, pairs = 2.0;
    for (size_t c = 0; c < CRATES; c++) {
        double m = count[crates[c].lot], d = y[c] - sum[crates[c].lot] / m;
        if (m < 2.0)
            continue;
        square += d * d;
        noise += v[c] * (m - 1.0) / m;
        pairs += (m - 1.0) / m;
    }
    double rho2 = fmax(0.0, square - noise) / pairs;
    for (size_t c = 0; c < CRATES; c++) {
        weight[crates[c].lot] += 1.0 / (v[c] + rho2);
        value[crates[c].lot] += y[c] / (v[c] + rho2);
    }
    /* Between lots: 0.2 to begin with, worth two lots; the mean has the default as a lot of sd 1. */
    double tau2 = s->lot_spread * s->lot_spread, total = 1.0, mean = log(CW_SHRINK_DEFAULT_K),
           moved = 2.0 * 0.04;
    for (size_t l = 0; l < 3; l++) {
        total += 1.0 / (tau2 + 1.0 / weight[l]);
        mean += value[l] / weight[l] / (tau2 + 1.0 / weight[l]);
    }
    mean /= total;
    cw_check_near("mean", s->log_k, mean, 1e-6);
    cw_check_near("of a lot never weighed", s->log_k_sd, sqrt(tau2 + 1.0 / total), 1e-6);
    for (size_t l = 0; l < 3; l++) {
        double keep = tau2 / (tau2 + 1.0 / weight[l]), own = keep * (value[l] / weight[l] - mean);
        double left2 = tau2 * (1.0 - keep), shared = (1.0 - keep) * (1.0 - keep) / total;
        cw_check_near("a lot is drawn to the mean", s->lot_log_k[l], mean + own, 1e-6);
        cw_check_near("what is left open of it", s->lot_log_k_sd[l], sqrt(left2 + shared), 1e-6);
        cw_check_near("what is open of all lots", s->lot_common_sd[l], sqrt(shared), 1e-6);
        moved += own * own + left2 + keep * keep / total;
    }
    cw_check_near("spread between lots", tau2, moved / 5.0, 1e-5);
    cw_check_near("never weighed", s->lot_log_k[3], s->log_k, 1e-12);
    cw_check_near("never weighed, sd", s->lot_log_k_sd[3], s->log_k_sd, 1e-9);
    cw_check_near("never weighed, of all", s->lot_common_sd[3], 1.0 / sqrt(total), 1e-6);
    cw_shrink_free(s);
}

/* Posterior moments of log w50 and log sigma over a fine grid, by the definition of the header. */
static void brute_limits(const cw_shrivel_check *c, size_t n, double k, double w_sd, double out[5])
{
    enum { N = 400 };
    static double p[N][N];
    double total = 0.0, most = -INFINITY;
    for (int i = 0; i < N; i++)
        for (int j = 0; j < N; j++) {
            double zw = (i - N / 2) * 10.0 / N, zt = (j - N / 2) * 10.0 / N, w50 = log(0.35) + zw * w_sd,
                   sigma = exp(log(0.22) + zt * 0.2);
            p[i][j] = -0.5 * (zw * zw + zt * zt);
            for (size_t r = 0; r < n; r++) {
                double inspected = (double)c[r].inspected, shrivelled = (double)c[r].shrivelled;
                double was = c[r].from_pa_days > 0
                                 ? cw_normal_p(-(log(cw_shrink_loss(k, c[r].from_pa_days)) - w50) / sigma)
                                 : 1.0;
                double is = cw_normal_p(-(log(cw_shrink_loss(k, c[r].to_pa_days)) - w50) / sigma) / was;
                is = fmin(fmax(is, 1e-12), 1.0 - 1e-12);
                /* divisions checked together are alike by 0.01: a check of n counts as n / (1 + (n - 1) 0.01) */
                p[i][j] += (shrivelled * log(1.0 - is) + (inspected - shrivelled) * log(is)) /
                           (1.0 + (inspected - 1.0) * 0.01);
            }
            most = fmax(most, p[i][j]);
        }
    double m[5] = { 0 };
    for (int i = 0; i < N; i++)
        for (int j = 0; j < N; j++) {
            double q = exp(p[i][j] - most), w50 = log(0.35) + (i - N / 2) * 10.0 / N * w_sd,
                   t = log(0.22) + (j - N / 2) * 10.0 / N * 0.2;
            const double add[] = { w50, t, w50 * w50, t * t, w50 * t };
            total += q;
            for (int a = 0; a < 5; a++)
                m[a] += q * add[a];
        }
    out[0] = m[0] / total;
    out[1] = m[1] / total;
    out[2] = sqrt(m[2] / total - out[0] * out[0]);
    out[3] = sqrt(m[3] / total - out[1] * out[1]);
    out[4] = m[4] / total - out[0] * out[1];
}

static void test_limits_against_a_fine_grid(void **state)
{
    static const cw_shrivel_check seen[] = {
        { CW_SHRINK_NO_LOT, 0, 9000, 40, 1 },
        { CW_SHRINK_NO_LOT, 0, 14000, 40, 9 },
        { CW_SHRINK_NO_LOT, 8000, 20000, 30, 16 },
        { CW_SHRINK_NO_LOT, 12000, 30000, 25, 22 },
        { CW_SHRINK_NO_LOT, 5000, 5000, 30, 9 },
        { CW_SHRINK_NO_LOT, 0, 9000, 0, 0 }, /* which say nothing */
    };
    cw_weighing w[10];
    size_t n = weigh_exactly(w, weigh_exactly(w, 0, 0, 0, 2.4e-5, 0.001), 1, 0, 2.4e-5, 0.001);
    (void)state;
    for (int weighed = 0; weighed < 2; weighed++) {
        double want[5];
        cw_error err = CW_ERROR_NONE;
        cw_shrink *s = NULL;
        cw_check_ok(cw_shrink_fit(w, weighed ? n : 0, weighed ? 2 : 0, seen, 6, 1, &s, &err), &err);
        assert_int_equal(s->inspected, 40 + 40 + 30 + 25);
        /* Where nothing was weighed the limits stand for k, too, and may lie as far off as both. */
        brute_limits(seen, 4, exp(s->log_k), weighed ? 0.10 : hypot(0.3, 0.65), want);
        cw_check_near("log w50", s->log_w50, want[0], 0.004);
        cw_check_near("log sigma", s->log_sigma, want[1], 0.004);
        cw_check_near("its sd", s->log_w50_sd, want[2], 0.003);
        cw_check_near("and its", s->log_sigma_sd, want[3], 0.004);
        cw_check_near("their covariance", s->limit_covariance, want[4], 0.0006);
        if (!weighed) { /* the limits hold the error of k: what differs between lots is left */
            cw_check_near("k", s->log_k_sd, 0.20, 1e-12);
            cw_check_near("k of a lot", s->lot_log_k_sd[0], 0.20, 1e-12);
            cw_check_near("k of all lots", s->lot_common_sd[0], 0.0, 1e-12);
        }
        cw_shrink_free(s);
    }
    cw_error err = CW_ERROR_NONE;
    cw_shrink *s = NULL;
    cw_check_ok(cw_shrink_fit(NULL, 0, 0, seen + 4, 2, 1, &s, &err), &err);
    assert_int_equal(s->inspected, 0);
    cw_check_near("w50 as it is believed", s->log_w50_sd, 0.3, 1e-12);
    cw_check_near("k as it is believed", s->lot_log_k_sd[0], 0.65, 1e-12);
    cw_check_near("of which lots differ by 0.2", s->lot_common_sd[0], sqrt(0.65 * 0.65 - 0.04), 1e-12);
    cw_shrink_free(s);
    /* Many checks at nearly the same loss are read as one at their middle. */
    cw_shrivel_check apart[] = { { CW_SHRINK_NO_LOT, 0, 13990, 30, 7 },
                                 { CW_SHRINK_NO_LOT, 0, 14010, 30, 7 } };
    cw_shrivel_check middle[] = { { CW_SHRINK_NO_LOT, 0, 14000, 30, 7 },
                                  { CW_SHRINK_NO_LOT, 0, 14000, 30, 7 } };
    cw_shrink *a = NULL, *b = NULL;
    cw_check_ok(cw_shrink_fit(NULL, 0, 0, apart, 2, 1, &a, &err), &err);
    cw_check_ok(cw_shrink_fit(NULL, 0, 0, middle, 2, 1, &b, &err), &err);
    cw_check_near("joined", a->log_w50, b->log_w50, 1e-5);
    cw_check_near("joined, sd", a->log_w50_sd, b->log_w50_sd, 1e-5);
    cw_shrink_free(a);
    cw_shrink_free(b);
}

/* Where a stretch begins and ends, how surely, and the chance to be sound at its end: by the formulas, one by one and many at once. */
static void test_a_stretch_by_its_formula(void **state)
{
    enum { MANY = 150 };
    cw_weighing w[10];
    static const cw_shrivel_check seen[] = { { 0, 0, 9000, 40, 1 }, { 0, 8000, 20000, 30, 16 } };
    size_t n = weigh_exactly(w, weigh_exactly(w, 0, 0, 0, 2.4e-5, 0.002), 1, 0, 2.9e-5, 0.003);
    double z[MANY], each[MANY];
    cw_error err = CW_ERROR_NONE;
    cw_shrink *s = NULL;
    (void)state;
    cw_check_ok(cw_shrink_fit(w, n, 2, seen, 2, 2, &s, &err), &err);
    assert_true(fabs(s->limit_covariance) > 1e-6);
    for (size_t lot = 0; lot < 2; lot++) {
        double sigma = exp(s->log_sigma), from = 6000, to = 15000;
        cw_shrink_stretch t = cw_shrink_between(s, lot, from, to), whole = cw_shrink_between(s, lot, 0, to);
        double k = exp(s->lot_log_k[lot]), at = (log(1.0 - exp(-k * to)) - s->log_w50) / sigma;
        /* d log loss / d log k = x / (e^x - 1), x = k X */
        double by_k = k * to / (exp(k * to) - 1.0) * s->lot_log_k_sd[lot] / sigma,
               by_w = s->log_w50_sd / sigma, by_t = at * s->log_sigma_sd;
        double sd = sqrt(by_k * by_k + by_w * by_w + by_t * by_t + 2.0 * at * s->limit_covariance / sigma);
        cw_check_near("stands at", t.to, at, 1e-9);
        cw_check_near("how surely", t.to_sd, sd, 1e-9);
        cw_check_near("began at", t.from, (log(1.0 - exp(-k * from)) - s->log_w50) / sigma, 1e-9);
        assert_true(isinf(whole.from) && whole.from < 0.0 && whole.from_sd == 0.0);
        double slope = k * to / (exp(k * to) - 1.0), common = s->lot_common_sd[lot];
        double own = slope * sqrt(s->lot_log_k_sd[lot] * s->lot_log_k_sd[lot] - common * common) / sigma;
        cw_check_near("in common", cw_shrink_common(s, lot, to), 1.0 - own * own / (sd * sd), 1e-9);
        for (int i = 0; i < MANY; i++)
            z[i] = (i - MANY / 2) * 0.05;
        for (int part = 0; part < 2; part++) {
            const cw_shrink_stretch *use = part ? &t : &whole;
            cw_shrink_sound_each(use, MANY, z, 0.7, each);
            for (int i = 0; i < MANY; i++) {
                double a = part ? cw_normal_p(-(t.from + 0.7 * z[i] * t.from_sd)) : 1.0;
                double b = cw_normal_p(-(use->to + 0.7 * z[i] * use->to_sd));
                cw_check_near("still sound", cw_shrink_sound(use, 0.7 * z[i]), fmin(b / a, 1.0), 1e-9);
                cw_check_near("many at once", each[i], fmin(b / a, 1.0), 1e-6);
            }
        }
        cw_shrink_share share = cw_shrink_shrivelled(s, lot, from, to);
        cw_check_near("at 10 %", share.low, 1.0 - cw_shrink_sound(&t, -1.2815515655446004), 1e-9);
        cw_check_near("in the middle", share.middle, 1.0 - cw_shrink_sound(&t, 0.0), 1e-12);
        cw_check_near("at 90 %", share.high, 1.0 - cw_shrink_sound(&t, 1.2815515655446004), 1e-9);
    }
    cw_check_near("nothing is in doubt yet", cw_shrink_common(s, 0, 0), 0.0, 1e-12);
    cw_check_near("of a past season's total all is", cw_shrink_common(s, CW_SHRINK_NO_LOT, 9000), 1.0, 1e-12);
    /* Far beyond all limits neither chance can be written down, but their ratio can: phi(b) / b over phi(a) / a. */
    const cw_shrink_stretch far = { 40.0, 0, 40.05, 0 };
    cw_check_near("far beyond", cw_shrink_sound(&far, 0),
                  exp((40.0 * 40.0 - 40.05 * 40.05) / 2) * 40.0 / 40.05, 1e-6);
    cw_shrink_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_k_is_found_with_its_spread),
        cmocka_unit_test(test_crates_without_loss),
        cmocka_unit_test(test_defaults_without_data),
        cmocka_unit_test(test_limits_are_learned),
        cmocka_unit_test(test_divisions_of_one_crate_count_for_fewer),
        cmocka_unit_test(test_share_is_monotone),
        cmocka_unit_test(test_moments_add_up),
        cmocka_unit_test(test_limits_against_a_fine_grid),
        cmocka_unit_test(test_a_stretch_by_its_formula),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

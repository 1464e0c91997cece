/* SPDX-License-Identifier: MIT */
/* The mixed model's integrals against ones worked out point by point: quadrature and grids. */
#include "support/mixed.h"
#include "support/check.h"

#include <math.h>

/* Log of the integral of a variety's likelihood over one normal effect of this sd, summed over a fine grid. */
static double brute(cw_mixed_family family, const cw_mixed_row *row, int n, double intercept, double sd)
{
    double sum = 0, h = 0.002;
    for (double z = -9; z <= 9; z += h) {
        double l = -0.5 * z * z, rate = exp(intercept + sd * z);
        for (int i = 0; i < n; i++) {
            int sign;
            double y = row[i].count, x = row[i].exposure * rate, m = row[i].trials;
            if (family == CW_MIXED_COUNT)
                l += y * log(x) - x - lgamma_r(y + 1, &sign);
            else
                l += (y > 0 ? y * log(-expm1(-x)) : 0) - (m - y) * x + lgamma_r(m + 1, &sign) -
                     lgamma_r(y + 1, &sign) - lgamma_r(m - y + 1, &sign);
        }
        sum += h * exp(l);
    }
    return log(sum / sqrt(2 * 3.14159265358979323846));
}

/* With one variety all effects add up to one normal effect of summed variance, so every term's elimination is held
 * against a plain one-dimensional quadrature. Laplace's error is of order 1 / count: named per row. */
static void test_against_quadrature(void **state)
{
    (void)state;
    const struct {
        const char *name;
        cw_mixed_family family;
        cw_mixed_row rows[2];
        double intercept, tolerance;
    } cases[] = {
        { "many counts", CW_MIXED_COUNT, { { 0, 0, 3, 10, 0, 61 }, { 0, 0, 3, 5, 0, 34 } }, 1.8, 1e-4 },
        { "few counts", CW_MIXED_COUNT, { { 0, 0, 3, 1, 0, 2 }, { 0, 0, 3, 1, 0, 1 } }, 0.2, 3e-3 },
        { "no counts", CW_MIXED_COUNT, { { 0, 0, 3, 1, 0, 0 }, { 0, 0, 3, 2, 0, 0 } }, 0.2, 1.5e-2 },
        { "some rotten", CW_MIXED_CLOGLOG, { { 0, 0, 3, 8, 100, 14 }, { 0, 0, 3, 4, 60, 5 } }, -3.5, 1e-3 },
        { "none rotten", CW_MIXED_CLOGLOG, { { 0, 0, 3, 8, 50, 0 }, { 0, 0, 3, 4, 30, 0 } }, -5, 2e-2 },
    };
    for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        cw_mixed_settings s = { .mode = CW_MIXED_ML,
                                .use = { false, false, true, true, true, true },
                                .threads = 1 };
        cw_mixed_hyper at = {
            .known = true, .intercept = cases[k].intercept, .phi = 1, .sd = { 0, 0, 0.3, 0.2, 0.25, 0.1 }
        };
        cw_mixed_data data = { cases[k].family, cases[k].rows, 2, 1, 1, 0, 0, NULL, NULL, 0, NULL, NULL };
        double value, sd = sqrt(0.09 + 0.04 + 0.0625 + 0.01);
        cw_error err = CW_ERROR_NONE;
        cw_check_ok(cw_mixed_density(&data, &s, &at, &value, NULL, &err), &err);
        cw_check_near(cases[k].name, value, brute(cases[k].family, cases[k].rows, 2, cases[k].intercept, sd),
                      cases[k].tolerance);
    }
}

/* Log-likelihood of one row at its eta, up to what does not depend on it. */
static double row_log_likelihood(cw_mixed_family family, const cw_mixed_row *row, double eta)
{
    double x = row->exposure * exp(eta);
    if (family == CW_MIXED_COUNT)
        return row->count * eta - x;
    return (row->count > 0 ? row->count * log(-expm1(-x)) : 0) - (row->trials - row->count) * x;
}

/* Posterior mean and sd of eta of both varieties by summing over a grid of two variety effects and the season's. */
static void posterior_by_grid(cw_mixed_family family, const cw_mixed_row row[2], double intercept,
                              const double sd[2], double mean[2], double spread[2])
{
    double total = 0, first[2] = { 0, 0 }, second[2] = { 0, 0 }, h = 0.1;
    for (double t = -5; t <= 5; t += h)
        for (double a = -5; a <= 5; a += h)
            for (double b = -5; b <= 5; b += h) {
                double eta[2] = { intercept + sd[0] * a + sd[1] * t, intercept + sd[0] * b + sd[1] * t };
                double p = exp(-0.5 * (a * a + b * b + t * t) + row_log_likelihood(family, &row[0], eta[0]) +
                               row_log_likelihood(family, &row[1], eta[1]));
                total += p;
                for (int i = 0; i < 2; i++) {
                    first[i] += p * eta[i];
                    second[i] += p * eta[i] * eta[i];
                }
            }
    for (int i = 0; i < 2; i++) {
        mean[i] = first[i] / total;
        spread[i] = sqrt(second[i] / total - mean[i] * mean[i]);
    }
}

/* What is told of two varieties of one season against the exact posterior, the sds pinned by a sharp prior. Of small
 * counts the mode is off by 0.1 sd and more; the corrected mean must be within 0.01 sd. */
static void test_posterior_against_grid(void **state)
{
    (void)state;
    const struct {
        const char *name;
        cw_mixed_family family;
        cw_mixed_row rows[2];
        double intercept;
    } cases[] = {
        { "3 and 0 of counts", CW_MIXED_COUNT, { { 0, 0, -1, 1, 0, 3 }, { 1, 0, -1, 2, 0, 0 } }, 0.1 },
        { "40 and 90 of counts", CW_MIXED_COUNT, { { 0, 0, -1, 10, 0, 40 }, { 1, 0, -1, 10, 0, 90 } }, 1.7 },
        { "4 and 0 rotten", CW_MIXED_CLOGLOG, { { 0, 0, -1, 6, 40, 4 }, { 1, 0, -1, 6, 40, 0 } }, -4.5 },
    };
    const double sd[2] = { 0.5, 0.3 };
    for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        cw_mixed_settings s = predict_settings();
        cw_mixed_data d = { cases[k].family, cases[k].rows, 2, 2, 1, 0, 0, NULL, NULL, 0, NULL, NULL };
        s.dispersion = false;
        s.intercept_mean = cases[k].intercept;
        s.intercept_sd = 1e-7;
        s.sd_limit = 1e9;
        for (int term = 0; term < CW_TERMS; term++) {
            s.use[term] = term == CW_TERM_VARIETY || term == CW_TERM_SEASON;
            s.sd_median[term] = sd[term == CW_TERM_SEASON];
            s.sd_spread[term] = 1e-4;
        }
        cw_mixed *f = NULL;
        cw_error err = CW_ERROR_NONE;
        cw_check_ok(cw_mixed_fit(&d, &s, NULL, &f, &err), &err);
        const cw_latent *l = cw_mixed_latent(f);
        assert_int_equal(l->points, 1);
        double mean[2], spread[2];
        posterior_by_grid(cases[k].family, cases[k].rows, cases[k].intercept, sd, mean, spread);
        for (size_t i = 0; i < 2; i++) {
            double variance = l->point[0].own_sd[i] * l->point[0].own_sd[i];
            for (size_t j = 0; j < l->shared; j++)
                variance += l->point[0].loading[i * l->shared + j] * l->point[0].loading[i * l->shared + j];
            print_message("%s, variety %zu: mean %.4f (grid %.4f), sd %.4f (grid %.4f)\n", cases[k].name, i,
                          l->point[0].mean[i], mean[i], sqrt(variance), spread[i]);
            cw_check_near(cases[k].name, (l->point[0].mean[i] - mean[i]) / spread[i], 0, 0.01);
            cw_check_relative(cases[k].name, sqrt(variance), spread[i], 0.01);
        }
        cw_mixed_free(f);
    }
}

/* Mean and sd of the log sd of lots and of a tilt under the posterior, by summing the density over a grid of both. */
static void hyper_by_grid(const cw_mixed_data *d, const cw_mixed_settings *s, double mean[2],
                          double spread[2])
{
    enum { STEPS = 61 };
    double total = 0, first[2] = { 0, 0 }, second[2] = { 0, 0 }, value, top = 0;
    for (int i = 0; i < STEPS; i++)
        for (int j = 0; j < STEPS; j++) {
            double x[2] = { -5.5 + 6.5 * i / (STEPS - 1), -1.2 + 2.4 * j / (STEPS - 1) };
            cw_mixed_hyper at = { .known = true, .phi = 1, .sd = { [CW_TERM_LOT] = exp(x[0]) } };
            at.tilt[1] = x[1];
            cw_error err = CW_ERROR_NONE;
            cw_check_ok(cw_mixed_density(d, s, &at, &value, NULL, &err), &err);
            top = total > 0 ? top : value;
            double p = exp(value - top);
            total += p;
            for (int k = 0; k < 2; k++) {
                first[k] += p * x[k];
                second[k] += p * x[k] * x[k];
            }
        }
    for (int k = 0; k < 2; k++) {
        mean[k] = first[k] / total;
        spread[k] = sqrt(second[k] / total - mean[k] * mean[k]);
    }
}

/* The points stand for the posterior of what is not sharp: their mean and sd are those of a fine grid, where few lots leave a
 * log sd skew (its optimum lies a third of its sd above its mean) and a tilt has a heavy tail. */
static void test_points_against_grid(void **state)
{
    (void)state;
    cw_mixed_row rows[24];
    cw_mixed_tilt tilt[24] = { { 0 } };
    for (int i = 0; i < 24; i++) {
        rows[i] = (cw_mixed_row){ 0, 0, i, 6, 40, (i * 7) % 5 + (i % 3 == 0) };
        tilt[i].of[0] = i % 2;
        tilt[i].x[0] = i % 2;
    }
    cw_mixed_settings s = predict_settings();
    cw_mixed_data d = { CW_MIXED_CLOGLOG, rows, 24, 1, 1, 0, 0, NULL, NULL, 0, NULL, NULL };
    d.tilt = tilt;
    s.dispersion = false;
    for (int term = 0; term < CW_TERMS; term++)
        s.use[term] = term == CW_TERM_LOT;
    s.sd_median[CW_TERM_LOT] = 0.3;
    s.sd_spread[CW_TERM_LOT] = 1;
    s.intercept_mean = -4.5;
    s.tilt_scale[1] = 0.1;
    cw_mixed *f = NULL;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_mixed_fit(&d, &s, NULL, &f, &err), &err);
    const cw_latent *l = cw_mixed_latent(f);
    double mean[2], spread[2], m[2] = { 0, 0 }, square[2] = { 0, 0 };
    hyper_by_grid(&d, &s, mean, spread);
    for (size_t i = 0; i < l->points; i++) {
        double x[2] = { log(l->point[i].lot_sd), l->point[i].tilt[1] };
        for (int k = 0; k < 2; k++) {
            m[k] += l->point[i].weight * x[k];
            square[k] += l->point[i].weight * x[k] * x[k];
        }
    }
    const cw_mixed_hyper *h = &cw_mixed_result(f)->hyper;
    double mode[2] = { log(h->sd[CW_TERM_LOT]), h->tilt[1] };
    for (int k = 0; k < 2; k++) {
        double sd = sqrt(square[k] - m[k] * m[k]);
        print_message("%s: optimum %.3f, mean %.3f (grid %.3f), sd %.3f (grid %.3f)\n", k ? "tilt" : "log sd",
                      mode[k], m[k], mean[k], sd, spread[k]);
        cw_check_near("mean", (m[k] - mean[k]) / spread[k], 0, 0.12);
        assert_true(sd > 0.65 * spread[k] && sd < 1.1 * spread[k]);
    }
    assert_true(mode[0] - mean[0] > 0.3 * spread[0]);
    cw_mixed_free(f);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_against_quadrature),
        cmocka_unit_test(test_posterior_against_grid),
        cmocka_unit_test(test_points_against_grid),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* SPDX-License-Identifier: MIT */
/* Draws against the laws that they claim: a chi-square over cells of equal chance, on fixed streams. */
#include "support/check.h"

#include "model/sampler.h"
#include "model/special.h"

#include <math.h>
#include <stdio.h>

#define DRAWS 200000
#define CELLS 40

/* Pearson's statistic of PIT values; a count is spread over its interval F(k - 1) .. F(k) by one more
 * uniform. */
static void check_uniform(const char *what, const double *u)
{
    double count[CELLS] = { 0 }, x2 = 0.0, expected = (double)DRAWS / CELLS;
    for (int i = 0; i < DRAWS; i++)
        count[(int)fmin(CELLS - 1, floor(u[i] * CELLS))] += 1.0;
    for (int c = 0; c < CELLS; c++)
        x2 += (count[c] - expected) * (count[c] - expected) / expected;
    double p = cw_gamma_q((CELLS - 1) / 2.0, x2 / 2.0);
    if (p < 1e-4)
        fail_msg("%s: chi-square %.1f on %d, p = %.2g", what, x2, CELLS - 1, p);
}

static double u[DRAWS];

static void test_continuous(void **state)
{
    (void)state;
    cw_rng r;
    cw_rng_init(&r, 11, 1);
    for (int i = 0; i < DRAWS; i++)
        u[i] = cw_normal_p(cw_draw_normal(&r));
    check_uniform("normal", u);
    static const double shapes[] = { 0.05, 0.4, 1, 2.5, 300 };
    for (int s = 0; s < 5; s++) {
        for (int i = 0; i < DRAWS; i++)
            u[i] = cw_gamma_p(shapes[s], cw_draw_gamma(&r, shapes[s]));
        check_uniform("gamma", u);
    }
    for (int i = 0; i < DRAWS; i++)
        u[i] = cw_beta_p(cw_draw_beta(&r, 0.7, 9.0), 0.7, 9.0);
    check_uniform("beta", u);
}

static void test_counts(void **state)
{
    (void)state;
    cw_rng r;
    cw_rng_init(&r, 12, 1);
    static const double means[] = { 0.2, 3, 9.99, 10, 80, 5000 };
    for (int s = 0; s < 6; s++) {
        for (int i = 0; i < DRAWS; i++) {
            int64_t k = cw_draw_poisson(&r, means[s]);
            u[i] = cw_poisson_p(k, means[s]) - cw_rng_uniform(&r) * cw_poisson_pmf(k, means[s]);
        }
        check_uniform("Poisson", u);
    }
    static const struct {
        int64_t n;
        double p;
    } trials[] = { { 1, 0.3 }, { 40, 0.2 }, { 40, 0.8 }, { 500, 0.35 }, { 500, 0.97 }, { 100000, 0.02 } };
    for (int s = 0; s < 6; s++) {
        for (int i = 0; i < DRAWS; i++) {
            int64_t k = cw_draw_binomial(&r, trials[s].n, trials[s].p);
            u[i] = cw_binomial_p(k, trials[s].n, trials[s].p) -
                   cw_rng_uniform(&r) * cw_binomial_pmf(k, trials[s].n, trials[s].p);
        }
        check_uniform("binomial", u);
    }
    for (int i = 0; i < DRAWS; i++) {
        int64_t k = cw_draw_negbin(&r, 2.5, 7.5);
        u[i] = cw_negbin_p(k, 2.5, 7.5) - cw_rng_uniform(&r) * cw_negbin_pmf(k, 2.5, 7.5);
    }
    check_uniform("negative binomial", u);
}

static void test_ab0_moments(void **state)
{
    (void)state;
    static const struct {
        double mean, phi;
    } rows[] = { { 50, 0.4 }, { 50, 1.0 }, { 50, 1.7 }, { 3.3, 0.75 }, { 700, 0.1 } };
    for (size_t s = 0; s < sizeof rows / sizeof rows[0]; s++) {
        cw_rng r;
        cw_rng_init(&r, 13, s);
        double sum = 0.0, square = 0.0;
        for (int i = 0; i < DRAWS; i++) {
            double x = (double)cw_draw_ab0(&r, rows[s].mean, rows[s].phi) - rows[s].mean;
            sum += x;
            square += x * x;
        }
        double sd = sqrt(rows[s].phi * rows[s].mean);
        cw_check_near("mean", sum / DRAWS / sd, 0.0, 5.0 / sqrt(DRAWS));
        /* A whole number of trials moves phi by at most (1 - phi)^2 / mean. */
        double slack = (1 - rows[s].phi) * (1 - rows[s].phi) / rows[s].mean / rows[s].phi;
        cw_check_near("variance", square / DRAWS / (sd * sd), 1.0, 0.02 + fabs(slack));
    }
}

static void test_streams_repeat(void **state)
{
    (void)state;
    cw_rng a, b;
    cw_rng_init(&a, 5, 77);
    cw_rng_init(&b, 5, 77);
    for (int i = 0; i < 1000; i++)
        assert_int_equal(cw_draw_negbin(&a, 3, 40), cw_draw_negbin(&b, 3, 40));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_continuous),
        cmocka_unit_test(test_counts),
        cmocka_unit_test(test_ab0_moments),
        cmocka_unit_test(test_streams_repeat),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

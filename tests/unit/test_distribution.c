/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "model/demand.h"
#include "model/distribution.h"
#include "model/quantity.h"
#include "model/score.h"
#include "model/special.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A Poisson law on cells of one value and of several, against sums over its own chances. */
static const double means[] = { 0.3, 6.0, 90.0, 4000.0 };

static size_t poisson(double mean, double **pmf)
{
    size_t n = (size_t)(mean + 12.0 * sqrt(mean) + 30.0);
    *pmf = malloc(n * sizeof **pmf);
    assert_non_null(*pmf);
    for (size_t k = 0; k < n; k++)
        (*pmf)[k] = cw_poisson_pmf((int64_t)k, mean);
    return n;
}

static void test_sums(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof means / sizeof means[0]; i++) {
        double *pmf = NULL, run = 0.0, shorts = 0.0;
        size_t n = poisson(means[i], &pmf);
        cw_distribution d;
        cw_distribution_from_pmf(&d, 0, pmf, n);
        double slack = d.step > 1 ? 2e-3 : 1e-10;
        cw_check_near("mean", d.mean, means[i], 1e-8);
        cw_check_near("variance", d.variance, means[i], 1e-7);
        for (int64_t k = 0; k < (int64_t)n; k++) {
            cw_check_near("short of k", cw_distribution_short_of(&d, k), shorts, slack);
            cw_check_near("left over", cw_distribution_left_over(&d, k), shorts + means[i] - (double)k,
                          10 * slack);
            run += pmf[k];
            shorts += run; /* E max(0, k + 1 - X) = sum of F up to k */
            cw_check_near("cdf", cw_distribution_cdf(&d, k), run, slack);
            cw_check_near("at least", cw_distribution_at_least(&d, k + 1), 1.0 - run, slack);
        }
        for (double p = 0.01; p < 1.0; p += 0.07) {
            int64_t q = cw_distribution_quantile(&d, p);
            assert_true(cw_distribution_cdf(&d, q) >= p - 1e-12);
            assert_true(cw_distribution_cdf(&d, q - 1) < p);
        }
        free(pmf);
    }
}

static void test_less(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof means / sizeof means[0]; i++) {
        double *pmf = NULL;
        size_t n = poisson(means[i], &pmf);
        cw_distribution d, saleable;
        cw_distribution_from_pmf(&d, 0, pmf, n);
        for (int64_t less = 0; less < (int64_t)n; less += 1 + (int64_t)means[i] / 5) {
            cw_distribution_less(&d, less, &saleable);
            cw_check_near("mean", saleable.mean, cw_distribution_left_over(&d, less), 1e-9);
            for (int64_t k = saleable.step - 1; k < (int64_t)n - less; k += 1 + (int64_t)n / 50)
                cw_check_near("cdf", cw_distribution_cdf(&saleable, k), cw_distribution_cdf(&d, k + less),
                              d.step > 1 ? 3e-3 : 1e-12);
        }
        free(pmf);
    }
}

/* out[i + j] = a[i] * b[j]: the law of a sum of two, whatever they are. */
static void convolve(const double *a, size_t n, const double *b, size_t m, double *out)
{
    for (size_t k = 0; k < n + m - 1; k++)
        out[k] = 0.0;
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < m; j++)
            out[i + j] += a[i] * b[j];
}

/* What two beds give, one of which may fail, less what is held back: cells of several numbers, but 0 stands by itself. Against sums
 * over the convolution, number by number. */
static void test_less_of_a_wide_law(void **state)
{
    (void)state;
    enum { N = 1200, ALL = 2 * N - 1 };
    static double good[N], failing[N], sum[ALL];
    for (size_t k = 0; k < N; k++)
        good[k] = cw_poisson_pmf((int64_t)k, 700.0);
    for (size_t k = 0; k < N; k++)
        failing[k] = (k == 0 ? 0.3 : 0.0) + 0.7 * cw_poisson_pmf((int64_t)k, 400.0);
    convolve(good, N, failing, N, sum);
    const int64_t less[] = { 640, 701, 900, 1083, 1150 };
    for (size_t l = 0; l < sizeof less / sizeof less[0]; l++) {
        cw_distribution d, y;
        cw_distribution_from_pmf(&d, 0, sum, ALL);
        assert_true(d.step > 1);
        cw_distribution_less(&d, less[l], &y);
        double nothing = 0.0, mean = 0.0, square = 0.0, run = 0.0, shorts = 0.0;
        for (int64_t k = 0; k < ALL; k++) {
            double left = k > less[l] ? (double)(k - less[l]) : 0.0;
            nothing += left == 0.0 ? sum[k] : 0.0;
            mean += sum[k] * left;
            square += sum[k] * left * left;
        }
        cw_check_near("nothing left", cw_distribution_cdf(&y, 0), nothing, 1e-3);
        cw_check_near("mean", y.mean, mean, 0.01);
        cw_check_near("variance", y.variance, square - mean * mean, 1e-3 * square + 0.02);
        assert_true(cw_distribution_cdf(&y, -1) == 0.0);
        for (int64_t k = 0; k < ALL - less[l]; k++) {
            shorts += run; /* E max(0, k - Y) = sum of F below k */
            run = (k == 0 ? nothing : run + sum[k + less[l]]);
            cw_check_near("cdf", cw_distribution_cdf(&y, k), run, 1e-3);
            cw_check_near("short of k", cw_distribution_short_of(&y, k), shorts, 0.01);
            /* and the same as the law it came from, to the last digits */
            cw_check_near("cdf of all", cw_distribution_cdf(&y, k), cw_distribution_cdf(&d, k + less[l]),
                          1e-14);
        }
        for (double p = 0.005; p < 1.0; p += 0.005) {
            int64_t q = cw_distribution_quantile(&y, p);
            assert_true(cw_distribution_cdf(&y, q) >= p - 1e-12 && cw_distribution_cdf(&y, q - 1) < p);
        }
        if (nothing > 0.01)
            assert_int_equal(cw_distribution_quantile(&y, nothing - 0.005), 0);
        const int64_t seen[] = { 0, 3, 250 };
        for (size_t i = 0; i < 3; i++) { /* the ranked score by its definition */
            double score = 0.0;
            for (int64_t k = 0; k <= cw_distribution_last(&y) || k < seen[i]; k++) {
                double off = cw_distribution_cdf(&y, k) - (k >= seen[i]);
                score += off * off;
            }
            cw_check_near("score", cw_score_crps(&y, seen[i]), score, 1e-9);
        }
        cw_distribution again = y, twice;
        cw_distribution_less(&again, 37, &again); /* in place, and of what has a lump at 0 already */
        cw_distribution_less(&d, less[l] + 37, &twice);
        for (int64_t k = 0; k < 600; k++)
            cw_check_near("twice", cw_distribution_cdf(&again, k), cw_distribution_cdf(&twice, k), 1e-14);
        assert_int_equal(cw_distribution_last(&twice), cw_distribution_last(&d) - less[l] - 37);
    }
}

/* What may be nothing, or many, is mixed with what surely is many: the chance of nothing stays at 0. */
static void test_mix_keeps_the_lump_at_nothing(void **state)
{
    (void)state;
    double *pmf = NULL;
    size_t n = poisson(4000.0, &pmf);
    cw_distribution d, none, out;
    cw_distribution_from_pmf(&d, 0, pmf, n);
    cw_distribution_less(&d, 4000, &none); /* in half of all cases nothing is left */
    assert_true(none.step > 1);
    const cw_distribution *const of[] = { &none, &d };
    cw_distribution_mix(of, (double[]){ 0.25, 0.75 }, 2, &out);
    cw_check_near("at 0", cw_distribution_cdf(&out, 0), 0.25 * cw_distribution_cdf(&none, 0), 2e-3);
    cw_check_near("mean", out.mean, 0.25 * none.mean + 0.75 * d.mean, 1e-9);
    free(pmf);
}

/* Who makes a law says all of it: what stood in the memory before does not show. */
static void test_laws_are_whole(void **state)
{
    (void)state;
    static double pmf[3000];
    cw_distribution made[2][5];
    for (size_t k = 0; k < 3000; k++)
        pmf[k] = cw_poisson_pmf((int64_t)k, 1500.0);
    const cw_demand few = { .known = true, .mean = 3.0, .variance = 5.0 },
                    many = { .known = true, .mean = 2000.0, .variance = 90000.0 };
    for (int garbage = 0; garbage < 2; garbage++) {
        cw_distribution *d = made[garbage];
        memset(d, garbage ? 0x3f : 0, sizeof made[0]);
        cw_distribution_point(&d[0], 3);
        cw_distribution_from_pmf(&d[1], 0, pmf, 3000);
        cw_demand_law(&few, &d[2]);
        cw_demand_law(&many, &d[3]);
        cw_distribution_mix((const cw_distribution *const[]){ &d[1], &d[3] }, (double[]){ 0.5, 0.5 }, 2,
                            &d[4]);
    }
    for (size_t i = 0; i < 5; i++)
        for (int64_t k = -1; k < 6000; k += 7)
            assert_true(cw_distribution_cdf(&made[0][i], k) == cw_distribution_cdf(&made[1][i], k));
}

static void test_point(void **state)
{
    (void)state;
    cw_distribution d;
    cw_distribution_point(&d, 17);
    assert_int_equal(cw_distribution_quantile(&d, 0.01), 17);
    assert_int_equal(cw_distribution_quantile(&d, 0.99), 17);
    assert_true(cw_distribution_cdf(&d, 16) == 0.0 && cw_distribution_at_least(&d, 17) == 1.0);
    assert_true(cw_distribution_short_of(&d, 20) == 3.0 && cw_distribution_left_over(&d, 15) == 2.0);
    cw_distribution_less(&d, 20, &d);
    assert_int_equal(cw_distribution_quantile(&d, 0.5), 0);
}

/* Many quantiles at once are the same as one by one, in narrow laws and in wide ones with cells of many values. */
static void test_many_quantiles(void **state)
{
    (void)state;
    enum { N = 2000 };
    static double pmf[3000], p[N];
    static int32_t many[N];
    for (size_t width = 3; width <= 3000; width *= 10) {
        cw_distribution d;
        for (size_t k = 0; k < width; k++)
            pmf[k] = exp(-0.5 * pow(((double)k - 0.4 * (double)width) / (0.07 * (double)width + 1), 2));
        cw_distribution_from_pmf(&d, 5, pmf, width);
        for (size_t i = 0; i < N; i++)
            p[i] = i == 0 ? 1e-12 : i + 1 == N ? 1 - 1e-12 : ((double)(i * 1237 % N) + 0.5) / N;
        cw_distribution_quantiles(&d, N, p, many);
        for (size_t i = 0; i < N; i++)
            assert_int_equal(many[i], cw_distribution_quantile(&d, p[i]));
    }
}

/* Laws of all kinds: a number to a cell, several, a lump at nothing, a single number. */
static void laws_of_all_kinds(cw_distribution law[5])
{
    static double pmf[3000];
    for (size_t i = 0; i < 3; i++) {
        size_t width = i == 0 ? 9 : i == 1 ? 400 : 3000;
        for (size_t k = 0; k < width; k++)
            pmf[k] = exp(-0.5 * pow(((double)k - 0.4 * (double)width) / (0.15 * (double)width + 1), 2));
        cw_distribution_from_pmf(&law[i], i == 1 ? 0 : 7, pmf, width);
    }
    cw_distribution_less(&law[2], 600, &law[3]);
    assert_true(law[3].lead < law[3].step && law[3].atom > 0);
    cw_distribution_point(&law[4], 17);
}

/* Chances of a run of numbers at once are those of one by one, wherever the run begins and ends. */
static void test_runs(void **state)
{
    (void)state;
    cw_distribution law[5];
    double run[3200];
    laws_of_all_kinds(law);
    for (size_t i = 0; i < 5; i++)
        for (int64_t from = -3; from < 3100; from += from < 30 ? 1 : 37)
            for (size_t n = 0; n < 3200; n = n < 20 ? n + 1 : 2 * n + 1) {
                cw_distribution_cdfs(&law[i], from, n, run);
                for (size_t k = 0; k < n; k++)
                    assert_true(run[k] == cw_distribution_cdf(&law[i], from + (int64_t)k));
            }
}

/* What a quantity means, as the sum of its formula, term by term. */
static void test_view_term_by_term(void **state)
{
    (void)state;
    cw_distribution law[5];
    laws_of_all_kinds(law);
    for (size_t i = 0; i < 25; i++) {
        const cw_distribution *s = &law[i / 5], *demand = &law[i % 5];
        for (int64_t quantity = 0; quantity < 2600; quantity += quantity < 100 ? 7 : 389) {
            int64_t sure = quantity / 3;
            cw_quantity_ask ask = {
                .saleable = s, .demand = demand, .sold = sure, .margin = 300, .short_cost = 700
            };
            cw_quantity_view v;
            double sold = (double)sure, shorts = cw_distribution_short_of(s, sure),
                   p = cw_distribution_cdf(s, sure - 1);
            for (int64_t k = sure + 1; k <= quantity; k++) {
                double wanted = cw_distribution_at_least(demand, k);
                if (wanted <= 0)
                    break;
                sold += wanted;
                shorts += wanted * cw_distribution_cdf(s, k - 1);
                p += wanted * cw_distribution_pmf(s, k - 1);
            }
            cw_quantity_view_at(&ask, quantity, &v);
            cw_check_near("sold", v.expected_sold, sold, 1e-9);
            cw_check_near("short", v.expected_short, shorts, 1e-9);
            cw_check_near("chance of a short", v.p_short, fmin(1, fmax(0, p)), 1e-11);
        }
    }
}

/* The variance of what is left after less, to the last bit as the sum over numbers one by one. */
static void test_less_term_by_term(void **state)
{
    (void)state;
    cw_distribution law[5], y;
    laws_of_all_kinds(law);
    for (size_t i = 0; i < 5; i++)
        for (int64_t less = law[i].first + 1; less <= cw_distribution_last(&law[i]); less += 1 + less / 3) {
            const cw_distribution *d = &law[i];
            bool above = (double)less > d->mean;
            double off = d->mean - (double)less, second = above ? 0.0 : d->variance + off * off;
            for (int64_t k = above ? less + 1 : d->first; k < (above ? cw_distribution_last(d) + 1 : less);
                 k++)
                second += (above ? 1.0 : -1.0) * cw_distribution_pmf(d, k) * (double)(k - less) *
                          (double)(k - less);
            cw_distribution_less(d, less, &y);
            assert_true(y.variance == fmax(0.0, second - y.mean * y.mean));
        }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_many_quantiles),
        cmocka_unit_test(test_sums),
        cmocka_unit_test(test_less),
        cmocka_unit_test(test_less_of_a_wide_law),
        cmocka_unit_test(test_laws_are_whole),
        cmocka_unit_test(test_mix_keeps_the_lump_at_nothing),
        cmocka_unit_test(test_point),
        cmocka_unit_test(test_runs),
        cmocka_unit_test(test_view_term_by_term),
        cmocka_unit_test(test_less_term_by_term),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

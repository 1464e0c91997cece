/* SPDX-License-Identifier: MIT */
/* Special functions and count laws against values made with mpmath at 60 digits and against GSL 2.7. */
#include "support/check.h"

#include "base/rng.h"
#include "model/distribution.h"
#include "model/special.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_sf_gamma.h>
#include <math.h>
#include <stdio.h>

/* Negative binomial by size and mean: pmf(k), P(X <= k), P(X > k). Source: direct sums with mpmath at 60
 * digits, agreed by R 4.2.2, scipy 1.10.1 and GSL 2.7.1. */
static const struct {
    double size, mean;
    int64_t k;
    double pmf, below, above, tolerance;
} negbin[] = {
    { 0.5, 2, 3, 0.0715541752799933, 0.804984471899924, 0.195015528100076, 1e-12 },
    { 1, 10, 25, 0.00839054528882402, 0.91609454711176, 0.0839054528882402, 1e-12 },
    { 2.5, 7.5, 20, 0.00730133634039672, 0.971434747592927, 0.028565252407073, 1e-12 },
    { 0.8222686496886464, 6.53136143264, 16, 0.0132045122892849, 0.902035985153587, 0.097964014846413,
      1e-12 },
    { 10, 3, 3, 0.196120442740669, 0.6485181374263, 0.3514818625737, 1e-12 },
    { 20, 100, 150, 0.00222911834752343, 0.970041196840414, 0.0299588031595856, 1e-12 },
    { 0.05, 1, 0, 0.858794066649739, 0.858794066649739, 0.141205933350261, 1e-12 },
    { 0.01, 0.5, 10, 8.11288593692959e-4, 0.988105683788945, 0.011894316211055, 1e-12 },
    { 1e6, 20, 35, 6.85439011828209e-4, 0.999196237228438, 8.03762771561732e-4, 2e-9 },
    { 50, 2000, 1200, 1.06001960504015e-5, 6.21768457615316e-4, 0.999378231542385, 1e-11 },
};

static void test_negative_binomial(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof negbin / sizeof negbin[0]; i++) {
        char name[64];
        snprintf(name, sizeof name, "row %zu", i + 1);
        cw_check_relative(name, cw_negbin_pmf(negbin[i].k, negbin[i].size, negbin[i].mean), negbin[i].pmf,
                          negbin[i].tolerance);
        cw_check_relative(name, cw_negbin_p(negbin[i].k, negbin[i].size, negbin[i].mean), negbin[i].below,
                          negbin[i].tolerance);
        cw_check_relative(name, cw_negbin_q(negbin[i].k, negbin[i].size, negbin[i].mean), negbin[i].above,
                          negbin[i].tolerance);
    }
}

/* Smallest k with F(k) >= q; same source. The law goes through cw_distribution, as a projection does. */
static void test_negative_binomial_quantiles(void **state)
{
    (void)state;
    static const struct {
        double size, mean, q;
        int64_t k;
        double before, at;
    } rows[] = {
        { 0.5, 2, 0.9, 6, 0.891135698937036, 0.917582122120522 },
        { 2, 5, 0.5, 4, 0.442196703754388, 0.548444950658314 },
        { 2.5, 7.5, 0.8, 11, 0.759252318701897, 0.801799006912873 },
        { 0.05, 1, 0.95, 5, 0.943107069782788, 0.950561755194044 },
        { 5, 50, 0.1, 23, 0.0930583319625674, 0.105228089798837 },
        { 20, 100, 0.667, 109, 0.660142322379694, 0.674195019493514 },
        { 1, 10, 0.5, 7, 0.486841881769293, 0.533492619790267 },
        { 0.8222686496886464, 6.53136143264, 0.9, 16, 0.888831472864302, 0.902035985153587 },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double pmf[512];
        for (int64_t k = 0; k < 512; k++)
            pmf[k] = cw_negbin_pmf(k, rows[i].size, rows[i].mean);
        cw_distribution d;
        cw_distribution_from_pmf(&d, 0, pmf, 512);
        assert_int_equal(d.step, 1);
        assert_int_equal(cw_distribution_quantile(&d, rows[i].q), rows[i].k);
        cw_check_near("F(k - 1)", cw_distribution_cdf(&d, rows[i].k - 1), rows[i].before, 1e-9);
        cw_check_near("F(k)", cw_distribution_cdf(&d, rows[i].k), rows[i].at, 1e-9);
    }
}

/* A mixture over a Beta chance, by the midpoint of many equal slices of probability: each slice's chance
 * comes from cw_beta_quantile, so this checks the quantile, the binomial and the negative binomial together.
 * Singular ends make the rule slow, hence only shapes of 1 and more. */
#define SLICES 4000
static double mixed(double a, double b, int64_t k, double (*law)(int64_t, const double *, double),
                    const double *arg)
{
    double sum = 0.0;
    for (int i = 0; i < SLICES; i++)
        sum += law(k, arg, cw_beta_quantile((i + 0.5) / SLICES, a, b));
    return sum / SLICES;
}

static double binomial_below(int64_t k, const double *arg, double chance)
{
    return cw_binomial_p(k, (int64_t)arg[0], chance);
}

static double negbin_below(int64_t k, const double *arg, double chance)
{
    /* failures before success number arg[0]: mean r (1 - p) / p */
    return chance <= 0.0 ? 0.0 : cw_negbin_p(k, arg[0], arg[0] * (1.0 - chance) / chance);
}

static double thinned_below(int64_t k, const double *arg, double chance)
{
    return cw_negbin_p(k, arg[0], arg[1] * chance);
}

static double thinned_pmf(int64_t k, const double *arg, double chance)
{
    return cw_negbin_pmf(k, arg[0], arg[1] * chance);
}

static void test_beta_mixtures(void **state)
{
    (void)state;
    /* P(X <= k) of the beta-binomial (n, alpha, beta). Source: mpmath, extraDistr 1.9.1. */
    static const struct {
        double n, a, b;
        int64_t k;
        double below;
    } beta_binomial[] = {
        { 10, 1, 1, 3, 0.363636363636364 },
        { 14, 2.341614403333645, 14.1148042984413, 4, 0.9092590454806 },
        { 50, 10, 2, 35, 0.146363186537107 },
        { 100, 45, 5, 85, 0.181598610427926 },
        { 500, 5, 95, 10, 0.0845597327662582 },
        { 30, 1e6, 1e6, 22, 0.997388396793292 },
        { 50, 90, 10, 40, 0.0546438299712753 },
        { 200, 30, 3, 184, 0.535238405303892 },
    };
    for (size_t i = 0; i < sizeof beta_binomial / sizeof beta_binomial[0]; i++)
        cw_check_near("beta-binomial",
                      mixed(beta_binomial[i].a, beta_binomial[i].b, beta_binomial[i].k, binomial_below,
                            &beta_binomial[i].n),
                      beta_binomial[i].below, 2e-5);
    /* P(X <= k) of the beta-negative-binomial (r, alpha, beta). Source: the same. */
    static const struct {
        double r, a, b;
        int64_t k;
        double below;
    } beta_negbin[] = {
        { 2, 3, 4, 3, 0.651515151515152 },      { 5, 10, 20, 12, 0.668636454468021 },
        { 10, 2.2, 7, 60, 0.733167523129806 },  { 50, 200, 100, 30, 0.792127273053832 },
        { 4, 1e6, 3e6, 12, 0.595012552144349 }, { 0.8222686496886464, 12, 30, 10, 0.972666723810236 },
    };
    for (size_t i = 0; i < sizeof beta_negbin / sizeof beta_negbin[0]; i++)
        cw_check_near(
            "beta-negative-binomial",
            mixed(beta_negbin[i].a, beta_negbin[i].b, beta_negbin[i].k, negbin_below, &beta_negbin[i].r),
            beta_negbin[i].below, 2e-5);
    /* Negative binomial thinned by a Beta survival: the composite that a projection is. Source: mpmath
     * quadrature at 25 digits. */
    static const struct {
        double arg[2], a, b;
        int64_t k;
        double pmf, below;
    } thinned[] = {
        { { 5, 50 }, 90, 10, 36, 0.0205647165255, 0.392324031098 },
        { { 20, 100 }, 45, 5, 72, 0.0149990173053, 0.228015421653 },
    };
    for (size_t i = 0; i < sizeof thinned / sizeof thinned[0]; i++) {
        cw_check_near("thinned pmf",
                      mixed(thinned[i].a, thinned[i].b, thinned[i].k, thinned_pmf, thinned[i].arg),
                      thinned[i].pmf, 1e-6);
        cw_check_near("thinned cdf",
                      mixed(thinned[i].a, thinned[i].b, thinned[i].k, thinned_below, thinned[i].arg),
                      thinned[i].below, 2e-5);
    }
}

/* Incomplete gamma and beta against GSL on a grid; both tails. */
static void test_against_gsl(void **state)
{
    (void)state;
    static const double shapes[] = { 0.01, 0.3, 1, 2.5, 7, 40, 300, 12000 };
    for (size_t i = 0; i < 8; i++) {
        for (double u = 0.05; u < 4.0; u += 0.11) {
            double a = shapes[i], x = a * u;
            cw_check_near("gamma P", cw_gamma_p(a, x), gsl_sf_gamma_inc_P(a, x), 1e-10);
            cw_check_near("gamma Q", cw_gamma_q(a, x), gsl_sf_gamma_inc_Q(a, x), 1e-10);
        }
        for (size_t j = 0; j < 8; j++) {
            for (double x = 0.01; x < 1.0; x += 0.07)
                cw_check_near("beta P", cw_beta_p(x, shapes[i], shapes[j]),
                              gsl_sf_beta_inc(shapes[i], shapes[j], x), 1e-9);
        }
    }
    for (double mean = 0.1; mean < 3000; mean *= 2.7) {
        for (int k = 0; k < 5000; k += 1 + k / 3) {
            cw_check_near("Poisson P", cw_poisson_p(k, mean), gsl_cdf_poisson_P((unsigned)k, mean), 1e-11);
            cw_check_near("Poisson Q", cw_poisson_q(k, mean), gsl_cdf_poisson_Q((unsigned)k, mean), 1e-11);
        }
    }
    for (int n = 1; n < 4000; n = n * 3 + 1) {
        for (int k = 0; k <= n; k += 1 + n / 17)
            cw_check_near("binomial P", cw_binomial_p(k, n, 0.37),
                          gsl_cdf_binomial_P((unsigned)k, 0.37, (unsigned)n), 1e-11);
    }
}

/* Quantiles invert the functions where GSL's own give NaN (p = 0.1, a = 1000, b = 2.5 among them). */
static void test_quantiles_are_safe(void **state)
{
    (void)state;
    static const double shapes[] = { 0.01, 0.02, 0.05, 0.5, 1, 2.5, 30, 1000, 100000 };
    static const double ps[] = { 1e-10, 1e-5, 0.01, 0.1, 0.5, 0.9, 0.95, 0.99, 0.999 };
    for (size_t i = 0; i < 9; i++) {
        for (size_t k = 0; k < 9; k++) {
            double g = cw_gamma_quantile(ps[k], shapes[i]);
            assert_true(g >= 0.0 && isfinite(g));
            if (g > 1e-300)
                cw_check_relative("gamma there and back", cw_gamma_p(shapes[i], g), ps[k], 1e-9);
            for (size_t j = 0; j < 9; j++) {
                double b = cw_beta_quantile(ps[k], shapes[i], shapes[j]);
                assert_true(b >= 0.0 && b <= 1.0);
                if (b > 1e-300 && b < 1.0 - 1e-5)
                    cw_check_relative("beta there and back", cw_beta_p(b, shapes[i], shapes[j]), ps[k], 1e-8);
            }
        }
    }
    for (double p = 1e-9; p < 1.0; p += 0.0137)
        cw_check_near("normal quantile", cw_normal_quantile(p), gsl_cdf_ugaussian_Pinv(p), 1e-13);
    cw_check_relative("Phi(-4)", cw_normal_p(-4), 3.16712418331199e-5, 1e-13);
    cw_check_relative("Phi(0.85)", cw_normal_p(0.85), 0.802337456877308, 1e-14);
}

/* Philox4x32-10 known answers as published with Random123 (file kat_vectors); from memory, not seen again. */
static void test_philox(void **state)
{
    (void)state;
    static const struct {
        uint32_t counter[4], key[2], want[4];
    } rows[] = {
        { { 0, 0, 0, 0 }, { 0, 0 }, { 0x6627e8d5, 0xe169c58d, 0xbc57ac4c, 0x9b00dbd8 } },
        { { 0xffffffff, 0xffffffff, 0xffffffff, 0xffffffff },
          { 0xffffffff, 0xffffffff },
          { 0x408f276d, 0x41c83b0e, 0xa20bc7c6, 0x6d5451fd } },
        { { 0x243f6a88, 0x85a308d3, 0x13198a2e, 0x03707344 },
          { 0xa4093822, 0x299f31d0 },
          { 0xd16cfe09, 0x94fdcceb, 0x5001e420, 0x24126ea1 } },
    };
    for (size_t i = 0; i < 3; i++) {
        uint32_t out[4];
        cw_philox4x32_10(rows[i].counter, rows[i].key, out);
        for (int w = 0; w < 4; w++)
            assert_int_equal(out[w], rows[i].want[w]);
    }
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_negative_binomial),  cmocka_unit_test(test_negative_binomial_quantiles),
        cmocka_unit_test(test_beta_mixtures),      cmocka_unit_test(test_against_gsl),
        cmocka_unit_test(test_quantiles_are_safe), cmocka_unit_test(test_philox),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

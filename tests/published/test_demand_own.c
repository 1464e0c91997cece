/* SPDX-License-Identifier: MIT */
/* What the owner says of a usual season's demand, as one more row of the fit. A normal observation of a normal mean: precisions add up
 * and the mean is weighed by them (Gelman et al., Bayesian Data Analysis, 3rd edition, section 2.5, from memory); where seasons speak
 * too, sums over a fine grid with the GNU Scientific Library's densities. All data are invented. */
#include "support/check.h"

#include "model/demand.h"

#include <gsl/gsl_randist.h>
#include <math.h>
#include <string.h>

enum { VARIETIES = 12, SEASONS = 3, OLD = VARIETIES * SEASONS };

/* Ten varieties that sold some 40 to 130 in three seasons each; the last two never did. */
static size_t past(cw_sales *out)
{
    size_t n = 0;
    for (size_t v = 0; v < VARIETIES - 2; v++)
        for (size_t i = 0; i < SEASONS; i++)
            out[n++] =
                (cw_sales){ .variety = v, .sold = (int64_t)((40 + 10 * v) * (8 + 2 * ((v + i) % 3)) / 10) };
    return n;
}

static void fit(const cw_sales *s, size_t n, cw_demand *d, cw_demand_pool *pool)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_demand_fit(s, n, VARIETIES, 1, d, pool, &err), &err);
}

/* Of a variety that never sold only the nursery's and the owner's normal laws of log demand are known. */
static void test_two_normal_laws_become_one(void **state)
{
    (void)state;
    static const double ranges[][2] = { { 40, 90 }, { 300, 900 }, { 5, 40 }, { 100, 105 } };
    for (size_t i = 0; i < sizeof ranges / sizeof ranges[0]; i++) {
        cw_sales s[OLD];
        cw_demand d[VARIETIES];
        cw_demand_pool pool;
        size_t n = past(s);
        double low = log(ranges[i][0]), high = log(ranges[i][1]);
        s[n++] = (cw_sales){ .variety = 10, .said = true, .low = ranges[i][0], .high = ranges[i][1] };
        fit(s, n, d, &pool);
        /* qnorm(0.9) - qnorm(0.1) = 2.563103 */
        double sd = fmax(0.15, (high - low) / 2.563103);
        double own = 1 / (sd * sd), others = 1 / (pool.log_mean_sd * pool.log_mean_sd);
        double middle = (own * (low + high) / 2 + others * pool.log_mean) / (own + others);
        double mean = exp(middle + 0.5 / (own + others));
        assert_true(d[10].known);
        cw_check_near("share", d[10].own_share, own / (own + others), 2e-3);
        cw_check_near("mean", d[10].mean / mean, 1, 0.01);
        /* seasons differ on top of it */
        double square = exp(2 * middle + 2 / (own + others)) * (1 + pool.alpha) + mean;
        cw_check_near("deviation", sqrt(d[10].variance / (square - mean * mean)), 1, 0.03);
        assert_false(d[11].known);
    }
}

/* At the pool's own figures: how well log demand is known with seasons and the owner's word, over a grid. */
static double slow_share(const cw_sales *s, size_t n, size_t variety, const cw_demand_pool *pool)
{
    double sum = 0, first = 0, second = 0, sd = 0, size = 1 / pool->alpha;
    for (int step = 0; step < 8500; step++) {
        double theta = -4 + 0.002 * step;
        double w = gsl_ran_gaussian_pdf(theta - pool->log_mean, pool->log_mean_sd);
        for (size_t i = 0; i < n; i++) {
            if (s[i].variety != variety)
                continue;
            if (s[i].said) {
                sd = fmax(0.15, log(s[i].high / s[i].low) / 2.563103);
                w *= gsl_ran_gaussian_pdf(theta - log(s[i].high * s[i].low) / 2, sd);
            } else {
                w *= gsl_ran_negative_binomial_pdf((unsigned)s[i].sold, size / (size + exp(theta)), size);
            }
        }
        sum += w;
        first += w * theta;
        second += w * theta * theta;
    }
    first /= sum;
    return (second / sum - first * first) / (sd * sd);
}

static void test_seasons_and_the_owner_by_a_slow_rule(void **state)
{
    (void)state;
    static const double ranges[][2] = {
        { 40, 90 }, { 300, 900 }, { 2000, 2600 }, { 20000, 26000 }, { 1, 4 }
    };
    for (size_t i = 0; i < sizeof ranges / sizeof ranges[0]; i++) {
        cw_sales s[OLD];
        cw_demand d[VARIETIES], without[VARIETIES];
        cw_demand_pool pool;
        size_t n = past(s);
        fit(s, n, without, NULL);
        s[n++] = (cw_sales){ .variety = 2, .said = true, .low = ranges[i][0], .high = ranges[i][1] };
        fit(s, n, d, &pool);
        cw_check_near("share", d[2].own_share, slow_share(s, n, 2, &pool), 5e-3);
        assert_true(without[2].own_share == 0 && d[3].own_share == 0);
        assert_true((d[2].mean > without[2].mean) ==
                    (ranges[i][0] * ranges[i][1] > without[2].mean * without[2].mean));
    }
}

static void test_limits(void **state)
{
    (void)state;
    cw_sales s[OLD + 40];
    cw_demand d[VARIETIES], without[VARIETIES];
    size_t n = past(s);
    fit(s, n, without, NULL);
    /* very wide: nothing changes */
    s[n] = (cw_sales){ .variety = 2, .said = true, .low = 0, .high = 1e12 };
    fit(s, n + 1, d, NULL);
    for (size_t v = 0; v < VARIETIES; v++)
        if (without[v].known)
            cw_check_near("as without", d[v].mean / without[v].mean, 1, 0.01);
    assert_true(d[2].own_share < 0.01);
    /* very narrow, of one that never sold: it is what was said */
    s[n] = (cw_sales){ .variety = 11, .said = true, .low = 400, .high = 400 };
    fit(s, n + 1, d, NULL);
    assert_true(d[11].own_share > 0.8);
    cw_check_near("what was said", d[11].mean / 400, 1, 0.15);
    cw_check_near("others", d[2].mean / without[2].mean, 1, 0.02);
    /* seasons become many: they are believed */
    s[n] = (cw_sales){ .variety = 2, .said = true, .low = 400, .high = 500 };
    double share = 1, mean = 1e9;
    for (size_t more = 1; more <= 32; more *= 2) {
        for (size_t i = 0; i < more; i++)
            s[n + 1 + i] = (cw_sales){ .variety = 2, .sold = 60 + (int64_t)(i % 3) };
        fit(s, n + 1 + more, d, NULL);
        assert_true(d[2].own_share < share && d[2].mean < mean);
        share = d[2].own_share;
        mean = d[2].mean;
    }
    assert_true(mean < 75);
    /* nobody asks for it: some half a division, not none, for the owner may err */
    s[n] = (cw_sales){ .variety = 11, .said = true };
    fit(s, n + 1, d, NULL);
    assert_true(d[11].known && d[11].mean > 0.3 && d[11].mean < 2);
}

/* Without any season the owner's word is all that is known, and says nothing of others. */
static void test_the_word_alone(void **state)
{
    (void)state;
    const cw_sales said[] = { { .variety = 4, .said = true, .low = 40, .high = 90 } };
    cw_demand d[VARIETIES], again[VARIETIES];
    fit(said, 1, d, NULL);
    assert_true(d[4].known && !d[3].known);
    cw_check_near("mean", d[4].mean, 60 * exp(0.05), 2);
    /* wherever the row stands */
    cw_sales s[OLD], turned[OLD];
    size_t n = past(s);
    s[n++] = (cw_sales){ .variety = 5, .said = true, .low = 10, .high = 20 };
    for (size_t i = 0; i < n; i++)
        turned[i] = s[n - 1 - i];
    fit(s, n, d, NULL);
    fit(turned, n, again, NULL);
    for (size_t v = 0; v < VARIETIES; v++)
        assert_true(d[v].mean == again[v].mean && d[v].variance == again[v].variance &&
                    d[v].own_share == again[v].own_share);
}

static void test_what_cannot_be_is_refused(void **state)
{
    (void)state;
    static const double wrong[][2] = { { -1, 4 }, { 5, 4 }, { 1, INFINITY }, { NAN, 4 }, { 1, NAN } };
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        cw_demand d[VARIETIES];
        cw_error err = CW_ERROR_NONE;
        const cw_sales two[] = { { .sold = 3 }, { .said = true, .low = wrong[i][0], .high = wrong[i][1] } };
        assert_int_equal(cw_demand_fit(two, 2, VARIETIES, 1, d, NULL, &err), CW_REFUSED);
        assert_string_equal(err.column, "low");
        assert_int_equal(err.row, 2);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_two_normal_laws_become_one),
        cmocka_unit_test(test_seasons_and_the_owner_by_a_slow_rule),
        cmocka_unit_test(test_limits),
        cmocka_unit_test(test_the_word_alone),
        cmocka_unit_test(test_what_cannot_be_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* SPDX-License-Identifier: MIT */
/* What must hold of any projection: more clumps never lower a quantile, more rot never raises one, and neither the
 * order of rows, nor how they are cut up, nor the number of threads can be seen in the result. */
#include "support/check.h"
#include "support/rounds.h"

#include "base/rng.h"
#include "bench/draws.h"
#include "model/projection.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define VARIETIES 30
#define SEEDS     TEST_ROUNDS(60)

static const double levels[] = { 0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95 };

static void laws(const cw_projection_input *in, unsigned threads, cw_distribution *law)
{
    cw_projection *p = NULL;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_projection_new(in, &p, &err), &err);
    cw_projection_all(p, threads, law);
    cw_projection_free(p);
}

static cw_distribution before[VARIETIES], after[VARIETIES];

/* No quantile of `after` is below (sign > 0) or above (sign < 0) that of `before`; one division of slack where a law is
 * laid on cells of several divisions. */
static void check_moved(const char *what, uint64_t seed, int sign)
{
    for (size_t v = 0; v < VARIETIES; v++) {
        for (size_t i = 0; i < sizeof levels / sizeof levels[0]; i++) {
            int64_t a = cw_distribution_quantile(&before[v], levels[i]),
                    b = cw_distribution_quantile(&after[v], levels[i]);
            int64_t slack = before[v].step > 1 || after[v].step > 1 ? 1 : 0;
            if (sign * (b - a) < -slack)
                fail_msg("%s, seed %llu, variety %zu: the %.0f %% quantile goes from %lld to %lld", what,
                         (unsigned long long)seed, v, 100 * levels[i], (long long)a, (long long)b);
        }
    }
}

static void check_same(const char *what, uint64_t seed)
{
    for (size_t v = 0; v < VARIETIES; v++) {
        if (before[v].cells != after[v].cells || before[v].first != after[v].first ||
            memcmp(before[v].cdf, after[v].cdf, before[v].cells * sizeof(double)) != 0)
            fail_msg("%s, seed %llu: variety %zu is not the same to the last bit", what,
                     (unsigned long long)seed, v);
    }
}

static void test_more_clumps(void **state)
{
    (void)state;
    for (uint64_t seed = 0; seed < SEEDS; seed++) {
        cw_draws_case c;
        assert_true(cw_draws_make(VARIETIES, seed, &c));
        laws(&c.in, 1, before);
        for (int round = 0; round < 4; round++) { /* from one more clump to several */
            for (size_t i = 0; i < c.in.stocks; i++)
                c.stock[i].count += c.stock[i].stage == CW_CLUMP ? 1 + round : 0;
            laws(&c.in, 1, after);
            check_moved("more clumps", seed, 1);
            memcpy(before, after, sizeof before);
        }
        cw_draws_free(&c);
    }
}

/* From none to a dozen clumps, one by one: the law of few clumps is enumerated, that of many is matched, and the step
 * from one to the other must not show. */
static void test_clumps_one_by_one(void **state)
{
    (void)state;
    for (uint64_t seed = 0; seed < SEEDS; seed++) {
        cw_draws_case c;
        assert_true(cw_draws_make(VARIETIES, seed, &c));
        c.in.shrink = NULL;
        for (size_t i = 0; i < c.in.stocks; i++)
            c.stock[i].count = 0;
        laws(&c.in, 1, before);
        for (int n = 1; n <= 12; n++) {
            for (size_t i = 0; i < c.in.stocks; i++) {
                bool first = i == 0 || c.lot_variety[c.stock[i].lot] != c.lot_variety[c.stock[i - 1].lot];
                c.stock[i].stage = CW_CLUMP;
                c.stock[i].count = first ? n : 0;
            }
            laws(&c.in, 1, after);
            check_moved("one more clump", seed, 1);
            memcpy(before, after, sizeof before);
        }
        cw_draws_free(&c);
    }
}

/* The cells of a law weigh what the nodes say, whatever their width: their mean is the law's. A cell wide beside a node
 * that drying has left next to nothing of must not count it twice. */
static void test_cells_hold_the_mean(void **state)
{
    (void)state;
    for (uint64_t seed = 0; seed < SEEDS; seed++) {
        cw_draws_case c;
        assert_true(cw_draws_make(VARIETIES, seed, &c));
        for (int round = 0; round < 4; round++) {
            laws(&c.in, 1, before);
            for (size_t v = 0; v < VARIETIES; v++) {
                const cw_distribution *d = &before[v];
                double below = 0.0, sum = (double)d->first + 0.5 * (double)(d->step - 1);
                for (size_t k = 0; k < d->cells; below = d->cdf[k++])
                    sum += (double)k * (double)d->step * (d->cdf[k] - below);
                if (fabs(sum - d->mean) > 0.004 * d->mean + 1.0)
                    fail_msg("seed %llu, variety %zu: cells of %lld have a mean of %.2f, not %.2f",
                             (unsigned long long)seed, v, (long long)d->step, sum, d->mean);
            }
            for (size_t i = 0; i < c.in.stocks; i++)
                c.stock[i].count *= 2;
        }
        cw_draws_free(&c);
    }
}

static void test_more_rot(void **state)
{
    (void)state;
    for (uint64_t seed = 0; seed < SEEDS; seed++) {
        cw_draws_case c;
        assert_true(cw_draws_make(VARIETIES, seed, &c));
        for (int stage = 1; stage <= 2; stage++) {
            laws(&c.in, 1, before);
            for (int round = 0; round < 3; round++) {
                for (size_t p = 0; p < c.latent[stage]->points; p++) {
                    for (size_t v = 0; v < VARIETIES; v++)
                        c.latent[stage]->point[p].mean[v] += 0.3;
                }
                laws(&c.in, 1, after);
                check_moved(stage == 1 ? "more rot of clumps" : "more rot of divisions", seed, -1);
                memcpy(before, after, sizeof before);
            }
        }
        cw_draws_free(&c);
    }
}

static void test_order_and_cuts_and_threads(void **state)
{
    (void)state;
    for (uint64_t seed = 0; seed < SEEDS; seed++) {
        cw_draws_case c;
        cw_rng rng;
        assert_true(cw_draws_make(VARIETIES, seed, &c));
        laws(&c.in, 1, before);
        laws(&c.in, 4, after);
        check_same("threads", seed);
        cw_rng_init(&rng, 31, seed);
        for (size_t i = c.in.stocks - 1; i > 0; i--) {
            size_t j = cw_rng_below(&rng, (uint32_t)i + 1);
            cw_stock t = c.stock[i];
            c.stock[i] = c.stock[j];
            c.stock[j] = t;
        }
        laws(&c.in, 2, after);
        check_same("order of rows", seed);
        cw_stock *cut = malloc(2 * c.in.stocks * sizeof *cut);
        assert_non_null(cut);
        for (size_t i = 0; i < c.in.stocks; i++) {
            cut[2 * i] = cut[2 * i + 1] = c.stock[i];
            cut[2 * i].count = c.stock[i].count / 3;
            cut[2 * i + 1].count -= cut[2 * i].count;
        }
        c.in.stock = cut;
        c.in.stocks *= 2;
        laws(&c.in, 1, after);
        check_same("rows cut in two", seed);
        free(cut);
        cw_draws_free(&c);
    }
}

int main(void)
{
    printf("seeds 0 .. %d\n", SEEDS - 1);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_more_clumps),
        cmocka_unit_test(test_clumps_one_by_one),
        cmocka_unit_test(test_cells_hold_the_mean),
        cmocka_unit_test(test_more_rot),
        cmocka_unit_test(test_order_and_cuts_and_threads),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

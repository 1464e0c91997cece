/* SPDX-License-Identifier: MIT */
/* What a cut earns before the next release, against draws of the same law weighed by Bayes' rule and nothing else. */
#include "support/check.h"

#include "base/rng.h"
#include "model/knowledge.h"
#include "model/special.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define DRAWS 150000

static double normal(cw_rng *r)
{
    return cw_normal_quantile(cw_rng_uniform(r));
}

/* Arrivals of rate 1 in a time `mean`: their gaps are counted by the product of what they are logarithms of. That of a long time would
 * be too small a number, so that it is taken in pieces. */
static int64_t poisson(cw_rng *r, double mean)
{
    int64_t n = 0;
    for (; mean > 0; mean -= 500) {
        double end = exp(-fmin(mean, 500)), product = cw_rng_uniform(r);
        for (; product > end; n++)
            product *= cw_rng_uniform(r);
    }
    return n;
}

/* Two lots of one variety; loss after cutting is left out. y[0] is told when lot 0 is cut. */
typedef struct draw {
    int64_t told, sum;
} draw;

static int by_told(const void *pa, const void *pb)
{
    const draw *a = pa, *b = pb;
    return a->told != b->told ? (a->told > b->told) - (a->told < b->told)
                              : (a->sum > b->sum) - (a->sum < b->sum);
}

static int by_sum(const void *pa, const void *pb)
{
    const draw *a = pa, *b = pb;
    return (a->sum > b->sum) - (a->sum < b->sum);
}

/* Expected profit of offering the quantile of each run of equal `told` (of all: one run) without any demand limit. */
static double profit_of(draw *d, size_t n, const cw_knowledge_variety *v)
{
    double sum = 0;
    qsort(d, n, sizeof *d, by_sum);
    double q = fmax(0, (double)d[(size_t)((1 - v->confidence) * (double)n)].sum - v->withheld);
    for (size_t i = 0; i < n; i++) {
        double there = fmax(0, (double)d[i].sum - v->withheld);
        sum += v->margin * fmin(q, there) - v->short_cost * fmax(0, q - there);
    }
    return sum;
}

static double drawn_value(draw *d, const cw_knowledge_variety *v)
{
    double now = profit_of(d, DRAWS, v), then = 0;
    qsort(d, DRAWS, sizeof *d, by_told);
    for (size_t from = 0, to; from < DRAWS; from = to) {
        /* neighbours of nearly the same count, so that each quantile has something to stand on */
        for (to = from; to < DRAWS && (to - from < 2000 || d[to].told == d[to - 1].told); to++) {
        }
        then += profit_of(d + from, to - from, v);
    }
    return (then - now) / DRAWS;
}

static const struct {
    const char *row;
    double own_sd, lot_sd, clumps[2], confidence, withheld;
} worlds[] = {
    { "a new variety", 0.5, 0.1, { 30, 30 }, 0.9, 0 },
    { "a known variety, lots differ", 0.15, 0.25, { 30, 30 }, 0.9, 0 },
    { "a small lot first", 0.4, 0.1, { 8, 60 }, 0.9, 0 },
    { "a large lot first, bold", 0.4, 0.1, { 60, 8 }, 0.6, 0 },
    { "some are held back", 0.35, 0.15, { 30, 30 }, 0.9, 60 },
};

static cw_latent *latent_of(double own_sd, double lot_sd)
{
    cw_latent *l = cw_latent_new(1, 1, 1);
    l->point[0].weight = 1;
    l->point[0].dispersion = 1;
    l->point[0].lot_sd = lot_sd;
    l->point[0].mean[0] = log(5);
    l->point[0].loading[0] = 0;
    l->point[0].own_sd[0] = own_sd;
    return l;
}

static void test_value_is_what_comes(void **state)
{
    (void)state;
    draw *d = malloc(DRAWS * sizeof *d);
    for (size_t w = 0; w < sizeof worlds / sizeof worlds[0]; w++) {
        cw_rng r;
        double mean = 0, square = 0, value[2];
        cw_rng_init(&r, 77, w);
        for (size_t i = 0; i < DRAWS; i++) {
            double eta = log(5) + worlds[w].own_sd * normal(&r);
            int64_t y[2];
            for (int k = 0; k < 2; k++)
                y[k] = poisson(&r, worlds[w].clumps[k] * exp(eta + worlds[w].lot_sd * normal(&r)));
            d[i] = (draw){ y[0], y[0] + y[1] };
            mean += (double)d[i].sum / DRAWS;
            square += (double)d[i].sum * (double)d[i].sum / DRAWS;
        }
        cw_knowledge_variety v = { .mean = mean,
                                   .variance = square - mean * mean,
                                   .withheld = worlds[w].withheld,
                                   .margin = 600,
                                   .short_cost = 1500,
                                   .confidence = worlds[w].confidence };
        double all = worlds[w].clumps[0] + worlds[w].clumps[1];
        cw_knowledge_lot lot[2] = { { 0, worlds[w].clumps[0], mean * worlds[w].clumps[0] / all },
                                    { 0, worlds[w].clumps[1], mean * worlds[w].clumps[1] / all } };
        cw_latent *l = latent_of(worlds[w].own_sd, worlds[w].lot_sd);
        cw_knowledge_input in = { 1, 2, &v, lot, l, NULL, 0 };
        cw_check_ok(cw_knowledge_values(&in, value, NULL, NULL), NULL);
        double came = drawn_value(d, &v);
        print_message("%s: stated %.0f, came %.0f, second lot %.0f\n", worlds[w].row, value[0], came,
                      value[1]);
        assert_true(fabs(value[0] - came) <= 0.15 * came);
        cw_latent_free(l);
    }
    free(d);
}

/* Equal lots of one variety: the second says less than the first, the third less than the second. */
static void test_the_next_lot_says_less(void **state)
{
    (void)state;
    cw_latent *l = latent_of(0.4, 0.1);
    cw_knowledge_variety v = {
        .mean = 600, .variance = 600 + 250 * 250, .margin = 600, .short_cost = 1500, .confidence = 0.9
    };
    cw_knowledge_lot lot[4] = { { 0, 30, 150 }, { 0, 30, 150 }, { 0, 30, 150 }, { 0, 30, 150 } };
    static const size_t backwards[4] = { 3, 2, 1, 0 };
    double value[4], other[4];
    cw_knowledge_input in = { 1, 4, &v, lot, l, NULL, 0 };
    cw_check_ok(cw_knowledge_values(&in, value, NULL, NULL), NULL);
    for (int i = 1; i < 4; i++)
        assert_true(value[i] < value[i - 1] && value[i] >= 0);
    in.ordered = 4;
    in.order = backwards; /* what counts is the order, not the lot */
    cw_check_ok(cw_knowledge_values(&in, other, NULL, NULL), NULL);
    for (int i = 0; i < 4; i++)
        assert_float_equal(other[i], value[3 - i], 1e-9);
    cw_latent_free(l);
}

/* What all varieties have in common: one lot tells of the others, too; once that is known, a lot of another variety has less
 * left to tell. */
static void test_a_lot_tells_of_the_season(void **state)
{
    (void)state;
    cw_latent *l = cw_latent_new(3, 1, 1);
    cw_knowledge_variety v[3];
    cw_knowledge_lot lot[3];
    double apart[3], together[3];
    l->point[0] = (cw_latent_point){ 1,
                                     1,
                                     { 0 },
                                     0.1,
                                     l->point[0].mean,
                                     l->point[0].loading,
                                     l->point[0].own_sd,
                                     l->point[0].lot_mean,
                                     l->point[0].lot_pull,
                                     l->point[0].lot_own_sd };
    for (int i = 0; i < 3; i++) {
        v[i] = (cw_knowledge_variety){ .mean = 300,
                                       .variance = 300 + 300 * 300 * 0.08,
                                       .margin = 600,
                                       .short_cost = 1500,
                                       .confidence = 0.9 };
        lot[i] = (cw_knowledge_lot){ (size_t)i, 60, 300 };
        l->point[0].mean[i] = log(5);
        l->point[0].own_sd[i] = 0.2;
    }
    cw_knowledge_input in = { 3, 3, v, lot, l, NULL, 0 };
    cw_check_ok(cw_knowledge_values(&in, apart, NULL, NULL), NULL);
    for (int i = 0; i < 3; i++)
        l->point[0].loading[i] = 0.2;
    cw_check_ok(cw_knowledge_values(&in, together, NULL, NULL), NULL);
    assert_true(together[0] > 1.05 * apart[0]); /* itself, and the others' season */
    assert_true(together[1] < together[0]);     /* of which the second has less to tell */
    cw_latent_free(l);
}

/* Nothing open, nothing left to sell, nothing asked: nothing earned. Never less than nothing. */
static void test_nothing_to_earn(void **state)
{
    (void)state;
    cw_distribution none;
    cw_distribution_point(&none, 10);
    cw_knowledge_variety v = {
        .mean = 300, .variance = 8000, .margin = 600, .short_cost = 1500, .confidence = 0.9
    };
    assert_true(cw_knowledge_profit(&v) > 0);
    assert_true(cw_knowledge_rise(&v, 0.5) > 0 && cw_knowledge_rise(&v, 0) == 0);
    for (double part = 0.1; part <= 1; part += 0.1) /* the more is known, the more is earned */
        assert_true(cw_knowledge_rise(&v, part) > cw_knowledge_rise(&v, part - 0.1));
    v.demand = &none; /* ten are asked for, and ten are sure */
    assert_true(cw_knowledge_rise(&v, 0.5) < 1);
    v.demand = NULL;
    v.sold = 800;
    assert_true(cw_knowledge_rise(&v, 0.5) < 1);
    v = (cw_knowledge_variety){ .margin = 600, .short_cost = 1500, .confidence = 0.9 };
    assert_true(cw_knowledge_rise(&v, 0.5) == 0 && cw_knowledge_profit(&v) == 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_value_is_what_comes),
        cmocka_unit_test(test_the_next_lot_says_less),
        cmocka_unit_test(test_a_lot_tells_of_the_season),
        cmocka_unit_test(test_nothing_to_earn),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

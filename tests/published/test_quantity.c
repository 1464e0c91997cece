/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "base/rng.h"
#include "model/quantity.h"
#include "model/special.h"
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

/* The newsvendor problem read from our side: there demand D is uncertain and Q is ordered; here stock S is uncertain and
 * q is offered. With D's law in the place of S, E max(0, Q - S) is what is left over there, E max(0, S - Q) what is lost,
 * and the largest q with P(S >= q) >= 1 - ratio is the largest optimal Q. */
static void poisson(double mean, cw_distribution *d)
{
    double pmf[200];
    for (int k = 0; k < 200; k++)
        pmf[k] = cw_poisson_pmf(k, mean);
    cw_distribution_from_pmf(d, 0, pmf, 200);
}

/* Poisson(1.25): distribution and loss table of Cachon & Terwiesch, Matching Supply with Demand, p. 431; printed to
 * six and five places. */
static void test_printed_loss_table(void **state)
{
    (void)state;
    static const struct {
        double f, below, lost;
    } rows[] = { { 0.286505, 0.286505, 1.25000 }, { 0.358131, 0.644636, 0.53650 },
                 { 0.223832, 0.868468, 0.18114 }, { 0.093263, 0.961731, 0.04961 },
                 { 0.029145, 0.990876, 0.01134 }, { 0.007286, 0.998162, 0.00221 },
                 { 0.001518, 0.999680, 0.00038 }, { 0.000271, 0.999951, 0.00006 } };
    cw_distribution d;
    poisson(1.25, &d);
    const cw_quantity_ask ask = { .saleable = &d, .confidence = 0.9, .margin = 100, .short_cost = 100 };
    for (int q = 0; q < (int)(sizeof rows / sizeof rows[0]); q++) {
        cw_quantity_view v;
        cw_quantity_view_at(&ask, q, &v);
        cw_check_near("f", cw_distribution_pmf(&d, q), rows[q].f, 5.1e-7);
        cw_check_near("F", cw_distribution_cdf(&d, q), rows[q].below, 5.1e-7);
        cw_check_near("L", v.expected_unsold, rows[q].lost, 5.1e-6);
    }
}

/* Problems of others, answers computed here with exact sums; where each was seen stands beside it. The first is from memory: its
 * source could not be found again, so only the sums and the rule (Cachon & Terwiesch, ch. 14) are held by it. */
static const struct {
    const char *name;
    double mean;          /* Poisson */
    cw_cents under, over; /* cost of one too few and of one too many there */
    double ratio;         /* when no money is given */
    int64_t quantity;
    double lost, sales, left; /* 0 = not given */
} newsvendors[] = {
    { "Poisson 4.5, price 80, cost 35, salvage 20 (from memory)", 4.5, 4500, 1500, 0, 6, 0.323116515479,
      4.17688348452, 1.82311651548 },
    { "Poisson 4.25 at 99.6 % in stock (tutorsglobe.com, question 51051279): 10 fails by 0.0004", 4.25, 0, 0,
      0.996, 11, 0, 0, 0 },
};

static void test_newsvendors(void **state)
{
    (void)state;
    for (size_t k = 0; k < sizeof newsvendors / sizeof newsvendors[0]; k++) {
        cw_distribution d;
        cw_quantity_view v;
        poisson(newsvendors[k].mean, &d);
        /* 1 - ratio = over / (under + over): our short cost plays the part of one too many */
        double confidence = newsvendors[k].ratio > 0
                                ? 1 - newsvendors[k].ratio
                                : cw_quantity_confidence(newsvendors[k].under, newsvendors[k].over);
        assert_int_equal(cw_quantity_at(&d, confidence), newsvendors[k].quantity);
        const cw_quantity_ask ask = { .saleable = &d,
                                      .confidence = confidence,
                                      .margin = newsvendors[k].under,
                                      .short_cost = newsvendors[k].over };
        cw_quantity_view_at(&ask, newsvendors[k].quantity, &v);
        if (newsvendors[k].lost > 0) {
            cw_check_near(newsvendors[k].name, v.expected_unsold, newsvendors[k].lost, 1e-10);
            cw_check_near(newsvendors[k].name, v.expected_short, newsvendors[k].left, 1e-10);
            cw_check_near(newsvendors[k].name, (double)v.quantity - v.expected_short, newsvendors[k].sales,
                          1e-10);
        }
    }
}

/* Profit of the first row at 5, 6, 7: 157.7888352, 160.613009071, 155.7499743 (computed). Ours, offering q against stock
 * S: margin * min(q, S) - cost * max(0, q - S) is the same sum. */
static void test_profit_around_the_best(void **state)
{
    (void)state;
    static const double profit[] = { 157.7888352, 160.613009071, 155.7499743 };
    cw_distribution d;
    poisson(4.5, &d);
    const cw_quantity_ask ask = { .saleable = &d, .confidence = 0.25, .margin = 4500, .short_cost = 1500 };
    for (int q = 5; q <= 7; q++) {
        cw_quantity_view v;
        cw_quantity_view_at(&ask, q, &v);
        cw_check_near("profit", v.expected_margin / 100, profit[q - 5], 1e-9);
    }
}

/* Demand 10, 12, 14, 16, 20 with 1, 1, 2, 1, 1 chances of 6; 10 / 4 / 1 (neoprimate.github.io, IEOR 414): the ratio 2/3
 * equals F(14), so 14 to 16 cost alike, 11. The book takes the lower end, the rule here offers at a tie: the upper. */
static void test_exact_tie(void **state)
{
    (void)state;
    double pmf[21] = { [10] = 1, [12] = 1, [14] = 2, [16] = 1, [20] = 1 };
    cw_distribution d;
    cw_quantity_view low, high;
    cw_distribution_from_pmf(&d, 0, pmf, 21);
    assert_int_equal(cw_quantity_at(&d, cw_quantity_confidence(600, 300)), 16);
    assert_int_equal(cw_quantity_at(&d, 1.0 / 3 + 1e-6), 14);
    const cw_quantity_ask ask = { .saleable = &d, .confidence = 1.0 / 3, .margin = 600, .short_cost = 300 };
    cw_quantity_view_at(&ask, 14, &low);
    cw_quantity_view_at(&ask, 16, &high);
    cw_check_near("cost at 14", (600 * low.expected_unsold + 300 * low.expected_short) / 100, 11, 1e-12);
    cw_check_near("cost at 16", (600 * high.expected_unsold + 300 * high.expected_short) / 100, 11, 1e-12);
}

/* Demand 15 to 18 with .4 .2 .3 .1; 2.50 / 1.50 / 0.50 (Hillier & Lieberman, Freddie the
 * newsboy; also solutioninn.com): 16, and the costs around. */
static void test_small_discrete(void **state)
{
    (void)state;
    const double pmf[] = { 0.4, 0.2, 0.3, 0.1 }, cost[] = { 1.1, 0.9, 1.1, 1.9 };
    cw_distribution d;
    cw_distribution_from_pmf(&d, 15, pmf, 4);
    assert_int_equal(cw_quantity_at(&d, cw_quantity_confidence(100, 100)), 16);
    const cw_quantity_ask ask = { .saleable = &d, .confidence = 0.5, .margin = 100, .short_cost = 100 };
    for (int q = 15; q <= 18; q++) {
        cw_quantity_view v;
        cw_quantity_view_at(&ask, q, &v);
        cw_check_near("cost", v.expected_unsold + v.expected_short, cost[q - 15], 1e-12);
    }
}

/* The normal examples as lattices of whole numbers. Cachon & Terwiesch's wetsuit: N(3192, 1181), 190 / 110 / 90: lost
 * 129.846959873, left over 1133.84695987 at 4196 (computed); the lattice is within half a unit's effect. */
static void test_normal_lattice(void **state)
{
    (void)state;
    enum { N = 8000 };
    double *pmf = malloc(N * sizeof *pmf);
    assert_non_null(pmf);
    for (int k = 0; k < N; k++)
        pmf[k] =
            gsl_cdf_gaussian_P(k + 0.5 - 3192, 1181) - (k > 0 ? gsl_cdf_gaussian_P(k - 0.5 - 3192, 1181) : 0);
    cw_distribution d;
    cw_quantity_view v;
    cw_distribution_from_pmf(&d, 0, pmf, N);
    free(pmf);
    int64_t q = cw_quantity_at(&d, cw_quantity_confidence(8000, 2000));
    cw_check_near("quantity", (double)q, 4185.95467685, 2e-3);
    const cw_quantity_ask ask = { .saleable = &d, .confidence = 0.2, .margin = 8000, .short_cost = 2000 };
    cw_quantity_view_at(&ask, 4196, &v);
    cw_check_near("lost", v.expected_unsold, 129.846959873, 5e-3);
    cw_check_near("left", v.expected_short, 1133.84695987, 5e-3);
}

/* Demand uncertain too: against plain double sums over both laws from GSL's chances. */
static void test_demand_and_stock(void **state)
{
    (void)state;
    cw_distribution s, d;
    double pmf[120];
    for (unsigned k = 0; k < 120; k++)
        pmf[k] = gsl_ran_poisson_pdf(k, 20);
    cw_distribution_from_pmf(&s, 0, pmf, 120);
    for (unsigned k = 0; k < 120; k++)
        pmf[k] = gsl_ran_negative_binomial_pdf(k, 0.4, 10);
    cw_distribution_from_pmf(&d, 0, pmf, 120);
    for (int64_t q = 0; q <= 40; q += 5) {
        const int64_t sold = 7;
        cw_quantity_view v;
        double p = 0, lack = 0, unsold = 0, want = 0;
        for (int64_t a = 0; a < 120; a++)
            for (int64_t b = 0; b < 120; b++) {
                double chance = gsl_ran_poisson_pdf((unsigned)a, 20) *
                                gsl_ran_negative_binomial_pdf((unsigned)b, 0.4, 10);
                int64_t x = b < q ? b : q;
                x = x < sold ? sold : x;
                p += a < x ? chance : 0;
                lack += a < x ? chance * (double)(x - a) : 0;
                unsold += a > x ? chance * (double)(a - x) : 0;
                want += chance * (double)x;
            }
        const cw_quantity_ask ask = { &s, &d, 0.9, 0, sold, 500, 900, false };
        cw_quantity_view_at(&ask, q, &v);
        cw_check_near("p_short", v.p_short, p, 1e-9);
        cw_check_near("expected_short", v.expected_short, lack, 1e-9);
        cw_check_near("expected_unsold", v.expected_unsold, unsold, 1e-9);
        cw_check_near("expected_sold", v.expected_sold, want, 1e-9);
        cw_check_near("margin", v.expected_margin, 500 * (want - lack) - 900 * lack, 1e-9);
    }
}

static void test_what_binds(void **state)
{
    (void)state;
    cw_distribution s, d, none;
    cw_quantity q;
    poisson(50, &s);
    poisson(20, &d);
    cw_distribution_point(&none, 0);
    cw_quantity_ask ask = { &s, NULL, 0.9, 0.1, 0, 500, 500, false };
    cw_quantity_plan(&ask, &q);
    assert_int_equal(q.binds, CW_BIND_STOCK);
    assert_int_equal(q.view.quantity, 41); /* P(S >= 41) = 0.914, P(S >= 42) = 0.887 */
    cw_check_near("P", gsl_cdf_poisson_Q(40, 50), cw_distribution_at_least(&s, 41), 1e-10);
    assert_true(gsl_cdf_poisson_Q(40, 50) >= 0.9 && gsl_cdf_poisson_Q(41, 50) < 0.9);
    ask.demand = &d;
    cw_quantity_plan(&ask, &q); /* demand is told, and does not cap unless asked to */
    assert_int_equal(q.binds, CW_BIND_STOCK);
    assert_int_equal(q.view.quantity, 41);
    assert_true(q.beyond_demand && q.by_demand < 41);
    ask.demand_caps = true;
    cw_quantity_plan(&ask, &q);
    assert_false(q.beyond_demand);
    assert_int_equal(q.binds, CW_BIND_DEMAND);
    assert_int_equal(q.view.quantity, q.by_demand);
    assert_true(gsl_cdf_poisson_Q((unsigned)q.by_demand - 1, 20) >= 0.1 &&
                gsl_cdf_poisson_Q((unsigned)q.by_demand, 20) < 0.1);
    ask.sold = 44;
    cw_quantity_plan(&ask, &q);
    assert_int_equal(q.binds, CW_BIND_SOLD);
    assert_int_equal(q.view.quantity, 44);
    ask = (cw_quantity_ask){ &none, NULL, 0.9, 0, 0, 500, 500, false };
    cw_quantity_plan(&ask, &q);
    assert_int_equal(q.binds, CW_BIND_NONE);
}

static void two_draws(const void *context, size_t variety, double *out)
{
    for (size_t draw = 0; draw < 4; draw++)
        out[draw] = (double)((const int64_t(*)[2])context)[draw][variety];
}

/* A curve small enough to do by hand: two varieties, four draws. */
static void test_tradeoff_by_hand(void **state)
{
    (void)state;
    static const int64_t draws[4][2] = { { 10, 4 }, { 12, 8 }, { 8, 2 }, { 14, 6 } };
    const double confidence[] = { 0.5, 1.0 }, demand[] = { -1, 5 };
    const cw_cents margin[] = { 100, 200 }, cost[] = { 300, 100 }, refund[] = { 500, 700 };
    cw_distribution law[2];
    double a[15] = { [8] = 1, [10] = 1, [12] = 1, [14] = 1 }, b[9] = { [2] = 1, [4] = 1, [6] = 1, [8] = 1 };
    cw_distribution_from_pmf(&law[0], 0, a, 15);
    cw_distribution_from_pmf(&law[1], 0, b, 9);
    const cw_tradeoff_input in = { 2, 4, two_draws, draws, law, demand, NULL, NULL, margin, cost, refund };
    cw_tradeoff out[2];
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_tradeoff_curve(&in, confidence, 2, out, &err), &err);
    /* at 0.5: offers 12 and 6, of which 12 and 5 sell; short 2, 0, 4, 0 and 1, 0, 3, 0 */
    assert_int_equal(out[0].offered, 18);
    cw_check_near("sold", out[0].sold, 17, 1e-12);
    cw_check_near("short", out[0].short_mean, 10 / 4.0, 1e-12);
    cw_check_near("refund", out[0].refund_mean, (6 * 500 + 4 * 700) / 4.0, 1e-12);
    cw_check_near("unsold", out[0].unsold_mean, (0 + 3 + 0 + 2 + 1) / 4.0, 1e-12);
    cw_check_near("margin", out[0].margin_mean, (100 * 42 - 300 * 6 + 200 * 16 - 100 * 4) / 4.0, 1e-12);
    cw_check_near("short, 9 in 10", out[0].short_q90, 7, 1e-12);
    cw_check_near("any", out[0].p_any_short, 0.5, 1e-12);
    /* at 1: offers 8 and 2, never short */
    assert_int_equal(out[1].offered, 10);
    cw_check_near("never short", out[1].short_mean + out[1].p_any_short, 0, 0);
}

/* The same, once 12 and 7 are sold, of a stock that alone would offer 12 and 6, and 10 of the first at most: what is sold is
 * offered, and only the second is sold too far. Short 4, 0, 2, 0 and 5, 0, 3, 1: the
 * first draw is the worst. */
static void test_sold_too_far_by_hand(void **state)
{
    (void)state;
    static const int64_t draws[4][2] = { { 8, 2 }, { 12, 8 }, { 10, 4 }, { 14, 6 } };
    const double confidence[] = { 0.5 }, demand[] = { -1, 5 };
    const int64_t cap[] = { 10, -1 }, sold[] = { 12, 7 };
    const cw_cents margin[] = { 100, 200 }, cost[] = { 300, 100 }, refund[] = { 500, 700 };
    cw_distribution law[2];
    double a[15] = { [8] = 1, [10] = 1, [12] = 1, [14] = 1 }, b[9] = { [2] = 1, [4] = 1, [6] = 1, [8] = 1 };
    cw_distribution_from_pmf(&law[0], 0, a, 15);
    cw_distribution_from_pmf(&law[1], 0, b, 9);
    const cw_tradeoff_input in = { 2, 4, two_draws, draws, law, demand, cap, sold, margin, cost, refund };
    cw_tradeoff out;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_tradeoff_curve(&in, confidence, 1, &out, &err), &err);
    assert_int_equal(out.offered, 19);
    cw_check_near("sold", out.sold, 19, 1e-12);
    cw_check_near("short", out.short_mean, 15 / 4.0, 1e-12);
    cw_check_near("refund", out.refund_mean, (6 * 500 + 9 * 700) / 4.0, 1e-12);
    cw_check_near("refund, 9 in 10", out.refund_q90, 4 * 500 + 5 * 700, 1e-12);
    cw_check_near("unsold", out.unsold_mean, 3 / 4.0, 1e-12);
    cw_check_near("unsold, 9 in 10", out.unsold_q90, 2, 1e-12);
    cw_check_near("margin", out.margin_mean, (900 + 2600 - 500 + 2300) / 4.0, 1e-12);
    cw_check_near("margin, 1 in 10", out.margin_q10, -500, 1e-12);
    cw_check_near("any", out.p_any_short, 0.75, 1e-12);
    assert_int_equal(out.too_far, 1);
    cw_check_near("too far, short", out.too_far_short, 9 / 4.0, 1e-12);
    cw_check_near("too far, refund", out.too_far_refund, 9 * 700 / 4.0, 1e-12);
    /* Of the first, one in two years is asked at most: what is not sold already is not sold. */
    const double half[] = { 0.5, 5 };
    const cw_tradeoff_input few = { 2, 4, two_draws, draws, law, half, NULL, NULL, margin, cost, refund };
    cw_check_ok(cw_tradeoff_curve(&few, confidence, 1, &out, &err), &err);
    cw_check_near("sold of what is hardly asked", out.sold, 5.5, 1e-12);
    const double wrong[] = { 0, 1.01, NAN };
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
        assert_int_equal(cw_tradeoff_curve(&in, &wrong[i], 1, &out, &err), CW_REFUSED);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_printed_loss_table),     cmocka_unit_test(test_newsvendors),
        cmocka_unit_test(test_profit_around_the_best), cmocka_unit_test(test_exact_tie),
        cmocka_unit_test(test_small_discrete),         cmocka_unit_test(test_normal_lattice),
        cmocka_unit_test(test_demand_and_stock),       cmocka_unit_test(test_what_binds),
        cmocka_unit_test(test_tradeoff_by_hand),       cmocka_unit_test(test_sold_too_far_by_hand),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* SPDX-License-Identifier: MIT */
/* Laws of model/keep on random varieties: against the long way round, and what follows from the model whatever its figures. */
#include "support/check.h"

#include "support/keep_exact.h"
#include <stdio.h>
#include <string.h>

static double between(cw_rng *r, double low, double high)
{
    return low + (high - low) * cw_rng_uniform(r);
}

static keep_case draw(cw_rng *r)
{
    keep_case c = { .name = "random", .later_demand = -1 };
    c.demand = between(r, 0.3, 14);
    c.demand_disp = cw_rng_below(r, 3) == 0 ? 1 : between(r, 1.1, 5);
    c.growth = between(r, 0.5, 5);
    c.sd = cw_rng_below(r, 3) == 0 ? 0 : between(r, 0.05, 0.5);
    c.disp = cw_rng_below(r, 3) == 0 ? 1 : between(r, 1.1, 3);
    c.margin = between(r, 2, 15);
    c.cost = between(r, 0, 6);
    c.discount = between(r, 0.8, 1);
    c.seasons = 1 + (int)cw_rng_below(r, 6);
    c.reserve = cw_rng_below(r, 3) ? 0 : 1 + cw_rng_below(r, 12);
    c.beds = cw_rng_below(r, 4) ? 200 : 1 + cw_rng_below(r, 12);
    c.s_mean = between(r, 1, 30);
    c.s_disp = between(r, 1, 3);
    c.n = 110;
    c.later_demand = cw_rng_below(r, 4) ? -1 : c.demand * between(r, 0.5, 1.5);
    return c;
}

static void solved(const keep_case *c, cw_keep *out)
{
    cw_error err = CW_ERROR_NONE;
    cw_keeper *k = NULL;
    keep_laws laws;
    cw_keep_ask ask = keep_ask_of(c, &laws);
    cw_check_ok(cw_keeper_new(&ask, &k, &err), &err);
    cw_keeper_best(k, out);
    cw_keeper_free(k);
}

/* Every figure of small varieties against every figure tried. */
static void test_like_the_long_way(void **state)
{
    (void)state;
    cw_rng r;
    cw_rng_init(&r, 20320219, 1);
    for (int i = 0; i < 100; i++) {
        keep_case c = draw(&r);
        keep_exact x;
        keep_laws laws;
        if (i >= 40) { /* a reserve that is large beside what is asked: W is hollow */
            c.demand /= 2;
            c.s_mean /= 2;
            c.reserve = 2 + cw_rng_below(&r, 12);
        }
        cw_error err = CW_ERROR_NONE;
        cw_keeper *k = NULL;
        cw_keep out;
        cw_keep_ask ask = keep_ask_of(&c, &laws);
        keep_exact_make(&c, &x);
        cw_check_ok(cw_keeper_new(&ask, &k, &err), &err);
        cw_keeper_best(k, &out);
        int best = keep_exact_best(&x);
        double value = keep_exact_value(&x, best), scale = fmax(value, c.margin);
        char what[120];
        snprintf(what, sizeof what, "case %d: best %d (%.4f), found %lld (%.4f)", i, best, value,
                 (long long)out.best.keep, out.best.value);
        cw_check_near(what, (out.best.value - value) / scale, 0, 1e-3);
        /* the figure found is as good as the best, told by the long way */
        cw_check_near(what, (keep_exact_value(&x, (int)out.best.keep) - value) / scale, 0, 1e-3);
        assert_true(out.low <= best && best <= out.high);
        for (int keep = 0; keep <= 30 && keep <= c.beds; keep += 3) {
            cw_keep_view view;
            cw_keeper_view(k, keep, &view);
            cw_check_near(what, (view.value - keep_exact_value(&x, keep)) / scale, 0, 2e-3);
        }
        cw_keeper_free(k);
        keep_exact_free(&x);
    }
}

/* More demand, more margin, more growth: never worth less, as long as beds suffice. */
static void test_more_is_not_less(void **state)
{
    (void)state;
    cw_rng r;
    cw_rng_init(&r, 20320219, 2);
    for (int i = 0; i < 60; i++) {
        keep_case c = draw(&r), demand, margin, growth;
        cw_keep one, more;
        c.beds = 100000;
        c.demand *= between(&r, 1, 20); /* larger than the long way can do */
        c.s_mean *= between(&r, 1, 20);
        c.later_demand = -1;
        demand = margin = growth = c;
        demand.demand *= 1.2;
        margin.margin *= 1.2;
        growth.growth *= 1.2;
        solved(&c, &one);
        solved(&demand, &more);
        assert_true(more.best.value >= one.best.value * (1 - 1e-4));
        solved(&margin, &more);
        assert_true(more.best.value >= one.best.value * (1 - 1e-4));
        solved(&growth, &more);
        assert_true(more.best.value >= one.best.value * (1 - 1e-4));
    }
}

static void test_nothing_to_keep_for(void **state)
{
    (void)state;
    cw_rng r;
    cw_rng_init(&r, 20320219, 3);
    for (int i = 0; i < 60; i++) {
        keep_case c = draw(&r);
        cw_keep out;
        c.reserve = 0;
        c.later_demand = 0;
        solved(&c, &out);
        assert_int_equal(out.best.keep, 0);
        c.later_demand = -1; /* growing costs what it brings, and all that is there is sold */
        c.demand = 2000;
        c.growth = c.cost / c.margin / c.discount * 0.999;
        solved(&c, &out);
        assert_int_equal(out.best.keep, 0);
    }
}

/* What is left over is worth nothing to plant: the figure does not depend on how many there are, and where there are fewer, all are
 * kept. */
static void test_constant_escapement(void **state)
{
    (void)state;
    cw_rng r;
    cw_rng_init(&r, 20320219, 4);
    for (int i = 0; i < 40; i++) {
        keep_case c = draw(&r);
        cw_keep first;
        c.reserve = 0;
        c.beds = 100000;
        c.demand *= 10;
        c.later_demand = -1;
        c.s_mean = 40 * c.demand;
        c.s_disp = 1;
        solved(&c, &first);
        for (double s = 0.5; s < 40; s *= 2.3) {
            cw_error err = CW_ERROR_NONE;
            keep_laws laws;
            cw_keeper *k = NULL;
            cw_keep out;
            cw_keep_ask ask = keep_ask_of(&c, &laws);
            cw_distribution_point(&laws.sound, (int64_t)(s * (double)first.best.keep) + 1);
            cw_check_ok(cw_keeper_new(&ask, &k, &err), &err);
            cw_keeper_best(k, &out);
            if (s > 1)
                assert_true(llabs(out.best.keep - first.best.keep) <= 1);
            else
                assert_true(out.best.keep >= cw_distribution_last(&laws.sound) ||
                            out.best.keep >= first.best.keep - 1);
            cw_keeper_free(k);
        }
    }
}

/* Certain growth g, demand about D each year, large numbers: D / (g - 1) and a little more. */
static void test_long_run(void **state)
{
    (void)state;
    for (double g = 2; g <= 5; g += 0.5) {
        keep_case c = { "long run", 2000, 1, g, 0, 1e-9, 10, 0.1, 0.97, 12, 0, 1000000, 4000, 1, 0, -1 };
        cw_keep out;
        solved(&c, &out);
        double want = c.demand / (g - 1);
        assert_true((double)out.best.keep >= want * 0.99 && (double)out.best.keep <= want * 1.15);
    }
}

/* The years: the first is this spring's law, sums of chances are kept, sold never above demand, and without a reserve what is earned is
 * the value. */
static void test_years_add_up(void **state)
{
    (void)state;
    cw_rng r;
    cw_rng_init(&r, 20320219, 5);
    for (int i = 0; i < 40; i++) {
        keep_case c = draw(&r);
        cw_error err = CW_ERROR_NONE;
        keep_laws laws;
        cw_keeper *k = NULL;
        cw_keep out;
        cw_keep_year year[CW_KEEP_SEASONS + 1];
        double earned = 0, discount = 1;
        cw_keep_ask ask = keep_ask_of(&c, &laws);
        cw_check_ok(cw_keeper_new(&ask, &k, &err), &err);
        cw_keeper_best(k, &out);
        cw_check_ok(cw_keeper_years(k, out.best.keep, year, &err), &err);
        cw_check_near("this spring", year[0].mean, laws.sound.mean, 1e-6);
        cw_check_near("planted", year[0].planted, out.best.planted, 1e-6);
        cw_check_near("sold", year[0].sold, out.best.sold, 1e-6);
        for (int t = 0; t <= c.seasons; t++) {
            assert_true(year[t].sold <= year[t].demand * (1 + 1e-9) && year[t].sold >= 0);
            assert_true(year[t].q10 <= year[t].q50 && year[t].q50 <= year[t].q90);
            assert_true(year[t].met >= -1e-9 && year[t].met <= 1 + 1e-9);
            earned += discount * (c.margin * year[t].sold - c.cost * year[t].planted);
            discount *= c.discount;
        }
        if (c.reserve ==
            0) /* a reserve makes the value hollow, and the law between two nodes is told less finely there */
            cw_check_near("earned over the years", earned / out.best.value, 1, 3e-3);
        cw_keeper_free(k);
    }
}

#define BEDS 30

typedef struct nursery {
    keep_case of[BEDS];
    keep_laws laws[BEDS];
    cw_keep_ask ask[BEDS];
    cw_keep out[BEDS];
} nursery;

static void draw_nursery(cw_rng *r, nursery *n)
{
    for (int v = 0; v < BEDS; v++) {
        n->of[v] = draw(r);
        n->of[v].beds = 100000;
        n->of[v].seasons = 4;
        n->of[v].demand *= 3;
        n->ask[v] = keep_ask_of(&n->of[v], &n->laws[v]);
        n->ask[v].floor = cw_rng_below(r, 6) ? 0 : 2;
        n->ask[v].retired = cw_rng_below(r, 10) == 0;
    }
}

/* Values before this winter's places are paid for, and places, of every variety with `by` more kept. */
static void looked(const nursery *n, double price, int by, double *value, double *planted)
{
    for (int v = 0; v < BEDS; v++) {
        cw_error err = CW_ERROR_NONE;
        cw_keeper *k = NULL;
        cw_keep_view view;
        cw_check_ok(cw_keeper_new(&n->ask[v], &k, &err), &err);
        cw_keeper_price(k, price);
        cw_keeper_view(k, n->out[v].best.keep + by < 0 ? 0 : n->out[v].best.keep + by, &view);
        value[v] = view.value + price * view.planted;
        planted[v] = view.planted;
        cw_keeper_free(k);
    }
}

/* One price fills the beds; a floor holds; nothing of a retired variety; no swap of one place between two varieties gains. */
static void test_beds(void **state)
{
    (void)state;
    cw_rng r;
    cw_rng_init(&r, 20320219, 6);
    nursery *n = calloc(1, sizeof *n);
    assert_non_null(n);
    for (int round = 0; round < 6; round++) {
        cw_error err = CW_ERROR_NONE;
        cw_keep_beds free_beds, beds;
        double value[3][BEDS], planted[3][BEDS], before = -1;
        draw_nursery(&r, n);
        cw_check_ok(cw_keep_nursery(n->ask, BEDS, -1, 1, (cw_go_on){ 0 }, n->out, &free_beds, &err), &err);
        assert_true(free_beds.price == 0);
        double places = floor(free_beds.planted * (0.4 + 0.1 * round));
        cw_check_ok(cw_keep_nursery(n->ask, BEDS, places, 2, (cw_go_on){ 0 }, n->out, &beds, &err), &err);
        assert_true(beds.price > 0 && beds.planted <= places + 1e-9 && beds.planted > places - 1.5);
        for (int v = 0; v < BEDS; v++) {
            assert_true(n->ask[v].retired ? n->out[v].best.keep == 0
                                          : n->out[v].best.keep >= n->ask[v].floor);
            assert_true(n->out[v].low <= n->out[v].best.keep && n->out[v].best.keep <= n->out[v].high);
        }
        for (int by = 0; by < 3; by++)
            looked(n, beds.price, by - 1, value[by], planted[by]);
        for (int a = 0; a < BEDS; a++)
            for (int b = 0; b < BEDS; b++) {
                bool may = a != b && n->out[a].best.keep > n->ask[a].floor && !n->ask[b].retired;
                if (!may || planted[0][a] + planted[2][b] > planted[1][a] + planted[1][b] + 1e-9)
                    continue;
                assert_true(value[0][a] + value[2][b] <=
                            value[1][a] + value[1][b] + 1e-3 * beds.price + 1e-6);
            }
        for (double price = 0; price < 4 * beds.price;
             price += beds.price) { /* dearer places, fewer plants */
            double sum = 0;
            for (int v = 0; v < BEDS; v++) {
                cw_keeper *k = NULL;
                cw_keep out;
                cw_check_ok(cw_keeper_new(&n->ask[v], &k, &err), &err);
                cw_keeper_price(k, price);
                cw_keeper_best(k, &out);
                sum += out.best.planted;
                cw_keeper_free(k);
            }
            assert_true(before < 0 || sum <= before + 1e-6);
            before = sum;
        }
    }
    free(n);
}

/* The same whatever the threads; and what cannot be is refused with its figure. */
static void test_threads_and_refusals(void **state)
{
    (void)state;
    cw_rng r;
    cw_rng_init(&r, 20320219, 7);
    nursery *n = calloc(1, sizeof *n);
    assert_non_null(n);
    draw_nursery(&r, n);
    cw_keep other[BEDS];
    cw_keep_beds a, b;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_keep_nursery(n->ask, BEDS, 60, 1, (cw_go_on){ 0 }, n->out, &a, &err), &err);
    cw_check_ok(cw_keep_nursery(n->ask, BEDS, 60, 4, (cw_go_on){ 0 }, other, &b, &err), &err);
    assert_memory_equal(&a, &b, sizeof a);
    for (int v = 0; v < BEDS; v++)
        assert_true(other[v].best.keep == n->out[v].best.keep && other[v].best.value == n->out[v].best.value);
    n->ask[7].growth = 101;
    assert_int_equal(cw_keep_nursery(n->ask, BEDS, 60, 1, (cw_go_on){ 0 }, n->out, &a, &err), CW_REFUSED);
    assert_non_null(strstr(err.text, "variety 8: growth 101"));
    free(n);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_like_the_long_way),
        cmocka_unit_test(test_more_is_not_less),
        cmocka_unit_test(test_nothing_to_keep_for),
        cmocka_unit_test(test_constant_escapement),
        cmocka_unit_test(test_long_run),
        cmocka_unit_test(test_years_add_up),
        cmocka_unit_test(test_beds),
        cmocka_unit_test(test_threads_and_refusals),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* SPDX-License-Identifier: MIT */
/* Many varieties at once: each keeps its law, and doubts that they share tie them. */
#include "support/check.h"

#include "bench/draws.h"

#include <math.h>
#include <stdlib.h>

static bool not_wanted(void *context)
{
    (void)context;
    return false;
}

static void test_joint_keeps_laws_and_ties(void **state)
{
    (void)state;
    cw_draws_case c;
    cw_projection *p = NULL;
    cw_error err = CW_ERROR_NONE;
    cw_joint *j = NULL;
    cw_joint_totals totals;
    static int64_t none[40];
    assert_true(cw_draws_make(40, 1, &c));
    cw_check_ok(cw_projection_new(&c.in, &p, &err), &err);
    cw_distribution *law = malloc(40 * sizeof *law);
    assert_non_null(law);
    cw_projection_all(p, 0, law);
    cw_check_ok(cw_joint_new(p, law, 4000, 0, (cw_go_on){ 0 }, &j, &err), &err);
    cw_joint *none_made = NULL;
    assert_int_equal(cw_joint_new(p, law, 4000, 0, (cw_go_on){ not_wanted, NULL }, &none_made, &err),
                     CW_REFUSED);
    assert_null(none_made);
    cw_check_ok(cw_joint_sum(j, none, none, NULL, &totals, &err), &err);
    double mean = 0.0, variance = 0.0;
    for (size_t v = 0; v < 40; v++) {
        mean += law[v].mean;
        variance += law[v].variance;
    }
    double width = totals.saleable.q95 - totals.saleable.q05, alone = 2 * 1.645 * sqrt(variance);
    cw_check_relative("mean of the total", totals.saleable.mean, mean, 0.02);
    assert_true(width > 1.05 * alone); /* shared factors widen the total beyond independence */
    assert_true(totals.shorts.q95 == 0.0);
    cw_joint_free(j);
    free(law);
    cw_projection_free(p);
    cw_draws_free(&c);
}

/* Fifty varieties known alike, but for one hyper-parameter: at one point of the mixture all rates are 0.2 higher, at the
 * other lower; and all lie in one dry room of which k is not known. The total is as unsure as one of them. */
static void test_joint_shares_the_doubt(void **state)
{
    (void)state;
    enum { N = 50 };
    static size_t variety[N];
    static cw_stock stock[N];
    static int64_t none[N];
    static cw_distribution law[N];
    for (int dry = 0; dry < 2; dry++) {
        cw_latent *rate = cw_latent_new(N, 1, 2);
        cw_shrink *shrink = NULL;
        cw_projection *p = NULL;
        cw_joint *j = NULL;
        cw_joint_totals totals;
        cw_error err = CW_ERROR_NONE;
        for (size_t v = 0; v < N; v++) {
            variety[v] = v;
            stock[v] = (cw_stock){
                .lot = v, .stage = dry ? CW_DIVISION : CW_CLUMP, .count = 400, .to_pa_days = dry ? 20000 : 0
            };
            for (size_t i = 0; i < 2; i++)
                rate->point[i].mean[v] = log(5) + (i == 0 ? 0.2 : -0.2);
        }
        for (size_t i = 0; i < 2; i++) {
            rate->point[i].weight = 0.5;
            rate->point[i].dispersion = 1;
        }
        cw_check_ok(cw_shrink_fit(NULL, 0, 0, NULL, 0, N, &shrink, &err), &err);
        cw_projection_input in = { .varieties = N,
                                   .lots = N,
                                   .stocks = N,
                                   .lot_variety = variety,
                                   .stock = stock,
                                   .rate = rate,
                                   .shrink = dry ? shrink : NULL };
        cw_check_ok(cw_projection_new(&in, &p, &err), &err);
        cw_projection_all(p, 1, law);
        cw_check_ok(cw_joint_new(p, law, 2000, 1, (cw_go_on){ 0 }, &j, &err), &err);
        cw_check_ok(cw_joint_sum(j, none, none, NULL, &totals, &err), &err);
        double one = sqrt(law[0].variance) / law[0].mean;
        double all = (totals.saleable.q90 - totals.saleable.q10) / 2.563 / totals.saleable.mean;
        print_message("dry %d: one %.3f, all %.3f\n", dry, one, all);
        assert_true(one > 0.15 && all > 0.75 * one && all < 1.35 * one);
        cw_joint_free(j);
        cw_projection_free(p);
        cw_shrink_free(shrink);
        cw_latent_free(rate);
    }
}

/* One point of the mixture says that hazards grow with age and begin low, the other that they fall and begin high, so that
 * both say the same of what is on hand: nothing is in doubt, and the total is no wider than chance. */
static void test_joint_knows_what_tilts_take_back(void **state)
{
    (void)state;
    enum { N = 40 };
    static size_t variety[N];
    static cw_stock stock[N];
    static int64_t none[N];
    static cw_distribution law[N];
    cw_latent *rate = cw_latent_new(N, 0, 1), *rot = cw_latent_new_with_lots(N, 0, N, 2);
    cw_projection *p = NULL;
    cw_joint *j = NULL;
    cw_joint_totals totals;
    cw_error err = CW_ERROR_NONE;
    double chance = 0.0, weeks = 8.0;
    rate->point[0].weight = rate->point[0].dispersion = 1;
    for (size_t i = 0; i < 2; i++) {
        double tilt = i == 0 ? 0.5 : -0.5, lot = i == 0 ? 0.3 : -0.3;
        rot->point[i].weight = 0.5;
        rot->point[i].tilt[CW_TILT_AGE] = tilt;
        for (size_t v = 0; v < N; v++) {
            variety[v] = v;
            stock[v] = (cw_stock){ .lot = v, .stage = CW_DIVISION, .count = 400, .division_weeks = weeks };
            rot->point[i].lot_mean[v] = lot;
            rot->point[i].mean[v] = log(0.02) - lot - log(cw_latent_dose(tilt, 0, weeks) / weeks);
        }
    }
    cw_projection_input in = { .varieties = N,
                               .lots = N,
                               .stocks = N,
                               .lot_variety = variety,
                               .stock = stock,
                               .rate = rate,
                               .division_rot = rot };
    cw_check_ok(cw_projection_new(&in, &p, &err), &err);
    cw_projection_all(p, 1, law);
    for (size_t v = 0; v < N; v++)
        chance += 400 * exp(-0.02 * weeks) * (1 - exp(-0.02 * weeks));
    assert_true(fabs(law[0].variance * N / chance - 1) < 0.02);
    cw_check_ok(cw_joint_new(p, law, 2000, 1, (cw_go_on){ 0 }, &j, &err), &err);
    cw_check_ok(cw_joint_sum(j, none, none, NULL, &totals, &err), &err);
    double all = (totals.saleable.q90 - totals.saleable.q10) / 2.563;
    print_message("total: sd %.1f, chance %.1f\n", all, sqrt(chance));
    assert_true(fabs(all / sqrt(chance) - 1) < 0.1);
    cw_joint_free(j);
    cw_projection_free(p);
    cw_latent_free(rot);
    cw_latent_free(rate);
}

/* A year that is bad for clumps is bad for their divisions: sd of S against plain simulation, hazards tied and not. */
static void test_rot_is_tied(void **state)
{
    (void)state;
    size_t variety = 0;
    cw_stock stock = { .stage = CW_CLUMP, .count = 300, .clump_weeks = 8, .division_weeks = 8 };
    cw_latent *known[3];
    static int64_t draw[40000];
    for (int i = 0; i < 3; i++) {
        known[i] = cw_latent_new(1, 1, 1);
        known[i]->point[0].weight = known[i]->point[0].dispersion = 1;
        known[i]->point[0].mean[0] = log(i == 0 ? 5 : 0.04);
        known[i]->point[0].own_sd[0] = i == 0 ? 0.01 : 0.7;
    }
    double sd[2];
    for (int tied = 0; tied < 2; tied++) {
        cw_projection_input in = { .varieties = 1,
                                   .lots = 1,
                                   .stocks = 1,
                                   .lot_variety = &variety,
                                   .stock = &stock,
                                   .rate = known[0],
                                   .clump_rot = known[1],
                                   .division_rot = known[2],
                                   .rot_tie = tied ? 0.4 : 0 };
        cw_projection *p = NULL;
        cw_distribution law;
        cw_error err = CW_ERROR_NONE;
        cw_rng rng;
        double mean = 0, square = 0;
        cw_check_ok(cw_projection_new(&in, &p, &err), &err);
        cw_projection_variety(p, 0, &law);
        cw_rng_init(&rng, 5, 5);
        cw_draws_of_variety(&in, 0, &rng, draw, 40000);
        for (int i = 0; i < 40000; i++)
            mean += (double)draw[i] / 40000;
        for (int i = 0; i < 40000; i++)
            square += ((double)draw[i] - mean) * ((double)draw[i] - mean) / 40000;
        sd[tied] = sqrt(law.variance);
        cw_check_relative("mean", law.mean, mean, 0.01);
        cw_check_relative("sd", sd[tied], sqrt(square), 0.04);
        cw_projection_free(p);
    }
    assert_true(sd[1] > 1.2 * sd[0]);
    for (int i = 0; i < 3; i++)
        cw_latent_free(known[i]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_rot_is_tied),
        cmocka_unit_test(test_joint_shares_the_doubt),
        cmocka_unit_test(test_joint_knows_what_tilts_take_back),
        cmocka_unit_test(test_joint_keeps_laws_and_ties),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

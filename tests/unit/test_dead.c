/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "model/projection.h"
#include "model/rate.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

/* Forty lots of five divisions a clump, two that gave nothing, and three of this season: whole, cut well, cut in vain. */
static void test_dead_lots_are_no_rows(void **state)
{
    (void)state;
    cw_rate_row rows[45];
    size_t n = 0;
    for (int i = 0; i < 42; i++)
        rows[n++] = (cw_rate_row){ i % 6, i % 3, 100 + i, 10, i % 21 == 20 ? 0 : 50 + i % 5 - 2 };
    rows[n++] = (cw_rate_row){ 0, 3, 1, 10, 52 };
    rows[n++] = (cw_rate_row){ 0, 3, 2, 10, 0 };
    rows[n++] = (cw_rate_row){ 1, 3, 3, 1, 0 }; /* one clump without eyes is not strange */
    cw_rate_data d = { rows, n, 6, 4, 0, 0, 3, NULL, NULL, 1, 4, NULL, false };
    cw_rate *r = NULL;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_rate_fit(&d, NULL, &r, &err), &err);
    const double *dead = cw_rate_dead(r);
    assert_non_null(dead);
    /* 44 lots tell, three of them dead; before that 0.2 of 40 */
    cw_check_near("whole", dead[0], 3.2 / 84, 1e-12);
    cw_check_near("cut well", dead[1], 0, 0);
    assert_true(dead[2] > 0.8);
    cw_check_near("one clump", dead[3], 3.2 / 84, 1e-12);
    const cw_latent *l = cw_rate_latent(r);
    double mean = 0;
    for (size_t p = 0; p < l->points; p++)
        mean += l->point[p].weight * exp(l->point[p].mean[2]);
    cw_check_near("rate of those that live", mean, 5, 0.1);
    assert_true(l->point[0].lot_sd < 0.15); /* with dead lots among them it would be several times as much */
    cw_rate_free(r);
    n = 0;
    for (int i = 0; i < 42; i++)
        rows[n++] = (cw_rate_row){ i % 6, i % 3, 100 + i, 10, 50 };
    d.n_rows = n;
    cw_check_ok(cw_rate_fit(&d, NULL, &r, &err), &err);
    assert_true(cw_rate_dead(r) == NULL || cw_rate_dead(r)[0] < 0.003);
    cw_rate_free(r);
}

/* Lots cut in two sessions, nothing in the first one, whose rows lie apart in any order: no lot is dead. Another one is. */
static void test_rows_of_a_lot_lie_anywhere(void **state)
{
    (void)state;
    cw_rate_row rows[41];
    cw_rate_data d = { rows, 41, 2, 1, 0, 0, 0, NULL, NULL, 1, 21, NULL, false };
    cw_rate *r = NULL;
    cw_error err = CW_ERROR_NONE;
    for (int i = 0; i < 20; i++) {
        rows[i] = (cw_rate_row){ i % 2, 0, i, 10, 0 };
        rows[40 - i] = (cw_rate_row){ i % 2, 0, i, 10, 90 + i % 3 };
    }
    rows[20] = (cw_rate_row){ 1, 0, 20, 10, 0 };
    cw_check_ok(cw_rate_fit(&d, NULL, &r, &err), &err);
    const double *dead = cw_rate_dead(r);
    assert_non_null(dead);
    for (int i = 0; i < 20; i++)
        assert_true(dead[i] == 0);
    assert_true(dead[20] > 0.8);
    double mean = 0;
    const cw_latent *l = cw_rate_latent(r);
    for (size_t p = 0; p < l->points; p++)
        mean += l->point[p].weight * exp(l->point[p].mean[0]);
    cw_check_near("what both sessions gave", mean, 4.55, 0.3);
    cw_rate_free(r);
}

/* Two lots of 20 whole clumps, one of them dead with chance 0.3: the law is 0.3 of one lot's and 0.7 of both's. */
static void test_law_is_a_mixture(void **state)
{
    (void)state;
    size_t variety[2] = { 0, 0 };
    cw_stock stock[2] = { { .lot = 0, .stage = CW_CLUMP, .count = 20 },
                          { .lot = 1, .stage = CW_CLUMP, .count = 20 } };
    double dead[2] = { 0.3, 0 };
    cw_latent *rate = cw_latent_new(1, 1, 1);
    rate->point[0].weight = rate->point[0].dispersion = 1;
    rate->point[0].mean[0] = log(5);
    rate->point[0].own_sd[0] = 0.1;
    cw_projection_input in = {
        .varieties = 1, .lots = 2, .stocks = 2, .lot_variety = variety, .stock = stock, .rate = rate
    };
    cw_projection *p = NULL;
    cw_error err = CW_ERROR_NONE;
    static cw_distribution both, one, mixed;
    cw_check_ok(cw_projection_new(&in, &p, &err), &err);
    cw_projection_variety(p, 0, &both);
    cw_projection_lot(p, 1, &one);
    cw_projection_free(p);
    in.dead = dead;
    cw_check_ok(cw_projection_new(&in, &p, &err), &err);
    cw_projection_variety(p, 0, &mixed);
    cw_check_near("mean", mixed.mean, 0.7 * both.mean + 0.3 * one.mean, 1e-9);
    for (int64_t k = 60; k < 300; k += 7)
        cw_check_near("cdf", cw_distribution_cdf(&mixed, k),
                      0.7 * cw_distribution_cdf(&both, k) + 0.3 * cw_distribution_cdf(&one, k), 2e-3);
    cw_projection_why why;
    cw_projection_explain(p, 0, &why);
    cw_check_near("explained mean", why.mean, mixed.mean, 1e-9);
    cw_check_near("explained variance", why.variance, mixed.variance, 1e-6 * mixed.variance);
    cw_projection_free(p);
    cw_latent_free(rate);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_dead_lots_are_no_rows),
                                        cmocka_unit_test(test_rows_of_a_lot_lie_anywhere),
                                        cmocka_unit_test(test_law_is_a_mixture) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

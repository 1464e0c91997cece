/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "model/sampler.h"
#include "model/shrink.h"
#include "model/special.h"

#include <math.h>

static const double true_k = 2.6e-5;

/* Crates weighed five times on a scale that is 0.3 % unsure. */
static size_t weigh(cw_weighing *w, size_t lots, size_t crates_a_lot, double lot_sd, cw_rng *r, double *log_k)
{
    size_t n = 0;
    for (size_t lot = 0; lot < lots; lot++) {
        log_k[lot] = log(true_k) + lot_sd * cw_draw_normal(r);
        for (size_t c = 0; c < crates_a_lot; c++) {
            for (int i = 0; i < 5; i++) {
                double x = 1500.0 * i;
                w[n++] = (cw_weighing){ lot * crates_a_lot + c, lot, x,
                                        5.0 * exp(-exp(log_k[lot]) * x + 0.003 * cw_draw_normal(r)) };
            }
        }
    }
    return n;
}

static void test_k_is_found_with_its_spread(void **state)
{
    (void)state;
    cw_weighing w[40 * 2 * 5];
    double log_k[40], inside = 0.0;
    cw_rng r;
    cw_error err = CW_ERROR_NONE;
    cw_shrink *s = NULL;
    cw_rng_init(&r, 5, 1);
    size_t n = weigh(w, 40, 2, 0.3, &r, log_k);
    cw_check_ok(cw_shrink_fit(w, n, 80, NULL, 0, 60, &s, &err), &err);
    assert_int_equal(s->crates, 80);
    cw_check_near("log k", s->log_k, log(true_k), 0.02);
    cw_check_near("spread between lots", s->lot_spread, 0.3, 0.3);
    for (size_t lot = 0; lot < 40; lot++)
        inside += fabs(s->lot_log_k[lot] - log_k[lot]) < 1.645 * s->lot_log_k_sd[lot];
    assert_in_range((int)inside, 31, 40); /* nine in ten of forty, within three standard errors */
    cw_check_near("a lot not weighed", s->lot_log_k[50], s->log_k, 1e-12);
    assert_true(s->lot_log_k_sd[50] > s->lot_log_k_sd[0]);
    cw_shrink_free(s);
}

/* A crate that gained weight and one of no loss: kept, and nothing breaks. */
static void test_crates_without_loss(void **state)
{
    (void)state;
    cw_weighing w[] = {
        { 0, 0, 0, 5.00 }, { 0, 0, 3000, 5.01 }, { 1, 1, 0, 5.0 }, { 1, 1, 3000, 4.7 }, { 2, 2, 100, 4.0 }
    };
    cw_error err = CW_ERROR_NONE;
    cw_shrink *s = NULL;
    cw_check_ok(cw_shrink_fit(w, 5, 3, NULL, 0, 3, &s, &err), &err);
    assert_int_equal(s->crates, 2); /* the third was weighed once */
    for (size_t lot = 0; lot < 3; lot++)
        assert_true(isfinite(s->lot_log_k[lot]) && s->lot_log_k_sd[lot] > 0.0);
    assert_true(s->lot_log_k[0] < s->lot_log_k[1]);
    cw_shrink_free(s);
}

static void test_defaults_without_data(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    cw_shrink *s = NULL;
    cw_check_ok(cw_shrink_fit(NULL, 0, 0, NULL, 0, 1, &s, &err), &err);
    cw_check_near("k", exp(s->lot_log_k[0]), CW_SHRINK_DEFAULT_K, 1e-12);
    cw_check_near("w50", exp(s->log_w50), CW_SHRINK_DEFAULT_W50, 1e-12);
    /* 120 days of a good cellar: next to nothing */
    assert_true(cw_shrink_shrivelled(s, 0, 0, 120 * 54).middle < 0.001);
    /* a dry room: all */
    assert_true(cw_shrink_shrivelled(s, 0, 0, 60000).middle > 0.95);
    cw_shrink_free(s);
}

static void test_limits_are_learned(void **state)
{
    (void)state;
    enum { CHECKS = 120 };
    cw_shrivel_check c[CHECKS];
    cw_rng r;
    cw_error err = CW_ERROR_NONE;
    cw_shrink *s = NULL;
    cw_rng_init(&r, 6, 1);
    double w50 = 0.20, sigma = 0.30;
    for (size_t i = 0; i < CHECKS; i++) {
        double from = i % 3 == 0 ? 4000.0 : 0.0, to = 5000.0 + 60.0 * (double)i;
        double a = from > 0.0 ? log(cw_shrink_loss(CW_SHRINK_DEFAULT_K, from) / w50) / sigma : -INFINITY;
        double b = log(cw_shrink_loss(CW_SHRINK_DEFAULT_K, to) / w50) / sigma;
        double p = 1.0 - cw_normal_p(-b) / cw_normal_p(-a);
        c[i] = (cw_shrivel_check){ CW_SHRINK_NO_LOT, from, to, 60, cw_draw_binomial(&r, 60, p) };
    }
    cw_check_ok(cw_shrink_fit(NULL, 0, 0, c, CHECKS, 1, &s, &err), &err);
    cw_check_near("w50", exp(s->log_w50), w50, 0.015);
    cw_check_near("sigma", exp(s->log_sigma), sigma, 0.06);
    assert_true(fabs(s->log_w50 - log(w50)) < 3.0 * s->log_w50_sd);
    /* the same checks in another order give the same to the last bit */
    cw_shrink *again = NULL;
    for (size_t i = 0; i < CHECKS / 2; i++) {
        cw_shrivel_check t = c[i];
        c[i] = c[CHECKS - 1 - i];
        c[CHECKS - 1 - i] = t;
    }
    cw_check_ok(cw_shrink_fit(NULL, 0, 0, c, CHECKS, 1, &again, &err), &err);
    assert_true(again->log_w50 == s->log_w50 && again->log_sigma == s->log_sigma);
    cw_shrink_free(again);
    cw_shrink_free(s);
}

static void test_share_is_monotone(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    cw_shrink *s = NULL;
    cw_check_ok(cw_shrink_fit(NULL, 0, 0, NULL, 0, 1, &s, &err), &err);
    double last = -1.0;
    for (double x = 0.0; x < 80000.0; x += 500.0) {
        cw_shrink_share share = cw_shrink_shrivelled(s, 0, 0, x);
        assert_true(share.middle >= last && share.low <= share.middle + 1e-12 &&
                    share.middle <= share.high + 1e-12);
        assert_true(share.low >= 0.0 && share.high <= 1.0);
        last = share.middle;
    }
    cw_check_near("nothing when nothing dries", cw_shrink_shrivelled(s, 0, 9000, 9000).high, 0.0, 1e-12);
    cw_shrink_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_k_is_found_with_its_spread), cmocka_unit_test(test_crates_without_loss),
        cmocka_unit_test(test_defaults_without_data),      cmocka_unit_test(test_limits_are_learned),
        cmocka_unit_test(test_share_is_monotone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

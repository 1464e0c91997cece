/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "model/trend.h"
#include <math.h>

/* Five seasons that grow by a tenth each, worked out by hand: weights w = 1 / (0.06 + 1 / (sold + 1/2)) hardly differ, so the slope is
 * near s / (s + 1 / sd^2) of log 1.1, s = 10 w. */
static void test_a_steady_rise_is_seen_and_drawn_to_none(void **state)
{
    (void)state;
    cw_trend_row row[5];
    cw_trend t;
    cw_error err = CW_ERROR_NONE;
    double sold = 10000;
    for (int i = 0; i < 5; i++, sold *= 1.1)
        row[i] = (cw_trend_row){ 0, 2026 + i, (int64_t)llround(sold), false };
    cw_check_ok(cw_trend_fit(row, 5, 1, 2031, &t, &err), &err);
    double s = 10 / 0.06, prior = 1 / (CW_TREND_SD * CW_TREND_SD);
    cw_check_relative("slope", t.slope, log(1.1) * s / (s + prior), 0.01);
    cw_check_relative("its sd", t.sd, 1 / sqrt(s + prior), 0.01);
    cw_check_near("from the middle to now", t.past, 3, 0.01);
}

static void test_what_sold_out_says_nothing(void **state)
{
    (void)state;
    const cw_trend_row row[] = { { 0, 2029, 40, false }, { 0, 2030, 400, true }, { 1, 2030, 50, false } };
    cw_trend t[3];
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_trend_fit(row, 3, 3, 2031, t, &err), &err);
    for (int v = 0; v < 3; v++) {
        cw_check_near("slope", t[v].slope, 0, 1e-12);
        cw_check_near("sd", t[v].sd, CW_TREND_SD, 1e-12);
    }
}

/* A trend goes on, less each season, and never adds up to more than damp / (1 - damp) of them; what is not known widens. */
static void test_damped(void **state)
{
    (void)state;
    const cw_trend t = { 0.05, 0.02, 1.5 };
    const cw_demand seen = { true, 100, 400 };
    cw_demand d, before = { 0 };
    for (int ahead = 0; ahead < 40; ahead++) {
        cw_trend_ahead(&t, &seen, ahead, &d);
        assert_true(d.mean > before.mean && d.variance > before.variance && d.known);
        before = d;
    }
    cw_check_relative("in the end", d.mean, 100 * exp(0.05 * (1.5 + CW_TREND_DAMP / (1 - CW_TREND_DAMP))),
                      1e-4);
    cw_trend_ahead(&t, &seen, 0, &d);
    cw_check_relative("now", d.mean, 100 * exp(0.05 * 1.5), 1e-9);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_a_steady_rise_is_seen_and_drawn_to_none),
                                        cmocka_unit_test(test_what_sold_out_says_nothing),
                                        cmocka_unit_test(test_damped) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

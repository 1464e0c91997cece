/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "base/rng.h"
#include "model/minutes.h"
#include "model/special.h"

#include <math.h>

static void test_nothing_learned(void **state)
{
    (void)state;
    cw_minutes m;
    cw_minutes_session none = { 0, 0, 30 };
    cw_check_ok(cw_minutes_learn(&none, 1, 2, 7, &m, NULL), NULL);
    assert_int_equal(m.sessions, 0);
    assert_float_equal(m.all, 7, 1e-12);
    assert_float_equal(m.variety[1], 7, 1e-12);
    cw_minutes_free(&m);
}

/* One session of many clumps draws all varieties; its own furthest. A session of one clump hardly any. */
static void test_few(void **state)
{
    (void)state;
    cw_minutes large, small;
    cw_minutes_session s = { 0, 100, 1200 };
    cw_check_ok(cw_minutes_learn(&s, 1, 2, 6, &large, NULL), NULL);
    s = (cw_minutes_session){ 0, 1, 12 };
    cw_check_ok(cw_minutes_learn(&s, 1, 2, 6, &small, NULL), NULL);
    assert_true(large.variety[0] > large.variety[1] && large.variety[1] > 6 && large.variety[0] < 12);
    assert_true(small.variety[0] < 6.3 && small.variety[0] > 6);
    cw_minutes_free(&large);
    cw_minutes_free(&small);
}

/* Varieties that differ by 30 %: told apart within 10 % by twenty sessions each; varieties that do not differ are kept together. */
static void test_apart_as_far_as_they_are(void **state)
{
    (void)state;
    enum { VARIETIES = 12, EACH = 20 };
    for (int differ = 0; differ < 2; differ++) {
        cw_minutes_session s[VARIETIES * EACH];
        double truth[VARIETIES], off = 0, spread = 0;
        cw_rng r;
        cw_minutes m;
        cw_rng_init(&r, 5, (uint64_t)differ);
        for (size_t v = 0; v < VARIETIES; v++) {
            truth[v] = 5 * exp((differ ? 0.3 : 0) * cw_normal_quantile(cw_rng_uniform(&r)));
            for (size_t k = 0; k < EACH; k++)
                s[v * EACH + k] =
                    (cw_minutes_session){ v, 20,
                                          20 * truth[v] * exp(0.3 * cw_normal_quantile(cw_rng_uniform(&r))) };
        }
        cw_check_ok(cw_minutes_learn(s, VARIETIES * EACH, VARIETIES, 6, &m, NULL), NULL);
        for (size_t v = 0; v < VARIETIES; v++) {
            off += fabs(log(m.variety[v] / truth[v])) / VARIETIES;
            spread = fmax(spread, fabs(log(m.variety[v] / m.all)));
        }
        assert_true(off < (differ ? 0.08 : 0.03));
        assert_true(differ ? spread > 0.3 : spread < 0.08);
        cw_minutes_free(&m);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_nothing_learned),
        cmocka_unit_test(test_few),
        cmocka_unit_test(test_apart_as_far_as_they_are),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

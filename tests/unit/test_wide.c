/* SPDX-License-Identifier: MIT */
/* The vector functions against the scalar ones of the C library, over the whole range the model uses. */
#include "support/check.h"

#include "model/wide.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

#define COUNT 1003 /* not a multiple of any register's width */

static void test_exp_and_erfc(void **state)
{
    (void)state;
    double x[COUNT], e[COUNT], c[COUNT];
    for (int i = 0; i < COUNT; i++)
        x[i] = -700.0 + 1400.0 * i / (COUNT - 1);
    cw_exp_each(COUNT, x, e);
    for (int i = 0; i < COUNT; i++) {
        cw_check_relative("exp", e[i], exp(x[i]), 1e-15);
        x[i] /= 27.0;
    }
    cw_erfc_each(COUNT, x, c);
    for (int i = 0; i < COUNT; i++)
        cw_check_relative("erfc", c[i], erfc(x[i]), 1e-14);
    x[0] = -INFINITY;
    x[1] = INFINITY;
    cw_exp_each(2, x, e);
    cw_erfc_each(2, x, c);
    assert_true(e[0] == 0.0 && isinf(e[1]) && c[0] == 2.0 && c[1] == 0.0);
}

static void test_positive_part(void **state)
{
    (void)state;
    cw_four x = { -1.5, 0.0, 2.5, -0.0 }, kept = cw_four_positive(x);
    double out[CW_FOUR];
    memcpy(out, &kept, sizeof out);
    assert_true(out[0] == 0.0 && out[1] == 0.0 && out[2] == 2.5 && out[3] == 0.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_exp_and_erfc),
                                        cmocka_unit_test(test_positive_part) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

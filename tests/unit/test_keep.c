/* SPDX-License-Identifier: MIT */
/* More tops of W(k) - m k than are looked at: those that are left out are the lowest, wherever they stand. Curves of whole plants
 * are made by hand here; what the programme makes of a nursery's figures is in property/test_keep and published/test_keep. */
#include "support/check.h"

#include "model/keep_inside.h"

#include "base/banned.h"

#define PLANTS 24
#define MARGIN 3.0

/* W such that W(k) - m k is `height` at 1, 4, 7 ... and nothing between. */
static void tops_of(const double *height, size_t n, cw_keep_rules *out)
{
    static double w[PLANTS + 1];
    cw_keeper k = { .ask = { .margin = MARGIN, .seasons = 1 }, .w = w };
    cw_keep_nodes_to(&k.p, PLANTS);
    assert_int_equal(k.p.n, PLANTS + 1);
    for (size_t i = 0; i <= PLANTS; i++)
        w[i] = MARGIN * (double)i + (i % 3 == 1 && i / 3 < n ? height[i / 3] : 0);
    cw_keep_rules_of(&k, 0, out);
}

static void test_the_lowest_tops_go(void **state)
{
    (void)state;
    static const double first[] = { 9, 2, 3, 4, 5, 6 }, last[] = { 2, 3, 4, 5, 6, 9 },
                        middle[] = { 5, 6, 9, 1, 7, 8 };
    cw_keep_rules rules;
    tops_of(first, 6, &rules);
    assert_int_equal(rules.n, CW_KEEP_TOPS);
    double want_first[] = { 1, 16, 13, 10 }, want_last[] = { 16, 13, 10, 7 },
           want_middle[] = { 7, 16, 13, 4 };
    for (size_t r = 0; r < CW_KEEP_TOPS; r++)
        cw_check_near("the highest stands first", rules.rule[r].keep, want_first[r], 0);
    tops_of(last, 6, &rules);
    for (size_t r = 0; r < CW_KEEP_TOPS; r++)
        cw_check_near("the highest comes last", rules.rule[r].keep, want_last[r], 0);
    tops_of(middle, 6, &rules);
    for (size_t r = 0; r < CW_KEEP_TOPS; r++)
        cw_check_near("the highest is between", rules.rule[r].keep, want_middle[r], 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_the_lowest_tops_go) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

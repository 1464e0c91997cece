/* SPDX-License-Identifier: MIT */
/* By which day have how many orders come, and how far do single varieties keep to it? The figures were worked out by the
 * formulas of model/orders_curve.h apart from this program, in another language. */
#include "support/check.h"

#include "model/orders_curve.h"

#define COUNT(a) (sizeof(a) / sizeof(a)[0])

static void learned_from_a_few_seasons(void **state)
{
    (void)state;
    /* The last of these is too little to say when its orders come. */
    static const cw_order_day some[] = { { 1, -120, 4 },  { 1, -100, 10 }, { 1, -60, 20 }, { 1, -10, 6 },
                                         { 2, -130, 30 }, { 2, -50, 10 },  { 3, -90, 7 } },
                              apart[] = { { 1, -120, 8 }, { 2, -20, 8 }, { 3, 20, 8 } },
                              late[] = { { 1, -200, 5 }, { 1, 60, 3 } }, few[] = { { 1, -77, 7 } };
    static const struct {
        const char *what;
        const cw_order_day *row;
        size_t n;
        int64_t learned;
        double sure, at[5]; /* -140, -100, -77, 0 and 40 days from shipping */
    } rows[] = {
        { "three varieties",
          some,
          COUNT(some),
          87,
          10.29577091986411,
          { 0, 0.45219347581552305, 71.0 / 127, 125.0 / 127, 1 } },
        { "each at another time",
          apart,
          COUNT(apart),
          24,
          2.532148597640182,
          { 0, 0.3348214285714286, 0.4375, 0.84375, 1 } },
        { "before the catalogue, and long after",
          late,
          COUNT(late),
          8,
          16.46513771647562,
          { 5.0 / 48, 0.38392857142857145, 25.0 / 48, 43.0 / 48, 45.0 / 48 } },
        { "too few to tell", few, COUNT(few), 7, 20, { 0, 0.28571428571428575, 27.0 / 47, 45.0 / 47, 1 } },
    };
    static const int days[] = { -140, -100, -77, 0, 40 };
    for (size_t i = 0; i < COUNT(rows); i++) {
        cw_orders_curve c;
        cw_orders_curve_learn(rows[i].row, rows[i].n, &c);
        print_message("%s\n", rows[i].what);
        assert_int_equal(c.learned, rows[i].learned);
        cw_check_near("sure", c.sure, rows[i].sure, 1e-9);
        for (size_t k = 0; k < COUNT(days); k++)
            cw_check_near("share", cw_orders_curve_at(&c, days[k]), rows[i].at[k], 1e-12);
        assert_true(cw_orders_curve_at(&c, CW_CURVE_FIRST - 1) == 0);
        cw_check_near("the end", cw_orders_curve_at(&c, 1000), 1, 1e-12);
    }
}

/* What came before the first day stands on it, what came after the last on that. */
static void beyond_the_ends(void **state)
{
    (void)state;
    static const cw_order_day rows[] = { { 1, -400, 10 }, { 1, -301, 5 }, { 2, 100, 10 }, { 2, 900, 5 } };
    cw_orders_curve c;
    cw_orders_curve_learn(rows, COUNT(rows), &c);
    assert_int_equal(c.learned, 30);
    cw_check_near("the first day", cw_orders_curve_at(&c, -300), 15.0 / 70, 1e-12);
    cw_check_near("the last but one", cw_orders_curve_at(&c, 98), 55.0 / 70, 1e-12);
    cw_check_near("the last", cw_orders_curve_at(&c, 99), 1, 1e-12);
}

/* The default, straight between its points. */
static void nothing_learned(void **state)
{
    (void)state;
    static const struct {
        int day;
        double share;
    } usual[] = { { -141, 0 },  { -140, 0 }, { -126, 0.125 }, { -112, 0.25 }, { -77, 0.5 }, { -56, 0.65 },
                  { -35, 0.8 }, { 0, 0.95 }, { 14, 0.97 },    { 35, 1 },      { 99, 1 } };
    cw_orders_curve c;
    cw_orders_curve_learn(NULL, 0, &c);
    assert_int_equal(c.learned, 0);
    cw_check_near("sure", c.sure, 6, 0);
    for (size_t i = 0; i < COUNT(usual); i++)
        cw_check_near("share", cw_orders_curve_at(&c, usual[i].day), usual[i].share, 1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(learned_from_a_few_seasons),
        cmocka_unit_test(beyond_the_ends),
        cmocka_unit_test(nothing_learned),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

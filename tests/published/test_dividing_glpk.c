/* SPDX-License-Identifier: MIT */
/* The dividing plan against GLPK: its branch and cut on whole lots (the plan is as good, on cases that GLPK proves), and its
 * simplex on the relaxation (the bound is the relaxation's value where washing is not scarce). Invented data. GLPK of the
 * distribution; its version is printed. */
#include "support/check.h"

#include "base/rng.h"
#include "model/dividing.h"

#include <glpk.h>
#include <math.h>
#include <stdlib.h>

#define LOTS 10
#define DAYS 4

static cw_dividing_lot lot[LOTS];
static cw_dividing_day day[DAYS];
static double cost[LOTS * DAYS];
static const cw_dividing_input in = { LOTS, DAYS, lot, day, cost, { 0 } };

static void make(cw_rng *r, bool washing)
{
    for (size_t l = 0; l < LOTS; l++) {
        double a_day = 1 + cw_rng_below(r, 60), know = cw_rng_below(r, 3) ? 0 : 400 + cw_rng_below(r, 900);
        size_t release = 1 + cw_rng_below(r, DAYS);
        lot[l] =
            (cw_dividing_lot){ 60 + cw_rng_below(r, 150), 10 + cw_rng_below(r, 60), 0, CW_DIVIDING_OPEN };
        for (size_t d = 0; d < DAYS; d++)
            cost[l * DAYS + d] = 100 + a_day * (double)d + (d >= release ? know : 0);
        lot[l].never = cost[l * DAYS + DAYS - 1] + 1500;
    }
    for (size_t d = 0; d < DAYS; d++)
        day[d] =
            (cw_dividing_day){ 300 + 60 * cw_rng_below(r, 3), washing ? 80 + cw_rng_below(r, 20) : 100000 };
}

/* Rows: each lot once, then both kinds of minutes of each day. Columns: lot and day, then never. */
static double by_glpk(bool whole)
{
    enum { COLUMNS = LOTS * (DAYS + 1), ROWS = LOTS + 2 * DAYS, MOST = COLUMNS + 2 * LOTS * DAYS };
    static int row[MOST + 1], column[MOST + 1];
    static double value[MOST + 1];
    int n = 0;
    glp_prob *p = glp_create_prob();
    glp_term_out(GLP_OFF);
    glp_add_rows(p, ROWS);
    glp_add_cols(p, COLUMNS);
    for (int l = 0; l < LOTS; l++) {
        glp_set_row_bnds(p, 1 + l, GLP_FX, 1, 1);
        for (int d = 0; d <= DAYS; d++) {
            int c = 1 + l * (DAYS + 1) + d;
            glp_set_obj_coef(p, c, d < DAYS ? cost[l * DAYS + d] : lot[l].never);
            glp_set_col_kind(p, c, whole ? GLP_BV : GLP_CV);
            glp_set_col_bnds(p, c, GLP_DB, 0, 1);
            row[++n] = 1 + l, column[n] = c, value[n] = 1;
            if (d == DAYS)
                continue;
            row[++n] = 1 + LOTS + d, column[n] = c, value[n] = (double)lot[l].cut_minutes;
            row[++n] = 1 + LOTS + DAYS + d, column[n] = c, value[n] = (double)lot[l].wash_minutes;
        }
    }
    for (int d = 0; d < DAYS; d++) {
        glp_set_row_bnds(p, 1 + LOTS + d, GLP_UP, 0, (double)day[d].cut_minutes);
        glp_set_row_bnds(p, 1 + LOTS + DAYS + d, GLP_UP, 0, (double)day[d].wash_minutes);
    }
    glp_load_matrix(p, n, row, column, value);
    glp_smcp simplex;
    glp_iocp search;
    glp_init_smcp(&simplex);
    assert_int_equal(glp_simplex(p, &simplex), 0);
    glp_init_iocp(&search);
    search.tm_lim = 60000;
    if (whole)
        assert_int_equal(glp_intopt(p, &search), 0);
    assert_int_equal(whole ? glp_mip_status(p) : glp_get_status(p), GLP_OPT);
    double best = whole ? glp_mip_obj_val(p) : glp_get_obj_val(p);
    glp_delete_prob(p);
    return best;
}

/* GLPK 5.0's optima of the four cases, so that a change of the cases, of the generator or of GLPK is seen. */
static const double optimum[4] = { 1201, 2932, 1216, 2819 };

static void test_whole_lots(void **state)
{
    (void)state;
    print_message("GLPK %s\n", glp_version());
    for (uint64_t seed = 0; seed < 4; seed++) {
        cw_rng r;
        cw_dividing_plan p;
        cw_rng_init(&r, 1200 + seed, 0);
        make(&r, seed % 2 == 1);
        double best = by_glpk(true);
        if (fabs(best - optimum[seed]) > 1e-6 * best)
            fail_msg("seed %d: GLPK's optimum is %.6f, and was %.6f", (int)seed, best, optimum[seed]);
        cw_check_ok(cw_dividing_solve(&in, &p, NULL), NULL);
        if (fabs(p.total - best) > 1e-6 * best)
            fail_msg("seed %d: the plan costs %f, GLPK's %f", (int)seed, p.total, best);
        assert_true(p.bound <= best * (1 + 1e-9));
        cw_dividing_plan_free(&p);
    }
}

static void test_the_bound(void **state)
{
    (void)state;
    for (uint64_t seed = 0; seed < 4; seed++) {
        cw_rng r;
        cw_dividing_plan p;
        cw_rng_init(&r, 1300 + seed, 0);
        make(&r, false);
        cw_check_ok(cw_dividing_solve(&in, &p, NULL), NULL);
        double relaxed = by_glpk(false);
        assert_true(p.proven || fabs(p.bound - relaxed) <= 1e-6 * relaxed);
        assert_true(p.bound >= relaxed * (1 - 1e-6));
        cw_dividing_plan_free(&p);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_whole_lots), cmocka_unit_test(test_the_bound) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

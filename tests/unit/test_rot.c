/* SPDX-License-Identifier: MIT */
/* The rot hazard: plain cases, and whether its intervals hold on simulated cellars. Prints its seed. */
#include "support/check.h"
#include "support/predictive.h"

#include "model/rot.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define SEED 41u

static cw_rot *fit(const cw_rot_data *d)
{
    cw_rot *r = NULL;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_rot_fit(d, NULL, &r, &err), &err);
    return r;
}

static double mean_of(const cw_latent *l, size_t unit)
{
    double sum = 0;
    for (size_t p = 0; p < l->points; p++)
        sum += l->point[p].weight * l->point[p].mean[unit];
    return sum;
}

/* Many checks of one kind leave no doubt: the hazard is the one whose loss they show, whatever the weeks were. */
static void test_hazard_is_found(void **state)
{
    (void)state;
    cw_rot_row rows[60];
    size_t n = 0;
    for (int s = 0; s < 6; s++)
        for (int k = 0; k < 5; k++) {
            double weeks = 2 + 3 * k;
            rows[n++] = (cw_rot_row){
                0, s, -1, CW_ROT_CLUMP, weeks, 5000, (int64_t)round(5000 * (1 - exp(-0.010 * weeks)))
            };
            rows[n++] = (cw_rot_row){
                1, s, -1, CW_ROT_CLUMP, weeks, 5000, (int64_t)round(5000 * (1 - exp(-0.002 * weeks)))
            };
        }
    cw_rot_data d = { rows, n, 3, 7, 6, 1, 0, NULL, NULL };
    cw_rot *r = fit(&d);
    const cw_latent *l = cw_rot_latent(r, CW_ROT_CLUMP);
    cw_check_near("hazard of 0", mean_of(l, 0), log(0.010), 0.01);
    cw_check_near("hazard of 1", mean_of(l, 1), log(0.002), 0.01);
    assert_true(mean_of(l, 2) < mean_of(l, 0) && mean_of(l, 2) > mean_of(l, 1)); /* never checked: between */
    assert_true(l->point[0].own_sd[2] > 5 * l->point[0].own_sd[0]);
    assert_true(cw_rot_informed(r, CW_ROT_CLUMP));
    assert_false(cw_rot_informed(r, CW_ROT_DIVISION));
    cw_check_near("default of divisions", mean_of(cw_rot_latent(r, CW_ROT_DIVISION), 0),
                  log(CW_ROT_DEFAULT_DIVISION), 1e-9);
    cw_mixed_why w;
    cw_rot_explain(r, CW_ROT_CLUMP, 0, &w);
    cw_check_near("parts add up", w.intercept.mean + w.variety.mean + w.season.mean + w.cell.mean, w.mean,
                  1e-9);
    cw_rot_free(r);
}

/* One more rotten in any check raises the hazard of its variety, and lowers nobody's. */
static void test_more_rot_raises(void **state)
{
    (void)state;
    cw_rot_row rows[12];
    for (int i = 0; i < 12; i++)
        rows[i] = (cw_rot_row){ i % 3, i / 6, i, CW_ROT_DIVISION, 3 + i, 40 + i, i % 4 };
    cw_rot_data d = { rows, 12, 4, 2, 1, 1, 0, NULL, NULL };
    cw_rot *before = fit(&d);
    for (int i = 0; i < 12; i++) {
        rows[i].rotten++;
        cw_rot *after = fit(&d);
        for (size_t v = 0; v < 4; v++) {
            double rise = mean_of(cw_rot_latent(after, CW_ROT_DIVISION), v) -
                          mean_of(cw_rot_latent(before, CW_ROT_DIVISION), v);
            assert_true((int)v == rows[i].variety ? rise > 0.005 : rise > -0.03); /* sds move a little too */
        }
        rows[i].rotten--;
        cw_rot_free(after);
    }
    cw_rot_free(before);
}

static void test_refusals(void **state)
{
    (void)state;
    const cw_rot_row bad[] = {
        { 4, 0, -1, CW_ROT_CLUMP, 1, 2, 1 },    { 0, 2, -1, CW_ROT_CLUMP, 1, 2, 1 },
        { 0, 0, -1, (cw_rot_stage)7, 1, 2, 1 }, { 0, 0, -1, CW_ROT_DIVISION, -1, 2, 1 },
        { 0, 0, -1, CW_ROT_DIVISION, 1, 2, 3 }, { 0, 0, -1, CW_ROT_DIVISION, 0, 2, 1 }
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        cw_rot_row rows[2] = { { 0, 0, -1, CW_ROT_CLUMP, 1, 2, 1 }, bad[i] };
        cw_rot_data d = { rows, 2, 4, 2, 1, 2, 0, NULL, NULL };
        cw_rot *r = NULL;
        cw_error err = CW_ERROR_NONE;
        assert_int_equal(cw_rot_fit(&d, NULL, &r, &err), CW_REFUSED);
        assert_null(r);
        assert_int_equal(err.row, 2);
    }
}

typedef struct cellar {
    const char *name;
    int varieties, seasons, worlds;
    double hazard, variety, season, cell, lot;
} cellar;

/* One cellar: past checks of lots, this season half of the lots checked once; then what nine weeks leave of fresh lots. */
static void one_cellar(const cellar *g, cw_rng *r, cw_test_coverage *c)
{
    cw_rot_row *rows = calloc((size_t)g->varieties * (size_t)g->seasons * 2, sizeof *rows);
    double *hazard = calloc((size_t)g->varieties, sizeof *hazard), season[16];
    assert_true(rows && hazard && g->seasons <= 16);
    size_t n = 0;
    for (int s = 0; s < g->seasons; s++)
        season[s] = g->season * cw_draw_normal(r);
    for (int v = 0; v < g->varieties; v++) {
        double own = g->variety * cw_draw_normal(r);
        for (int s = 0; s < g->seasons; s++) {
            double log_h = log(g->hazard) + own + season[s] + g->cell * cw_draw_normal(r);
            int checks = s == g->seasons - 1 ? (int)cw_rng_below(r, 2) : (int)cw_rng_below(r, 3);
            for (int k = 0; k < checks; k++) {
                double weeks = 2 + cw_rng_below(r, 9), h = exp(log_h + g->lot * cw_draw_normal(r));
                int64_t inspected = 15 + cw_rng_below(r, 80);
                rows[n++] = (cw_rot_row){ v,
                                          s,
                                          -1,
                                          CW_ROT_CLUMP,
                                          weeks,
                                          inspected,
                                          cw_draw_binomial(r, inspected, 1 - exp(-h * weeks)) };
            }
            hazard[v] = exp(log_h + g->lot * cw_draw_normal(r));
        }
    }
    cw_rot_data d = { rows, n, (size_t)g->varieties, (size_t)g->seasons, g->seasons - 1, 1, 0, NULL, NULL };
    cw_rot *rot = fit(&d);
    for (int v = 0; v < g->varieties; v++) {
        int64_t lot = 30 + cw_rng_below(r, 150), sound = cw_draw_binomial(r, lot, exp(-9 * hazard[v]));
        cw_test_cover(c, cw_test_rot_pit(cw_rot_latent(rot, CW_ROT_CLUMP), (size_t)v, lot, 9, sound, 400, r));
    }
    cw_rot_free(rot);
    free(rows);
    free(hazard);
}

static void test_coverage(void **state)
{
    (void)state;
    static const cellar cellars[] = {
        { "400 varieties, plain", 400, 7, 4, .006, .5, .3, 0, 0 },
        { "400 varieties, lots differ", 400, 7, 4, .006, .5, .3, .2, .4 },
        { "300 varieties, first season", 300, 1, 4, .004, .5, .3, 0, .3 },
        { "40 varieties, 3 seasons", 40, 3, 30, .01, .8, .4, .2, .5 },
    };
    print_message("seed %u\n", SEED);
    for (size_t k = 0; k < sizeof cellars / sizeof cellars[0]; k++) {
        cw_test_coverage c = { 0 };
        cw_rng r;
        cw_rng_init(&r, SEED, k);
        for (int i = 0; i < cellars[k].worlds; i++)
            one_cellar(&cellars[k], &r, &c);
        double n = c.n;
        print_message("%-28s %5d: 50 %%: %.3f  80 %%: %.3f  90 %%: %.3f\n", cellars[k].name, c.n, c.in50 / n,
                      c.in80 / n, c.in90 / n);
        cw_check_near(cellars[k].name, c.in80 / n, 0.8, 0.025 + 3 * 0.4 / sqrt(n));
        cw_check_near(cellars[k].name, c.in90 / n, 0.9, 0.020 + 3 * 0.3 / sqrt(n));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_hazard_is_found),
                                        cmocka_unit_test(test_more_rot_raises),
                                        cmocka_unit_test(test_refusals), cmocka_unit_test(test_coverage) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

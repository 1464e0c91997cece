/* SPDX-License-Identifier: MIT */
/* What the owner says of rot in a usual winter, as a prior of the hazards. Two normal laws of one mean become one: precisions add up and
 * the mean is weighed by them (Gelman et al., Bayesian Data Analysis, 3rd edition, section 2.5, from memory). All data are invented. */
#include "support/check.h"

#include "model/rot.h"

#include <math.h>

#include "base/banned.h"

enum { WEEKS = 24, VARIETIES = 10, SEASONS = 8 };

static cw_rot *fit(const cw_rot_data *d, const cw_rot *before)
{
    cw_rot *r = NULL;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_rot_fit(d, before, &r, &err), &err);
    return r;
}

static cw_rot_data nothing(double low, double high)
{
    return (cw_rot_data){ .varieties = VARIETIES,
                          .seasons = SEASONS,
                          .season = SEASONS - 1,
                          .threads = 1,
                          .own = { low, high, WEEKS } };
}

/* Clumps and divisions of each variety looked at once in each past season, at a hazard of `times` the priors'. */
static size_t seasons(double times, int count, cw_rot_row *out)
{
    size_t n = 0;
    for (int s = 0; s < count; s++)
        for (int v = 0; v < VARIETIES; v++)
            for (int k = 0; k < 2; k++) {
                double h = times * (k == 0 ? 0.006 : 0.004);
                out[n++] = (cw_rot_row){ v,
                                         s,
                                         -1,
                                         k == 0 ? CW_ROT_CLUMP : CW_ROT_DIVISION,
                                         10,
                                         400,
                                         (int64_t)round(400 * (1 - exp(-10 * h))) };
            }
    return n;
}

/* A mean clump and a mean division lie this much above the median of sds 0.4, 0.2 and 0.3. */
static double usual_risk(void)
{
    return (0.006 + 0.004) * WEEKS / 2 * exp((0.16 + 0.04 + 0.09) / 2);
}

static void test_two_normal_laws_become_one(void **state)
{
    (void)state;
    static const double ranges[][2] = { { 0.1, 0.25 }, { 0.3, 0.6 }, { 0.02, 0.05 }, { 0.2, 0.21 } };
    for (size_t i = 0; i < sizeof ranges / sizeof ranges[0]; i++) {
        cw_rot_data d = nothing(ranges[i][0], ranges[i][1]);
        cw_rot *r = fit(&d, NULL);
        double low = log(-log(1 - ranges[i][0]) / usual_risk()),
               high = log(-log(1 - ranges[i][1]) / usual_risk());
        /* qnorm(0.9) - qnorm(0.1) = 2.563103 */
        double sd = fmax(0.15, (high - low) / 2.563103);
        /* of the whole risk clumps make 0.6 and divisions 0.4: the two together know it by sd */
        double own = (0.36 + 0.16) / (sd * sd);
        cw_check_near("as sure as was said", sqrt((0.36 + 0.16) / own), sd, 1e-12);
        double middle = own / (1 + own) * (low + high) / 2;
        for (int k = 0; k < 2; k++) {
            const cw_mixed_report *say = cw_rot_report(r, (cw_rot_stage)k);
            cw_check_near("mean", say->hyper.intercept, log(k == 0 ? 0.006 : 0.004) + middle, 1e-4);
            cw_check_near("sd", say->intercept_sd, 1 / sqrt(1 + own), 1e-4);
        }
        cw_rot_usual usual = cw_rot_usual_winter(r);
        cw_check_near("share", usual.own_share, own / (1 + own), 1e-4);
        cw_check_near("lost", usual.lost, 1 - exp(-usual_risk() * exp(middle)), 1e-4);
        cw_check_near("without", usual.without, 1 - exp(-usual_risk()), 1e-4);
        cw_rot_free(r);
    }
}

static void test_wide_changes_little_narrow_wins(void **state)
{
    (void)state;
    cw_rot_data wide = nothing(0.001, 0.9), narrow = nothing(0.4, 0.42), none = nothing(0, 0);
    cw_rot *w = fit(&wide, NULL), *n = fit(&narrow, NULL), *o = fit(&none, NULL);
    cw_rot_usual of_wide = cw_rot_usual_winter(w), of_narrow = cw_rot_usual_winter(n),
                 of_none = cw_rot_usual_winter(o);
    assert_true(of_wide.own_share < 0.1 && fabs(of_wide.lost - of_wide.without) < 0.02);
    assert_true(of_narrow.own_share > 0.9 && of_narrow.lost > 0.36 && of_narrow.lost < 0.42);
    assert_true(of_none.own_share == 0 && of_none.without == of_none.lost);
    cw_check_near("the priors", of_none.lost, 1 - exp(-usual_risk()), 1e-6);
    cw_check_near("nothing said", cw_rot_report(o, CW_ROT_CLUMP)->hyper.intercept, log(0.006), 1e-12);
    cw_rot_free(w);
    cw_rot_free(n);
    cw_rot_free(o);
}

static void test_seasons_outweigh_it(void **state)
{
    (void)state;
    cw_rot_row rows[SEASONS * VARIETIES * 2];
    cw_rot_data said = nothing(0.3, 0.6), none = nothing(0, 0);
    double share = 1, off = INFINITY;
    for (int count = 1; count < SEASONS; count += 3) {
        said.rows = none.rows = rows;
        said.n_rows = none.n_rows = seasons(1, count, rows);
        cw_rot *with = fit(&said, NULL), *alone = fit(&none, NULL);
        cw_rot_usual usual = cw_rot_usual_winter(with);
        double moved = 0, risk = 0;
        for (int k = 0; k < 2; k++)
            moved = fmax(moved, fabs(cw_rot_report(with, (cw_rot_stage)k)->hyper.intercept -
                                     cw_rot_report(alone, (cw_rot_stage)k)->hyper.intercept));
        /* what is said to be expected without it is about what a fit without it says */
        for (int k = 0; k < 2; k++)
            risk += exp(cw_rot_report(alone, (cw_rot_stage)k)->hyper.intercept) * WEEKS / 2 * exp(0.145);
        cw_check_near("alone", cw_rot_usual_winter(alone).lost, 1 - exp(-risk), 1e-9);
        cw_check_near("without", usual.without / (1 - exp(-risk)), 1, 0.15);
        assert_true(usual.own_share < share && moved < off);
        share = usual.own_share;
        off = moved;
        cw_rot_free(with);
        cw_rot_free(alone);
    }
    if (share > 0.25 || off > 0.3)
        fail_msg("seven seasons leave it %.3f of what is known, and %.3f", share, off);
}

/* A kept fit is taken over as long as the same is said, and no longer. */
static void test_a_kept_fit_notices(void **state)
{
    (void)state;
    cw_rot_row rows[SEASONS * VARIETIES * 2];
    cw_rot_data d = nothing(0.1, 0.2);
    d.rows = rows;
    d.n_rows = seasons(1.5, 2, rows);
    cw_rot *first = fit(&d, NULL), *again = fit(&d, first);
    assert_ptr_equal(cw_rot_report(again, CW_ROT_CLUMP), cw_rot_report(first, CW_ROT_CLUMP));
    d.own = (cw_rot_own){ 0.3, 0.5, WEEKS };
    cw_rot *changed = fit(&d, again), *fresh = fit(&d, NULL);
    cw_check_near("as from nothing", cw_rot_usual_winter(changed).lost, cw_rot_usual_winter(fresh).lost,
                  1e-6);
    assert_true(cw_rot_usual_winter(changed).lost > 1.02 * cw_rot_usual_winter(first).lost);
    cw_rot_free(first);
    cw_rot_free(again);
    cw_rot_free(changed);
    cw_rot_free(fresh);
}

/* Rows that rot as the priors say are expected to. */
static void test_what_is_expected_of_rows(void **state)
{
    (void)state;
    const cw_rot_row row = { 0, 0, -1, CW_ROT_CLUMP, 10, 1000, 58 };
    cw_check_near("clumps", cw_rot_expected(&row), (1000 - 29) * 10 * 0.006 * exp(0.145), 1e-9);
    cw_check_near("a winter", cw_rot_lost(2, WEEKS), 1 - exp(-2 * usual_risk()), 1e-12);
}

static void test_refusals(void **state)
{
    (void)state;
    static const double bad[][2] = { { 0.3, 0.2 }, { -0.1, 0.2 }, { 0.2, 1 }, { 0.1, NAN } };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        cw_rot_data d = nothing(bad[i][0], bad[i][1]);
        cw_rot *r = NULL;
        cw_error err = CW_ERROR_NONE;
        assert_int_equal(cw_rot_fit(&d, NULL, &r, &err), CW_REFUSED);
        assert_null(r);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_two_normal_laws_become_one),
        cmocka_unit_test(test_wide_changes_little_narrow_wins),
        cmocka_unit_test(test_seasons_outweigh_it),
        cmocka_unit_test(test_a_kept_fit_notices),
        cmocka_unit_test(test_what_is_expected_of_rows),
        cmocka_unit_test(test_refusals),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

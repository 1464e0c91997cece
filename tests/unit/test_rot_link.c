/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "model/rot.h"
#include "model/rot_link.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

static double density_of(double rho, double u1, double u2, double q1, double h1, double q2, double h2)
{
    double c = 1 - rho * rho;
    return exp(-0.5 * (u1 * u1 - 2 * rho * u1 * u2 + u2 * u2) / c + h1 * u1 - 0.5 * q1 * u1 * u1 + h2 * u2 -
               0.5 * q2 * u2 * u2) /
           sqrt(c);
}

/* One season: rho's posterior and the covariance against plain sums over a grid of (u1, u2, rho). */
static void test_correlation_against_a_grid(void **state)
{
    (void)state;
    static const double cases[][4] = { { 3, 5, 2, 4 }, { 3, 5, 2, -4 }, { 0.1, 0, 8, 9 } };
    for (size_t k = 0; k < 3; k++) {
        double q1 = cases[k][0], h1 = cases[k][1], q2 = cases[k][2], h2 = cases[k][3], one = 1;
        cw_mixed_seasons told[2] = { { 1, &q1, &h1, &one }, { 1, &q2, &h2, &one } };
        double total = 0, sum = 0, rho, covariance;
        cw_error err = CW_ERROR_NONE;
        for (int i = 0; i < 30; i++) {
            double at = -0.5 + 0.05 * i, prior = exp(-0.5 * (at - 0.7) * (at - 0.7) / 0.04), mass = 0;
            for (double u1 = -7; u1 < 7; u1 += 0.05)
                for (double u2 = -7; u2 < 7; u2 += 0.05)
                    mass += density_of(at, u1, u2, q1, h1, q2, h2);
            total += prior * mass;
            sum += prior * mass * at;
        }
        cw_check_ok(cw_rot_correlate(told, &rho, &covariance, &err), &err);
        cw_check_near("rho", rho, sum / total, 1e-4);
        double m = 0, m1 = 0, m2 = 0, m12 = 0;
        for (double u1 = -7; u1 < 7; u1 += 0.05)
            for (double u2 = -7; u2 < 7; u2 += 0.05) {
                double p = density_of(rho, u1, u2, q1, h1, q2, h2);
                m += p, m1 += p * u1, m2 += p * u2, m12 += p * u1 * u2;
            }
        cw_check_near("covariance", covariance, m12 / m - m1 / m * (m2 / m), 1e-4);
    }
}

enum { VARIETIES = 12, SEASONS = 6, ROWS = 3 * VARIETIES * SEASONS };

/* Six seasons alike, but that in the last one clumps rot `worse` times as fast; of its divisions nobody has looked. */
static double division_hazard(double worse, double *clumps, double *tie)
{
    static cw_rot_row rows[ROWS];
    size_t n = 0;
    for (int s = 0; s < SEASONS; s++)
        for (int v = 0; v < VARIETIES; v++) {
            bool now = s == SEASONS - 1;
            int64_t rotten =
                (int64_t)round(200 * -expm1(-0.006 * (now ? worse : 1) * 8 * (1 + 0.2 * (s % 3 - 1))));
            rows[n++] = (cw_rot_row){ v, s, -1, CW_ROT_CLUMP, 8, 200, rotten };
            if (!now)
                rows[n++] = (cw_rot_row){ v, s, -1, CW_ROT_DIVISION, 8, 200, 6 + s % 3 };
        }
    cw_rot_data d = { rows, n, VARIETIES, SEASONS, SEASONS - 1, 1, 0, NULL, NULL };
    cw_rot *r = NULL;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_rot_fit(&d, NULL, &r, &err), &err);
    double mean[CW_ROT_STAGES] = { 0, 0 };
    for (int stage = 0; stage < CW_ROT_STAGES; stage++) {
        const cw_latent *l = cw_rot_latent(r, (cw_rot_stage)stage);
        for (size_t p = 0; p < l->points; p++)
            mean[stage] += l->point[p].weight * l->point[p].mean[0];
    }
    *clumps = mean[CW_ROT_CLUMP];
    *tie = cw_rot_tie(r);
    cw_rot_free(r);
    return mean[CW_ROT_DIVISION];
}

/* A year that is bad for clumps is expected to be bad for divisions, though less surely; and the two go together. */
static void test_a_bad_year_is_bad_for_both(void **state)
{
    (void)state;
    double clumps[2], tie, usual = division_hazard(1, &clumps[0], &tie),
                           bad = division_hazard(4, &clumps[1], &tie);
    print_message("clumps %+.2f, divisions %+.2f, tie %.3f\n", clumps[1] - clumps[0], bad - usual, tie);
    assert_true(clumps[1] - clumps[0] > 1.1);
    assert_true(bad - usual > 0.3 && bad - usual < clumps[1] - clumps[0]);
    assert_true(tie > 0);
}

/* What is open of a variety's hazard and of others' alike. */
static double shared_spread(const cw_latent *l)
{
    double square = 0;
    for (size_t p = 0; p < l->points; p++)
        for (size_t k = 0; k < l->shared; k++)
            square += l->point[p].weight * l->point[p].loading[k] * l->point[p].loading[k];
    return sqrt(square);
}

/* Both stages are looked at thoroughly, this season as well: what is left open of the two hazards cannot go together further
 * than it is open. (The season's effect itself stays open: intercept and season are told apart by few seasons.) */
static void test_what_is_known_is_not_tied(void **state)
{
    (void)state;
    static cw_rot_row rows[ROWS];
    size_t n = 0;
    for (int s = 0; s < SEASONS; s++)
        for (int v = 0; v < VARIETIES; v++)
            for (int stage = 0; stage < CW_ROT_STAGES; stage++) {
                double h = 0.006 * exp(0.3 * (s % 3 - 1) + 0.2 * (v % 3 - 1)) * 8;
                rows[n++] =
                    (cw_rot_row){ v, s, -1, (cw_rot_stage)stage, 8, 20000, (int64_t)(20000 * -expm1(-h)) };
            }
    cw_rot_data d = { rows, n, VARIETIES, SEASONS, SEASONS - 1, 1, 0, NULL, NULL };
    cw_rot *r = NULL;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_rot_fit(&d, NULL, &r, &err), &err);
    double clump = shared_spread(cw_rot_latent(r, CW_ROT_CLUMP)),
           division = shared_spread(cw_rot_latent(r, CW_ROT_DIVISION));
    print_message("sds %.4f and %.4f, tie %.6f\n", clump, division, cw_rot_tie(r));
    assert_true(fabs(cw_rot_tie(r)) < clump * division);
    cw_rot_free(r);
}

/* A refit of the same rows is the same pair, and rooms and reasons are told apart. */
static void test_rooms_and_reasons(void **state)
{
    (void)state;
    enum { N = 120 };
    static cw_rot_row rows[N];
    static cw_rot_look look[N];
    static int lot_room[N];
    for (int i = 0; i < N; i++) {
        int room = i % 2, why = i % 4 < 2 ? CW_ROT_DIVIDING : CW_ROT_SUSPICION;
        double h = 0.01 * (room ? 3 : 1) * (why == CW_ROT_SUSPICION ? 2 : 1);
        rows[i] = (cw_rot_row){ i % 10, 0, i, CW_ROT_CLUMP, 6, 300, (int64_t)round(300 * -expm1(-h * 6)) };
        look[i] = (cw_rot_look){ 0, (cw_rot_why)why, room };
        lot_room[i] = room;
    }
    cw_rot_data d = { rows, N, 10, 1, 0, 1, N, look, lot_room };
    cw_rot *r = NULL, *again = NULL;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_rot_fit(&d, NULL, &r, &err), &err);
    const cw_mixed_report *report = cw_rot_report(r, CW_ROT_CLUMP);
    cw_check_near("room", report->hyper.tilt[CW_ROT_TILT_ROOM + 1] - report->hyper.tilt[CW_ROT_TILT_ROOM],
                  log(3), 0.05);
    cw_check_near("suspicion", report->hyper.tilt[CW_ROT_TILT_SUSPICION], log(2), 0.05);
    const cw_latent_point *at = &cw_rot_latent(r, CW_ROT_CLUMP)->point[0];
    cw_check_near("a lot of the bad room", at->mean[1] + at->lot_mean[1], log(0.03), 0.1);
    cw_check_near("a lot of the good one", at->mean[0] + at->lot_mean[0], log(0.01), 0.1);
    cw_check_ok(cw_rot_fit(&d, r, &again, &err), &err);
    assert_ptr_equal(cw_rot_latent(again, CW_ROT_DIVISION), cw_rot_latent(r, CW_ROT_DIVISION));
    cw_rot_free(r);
    assert_true(isfinite(cw_rot_latent(again, CW_ROT_CLUMP)->point[0].mean[0]));
    cw_rot_free(again);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_correlation_against_a_grid),
                                        cmocka_unit_test(test_a_bad_year_is_bad_for_both),
                                        cmocka_unit_test(test_what_is_known_is_not_tied),
                                        cmocka_unit_test(test_rooms_and_reasons) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* SPDX-License-Identifier: MIT */
/* Whatever is in the rows, the rate and the rot answer: proper, converged, and the same for any order of rows and
 * number of threads. Sizes, counts and holes are drawn wildly. Prints its seed. */
#include "support/check.h"

#include "base/rng.h"
#include "model/rate.h"
#include "model/rot.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define SEED          97u
#define WORLDS        300
#define MAX_ROWS      60
#define MAX_VARIETIES 12

static double wild(cw_rng *r) /* 0, small, or huge */
{
    switch (cw_rng_below(r, 5)) {
    case 0:
        return 0;
    case 1:
        return 1;
    case 2:
        return cw_rng_below(r, 20);
    case 3:
        return cw_rng_below(r, 1000);
    default:
        return floor(exp(13 * cw_rng_uniform(r)));
    }
}

static void check_proper(const cw_latent *l)
{
    double total = 0;
    for (size_t p = 0; p < l->points; p++) {
        const cw_latent_point *at = &l->point[p];
        total += at->weight;
        assert_true(at->weight >= 0);
        if (at->weight == 0) /* a point too far off to matter */
            continue;
        assert_true(at->dispersion > 0 && at->lot_sd >= 0 && isfinite(at->lot_sd));
        for (size_t u = 0; u < l->units; u++) {
            assert_true(fabs(at->mean[u]) < 100);
            assert_true(at->own_sd[u] >= 0 && at->own_sd[u] < 100);
        }
        for (size_t k = 0; k < l->units * l->shared; k++)
            assert_true(fabs(at->loading[k]) < 100);
        for (size_t k = 0; k < l->lots; k++) {
            assert_true(fabs(at->lot_mean[k]) < 100 && at->lot_pull[k] >= 0 && at->lot_pull[k] <= 1);
            assert_true(at->lot_own_sd[k] >= 0 && at->lot_own_sd[k] <= at->lot_sd);
        }
    }
    cw_check_near("weights", total, 1, 1e-12);
}

static void check_same(const cw_latent *a, const cw_latent *b)
{
    assert_int_equal(a->points, b->points);
    for (size_t p = 0; p < a->points; p++) {
        cw_check_near("weight", a->point[p].weight, b->point[p].weight, 0);
        for (size_t u = 0; u < a->units; u++)
            cw_check_near("mean", a->point[p].mean[u], b->point[p].mean[u], 0);
    }
}

static void test_any_rate(void **state)
{
    (void)state;
    unsigned most = 0;
    print_message("seed %u\n", SEED);
    for (uint64_t i = 0; i < WORLDS; i++) {
        cw_rng r;
        cw_rng_init(&r, SEED, i);
        cw_rate_row rows[MAX_ROWS], turned[MAX_ROWS];
        int form[MAX_VARIETIES], size[MAX_VARIETIES];
        int64_t whole[MAX_VARIETIES];
        size_t n = cw_rng_below(&r, MAX_ROWS), v = 1 + cw_rng_below(&r, MAX_VARIETIES),
               s = 1 + cw_rng_below(&r, 4);
        for (size_t k = 0; k < v; k++) {
            form[k] = (int)cw_rng_below(&r, 4) - 1;
            size[k] = (int)cw_rng_below(&r, 3) - 1;
            whole[k] = (int64_t)(37 * i + 11 * k) % 60;
        }
        for (size_t k = 0; k < n; k++) {
            int64_t clumps = (int64_t)wild(&r), divisions = (int64_t)fmin(wild(&r), 200 * (double)clumps);
            rows[k] = (cw_rate_row){ (int)cw_rng_below(&r, (uint32_t)v), (int)cw_rng_below(&r, (uint32_t)s),
                                     (int)cw_rng_below(&r, 6) - 1, clumps, divisions };
            turned[n - 1 - k] = rows[k];
        }
        cw_rate_data d = { rows, n, v,    s,     3,    2,    (int)cw_rng_below(&r, (uint32_t)s), form, size,
                           1,    5, NULL, false, NULL, whole };
        cw_rate *a = NULL, *b = NULL;
        cw_error err = CW_ERROR_NONE;
        cw_check_ok(cw_rate_fit(&d, NULL, &a, &err), &err);
        d.rows = turned;
        d.threads = 3;
        cw_check_ok(cw_rate_fit(&d, NULL, &b, &err), &err);
        check_proper(cw_rate_latent(a));
        check_same(cw_rate_latent(a), cw_rate_latent(b));
        if (!cw_rate_report(a)->converged)
            fail_msg("world %u did not converge", (unsigned)i);
        most = cw_rate_report(a)->evaluations > most ? cw_rate_report(a)->evaluations : most;
        cw_rate_free(a);
        cw_rate_free(b);
    }
    print_message("most evaluations: %u\n", most);
}

static void test_any_rot(void **state)
{
    (void)state;
    unsigned most = 0;
    for (uint64_t i = 0; i < WORLDS; i++) {
        cw_rng r;
        cw_rng_init(&r, SEED + 1, i);
        cw_rot_row rows[MAX_ROWS];
        size_t n = cw_rng_below(&r, MAX_ROWS), v = 1 + cw_rng_below(&r, MAX_VARIETIES),
               s = 1 + cw_rng_below(&r, 4);
        for (size_t k = 0; k < n; k++) {
            int64_t inspected = (int64_t)wild(&r),
                    rotten = (int64_t)floor((double)(inspected + 1) * cw_rng_uniform(&r));
            if (cw_rng_below(&r, 3) == 0)
                rotten = cw_rng_below(&r, 2) ? inspected : 0;
            double weeks = cw_rng_uniform(&r) * (cw_rng_below(&r, 5) ? 12 : 300);
            rows[k] = (cw_rot_row){ (int)cw_rng_below(&r, (uint32_t)v),
                                    (int)cw_rng_below(&r, (uint32_t)s),
                                    (int)cw_rng_below(&r, 6) - 1,
                                    (cw_rot_stage)cw_rng_below(&r, 2),
                                    weeks,
                                    inspected,
                                    rotten };
        }
        cw_rot_data d = { rows, n, v, s, (int)cw_rng_below(&r, (uint32_t)s), 1, 5, NULL, NULL };
        cw_rot *a = NULL;
        cw_error err = CW_ERROR_NONE;
        cw_check_ok(cw_rot_fit(&d, NULL, &a, &err), &err);
        for (int stage = 0; stage < CW_ROT_STAGES; stage++) {
            const cw_mixed_report *report = cw_rot_report(a, (cw_rot_stage)stage);
            check_proper(cw_rot_latent(a, (cw_rot_stage)stage));
            if (!report->converged)
                fail_msg("world %u stage %d did not converge", (unsigned)i, stage);
            most = report->evaluations > most ? report->evaluations : most;
        }
        cw_rot_free(a);
    }
    print_message("most evaluations: %u\n", most);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_any_rate), cmocka_unit_test(test_any_rot) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* SPDX-License-Identifier: MIT */
/* A fit that follows another one in few varieties against one from nothing, over many sessions: within what mixed.h states. */
#include "support/check.h"

#include "base/rng.h"
#include "model/mixed.h"
#include "model/rot.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define VARIETIES 300
#define SEASONS   4
#define LOTS      VARIETIES /* of the last season: one a variety, by its number */
#define EACH      3         /* rows of a variety and season */
#define SESSIONS  40
#define ROWS      (VARIETIES * SEASONS * EACH)

typedef struct world {
    cw_mixed_row rows[ROWS + SESSIONS];
    cw_mixed_tilt tilt[ROWS + SESSIONS];
    int form[VARIETIES], size[VARIETIES];
    double variety[VARIETIES], season[SEASONS], share[VARIETIES];
    cw_mixed_data data;
    cw_rng rng;
} world;

static double normal(cw_rng *r)
{
    return sqrt(-2 * log(cw_rng_uniform(r))) * cos(2 * 3.14159265358979323846 * cw_rng_uniform(r));
}

static void add_row(world *w, int v, int s, double size, double off)
{
    size_t i = w->data.n_rows++;
    double e = w->variety[v] + w->season[s] + 0.15 * normal(&w->rng) + off;
    cw_mixed_row row = { v, s, s == SEASONS - 1 ? v : -1, size, 0, 0 };
    w->tilt[i] = (cw_mixed_tilt){ 0 };
    if (w->data.family == CW_MIXED_COUNT) {
        double mean = row.exposure * exp(1.2 + e);
        row.count = fmax(0, round(mean + sqrt(mean) * normal(&w->rng)));
        w->tilt[i].of[0] = 1;
        w->tilt[i].x[0] = cw_rng_uniform(&w->rng) - 0.5;
        if (s == SEASONS - 1) {
            w->tilt[i].of[1] = 2;
            w->tilt[i].x[1] = w->share[v];
        }
    } else {
        row.exposure = 2 + 8 * cw_rng_uniform(&w->rng);
        row.trials = size;
        double mean = row.trials * (1 - exp(-row.exposure * exp(-4.5 + e)));
        row.count = fmin(row.trials, fmax(0, round(mean + sqrt(mean) * normal(&w->rng))));
        w->tilt[i].age = 20 * cw_rng_uniform(&w->rng);
    }
    w->rows[i] = row;
}

/* More of a variety is cut: all its rows of the season lean on the new share. */
static void cut_more(world *w, int v)
{
    w->share[v] = 0.5 * (w->share[v] + 1);
    for (size_t i = 0; i < w->data.n_rows && w->data.family == CW_MIXED_COUNT; i++)
        if (w->rows[i].variety == v && w->rows[i].season == SEASONS - 1)
            w->tilt[i].x[1] = w->share[v];
}

static void draw(world *w, cw_mixed_family family, uint64_t seed)
{
    memset(w, 0, sizeof *w);
    cw_rng_init(&w->rng, seed, 3);
    w->data = (cw_mixed_data){ .family = family,
                               .rows = w->rows,
                               .varieties = VARIETIES,
                               .seasons = SEASONS,
                               .forms = 4,
                               .sizes = 3,
                               .form = w->form,
                               .size = w->size,
                               .lots = LOTS,
                               .tilt = w->tilt,
                               .variety_tilt = family == CW_MIXED_COUNT ? 2 : 0,
                               .variety_x = family == CW_MIXED_COUNT ? w->share : NULL };
    for (int v = 0; v < VARIETIES; v++) {
        w->form[v] = (int)cw_rng_below(&w->rng, 4);
        w->size[v] = (int)cw_rng_below(&w->rng, 3);
        w->variety[v] = 0.35 * normal(&w->rng);
        w->share[v] = (double)(1 + v % 4) / 4;
    }
    for (int s = 0; s < SEASONS; s++)
        w->season[s] = 0.15 * normal(&w->rng);
    for (int v = 0; v < VARIETIES; v++)
        for (int s = 0; s < SEASONS; s++)
            for (int k = 0; k < EACH; k++)
                add_row(w, v, s, 20 + cw_rng_below(&w->rng, 60), 0);
}

static cw_mixed_settings settings_of(cw_mixed_family family)
{
    return (cw_mixed_settings){ .mode = CW_MIXED_PREDICT,
                                .use = { true, true, true, true, true, true },
                                .dispersion = family == CW_MIXED_COUNT,
                                .sd_median = { 0.15, 0.15, 0.35, 0.15, 0.1, 0.1 },
                                .sd_spread = { 1, 1, 0.75, 0.75, 1, 1 },
                                .sd_limit = 1,
                                .phi_median = 1,
                                .phi_spread = 0.75,
                                .intercept_mean = family == CW_MIXED_COUNT ? 1.2 : -4.5,
                                .intercept_sd = 1,
                                .tilt_scale = { family == CW_MIXED_COUNT ? 0 : 0.15, 0.05, 0.05 },
                                .drift_median = 0.15,
                                .drift_spread = 1,
                                .season = SEASONS - 1,
                                .threads = 1 };
}

/* Mean and sd of a variety's predictor over the mixture; with a lot's effect if it has one. */
static void told(const cw_latent *l, size_t v, bool lot, double *mean, double *sd)
{
    double sum = 0, square = 0;
    for (size_t p = 0; p < l->points; p++) {
        const cw_latent_point *at = &l->point[p];
        const double *loading = cw_latent_loading(l, p, v);
        double keeps = lot ? 1 - at->lot_pull[v] : 1;
        double m = at->mean[v] + (lot ? at->lot_mean[v] : 0), own = at->own_sd[v] * at->own_sd[v];
        for (size_t k = 0; k < l->shared; k++)
            own += loading[k] * loading[k];
        own = own * keeps * keeps + (lot ? at->lot_own_sd[v] * at->lot_own_sd[v] : 0);
        sum += at->weight * m;
        square += at->weight * (m * m + own);
    }
    *mean = sum;
    *sd = sqrt(square - sum * sum);
}

/* The furthest mean, in sds of the whole fit, and the furthest sd, as a share of it. */
static void compare(const cw_latent *near, const cw_latent *whole, double *off, double *spread)
{
    *off = *spread = 0;
    for (size_t v = 0; v < VARIETIES; v++)
        for (int lot = 0; lot < 2; lot++) {
            double a, b, sd_a, sd_b;
            told(near, v, lot, &a, &sd_a);
            told(whole, v, lot, &b, &sd_b);
            *off = fmax(*off, fabs(a - b) / sd_b);
            *spread = fmax(*spread, fabs(sd_a / sd_b - 1));
        }
}

/* Forty sessions one after the other, each followed from the last fit and each fitted from nothing. */
static void sessions(cw_mixed_family family, size_t least_near)
{
    static world w;
    cw_mixed_settings s = settings_of(family);
    cw_mixed *before = NULL, *now = NULL, *whole = NULL;
    size_t near = 0;
    double off, spread, worst = 0, widest = 0;
    cw_error err = CW_ERROR_NONE;
    draw(&w, family, 11);
    cw_check_ok(cw_mixed_refit(&w.data, &s, NULL, &before, &err), &err);
    for (int i = 0; i < SESSIONS; i++) {
        /* often the same few varieties, as the cellar cuts what lies in front */
        int v = (int)cw_rng_below(&w.rng, i % 2 ? 3 : VARIETIES);
        cut_more(&w, v);
        add_row(&w, v, SEASONS - 1, 6 + cw_rng_below(&w.rng, 30), 0);
        cw_check_ok(cw_mixed_refit(&w.data, &s, before, &now, &err), &err);
        near += cw_mixed_is_near(now);
        assert_int_equal((int)cw_mixed_result(now)->rows, ROWS + i + 1);
        if (i % 5 == 4) {
            cw_check_ok(cw_mixed_fit(&w.data, &s, NULL, &whole, &err), &err);
            assert_false(cw_mixed_is_near(whole));
            compare(cw_mixed_latent(now), cw_mixed_latent(whole), &off, &spread);
            worst = fmax(worst, off);
            widest = fmax(widest, spread);
            for (size_t u = 0; u < VARIETIES; u += 7) {
                cw_mixed_why a, b;
                cw_mixed_explain(now, u, &a);
                cw_mixed_explain(whole, u, &b);
                assert_true(fabs(a.mean - b.mean) < 0.2 * sqrt(b.variance));
            }
            cw_mixed_free(whole);
        }
        cw_mixed_free(before);
        before = now;
    }
    print_message("%zu of %d near; means within %.3f sd, sds within %.3f\n", near, SESSIONS, worst, widest);
    assert_true(near >= least_near);
    assert_true(worst < CW_MIXED_NEAR);
    assert_true(widest < 0.05);
    cw_mixed_free(before);
}

static void test_counts(void **state)
{
    (void)state;
    sessions(CW_MIXED_COUNT, SESSIONS / 2);
}

static void test_hazards(void **state)
{
    (void)state;
    sessions(CW_MIXED_CLOGLOG, SESSIONS / 2);
}

/* With nothing but a count taken back and put in again it is the same; what is not near is fitted whole. */
static void test_limits(void **state)
{
    (void)state;
    static world w;
    cw_mixed_settings s = settings_of(CW_MIXED_COUNT);
    cw_mixed *base = NULL, *near = NULL, *again = NULL;
    cw_error err = CW_ERROR_NONE;
    draw(&w, CW_MIXED_COUNT, 5);
    for (size_t i = 0; i < ROWS; i++) /* a variety that has no tilt yet; others have it */
        w.tilt[i].of[0] = w.rows[i].variety == 4 ? 0 : 1;
    s.tilt_scale[3] = 0.05; /* and one that none has */
    cw_check_ok(cw_mixed_fit(&w.data, &s, NULL, &base, &err), &err);
    add_row(&w, 4, SEASONS - 1, 10, 0);
    cw_check_ok(cw_mixed_refit(&w.data, &s, base, &near, &err), &err);
    assert_true(cw_mixed_is_near(near));
    cw_check_ok(cw_mixed_refit(&w.data, &s, near, &again, &err), &err); /* nothing new */
    assert_ptr_equal(again, near);
    cw_mixed_free(again);
    double share = w.share[7]; /* said of a variety alone, not by a row */
    w.share[7] = 0.9;
    cw_check_ok(cw_mixed_refit(&w.data, &s, near, &again, &err), &err);
    assert_ptr_not_equal(again, near);
    cw_mixed_free(again);
    w.share[7] = share;
    s.whole = true;
    cw_check_ok(cw_mixed_refit(&w.data, &s, near, &again, &err), &err);
    assert_false(cw_mixed_is_near(again));
    cw_mixed_free(again);
    s.whole = false;
    w.tilt[ROWS].of[1] = 3;
    w.tilt[ROWS].x[1] = 1;
    cw_check_ok(cw_mixed_refit(&w.data, &s, near, &again, &err), &err);
    assert_false(cw_mixed_is_near(again));
    cw_mixed_free(again);
    w.data.n_rows--; /* taken back */
    cw_check_ok(cw_mixed_refit(&w.data, &s, near, &again, &err), &err);
    assert_ptr_equal(again, base);
    cw_mixed_free(again);
    add_row(&w, 4, SEASONS - 1, 5000, 3); /* twenty times what there ever was */
    cw_check_ok(cw_mixed_refit(&w.data, &s, near, &again, &err), &err);
    assert_false(cw_mixed_is_near(again));
    cw_mixed_free(again);
    w.data.n_rows--;
    for (int v = 0; v < VARIETIES / 10; v++) /* too many */
        add_row(&w, v, SEASONS - 1, 10, 0);
    cw_check_ok(cw_mixed_refit(&w.data, &s, near, &again, &err), &err);
    assert_false(cw_mixed_is_near(again));
    cw_mixed_free(again);
    w.data.n_rows -= VARIETIES / 10;
    w.rows[0].variety = VARIETIES; /* no variety: the error is that of a whole fit */
    assert_int_equal(cw_mixed_refit(&w.data, &s, near, &again, &err), CW_REFUSED);
    assert_int_equal((int)err.row, 1);
    cw_mixed_free(near);
    cw_mixed_free(base);
}

/* A session that says the whole season is better moves the varieties that it did not touch, and their lots, as far as a whole
 * fit does: the mean over them of what each moves by. */
static void test_others(void **state)
{
    (void)state;
    static world w;
    cw_mixed_settings s = settings_of(CW_MIXED_COUNT);
    cw_mixed *fit[3] = { NULL, NULL, NULL }; /* before, near, whole */
    cw_error err = CW_ERROR_NONE;
    enum { TOUCHED = 4 };
    draw(&w, CW_MIXED_COUNT, 5);
    for (int v = 0; v < VARIETIES; v++) /* little of this season yet */
        for (size_t i = 0; i < ROWS; i++)
            if (w.rows[i].season == SEASONS - 1 && w.rows[i].variety >= 9 * TOUCHED)
                w.rows[i].exposure = w.rows[i].count = 0;
    cw_check_ok(cw_mixed_fit(&w.data, &s, NULL, &fit[0], &err), &err);
    for (int v = 0; v < TOUCHED; v++)
        add_row(&w, v, SEASONS - 1, 20, 0.05);
    cw_check_ok(cw_mixed_refit(&w.data, &s, fit[0], &fit[1], &err), &err);
    assert_true(cw_mixed_is_near(fit[1]));
    cw_check_ok(cw_mixed_fit(&w.data, &s, NULL, &fit[2], &err), &err);
    for (int lot = 0; lot < 2; lot++) {
        double moved[2] = { 0, 0 }, sd;
        for (size_t v = TOUCHED; v < (lot ? 9 * TOUCHED : VARIETIES); v++)
            for (int k = 0; k < 2; k++) {
                double from, to;
                told(cw_mixed_latent(fit[0]), v, lot, &from, &sd);
                told(cw_mixed_latent(fit[k + 1]), v, lot, &to, &sd);
                moved[k] += to - from;
            }
        print_message("others moved by %g, of a whole fit %g\n", moved[0], moved[1]);
        assert_true(fabs(moved[1]) > (lot ? 0.003 : 0.1)); /* lots that were cut speak for themselves */
        assert_true(fabs(moved[0] / moved[1] - 1) < (lot ? 0.4 : 0.1));
    }
    for (int k = 0; k < 3; k++)
        cw_mixed_free(fit[k]);
}

static void compare_rot(cw_rot *near, cw_rot *whole, double *off, double *spread)
{
    for (int stage = 0; stage < CW_ROT_STAGES; stage++)
        for (size_t v = 0; v < VARIETIES; v++) {
            double a, b, sd_a, sd_b;
            told(cw_rot_latent(near, (cw_rot_stage)stage), v, false, &a, &sd_a);
            told(cw_rot_latent(whole, (cw_rot_stage)stage), v, false, &b, &sd_b);
            *off = fmax(*off, fabs(a - b) / sd_b);
            *spread = fmax(*spread, fabs(sd_a / sd_b - 1));
            cw_mixed_why x, y;
            cw_rot_explain(near, (cw_rot_stage)stage, v, &x);
            cw_rot_explain(whole, (cw_rot_stage)stage, v, &y);
            assert_true(fabs(x.mean - y.mean) < 0.5 * sqrt(y.variance)); /* of one point, and that may move */
        }
}

/* Both stages of rot, linked: each session is a look at clumps, so the clumps' fit follows and the divisions' is kept. */
static void test_rot(void **state)
{
    (void)state;
    static cw_rot_row rows[ROWS + SESSIONS];
    static cw_rot_look look[ROWS + SESSIONS];
    cw_rng r;
    cw_rng_init(&r, 17, 1);
    size_t n = 0;
    double usual[VARIETIES];
    for (int v = 0; v < VARIETIES; v++)
        usual[v] = 0.02 * exp(0.3 * normal(&r));
    for (; n < ROWS; n++) {
        int v = (int)(n % VARIETIES), s = (int)(n / VARIETIES % SEASONS);
        rows[n] = (cw_rot_row){ v,
                                s,
                                -1,
                                n / 7 % 3 == 0 ? CW_ROT_DIVISION : CW_ROT_CLUMP,
                                2 + 8 * cw_rng_uniform(&r),
                                40 + cw_rng_below(&r, 40),
                                0 };
        look[n] = (cw_rot_look){ .age = 12 * cw_rng_uniform(&r), .why = CW_ROT_ROUND, .room = -1 };
        double mean =
            (double)rows[n].inspected * (1 - exp(-rows[n].weeks * usual[v] * exp(0.3 * normal(&r))));
        rows[n].rotten = (int64_t)fmax(0, round(mean + sqrt(mean) * normal(&r)));
    }
    /* the divisions' rows alone are too few to follow: they are the same */
    cw_rot_data d = { .rows = rows,
                      .look = look,
                      .n_rows = n,
                      .varieties = VARIETIES,
                      .seasons = SEASONS,
                      .season = SEASONS - 1,
                      .threads = 1 };
    cw_rot *before = NULL, *now = NULL, *whole = NULL;
    double worst = 0, widest = 0;
    int near = 0;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_rot_fit(&d, NULL, &before, &err), &err);
    for (int i = 0; i < 12; i++) {
        look[d.n_rows] = (cw_rot_look){ .age = 5, .why = CW_ROT_DIVIDING, .room = -1 };
        rows[d.n_rows++] = (cw_rot_row){
            (int)cw_rng_below(&r, VARIETIES), SEASONS - 1, -1, CW_ROT_CLUMP, 8, 12, i % 3 == 0
        };
        cw_check_ok(cw_rot_fit(&d, before, &now, &err), &err);
        cw_rot_free(before);
        before = now;
        near += cw_rot_report(now, CW_ROT_CLUMP)->evaluations == 0; /* followed, not fitted */
        if (i % 4 != 3)
            continue;
        cw_check_ok(cw_rot_fit(&d, NULL, &whole, &err), &err);
        compare_rot(now, whole, &worst, &widest);
        cw_rot_free(whole);
    }
    assert_true(near >= 9);
    print_message("rot: means within %.3f sd, sds within %.3f\n", worst, widest);
    assert_true(worst < CW_MIXED_NEAR);
    assert_true(widest < 0.05);
    /* A divisions' fit that must be made whole takes the clumps' with it. */
    rows[0].inspected += 4000;
    rows[0].rotten += 3000;
    cw_check_ok(cw_rot_fit(&d, before, &now, &err), &err);
    assert_true(cw_rot_report(now, CW_ROT_CLUMP)->evaluations > 0);
    cw_rot_free(now);
    cw_rot_free(before);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_counts), cmocka_unit_test(test_hazards),
                                        cmocka_unit_test(test_limits), cmocka_unit_test(test_others),
                                        cmocka_unit_test(test_rot) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

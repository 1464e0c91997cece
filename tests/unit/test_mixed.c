/* SPDX-License-Identifier: MIT */
/* The mixed model's parts: gradient against differences, Laplace against quadrature, edges, and what must not matter. */
#include "support/mixed.h"
#include "support/check.h"

#include "base/rng.h"
#include "model/linear.h"
#include "model/optimum.h"

#include <math.h>
#include <string.h>

#define ROWS      400
#define VARIETIES 30
#define SEASONS   5

typedef struct world {
    cw_mixed_row rows[ROWS];
    int form[VARIETIES], size[VARIETIES];
    cw_mixed_data data;
} world;

static double normal(cw_rng *r)
{
    return sqrt(-2 * log(cw_rng_uniform(r))) * cos(2 * 3.14159265358979323846 * cw_rng_uniform(r));
}

/* Invented data of the model's kind, rounded means: what is tested is the arithmetic, not the fit. */
static void draw(world *w, cw_mixed_family family, uint64_t seed)
{
    cw_rng r;
    cw_rng_init(&r, seed, 7);
    double variety[VARIETIES], season[SEASONS];
    for (int v = 0; v < VARIETIES; v++) {
        w->form[v] = (int)cw_rng_below(&r, 4) - 1;
        w->size[v] = (int)cw_rng_below(&r, 3);
        variety[v] = 0.4 * normal(&r);
    }
    for (int s = 0; s < SEASONS; s++)
        season[s] = 0.2 * normal(&r);
    for (int i = 0; i < ROWS; i++) {
        int v = (int)cw_rng_below(&r, VARIETIES), s = (int)cw_rng_below(&r, SEASONS);
        double e = variety[v] + season[s] + 0.25 * normal(&r);
        cw_mixed_row row = { v, s, (int)cw_rng_below(&r, 4) - 1, 2 + cw_rng_below(&r, 12), 0, 0 };
        if (family == CW_MIXED_COUNT) {
            double mean = row.exposure * exp(1 + e);
            row.count = fmax(0, round(mean + sqrt(mean) * normal(&r)));
        } else {
            row.trials = 20 + cw_rng_below(&r, 60);
            double mean = row.trials * (1 - exp(-row.exposure * exp(-4 + e)));
            row.count = fmin(row.trials, fmax(0, round(mean + sqrt(mean) * normal(&r))));
        }
        w->rows[i] = row;
    }
    w->data =
        (cw_mixed_data){ family, w->rows, ROWS, VARIETIES, SEASONS, 3, 3, w->form, w->size, 0, NULL, NULL };
}

/* What somebody says of every third variety. */
static const cw_mixed_own *say(double mean)
{
    static cw_mixed_own own[VARIETIES];
    for (int v = 0; v < VARIETIES; v++)
        own[v] = v % 3 == 0 ? (cw_mixed_own){ mean + 0.1 * (v % 5), 9 } : (cw_mixed_own){ 0, 0 };
    return own;
}

/* Derivatives by symmetric differences at a point away from the optimum, all variables, both families and modes. */
static void test_gradient(void **state)
{
    (void)state;
    const struct {
        const char *name;
        cw_mixed_family family;
        cw_mixed_mode mode;
        bool expected, said;
    } cases[] = { { "counts, predict", CW_MIXED_COUNT, CW_MIXED_PREDICT, false, false },
                  { "counts, ML", CW_MIXED_COUNT, CW_MIXED_ML, false, false },
                  { "cloglog, predict", CW_MIXED_CLOGLOG, CW_MIXED_PREDICT, false, false },
                  { "cloglog, ML", CW_MIXED_CLOGLOG, CW_MIXED_ML, false, false },
                  { "cloglog, ML, expected", CW_MIXED_CLOGLOG, CW_MIXED_ML, true, false },
                  { "counts, said, predict", CW_MIXED_COUNT, CW_MIXED_PREDICT, false, true },
                  { "counts, said, ML", CW_MIXED_COUNT, CW_MIXED_ML, false, true },
                  { "cloglog, said, predict", CW_MIXED_CLOGLOG, CW_MIXED_PREDICT, false, true } };
    static world w;
    for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        cw_mixed_settings s = predict_settings();
        s.mode = cases[k].mode;
        s.expected_curvature = cases[k].expected;
        draw(&w, cases[k].family, 5);
        w.data.own = cases[k].said ? say(cases[k].family == CW_MIXED_COUNT ? 1.6 : -3.2) : NULL;
        w.data.n_rows = cases[k].said ? ROWS / 8 : ROWS; /* some varieties have nothing else */
        cw_mixed_hyper at = { .known = true,
                              .intercept = cases[k].family == CW_MIXED_COUNT ? 1.1 : -3.9,
                              .phi = 1.3,
                              .sd = { 0.21, 0.12, 0.3, 0.15, 0.2, 0.17 } };
        bool phi = cases[k].family == CW_MIXED_COUNT, intercept = s.mode == CW_MIXED_ML;
        size_t n = CW_TERMS + phi + intercept;
        double gradient[CW_MIXED_MAX], value, up, down, h = 1e-4;
        cw_error err = CW_ERROR_NONE;
        cw_check_ok(cw_mixed_density(&w.data, &s, &at, &value, gradient, &err), &err);
        for (size_t i = 0; i < n; i++) {
            cw_mixed_hyper a = at, b = at;
            if (i < CW_TERMS)
                a.sd[i] *= exp(h), b.sd[i] *= exp(-h);
            else if (i == CW_TERMS && phi)
                a.phi *= exp(h), b.phi *= exp(-h);
            else
                a.intercept += h, b.intercept -= h;
            cw_check_ok(cw_mixed_density(&w.data, &s, &a, &up, NULL, &err), &err);
            cw_check_ok(cw_mixed_density(&w.data, &s, &b, &down, NULL, &err), &err);
            print_message("%s %zu: %.7f %.7f\n", cases[k].name, i, gradient[i], (up - down) / (2 * h));
            cw_check_near(cases[k].name, gradient[i], (up - down) / (2 * h), 2e-6);
        }
    }
}

static void same_latent(const char *what, const cw_latent *a, const cw_latent *b, double tolerance)
{
    assert_int_equal(a->units, b->units);
    assert_int_equal(a->points, b->points);
    for (size_t p = 0; p < a->points; p++) {
        cw_check_near(what, a->point[p].weight, b->point[p].weight, tolerance);
        cw_check_near(what, a->point[p].dispersion, b->point[p].dispersion, tolerance);
        for (size_t u = 0; u < a->units; u++) {
            cw_check_near(what, a->point[p].mean[u], b->point[p].mean[u], tolerance);
            cw_check_near(what, a->point[p].own_sd[u], b->point[p].own_sd[u], tolerance);
            for (size_t k = 0; k < a->shared; k++)
                cw_check_near(what, a->point[p].loading[u * a->shared + k],
                              b->point[p].loading[u * b->shared + k], tolerance);
        }
    }
}

/* The same with tilts and drifting seasons, and a season of which another fit tells: variables after those above. */
static void test_gradient_of_tilts(void **state)
{
    (void)state;
    static world w;
    static cw_mixed_tilt tilt[ROWS];
    for (int family = CW_MIXED_COUNT; family <= CW_MIXED_CLOGLOG; family++) {
        bool counts = family == CW_MIXED_COUNT;
        cw_mixed_settings s = predict_settings();
        draw(&w, (cw_mixed_family)family, 8);
        for (int i = 0; i < ROWS; i++)
            tilt[i] = (cw_mixed_tilt){ .age = i % 3,
                                       .of = { i % 4 == 0 ? 2 : 0, 3 * (i % 2) },
                                       .x = { 1, 0.1 * (i % 7) } };
        w.data.tilt = tilt;
        s.tilt_scale[CW_TILT_AGE] = s.tilt_scale[2] = s.tilt_scale[3] = 0.3;
        s.drift_median = 0.2;
        s.drift_spread = 1;
        cw_mixed_hyper at = { .known = true,
                              .phi = 1.3,
                              .drift = 0.5,
                              .tilt = { counts ? 0 : 0.3, 0, 0.2, -0.1 },
                              .sd = { 0.21, 0.12, 0.3, 0.15, 0.2, 0.17 } };
        size_t drift = CW_TERMS + counts, tilts[3] = { CW_TILT_AGE, 2, 3 }, none = counts ? 1 : 0;
        double gradient[CW_MIXED_MAX], value, up, down, h = 1e-4;
        cw_error err = CW_ERROR_NONE;
        cw_check_ok(cw_mixed_density(&w.data, &s, &at, &value, gradient, &err), &err);
        for (size_t i = CW_TERM_SEASON; i < drift + 1 + 3 - none; i++) {
            cw_mixed_hyper a = at, b = at;
            if (i < CW_TERMS)
                a.sd[i] *= exp(h), b.sd[i] *= exp(-h);
            else if (i < drift)
                a.phi *= exp(h), b.phi *= exp(-h);
            else if (i == drift)
                a.drift *= exp(h), b.drift *= exp(-h);
            else {
                size_t k = tilts[i - drift - 1 + none];
                a.tilt[k] += CW_TILT_SCALE * h, b.tilt[k] -= CW_TILT_SCALE * h;
            }
            cw_check_ok(cw_mixed_density(&w.data, &s, &a, &up, NULL, &err), &err);
            cw_check_ok(cw_mixed_density(&w.data, &s, &b, &down, NULL, &err), &err);
            print_message("%s %zu: %.7f %.7f\n", counts ? "counts" : "cloglog", i, gradient[i],
                          (up - down) / (2 * h));
            cw_check_near("gradient", gradient[i], (up - down) / (2 * h), 5e-6);
        }
    }
}

static cw_mixed *fit_of(const cw_mixed_data *d, const cw_mixed_settings *s, const cw_mixed_hyper *start)
{
    cw_mixed *f = NULL;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_mixed_fit(d, s, start, &f, &err), &err);
    assert_true(cw_mixed_result(f)->converged);
    return f;
}

/* The order of rows and the number of threads change nothing, to the last bit; a warm start neither. */
static void test_what_must_not_matter(void **state)
{
    (void)state;
    static world w;
    for (int family = CW_MIXED_COUNT; family <= CW_MIXED_CLOGLOG; family++) {
        cw_mixed_settings s = predict_settings();
        draw(&w, (cw_mixed_family)family, 11);
        s.season = 4;
        cw_mixed *plain = fit_of(&w.data, &s, NULL);
        cw_mixed_hyper optimum = cw_mixed_result(plain)->hyper;
        cw_rng r;
        cw_rng_init(&r, 3, 3);
        for (size_t i = ROWS - 1; i > 0; i--) {
            size_t j = cw_rng_below(&r, (uint32_t)i + 1);
            cw_mixed_row t = w.rows[i];
            w.rows[i] = w.rows[j];
            w.rows[j] = t;
        }
        cw_mixed *shuffled = fit_of(&w.data, &s, NULL);
        same_latent("shuffled rows", cw_mixed_latent(shuffled), cw_mixed_latent(plain), 0);
        s.threads = 5;
        cw_mixed *threaded = fit_of(&w.data, &s, NULL);
        same_latent("five threads", cw_mixed_latent(threaded), cw_mixed_latent(plain), 0);
        cw_mixed *warm = fit_of(&w.data, &s, &optimum);
        same_latent("warm start", cw_mixed_latent(warm), cw_mixed_latent(plain), 0);
        for (int k = 0; k < CW_TERMS; k++)
            optimum.sd[k] *= k % 2 ? 1.7 : 0.6;
        optimum.phi *= 1.4;
        cw_mixed *lost = fit_of(&w.data, &s, &optimum);
        same_latent("start from elsewhere", cw_mixed_latent(lost), cw_mixed_latent(plain), 0);
        cw_mixed_free(plain);
        cw_mixed_free(shuffled);
        cw_mixed_free(threaded);
        cw_mixed_free(warm);
        cw_mixed_free(lost);
    }
}

/* Every row of a lot cut in two with the same total: Poisson and cloglog likelihoods know sums only, so without a
 * dispersion to learn nothing may change. */
static void test_splitting_rows(void **state)
{
    (void)state;
    static world w;
    static cw_mixed_row twice[2 * ROWS];
    for (int family = CW_MIXED_COUNT; family <= CW_MIXED_CLOGLOG; family++) {
        cw_mixed_settings s = predict_settings();
        s.dispersion = false;
        draw(&w, (cw_mixed_family)family, 23);
        for (size_t i = 0; i < ROWS; i++) {
            w.rows[i].lot = (int)i;
            cw_mixed_row a = w.rows[i], b = w.rows[i];
            a.count = floor(a.count / 3), b.count -= a.count;
            if (family == CW_MIXED_COUNT)
                a.exposure = 1, b.exposure -= 1;
            else
                a.trials = floor(a.trials / 2) + 1, b.trials -= a.trials;
            a.count = fmin(a.count, family == CW_MIXED_COUNT ? a.count : a.trials);
            b.count = w.rows[i].count - a.count;
            if (family == CW_MIXED_CLOGLOG && b.count > b.trials) {
                a.count += b.count - b.trials;
                b.count = b.trials;
            }
            twice[2 * i] = a;
            twice[2 * i + 1] = b;
        }
        cw_mixed *whole = fit_of(&w.data, &s, NULL);
        w.data.rows = twice;
        w.data.n_rows = 2 * ROWS;
        cw_mixed *split = fit_of(&w.data, &s, NULL);
        same_latent("split rows", cw_mixed_latent(split), cw_mixed_latent(whole), 1e-9);
        cw_mixed_free(whole);
        cw_mixed_free(split);
    }
}

static void check_proper(const char *name, const cw_latent *l)
{
    double total = 0;
    for (size_t p = 0; p < l->points; p++) {
        total += l->point[p].weight;
        assert_true(l->point[p].dispersion > 0);
        for (size_t u = 0; u < l->units; u++) {
            assert_true(isfinite(l->point[p].mean[u]));
            assert_true(l->point[p].own_sd[u] > 0 && l->point[p].own_sd[u] < 20);
            for (size_t k = 0; k < l->shared; k++)
                assert_true(isfinite(l->point[p].loading[u * l->shared + k]));
        }
    }
    cw_check_near(name, total, 1, 1e-12);
}

static void test_edges(void **state)
{
    (void)state;
    static const int unknown[3] = { -1, -1, -1 }, known[3] = { 0, 0, 1 };
    const struct {
        const char *name;
        cw_mixed_row rows[3];
        size_t n, varieties, seasons;
        const int *form;
    } cases[] = {
        { "no rows", { { 0, 0, 0, 0, 0, 0 } }, 0, 3, 2, known },
        { "no varieties", { { 0, 0, 0, 0, 0, 0 } }, 0, 0, 1, known },
        { "one row", { { 0, 0, -1, 10, 100, 50 } }, 1, 1, 1, unknown },
        { "all zeros",
          { { 0, 0, -1, 10, 100, 0 }, { 1, 0, 1, 20, 200, 0 }, { 1, 1, -1, 5, 10, 0 } },
          3,
          3,
          2,
          known },
        { "all there is",
          { { 0, 0, -1, 10, 100, 100 }, { 1, 0, 1, 20, 200, 200 }, { 1, 1, -1, 5, 10, 10 } },
          3,
          3,
          2,
          known },
        { "one huge lot", { { 0, 0, -1, 1e6, 1e7, 5e6 }, { 1, 1, -1, 1, 2, 1 } }, 2, 3, 2, known },
        { "nothing inspected", { { 0, 0, -1, 10, 0, 0 }, { 1, 1, -1, 0, 0, 0 } }, 2, 3, 2, unknown },
        { "no forms", { { 0, 0, -1, 10, 100, 30 }, { 1, 1, -1, 10, 100, 90 } }, 2, 3, 2, NULL },
    };
    for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++)
        for (int family = CW_MIXED_COUNT; family <= CW_MIXED_CLOGLOG; family++) {
            cw_mixed_settings s = predict_settings();
            if (family == CW_MIXED_CLOGLOG)
                s.intercept_mean = -5;
            cw_mixed_data d = { (cw_mixed_family)family,
                                cases[k].rows,
                                cases[k].n,
                                cases[k].varieties,
                                cases[k].seasons,
                                2,
                                0,
                                cases[k].form,
                                NULL,
                                0,
                                NULL,
                                NULL };
            cw_mixed *f = fit_of(&d, &s, NULL);
            check_proper(cases[k].name, cw_mixed_latent(f));
            cw_mixed_free(f);
        }
}

/* Without rows all is normal, so what comes of the prior and of what is said is known exactly; with many rows of a variety
 * hardly anything of what is said is left. */
static void test_what_is_said(void **state)
{
    (void)state;
    static world w;
    cw_error err = CW_ERROR_NONE;
    cw_mixed *f = NULL;
    cw_mixed_why why;
    cw_mixed_settings s = predict_settings();
    cw_mixed_own own[VARIETIES] = { { 0 } };
    own[4] = (cw_mixed_own){ 1.9, 4 };
    for (int k = 0; k < CW_TERMS; k++)
        s.sd_spread[k] = 1e-4; /* known: the answer is that of the report's sds */
    draw(&w, CW_MIXED_COUNT, 5);
    w.data.own = own;
    w.data.n_rows = 0;
    cw_check_ok(cw_mixed_fit(&w.data, &s, NULL, &f, &err), &err);
    const cw_mixed_hyper *h = &cw_mixed_result(f)->hyper;
    double before = s.intercept_sd * s.intercept_sd, now = 0;
    for (int k = 0; k < CW_TERM_SEASON; k++)
        before += h->sd[k] * h->sd[k];
    now = h->sd[CW_TERM_SEASON] * h->sd[CW_TERM_SEASON] + h->sd[CW_TERM_CELL] * h->sd[CW_TERM_CELL];
    double kept = 0.25 / (before + 0.25);
    cw_mixed_explain(f, 4, &why);
    cw_check_near("mean", why.mean, 1.9 + kept * (s.intercept_mean - 1.9), 1e-9);
    cw_check_near("usual", why.usual, why.mean, 1e-9);
    cw_check_near("variance of a usual season", why.usual_variance, before * kept, 1e-9);
    cw_check_near("variance", why.variance, before * kept + now, 1e-9);
    cw_mixed_explain(f, 5, &why); /* another one, which learns of the level only */
    assert_true(why.mean > s.intercept_mean && why.mean < 1.9);
    cw_mixed_free(f);
    cw_mixed_row many = { 4, 0, 1, 4000, 0, 4000 * exp(1.2) };
    w.data.rows = &many;
    w.data.n_rows = 1;
    cw_check_ok(cw_mixed_fit(&w.data, &s, NULL, &f, &err), &err);
    cw_mixed_explain(f, 4, &why);
    assert_true(why.usual > 1.2 && why.usual < 1.6);
    cw_mixed_free(f);
}

static void test_refusals(void **state)
{
    (void)state;
    const struct {
        const char *column;
        cw_mixed_row row;
    } cases[] = { { "variety", { 3, 0, 0, 1, 1, 1 } },     { "variety", { -1, 0, 0, 1, 1, 1 } },
                  { "season", { 0, 2, 0, 1, 1, 1 } },      { "exposure", { 0, 0, 0, -1, 1, 1 } },
                  { "exposure", { 0, 0, 0, NAN, 1, 1 } },  { "count", { 0, 0, 0, 1, 1, -2 } },
                  { "trials", { 0, 0, 0, 1, 1, 2 } },      { "exposure", { 0, 0, 0, 0, 1, 1 } },
                  { "count", { 0, 0, 0, 1, 1, INFINITY } } };
    for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        cw_mixed_row rows[2] = { { 0, 0, 0, 1, 1, 1 }, cases[k].row };
        cw_mixed_settings s = predict_settings();
        cw_mixed_data d = { CW_MIXED_CLOGLOG, rows, 2, 3, 2, 0, 0, NULL, NULL, 0, NULL, NULL };
        cw_mixed *f = NULL;
        cw_error err = CW_ERROR_NONE;
        assert_int_equal(cw_mixed_fit(&d, &s, NULL, &f, &err), CW_REFUSED);
        assert_null(f);
        assert_int_equal(err.row, 2);
        assert_string_equal(err.column, cases[k].column);
    }
}

static double hump(void *context, const double *x, double *gradient)
{
    (void)context;
    /* Rosenbrock's valley upside down; the top is 0 at (1, 1). */
    double a = 1 - x[0], b = x[1] - x[0] * x[0];
    gradient[0] = 2 * a + 400 * b * x[0];
    gradient[1] = -200 * b;
    return -(a * a + 100 * b * b);
}

static void test_optimum(void **state)
{
    (void)state;
    cw_optimum o = {
        .n = 2, .tolerance = 1e-14, .longest = 1, .most = 300, .x = { -1.2, 1 }, .inverse = { 1, 0, 0, 1 }
    };
    cw_optimum_climb(&o, hump, NULL);
    assert_true(o.converged);
    cw_check_near("x", o.x[0], 1, 1e-6);
    cw_check_near("y", o.x[1], 1, 1e-6);
}

static void test_linear(void **state)
{
    (void)state;
    double s[9] = { 4, 1, -2, 1, 3, 0.5, -2, 0.5, 5 }, l[9], inverse_factor[9], inverse[9], value[3],
           vector[9];
    memcpy(l, s, sizeof s);
    assert_true(cw_cholesky(l, 3));
    cw_cholesky_invert_factor(l, 3, inverse_factor);
    cw_cholesky_inverse(inverse_factor, 3, inverse);
    memcpy(l, s, sizeof s);
    cw_symmetric_axes(l, 3, value, vector);
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++) {
            double product = 0, rebuilt = 0;
            for (int k = 0; k < 3; k++) {
                product += s[i * 3 + k] * inverse[k * 3 + j];
                rebuilt += value[k] * vector[k * 3 + i] * vector[k * 3 + j];
            }
            cw_check_near("S S^-1", product, i == j, 1e-14);
            cw_check_near("sum of axes", rebuilt, s[i * 3 + j], 1e-13);
        }
    double bad[4] = { 1, 2, 2, 1 };
    assert_false(cw_cholesky(bad, 2));
}

/* Data that say the same keep their fit, in any order of rows; a row more does not. */
static void test_refit(void **state)
{
    (void)state;
    static world w;
    for (int family = CW_MIXED_COUNT; family <= CW_MIXED_CLOGLOG; family++) {
        cw_mixed_settings s = predict_settings();
        cw_mixed *again = NULL, *less = NULL;
        cw_error err = CW_ERROR_NONE;
        draw(&w, (cw_mixed_family)family, 31);
        cw_mixed *first = fit_of(&w.data, &s, NULL);
        cw_mixed_row t = w.rows[0];
        w.rows[0] = w.rows[ROWS - 1];
        w.rows[ROWS - 1] = t;
        cw_check_ok(cw_mixed_refit(&w.data, &s, first, &again, &err), &err);
        assert_ptr_equal(again, first);
        w.data.n_rows--;
        cw_check_ok(cw_mixed_refit(&w.data, &s, first, &less, &err), &err);
        assert_ptr_not_equal(less, first);
        cw_mixed_free(first); /* the other holder still has it */
        cw_mixed *cold = fit_of(&w.data, &s, NULL);
        same_latent("after an earlier fit", cw_mixed_latent(less), cw_mixed_latent(cold), 0);
        assert_true(cw_mixed_result(again)->rows == cw_mixed_result(less)->rows + 1);
        cw_mixed_free(again);
        cw_mixed_free(less);
        cw_mixed_free(cold);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_linear),
        cmocka_unit_test(test_optimum),
        cmocka_unit_test(test_gradient),
        cmocka_unit_test(test_gradient_of_tilts),
        cmocka_unit_test(test_what_is_said),
        cmocka_unit_test(test_edges),
        cmocka_unit_test(test_refusals),
        cmocka_unit_test(test_splitting_rows),
        cmocka_unit_test(test_what_must_not_matter),
        cmocka_unit_test(test_refit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

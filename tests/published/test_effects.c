/* SPDX-License-Identifier: MIT */
/* The mixed model against published answers of its closest relatives, and its promises on real counts.
 *
 * Pumps: Gaver & O'Muircheartaigh 1987, Technometrics 29:1. Gamma-Poisson posterior means at the marginal maximum,
 *   computed with mpmath (40 digits). Rats: Tarone 1982, Biometrics 38:215, table 5.1 of Bayesian Data Analysis;
 *   beta-binomial marginal maximum, computed likewise. Our effects are log-normal instead of gamma or beta, so the answers
 *   must be near, not equal: nearer the more a group was counted.
 * Potato and sweet potato: data/, International Potato Center (see data/README.md). */
#include "support/check.h"
#include "support/predictive.h"

#include "base/csv.h"
#include "model/mixed.h"
#include "model/rate.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define MAX_PLOTS 1000

static cw_mixed *fit_groups(cw_mixed_family family, const cw_mixed_row *rows, size_t n)
{
    cw_mixed_data d = { family, rows, n, n, 1, 0, 0, NULL, NULL, 0, NULL, NULL };
    cw_mixed_settings s = { .mode = CW_MIXED_ML, .use = { [CW_TERM_VARIETY] = true }, .threads = 1 };
    cw_mixed *f = NULL;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_mixed_fit(&d, &s, NULL, &f, &err), &err);
    assert_true(cw_mixed_result(f)->converged);
    return f;
}

static void test_pumps(void **state)
{
    (void)state;
    static const struct {
        double failures, time, posterior, tolerance;
    } pumps[] = { { 5, 94.320, 0.0609158018478, 0.06 }, { 1, 15.720, 0.107325139234, 0.20 },
                  { 5, 62.880, 0.0907758584501, 0.06 }, { 14, 125.760, 0.116693360567, 0.03 },
                  { 3, 5.240, 0.588135935248, 0.12 },   { 19, 31.440, 0.606204968542, 0.03 },
                  { 1, 1.048, 0.789902312516, 0.25 },   { 1, 1.048, 0.789902312516, 0.25 },
                  { 4, 2.096, 1.43735741605, 0.12 },    { 22, 10.480, 1.94414832767, 0.04 } };
    cw_mixed_row rows[10];
    for (int i = 0; i < 10; i++)
        rows[i] = (cw_mixed_row){ i, 0, -1, pumps[i].time, 0, pumps[i].failures };
    cw_mixed *f = fit_groups(CW_MIXED_COUNT, rows, 10);
    const cw_latent_point *p = &cw_mixed_latent(f)->point[0];
    print_message("log-likelihood %.4f, gamma mixing -32.2631\n", cw_mixed_result(f)->log_likelihood);
    cw_check_near("log-likelihood near the gamma mixture's", cw_mixed_result(f)->log_likelihood,
                  -32.26306704495239, 0.03);
    for (int i = 0; i < 10; i++) {
        char what[32];
        double mean = exp(p->mean[i] + 0.5 * p->own_sd[i] * p->own_sd[i]);
        snprintf(what, sizeof what, "pump %d", i + 1);
        print_message("%s: %.5f, gamma %.5f (%+.1f %%)\n", what, mean, pumps[i].posterior,
                      100 * (mean / pumps[i].posterior - 1));
        cw_check_relative(what, mean, pumps[i].posterior, pumps[i].tolerance);
    }
    cw_mixed_free(f);
}

static void test_rats(void **state)
{
    (void)state;
    static const int y[71] = { 0, 0, 0, 0,  0, 0, 0, 0, 0,  0,  0, 0, 0, 0, 1, 1, 1, 1, 1,  1,  1,  1, 2, 2,
                               2, 2, 2, 2,  2, 2, 2, 1, 5,  2,  5, 3, 2, 7, 7, 3, 3, 2, 9,  10, 4,  4, 4, 4,
                               4, 4, 4, 10, 4, 4, 4, 5, 11, 12, 5, 5, 6, 5, 6, 6, 6, 6, 16, 15, 15, 9, 4 };
    static const int n[71] = { 20, 20, 20, 20, 20, 20, 20, 19, 19, 19, 19, 18, 18, 17, 20, 20, 20, 20,
                               19, 19, 18, 18, 25, 24, 23, 20, 20, 20, 20, 20, 20, 10, 49, 19, 46, 27,
                               17, 49, 47, 20, 20, 13, 48, 50, 20, 20, 20, 20, 20, 20, 20, 48, 19, 19,
                               19, 22, 46, 49, 20, 20, 23, 19, 22, 20, 20, 20, 52, 46, 47, 24, 14 };
    cw_mixed_row rows[71];
    int tumours = 0, rats = 0;
    for (int i = 0; i < 71; i++) {
        rows[i] = (cw_mixed_row){ i, 0, -1, 1, n[i], y[i] };
        tumours += y[i];
        rats += n[i];
    }
    assert_int_equal(tumours, 267); /* the published sums guard the typing above */
    assert_int_equal(rats, 1739);
    cw_mixed *f = fit_groups(CW_MIXED_CLOGLOG, rows, 71);
    const cw_latent_point *p = &cw_mixed_latent(f)->point[0];
    double log_likelihood = cw_mixed_result(f)->log_likelihood, mean = 0, square = 0, step = 0.01, total = 0;
    for (double z = -8; z <= 8;
         z += step) { /* P(tumour) in the last group: its mean and sd over the normal eta */
        double chance = -expm1(-exp(p->mean[70] + p->own_sd[70] * z)), weight = exp(-0.5 * z * z);
        total += weight;
        mean += weight * chance;
        square += weight * chance * chance;
    }
    mean /= total;
    double sd = sqrt(square / total - mean * mean);
    print_message(
        "rats: log-likelihood %.3f (beta -156.569), last group %.4f sd %.4f (beta 0.2082, 0.0724)\n",
        log_likelihood, mean, sd);
    cw_check_near("log-likelihood near the beta mixture's", log_likelihood, -156.568929883229, 0.02);
    cw_check_relative("posterior mean of the last group", mean, 0.208219307248, 0.05);
    cw_check_relative("posterior sd of the last group", sd, 0.0723949569013, 0.10);
    cw_mixed_free(f);
}

typedef struct plot {
    char variety[40], season[8], form[16];
    int block;
    int64_t clumps, divisions;
    cw_rate_row row;
} plot;

typedef struct trial {
    plot plots[MAX_PLOTS];
    size_t n, varieties, forms;
    int form[MAX_PLOTS];
} trial;

static void copy_field(const cw_field *f, char *to, size_t size)
{
    size_t n = f->n < size ? f->n : size - 1;
    memcpy(to, f->s, n);
    to[n] = 0;
}

static int64_t whole(const cw_field *f)
{
    char text[32];
    copy_field(f, text, sizeof text);
    return strtoll(text, NULL, 10);
}

static void number_plots(trial *t)
{
    for (size_t i = 0; i < t->n; i++) {
        t->plots[i].row.variety = -1;
        for (size_t j = 0; j < i && t->plots[i].row.variety < 0; j++)
            if (strcmp(t->plots[j].variety, t->plots[i].variety) == 0)
                t->plots[i].row.variety = t->plots[j].row.variety;
        if (t->plots[i].row.variety < 0)
            t->plots[i].row.variety = (int)t->varieties++;
        t->form[t->plots[i].row.variety] = -1;
        for (size_t j = 0; j < i; j++)
            if (strcmp(t->plots[j].form, t->plots[i].form) == 0)
                t->form[t->plots[i].row.variety] = t->form[t->plots[j].row.variety];
        if (t->form[t->plots[i].row.variety] < 0)
            t->form[t->plots[i].row.variety] = (int)t->forms++;
    }
}

static void read_trial(const char *file, const cw_csv_column *columns, trial *t)
{
    char path[512];
    int map[6];
    bool more = true;
    cw_csv *csv = NULL;
    cw_error err = CW_ERROR_NONE;
    snprintf(path, sizeof path, CW_TEST_DIR "/published/data/%s", file);
    memset(t, 0, sizeof *t);
    cw_check_ok(cw_csv_open(path, &csv, &err), &err);
    cw_check_ok(cw_csv_header(csv, columns, 6, true, map, &err), &err);
    for (;;) {
        cw_check_ok(cw_csv_next(csv, &more, &err), &err);
        if (!more)
            break;
        const cw_field *f = cw_csv_fields(csv);
        plot *p = &t->plots[t->n];
        copy_field(&f[map[0]], p->variety, sizeof p->variety);
        p->clumps = whole(&f[map[1]]);
        p->divisions = whole(&f[map[2]]);
        p->block = (int)whole(&f[map[3]]);
        if (map[4] >= 0)
            copy_field(&f[map[4]], p->season, sizeof p->season);
        if (map[5] >= 0)
            copy_field(&f[map[5]], p->form, sizeof p->form);
        t->n += p->clumps > 0;
        assert_true(t->n < MAX_PLOTS);
    }
    cw_csv_close(csv);
    number_plots(t);
}

/* Fits what `known` says, predicts every other plot of the last season. */
static void predict_rest(const trial *t, const bool *known, const int *season, size_t seasons, int current,
                         cw_test_coverage *c, double *expected, double *came, cw_rng *r)
{
    static cw_rate_row rows[MAX_PLOTS];
    size_t n = 0;
    for (size_t i = 0; i < t->n; i++)
        if (known[i])
            rows[n++] = (cw_rate_row){ t->plots[i].row.variety, season[i], -1, t->plots[i].clumps,
                                       t->plots[i].divisions };
    cw_rate_data d = {
        rows, n, t->varieties, seasons, t->forms, 0, current, t->form, NULL, 1, 0, NULL, false
    };
    cw_rate *rate = NULL;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_rate_fit(&d, NULL, &rate, &err), &err);
    for (size_t i = 0; i < t->n; i++) {
        if (known[i] || season[i] != current)
            continue;
        double clumps = (double)t->plots[i].clumps;
        size_t v = (size_t)t->plots[i].row.variety;
        cw_test_cover(
            c, cw_test_rate_pit(cw_rate_latent(rate), v, &clumps, NULL, 1, t->plots[i].divisions, 800, r));
        cw_rate_why why;
        cw_rate_explain(rate, v, &why);
        *expected += clumps * exp(why.mean + 0.5 * why.variance);
        *came += (double)t->plots[i].divisions;
    }
    cw_rate_free(rate);
}

static void check_coverage(const char *name, const cw_test_coverage *c, double expected, double came)
{
    double n = c->n, allowed = 3 * sqrt(0.8 * 0.2 / n) + 0.02; /* chance, and 2 points for what plots share */
    print_message("%s: %d plots, held by 50 %%: %.3f, 80 %%: %.3f, 90 %%: %.3f; expected %.0f, came %.0f\n",
                  name, c->n, c->in50 / n, c->in80 / n, c->in90 / n, expected, came);
    cw_check_near("50 % interval", c->in50 / n, 0.5, 3 * 0.5 / sqrt(n) + 0.02);
    cw_check_near("80 % interval", c->in80 / n, 0.8, allowed);
    cw_check_near("90 % interval", c->in90 / n, 0.9, allowed);
    cw_check_near("total", expected / came, 1, 0.04);
}

/* Each treatment in turn is "this season": the other two are history, its even blocks are divided, the odd ones not. */
static void test_potato_trial(void **state)
{
    (void)state;
    static trial t;
    static bool known[MAX_PLOTS];
    static int season[MAX_PLOTS];
    const cw_csv_column columns[] = { { "geno", true },  { "n_harvested", true }, { "n_tubers", true },
                                      { "block", true }, { "treatment", true },   { "type", true } };
    const char *treatments[] = { "NI", "TD", "REC" };
    read_trial("potato_tubers_irrigation_trial.csv", columns, &t);
    cw_test_coverage c = { 0 };
    double expected = 0, came = 0;
    cw_rng r;
    cw_rng_init(&r, 31, 1);
    for (int current = 0; current < 3; current++) {
        for (size_t i = 0; i < t.n; i++) {
            for (int s = 0; s < 3; s++)
                if (strcmp(t.plots[i].season, treatments[s]) == 0)
                    season[i] = s;
            known[i] = season[i] != current || t.plots[i].block % 2 == 0;
        }
        predict_rest(&t, known, season, 3, current, &c, &expected, &came, &r);
    }
    check_coverage("potato", &c, expected, came);
}

/* Commercial roots of two replicates: the first as a past season, the second of every other genotype as this one. */
static void test_sweet_potato(void **state)
{
    (void)state;
    static trial t;
    static bool known[MAX_PLOTS];
    static int season[MAX_PLOTS];
    const cw_csv_column columns[] = { { "geno", true }, { "noph", true },          { "nocr", true },
                                      { "rep", true },  { "no treatment", false }, { "no type", false } };
    read_trial("sweetpotato_roots_by_genotype.csv", columns, &t);
    cw_test_coverage c = { 0 };
    double expected = 0, came = 0;
    cw_rng r;
    cw_rng_init(&r, 32, 1);
    for (int turn = 0; turn < 4; turn++) { /* both replicates, both halves */
        for (size_t i = 0; i < t.n; i++) {
            season[i] = t.plots[i].block == 1 + turn / 2;
            known[i] = season[i] == 0 || t.plots[i].row.variety % 2 == turn % 2;
        }
        predict_rest(&t, known, season, 2, 1, &c, &expected, &came, &r);
    }
    check_coverage("sweet potato", &c, expected, came);
}

/* A dispersion that the data alone tell of has X2 / phi ~ chi-squared with 6 degrees of freedom, so that log phi is the log of
 * an inverse gamma: its mean lies log 3 - psi(3) above its mode and its variance is psi'(3), psi(3) = 0.9227843 and psi'(3) =
 * 0.3949341 as Abramowitz & Stegun 1964, 6.3.2 and 6.4.3, give them (psi(n) = -gamma + sum 1 / k, psi'(n) = pi^2 / 6 - sum
 * 1 / k^2, k < n). The points must have both, though they are found from the optimum and slopes about it. */
static void test_dispersion_is_skew(void **state)
{
    (void)state;
    const double count[7] = { 92, 109, 100, 95, 113, 99, 88 };
    cw_mixed_row rows[7];
    for (int i = 0; i < 7; i++) /* one lot in seven sessions; its level takes one degree of freedom */
        rows[i] = (cw_mixed_row){ 0, 0, 3, 20, 0, count[i] };
    cw_mixed_data d = { .family = CW_MIXED_COUNT, .rows = rows, .n_rows = 7, .varieties = 1, .seasons = 1 };
    cw_mixed_settings s = { .mode = CW_MIXED_PREDICT,
                            .dispersion = true,
                            .sd_limit = 1,
                            .phi_median = 1,
                            .phi_spread = 50,
                            .intercept_sd = 10,
                            .threads = 1 };
    cw_mixed *f = NULL;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_mixed_fit(&d, &s, NULL, &f, &err), &err);
    const cw_latent *l = cw_mixed_latent(f);
    double mode = log(cw_mixed_result(f)->hyper.phi), mean = 0, square = 0;
    for (size_t i = 0; i < l->points; i++) {
        double off = log(l->point[i].dispersion) - mode;
        mean += l->point[i].weight * off;
        square += l->point[i].weight * off * off;
    }
    double sd = sqrt(square - mean * mean);
    print_message("log phi: mean %.4f above its mode (%.4f), sd %.4f (%.4f)\n", mean, log(3) - 0.9227843, sd,
                  sqrt(0.3949341));
    cw_check_near("mean", mean, log(3) - 0.9227843, 0.03);
    cw_check_relative("sd", sd, sqrt(0.3949341), 0.1);
    cw_mixed_free(f);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_pumps),
                                        cmocka_unit_test(test_dispersion_is_skew),
                                        cmocka_unit_test(test_rats), cmocka_unit_test(test_potato_trial),
                                        cmocka_unit_test(test_sweet_potato) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

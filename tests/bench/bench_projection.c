/* SPDX-License-Identifier: MIT */
/* Does the projection keep its promise on nurseries that it has never seen, how sharp is it, and how fast?
 * Prints "name value unit". An argument "loud" adds a line for each world and kind on stderr;
 * "dump FOLDER N" (N 0 .. 9) writes world N as CSV for reference.R instead. */
#include "bench/draws.h"
#include "bench/worlds.h"

#include "model/score.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>

#include "base/banned.h"

#define WORLDS 20
#define DRAWS  1000000

/* Processor time of all threads, so that what else runs on the machine does not count. */
static double now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return 1e3 * (double)t.tv_sec + 1e-6 * (double)t.tv_nsec;
}

static int fail(const cw_error *err)
{
    char line[1024];
    cw_error_line(err, line, sizeof line);
    fprintf(stderr, "bench_projection: %s\n", line);
    return 3;
}

static void add(cw_scores *to, const cw_scores *s)
{
    to->count += s->count;
    to->projected += s->projected;
    to->came += s->came;
    to->cover50 += s->cover50;
    to->cover80 += s->cover80;
    to->cover90 += s->cover90;
    to->below05 += s->below05;
    to->below10 += s->below10;
    to->above90 += s->above90;
    to->above95 += s->above95;
    to->crps += s->crps;
    for (int i = 0; i < CW_SCORE_QUANTILES; i++)
        to->pinball[i] += s->pinball[i];
    for (int i = 0; i < CW_SCORE_BINS; i++)
        to->histogram[i] += s->histogram[i];
}

static void tell(const char *name, const cw_scores *s)
{
    double n = (double)s->count;
    fprintf(stderr,
            "%-10s 50: %5.1f  80: %5.1f  90: %5.1f  <5: %4.1f <10: %4.1f >90: %4.1f >95: %4.1f  bias %+5.2f  "
            "loss %.3f\n",
            name, 100 * s->cover50 / n, 100 * s->cover80 / n, 100 * s->cover90 / n, 100 * s->below05 / n,
            100 * s->below10 / n, 100 * s->above90 / n, 100 * s->above95 / n,
            100 * (s->projected / s->came - 1), 100 * cw_scores_loss(s));
}

static cw_world_settings settings_of(int i)
{
    cw_world_settings s = { .kind = (cw_world_kind)(i % CW_WORLD_KINDS),
                            .varieties = 400,
                            .past_seasons = 6,
                            .sessions_a_season = 2,
                            .lots = 3,
                            .seed = 9000u + (unsigned)i };
    if (s.kind == CW_WORLD_YOUNG)
        s.past_seasons = 2;
    return s;
}

/* Calibration over all worlds; the bias is the mean over worlds of a world's own total. */
static int calibration(int loud)
{
    static const char *const names[] = { "plain", "loose", "tight", "heavy", "young" };
    cw_scores all = { 0 }, kinds[CW_WORLD_KINDS] = { { 0 } };
    double worst_tail = 0.0;
    for (int i = 0; i < WORLDS; i++) {
        cw_world_settings s = settings_of(i);
        cw_world w;
        cw_fitted fit = { 0 };
        cw_error err = CW_ERROR_NONE;
        cw_scores here = { 0 };
        if (!cw_world_make(&s, &w))
            return 3;
        if (cw_world_fit(&w, 0, &fit, &err) != CW_OK)
            return fail(&err);
        for (size_t v = 0; v < w.varieties; v++)
            cw_scores_add(&here, &fit.law[v], w.came[v]);
        if (loud)
            tell(names[s.kind], &here);
        add(&kinds[s.kind], &here);
        add(&all, &here);
        cw_fitted_free(&fit);
        cw_world_free(&w);
    }
    for (int k = 0; loud && k < CW_WORLD_KINDS; k++)
        tell(names[k], &kinds[k]);
    double n = (double)all.count, tails[] = { all.below05 / n - 0.05, all.below10 / n - 0.10,
                                              all.above90 / n - 0.10, all.above95 / n - 0.05 };
    for (int i = 0; i < 4; i++)
        worst_tail = fmax(worst_tail, fabs(tails[i]));
    printf("coverage_50 %.2f %%\ncoverage_80 %.2f %%\ncoverage_90 %.2f %%\n", 100 * all.cover50 / n,
           100 * all.cover80 / n, 100 * all.cover90 / n);
    printf("below_p05 %.2f %%\nbelow_p10 %.2f %%\nabove_p90 %.2f %%\nabove_p95 %.2f %%\n",
           100 * all.below05 / n, 100 * all.below10 / n, 100 * all.above90 / n, 100 * all.above95 / n);
    printf("worst_tail_gap %.2f points\nbias_of_total %.3f %%\n", 100 * worst_tail,
           100 * (all.projected / all.came - 1));
    printf("quantile_loss %.3f %% of mean\ncrps %.3f divisions\n", 100 * cw_scores_loss(&all), all.crps / n);
    return 0;
}

/* One fit and projection of `varieties` over 12 seasons, then an update by one more session. Best of
 * `rounds`. */
static int timed(size_t varieties, int rounds, double *cold_ms, double *update_ms, size_t *sessions)
{
    cw_world_settings s = { .kind = CW_WORLD_PLAIN,
                            .varieties = varieties,
                            .past_seasons = 11,
                            .sessions_a_season = 1,
                            .lots = 1,
                            .seed = 77 };
    cw_world w;
    cw_error err = CW_ERROR_NONE;
    *cold_ms = *update_ms = INFINITY;
    if (!cw_world_make(&s, &w))
        return 3;
    *sessions = w.rates;
    for (int i = 0; i < rounds; i++) {
        cw_fitted fit = { 0 };
        size_t all = w.rates;
        w.rates = all - 1;
        double start = now_ms();
        if (cw_world_fit(&w, 0, &fit, &err) != CW_OK)
            return fail(&err);
        *cold_ms = fmin(*cold_ms, now_ms() - start);
        w.rates = all;
        start = now_ms();
        if (cw_world_fit(&w, 0, &fit, &err) != CW_OK)
            return fail(&err);
        *update_ms = fmin(*update_ms, now_ms() - start);
        cw_fitted_free(&fit);
    }
    cw_world_free(&w);
    return 0;
}

static int speed(void)
{
    double cold = 0, update = 0, small = 0, ignored = 0;
    size_t sessions = 0, few = 0;
    if (timed(1500, 9, &cold, &update, &sessions) != 0)
        return 3;
    struct rusage use;
    getrusage(RUSAGE_SELF, &use);
    if (timed(150, 3, &small, &ignored, &few) != 0)
        return 3;
    double large = 0, kilobytes = (double)use.ru_maxrss;
    if (timed(15000, 1, &large, &ignored, &few) != 0)
        return 3;
    struct rusage then;
    getrusage(RUSAGE_SELF, &then);
    printf("sessions %zu rows\ncold_fit_and_project %.1f ms\none_session_update %.1f ms\n", sessions, cold,
           update);
    printf("tenfold_data_time_ratio %.2f times\npeak_memory %.1f MB\n", cold / small, kilobytes / 1024.0);
    printf("tenfold_again_time_ratio %.2f times\nmemory_a_variety_more %.1f kB\n", large / cold,
           ((double)then.ru_maxrss - kilobytes) / 13500);
    return 0;
}

static double projection_ms(const cw_fitted *fit, size_t varieties)
{
    double start = now_ms();
    cw_projection_all(fit->projection, 1, fit->law);
    return (now_ms() - start) / (double)varieties;
}

/* Quantiles of a fitted world's projections against a million draws of the same posterior. */
static int quantiles(void)
{
    static const double levels[] = { 0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95 };
    cw_world_settings s = settings_of(0);
    cw_world w;
    cw_fitted fit = { 0 };
    cw_error err = CW_ERROR_NONE;
    int64_t *draw = malloc(DRAWS * sizeof *draw);
    double worst = 0.0, time = 0.0;
    if (draw == NULL || !cw_world_make(&s, &w))
        return 3;
    if (cw_world_fit(&w, 0, &fit, &err) != CW_OK)
        return fail(&err);
    time = projection_ms(&fit, w.varieties);
    cw_projection_input in = { .varieties = w.varieties,
                               .lots = w.lots,
                               .stocks = w.stocks,
                               .lot_variety = w.lot_variety,
                               .stock = w.stock,
                               .weeks_to_ship = w.weeks_to_ship,
                               .rate = cw_rate_latent(fit.learned.rate),
                               .clump_rot = cw_rot_latent(fit.learned.rot, CW_ROT_CLUMP),
                               .division_rot = cw_rot_latent(fit.learned.rot, CW_ROT_DIVISION),
                               .shrink = fit.learned.shrink };
    for (size_t v = 0; v < w.varieties; v += 33) {
        cw_rng rng;
        cw_rng_init(&rng, 3, v);
        cw_draws_of_variety(&in, v, &rng, draw, DRAWS);
        for (int i = 0; i < 7; i++) {
            double want = (double)cw_draws_quantile(draw, DRAWS, levels[i]);
            double got = (double)cw_distribution_quantile(&fit.law[v], levels[i]);
            worst = fmax(worst, fabs(got - want) / fmax(1.0, 0.005 * want));
        }
    }
    printf("quantile_error %.3f of max(1 division, 0.5 %%)\nproject_one_variety %.4f ms\n", worst, time);
    cw_fitted_free(&fit);
    cw_world_free(&w);
    free(draw);
    return 0;
}

/* Writes world `i` and its projections' quantiles as CSV into the folder, for reference.R to try its own hand on. */
static int dump(const char *folder, int i)
{
    cw_world_settings s = settings_of(i);
    cw_world w;
    cw_fitted fit = { 0 };
    cw_error err = CW_ERROR_NONE;
    char path[512];
    if (!cw_world_make(&s, &w))
        return 3;
    if (cw_world_fit(&w, 0, &fit, &err) != CW_OK)
        return fail(&err);
    static const char *const names[] = { "rate", "rot", "stock", "came" };
    FILE *file[4] = { NULL, NULL, NULL, NULL };
    for (int k = 0; k < 4; k++) {
        snprintf(path, sizeof path, "%s/%s.csv", folder, names[k]);
        file[k] = fopen(path, "w");
        if (file[k] == NULL)
            return 3;
    }
    fprintf(file[0], "variety,form,size,season,lot,clumps,divisions\n");
    for (size_t r = 0; r < w.rates; r++) {
        const cw_rate_row *x = &w.rate[r];
        fprintf(file[0], "%d,%d,%d,%d,%d,%lld,%lld\n", x->variety, w.form[x->variety], w.size[x->variety],
                x->season, x->lot, (long long)x->clumps, (long long)x->divisions);
    }
    fprintf(file[1], "variety,season,stage,weeks,inspected,rotten\n");
    for (size_t r = 0; r < w.rots; r++) {
        const cw_rot_row *x = &w.rot[r];
        fprintf(file[1], "%d,%d,%d,%.6f,%lld,%lld\n", x->variety, x->season, (int)x->stage, x->weeks,
                (long long)x->inspected, (long long)x->rotten);
    }
    fprintf(file[2], "variety,form,size,lot,stage,count,clump_weeks,division_weeks\n");
    for (size_t r = 0; r < w.stocks; r++) {
        const cw_stock *x = &w.stock[r];
        size_t v = w.lot_variety[x->lot];
        fprintf(file[2], "%zu,%d,%d,%zu,%d,%lld,%.6f,%.6f\n", v, w.form[v], w.size[v], x->lot, (int)x->stage,
                (long long)x->count, x->clump_weeks, x->division_weeks);
    }
    fprintf(file[3], "variety,came,q05,q10,q25,q50,q75,q90,q95\n");
    for (size_t v = 0; v < w.varieties; v++) {
        fprintf(file[3], "%zu,%lld", v, (long long)w.came[v]);
        for (int q = 0; q < CW_SCORE_QUANTILES; q++)
            fprintf(file[3], ",%lld", (long long)cw_distribution_quantile(&fit.law[v], cw_score_levels[q]));
        fprintf(file[3], "\n");
    }
    for (int k = 0; k < 4; k++)
        fclose(file[k]);
    cw_fitted_free(&fit);
    cw_world_free(&w);
    return 0;
}

int main(int argc, char **argv)
{
    int loud = argc > 1 && strcmp(argv[1], "loud") == 0;
    if (argc == 4 && strcmp(argv[1], "dump") == 0)
        return dump(argv[2], argv[3][0] - '0');
    int status = calibration(loud);
    if (status == 0 && argc < 2)
        status = speed();
    if (status == 0 && argc < 2)
        status = quantiles();
    return status;
}

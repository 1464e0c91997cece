/* SPDX-License-Identifier: MIT */
/* Time of the rate and rot fits: 1,500 varieties x 12 seasons, 12,000 sessions, 8,000 checks; then ten times the
 * sessions. The world is drawn from the model's own kind: only time is measured here. Prints "name value unit". */
#include "base/rng.h"
#include "model/rate.h"
#include "model/rot.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#define VARIETIES 1500
#define SEASONS   12

static double now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return 1e3 * (double)t.tv_sec + 1e-6 * (double)t.tv_nsec;
}

static double normal(cw_rng *r)
{
    return sqrt(-2 * log(cw_rng_uniform(r))) * cos(2 * 3.14159265358979323846 * cw_rng_uniform(r));
}

static double poisson_like(cw_rng *r, double mean)
{
    return fmax(0, round(mean + sqrt(mean) * normal(r)));
}

typedef struct world {
    int form[VARIETIES], size[VARIETIES];
    double variety[VARIETIES], season[SEASONS], hazard[VARIETIES];
    cw_rate_row *rate;
    cw_rot_row *rot;
    size_t n_rate, n_rot;
} world;

static void draw(world *w, size_t sessions, size_t checks)
{
    cw_rng r;
    cw_rng_init(&r, 20311, 1);
    for (int v = 0; v < VARIETIES; v++) {
        w->form[v] = (int)cw_rng_below(&r, 12);
        w->size[v] = (int)cw_rng_below(&r, 5);
        w->variety[v] = 1.5 + 0.35 * normal(&r);
        w->hazard[v] = log(0.006) + 0.5 * normal(&r);
    }
    for (int s = 0; s < SEASONS; s++)
        w->season[s] = 0.15 * normal(&r);
    w->n_rate = sessions;
    w->n_rot = checks;
    for (size_t i = 0; i < sessions; i++) {
        int v = (int)cw_rng_below(&r, VARIETIES), s = (int)cw_rng_below(&r, SEASONS);
        int64_t clumps = 5 + cw_rng_below(&r, 40);
        double mean = (double)clumps * exp(w->variety[v] + w->season[s] + 0.1 * normal(&r));
        w->rate[i] = (cw_rate_row){ v, s, -1, clumps, (int64_t)poisson_like(&r, mean) };
    }
    for (size_t i = 0; i < checks; i++) {
        int v = (int)cw_rng_below(&r, VARIETIES), s = (int)cw_rng_below(&r, SEASONS);
        double weeks = 2 + cw_rng_below(&r, 10), h = exp(w->hazard[v] + w->season[s] + 0.3 * normal(&r));
        int64_t n = 20 + cw_rng_below(&r, 60);
        int64_t rotten = (int64_t)fmin((double)n, poisson_like(&r, (double)n * (1 - exp(-h * weeks))));
        w->rot[i] = (cw_rot_row){ v, s, -1, i % 2 ? CW_ROT_CLUMP : CW_ROT_DIVISION, weeks, n, rotten };
    }
}

/* One timed fit after `*kept` (NULL: cold), which it replaces. */
static double fit_rate(const world *w, size_t rows, cw_rate **kept)
{
    cw_rate_data d = { w->rate, rows,    VARIETIES, SEASONS, 12,   5,    SEASONS - 1,
                       w->form, w->size, 0,         0,       NULL, false };
    cw_rate *r = NULL;
    cw_error err = CW_ERROR_NONE;
    double t = now_ms();
    if (cw_rate_fit(&d, *kept, &r, &err) != CW_OK)
        exit(3);
    t = now_ms() - t;
    const cw_mixed_report *report = cw_rate_report(r);
    fprintf(stderr,
            "rate: %u evaluations, %u points, lots %zu cells %zu shared %zu, sd %.3f %.3f %.3f %.3f %.3f "
            "%.3f phi %.3f\n",
            report->evaluations, report->points, report->lots, report->cells, report->shared,
            report->hyper.sd[0], report->hyper.sd[1], report->hyper.sd[2], report->hyper.sd[3],
            report->hyper.sd[4], report->hyper.sd[5], report->hyper.phi);
    cw_rate_free(*kept);
    *kept = r;
    return t;
}

static double fit_rot(const world *w, size_t rows, cw_rot **kept)
{
    cw_rot_data d = { w->rot, rows, VARIETIES, SEASONS, SEASONS - 1, 0, 0, NULL, NULL };
    cw_rot *r = NULL;
    cw_error err = CW_ERROR_NONE;
    double t = now_ms();
    if (cw_rot_fit(&d, *kept, &r, &err) != CW_OK)
        exit(3);
    t = now_ms() - t;
    for (int s = 0; s < CW_ROT_STAGES; s++) {
        const cw_mixed_report *report = cw_rot_report(r, s);
        fprintf(stderr, "rot %d: %u evaluations, %u points, sd %.3f %.3f %.3f %.3f\n", s, report->evaluations,
                report->points, report->hyper.sd[2], report->hyper.sd[3], report->hyper.sd[4],
                report->hyper.sd[5]);
    }
    cw_rot_free(*kept);
    *kept = r;
    return t;
}

static double best(double a, double b)
{
    return a < b ? a : b;
}

int main(void)
{
    world *w = calloc(1, sizeof *w);
    if (w == NULL || (w->rate = calloc(120000, sizeof *w->rate)) == NULL ||
        (w->rot = calloc(8000, sizeof *w->rot)) == NULL)
        return 3;
    double cold_rate = 1e9, cold_rot = 1e9, warm_rate = 1e9, warm_rot = 1e9;
    draw(w, 12000, 8000);
    for (int i = 0; i < 5; i++) {
        cw_rate *rate = NULL;
        cw_rot *rot = NULL;
        cold_rate = best(cold_rate, fit_rate(w, 11999, &rate));
        cold_rot = best(cold_rot, fit_rot(w, 7999, &rot));
        warm_rate = best(warm_rate, fit_rate(w, 12000, &rate));
        warm_rot = best(warm_rot, fit_rot(w, 8000, &rot));
        cw_rate_free(rate);
        cw_rot_free(rot);
    }
    printf("mixed_rate_cold %.2f ms\nmixed_rot_cold %.2f ms\n", cold_rate, cold_rot);
    printf("mixed_rate_warm %.2f ms\nmixed_rot_warm %.2f ms\n", warm_rate, warm_rot);
    draw(w, 120000, 8000);
    cw_rate *large_rate = NULL;
    double large = fit_rate(w, 120000, &large_rate);
    printf("mixed_rate_ten_times %.2f ms\nmixed_rate_ten_times_ratio %.2f times\n", large, large / cold_rate);
    cw_rate_free(large_rate);
    free(w->rate);
    free(w->rot);
    free(w);
    return 0;
}

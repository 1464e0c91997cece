/* SPDX-License-Identifier: MIT */
/* The projection's lattice against many draws of the same posterior, on invented and mostly wide posteriors, and its
 * time a variety. "loud" names each quantile that is off. */
#include "bench/draws.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "base/banned.h"

#define VARIETIES 12
#define DRAWS     100000

static double cpu_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return 1e3 * (double)t.tv_sec + 1e-6 * (double)t.tv_nsec;
}

static const double levels[] = { 0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95 };

/* Largest error of any quantile in units of what is allowed: max(1 division, 0.5 %). */
static double worst_error(const cw_draws_case *c, const cw_projection *p, int64_t *draw, double *mean_error,
                          int loud)
{
    double worst = 0.0;
    for (size_t v = 0; v < c->in.varieties; v++) {
        cw_rng rng;
        cw_rng_init(&rng, 99, v);
        cw_draws_of_variety(&c->in, v, &rng, draw, DRAWS);
        cw_distribution d;
        cw_projection_variety(p, v, &d);
        double sum = 0.0, square = 0.0;
        for (size_t i = 0; i < DRAWS; i++) {
            sum += (double)draw[i];
            square += (double)draw[i] * (double)draw[i];
        }
        double draws_sd = sqrt(square / DRAWS - sum / DRAWS * (sum / DRAWS));
        if (sum > 0.0)
            *mean_error = fmax(*mean_error, fabs(d.mean * DRAWS / sum - 1.0));
        for (int i = 0; i < 7; i++) {
            double want = (double)cw_draws_quantile(draw, DRAWS, levels[i]);
            double got = (double)cw_distribution_quantile(&d, levels[i]);
            double error = fabs(got - want) / fmax(1.0, 0.005 * want);
            if (loud && error > 1.0)
                fprintf(stderr,
                        "variety %zu: %g %% is %g, by draws %g (mean %.1f sd %.1f by draws %.1f step %lld)\n",
                        v, 100 * levels[i], got, want, d.mean, sqrt(d.variance), draws_sd, (long long)d.step);
            worst = fmax(worst, error);
        }
    }
    return worst;
}

/* Errors over some invented nurseries; with drying, limits are unknown and rooms dry: the hardest case. */
static int measure(int drying, int loud, int64_t *draw)
{
    double worst = 0.0, mean_error = 0.0, time = 0.0;
    for (uint64_t shift = 0; shift < 4; shift++) {
        cw_draws_case c;
        cw_projection *p = NULL;
        cw_error err = CW_ERROR_NONE;
        cw_distribution d;
        if (!cw_draws_make(VARIETIES, shift, &c))
            return 3;
        c.in.shrink = drying ? c.shrink : NULL;
        if (cw_projection_new(&c.in, &p, &err) != CW_OK)
            return 3;
        double start = cpu_ms();
        for (int round = 0; round < 20; round++) {
            for (size_t v = 0; v < VARIETIES; v++)
                cw_projection_variety(p, v, &d);
        }
        time += (cpu_ms() - start) / (20.0 * VARIETIES) / 4.0;
        worst = fmax(worst, worst_error(&c, p, draw, &mean_error, loud));
        cw_projection_free(p);
        cw_draws_free(&c);
    }
    const char *tail = drying ? "_drying" : "";
    printf("lattice_time%s %.4f ms\n", tail, time);
    printf("lattice_quantile_error%s %.3f of max(1 division, 0.5 %%)\n", tail, worst);
    printf("lattice_mean_error%s %.3f %%\n", tail, 100 * mean_error);
    return 0;
}

int main(int argc, char **argv)
{
    int loud = argc > 1 && strcmp(argv[1], "loud") == 0;
    int64_t *draw = malloc(DRAWS * sizeof *draw);
    int status = draw == NULL ? 3 : measure(0, loud, draw);
    if (status == 0)
        status = measure(1, loud, draw);
    free(draw);
    return status;
}

/* SPDX-License-Identifier: MIT */
/* How many to keep: 1,500 varieties with beds that do not suffice, and one variety changed. Prints "name value unit"; processor time of all threads. The
 * data are invented, by a fixed seed. */
#include "base/rng.h"
#include "model/keep.h"
#include "model/special.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "base/banned.h"

#define VARIETIES 1500
#define SEASONS   6

static double now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec * 1e3 + (double)t.tv_nsec / 1e6;
}

static void law(double mean, double disp, cw_distribution *out)
{
    static double pmf[8000];
    int n = (int)(mean + 10 * sqrt(mean * disp) + 30);
    n = n < 8000 ? n : 8000;
    for (int k = 0; k < n; k++)
        pmf[k] = cw_negbin_pmf(k, mean / (disp - 1), mean);
    cw_distribution_from_pmf(out, 0, pmf, (size_t)n);
}

typedef struct nursery {
    cw_distribution sound[VARIETIES], demand[VARIETIES][SEASONS + 1];
    const cw_distribution *year[VARIETIES][SEASONS + 1];
    cw_keep_ask ask[VARIETIES];
    cw_keep out[VARIETIES];
} nursery;

/* Demand is lopsided (a few sell hundreds), half of the varieties have a trend, a fifth are being built up. */
static void make(nursery *n)
{
    cw_rng r;
    cw_rng_init(&r, 1818, 0);
    for (int v = 0; v < VARIETIES; v++) {
        double u = cw_rng_uniform(&r), mean = 8 + 400 * u * u * u, trend = 0.9 + 0.2 * cw_rng_uniform(&r);
        double have = mean * (v % 5 == 0 ? 0.2 : 0.8 + cw_rng_uniform(&r));
        law(fmax(1, have), 2 + 0.02 * have, &n->sound[v]);
        law(mean, 2 + 0.05 * mean, &n->demand[v][0]);
        for (int t = 0; t <= SEASONS; t++) {
            n->year[v][t] = v % 2 || t == 0 ? &n->demand[v][0] : &n->demand[v][t];
            if (v % 2 == 0 && t > 0) {
                double later = mean * pow(trend, t < 3 ? t : 3);
                law(later, 2 + 0.05 * later, &n->demand[v][t]);
            }
        }
        n->ask[v] = (cw_keep_ask){ .sound = &n->sound[v],
                                   .demand = n->year[v],
                                   .seasons = SEASONS,
                                   .growth = 1.5 + 3 * cw_rng_uniform(&r),
                                   .growth_sd = 0.15 + 0.3 * cw_rng_uniform(&r),
                                   .growth_dispersion = 1 + cw_rng_uniform(&r),
                                   .margin = 400 + 600 * cw_rng_uniform(&r),
                                   .cost = 120,
                                   .discount = 0.93,
                                   .reserve = v % 3,
                                   .places = 1000000 };
    }
}

int main(void)
{
    nursery *n = calloc(1, sizeof *n);
    cw_error err = CW_ERROR_NONE;
    cw_keep_beds beds;
    if (n == NULL)
        return 3;
    make(n);
    double start = now_ms();
    if (cw_keep_nursery(n->ask, VARIETIES, -1, 0, (cw_go_on){ 0 }, n->out, &beds, &err) != CW_OK)
        return 3;
    printf("keep_free_beds %.0f ms\n", now_ms() - start);
    double planted = beds.planted;
    start = now_ms();
    if (cw_keep_nursery(n->ask, VARIETIES, floor(planted * 0.7), 0, (cw_go_on){ 0 }, n->out, &beds, &err) !=
        CW_OK)
        return 3;
    printf("keep_tight_beds %.0f ms\n", now_ms() - start);
    printf("keep_planted %.0f places\nkeep_places %.0f places\nkeep_place_price %.1f cents\n", beds.planted,
           beds.places, beds.price);
    double worst = 0;
    for (int v = 0; v < VARIETIES; v += 10) {
        cw_keep_year years[SEASONS + 1];
        cw_keep out;
        cw_keeper *k = NULL;
        start = now_ms();
        if (cw_keeper_new(&n->ask[v], &k, &err) != CW_OK)
            return 3;
        cw_keeper_price(k, beds.price);
        cw_keeper_best(k, &out);
        if (cw_keeper_years(k, out.best.keep, years, &err) != CW_OK)
            return 3;
        worst = fmax(worst, now_ms() - start);
        cw_keeper_free(k);
    }
    printf("keep_one_variety_worst %.2f ms\n", worst);
    free(n);
    return 0;
}

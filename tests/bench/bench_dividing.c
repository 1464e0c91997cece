/* SPDX-License-Identifier: MIT */
/* How long the dividing plan takes, in processor time, and how far above the bound it ends: 300 lots in 90 working days, 5,000 in 120,
 * with tight days. Invented lots: a loss that grows by the day, something to know before a day, a day after which it is late. Prints
 * "name value unit". */
#include "base/rng.h"
#include "model/dividing.h"
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "base/banned.h"

static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec * 1e3 + (double)t.tv_nsec / 1e6;
}

typedef struct winter {
    cw_dividing_input in;
    cw_dividing_lot *lot;
    cw_dividing_day *day;
    double *cost;
} winter;

static bool make(winter *w, size_t lots, size_t days, double tight, double washing, uint64_t seed)
{
    cw_rng r;
    int64_t all = 0;
    cw_rng_init(&r, 20320000, seed);
    w->lot = calloc(lots, sizeof *w->lot);
    w->day = calloc(days, sizeof *w->day);
    w->cost = calloc(lots * days, sizeof *w->cost);
    if (!w->lot || !w->day || !w->cost)
        return false;
    for (size_t l = 0; l < lots; l++) {
        int64_t minutes = 20 + cw_rng_below(&r, 200);
        double a_day = cw_rng_uniform(&r) * (double)minutes,
               late = cw_rng_below(&r, 10) < 3 ? 20.0 * (double)minutes : 0;
        double know = cw_rng_below(&r, 5) < 2 ? (double)minutes * 10 * cw_rng_uniform(&r) : 0;
        size_t release = 1 + cw_rng_below(&r, (uint32_t)days),
               due = days / 3 + cw_rng_below(&r, (uint32_t)days);
        for (size_t d = 0; d < days; d++)
            w->cost[l * days + d] =
                5 * a_day * (double)d / (double)days + (d >= release ? know : 0) + (d >= due ? late : 0);
        w->lot[l] = (cw_dividing_lot){ minutes, minutes / 4, 6 * a_day + know + late + 20 * (double)minutes,
                                       CW_DIVIDING_OPEN };
        all += minutes;
    }
    int64_t a_day = (int64_t)((double)all / tight / (double)days) + 220;
    for (size_t d = 0; d < days; d++)
        w->day[d] = (cw_dividing_day){ a_day, (int64_t)(washing * (double)a_day) };
    w->in = (cw_dividing_input){ lots, days, w->lot, w->day, w->cost, { 0 } };
    return true;
}

int main(void)
{
    static const struct {
        const char *name;
        size_t lots, days;
        double tight, washing;
        int seeds;
    } cases[] = { { "300_lots_90_days", 300, 90, 0.95, 1, 5 },
                  { "300_lots_90_days_washing_tight", 300, 90, 0.95, 0.23, 5 },
                  { "100_lots_60_days_few_a_day", 100, 60, 0.98, 1, 5 },
                  { "5000_lots_120_days", 5000, 120, 0.95, 1, 2 },
                  { "5000_lots_120_days_washing_tight", 5000, 120, 0.95, 0.23, 1 } };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        double worst_ms = 0, worst_above = 0;
        for (int seed = 0; seed < cases[i].seeds; seed++) {
            winter w = { 0 };
            cw_dividing_plan p;
            cw_error err = CW_ERROR_NONE;
            if (!make(&w, cases[i].lots, cases[i].days, cases[i].tight, cases[i].washing, (uint64_t)seed))
                return 3;
            double before = now();
            if (cw_dividing_solve(&w.in, &p, &err) != CW_OK) {
                fprintf(stderr, "bench_dividing: %s\n", err.text);
                return 3;
            }
            double ms = now() - before, above = 100 * cw_dividing_above(&p);
            worst_ms = ms > worst_ms ? ms : worst_ms;
            worst_above = above > worst_above ? above : worst_above;
            cw_dividing_plan_free(&p);
            free(w.lot);
            free(w.day);
            free(w.cost);
        }
        printf("dividing_%s %.0f ms\n", cases[i].name, worst_ms);
        printf("dividing_%s_above_bound %.2f %%\n", cases[i].name, worst_above);
    }
    return 0;
}

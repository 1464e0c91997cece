/* SPDX-License-Identifier: MIT */
#include "base/rng.h"
#include "model/schedule.h"
#include "model/walk.h"
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

/* How long does a wave take to plan? 500 parcels, 2,000 lines, 800 places, 160 varieties of which each lies in up to
 * ten places; then ten times as much of everything. Prints "name value unit" lines, the least of several runs. */

static double now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec * 1e3 + (double)t.tv_nsec / 1e6;
}

static void *need(void *memory)
{
    if (memory == NULL)
        abort();
    return memory;
}

static size_t below(cw_rng *r, size_t n)
{
    return cw_rng_below(r, (uint32_t)n);
}

static cw_wave make(size_t scale, cw_rng *r)
{
    size_t orders = 500 * scale, lines = 2000 * scale, places = 800 * scale, varieties = 160 * scale,
           stock = 1600 * scale;
    int *walk_order = need(calloc(places, sizeof *walk_order));
    cw_walk_stock *s = need(calloc(stock, sizeof *s));
    cw_walk_line *l = need(calloc(lines, sizeof *l));
    for (size_t p = 0; p < places; p++)
        walk_order[p] = (int)(10 * (p + 1));
    for (size_t i = 0; i < stock; i++)
        s[i] = (cw_walk_stock){ below(r, places), i, i % varieties, 3 + (int64_t)below(r, 25),
                                (double)below(r, 100) / 1000 };
    for (size_t i = 0; i < lines; i++)
        l[i] = (cw_walk_line){ i * orders / lines, below(r, varieties), 1 + (int64_t)below(r, 4) };
    return (cw_wave){ walk_order, places, s, stock, l, lines, orders, varieties, 0, 0, 0 };
}

static void bench_wave(const char *name, size_t scale, int runs)
{
    cw_rng r;
    cw_rng_init(&r, 2032, scale);
    cw_wave w = make(scale, &r);
    double best_plan = 1e9, best_share = 1e9;
    size_t stops = 0, rows = 0, *first = need(calloc(13, sizeof *first));
    for (int k = 0; k < runs; k++) {
        cw_walk *walk = NULL;
        double t0 = now_ms();
        if (cw_walk_plan(&w, &walk, NULL) != CW_OK)
            abort();
        double t1 = now_ms();
        if (cw_walk_share(walk, (cw_walk_pace){ 20, 5, 2 }, 12, first, NULL) != CW_OK)
            abort();
        double t2 = now_ms();
        best_plan = t1 - t0 < best_plan ? t1 - t0 : best_plan;
        best_share = t2 - t1 < best_share ? t2 - t1 : best_share;
        stops = walk->stop_count;
        rows = walk->pick_count;
        cw_walk_free(walk);
    }
    printf("%s_plan %.2f ms\n%s_share_12 %.2f ms\n%s_stops %zu stops\n%s_rows %zu rows\n", name, best_plan,
           name, best_share, name, stops, name, rows);
    free(first);
    free((void *)(uintptr_t)w.walk_order);
    free((void *)(uintptr_t)w.stock);
    free((void *)(uintptr_t)w.lines);
}

static void bench_schedule(const char *name, size_t n, int runs)
{
    cw_rng r;
    cw_rng_init(&r, 2032, n);
    cw_schedule_zone zones[12];
    int capacity[20];
    char(*numbers)[24] = need(calloc(n, sizeof *numbers));
    cw_schedule_order *orders = need(calloc(n, sizeof *orders));
    cw_ship *ship = need(calloc(n, sizeof *ship));
    for (int z = 0; z < 12; z++)
        zones[z] = (cw_schedule_zone){ "zone", cw_week_add(203212, z) };
    for (int t = 0; t < 20; t++)
        capacity[t] = (int)(n / 15);
    for (size_t i = 0; i < n; i++) {
        snprintf(numbers[i], sizeof numbers[i], "%zu", i);
        orders[i] = (cw_schedule_order){ .number = numbers[i],
                                         .received_at = (cw_instant)cw_rng_u32(&r),
                                         .zone = (int)below(&r, 12),
                                         .parcels = 1 };
    }
    cw_schedule s = { 203212, 20, capacity, zones, 12, NULL, 0, NULL, 0, orders, n };
    double best = 1e9;
    for (int k = 0; k < runs; k++) {
        double t0 = now_ms();
        if (cw_schedule_place(&s, ship, NULL, NULL) != CW_OK)
            abort();
        double t1 = now_ms();
        best = t1 - t0 < best ? t1 - t0 : best;
    }
    printf("%s %.2f ms\n", name, best);
    free(numbers);
    free(orders);
    free(ship);
}

int main(void)
{
    bench_wave("wave_500x2000x800", 1, 10);
    bench_wave("wave_5000x20000x8000", 10, 3);
    bench_schedule("schedule_1000_orders", 1000, 10);
    bench_schedule("schedule_10000_orders", 10000, 5);
    return 0;
}

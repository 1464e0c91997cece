/* SPDX-License-Identifier: MIT */
#include "desk/bench/dividing_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define TWICE 1000 /* so many lots are planned twice: what a lot tells depends on which were cut before it */

size_t cw_bench_find(const cw_bench *b, cw_day day)
{
    for (size_t d = 0; d < b->days; d++)
        if (b->day[d].day == day)
            return d;
    return CW_NONE;
}

void cw_bench_free(cw_bench *b)
{
    if (b == NULL)
        return;
    void *parts[] = { b->day,  b->lot,        b->sounds,     b->loss,      b->knowledge,
                      b->late, b->never_loss, b->never_late, b->model_lot, b->model_day,
                      b->cost, b->order,      b->promised,   b->crew };
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
        free(parts[i]);
    cw_dividing_plan_free(&b->plan);
    free(b);
}

static cw_code arrays(cw_bench *b, cw_error *err)
{
    size_t n = b->lots + 1, all = n * (b->days + 1);
    b->loss = calloc(all, sizeof *b->loss);
    b->knowledge = calloc(all, sizeof *b->knowledge);
    b->late = calloc(all, sizeof *b->late);
    b->cost = calloc(all, sizeof *b->cost);
    b->never_loss = calloc(n, sizeof *b->never_loss);
    b->never_late = calloc(n, sizeof *b->never_late);
    b->model_lot = calloc(n, sizeof *b->model_lot);
    b->model_day = calloc(b->days + 1, sizeof *b->model_day);
    b->order = calloc(n, sizeof *b->order);
    b->sounds = calloc(n * CW_BENCH_KNOTS, sizeof *b->sounds);
    bool good = b->loss && b->knowledge && b->late && b->cost && b->never_loss && b->never_late &&
                b->model_lot && b->model_day && b->order && b->sounds;
    for (size_t l = 0; good && l < b->lots; l++)
        b->lot[l].sound = b->sounds + l * CW_BENCH_KNOTS;
    return good ? CW_OK : cw_error_memory(err);
}

/* The day that a lot must keep: one on record that is still to come, or the first if it is washed and its day is past. */
static int32_t kept(const cw_bench *b, const cw_bench_lot *l)
{
    if (l->kept_day == CW_NO_DAY || b->days == 0)
        return CW_DIVIDING_OPEN;
    if (l->kept_day < b->day[0].day)
        return strcmp(l->kept_why, "washed") == 0 ? 0 : CW_DIVIDING_OPEN;
    size_t d = cw_bench_find(b, l->kept_day);
    return d == CW_NONE ? CW_DIVIDING_OPEN : (int32_t)d;
}

static void fill_model(cw_bench *b)
{
    for (size_t d = 0; d < b->days; d++) {
        const cw_bench_day *day = &b->day[d];
        bool in_time = day->washed_on != CW_NO_DAY && day->washed_on >= b->today;
        b->model_day[d] = (cw_dividing_day){ (int64_t)((double)day->cutters * day->hours * 60), 0 };
        if (in_time)
            b->model_day[d].wash_minutes = day->wash_minutes;
    }
    for (size_t l = 0; l < b->lots; l++) {
        b->model_lot[l].fixed = kept(b, &b->lot[l]);
        b->model_lot[l].never = b->never_loss[l] + b->lot[l].value + b->never_late[l];
        for (size_t d = 0; d < b->days; d++) {
            size_t at = l * b->days + d;
            b->cost[at] = b->loss[at] + b->knowledge[at] + b->late[at];
        }
    }
}

static cw_code solve(cw_bench *b, const cw_asker *who, cw_error *err)
{
    cw_dividing_input in = { b->lots, b->days, b->model_lot, b->model_day, b->cost, cw_asker_go_on(who) };
    cw_dividing_plan_free(&b->plan);
    cw_code code = cw_bench_price(b, who, err);
    if (code != CW_OK)
        return code;
    fill_model(b);
    return cw_dividing_solve(&in, &b->plan, err);
}

static int by_plan(const void *pa, const void *pb, void *context)
{
    const cw_bench *b = context;
    size_t x = *(const size_t *)pa, y = *(const size_t *)pb;
    int32_t never = INT32_MAX, dx = b->plan.day[x], dy = b->plan.day[y];
    dx = dx == CW_DIVIDING_OPEN ? never : dx;
    dy = dy == CW_DIVIDING_OPEN ? never : dy;
    return dx != dy ? (dx > dy) - (dx < dy) : (x > y) - (x < y);
}

/* Before there is a plan: by the divisions that a minute brings. */
static int by_divisions(const void *pa, const void *pb, void *context)
{
    const cw_bench *b = context;
    size_t x = *(const size_t *)pa, y = *(const size_t *)pb;
    double vx = b->lot[x].sound[0] / (double)b->model_lot[x].cut_minutes,
           vy = b->lot[y].sound[0] / (double)b->model_lot[y].cut_minutes;
    return vx != vy ? (vx < vy) - (vx > vy) : (x > y) - (x < y);
}

static cw_code make(cw_nursery *n, const cw_asker *who, cw_bench *b, const char *moved, cw_day day,
                    cw_error *err)
{
    cw_code code = cw_bench_read(n, who, b, err);
    for (size_t l = 0; code == CW_OK && moved && l < b->lots; l++)
        if (strcmp(b->forecast->data->snapshot->lot[b->lot[l].lot].code, moved) == 0) {
            b->lot[l].kept_day = day;
            cw_copy(b->lot[l].kept_why, sizeof b->lot[l].kept_why, "moved");
        }
    if (code == CW_OK)
        code = cw_bench_days(n, b, err);
    if (code == CW_OK)
        code = arrays(b, err);
    if (code == CW_OK)
        code = cw_bench_sound(b, who, err);
    if (code == CW_OK)
        code = cw_bench_minutes(n, b, err);
    if (code != CW_OK)
        return code;
    for (size_t l = 0; l < b->lots; l++)
        b->order[l] = l;
    qsort_r(b->order, b->lots, sizeof *b->order, by_divisions, b);
    code = solve(b, who, err);
    if (code != CW_OK || b->lots > TWICE)
        return code;
    qsort_r(b->order, b->lots, sizeof *b->order, by_plan, b);
    return solve(b, who, err);
}

cw_code cw_bench_make(cw_nursery *n, const cw_asker *who, const cw_bench_ask *ask, const char *moved,
                      cw_day day, cw_bench **out, cw_error *err)
{
    *out = NULL;
    cw_bench *b = calloc(1, sizeof *b);
    if (b == NULL)
        return cw_error_memory(err);
    b->today = who->today;
    b->from = ask->from == CW_NO_DAY ? who->today : ask->from;
    cw_code code = b->from < who->today
                       ? cw_error_at(err, CW_REFUSED, NULL, 0, "from", "a plan begins today or later")
                       : make(n, who, b, moved, day, err);
    if (code != CW_OK) {
        cw_bench_free(b);
        return code;
    }
    *out = b;
    return CW_OK;
}

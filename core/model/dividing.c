/* SPDX-License-Identifier: MIT */
#include "model/dividing_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

size_t cw_dividing_days_of(const cw_dividing_input *in, size_t lot, int32_t first, int64_t *cut,
                           int64_t *wash)
{
    const cw_dividing_lot *l = &in->lot[lot];
    int64_t done = 0, washed = 0;
    size_t n = 0;
    for (size_t d = (size_t)first; d < in->days; d++, n++) {
        const cw_dividing_day *day = &in->day[d];
        int64_t take = l->cut_minutes - done < day->cut_minutes ? l->cut_minutes - done : day->cut_minutes;
        /* no more than can be washed the day before */
        int64_t washable = l->wash_minutes > 0 ? day->wash_minutes * l->cut_minutes / l->wash_minutes : take;
        take = take < washable ? take : washable;
        done += take;
        int64_t by_now = l->wash_minutes * done / l->cut_minutes;
        if (cut)
            cut[n] = take;
        if (wash)
            wash[n] = by_now - washed;
        washed = by_now;
        if (done == l->cut_minutes)
            return n + 1;
    }
    return 0;
}

/* Cost of beginning each lot on each day. */
static void starts(dividing *w)
{
    const cw_dividing_input *in = w->in;
    int64_t most_cut = 0, most_wash = 0;
    for (size_t d = 0; d < w->days; d++) {
        most_cut = in->day[d].cut_minutes > most_cut ? in->day[d].cut_minutes : most_cut;
        most_wash = in->day[d].wash_minutes > most_wash ? in->day[d].wash_minutes : most_wash;
    }
    for (size_t l = 0; l < w->lots; l++) {
        const cw_dividing_lot *lot = &in->lot[l];
        const double *cost = in->cost + l * w->days;
        w->small[l] = lot->cut_minutes <= most_cut && lot->wash_minutes <= most_wash;
        w->fixed[l] = lot->fixed >= 0;
        for (size_t d = 0; d < w->days; d++) {
            double *to = &w->cost[l * w->days + d];
            if (w->small[l]) {
                bool fits = lot->cut_minutes <= in->day[d].cut_minutes &&
                            lot->wash_minutes <= in->day[d].wash_minutes;
                *to = fits ? cost[d] : INFINITY;
                continue;
            }
            size_t n = cw_dividing_days_of(in, l, (int32_t)d, w->part_cut, NULL);
            *to = n > 0 ? 0 : INFINITY;
            for (size_t k = 0; k < n; k++)
                *to += cost[d + k] * (double)w->part_cut[k] / (double)lot->cut_minutes;
        }
    }
}

static int by_cost(const void *pa, const void *pb, void *context)
{
    const double *cost = context;
    uint16_t a = *(const uint16_t *)pa, b = *(const uint16_t *)pb;
    return cost[a] != cost[b] ? (cost[a] < cost[b] ? -1 : 1) : (a > b) - (a < b);
}

static void order_days(dividing *w)
{
    for (size_t l = 0; l < w->lots; l++) {
        uint16_t *days = w->by_cost + l * w->days;
        for (size_t d = 0; d < w->days; d++)
            days[d] = (uint16_t)d;
        qsort_r(days, w->days, sizeof *days, by_cost, w->cost + l * w->days);
    }
}

static void settle(dividing *w, size_t lot, int32_t day, int sign)
{
    const cw_dividing_lot *l = &w->in->lot[lot];
    w->changed[day] = ++w->clock;
    if (w->small[lot]) {
        w->cut_room[day] -= sign * l->cut_minutes;
        w->wash_room[day] -= sign * l->wash_minutes;
        return;
    }
    size_t n = cw_dividing_days_of(w->in, lot, day, w->part_cut, w->part_wash);
    for (size_t k = 0; k < n; k++) {
        w->changed[(size_t)day + k] = w->clock;
        w->cut_room[(size_t)day + k] -= sign * w->part_cut[k];
        w->wash_room[(size_t)day + k] -= sign * w->part_wash[k];
    }
}

bool cw_dividing_fits(dividing *w, size_t lot, int32_t day)
{
    if (w->cost[lot * w->days + (size_t)day] == INFINITY)
        return false;
    if (w->small[lot])
        return cw_dividing_small_fits(w, lot, (size_t)day);
    size_t n = cw_dividing_days_of(w->in, lot, day, w->part_cut, w->part_wash);
    for (size_t k = 0; k < n; k++)
        if (w->part_cut[k] > w->cut_room[(size_t)day + k] || w->part_wash[k] > w->wash_room[(size_t)day + k])
            return false;
    return n > 0;
}

void cw_dividing_put(dividing *w, size_t lot, int32_t day)
{
    w->total += cw_dividing_cost_at(w, lot, day) - w->in->lot[lot].never;
    w->at[lot] = day;
    if (day == NEVER)
        return;
    settle(w, lot, day, 1);
    if (w->small[lot]) {
        w->next[lot] = w->first[day];
        w->first[day] = (int32_t)lot;
    }
}

void cw_dividing_take(dividing *w, size_t lot)
{
    int32_t day = w->at[lot];
    if (day == NEVER)
        return;
    w->total -= cw_dividing_cost_at(w, lot, day) - w->in->lot[lot].never;
    settle(w, lot, day, -1);
    w->at[lot] = NEVER;
    if (!w->small[lot])
        return;
    int32_t *p = &w->first[day];
    while (*p != (int32_t)lot)
        p = &w->next[*p];
    *p = w->next[lot];
}

/* ---- the whole ---- */

static cw_code check(const cw_dividing_input *in, cw_error *err)
{
    if (in->days > CW_DIVIDING_MOST_DAYS)
        return cw_error_set(err, CW_REFUSED, "a plan is for %d working days at most", CW_DIVIDING_MOST_DAYS);
    for (size_t d = 0; d < in->days; d++)
        if (in->day[d].cut_minutes < 0 || in->day[d].wash_minutes < 0)
            return cw_error_set(err, CW_REFUSED, "day %zu has less than no minutes", d + 1);
    for (size_t l = 0; l < in->lots; l++) {
        const cw_dividing_lot *lot = &in->lot[l];
        if (lot->cut_minutes < 1 || lot->cut_minutes > CW_DIVIDING_MINUTES || lot->wash_minutes < 0 ||
            lot->wash_minutes > CW_DIVIDING_MINUTES)
            return cw_error_set(err, CW_REFUSED,
                                "lot %zu takes %lld minutes at the bench and %lld of washing", l + 1,
                                (long long)lot->cut_minutes, (long long)lot->wash_minutes);
        bool finite = isfinite(lot->never);
        for (size_t d = 0; d < in->days; d++)
            finite = finite && isfinite(in->cost[l * in->days + d]);
        if (!finite || (lot->fixed >= 0 && (size_t)lot->fixed >= in->days))
            return cw_error_set(err, CW_REFUSED,
                                "lot %zu: a cost is no number, or its day is not one of these", l + 1);
    }
    return CW_OK;
}

static void work_free(dividing *w)
{
    void *parts[] = { w->cost,      w->by_cost, w->small, w->fixed,    w->at,        w->cut_room,
                      w->wash_room, w->first,   w->next,  w->part_cut, w->part_wash, w->changed };
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
        free(parts[i]);
}

static cw_code work_new(const cw_dividing_input *in, dividing *w, cw_error *err)
{
    size_t l = in->lots + 1, d = in->days + 1;
    *w = (dividing){ .in = in, .lots = in->lots, .days = in->days };
    w->cost = calloc(l * d, sizeof *w->cost);
    w->by_cost = calloc(l * d, sizeof *w->by_cost);
    w->small = calloc(l, sizeof *w->small);
    w->fixed = calloc(l, sizeof *w->fixed);
    w->at = calloc(l, sizeof *w->at);
    w->next = calloc(l, sizeof *w->next);
    w->cut_room = calloc(d, sizeof *w->cut_room);
    w->wash_room = calloc(d, sizeof *w->wash_room);
    w->first = calloc(d, sizeof *w->first);
    w->part_cut = calloc(d, sizeof *w->part_cut);
    w->part_wash = calloc(d, sizeof *w->part_wash);
    w->changed = calloc(d, sizeof *w->changed);
    if (!w->cost || !w->by_cost || !w->small || !w->fixed || !w->at || !w->next || !w->cut_room ||
        !w->wash_room || !w->first || !w->part_cut || !w->part_wash || !w->changed)
        return cw_error_memory(err);
    starts(w);
    order_days(w);
    for (size_t i = 0; i < in->days; i++) {
        w->cut_room[i] = in->day[i].cut_minutes;
        w->wash_room[i] = in->day[i].wash_minutes;
        w->first[i] = -1;
    }
    for (size_t i = 0; i < in->lots; i++) {
        w->at[i] = NEVER;
        w->total += in->lot[i].never;
    }
    return CW_OK;
}

/* A lot that must keep its day keeps it, be the day too short or not: it is washed. What it costs is the day's own price. */
static void fix(dividing *w)
{
    for (size_t l = 0; l < w->lots; l++) {
        size_t d = (size_t)w->in->lot[l].fixed;
        if (!w->fixed[l])
            continue;
        double *cost = &w->cost[l * w->days + d];
        if (*cost == INFINITY) {
            *cost = w->in->cost[l * w->days + d];
            w->small[l] = 1;
        }
        cw_dividing_put(w, l, (int32_t)d);
    }
}

/* Takes every lot that is free off its day. */
static void clear(dividing *w)
{
    for (size_t l = 0; l < w->lots; l++)
        if (!w->fixed[l])
            cw_dividing_take(w, l);
}

static cw_code solve(dividing *w, cw_dividing_plan *out, cw_bounding *b, cw_error *err)
{
    fix(w);
    if (w->lots == 0 || w->days == 0) {
        out->total = out->bound = w->total;
        out->proven = true;
        memcpy(out->day, w->at, w->lots * sizeof *out->day);
        return CW_OK;
    }
    for (size_t l = 0; l < w->lots; l++) {
        b->hint[l] = NEVER;
        b->kept += w->fixed[l] ? w->cost[l * w->days + (size_t)w->in->lot[l].fixed] : 0;
    }
    memcpy(b->cut_room, w->cut_room, w->days * sizeof *b->cut_room);
    memcpy(b->wash_room, w->wash_room, w->days * sizeof *b->wash_room);
    cw_code code = cw_dividing_place(w, b->hint, false, err);
    if (code == CW_OK)
        code = cw_bounding_solve(w, b, err);
    clear(w);
    w->floor = b->bound + b->kept;
    if (code == CW_OK)
        code = cw_dividing_place(w, b->hint, true, err);
    if (code == CW_OK && b->scarce)
        cw_bounding_both(w, b);
    out->proven = code == CW_OK && cw_dividing_exact(w, b->cut, b->wash, out->day);
    out->total = w->total;
    out->bound = out->proven ? w->total : fmin(b->bound + b->kept, w->total);
    memcpy(out->price, b->cut, w->days * sizeof *out->price);
    memcpy(out->day, w->at, w->lots * sizeof *out->day);
    return code;
}

cw_code cw_dividing_solve(const cw_dividing_input *in, cw_dividing_plan *out, cw_error *err)
{
    dividing w = { 0 };
    cw_bounding b = { 0 };
    *out = (cw_dividing_plan){ 0 };
    cw_code code = check(in, err);
    if (code != CW_OK)
        return code;
    out->day = calloc(in->lots + 1, sizeof *out->day);
    out->price = calloc(in->days + 1, sizeof *out->price);
    code = out->day && out->price ? work_new(in, &w, err) : cw_error_memory(err);
    if (code == CW_OK)
        code = cw_bounding_new(&w, &b, err);
    if (code == CW_OK)
        code = solve(&w, out, &b, err);
    for (size_t l = 0; code == CW_OK && l < in->lots; l++)
        out->missing += out->day[l] == NEVER ? in->lot[l].cut_minutes : 0;
    if (code != CW_OK)
        cw_dividing_plan_free(out);
    cw_bounding_free(&b);
    work_free(&w);
    return code;
}

void cw_dividing_plan_free(cw_dividing_plan *p)
{
    free(p->day);
    free(p->price);
    *p = (cw_dividing_plan){ 0 };
}

double cw_dividing_above(const cw_dividing_plan *p)
{
    double gap = p->total - p->bound;
    return gap <= 0 ? 0 : p->bound > 0 ? gap / p->bound : INFINITY;
}

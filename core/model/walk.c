/* SPDX-License-Identifier: MIT */
#include "model/walk.h"

#include "model/stops.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static cw_code check(const cw_wave *w, cw_error *err)
{
    if (!(w->stop_cost >= 0) || !isfinite(w->stop_cost))
        return cw_error_set(err, CW_REFUSED, "the worth of a stop is %g: it must be 0 or more", w->stop_cost);
    for (size_t i = 0; i < w->stock_count; i++) {
        const cw_walk_stock *s = &w->stock[i];
        if (s->place >= w->place_count || s->variety >= w->variety_count)
            return cw_error_set(err, CW_REFUSED, "stock %zu names a place or a variety that is not there", i);
        if (s->quantity < 0 || !(s->risk >= 0) || !isfinite(s->risk))
            return cw_error_set(err, CW_REFUSED, "stock %zu: %lld divisions at risk %g", i,
                                (long long)s->quantity, s->risk);
    }
    for (size_t i = 0; i < w->line_count; i++) {
        const cw_walk_line *l = &w->lines[i];
        if (l->order >= w->order_count || l->variety >= w->variety_count)
            return cw_error_set(err, CW_REFUSED, "line %zu names an order or a variety that is not there", i);
        if (l->quantity < 0)
            return cw_error_set(err, CW_REFUSED, "line %zu asks %lld divisions", i, (long long)l->quantity);
    }
    return CW_OK;
}

/* Scratch of one plan. */
typedef struct planner {
    const cw_wave *w;
    cw_walk *walk;
    int64_t *need;     /* [variety] asked, then cut to what is in stock */
    int64_t *in_stock; /* [variety] */
    int64_t *taken;    /* [stock] divisions to take, then what is left of them to hand to lines */
    size_t *next;      /* [variety] where in `order` the next line finds its divisions */
    size_t *stop_of;   /* [place] */
    bool *visit;       /* [place] */
    size_t *start;     /* [variety + 1] into by_risk and order */
    size_t *by_risk;   /* [stock] */
    size_t *order;     /* [stock] of a variety: in walking order */
} planner;

static cw_code planner_open(planner *p, const cw_wave *w, cw_error *err)
{
    size_t varieties = w->variety_count + 1, places = w->place_count + 1, stock = w->stock_count + 1;
    *p = (planner){ .w = w };
    p->walk = calloc(1, sizeof *p->walk);
    p->need = calloc(varieties, sizeof *p->need);
    p->in_stock = calloc(varieties, sizeof *p->in_stock);
    p->next = calloc(varieties, sizeof *p->next);
    p->start = calloc(varieties, sizeof *p->start);
    p->taken = calloc(stock, sizeof *p->taken);
    p->by_risk = calloc(stock, sizeof *p->by_risk);
    p->order = calloc(stock, sizeof *p->order);
    p->stop_of = calloc(places, sizeof *p->stop_of);
    p->visit = calloc(places, sizeof *p->visit);
    if (!p->walk || !p->need || !p->in_stock || !p->next || !p->start || !p->taken || !p->by_risk ||
        !p->order || !p->stop_of || !p->visit)
        return cw_error_memory(err);
    p->walk->stops = calloc(places, sizeof *p->walk->stops);
    p->walk->shorts = calloc(w->line_count + 1, sizeof *p->walk->shorts);
    /* Lines and stock of a variety lie side by side, so each row ends a line or a piece of stock. */
    p->walk->picks = calloc(w->line_count + w->stock_count + 1, sizeof *p->walk->picks);
    if (!p->walk->stops || !p->walk->shorts || !p->walk->picks)
        return cw_error_memory(err);
    return CW_OK;
}

static void planner_close(planner *p)
{
    cw_walk_free(p->walk);
    free(p->need);
    free(p->in_stock);
    free(p->next);
    free(p->start);
    free(p->taken);
    free(p->by_risk);
    free(p->order);
    free(p->stop_of);
    free(p->visit);
}

/* need = asked, but never more than there is. */
static void count_need(planner *p)
{
    for (size_t i = 0; i < p->w->line_count; i++)
        p->need[p->w->lines[i].variety] += p->w->lines[i].quantity;
    for (size_t i = 0; i < p->w->stock_count; i++)
        p->in_stock[p->w->stock[i].variety] += p->w->stock[i].quantity;
    for (size_t v = 0; v < p->w->variety_count; v++)
        p->need[v] = p->need[v] < p->in_stock[v] ? p->need[v] : p->in_stock[v];
}

/* From the places visited, each variety's most at-risk divisions. */
static void take_stock(planner *p)
{
    for (size_t v = 0; v < p->w->variety_count; v++) {
        int64_t left = p->need[v];
        for (size_t e = p->start[v]; left > 0 && e < p->start[v + 1]; e++) {
            size_t i = p->by_risk[e];
            const cw_walk_stock *s = &p->w->stock[i];
            if (!p->visit[s->place])
                continue;
            p->taken[i] = left < s->quantity ? left : s->quantity;
            left -= p->taken[i];
        }
    }
}

/* ---- The walk ---- */

static int up(const void *pa, const void *pb, void *context)
{
    const cw_wave *w = context;
    size_t a = ((const cw_stop *)pa)->place, b = ((const cw_stop *)pb)->place;
    if (w->walk_order[a] != w->walk_order[b])
        return w->walk_order[a] < w->walk_order[b] ? -1 : 1;
    return a < b ? -1 : a > b;
}

static int64_t steps(int64_t from, int64_t to)
{
    return from < to ? to - from : from - to;
}

/* Every walk covers all between its lowest and highest stop, and reaches one of the two first: the shorter of
 * the two sweeps is therefore a shortest walk. */
static void lay_walk(planner *p)
{
    cw_walk *walk = p->walk;
    for (size_t i = 0; i < p->w->stock_count; i++) {
        size_t place = p->w->stock[i].place;
        if (p->taken[i] == 0)
            continue;
        if (p->stop_of[place] == 0) {
            walk->stops[walk->stop_count++].place = place;
            p->stop_of[place] = 1; /* seen */
        }
    }
    if (walk->stop_count == 0)
        return;
    qsort_r(walk->stops, walk->stop_count, sizeof *walk->stops, up, (void *)(uintptr_t)p->w);
    int64_t low = p->w->walk_order[walk->stops[0].place];
    int64_t high = p->w->walk_order[walk->stops[walk->stop_count - 1].place];
    int64_t ascending = steps(p->w->door, low) + high - low + steps(high, p->w->packing);
    int64_t descending = steps(p->w->door, high) + high - low + steps(low, p->w->packing);
    walk->length = ascending <= descending ? ascending : descending;
    for (size_t k = 0; ascending > descending && k < walk->stop_count / 2; k++) {
        cw_stop swap = walk->stops[k];
        walk->stops[k] = walk->stops[walk->stop_count - 1 - k];
        walk->stops[walk->stop_count - 1 - k] = swap;
    }
    for (size_t k = 0; k < walk->stop_count; k++)
        p->stop_of[walk->stops[k].place] = k;
}

/* ---- The rows ---- */

static int in_walk(const void *pa, const void *pb, void *context)
{
    const planner *p = context;
    size_t a = *(const size_t *)pa, b = *(const size_t *)pb;
    const cw_walk_stock *x = &p->w->stock[a], *y = &p->w->stock[b];
    if (x->variety != y->variety)
        return x->variety < y->variety ? -1 : 1;
    bool here = p->taken[a] > 0, there = p->taken[b] > 0;
    if (here != there)
        return here ? -1 : 1;
    if (here && p->stop_of[x->place] != p->stop_of[y->place])
        return p->stop_of[x->place] < p->stop_of[y->place] ? -1 : 1;
    return a < b ? -1 : a > b;
}

static int by_stop(const void *pa, const void *pb)
{
    const cw_pick *a = pa, *b = pb;
    if (a->stop != b->stop)
        return a->stop < b->stop ? -1 : 1;
    if (a->stock != b->stock)
        return a->stock < b->stock ? -1 : 1;
    if (a->slot != b->slot)
        return a->slot < b->slot ? -1 : 1;
    return a->line < b->line ? -1 : a->line > b->line;
}

static void serve_line(planner *p, size_t line)
{
    const cw_walk_line *l = &p->w->lines[line];
    int64_t left = l->quantity;
    size_t end = p->start[l->variety + 1];
    while (left > 0 && p->next[l->variety] < end) {
        size_t stock = p->order[p->next[l->variety]];
        int64_t given = left < p->taken[stock] ? left : p->taken[stock];
        if (given > 0) {
            size_t stop = p->stop_of[p->w->stock[stock].place];
            p->walk->picks[p->walk->pick_count++] = (cw_pick){ stop, stock, line, l->order + 1, given };
        }
        p->taken[stock] -= given;
        left -= given;
        if (p->taken[stock] == 0)
            p->next[l->variety]++;
    }
    if (left > 0)
        p->walk->shorts[p->walk->short_count++] = (cw_walk_short){ line, left };
}

static void write_rows(planner *p)
{
    memcpy(p->order, p->by_risk, p->w->stock_count * sizeof *p->order);
    qsort_r(p->order, p->w->stock_count, sizeof *p->order, in_walk, p);
    memcpy(p->next, p->start, p->w->variety_count * sizeof *p->next);
    for (size_t i = 0; i < p->w->line_count; i++)
        serve_line(p, i);
    qsort(p->walk->picks, p->walk->pick_count, sizeof *p->walk->picks, by_stop);
    for (size_t i = 0; i < p->walk->pick_count; i++) {
        cw_stop *stop = &p->walk->stops[p->walk->picks[i].stop];
        if (stop->pick_count++ == 0)
            stop->first_pick = i;
        stop->quantity += p->walk->picks[i].quantity;
    }
}

cw_code cw_walk_plan(const cw_wave *w, cw_walk **out, cw_error *err)
{
    planner p = { 0 };
    *out = NULL;
    cw_code code = check(w, err);
    if (code == CW_OK)
        code = planner_open(&p, w, err);
    if (code != CW_OK)
        goto done;
    count_need(&p);
    code = cw_stops_choose(w, p.need, p.visit, err);
    if (code != CW_OK)
        goto done;
    cw_stock_by_risk(w, p.start, p.by_risk);
    take_stock(&p);
    lay_walk(&p);
    write_rows(&p);
    *out = p.walk;
    p.walk = NULL;
done:
    planner_close(&p);
    return code;
}

void cw_walk_free(cw_walk *walk)
{
    if (walk == NULL)
        return;
    free(walk->stops);
    free(walk->picks);
    free(walk->shorts);
    free(walk);
}

/* SPDX-License-Identifier: MIT */
#include "model/dividing_inside.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

/* Few lots: every way that may be cheaper is tried, lots that take most minutes first. What the open lots cost at the prices of
 * minutes, less what the minutes left are worth, is the least that any way from here can cost (Lagrange). */

#define MOST_LOTS 24
#define MOST_WAYS 200000

typedef struct ways {
    dividing *w;
    const double *price, *wash_price;
    size_t n;
    int32_t lot[MOST_LOTS];
    double rest[MOST_LOTS + 1]; /* least cost of lots i and on at the prices */
    double least, slack;
    int32_t *best;
    int64_t left;
} ways;

static double at_prices(const ways *t, size_t lot)
{
    const dividing *w = t->w;
    const cw_dividing_lot *l = &w->in->lot[lot];
    double best = l->never;
    const double *cost = (w->small[lot] ? w->cost : w->in->cost) + lot * w->days;
    for (size_t d = 0; d < w->days; d++)
        best = fmin(best, cost[d] + (double)l->cut_minutes * t->price[d] +
                              (double)l->wash_minutes * t->wash_price[d]);
    return best;
}

static double worth_of_room(const ways *t)
{
    double sum = 0;
    for (size_t d = 0; d < t->w->days; d++)
        sum += t->price[d] * fmax(0, (double)t->w->cut_room[d]) +
               t->wash_price[d] * fmax(0, (double)t->w->wash_room[d]);
    return sum;
}

/* w->total counts the lots that are still open as never cut: `open` is that part of it. */
static void try_all(ways *t, size_t i, double open)
{
    dividing *w = t->w;
    if (--t->left < 0)
        return;
    double least = i == t->n ? w->total : w->total - open + t->rest[i] - worth_of_room(t);
    if (least >= t->least - t->slack)
        return;
    if (i == t->n) {
        t->least = w->total;
        for (size_t k = 0; k < t->n; k++)
            t->best[t->lot[k]] = w->at[t->lot[k]];
        return;
    }
    size_t lot = (size_t)t->lot[i];
    double never = w->in->lot[lot].never;
    uint8_t tried[512] = { 0 };
    for (size_t k = 0; k < w->days && t->left >= 0; k++) { /* cheapest day first */
        size_t best = w->days;
        for (size_t d = 0; d < w->days; d++)
            if (!tried[d] && (best == w->days || w->cost[lot * w->days + d] < w->cost[lot * w->days + best]))
                best = d;
        tried[best] = 1;
        if (!cw_dividing_fits(w, lot, (int32_t)best))
            continue;
        cw_dividing_put(w, lot, (int32_t)best);
        try_all(t, i + 1, open - never);
        cw_dividing_take(w, lot);
    }
    try_all(t, i + 1, open - never); /* not within these days */
}

bool cw_dividing_exact(dividing *w, const double *price, const double *wash_price, int32_t *best)
{
    ways t = { .w = w, .price = price, .wash_price = wash_price, .best = best, .left = MOST_WAYS };
    double open = 0, found = w->total;
    if (w->days > 512)
        return false;
    for (size_t l = 0; l < w->lots; l++) {
        best[l] = w->at[l];
        if (w->fixed[l])
            continue;
        if (t.n == MOST_LOTS)
            return false;
        size_t at = t.n++;
        for (; at > 0 && w->in->lot[t.lot[at - 1]].cut_minutes < w->in->lot[l].cut_minutes; at--)
            t.lot[at] = t.lot[at - 1];
        t.lot[at] = (int32_t)l;
    }
    for (size_t i = t.n; i-- > 0;) {
        t.rest[i] = t.rest[i + 1] + at_prices(&t, (size_t)t.lot[i]);
        open += w->in->lot[t.lot[i]].never;
        cw_dividing_take(w, (size_t)t.lot[i]);
    }
    t.least = found;
    t.slack = 1e-9 * fmax(1, fabs(found));
    try_all(&t, 0, open);
    for (size_t i = 0; i < t.n; i++)
        if (best[t.lot[i]] != NEVER)
            cw_dividing_put(w, (size_t)t.lot[i], best[t.lot[i]]);
    return t.left >= 0;
}

/* SPDX-License-Identifier: MIT */
#include "model/walk.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

/* Stretches that a first packer after the other would fill to at most `cap`. */
static size_t stretches(const int64_t *sum, size_t stops, int64_t cap)
{
    size_t n = 0;
    for (size_t i = 0; i < stops; n++) {
        size_t from = i;
        while (i < stops && sum[i + 1] - sum[from] <= cap)
            i++;
    }
    return n;
}

/* The least possible longest stretch, by halving; sum[i] = work of the first i stops. */
static int64_t least_longest(const int64_t *sum, size_t stops, size_t packers)
{
    int64_t low = 0, high = sum[stops];
    for (size_t i = 0; i < stops; i++)
        low = sum[i + 1] - sum[i] > low ? sum[i + 1] - sum[i] : low;
    while (low < high) {
        int64_t middle = low + (high - low) / 2;
        if (stretches(sum, stops, middle) <= packers)
            high = middle;
        else
            low = middle + 1;
    }
    return low;
}

/* Dynamic programme: best[i] = least sum of squared stretches that share the first i stops among the packers
 * so far, none longer than cap; back[k][i] = where packer k's stretch then begins. */
static void even_out(const int64_t *sum, size_t stops, size_t packers, int64_t cap, double *best,
                     double *next, size_t *back)
{
    for (size_t i = 0; i <= stops; i++)
        best[i] = i ? INFINITY : 0;
    for (size_t k = 0; k < packers; k++) {
        for (size_t i = 0; i <= stops; i++) {
            next[i] = INFINITY;
            for (size_t j = i + 1; j-- > 0 && sum[i] - sum[j] <= cap;) {
                double work = (double)(sum[i] - sum[j]);
                if (best[j] + work * work < next[i]) {
                    next[i] = best[j] + work * work;
                    back[k * (stops + 1) + i] = j;
                }
            }
        }
        for (size_t i = 0; i <= stops; i++)
            best[i] = next[i];
    }
}

cw_code cw_walk_share(const cw_walk *walk, cw_walk_pace pace, size_t packers, size_t *first, cw_error *err)
{
    size_t n = walk->stop_count;
    int64_t *sum = NULL;
    double *best = NULL, *next = NULL;
    size_t *back = NULL;
    cw_code code = CW_OK;
    if (packers < 1 || packers > CW_WALK_MAX_PACKERS || pace.per_stop < 0 || pace.per_row < 0 ||
        pace.per_division < 0) {
        code = cw_error_set(err, CW_REFUSED, "a walk is shared among 1 to %d packers, at a pace of 0 or more",
                            CW_WALK_MAX_PACKERS);
        goto done;
    }
    sum = calloc(n + 1, sizeof *sum);
    best = calloc(n + 1, sizeof *best);
    next = calloc(n + 1, sizeof *next);
    back = calloc((n + 1) * packers, sizeof *back);
    if (!sum || !best || !next || !back) {
        code = cw_error_memory(err);
        goto done;
    }
    for (size_t i = 0; i < n; i++)
        sum[i + 1] = sum[i] + pace.per_stop + pace.per_row * (int64_t)walk->stops[i].pick_count +
                     pace.per_division * walk->stops[i].quantity;
    even_out(sum, n, packers, least_longest(sum, n, packers), best, next, back);
    first[packers] = n;
    for (size_t k = packers; k-- > 0;)
        first[k] = back[k * (n + 1) + first[k + 1]];
done:
    free(sum);
    free(best);
    free(next);
    free(back);
    return code;
}

/* SPDX-License-Identifier: MIT */
/* The beds of the whole nursery: the price of a place at which what is planted fits. */
#include "model/keep_inside.h"

#include "base/parallel.h"
#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

#define TRIES  40
#define CLOSE  2e-4 /* places left over that do not matter, as a share of all; and half a place */
#define FINELY 1e-3 /* cents */

typedef struct beds {
    const cw_keep_ask *ask;
    size_t n;
    double places, price;
    unsigned threads;
    cw_go_on go_on;
    cw_keeper **keeper;  /* [n] */
    int64_t *keep;       /* [n] */
    double *planted;     /* [n] */
    double *gain, *more; /* [n] of one more kept: cents a place, places */
    cw_keep *out;
    bool no_memory;
    cw_error *refusal; /* [n] */
} beds;

static void make_ready(void *context, unsigned worker, size_t i)
{
    beds *b = context;
    (void)worker;
    if (!cw_wanted(b->go_on))
        return;
    cw_code code = cw_keeper_new(&b->ask[i], &b->keeper[i], &b->refusal[i]);
    (void)code; /* told by the missing keeper */
}

static void plant(void *context, unsigned worker, size_t i)
{
    beds *b = context;
    cw_keep_view view;
    (void)worker;
    if (!cw_wanted(b->go_on))
        return;
    cw_keeper_price(b->keeper[i], b->price);
    b->keep[i] = cw_keep_best_now(b->keeper[i]);
    cw_keeper_view(b->keeper[i], b->keep[i], &view);
    b->planted[i] = view.planted;
}

/* Plants at this price more than there are places. */
static double over(beds *b, double price)
{
    double sum = 0;
    b->price = price;
    cw_parallel_for(b->threads, b->n, plant, b);
    for (size_t i = 0; i < b->n; i++)
        sum += b->planted[i];
    return sum - b->places;
}

static double dearest(const beds *b)
{
    double most = 1;
    for (size_t i = 0; i < b->n; i++)
        most = fmax(most, b->ask[i].margin * (1 + b->ask[i].growth) * b->ask[i].seasons);
    return most;
}

/* False position between a price too low and one high enough, the older end's weight halved when it stays (Illinois). Ends at a
 * price at which all fits, unless floors alone plant more. */
static double find_price(beds *b)
{
    double low = 0, high = 0, above = over(b, 0), below = 0, top = dearest(b);
    if (b->places < 0 || above <= 0)
        return 0;
    for (double try = top / 64; high == 0; try *= 2) {
        below = over(b, fmin(try, top));
        if (below <= 0 || try >= top)
            high = fmin(try, top);
        else {
            low = try;
            above = below;
        }
    }
    double enough = fmax(0.5, CLOSE * b->places), weigh_low = above, weigh_high = below;
    for (int i = 0, stayed = 0; i < TRIES && below < -enough && high - low > FINELY; i++) {
        double part = weigh_low / (weigh_low - weigh_high);
        double try = low + fmin(0.95, fmax(0.05, part)) * (high - low), value = over(b, try);
        if (value > 0) {
            low = try;
            weigh_low = value;
            weigh_high = stayed > 0 ? weigh_high / 2 : weigh_high;
            stayed = 1;
        } else {
            high = try;
            below = weigh_high = value;
            weigh_low = stayed < 0 ? weigh_low / 2 : weigh_low;
            stayed = -1;
        }
    }
    if (b->price != high)
        over(b, high);
    return high;
}

/* One more kept of variety i: how many places that takes, and what a place of them earns before it is paid for. */
static void one_more(void *context, unsigned worker, size_t i)
{
    beds *b = context;
    cw_keep_view now, more;
    (void)worker;
    b->more[i] = 0;
    if (!cw_wanted(b->go_on) || b->keep[i] >= cw_keep_most(b->keeper[i]))
        return;
    cw_keeper_view(b->keeper[i], b->keep[i], &now);
    cw_keeper_view(b->keeper[i], b->keep[i] + 1, &more);
    b->more[i] = more.planted - now.planted;
    b->gain[i] = b->more[i] > 1e-6 ? (more.value - now.value) / b->more[i] + b->price : 0;
}

/* Varieties alike jump together at one price; the places that are left go to the best of them one by one. */
static void fill(beds *b)
{
    double left = b->places;
    for (size_t i = 0; i < b->n; i++)
        left -= b->planted[i];
    cw_parallel_for(b->threads, b->n, one_more, b);
    for (;;) {
        size_t best = b->n;
        for (size_t i = 0; i < b->n; i++)
            if (b->more[i] > 1e-6 && b->more[i] <= left && b->gain[i] > 0 &&
                (best == b->n || b->gain[i] > b->gain[best]))
                best = i;
        if (best == b->n)
            return;
        left -= b->more[best];
        b->planted[best] += b->more[best];
        b->keep[best]++;
        one_more(b, 0, best);
    }
}

static void tell(void *context, unsigned worker, size_t i)
{
    beds *b = context;
    (void)worker;
    if (!cw_wanted(b->go_on))
        return;
    cw_keep_best_about(b->keeper[i], b->keep[i], &b->out[i]);
}

static cw_code all_ready(beds *b, cw_error *err)
{
    b->keeper = calloc(b->n + 1, sizeof(cw_keeper *));
    b->keep = calloc(b->n + 1, sizeof *b->keep);
    b->planted = calloc(b->n + 1, sizeof *b->planted);
    b->gain = calloc(b->n + 1, sizeof *b->gain);
    b->more = calloc(b->n + 1, sizeof *b->more);
    b->refusal = calloc(b->n + 1, sizeof *b->refusal);
    if (!b->keeper || !b->keep || !b->planted || !b->gain || !b->more || !b->refusal)
        return cw_error_memory(err);
    cw_parallel_for(b->threads, b->n, make_ready, b);
    if (!cw_wanted(b->go_on))
        return cw_given_up(err);
    for (size_t i = 0; i < b->n; i++)
        if (b->keeper[i] == NULL)
            return cw_error_set(err, b->refusal[i].code, "variety %zu: %s", i + 1, b->refusal[i].text);
    return CW_OK;
}

cw_code cw_keep_nursery(const cw_keep_ask *ask, size_t n, double places, unsigned threads, cw_go_on go_on,
                        cw_keep *out, cw_keep_beds *about, cw_error *err)
{
    beds b = { .ask = ask, .n = n, .places = places, .threads = threads, .go_on = go_on, .out = out };
    cw_code code = all_ready(&b, err);
    if (code == CW_OK) {
        b.price = find_price(&b);
        if (b.price > 0)
            fill(&b);
        cw_parallel_for(threads, n, tell, &b);
        *about = (cw_keep_beds){ .places = places, .price = b.price };
        for (size_t i = 0; i < n; i++)
            about->planted += out[i].best.planted;
        if (!cw_wanted(go_on))
            code = cw_given_up(err);
    }
    for (size_t i = 0; b.keeper && i < n; i++)
        cw_keeper_free(b.keeper[i]);
    free(b.keeper);
    free(b.keep);
    free(b.planted);
    free(b.gain);
    free(b.more);
    free(b.refusal);
    return code;
}

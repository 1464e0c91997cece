/* SPDX-License-Identifier: MIT */
/* The beds of the whole nursery: the price of a place at which what is planted fits. */
#include "model/keep_inside.h"

#include "base/parallel.h"
#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

#define TRIES  40
#define CLOSE  1e-3 /* places left over that are filled one by one, as a share of all; and half a place */
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
    cw_keep_view best;
    (void)worker;
    if (!cw_wanted(b->go_on))
        return;
    cw_keeper_price(b->keeper[i], b->price);
    cw_keep_best_now(b->keeper[i], &best);
    b->keep[i] = best.keep;
    b->planted[i] = best.planted;
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

/* A price tried, and the plants over at it. */
typedef struct tried {
    double price, over;
} tried;

/* Where between `one` and `other` the next price is tried, as a share of the way: on the parabola that gives the price by what is
 * over at these two and at the one given up last, where that parabola rises or falls throughout; else half way (Chandrupatla 1997,
 * Advances in Engineering Software 28; from memory). */
static double share_of_way(tried one, tried other, tried gone)
{
    double x = (one.price - other.price) / (gone.price - other.price),
           y = (one.over - other.over) / (gone.over - other.over);
    if (!(y * y < x && (1 - y) * (1 - y) < 1 - x))
        return 0.5;
    return one.over / (other.over - one.over) * gone.over / (other.over - gone.over) +
           (gone.price - one.price) / (other.price - one.price) * one.over / (gone.over - one.over) *
               other.over / (gone.over - other.over);
}

/* From a price at which too many are planted and one at which all fit to one at which the places are filled but for so few as do not
 * matter; the middle of what does not matter is aimed at. */
static double close_in(beds *b, tried low, tried high)
{
    double enough = fmax(0.5, CLOSE * b->places), aim = enough / 2, way = low.over / (low.over - high.over);
    tried one = high, other = low, gone = { 0 };
    one.over += aim;
    other.over += aim;
    for (int i = 0; i < TRIES && high.over < -enough && high.price - low.price > FINELY; i++) {
        double part = i == 0 ? 1 - way : share_of_way(one, other, gone);
        tried next = { .price = one.price + fmin(0.98, fmax(0.02, part)) * (other.price - one.price) };
        next.over = over(b, next.price);
        if (next.over > 0)
            low = next;
        else
            high = next;
        next.over += aim;
        bool beside_one = (next.over > 0) == (one.over > 0);
        gone = beside_one ? one : other;
        other = beside_one ? other : one;
        one = next;
    }
    return high.price;
}

/* Ends at a price at which all fits, unless floors alone plant more. */
static double find_price(beds *b)
{
    tried low = { 0, over(b, 0) }, high = { 0 };
    double top = dearest(b);
    if (b->places < 0 || low.over <= 0)
        return 0;
    for (double try = top / 64; high.price == 0; try *= 2) {
        tried next = { fmin(try, top), over(b, fmin(try, top)) };
        if (next.over <= 0 || try >= top)
            high = next;
        else
            low = next;
    }
    double price = close_in(b, low, high);
    if (b->price != price)
        over(b, price);
    return price;
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

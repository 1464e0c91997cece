/* SPDX-License-Identifier: MIT */
#include "model/dividing_inside.h"

#include "base/rng.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Whole lots on days, and exchanges that make the plan cheaper. */

#define SEED 20320119u
#define WORK                                                                                                 \
    12000000 /* steps of the search, and for each lot and day besides: what bounds its time whatever the case */
#define WORK_EACH 100
#define DEAL      12   /* two days deal their lots out anew in all ways if they have so many together */
#define THRESHOLD 0.02 /* of what the first plan stands above the bound */
#define EMPTIED   4    /* days emptied in a round */
#define LEAST     1e-7 /* an exchange must save this share of what is at stake in a lot */
#define IN_VAIN   2000 /* rounds, and ten for each lot, after which it is left at that */

typedef struct search {
    dividing *w;
    int32_t *order;  /* [2 lots] scratch */
    int32_t *others; /* [lots] scratch */
    double *key;     /* [lots] */
    double least;    /* money that an exchange must save */
    int64_t work;    /* left */
    int64_t dealt;   /* the clock when days were last dealt out */
    cw_rng rng;
} search;

static double now(const search *s, size_t lot)
{
    return cw_dividing_cost_at(s->w, lot, s->w->at[lot]);
}

/* The cheapest day with room that costs less than `below`; NEVER if there is none. */
static int32_t cheapest(search *s, size_t lot, double below)
{
    dividing *w = s->w;
    const double *cost = w->cost + lot * w->days;
    const uint16_t *day = w->by_cost + lot * w->days;
    for (size_t i = 0; i < w->days && cost[day[i]] < below; i++) {
        s->work--;
        if (cw_dividing_fits(w, lot, day[i]))
            return day[i];
    }
    return NEVER;
}

static bool move_one(search *s, size_t lot)
{
    int32_t to = cheapest(s, lot, now(s, lot) - s->least);
    if (to == NEVER)
        return false;
    cw_dividing_take(s->w, lot);
    cw_dividing_put(s->w, lot, to);
    return true;
}

/* `lot` takes the place of `other`, which goes to the best day that is left for it, if that saves something. */
static bool change_places(search *s, size_t lot, size_t other, double gain)
{
    dividing *w = s->w;
    const cw_dividing_lot *mine = &w->in->lot[lot], *theirs = &w->in->lot[other];
    int32_t day = w->at[other], old = w->at[lot];
    if (w->fixed[other] || w->cut_room[day] + theirs->cut_minutes < mine->cut_minutes ||
        w->wash_room[day] + theirs->wash_minutes < mine->wash_minutes)
        return false;
    double limit = w->cost[other * w->days + (size_t)day] + gain; /* it may cost less than this elsewhere */
    s->work--;
    if (w->cost[other * w->days + w->by_cost[other * w->days]] >= limit && theirs->never >= limit)
        return false;
    cw_dividing_take(w, lot);
    cw_dividing_take(w, other);
    cw_dividing_put(w, lot, day);
    int32_t to = cheapest(s, other, limit);
    if (to != NEVER || theirs->never < limit) {
        cw_dividing_put(w, other, to);
        return true;
    }
    cw_dividing_take(w, lot);
    cw_dividing_put(w, other, day);
    cw_dividing_put(w, lot, old);
    return false;
}

static bool push_out(search *s, size_t lot)
{
    dividing *w = s->w;
    double was = now(s, lot);
    if (!w->small[lot])
        return false;
    for (size_t i = 0; i < w->days && s->work > 0; i++) {
        size_t d = w->by_cost[lot * w->days + i], n = 0;
        double gain = was - w->cost[lot * w->days + d] - s->least;
        if (!(gain > 0))
            break;
        if ((int32_t)d == w->at[lot])
            continue;
        for (int32_t k = w->first[d]; k >= 0; k = w->next[k])
            s->others[n++] = k;
        for (size_t k = 0; k < n; k++)
            if (change_places(s, lot, (size_t)s->others[k], gain))
                return true;
    }
    return false;
}

/* The small, free lots of two days (NEVER: of none), at most DEAL; more: 0. */
static size_t lots_of(const dividing *w, int32_t a, int32_t b, int32_t lot[DEAL])
{
    size_t n = 0;
    for (int side = 0; side < 2; side++) {
        int32_t day = side == 0 ? a : b;
        for (int32_t k = w->first[day]; k >= 0; k = w->next[k]) {
            if (w->fixed[k])
                continue;
            if (n == DEAL)
                return 0;
            lot[n++] = k;
        }
    }
    return n;
}

/* Two days deal out what they have, in the cheapest of all ways: depth first, what cannot be cheaper any more left out. */
typedef struct dealing {
    dividing *w;
    int32_t day[2];
    int32_t lot[DEAL];
    double rest[DEAL + 1]; /* least that lots i and on can cost */
    size_t n;
    uint32_t way, best;
    double least;
    int64_t steps;
} dealing;

static void deal(dealing *t, size_t i, double cost, const int64_t cut[2], const int64_t wash[2])
{
    t->steps++;
    if (cost + t->rest[i] >= t->least)
        return;
    if (i == t->n) {
        t->least = cost;
        t->best = t->way;
        return;
    }
    const cw_dividing_lot *l = &t->w->in->lot[t->lot[i]];
    for (uint32_t side = 0; side < 2; side++) {
        double c = t->w->cost[(size_t)t->lot[i] * t->w->days + (size_t)t->day[side]];
        if (c == INFINITY || l->cut_minutes > cut[side] || l->wash_minutes > wash[side])
            continue;
        int64_t cuts[2] = { cut[0], cut[1] }, washes[2] = { wash[0], wash[1] };
        cuts[side] -= l->cut_minutes;
        washes[side] -= l->wash_minutes;
        t->way = (t->way & ~(1u << i)) | side << i;
        deal(t, i + 1, cost + c, cuts, washes);
    }
}

static bool deal_out(search *s, int32_t a, int32_t b)
{
    dividing *w = s->w;
    dealing t = { .w = w, .day = { a, b }, .n = 0 };
    double was = 0;
    t.n = lots_of(w, a, b, t.lot);
    s->work -= 10;
    if (t.n < 2)
        return false;
    int64_t cut[2] = { w->cut_room[a], w->cut_room[b] }, wash[2] = { w->wash_room[a], w->wash_room[b] };
    for (size_t i = t.n; i-- > 0;) {
        size_t l = (size_t)t.lot[i];
        int side = w->at[l] == a ? 0 : 1;
        cut[side] += w->in->lot[l].cut_minutes;
        wash[side] += w->in->lot[l].wash_minutes;
        was += now(s, l);
        t.rest[i] = t.rest[i + 1] + fmin(w->cost[l * w->days + (size_t)a], w->cost[l * w->days + (size_t)b]);
    }
    t.least = was - s->least;
    t.best = UINT32_MAX;
    deal(&t, 0, 0, cut, wash);
    s->work -= t.steps;
    if (t.best == UINT32_MAX)
        return false;
    for (size_t i = 0; i < t.n; i++)
        cw_dividing_take(w, (size_t)t.lot[i]);
    for (size_t i = 0; i < t.n; i++)
        cw_dividing_put(w, (size_t)t.lot[i], t.day[t.best >> i & 1]);
    return true;
}

#define ASK_EVERY 256 /* lots */

/* Until nothing more is found; days are dealt out anew only where one of them has changed since. */
static void improve(search *s)
{
    dividing *w = s->w;
    bool better = true;
    while (better && s->work > 0 && cw_wanted(w->in->go_on)) {
        better = false;
        for (size_t l = 0; l < w->lots && s->work > 0 && (l % ASK_EVERY || cw_wanted(w->in->go_on)); l++)
            if (!w->fixed[l])
                better = move_one(s, l) || push_out(s, l) || better;
        int64_t since = s->dealt;
        s->dealt = w->clock;
        for (size_t a = 0; a < w->days && s->work > 0 && cw_wanted(w->in->go_on); a++)
            for (size_t b = a + 1; b < w->days && s->work > 0; b++)
                if (w->changed[a] > since || w->changed[b] > since)
                    better = deal_out(s, (int32_t)a, (int32_t)b) || better;
    }
}

/* ---- the first plan, and others ---- */

static int by_key(const void *pa, const void *pb, void *context)
{
    const search *s = context;
    int32_t a = *(const int32_t *)pa, b = *(const int32_t *)pb;
    return s->key[a] != s->key[b] ? (s->key[a] > s->key[b] ? -1 : 1) : (a > b) - (a < b);
}

/* Gives a day to each of order[n] in turn. */
static void place_each(search *s, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        size_t l = (size_t)s->order[i];
        int32_t to = cheapest(s, l, s->w->in->lot[l].never);
        if (to != NEVER)
            cw_dividing_put(s->w, l, to);
    }
}

/* Lots that take several days first, then those which the relaxation gave one day, then the rest, largest first. */
static void first_plan(search *s, const int32_t *hint)
{
    dividing *w = s->w;
    size_t n = 0;
    for (size_t l = 0; l < w->lots; l++) {
        s->key[l] = (double)w->in->lot[l].cut_minutes;
        if (!w->fixed[l] && !w->small[l])
            s->order[n++] = (int32_t)l;
    }
    qsort_r(s->order, n, sizeof *s->order, by_key, s);
    place_each(s, n);
    n = 0;
    for (size_t l = 0; l < w->lots; l++)
        if (!w->fixed[l] && w->small[l] && hint[l] != NEVER && cw_dividing_fits(w, l, hint[l]))
            cw_dividing_put(w, l, hint[l]);
        else if (!w->fixed[l] && w->small[l])
            s->order[n++] = (int32_t)l;
    qsort_r(s->order, n, sizeof *s->order, by_key, s);
    place_each(s, n);
}

typedef struct saved {
    int32_t *at; /* [lots] */
    double total;
} saved;

static void save(const search *s, saved *to)
{
    to->total = s->w->total;
    memcpy(to->at, s->w->at, s->w->lots * sizeof *to->at);
}

static void go_back(search *s, const saved *to)
{
    dividing *w = s->w;
    for (size_t l = 0; l < w->lots; l++)
        if (w->at[l] != to->at[l])
            cw_dividing_take(w, l);
    for (size_t l = 0; l < w->lots; l++)
        if (w->at[l] != to->at[l])
            cw_dividing_put(w, l, to->at[l]);
    w->total = to->total;
}

/* Empties a few days that lie near each other, and puts their lots, and those without a day, back in another order. */
static void shake(search *s)
{
    dividing *w = s->w;
    size_t n = 0, from = cw_rng_below(&s->rng, (uint32_t)w->days);
    for (int k = 0; k < EMPTIED; k++) {
        size_t d = (from + cw_rng_below(&s->rng, 10)) % w->days;
        for (int32_t l = w->first[d]; l >= 0;) {
            int32_t next = w->next[l];
            if (!w->fixed[l]) {
                cw_dividing_take(w, (size_t)l);
                s->order[n++] = l;
            }
            l = next;
        }
    }
    for (size_t l = 0; l < w->lots && n < w->lots; l++)
        if (w->at[l] == NEVER && w->small[l] && !w->fixed[l] && cw_rng_below(&s->rng, 4) == 0)
            s->order[n++] = (int32_t)l;
    for (size_t i = 0; i < n; i++)
        s->key[s->order[i]] = cw_rng_uniform(&s->rng) * (double)w->in->lot[s->order[i]].cut_minutes;
    qsort_r(s->order, n, sizeof *s->order, by_key, s);
    size_t last = 0; /* a lot may stand in the order twice */
    for (size_t i = 0; i < n; i++)
        if (i == 0 || s->order[i] != s->order[last - 1])
            s->order[last++] = s->order[i];
    place_each(s, last);
}

/* Plans that are a little dearer than the last are gone on from, too, and ever less so (threshold accepting: Dueck & Scheuer 1990,
 * J. Comput. Phys. 90; from memory); the best one seen is kept. */
static void search_on(search *s, saved *here, saved *best, double gap)
{
    dividing *w = s->w;
    double all = (double)s->work;
    size_t in_vain = 0;
    improve(s);
    save(s, here);
    save(s, best);
    while (in_vain++ < IN_VAIN + 10 * w->lots && s->work > 0 && best->total > w->floor &&
           cw_wanted(w->in->go_on)) {
        shake(s);
        improve(s);
        if (w->total < best->total - s->least) {
            save(s, best);
            in_vain = 0;
        }
        if (w->total < here->total + THRESHOLD * gap * (double)s->work / all)
            save(s, here);
        else
            go_back(s, here);
    }
    go_back(s, best);
}

cw_code cw_dividing_place(dividing *w, const int32_t *hint, bool improved, cw_error *err)
{
    search s = { .w = w, .dealt = -1, .work = WORK + WORK_EACH * (int64_t)(w->lots * w->days) };
    size_t n = w->lots + 1;
    saved here = { calloc(n, sizeof *here.at), 0 }, best = { calloc(n, sizeof *best.at), 0 };
    double stake = 0;
    s.order = calloc(2 * n, sizeof *s.order);
    s.others = calloc(n, sizeof *s.others);
    s.key = calloc(n, sizeof *s.key);
    cw_code code = s.order && s.others && s.key && here.at && best.at ? CW_OK : cw_error_memory(err);
    for (size_t l = 0; l < w->lots; l++)
        stake += fabs(w->in->lot[l].never);
    s.least = LEAST * stake / (double)n;
    cw_rng_init(&s.rng, SEED, 0);
    if (code == CW_OK)
        first_plan(&s, hint);
    if (code == CW_OK && improved) {
        search_on(&s, &here, &best, w->total - w->floor);
        code = cw_wanted(w->in->go_on) ? CW_OK : cw_given_up(err);
    }
    free(here.at);
    free(best.at);
    free(s.order);
    free(s.others);
    free(s.key);
    return code;
}

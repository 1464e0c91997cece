/* SPDX-License-Identifier: MIT */
#include "model/flow.h"
#include "model/substitute_inside.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* The relaxation as a flow: groups -> (limits ->) varieties -> sink, and groups -> unplaced (of lines that must be
 * whole: unfilled) -> sink. Of the arcs from
 * groups only the cheapest are written down at first; then those with negative reduced cost, until there are none. */
#define FIRST_ARCS 10000 /* about so many are written down at once */
#define LEAST_ARCS 4     /* but at least so many a group */

/* The few best varieties of a group, best first. */
typedef struct shortlist {
    int64_t *key;
    uint32_t *at;
    size_t count, most;
} shortlist;

typedef struct network {
    cw_sub_work *w;
    cw_flow *flow;
    uint8_t *written; /* [groups * varieties] bits: this arc is written down or has no room */
    size_t fixed;     /* arcs that are not from a group to a variety */
    cw_flow_arc *batch;
    size_t batched;
    cw_sub_arc *arc; /* of the arcs after `fixed` */
    size_t arcs, room;
    shortlist best;
    int32_t *distance; /* [varieties] of the class that was ranked last */
    cw_sub_class class;
    int consent; /* of `distance`; -1 = none yet */
} network;

static void offer(shortlist *s, int64_t key, uint32_t at)
{
    if (s->count == s->most && key >= s->key[s->count - 1])
        return;
    size_t i = s->count < s->most ? s->count++ : s->count - 1;
    for (; i > 0 && s->key[i - 1] > key; i--) {
        s->key[i] = s->key[i - 1];
        s->at[i] = s->at[i - 1];
    }
    s->key[i] = key;
    s->at[i] = at;
}

static const cw_sub_line *sample(const cw_sub_work *w, size_t g)
{
    return &w->st->in->line[w->st->line[w->member[w->group[g].first]]];
}

static bool must_be_whole(const cw_sub_work *w, size_t g)
{
    return w->st->fate && w->st->fate[w->st->line[w->member[w->group[g].first]]] == CW_SUB_WHOLE;
}

/* Room of a whole group. */
static int64_t group_room(const cw_sub_work *w, size_t g, uint32_t v)
{
    int64_t sum = 0;
    for (size_t i = 0; i < w->group[g].count; i++)
        sum += cw_sub_room(w->st, w->st->line[w->member[w->group[g].first + i]], v);
    return sum;
}

/* The limit between a group (of one line) and a variety, or `couplings`. */
static size_t find_coupling(const cw_sub_work *w, size_t g, uint32_t at)
{
    uint32_t order = sample(w, g)->order;
    size_t low = 0, high = w->couplings;
    while (low < high) {
        size_t k = (low + high) / 2;
        const cw_sub_coupling *c = &w->coupling[k];
        if (c->order < order || (c->order == order && c->at < at))
            low = k + 1;
        else
            high = k;
    }
    bool found = low < w->couplings && w->coupling[low].order == order && w->coupling[low].at == at;
    return found && w->group[g].count == 1 ? low : w->couplings;
}

static int64_t arc_cost(const cw_sub_stage *st, int32_t distance, cw_cents extra)
{
    return st->blank ? 0 : distance * st->far + extra / st->unit;
}

static int32_t coupling_node(const cw_sub_work *w, size_t c)
{
    return (int32_t)(w->groups + w->st->varieties + c);
}

/* Writes one arc down, unless there is no room on it; either way it is not looked at again. */
static cw_code write_arc(network *n, size_t g, uint32_t at, cw_error *err)
{
    cw_sub_work *w = n->w;
    size_t bit = g * w->st->varieties + at;
    int32_t distance;
    cw_cents extra;
    uint32_t v = w->st->variety[at];
    int64_t room = group_room(w, g, v);
    n->written[bit / 8] |= (uint8_t)(1u << bit % 8);
    if (room == 0 || !cw_sub_pair(w->st->in, sample(w, g), v, &distance, &extra))
        return CW_OK;
    if (n->arcs == n->room) {
        size_t more = n->room * 2 + 4096;
        cw_sub_arc *a = realloc(n->arc, more * sizeof *a);
        n->arc = a ? a : n->arc;
        cw_flow_arc *b = realloc(n->batch, more * sizeof *b);
        n->batch = b ? b : n->batch;
        if (!a || !b)
            return cw_error_memory(err);
        n->room = more;
    }
    size_t c = find_coupling(w, g, at);
    int64_t cost = arc_cost(w->st, distance, extra);
    n->arc[n->arcs++] = (cw_sub_arc){ (uint32_t)g, at, cost, 0 };
    n->batch[n->batched++] =
        (cw_flow_arc){ (int32_t)g, c < w->couplings ? coupling_node(w, c) : (int32_t)(w->groups + at), room,
                       cost };
    return CW_OK;
}

static void consider(network *n, size_t g, uint32_t at, int64_t key, int64_t under)
{
    const cw_sub_work *w = n->w;
    size_t bit = g * w->st->varieties + at;
    if (n->written[bit / 8] >> bit % 8 & 1 || w->st->variety[at] == sample(w, g)->wanted)
        return;
    if (w->couplings > 0) {
        size_t c = find_coupling(w, g, at);
        key += c < w->couplings ? w->coupling[c].price : 0;
    }
    if (key < under)
        offer(&n->best, key, at);
}

/* The distances for a group; alike groups follow one another, so that few are worked out anew. */
static const int32_t *distances(network *n, const cw_sub_line *l)
{
    cw_sub_class c = cw_sub_class_of(n->w->st->in, l);
    if (n->consent != l->consent || memcmp(&c, &n->class, sizeof c) != 0)
        cw_sub_distances(n->w->st, l->consent, &c, n->distance);
    n->consent = l->consent;
    n->class = c;
    return n->distance;
}

/* A named list is short: its varieties are found by place. */
static void rank_named(network *n, size_t g, int64_t worth, int64_t under)
{
    const cw_sub_work *w = n->w;
    const cw_sub_stage *st = w->st;
    const cw_sub_line *l = sample(w, g);
    for (uint32_t k = 0; k < l->named_count; k++) {
        int32_t distance;
        cw_cents extra;
        uint32_t v = st->in->named[l->named_first + k];
        if (st->surplus[v] > 0 && cw_sub_pair(st->in, l, v, &distance, &extra) && distance == (int32_t)k)
            consider(n, g, st->at[v], arc_cost(st, distance, extra) + w->variety_price[st->at[v]] - worth,
                     under);
    }
}

/* Puts the best unwritten varieties of group g on the list, by cost + price of the variety - worth; only those below
 * `under`. */
static void rank_group(network *n, size_t g, int64_t worth, int64_t under)
{
    const cw_sub_work *w = n->w;
    const cw_sub_stage *st = w->st;
    const cw_sub_line *l = sample(w, g);
    n->best.count = 0;
    if (l->consent == CW_CONSENT_NAMED) {
        rank_named(n, g, worth, under);
        return;
    }
    const int32_t *distance = distances(n, l);
    int64_t paid = l->paid / st->unit, bar = under;
    bool any_price = l->consent == CW_CONSENT_ASSORTMENT;
    for (uint32_t at = 0; at < st->varieties; at++) {
        int64_t extra = st->price[at] - paid;
        if (extra < 0)
            extra = any_price ? 0 : -1;
        if (extra < 0 || distance[at] < 0)
            continue;
        int64_t key = (st->blank ? 0 : distance[at] * st->far + extra) + w->variety_price[at] - worth;
        if (key >= bar)
            continue;
        consider(n, g, at, key, under);
        if (n->best.count == n->best.most && n->best.key[n->best.most - 1] < bar)
            bar = n->best.key[n->best.most - 1];
    }
}

static cw_code write_best(network *n, size_t g, cw_error *err)
{
    cw_code code = CW_OK;
    for (size_t i = 0; i < n->best.count && code == CW_OK; i++)
        code = write_arc(n, g, n->best.at[i], err);
    return code;
}

/* Nodes, supplies and the arcs that are always there. */
static cw_code found_network(network *n, cw_error *err)
{
    cw_sub_work *w = n->w;
    const cw_sub_stage *st = w->st;
    size_t nodes = w->groups + st->varieties + w->couplings + 3;
    int32_t unfilled = (int32_t)nodes - 3, unplaced = (int32_t)nodes - 2, sink = (int32_t)nodes - 1;
    int64_t *supply = calloc(nodes, sizeof *supply);
    n->fixed = w->groups + st->varieties + w->couplings + 2;
    cw_flow_arc *arc = malloc(n->fixed * sizeof *arc);
    cw_code code = supply && arc ? CW_OK : cw_error_memory(err);
    size_t k = 0;
    for (size_t g = 0; g < w->groups && code == CW_OK; g++) {
        supply[g] = w->group[g].missing;
        supply[sink] -= w->group[g].missing;
        arc[k++] =
            (cw_flow_arc){ (int32_t)g, must_be_whole(w, g) ? unfilled : unplaced, CW_FLOW_INFINITE, 0 };
    }
    for (size_t s = 0; s < st->varieties && code == CW_OK; s++)
        arc[k++] = (cw_flow_arc){ (int32_t)(w->groups + s), sink, st->surplus[st->variety[s]], 0 };
    for (size_t c = 0; c < w->couplings && code == CW_OK; c++)
        arc[k++] = (cw_flow_arc){ coupling_node(w, c), (int32_t)(w->groups + w->coupling[c].at),
                                  w->coupling[c].room, 0 };
    if (code == CW_OK) {
        arc[k++] = (cw_flow_arc){ unplaced, sink, CW_FLOW_INFINITE, st->unplaced };
        arc[k++] = (cw_flow_arc){ unfilled, sink, CW_FLOW_INFINITE, st->unfilled };
        code = cw_flow_new((int32_t)nodes, supply, &n->flow, err);
    }
    if (code == CW_OK)
        code = cw_flow_add(n->flow, arc, k, err);
    free(supply);
    free(arc);
    return code;
}

/* Node potentials as prices; those of nodes that no flow passes may come out negative: they are worth nothing. */
static void read_prices(network *n)
{
    cw_sub_work *w = n->w;
    const int64_t *p = cw_flow_potentials(n->flow);
    int64_t sink = p[w->groups + w->st->varieties + w->couplings + 2];
    for (size_t g = 0; g < w->groups; g++)
        w->group_price[g] = sink - p[g];
    for (size_t s = 0; s < w->st->varieties; s++) {
        int64_t price = sink - p[w->groups + s];
        w->variety_price[s] = price > 0 ? price : 0;
    }
    for (size_t c = 0; c < w->couplings; c++) {
        int64_t price = p[w->groups + w->coupling[c].at] - p[coupling_node(w, c)];
        w->coupling[c].price = price > 0 ? price : 0;
    }
}

static int by_group_at(const void *pa, const void *pb)
{
    const cw_sub_arc *a = pa, *b = pb;
    if (a->group != b->group)
        return (a->group > b->group) - (a->group < b->group);
    return (a->at > b->at) - (a->at < b->at);
}

/* What the last round dealt, as arcs of the groups of this one, each group and variety once. */
static cw_code gather_last(const cw_sub_work *w, cw_sub_arc **out, size_t *count, cw_error *err)
{
    const cw_sub_stage *st = w->st;
    uint32_t *group_of = malloc((st->in->lines + 1) * sizeof *group_of);
    cw_sub_arc *a = malloc((w->last.count + 1) * sizeof *a);
    size_t k = 0;
    *out = a;
    if (!group_of || !a) {
        free(group_of);
        return cw_error_memory(err);
    }
    for (size_t g = 0; g < w->groups; g++)
        for (size_t i = 0; i < w->group[g].count; i++)
            group_of[st->line[w->member[w->group[g].first + i]]] = (uint32_t)g;
    for (size_t i = 0; i < w->last.count; i++) {
        const cw_sub_choice *c = &w->last.item[i];
        a[i] = (cw_sub_arc){ group_of[c->line], st->at[c->variety], 0, c->quantity };
    }
    free(group_of);
    if (w->last.count > 0)
        qsort(a, w->last.count, sizeof *a, by_group_at);
    for (size_t i = 0; i < w->last.count; i++)
        if (k > 0 && by_group_at(&a[k - 1], &a[i]) == 0)
            a[k - 1].flow += a[i].flow;
        else
            a[k++] = a[i];
    *count = k;
    return CW_OK;
}

/* Writes the arcs down that the last round used, with what they may carry now. */
static cw_code write_last(network *n, cw_error *err)
{
    cw_sub_work *w = n->w;
    cw_sub_arc *last = NULL;
    size_t count = 0;
    int64_t *left = malloc((w->couplings + 1) * sizeof *left);
    cw_code code = left ? gather_last(w, &last, &count, err) : cw_error_memory(err);
    for (size_t c = 0; c < w->couplings && code == CW_OK; c++)
        left[c] = w->coupling[c].room;
    for (size_t i = 0; i < count && code == CW_OK; i++) {
        size_t c = find_coupling(w, last[i].group, last[i].at), before = n->arcs;
        if ((code = write_arc(n, last[i].group, last[i].at, err)) != CW_OK || n->arcs == before)
            continue;
        int64_t flow = last[i].flow;
        if (c < w->couplings) {
            flow = flow < left[c] ? flow : left[c];
            left[c] -= flow;
        }
        n->arc[before].flow = flow;
    }
    free(left);
    free(last);
    return code;
}

/* The prices of the last round as potentials; the sink's is 0. */
static void guess_potentials(const network *n, int64_t *p)
{
    const cw_sub_work *w = n->w;
    size_t other = w->groups + w->st->varieties + w->couplings;
    for (size_t g = 0; g < w->groups; g++)
        p[g] = -w->line_price[w->member[w->group[g].first]];
    for (size_t s = 0; s < w->st->varieties; s++)
        p[w->groups + s] = -w->variety_price[s];
    for (size_t c = 0; c < w->couplings; c++)
        p[coupling_node(w, c)] = -w->variety_price[w->coupling[c].at] - w->coupling[c].price;
    p[other] = -w->st->unfilled;
    p[other + 1] = -w->st->unplaced;
    p[other + 2] = 0;
}

/* The flow of the arcs from write_last; what is not on them is unplaced. */
static void last_flow(const network *n, int64_t *flow)
{
    const cw_sub_work *w = n->w;
    size_t varieties = w->groups, couplings = varieties + w->st->varieties, end = n->fixed - 2;
    for (size_t g = 0; g < w->groups; g++)
        flow[g] = w->group[g].missing;
    for (size_t a = 0; a < n->arcs; a++) {
        int64_t x = n->arc[a].flow;
        size_t c = find_coupling(w, n->arc[a].group, n->arc[a].at);
        flow[n->fixed + a] = x;
        flow[n->arc[a].group] -= x;
        flow[varieties + n->arc[a].at] += x;
        if (c < w->couplings)
            flow[couplings + c] += x;
    }
    for (size_t g = 0; g < w->groups; g++)
        flow[must_be_whole(w, g) ? end + 1 : end] += flow[g];
}

static cw_code begin_from_last(network *n, cw_error *err)
{
    const cw_sub_work *w = n->w;
    int64_t *flow = calloc(n->fixed + n->arcs, sizeof *flow);
    int64_t *guess = malloc((w->groups + w->st->varieties + w->couplings + 3) * sizeof *guess);
    cw_code code = flow && guess ? cw_flow_add(n->flow, n->batch, n->batched, err) : cw_error_memory(err);
    n->batched = 0;
    if (code == CW_OK) {
        last_flow(n, flow);
        guess_potentials(n, guess);
        code = cw_flow_begin(n->flow, flow, guess, err);
    }
    free(flow);
    free(guess);
    return code;
}

static bool asked(void *self)
{
    const cw_sub_work *w = self;
    return w->st->in->go_on(w->st->in->context, (uint32_t)w->rounds);
}

static cw_go_on go_on_of(cw_sub_work *w)
{
    return w->st->in->go_on ? (cw_go_on){ asked, w } : (cw_go_on){ 0 };
}

#define ASK_EVERY 256 /* groups */

/* Solve, look for arcs that would pay, add them, until there are none: this last look is the proof of optimality. */
static cw_code sift(network *n, cw_error *err)
{
    cw_sub_work *w = n->w;
    cw_code code = CW_OK;
    cw_flow_heed(n->flow, go_on_of(w));
    do {
        cw_flow_status status = CW_FLOW_OPTIMAL;
        if ((code = cw_flow_add(n->flow, n->batch, n->batched, err)) != CW_OK ||
            (code = cw_flow_solve(n->flow, &status, err)) != CW_OK)
            return code;
        if (status != CW_FLOW_OPTIMAL)
            return cw_error_set(err, CW_MACHINE,
                                "the substitution network has no flow: a fault of this program");
        n->batched = 0;
        read_prices(n);
        for (size_t g = 0; g < w->groups && code == CW_OK; g++) {
            rank_group(n, g, w->group_price[g], 0);
            code = write_best(n, g, err);
            if (code == CW_OK && g % ASK_EVERY == 0 && !cw_wanted(go_on_of(w)))
                code = cw_given_up(err);
        }
    } while (code == CW_OK && n->batched > 0);
    return code;
}

static int by_group(const void *pa, const void *pb)
{
    const cw_sub_arc *a = pa, *b = pb;
    if (a->group != b->group)
        return (a->group > b->group) - (a->group < b->group);
    if (a->cost != b->cost)
        return (a->cost > b->cost) - (a->cost < b->cost);
    return (a->at > b->at) - (a->at < b->at);
}

/* The arcs that carry something, by group, and the prices of lines. */
static void keep_answer(network *n)
{
    cw_sub_work *w = n->w;
    for (size_t g = 0; g < w->groups; g++)
        for (size_t i = 0; i < w->group[g].count; i++)
            w->line_price[w->member[w->group[g].first + i]] = w->group_price[g];
    const int64_t *flow = cw_flow_flows(n->flow) + n->fixed;
    size_t k = 0;
    for (size_t a = 0; a < n->arcs; a++)
        if (flow[a] > 0) {
            n->arc[k] = n->arc[a];
            n->arc[k++].flow = flow[a];
        }
    if (k > 0)
        qsort(n->arc, k, sizeof *n->arc, by_group);
    free(w->arc);
    w->arc = n->arc;
    w->arcs = k;
    w->flow_arcs = n->fixed + n->arcs;
    n->arc = NULL;
}

cw_code cw_sub_relax(cw_sub_work *w, cw_error *err)
{
    size_t span = w->st->varieties, most = FIRST_ARCS / (w->groups + 1);
    most = most < LEAST_ARCS ? LEAST_ARCS : most;
    network n = { .w = w, .consent = -1, .best = { .most = most < span ? most : span } };
    n.written = calloc(w->groups * span / 8 + 1, 1);
    n.best.key = malloc((n.best.most + 1) * sizeof *n.best.key);
    n.distance = malloc((span + 1) * sizeof *n.distance);
    n.best.at = malloc((n.best.most + 1) * sizeof *n.best.at);
    cw_code code =
        n.written && n.best.key && n.best.at && n.distance ? found_network(&n, err) : cw_error_memory(err);
    if (code == CW_OK && w->rounds > 0)
        code = write_last(&n, err);
    for (size_t g = 0; g < w->groups && code == CW_OK && n.best.most > 0; g++) {
        bool first = w->rounds == 0;
        rank_group(&n, g, first ? 0 : w->line_price[w->member[w->group[g].first]], first ? INT64_MAX : 1);
        code = write_best(&n, g, err);
    }
    if (code == CW_OK && w->rounds > 0)
        code = begin_from_last(&n, err);
    if (code == CW_OK)
        code = sift(&n, err);
    if (code == CW_OK)
        keep_answer(&n);
    cw_flow_free(n.flow);
    free(n.written);
    free(n.best.key);
    free(n.best.at);
    free(n.distance);
    free(n.batch);
    free(n.arc);
    return code;
}

/* SPDX-License-Identifier: MIT */
#include "model/flow.h"

#include "base/grow.h"
#include "model/substitute_inside.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define MOST_PAIRS 200000 /* of a group that is dealt out exactly; a larger one is split at once */

#define PATIENT_ROUNDS  1 /* until then a group that cannot be dealt out is split only as far as must be */
#define PATIENT_STRIKES 3 /* until then only the broken limits of an order are put in */

/* What orders of several lines were dealt in this round, so that a line leaves to others of its group what its order may
 * not have again. An order's entries hang on the position of its first line. */
typedef struct dealt {
    uint32_t *first; /* [lines] position of the first line of a line's order */
    uint32_t *head;  /* [lines] 1 + an entry, 0 = none */
    struct dealt_entry {
        uint32_t variety, next;
        int32_t given;
    } * entry;
    size_t entries, room;
} dealt;

static void dealt_free(dealt *d)
{
    free(d->first);
    free(d->head);
    free(d->entry);
}

static cw_code dealt_open(const cw_sub_stage *st, dealt *d, cw_error *err)
{
    *d = (dealt){ .first = malloc((st->lines + 1) * sizeof *d->first),
                  .head = calloc(st->lines + 1, sizeof *d->head) };
    if (!d->first || !d->head)
        return cw_error_memory(err);
    for (size_t k = 0; k < st->lines; k++) {
        bool same = k > 0 && st->in->line[st->line[k]].order == st->in->line[st->line[k - 1]].order;
        d->first[k] = same ? d->first[k - 1] : (uint32_t)k;
    }
    return CW_OK;
}

static int32_t dealt_of(const dealt *d, uint32_t position, uint32_t v)
{
    for (uint32_t e = d->head[d->first[position]]; e > 0; e = d->entry[e - 1].next)
        if (d->entry[e - 1].variety == v)
            return d->entry[e - 1].given;
    return 0;
}

static cw_code dealt_add(dealt *d, uint32_t position, uint32_t v, int32_t given, cw_error *err)
{
    uint32_t *head = &d->head[d->first[position]];
    for (uint32_t e = *head; e > 0; e = d->entry[e - 1].next)
        if (d->entry[e - 1].variety == v) {
            d->entry[e - 1].given += given;
            return CW_OK;
        }
    if (!cw_grow(&d->entry, d->entries, &d->room, sizeof *d->entry))
        return cw_error_memory(err);
    d->entry[d->entries] = (struct dealt_entry){ v, *head, given };
    *head = (uint32_t)++d->entries;
    return CW_OK;
}

static uint32_t input_line(const cw_sub_work *w, const cw_sub_group *g, size_t i)
{
    return w->st->line[w->member[g->first + i]];
}

/* Room of a line for a variety; with `d`, less what its order got on other lines. */
static int32_t room_beside(const cw_sub_work *w, const dealt *d, const cw_sub_group *g, size_t i, uint32_t v)
{
    const cw_sub_stage *st = w->st;
    uint32_t l = input_line(w, g, i);
    int32_t room = cw_sub_room(st, l, v);
    if (d == NULL || room == 0 || st->in->variety[v].limit_per_order == 0)
        return room;
    int32_t given = dealt_of(d, w->member[g->first + i], v);
    if (given == 0)
        return room;
    int32_t left = cw_sub_limit_left(st, st->in->line[l].order, v) - given;
    return left < room ? (left > 0 ? left : 0) : room;
}

/* Deals arcs[n] of a group out by hand: each variety, the nearest first, to the lines in order. False if something
 * stays over. need[] is scratch. */
static cw_code deal_simply(const cw_sub_work *w, const dealt *d, const cw_sub_group *g, const cw_sub_arc *arc,
                           size_t n, int32_t *need, cw_sub_choices *out, bool *done, cw_error *err)
{
    size_t start = 0;
    *done = true;
    for (size_t i = 0; i < g->count; i++)
        need[i] = w->st->in->line[input_line(w, g, i)].missing;
    for (size_t a = 0; a < n && *done; a++) {
        uint32_t v = w->st->variety[arc[a].at];
        int64_t left = arc[a].flow;
        while (start < g->count && need[start] == 0)
            start++;
        for (size_t i = start; i < g->count && left > 0; i++) {
            uint32_t l = input_line(w, g, i);
            int32_t room = need[i] > 0 ? room_beside(w, d, g, i, v) : 0;
            int32_t give = room < need[i] ? room : need[i];
            give = give < left ? give : (int32_t)left;
            if (give == 0)
                continue;
            cw_code code = cw_sub_choices_add(out, w->st->in, l, v, give, err);
            if (code != CW_OK)
                return code;
            need[i] -= give;
            left -= give;
        }
        *done = left == 0;
    }
    return CW_OK;
}

/* The same exactly, as a flow: lines -> varieties with the room of each pair. */
static cw_code deal_by_flow(const cw_sub_work *w, const dealt *d, const cw_sub_group *g,
                            const cw_sub_arc *arc, size_t n, cw_sub_choices *out, bool *done, cw_error *err)
{
    size_t nodes = g->count + n + 1, k = 0; /* the last node takes what stays unplaced */
    int64_t *supply = calloc(nodes, sizeof *supply);
    cw_flow_arc *pair = malloc((g->count * n + g->count) * sizeof *pair);
    cw_flow *f = NULL;
    cw_flow_status status = CW_FLOW_INFEASIBLE;
    cw_code code = supply && pair ? CW_OK : cw_error_memory(err);
    if (code != CW_OK)
        goto finish;
    supply[nodes - 1] = -g->missing;
    for (size_t a = 0; a < n; a++) {
        supply[g->count + a] = -arc[a].flow;
        supply[nodes - 1] += arc[a].flow;
    }
    for (size_t i = 0; i < g->count; i++) {
        uint32_t l = input_line(w, g, i);
        supply[i] = w->st->in->line[l].missing;
        for (size_t a = 0; a < n; a++)
            pair[k++] = (cw_flow_arc){ (int32_t)i, (int32_t)(g->count + a),
                                       room_beside(w, d, g, i, w->st->variety[arc[a].at]), 0 };
        pair[k++] = (cw_flow_arc){ (int32_t)i, (int32_t)nodes - 1, CW_FLOW_INFINITE, 0 };
    }
    if ((code = cw_flow_new((int32_t)nodes, supply, &f, err)) != CW_OK ||
        (code = cw_flow_add(f, pair, k, err)) != CW_OK || (code = cw_flow_solve(f, &status, err)) != CW_OK)
        goto finish;
    *done = status == CW_FLOW_OPTIMAL;
    const int64_t *flow = cw_flow_flows(f);
    for (size_t i = 0; i < g->count && *done; i++)
        for (size_t a = 0; a < n && code == CW_OK; a++)
            if (flow[i * (n + 1) + a] > 0)
                code = cw_sub_choices_add(out, w->st->in, input_line(w, g, i), w->st->variety[arc[a].at],
                                          (int32_t)flow[i * (n + 1) + a], err);
finish:
    cw_flow_free(f);
    free(supply);
    free(pair);
    return code;
}

static int32_t missing_of(const cw_sub_work *w, const cw_sub_group *g, size_t i)
{
    return w->st->in->line[input_line(w, g, i)].missing;
}

static int32_t room_of(const cw_sub_work *w, const cw_sub_group *g, size_t i, const cw_sub_arc *arc)
{
    return cw_sub_room(w->st, input_line(w, g, i), w->st->variety[arc->at]);
}

/* Do limits bind on lines that miss more and less? */
static bool is_uneven(const cw_sub_work *w, const cw_sub_group *g, const cw_sub_arc *arc, size_t n)
{
    bool uneven = false, limited = false;
    for (size_t i = 0; i < g->count; i++) {
        uneven = uneven || missing_of(w, g, i) != missing_of(w, g, 0);
        for (size_t a = 0; a < n && !limited; a++) {
            int32_t room = room_of(w, g, i, &arc[a]);
            limited = room > 0 && room < missing_of(w, g, i);
        }
    }
    return uneven && limited;
}

/* A group that cannot be dealt out. If its lines miss more and less than a limit, they go with those that miss as much;
 * else those that stand out from the rest become groups of their own, and after a few rounds all do, since a round costs
 * more than a few groups. */
static void split(cw_sub_work *w, const cw_sub_group *g, const cw_sub_arc *arc, size_t n)
{
    bool uneven = is_uneven(w, g, arc, n), all = w->rounds > PATIENT_ROUNDS, any = uneven;
    for (size_t i = 0; i < g->count && uneven; i++)
        w->apart[w->member[g->first + i]] = CW_SUB_WITH_EQUAL;
    for (size_t a = 0; a < n && !uneven; a++) {
        int32_t most = 0;
        for (size_t i = 0; i < g->count; i++)
            most = room_of(w, g, i, &arc[a]) > most ? room_of(w, g, i, &arc[a]) : most;
        for (size_t i = 0; i < g->count; i++) {
            int32_t fair = most < missing_of(w, g, i) ? most : missing_of(w, g, i);
            if (all || room_of(w, g, i, &arc[a]) < fair) {
                w->apart[w->member[g->first + i]] = CW_SUB_ALONE;
                any = true;
            }
        }
    }
    for (size_t i = 0; i < g->count && !any;
         i++) /* cannot be, but a loop without progress must not be either */
        w->apart[w->member[g->first + i]] = CW_SUB_ALONE;
}

/* First so that every order keeps its limits; if that cannot be, without a look at other lines: then check_limits sees what
 * is broken. */
static cw_code try_dealing(const cw_sub_work *w, const dealt *d, const cw_sub_group *g, const cw_sub_arc *arc,
                           size_t n, cw_sub_choices *out, bool *done, cw_error *err)
{
    size_t before = out->count;
    int32_t *need = malloc((g->count + 1) * sizeof *need);
    if (!need)
        return cw_error_memory(err);
    cw_code code = deal_simply(w, d, g, arc, n, need, out, done, err);
    for (int apart = 1; apart >= 0 && code == CW_OK && !*done; apart--) {
        out->count = before;
        if (g->count > 1 && g->count * n <= MOST_PAIRS)
            code = deal_by_flow(w, apart ? d : NULL, g, arc, n, out, done, err);
        else if (!apart)
            code = deal_simply(w, NULL, g, arc, n, need, out, done, err);
    }
    if (code == CW_OK && !*done) { /* as far as it goes */
        bool rest;
        out->count = before;
        code = deal_simply(w, d, g, arc, n, need, out, &rest, err);
    }
    free(need);
    return code;
}

static cw_code deal_group(cw_sub_work *w, dealt *d, const cw_sub_group *g, const cw_sub_arc *arc, size_t n,
                          uint32_t *position, cw_sub_choices *out, bool *clean, cw_error *err)
{
    size_t before = out->count;
    bool is_dealt = false;
    cw_code code = try_dealing(w, d, g, arc, n, out, &is_dealt, err);
    if (code == CW_OK && !is_dealt) {
        split(w, g, arc, n);
        *clean = false;
    }
    for (size_t i = before; i < out->count && code == CW_OK; i++)
        code = dealt_add(d, position[out->item[i].line], out->item[i].variety, out->item[i].quantity, err);
    return code;
}

static cw_code put_limit(cw_sub_work *w, uint32_t order, uint32_t at, cw_error *err)
{
    if (!cw_grow(&w->coupling, w->couplings, &w->couplings_room, sizeof *w->coupling))
        return cw_error_memory(err);
    w->coupling[w->couplings++] =
        (cw_sub_coupling){ order, at, cw_sub_limit_left(w->st, order, w->st->variety[at]), 0 };
    return CW_OK;
}

static int by_order_at(const void *pa, const void *pb)
{
    const cw_sub_coupling *a = pa, *b = pb;
    return a->order != b->order ? (a->order > b->order) - (a->order < b->order)
                                : (a->at > b->at) - (a->at < b->at);
}

static void sort_limits(cw_sub_work *w)
{
    size_t k = 0;
    if (w->couplings > 0)
        qsort(w->coupling, w->couplings, sizeof *w->coupling, by_order_at);
    for (size_t c = 0; c < w->couplings; c++)
        if (k == 0 || by_order_at(&w->coupling[k - 1], &w->coupling[c]) != 0)
            w->coupling[k++] = w->coupling[c];
        else if (w->coupling[c].price > w->coupling[k - 1].price) /* the one that was there before */
            w->coupling[k - 1].price = w->coupling[c].price;
    w->couplings = k;
}

/* Puts limits in for an order whose lines got `sum[at]` together: those that are broken, and after
 * some rounds all that could be, so that it does not come back for each variety in turn. */
static cw_code couple_order(cw_sub_work *w, size_t first, size_t end, const int64_t *sum, bool *clean,
                            cw_error *err)
{
    const cw_sub_stage *st = w->st;
    uint32_t order = st->in->line[st->line[first]].order;
    int64_t missing = 0;
    bool broken = false;
    for (size_t k = first; k < end; k++)
        missing += st->in->line[st->line[k]].missing;
    for (uint32_t at = 0; at < st->varieties && !broken; at++)
        broken = sum[at] > 0 && sum[at] > cw_sub_limit_left(st, order, st->variety[at]);
    if (!broken)
        return CW_OK;
    *clean = false;
    bool all = w->strikes[first] >= PATIENT_STRIKES;
    w->strikes[first] += !all;
    for (size_t k = first; k < end; k++)
        w->apart[k] = CW_SUB_ALONE;
    for (uint32_t at = 0; at < st->varieties; at++)
        if ((all ? missing : sum[at]) > cw_sub_limit_left(st, order, st->variety[at])) {
            cw_code code = put_limit(w, order, at, err);
            if (code != CW_OK)
                return code;
        }
    return CW_OK;
}

static int by_line_then_variety(const void *pa, const void *pb, void *context)
{
    const cw_sub_line *line = context;
    const cw_sub_choice *a = pa, *b = pb;
    const cw_sub_line *x = &line[a->line], *y = &line[b->line];
    if (x->order != y->order)
        return (x->order > y->order) - (x->order < y->order);
    return (a->variety > b->variety) - (a->variety < b->variety);
}

/* Do the lines of each order together keep its limits? Orders with one line do by their arcs' room. */
static cw_code check_limits(cw_sub_work *w, const cw_sub_choices *out, bool *clean, cw_error *err)
{
    const cw_sub_stage *st = w->st;
    const cw_sub_line *line = st->in->line;
    int64_t *sum = calloc(st->varieties + 1, sizeof *sum);
    cw_sub_choice *c = malloc((out->count + 1) * sizeof *c);
    cw_code code = sum && c ? CW_OK : cw_error_memory(err);
    if (code != CW_OK)
        goto finish;
    if (out->count > 0) {
        memcpy(c, out->item, out->count * sizeof *c);
        qsort_r(c, out->count, sizeof *c, by_line_then_variety, (void *)line);
    }
    for (size_t k = 0, i = 0, end = 0; k < st->lines && code == CW_OK; k = end) {
        uint32_t order = line[st->line[k]].order;
        for (end = k; end < st->lines && line[st->line[end]].order == order;)
            end++;
        size_t from = i;
        for (; i < out->count && line[c[i].line].order == order; i++)
            sum[st->at[c[i].variety]] += c[i].quantity;
        if (end - k > 1 && i - from > 1)
            code = couple_order(w, k, end, sum, clean, err);
        for (size_t j = from; j < i; j++)
            sum[st->at[c[j].variety]] = 0;
    }
    sort_limits(w);
finish:
    free(sum);
    free(c);
    return code;
}

cw_code cw_sub_deal(cw_sub_work *w, cw_sub_choices *out, bool *clean, cw_error *err)
{
    dealt d;
    uint32_t *position = malloc((w->st->in->lines + 1) * sizeof *position); /* of input lines */
    cw_code code = dealt_open(w->st, &d, err);
    if (code == CW_OK && !position)
        code = cw_error_memory(err);
    for (size_t k = 0; k < w->st->lines && code == CW_OK; k++)
        position[w->st->line[k]] = (uint32_t)k;
    *clean = true;
    for (size_t a = 0, end = 0; a < w->arcs && code == CW_OK; a = end) {
        const cw_sub_group *g = &w->group[w->arc[a].group];
        for (end = a; end < w->arcs && w->arc[end].group == w->arc[a].group;)
            end++;
        code = deal_group(w, &d, g, &w->arc[a], end - a, position, out, clean, err);
    }
    dealt_free(&d);
    free(position);
    return code == CW_OK ? check_limits(w, out, clean, err) : code;
}

/* SPDX-License-Identifier: MIT */
#include "model/flow_inside.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* A spanning tree for a flow that is given. It grows towards the root: what hangs on it must be able to send something
 * there, which makes it strongly feasible. */

/* What joins a node to the tree, best first. */
enum { BETWEEN, TIGHT, ANY, KINDS };

typedef struct growing {
    cw_flow *f;
    const int64_t *guess;
    size_t *first;    /* [nodes + 1] slices of `at` */
    int32_t *at;      /* [2 * real arcs] inner arcs that meet a node */
    bool *in;         /* [nodes] */
    int32_t *waiting; /* [KINDS * 2 * real arcs] inner arcs whose one end is in the tree, last first */
    size_t count[KINDS], most;
} growing;

static bool is_between(const cw_flow *f, int32_t a)
{
    return f->flow[a] > 0 && (f->capacity[a] == CW_FLOW_INFINITE || f->flow[a] < f->capacity[a]);
}

/* What is between its bounds must be in the tree if it can; of the rest, what the guess has a reduced cost of 0 for. */
static int kind_of(const growing *g, int32_t a)
{
    const cw_flow *f = g->f;
    if (is_between(f, a))
        return BETWEEN;
    return f->cost[a] + g->guess[f->from[a]] - g->guess[f->to[a]] == 0 ? TIGHT : ANY;
}

static void join_tree(growing *g, int32_t v)
{
    const cw_flow *f = g->f;
    g->in[v] = true;
    for (size_t i = g->first[v]; i < g->first[v + 1]; i++) {
        int32_t a = g->at[i], other = f->from[a] == v ? f->to[a] : f->from[a];
        bool sends = f->from[a] == v ? f->flow[a] > 0 : f->flow[a] < f->capacity[a];
        if (g->in[other] || !sends)
            continue;
        int kind = kind_of(g, a);
        g->waiting[(size_t)kind * g->most + g->count[kind]++] = a;
    }
}

static bool next_waiting(growing *g, int32_t *a)
{
    for (int kind = 0; kind < KINDS; kind++)
        if (g->count[kind] > 0) {
            *a = g->waiting[(size_t)kind * g->most + --g->count[kind]];
            return true;
        }
    return false;
}

/* From the last node on, which is where everything goes in most networks. */
static void grow(growing *g)
{
    cw_flow *f = g->f;
    int32_t a;
    for (int32_t v = f->nodes - 1; v >= 0; v--) {
        if (g->in[v])
            continue;
        cw_flow_hang(f, v, f->nodes, v);
        join_tree(g, v);
        while (next_waiting(g, &a)) {
            bool up = !g->in[f->from[a]];
            int32_t new = up ? f->from[a] : f->to[a];
            if (g->in[new])
                continue;
            cw_flow_hang(f, new, up ? f->to[a] : f->from[a], a);
            join_tree(g, new);
        }
    }
}

static void list_arcs(growing *g)
{
    const cw_flow *f = g->f;
    size_t nodes = (size_t)f->nodes;
    for (size_t a = nodes; a < f->arcs; a++) {
        g->first[f->from[a] + 1]++;
        g->first[f->to[a] + 1]++;
    }
    for (size_t v = 0; v < nodes; v++)
        g->first[v + 1] += g->first[v];
    for (size_t a = f->arcs; a-- > nodes;) {
        g->at[--g->first[f->from[a] + 1]] = (int32_t)a;
        g->at[--g->first[f->to[a] + 1]] = (int32_t)a;
    }
    memmove(g->first, g->first + 1, nodes * sizeof *g->first);
    g->first[nodes] = 2 * (f->arcs - nodes);
}

static bool take_flow(cw_flow *f, const int64_t *flow)
{
    int64_t *left = f->potential; /* scratch */
    bool good = true;
    for (int32_t v = 0; v < f->nodes; v++)
        left[v] = f->supply[v];
    for (size_t a = (size_t)f->nodes; a < f->arcs; a++) {
        f->flow[a] = flow[a - (size_t)f->nodes];
        f->state[a] = f->flow[a] == 0 ? AT_LOWER : AT_UPPER;
        good = good && f->flow[a] >= 0 && f->flow[a] <= f->capacity[a] && f->flow[a] <= LARGEST;
        if (!good)
            return false;
        left[f->from[a]] -= f->flow[a];
        left[f->to[a]] += f->flow[a];
    }
    for (int32_t v = 0; v < f->nodes; v++)
        good = good && left[v] == 0;
    return good;
}

/* Arcs between their bounds that found no place in the tree close cycles there: flow goes round, at no loss, until
 * something blocks. */
static void settle(cw_flow *f)
{
    for (size_t a = (size_t)f->nodes; a < f->arcs; a++) {
        if (f->state[a] == IN_TREE || !is_between(f, (int32_t)a))
            continue;
        int64_t reduced = f->cost[a] + f->potential[f->from[a]] - f->potential[f->to[a]];
        f->state[a] = reduced < 0 ? AT_LOWER : AT_UPPER;
        if (!cw_flow_pivot(f, a)) { /* without a bound that way: then back, as far as there is flow */
            f->state[a] = AT_UPPER;
            (void)cw_flow_pivot(f, a);
        }
    }
}

cw_code cw_flow_begin(cw_flow *f, const int64_t *flow, const int64_t *guess, cw_error *err)
{
    size_t nodes = (size_t)f->nodes, real = f->arcs - nodes;
    if (f->begun || !take_flow(f, flow))
        return cw_error_set(err, CW_REFUSED, "a flow network cannot begin from a flow that is not one of it");
    growing g = { .f = f, .guess = guess, .most = 2 * real + 1 };
    g.first = calloc(nodes + 2, sizeof *g.first);
    g.at = malloc(g.most * sizeof *g.at);
    g.in = calloc(nodes + 1, sizeof *g.in);
    g.waiting = malloc(KINDS * g.most * sizeof *g.waiting);
    cw_code code = g.first && g.at && g.in && g.waiting ? CW_OK : cw_error_memory(err);
    if (code == CW_OK) {
        list_arcs(&g);
        cw_flow_plant(f);
        grow(&g);
        f->begun = true;
        code = cw_flow_ground(f, err);
    }
    if (code == CW_OK)
        settle(f);
    free(g.first);
    free(g.at);
    free(g.in);
    free(g.waiting);
    return code;
}

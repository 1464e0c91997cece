/* SPDX-License-Identifier: MIT */
#include "model/flow_inside.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define ASK_EVERY 4096 /* pivots */

__extension__ typedef __int128 wide;

static cw_code make_room(cw_flow *f, size_t arcs, cw_error *err)
{
    if (arcs <= f->room)
        return CW_OK;
    if (arcs > INT32_MAX)
        return cw_error_set(err, CW_REFUSED, "a flow network of %zu arcs is too large", arcs);
    size_t room = arcs + arcs / 2;
    void *from = realloc(f->from, room * sizeof *f->from);
    f->from = from ? from : f->from;
    void *to = realloc(f->to, room * sizeof *f->to);
    f->to = to ? to : f->to;
    void *capacity = realloc(f->capacity, room * sizeof *f->capacity);
    f->capacity = capacity ? capacity : f->capacity;
    void *cost = realloc(f->cost, room * sizeof *f->cost);
    f->cost = cost ? cost : f->cost;
    void *flow = realloc(f->flow, room * sizeof *f->flow);
    f->flow = flow ? flow : f->flow;
    void *state = realloc(f->state, room * sizeof *f->state);
    f->state = state ? state : f->state;
    if (!from || !to || !capacity || !cost || !flow || !state)
        return cw_error_memory(err);
    f->room = room;
    return CW_OK;
}

cw_code cw_flow_new(int32_t nodes, const int64_t *supply, cw_flow **out, cw_error *err)
{
    *out = NULL;
    if (nodes < 0 || nodes > INT32_MAX / 4)
        return cw_error_set(err, CW_REFUSED, "a flow network of %d nodes is out of range", nodes);
    wide sum = 0, total = 0;
    for (int32_t v = 0; v < nodes; v++) {
        sum += supply[v];
        total += supply[v] < 0 ? -(wide)supply[v] : supply[v];
    }
    if (sum != 0 || total > LARGEST)
        return cw_error_set(err, CW_REFUSED,
                            "the supplies of a flow network must sum to 0 and stay in range");
    cw_flow *f = calloc(1, sizeof *f);
    if (!f)
        return cw_error_memory(err);
    size_t n = (size_t)nodes;
    f->nodes = nodes;
    f->supply = malloc((n + 1) * sizeof *f->supply);
    f->tree = malloc((n + 1) * sizeof *f->tree);
    f->potential = calloc(n + 1, sizeof *f->potential);
    f->dearest = calloc(n + 1, sizeof *f->dearest);
    f->cut = calloc(n + 1, 1);
    cw_code code = f->supply && f->tree && f->potential && f->dearest && f->cut ? make_room(f, n + 1, err)
                                                                                : cw_error_memory(err);
    if (code != CW_OK) {
        cw_flow_free(f);
        return code;
    }
    if (n > 0)
        memcpy(f->supply, supply, n * sizeof *supply);
    f->arcs = n;
    *out = f;
    return CW_OK;
}

void cw_flow_free(cw_flow *f)
{
    if (!f)
        return;
    free(f->supply);
    free(f->tree);
    free(f->potential);
    free(f->dearest);
    free(f->cut);
    free(f->from);
    free(f->to);
    free(f->capacity);
    free(f->cost);
    free(f->flow);
    free(f->state);
    free(f);
}

cw_code cw_flow_add(cw_flow *f, const cw_flow_arc *arc, size_t n, cw_error *err)
{
    cw_code code = make_room(f, f->arcs + n, err);
    if (code != CW_OK)
        return code;
    for (size_t a = 0; a < n; a++) {
        if (arc[a].from < 0 || arc[a].from >= f->nodes || arc[a].to < 0 || arc[a].to >= f->nodes)
            return cw_error_set(err, CW_REFUSED, "flow arc %zu joins nodes %d and %d of %d", a, arc[a].from,
                                arc[a].to, f->nodes);
        if (arc[a].capacity < 0 || (arc[a].capacity > LARGEST && arc[a].capacity != CW_FLOW_INFINITE) ||
            arc[a].cost > LARGEST || arc[a].cost < -LARGEST)
            return cw_error_set(err, CW_REFUSED, "flow arc %zu has a capacity or cost out of range", a);
    }
    for (size_t a = 0; a < n; a++) {
        size_t k = f->arcs++;
        int64_t size = arc[a].cost < 0 ? -arc[a].cost : arc[a].cost;
        f->from[k] = arc[a].from;
        f->to[k] = arc[a].to;
        f->capacity[k] = arc[a].capacity;
        f->cost[k] = arc[a].cost;
        f->flow[k] = 0;
        f->state[k] = AT_LOWER;
        if (size > f->dearest[arc[a].from])
            f->dearest[arc[a].from] = size;
    }
    return CW_OK;
}

size_t cw_flow_arcs(const cw_flow *f)
{
    return f->arcs - (size_t)f->nodes;
}

static void unlink_child(cw_flow *f, int32_t v)
{
    tree_node *t = f->tree, *me = &t[v];
    if (me->previous != NONE)
        t[me->previous].next = me->next;
    else
        t[me->parent].child = me->next;
    if (me->next != NONE)
        t[me->next].previous = me->previous;
}

void cw_flow_hang(cw_flow *f, int32_t v, int32_t parent, int32_t arc)
{
    tree_node *t = f->tree, *me = &t[v];
    f->state[arc] = IN_TREE;
    me->parent = parent;
    me->arc = arc;
    me->up = f->from[arc] == v;
    me->previous = NONE;
    me->next = t[parent].child;
    if (me->next != NONE)
        t[me->next].previous = v;
    t[parent].child = v;
}

/* The next node of the tree in preorder, which goes below `top` only; NONE after the last. `deeper` = false leaves out
 * what is below v. */
static int32_t next_below(const tree_node *t, int32_t v, int32_t top, bool deeper)
{
    if (deeper && t[v].child != NONE)
        return t[v].child;
    while (v != top && t[v].next == NONE)
        v = t[v].parent;
    return v == top ? NONE : t[v].next;
}

/* The potential that makes the arc from v to its parent one of reduced cost 0. */
static int64_t potential_of(const cw_flow *f, int32_t v)
{
    const tree_node *me = &f->tree[v];
    return f->potential[me->parent] + (me->up ? -f->cost[me->arc] : f->cost[me->arc]);
}

/* Adds to the potentials of all nodes. */
static void shift_all(cw_flow *f, int64_t by)
{
    for (int32_t v = 0; v <= f->nodes && by != 0; v++)
        f->potential[v] += by;
}

/* Only differences of potentials count, so either side of the arc above `top` can be shifted: the smaller one is. The
 * root's may drift away from 0 by that. */
static void shift_below(cw_flow *f, int32_t top)
{
    const tree_node *t = f->tree;
    int32_t root = f->nodes;
    int64_t by = potential_of(f, top) - f->potential[top];
    if (t[top].size <= (f->nodes + 1) / 2)
        for (int32_t v = top; v != NONE; v = next_below(t, v, top, true))
            f->potential[v] += by;
    else
        for (int32_t v = root; v != NONE; v = next_below(t, v, root, v != top))
            f->potential[v] -= v != top ? by : 0;
    if (f->potential[root] > LARGEST || f->potential[root] < -LARGEST)
        shift_all(f, -f->potential[root]);
}

void cw_flow_plant(cw_flow *f)
{
    int32_t root = f->nodes;
    f->tree[root] = (tree_node){ NONE, NONE, NONE, NONE, NONE, 1, false };
    for (int32_t v = 0; v < f->nodes; v++) {
        f->from[v] = v;
        f->to[v] = root;
        f->flow[v] = 0;
        f->capacity[v] = CW_FLOW_INFINITE;
        f->state[v] = AT_LOWER;
        f->tree[v].child = NONE;
    }
}

/* The first tree: every node hangs on the root, its whole supply on the arc there. */
static void begin(cw_flow *f)
{
    cw_flow_plant(f);
    for (int32_t v = 0; v < f->nodes; v++) {
        if (f->supply[v] < 0) {
            f->from[v] = f->nodes;
            f->to[v] = v;
        }
        f->flow[v] = f->supply[v] < 0 ? -f->supply[v] : f->supply[v];
        cw_flow_hang(f, v, f->nodes, v);
    }
    f->begun = true;
}

/* The cost of the arcs to the root: above what any path of real arcs can save, since a path meets each node
 * once and so uses at most two of the arcs that leave it. Six times, so that potentials also tell the cut
 * (cw_flow_solve). */
cw_code cw_flow_ground(cw_flow *f, cw_error *err)
{
    tree_node *t = f->tree;
    int32_t root = f->nodes;
    wide sum = 1;
    for (int32_t v = 0; v < f->nodes; v++)
        sum += 6 * (wide)f->dearest[v];
    if (sum > LARGEST)
        return cw_error_set(err, CW_REFUSED,
                            "the costs of a flow network are too large to be added up exactly");
    for (int32_t v = 0; v < f->nodes; v++)
        f->cost[v] = (int64_t)sum;
    for (int32_t v = root;;) {
        t[v].size = 1;
        f->potential[v] = v == root ? 0 : potential_of(f, v);
        if (t[v].child != NONE) {
            v = t[v].child;
            continue;
        }
        while (v != root && t[v].next == NONE) {
            t[t[v].parent].size += t[v].size;
            v = t[v].parent;
        }
        if (v == root)
            return CW_OK;
        t[t[v].parent].size += t[v].size;
        v = t[v].next;
    }
}

/* The best entering arc of the next block of arcs that has any; SIZE_MAX if no arc pays: then the flow is
 * optimal. */
static size_t entering(cw_flow *f)
{
    size_t first = (size_t)f->nodes, real = f->arcs - first;
    size_t block = (size_t)sqrt((double)real) + 10, left = block, best = SIZE_MAX;
    int64_t most = 0;
    if (f->next < first || f->next >= f->arcs)
        f->next = first;
    size_t a = f->next;
    for (size_t seen = 0; seen < real; seen++) {
        int64_t gain = f->state[a] * (f->cost[a] + f->potential[f->from[a]] - f->potential[f->to[a]]);
        if (gain < most) {
            most = gain;
            best = a;
        }
        if (++a == f->arcs)
            a = first;
        if (--left == 0) {
            if (best != SIZE_MAX)
                break;
            left = block;
        }
    }
    f->next = a;
    return best;
}

static int64_t room_left(const cw_flow *f, int32_t arc)
{
    return f->capacity[arc] == CW_FLOW_INFINITE ? CW_FLOW_INFINITE : f->capacity[arc] - f->flow[arc];
}

/* The cycle that an entering arc closes, run through as the flow on it will grow: from the join down to
 * `first`, over the arc to `second`, up to the join again. */
typedef struct cycle {
    int32_t first, second, join;
    int64_t amount;  /* how much can go round */
    int32_t leaving; /* tree node whose arc to the parent blocks; NONE: the entering arc itself */
    bool leaving_on_second;
} cycle;

/* Among several blocking arcs the last one on the run leaves: this keeps the tree strongly feasible. */
static cycle find_cycle(const cw_flow *f, size_t arc)
{
    const tree_node *t = f->tree;
    cycle c = { .first = f->state[arc] == AT_LOWER ? f->from[arc] : f->to[arc],
                .second = f->state[arc] == AT_LOWER ? f->to[arc] : f->from[arc],
                .amount = f->state[arc] == AT_LOWER ? room_left(f, (int32_t)arc) : f->flow[arc],
                .leaving = NONE };
    int32_t u = c.first, v = c.second;
    while (u != v) {
        if (t[u].size <= t[v].size) { /* not above the other: what is above has more below it */
            int64_t room = t[u].up ? f->flow[t[u].arc] : room_left(f, t[u].arc);
            if (room < c.amount) {
                c.amount = room;
                c.leaving = u;
                c.leaving_on_second = false;
            }
            u = t[u].parent;
        } else {
            int64_t room = t[v].up ? room_left(f, t[v].arc) : f->flow[t[v].arc];
            if (room <= c.amount && room != CW_FLOW_INFINITE) {
                c.amount = room;
                c.leaving = v;
                c.leaving_on_second = true;
            }
            v = t[v].parent;
        }
    }
    c.join = u;
    return c;
}

static void send_round(cw_flow *f, size_t arc, const cycle *c)
{
    const tree_node *t = f->tree;
    if (c->amount == 0)
        return;
    f->flow[arc] += f->state[arc] * c->amount;
    for (int32_t u = c->first; u != c->join; u = t[u].parent)
        f->flow[t[u].arc] += t[u].up ? -c->amount : c->amount;
    for (int32_t v = c->second; v != c->join; v = t[v].parent)
        f->flow[t[v].arc] += t[v].up ? c->amount : -c->amount;
}

/* Hangs the part below the leaving arc onto the entering arc: the way from the entering arc's end inside that
 * part up to the leaving arc is turned round. */
static void rehang(cw_flow *f, size_t arc, const cycle *c)
{
    int32_t v = c->leaving_on_second ? c->second : c->first;
    int32_t parent = c->leaving_on_second ? c->first : c->second;
    int32_t top = v, via = (int32_t)arc;
    f->state[f->tree[c->leaving].arc] = f->flow[f->tree[c->leaving].arc] == 0 ? AT_LOWER : AT_UPPER;
    int32_t moved = f->tree[c->leaving].size, left = moved;
    for (int32_t u = f->tree[c->leaving].parent; u != c->join; u = f->tree[u].parent)
        f->tree[u].size -= moved;
    for (int32_t u = parent; u != c->join; u = f->tree[u].parent)
        f->tree[u].size += moved;
    for (bool last = false; !last;) {
        int32_t above = f->tree[v].parent, to_above = f->tree[v].arc, size = f->tree[v].size;
        last = v == c->leaving;
        f->tree[v].size = left; /* all of the part but what hung below the node before */
        left = moved - size;
        unlink_child(f, v);
        cw_flow_hang(f, v, parent, via);
        parent = v;
        via = to_above;
        v = above;
    }
    shift_below(f, top);
}

/* False if nothing bounds what can be gained. */
bool cw_flow_pivot(cw_flow *f, size_t arc)
{
    cycle c = find_cycle(f, arc);
    if (c.amount == CW_FLOW_INFINITE)
        return false;
    send_round(f, arc, &c);
    if (c.leaving == NONE)
        f->state[arc] = (int8_t)-f->state[arc];
    else
        rehang(f, arc, &c);
    f->pivots++;
    return true;
}

void cw_flow_heed(cw_flow *f, cw_go_on go_on)
{
    f->go_on = go_on;
}

cw_code cw_flow_solve(cw_flow *f, cw_flow_status *status, cw_error *err)
{
    if (!f->begun)
        begin(f);
    cw_code code = cw_flow_ground(f, err);
    if (code != CW_OK)
        return code;
    *status = CW_FLOW_OPTIMAL;
    for (size_t arc = entering(f); arc != SIZE_MAX; arc = entering(f)) {
        if (!cw_flow_pivot(f, arc)) {
            *status = CW_FLOW_UNBOUNDED;
            break;
        }
        if (f->pivots % ASK_EVERY == 0 && !cw_wanted(f->go_on))
            return cw_given_up(err);
    }
    shift_all(f, -f->potential[f->nodes]);
    if (*status == CW_FLOW_UNBOUNDED)
        return CW_OK;
    /* What hangs on the root by an arc that points there has a potential near minus the root cost, the rest
     * one near plus it: any real arc between the two is full (outward) or empty (inward). */
    for (int32_t v = 0; v < f->nodes; v++) {
        f->cut[v] = f->potential[v] < 0;
        if (f->flow[v] > 0)
            *status = CW_FLOW_INFEASIBLE;
    }
    return CW_OK;
}

const int64_t *cw_flow_flows(const cw_flow *f)
{
    return f->flow + f->nodes;
}

const int64_t *cw_flow_potentials(const cw_flow *f)
{
    return f->potential;
}

const uint8_t *cw_flow_cut(const cw_flow *f)
{
    return f->cut;
}

int64_t cw_flow_pivots(const cw_flow *f)
{
    return f->pivots;
}

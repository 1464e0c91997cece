/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_FLOW_H
#define CW_MODEL_FLOW_H

#include "base/go_on.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* What is the cheapest way to send whole units through a network?
 *
 *     minimise    sum over arcs  cost[a] * flow[a]
 *     subject to  sum of flow out of v - sum of flow into v = supply[v]      for every node v
 *                 0 <= flow[a] <= capacity[a]                                for every arc a
 *
 * Supplies, capacities and costs are whole numbers (supplies sum to 0; costs may be negative; arcs may be
 * parallel); so is an optimal flow. Method: primal network simplex on a strongly feasible spanning tree with
 * block search for the entering arc (Ahuja, Magnanti & Orlin, Network Flows, 1993, ch. 11), exact in 64 bits.
 *
 * Proof. Node potentials p[v] and the reduced cost r[a] = cost[a] + p[from] - p[to] show optimality:
 *     flow[a] < capacity[a]  =>  r[a] >= 0      and      flow[a] > 0  =>  r[a] <= 0.
 * If there is no feasible flow, a set of nodes is returned whose supply exceeds the capacity of all arcs that
 * leave it. cw_flow_verify checks either proof from the problem and the answer alone.
 *
 * Arcs may be added after a solution and the next solve goes on from there: for problems whose arcs are too
 * many to write down, of which only those with negative reduced cost are worth adding. */

#define CW_FLOW_INFINITE INT64_MAX

typedef struct cw_flow_arc {
    int32_t from, to; /* 0 .. nodes - 1 */
    int64_t capacity; /* >= 0 */
    int64_t cost;
} cw_flow_arc;

typedef enum cw_flow_status {
    CW_FLOW_OPTIMAL,
    CW_FLOW_INFEASIBLE, /* the supplies cannot all be sent; `cut` proves it */
    CW_FLOW_UNBOUNDED,  /* a cycle of negative cost and infinite capacity: there is no cheapest flow */
} cw_flow_status;

typedef struct cw_flow cw_flow;

/* Copies supply[nodes]. CW_REFUSED if they do not sum to 0, a number is out of range, or the costs are so
 * large that potentials would not fit in 64 bits. `*out` is to be freed. */
cw_code cw_flow_new(int32_t nodes, const int64_t *supply, cw_flow **out, cw_error *err) CW_MUST_CHECK;
void cw_flow_free(cw_flow *f);

/* Copies the arcs; their numbers go on from cw_flow_arcs. Costs must stay within cw_flow_cost_bound. */
cw_code cw_flow_add(cw_flow *f, const cw_flow_arc *arc, size_t n, cw_error *err) CW_MUST_CHECK;
size_t cw_flow_arcs(const cw_flow *f);

/* Before the first solve, and after the arcs of which flow[arcs] tells: begins from a flow that sends all supplies
 * within all capacities. `guess` [nodes] are potentials. The nearer both are to an optimum, the sooner it is found;
 * which flow is taken among equally cheap ones may depend on them. CW_REFUSED if it is no such flow: then `f` is
 * only to be freed. */
cw_code cw_flow_begin(cw_flow *f, const int64_t *flow, const int64_t *guess, cw_error *err) CW_MUST_CHECK;

cw_code cw_flow_solve(cw_flow *f, cw_flow_status *status, cw_error *err) CW_MUST_CHECK;
/* Asked every few thousand pivots until it is set anew; told no, cw_flow_solve is given up (CW_REFUSED): `f` is then only to be
 * freed. */
void cw_flow_heed(cw_flow *f, cw_go_on go_on);

/* After cw_flow_solve; borrowed until the next call that changes f. */
const int64_t *cw_flow_flows(const cw_flow *f);      /* [arcs] */
const int64_t *cw_flow_potentials(const cw_flow *f); /* [nodes] */
const uint8_t *cw_flow_cut(const cw_flow *f);        /* [nodes] 1 = in the set; only when infeasible */
int64_t cw_flow_pivots(const cw_flow *f);

/* Sum cost * flow; false if it does not fit in 64 bits. */
bool cw_flow_cost(const cw_flow_arc *arc, const int64_t *flow, size_t n, int64_t *out);

/* True if `flow` with `potential` is a feasible and optimal flow. `why` (may be NULL) then stays NULL, else
 * it names the condition that fails. */
bool cw_flow_verify(int32_t nodes, const int64_t *supply, const cw_flow_arc *arc, size_t arcs,
                    const int64_t *flow, const int64_t *potential, const char **why);

/* True if `cut` proves that no flow can be feasible. */
bool cw_flow_verify_cut(int32_t nodes, const int64_t *supply, const cw_flow_arc *arc, size_t arcs,
                        const uint8_t *cut);

#endif

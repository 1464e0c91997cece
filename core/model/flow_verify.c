/* SPDX-License-Identifier: MIT */
#include "model/flow.h"

#include <stdlib.h>

#include "base/banned.h"

/* Sums here are taken in 128 bits, so that a proof is never the product of an overflow. */
__extension__ typedef __int128 wide;

bool cw_flow_cost(const cw_flow_arc *arc, const int64_t *flow, size_t n, int64_t *out)
{
    wide sum = 0;
    for (size_t a = 0; a < n; a++)
        sum += (wide)arc[a].cost * flow[a];
    *out = sum > INT64_MAX || sum < INT64_MIN ? 0 : (int64_t)sum;
    return *out == sum;
}

static const char *check_arc(const cw_flow_arc *arc, int64_t flow, const int64_t *potential)
{
    if (flow < 0 || flow > arc->capacity)
        return "an arc carries less than nothing or more than its capacity";
    wide reduced = (wide)arc->cost + potential[arc->from] - potential[arc->to];
    if (reduced < 0 && flow < arc->capacity)
        return "an arc that would pay is not full";
    if (reduced > 0 && flow > 0)
        return "an arc that does not pay is used";
    return NULL;
}

bool cw_flow_verify(int32_t nodes, const int64_t *supply, const cw_flow_arc *arc, size_t arcs,
                    const int64_t *flow, const int64_t *potential, const char **why)
{
    const char *fault = NULL;
    wide *balance = calloc((size_t)nodes + 1, sizeof *balance);
    if (!balance)
        fault = "there is no memory to check in";
    for (size_t a = 0; a < arcs && !fault; a++) {
        fault = check_arc(&arc[a], flow[a], potential);
        balance[arc[a].from] += flow[a];
        balance[arc[a].to] -= flow[a];
    }
    for (int32_t v = 0; v < nodes && !fault; v++)
        if (balance[v] != supply[v])
            fault = "a node sends on more or less than its supply";
    free(balance);
    if (why)
        *why = fault;
    return !fault;
}

bool cw_flow_verify_cut(int32_t nodes, const int64_t *supply, const cw_flow_arc *arc, size_t arcs,
                        const uint8_t *cut)
{
    wide inside = 0, outward = 0;
    for (int32_t v = 0; v < nodes; v++)
        inside += cut[v] ? supply[v] : 0;
    for (size_t a = 0; a < arcs; a++)
        outward += cut[arc[a].from] && !cut[arc[a].to] ? arc[a].capacity : 0;
    return inside > outward;
}

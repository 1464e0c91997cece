/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_FLOW_INSIDE_H
#define CW_MODEL_FLOW_INSIDE_H

#include "model/flow.h"

/* The inside of model/flow, for flow.c and flow_begin.c only. */

/* Numbers up to here can be added a few times without leaving 64 bits. */
#define LARGEST ((int64_t)1 << 59)
#define NONE    (-1)

/* Where an arc stands. For an arc outside the tree, state * reduced cost < 0 means that using it pays. */
enum { AT_UPPER = -1, IN_TREE = 0, AT_LOWER = 1 };

/* The spanning tree, rooted at an extra node; siblings are doubly linked. `up` says that the arc to the
 * parent points at the parent. Invariants of a strongly feasible tree: an up arc has room left, a down arc
 * has flow on it; so from every node some flow can still be sent to the root, and no sequence of pivots that
 * change nothing can circle. */
typedef struct tree_node {
    int32_t parent, child, next, previous;
    int32_t arc;  /* to the parent */
    int32_t size; /* nodes from here on down, itself counted */
    bool up;
} tree_node;

/* Inner arcs 0 .. nodes - 1 join each node to the root, at a cost that no real path can reach; real arc a is
 * inner arc nodes + a. */
struct cw_flow {
    int32_t nodes;
    int64_t *supply;
    tree_node *tree;    /* [nodes + 1] */
    int64_t *potential; /* [nodes + 1] */
    int64_t *dearest;   /* [nodes] largest |cost| of the arcs that leave a node */
    uint8_t *cut;       /* [nodes] */
    size_t arcs, room;  /* inner arcs */
    int32_t *from, *to;
    int64_t *capacity, *cost, *flow;
    int8_t *state;
    size_t next; /* where the search for an entering arc goes on */
    int64_t pivots;
    bool begun; /* the first tree stands */
    cw_go_on go_on;
};

void cw_flow_plant(cw_flow *f); /* the root alone; all arcs to it point there and are empty */
/* v, unlinked, onto a parent by an arc */
void cw_flow_hang(cw_flow *f, int32_t v, int32_t parent, int32_t arc);
bool cw_flow_pivot(cw_flow *f, size_t arc); /* lets a real arc enter; false if nothing bounds the gain */
/* Cost of the arcs to the root; sizes, potentials. */
cw_code cw_flow_ground(cw_flow *f, cw_error *err) CW_MUST_CHECK;

#endif

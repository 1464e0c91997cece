/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_LINEAGE_H
#define CW_DESK_LINEAGE_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

#include <jansson.h>

/* Where did a lot come from, and what came of it, over the years?
 *
 *     lot of 2031 ──▶ planted in a row ──▶ lot dug of it in 2032 ──▶ planted ──▶ ...
 *        │                                    │
 *        ▼ parcels, buyers                    ▼ parcels, buyers
 *
 * It is followed through the open file and those of past seasons beside it (desk/nursery/past.h). A planting names its lot and that
 * lot's season; a lot names the planting that it was dug of. Where nobody wrote that down, everything of the same variety in the
 * next season's file may descend from it: it is followed, too, and marked as not sure, since for a sick row too many is safer than
 * too few. A variety is known by any code that it ever bore. */
typedef struct cw_lineage_ask {
    /* one of them: a lot, all that stood in a row, all lots that an order got */
    const char *lot, *row, *order;
    int season; /* whose lot, row or order; 0: the open file's */
} cw_lineage_ask;

/* CW_NOT_FOUND: there is no such lot, row or order; CW_REFUSED: no file of that season is beside.
 * nodes, in the order of a tree drawn downwards: node,under,season,kind,way,code,row,variety,name,was,day,quantity,sent,sure,held,
 * file - `under` is the node that it descends from. */
cw_code cw_lineage_tree(cw_nursery *n, const cw_asker *who, const cw_lineage_ask *ask, cw_table *out,
                        cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_lineage_tree_shape;

/* Everybody who received of what was asked for or of what descends from it, in one list over all files, with the state of the
 * recall notice: season,sure and the columns of cw_tracing_lot. */
cw_code cw_lineage_buyers(cw_nursery *n, const cw_asker *who, const cw_lineage_ask *ask, cw_table *out,
                          cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_lineage_buyers_shape;

/* {files, nodes, buyers}: new reference. */
cw_code cw_lineage_told(cw_nursery *n, const cw_asker *who, const cw_lineage_ask *ask, json_t **out,
                        cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_lineage_told_shape;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_LEFT_H
#define CW_DESK_LEFT_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

/* What is left of each lot when the season ends, and what becomes of it: to the beds, or thrown out? One list, entered once. */

/* lot,variety,name,places,clumps,divisions,held,hold_back,planted,to_beds : hold_back and planted are the variety's; to_beds is
 * the lot's part of what is still to be planted of it. */
cw_code cw_left_list(cw_nursery *n, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_left_list_shape;

typedef struct cw_left_item {
    const char *lot, *row;                        /* row: of the beds, NULL: not said yet */
    int64_t planted, discarded, clumps_discarded; /* divisions; divisions; clumps. 0: none */
} cw_left_item;

/* All of them, or none: a planting for each lot that goes to the beds, and the ledger moved. The error names the lot.
 * lots,planted,discarded,clumps_discarded,divisions_left,clumps_left : of the whole nursery after it. */
cw_code cw_left_enter(cw_nursery *n, const cw_asker *who, cw_day day, const cw_left_item *items, size_t count,
                      cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_left_entered_shape;

/* row,variety,name,plants,planted_on,lot,entry : what was planted out of this season's lots; cellar undo takes an entry back. */
cw_code cw_left_planted(cw_nursery *n, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_left_planted_shape;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_STOPS_H
#define CW_MODEL_STOPS_H

#include "model/walk.h"

#include <stdbool.h>

/* Which places does a wave visit? The first decision of model/walk.h (which states the objective), for its
 * use only.
 *
 * need[variety_count] = divisions wanted of each variety, not above what is in stock. Sets visit[place_count]
 * so that the places visited hold every need. The wave must have been checked.
 *
 * Method (a multi-cover problem, NP-hard in general):
 *   forced    a place without which some need cannot be met is visited
 *   greedy    four scores, each followed by dropping what is to spare and by exchange: take up one place,
 *             drop all that it makes superfluous, keep the change if the objective falls; the best stands
 *   peel      only when a stop has a price: all places, then the dearest left out one by one; exchanged likewise
 *   search    only when stops come first (stop_cost 0): for each tangle left (places that share needs),
 *             branch and bound for fewer stops within a budget of effort; then exchange again, for risk */
cw_code cw_stops_choose(const cw_wave *w, const int64_t *need, bool *visit, cw_error *err) CW_MUST_CHECK;

/* Stock indices variety by variety, most at risk first (then nearer the door, then as given): those of
 * variety v are by_risk[start[v]] .. by_risk[start[v + 1] - 1]. Arrays of variety_count + 1 and stock_count. */
void cw_stock_by_risk(const cw_wave *w, size_t *start, size_t *by_risk);

/* ---- Between stops.c and stops_search.c ---- */

typedef struct cw_cell {
    size_t place, variety;
    int64_t quantity; /* all lots of this variety at this place, > 0 */
} cw_cell;

typedef struct cw_cell_map {
    size_t places, varieties;
    cw_cell *cells;  /* place by place: those of p are cells[at[p]] .. cells[at[p + 1] - 1] */
    size_t *at;      /* [places + 1] */
    size_t *sources; /* cell indices variety by variety, largest quantity first, parted by `from` */
    size_t *from;    /* [varieties + 1] */
} cw_cell_map;

/* Replaces parts of `chosen` by parts with fewer places that meet the same needs, tangle by tangle, where the
 * budget allows to find them. Places in `forced` stay. True if anything was improved. */
cw_code cw_stops_search(const cw_cell_map *m, const int64_t *need, const bool *forced, bool *chosen,
                        bool *improved, cw_error *err) CW_MUST_CHECK;

#endif

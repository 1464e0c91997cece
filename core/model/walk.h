/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_WALK_H
#define CW_MODEL_WALK_H

#include "base/error.h"

#include <stddef.h>
#include <stdint.h>

/* Which lots does a wave take, at which places, and in which order are they walked?
 *
 * Three decisions, one after the other:
 *   1. Stops. A stop is a visit to one place; everything that the wave needs there is taken at that visit.
 *      Choose the set P of places and the divisions x taken from each piece of stock to
 *
 *          minimise    stop_cost * |P|  -  sum of risk * x
 *          subject to  every variety's demand is taken, as far as stock goes
 *
 *      With stop_cost = 0 (the default) stops come first and risk only decides between equally few stops.
 *      A stop_cost > 0 says what one more stop is worth, in the unit of risk * divisions: if risk is the share
 *      that a lot will lose by next week, then stop_cost is the number of divisions that a further stop must save.
 *      Method: places that nothing can replace, then greedy, then exchange until no single place taken up lets
 *      others go; then the tangles that remain are searched for fewer stops, within a fixed budget. Not proven
 *      least for large tangles (tests/published holds it against an exact solver).
 *   2. Rows. Lines are served in the order given (the order of service): when stock is short, the last ones go
 *      short. A variety's lines and its chosen lots are laid side by side, so that few lines are split over two lots.
 *   3. Walk. The only geometry known is each place's walk_order, so the distance between two places is the
 *      difference of their walk orders. The walk starts at `door`, visits every stop, ends at `packing`; the stops
 *      are an ascending or a descending sweep, whichever is shorter, and that is always a shortest walk.
 *
 * Deterministic: equal inputs give equal walks. */

/* Divisions of one lot at one place. */
typedef struct cw_walk_stock {
    size_t place;   /* index into places */
    size_t lot;     /* the caller's own index */
    size_t variety; /* 0 .. variety_count-1 */
    int64_t quantity;
    double risk; /* >= 0; higher goes first (share likely to be lost, or age in days) */
} cw_walk_stock;

typedef struct cw_walk_line {
    size_t order; /* 0 .. order_count-1; its parcel slot is order + 1 */
    size_t variety;
    int64_t quantity;
} cw_walk_line;

/* Everything is borrowed for the length of the call. */
typedef struct cw_wave {
    const int *walk_order; /* [place_count] of each place */
    size_t place_count;
    const cw_walk_stock *stock;
    size_t stock_count;
    const cw_walk_line *lines; /* in order of service */
    size_t line_count;
    size_t order_count;
    size_t variety_count;
    double stop_cost;
    int door, packing; /* walk orders where the walk starts and ends; usually 0 and 0 */
} cw_wave;

/* One row of the pick list: so many of a lot, at a stop, for a line, into a slot. */
typedef struct cw_pick {
    size_t stop;  /* index into stops */
    size_t stock; /* index into the wave's stock: place, lot and variety */
    size_t line;  /* index into the wave's lines */
    size_t slot;  /* 1 .. order_count */
    int64_t quantity;
} cw_pick;

typedef struct cw_stop {
    size_t place;
    size_t first_pick, pick_count; /* its rows: by stock as given, then slot */
    int64_t quantity;
} cw_stop;

typedef struct cw_walk_short {
    size_t line;
    int64_t quantity; /* not in stock anywhere */
} cw_walk_short;

typedef struct cw_walk {
    cw_stop *stops; /* in walking order */
    size_t stop_count;
    cw_pick *picks; /* in walking order */
    size_t pick_count;
    cw_walk_short *shorts; /* by line */
    size_t short_count;
    int64_t length; /* of the walk, in steps of walk order */
} cw_walk;

/* `*out` is to be freed with cw_walk_free. CW_REFUSED if an index is out of range or a number negative. */
cw_code cw_walk_plan(const cw_wave *w, cw_walk **out, cw_error *err) CW_MUST_CHECK;
void cw_walk_free(cw_walk *walk); /* NULL does nothing */

/* Shares a walk among packers: contiguous stretches, the longest as short as possible, and among those the
 * most even. Work of a stop = per_stop + per_row * rows + per_division * divisions (any one unit, say
 * seconds; whole, >= 0). first[packers + 1]: packer k takes the stops first[k] .. first[k+1]-1; a stretch may
 * be empty. */
#define CW_WALK_MAX_PACKERS 64
typedef struct cw_walk_pace {
    int64_t per_stop, per_row, per_division;
} cw_walk_pace;
cw_code cw_walk_share(const cw_walk *walk, cw_walk_pace pace, size_t packers, size_t *first,
                      cw_error *err) CW_MUST_CHECK;

#endif

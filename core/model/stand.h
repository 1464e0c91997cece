/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_STAND_H
#define CW_MODEL_STAND_H

#include "base/day.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* How many plants of a planting stand in the ground, and what became of the others?
 *
 *     planted = standing + dug + culled + rogued + dead
 *
 * Every plant stands until a walk finds it gone, or it is dug. A walk (round) counts the plants alive and takes some of them out
 * (rogued); what it does not find is dead. One that finds more than the walk before says that some came up late: dead are what
 * is missing at the last walk. Digging takes plants: each becomes a sound clump or a culled one.
 *
 * Within a day: walks come before digging, but one that finds nothing alive comes behind it: the row is done with.
 *
 * Laws, each of which an event can break: no more are alive than were set out and have not been dug, culled or rogued; no more
 * are rogued than are alive; no more are dug than stand. */
typedef struct cw_stand_event {
    cw_day day;
    bool dug;               /* else a walk */
    int64_t alive, rogued;  /* walk */
    int64_t clumps, culled; /* dug */
    int64_t id;             /* of two of a kind on one day the lower comes first */
} cw_stand_event;

typedef struct cw_stand {
    int64_t plants, standing, dug, culled, rogued, dead;
    cw_day walked, last_dug; /* CW_NO_DAY: never */
} cw_stand;

/* Puts events in the order in which they are taken. */
void cw_stand_sort(cw_stand_event *event, size_t n);

/* Plays sorted events; the number of the first that breaks a law (*out is then as before it), or n. */
size_t cw_stand_play(int64_t plants, const cw_stand_event *event, size_t n, cw_stand *out);

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_REFINING_INSIDE_H
#define CW_DESK_REFINING_INSIDE_H

/* What was learned whole, for files of this room. */
#include "desk/forecast/refining.h"
#include "model/learned.h"

/* One holder more, or NULL: there is none, or nobody refines (r is NULL). */
typedef struct cw_whole cw_whole;
cw_whole *cw_whole_take(cw_refined *r, const cw_refine_want *want);
const cw_learned *cw_whole_learned(const cw_whole *w);
void cw_whole_drop(cw_whole *w); /* NULL is fine */

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_SPLITTING_H
#define CW_DESK_SPLITTING_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

/* How is a wrong name put right of which only a part of a lot, or only what is left of it from a day on, is wrong?
 *
 * The part becomes a lot of its own, of the other variety, by one move of the ledger on that day. It keeps when it was dug and cut,
 * and since when it is known to be sound; it is held if the lot is. What was entered of the lot, sessions that teach a rate
 * among it, stays with it, on whatever day; the preview names the sessions since that day, and how they come to the new lot. Taken back by the move's number (cw_cellar_undo), as long as nothing was
 * entered of the new lot. */
typedef struct cw_split {
    const char *lot, *to, *as; /* lot code, variety code, the new lot's code */
    cw_day day;                /* CW_NO_DAY: today */
    int64_t clumps, divisions; /* both -1: all that is there from that day on; one -1: none of it */
    const char *why;
} cw_split;

/* Previewed as every name is (cw_naming_shape); with `commit` done, on record, and the last row is "entry", the move's number.
 * Owner and office. CW_CONFLICT: more than there is from that day on, or than open walks leave; CW_REFUSED: a code that is
 * taken, a day before digging or after today. */
cw_code cw_splitting_lot(cw_nursery *n, const cw_asker *who, const cw_split *split, bool commit,
                         cw_table *out, cw_error *err) CW_MUST_CHECK;

#endif

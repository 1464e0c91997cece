/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_ARRIVING_H
#define CW_DESK_ARRIVING_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

#include <jansson.h>

/* A line that comes after its variety was shared out: is it promised at once, or does it wait for the next sharing?
 *
 *     spare of a variety = supply (as allotting.h says) - all that lines wait for which came before
 *
 * A line that fits into the spare wholly is promised: whatever the rule, everyone who waits before it can still have all they
 * ask. One that does not waits, and so does what comes after it for the same divisions. A ship-complete order is promised with
 * all its lines or with none. What was promised is on record as a run of the rule in force. Varieties that no run which stands
 * has shared are left alone.
 *
 * Used around an intake, in one batch with it:
 *
 *     cw_arriving_mark(n, &mark, &err);
 *     ... intake ...
 *     cw_arriving_promise(n, who, mark, writes, told, &err);
 */

/* *mark < 0: nothing was shared out, so nothing is to be done. */
cw_code cw_arriving_mark(cw_nursery *n, int64_t *mark, cw_error *err) CW_MUST_CHECK;

typedef struct cw_arriving_done {
    int64_t run;         /* 0: nothing was promised */
    int64_t firm, lines; /* divisions promised at once, for so many lines */
    int64_t waiting;     /* lines that wait for the next sharing */
} cw_arriving_done;

/* `writes` is how often the intake touched the season since the mark (each order that was taken: once). `told` (may be NULL;
 * borrowed object) gets for each order number {"firm": divisions, "waits": [a sentence for each line that waits]}. */
cw_code cw_arriving_promise(cw_nursery *n, const cw_asker *who, int64_t mark, int64_t writes, json_t *told,
                            cw_arriving_done *out, cw_error *err) CW_MUST_CHECK;

#endif

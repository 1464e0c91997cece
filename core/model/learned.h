/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_LEARNED_H
#define CW_MODEL_LEARNED_H

#include "model/rate.h"
#include "model/rot.h"
#include "model/shrink.h"

/* What do past and present seasons teach a projection? Division rates, rot and drying,
 * learned side by side. */
typedef struct cw_lessons { /* all borrowed for the call */
    cw_rate_data rate;
    cw_rot_data rot;
    const cw_weighing *weighing;
    size_t weighings, crates;
    const cw_shrivel_check *check;
    size_t checks, lots;
    unsigned threads; /* 0 = one per processor */
} cw_lessons;

typedef struct cw_learned {
    cw_rate *rate;
    cw_rot *rot;
    cw_shrink *shrink;
} cw_learned;

/* `before`: what was learned earlier, or NULL. It changes the time, and the answer by no more than cw_mixed_refit says: a fit
 * begins where the last one ended, one of which few varieties' rows have changed keeps its points, and one whose rows are
 * still the same is taken over. CW_REFUSED names the row (from 1) that cannot be.
 * *out is empty unless CW_OK. */
cw_code cw_learn(const cw_lessons *from, const cw_learned *before, cw_learned *out,
                 cw_error *err) CW_MUST_CHECK;
void cw_learned_free(cw_learned *l); /* leaves it empty */

#endif

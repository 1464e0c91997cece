/* SPDX-License-Identifier: MIT */
#include "model/projection_inside.h"

#include <math.h>

#include "base/banned.h"

static double mean_of(const nodes *n, const double *chance)
{
    double sum = 0;
    for (size_t j = 0; j < n->count; j++)
        sum += n->weight[j] * chance[j];
    return fmin(1, fmax(0, sum));
}

void cw_projection_lying(const cw_projection *p, size_t variety, const cw_stock *stretch, size_t n,
                         cw_lying *out)
{
    nodes at;
    chances sound;
    cohorts c = cw_projection_cohorts(p, variety), wet = c;
    for (size_t i = 0; i < n; i++)
        out[i] = (cw_lying){ 0, 0 };
    if (c.n == 0)
        return;
    wet.shrivel = false;
    cw_projection_nodes(p, &c, &at);
    for (size_t i = 0; i < n; i++) {
        cw_projection_chances(p, &wet, &stretch[i], &at, &sound);
        double left = mean_of(&at, stretch[i].stage == CW_CLUMP ? sound.clump : sound.division);
        out[i].rotten = 1 - left;
        if (stretch[i].stage == CW_CLUMP || !c.shrivel)
            continue;
        cw_projection_chances(p, &c, &stretch[i], &at, &sound);
        out[i].shrivelled = fmax(0, left - mean_of(&at, sound.division));
    }
}

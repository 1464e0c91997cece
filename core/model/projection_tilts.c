/* SPDX-License-Identifier: MIT */
/* What is unlike the rest about a cohort: its age, and its place in the order of cutting. */
#include "model/projection_inside.h"
#include "model/rate.h"

#include <math.h>

#include "base/banned.h"

static double tilt_factor(const cw_latent_point *at, int k, const cw_stock *stock)
{
    if (k == RATE)
        return exp(-at->tilt[CW_RATE_ORDER] * stock->cut);
    double age = k == CLUMP_ROT ? stock->clump_age : stock->division_age;
    double weeks = k == CLUMP_ROT ? stock->clump_weeks : stock->division_weeks;
    return weeks > 0.0 ? cw_latent_dose(at->tilt[CW_TILT_AGE], age, weeks) / weeks : 1.0;
}

/* At each point of the mixture, and what that comes to over it. */
static double tilt_factors(const cw_latent *known, int k, const cw_stock *stock, double *of)
{
    double mean = 0.0;
    for (size_t i = 0; i < known->points; i++) {
        of[i] = known->point[i].weight > 0.0 ? tilt_factor(&known->point[i], k, stock) : 1.0;
        mean += known->point[i].weight * of[i];
    }
    return mean;
}

void cw_projection_tilts(const cw_projection *p, const lattice *on, bool minor, int k, const cw_stock *stock,
                         double *factor)
{
    const side *s = &on->side[k];
    double of[ROOM];
    if (!p->tilted[k] || (k == RATE && stock->cut == 0.0)) {
        for (size_t j = 0; j < on->nodes; j++)
            factor[j] = 1.0;
        return;
    }
    double mean = tilt_factors(s->known, k, stock, of);
    for (size_t j = 0; j < on->nodes; j++)
        factor[j] = minor ? mean : of[s->point[j]];
}

double cw_projection_weighed_weeks(const cw_projection *p, int k, const cw_stock *stock)
{
    double of[ROOM], weeks = k == CLUMP_ROT ? stock->clump_weeks : stock->division_weeks;
    return p->tilted[k] ? weeks * tilt_factors(p->on[0].side[k].known, k, stock, of) : weeks;
}

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

/* Log of it at each point of the mixture, and the middle one: the mean of the logs, on whose scale the points differ by
 * more than the factor, and often against it. */
static double tilt_factors(const cw_latent *known, int k, const cw_stock *stock, double *log_of)
{
    double mean = 0.0;
    for (size_t i = 0; i < known->points && i < ROOM; i++) {
        log_of[i] = known->point[i].weight > 0.0 ? log(tilt_factor(&known->point[i], k, stock)) : 0.0;
        mean += known->point[i].weight * log_of[i];
    }
    return exp(mean);
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
    for (size_t i = 0; i < s->known->points && i < ROOM; i++)
        of[i] = minor ? mean : exp(of[i]);
    for (size_t j = 0; j < on->nodes; j++)
        factor[j] = of[s->point[j]];
}

/* A cohort's part in the shifts of one side: `weight` is how much of S moves with it there. */
static void add_shifts(const cw_projection *p, int k, const cw_stock *stock, const double *log_factor,
                       double weight, leverage *out)
{
    const cw_latent *known = p->on[0].side[k].known;
    out->slope[k] += weight;
    if (known == NULL || weight <= 0.0)
        return;
    for (size_t i = 0; i < known->points && i < ROOM; i++) {
        double lot = known->lots > 0 ? known->point[i].lot_mean[stock->lot] : 0.0;
        out->shift[k][i] += weight * (lot + (log_factor != NULL ? log_factor[i] : 0.0));
    }
}

/* Weeks of a side at their age over the mixture, and the logs of the factors at its points. */
static double risk_of(const cw_projection *p, int k, const cw_stock *stock, double hazard, double *of)
{
    double weeks = k == CLUMP_ROT ? stock->clump_weeks : stock->division_weeks;
    return hazard * (p->tilted[k] ? weeks * tilt_factors(p->on[0].side[k].known, k, stock, of) : weeks);
}

static void finish_shifts(const cw_latent *known, size_t variety, double mean, double slope, double *shift)
{
    double middle = 0.0;
    for (size_t i = 0; i < known->points && i < ROOM; i++) {
        double weight = known->point[i].weight;
        shift[i] = weight > 0.0 && slope > 0.0 ? shift[i] / slope : 0.0;
        shift[i] += weight > 0.0 ? known->point[i].mean[variety] - mean : 0.0;
        middle += weight * shift[i];
    }
    for (size_t i = 0; i < known->points && i < ROOM; i++)
        shift[i] = known->point[i].weight > 0.0 ? shift[i] - middle : 0.0;
}

void cw_projection_weigh(const cw_projection *p, const cohorts *c, const double *mean, double phi,
                         leverage *out)
{
    double rate = exp(mean[RATE]), h1 = c->rot_clumps ? exp(mean[CLUMP_ROT]) : 0.0;
    double h2 = c->rot_divisions ? exp(mean[DIVISION_ROT]) : 0.0, of[LATENT_SIDES][ROOM];
    out->chance = 0.0;
    for (int k = 0; k < LATENT_SIDES; k++) {
        const cw_latent *known = p->on[0].side[k].known;
        out->slope[k] = 0.0;
        for (size_t i = 0; known != NULL && i < known->points && i < ROOM; i++)
            out->shift[k][i] = 0.0;
    }
    for (size_t i = 0; i < c->n; i++) {
        const cw_stock *s = &c->at[i];
        bool whole = s->stage == CW_CLUMP, ordered = whole && p->tilted[RATE] && s->cut != 0.0;
        double risk1 = whole ? risk_of(p, CLUMP_ROT, s, h1, of[CLUMP_ROT]) : 0.0,
               risk2 = risk_of(p, DIVISION_ROT, s, h2, of[DIVISION_ROT]);
        double left = (double)s->count * (whole ? rate * exp(-risk1) : 1.0) * exp(-risk2);
        if (ordered)
            (void)tilt_factors(p->on[0].side[RATE].known, RATE, s, of[RATE]);
        add_shifts(p, RATE, s, ordered ? of[RATE] : NULL, whole ? left : 0.0, out);
        add_shifts(p, CLUMP_ROT, s, p->tilted[CLUMP_ROT] ? of[CLUMP_ROT] : NULL, left * risk1, out);
        add_shifts(p, DIVISION_ROT, s, p->tilted[DIVISION_ROT] ? of[DIVISION_ROT] : NULL, left * risk2, out);
        out->chance += whole ? left * phi : left * (1.0 - exp(-risk2));
    }
    for (int k = 0; k < LATENT_SIDES; k++)
        if (p->on[0].side[k].known != NULL)
            finish_shifts(p->on[0].side[k].known, c->variety, mean[k], out->slope[k], out->shift[k]);
}

double cw_projection_weighed_weeks(const cw_projection *p, int k, const cw_stock *stock)
{
    double of[ROOM], weeks = k == CLUMP_ROT ? stock->clump_weeks : stock->division_weeks;
    return p->tilted[k] ? weeks * tilt_factors(p->on[0].side[k].known, k, stock, of) : weeks;
}

/* SPDX-License-Identifier: MIT */
/* What is unlike the rest about a cohort: its age, and its place in the order of cutting. */
#include "model/projection_inside.h"
#include "model/rate.h"
#include "model/wide.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Logs of the factors on one side at the points of the mixture, and first their mean: on that scale the points differ by more
 * than the factor, and often against it. */
static void log_factors(const cw_latent *known, double age, double weeks, double *out)
{
    out[0] = 0.0;
    for (size_t i = 0; i < known->points && i < ROOM; i++) {
        double weight = known->point[i].weight, dose = weeks;
        if (weight > 0.0 && weeks > 0.0)
            dose = cw_latent_dose(known->point[i].tilt[CW_TILT_AGE], age, weeks);
        out[i + 1] = weeks > 0.0 ? log(dose / weeks) : 0.0;
        out[0] += weight * out[i + 1];
    }
}

static void log_order(const cw_latent *known, double cut, double *out)
{
    out[0] = 0.0;
    for (size_t i = 0; i < known->points && i < ROOM; i++) {
        double weight = known->point[i].weight;
        out[i + 1] = weight > 0.0 ? -known->point[i].tilt[CW_RATE_ORDER] * cut : 0.0;
        out[0] += weight * out[i + 1];
    }
}

static void key_of(int k, const cw_stock *stock, double key[2])
{
    key[0] = k == CLUMP_ROT ? stock->clump_age : stock->division_age;
    key[1] = k == CLUMP_ROT ? stock->clump_weeks : stock->division_weeks;
}

static int by_key(const void *pa, const void *pb)
{
    const double *a = pa, *b = pb;
    int c = (a[0] > b[0]) - (a[0] < b[0]);
    return c != 0 ? c : (a[1] > b[1]) - (a[1] < b[1]);
}

bool cw_projection_ages(cw_projection *p)
{
    size_t rows = p->variety_from[p->in.varieties];
    for (int k = CLUMP_ROT; k <= DIVISION_ROT; k++) {
        ages *a = &p->ages[k];
        const cw_latent *known = p->on[0].side[k].known;
        size_t n = 0;
        if (!p->tilted[k])
            continue;
        if ((a->key = malloc((2 * rows + 1) * sizeof *a->key)) == NULL)
            return false;
        for (size_t i = 0; i < rows; i++)
            if (k == DIVISION_ROT || p->cohort[i].stage == CW_CLUMP)
                key_of(k, &p->cohort[i], a->key + 2 * n++);
        qsort(a->key, n, 2 * sizeof *a->key, by_key);
        for (size_t i = 0; i < n; i++)
            if (a->count == 0 || by_key(a->key + 2 * (a->count - 1), a->key + 2 * i) != 0) {
                memmove(a->key + 2 * a->count, a->key + 2 * i, 2 * sizeof *a->key);
                a->count++;
            }
        a->factors = malloc(((known->points + 1) * a->count + 1) * sizeof *a->factors);
        if (a->factors == NULL)
            return false;
        for (size_t i = 0; i < a->count; i++)
            log_factors(known, a->key[2 * i], a->key[2 * i + 1], a->factors + (known->points + 1) * i);
    }
    return true;
}

/* A hazard's log factors for a cohort; worked out into `room` [ROOM + 1] if it is none of the projection's own. */
static const double *aged(const cw_projection *p, int k, const cw_stock *stock, double *room)
{
    double key[2];
    const cw_latent *known = p->on[0].side[k].known;
    key_of(k, stock, key);
    const double *at = bsearch(key, p->ages[k].key, p->ages[k].count, sizeof key, by_key);
    if (at != NULL)
        return p->ages[k].factors + (known->points + 1) * (size_t)((at - p->ages[k].key) / 2);
    log_factors(known, key[0], key[1], room);
    return room;
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
    size_t points = s->known->points < ROOM ? s->known->points : ROOM;
    double room[ROOM + 1];
    const double *logs = k == RATE ? room : aged(p, k, stock, room);
    if (k == RATE)
        log_order(s->known, stock->cut, room);
    if (minor) {
        double mean = exp(logs[0]);
        for (size_t j = 0; j < on->nodes; j++)
            factor[j] = mean;
        return;
    }
    cw_exp_each(points, logs + 1, of);
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

/* Weeks of a side at their age over the mixture; *of, the logs of the factors at its points, NULL if there are none (perhaps
 * in `room`). */
static double weeks_of(const cw_projection *p, int k, const cw_stock *stock, double *room, const double **of)
{
    double weeks = k == CLUMP_ROT ? stock->clump_weeks : stock->division_weeks;
    const double *logs = p->tilted[k] ? aged(p, k, stock, room) : NULL;
    *of = logs != NULL ? logs + 1 : NULL;
    return logs != NULL ? weeks * exp(logs[0]) : weeks;
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
    double h2 = c->rot_divisions ? exp(mean[DIVISION_ROT]) : 0.0, order[ROOM + 1], room[2][ROOM + 1];
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
        const double *aged1 = NULL, *aged2 = NULL;
        double risk1 = whole ? h1 * weeks_of(p, CLUMP_ROT, s, room[0], &aged1) : 0.0,
               risk2 = h2 * weeks_of(p, DIVISION_ROT, s, room[1], &aged2);
        double left = (double)s->count * (whole ? rate * exp(-risk1) : 1.0) * exp(-risk2);
        if (ordered)
            log_order(p->on[0].side[RATE].known, s->cut, order);
        add_shifts(p, RATE, s, ordered ? order + 1 : NULL, whole ? left : 0.0, out);
        add_shifts(p, CLUMP_ROT, s, aged1, left * risk1, out);
        add_shifts(p, DIVISION_ROT, s, aged2, left * risk2, out);
        out->chance += whole ? left * phi : left * (1.0 - exp(-risk2));
    }
    for (int k = 0; k < LATENT_SIDES; k++)
        if (p->on[0].side[k].known != NULL)
            finish_shifts(p->on[0].side[k].known, c->variety, mean[k], out->slope[k], out->shift[k]);
}

double cw_projection_weighed_weeks(const cw_projection *p, int k, const cw_stock *stock)
{
    double room[ROOM + 1];
    const double *of;
    return weeks_of(p, k, stock, room, &of);
}

/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_LATENT_H
#define CW_MODEL_LATENT_H

#include <stddef.h>
#include <stdint.h>

/* What is known of a linear predictor of many units (varieties) at once? The common currency of the rate and rot models and of
 * the projection.
 *
 * The posterior is a finite mixture over settings of the variance parameters ("points", so that their own uncertainty
 * is kept). Given a point, unit u has
 *
 *     eta[u] = mean[u] + sum_k loading[u * shared + k] * z[k] + own_sd[u] * z_own[u]
 *
 * with z and z_own independent standard normals. The z[k] are common to all units (intercept, season, forms, sizes):
 * they carry the correlation between varieties into nursery-wide totals.
 *
 * A lot of unit u has an effect of its own besides, shared by all that comes of that lot and by nothing else:
 *
 *     eta of lot l = eta[u] + lot_mean[l] - lot_pull[l] * (eta[u] - mean[u]) + lot_own_sd[l] * z_lot[l]
 *
 * with z_lot independent standard normals. A lot without rows has lot_mean 0, lot_pull 0, lot_own_sd = lot_sd: nothing
 * is known of it but its kind. One with many rows has lot_pull near 1: it speaks for itself, whatever its unit does. */
#define CW_LATENT_TILTS 8
#define CW_TILT_AGE     0    /* the only one that is no factor: hazards grow with age^tilt */
#define CW_TILT_WEEKS   10.0 /* the age at which a hazard is what eta says */
typedef struct cw_latent_point {
    double weight;     /* probability of this point; all weights sum to 1; at 0 the rest means nothing */
    double dispersion; /* counts: phi = variance / mean of a count given eta; 1 where it has no meaning */
    double tilt
        [CW_LATENT_TILTS]; /* what rows and things are unlike by (model/mixed): what eta gains where x is 1 */
    double lot_sd;         /* sd of the effect of a lot of which nothing is known; not contained in own_sd */
    double *mean;          /* [units] */
    double *loading;       /* [units * shared], or of a few units: cw_latent_loading knows */
    double *own_sd;        /* [units] */
    double *lot_mean, *lot_pull, *lot_own_sd; /* [lots] */
} cw_latent_point;

typedef struct cw_latent {
    size_t units;
    size_t shared;
    size_t points;
    size_t lots;            /* lots that were asked for; 0: every lot has lot_sd and no rows */
    cw_latent_point *point; /* [points] */
    /* Loadings are most of what there is to store, and seldom change: a latent that is near another one has its own of a few
     * units only. */
    const struct cw_latent *of; /* has all others; NULL: they are all its own */
    int32_t *few;               /* [units] the unit's place among the few, -1: of has it */
} cw_latent;

/* [shared] of a unit at a point. */
static inline const double *cw_latent_loading(const cw_latent *l, size_t point, size_t unit)
{
    if (l->of == NULL)
        return l->point[point].loading + unit * l->shared;
    if (l->few[unit] < 0)
        return l->of->point[point].loading + unit * l->shared;
    return l->point[point].loading + (size_t)l->few[unit] * l->shared;
}

/* One block for the whole; all numbers zero. NULL without memory. cw_latent_free(NULL) does nothing. */
cw_latent *cw_latent_new(size_t units, size_t shared, size_t points); /* no lots */
cw_latent *cw_latent_new_with_lots(size_t units, size_t shared, size_t lots, size_t points);
cw_latent *cw_latent_copy(const cw_latent *from); /* with all loadings its own */
/* A copy whose loadings are its own, and to be set, in units unit[n] only: `from`, which has all of its own, must outlive it. */
cw_latent *cw_latent_near(const cw_latent *from, const size_t *unit, size_t n);
void cw_latent_free(cw_latent *l);

/* Weeks at the hazard of CW_TILT_WEEKS that weigh as much as `weeks` from `age` on, if hazards grow with age^tilt. */
double cw_latent_dose(double tilt, double age, double weeks);

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_LATENT_H
#define CW_MODEL_LATENT_H

#include <stddef.h>

/* What is known of a linear predictor for many units (varieties) at once: the common currency of the rate and rot
 * models and of the projection.
 *
 * The posterior is a finite mixture over settings of the variance parameters ("points", so that their own uncertainty
 * is kept). Given a point, unit u has
 *
 *     eta[u] = mean[u] + sum_k loading[u * shared + k] * z[k] + own_sd[u] * z_own[u]
 *
 * with z and z_own independent standard normals. The z[k] are common to all units (intercept, season, forms, sizes):
 * they carry the correlation between varieties into nursery-wide totals. */
typedef struct cw_latent_point {
    double weight;     /* probability of this point; all weights sum to 1 */
    double dispersion; /* counts: phi = variance / mean of a count given eta; 1 where it has no meaning */
    double
        lot_sd; /* sd of a further independent normal effect on the eta of each lot, shared by all that comes of
                          that lot and by nothing else; 0 where there is none. Not contained in own_sd. */
    double *mean;    /* [units] */
    double *loading; /* [units * shared] */
    double *own_sd;  /* [units] */
} cw_latent_point;

typedef struct cw_latent {
    size_t units;
    size_t shared;
    size_t points;
    cw_latent_point *point; /* [points] */
} cw_latent;

/* One block for the whole; all numbers zero. NULL without memory. cw_latent_free(NULL) does nothing. */
cw_latent *cw_latent_new(size_t units, size_t shared, size_t points);
void cw_latent_free(cw_latent *l);

#endif

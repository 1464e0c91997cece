/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_MEASURE_INSIDE_H
#define CW_MODEL_MEASURE_INSIDE_H

/* The inside of model/measure: measure.c makes the fields and asks what to measure next, measure_rota.c which lots to open. */
#include "model/measure.h"
#include "model/projection_inside.h"

/* One side's predictors: what they have in common as a row of factors (loadings at the heaviest point, and a column for each
 * point's shift), their variance, and how S moves with them. */
typedef struct field {
    const cw_latent *known;
    size_t top, factors; /* heaviest point */
    double *row;         /* [varieties * factors] */
    double *variance;    /* [varieties] */
    double *slope;       /* [varieties] */
    double *gain;        /* [factors^2] sum over varieties of weight slope^2 row row' */
    double tied;         /* sum over varieties of weight slope^2 */
} field;

typedef struct measuring {
    const cw_projection *p;
    const cw_distribution *laws;
    const double *loss;
    double phi, *weight; /* [varieties] money that a division^2 of variance costs */
    field side[LATENT_SIDES];
} measuring;

/* Made for all varieties; freed with ..._end, whatever _begin answered. */
cw_code cw_measure_begin(const cw_projection *p, const cw_distribution *laws, const double *loss,
                         measuring *w, cw_error *err) CW_MUST_CHECK;
void cw_measure_end(measuring *w);
/* Money that a look at one of `side` would save in other varieties if it told all there is to know: divide by its noise. */
double cw_measure_elsewhere(const measuring *w, int side, size_t variety);

#endif

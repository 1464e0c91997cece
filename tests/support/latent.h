/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_LATENT_H
#define CW_TESTS_SUPPORT_LATENT_H

/* A law of which nothing is in doubt. */
#include "support/check.h"

#include "model/projection.h"

#include <math.h>

static inline cw_latent *known(double value, double sd, double phi)
{
    cw_latent *l = cw_latent_new(1, 1, 1);
    assert_non_null(l);
    l->point[0].weight = 1.0;
    l->point[0].dispersion = phi;
    l->point[0].mean[0] = log(value);
    l->point[0].own_sd[0] = sd;
    return l;
}

#endif

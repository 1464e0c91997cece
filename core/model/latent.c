/* SPDX-License-Identifier: MIT */
#include "model/latent.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

cw_latent *cw_latent_new_with_lots(size_t units, size_t shared, size_t lots, size_t points)
{
    size_t per_point = units * (shared + 2) + 3 * lots;
    cw_latent *l =
        calloc(1, sizeof *l + points * sizeof(cw_latent_point) + points * per_point * sizeof(double));
    if (l == NULL)
        return NULL;
    l->units = units;
    l->shared = shared;
    l->lots = lots;
    l->points = points;
    l->point = (cw_latent_point *)(void *)(l + 1);
    double *numbers = (double *)(void *)(l->point + points);
    for (size_t p = 0; p < points; p++, numbers += per_point) {
        l->point[p].mean = numbers;
        l->point[p].own_sd = numbers + units;
        l->point[p].lot_mean = numbers + 2 * units;
        l->point[p].lot_pull = l->point[p].lot_mean + lots;
        l->point[p].lot_own_sd = l->point[p].lot_pull + lots;
        l->point[p].loading = l->point[p].lot_own_sd + lots;
    }
    return l;
}

cw_latent *cw_latent_copy(const cw_latent *from)
{
    cw_latent *l = cw_latent_new_with_lots(from->units, from->shared, from->lots, from->points);
    for (size_t p = 0; l && p < from->points; p++) {
        cw_latent_point *to = &l->point[p], *own = &from->point[p], kept = *to;
        *to = *own;
        to->mean = kept.mean;
        to->loading = kept.loading;
        to->own_sd = kept.own_sd;
        to->lot_mean = kept.lot_mean;
        to->lot_pull = kept.lot_pull;
        to->lot_own_sd = kept.lot_own_sd;
        /* all of a point's numbers stand side by side, means first */
        memcpy(to->mean, own->mean, (from->units * (from->shared + 2) + 3 * from->lots) * sizeof *to->mean);
    }
    return l;
}

cw_latent *cw_latent_new(size_t units, size_t shared, size_t points)
{
    return cw_latent_new_with_lots(units, shared, 0, points);
}

double cw_latent_dose(double tilt, double age, double weeks)
{
    double k = 1 + tilt;
    if (tilt == 0 || weeks <= 0)
        return weeks;
    return (pow(age + weeks, k) - (age > 0 ? pow(age, k) : 0)) / (k * pow(CW_TILT_WEEKS, tilt));
}

void cw_latent_free(cw_latent *l)
{
    free(l);
}

/* SPDX-License-Identifier: MIT */
#include "model/latent.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* With loadings of `loaded` units. All of a point's numbers stand side by side, the loadings last. */
static cw_latent *latent_new(size_t units, size_t shared, size_t lots, size_t points, size_t loaded)
{
    size_t per_point = 2 * units + 3 * lots + loaded * shared;
    size_t few = loaded < units ? units : 0;
    cw_latent *l = calloc(1, sizeof *l + points * sizeof(cw_latent_point) +
                                 points * per_point * sizeof(double) + few * sizeof(int32_t));
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
    l->few = few ? (int32_t *)(void *)numbers : NULL;
    return l;
}

cw_latent *cw_latent_new_with_lots(size_t units, size_t shared, size_t lots, size_t points)
{
    return latent_new(units, shared, lots, points, units);
}

/* All of a point's numbers but its loadings. */
static void copy_point(const cw_latent *l, const cw_latent_point *from, cw_latent_point *to)
{
    to->weight = from->weight;
    to->dispersion = from->dispersion;
    memcpy(to->tilt, from->tilt, sizeof to->tilt);
    to->lot_sd = from->lot_sd;
    memcpy(to->mean, from->mean, (2 * l->units + 3 * l->lots) * sizeof *to->mean); /* and what follows them */
}

cw_latent *cw_latent_copy(const cw_latent *from)
{
    cw_latent *l = cw_latent_new_with_lots(from->units, from->shared, from->lots, from->points);
    for (size_t p = 0; l && p < from->points; p++) {
        copy_point(l, &from->point[p], &l->point[p]);
        for (size_t u = 0; u < l->units; u++)
            memcpy(l->point[p].loading + u * l->shared, cw_latent_loading(from, p, u),
                   l->shared * sizeof(double));
    }
    return l;
}

cw_latent *cw_latent_near(const cw_latent *from, const size_t *unit, size_t n)
{
    if (n >= from->units)
        return cw_latent_copy(from);
    cw_latent *l = latent_new(from->units, from->shared, from->lots, from->points, n);
    if (l == NULL)
        return NULL;
    l->of = from;
    memset(l->few, -1, l->units * sizeof *l->few);
    for (size_t k = 0; k < n; k++)
        l->few[unit[k]] = (int32_t)k;
    for (size_t p = 0; p < l->points; p++)
        copy_point(l, &from->point[p], &l->point[p]);
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

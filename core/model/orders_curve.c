/* SPDX-License-Identifier: MIT */
#include "model/orders_curve.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

#define DEFAULT_SURE   6.0  /* a nursery may be weeks off the default */
#define DEFAULT_WEIGHT 40.0 /* divisions that the default counts for beside what was learned */
#define SURE_PRIOR     20.0 /* and how far varieties keep to a learned curve, before it is known */
#define SURE_WEIGHT    10.0 /* variety seasons that the prior counts for */
#define LEAST_SERIES   8    /* divisions of a variety's season that say when its orders come */

/* Straight between these. */
static const struct {
    int day;
    double share;
} usual[] = { { -140, 0 }, { -112, 0.25 }, { -77, 0.5 }, { -35, 0.8 }, { 0, 0.95 }, { 35, 1 } };

static double usual_at(int day)
{
    size_t n = sizeof usual / sizeof usual[0];
    if (day <= usual[0].day)
        return 0;
    for (size_t i = 1; i < n; i++)
        if (day <= usual[i].day)
            return usual[i - 1].share + (usual[i].share - usual[i - 1].share) *
                                            (double)(day - usual[i - 1].day) /
                                            (double)(usual[i].day - usual[i - 1].day);
    return 1;
}

static size_t index_of(int day)
{
    int at = day - CW_CURVE_FIRST;
    return at < 0 ? 0 : at >= CW_CURVE_DAYS ? CW_CURVE_DAYS - 1 : (size_t)at;
}

/* Adds what one series says of `sure` at three days of the curve. */
static void add_series(const cw_order_day *rows, size_t n, const cw_orders_curve *c, const size_t *at,
                       double *square, double *chance, double *room, double *count)
{
    double total = 0, by[3] = { 0, 0, 0 };
    for (size_t i = 0; i < n; i++) {
        total += (double)rows[i].quantity;
        for (int k = 0; k < 3; k++)
            by[k] += index_of(rows[i].day) <= at[k] ? (double)rows[i].quantity : 0;
    }
    if (total < LEAST_SERIES)
        return;
    *count += 1;
    for (int k = 0; k < 3; k++) {
        double f = c->share[at[k]], both = f * (1 - f);
        *square += pow(by[k] / total - f, 2);
        *chance += both / total;
        *room += both * (1 - 1 / total);
    }
}

/* square = chance + room / (sure + 1) on average. */
static double learn_sure(const cw_order_day *rows, size_t n, const cw_orders_curve *c)
{
    double square = 0, chance = 0, room = 0, count = 0;
    size_t at[3] = { 0, 0, 0 };
    for (int k = 0; k < 3; k++)
        while (at[k] + 1 < CW_CURVE_DAYS && c->share[at[k]] < 0.25 * (k + 1))
            at[k]++;
    for (size_t i = 0, next = 0; i < n; i = next) {
        for (next = i + 1; next < n && rows[next].series == rows[i].series;)
            next++;
        add_series(rows + i, next - i, c, at, &square, &chance, &room, &count);
    }
    double prior = SURE_WEIGHT * (0.25 * 0.75 * 2 + 0.25);
    double extra = fmax(0, square - chance) + prior / (SURE_PRIOR + 1);
    return fmin(1000, fmax(2, (room + prior) / extra - 1));
}

void cw_orders_curve_learn(const cw_order_day *rows, size_t n, cw_orders_curve *out)
{
    double sum = 0;
    memset(out, 0, sizeof *out);
    for (size_t i = 0; i < n; i++) {
        out->share[index_of(rows[i].day)] += (double)rows[i].quantity;
        out->learned += rows[i].quantity;
    }
    for (size_t d = 0; d < CW_CURVE_DAYS; d++) {
        sum += out->share[d];
        out->share[d] = (sum + DEFAULT_WEIGHT * usual_at((int)d + CW_CURVE_FIRST)) /
                        ((double)out->learned + DEFAULT_WEIGHT);
    }
    out->sure = out->learned > 0 ? learn_sure(rows, n, out) : DEFAULT_SURE;
}

double cw_orders_curve_at(const cw_orders_curve *c, int day)
{
    return day < CW_CURVE_FIRST ? 0 : c->share[index_of(day)];
}

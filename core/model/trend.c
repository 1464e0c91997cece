/* SPDX-License-Identifier: MIT */
#include "model/trend.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

typedef struct sums {
    double w, x, xx, y, xy; /* of weights, and of weighted seasons and log demands */
} sums;

static void add(sums *s, const cw_trend_row *row, int now)
{
    double sold = (double)row->sold + 0.5, w = 1 / (CW_TREND_NOISE + 1 / sold);
    double x = (double)(row->season - now), y = log(sold);
    *s = (sums){ s->w + w, s->x + w * x, s->xx + w * x * x, s->y + w * y, s->xy + w * x * y };
}

cw_code cw_trend_fit(const cw_trend_row *row, size_t n, size_t varieties, int now, cw_trend *out,
                     cw_error *err)
{
    sums *sum = calloc(varieties + 1, sizeof *sum);
    if (sum == NULL)
        return cw_error_memory(err);
    for (size_t i = 0; i < n; i++)
        if (!row[i].sold_out)
            add(&sum[row[i].variety], &row[i], now);
    for (size_t v = 0; v < varieties; v++) {
        const sums *s = &sum[v];
        double precision = 1 / (CW_TREND_SD * CW_TREND_SD), moved = 0, middle = 0;
        if (s->w > 0) {
            middle = s->x / s->w;
            precision += s->xx - s->x * middle;
            moved = s->xy - s->y * middle;
        }
        out[v] = (cw_trend){ moved / precision, 1 / sqrt(precision), -middle };
    }
    free(sum);
    return CW_OK;
}

void cw_trend_ahead(const cw_trend *t, const cw_demand *seen, int ahead, cw_demand *out)
{
    double moved = t->past, damp = 1;
    for (int i = 0; i < ahead; i++)
        moved += damp *= CW_TREND_DAMP;
    double spread = t->sd * moved, factor = exp(t->slope * moved);
    double more = expm1(spread * spread); /* the factor is lognormal about this */
    *out = *seen;
    out->mean = seen->mean * factor;
    double between =
        fmax(0, seen->variance - seen->mean) * factor * factor; /* beyond Poisson: grows with the square */
    out->variance = out->mean + between * (1 + more) + out->mean * out->mean * more;
}

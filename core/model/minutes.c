/* SPDX-License-Identifier: MIT */
#include "model/minutes.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

#define OWN_CLUMPS     10.0   /* clumps whose chance weighs as much as what a session has of its own */
#define STATED_SHARE   3.0    /* the stated figure counts as so many large sessions */
#define LEAST_SPREAD   0.0025 /* variance between varieties, of log minutes: 5 % */
#define MOST_SPREAD    0.25
#define SESSION_SPREAD 0.09 /* variance between sessions before there are any pairs: 30 % */

typedef struct sums {
    double w, wx, wxx, n;
} sums;

static double between(double x, double low, double high)
{
    return x < low ? low : x > high ? high : x;
}

/* Spread of sessions within varieties, and of varieties about the mean, by moments. */
static void spreads(const sums *of, size_t varieties, double mean, double *within, double *apart)
{
    double square = SESSION_SPREAD * 4, df = 4, over = 0, weight = 0;
    for (size_t v = 0; v < varieties; v++)
        if (of[v].n > 1) {
            square += of[v].wxx - of[v].wx * of[v].wx / of[v].w;
            df += of[v].n - 1;
        }
    *within = square / df;
    for (size_t v = 0; v < varieties; v++)
        if (of[v].n > 0) {
            double off = of[v].wx / of[v].w - mean;
            over += of[v].w * off * off - *within;
            weight += of[v].w;
        }
    *apart = between(weight > 0 ? over / weight : 0, LEAST_SPREAD, MOST_SPREAD);
}

cw_code cw_minutes_learn(const cw_minutes_session *session, size_t n, size_t varieties, double stated,
                         cw_minutes *out, cw_error *err)
{
    sums all = { 0 }, *of = calloc(varieties + 1, sizeof *of);
    double within, apart;
    *out = (cw_minutes){ .variety = calloc(varieties + 1, sizeof *out->variety) };
    if (of == NULL || out->variety == NULL) {
        free(of);
        cw_minutes_free(out);
        return cw_error_memory(err);
    }
    for (size_t i = 0; i < n; i++) {
        const cw_minutes_session *s = &session[i];
        if (s->clumps <= 0 || !(s->minutes > 0) || s->variety >= varieties)
            continue;
        double w = (double)s->clumps / ((double)s->clumps + OWN_CLUMPS),
               x = log(s->minutes / (double)s->clumps);
        sums *to[2] = { &of[s->variety], &all };
        for (int k = 0; k < 2; k++)
            *to[k] = (sums){ to[k]->w + w, to[k]->wx + w * x, to[k]->wxx + w * x * x, to[k]->n + 1 };
        out->sessions++;
    }
    double mean = (all.wx + STATED_SHARE * log(stated)) / (all.w + STATED_SHARE);
    spreads(of, varieties, mean, &within, &apart);
    out->all = exp(mean);
    for (size_t v = 0; v < varieties; v++)
        out->variety[v] = exp((of[v].wx + within / apart * mean) / (of[v].w + within / apart));
    free(of);
    return CW_OK;
}

void cw_minutes_free(cw_minutes *m)
{
    free(m->variety);
    *m = (cw_minutes){ 0 };
}

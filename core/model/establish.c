/* SPDX-License-Identifier: MIT */
#include "model/establish.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

#define GROWING 0.75 /* of the losses fall before digging */
#define MOST_SD 3.0

struct cw_establish {
    cw_mixed *fit;
    double share, doubt;
    int64_t plants;
};

/* Probabilists' Hermite polynomial of degree 5: zeros 0 and sqrt(5 -+ sqrt 10); weights sum to 1. */
const double cw_establish_node[CW_ESTABLISH_NODES] = { -2.856970013872806, -1.355626179974266, 0,
                                                       1.355626179974266, 2.856970013872806 };
const double cw_establish_part[CW_ESTABLISH_NODES] = { 0.011257411327721, 0.222075922005613,
                                                       0.533333333333333, 0.222075922005613,
                                                       0.011257411327721 };

double cw_establish_weight(double t)
{
    return GROWING * sqrt(fmin(1, fmax(0, t)));
}

/* log share = -exp(eta): the sd of the log of the share is exp(eta) times that of eta. */
static cw_mixed_settings settings_of(const cw_establish_data *d)
{
    double hazard = -log(fmin(0.999, fmax(0.01, d->share)));
    return (cw_mixed_settings){
        .mode = CW_MIXED_PREDICT,
        .use = { [CW_TERM_VARIETY] = true, [CW_TERM_SEASON] = true, [CW_TERM_CELL] = true },
        .sd_median = { [CW_TERM_VARIETY] = 0.4, [CW_TERM_SEASON] = 0.3, [CW_TERM_CELL] = 0.3 },
        .sd_spread = { [CW_TERM_VARIETY] = 0.75, [CW_TERM_SEASON] = 0.75, [CW_TERM_CELL] = 0.75 },
        .sd_limit = 1.0,
        .phi_median = 1,
        .phi_spread = 0.5,
        .intercept_mean = log(hazard),
        .intercept_sd = fmin(MOST_SD, fmax(0.3, d->doubt / hazard)),
        .drift_median = 0,
        .season = d->season,
        .go_on = d->go_on,
    };
}

cw_code cw_establish_fit(const cw_establish_data *d, cw_establish **out, cw_error *err)
{
    *out = NULL;
    cw_establish *e = calloc(1, sizeof *e);
    cw_mixed_row *rows = calloc(d->n_rows + 1, sizeof *rows);
    cw_code code = e && rows ? CW_OK : cw_error_memory(err);
    for (size_t i = 0; code == CW_OK && i < d->n_rows; i++) {
        const cw_establish_row *r = &d->rows[i];
        if (r->weight > 0)
            e->plants += r->plants;
        rows[i] = (cw_mixed_row){ .variety = r->variety,
                                  .season = r->season,
                                  .lot = -1,
                                  .exposure = r->plants > 0 ? r->weight : 0,
                                  .trials = (double)r->plants,
                                  .count = (double)r->lost };
    }
    if (code == CW_OK) {
        const cw_mixed_data data = { .family = CW_MIXED_CLOGLOG,
                                     .rows = rows,
                                     .n_rows = d->n_rows,
                                     .varieties = d->varieties,
                                     .seasons = d->seasons };
        const cw_mixed_settings settings = settings_of(d);
        e->share = d->share;
        e->doubt = d->doubt;
        code = cw_mixed_fit(&data, &settings, NULL, &e->fit, err);
    }
    free(rows);
    if (code == CW_OK)
        *out = e;
    else
        cw_establish_free(e);
    return code;
}

void cw_establish_free(cw_establish *e)
{
    if (e == NULL)
        return;
    cw_mixed_free(e->fit);
    free(e);
}

bool cw_establish_informed(const cw_establish *e)
{
    return cw_mixed_result(e->fit)->rows > 0;
}

int64_t cw_establish_plants(const cw_establish *e)
{
    return e->plants;
}

/* Over the mixture of the posterior's points, as the projection takes the other models. */
void cw_establish_now(cw_establish *e, size_t v, double *mean, double *sd)
{
    const cw_latent *l = cw_mixed_latent(e->fit);
    double m = 0, square = 0;
    for (size_t p = 0; p < l->points; p++)
        m += l->point[p].weight * l->point[p].mean[v];
    for (size_t p = 0; p < l->points; p++) {
        const cw_latent_point *at = &l->point[p];
        const double *loading = cw_latent_loading(l, p, v);
        double s2 = at->own_sd[v] * at->own_sd[v], off = at->mean[v] - m;
        for (size_t k = 0; k < l->shared; k++)
            s2 += loading[k] * loading[k];
        square += at->weight * (s2 + off * off);
    }
    *mean = m;
    *sd = fmin(MOST_SD, sqrt(square));
}

void cw_establish_another(cw_establish *e, size_t v, double *share, double *log_sd)
{
    cw_mixed_why w;
    if (!cw_establish_informed(e)) {
        *share = e->share;
        *log_sd = e->doubt;
        return;
    }
    cw_mixed_explain(e->fit, v, &w);
    const double *sds = cw_mixed_result(e->fit)->hyper.sd;
    double mean = w.intercept.mean + w.variety.mean;
    double sd = sqrt(fmax(0, w.intercept.share + w.variety.share) +
                     sds[CW_TERM_SEASON] * sds[CW_TERM_SEASON] + sds[CW_TERM_CELL] * sds[CW_TERM_CELL]);
    double sum = 0, square = 0;
    for (int i = 0; i < CW_ESTABLISH_NODES; i++)
        sum += cw_establish_part[i] * exp(-exp(mean + sd * cw_establish_node[i]));
    for (int i = 0; i < CW_ESTABLISH_NODES; i++) {
        double off = exp(-exp(mean + sd * cw_establish_node[i])) / sum - 1;
        square += cw_establish_part[i] * off * off;
    }
    *share = sum;
    *log_sd = sqrt(log1p(square));
}

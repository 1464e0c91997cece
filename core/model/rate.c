/* SPDX-License-Identifier: MIT */
#include "model/rate.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

struct cw_rate {
    cw_mixed *fit;
    size_t varieties;
    int64_t *sums; /* [4 varieties]: past clumps and divisions, then this season's */
};

/* Prior medians of the sds, on the log scale (common practice, no source); each within a factor of about 4 either way
 * with 95 %. */
static cw_mixed_settings settings_of(const cw_rate_data *d)
{
    return (cw_mixed_settings){
        .mode = CW_MIXED_PREDICT,
        .use = { [CW_TERM_FORM] = true,
                 [CW_TERM_SIZE] = true,
                 [CW_TERM_VARIETY] = true,
                 [CW_TERM_SEASON] = true,
                 [CW_TERM_CELL] = true,
                 [CW_TERM_LOT] = true },
        .dispersion = true,
        .sd_median = { [CW_TERM_FORM] = 0.15,
                       [CW_TERM_SIZE] = 0.15,
                       [CW_TERM_VARIETY] = 0.35,
                       [CW_TERM_SEASON] = 0.15,
                       [CW_TERM_CELL] = 0.08,
                       [CW_TERM_LOT] = 0.04 },
        .sd_spread = { [CW_TERM_FORM] = 1,
                       [CW_TERM_SIZE] = 1,
                       [CW_TERM_VARIETY] = 0.75,
                       [CW_TERM_SEASON] = 0.75,
                       [CW_TERM_CELL] = 1,
                       [CW_TERM_LOT] = 1 },
        .sd_limit =
            0.5, /* kinds that differ by far more than 1.6-fold are beyond the trade; data can say otherwise */
        .phi_median = 1,
        .phi_spread = 0.75,
        .intercept_mean = log(CW_RATE_DEFAULT),
        .intercept_sd = 0.35,
        .tilt_mean = { [CW_RATE_ORDER] = d->best_first ? 0.3 : 0 },
        .tilt_scale = { [CW_RATE_ORDER] = 0.05 },
        .drift_median = 0.15,
        .drift_spread = 1,
        .season = d->season,
        .threads = d->threads,
    };
}

static void sum_rows(cw_rate *r, const cw_rate_data *d)
{
    for (size_t i = 0; i < d->n_rows; i++) {
        const cw_rate_row *row = &d->rows[i];
        int64_t *to = r->sums + 4 * (size_t)row->variety + (row->season == d->season ? 2 : 0);
        to[0] += row->clumps;
        to[1] += row->divisions;
    }
}

cw_code cw_rate_fit(const cw_rate_data *data, const cw_rate *before, cw_rate **out, cw_error *err)
{
    cw_code code = CW_OK;
    *out = NULL;
    if (data->season < 0 || (size_t)data->season >= data->seasons)
        return cw_error_set(err, CW_REFUSED, "there is no season number %d", data->season);
    cw_rate *r = calloc(1, sizeof *r);
    cw_mixed_row *rows = calloc(data->n_rows + 1, sizeof *rows);
    cw_mixed_tilt *tilt = calloc(data->n_rows + 1, sizeof *tilt);
    if (r == NULL || rows == NULL || tilt == NULL ||
        (r->sums = calloc(4 * data->varieties + 1, sizeof *r->sums)) == NULL) {
        code = cw_error_memory(err);
        goto done;
    }
    for (size_t i = 0; i < data->n_rows; i++) {
        const cw_rate_row *row = &data->rows[i];
        rows[i] = (cw_mixed_row){ .variety = row->variety,
                                  .season = row->season,
                                  .lot = row->lot,
                                  .exposure = (double)row->clumps,
                                  .count = (double)row->divisions };
        if (data->cut != NULL && data->cut[i].to > 0) {
            tilt[i].of[0] = CW_RATE_ORDER;
            tilt[i].x[0] = 1 - data->cut[i].from - data->cut[i].to;
        }
    }
    cw_mixed_settings settings = settings_of(data);
    cw_mixed_data mixed = { .family = CW_MIXED_COUNT,
                            .rows = rows,
                            .n_rows = data->n_rows,
                            .varieties = data->varieties,
                            .seasons = data->seasons,
                            .forms = data->forms,
                            .sizes = data->sizes,
                            .form = data->form,
                            .size = data->size,
                            .lots = data->lots,
                            .tilt = tilt };
    code = cw_mixed_refit(&mixed, &settings, before ? before->fit : NULL, &r->fit, err);
    if (code != CW_OK)
        goto done;
    r->varieties = data->varieties;
    sum_rows(r, data);
    *out = r;
    r = NULL;
done:
    free(tilt);
    free(rows);
    cw_rate_free(r);
    return code;
}

void cw_rate_free(cw_rate *r)
{
    if (r == NULL)
        return;
    cw_mixed_free(r->fit);
    free(r->sums);
    free(r);
}

const cw_latent *cw_rate_latent(const cw_rate *r)
{
    return cw_mixed_latent(r->fit);
}

const cw_mixed_report *cw_rate_report(const cw_rate *r)
{
    return cw_mixed_result(r->fit);
}

bool cw_rate_informed(const cw_rate *r)
{
    return cw_mixed_result(r->fit)->rows > 0;
}

void cw_rate_explain(cw_rate *r, size_t variety, cw_rate_why *out)
{
    cw_mixed_why why;
    const int64_t *sums = r->sums + 4 * variety;
    cw_mixed_explain(r->fit, variety, &why);
    *out = (cw_rate_why){ .past_clumps = sums[0],
                          .past_divisions = sums[1],
                          .now_clumps = sums[2],
                          .now_divisions = sums[3],
                          .nursery = why.intercept,
                          .form = why.form,
                          .size = why.size,
                          .history = why.variety,
                          .season = why.season,
                          .own_season = why.cell,
                          .mean = why.mean,
                          .variance = why.variance };
}

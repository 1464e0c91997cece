/* SPDX-License-Identifier: MIT */
#include "model/rot.h"
#include "base/parallel.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

struct cw_rot {
    cw_mixed *fit[CW_ROT_STAGES];
};

/* Prior medians of the sds, on the log scale (common practice, no source). */
static cw_mixed_settings settings_of(const cw_rot_data *d, cw_rot_stage stage)
{
    return (cw_mixed_settings){
        .mode = CW_MIXED_PREDICT,
        .use = { [CW_TERM_VARIETY] = true,
                 [CW_TERM_SEASON] = true,
                 [CW_TERM_CELL] = true,
                 [CW_TERM_LOT] = true },
        .sd_median = { [CW_TERM_FORM] = 1,
                       [CW_TERM_SIZE] = 1,
                       [CW_TERM_VARIETY] = 0.4,
                       [CW_TERM_SEASON] = 0.3,
                       [CW_TERM_CELL] = 0.2,
                       [CW_TERM_LOT] = 0.3 },
        .sd_spread = { [CW_TERM_FORM] = 1,
                       [CW_TERM_SIZE] = 1,
                       [CW_TERM_VARIETY] = 0.75,
                       [CW_TERM_SEASON] = 0.75,
                       [CW_TERM_CELL] = 1,
                       [CW_TERM_LOT] = 1 },
        .sd_limit = 2,
        .phi_median = 1,
        .phi_spread = 0.75,
        .intercept_mean = log(stage == CW_ROT_CLUMP ? CW_ROT_DEFAULT_CLUMP : CW_ROT_DEFAULT_DIVISION),
        .intercept_sd = 1,
        .season = d->season,
        .threads = d->threads,
    };
}

static cw_code check(const cw_rot_data *d, cw_error *err)
{
    if (d->season < 0 || (size_t)d->season >= d->seasons)
        return cw_error_set(err, CW_REFUSED, "there is no season number %d", d->season);
    for (size_t i = 0; i < d->n_rows; i++)
        if (d->rows[i].stage != CW_ROT_CLUMP && d->rows[i].stage != CW_ROT_DIVISION)
            return cw_error_at(err, CW_REFUSED, NULL, (long)i + 1, "stage", "there is no stage number %d",
                               (int)d->rows[i].stage);
    return CW_OK;
}

/* One stage's fit. Rows of the other stage are given with exposure 0, so that row numbers in messages stay right. */
typedef struct job {
    const cw_rot_data *data;
    const cw_rot *before;
    cw_rot *r;
    unsigned threads;
    cw_code code[CW_ROT_STAGES];
    cw_error err[CW_ROT_STAGES];
} job;

static void fit_stage(void *context, unsigned worker, size_t stage)
{
    (void)worker;
    job *j = context;
    const cw_rot_data *d = j->data;
    cw_mixed_row *rows = calloc(d->n_rows + 1, sizeof *rows);
    if (rows == NULL) {
        j->code[stage] = cw_error_memory(&j->err[stage]);
        return;
    }
    for (size_t i = 0; i < d->n_rows; i++) {
        const cw_rot_row *row = &d->rows[i];
        rows[i] = (cw_mixed_row){ .variety = row->variety, .season = row->season, .lot = row->lot };
        if (row->stage != (cw_rot_stage)stage)
            continue;
        rows[i].exposure = row->weeks;
        rows[i].trials = (double)row->inspected;
        rows[i].count = (double)row->rotten;
    }
    cw_mixed_settings settings = settings_of(d, (cw_rot_stage)stage);
    settings.threads = j->threads;
    cw_mixed_data mixed = { .family = CW_MIXED_CLOGLOG,
                            .rows = rows,
                            .n_rows = d->n_rows,
                            .varieties = d->varieties,
                            .seasons = d->seasons,
                            .lots = d->lots };
    j->code[stage] = cw_mixed_refit(&mixed, &settings, j->before ? j->before->fit[stage] : NULL,
                                    &j->r->fit[stage], &j->err[stage]);
    free(rows);
}

cw_code cw_rot_fit(const cw_rot_data *data, const cw_rot *before, cw_rot **out, cw_error *err)
{
    *out = NULL;
    cw_code code = check(data, err);
    if (code != CW_OK)
        return code;
    cw_rot *r = calloc(1, sizeof *r);
    if (r == NULL)
        return cw_error_memory(err);
    unsigned workers = cw_parallel_workers(data->threads);
    job j = { .data = data,
              .before = before,
              .r = r,
              .threads = workers > 1 ? workers / 2 : 1,
              .err = { CW_ERROR_NONE, CW_ERROR_NONE } };
    cw_parallel_for(workers > 1 ? 2 : 1, CW_ROT_STAGES, fit_stage, &j);
    for (int stage = 0; stage < CW_ROT_STAGES && code == CW_OK; stage++) {
        code = j.code[stage];
        if (code != CW_OK && err && err->code == CW_OK)
            *err = j.err[stage];
    }
    if (code == CW_OK) {
        *out = r;
        r = NULL;
    }
    cw_rot_free(r);
    return code;
}

void cw_rot_free(cw_rot *r)
{
    if (r == NULL)
        return;
    for (int stage = 0; stage < CW_ROT_STAGES; stage++)
        cw_mixed_free(r->fit[stage]);
    free(r);
}

const cw_latent *cw_rot_latent(const cw_rot *r, cw_rot_stage stage)
{
    return cw_mixed_latent(r->fit[stage]);
}

const cw_mixed_report *cw_rot_report(const cw_rot *r, cw_rot_stage stage)
{
    return cw_mixed_result(r->fit[stage]);
}

bool cw_rot_informed(const cw_rot *r, cw_rot_stage stage)
{
    return cw_mixed_result(r->fit[stage])->rows > 0;
}

void cw_rot_explain(cw_rot *r, cw_rot_stage stage, size_t variety, cw_mixed_why *out)
{
    cw_mixed_explain(r->fit[stage], variety, out);
}

/* SPDX-License-Identifier: MIT */
#include "bench/knower.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

/* As regimes.c draws them. */
#define CLUMP_HAZARD    0.006
#define DIVISION_HAZARD 0.004
#define SURE            0.01 /* of a log sd that is known */
#define MEAN_RATE       5.0

static cw_mixed_settings settings_of(const cw_world *w)
{
    cw_mixed_settings s = { .mode = CW_MIXED_PREDICT,
                            .use = { [CW_TERM_VARIETY] = true,
                                     [CW_TERM_SEASON] = true,
                                     [CW_TERM_CELL] = true,
                                     [CW_TERM_LOT] = true },
                            .sd_limit = 2.0,
                            .phi_median = 1.0,
                            .phi_spread = SURE,
                            .season = (int)w->seasons - 1,
                            .threads = 1 };
    for (int k = 0; k < CW_TERMS; k++)
        s.sd_spread[k] = SURE;
    return s;
}

static cw_code know_rate(const cw_world *w, const cw_regime *r, cw_mixed **out, cw_error *err)
{
    cw_mixed_row *rows = calloc(w->rates + 1, sizeof *rows);
    cw_mixed_settings s = settings_of(w);
    if (rows == NULL)
        return cw_error_memory(err);
    const double sd[CW_TERMS] = { 0.15, 0.15, 0.3, 0.1, r->cell_sd, 0.06 };
    for (int k = 0; k < CW_TERMS; k++)
        s.sd_median[k] = sd[k];
    s.use[CW_TERM_FORM] = s.use[CW_TERM_SIZE] = true;
    s.dispersion = true;
    /* a clump's own size, and which of its eyes come to a division */
    s.phi_median = 1.0 - r->even + MEAN_RATE * expm1(r->clump_sd * r->clump_sd);
    s.intercept_mean = log(MEAN_RATE);
    s.intercept_sd = 0.25;
    for (size_t i = 0; i < w->rates; i++)
        rows[i] = (cw_mixed_row){ .variety = w->rate[i].variety,
                                  .season = w->rate[i].season,
                                  .lot = w->rate[i].lot,
                                  .exposure = (double)w->rate[i].clumps,
                                  .count = (double)w->rate[i].divisions };
    cw_mixed_data d = { .family = CW_MIXED_COUNT,
                        .rows = rows,
                        .n_rows = w->rates,
                        .varieties = w->varieties,
                        .seasons = w->seasons,
                        .forms = w->forms,
                        .sizes = w->sizes,
                        .form = w->form,
                        .size = w->size,
                        .lots = w->lots };
    cw_code code = cw_mixed_fit(&d, &s, NULL, out, err);
    free(rows);
    return code;
}

static cw_code know_rot(const cw_world *w, cw_rot_stage stage, cw_mixed **out, cw_error *err)
{
    cw_mixed_row *rows = calloc(w->rots + 1, sizeof *rows);
    cw_mixed_settings s = settings_of(w);
    if (rows == NULL)
        return cw_error_memory(err);
    const double sd[CW_TERMS] = { 1.0, 1.0, 0.45, 0.3, 0.01, 0.3 };
    for (int k = 0; k < CW_TERMS; k++)
        s.sd_median[k] = sd[k];
    s.intercept_mean = log(stage == CW_ROT_CLUMP ? CLUMP_HAZARD : DIVISION_HAZARD);
    s.intercept_sd = SURE;
    for (size_t i = 0; i < w->rots; i++) {
        rows[i] =
            (cw_mixed_row){ .variety = w->rot[i].variety, .season = w->rot[i].season, .lot = w->rot[i].lot };
        if (w->rot[i].stage != stage)
            continue;
        rows[i].exposure = w->rot[i].weeks;
        rows[i].trials = (double)w->rot[i].inspected;
        rows[i].count = (double)w->rot[i].rotten;
    }
    cw_mixed_data d = { .family = CW_MIXED_CLOGLOG,
                        .rows = rows,
                        .n_rows = w->rots,
                        .varieties = w->varieties,
                        .seasons = w->seasons,
                        .lots = w->lots };
    cw_code code = cw_mixed_fit(&d, &s, NULL, out, err);
    free(rows);
    return code;
}

cw_code cw_knower_fit(const cw_world *w, const cw_regime *r, const cw_shrink *shrink, cw_knower *out,
                      cw_error *err)
{
    *out = (cw_knower){ .law = malloc(w->varieties * sizeof *out->law) };
    if (out->law == NULL)
        return cw_error_memory(err);
    cw_code code = know_rate(w, r, &out->rate, err);
    for (int k = 0; k < 2 && code == CW_OK; k++)
        code = know_rot(w, (cw_rot_stage)k, &out->rot[k], err);
    if (code != CW_OK)
        return code;
    cw_projection_input in = { .varieties = w->varieties,
                               .lots = w->lots,
                               .stocks = w->stocks,
                               .lot_variety = w->lot_variety,
                               .stock = w->stock,
                               .weeks_to_ship = w->weeks_to_ship,
                               .rate = cw_mixed_latent(out->rate),
                               .clump_rot = cw_mixed_latent(out->rot[0]),
                               .division_rot = cw_mixed_latent(out->rot[1]),
                               .shrink = shrink };
    code = cw_projection_new(&in, &out->projection, err);
    if (code == CW_OK)
        cw_projection_all(out->projection, 1, out->law);
    return code;
}

void cw_knower_free(cw_knower *k)
{
    cw_projection_free(k->projection);
    cw_mixed_free(k->rate);
    cw_mixed_free(k->rot[0]);
    cw_mixed_free(k->rot[1]);
    free(k->law);
    *k = (cw_knower){ 0 };
}

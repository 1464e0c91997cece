/* SPDX-License-Identifier: MIT */
#include "bench/draws.h"

#include "model/projection_inside.h"
#include "model/rate.h"
#include "model/sampler.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static const cw_latent_point *pick_point(const cw_latent *l, cw_rng *rng)
{
    double u = cw_rng_uniform(rng), run = 0.0;
    for (size_t p = 0; p + 1 < l->points; p++) {
        run += l->point[p].weight;
        if (u < run)
            return &l->point[p];
    }
    return &l->point[l->points - 1];
}

/* One draw of a variety's linear predictor, and the point that it was drawn at. */
static double draw_predictor(const cw_latent *l, size_t variety, cw_rng *rng, const cw_latent_point **point)
{
    if (l == NULL)
        return -INFINITY;
    const cw_latent_point *p = *point = pick_point(l, rng);
    double eta = p->mean[variety] + p->own_sd[variety] * cw_draw_normal(rng);
    for (size_t k = 0; k < l->shared; k++)
        eta += p->loading[variety * l->shared + k] * cw_draw_normal(rng);
    return eta;
}

/* The second hazard leans on the first through the season, as the projection has it: by the covariance over both sds. */
static double draw_tied(const cw_projection_input *in, size_t variety, double log_h1,
                        const cw_latent_point *at1, cw_rng *rng, const cw_latent_point **point)
{
    const cw_latent *a = in->clump_rot, *b = in->division_rot;
    if (a == NULL || b == NULL || in->rot_tie == 0.0)
        return draw_predictor(b, variety, rng, point);
    double mean, sd1, sd2;
    cw_projection_predictor(a, variety, &mean, &sd1);
    cw_projection_predictor(b, variety, &mean, &sd2);
    double c = in->rot_tie / (sd1 * sd2);
    *point = pick_point(b, rng);
    double z1 = (log_h1 - at1->mean[variety]) / cw_projection_spread(a, (size_t)(at1 - a->point), variety);
    double z = c * z1 + sqrt(1.0 - c * c) * cw_draw_normal(rng);
    return (*point)->mean[variety] + z * cw_projection_spread(b, (size_t)(*point - b->point), variety);
}

/* exp of a lot's predictor, its own effect drawn. */
static double draw_lot(const cw_latent *l, const cw_latent_point *p, size_t variety, size_t lot, double eta,
                       cw_rng *rng)
{
    if (l == NULL)
        return 0.0;
    if (l->lots == 0)
        return exp(eta + p->lot_sd * cw_draw_normal(rng));
    double off = eta - p->mean[variety];
    return exp(eta + p->lot_mean[lot] - p->lot_pull[lot] * off + p->lot_own_sd[lot] * cw_draw_normal(rng));
}

static double sound_share(const cw_projection_input *in, size_t lot, double from, double to, double z)
{
    if (in->shrink == NULL || to <= from)
        return 1.0;
    cw_shrink_stretch stretch = cw_shrink_between(in->shrink, lot, from, to);
    return cw_shrink_sound(&stretch, z);
}

void cw_draws_of_variety(const cw_projection_input *in, size_t variety, cw_rng *rng, int64_t *out,
                         size_t draws)
{
    /* the span that holds the variety's lots and rows, only to save time */
    size_t first = in->lots, last = 0, from = in->stocks, to = 0;
    for (size_t lot = in->lots; lot-- > 0;) {
        if (in->lot_variety[lot] == variety) {
            first = lot;
            last = last > lot + 1 ? last : lot + 1;
        }
    }
    for (size_t i = in->stocks; i-- > 0;) {
        if (in->lot_variety[in->stock[i].lot] == variety) {
            from = i;
            to = to > i + 1 ? to : i + 1;
        }
    }
    for (size_t d = 0; d < draws; d++) {
        const cw_latent_point *at[3] = { NULL, NULL, NULL };
        double eta = draw_predictor(in->rate, variety, rng, &at[0]);
        double log_h1 = draw_predictor(in->clump_rot, variety, rng, &at[1]);
        double log_h2 = draw_tied(in, variety, log_h1, at[1], rng, &at[2]);
        double z = cw_draw_normal(rng);
        out[d] = 0;
        for (size_t lot = first; lot < last; lot++) {
            if (in->lot_variety[lot] != variety)
                continue;
            double rate = draw_lot(in->rate, at[0], variety, lot, eta, rng);
            double h1 = draw_lot(in->clump_rot, at[1], variety, lot, log_h1, rng);
            double h2 = draw_lot(in->division_rot, at[2], variety, lot, log_h2, rng);
            for (size_t i = from; i < to; i++) {
                const cw_stock *s = &in->stock[i];
                if (s->lot != lot)
                    continue;
                int64_t divisions = s->count;
                if (s->stage == CW_CLUMP) {
                    double aged =
                        at[1] ? cw_latent_dose(at[1]->tilt[CW_TILT_AGE], s->clump_age, s->clump_weeks) : 0.0;
                    double order = exp(-at[0]->tilt[CW_RATE_ORDER] * s->cut);
                    double q = exp(-h1 * aged);
                    divisions = cw_draw_ab0(rng, (double)cw_draw_binomial(rng, s->count, q) * rate * order,
                                            at[0]->dispersion);
                }
                double age = s->stage == CW_CLUMP ? 0.0 : s->division_age;
                double aged = at[2] ? cw_latent_dose(at[2]->tilt[CW_TILT_AGE], age, s->division_weeks) : 0.0;
                double live = exp(-h2 * aged) * sound_share(in, lot, s->from_pa_days, s->to_pa_days, z);
                out[d] += cw_draw_binomial(rng, divisions, live);
            }
        }
    }
}

static int ascending(const void *a, const void *b)
{
    int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;
    return (x > y) - (x < y);
}

int64_t cw_draws_quantile(int64_t *draw, size_t draws, double p)
{
    qsort(draw, draws, sizeof *draw, ascending);
    size_t at = (size_t)ceil(p * (double)draws) - 1;
    return draw[at < draws ? at : draws - 1];
}

static void fill_latent(cw_latent *l, cw_rng *rng, double mean, double spread, double own, double phi,
                        double lot_sd, int tilt)
{
    for (size_t p = 0; p < l->points; p++) {
        cw_latent_point *at = &l->point[p];
        at->tilt[tilt] = 0.1 + 0.3 * (double)p / (double)l->points;
        double f = 0.8 + 0.4 * (double)p / (double)l->points;
        at->weight = p == 0 ? 0.4 : 0.6 / (double)(l->points - 1);
        at->dispersion = phi * f;
        at->lot_sd = lot_sd * f;
    }
    for (size_t v = 0; v < l->units; v++) {
        double m = mean + spread * cw_draw_normal(rng), s = own * exp(0.6 * cw_draw_normal(rng));
        double shared = 0.05 + 0.1 * cw_rng_uniform(rng);
        for (size_t p = 0; p < l->points; p++) {
            double f = 0.7 + 0.6 * (double)p / (double)l->points;
            l->point[p].mean[v] = m + 0.1 * own * (f - 1.0);
            l->point[p].own_sd[v] = s * f;
            for (size_t k = 0; k < l->shared; k++)
                l->point[p].loading[v * l->shared + k] = k == v % l->shared ? shared : 0.02;
        }
    }
}

static void fill_stock(cw_draws_case *c, cw_rng *rng)
{
    size_t lots = 0, rows = 0;
    for (size_t v = 0; v < c->in.varieties; v++) {
        double size = exp(0.5 + 3.2 * cw_rng_uniform(rng));
        for (size_t l = 0, n = 1 + cw_rng_below(rng, 3); l < n; l++, lots++) {
            c->lot_variety[lots] = v;
            for (int i = 0; i < 3; i++) {
                cw_stock *s = &c->stock[rows++];
                *s = (cw_stock){ .lot = lots,
                                 .stage = i == 2 || v % 7 == 6 ? CW_DIVISION : CW_CLUMP,
                                 .count = (int64_t)(size * cw_rng_uniform(rng) * (i == 2 ? 4.0 : 1.0)),
                                 .cut = i == 1 ? 0.5 : 0.0,
                                 .clump_age = i == 1 ? 6.0 : 0.0,
                                 .division_age = i == 2 ? 3.0 : 0.0,
                                 .clump_weeks = 2.0 + 8.0 * cw_rng_uniform(rng),
                                 .division_weeks = 1.0 + 12.0 * cw_rng_uniform(rng),
                                 .from_pa_days = i == 2 ? 3000.0 : 0.0,
                                 .to_pa_days = 4000.0 + 6000.0 * cw_rng_uniform(rng) };
            }
        }
    }
    c->in.lots = lots;
    c->in.stocks = rows;
}

int cw_draws_make(size_t varieties, uint64_t shift, cw_draws_case *out)
{
    memset(out, 0, sizeof *out);
    cw_rng rng;
    cw_rng_init(&rng, 20, shift);
    cw_error err = CW_ERROR_NONE;
    out->lot_variety = calloc(3 * varieties, sizeof *out->lot_variety);
    out->stock = calloc(9 * varieties, sizeof *out->stock);
    for (int i = 0; i < 3; i++)
        out->latent[i] = cw_latent_new(varieties, 4, i == 0 ? 7 : 5);
    out->in.varieties = varieties;
    if (out->lot_variety == NULL || out->stock == NULL || !out->latent[0] || !out->latent[1] ||
        !out->latent[2])
        goto fail;
    fill_stock(out, &rng);
    static const double phis[] = { 0.5, 0.8, 1.1, 1.8 };
    fill_latent(out->latent[0], &rng, log(5.0), 0.4, 0.12, phis[shift % 4], 0.08, CW_RATE_ORDER);
    fill_latent(out->latent[1], &rng, log(0.006), 0.5, 0.3, 1.0, 0.4, CW_TILT_AGE);
    fill_latent(out->latent[2], &rng, log(0.004), 0.5, 0.3, 1.0, 0.4, CW_TILT_AGE);
    if (cw_shrink_fit(NULL, 0, 0, NULL, 0, out->in.lots, &out->shrink, &err) != CW_OK)
        goto fail;
    out->in.lot_variety = out->lot_variety;
    out->in.stock = out->stock;
    out->in.weeks_to_ship = 1.0;
    out->in.rate = out->latent[0];
    out->in.clump_rot = out->latent[1];
    out->in.division_rot = out->latent[2];
    out->in.rot_tie = 0.01;
    out->in.shrink = out->shrink;
    return 1;
fail:
    cw_draws_free(out);
    return 0;
}

void cw_draws_free(cw_draws_case *c)
{
    for (int i = 0; i < 3; i++)
        cw_latent_free(c->latent[i]);
    cw_shrink_free(c->shrink);
    free(c->lot_variety);
    free(c->stock);
    memset(c, 0, sizeof *c);
}

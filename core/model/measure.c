/* SPDX-License-Identifier: MIT */
#include "model/measure_inside.h"

#include "model/linear.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define DIVIDE_MORE 10
#define CHECK_MORE  20
#define LEAST_SAVED 1e-9

static bool field_new(const cw_latent *l, size_t varieties, field *f)
{
    *f = (field){ .known = l };
    if (l == NULL)
        return true;
    for (size_t i = 0; i < l->points; i++)
        if (l->point[i].weight > l->point[f->top].weight)
            f->top = i;
    f->factors = l->shared + (l->points < ROOM ? l->points : ROOM);
    f->row = calloc(varieties * f->factors + 1, sizeof(double));
    f->variance = calloc(varieties + 1, sizeof(double));
    f->slope = calloc(varieties + 1, sizeof(double));
    f->gain = calloc(f->factors * f->factors + 1, sizeof(double));
    return f->row != NULL && f->variance != NULL && f->slope != NULL && f->gain != NULL;
}

void cw_measure_end(measuring *w)
{
    for (int k = 0; k < LATENT_SIDES; k++) {
        free(w->side[k].row);
        free(w->side[k].variance);
        free(w->side[k].slope);
        free(w->side[k].gain);
    }
    free(w->weight);
}

static void take_side(measuring *w, int k, size_t v, const nodes *n)
{
    field *f = &w->side[k];
    const cw_latent_point *at = &f->known->point[f->top];
    size_t shared = f->known->shared;
    double *row = f->row + v * f->factors;
    memcpy(row, cw_latent_loading(f->known, f->top, v), shared * sizeof *row);
    for (size_t i = shared; i < f->factors; i++)
        row[i] = sqrt(f->known->point[i - shared].weight) * n->of.shift[k][i - shared];
    f->variance[v] = at->own_sd[v] * at->own_sd[v] + cw_dot(row, row, f->factors);
    for (size_t j = 0; j < n->count; j++)
        f->slope[v] += n->weight[j] * n->slope[k][j];
    double weight = w->weight[v] * f->slope[v] * f->slope[v];
    f->tied += weight;
    for (size_t i = 0; i < f->factors && weight > 0.0; i++)
        for (size_t j = 0; j < f->factors; j++)
            f->gain[i * f->factors + j] += weight * row[i] * row[j];
}

static void take_variety(measuring *w, size_t v)
{
    cohorts c = cw_projection_cohorts(w->p, v);
    nodes n;
    if (c.n == 0 || w->laws[v].variance <= 0.0)
        return;
    w->weight[v] = 0.5 * w->loss[v] / sqrt(w->laws[v].variance);
    cw_projection_nodes(w->p, &c, &n);
    for (int k = 0; k < LATENT_SIDES; k++)
        if (w->side[k].known != NULL)
            take_side(w, k, v, &n);
}

/* Information of a look at up to CHECK_MORE of a stage; *count: how many there are to look at. */
static double look(const measuring *w, const cohorts *c, int k, int64_t *count)
{
    const cw_latent *l = w->side[k].known;
    cw_stage stage = k == CLUMP_ROT ? CW_CLUMP : CW_DIVISION;
    double hazard = exp(l->point[w->side[k].top].mean[c->variety]), information = 0.0;
    *count = 0;
    for (size_t i = 0; i < c->n && *count < CHECK_MORE; i++) {
        const cw_stock *s = &c->at[i];
        /* since last known sound, up to today */
        double weeks = s->clump_weeks + s->division_weeks - w->p->in.weeks_to_ship;
        if (s->stage != stage || weeks <= 0.0)
            continue;
        int64_t take = s->count < CHECK_MORE - *count ? s->count : CHECK_MORE - *count;
        double risk = hazard * weeks, rot = -expm1(-risk);
        if (rot > 0.0)
            information += (double)take * risk * risk * (1.0 - rot) / rot;
        *count += take;
    }
    return information;
}

static double dividing(const measuring *w, const cohorts *c, int64_t *count)
{
    const cw_latent *l = w->side[RATE].known;
    *count = 0;
    for (size_t i = 0; i < c->n; i++)
        *count += c->at[i].stage == CW_CLUMP ? c->at[i].count : 0;
    *count = *count < DIVIDE_MORE ? *count : DIVIDE_MORE;
    return (double)*count * exp(l->point[w->side[RATE].top].mean[c->variety]) / w->phi;
}

/* x'Ax */
static double form(const double *a, const double *x, size_t n)
{
    double sum = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += x[i] * cw_dot(a + i * n, x, n);
    return sum;
}

double cw_measure_elsewhere(const measuring *w, int k, size_t v)
{
    const field *f = &w->side[k];
    const double *row = f->row + v * f->factors;
    double common = cw_dot(row, row, f->factors), mine = w->weight[v] * f->slope[v] * f->slope[v];
    double sum = fmax(0.0, form(f->gain, row, f->factors) - mine * common * common);
    if (k != RATE && w->side[CLUMP_ROT].known != NULL && w->side[DIVISION_ROT].known != NULL)
        sum += w->side[CLUMP_ROT + DIVISION_ROT - k].tied * w->p->in.rot_tie * w->p->in.rot_tie;
    return sum;
}

static void value(const measuring *w, int k, size_t v, double information, cw_measure *out)
{
    const field *f = &w->side[k];
    double lot = f->known->point[f->top].lot_sd, var = f->variance[v];
    double noise = var + lot * lot + 1.0 / information, sd = sqrt(w->laws[v].variance);
    double own = f->slope[v] * f->slope[v] * var * var / noise;
    out->elsewhere = cw_measure_elsewhere(w, k, v) / noise;
    out->saves = out->elsewhere + w->loss[v] * (sd - sqrt(fmax(0.0, sd * sd - own)));
}

/* Keeps the list in order, the best first. */
static void keep(const cw_measure *m, size_t most, cw_measure *out, size_t *found)
{
    if (!(m->saves > LEAST_SAVED) || (*found == most && m->saves <= out[most - 1].saves))
        return;
    size_t at = *found < most ? (*found)++ : most - 1;
    for (; at > 0 && out[at - 1].saves < m->saves; at--)
        out[at] = out[at - 1];
    out[at] = *m;
}

static void candidates(const measuring *w, size_t v, size_t most, cw_measure *out, size_t *found)
{
    static const cw_measure_kind kinds[] = {
        [RATE] = CW_MEASURE_DIVIDE, [CLUMP_ROT] = CW_MEASURE_CLUMPS, [DIVISION_ROT] = CW_MEASURE_DIVISIONS
    };
    cohorts c = cw_projection_cohorts(w->p, v);
    if (c.n == 0 || w->laws[v].variance <= 0.0)
        return;
    for (int k = 0; k < LATENT_SIDES; k++) {
        cw_measure m = { .variety = v, .kind = kinds[k] };
        if (w->side[k].known == NULL)
            continue;
        double information = k == RATE ? dividing(w, &c, &m.count) : look(w, &c, k, &m.count);
        if (m.count <= 0 || !(information > 0.0))
            continue;
        value(w, k, v, information, &m);
        keep(&m, most, out, found);
    }
}

cw_code cw_measure_begin(const cw_projection *p, const cw_distribution *laws, const double *loss,
                         measuring *w, cw_error *err)
{
    size_t varieties = p->in.varieties;
    *w = (measuring){ .p = p, .laws = laws, .loss = loss };
    w->weight = calloc(varieties + 1, sizeof *w->weight);
    bool ok = w->weight != NULL;
    for (int k = 0; k < LATENT_SIDES && ok; k++)
        ok = field_new(p->on[0].side[k].known, varieties, &w->side[k]);
    for (size_t i = 0; i < p->in.rate->points; i++)
        w->phi += p->in.rate->point[i].weight * p->in.rate->point[i].dispersion;
    for (size_t v = 0; v < varieties && ok; v++)
        take_variety(w, v);
    return ok ? CW_OK : cw_error_memory(err);
}

cw_code cw_measure_next(const cw_projection *p, const cw_distribution *laws, const double *loss, size_t most,
                        cw_measure *out, size_t *found, cw_error *err)
{
    measuring w;
    *found = 0;
    cw_code code = cw_measure_begin(p, laws, loss, &w, err);
    for (size_t v = 0; v < p->in.varieties && code == CW_OK && most > 0; v++)
        candidates(&w, v, most, out, found);
    cw_measure_end(&w);
    return code;
}

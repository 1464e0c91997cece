/* SPDX-License-Identifier: MIT */
/* What one fit tells another of the seasons that both have, and a fit told so.
 *
 * At the optimum u of the seasons has posterior N(m, V) from a prior N(0, 1) each, so what the rows say of it is, to
 * second order, precision V^-1 - 1 and pull V^-1 m; and a predictor whose covariance with u is c leans V^-1 c on it. */
#include "model/mixed_inside.h"
#include "base/parallel.h"
#include "model/linear.h"
#include "model/optimum.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define TOLERANCE 1e-6 /* of log-likelihood */

struct cw_mixed_linked {
    atomic_uint holders;
    const cw_mixed *fit;   /* one holder more */
    cw_mixed_linked *base; /* of fit->base, held; NULL: this is whole */
    mixed_place *place;    /* [points] of a whole one */
    mixed_work *centre;
    mixed_theta theta;     /* there */
    cw_mixed_seasons told; /* a copy */
    double shift;
    cw_latent *latent;
};

static bool seasons_new(size_t n, cw_mixed_seasons *out)
{
    *out = (cw_mixed_seasons){ .seasons = n,
                               .precision = calloc(n * n + 1, sizeof(double)),
                               .pull = calloc(n + 1, sizeof(double)),
                               .lean = calloc(n + 1, sizeof(double)) };
    return out->precision != NULL && out->pull != NULL && out->lean != NULL;
}

void cw_mixed_seasons_free(cw_mixed_seasons *s)
{
    free(s->precision);
    free(s->pull);
    free(s->lean);
    *s = (cw_mixed_seasons){ 0 };
}

cw_code cw_mixed_told(const cw_mixed *fit, cw_mixed_seasons *out, cw_error *err)
{
    mixed_work *w = fit->centre;
    size_t n = w->m->level_count[CW_TERM_SEASON], first = w->m->first[CW_TERM_SEASON], q = w->m->shared;
    double *part = malloc((2 * n * n + q + 1) * sizeof *part), *inverse = part ? part + n * n : NULL,
           *row = part ? part + 2 * n * n : NULL;
    if (!seasons_new(n, out) || part == NULL) {
        free(part);
        cw_mixed_seasons_free(out);
        return cw_error_memory(err);
    }
    for (size_t s = 0; s < n; s++)
        memcpy(part + s * n, w->covariance + (first + s) * q + first, n * sizeof *part);
    if (cw_cholesky(part, n)) { /* a covariance; else nothing is told */
        cw_cholesky_invert_factor(part, n, inverse);
        cw_cholesky_inverse(inverse, n, out->precision);
        cw_mixed_mean_row(w, &fit->theta, fit->settings.season, row);
        for (size_t t = 0; t < n; t++) {
            double with = cw_dot(w->covariance + (first + t) * q, row, q);
            for (size_t s = 0; s < n; s++) {
                out->pull[s] += out->precision[s * n + t] * (w->u_shared[first + t] + w->x_shared[first + t]);
                out->lean[s] += out->precision[s * n + t] * with;
            }
        }
        for (size_t s = 0; s < n; s++)
            out->precision[s * (n + 1)] -= 1;
    }
    free(part);
    return CW_OK;
}

typedef struct job {
    cw_mixed_linked *l;
    mixed_problem problem;
    mixed_work *work[16];
} job;

static void point_of(const mixed_problem *p, const cw_mixed *f, double shift, size_t i, double *x)
{
    memcpy(x, f->points.x[i], sizeof f->points.x[i]);
    for (size_t k = 0; k < p->terms; k++)
        x[k] += p->term[k] == CW_TERM_SEASON ? shift : 0;
}

static void fill_point(job *j, mixed_work *w, size_t i)
{
    const cw_mixed *f = j->l->fit;
    cw_latent_point *out = &j->l->latent->point[i];
    double gradient[CW_OPTIMUM_MAX], x[CW_OPTIMUM_MAX];
    mixed_theta t;
    point_of(&j->problem, f, j->l->shift, i, x);
    out->weight = f->points.weight[i];
    if (out->weight <= 0)
        return;
    w->heard = &j->l->told;
    (void)cw_mixed_at(&j->problem, w, x, TOLERANCE, gradient);
    cw_mixed_unpack(&j->problem, x, &t);
    if (i == 0)
        j->l->theta = t;
    cw_mixed_place_keep(w, &j->l->place[i]);
    cw_mixed_fill(w, &t, f->settings.season, out);
}

/* From the told centre's mode, whoever works. */
static void outer(void *context, unsigned worker, size_t i)
{
    job *j = context;
    cw_mixed_work_copy_effects(j->work[worker], j->l->centre);
    fill_point(j, j->work[worker], i + 1);
}

cw_code cw_mixed_link(const cw_mixed *fit, const cw_mixed_seasons *told, double shift, cw_mixed_linked **out,
                      cw_error *err)
{
    const mixed_model *m = fit->model;
    unsigned workers = cw_parallel_workers(fit->settings.threads);
    cw_code code = CW_OK;
    job j = { .l = calloc(1, sizeof *j.l) };
    *out = NULL;
    if (j.l == NULL)
        return cw_error_memory(err);
    atomic_init(&j.l->holders, 1);
    j.l->fit = fit;
    j.l->shift = shift;
    atomic_fetch_add(&((cw_mixed *)fit)->holders, 1);
    cw_mixed_problem_init(&j.problem, m, &fit->settings);
    bool ok = seasons_new(told->seasons, &j.l->told) && (j.l->centre = cw_mixed_work_new(m)) != NULL;
    j.l->latent = cw_latent_new_with_lots(m->varieties, m->shared, m->lots_asked, fit->points.count);
    j.l->place = cw_mixed_places_new(fit->points.count, m->shared);
    for (unsigned i = 0; i < workers && ok; i++)
        ok = (j.work[i] = cw_mixed_work_new(m)) != NULL;
    if (!ok || j.l->latent == NULL || j.l->place == NULL) {
        code = cw_error_memory(err);
        goto done;
    }
    memcpy(j.l->told.precision, told->precision, told->seasons * told->seasons * sizeof *told->precision);
    memcpy(j.l->told.pull, told->pull, told->seasons * sizeof *told->pull);
    cw_mixed_work_copy_effects(j.l->centre, fit->centre);
    fill_point(&j, j.l->centre, 0);
    cw_parallel_for(fit->settings.threads, fit->points.count - 1, outer, &j);
    *out = j.l;
    j.l = NULL;
done:
    for (unsigned i = 0; i < workers; i++)
        cw_mixed_work_free(j.work[i]);
    cw_mixed_linked_free(j.l);
    return code;
}

bool cw_mixed_relink(cw_mixed *fit, cw_mixed_linked *before, cw_mixed_linked **out)
{
    cw_mixed_linked *base = before->base ? before->base : before;
    mixed_problem p;
    double x[MIXED_POINTS][CW_MIXED_MAX];
    *out = NULL;
    if (before->fit == fit || base->fit == fit) {
        *out = before->fit == fit ? before : base;
        atomic_fetch_add(&(*out)->holders, 1);
        return true;
    }
    if (fit->near == NULL || fit->base != base->fit)
        return false;
    cw_mixed_linked *l = calloc(1, sizeof *l);
    if (l == NULL)
        return false;
    atomic_init(&l->holders, 1);
    atomic_fetch_add(&fit->holders, 1);
    atomic_fetch_add(&base->holders, 1);
    l->fit = fit;
    l->base = base;
    l->theta = base->theta;
    cw_mixed_problem_init(&p, base->fit->model, &base->fit->settings);
    for (size_t i = 0; i < base->fit->points.count; i++)
        point_of(&p, base->fit, base->shift, i, x[i]);
    const mixed_stand at = { .model = base->fit->model,
                             .problem = &p,
                             .x = x,
                             .place = base->place,
                             .weight = base->fit->points.weight,
                             .points = base->fit->points.count,
                             .latent = base->latent,
                             .season = base->fit->settings.season };
    if (!cw_mixed_near_at(fit->near, &at, &l->centre, &l->latent)) {
        cw_mixed_linked_free(l);
        return false;
    }
    *out = l;
    return true;
}

void cw_mixed_linked_free(cw_mixed_linked *l)
{
    if (l == NULL || atomic_fetch_sub(&l->holders, 1) > 1)
        return;
    cw_mixed_free((cw_mixed *)l->fit);
    cw_mixed_linked_free(l->base);
    free(l->place);
    cw_mixed_work_free(l->centre);
    cw_mixed_seasons_free(&l->told);
    cw_latent_free(l->latent);
    free(l);
}

const cw_latent *cw_mixed_linked_latent(const cw_mixed_linked *l)
{
    return l->latent;
}

void cw_mixed_linked_explain(const cw_mixed_linked *l, size_t variety, cw_mixed_why *out)
{
    const mixed_near *near = l->fit->near;
    size_t among = near ? cw_mixed_near_find(near, variety) : 0;
    if (near && among == near->n)
        l = l->base;
    else if (near)
        variety = among;
    cw_mixed_why_at(l->centre, &l->theta, l->fit->settings.season, variety, out);
}

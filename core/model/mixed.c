/* SPDX-License-Identifier: MIT */
#include "model/mixed_inside.h"
#include "model/optimum.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define GRID 512.0 /* log sds and log phi of a PREDICT optimum are multiples of 1 / GRID */
/* Where a log sd or log phi may lie: an sd of 6e-6 is nothing, and a phi over 3e6 is not a nursery. */
#define LOG_SD_LOW    (-12.0)
#define LOG_SD_HIGH   4.0
#define LOG_PHI_SIZE  15.0
#define LOG_DRIFT     6.0
#define TILT_SIZE     0.8 /* of age, downwards: the hazard of a new thing must stay bounded. Others may go far. */
#define FAR_TILT      5.0
#define FIRST_TILT_SD 0.1

typedef struct climb {
    const mixed_problem *p;
    mixed_work *w;
    double tolerance;
} climb;

static double value_and_gradient(void *context, const double *x, double *gradient)
{
    climb *c = context;
    if (!cw_wanted(c->p->s->go_on)) {
        memset(gradient, 0, c->p->n * sizeof *gradient);
        return -INFINITY; /* nowhere to climb to: it ends at once */
    }
    return cw_mixed_at(c->p, c->w, x, c->tolerance, gradient);
}

static void first_guess(const mixed_problem *p, const cw_mixed_hyper *start, double *x)
{
    bool known = start && start->known;
    if (known && start->variables == p->n) {
        memcpy(x, start->exact, p->n * sizeof *x);
        return;
    }
    for (size_t i = 0; i < p->terms; i++) {
        int k = p->term[i];
        double sd = known ? start->sd[k] : p->s->sd_median[k] > 0 ? p->s->sd_median[k] : 0.3;
        x[i] = fmin(fmax(log(sd), LOG_SD_LOW), LOG_SD_HIGH);
    }
    if (p->phi)
        x[p->terms] = known && start->phi > 0 ? log(start->phi)
                      : p->s->phi_median > 0  ? log(p->s->phi_median)
                                              : 0;
    if (p->drift)
        x[p->first_tilt - 1] = log(known && start->drift > 0 ? start->drift : p->s->drift_median);
    for (size_t i = 0; i < p->tilts; i++)
        x[p->first_tilt + i] =
            (known ? start->tilt[p->tilt[i]] : p->s->tilt_mean[p->tilt[i]]) / CW_TILT_SCALE;
    if (p->intercept)
        x[p->n - 1] = known ? start->intercept : p->start;
}

/* Guess of the inverse curvature from one evaluation: log sd of n effects of which the data determine d has about
 * 2 d^2 / n, and the prior its own. */
static void first_inverse(const mixed_problem *p, const mixed_work *w, const mixed_theta *t, double *inverse)
{
    const mixed_model *m = p->m;
    size_t n = p->n;
    bool prior = p->s->mode == CW_MIXED_PREDICT;
    memset(inverse, 0, n * n * sizeof *inverse);
    double intercept_variance = 1e-6;
    for (size_t i = 0; i < p->terms; i++) {
        int k = p->term[i];
        size_t all = k == CW_TERM_LOT       ? m->lots
                     : k == CW_TERM_CELL    ? m->cells
                     : k == CW_TERM_VARIETY ? m->varieties
                                            : m->level_count[k];
        double d = w->vanished[k];
        double curvature =
            2 * d * d / ((double)all + 1) + (prior ? 1 / (p->s->sd_spread[k] * p->s->sd_spread[k]) : 0.5);
        inverse[i * (n + 1)] = 1 / curvature;
        intercept_variance += t->sd[k] * t->sd[k] / (d + 1);
    }
    if (p->phi)
        inverse[p->terms * (n + 1)] =
            1 / (0.5 * m->phi_freedom + (prior ? 1 / (p->s->phi_spread * p->s->phi_spread) : 0.5));
    if (p->drift)
        inverse[(p->first_tilt - 1) * (n + 1)] = p->s->drift_spread * p->s->drift_spread;
    for (size_t i = 0; i < p->tilts; i++) { /* data tell of a tilt about as well as of a few rows */
        double sd = fmin(p->s->tilt_scale[p->tilt[i]], FIRST_TILT_SD) / CW_TILT_SCALE;
        inverse[(p->first_tilt + i) * (n + 1)] = sd * sd;
    }
    if (p->intercept)
        inverse[n * n - 1] = intercept_variance;
}

static void set_bounds(const mixed_problem *p, cw_optimum *o)
{
    for (size_t i = 0; i < p->terms + (p->phi ? 1 : 0); i++) {
        o->low[i] = i < p->terms ? LOG_SD_LOW : -LOG_PHI_SIZE;
        o->high[i] = i < p->terms ? LOG_SD_HIGH : LOG_PHI_SIZE;
    }
    if (p->drift) {
        o->low[p->first_tilt - 1] = -LOG_DRIFT;
        o->high[p->first_tilt - 1] = LOG_DRIFT;
    }
    for (size_t i = 0; i < p->tilts; i++) {
        o->low[p->first_tilt + i] = -(p->tilt[i] == CW_TILT_AGE ? TILT_SIZE : FAR_TILT) / CW_TILT_SCALE;
        o->high[p->first_tilt + i] = FAR_TILT / CW_TILT_SCALE;
    }
}

/* The optimum; in PREDICT mode on the grid, and the effects' mode found from the plain start, so that nothing is left
 * of the path to it. */
static void find_optimum(cw_mixed *f, const mixed_problem *p, const cw_mixed_hyper *start, double *x,
                         double *gradient)
{
    bool predict = p->s->mode == CW_MIXED_PREDICT;
    cw_optimum o = { .n = p->n, .tolerance = predict ? 1e-8 : 1e-11, .longest = 1.5, .most = 200 };
    climb c = { p, f->centre, predict ? 1e-9 : 1e-12 };
    set_bounds(p, &o);
    first_guess(p, start, o.x);
    cw_mixed_start_effects(p, o.x, f->centre);
    if (predict && start && start->known && start->variables == p->n) {
        memcpy(o.inverse, start->inverse, p->n * p->n * sizeof *o.inverse);
    } else {
        (void)cw_mixed_at(p, f->centre, o.x, c.tolerance, gradient);
        cw_mixed_unpack(p, o.x, &f->theta);
        first_inverse(p, f->centre, &f->theta, o.inverse);
    }
    cw_optimum_climb(&o, value_and_gradient, &c);
    memcpy(x, o.x, p->n * sizeof *x);
    memcpy(f->report.hyper.exact, o.x, p->n * sizeof *o.x);
    for (size_t i = 0; i < p->n && predict; i++)
        x[i] = round(x[i] * GRID) / GRID;
    if (predict)
        cw_mixed_start_effects(p, x, f->centre);
    double value = cw_mixed_at(p, f->centre, x, predict ? 1e-10 : 1e-12, gradient);
    f->report.evaluations = o.evaluations;
    f->report.converged = o.converged;
    f->report.log_posterior = value;
    f->report.log_likelihood = value - cw_mixed_log_prior(p, x, NULL);
}

static void report(cw_mixed *f)
{
    const mixed_model *m = f->model;
    cw_mixed_report *r = &f->report;
    r->hyper.known = true;
    memcpy(r->hyper.sd, f->theta.sd, sizeof r->hyper.sd);
    r->hyper.phi = f->theta.phi;
    r->hyper.drift = f->theta.drift;
    memcpy(r->hyper.tilt, f->theta.tilt, sizeof r->hyper.tilt);
    r->hyper.intercept =
        f->theta.intercept + f->theta.intercept_sd * (f->centre->u_shared[0] + f->centre->x_shared[0]);
    r->intercept_sd = f->theta.intercept_sd * sqrt(f->centre->covariance[0]);
    r->rows = m->rows;
    r->lots = m->lots;
    r->cells = m->cells;
    r->shared = m->shared;
    r->points = (unsigned)f->points.count;
    for (size_t v = 0; v < m->varieties; v++)
        r->varieties += m->cell_start[v + 1] > m->cell_start[v];
}

static size_t data_rows(const cw_mixed_data *d)
{
    size_t rows = 0;
    for (size_t i = 0; i < d->n_rows; i++)
        rows += d->rows[i].exposure > 0 && (d->family == CW_MIXED_COUNT || d->rows[i].trials > 0);
    return rows;
}

/* Whether two fits of the same data have the same answer: threads alone do not matter. */
static bool settings_same(const cw_mixed_settings *a, const cw_mixed_settings *b)
{
    return a->mode == b->mode && memcmp(a->use, b->use, sizeof a->use) == 0 &&
           a->dispersion == b->dispersion && a->expected_curvature == b->expected_curvature &&
           memcmp(a->sd_median, b->sd_median, sizeof a->sd_median) == 0 &&
           memcmp(a->sd_spread, b->sd_spread, sizeof a->sd_spread) == 0 && a->sd_limit == b->sd_limit &&
           a->phi_median == b->phi_median && a->phi_spread == b->phi_spread &&
           a->intercept_mean == b->intercept_mean && a->intercept_sd == b->intercept_sd &&
           memcmp(a->tilt_mean, b->tilt_mean, sizeof a->tilt_mean) == 0 &&
           memcmp(a->tilt_scale, b->tilt_scale, sizeof a->tilt_scale) == 0 &&
           a->drift_median == b->drift_median && a->drift_spread == b->drift_spread &&
           a->linked == b->linked && a->season == b->season;
}

static cw_mixed *hold(cw_mixed *f)
{
    atomic_fetch_add(&f->holders, 1);
    return f;
}

static bool sign_same(const cw_mixed *f, const uint64_t *sign, size_t varieties)
{
    return f->sign[f->varieties] == sign[varieties] && f->varieties == varieties &&
           memcmp(f->sign, sign, varieties * sizeof *sign) == 0;
}

/* From the earlier fit's base, in the varieties that have changed since. False: it must be fitted whole. */
static bool fit_near(const cw_mixed_data *data, cw_mixed *base, cw_mixed *f)
{
    mixed_problem p;
    f->near = cw_mixed_near_new(data, &f->settings, base, f->sign);
    if (f->near == NULL)
        return false;
    cw_mixed_problem_init(&p, base->model, &base->settings);
    const mixed_stand at = { .model = base->model,
                             .problem = &p,
                             .x = base->points.x,
                             .place = base->place,
                             .weight = base->points.weight,
                             .points = base->latent ? base->points.count : 1,
                             .inverse = base->report.hyper.inverse,
                             .latent = base->latent,
                             .season = base->settings.season };
    if (!cw_mixed_near_at(f->near, &at, &f->centre, &f->latent)) {
        cw_mixed_near_free(f->near);
        f->near = NULL;
        return false;
    }
    f->base = hold(base);
    f->theta = base->theta;
    f->report = base->report;
    f->report.evaluations = 0;
    f->report.rows = data_rows(data);
    return true;
}

/* What an earlier fit spares: all of it, or all but what has changed since its base. */
static bool take_over(const cw_mixed_data *data, cw_mixed *before, cw_mixed *f, cw_mixed **out)
{
    if (before == NULL || !settings_same(&f->settings, &before->settings))
        return false;
    cw_mixed *base = before->base ? before->base : before;
    cw_mixed *same = sign_same(before, f->sign, data->varieties) ? before
                     : sign_same(base, f->sign, data->varieties) ? base
                                                                 : NULL;
    if (same && !(f->settings.whole && same->near)) {
        *out = hold(same);
        return true;
    }
    if (f->settings.whole || f->settings.mode != CW_MIXED_PREDICT || !fit_near(data, base, f))
        return false;
    *out = f;
    return true;
}

static cw_code fit(const cw_mixed_data *data, const cw_mixed_settings *settings, const cw_mixed_hyper *start,
                   cw_mixed *before, cw_mixed **out, cw_error *err)
{
    double x[CW_OPTIMUM_MAX], gradient[CW_OPTIMUM_MAX];
    mixed_problem p;
    cw_code code = CW_OK;
    *out = NULL;
    cw_mixed *f = calloc(1, sizeof *f);
    if (f == NULL || (f->sign = calloc(data->varieties + 1, sizeof *f->sign)) == NULL) {
        free(f);
        return cw_error_memory(err);
    }
    atomic_init(&f->holders, 1);
    f->settings = *settings;
    f->varieties = data->varieties;
    if (cw_mixed_sign(data, settings, f->sign) && take_over(data, before, f, out)) {
        f->settings.go_on = (cw_go_on){ 0 };
        f = *out == f ? NULL : f;
        goto done;
    }
    code = cw_mixed_model_build(data, settings, &f->model, err);
    if (code != CW_OK)
        goto done;
    if ((f->centre = cw_mixed_work_new(f->model)) == NULL) {
        code = cw_error_memory(err);
        goto done;
    }
    cw_mixed_problem_init(&p, f->model, &f->settings);
    find_optimum(f, &p, start, x, gradient);
    cw_mixed_unpack(&p, x, &f->theta);
    if (!cw_wanted(settings->go_on)) {
        code = cw_given_up(err);
        goto done;
    }
    code = cw_mixed_points(&p, f->centre, x, gradient, f->report.log_posterior, f->report.hyper.inverse,
                           &f->points, &f->place, &f->latent, err);
    if (code == CW_OK && !cw_wanted(settings->go_on))
        code = cw_given_up(err);
    if (code != CW_OK)
        goto done;
    f->settings.go_on = (cw_go_on){ 0 };
    f->report.hyper.variables = settings->mode == CW_MIXED_PREDICT ? p.n : 0;
    report(f);
    cw_mixed_unpack(&p, f->points.x[0], &f->theta);
    for (size_t i = 0; i < p.terms && f->report.hyper.variables > 0; i++)
        f->report.log_sd_sd[p.term[i]] = sqrt(f->report.hyper.inverse[i * (p.n + 1)]);
    for (size_t i = 0; i < p.tilts; i++)
        f->report.tilt_sd[p.tilt[i]] =
            CW_TILT_SCALE * sqrt(f->report.hyper.inverse[(p.first_tilt + i) * (p.n + 1)]);
    *out = f;
    f = NULL;
done:
    cw_mixed_free(f);
    return code;
}

cw_code cw_mixed_fit(const cw_mixed_data *data, const cw_mixed_settings *settings,
                     const cw_mixed_hyper *start, cw_mixed **out, cw_error *err)
{
    return fit(data, settings, start, NULL, out, err);
}

cw_code cw_mixed_refit(const cw_mixed_data *data, const cw_mixed_settings *settings, cw_mixed *before,
                       cw_mixed **out, cw_error *err)
{
    return fit(data, settings, before ? &before->report.hyper : NULL, before, out, err);
}

void cw_mixed_free(cw_mixed *fit)
{
    if (fit == NULL || atomic_fetch_sub(&fit->holders, 1) > 1)
        return;
    cw_mixed_work_free(fit->centre);
    cw_mixed_model_free(fit->model);
    cw_latent_free(fit->latent);
    cw_mixed_near_free(fit->near);
    cw_mixed_free(fit->base);
    free(fit->place);
    free(fit->sign);
    free(fit);
}

const cw_mixed_report *cw_mixed_result(const cw_mixed *fit)
{
    return &fit->report;
}

const cw_latent *cw_mixed_latent(const cw_mixed *fit)
{
    return fit->latent;
}

bool cw_mixed_is_near(const cw_mixed *fit)
{
    return fit->near != NULL;
}

void cw_mixed_explain(const cw_mixed *fit, size_t variety, cw_mixed_why *out)
{
    size_t among = fit->near ? cw_mixed_near_find(fit->near, variety) : 0;
    if (fit->near && among == fit->near->n) /* not one of those that have changed */
        fit = fit->base;
    else if (fit->near)
        variety = among;
    cw_mixed_why_at(fit->centre, &fit->theta, fit->settings.season, variety, out);
}

cw_code cw_mixed_density(const cw_mixed_data *data, const cw_mixed_settings *settings,
                         const cw_mixed_hyper *at, double *value, double *gradient, cw_error *err)
{
    mixed_model *m = NULL;
    mixed_work *w = NULL;
    mixed_problem p;
    double x[CW_OPTIMUM_MAX];
    cw_code code = cw_mixed_model_build(data, settings, &m, err);
    if (code != CW_OK)
        goto done;
    if ((w = cw_mixed_work_new(m)) == NULL) {
        code = cw_error_memory(err);
        goto done;
    }
    cw_mixed_problem_init(&p, m, settings);
    first_guess(&p, at, x);
    cw_mixed_start_effects(&p, x, w);
    *value = cw_mixed_at(&p, w, x, 1e-13, gradient);
done:
    cw_mixed_work_free(w);
    cw_mixed_model_free(m);
    return code;
}

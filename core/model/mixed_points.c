/* SPDX-License-Identifier: MIT */
/* The variance parameters as a vector, their density, and the points that stand for their posterior. */
#include "model/mixed_inside.h"
#include "base/parallel.h"
#include "model/linear.h"
#include "model/optimum.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define POINT_TOLERANCE 1e-6 /* of log-likelihood, at the points around the optimum */
#define SLOPE_TOLERANCE 1e-7 /* the same where gradients are subtracted */
#define DIFFERENCE      0.01
#define DRIFT_LIMIT     1.0
#define STRETCH         2.0 /* longest and, inverted, shortest stretch of an axis to one side */
#define SHARP           0.1 /* an axis with a smaller sd (of log sd) is taken as known */
#define HEAVIEST        2.0 /* what a tail adds to a point's weight, at most */
#define MEAN_DOWN       2.0 /* how far the log density at the mean may lie below the optimum */
#define NOWHERE         30.0 /* a point whose log density lies lower than this below the mean's counts for nothing */
#define SKEW_STEP       0.5 /* sds of an axis at which slopes are compared: to both sides */

/* Counts and exposures of lots from .. to - 1. */
static void sum_lots(const mixed_model *m, size_t from, size_t to, double *count, double *exposure)
{
    *count = *exposure = 0;
    for (size_t i = from; i < to; i++) {
        if (m->family == CW_MIXED_COUNT) {
            *count += m->count[i];
            *exposure += m->exposure[i];
        }
        for (size_t j = m->item_start[i]; m->family == CW_MIXED_CLOGLOG && j < m->item_start[i + 1]; j++) {
            *count += m->item[j].count;
            *exposure += m->item[j].exposure * m->item[j].trials;
        }
    }
}

void cw_mixed_problem_init(mixed_problem *p, const mixed_model *m, const cw_mixed_settings *s)
{
    *p = (mixed_problem){ .m = m, .s = s };
    for (int k = 0; k < CW_TERMS; k++) {
        bool shared = k == CW_TERM_FORM || k == CW_TERM_SIZE || k == CW_TERM_SEASON;
        if (s->use[k] && !(shared && m->level_count[k] == 0))
            p->term[p->terms++] = k;
    }
    p->phi = s->dispersion && m->family == CW_MIXED_COUNT;
    p->intercept = s->mode == CW_MIXED_ML;
    p->drift = !p->intercept && s->drift_median > 0 && m->level_count[CW_TERM_SEASON] > 1;
    p->first_tilt = p->terms + (p->phi ? 1 : 0) + (p->drift ? 1 : 0);
    for (int k = 0; k < CW_TILTS; k++)
        if (!p->intercept && s->tilt_scale[k] > 0 && m->tilted[k])
            p->tilt[p->tilts++] = k;
    p->n = p->first_tilt + p->tilts + (p->intercept ? 1 : 0);
    double count, exposure;
    sum_lots(m, 0, m->lots, &count, &exposure);
    /* Half a count more, so that no counts at all give a number too. */
    p->start = exposure > 0 ? log((count + 0.5) / exposure) : s->intercept_mean;
}

void cw_mixed_unpack(const mixed_problem *p, const double *x, mixed_theta *t)
{
    *t = (mixed_theta){ .phi = 1 };
    for (size_t i = 0; i < p->terms; i++)
        t->sd[p->term[i]] = exp(x[i]);
    if (p->phi)
        t->phi = exp(x[p->terms]);
    if (p->drift)
        t->drift = exp(x[p->first_tilt - 1]);
    for (size_t i = 0; i < p->tilts; i++)
        t->tilt[p->tilt[i]] = CW_TILT_SCALE * x[p->first_tilt + i];
    t->intercept = p->intercept ? x[p->n - 1] : p->s->intercept_mean;
    t->intercept_sd = p->intercept ? 0 : p->s->intercept_sd;
}

void cw_mixed_start_effects(const mixed_problem *p, const double *x, mixed_work *w)
{
    const mixed_model *m = p->m;
    mixed_theta t;
    cw_mixed_unpack(p, x, &t);
    memset(w->u_lot, 0, w->unknowns * sizeof *w->u_lot);
    memset(w->sd_of_u, 0, sizeof w->sd_of_u);
    if (!p->intercept && p->s->intercept_sd > 0)
        w->u_shared[0] = (p->start - p->s->intercept_mean) / p->s->intercept_sd;
    double sd = t.sd[CW_TERM_VARIETY], level = exp(p->start);
    for (size_t v = 0; v < m->varieties && sd > 0; v++) {
        double count, exposure;
        sum_lots(m, m->lot_start[m->cell_start[v]], m->lot_start[m->cell_start[v + 1]], &count, &exposure);
        double weight = exposure * level / t.phi;
        w->u_variety[v] =
            sd * weight / (1 + sd * sd * weight) * log((count + 0.5) / (exposure * level + 0.5));
    }
}

static double log_normal(double x, double median, double spread, double *slope)
{
    double z = (x - log(median)) / spread;
    *slope -= z / spread;
    return -0.5 * z * z - log(spread) - 0.5 * log(2 * 3.14159265358979323846);
}

double cw_mixed_log_prior(const mixed_problem *p, const double *x, double *gradient)
{
    double sum = 0, ignored = 0;
    if (p->s->mode == CW_MIXED_ML)
        return 0;
    for (size_t i = 0; i < p->terms; i++) {
        double *slope = gradient ? &gradient[i] : &ignored, over = exp(x[i]) / p->s->sd_limit;
        sum += log_normal(x[i], p->s->sd_median[p->term[i]], p->s->sd_spread[p->term[i]], slope) -
               0.5 * over * over;
        *slope -= over * over;
    }
    if (p->phi)
        sum += log_normal(x[p->terms], p->s->phi_median, p->s->phi_spread,
                          gradient ? &gradient[p->terms] : &ignored);
    if (p->drift)
        sum += log_normal(x[p->first_tilt - 1], p->s->drift_median, p->s->drift_spread,
                          gradient ? &gradient[p->first_tilt - 1] : &ignored);
    if (p->drift) { /* more than that is no season's, whatever the data leave open */
        double over = exp(x[p->first_tilt - 1]) / DRIFT_LIMIT;
        sum -= 0.5 * over * over;
        *(gradient ? &gradient[p->first_tilt - 1] : &ignored) -= over * over;
    }
    for (size_t i = 0; i < p->tilts; i++) {
        int k = p->tilt[i];
        double scale = p->s->tilt_scale[k] / CW_TILT_SCALE,
               z = x[p->first_tilt + i] - p->s->tilt_mean[k] / CW_TILT_SCALE;
        sum -= 1.5 * log1p(0.5 * z * z / (scale * scale)) + log(sqrt(8) * scale);
        *(gradient ? &gradient[p->first_tilt + i] : &ignored) -= 3 * z / (2 * scale * scale + z * z);
    }
    return sum;
}

double cw_mixed_at(const mixed_problem *p, mixed_work *w, const double *x, double tolerance, double *gradient)
{
    mixed_theta t;
    cw_mixed_unpack(p, x, &t);
    bool expected = p->s->expected_curvature && p->m->family == CW_MIXED_CLOGLOG;
    double value = cw_mixed_laplace(w, &t, expected, tolerance);
    if (gradient) {
        for (size_t i = 0; i < p->n; i++)
            gradient[i] = 0;
        if (isfinite(value)) {
            mixed_gradient g;
            cw_mixed_slopes(w, &t, expected, &g);
            for (size_t i = 0; i < p->terms; i++)
                gradient[i] = g.log_sd[p->term[i]];
            if (p->phi)
                gradient[p->terms] = g.log_phi;
            if (p->drift)
                gradient[p->first_tilt - 1] = g.log_drift;
            for (size_t i = 0; i < p->tilts; i++)
                gradient[p->first_tilt + i] = CW_TILT_SCALE * g.tilt[p->tilt[i]];
            if (p->intercept)
                gradient[p->n - 1] = g.intercept;
        }
    }
    return value + cw_mixed_log_prior(p, x, gradient);
}

/* What the parallel bodies share: a place of each to evaluate, and one workspace a worker. */
typedef struct places {
    const mixed_problem *p;
    const mixed_work *centre;
    mixed_work *work[16];
    double stretch[MIXED_POINTS]; /* of the axis on this side, against the curvature at the centre */
    double x[MIXED_POINTS][CW_OPTIMUM_MAX], value[MIXED_POINTS], gradient[MIXED_POINTS][CW_OPTIMUM_MAX];
    double radius2;
    bool measuring;    /* the curvature */
    cw_latent *latent; /* NULL if nothing is filled in */
    mixed_place *place;
} places;

static void fill(const places *l, mixed_work *w, size_t i)
{
    mixed_theta t;
    cw_mixed_place_keep(w, &l->place[i]);
    cw_mixed_unpack(l->p, l->x[i], &t);
    cw_mixed_fill(w, &t, l->p->s->season, &l->latent->point[i]);
}

static void evaluate(void *context, unsigned worker, size_t i)
{
    places *l = context;
    mixed_work *w = l->work[worker];
    l->value[i] = -INFINITY; /* of a point without weight, as all are of a fit that is given up */
    memset(l->gradient[i], 0, sizeof l->gradient[i]);
    if (!cw_wanted(l->p->s->go_on))
        return;
    /* From the centre's mode, whoever works: so the answer does not depend on the number of threads. */
    cw_mixed_work_copy_effects(w, l->centre);
    bool slopes = l->measuring || l->latent; /* else only the value is wanted */
    l->value[i] = cw_mixed_at(l->p, w, l->x[i], l->measuring ? SLOPE_TOLERANCE : POINT_TOLERANCE,
                              slopes ? l->gradient[i] : NULL);
}

/* The posterior falls faster to one side of an axis than to the other: moves point i to where it has fallen by about
 * radius2 / 2, as the normal density would. Far off only: a point a little off is set right by its weight. */
static bool moved(places *l, size_t i)
{
    double fall = l->value[0] - l->value[i], want = 0.5 * l->radius2;
    double s = isfinite(fall) ? fall > 0 ? sqrt(want / fall) : STRETCH : 1 / STRETCH;
    s = fmin(fmax(s, 1 / STRETCH), STRETCH);
    if (fabs(log(s)) < 0.22)
        return false;
    l->stretch[i] = s;
    for (size_t k = 0; k < l->p->n; k++)
        l->x[i][k] = l->x[0][k] + s * (l->x[i][k] - l->x[0][k]);
    return true;
}

/* A point off the centre: each moves by its own value, so the order of work does not matter. */
static void evaluate_outer(void *context, unsigned worker, size_t outer)
{
    places *l = context;
    size_t i = outer + 1;
    evaluate(l, worker, i);
    if (moved(l, i))
        evaluate(l, worker, i);
    if (l->latent && isfinite(l->value[i]))
        fill(l, l->work[worker], i);
}

/* Negative Hessian at x by forward differences of the gradient, made symmetric; then its axes. */
static void axes_at(places *l, const double *x, const double *gradient, double *value, double *vector)
{
    size_t n = l->p->n;
    double h[CW_OPTIMUM_MAX * CW_OPTIMUM_MAX];
    for (size_t i = 0; i < n; i++) {
        memcpy(l->x[i], x, n * sizeof *x);
        l->x[i][i] += DIFFERENCE;
    }
    cw_parallel_for(l->p->s->threads, n, evaluate, l);
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < n; j++)
            h[i * n + j] =
                -0.5 * (l->gradient[i][j] - gradient[j] + l->gradient[j][i] - gradient[i]) / DIFFERENCE;
    cw_symmetric_axes(h, n, value, vector);
}

static double axis_curvature(const mixed_problem *p, double value)
{
    double wide = p->s->phi_spread;
    for (size_t i = 0; i < p->terms; i++)
        wide = fmax(wide, p->s->sd_spread[p->term[i]]);
    if (p->drift)
        wide = fmax(wide, p->s->drift_spread);
    for (size_t i = 0; i < p->tilts; i++)
        wide = fmax(wide, p->s->tilt_scale[p->tilt[i]] / CW_TILT_SCALE);
    return fmax(value, 0.25 / (wide * wide)); /* at least a quarter of what the prior alone gives */
}

static void invert_axes(const mixed_problem *p, const double *value, const double *vector, double *inverse)
{
    size_t n = p->n;
    memset(inverse, 0, n * n * sizeof *inverse);
    for (size_t k = 0; k < n; k++)
        for (size_t i = 0; i < n; i++)
            for (size_t j = 0; j < n; j++)
                inverse[i * n + j] += vector[k * n + i] * vector[k * n + j] / axis_curvature(p, value[k]);
}

static bool is_sharp(const mixed_problem *p, double value)
{
    return 1 / sqrt(axis_curvature(p, value)) <= SHARP;
}

/* The posterior of a log sd of which the data say little is skew: it may well be smaller than at the optimum, hardly greater.
 * Its mean lies off the optimum by 1/2 S sum_k T(v_k, v_k, .) sd_k^2 to first order, S the inverse curvature, v_k its axes, T the
 * third derivatives: what the slopes on both sides of an axis do not have in common. The first order goes too far where it
 * is not small against the sd, and is drawn in: x to x / (1 + x). Source: Lindley 1980, Trabajos de Estadistica 31:223, from memory. */
static void to_mean(places *l, double *x, const double *gradient, const double *value, const double *vector,
                    const double *inverse)
{
    size_t n = l->p->n, at = 0;
    double third[CW_OPTIMUM_MAX] = { 0 };
    for (size_t k = 0; k < n; k++) {
        if (is_sharp(l->p, value[k]))
            continue;
        double step = SKEW_STEP / sqrt(axis_curvature(l->p, value[k]));
        for (int side = -1; side <= 1; side += 2, at++)
            for (size_t i = 0; i < n; i++)
                l->x[at][i] = x[i] + side * step * vector[k * n + i];
    }
    cw_parallel_for(l->p->s->threads, at, evaluate, l);
    for (size_t k = 0; k < at; k++)
        for (size_t i = 0; i < n; i++)
            third[i] +=
                isfinite(l->value[k]) ? (l->gradient[k][i] - gradient[i]) / (SKEW_STEP * SKEW_STEP) : 0;
    for (size_t i = 0; i < n; i++) {
        double off = 0.5 * cw_dot(inverse + i * n, third, n), sd = sqrt(inverse[i * (n + 1)]);
        x[i] += off / (1 + fabs(off) / sd);
    }
}

/* The centre moves from the optimum x to the mean; the value there. */
static double stand_at_mean(places *l, mixed_work *centre, const double *x, const double *gradient,
                            double value_at_x, const double *value, const double *vector,
                            const double *inverse, double *mean)
{
    const mixed_problem *p = l->p;
    double slope[CW_OPTIMUM_MAX];
    memcpy(mean, x, p->n * sizeof *x);
    to_mean(l, mean, gradient, value, vector, inverse);
    double there = cw_mixed_at(p, centre, mean, POINT_TOLERANCE, slope);
    if (there > value_at_x - MEAN_DOWN)
        return there;
    memcpy(mean, x, p->n * sizeof *x); /* no mean: of a posterior that ends at a bound, say */
    cw_mixed_start_effects(p, x, centre);
    return cw_mixed_at(p, centre, mean, POINT_TOLERANCE, slope);
}

/* Points 1 .. at x +- r sd_k along each axis that is not sharp; their number (with the centre, point 0). Weights that
 * keep mean and variance along every axis for a normal density: r^2 = m / (1 - w0), each point (1 - w0) / (2 m). With
 * m <= 2 these are the Gauss-Hermite points sqrt(3). */
static size_t place_points(places *l, const double *x, const double *value, const double *vector,
                           double *weight)
{
    size_t n = l->p->n, m = 0, at = 1;
    double sd[CW_OPTIMUM_MAX];
    for (size_t k = 0; k < n; k++) {
        sd[k] = 1 / sqrt(axis_curvature(l->p, value[k]));
        m += !is_sharp(l->p, value[k]);
    }
    weight[0] = m == 0 ? 1 : m <= 2 ? 1 - (double)m / 3 : 0.2;
    l->radius2 = (double)m / (1 - weight[0] + (m == 0));
    l->stretch[0] = 1;
    memcpy(l->x[0], x, n * sizeof *x);
    for (size_t k = 0; k < n; k++) {
        if (is_sharp(l->p, value[k]))
            continue;
        for (int side = -1; side <= 1; side += 2, at++) {
            weight[at] = (1 - weight[0]) / (2 * (double)m);
            l->stretch[at] = 1;
            for (size_t i = 0; i < n; i++)
                l->x[at][i] = x[i] + side * sqrt(l->radius2) * sd[k] * vector[k * n + i];
        }
    }
    return at;
}

/* Where the posterior is not normal, a point counts by the width of its side, and by what its density there says of the tail: a
 * density exp(-z^2 / 2 + c z^4) has the variance 1 + 12 c to first order, so one that is exp(d) times the normal one at r has
 * 1 + 12 d / r^4, and the point's weight is as much more. A lighter tail takes as much away; a point
 * far down has no weight at all. */
static void weigh(const places *l, const double *weight, mixed_points *out)
{
    double total = 0;
    for (size_t i = 0; i < out->count; i++) {
        double log_ratio = l->value[i] - l->value[0] + 0.5 * l->radius2;
        double tail = i == 0 ? 0 : fmin(12 * log_ratio / (l->radius2 * l->radius2), HEAVIEST);
        bool there = l->value[i] > l->value[0] - NOWHERE;
        double ratio = there ? l->stretch[i] * (tail > 0 ? 1 + tail : exp(tail)) : 0;
        out->weight[i] = weight[i] * ratio;
        total += weight[i] * ratio;
        memcpy(out->x[i], l->x[i], l->p->n * sizeof *out->x[i]);
    }
    for (size_t i = 0; i < out->count; i++) {
        out->weight[i] /= total;
        if (l->latent)
            l->latent->point[i].weight = out->weight[i];
    }
}

cw_code cw_mixed_points(const mixed_problem *p, mixed_work *centre, const double *x, const double *gradient,
                        double value_at_x, double *inverse, mixed_points *points, mixed_place **places_out,
                        cw_latent **out, cw_error *err)
{
    cw_code code = CW_OK;
    unsigned workers = cw_parallel_workers(p->s->threads);
    places l = { .p = p, .centre = centre };
    double value[CW_OPTIMUM_MAX], vector[CW_OPTIMUM_MAX * CW_OPTIMUM_MAX], mean[CW_OPTIMUM_MAX];
    double weight[MIXED_POINTS] = { 1 };
    points->count = 1;
    *out = NULL;
    *places_out = NULL;
    for (unsigned i = 0; i < workers; i++)
        if ((l.work[i] = cw_mixed_work_new(p->m)) == NULL) {
            code = cw_error_memory(err);
            goto done;
        }
    if (p->s->mode == CW_MIXED_PREDICT && p->n > 0) {
        l.measuring = true;
        axes_at(&l, x, gradient, value, vector);
        invert_axes(p, value, vector, inverse);
        value_at_x = stand_at_mean(&l, centre, x, gradient, value_at_x, value, vector, inverse, mean);
        x = mean;
        l.measuring = false;
        points->count = place_points(&l, x, value, vector, weight);
    }
    if (!p->s->linked)
        l.latent = *out =
            cw_latent_new_with_lots(p->m->varieties, p->m->shared, p->m->lots_asked, points->count);
    l.place = *places_out = cw_mixed_places_new(p->s->linked ? 1 : points->count, p->m->shared);
    if (l.place == NULL || (!p->s->linked && *out == NULL)) {
        code = cw_error_memory(err);
        goto done;
    }
    memcpy(l.x[0], x, p->n * sizeof *x);
    l.value[0] = value_at_x;
    if (l.latent)
        fill(&l, centre, 0);
    else
        cw_mixed_place_keep(centre, l.place);
    cw_parallel_for(p->s->threads, points->count - 1, evaluate_outer, &l);
    weigh(&l, weight, points);
done:
    for (unsigned i = 0; i < workers; i++)
        cw_mixed_work_free(l.work[i]);
    return code;
}

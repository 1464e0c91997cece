/* SPDX-License-Identifier: MIT */
/* A fit whose rows differ from an earlier one's, its base, in few varieties of many: one more session of a large nursery.
 *
 * The variance parameters hardly move then, so the points of the posterior stay where they are. At a point the base says of the
 * shared effects z, to second order, N(m, P^-1). A variety's rows are a part of that: C of P, and g of the slope at m. With the
 * old rows of what has changed taken out the rest says
 *     precision P - C,  pull (P - C) m - g,
 * and that is the prior of z beside the new rows of those varieties, whose joint mode is then sought as in a whole fit: a few
 * varieties instead of all. What the shared effects move by, d, moves every other variety's mean by its loading times L'd.
 *
 * So nothing adds up from one session to the next: it is always the base, and all that has changed since. It is given up for a
 * whole fit if z moved by more than MOVED of its standard deviation at some point, or if the slope of the log density by the
 * sds and tilts would move their optimum by more than OPTIMUM_MOVED of theirs. */
#include "model/mixed_inside.h"
#include "model/linear.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define LEAST_ROWS     2000 /* fewer are fitted whole in no time */
#define ONE_IN         32   /* varieties that may have changed, and */
#define MOST_VARIETIES 48   /* no more than so many */
#define ROWS_ONE_IN    100  /* how many rows may have come or gone */
#define MOVED          0.15 /* of the shared effects: what follows them does so to first order */
#define OPTIMUM_MOVED  0.12 /* nothing follows it */
#define TOLERANCE      1e-9 /* of log-likelihood */

void cw_mixed_near_free(mixed_near *n)
{
    if (n == NULL)
        return;
    free(n->variety);
    cw_mixed_model_free(n->old);
    cw_mixed_model_free(n->now);
    free(n);
}

/* The rows of the varieties of `n` only, as a model. */
static mixed_model *model_now(const cw_mixed_data *data, const cw_mixed_settings *settings,
                              const mixed_near *n)
{
    cw_mixed_data few = *data;
    cw_error err = { 0 };
    mixed_model *m = NULL;
    int *number = malloc((data->varieties + 1) * sizeof *number);
    cw_mixed_row *rows = malloc((data->n_rows + 1) * sizeof *rows);
    cw_mixed_tilt *tilt = malloc((data->n_rows + 1) * sizeof *tilt);
    int *form = malloc((2 * n->n + 1) * sizeof *form), *size = form ? form + n->n : NULL;
    cw_mixed_own *own = calloc(n->n + 1, sizeof *own);
    double *x = calloc(n->n + 1, sizeof *x);
    if (number == NULL || rows == NULL || tilt == NULL || form == NULL || own == NULL || x == NULL)
        goto done;
    memset(number, -1, data->varieties * sizeof *number);
    for (size_t k = 0; k < n->n; k++) {
        size_t v = n->variety[k];
        number[v] = (int)k;
        form[k] = data->form ? data->form[v] : -1;
        size[k] = data->size ? data->size[v] : -1;
        own[k] = data->own ? data->own[v] : own[k];
        x[k] = data->variety_x ? data->variety_x[v] : 0;
    }
    few.n_rows = 0;
    for (size_t i = 0; i < data->n_rows; i++) {
        if (number[data->rows[i].variety] < 0)
            continue;
        rows[few.n_rows] = data->rows[i];
        rows[few.n_rows].variety = number[data->rows[i].variety];
        tilt[few.n_rows++] = data->tilt ? data->tilt[i] : (cw_mixed_tilt){ 0 };
    }
    few.varieties = n->n;
    few.rows = rows;
    few.tilt = tilt;
    few.form = data->form ? form : NULL;
    few.size = data->size ? size : NULL;
    few.own = own;
    few.variety_x = data->variety_x ? x : NULL;
    if (cw_mixed_model_build(&few, settings, &m, &err) != CW_OK)
        m = NULL;
done:
    free(number);
    free(rows);
    free(tilt);
    free(form);
    free(own);
    free(x);
    return m;
}

/* Whether a tilt has come that the points know nothing of, or one may have gone. */
static bool other_tilts(const mixed_model *m, const mixed_near *n)
{
    for (int k = 0; k < CW_TILTS; k++)
        if ((n->now->tilted[k] && !m->tilted[k]) || (n->old->tilted[k] && !n->now->tilted[k]))
            return true;
    return false;
}

mixed_near *cw_mixed_near_new(const cw_mixed_data *data, const cw_mixed_settings *settings,
                              const cw_mixed *base, const uint64_t *sign)
{
    const mixed_model *m = base->model;
    size_t most = m->varieties / ONE_IN, count = 0, varieties[MOST_VARIETIES];
    most = most < MOST_VARIETIES ? most : MOST_VARIETIES;
    if (m->rows < LEAST_ROWS || data->varieties != m->varieties ||
        sign[m->varieties] != base->sign[m->varieties])
        return NULL;
    for (size_t v = 0; v < m->varieties; v++) {
        if (sign[v] == base->sign[v])
            continue;
        if (count == most)
            return NULL;
        varieties[count++] = v;
    }
    mixed_near *n = calloc(1, sizeof *n);
    if (n == NULL || (n->variety = malloc((count + 1) * sizeof *n->variety)) == NULL) {
        free(n);
        return NULL;
    }
    memcpy(n->variety, varieties, count * sizeof *varieties);
    n->n = count;
    n->old = cw_mixed_model_slice(m, n->variety, count);
    n->now = model_now(data, settings, n);
    size_t lots = n->old && n->now ? (n->old->lots > n->now->lots ? n->old->lots - n->now->lots
                                                                  : n->now->lots - n->old->lots)
                                   : 0;
    if (n->old == NULL || n->now == NULL || lots * ROWS_ONE_IN > m->lots || other_tilts(m, n)) {
        cw_mixed_near_free(n);
        return NULL;
    }
    return n;
}

size_t cw_mixed_near_find(const mixed_near *n, size_t variety)
{
    size_t k = 0;
    while (k < n->n && n->variety[k] != variety)
        k++;
    return k;
}

mixed_place *cw_mixed_places_new(size_t points, size_t shared)
{
    size_t each = shared * (shared + 2);
    mixed_place *place = calloc(1, points * (sizeof *place + each * sizeof(double)) + 1);
    double *next = place ? (double *)(void *)(place + points) : NULL;
    for (size_t i = 0; place && i < points; i++, next += each)
        place[i] = (mixed_place){ next, next + shared, next + 2 * shared };
    return place;
}

void cw_mixed_place_keep(const mixed_work *w, mixed_place *to)
{
    size_t q = w->m->shared;
    memcpy(to->u, w->u_shared, q * sizeof *to->u);
    memcpy(to->x, w->x_shared, q * sizeof *to->x);
    memcpy(to->factor, w->factor, q * q * sizeof *to->factor);
}

/* A point's work: the old rows, the new ones, and what the rest says. */
typedef struct bench {
    mixed_work *old, *now;
    mixed_rest rest;
    double *off, *moved; /* [shared] d, and L'd */
    double *block;
} bench;

static void bench_free(bench *b)
{
    cw_mixed_work_free(b->old);
    cw_mixed_work_free(b->now);
    free(b->block);
}

static bool bench_new(const mixed_near *n, bench *b)
{
    size_t q = n->old->shared;
    *b = (bench){ .old = cw_mixed_work_new(n->old),
                  .now = cw_mixed_work_new(n->now),
                  .block = calloc(q * q + 4 * q + 1, sizeof(double)) };
    if (b->old == NULL || b->now == NULL || b->block == NULL)
        return false;
    b->rest = (mixed_rest){ b->block, b->block + q * q, b->block + q * q + q };
    b->off = b->rest.lean + q;
    b->moved = b->off + q;
    return true;
}

static void start(mixed_work *w, const mixed_place *at)
{
    memset(w->u_lot, 0, w->unknowns * sizeof *w->u_lot);
    memset(w->sd_of_u, 0, sizeof w->sd_of_u);
    memcpy(w->u_shared, at->u, w->m->shared * sizeof *at->u);
}

/* The right-hand side of the step to the mean from the lots of w, factored and with its variances set. */
static void pull_to_mean(mixed_work *w, const mixed_theta *t, double *out)
{
    size_t lots = w->m->lots, q = w->m->shared;
    cw_mixed_covariance(w, t, w->weight);
    for (size_t i = 0; i < lots; i++)
        w->slope[i] = -0.5 * w->variance[i] * w->third[i];
    memset(w->x_shared, 0, q * sizeof *w->x_shared);
    cw_mixed_collect(w, t, w->weight, w->slope, 0);
    memcpy(out, w->x_shared, q * sizeof *out);
}

/* out := L'x */
static void upper_times(const double *l, size_t q, const double *x, double *out)
{
    for (size_t i = 0; i < q; i++) {
        out[i] = 0;
        for (size_t j = i; j < q; j++)
            out[i] += l[j * q + i] * x[j];
    }
}

/* What all but the old rows say at a point. */
static bool take_out(bench *b, const mixed_place *at, const mixed_theta *t)
{
    mixed_work *w = b->old;
    size_t q = w->m->shared;
    double *p = b->rest.precision;
    start(w, at);
    w->pinned = true;
    w->rest = NULL;
    if (!isfinite(cw_mixed_laplace(w, t, false, TOLERANCE)))
        return false;
    memset(w->x_shared, 0, q * sizeof *w->x_shared);
    cw_mixed_collect(w, t, w->weight, w->slope, 1);
    memcpy(b->rest.pull, w->x_shared, q * sizeof *b->rest.pull); /* g */
    memset(p, 0, q * q * sizeof *p);
    w->rest = &b->rest; /* no precision yet: the Schur complement is C */
    cw_mixed_schur(w, t, w->weight);
    for (size_t i = 0; i < q; i++)
        for (size_t j = 0; j <= i; j++)
            p[i * q + j] = p[j * q + i] =
                cw_dot(at->factor + i * q, at->factor + j * q, j + 1) - w->factor[i * q + j];
    for (size_t i = 0; i < q; i++)
        b->rest.pull[i] = cw_dot(p + i * q, at->u, q) - b->rest.pull[i];
    memcpy(w->factor, at->factor, q * q * sizeof *w->factor);
    pull_to_mean(w, t, b->rest.lean);
    upper_times(at->factor, q, at->x, b->moved);
    for (size_t i = 0; i < q; i++)
        b->rest.lean[i] = cw_dot(at->factor + i * q, b->moved, i + 1) - b->rest.lean[i];
    w->pinned = false;
    return true;
}

/* How far the optimum of the variance parameters would move, in its standard deviations, squared: by the slopes of what
 * has changed. Of the shared effects' sds and of phi nothing is asked: few rows tell little of them. */
static double optimum_moves(const mixed_problem *p, const mixed_gradient *old, const mixed_gradient *now,
                            const double *inverse)
{
    double off[CW_MIXED_MAX] = { 0 }, sum = 0;
    for (size_t i = 0; i < p->terms; i++) {
        int k = p->term[i];
        if (k == CW_TERM_VARIETY || k == CW_TERM_CELL || k == CW_TERM_LOT)
            off[i] = now->log_sd[k] - old->log_sd[k];
    }
    for (size_t i = 0; i < p->tilts; i++)
        off[p->first_tilt + i] = CW_TILT_SCALE * (now->tilt[p->tilt[i]] - old->tilt[p->tilt[i]]);
    for (size_t i = 0; i < p->n; i++)
        sum += off[i] * cw_dot(inverse + i * p->n, off, p->n);
    return sum;
}

/* The new rows' mode beside the rest, and the step to the mean; false: too far. */
static bool put_in(bench *b, const mixed_stand *at, size_t point, const mixed_theta *t)
{
    const mixed_place *place = &at->place[point];
    size_t q = b->now->m->shared;
    mixed_gradient old, now;
    start(b->now, place);
    b->now->rest = &b->rest;
    if (!isfinite(cw_mixed_laplace(b->now, t, false, TOLERANCE)))
        return false;
    cw_mixed_slopes(b->now, t, false, &now);
    for (size_t i = 0; i < q; i++)
        b->off[i] = b->now->u_shared[i] + b->now->x_shared[i] - place->u[i] - place->x[i];
    upper_times(place->factor, q, b->off, b->moved);
    if (cw_dot(b->moved, b->moved, q) > MOVED * MOVED)
        return false;
    if (point > 0 || at->inverse == NULL)
        return true;
    cw_mixed_slopes(b->old, t, false, &old);
    return optimum_moves(at->problem, &old, &now, at->inverse) <= OPTIMUM_MOVED * OPTIMUM_MOVED;
}

/* The other varieties' means follow the shared effects, and their lots them. */
static void follow(const mixed_near *n, const mixed_stand *at, size_t point, const double *moved,
                   cw_latent_point *out)
{
    const double *loading = at->latent->point[point].loading; /* theirs are the base's */
    const mixed_model *m = at->model;
    size_t q = m->shared, next = 0;
    for (size_t v = 0; v < m->varieties; v++) {
        if (next < n->n && n->variety[next] == v) {
            next++;
            continue;
        }
        double by = cw_dot(loading + v * q, moved, q);
        out->mean[v] += by;
        for (size_t c = m->cell_start[v]; c < m->cell_start[v + 1]; c++)
            for (size_t i = m->lot_start[c];
                 m->cell_season[c] == (size_t)at->season && i < m->lot_start[c + 1]; i++) {
                int32_t k = m->lot_number[i];
                if (k >= 0 && (size_t)k < m->lots_asked)
                    out->lot_mean[k] -= out->lot_pull[k] * by;
            }
    }
}

static void take_lots(const mixed_model *m, int season, const cw_latent_point *from, cw_latent_point *out)
{
    for (size_t i = 0; i < m->lots; i++) {
        int32_t k = m->lot_number[i];
        if (k < 0 || (size_t)k >= m->lots_asked || m->cell_season[m->lot_cell[i]] != (size_t)season)
            continue;
        out->lot_mean[k] = from->lot_mean[k];
        out->lot_pull[k] = from->lot_pull[k];
        out->lot_own_sd[k] = from->lot_own_sd[k];
    }
}

static void take(const mixed_near *n, int season, const cw_latent_point *from, cw_latent_point *out)
{
    size_t q = n->now->shared;
    for (size_t k = 0; k < n->n; k++) {
        out->mean[n->variety[k]] = from->mean[k];
        out->own_sd[n->variety[k]] = from->own_sd[k];
        memcpy(out->loading + k * q, from->loading + k * q, q * sizeof *out->loading);
    }
    take_lots(n->old, season, from, out); /* those that have no rows any more, too */
    take_lots(n->now, season, from, out);
}

bool cw_mixed_near_at(const mixed_near *n, const mixed_stand *at, mixed_work **centre, cw_latent **out)
{
    bench b;
    bool ok = bench_new(n, &b);
    cw_latent *few = at->latent ? cw_latent_new_with_lots(n->n, n->now->shared, n->now->lots_asked, 1) : NULL;
    cw_latent *all = at->latent ? cw_latent_near(at->latent, n->variety, n->n) : NULL;
    *centre = NULL;
    *out = NULL;
    ok = ok && (at->latent == NULL || (few != NULL && all != NULL));
    for (size_t i = at->points; ok && i-- > 0;) { /* the centre last: it is kept */
        mixed_theta t;
        if (at->weight[i] <= 0)
            continue;
        cw_mixed_unpack(at->problem, at->x[i], &t);
        ok = take_out(&b, &at->place[i], &t) && put_in(&b, at, i, &t);
        if (!ok || all == NULL)
            continue;
        cw_mixed_fill(b.now, &t, at->season, few->point);
        follow(n, at, i, b.moved, &all->point[i]);
        take(n, at->season, few->point, &all->point[i]);
    }
    if (ok) {
        b.now->rest = NULL;
        *centre = b.now;
        *out = all;
        b.now = NULL;
        all = NULL;
    }
    cw_latent_free(few);
    cw_latent_free(all);
    bench_free(&b);
    return ok;
}

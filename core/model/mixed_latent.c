/* SPDX-License-Identifier: MIT */
/* From a factored mode to what is known of every variety's eta in a season.
 *
 * Given shared effects z (covariance S = L^-T L^-1), variety effect u = -k B'z + e / sqrt(pivot) (see mixed_solve.c).
 * If the season has a cell of this variety with pivot D, eta above it counts only 1 / D (the cell's rows speak for
 * themselves) and the cell adds sd^2 / D; without one D = 1. So
 *     eta = mean + (a - sd B k) / D . z + sd / (D sqrt(pivot)) e + sd_cell / sqrt(D) e'. */
#include "model/mixed_inside.h"
#include "model/linear.h"
#include "model/wide.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

#define NONE ((size_t)-1)

static size_t cell_of(const mixed_model *m, size_t v, int season)
{
    for (size_t c = m->cell_start[v]; c < m->cell_start[v + 1]; c++)
        if (m->cell_season[c] == (size_t)season)
            return c;
    return NONE;
}

static size_t shared_season(const mixed_model *m, size_t season)
{
    return m->level_count[CW_TERM_SEASON] ? m->first[CW_TERM_SEASON] + season : 0;
}

/* row := (a - sd B k) / D, over = 1 / D, of variety v, in terms of the shared effects. */
static void row_of(const mixed_work *w, const mixed_theta *t, int season, size_t v, double over, double *row)
{
    const mixed_model *m = w->m;
    memset(row, 0, m->shared * sizeof *row);
    double s_season = t->sd[CW_TERM_SEASON], s_variety = t->sd[CW_TERM_VARIETY];
    double k = s_variety * s_variety * w->over_variety[v], rest = (1 - k * w->mass_variety[v]) * over;
    row[0] += t->intercept_sd * rest;
    row[m->form[v]] += t->sd[CW_TERM_FORM] * rest;
    row[m->size[v]] += t->sd[CW_TERM_SIZE] * rest;
    row[shared_season(m, (size_t)season)] += s_season * over;
    for (size_t c = m->cell_start[v]; c < m->cell_start[v + 1]; c++)
        row[shared_season(m, m->cell_season[c])] -= k * s_season * w->light_cell[c] * over;
}

void cw_mixed_mean_row(mixed_work *w, const mixed_theta *t, int season, double *row)
{
    const mixed_model *m = w->m;
    double *of = w->scratch;
    memset(row, 0, m->shared * sizeof *row);
    pthread_mutex_lock(&w->asked);
    for (size_t v = 0; v < m->varieties; v++) {
        size_t cell = cell_of(m, v, season);
        row_of(w, t, season, v, cell == NONE ? 1 : w->over_cell[cell], of);
        for (size_t i = 0; i < m->shared; i++)
            row[i] += of[i] / (double)m->varieties;
    }
    pthread_mutex_unlock(&w->asked);
}

/* mean of u + x: the mode with its first-order step to the mean. */
static double mean_of(const double *u, const double *x, size_t i)
{
    return u[i] + x[i];
}

static double mean_eta(const mixed_work *w, const mixed_theta *t, int season, size_t v, size_t cell)
{
    const mixed_model *m = w->m;
    const double *u = w->u_shared, *x = w->x_shared;
    double eta = t->intercept + t->intercept_sd * mean_of(u, x, 0) +
                 t->sd[CW_TERM_FORM] * mean_of(u, x, m->form[v]) +
                 t->sd[CW_TERM_SIZE] * mean_of(u, x, m->size[v]) +
                 t->sd[CW_TERM_SEASON] * mean_of(u, x, shared_season(m, (size_t)season)) +
                 t->sd[CW_TERM_VARIETY] * mean_of(w->u_variety, w->x_variety, v) +
                 t->tilt[m->variety_tilt] * m->variety_x[v];
    return cell == NONE ? eta : eta + t->sd[CW_TERM_CELL] * mean_of(w->u_cell, w->x_cell, cell);
}

/* Of a lot with weight W: its effect leans on -(1 - over) times what eta above it is off, over = 1 / (1 + sd^2 W),
 * and has variance sd^2 over besides. */
static void fill_lots(const mixed_work *w, const mixed_theta *t, int season, cw_latent_point *out)
{
    const mixed_model *m = w->m;
    double sd = t->sd[CW_TERM_LOT];
    for (size_t k = 0; k < m->lots_asked; k++) {
        out->lot_mean[k] = out->lot_pull[k] = 0;
        out->lot_own_sd[k] = sd;
    }
    for (size_t i = 0; i < m->lots; i++) {
        int32_t k = m->lot_number[i];
        if (k < 0 || (size_t)k >= m->lots_asked || m->cell_season[m->lot_cell[i]] != (size_t)season)
            continue;
        out->lot_mean[k] = sd * mean_of(w->u_lot, w->x_lot, i);
        out->lot_pull[k] = 1 - w->over_lot[i];
        out->lot_own_sd[k] = sd * sqrt(w->over_lot[i]);
    }
    for (size_t k = 0; k < m->lots_asked; k++)
        if (m->lot_tilt[k] != 0)
            out->lot_mean[k] += t->tilt[m->lot_tilt[k]];
}

/* loading = row times the upper triangle. */
CW_WIDE static void load(size_t q, const double *restrict row, const double *restrict triangle,
                         double *restrict loading)
{
    memset(loading, 0, q * sizeof *loading);
    for (size_t j = 0; j < q; j++)
        for (size_t k = j; k < (row[j] != 0 ? q : j); k++)
            loading[k] += row[j] * triangle[j * q + k];
}

void cw_mixed_fill(mixed_work *w, const mixed_theta *t, int season, cw_latent_point *out)
{
    const mixed_model *m = w->m;
    size_t q = m->shared;
    double *row = w->scratch;
    double s_variety = t->sd[CW_TERM_VARIETY], s_cell = t->sd[CW_TERM_CELL];
    cw_cholesky_invert_factor(w->factor, q, w->inverse_factor);
    for (size_t i = 0; i < q; i++)
        for (size_t j = 0; j < q; j++)
            w->spare[i * q + j] =
                w->inverse_factor[j * q + i]; /* L^-T: row j is what effect j takes from each z */
    for (size_t v = 0; v < m->varieties; v++) {
        size_t cell = cell_of(m, v, season);
        double over = cell == NONE ? 1 : w->over_cell[cell];
        row_of(w, t, season, v, over, row);
        load(q, row, w->spare, out->loading + v * q);
        out->own_sd[v] =
            sqrt(s_variety * s_variety * w->over_variety[v] * over * over + s_cell * s_cell * over);
        out->mean[v] = mean_eta(w, t, season, v, cell);
    }
    out->dispersion = t->phi;
    memcpy(out->tilt, t->tilt, sizeof out->tilt);
    out->lot_sd = t->sd[CW_TERM_LOT];
    fill_lots(w, t, season, out);
}

/* share = coefficient * (S row)[effect] */
static cw_mixed_part part_of(const mixed_work *w, const double *s_row, double sd, size_t effect)
{
    return (cw_mixed_part){ sd * (w->u_shared[effect] + w->x_shared[effect]), sd * s_row[effect] };
}

void cw_mixed_why_at(mixed_work *w, const mixed_theta *t, int season, size_t v, cw_mixed_why *out)
{
    const mixed_model *m = w->m;
    size_t q = m->shared, cell = cell_of(m, v, season);
    double *row = w->scratch, *s_row = w->scratch + q, s_variety = t->sd[CW_TERM_VARIETY],
           s_cell = t->sd[CW_TERM_CELL];
    double over = cell == NONE ? 1 : w->over_cell[cell], own = s_variety * s_variety * w->over_variety[v];
    pthread_mutex_lock(&w->asked);
    row_of(w, t, season, v, over, row);
    double shared = 0; /* variance of eta from the shared effects */
    for (size_t i = 0; i < q; i++) {
        s_row[i] = 0;
        for (size_t j = 0; j < q; j++)
            s_row[i] += w->covariance[i * q + j] * row[j];
        shared += row[i] * s_row[i];
    }
    *out = (cw_mixed_why){ .intercept = part_of(w, s_row, t->intercept_sd, 0),
                           .form = part_of(w, s_row, t->sd[CW_TERM_FORM], m->form[v]),
                           .size = part_of(w, s_row, t->sd[CW_TERM_SIZE], m->size[v]),
                           .season =
                               part_of(w, s_row, t->sd[CW_TERM_SEASON], shared_season(m, (size_t)season)) };
    out->intercept.mean += t->intercept;
    out->variance = shared + own * over * over + s_cell * s_cell * over;
    /* Cov(sd u, eta) = -sd k B'S row + sd^2 / (pivot D) */
    double b_s = w->mass_variety[v] * (t->intercept_sd * s_row[0] + t->sd[CW_TERM_FORM] * s_row[m->form[v]] +
                                       t->sd[CW_TERM_SIZE] * s_row[m->size[v]]);
    for (size_t c = m->cell_start[v]; c < m->cell_start[v + 1]; c++)
        b_s += t->sd[CW_TERM_SEASON] * w->light_cell[c] * s_row[shared_season(m, m->cell_season[c])];
    out->variety.mean = s_variety * (w->u_variety[v] + w->x_variety[v]);
    out->variety.share = own * (over - b_s);
    out->cell.mean = cell == NONE ? 0 : s_cell * (w->u_cell[cell] + w->x_cell[cell]);
    out->cell.mean += t->tilt[m->variety_tilt] * m->variety_x[v];
    out->cell.share = out->variance - out->intercept.share - out->form.share - out->size.share -
                      out->season.share - out->variety.share;
    out->mean = mean_eta(w, t, season, v, cell);
    /* the same without season and cell: the row of D = 1 less the season's own part */
    row_of(w, t, season, v, 1, row);
    row[shared_season(m, (size_t)season)] -= t->sd[CW_TERM_SEASON];
    double usual = 0;
    for (size_t i = 0; i < q; i++)
        usual += row[i] * cw_dot(w->covariance + i * q, row, q);
    pthread_mutex_unlock(&w->asked);
    out->usual_variance = usual + own;
    out->usual = out->intercept.mean + out->form.mean + out->size.mean + out->variety.mean;
}

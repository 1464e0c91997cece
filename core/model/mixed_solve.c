/* SPDX-License-Identifier: MIT */
/* The linear algebra of H = I + Lambda Z' W Z Lambda by elimination: lots, then cells, then varieties, then the dense
 * rest. At each nested level with sd s, what lies below weighs M (and pulls R): eliminating the level's effect leaves
 *     weight M / (1 + s^2 M),   pull (R + s M u) / (1 + s^2 M)
 * on eta above it. A variety touches several seasons, so it leaves a rank-one correction instead. */
#include "model/mixed_inside.h"
#include "model/linear.h"
#include "model/wide.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

mixed_work *cw_mixed_work_new(const mixed_model *m)
{
    size_t l = m->lots, c = m->cells, v = m->varieties, q = m->shared;
    size_t items = m->item_start[l], seasons = m->level_count[CW_TERM_SEASON];
    mixed_work *w = calloc(1, sizeof *w);
    if (w == NULL)
        return NULL;
    const struct {
        double **to;
        size_t n;
    } parts[] = { { &w->u_lot, l },
                  { &w->u_cell, c },
                  { &w->u_variety, v },
                  { &w->u_shared, q },
                  { &w->x_lot, l },
                  { &w->x_cell, c },
                  { &w->x_variety, v },
                  { &w->x_shared, q },
                  { &w->x_eta, l },
                  { &w->x_own, v },
                  { &w->own_off, v },
                  { &w->eta, l },
                  { &w->slope, l },
                  { &w->weight, l },
                  { &w->third, l },
                  { &w->expected, l },
                  { &w->expected_third, l },
                  { &w->over_lot, l },
                  { &w->light_lot, l },
                  { &w->variance, l },
                  { &w->over_cell, c },
                  { &w->light_cell, c },
                  { &w->mass_cell, c },
                  { &w->pull_cell, c },
                  { &w->base_cell, c },
                  { &w->over_variety, v },
                  { &w->mass_variety, v },
                  { &w->pull_variety, v },
                  { &w->base_variety, v },
                  { &w->factor, q * q },
                  { &w->inverse_factor, q * q },
                  { &w->covariance, q * q },
                  { &w->spare, q * q },
                  { &w->scratch, 2 * q },
                  { &w->dose, items },
                  { &w->dose_age, items },
                  { &w->item_slope, items },
                  { &w->item_weight, items },
                  { &w->item_third, items },
                  { &w->exposure, m->family == CW_MIXED_COUNT ? l : 0 },
                  { &w->season_precision, seasons * seasons },
                  { &w->season_drift, seasons * seasons },
                  { &w->season_pull, seasons },
                  { &w->resist, seasons },
                  { &w->season_work, 2 * seasons * seasons } };
    size_t total = 1;
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
        total += parts[i].n;
    pthread_mutex_init(&w->asked, NULL);
    w->m = m;
    w->unknowns = l + c + v + q;
    w->block = calloc(total, sizeof *w->block);
    if (w->block == NULL) {
        cw_mixed_work_free(w);
        return NULL;
    }
    double *next = w->block;
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) {
        *parts[i].to = next;
        next += parts[i].n;
    }
    return w;
}

void cw_mixed_work_free(mixed_work *w)
{
    if (w == NULL)
        return;
    pthread_mutex_destroy(&w->asked);
    free(w->block);
    free(w);
}

void cw_mixed_work_copy_effects(mixed_work *to, const mixed_work *from)
{
    memcpy(to->u_lot, from->u_lot, to->unknowns * sizeof *to->u_lot);
    memcpy(to->sd_of_u, from->sd_of_u, sizeof to->sd_of_u);
    memcpy(to->told, from->told, sizeof to->told);
}

size_t cw_mixed_term_effects(const mixed_work *w, int term, double **u, double **x)
{
    const mixed_model *m = w->m;
    switch (term) {
    case CW_TERM_LOT:
        *u = w->u_lot, *x = w->x_lot;
        return m->lots;
    case CW_TERM_CELL:
        *u = w->u_cell, *x = w->x_cell;
        return m->cells;
    case CW_TERM_VARIETY:
        *u = w->u_variety, *x = w->x_variety;
        return m->varieties;
    default:
        *u = w->u_shared + m->first[term], *x = w->x_shared + m->first[term];
        return m->level_count[term];
    }
}

/* What the shared effects x of intercept, form and size give to variety v. */
static double base_of(const mixed_model *m, const mixed_theta *t, size_t v, const double *x)
{
    return t->intercept_sd * x[0] + t->sd[CW_TERM_FORM] * x[m->form[v]] + t->sd[CW_TERM_SIZE] * x[m->size[v]];
}

void cw_mixed_predict(mixed_work *w, const mixed_theta *t)
{
    const mixed_model *m = w->m;
    for (size_t v = 0; v < m->varieties; v++)
        w->base_variety[v] =
            t->intercept + base_of(m, t, v, w->u_shared) + t->sd[CW_TERM_VARIETY] * w->u_variety[v];
    for (size_t v = 0; v < m->varieties; v++)
        w->own_off[v] = m->own[v].mean - w->base_variety[v];
    for (size_t c = 0; c < m->cells; c++)
        w->base_cell[c] = w->base_variety[m->cell_variety[c]] +
                          t->sd[CW_TERM_SEASON] * w->u_shared[m->cell_shared[c]] +
                          t->sd[CW_TERM_CELL] * w->u_cell[c];
    for (size_t i = 0; i < m->lots; i++)
        w->eta[i] = w->base_cell[m->lot_cell[i]] + t->sd[CW_TERM_LOT] * w->u_lot[i];
}

/* over = 1 / (1 + s2 mass), light = mass over: one level of the elimination. */
CW_WIDE static void eliminate(size_t n, double s2, const double *restrict mass, double *restrict over,
                              double *restrict light)
{
    for (size_t i = 0; i < n; i++) {
        over[i] = 1 / (1 + s2 * mass[i]);
        light[i] = mass[i] * over[i];
    }
}

/* - sum of log over[i], without a logarithm for each: in four strands, for over[i] in 1e-17 .. 1. */
static double log_pivots(size_t n, const double *over)
{
    double product[4] = { 1, 1, 1, 1 }, sum = 0;
    size_t i = 0;
    for (; i + 4 <= n; i += 4) {
        for (size_t k = 0; k < 4; k++)
            product[k] *= over[i + k];
        if (product[0] * product[1] < 1e-100 || product[2] * product[3] < 1e-100) {
            for (size_t k = 0; k < 4; k++) {
                sum -= log(product[k]);
                product[k] = 1;
            }
        }
    }
    for (; i < n; i++)
        sum -= log(over[i]);
    return sum - log(product[0] * product[1]) - log(product[2] * product[3]);
}

/* Of each variety, the sum over its cells. */
static void sum_cells(const mixed_model *m, const double *of_cell, double *of_variety)
{
    for (size_t v = 0; v < m->varieties; v++) {
        double sum = 0;
        for (size_t c = m->cell_start[v]; c < m->cell_start[v + 1]; c++)
            sum += of_cell[c];
        of_variety[v] = sum;
    }
}

static double square(double x)
{
    return x * x;
}

/* row[j] -= x[i] x[j] for all j <= i, in the lower triangle of n rows that are `stride` apart. */
CW_WIDE static void take_square(double *restrict row, size_t stride, const double *restrict x, size_t n)
{
    for (size_t i = 0; i < n; i++, row += stride)
        for (size_t j = 0; j <= i; j++)
            row[j] -= x[i] * x[j];
}

/* Adds variety v to the Schur complement (lower triangle): sum_c w_c a_c a_c' - (sd^2 / pivot) B B', B = sum_c w_c a_c. */
static void add_to_schur(mixed_work *w, const mixed_theta *t, size_t v)
{
    const mixed_model *m = w->m;
    size_t q = m->shared, head[3] = { 0, m->form[v], m->size[v] };
    double coefficient[3] = { t->intercept_sd, t->sd[CW_TERM_FORM], t->sd[CW_TERM_SIZE] };
    double total = w->mass_variety[v], season = t->sd[CW_TERM_SEASON];
    double shrink = t->sd[CW_TERM_VARIETY] * t->sd[CW_TERM_VARIETY] * w->over_variety[v];
    for (int i = 0; i < 3; i++)
        for (int j = 0; j <= i; j++)
            w->factor[head[i] * q + head[j]] +=
                coefficient[i] * coefficient[j] * total * (1 - shrink * total);
    if (season == 0 || m->cell_start[v + 1] == m->cell_start[v])
        return;
    /* Its seasons side by side, the first to the last (cells of a variety are in order of season). */
    size_t first = m->cell_shared[m->cell_start[v]], last = m->cell_shared[m->cell_start[v + 1] - 1];
    double *part = w->scratch, root = season * sqrt(shrink);
    memset(part, 0, (last - first + 1) * sizeof *part);
    for (size_t c = m->cell_start[v]; c < m->cell_start[v + 1]; c++) {
        double mass = season * w->light_cell[c];
        double *row = w->factor + m->cell_shared[c] * q;
        for (int j = 0; j < 3; j++)
            row[head[j]] += coefficient[j] * mass * (1 - shrink * total);
        row[m->cell_shared[c]] += season * mass;
        part[m->cell_shared[c] - first] = root * w->light_cell[c];
    }
    take_square(w->factor + first * q + first, q, part, last - first + 1);
}

static void prior_precision(mixed_work *w)
{
    const mixed_model *m = w->m;
    size_t q = m->shared, first = m->first[CW_TERM_SEASON];
    if (w->rest != NULL) {
        memcpy(w->factor, w->rest->precision, q * q * sizeof *w->factor);
        return;
    }
    for (size_t i = 0; i < q * q; i++)
        w->factor[i] = i % (q + 1) == 0 ? 1 : 0;
    size_t seasons = w->seasoned ? m->level_count[CW_TERM_SEASON] : 0;
    for (size_t s = 0; s < seasons; s++)
        memcpy(w->factor + (first + s) * q + first, w->season_precision + s * seasons,
               seasons * sizeof *w->factor);
}

void cw_mixed_schur(mixed_work *w, const mixed_theta *t, const double *weight)
{
    const mixed_model *m = w->m;
    eliminate(m->lots, square(t->sd[CW_TERM_LOT]), weight, w->over_lot, w->light_lot);
    memset(w->mass_cell, 0, m->cells * sizeof *w->mass_cell);
    for (size_t i = 0; i < m->lots; i++)
        w->mass_cell[m->lot_cell[i]] += w->light_lot[i];
    eliminate(m->cells, square(t->sd[CW_TERM_CELL]), w->mass_cell, w->over_cell, w->light_cell);
    sum_cells(m, w->light_cell, w->mass_variety);
    for (size_t v = 0; v < m->varieties; v++)
        w->mass_variety[v] += m->own[v].weight;
    eliminate(m->varieties, square(t->sd[CW_TERM_VARIETY]), w->mass_variety, w->over_variety,
              w->base_variety);
    prior_precision(w);
    for (size_t v = 0; v < m->varieties; v++)
        if (w->mass_variety[v] > 0)
            add_to_schur(w, t, v);
}

bool cw_mixed_factor(mixed_work *w, const mixed_theta *t, const double *weight)
{
    cw_mixed_schur(w, t, weight);
    return cw_cholesky(w->factor, w->m->shared);
}

double cw_mixed_log_determinant(const mixed_work *w)
{
    const mixed_model *m = w->m;
    double sum = log_pivots(m->lots, w->over_lot) + log_pivots(m->cells, w->over_cell) +
                 log_pivots(m->varieties, w->over_variety);
    for (size_t i = 0; i < m->shared; i++)
        sum += 2 * log(w->factor[i * m->shared + i]);
    return sum;
}

/* One level's pull on what is above: (pull + s mass u) over. */
CW_WIDE static void pass_up(size_t n, double s, const double *restrict pull, const double *restrict mass,
                            const double *restrict u, const double *restrict over, double *restrict out)
{
    for (size_t i = 0; i < n; i++)
        out[i] = (pull[i] + s * mass[i] * u[i]) * over[i];
}

/* Collects the right-hand side from lots to varieties, and takes the varieties out of the shared one. */
void cw_mixed_collect(mixed_work *w, const mixed_theta *t, const double *weight, const double *b, double keep)
{
    const mixed_model *m = w->m;
    double *rhs = w->x_shared, s_season = t->sd[CW_TERM_SEASON], s_variety = t->sd[CW_TERM_VARIETY];
    pass_up(m->lots, keep * t->sd[CW_TERM_LOT], b, weight, w->u_lot, w->over_lot, w->x_lot);
    memset(w->pull_cell, 0, m->cells * sizeof *w->pull_cell);
    for (size_t i = 0; i < m->lots; i++)
        w->pull_cell[m->lot_cell[i]] += w->x_lot[i];
    pass_up(m->cells, keep * t->sd[CW_TERM_CELL], w->pull_cell, w->mass_cell, w->u_cell, w->over_cell,
            w->x_cell);
    sum_cells(m, w->x_cell, w->pull_variety);
    for (size_t v = 0; v < m->varieties; v++) {
        w->pull_variety[v] += keep * m->own[v].weight * w->own_off[v];
        double out =
            s_variety * (s_variety * w->pull_variety[v] - keep * w->u_variety[v]) * w->over_variety[v];
        double rest = w->pull_variety[v] - out * w->mass_variety[v];
        w->base_variety[v] = out;
        rhs[0] += t->intercept_sd * rest;
        rhs[m->form[v]] += t->sd[CW_TERM_FORM] * rest;
        rhs[m->size[v]] += t->sd[CW_TERM_SIZE] * rest;
    }
    for (size_t c = 0; c < m->cells; c++)
        rhs[m->cell_shared[c]] +=
            s_season * (w->x_cell[c] - w->base_variety[m->cell_variety[c]] * w->light_cell[c]);
}

/* Back from the shared solution to varieties, cells and lots; x_eta is what it does to eta. */
static void hand_down(mixed_work *w, const mixed_theta *t, const double *weight, const double *b, double keep)
{
    const mixed_model *m = w->m;
    double s_lot = t->sd[CW_TERM_LOT], s_cell = t->sd[CW_TERM_CELL], s_variety = t->sd[CW_TERM_VARIETY];
    double s_season = t->sd[CW_TERM_SEASON];
    for (size_t v = 0; v < m->varieties; v++)
        w->base_variety[v] = base_of(m, t, v, w->x_shared);
    for (size_t v = 0; v < m->varieties; v++) {
        double pull = w->pull_variety[v] - m->own[v].weight * w->base_variety[v];
        for (size_t c = m->cell_start[v]; c < m->cell_start[v + 1]; c++) {
            w->base_cell[c] = s_season * w->x_shared[m->cell_shared[c]];
            pull -= w->light_cell[c] * (w->base_cell[c] + w->base_variety[v]);
        }
        w->x_variety[v] = (s_variety * pull - keep * w->u_variety[v]) * w->over_variety[v];
        w->base_variety[v] += s_variety * w->x_variety[v];
        w->x_own[v] = w->base_variety[v];
    }
    for (size_t c = 0; c < m->cells; c++) {
        double eta = w->base_cell[c] + w->base_variety[m->cell_variety[c]];
        double x =
            (s_cell * (w->pull_cell[c] - w->mass_cell[c] * eta) - keep * w->u_cell[c]) * w->over_cell[c];
        w->x_cell[c] = x;
        w->base_cell[c] = eta + s_cell * x;
    }
    for (size_t i = 0; i < m->lots; i++) {
        double eta = w->base_cell[m->lot_cell[i]];
        double x = (s_lot * (b[i] - weight[i] * eta) - keep * w->u_lot[i]) * w->over_lot[i];
        w->x_lot[i] = x;
        w->x_eta[i] = eta + s_lot * x;
    }
}

double cw_mixed_own_slope(const mixed_work *w)
{
    double sum = 0;
    for (size_t v = 0; v < w->m->varieties; v++)
        sum += w->m->own[v].weight * w->own_off[v] * w->x_own[v];
    return sum;
}

/* How the rest resists shared effect i: -(its slope) where it is now. */
static double rest_resists(const mixed_work *w, size_t i)
{
    size_t q = w->m->shared;
    return cw_dot(w->rest->precision + i * q, w->u_shared, q) - w->rest->pull[i];
}

double cw_mixed_rest_gain(const mixed_work *w)
{
    double sum = 0;
    for (size_t i = 0; i < w->m->shared; i++)
        sum += w->u_shared[i] * 0.5 * (w->u_shared[i] + w->rest->pull[i] - rest_resists(w, i));
    return sum;
}

/* The shared effects' own part of the right-hand side. */
static void begin_shared(mixed_work *w, bool with_u)
{
    const mixed_model *m = w->m;
    for (size_t i = 0; i < m->shared; i++)
        w->x_shared[i] =
            w->rest ? (with_u ? -rest_resists(w, i) : w->rest->lean[i]) : (with_u ? -w->u_shared[i] : 0);
    if (w->seasoned && with_u) {
        cw_mixed_resist(w, w->resist);
        for (size_t s = 0; s < m->level_count[CW_TERM_SEASON]; s++)
            w->x_shared[m->first[CW_TERM_SEASON] + s] = -w->resist[s];
    }
}

double cw_mixed_solve(mixed_work *w, const mixed_theta *t, const double *weight, const double *b, bool with_u)
{
    const mixed_model *m = w->m;
    double keep = with_u ? 1 : 0;
    begin_shared(w, with_u);
    cw_mixed_collect(w, t, weight, b, keep);
    if (w->pinned) {
        memset(w->x_shared, 0, m->shared * sizeof *w->x_shared);
    } else {
        cw_cholesky_forward(w->factor, m->shared, w->x_shared);
        cw_cholesky_backward(w->factor, m->shared, w->x_shared);
    }
    hand_down(w, t, weight, b, keep);
    double gain =
        cw_dot(b, w->x_eta, m->lots) - cw_dot(w->u_lot, w->x_lot, w->unknowns) + keep * cw_mixed_own_slope(w);
    for (size_t s = 0; w->seasoned && with_u && s < m->level_count[CW_TERM_SEASON]; s++) {
        size_t at = m->first[CW_TERM_SEASON] + s;
        gain -= (w->resist[s] - w->u_shared[at]) * w->x_shared[at];
    }
    for (size_t i = 0; w->rest && with_u && i < m->shared; i++)
        gain -= (rest_resists(w, i) - w->u_shared[i]) * w->x_shared[i];
    return gain;
}

CW_WIDE static void add_multiple(double *restrict to, double by, const double *restrict row, size_t n)
{
    for (size_t j = 0; j < n; j++)
        to[j] += by * row[j];
}

/* Variances of variety v's effects and etas, given the covariance S of the shared ones. With B as above and
 * k = sd / pivot: u = -k B'z + noise of variance 1 / pivot, so Cov(u, a'z) = -k a'SB and Var u = 1 / pivot + k^2 B'SB. */
static void variances_of(mixed_work *w, const mixed_theta *t, const double *weight, size_t v, double *product)
{
    const mixed_model *m = w->m;
    size_t q = m->shared, head[3] = { 0, m->form[v], m->size[v] };
    double coefficient[3] = { t->intercept_sd, t->sd[CW_TERM_FORM], t->sd[CW_TERM_SIZE] };
    double s_season = t->sd[CW_TERM_SEASON], s_variety = t->sd[CW_TERM_VARIETY], s_cell = t->sd[CW_TERM_CELL];
    double s2_lot = t->sd[CW_TERM_LOT] * t->sd[CW_TERM_LOT], quadratic = 0;
    const double *s = w->covariance;
    for (size_t j = 0; j < q; j++) { /* product = S (head's coefficients) */
        product[j] =
            coefficient[0] * s[j] + coefficient[1] * s[head[1] * q + j] + coefficient[2] * s[head[2] * q + j];
        product[q + j] = w->mass_variety[v] * product[j];
    }
    for (size_t c = m->cell_start[v]; c < m->cell_start[v + 1] && s_season != 0; c++) {
        /* product + q = S B */
        add_multiple(product + q, s_season * w->light_cell[c], s + m->cell_shared[c] * q, q);
    }
    double base_base = 0, base_b = 0, k = s_variety * w->over_variety[v];
    for (int i = 0; i < 3; i++) {
        base_base += coefficient[i] * product[head[i]];
        base_b += coefficient[i] * product[q + head[i]];
    }
    quadratic = w->mass_variety[v] * base_b;
    for (size_t c = m->cell_start[v]; c < m->cell_start[v + 1]; c++)
        quadratic += s_season * w->light_cell[c] * product[q + m->cell_shared[c]];
    double variance_u = w->over_variety[v] + k * k * quadratic;
    w->vanished[CW_TERM_VARIETY] += 1 - variance_u;
    for (size_t c = m->cell_start[v]; c < m->cell_start[v + 1]; c++) {
        size_t j = m->cell_shared[c];
        double eta = base_base + 2 * s_season * product[j] + s_season * s_season * s[j * q + j] +
                     s_variety * s_variety * variance_u -
                     2 * s_variety * k * (base_b + s_season * product[q + j]);
        double over = w->over_cell[c], back = s_cell * w->light_cell[c];
        w->vanished[CW_TERM_CELL] += 1 - over - back * back * eta;
        eta = eta * over * over + s_cell * s_cell * over;
        for (size_t i = m->lot_start[c]; i < m->lot_start[c + 1]; i++) {
            double lot = w->over_lot[i], twice = lot * lot * eta;
            w->variance[i] = twice + s2_lot * lot;
            w->vanished[CW_TERM_LOT] += 1 - lot - s2_lot * weight[i] * weight[i] * twice;
        }
    }
}

void cw_mixed_covariance(mixed_work *w, const mixed_theta *t, const double *weight)
{
    const mixed_model *m = w->m;
    size_t q = m->shared;
    cw_cholesky_invert_factor(w->factor, q, w->inverse_factor);
    cw_cholesky_inverse(w->inverse_factor, q, w->covariance);
    for (int k = 0; k < CW_TERMS; k++) {
        w->vanished[k] = 0;
        for (size_t j = 0; j < m->level_count[k]; j++)
            w->vanished[k] += 1 - w->covariance[(m->first[k] + j) * (q + 1)];
    }
    if (w->seasoned)
        w->vanished[CW_TERM_SEASON] = cw_mixed_season_vanished(w);
    for (size_t v = 0; v < m->varieties; v++)
        if (m->cell_start[v + 1] > m->cell_start[v] || m->own[v].weight > 0)
            variances_of(w, t, weight, v, w->scratch);
}

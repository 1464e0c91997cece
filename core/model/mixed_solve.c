/* SPDX-License-Identifier: MIT */
/* The linear algebra of H = I + Lambda Z' W Z Lambda by elimination: lots, then cells, then varieties, then the dense
 * rest. At each nested level with sd s, what lies below weighs M (and pulls R): eliminating the level's effect leaves
 *     weight M / (1 + s^2 M),   pull (R + s M u) / (1 + s^2 M)
 * on eta above it. A variety touches several seasons, so it leaves a rank-one correction instead. */
#include "model/mixed_int.h"
#include "model/linear.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

mixed_work *cw_mixed_work_new(const mixed_model *m)
{
    size_t l = m->lots, c = m->cells, v = m->varieties, q = m->shared;
    mixed_work *w = calloc(1, sizeof *w);
    if (w == NULL)
        return NULL;
    w->m = m;
    w->unknowns = l + c + v + q;
    w->block = calloc(2 * w->unknowns + 9 * l + 4 * c + 3 * v + 4 * q * q + 2 * q + 1, sizeof *w->block);
    if (w->block == NULL) {
        free(w);
        return NULL;
    }
    double *next = w->block;
    const struct {
        double **to;
        size_t n;
    } parts[] = { { &w->u_lot, l }, { &w->u_cell, c }, { &w->u_variety, v }, { &w->u_shared, q },
                  { &w->x_lot, l }, { &w->x_cell, c }, { &w->x_variety, v }, { &w->x_shared, q },
                  { &w->x_eta, l }, { &w->eta, l }, { &w->slope, l }, { &w->weight, l }, { &w->third, l }, { &w->expected, l },
                  { &w->expected_third, l }, { &w->over_lot, l }, { &w->variance, l }, { &w->over_cell, c }, { &w->light_cell, c },
                  { &w->mass_cell, c }, { &w->pull_cell, c }, { &w->over_variety, v }, { &w->mass_variety, v },
                  { &w->pull_variety, v }, { &w->factor, q * q }, { &w->inverse_factor, q * q },
                  { &w->covariance, q * q }, { &w->scratch, 2 * q },
                  { &w->spare, q * q } };
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) {
        *parts[i].to = next;
        next += parts[i].n;
    }
    return w;
}

void cw_mixed_work_free(mixed_work *w)
{
    if (w)
        free(w->block);
    free(w);
}

/* What the shared effects x of intercept, form and size give to variety v. */
static double base_of(const mixed_model *m, const mixed_theta *t, size_t v, const double *x)
{
    return t->intercept_sd * x[0] + t->sd[CW_TERM_FORM] * x[m->form[v]] + t->sd[CW_TERM_SIZE] * x[m->size[v]];
}

void cw_mixed_predict(mixed_work *w, const mixed_theta *t)
{
    const mixed_model *m = w->m;
    for (size_t v = 0; v < m->varieties; v++) {
        double base = t->intercept + base_of(m, t, v, w->u_shared) + t->sd[CW_TERM_VARIETY] * w->u_variety[v];
        for (size_t c = m->cell_start[v]; c < m->cell_start[v + 1]; c++) {
            double cell = base + t->sd[CW_TERM_SEASON] * w->u_shared[m->cell_shared[c]] + t->sd[CW_TERM_CELL] * w->u_cell[c];
            for (size_t i = m->lot_start[c]; i < m->lot_start[c + 1]; i++)
                w->eta[i] = cell + t->sd[CW_TERM_LOT] * w->u_lot[i];
        }
    }
}

/* Product of many pivots >= 1 without a logarithm for each. */
typedef struct log_sum {
    double product, sum;
} log_sum;

static void log_add(log_sum *s, double x)
{
    s->product *= x;
    if (s->product > 1e200) {
        s->sum += log(s->product);
        s->product = 1;
    }
}

/* Eliminates lots and cells of variety v; leaves the cell's weight on what is above in light_cell. */
static void factor_nested(mixed_work *w, const mixed_theta *t, const double *weight, size_t v, log_sum *logs)
{
    const mixed_model *m = w->m;
    double s2_lot = t->sd[CW_TERM_LOT] * t->sd[CW_TERM_LOT], s2_cell = t->sd[CW_TERM_CELL] * t->sd[CW_TERM_CELL];
    double total = 0;
    for (size_t c = m->cell_start[v]; c < m->cell_start[v + 1]; c++) {
        double mass = 0;
        for (size_t i = m->lot_start[c]; i < m->lot_start[c + 1]; i++) {
            double pivot = 1 + s2_lot * weight[i];
            log_add(logs, pivot);
            w->over_lot[i] = 1 / pivot;
            mass += weight[i] * w->over_lot[i];
        }
        double pivot = 1 + s2_cell * mass;
        log_add(logs, pivot);
        w->over_cell[c] = 1 / pivot;
        w->mass_cell[c] = mass;
        total += w->light_cell[c] = mass * w->over_cell[c];
    }
    double pivot = 1 + t->sd[CW_TERM_VARIETY] * t->sd[CW_TERM_VARIETY] * total;
    log_add(logs, pivot);
    w->over_variety[v] = 1 / pivot;
    w->mass_variety[v] = total;
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
            w->factor[head[i] * q + head[j]] += coefficient[i] * coefficient[j] * total * (1 - shrink * total);
    if (season == 0)
        return;
    for (size_t c = m->cell_start[v]; c < m->cell_start[v + 1]; c++) {
        double mass = season * w->light_cell[c];
        double *row = w->factor + m->cell_shared[c] * q;
        for (int j = 0; j < 3; j++)
            row[head[j]] += coefficient[j] * mass * (1 - shrink * total);
        row[m->cell_shared[c]] += season * mass;
        for (size_t d = m->cell_start[v]; d <= c; d++) /* cells of a variety are in order of season */
            row[m->cell_shared[d]] -= shrink * mass * season * w->light_cell[d];
    }
}

bool cw_mixed_factor(mixed_work *w, const mixed_theta *t, const double *weight)
{
    const mixed_model *m = w->m;
    size_t q = m->shared;
    log_sum logs = { 1, 0 };
    for (size_t i = 0; i < q * q; i++)
        w->factor[i] = i % (q + 1) == 0 ? 1 : 0;
    for (size_t v = 0; v < m->varieties; v++) {
        factor_nested(w, t, weight, v, &logs);
        if (w->mass_variety[v] > 0)
            add_to_schur(w, t, v);
    }
    if (!cw_cholesky(w->factor, q))
        return false;
    w->log_determinant = logs.sum + log(logs.product);
    for (size_t i = 0; i < q; i++)
        w->log_determinant += 2 * log(w->factor[i * q + i]);
    return isfinite(w->log_determinant);
}

/* Collects the right-hand side from lots to variety v, and takes the variety out of the shared one. */
static void collect(mixed_work *w, const mixed_theta *t, const double *weight, const double *b, double keep, size_t v)
{
    const mixed_model *m = w->m;
    double s_lot = t->sd[CW_TERM_LOT], s_cell = t->sd[CW_TERM_CELL], s_variety = t->sd[CW_TERM_VARIETY];
    double *rhs = w->x_shared, total = 0;
    for (size_t c = m->cell_start[v]; c < m->cell_start[v + 1]; c++) {
        double pull = 0;
        for (size_t i = m->lot_start[c]; i < m->lot_start[c + 1]; i++)
            pull += (b[i] + keep * s_lot * weight[i] * w->u_lot[i]) * w->over_lot[i];
        w->pull_cell[c] = pull;
        double left = (pull + keep * s_cell * w->mass_cell[c] * w->u_cell[c]) * w->over_cell[c];
        rhs[m->cell_shared[c]] += t->sd[CW_TERM_SEASON] * left;
        total += left;
    }
    w->pull_variety[v] = total;
    double out = s_variety * (s_variety * total - keep * w->u_variety[v]) * w->over_variety[v];
    double rest = total - out * w->mass_variety[v];
    rhs[0] += t->intercept_sd * rest;
    rhs[m->form[v]] += t->sd[CW_TERM_FORM] * rest;
    rhs[m->size[v]] += t->sd[CW_TERM_SIZE] * rest;
    for (size_t c = m->cell_start[v]; c < m->cell_start[v + 1]; c++)
        rhs[m->cell_shared[c]] -= t->sd[CW_TERM_SEASON] * out * w->light_cell[c];
}

/* Back from the shared solution to variety, cells and lots; answers b' d eta - u' x over them. */
static double hand_down(mixed_work *w, const mixed_theta *t, const double *weight, const double *b, double keep, size_t v)
{
    const mixed_model *m = w->m;
    double s_lot = t->sd[CW_TERM_LOT], s_cell = t->sd[CW_TERM_CELL], s_variety = t->sd[CW_TERM_VARIETY];
    double s_season = t->sd[CW_TERM_SEASON], base = base_of(m, t, v, w->x_shared), gain = 0;
    double above = w->mass_variety[v] * base;
    for (size_t c = m->cell_start[v]; c < m->cell_start[v + 1]; c++)
        above += w->light_cell[c] * s_season * w->x_shared[m->cell_shared[c]];
    double x = (s_variety * (w->pull_variety[v] - above) - keep * w->u_variety[v]) * w->over_variety[v];
    w->x_variety[v] = x;
    gain -= w->u_variety[v] * x;
    for (size_t c = m->cell_start[v]; c < m->cell_start[v + 1]; c++) {
        double eta = base + s_season * w->x_shared[m->cell_shared[c]] + s_variety * x;
        double y = (s_cell * (w->pull_cell[c] - w->mass_cell[c] * eta) - keep * w->u_cell[c]) * w->over_cell[c];
        w->x_cell[c] = y;
        gain -= w->u_cell[c] * y;
        eta += s_cell * y;
        for (size_t i = m->lot_start[c]; i < m->lot_start[c + 1]; i++) {
            double z = (s_lot * (b[i] - weight[i] * eta) - keep * w->u_lot[i]) * w->over_lot[i];
            w->x_lot[i] = z;
            w->x_eta[i] = eta + s_lot * z;
            gain += b[i] * w->x_eta[i] - w->u_lot[i] * z;
        }
    }
    return gain;
}

double cw_mixed_solve(mixed_work *w, const mixed_theta *t, const double *weight, const double *b, bool with_u)
{
    const mixed_model *m = w->m;
    double keep = with_u ? 1 : 0, gain = 0;
    for (size_t i = 0; i < m->shared; i++)
        w->x_shared[i] = -keep * w->u_shared[i];
    for (size_t v = 0; v < m->varieties; v++)
        collect(w, t, weight, b, keep, v);
    cw_cholesky_forward(w->factor, m->shared, w->x_shared);
    cw_cholesky_backward(w->factor, m->shared, w->x_shared);
    for (size_t i = 0; i < m->shared; i++)
        gain -= w->u_shared[i] * w->x_shared[i];
    for (size_t v = 0; v < m->varieties; v++)
        gain += hand_down(w, t, weight, b, keep, v);
    return gain;
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
        product[j] = coefficient[0] * s[j] + coefficient[1] * s[head[1] * q + j] + coefficient[2] * s[head[2] * q + j];
        product[q + j] = w->mass_variety[v] * product[j];
    }
    for (size_t c = m->cell_start[v]; c < m->cell_start[v + 1] && s_season != 0; c++) {
        double mass = s_season * w->light_cell[c];
        const double *row = s + m->cell_shared[c] * q;
        for (size_t j = 0; j < q; j++)
            product[q + j] += mass * row[j]; /* product + q = S B */
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
                     s_variety * s_variety * variance_u - 2 * s_variety * k * (base_b + s_season * product[q + j]);
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
    for (size_t v = 0; v < m->varieties; v++)
        if (m->cell_start[v + 1] > m->cell_start[v])
            variances_of(w, t, weight, v, w->scratch);
}

/* SPDX-License-Identifier: MIT */
#include "model/projection_inner.h"

#include "model/special.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

static const unsigned generator[SIDES] = { 1, 15, 25, 27 };

/* Least part of a normal's spread that stays with a node. */
#define TAU 0.35

/* Nodes in order of their place on this side; each point of the mixture gets a run of them by its weight. A
 * point's own nodes stand at the middles of equal slices, scaled so that with tau the variance is exactly 1.
 */
static void spread_point(side *s, const size_t *rank_node, unsigned point, size_t from, size_t n,
                         double weight)
{
    double square = 0.0;
    for (size_t i = 0; i < n; i++) {
        double z = cw_normal_quantile(((double)i + 0.5) / (double)n);
        s->z[rank_node[from + i]] = z;
        square += z * z;
    }
    square /= (double)n;
    double tau2 = fmax(TAU * TAU, 1.0 - square), scale = square > 0.0 ? sqrt((1.0 - tau2) / square) : 0.0;
    for (size_t i = 0; i < n; i++) {
        size_t node = rank_node[from + i];
        s->point[node] = point;
        s->z[node] *= scale;
        s->tau[node] = sqrt(tau2);
        s->weight[node] = weight * NODES / (double)n;
    }
}

static void lay_side(side *s, unsigned multiplier)
{
    size_t rank_node[NODES];
    for (size_t j = 0; j < NODES; j++)
        rank_node[(j * multiplier) % NODES] = j;
    size_t points = s->known != NULL ? s->known->points : 1, from = 0;
    double run = 0.0, kept = 0.0;
    /* A point too light for a node of its own is left out and its weight goes to all others alike. */
    for (int pass = 0; pass < 2; pass++) {
        from = 0;
        run = 0.0;
        for (size_t p = 0; p < points; p++) {
            double w = s->known != NULL ? s->known->point[p].weight : 1.0;
            run += w;
            size_t to = p + 1 == points ? NODES : (size_t)(run * NODES + 0.5);
            to = to > NODES ? NODES : to;
            if (to > from) {
                if (pass == 1)
                    spread_point(s, rank_node, (unsigned)p, from, to - from, w / kept);
                else
                    kept += w;
                from = to;
            }
        }
    }
}

void cw_projection_lattice(cw_projection *p)
{
    p->side[RATE].known = p->in.rate;
    p->side[CLUMP_ROT].known = p->in.clump_rot;
    p->side[DIVISION_ROT].known = p->in.division_rot;
    for (int s = 0; s < SIDES; s++)
        lay_side(&p->side[s], generator[s]);
}

double cw_projection_spread(const cw_latent *l, size_t point, size_t variety)
{
    const double *loading = l->point[point].loading + variety * l->shared;
    double sum = l->point[point].own_sd[variety] * l->point[point].own_sd[variety];
    for (size_t k = 0; k < l->shared; k++)
        sum += loading[k] * loading[k];
    return sqrt(sum);
}

/* exp(linear predictor) at each node, the mean over what is local; and the spread that is local. */
static void exp_predictor(const side *s, size_t variety, double unknown, double *value, double *exact,
                          double *local)
{
    if (s->known == NULL) {
        memset(value, 0, NODES * sizeof *value);
        memset(exact, 0, NODES * sizeof *exact);
        memset(local, 0, NODES * sizeof *local);
        return;
    }
    unsigned at = (unsigned)-1;
    double sd = 0.0, mean = 0.0;
    /* Nodes of one point are few runs in lattice order on side 0 and scattered on the others: remember by
     * point. */
    double sds[NODES];
    unsigned seen[NODES], count = 0;
    for (size_t j = 0; j < NODES; j++) {
        if (s->point[j] != at) {
            at = s->point[j];
            unsigned i = 0;
            while (i < count && seen[i] != at)
                i++;
            if (i == count) {
                seen[count] = at;
                sds[count++] = unknown * cw_projection_spread(s->known, at, variety);
            }
            sd = sds[i];
            mean = s->known->point[at].mean[variety];
        }
        local[j] = sd * s->tau[j];
        value[j] = exp(mean + sd * s->z[j] + 0.5 * local[j] * local[j]);
        /* the same with the whole spread at the node */
        double whole = s->tau[j] < 1.0 ? s->z[j] / sqrt(1.0 - s->tau[j] * s->tau[j]) : 0.0;
        exact[j] = sd > 0.0 ? exp(mean + sd * whole) : exp(mean);
    }
}

/* Share not shrivelled over a stretch at each node and its slope along z; ones where drying does not matter.
 */
static void sound_at(const cw_projection *p, const cohorts *c, size_t lot, double from, double to,
                     double *sound, double *slope)
{
    for (size_t j = 0; j < NODES; j++) {
        sound[j] = 1.0;
        slope[j] = 0.0;
    }
    if (p->in.shrink == NULL || !c->shrivel || to <= from)
        return;
    cw_shrink_stretch stretch = cw_shrink_between(p->in.shrink, lot, from, to);
    if (stretch.to + 3.0 * stretch.to_sd < -6.0)
        return;
    const side *s = &p->side[DRYING];
    double h = 0.1, unknown = c->unknown[DRYING];
    for (size_t j = 0; j < NODES; j++) {
        double z = s->z[j] * unknown;
        sound[j] = cw_shrink_sound(&stretch, z);
        slope[j] =
            unknown * (cw_shrink_sound(&stretch, z + h) - cw_shrink_sound(&stretch, z - h)) / (2.0 * h);
    }
}

/* Divisions on hand: each stays sound with chance s. */
static void add_divisions(const cw_projection *p, const cohorts *c, const cw_stock *stock, nodes *out)
{
    double dry[NODES], dry_slope[NODES], n = (double)stock->count;
    sound_at(p, c, stock->lot, stock->from_pa_days, stock->to_pa_days, dry, dry_slope);
    for (size_t j = 0; j < NODES; j++) {
        double risk = out->h2[j] * stock->division_weeks, live = exp(-risk), s = live * dry[j];
        double v = n * s * (1.0 - s);
        out->k1[j] += n * s;
        out->chance[j] += v;
        out->k3[j] += v * (1.0 - 2.0 * s);
        out->slope[DIVISION_ROT][j] -= n * s * risk;
        out->slope[DRYING][j] += n * live * dry_slope[j];
    }
}

/* Clumps: B of n stay sound, each gives a total of the (a, b, 0) family, thinned by s. The cumulants of the
 * sum are those of B at the cumulants of one clump's. `lean[j]` gathers d variance / d eta. */
static void add_clumps(const cw_projection *p, const cohorts *c, const cw_stock *stock, nodes *out,
                       double *lean)
{
    double dry[NODES], dry_slope[NODES], keep[NODES], keep_slope[NODES], n = (double)stock->count;
    sound_at(p, c, stock->lot, stock->from_pa_days, stock->to_pa_days, dry, dry_slope);
    sound_at(p, c, stock->lot, stock->clump_from_pa_days, stock->clump_to_pa_days, keep, keep_slope);
    for (size_t j = 0; j < NODES; j++) {
        double risk1 = out->h1[j] * stock->clump_weeks, risk2 = out->h2[j] * stock->division_weeks;
        double live1 = exp(-risk1), live2 = exp(-risk2), q = live1 * keep[j], s = live2 * dry[j];
        double c1 = out->rate[j] * s, phi = 1.0 + (out->phi[j] - 1.0) * s;
        double c2 = phi * c1, c3 = (2.0 * phi - 1.0) * c2;
        double b1 = n * q, b2 = b1 * (1.0 - q), b3 = b2 * (1.0 - 2.0 * q), mean = b1 * c1;
        out->k1[j] += mean;
        out->chance[j] += b2 * c1 * c1 + b1 * c2;
        out->k3[j] += b3 * c1 * c1 * c1 + 3.0 * b2 * c1 * c2 + b1 * c3;
        lean[j] += 2.0 * b2 * c1 * c1 + b1 * c2;
        out->slope[RATE][j] += mean;
        out->slope[CLUMP_ROT][j] -= mean * risk1;
        out->slope[DIVISION_ROT][j] -= mean * risk2;
        out->slope[DRYING][j] +=
            n * out->rate[j] * live1 * live2 * (keep[j] * dry_slope[j] + keep_slope[j] * dry[j]);
    }
}

void cw_projection_nodes(const cw_projection *p, const cohorts *c, nodes *out)
{
    double lean[NODES] = { 0 }, local[SIDES][NODES], exact[3][NODES], total = 0.0;
    memset(out, 0, sizeof *out);
    exp_predictor(&p->side[RATE], c->variety, c->unknown[RATE], out->rate, exact[0], local[RATE]);
    exp_predictor(&p->side[CLUMP_ROT], c->variety, c->unknown[CLUMP_ROT], out->h1, exact[1],
                  local[CLUMP_ROT]);
    exp_predictor(&p->side[DIVISION_ROT], c->variety, c->unknown[DIVISION_ROT], out->h2, exact[2],
                  local[DIVISION_ROT]);
    for (size_t j = 0; j < NODES; j++) {
        out->phi[j] = p->in.rate->point[p->side[RATE].point[j]].dispersion;
        out->weight[j] =
            p->side[RATE].weight[j] * p->side[CLUMP_ROT].weight[j] * p->side[DIVISION_ROT].weight[j];
        total += out->weight[j];
        local[DRYING][j] = p->side[DRYING].tau[j];
        out->h1[j] = c->rot_clumps ? out->h1[j] : 0.0;
        out->h2[j] = c->rot_divisions ? out->h2[j] : 0.0;
    }
    for (size_t i = 0; i < c->n; i++) {
        if (c->at[i].stage == CW_DIVISION)
            add_divisions(p, c, &c->at[i], out);
        else
            add_clumps(p, c, &c->at[i], out, lean);
    }
    for (size_t j = 0; j < NODES; j++) {
        out->weight[j] /= total;
        out->k2[j] = out->chance[j];
        double s2 = local[RATE][j] * local[RATE][j], u = out->slope[RATE][j];
        /* third cumulant of a lognormal's local part, and of chance that grows with the rate */
        out->k3[j] += 3.0 * s2 * s2 * u * u * u + 3.0 * s2 * u * lean[j];
        for (int k = 0; k < SIDES; k++) {
            double g = out->slope[k][j] * local[k][j];
            out->k2[j] += g * g;
        }
        for (int k = CLUMP_ROT; k <= DIVISION_ROT; k++) {
            double g = out->slope[k][j], t2 = local[k][j] * local[k][j];
            out->k3[j] += 3.0 * t2 * t2 * g * g * g; /* losses are about lognormal, too */
        }
        out->rate[j] = exact[0][j];
        out->h1[j] = c->rot_clumps ? exact[1][j] : 0.0;
        out->h2[j] = c->rot_divisions ? exact[2][j] : 0.0;
        double tau = p->side[DRYING].tau[j];
        out->dry[j] = c->unknown[DRYING] * (tau < 1.0 ? p->side[DRYING].z[j] / sqrt(1.0 - tau * tau) : 0.0);
    }
}

void cw_projection_moments(const nodes *n, double *mean, double *variance)
{
    double m = 0.0, v = 0.0;
    for (size_t j = 0; j < NODES; j++)
        m += n->weight[j] * n->k1[j];
    for (size_t j = 0; j < NODES; j++)
        v += n->weight[j] * (n->k2[j] + (n->k1[j] - m) * (n->k1[j] - m));
    *mean = m;
    *variance = v;
}

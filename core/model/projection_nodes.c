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

/* One side's predictor at every node: exp of it (mean over what is local and over lots), the same with the
 * whole spread at the node, the local sd, and the squared relative spread between lots. */
typedef struct predicted {
    double value[NODES], exact[NODES], local[NODES], lots[NODES];
} predicted;

static void predict(const side *s, size_t variety, double unknown, predicted *out)
{
    memset(out, 0, sizeof *out);
    if (s->known == NULL)
        return;
    /* A point's spread is worked out once; its nodes lie scattered over the lattice. */
    double sds[NODES], lot2s[NODES];
    unsigned seen[NODES], count = 0;
    for (size_t j = 0; j < NODES; j++) {
        unsigned i = 0;
        while (i < count && seen[i] != s->point[j])
            i++;
        const cw_latent_point *at = &s->known->point[s->point[j]];
        if (i == count) {
            seen[count] = s->point[j];
            sds[i] = unknown * cw_projection_spread(s->known, s->point[j], variety);
            lot2s[i] = unknown * unknown * at->lot_sd * at->lot_sd;
            count++;
        }
        double local = sds[i] * s->tau[j], mean = at->mean[variety] + 0.5 * lot2s[i];
        double whole = s->tau[j] < 1.0 ? s->z[j] / sqrt(1.0 - s->tau[j] * s->tau[j]) : 0.0;
        out->local[j] = local;
        out->lots[j] = expm1(lot2s[i]);
        out->value[j] = exp(mean + sds[i] * s->z[j] + 0.5 * local * local);
        out->exact[j] = exp(mean + sds[i] * whole);
    }
}

double cw_projection_live(double x, double c)
{
    double y = c * x;
    if (y < 0.1) /* log1p(y) / c as a series: nearly always */
        return exp(-x * (1.0 - y * (1.0 / 2 - y * (1.0 / 3 - y * (1.0 / 4 - y / 5)))));
    return exp(-log1p(y) / c);
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

/* Sums over the cohorts of one lot that its own effects move together, and what they need at the nodes. */
typedef struct work {
    const cw_projection *p;
    const cohorts *c;
    predicted side[3];
    double c1[NODES], c2[NODES]; /* spread of the two hazards around the node: local and between lots */
    double lean[NODES];          /* d variance / d eta */
    double lot_slope[3][NODES];
} work;

/* Divisions on hand: each stays sound with chance s. */
static void add_divisions(work *w, const cw_stock *stock, nodes *out)
{
    double dry[NODES], dry_slope[NODES], n = (double)stock->count;
    sound_at(w->p, w->c, stock->lot, stock->from_pa_days, stock->to_pa_days, dry, dry_slope);
    for (size_t j = 0; j < NODES; j++) {
        double risk = out->h2[j] * stock->division_weeks, live = cw_projection_live(risk, w->c2[j]);
        double s = live * dry[j], v = n * s * (1.0 - s);
        out->k1[j] += n * s;
        out->chance[j] += v;
        out->k3[j] += v * (1.0 - 2.0 * s);
        w->lot_slope[DIVISION_ROT][j] -= n * s * risk / (1.0 + w->c2[j] * risk);
        out->slope[DRYING][j] += n * live * dry_slope[j];
    }
}

/* Clumps: B of n stay sound, each gives a total of the (a, b, 0) family, thinned by s. The cumulants of the
 * sum are those of B at the cumulants of one clump's. */
static void add_clumps(work *w, const cw_stock *stock, nodes *out)
{
    double dry[NODES], dry_slope[NODES], keep[NODES], keep_slope[NODES], n = (double)stock->count;
    sound_at(w->p, w->c, stock->lot, stock->from_pa_days, stock->to_pa_days, dry, dry_slope);
    sound_at(w->p, w->c, stock->lot, stock->clump_from_pa_days, stock->clump_to_pa_days, keep, keep_slope);
    for (size_t j = 0; j < NODES; j++) {
        double risk1 = out->h1[j] * stock->clump_weeks, risk2 = out->h2[j] * stock->division_weeks;
        double live1 = cw_projection_live(risk1, w->c1[j]), live2 = cw_projection_live(risk2, w->c2[j]);
        double q = live1 * keep[j], s = live2 * dry[j];
        double c1 = out->rate[j] * s, phi = 1.0 + (out->phi[j] - 1.0) * s;
        double c2 = phi * c1, c3 = (2.0 * phi - 1.0) * c2;
        double b1 = n * q, b2 = b1 * (1.0 - q), b3 = b2 * (1.0 - 2.0 * q), mean = b1 * c1;
        out->k1[j] += mean;
        out->chance[j] += b2 * c1 * c1 + b1 * c2;
        out->k3[j] += b3 * c1 * c1 * c1 + 3.0 * b2 * c1 * c2 + b1 * c3;
        w->lean[j] += 2.0 * b2 * c1 * c1 + b1 * c2;
        w->lot_slope[RATE][j] += mean;
        w->lot_slope[CLUMP_ROT][j] -= mean * risk1 / (1.0 + w->c1[j] * risk1);
        w->lot_slope[DIVISION_ROT][j] -= mean * risk2 / (1.0 + w->c2[j] * risk2);
        out->slope[DRYING][j] +=
            n * out->rate[j] * live1 * live2 * (keep[j] * dry_slope[j] + keep_slope[j] * dry[j]);
    }
}

/* A lot is done: its own effects add to the spread, its slopes to the variety's. */
static void close_lot(work *w, nodes *out)
{
    for (int k = RATE; k <= DIVISION_ROT; k++) {
        for (size_t j = 0; j < NODES; j++) {
            double g = w->lot_slope[k][j], spread = g * g * out->lots[k][j];
            out->slope[k][j] += g;
            out->k2[j] += spread;
            out->k3[j] += 3.0 * spread * out->lots[k][j] * g;
        }
    }
    memset(w->lot_slope, 0, sizeof w->lot_slope);
}

/* What is local to a node, to first order, with the third cumulant of a lognormal and of chance that grows
 * with the rate; losses are about lognormal, too. */
static void add_local(const work *w, nodes *out)
{
    for (int k = 0; k < SIDES; k++) {
        for (size_t j = 0; j < NODES; j++) {
            double local = k == DRYING ? w->p->side[DRYING].tau[j] : w->side[k].local[j];
            double g = out->slope[k][j], s2 = local * local;
            out->k2[j] += g * g * s2;
            if (k != DRYING)
                out->k3[j] += 3.0 * s2 * s2 * g * g * g;
            if (k == RATE)
                out->k3[j] += 3.0 * s2 * g * w->lean[j];
        }
    }
}

static void set_nodes(const work *w, nodes *out)
{
    const cw_projection *p = w->p;
    double total = 0.0;
    for (size_t j = 0; j < NODES; j++) {
        double tau = p->side[DRYING].tau[j];
        out->weight[j] =
            p->side[RATE].weight[j] * p->side[CLUMP_ROT].weight[j] * p->side[DIVISION_ROT].weight[j];
        total += out->weight[j];
        out->phi[j] = p->in.rate->point[p->side[RATE].point[j]].dispersion;
        out->rate[j] = w->side[RATE].value[j];
        out->h1[j] = w->c->rot_clumps ? w->side[CLUMP_ROT].value[j] : 0.0;
        out->h2[j] = w->c->rot_divisions ? w->side[DIVISION_ROT].value[j] : 0.0;
        out->dry[j] =
            w->c->unknown[DRYING] * (tau < 1.0 ? p->side[DRYING].z[j] / sqrt(1.0 - tau * tau) : 0.0);
        for (int k = 0; k < 3; k++)
            out->lots[k][j] = w->side[k].lots[j];
    }
    for (size_t j = 0; j < NODES; j++)
        out->weight[j] /= total;
}

/* exp(local^2) (1 + lots) - 1: both spreads at once. */
static void spread_of_hazards(work *w)
{
    for (size_t j = 0; j < NODES; j++) {
        const predicted *a = &w->side[CLUMP_ROT], *b = &w->side[DIVISION_ROT];
        w->c1[j] = exp(a->local[j] * a->local[j]) * (1.0 + a->lots[j]) - 1.0;
        w->c2[j] = exp(b->local[j] * b->local[j]) * (1.0 + b->lots[j]) - 1.0;
    }
}

void cw_projection_nodes(const cw_projection *p, const cohorts *c, nodes *out)
{
    work w = { .p = p, .c = c };
    memset(out, 0, sizeof *out);
    for (int k = RATE; k <= DIVISION_ROT; k++)
        predict(&p->side[k], c->variety, c->unknown[k], &w.side[k]);
    set_nodes(&w, out);
    spread_of_hazards(&w);
    for (size_t i = 0; i < c->n; i++) {
        if (c->at[i].stage == CW_DIVISION)
            add_divisions(&w, &c->at[i], out);
        else
            add_clumps(&w, &c->at[i], out);
        if (i + 1 == c->n || c->at[i + 1].lot != c->at[i].lot)
            close_lot(&w, out);
    }
    for (size_t j = 0; j < NODES; j++)
        out->k2[j] += out->chance[j];
    add_local(&w, out);
    for (size_t j = 0; j < NODES; j++) {
        out->rate[j] = w.side[RATE].exact[j];
        out->h1[j] = c->rot_clumps ? w.side[CLUMP_ROT].exact[j] : 0.0;
        out->h2[j] = c->rot_divisions ? w.side[DIVISION_ROT].exact[j] : 0.0;
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

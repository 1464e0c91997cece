/* SPDX-License-Identifier: MIT */
#include "model/projection_inside.h"
#include "model/wide.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

/* A side is minor if it makes less than this share of the variance of S. */
#define MINOR      0.05
#define SMALL_RISK 0.1
#define MOST_TIE   0.95

double cw_projection_spread(const cw_latent *l, size_t point, size_t variety)
{
    const double *loading = cw_latent_loading(l, point, variety);
    double sum = l->point[point].own_sd[variety] * l->point[point].own_sd[variety];
    for (size_t k = 0; k < l->shared; k++)
        sum += loading[k] * loading[k];
    return sqrt(sum);
}

void cw_projection_predictor(const cw_latent *l, size_t variety, double *mean, double *sd)
{
    double m = 0.0, square = 0.0;
    for (size_t p = 0; p < l->points; p++)
        m += l->point[p].weight * l->point[p].mean[variety];
    for (size_t p = 0; p < l->points; p++) {
        double s = cw_projection_spread(l, p, variety), d = l->point[p].mean[variety] - m;
        square += l->point[p].weight * (s * s + d * d);
    }
    *mean = m;
    *sd = sqrt(square);
}

/* One side's predictor at every node: its value, how far that is from the mean of its point, the sd that stays local,
 * and value and distance if nothing did. */
typedef struct predicted {
    bool minor;
    double mean, sd; /* over the mixture */
    double at[ROOM], off[ROOM], local[ROOM], exact[ROOM], exact_off[ROOM];
} predicted;

static double mean_over(const side *s, size_t variety)
{
    double m = s->known == NULL ? -INFINITY : 0.0;
    for (size_t p = 0; s->known != NULL && p < s->known->points; p++)
        m += s->known->point[p].weight * s->known->point[p].mean[variety];
    return m;
}

/* The spread over the mixture, as it moves these cohorts. */
static void summarise(const side *s, size_t variety, double unknown, const double *shift, predicted *out)
{
    double square = 0.0;
    for (size_t p = 0; s->known != NULL && p < s->known->points && p < ROOM; p++) {
        double sd = cw_projection_spread(s->known, p, variety);
        square += s->known->point[p].weight * (sd * sd + shift[p] * shift[p]);
    }
    out->sd = unknown * sqrt(square);
}

/* A minor side, or none at all: every node stands at the mean and all spread is local. */
static void predict_minor(size_t total, predicted *out)
{
    for (size_t j = 0; j < total; j++) {
        out->at[j] = out->exact[j] = out->mean;
        out->off[j] = out->exact_off[j] = 0.0;
        out->local[j] = out->sd;
    }
}

static void predict(const side *s, size_t total, size_t variety, double unknown, predicted *out)
{
    if (out->minor) {
        predict_minor(total, out);
        return;
    }
    /* A point's spread is worked out once; its nodes lie scattered over the lattice. */
    double sds[ROOM];
    unsigned seen[ROOM], count = 0;
    for (size_t j = 0; j < total; j++) {
        unsigned i = 0;
        while (i < count && seen[i] != s->point[j])
            i++;
        if (i == count) {
            seen[count++] = s->point[j];
            sds[i] = unknown * cw_projection_spread(s->known, s->point[j], variety);
        }
        double mean = s->known->point[s->point[j]].mean[variety];
        out->local[j] = sds[i] * s->tau[j];
        out->off[j] = sds[i] * s->z[j];
        out->at[j] = mean + out->off[j];
        out->exact_off[j] = sds[i] * s->middle[j];
        out->exact[j] = mean + out->exact_off[j];
    }
}

/* What is known of a lot's own effect: lot = mean - pull * (predictor's distance from its mean) + own * normal. */
typedef struct lot_effect {
    double mean, pull, own;
} lot_effect;

static lot_effect effect_at(const cw_latent *l, size_t point, size_t lot)
{
    const cw_latent_point *at = &l->point[point];
    if (l->lots == 0)
        return (lot_effect){ 0.0, 0.0, at->lot_sd };
    return (lot_effect){ at->lot_mean[lot], at->lot_pull[lot], at->lot_own_sd[lot] };
}

/* The same over the mixture, for a minor side. */
static lot_effect effect_over(const cw_latent *l, size_t lot)
{
    lot_effect sum = { 0.0, 0.0, 0.0 };
    for (size_t p = 0; l != NULL && p < l->points; p++) {
        if (l->point[p].weight <= 0.0)
            continue;
        lot_effect e = effect_at(l, p, lot);
        sum.mean += l->point[p].weight * e.mean;
        sum.pull += l->point[p].weight * e.pull;
        sum.own += l->point[p].weight * e.own * e.own;
    }
    sum.own = sqrt(sum.own);
    return sum;
}

/* Chance to live through a risk x = h t whose hazard has squared relative spread c: as for a gamma law of the hazard,
 * (1 + c x)^(-1 / c), which is exp(-x) for c = 0. Its log is -log1p(c x) / c, as a series nearly always. */
static double log_live_small(double x, double y)
{
    return -x * (1.0 - y * (1.0 / 2 - y * (1.0 / 3 - y * (1.0 / 4 - y * (1.0 / 5)))));
}

static double log_live(double x, double c)
{
    double y = c * x;
    return y < SMALL_RISK ? log_live_small(x, y) : -log1p(y) / c;
}

/* All at once; false if the series is not enough for one of them. */
CW_WIDE static bool log_lives(size_t n, const double *restrict hazard, const double *restrict spread,
                              double weeks, double *restrict out)
{
    int wide = 0;
    for (size_t j = 0; j < n; j++) {
        double x = hazard[j] * weeks, y = spread[j] * x;
        wide |= !(y < SMALL_RISK);
        out[j] = log_live_small(x, y);
    }
    return wide == 0;
}

typedef struct work {
    const cw_projection *p;
    const cohorts *c;
    const lattice *on;
    double phi; /* over the mixture */
    predicted side[LATENT_SIDES];
    double lean[ROOM]; /* d variance / d eta */
    /* the lot at hand: its rate and hazards, their squared relative spread by what is its own and by all that is around
     * the node, how much of the variety's spread it shares, and the slopes of the mean of S along the three */
    double value[LATENT_SIDES][ROOM], own[LATENT_SIDES][ROOM], around[LATENT_SIDES][ROOM],
        keep[LATENT_SIDES][ROOM];
    double lot_slope[LATENT_SIDES][ROOM];
} work;

static bool dries(const cw_projection *p, const cohorts *c, double from, double to)
{
    return p->in.shrink != NULL && c->shrivel && to > from;
}

/* Share not shrivelled over a stretch at each node. */
static void sound_at(const cw_projection *p, const cohorts *c, const lattice *on, size_t lot, double from,
                     double to, double *sound)
{
    if (!dries(p, c, from, to)) {
        for (size_t j = 0; j < on->nodes; j++)
            sound[j] = 1.0;
        return;
    }
    cw_shrink_stretch stretch = cw_shrink_between(p->in.shrink, lot, from, to);
    cw_shrink_sound_each(&stretch, on->nodes, on->side[DRYING].z, c->unknown[DRYING], sound);
}

/* Chance to live through `weeks` of a hazard with a relative spread, at each of n nodes. */
static void live_at(size_t n, const double *hazard, const double *spread, double weeks, double *live)
{
    double logs[ROOM];
    if (!log_lives(n, hazard, spread, weeks, logs))
        for (size_t j = 0; j < n; j++)
            logs[j] = log_live(hazard[j] * weeks, spread[j]);
    cw_exp_each(n, logs, live);
}

/* The same for clumps or divisions of the lot at hand, and what they risk. */
static void lives_at(const work *w, int hazard, const cw_stock *stock, double *live, double *risk)
{
    double weeks = hazard == CLUMP_ROT ? stock->clump_weeks : stock->division_weeks;
    cw_projection_tilts(w->p, w->on, w->side[hazard].minor, hazard, stock, risk);
    for (size_t j = 0; j < w->on->nodes; j++)
        risk[j] *= w->value[hazard][j] * weeks;
    live_at(w->on->nodes, risk, w->around[hazard], 1.0, live);
}

/* Divisions on hand: each stays sound with chance s. */
static void add_divisions(work *w, const cw_stock *stock, nodes *out)
{
    double dry[ROOM], live[ROOM], risk[ROOM], n = (double)stock->count;
    sound_at(w->p, w->c, w->on, stock->lot, stock->from_pa_days, stock->to_pa_days, dry);
    lives_at(w, DIVISION_ROT, stock, live, risk);
    for (size_t j = 0; j < out->count; j++) {
        double s = live[j] * dry[j], v = n * s * (1.0 - s);
        out->k1[j] += n * s;
        out->chance[j] += v;
        out->k3[j] += v * (1.0 - 2.0 * s);
        w->lot_slope[DIVISION_ROT][j] -= n * s * risk[j] / (1.0 + w->around[DIVISION_ROT][j] * risk[j]);
    }
}

/* Clumps: B of n stay sound, each gives a total of the (a, b, 0) family, thinned by s. The cumulants of the
 * sum are those of B at the cumulants of one clump's. */
static void add_clumps(work *w, const cw_stock *stock, nodes *out)
{
    double dry[ROOM], clump_lives[ROOM], division_lives[ROOM], risk1[ROOM], risk2[ROOM], order[ROOM],
        n = (double)stock->count;
    sound_at(w->p, w->c, w->on, stock->lot, stock->from_pa_days, stock->to_pa_days, dry);
    lives_at(w, CLUMP_ROT, stock, clump_lives, risk1);
    lives_at(w, DIVISION_ROT, stock, division_lives, risk2);
    cw_projection_tilts(w->p, w->on, w->side[RATE].minor, RATE, stock, order);
    for (size_t j = 0; j < out->count; j++) {
        double q = clump_lives[j] * (1.0 - stock->missing), s = division_lives[j] * dry[j];
        double c1 = w->value[RATE][j] * order[j] * s, phi = 1.0 + (out->phi[j] - 1.0) * s;
        double c2 = phi * c1, c3 = (2.0 * phi - 1.0) * c2;
        double b1 = n * q, b2 = b1 * (1.0 - q), b3 = b2 * (1.0 - 2.0 * q), mean = b1 * c1;
        out->k1[j] += mean;
        out->chance[j] += b2 * c1 * c1 + b1 * c2;
        out->k3[j] += b3 * c1 * c1 * c1 + 3.0 * b2 * c1 * c2 + b1 * c3;
        w->lean[j] += 2.0 * b2 * c1 * c1 + b1 * c2;
        w->lot_slope[RATE][j] += mean;
        w->lot_slope[CLUMP_ROT][j] -= mean * risk1[j] / (1.0 + w->around[CLUMP_ROT][j] * risk1[j]);
        w->lot_slope[DIVISION_ROT][j] -= mean * risk2[j] / (1.0 + w->around[DIVISION_ROT][j] * risk2[j]);
    }
}

/* exp(x) - 1 for x >= 0; the series where it is enough, which is nearly always. */
static double exp_less_one(double x)
{
    return x < 0.05 ? x * (1.0 + x * (1.0 / 2 + x * (1.0 / 6 + x / 24))) : expm1(x);
}

/* One side of the lot at hand at node j; answers the log of its mean. */
static double set_lot_side(work *w, int k, size_t j, lot_effect e, double own2)
{
    const predicted *p = &w->side[k];
    double keep = 1.0 - e.pull, local2 = keep * keep * p->local[j] * p->local[j];
    w->keep[k][j] = keep;
    w->own[k][j] = exp_less_one(own2);
    w->around[k][j] = exp_less_one(own2 + local2);
    return p->at[j] + e.mean - e.pull * p->off[j] + 0.5 * (own2 + local2);
}

/* The rate and hazards of a lot: the variety's, and what is known of the lot's own effects. */
static void open_lot(work *w, size_t lot, const nodes *out)
{
    for (int k = 0; k < LATENT_SIDES; k++) {
        const side *s = &w->on->side[k];
        double unknown2 = w->c->unknown[k] * w->c->unknown[k];
        memset(w->lot_slope[k], 0, out->count * sizeof(double));
        if (w->side[k].minor) { /* the same at every node */
            lot_effect e = effect_over(s->known, lot);
            w->value[k][0] = exp(set_lot_side(w, k, 0, e, e.own * e.own * unknown2));
            for (size_t j = 1; j < out->count; j++) {
                w->keep[k][j] = w->keep[k][0];
                w->own[k][j] = w->own[k][0];
                w->around[k][j] = w->around[k][0];
                w->value[k][j] = w->value[k][0];
            }
        } else {
            double logs[ROOM];
            for (size_t j = 0; j < out->count; j++) {
                lot_effect e = effect_at(s->known, s->point[j], lot);
                logs[j] = set_lot_side(w, k, j, e, e.own * e.own * unknown2);
            }
            cw_exp_each(out->count, logs, w->value[k]);
        }
        if ((k == CLUMP_ROT && !w->c->rot_clumps) || (k == DIVISION_ROT && !w->c->rot_divisions))
            memset(w->value[k], 0, out->count * sizeof(double));
    }
}

/* A side's value at each node with nothing local, the mean over what is not known of the lot, and the squared relative
 * spread of that. */
static void value_at(const cohorts *c, const nodes *n, int k, size_t lot, double *value, double *spread)
{
    const side *s = &n->on->side[k];
    if (s->known == NULL || (k == CLUMP_ROT && !c->rot_clumps) || (k == DIVISION_ROT && !c->rot_divisions)) {
        memset(value, 0, n->count * sizeof *value);
        memset(spread, 0, n->count * sizeof *spread);
        return;
    }
    double logs[ROOM];
    lot_effect e = n->minor[k] ? effect_over(s->known, lot) : (lot_effect){ 0 };
    for (size_t j = 0; j < n->count; j++) {
        if (!n->minor[k])
            e = effect_at(s->known, s->point[j], lot);
        double own2 = e.own * e.own * c->unknown[k] * c->unknown[k];
        logs[j] = n->exact[k][j] + e.mean - e.pull * n->exact_off[k][j] + 0.5 * own2;
        spread[j] = exp_less_one(own2);
    }
    cw_exp_each(n->count, logs, value);
}

/* Chance at each node to live through `weeks` of a hazard. */
static void stay_alive(const cw_projection *p, const cohorts *c, const nodes *n, const cw_stock *stock,
                       int hazard, double weeks, double *out)
{
    double value[ROOM], spread[ROOM], tilt[ROOM];
    value_at(c, n, hazard, stock->lot, value, spread);
    cw_projection_tilts(p, n->on, n->minor[hazard], hazard, stock, tilt);
    for (size_t j = 0; j < n->count; j++)
        value[j] *= tilt[j];
    live_at(n->count, value, spread, weeks, out);
}

void cw_projection_chances(const cw_projection *p, const cohorts *c, const cw_stock *stock, const nodes *n,
                           chances *out)
{
    double order[ROOM], dry[ROOM];
    stay_alive(p, c, n, stock, DIVISION_ROT, stock->division_weeks, out->division);
    sound_at(p, c, n->on, stock->lot, stock->from_pa_days, stock->to_pa_days, dry);
    for (size_t j = 0; j < n->count; j++)
        out->division[j] *= dry[j];
    if (stock->stage == CW_DIVISION)
        return;
    value_at(c, n, RATE, stock->lot, out->rate, out->spread);
    cw_projection_tilts(p, n->on, n->minor[RATE], RATE, stock, order);
    for (size_t j = 0; j < n->count; j++)
        out->rate[j] *= order[j];
    stay_alive(p, c, n, stock, CLUMP_ROT, stock->clump_weeks, out->clump);
    for (size_t j = 0; j < n->count; j++)
        out->clump[j] *= 1.0 - stock->missing;
}

/* A lot is done: its own effects add to the spread, its slopes to the variety's. */
static void close_lot(work *w, nodes *out)
{
    for (int k = 0; k < LATENT_SIDES; k++) {
        for (size_t j = 0; j < out->count; j++) {
            double g = w->lot_slope[k][j], spread = g * g * w->own[k][j];
            out->slope[k][j] += g * w->keep[k][j];
            out->whole[k] += out->weight[j] * g;
            out->k2[j] += spread;
            out->k3[j] += 3.0 * spread * w->own[k][j] * g;
        }
    }
}

/* What is local to a node, to first order, with the third cumulant of a lognormal and of chance that grows
 * with the rate; losses are about lognormal, too. */
static void add_local(const work *w, nodes *out)
{
    for (int k = 0; k < LATENT_SIDES; k++) {
        for (size_t j = 0; j < out->count; j++) {
            double g = out->slope[k][j], s2 = w->side[k].local[j] * w->side[k].local[j];
            out->k2[j] += g * g * s2;
            out->k3[j] += 3.0 * s2 * g * (s2 * g * g + (k == RATE ? w->lean[j] : 0.0));
        }
    }
    for (size_t j = 0; j < out->count; j++)
        out->k2[j] +=
            out->chance[j] + 2.0 * out->slope[CLUMP_ROT][j] * out->slope[DIVISION_ROT][j] * out->local2[j];
}

/* Both hazards share the season: z of the second leans on that of the first. */
static void tie_rot(work *w, nodes *out)
{
    predicted *a = &w->side[CLUMP_ROT], *b = &w->side[DIVISION_ROT];
    double both = a->sd * b->sd,
           c = both > 0.0 ? fmin(fmax(w->p->in.rot_tie / both, -MOST_TIE), MOST_TIE) : 0.0;
    double rest = sqrt(1.0 - c * c);
    for (size_t j = 0; j < out->count; j++) {
        out->local2[j] = c * a->local[j] * b->local[j];
        if (c == 0.0 || a->minor || b->minor)
            continue;
        const side *first = &w->on->side[CLUMP_ROT], *second = &w->on->side[DIVISION_ROT];
        double sd = second->tau[j] > 0.0 ? b->local[j] / second->tau[j] : 0.0;
        double off = sd * (c * first->z[j] + rest * second->z[j]);
        double exact_off = sd * (c * first->middle[j] + rest * second->middle[j]);
        b->at[j] += off - b->off[j];
        b->exact[j] += exact_off - b->exact_off[j];
        b->off[j] = off;
        b->exact_off[j] = exact_off;
    }
}

static void set_nodes(work *w, nodes *out)
{
    const side *s = w->on->side;
    double total = 0.0;
    for (int k = 0; k < LATENT_SIDES; k++) {
        out->minor[k] = w->side[k].minor;
        memcpy(out->exact[k], w->side[k].exact, out->count * sizeof(double));
        memcpy(out->exact_off[k], w->side[k].exact_off, out->count * sizeof(double));
        memset(out->slope[k], 0, out->count * sizeof(double));
        out->whole[k] = 0.0;
    }
    for (size_t j = 0; j < out->count; j++) {
        out->weight[j] = 1.0;
        for (int k = 0; k < LATENT_SIDES; k++)
            out->weight[j] *= w->side[k].minor ? 1.0 : s[k].weight[j];
        total += out->weight[j];
        out->phi[j] = w->side[RATE].minor ? w->phi : w->p->in.rate->point[s[RATE].point[j]].dispersion;
        out->k1[j] = out->k2[j] = out->k3[j] = out->chance[j] = w->lean[j] = 0.0;
    }
    for (size_t j = 0; j < out->count; j++)
        out->weight[j] /= total;
}

/* How much of some stock would be lost if it dried two standard deviations faster than is thought, at most. */
static double drying_at_risk(const cw_projection *p, const cohorts *c)
{
    double worst = 0.0;
    for (size_t i = 0; i < c->n; i++) {
        const cw_stock *s = &c->at[i];
        if (!dries(p, c, s->from_pa_days, s->to_pa_days))
            continue;
        cw_shrink_stretch stretch = cw_shrink_between(p->in.shrink, s->lot, s->from_pa_days, s->to_pa_days);
        worst = fmax(worst, 1.0 - cw_shrink_sound(&stretch, 2.0));
    }
    return worst;
}

/* Which sides are minor, from the slopes of the mean of S at the middle of what is known. Returns how many
 * are not. None is where the law is enumerated, which knows no local spread: a side would come and go with it. */
static int rank_sides(work *w, leverage *of)
{
    double part[LATENT_SIDES], sum = 0.0, mean[LATENT_SIDES];
    for (int k = 0; k < LATENT_SIDES; k++)
        mean[k] = w->side[k].mean;
    cw_projection_weigh(w->p, w->c, mean, w->phi, of);
    for (int k = 0; k < LATENT_SIDES; k++) {
        summarise(&w->on[0].side[k], w->c->variety, w->c->unknown[k], of->shift[k], &w->side[k]);
        /* a lognormal's own relative spread, so that a wide side does not pass for a narrow one */
        part[k] = of->slope[k] * of->slope[k] * expm1(fmin(w->side[k].sd * w->side[k].sd, 50.0));
        sum += part[k];
    }
    int major = 0;
    bool few = cw_projection_is_few(w->c);
    for (int k = 0; k < LATENT_SIDES; k++) {
        w->side[k].minor = w->on[0].side[k].known == NULL || (!few && part[k] <= MINOR * (sum + of->chance));
        major += !w->side[k].minor;
    }
    return major;
}

void cw_projection_nodes(const cw_projection *p, const cohorts *c, nodes *out)
{
    work w; /* large: only what the nodes in use need is ever set */
    w.p = p;
    w.c = c;
    w.on = p->on;
    w.phi = 0.0;
    for (size_t i = 0; i < p->in.rate->points; i++)
        w.phi += p->in.rate->point[i].weight * p->in.rate->point[i].dispersion;
    for (int k = 0; k < LATENT_SIDES; k++)
        w.side[k].mean = mean_over(&p->on[0].side[k], c->variety);
    int major = rank_sides(&w, &out->of);
    double drying = drying_at_risk(p, c);
    major += drying > 0.1 ? 2 : drying > 0.01 ? 1 : 0;
    w.on = &p->on[cw_projection_is_few(c) ? 0 : major > 2 ? 3 : major > 1 ? 2 : 1];
    out->on = w.on;
    out->count = w.on->nodes;
    for (int k = 0; k < LATENT_SIDES; k++)
        predict(&w.on->side[k], out->count, c->variety, c->unknown[k], &w.side[k]);
    tie_rot(&w, out);
    set_nodes(&w, out);
    for (size_t i = 0; i < c->n; i++) {
        if (i == 0 || c->at[i - 1].lot != c->at[i].lot)
            open_lot(&w, c->at[i].lot, out);
        if (c->at[i].stage == CW_DIVISION)
            add_divisions(&w, &c->at[i], out);
        else
            add_clumps(&w, &c->at[i], out);
        if (i + 1 == c->n || c->at[i + 1].lot != c->at[i].lot)
            close_lot(&w, out);
    }
    add_local(&w, out);
}

void cw_projection_lean(const cw_projection *p, const cohorts *c, leverage *out)
{
    double mean[LATENT_SIDES], phi = 0.0;
    for (size_t i = 0; i < p->in.rate->points; i++)
        phi += p->in.rate->point[i].weight * p->in.rate->point[i].dispersion;
    for (int k = 0; k < LATENT_SIDES; k++)
        mean[k] = mean_over(&p->on[0].side[k], c->variety);
    cw_projection_weigh(p, c, mean, phi, out);
}

bool cw_projection_is_few(const cohorts *c)
{
    int64_t clumps = 0, divisions = 0;
    for (size_t i = 0; i < c->n; i++)
        *(c->at[i].stage == CW_CLUMP ? &clumps : &divisions) += c->at[i].count;
    return clumps > 0 && clumps <= FEW_CLUMPS && divisions <= FEW_DIVISIONS;
}

void cw_projection_moments(const nodes *n, double *mean, double *variance)
{
    double m = 0.0, v = 0.0;
    for (size_t j = 0; j < n->count; j++)
        m += n->weight[j] * n->k1[j];
    for (size_t j = 0; j < n->count; j++)
        v += n->weight[j] * (n->k2[j] + (n->k1[j] - m) * (n->k1[j] - m));
    *mean = m;
    *variance = v;
}

/* SPDX-License-Identifier: MIT */
/* The seasons, from the last one back: what a number of divisions is worth, and how many of them are kept. */
#include "model/keep_inside.h"

#include "model/wide.h"
#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

#define SURE      1e-6 /* demand above its quantile of this is taken not to come */
#define FOLD      5.0  /* plants that are of use: at most so many for each division that may be asked for */
#define MOST      2e5  /* numbers beyond this are no variety of a nursery */
#define NO_MATTER 1e-9 /* relative: what differs by so little is the same */

double cw_keep_below(const cw_keeper *k, int season, double q)
{
    if (q <= 0)
        return 0;
    const double *below = k->below + k->law[season] * k->room;
    if (q >= (double)(k->room - 1))
        return below[k->room - 1] + (q - (double)(k->room - 1));
    size_t low = (size_t)q;
    double part = q - (double)low;
    return below[low] + part * (below[low + 1] - below[low]);
}

double cw_keep_worth(const cw_keeper *k, int season, double p)
{
    const double *w = k->w + (size_t)season * k->p.n;
    double last = k->p.at[k->p.n - 1], sum = 0;
    if (p >= last)
        return w[k->p.n - 1] - (k->ask.cost + k->price) * (p - last);
    cw_keep_between at;
    cw_keep_between_at(&k->p, p, &at);
    for (size_t j = 0; j < at.count; j++)
        sum += at.w[j] * w[at.first + j];
    return sum;
}

void cw_keep_rule_from(const cw_keeper *k, int season, double keep, cw_keep_rule *out)
{
    const double *w = k->w + (size_t)season * k->p.n;
    double at = keep, slope = 0, worth = cw_keep_worth(k, season, keep), top = worth;
    *out = (cw_keep_rule){ .keep = keep, .upto = keep, .worth = worth };
    for (size_t i = 0; i < k->p.n; i++) {
        if (k->p.at[i] <= keep)
            continue;
        double higher = fmax(top, w[i]), now = (higher - top) / (k->p.at[i] - at);
        if (now != slope) {
            out->from[out->bends] = (int64_t)at;
            out->bend[out->bends++] = now - slope;
        }
        if (higher > top)
            out->upto = k->p.at[i];
        slope = now;
        top = higher;
        at = k->p.at[i];
    }
    if (slope != 0) {
        out->from[out->bends] = (int64_t)at;
        out->bend[out->bends++] = -slope;
    }
}

/* What rule->keep of a node's number is worth in a season. */
static double kept_value(const cw_keeper *k, int season, const cw_keep_rule *rule, double left)
{
    double sale = left - rule->keep, value = rule->worth, sum[4] = { 0 };
    const double *below = k->below + k->law[season] * k->room + (size_t)left;
    int64_t whole = (int64_t)left; /* nodes and what is kept are whole numbers */
    size_t i = 0, n = rule->bends;
    value += k->ask.margin * (sale - cw_keep_below(k, season, sale));
    for (; i + 4 <= n && rule->from[i + 3] < whole; i += 4)
        for (size_t l = 0; l < 4; l++) /* four sums side by side: none waits for the other */
            sum[l] += rule->bend[i + l] * below[-rule->from[i + l]];
    for (; i < n && rule->from[i] < whole; i++)
        sum[0] += rule->bend[i] * below[-rule->from[i]];
    return value + ((sum[0] + sum[1]) + (sum[2] + sum[3]));
}

double cw_keep_choose(const cw_keeper *k, int season, const cw_keep_rules *rules, double n, double *upto,
                      double *value)
{
    double left = fmax(0, n - (double)k->ask.reserve), chosen = 0;
    *value = -INFINITY;
    for (size_t r = 0; r < rules->n; r++) {
        const cw_keep_rule *rule = &rules->rule[r];
        double keep = fmin(rule->keep, n), worth;
        if (left > rule->keep) {
            worth = kept_value(k, season, rule, left);
        } else { /* nothing is for sale: then the reserve can be planted, too */
            worth = cw_keep_worth(k, season, keep);
        }
        if (worth > *value) {
            *value = worth;
            chosen = keep;
            *upto = fmax(keep, rule->upto);
        }
        double all = fmin(n, rule->upto);
        if (k->ask.reserve > 0 && all > fmax(left, keep) && cw_keep_worth(k, season, all) > *value) {
            *value = cw_keep_worth(k, season, all);
            chosen = *upto = all;
        }
    }
    return chosen;
}

/* The top of W(k) - m k near a node: on the parabola through it and its neighbours. */
static double top_near(const cw_keeper *k, int season, size_t i)
{
    const double *w = k->w + (size_t)season * k->p.n, *p = k->p.at, m = k->ask.margin;
    double at = p[i], value = w[i] - m * at;
    if (i == 0 || i + 1 == k->p.n || p[i + 1] - p[i - 1] <= 2)
        return at;
    double a = (w[i] - w[i - 1]) / (p[i] - p[i - 1]) - m;
    double b = (w[i + 1] - w[i]) / (p[i + 1] - p[i]) - m;
    double x = 0.5 * (p[i - 1] + p[i]) + 0.5 * (p[i + 1] - p[i - 1]) * a / (a - b);
    for (double y = floor(x); y <= ceil(x); y++) {
        double other = cw_keep_worth(k, season, y) - m * y;
        if (other > value) {
            value = other;
            at = y;
        }
    }
    return at;
}

/* Nodes at which W(k) - m k has a top: the CW_KEEP_TOPS highest of them, the highest first. */
static size_t find_tops(const cw_keeper *k, int season, size_t top[CW_KEEP_TOPS])
{
    const double *w = k->w + (size_t)season * k->p.n, *p = k->p.at, m = k->ask.margin;
    size_t n = 0;
    double near = NO_MATTER * (fabs(w[k->p.n - 1]) + m * p[k->p.n - 1]);
    for (size_t i = 0; i < k->p.n; i++) {
        double here = w[i] - m * p[i];
        if ((i > 0 && here <= w[i - 1] - m * p[i - 1] + near) ||
            (i + 1 < k->p.n && here + near < w[i + 1] - m * p[i + 1]))
            continue;
        size_t lower = n;
        while (lower > 0 && w[top[lower - 1]] - m * p[top[lower - 1]] < here)
            lower--;
        n += n < CW_KEEP_TOPS;
        for (size_t r = n; r-- > lower + 1;) /* more tops than places: the lowest goes */
            top[r] = top[r - 1];
        if (lower < n)
            top[lower] = i;
    }
    return n;
}

void cw_keep_rules_of(const cw_keeper *k, int season, cw_keep_rules *out)
{
    size_t top[CW_KEEP_TOPS] = { 0 };
    double least = fmin((double)k->ask.floor, k->p.at[k->p.n - 1]), at[CW_KEEP_TOPS];
    out->n = find_tops(k, season, top);
    for (size_t r = 0; r < out->n; r++)
        at[r] = top_near(k, season, top[r]);
    if (least > 0) { /* the floor holds: the best top if it is above */
        at[0] = fmax(least, at[0]);
        out->n = 1;
    }
    for (size_t r = 0; r < out->n; r++)
        cw_keep_rule_from(k, season, at[r], &out->rule[r]);
}

CW_WIDE static double weighed(size_t n, const float *restrict weight, const double *restrict v)
{
    double sum[4] = { 0 };
    size_t j = 0;
    for (; j + 4 <= n; j += 4)
        for (size_t l = 0; l < 4; l++) /* four sums side by side: the processor adds them at once */
            sum[l] += (double)weight[j + l] * v[j + l];
    for (; j < n; j++)
        sum[0] += (double)weight[j] * v[j];
    return (sum[0] + sum[1]) + (sum[2] + sum[3]);
}

/* W of a season from the value of the next one. */
static void make_worth(cw_keeper *k, int season)
{
    double *w = k->w + (size_t)season * k->p.n;
    for (size_t i = 0; i < k->p.n; i++) {
        const cw_keep_row *row = &k->move.row[i];
        double later = weighed(row->count, k->move.weight + row->at, k->v + row->from);
        w[i] = k->ask.discount * later - (k->ask.cost + k->price) * k->p.at[i];
    }
}

void cw_keep_solve(cw_keeper *k)
{
    cw_keep_rules rules;
    double upto;
    int last = k->ask.seasons;
    if (k->solved)
        return;
    for (size_t j = 0; j < k->n.n; j++) {
        double left = fmax(0, k->n.at[j] - (double)k->ask.reserve);
        k->v[j] = k->ask.margin * (left - cw_keep_below(k, last, left));
    }
    for (int t = last - 1; t >= 0; t--) {
        make_worth(k, t);
        if (t == 0)
            break;
        cw_keep_rules_of(k, t, &rules);
        for (size_t j = 0; j < k->n.n; j++)
            cw_keep_choose(k, t, &rules, k->n.at[j], &upto, &k->v[j]);
    }
    for (size_t a = 0; a < k->atoms; a++)
        k->atom_worth[a] = cw_keep_worth(k, 0, k->atom[a]);
    k->solved = true;
}

void cw_keeper_price(cw_keeper *k, double place_price)
{
    k->solved = k->solved && k->price == place_price;
    k->price = place_price;
}

static cw_code refused(const cw_keep_ask *a, cw_error *err)
{
    if (!(a->seasons >= 1 && a->seasons <= CW_KEEP_SEASONS))
        return cw_error_set(err, CW_REFUSED, "%d seasons ahead: 1 to %d can be looked at", a->seasons,
                            CW_KEEP_SEASONS);
    if (!(a->growth >= 0 && a->growth <= 100))
        return cw_error_set(err, CW_REFUSED, "growth %g is not within 0 and 100", a->growth);
    if (!(a->growth_sd >= 0 && a->growth_sd <= 1))
        return cw_error_set(err, CW_REFUSED, "doubt of growth %g is not within 0 and 1", a->growth_sd);
    if (!(a->growth_dispersion > 0 && a->growth_dispersion <= 1000))
        return cw_error_set(err, CW_REFUSED, "dispersion of growth %g is not above 0", a->growth_dispersion);
    if (!(a->discount >= 0 && a->discount <= 1))
        return cw_error_set(err, CW_REFUSED, "discount %g is not within 0 and 1", a->discount);
    if (!(a->margin >= 0 && a->cost >= 0))
        return cw_error_set(err, CW_REFUSED, "margin %g, cost %g: neither may be below 0", a->margin,
                            a->cost);
    if (a->reserve < 0 || a->places < 0 || a->floor < 0)
        return cw_error_set(err, CW_REFUSED, "reserve, places and the least to keep may not be below 0");
    return CW_OK;
}

/* Numbers that can ever be of use: what may be asked for this season and, chance set aside and divided by what a plant gives at
 * worst, later. */
static void make_nodes(cw_keeper *k)
{
    double asked = 0, worst = k->ask.growth * exp(-2 * k->ask.growth_sd), fold = 0, share = 1;
    for (int t = 0; t <= k->ask.seasons; t++)
        asked = fmax(asked, (double)cw_distribution_quantile(k->ask.demand[t], 1 - SURE));
    asked += (double)k->ask.reserve;
    for (int t = 0; t < k->ask.seasons && fold < FOLD; t++) {
        share /= fmax(worst, 0.1);
        fold += share;
    }
    double places = k->ask.retired ? 0 : (double)k->ask.places, least = (double)k->ask.floor;
    double phi = fmax(1, k->ask.growth_dispersion), safe = asked + 4 * sqrt(phi * asked) + 4 * phi;
    double plants = fmin(MOST / 2, fmax(ceil(safe * fmin(fold, FOLD)) + 2, least));
    cw_keep_nodes_to(&k->p, fmin(places, plants));
    cw_keep_nodes_to(&k->n, fmin(MOST, asked + plants));
}

static cw_code make_demand(cw_keeper *k, cw_error *err)
{
    size_t laws = 0;
    const cw_distribution *seen[CW_KEEP_SEASONS + 1];
    for (int t = 0; t <= k->ask.seasons; t++) {
        size_t l = 0;
        while (l < laws && seen[l] != k->ask.demand[t])
            l++;
        seen[l] = k->ask.demand[t];
        laws = l == laws ? laws + 1 : laws;
        k->law[t] = l;
        k->law_mean[t] = k->ask.demand[t]->mean;
    }
    k->room = (size_t)k->n.at[k->n.n - 1] + 2;
    k->below = calloc(laws * k->room, sizeof *k->below);
    if (k->below == NULL)
        return cw_error_memory(err);
    for (size_t l = 0; l < laws; l++)
        for (size_t q = 1; q < k->room; q++) {
            double *below = k->below + l * k->room;
            below[q] = below[q - 1] + cw_distribution_cdf(seen[l], (int64_t)q - 1);
        }
    return CW_OK;
}

/* S as at most CW_KEEP_ATOMS numbers, each the mean of a stretch of it. */
static void make_atoms(cw_keeper *k)
{
    const cw_distribution *s = k->ask.sound;
    size_t group = (s->cells + CW_KEEP_ATOMS - 1) / CW_KEEP_ATOMS;
    for (size_t c = 0; c < s->cells; c += group) {
        double sum = 0, weighed = 0;
        for (size_t i = c; i < c + group && i < s->cells; i++) {
            cw_distribution_span at = cw_distribution_cell(s, i);
            double mass = s->cdf[i] - at.below;
            sum += mass;
            weighed += mass * ((double)at.start + 0.5 * (double)(at.width - 1));
            if (i == 0) { /* and what lies at its lowest number by itself */
                sum += s->atom;
                weighed += s->atom * (double)s->first;
            }
        }
        if (sum <= 0)
            continue;
        k->atom[k->atoms] = weighed / sum;
        k->chance[k->atoms++] = sum;
    }
}

cw_code cw_keeper_new(const cw_keep_ask *ask, cw_keeper **out, cw_error *err)
{
    *out = NULL;
    cw_code code = refused(ask, err);
    if (code != CW_OK)
        return code;
    cw_keeper *k = calloc(1, sizeof *k);
    if (k == NULL)
        return cw_error_memory(err);
    k->ask = *ask;
    if (ask->retired)
        k->ask.floor = 0;
    make_nodes(k);
    make_atoms(k);
    k->after = calloc(k->p.n, sizeof *k->after);
    k->w = calloc(k->p.n * (size_t)ask->seasons, sizeof *k->w);
    k->v = calloc(k->n.n, sizeof *k->v);
    code = k->after && k->w && k->v ? make_demand(k, err) : cw_error_memory(err);
    if (code == CW_OK)
        code = cw_keep_move_make(&k->ask, &k->p, &k->n, false, &k->move, err);
    if (code != CW_OK) {
        cw_keeper_free(k);
        return code;
    }
    for (size_t i = 0; i < k->p.n; i++)
        k->after[i] = cw_keep_mean_after(k, k->p.at[i]);
    *out = k;
    return CW_OK;
}

void cw_keeper_free(cw_keeper *k)
{
    if (k == NULL)
        return;
    cw_keep_move_free(&k->move);
    free(k->below);
    free(k->after);
    free(k->w);
    free(k->v);
    free(k);
}

/* SPDX-License-Identifier: MIT */
#include "model/projection_inside.h"

#include "model/special.h"
#include "model/wide.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

#define REACH 5.0 /* standard deviations of a node's law that are laid out */
#define NARROW                                                                                               \
    200 /* so many values get a cell each; a wider law gets about so many cells, a tenth of its sd wide */
#define MOST_EXACT        200 /* values that get a cell each */
#define SMALL_SD          4.0 /* below: the shifted (a, b, 0) law itself; above: a normal law with skewness */
#define SKEWED            0.25 /* squared skewness above which the same */
#define WIDEST            1.0 /* cell in a node's sds whose chance is the density at its middle; above: as above */
#define FEW_COUNT         120  /* values of an enumerated law */
#define LONG              4096 /* a node's law over more values is laid out in strides */
#define STRIDES           32   /* of them from the first value to twice as far from it, at most */
#define STRIDES_A_SD      16
#define NO_CHANCE         1e-11
#define ONE_OVER_SQRT_2PI 0.398942280401432677939946059934

/* Cells that the nodes' laws are added into. */
typedef struct grid {
    int64_t first, step;
    size_t cells;
    double mass[CW_DISTRIBUTION_CELLS + CW_FOUR]; /* what is added past the last cell is not looked at */
} grid;

static void add_at(grid *g, int64_t k, double mass)
{
    int64_t cell = (k - g->first) / g->step;
    if (k >= g->first && cell < (int64_t)g->cells)
        g->mass[cell] += mass;
}

/* An (a, b, 0) law by its mean and phi: chance of `k`, and the next by p(k + 1) = p(k) (a + b / (k + 1)). */
typedef struct ab0 {
    double a, b;
    double start;
    int64_t from;
} ab0;

/* Whole trials that hold the mean, as the sampler does; for phi < 1. */
static double ab0_trials(double mean, double phi, double *chance)
{
    double trials = ceil(mean / (1.0 - phi) - 1e-9);
    *chance = fmin(mean / trials, 1.0 - 1e-12);
    return trials;
}

static double ab0_pmf(double mean, double phi, int64_t k)
{
    double chance;
    if (phi > 1.0 + 1e-6)
        return cw_negbin_pmf(k, mean / (phi - 1.0), mean);
    if (phi > 1.0 - 1e-6)
        return cw_poisson_pmf(k, mean);
    double trials = ab0_trials(mean, phi, &chance);
    return cw_binomial_pmf(k, (int64_t)trials, chance);
}

static ab0 ab0_from(double mean, double phi, int64_t from)
{
    ab0 law = { .from = from, .start = ab0_pmf(mean, phi, from) };
    if (phi > 1.0 + 1e-6) {
        law.a = (phi - 1.0) / phi;
        law.b = law.a * (mean / (phi - 1.0) - 1.0);
    } else if (phi > 1.0 - 1e-6) {
        law.b = mean;
    } else {
        double p, trials = ab0_trials(mean, phi, &p);
        law.a = -p / (1.0 - p);
        law.b = -law.a * (trials + 1.0);
    }
    return law;
}

/* A law over very many values: the chance of a stride is that of its middle value, times its length. Strides grow with the
 * distance from the first value, where a lopsided law is steepest, up to a small part of its sd, and none reaches over two
 * cells. So the work does not grow with the numbers: a lot of a million clumps costs what one of ten thousand does. */
static void add_in_strides(grid *g, double weight, double mean, double phi, int64_t from, int64_t shift,
                           double end)
{
    int64_t most = (int64_t)fmax(1.0, sqrt(mean * phi) / STRIDES_A_SD), last = (int64_t)end;
    int64_t i = from + shift < g->first ? g->first - shift : from;
    while (i < last) {
        int64_t length = 1 + (i - from) / STRIDES;
        int64_t cell_left = g->step - (i + shift - g->first) % g->step;
        length = length > most ? most : length;
        length = length > cell_left ? cell_left : length;
        add_at(g, i + shift, weight * (double)length * ab0_pmf(mean, phi, i + (length - 1) / 2));
        i += length;
    }
}

/* A node whose law is narrow or lopsided: shift + (a, b, 0), the shift and phi from three cumulants. For the
 * whole family k3 = k2 (2 phi - 1). */
static void add_lattice_law(grid *g, double weight, double k1, double k2, double k3)
{
    if (k2 < 1e-9) {
        double floor_k = floor(k1), part = k1 - floor_k;
        add_at(g, (int64_t)floor_k, weight * (1.0 - part));
        add_at(g, (int64_t)floor_k + 1, weight * part);
        return;
    }
    double phi = fmax(0.5 * (k3 / k2 + 1.0), 0.02);
    double shift = floor(fmax(0.0, k1 - k2 / phi) + 0.5);
    if (k1 - shift < 1e-9)
        shift = fmax(0.0, shift - 1.0);
    double mean = k1 - shift;
    phi = k2 / mean;
    double sd = sqrt(k2);
    int64_t from = (int64_t)fmax(0.0, floor(mean - REACH * sd - 2.0));
    double end = mean + REACH * sd + 12.0 * fmax(1.0, phi);
    if (end - (double)from > LONG) {
        add_in_strides(g, weight, mean, phi, from, (int64_t)shift, end);
        return;
    }
    ab0 law = ab0_from(mean, phi, from);
    double p = law.start;
    int64_t k = from + (int64_t)shift;
    for (double i = (double)from + 1.0; i < end; i += 1.0, k++) {
        add_at(g, k, weight * p);
        p *= law.a + law.b / i;
        if (p <= 0.0)
            break;
    }
}

/* Adds a normal density with the first Edgeworth term, four cells at a time: w is their place in standard deviations,
 * `ratio` what takes each density on by four cells, and `shrink` what takes the ratio on. */
#ifndef CW_PLAIN
CW_WIDE static void add_fours(double *mass, size_t cells, const double *at, const double *densities,
                              const double *ratios, double skew, double stride, double shrink)
{
    cw_four w, density, ratio, sum;
    memcpy(&w, at, sizeof w);
    memcpy(&density, densities, sizeof density);
    memcpy(&ratio, ratios, sizeof ratio);
    for (size_t c = 0; c < cells; c += CW_FOUR) {
        memcpy(&sum, mass + c, sizeof sum);
        cw_four lean = 1.0 + skew * w * (w * w - 3.0);
        sum += density * cw_four_positive(lean);
        memcpy(mass + c, &sum, sizeof sum);
        density *= ratio;
        ratio *= shrink;
        w += stride;
    }
}
#else /* the same, one number at a time: its twin in tests/twin */
static void add_fours(double *mass, size_t cells, const double *at, const double *densities,
                      const double *ratios, double skew, double stride, double shrink)
{
    for (size_t l = 0; l < CW_FOUR; l++) {
        double w = at[l], density = densities[l], ratio = ratios[l];
        for (size_t c = 0; c < cells; c += CW_FOUR) {
            double lean = 1.0 + skew * w * (w * w - 3.0);
            mass[c + l] += density * (lean > 0.0 ? lean : 0.0);
            density *= ratio;
            ratio *= shrink;
            w += stride;
        }
    }
}
#endif

/* Wide nodes, side by side until all are known: the cells each reaches, its first cell's place w and a cell's width d
 * in standard deviations, and the logs of phi(w) without its constant, of phi(w + d) / phi(w), and of what that falls by
 * a cell. */
typedef struct wide_nodes {
    size_t count, from[ROOM], cells[ROOM];
    double w[ROOM], d[ROOM], skew[ROOM], weight[ROOM];
    double density[ROOM], ratio[ROOM], shrink[ROOM];
} wide_nodes;

static void take_wide_node(wide_nodes *n, const grid *g, double weight, double k1, double k2, double k3)
{
    double step = (double)g->step, sd = sqrt(k2), per_sd = 1.0 / sd, d = step * per_sd, per_step = 1.0 / step;
    double middle = (double)g->first + 0.5 * (step - 1.0);
    double low = (k1 - REACH * sd - middle) * per_step, high = (k1 + REACH * sd - middle) * per_step;
    size_t from = low > 0.0 ? (size_t)low : 0;
    size_t to = high < 0.0 ? 0 : (size_t)high + 1;
    to = to > g->cells ? g->cells : to;
    if (from >= to)
        return;
    double w = (middle + (double)from * step - k1) * per_sd;
    size_t i = n->count++;
    n->from[i] = from;
    n->cells[i] = to - from;
    n->w[i] = w;
    n->d[i] = d;
    n->skew[i] = k3 * per_sd * per_sd * per_sd / 6.0;
    n->weight[i] = weight * d * ONE_OVER_SQRT_2PI;
    n->density[i] = -0.5 * w * w;
    n->ratio[i] = -d * w - 0.5 * d * d;
    n->shrink[i] = -d * d;
}

/* The density at cell middles by recurrence, phi(w + d) = phi(w) exp(-d w - d^2 / 2), in four strands. */
static void add_wide_node(grid *g, const wide_nodes *n, size_t i, double density, double ratio, double shrink)
{
    double d = n->d[i], w = n->w[i], shrink2 = shrink * shrink, shrink4 = shrink2 * shrink2,
           shrink8 = shrink4 * shrink4;
    /* exp(-stride w - stride^2 / 2), a stride being four cells */
    double ratio2 = ratio * ratio, long_ratio = ratio2 * ratio2 * shrink4 * shrink2;
    double at[CW_FOUR], densities[CW_FOUR], ratios[CW_FOUR];
    density *= n->weight[i];
    for (size_t l = 0; l < CW_FOUR; l++) {
        at[l] = w;
        densities[l] = density;
        ratios[l] = long_ratio;
        w += d;
        density *= ratio;
        ratio *= shrink;
        long_ratio *= shrink4;
    }
    add_fours(g->mass + n->from[i], n->cells[i], at, densities, ratios, n->skew[i], CW_FOUR * d,
              shrink8 * shrink8);
}

static void add_wide_nodes(grid *g, const wide_nodes *n)
{
    double density[ROOM], ratio[ROOM], shrink[ROOM];
    cw_exp_each(n->count, n->density, density);
    cw_exp_each(n->count, n->ratio, ratio);
    cw_exp_each(n->count, n->shrink, shrink);
    for (size_t i = 0; i < n->count; i++)
        add_wide_node(g, n, i, density[i], ratio[i], shrink[i]);
}

static void lay_grid(grid *g, const nodes *n)
{
    double low = INFINITY, high = 0.0;
    for (size_t j = 0; j < n->count; j++) {
        double sd = sqrt(n->k2[j]), tail = n->k2[j] > 1e-9 ? fmax(0.0, n->k3[j] / n->k2[j]) : 0.0;
        low = fmin(low, n->k1[j] - REACH * sd);
        high = fmax(high, n->k1[j] + REACH * sd + 6.0 * tail);
    }
    g->first = (int64_t)fmax(0.0, floor(low) - 1.0);
    int64_t width = (int64_t)ceil(high) + 2 - g->first;
    g->step = width <= MOST_EXACT ? 1 : (width + NARROW - 1) / NARROW;
    g->cells = (size_t)((width + g->step - 1) / g->step);
    memset(g->mass, 0, (g->cells + CW_FOUR) * sizeof *g->mass);
}

/* Turns cell masses into a distribution function; cells of no chance at both ends are cut. */
static void finish(const grid *g, double mean, double variance, cw_distribution *out)
{
    double total = 0.0;
    for (size_t c = 0; c < g->cells; c++)
        total += g->mass[c];
    size_t from = 0, to = g->cells;
    double cut = 1e-10 * total, low = 0.0, high = 0.0;
    while (from + 1 < to && low + g->mass[from] <= cut)
        low += g->mass[from++];
    while (to > from + 1 && high + g->mass[to - 1] <= cut)
        high += g->mass[--to];
    out->first = g->first + (int64_t)from * g->step;
    out->step = out->lead = g->step;
    out->atom = 0.0;
    out->cells = to - from;
    out->mean = mean;
    out->variance = variance;
    double run = low;
    for (size_t c = from; c < to; c++) {
        run += g->mass[c];
        out->cdf[c - from] = run / total;
    }
    out->cdf[out->cells - 1] = 1.0;
}

/* Binomial chances of 0 .. n, from the most likely one outwards. */
static void binomial(int64_t n, double p, double *pmf)
{
    int64_t middle = (int64_t)((double)(n + 1) * p);
    middle = middle > n ? n : middle;
    double odds = p / (1.0 - p);
    pmf[middle] = cw_binomial_pmf(middle, n, p);
    for (int64_t k = middle; k < n; k++)
        pmf[k + 1] = p < 1.0 ? pmf[k] * odds * (double)(n - k) / (double)(k + 1) : 0.0;
    for (int64_t k = middle; k > 0; k--)
        pmf[k - 1] = p < 1.0 ? pmf[k] * (double)k / (odds * (double)(n - k + 1)) : 0.0;
}

/* pmf of one cohort of few clumps at a node, without any matching: over how many stay sound, their totals.
 * `lots` is the squared relative spread of the rate between lots: it widens a total as its square.
 * inverse[k] = 1 / (k + 1). */
static size_t clumps_pmf(int64_t n, double q, double rate, double phi, double s, double lots,
                         const double *inverse, double *pmf)
{
    double thin = 1.0 + (phi - 1.0) * s, stay[FEW_CLUMPS + 1];
    size_t length = 1;
    binomial(n, q, stay);
    pmf[0] = stay[0];
    for (int64_t sound = n; sound > 0; sound--) {
        double weight = stay[sound], mean = (double)sound * rate * s;
        if (mean < 1e-12) {
            pmf[0] += weight;
            continue;
        }
        ab0 law = ab0_from(mean, thin + lots * mean, 0);
        double p = law.start;
        size_t least = mean < FEW_COUNT ? (size_t)ceil(mean) : FEW_COUNT;
        for (size_t k = 0; k < FEW_COUNT && (p > NO_CHANCE || k < least); k++) {
            if (k == length)
                pmf[length++] = 0.0;
            pmf[k] += weight * p;
            p *= law.a + law.b * inverse[k];
        }
    }
    while (length > 1 && pmf[length - 1] < NO_CHANCE)
        length--;
    return length;
}

static size_t divisions_pmf(int64_t n, double s, double *pmf)
{
    binomial(n, s, pmf);
    return (size_t)n + 1;
}

/* a := a * b, cut at FEW_COUNT; the longer one runs inside. */
CW_WIDE static size_t convolve(double *restrict a, size_t an, const double *restrict b, size_t bn)
{
    size_t n = an + bn - 1 < FEW_COUNT ? an + bn - 1 : FEW_COUNT;
    double sum[FEW_COUNT];
    const double *inner = an < bn ? b : a, *outer = an < bn ? a : b;
    size_t longer = an < bn ? bn : an, shorter = an < bn ? an : bn;
    memset(sum, 0, n * sizeof *sum);
    for (size_t i = 0; i < shorter && i < n; i++) {
        size_t most = longer < n - i ? longer : n - i;
        for (size_t k = 0; k < most; k++)
            sum[i + k] += outer[i] * inner[k];
    }
    memcpy(a, sum, n * sizeof *a);
    return n;
}

/* Few clumps and few divisions: every node's law by enumeration, cohort after cohort. */
static void exact_law(const cw_projection *p, const cohorts *c, const nodes *n, cw_distribution *out)
{
    double sum[FEW_NODES][FEW_COUNT], pmf[FEW_COUNT], inverse[FEW_COUNT];
    double total[FEW_COUNT] = { 0 }, mean = 0.0, variance = 0.0;
    size_t length[FEW_NODES], more;
    for (size_t k = 0; k < FEW_COUNT; k++)
        inverse[k] = 1.0 / ((double)k + 1.0);
    for (size_t j = 0; j < n->count; j++) {
        sum[j][0] = 1.0;
        length[j] = 1;
    }
    for (size_t i = 0; i < c->n; i++) {
        const cw_stock *t = &c->at[i];
        chances at;
        cw_projection_chances(p, c, t, n, &at);
        for (size_t j = 0; j < n->count; j++) {
            if (t->stage == CW_DIVISION)
                more = divisions_pmf(t->count, at.division[j], pmf);
            else
                more = clumps_pmf(t->count, at.clump[j], at.rate[j], n->phi[j], at.division[j], at.spread[j],
                                  inverse, pmf);
            length[j] = convolve(sum[j], length[j], pmf, more);
        }
    }
    for (size_t j = 0; j < n->count; j++)
        for (size_t k = 0; k < length[j]; k++)
            total[k] += n->weight[j] * sum[j][k];
    cw_projection_moments(n, &mean, &variance);
    cw_distribution_from_pmf(out, 0, total, FEW_COUNT);
    out->mean = mean;
    out->variance = variance;
}

/* Enumeration must hold nearly all the mass at the node with the highest mean. */
static bool are_few(const cohorts *c, const nodes *n)
{
    if (!cw_projection_is_few(c))
        return false;
    double high = 0.0;
    for (size_t j = 0; j < n->count; j++)
        high = fmax(high, n->k1[j] + REACH * sqrt(n->k2[j]) + 6.0 * fmax(1.0, n->phi[j]));
    return high < FEW_COUNT;
}

static void living_law(const cw_projection *p, const cohorts *c, cw_distribution *out, moves *of_all)
{
    if (c->n == 0) {
        cw_distribution_point(out, 0);
        return;
    }
    nodes n;
    cw_projection_nodes(p, c, &n);
    if (of_all != NULL)
        cw_projection_moves(p, c, &n, of_all);
    if (are_few(c, &n)) {
        exact_law(p, c, &n, out);
        return;
    }
    grid g;
    wide_nodes wide;
    wide.count = 0;
    lay_grid(&g, &n);
    /* A node that falls between two cells' middles, or on one, would weigh less, or more, than it does. */
    double least_sd = fmax(SMALL_SD, (double)g.step / WIDEST);
    for (size_t j = 0; j < n.count; j++) {
        double skew2 = n.k2[j] > 0.0 ? n.k3[j] * n.k3[j] / (n.k2[j] * n.k2[j] * n.k2[j]) : 0.0;
        if (n.k2[j] < least_sd * least_sd || skew2 > SKEWED)
            add_lattice_law(&g, n.weight[j], n.k1[j], n.k2[j], n.k3[j]);
        else
            take_wide_node(&wide, &g, n.weight[j], n.k1[j], n.k2[j], n.k3[j]);
    }
    add_wide_nodes(&g, &wide);
    double mean = 0.0, variance = 0.0;
    cw_projection_moments(&n, &mean, &variance);
    finish(&g, mean, variance, out);
}

#define MOST_DEAD    3    /* lots with whole clumps of which every combination is looked at */
#define MOST_COHORTS 64   /* of a variety of which lots may be dead */
#define RARE         1e-4 /* a combination less likely is left out */

/* Lots with whole clumps that may be dead; more than MOST_DEAD: the rest counts as living. */
static size_t may_be_dead(const cw_projection *p, const cohorts *c, size_t *lot)
{
    size_t n = 0;
    for (size_t i = 0; i < c->n && n < MOST_DEAD; i++)
        if (c->at[i].stage == CW_CLUMP && p->in.dead[c->at[i].lot] > 0.0 &&
            (n == 0 || lot[n - 1] != c->at[i].lot))
            lot[n++] = c->at[i].lot;
    return n;
}

/* The law with the clumps of the lots in `mask` gone. */
static void law_without(const cw_projection *p, const cohorts *c, const size_t *lot, size_t lots,
                        unsigned mask, cw_distribution *out, moves *of_all)
{
    cw_stock left[MOST_COHORTS];
    cohorts rest = *c;
    rest.at = left;
    rest.n = 0;
    for (size_t i = 0; i < c->n; i++) {
        bool gone = false;
        for (size_t k = 0; k < lots; k++)
            gone = gone || ((mask >> k & 1u) && c->at[i].stage == CW_CLUMP && c->at[i].lot == lot[k]);
        if (!gone)
            left[rest.n++] = c->at[i];
    }
    living_law(p, &rest, out, of_all);
}

void cw_projection_law(const cw_projection *p, const cohorts *c, cw_distribution *out, moves *of_all)
{
    cw_distribution part[1u << MOST_DEAD];
    const cw_distribution *of[1u << MOST_DEAD];
    double weight[1u << MOST_DEAD], total = 0.0;
    size_t lot[MOST_DEAD], n = 0;
    size_t lots = p->in.dead == NULL || c->n > MOST_COHORTS ? 0 : may_be_dead(p, c, lot);
    if (lots == 0) {
        living_law(p, c, out, of_all);
        return;
    }
    for (unsigned mask = 0; mask < 1u << lots; mask++) {
        double chance = 1.0;
        for (size_t k = 0; k < lots; k++)
            chance *= mask >> k & 1u ? p->in.dead[lot[k]] : 1.0 - p->in.dead[lot[k]];
        if (chance < RARE)
            continue;
        law_without(p, c, lot, lots, mask, &part[n], mask == 0 ? of_all : NULL);
        of[n] = &part[n];
        weight[n++] = chance;
        total += chance;
    }
    for (size_t i = 0; i < n; i++)
        weight[i] /= total;
    cw_distribution_mix(of, weight, n, out);
}

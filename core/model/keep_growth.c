/* SPDX-License-Identifier: MIT */
/* From plants to next spring's divisions: expectations over the law of N' as weights on nodes. */
#include "model/keep_inside.h"

#include "model/special.h"
#include "model/wide.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define GROW   22.0 /* nodes: every whole number up to twice this, then steps of at / GROW */
#define REACH  5.5  /* sds of a law that are summed */
#define HERMIT 9
#define STEP                                                                                                 \
    0.75 /* sds: Poisson's summation of a normal law is then right to 2 exp(-2 pi^2 / STEP^2), 1e-15 */
#define STEPS 64 /* at most so many of them are within reach: 24 from a sd of 5 on */

/* Gauss-Hermite, weight exp(-x^2): Abramowitz & Stegun 25.46, n = 9. */
static const double hermite_at[HERMIT] = {
    -3.190993201781528, -2.266580584531843, -1.468553289216668, -0.723551018752838, 0.0,
    0.723551018752838,  1.468553289216668,  2.266580584531843,  3.190993201781528
};
static const double hermite_weight[HERMIT] = { 3.960697726326438e-05, 0.004943624275536947,
                                               0.08847452739437657,   0.4326515590025558,
                                               0.7202352156060510,    0.4326515590025558,
                                               0.08847452739437657,   0.004943624275536947,
                                               3.960697726326438e-05 };
#define ROOT_PI 1.772453850905516

void cw_keep_nodes_to(cw_keep_nodes *out, double last)
{
    double x = 0;
    out->n = 0;
    for (; x < last && out->n < CW_KEEP_NODES - 1; x += fmax(1, floor(x / GROW)))
        out->at[out->n++] = x;
    out->at[out->n++] = fmax(last, 0);
}

void cw_keep_between_at(const cw_keep_nodes *nodes, double x, cw_keep_between *out)
{
    size_t low = 0, high = nodes->n - 1, same = x >= 0 && x < (double)nodes->n ? (size_t)x : 0;
    if (nodes->at[same] == x) { /* most nodes are whole numbers from 0 on */
        *out = (cw_keep_between){ same, 1, { 1, 0, 0, 0 } };
        return;
    }
    if (x <= nodes->at[0] || nodes->n == 1 || x >= nodes->at[high]) {
        *out = (cw_keep_between){ x <= nodes->at[0] ? 0 : high, 1, { 1, 0, 0, 0 } };
        return;
    }
    while (high - low > 1) {
        size_t middle = (low + high) / 2;
        if (nodes->at[middle] <= x)
            low = middle;
        else
            high = middle;
    }
    if (nodes->at[low] >= x) {
        *out = (cw_keep_between){ low, 1, { 1, 0, 0, 0 } };
        return;
    }
    size_t first = low > 0 ? low - 1 : 0, count = nodes->n < 4 ? nodes->n : 4;
    if (first + count > nodes->n)
        first = nodes->n - count;
    *out = (cw_keep_between){ first, count, { 0 } };
    for (size_t i = 0; i < count; i++) {
        out->w[i] = 1;
        for (size_t j = 0; j < count; j++)
            if (j != i)
                out->w[i] *= (x - nodes->at[first + j]) / (nodes->at[first + i] - nodes->at[first + j]);
    }
}

/* Nodes that are asked for in nearly ascending order, thousands of times: the search begins where the last one ended, and what a
 * cubic divides by is worked out once for each four nodes. */
typedef struct ruler {
    const cw_keep_nodes *nodes;
    size_t low;
    double part[CW_KEEP_NODES]
               [4]; /* 1 / product of a node's distances to the three others, by the first of the four */
} ruler;

static void ruler_of(const cw_keep_nodes *nodes, ruler *out)
{
    out->nodes = nodes;
    out->low = 0;
    for (size_t first = 0; first + 4 <= nodes->n; first++) {
        const double *at = nodes->at + first;
        for (int i = 0; i < 4; i++) {
            double product = 1;
            for (int j = 0; j < 4; j++)
                product *= j == i ? 1 : at[i] - at[j];
            out->part[first][i] = 1 / product;
        }
    }
}

/* As cw_keep_between_at, or straight between the two nodes beside x. */
static void ruler_at(ruler *r, double x, bool straight, cw_keep_between *out)
{
    const cw_keep_nodes *nodes = r->nodes;
    const double *at = nodes->at;
    size_t same = x >= 0 && x < (double)nodes->n ? (size_t)x : 0;
    if (at[same] == x) { /* most nodes are whole numbers from 0 on */
        *out = (cw_keep_between){ same, 1, { 1, 0, 0, 0 } };
        return;
    }
    if (nodes->n < 4 || x <= at[0] || x >= at[nodes->n - 1]) {
        cw_keep_between_at(nodes, x, out);
        if (!straight || out->count == 1)
            return;
    }
    while (at[r->low] > x)
        r->low--;
    while (r->low + 2 < nodes->n && at[r->low + 1] <= x)
        r->low++;
    size_t low = r->low, first = low > 0 ? low - 1 : 0;
    if (at[low] == x) {
        *out = (cw_keep_between){ low, 1, { 1, 0, 0, 0 } };
        return;
    }
    if (straight) {
        double part = (x - at[low]) / (at[low + 1] - at[low]);
        *out = (cw_keep_between){ low, 2, { 1 - part, part, 0, 0 } };
        return;
    }
    first = first + 4 > nodes->n ? nodes->n - 4 : first;
    const double *part = r->part[first];
    double a = x - at[first], b = x - at[first + 1], c = x - at[first + 2], d = x - at[first + 3];
    *out = (cw_keep_between){
        first, 4, { b * c * d * part[0], a * c * d * part[1], a * b * d * part[2], a * b * c * part[3] }
    };
}

typedef struct builder {
    bool straight;
    double dispersion, last;
    ruler n;
} builder;

static void put(builder *b, double x, double weight, double *row, size_t *from, size_t *to)
{
    cw_keep_between at;
    ruler_at(&b->n, x, b->straight, &at);
    for (size_t j = 0; j < at.count; j++)
        row[at.first + j] += weight * at.w[j];
    *from = at.first < *from ? at.first : *from;
    *to = at.first + at.count > *to ? at.first + at.count : *to;
}

#define POISSON 1e-6 /* a dispersion nearer to 1 is that of Poisson */

/* log(y!) without what is alike in all weights of a law: Stirling's, to 3e-7 from 5 on (Abramowitz & Stegun 6.1.41). */
static double stirling(double y)
{
    return (1.0 / 12 - 1 / (360 * y * y)) / y;
}

/* log of a chance of x, but for a figure that is the same for all x of the law: by logs of x and the mean, for x well above 0. */
static double log_chance(double x, double mean, double dispersion)
{
    double y = x + 1, sum = -(x + 0.5) * log(y / mean) - stirling(y);
    if (dispersion <= 1 + POISSON)
        return sum + x;
    double size = mean / (dispersion - 1);
    return sum + (x + size - 0.5) * log((x + size) / (mean + size)) + stirling(x + size);
}

static double chance_of(double x, double mean, double dispersion)
{
    return dispersion > 1 + POISSON ? cw_negbin_pmf((int64_t)x, mean / (dispersion - 1), mean)
                                    : cw_poisson_pmf((int64_t)x, mean);
}

/* P(x + 1) / P(x) of the same law. */
static double ratio_of(double x, double mean, double dispersion)
{
    if (dispersion <= 1 + POISSON)
        return mean / (x + 1);
    return (x + mean / (dispersion - 1)) / (x + 1) * (1 - 1 / dispersion);
}

/* The law of N' given its mean: every whole number where 0 is within reach, else at steps of 3/4 of its sd, which for a smooth
 * law is as good (Poisson's summation). Weights are brought to sum 1. */
static void law_row(builder *b, double mean, double *row, size_t *from, size_t *to)
{
    double certain = b->dispersion < 1 ? (1 - b->dispersion) * mean : 0, random = mean - certain;
    double phi = fmax(1, b->dispersion), sd = sqrt(phi * random), last = b->last;
    if (random < 1e-9 || mean - REACH * sd >= last) {
        put(b, fmin(mean, last), 1, row, from, to);
        return;
    }
    double low = floor(random - REACH * sd), step = low > 0 ? fmax(1, floor(STEP * sd)) : 1;
    double high = ceil(random + (REACH + 3 * phi / sd) * sd), sum = 0, weight = 0;
    low = fmax(0, low);
    if (step > 1) {
        double logs[STEPS], chance[STEPS], same = log_chance(random, random, phi);
        size_t n = 0;
        for (double x = low; x <= high && n < STEPS; x += step)
            logs[n++] = log_chance(x, random, phi) - same;
        cw_exp_each(n, logs, chance);
        for (size_t i = 0; i < n; i++) {
            sum += chance[i];
            put(b, fmin(certain + low + step * (double)i, last), chance[i], row, from, to);
        }
    }
    for (double x = low; step <= 1 && x <= high; x++) {
        weight = x == low ? chance_of(x, random, phi) : weight * ratio_of(x - 1, random, phi);
        sum += weight;
        put(b, fmin(certain + x, last), weight, row, from, to);
    }
    for (size_t j = *from; j < *to; j++)
        row[j] /= sum;
}

/* Means at which the law is worked out; between them it is drawn on a cubic. Steps of a third of a Poisson sd, or of 1/22 where that is more. */
static void means_to(cw_keep_nodes *out, double last)
{
    out->n = 0;
    for (double x = 0; x < last && out->n < CW_KEEP_NODES - 1;) {
        out->at[out->n++] = x;
        double root = sqrt(x) + 0.15;
        x = fmax(x * (1 + 1 / GROW), root * root);
    }
    out->at[out->n++] = last;
}

/* Rows of weights, each with the stretch that is not zero. */
typedef struct table {
    size_t columns;
    double *weight;
    size_t *from, *to;
} table;

static bool table_new(table *t, size_t rows, size_t columns)
{
    t->columns = columns;
    t->from = calloc(rows, sizeof *t->from);
    t->to = calloc(rows, sizeof *t->to);
    t->weight = calloc(rows * columns, sizeof *t->weight);
    for (size_t i = 0; t->from && i < rows; i++)
        t->from[i] = columns;
    return t->from && t->to && t->weight;
}

static void table_free(table *t)
{
    free(t->from);
    free(t->to);
    free(t->weight);
}

void cw_keep_move_free(cw_keep_move *m)
{
    free(m->row);
    free(m->weight);
    *m = (cw_keep_move){ 0 };
}

CW_WIDE static void add_times(size_t n, double by, const double *restrict from, double *restrict to)
{
    for (size_t j = 0; j < n; j++)
        to[j] += by * from[j];
}

static void add_row(const table *law, size_t mean, double weight, table *out, size_t row)
{
    const double *from = law->weight + mean * law->columns;
    double *to = out->weight + row * out->columns;
    size_t first = law->from[mean];
    add_times(law->to[mean] - first, weight, from + first, to + first);
    out->from[row] = law->from[mean] < out->from[row] ? law->from[mean] : out->from[row];
    out->to[row] = law->to[mean] > out->to[row] ? law->to[mean] : out->to[row];
}

/* Keeps of a table what is not zero, in single precision: a nursery has thousands of them. */
static cw_code packed(const table *t, size_t rows, cw_keep_move *out, cw_error *err)
{
    size_t total = 0;
    for (size_t i = 0; i < rows; i++)
        total += t->to[i] - t->from[i];
    *out = (cw_keep_move){ .rows = rows };
    out->row = calloc(rows, sizeof *out->row);
    out->weight = calloc(total, sizeof *out->weight);
    if (out->row == NULL || out->weight == NULL) {
        cw_keep_move_free(out);
        return cw_error_memory(err);
    }
    for (size_t i = 0, at = 0; i < rows; i++) {
        out->row[i] = (cw_keep_row){ t->from[i], t->to[i] - t->from[i], at };
        for (size_t j = t->from[i]; j < t->to[i]; j++)
            out->weight[at++] = (float)t->weight[i * t->columns + j];
    }
    return CW_OK;
}

/* The law of N' at plants p, the unknown of the season summed over. */
static void plant_row(const cw_keep_ask *ask, bool straight, ruler *mean, const table *law, double p,
                      table *out, size_t row)
{
    double s = ask->growth_sd;
    for (int q = 0; q < HERMIT; q++) {
        if (s <= 0 && q != HERMIT / 2)
            continue;
        cw_keep_between at;
        double e = s > 0 ? exp(-0.5 * s * s + s * sqrt(2) * hermite_at[q]) : 1;
        double weight = s > 0 ? hermite_weight[q] / ROOT_PI : 1;
        ruler_at(mean, ask->growth * p * e, straight, &at);
        for (size_t j = 0; j < at.count; j++)
            add_row(law, at.first + j, weight * at.w[j], out, row);
    }
}

cw_code cw_keep_move_make(const cw_keep_ask *ask, const cw_keep_nodes *planted, const cw_keep_nodes *n,
                          bool straight, cw_keep_move *out, cw_error *err)
{
    table law = { 0 }, all = { 0 };
    cw_keep_nodes mean;
    builder b = { .straight = straight, .dispersion = ask->growth_dispersion, .last = n->at[n->n - 1] };
    ruler means;
    double top = ask->growth * planted->at[planted->n - 1] * exp(4.6 * ask->growth_sd);
    *out = (cw_keep_move){ 0 };
    means_to(&mean, fmax(1, fmin(top, b.last + 12 * sqrt(fmax(1, b.dispersion) * (b.last + 12)) + 12)));
    ruler_of(n, &b.n);
    ruler_of(&mean, &means);
    bool made = table_new(&law, mean.n, n->n) && table_new(&all, planted->n, n->n);
    for (size_t i = 0; made && i < mean.n; i++)
        law_row(&b, mean.at[i], law.weight + i * law.columns, &law.from[i], &law.to[i]);
    for (size_t i = 0; made && i < planted->n; i++)
        plant_row(ask, straight, &means, &law, planted->at[i], &all, i);
    cw_code code = made ? packed(&all, planted->n, out, err) : cw_error_memory(err);
    table_free(&law);
    table_free(&all);
    return code;
}

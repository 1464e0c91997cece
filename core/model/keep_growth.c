/* SPDX-License-Identifier: MIT */
/* From plants to next spring's divisions: expectations over the law of N' as weights on nodes. */
#include "model/keep_inside.h"

#include "model/special.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define GROW   22.0 /* nodes: every whole number up to twice this, then steps of at / GROW */
#define REACH  5.5  /* sds of a law that are summed */
#define HERMIT 9

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

/* The same, straight between the two nodes beside x. */
static void straight_at(const cw_keep_nodes *nodes, double x, cw_keep_between *out)
{
    cw_keep_between_at(nodes, x, out);
    if (out->count == 1)
        return;
    size_t low = out->first;
    while (nodes->at[low + 1] < x)
        low++;
    double part = (x - nodes->at[low]) / (nodes->at[low + 1] - nodes->at[low]);
    *out = (cw_keep_between){ low, 2, { 1 - part, part, 0, 0 } };
}

typedef struct builder {
    const cw_keep_nodes *n;
    bool straight;
    double dispersion;
} builder;

static void put(const builder *b, double x, double weight, double *row, size_t *from, size_t *to)
{
    cw_keep_between at;
    if (b->straight)
        straight_at(b->n, x, &at);
    else
        cw_keep_between_at(b->n, x, &at);
    for (size_t j = 0; j < at.count; j++)
        row[at.first + j] += weight * at.w[j];
    *from = at.first < *from ? at.first : *from;
    *to = at.first + at.count > *to ? at.first + at.count : *to;
}

static double chance_of(double x, double mean, double dispersion)
{
    return dispersion > 1 + 1e-9 ? cw_negbin_pmf((int64_t)x, mean / (dispersion - 1), mean)
                                 : cw_poisson_pmf((int64_t)x, mean);
}

/* P(x + 1) / P(x) of the same law. */
static double ratio_of(double x, double mean, double dispersion)
{
    if (dispersion <= 1 + 1e-9)
        return mean / (x + 1);
    return (x + mean / (dispersion - 1)) / (x + 1) * (1 - 1 / dispersion);
}

/* The law of N' given its mean: every whole number where 0 is within reach, else at steps of half its sd, which for a smooth
 * law is as good (Poisson's summation). Weights are brought to sum 1. */
static void law_row(const builder *b, double mean, double *row, size_t *from, size_t *to)
{
    double certain = b->dispersion < 1 ? (1 - b->dispersion) * mean : 0, random = mean - certain;
    double phi = fmax(1, b->dispersion), sd = sqrt(phi * random), last = b->n->at[b->n->n - 1];
    if (random < 1e-9 || mean - REACH * sd >= last) {
        put(b, fmin(mean, last), 1, row, from, to);
        return;
    }
    double low = floor(random - REACH * sd), step = low > 0 ? fmax(1, floor(0.5 * sd)) : 1;
    double high = ceil(random + (REACH + 3 * phi / sd) * sd), sum = 0, weight = 0;
    low = fmax(0, low);
    for (double x = low; x <= high; x += step) {
        weight = step > 1 || x == low ? chance_of(x, random, phi) : weight * ratio_of(x - 1, random, phi);
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

static void add_row(const table *law, size_t mean, double weight, table *out, size_t row)
{
    const double *from = law->weight + mean * law->columns;
    double *to = out->weight + row * out->columns;
    for (size_t j = law->from[mean]; j < law->to[mean]; j++)
        to[j] += weight * from[j];
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
static void plant_row(const cw_keep_ask *ask, const builder *b, const cw_keep_nodes *mean, const table *law,
                      double p, table *out, size_t row)
{
    double s = ask->growth_sd;
    for (int q = 0; q < HERMIT; q++) {
        if (s <= 0 && q != HERMIT / 2)
            continue;
        cw_keep_between at;
        double e = s > 0 ? exp(-0.5 * s * s + s * sqrt(2) * hermite_at[q]) : 1;
        double weight = s > 0 ? hermite_weight[q] / ROOT_PI : 1;
        if (b->straight)
            straight_at(mean, ask->growth * p * e, &at);
        else
            cw_keep_between_at(mean, ask->growth * p * e, &at);
        for (size_t j = 0; j < at.count; j++)
            add_row(law, at.first + j, weight * at.w[j], out, row);
    }
}

cw_code cw_keep_move_make(const cw_keep_ask *ask, const cw_keep_nodes *planted, const cw_keep_nodes *n,
                          bool straight, cw_keep_move *out, cw_error *err)
{
    table law = { 0 }, all = { 0 };
    cw_keep_nodes mean;
    builder b = { n, straight, ask->growth_dispersion };
    double top = ask->growth * planted->at[planted->n - 1] * exp(4.6 * ask->growth_sd);
    double last = n->at[n->n - 1];
    *out = (cw_keep_move){ 0 };
    means_to(&mean, fmax(1, fmin(top, last + 12 * sqrt(fmax(1, b.dispersion) * (last + 12)) + 12)));
    bool made = table_new(&law, mean.n, n->n) && table_new(&all, planted->n, n->n);
    for (size_t i = 0; made && i < mean.n; i++)
        law_row(&b, mean.at[i], law.weight + i * law.columns, &law.from[i], &law.to[i]);
    for (size_t i = 0; made && i < planted->n; i++)
        plant_row(ask, &b, &mean, &law, planted->at[i], &all, i);
    cw_code code = made ? packed(&all, planted->n, out, err) : cw_error_memory(err);
    table_free(&law);
    table_free(&all);
    return code;
}

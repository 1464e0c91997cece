/* SPDX-License-Identifier: MIT */
#include "model/distribution.h"

#include <assert.h>
#include <math.h>

#include "base/banned.h"

#define NO_CHANCE 1e-12 /* tails below this are cut */

void cw_distribution_point(cw_distribution *d, int64_t k)
{
    d->first = k;
    d->step = 1;
    d->cells = 1;
    d->mean = (double)k;
    d->variance = 0.0;
    d->cdf[0] = 1.0;
}

void cw_distribution_from_pmf(cw_distribution *d, int64_t first, const double *pmf, size_t n)
{
    double sum = 0.0, mean = 0.0, square = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += pmf[i];
    assert(sum > 0.0);
    size_t from = 0, to = n;
    for (double tail = 0.0; from + 1 < to && (tail += pmf[from]) <= NO_CHANCE * sum;)
        from++;
    for (double tail = 0.0; to > from + 1 && (tail += pmf[to - 1]) <= NO_CHANCE * sum;)
        to--;
    for (size_t i = from; i < to; i++)
        mean += (double)i * pmf[i];
    mean /= sum;
    for (size_t i = from; i < to; i++)
        square += ((double)i - mean) * ((double)i - mean) * pmf[i];
    d->mean = (double)first + mean;
    d->variance = square / sum;
    d->first = first + (int64_t)from;
    d->step = (int64_t)((to - from + CW_DISTRIBUTION_CELLS - 1) / CW_DISTRIBUTION_CELLS);
    d->cells = (to - from + (size_t)d->step - 1) / (size_t)d->step;
    double run = 0.0;
    for (size_t i = from, c = 0; c < d->cells; c++) {
        for (int64_t s = 0; s < d->step && i < to; s++)
            run += pmf[i++];
        d->cdf[c] = fmin(1.0, run / sum);
    }
    d->cdf[d->cells - 1] = 1.0;
}

int64_t cw_distribution_last(const cw_distribution *d)
{
    return d->first + (int64_t)d->cells * d->step - 1;
}

void cw_distribution_mix(const cw_distribution *const *of, const double *weight, size_t n,
                         cw_distribution *out)
{
    int64_t first = of[0]->first, last = cw_distribution_last(of[0]);
    double square = 0.0;
    out->mean = 0.0;
    for (size_t i = 0; i < n; i++) {
        int64_t end = cw_distribution_last(of[i]);
        first = of[i]->first < first ? of[i]->first : first;
        last = end > last ? end : last;
        out->mean += weight[i] * of[i]->mean;
    }
    for (size_t i = 0; i < n; i++) {
        double off = of[i]->mean - out->mean;
        square += weight[i] * (of[i]->variance + off * off);
    }
    out->variance = square;
    out->first = first;
    out->step = (last - first) / CW_DISTRIBUTION_CELLS + 1;
    out->cells = (size_t)((last - first) / out->step) + 1;
    for (size_t c = 0; c < out->cells; c++) {
        out->cdf[c] = 0.0;
        for (size_t i = 0; i < n; i++)
            out->cdf[c] += weight[i] * cw_distribution_cdf(of[i], first + (int64_t)(c + 1) * out->step - 1);
    }
    out->cdf[out->cells - 1] = 1.0;
}

double cw_distribution_cdf(const cw_distribution *d, int64_t k)
{
    if (k < d->first)
        return 0.0;
    int64_t past = k - d->first + 1, cell = past / d->step, part = past % d->step;
    if (cell >= (int64_t)d->cells)
        return 1.0;
    double below = cell > 0 ? d->cdf[cell - 1] : 0.0;
    return below + (d->cdf[cell] - below) * (double)part / (double)d->step;
}

double cw_distribution_pmf(const cw_distribution *d, int64_t k)
{
    return cw_distribution_cdf(d, k) - cw_distribution_cdf(d, k - 1);
}

double cw_distribution_at_least(const cw_distribution *d, int64_t k)
{
    return 1.0 - cw_distribution_cdf(d, k - 1);
}

/* The value in a cell at which p is reached. */
static int64_t within(const cw_distribution *d, size_t cell, double p)
{
    int64_t start = d->first + (int64_t)cell * d->step;
    if (d->step == 1)
        return start;
    double below = cell > 0 ? d->cdf[cell - 1] : 0.0, mass = d->cdf[cell] - below;
    double part = mass > 0.0 ? ceil((p - below) / mass * (double)d->step - 1e-9) : 1.0;
    part = fmin(fmax(part, 1.0), (double)d->step);
    return start + (int64_t)part - 1;
}

int64_t cw_distribution_quantile(const cw_distribution *d, double p)
{
    size_t low = 0, high = d->cells - 1;
    while (low < high) {
        size_t mid = (low + high) / 2;
        if (d->cdf[mid] >= p)
            high = mid;
        else
            low = mid + 1;
    }
    return within(d, low, p);
}

#define STOPS 256

void cw_distribution_quantiles(const cw_distribution *d, size_t n, const double *p, int32_t *out)
{
    size_t stop[STOPS]; /* the cell in which i / STOPS is reached: from there it is not far */
    for (size_t i = 0, cell = 0; i < STOPS; i++) {
        while (cell + 1 < d->cells && d->cdf[cell] < (double)i / STOPS)
            cell++;
        stop[i] = cell;
    }
    for (size_t i = 0; i < n; i++) {
        size_t cell = stop[(size_t)(p[i] * STOPS)];
        while (cell + 1 < d->cells && d->cdf[cell] < p[i])
            cell++;
        out[i] = (int32_t)within(d, cell, p[i]);
    }
}

double cw_distribution_short_of(const cw_distribution *d, int64_t q)
{
    /* E max(0, q - X) = sum of F(k) for k < q; within a cell F is a straight line. */
    double sum = 0.0, below = 0.0;
    double step = (double)d->step;
    for (size_t c = 0; c < d->cells; c++) {
        int64_t start = d->first + (int64_t)c * d->step;
        if (start >= q)
            return sum;
        double n = (double)(q - start < d->step ? q - start : d->step);
        sum += n * below + (d->cdf[c] - below) * n * (n + 1.0) / (2.0 * step);
        below = d->cdf[c];
    }
    int64_t end = cw_distribution_last(d) + 1;
    return q > end ? sum + (double)(q - end) : sum;
}

double cw_distribution_left_over(const cw_distribution *d, int64_t q)
{
    /* X - q = max(0, X - q) - max(0, q - X). */
    return fmax(0.0, d->mean - (double)q + cw_distribution_short_of(d, q));
}

void cw_distribution_less(const cw_distribution *d, int64_t less, cw_distribution *out)
{
    assert(less >= 0);
    if (out != d)
        *out = *d;
    if (less <= d->first) {
        out->first -= less;
        out->mean -= (double)less;
        return;
    }
    if (less > cw_distribution_last(d)) {
        cw_distribution_point(out, 0);
        return;
    }
    /* The cells up to `less` fall on 0; a cell cut in two keeps its step by moving its mass to whole numbers.
     */
    double mean = cw_distribution_left_over(d, less);
    double second = d->variance + (d->mean - (double)less) * (d->mean - (double)less), lost = 0.0;
    for (int64_t k = d->first; k < less; k++)
        lost += cw_distribution_pmf(d, k) * (double)(less - k) * (double)(less - k);
    size_t cells = 0;
    double cdf[CW_DISTRIBUTION_CELLS];
    for (int64_t end = d->step - 1; cells < CW_DISTRIBUTION_CELLS; end += d->step) {
        cdf[cells] = cw_distribution_cdf(d, less + end);
        if (cdf[cells++] >= 1.0)
            break;
    }
    for (size_t c = 0; c < cells; c++)
        out->cdf[c] = cdf[c];
    out->first = 0;
    out->step = d->step;
    out->cells = cells;
    out->cdf[cells - 1] = 1.0;
    out->mean = mean;
    out->variance = fmax(0.0, second - lost - mean * mean);
}

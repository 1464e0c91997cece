/* SPDX-License-Identifier: MIT */
#include "model/distribution.h"

#include "model/wide.h"

#include <assert.h>
#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "base/banned.h"

#define NO_CHANCE 1e-12 /* tails below this are cut */
#define RUN       64    /* numbers whose chances are worked out at once */

void cw_distribution_point(cw_distribution *d, int64_t k)
{
    d->first = k;
    d->step = d->lead = 1;
    d->atom = 0.0;
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
    d->step = d->lead = (int64_t)((to - from + CW_DISTRIBUTION_CELLS - 1) / CW_DISTRIBUTION_CELLS);
    d->atom = 0.0;
    d->cells = (to - from + (size_t)d->step - 1) / (size_t)d->step;
    double run = 0.0;
    for (size_t i = from, c = 0; c < d->cells; c++) {
        for (int64_t s = 0; s < d->step && i < to; s++)
            run += pmf[i++];
        d->cdf[c] = fmin(1.0, run / sum);
    }
    d->cdf[d->cells - 1] = 1.0;
}

cw_distribution_span cw_distribution_cell(const cw_distribution *d, size_t i)
{
    if (i == 0)
        return (cw_distribution_span){ d->first, d->lead, d->atom };
    return (cw_distribution_span){ d->first + d->lead + (int64_t)(i - 1) * d->step, d->step, d->cdf[i - 1] };
}

int64_t cw_distribution_last(const cw_distribution *d)
{
    return d->first + d->lead + (int64_t)(d->cells - 1) * d->step - 1;
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
    out->step = out->lead = (last - first) / CW_DISTRIBUTION_CELLS + 1;
    out->cells = (size_t)((last - first) / out->step) + 1;
    out->atom = 0.0;
    for (size_t i = 0; i < n; i++)
        out->atom += of[i]->first == first ? weight[i] * of[i]->atom : 0.0;
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
    int64_t past = k - d->first + 1;
    size_t at = past <= d->lead ? 0 : 1 + (size_t)((past - d->lead - 1) / d->step);
    if (at >= d->cells)
        return 1.0;
    cw_distribution_span c = cw_distribution_cell(d, at);
    int64_t n = k - c.start + 1;
    return n == c.width ? d->cdf[at] : c.below + (d->cdf[at] - c.below) * (double)n / (double)c.width;
}

/* As many cells as there are in `n` numbers, from the k-th of cell `at` (k >= 1): what lies below each number's cell, and what is
 * to be parted by its width. */
static size_t cells_of(const cw_distribution *d, size_t *at, int64_t k, size_t n, double *below, double *part)
{
    size_t i = 0;
    for (; *at < d->cells; ++*at, k = 1) {
        double under = d->cdf[*at - 1], mass = d->cdf[*at] - under;
        for (; k < d->step && i < n; k++, i++) {
            below[i] = under;
            part[i] = mass * (double)k;
        }
        if (i == n)
            break;
        below[i] = d->cdf[*at];
        part[i++] = 0.0;
    }
    return i;
}

CW_WIDE static void divide(size_t n, const double *restrict part, double by, double *restrict sum)
{
    for (size_t i = 0; i < n; i++)
        sum[i] += part[i] / by;
}

void cw_distribution_cdfs(const cw_distribution *d, int64_t from, size_t n, double *out)
{
    size_t i = 0;
    double part[RUN];
    for (; i < n && from + (int64_t)i < d->first + d->lead; i++)
        out[i] = cw_distribution_cdf(d, from + (int64_t)i);
    int64_t past = from + (int64_t)i - d->first - d->lead; /* numbers past the first cell */
    size_t at = i < n ? 1 + (size_t)(past / d->step) : 0;
    int64_t k = i < n ? past % d->step + 1 : 1;
    while (i < n && at < d->cells) {
        size_t many = cells_of(d, &at, k, n - i < RUN ? n - i : RUN, out + i, part);
        divide(many, part, (double)d->step, out + i);
        i += many;
        past += (int64_t)many;
        k = past % d->step + 1;
    }
    for (; i < n; i++)
        out[i] = 1.0;
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
static int64_t within(const cw_distribution *d, size_t at, double p)
{
    cw_distribution_span c = cw_distribution_cell(d, at);
    if (c.width == 1)
        return c.start;
    double mass = d->cdf[at] - c.below;
    double part = mass > 0.0 ? ceil((p - c.below) / mass * (double)c.width - 1e-9) : 1.0;
    part = fmin(fmax(part, 1.0), (double)c.width);
    return c.start + (int64_t)part - 1;
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
    double sum = 0.0;
    for (size_t i = 0; i < d->cells; i++) {
        cw_distribution_span c = cw_distribution_cell(d, i);
        if (c.start >= q)
            return sum;
        double n = (double)(q - c.start < c.width ? q - c.start : c.width);
        sum += n * c.below + (d->cdf[i] - c.below) * n * (n + 1.0) / (2.0 * (double)c.width);
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
    /* What lies below `less` falls on 0 and stands there by itself; what is left of the cell in which `less` lies is the first,
     * and the others stay as they are. */
    double mean = cw_distribution_left_over(d, less), atom = cw_distribution_cdf(d, less - 1);
    /* Its square from the side on which there is less to add: a difference of large sums would keep few digits. */
    bool above = (double)less > d->mean;
    double second = above ? 0.0 : d->variance + (d->mean - (double)less) * (d->mean - (double)less);
    int64_t from = above ? less + 1 : d->first, to = above ? cw_distribution_last(d) + 1 : less;
    double before = cw_distribution_cdf(d, from - 1), cdf[RUN];
    for (int64_t k = from, i = RUN; k < to; k++, i++) {
        if (i == RUN) {
            cw_distribution_cdfs(d, k, RUN, cdf);
            i = 0;
        }
        double chance = cdf[i] - before;
        before = cdf[i];
        second += (above ? 1.0 : -1.0) * chance * (double)(k - less) * (double)(k - less);
    }
    size_t at = 0;
    while (cw_distribution_cell(d, at).start + cw_distribution_cell(d, at).width <= less)
        at++;
    out->lead = cw_distribution_cell(d, at).start + cw_distribution_cell(d, at).width - less;
    out->atom = atom;
    out->cells = d->cells - at;
    out->first = 0;
    memmove(out->cdf, d->cdf + at, out->cells * sizeof *out->cdf);
    out->mean = mean;
    out->variance = fmax(0.0, second - mean * mean);
}

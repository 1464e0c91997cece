/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_DISTRIBUTION_H
#define CW_MODEL_DISTRIBUTION_H

#include <stddef.h>
#include <stdint.h>

/* How likely is each whole number of divisions?
 *
 * A compact distribution function of a count that is never negative: plain data of fixed size, copied by `=`.
 * With step 1 every whole number has its own cell and nothing is rounded; a wide distribution groups `step`
 * numbers in a cell and spreads the cell's probability evenly over them. The first cell may be narrower, and its lowest number
 * may have a chance of its own: what is left when more is taken away than there is lies at 0, not near it.
 *
 *     cdf[i] = P(X <= first + lead - 1 + i * step),  i = 0 .. cells - 1,  cdf[cells - 1] = 1;  P(X < first) = 0
 *
 * `mean` and `variance` are those of the law it was made from, not of the grid. */
#define CW_DISTRIBUTION_CELLS 512

typedef struct cw_distribution {
    int64_t first; /* lowest value with any chance */
    int64_t step;  /* whole numbers per cell, >= 1 */
    int64_t lead;  /* and in the first cell, 1 .. step */
    double atom;   /* chance of `first` beside what the first cell spreads over its numbers, 0 .. cdf[0] */
    size_t cells;  /* 1 .. CW_DISTRIBUTION_CELLS */
    double mean;
    double variance;
    double cdf[CW_DISTRIBUTION_CELLS];
} cw_distribution;

/* One cell: its lowest number, how many numbers it spreads its chance over, and the chance of all that is not above what it spreads:
 * of cell 0 that is the atom, which lies at its lowest number. */
typedef struct cw_distribution_span {
    int64_t start, width;
    double below;
} cw_distribution_span;
cw_distribution_span cw_distribution_cell(const cw_distribution *d, size_t i);

/* Exactly `k`, for stock that is counted and leaves today. */
void cw_distribution_point(cw_distribution *d, int64_t k);

/* From chances of first, first + 1, ... (any non-negative weights with a positive sum; they are brought to
 * sum 1). */
void cw_distribution_from_pmf(cw_distribution *d, int64_t first, const double *pmf, size_t n);

/* The law of X_i with chance weight[i]; n >= 1, weights sum to 1. `out` is none of them. */
void cw_distribution_mix(const cw_distribution *const *of, const double *weight, size_t n,
                         cw_distribution *out);

double cw_distribution_cdf(const cw_distribution *d, int64_t k); /* P(X <= k) */
/* The same, to the last bit, of from, from + 1, ... at once. */
void cw_distribution_cdfs(const cw_distribution *d, int64_t from, size_t n, double *out);
double cw_distribution_pmf(const cw_distribution *d, int64_t k);      /* P(X = k) */
double cw_distribution_at_least(const cw_distribution *d, int64_t k); /* P(X >= k) */
/* smallest k with P(X <= k) >= p, 0 < p < 1 */
int64_t cw_distribution_quantile(const cw_distribution *d, double p);
void cw_distribution_quantiles(const cw_distribution *d, size_t n, const double *p,
                               int32_t *out);           /* of many p at once */
int64_t cw_distribution_last(const cw_distribution *d); /* highest value with any chance */

/* E max(0, q - X) and E max(0, X - q): expected shorts and expected unsold when q are promised or wanted. */
double cw_distribution_short_of(const cw_distribution *d, int64_t q);
double cw_distribution_left_over(const cw_distribution *d, int64_t q);

/* out = law of max(0, X - less): saleable after hold-back and reserve. `out` may be `d`. less >= 0. */
void cw_distribution_less(const cw_distribution *d, int64_t less, cw_distribution *out);

#endif

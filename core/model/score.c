/* SPDX-License-Identifier: MIT */
#include "model/score.h"

#include <math.h>

#include "base/banned.h"

const double cw_score_levels[CW_SCORE_QUANTILES] = { 0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95 };

double cw_score_pinball(double p, double y, double x)
{
    return y >= x ? p * (y - x) : (1.0 - p) * (x - y);
}

double cw_score_crps(const cw_distribution *d, int64_t y)
{
    /* sum over k < y of F(k)^2 and over k >= y of (1 - F(k))^2, outside the cells where F is 0 or 1 */
    int64_t last = cw_distribution_last(d);
    double sum = 0.0;
    if (y < d->first)
        sum += (double)(d->first - y);
    if (y > last)
        sum += (double)(y - last - 1);
    for (size_t c = 0; c < d->cells; c++) {
        cw_distribution_span s = cw_distribution_cell(d, c);
        double rise = (d->cdf[c] - s.below) / (double)s.width;
        for (int64_t i = 1; i <= s.width; i++) {
            double f = s.below + rise * (double)i;
            sum += s.start + i - 1 >= y ? (1.0 - f) * (1.0 - f) : f * f;
        }
    }
    return sum;
}

double cw_score_crps_ensemble(const double *x, size_t m, double y, int fair)
{
    double off = 0.0, apart = 0.0, n = (double)m;
    for (size_t i = 0; i < m; i++) {
        off += fabs(x[i] - y);
        for (size_t k = 0; k < i; k++)
            apart += 2.0 * fabs(x[i] - x[k]);
    }
    return off / n - apart / (2.0 * n * (fair ? n - 1.0 : n));
}

cw_pit cw_score_pit(const cw_distribution *d, int64_t y)
{
    return (cw_pit){ cw_distribution_cdf(d, y - 1), cw_distribution_cdf(d, y) };
}

double cw_score_pit_within(cw_pit pit, double from, double to)
{
    if (pit.high <= pit.low) /* what came had no chance at all: it counts at its end */
        return pit.low >= from && (pit.low < to || (to >= 1.0 && pit.low <= to)) ? 1.0 : 0.0;
    double low = fmax(pit.low, from), high = fmin(pit.high, to);
    return high > low ? (high - low) / (pit.high - pit.low) : 0.0;
}

/* `share` of one projection. */
static void add_share(cw_scores *s, const cw_distribution *d, int64_t came, double share)
{
    cw_pit pit = cw_score_pit(d, came);
    s->projected += share * d->mean;
    s->came += share * (double)came;
    s->cover50 += share * cw_score_pit_within(pit, 0.25, 0.75);
    s->cover80 += share * cw_score_pit_within(pit, 0.10, 0.90);
    s->cover90 += share * cw_score_pit_within(pit, 0.05, 0.95);
    s->below05 += share * cw_score_pit_within(pit, 0.0, 0.05);
    s->below10 += share * cw_score_pit_within(pit, 0.0, 0.10);
    s->above90 += share * cw_score_pit_within(pit, 0.90, 1.0);
    s->above95 += share * cw_score_pit_within(pit, 0.95, 1.0);
    for (int i = 0; i < CW_SCORE_QUANTILES; i++) {
        double x = (double)cw_distribution_quantile(d, cw_score_levels[i]);
        s->pinball[i] += share * cw_score_pinball(cw_score_levels[i], (double)came, x);
    }
    s->crps += share * cw_score_crps(d, came);
    for (int b = 0; b < CW_SCORE_BINS; b++)
        s->histogram[b] +=
            share * cw_score_pit_within(pit, (double)b / CW_SCORE_BINS, (double)(b + 1) / CW_SCORE_BINS);
}

void cw_scores_add(cw_scores *s, const cw_distribution *d, int64_t came)
{
    cw_scores_add_any(s, d, &came, 1);
}

void cw_scores_add_any(cw_scores *s, const cw_distribution *d, const int64_t *came, size_t n)
{
    s->count++;
    for (size_t i = 0; i < n; i++)
        add_share(s, d, came[i], 1 / (double)n);
}

double cw_scores_loss(const cw_scores *s)
{
    double sum = 0.0;
    for (int i = 0; i < CW_SCORE_QUANTILES; i++)
        sum += s->pinball[i];
    return s->came > 0.0 ? sum / CW_SCORE_QUANTILES / s->came : 0.0;
}

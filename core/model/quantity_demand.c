/* SPDX-License-Identifier: MIT */
#include "model/quantity.h"

#include "model/special.h"
#include <math.h>

#include "base/banned.h"

/* E[D | D >= s] for a law of this mean and variance = spread * mean. By E[D; D >= s] = mean * P(D' >= s - 1), where D'
 * is Poisson with the same mean, or negative binomial with one more in its size and the same success chance. */
static double mean_above(int64_t s, double mean, double spread)
{
    double reach, moment;
    if (spread <= 1 + 1e-9) {
        reach = cw_poisson_q(s - 1, mean);
        moment = mean * cw_poisson_q(s - 2, mean);
    } else {
        double size = mean / (spread - 1);
        reach = cw_negbin_q(s - 1, size, mean);
        moment = mean * cw_negbin_q(s - 2, size + 1, mean * (size + 1) / size);
    }
    /* far out in the tail nothing is left to divide by: demand is then just above s */
    return reach > 1e-250 ? fmax(moment / reach, (double)s) : (double)s;
}

/* What the seasons average, if the mean were this. */
static double average(const cw_sales *sales, size_t seasons, double mean, double spread)
{
    double sum = 0;
    for (size_t i = 0; i < seasons; i++)
        sum += sales[i].sold_out ? mean_above(sales[i].sold, mean, spread) : (double)sales[i].sold;
    return sum / (double)seasons;
}

void cw_demand_fit(const cw_sales *sales, size_t seasons, double spread, cw_demand *out)
{
    double highest = 0, weight = 0;
    *out = (cw_demand){ .dispersion = fmax(spread, 1), .seasons = (int)seasons };
    for (size_t i = 0; i < seasons; i++) {
        highest = fmax(highest, (double)sales[i].sold);
        weight += sales[i].sold_out ? 0.5 : 1;
        out->sold_out_seasons += sales[i].sold_out;
    }
    out->known = out->sold_out_seasons < out->seasons;
    out->mean = highest;
    if (!out->known)
        return;
    /* The average grows more slowly than the mean that is put in: one crossing. Some season did not sell out, so it
     * lies within seasons * highest, and a little for rounding. */
    double low = 0, high = highest * (double)seasons * 4 + 1;
    for (int k = 0; k < 100 && high - low > 1e-10 * high; k++) {
        double middle = (low + high) / 2;
        if (average(sales, seasons, middle, out->dispersion) > middle)
            low = middle;
        else
            high = middle;
    }
    out->mean = (low + high) / 2;
    out->dispersion *= 1 + 1 / weight;
}

double cw_demand_spread(const cw_sales *sales, const size_t *first, size_t varieties)
{
    double sum = 0, freedom = 0;
    for (size_t v = 0; v < varieties; v++) {
        double n = 0, total = 0, squares = 0;
        for (size_t i = first[v]; i < first[v + 1]; i++)
            if (!sales[i].sold_out) {
                n++;
                total += (double)sales[i].sold;
            }
        if (n < 2 || total == 0)
            continue;
        for (size_t i = first[v]; i < first[v + 1]; i++)
            if (!sales[i].sold_out)
                squares += pow((double)sales[i].sold - total / n, 2);
        sum += squares / (total / n); /* Pearson's statistic */
        freedom += n - 1;
    }
    return freedom > 0 ? fmax(1, sum / freedom) : 1;
}

void cw_demand_law(const cw_demand *d, cw_distribution *out)
{
    if (d->mean < 1e-9) {
        cw_distribution_point(out, 0);
        return;
    }
    double sd = sqrt(d->mean * d->dispersion), size = d->mean / (d->dispersion - 1);
    int64_t first = (int64_t)fmax(0, floor(d->mean - 12 * sd));
    int64_t last = (int64_t)ceil(d->mean + 12 * sd + 30 * d->dispersion);
    out->first = first;
    out->step = (last - first) / CW_DISTRIBUTION_CELLS + 1;
    out->cells = (size_t)((last - first) / out->step) + 1;
    out->mean = d->mean;
    out->variance = d->mean * d->dispersion;
    for (size_t i = 0; i < out->cells; i++) {
        int64_t k = first + (int64_t)(i + 1) * out->step - 1;
        out->cdf[i] = d->dispersion > 1 + 1e-9 ? cw_negbin_p(k, size, d->mean) : cw_poisson_p(k, d->mean);
    }
    out->cdf[out->cells - 1] = 1;
}

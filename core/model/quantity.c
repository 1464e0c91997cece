/* SPDX-License-Identifier: MIT */
#include "model/quantity.h"

#include "model/linear.h"
#include <math.h>

#include "base/banned.h"

#define RUN 128  /* numbers whose chances are worked out at once */
#define TIE 1e-9 /* chances are sums of rounded numbers: so close to the confidence counts as equal */

double cw_quantity_confidence(cw_cents margin, cw_cents short_cost)
{
    double both = (double)margin + (double)short_cost;
    return both > 0 ? (double)short_cost / both : 1;
}

int64_t cw_quantity_at(const cw_distribution *saleable, double confidence)
{
    int64_t low = 0, high = cw_distribution_last(saleable) + 1; /* P(S >= low) is enough, P(S >= high) = 0 */
    if (confidence <= TIE)
        return high - 1;
    while (high - low > 1) {
        int64_t middle = low + (high - low) / 2;
        if (cw_distribution_at_least(saleable, middle) >= confidence - TIE)
            low = middle;
        else
            high = middle;
    }
    return low;
}

const char *cw_quantity_bind_name(cw_quantity_bind b)
{
    switch (b) {
    case CW_BIND_STOCK:
        return "stock";
    case CW_BIND_DEMAND:
        return "demand";
    case CW_BIND_SOLD:
        return "sold";
    case CW_BIND_NONE:
        break;
    }
    return "none";
}

/* What may yet be asked, above what is sold: X = max(sold, min(quantity, D)), of which
 *     E X - sold = sum over k of P(D >= k),  and of max(0, X - S) there is P(D >= k) P(S < k) at each k more. */
static void add_open(const cw_quantity_ask *ask, int64_t quantity, double *sold, double *shorts, double *p)
{
    const cw_distribution *s = ask->saleable, *d = ask->demand;
    double below[RUN + 1], wanted[RUN],
        here[RUN]; /* P(S < k) from the number before, P(D >= k), P(S = k - 1) */
    int64_t sure = ask->sold, last = cw_distribution_last(d);
    *sold += (double)(quantity - sure) -
             (cw_distribution_short_of(d, quantity) - cw_distribution_short_of(d, sure));
    last = quantity < last ? quantity : last;
    for (int64_t k = (sure > s->first ? sure : s->first) + 1; k <= last; k += RUN) {
        size_t n = last - k + 1 < RUN ? (size_t)(last - k + 1) : RUN;
        cw_distribution_cdfs(s, k - 2, n + 1, below);
        cw_distribution_cdfs(d, k - 1, n, wanted);
        for (size_t i = 0; i < n; i++) {
            wanted[i] = 1.0 - wanted[i];
            here[i] = below[i + 1] - below[i];
        }
        *shorts += cw_dot(wanted, below + 1, n);
        *p += cw_dot(wanted, here, n);
    }
}

void cw_quantity_view_at(const cw_quantity_ask *ask, int64_t quantity, cw_quantity_view *out)
{
    const cw_distribution *s = ask->saleable;
    int64_t sure = ask->demand ? ask->sold : (quantity > ask->sold ? quantity : ask->sold);
    double sold = (double)sure, shorts = cw_distribution_short_of(s, sure),
           p = cw_distribution_cdf(s, sure - 1);
    if (quantity > sure)
        add_open(ask, quantity, &sold, &shorts, &p);
    double margin = (double)ask->margin, cost = (double)ask->short_cost;
    *out = (cw_quantity_view){ .quantity = quantity,
                               .expected_sold = sold,
                               .p_short = fmin(1, fmax(0, p)),
                               .expected_short = shorts,
                               .expected_unsold = fmax(0, cw_distribution_left_over(s, 0) - sold + shorts),
                               .expected_margin = margin * (sold - shorts) - cost * shorts,
                               .margin_at_stake = (margin + cost) * shorts };
}

void cw_quantity_plan(const cw_quantity_ask *ask, cw_quantity *out)
{
    out->by_stock = cw_quantity_at(ask->saleable, ask->confidence);
    out->by_demand =
        ask->demand && ask->demand_confidence > 0 ? cw_quantity_at(ask->demand, ask->demand_confidence) : -1;
    bool demand_binds = ask->demand_caps && out->by_demand >= 0 && out->by_demand < out->by_stock;
    int64_t quantity = demand_binds ? out->by_demand : out->by_stock;
    out->binds = demand_binds ? CW_BIND_DEMAND : quantity > 0 ? CW_BIND_STOCK : CW_BIND_NONE;
    if (ask->sold > quantity) {
        quantity = ask->sold;
        out->binds = CW_BIND_SOLD;
    }
    out->beyond_demand = out->by_demand >= 0 && quantity > out->by_demand;
    cw_quantity_view_at(ask, quantity, &out->view);
}

/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_QUANTITY_H
#define CW_MODEL_QUANTITY_H

#include "base/error.h"
#include "base/money.h"
#include "model/distribution.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* How many of a variety should the catalogue offer?
 *
 * S is the law of saleable divisions (cw_distribution_less of what is sound on the shipping day by hold-back
 * and reserve), m the margin of a division sold and delivered, c what a division sold but not delivered costs
 * (refund, fee, goodwill). The q-th division offered, once sold, earns m if S >= q and costs c if not:
 *     offer it while P(S >= q) >= c / (m + c).
 * A confidence says the same without money. An exact tie is offered.
 *
 * Demand D has no say in that: offering one more earns P(D >= q) (m P(S >= q) - c P(S < q)), whose sign does not depend on
 * D. What demand supports is shown beside the quantity, and caps it only if asked to. */

/* Confidence that stands for the money figures; margin and short_cost >= 0 and not both 0 (else 1). */
double cw_quantity_confidence(cw_cents margin, cw_cents short_cost);

/* Largest q with P(S >= q) >= confidence, 0 < confidence <= 1; 0 if there is none above. Chances within 1e-9
 * of the confidence count as equal to it, since they are sums of rounded numbers. */
int64_t cw_quantity_at(const cw_distribution *saleable, double confidence);

typedef enum cw_quantity_bind {
    CW_BIND_STOCK,  /* the stock, at this confidence */
    CW_BIND_DEMAND, /* past demand supports no more */
    CW_BIND_SOLD,   /* more is sold already than either would offer */
    CW_BIND_NONE,   /* nothing to offer and nothing sold */
} cw_quantity_bind;
const char *cw_quantity_bind_name(cw_quantity_bind b); /* "stock", "demand", "sold", "none" */

typedef struct cw_quantity_ask {
    const cw_distribution *saleable;
    const cw_distribution *demand; /* NULL: not known; all that is offered is taken as sold */
    double confidence;             /* 0 < confidence <= 1 */
    double demand_confidence;    /* demand supports the largest q with P(demand >= q) >= this; 0: not asked */
    int64_t sold;                /* already */
    cw_cents margin, short_cost; /* per division */
    bool demand_caps;            /* offer no more than demand supports */
} cw_quantity_ask;

/* What one quantity means. Demand and stock are taken as independent. */
typedef struct cw_quantity_view {
    int64_t quantity;
    double expected_sold;   /* E min(quantity, D), at least `sold` */
    double p_short;         /* P(S < min(quantity, D)) */
    double expected_short;  /* E max(0, min(quantity, D) - S) */
    double expected_unsold; /* E max(0, S - min(quantity, D)) */
    double expected_margin; /* margin * delivered - short_cost * short, in cents */
    double margin_at_stake; /* (margin + short_cost) * expected_short, in cents: lost against a sure stock */
} cw_quantity_view;
void cw_quantity_view_at(const cw_quantity_ask *ask, int64_t quantity, cw_quantity_view *out);

typedef struct cw_quantity {
    cw_quantity_view view; /* of the quantity proposed */
    int64_t by_stock;      /* what the stock alone would offer */
    int64_t by_demand;     /* what demand supports; -1: not known or not asked */
    bool beyond_demand;    /* more is proposed than that */
    cw_quantity_bind binds;
} cw_quantity;
void cw_quantity_plan(const cw_quantity_ask *ask, cw_quantity *out);

/* The nursery as a whole: how totals move as the confidence moves, from joint draws of all varieties'
 * saleable divisions, in which what is common to varieties (the season, the forms) is kept. Deterministic. */
typedef struct cw_tradeoff_input {
    size_t varieties, draws;
    /* saleable divisions of a variety in each draw, out[draws]; called for all varieties, once */
    void (*saleable)(const void *context, size_t variety, double *out);
    const void *context;
    const cw_distribution *law; /* [varieties] of the saleable divisions: gives the quantities */
    const double *demand;       /* [varieties] expected demand; NULL or < 0 = all that is offered is sold */
    const int64_t *cap;         /* [varieties] most to offer; NULL or < 0 = no cap */
    const int64_t *sold;        /* [varieties] already; NULL = 0 */
    const cw_cents *margin, *short_cost, *refund; /* [varieties] per division */
} cw_tradeoff_input;

typedef struct cw_tradeoff {
    double confidence;
    int64_t offered;                /* sum of the quantities */
    double sold;                    /* sum of min(quantity, demand), at least what is sold */
    double short_mean, short_q90;   /* divisions */
    double refund_mean, refund_q90; /* cents */
    double unsold_mean, unsold_q90; /* divisions */
    double margin_mean, margin_q10; /* cents, short costs taken off */
    double p_any_short;             /* chance that any variety falls short */
    /* Of all that: varieties of which more is sold than the stock alone would offer at this confidence. Whatever is
     * offered now, they fall short. */
    size_t too_far;
    double too_far_short, too_far_refund; /* means, part of short_mean and refund_mean */
} cw_tradeoff;

/* Fills out[n] for confidence[n]. CW_REFUSED on a confidence outside (0, 1] or no draws. */
cw_code cw_tradeoff_curve(const cw_tradeoff_input *in, const double *confidence, size_t n, cw_tradeoff *out,
                          cw_error *err) CW_MUST_CHECK;

#endif

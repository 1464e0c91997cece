/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_DEMAND_H
#define CW_MODEL_DEMAND_H

#include "base/error.h"
#include "model/distribution.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* How many divisions of each variety will be asked for in the coming season?
 *
 * In:  what past seasons sold. A season whose offer ended first only says "at least so many", or, when the day is known on
 *      which it ended, "so many in that share of the season".
 * Out: the law of the coming season's demand.
 *
 * A season's demand D of variety v is negative binomial with mean mu_v and variance mu_v + alpha mu_v^2; alpha is the
 * nursery's, pooled over varieties. It is maximised
 *
 *     sum over whole seasons  log P(D = sold)
 *   + sum over sold-out ones  log P(D >= sold)                          without a day
 *                             log of the mean over f of P(D_f = sold)   with one
 *
 * where D_f, the demand of the share f of a season, is negative binomial of mean f mu_v and the same alpha (a season is
 * good or bad as a whole, orders come one by one: then the moment at which the sold-th order comes has exactly this
 * likelihood), and f is spread about what the curve of orders says as Beta(sure * share, sure * (1 - share)).
 *
 * log mu_v is normal over the varieties, mean and sd from the data (EM, with a weak prior); it is integrated over a grid,
 * alpha over three points about its best. So a variety with one season is drawn to what the nursery's varieties sell, and
 * what is not known widens the law: it is negative binomial of the mean and variance that the mixture has.
 *
 * What the owner says of a usual season ("40 to 90", 8 in 10 sure) is one more row: log mu has been seen at the middle of the range,
 * on the log scale, with the sd of a normal law of which it holds 8 in 10, and never surer than CW_DEMAND_OWN_SD. That seasons differ
 * comes on top of it, which makes such a range about half as wide again: people's hold less often than they are said to (common
 * finding, from memory). A very wide range so changes nothing, and seasons weigh more as they become many.
 *
 * Assumed: seasons alike, no trend; varieties alike but for mu. */
typedef struct cw_sales {
    size_t variety;
    int64_t sold;  /* divisions ordered, >= 0 */
    bool sold_out; /* the offer ended first: true demand is `sold` or more */
    /* sold out: share of a season's orders that come by that day, 0 < share <= 1; 0: day not known */
    double share;
    double sure; /* how well the share is known: as if from so many orders, > 0 */
    /* no season, but what the owner says of a usual one; at most one of a variety */
    bool said;
    double low, high; /* said: 0 <= low <= high */
} cw_sales;

#define CW_DEMAND_OWN_SD 0.15 /* of the log */

typedef struct cw_demand {
    bool known; /* a season that did not sell out, or the day on which it did, or the owner bounds it above */
    double mean, variance;
    double own_share; /* of what is known of a usual season, what the owner says; 0: nothing is said */
} cw_demand;

typedef struct cw_demand_pool {
    double alpha;                 /* variance = mean + alpha mean^2 between seasons of a variety */
    double log_mean, log_mean_sd; /* of mu over the varieties */
} cw_demand_pool;

/* Fills out[varieties]; varieties without a row are not known. Deterministic, whatever the number of threads (0 = one
 * per processor) and the order of the rows. CW_REFUSED names the row (from 1) that cannot be. `pool` may be NULL. */
cw_code cw_demand_fit(const cw_sales *sales, size_t n, size_t varieties, unsigned threads, cw_demand *out,
                      cw_demand_pool *pool, cw_error *err) CW_MUST_CHECK;

/* The log-likelihood of the seasons of one variety, as maximised: for tests against other programs. */
double cw_demand_likelihood(const cw_sales *sales, size_t n, double mean, double alpha);

/* Its law. Only when known. */
void cw_demand_law(const cw_demand *d, cw_distribution *out);

#endif

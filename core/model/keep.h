/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_KEEP_H
#define CW_MODEL_KEEP_H

#include "base/error.h"
#include "base/go_on.h"
#include "model/distribution.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* How many divisions of each variety should be kept for planting, and what is a place in the beds worth?
 *
 * One more kept is a sale lost now and `growth` divisions next spring. With N sound divisions on a shipping day, D asked in that
 * season, r the guarantee reserve, m earned by a sale, c the cost of growing a plant, delta the discount and P the places:
 *
 *     keep k <= min(N, P);  L = max(N - r, 0);  R = max(0, L - k) is for sale;  x = min(R, D) is sold;
 *     then plant p, k <= p <= min(P, L - x) (p = k where R = 0): what is not sold can still be planted.
 *     Next spring N' | e is negative binomial (Poisson at phi = 1) of mean growth p e and variance phi * mean, log e ~ N(-s^2/2, s^2).
 *     V_H(N) = m E min(L, D_H);   V_t(N) = max over k of E[m x + max over p of W_t(p)],   W_t(p) = -c p + delta E V_{t+1}(N'(p))
 *     now:  J(k) = sum over N of P(S = N) V_0(N) with min(k, N) kept.
 *
 * One more kept than k loses m and gains W(k + 1) - W(k), both only where D >= L - k: its sign depends on neither N nor D. So
 * the best k is the largest of W(k) - m k whatever N is (constant escapement: Reed 1979, J. Environ. Econ. Manage. 6; random yield:
 * Henig & Gerchak 1990, Oper. Res. 38; both from memory), and all of N while N is less. With a reserve W may be hollow near 0 (few
 * plants only refill the reserve); there "keep none" is compared with it.
 *
 * The beds of the nursery: one price, added to every c of this winter and of later ones, at which the places that are expected to be
 * planted are those that are there. Each variety is then at its best for that price, so no swap of places that plants no more in
 * sum gains anything. A variety built up takes its places in each year to come at the same price.
 *
 * Units: whole divisions and plants; money in cents (not whole); growth in divisions next spring for one division planted; sd on the
 * natural log scale. Ranges: growth 0 .. 100, sd 0 .. 1, dispersion > 0, discount 0 .. 1, 1 .. CW_KEEP_SEASONS seasons, margin and
 * cost >= 0.
 * Below Poisson (phi < 1) the part (1 - phi) of the mean is set aside as certain and the rest is Poisson: the same mean and variance.
 *
 * How: V is held at whole numbers up to 40 and then at steps of 1/22, W likewise; between them a cubic. E V(N') is a sum over the
 * law at steps of 3/4 of its sd, e by nine Gauss-Hermite nodes; the expectation over D is exact for W straight between two nodes.
 * Numbers beyond what can ever be sold add nothing. Against the same programme on whole numbers (tests/published/test_keep) the
 * values agree to 0.1 %.
 *
 * Assumed: seasons to come are alike but for their demand, and independent; demand does not depend on what is offered. */
#define CW_KEEP_SEASONS 12
#define CW_KEEP_PLACES  1000000 /* beds without an end */

typedef struct cw_keep_ask {      /* borrowed while a cw_keeper lives */
    const cw_distribution *sound; /* S: sound divisions this spring, nothing taken off */
    const cw_distribution *const
        *demand; /* [seasons + 1]: this season's, then each later one's; may repeat */
    int seasons; /* H: seasons ahead that count, 1 .. CW_KEEP_SEASONS */
    double growth, growth_sd, growth_dispersion;
    double margin, cost; /* cents per division sold, per plant grown */
    double discount;     /* a cent of next season in cents of this one */
    int64_t reserve;
    int64_t places; /* most plants of this variety, >= 0 */
    int64_t floor;  /* keep at least so many, or all there are; 0: none */
    int64_t typed;  /* a figure to be looked at beside the best; < 0: none */
    bool retired;   /* sold off: nothing is kept, nothing planted */
} cw_keep_ask;

typedef struct cw_keep_view { /* of one figure kept */
    int64_t keep;
    double value;    /* J(keep): earned over the seasons, growing and places paid */
    double planted;  /* E p this spring */
    double kept;     /* E min(keep, S): fewer where there are not so many */
    double for_sale; /* E R */
    double sold;     /* E x this season */
} cw_keep_view;

typedef struct cw_keep {
    cw_keep_view best, typed;
    int64_t low, high;   /* figures between these are worth 99.5 % of the best at least */
    int64_t plant_up_to; /* what is left unsold is worth planting up to so many */
    bool all;            /* built up: in 9 of 10 springs there will be no more than this, so all is kept */
    /* the division after the best: sale lost now, later earnings gained */
    double one_more_costs, one_more_brings;
} cw_keep;

/* A year of what follows. Year 0 is this spring. */
typedef struct cw_keep_year {
    double mean, q10, q25, q50, q75, q90; /* N: sound divisions that spring */
    double kept, planted, sold, demand;   /* expected */
    double met;                           /* P(for sale >= asked) */
} cw_keep_year;

/* One variety made ready: what depends on neither price nor the figure kept is worked out once. Not for two threads at a time. */
typedef struct cw_keeper cw_keeper;
cw_code cw_keeper_new(const cw_keep_ask *ask, cw_keeper **out, cw_error *err) CW_MUST_CHECK;
void cw_keeper_free(cw_keeper *k);

void cw_keeper_price(cw_keeper *k, double place_price); /* cents a place, >= 0; 0 after _new */
void cw_keeper_best(cw_keeper *k, cw_keep *out);
void cw_keeper_view(cw_keeper *k, int64_t keep, cw_keep_view *out);

/* What follows if `keep` are kept this spring and the best every later one: out[seasons + 1]. CW_MACHINE without memory. */
cw_code cw_keeper_years(cw_keeper *k, int64_t keep, cw_keep_year *out, cw_error *err) CW_MUST_CHECK;

/* The whole nursery. out[n]; places < 0: beds without an end. `price` is 0 where the beds suffice. Varieties that a floor holds
 * up are counted first. Deterministic, whatever the number of threads. */
typedef struct cw_keep_beds {
    double places, planted; /* there, and expected to be planted */
    double price;           /* what one more place would earn, cents */
} cw_keep_beds;
cw_code cw_keep_nursery(const cw_keep_ask *ask, size_t n, double places, unsigned threads, cw_go_on go_on,
                        cw_keep *out, cw_keep_beds *beds, cw_error *err) CW_MUST_CHECK;

#endif

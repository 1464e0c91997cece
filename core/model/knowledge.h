/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_KNOWLEDGE_H
#define CW_MODEL_KNOWLEDGE_H

#include "base/error.h"
#include "base/go_on.h"
#include "model/distribution.h"
#include "model/latent.h"

#include <stddef.h>
#include <stdint.h>

/* What does it earn to know a lot's divisions before the next release, because it is cut?
 *
 * A catalogue quantity rests on the law of S, the sound divisions of a variety. Cutting a lot tells its own divisions, and
 * something of the rate of its variety, its form and size, and of the season. What that earns is the expected rise of the
 * catalogue's expected profit (the pre-posterior analysis of Raiffa & Schlaifer 1961, from memory):
 *
 *     value of lot l = sum over varieties u of  E[ profit_u(law of S_u after the cut) ] - profit_u(law of S_u now)
 *     profit_u(S) = integral from sold to q(S) of P(D > x) (m P(S > x + w) - c P(S < x + w)) dx
 *
 * with q(S) the quantity that the nursery's confidence gives, less what is withheld (w), D the law of demand.
 *
 * The log rate has the variance of the whole mixture, in parts as at its heaviest point: eta_u = mean_u + loading_u'z + own_u, a lot's own
 * effect besides. A lot of n sound clumps is an observation o of its own log rate with variance phi / (n e^eta), and it makes
 * its own divisions counted. S is log-normal with the projection's mean and variance; what will be expected of it once the lot is
 * cut is log-normal, too, with variance Cov(log S, o)^2 / Var(o). Lots are taken in the order given, each after all before it (Kalman's update, in
 * which z and own_u are joint): what the first lot of a variety told of it, and of the season, is not paid for twice.
 *
 * Others' shares are small, so they are taken as linear in the variance that is resolved. Assumed: a cut tells nothing of rot and
 * drying. Units: money as given; clumps are expected sound ones. */
typedef struct cw_knowledge_variety {
    double mean, variance;         /* of S now */
    double withheld, sold;         /* divisions */
    double margin, short_cost;     /* money a division */
    double confidence;             /* 0 < confidence < 1: P(S >= offered) */
    const cw_distribution *demand; /* NULL: all that is offered is sold */
} cw_knowledge_variety;

typedef struct cw_knowledge_lot {
    size_t variety;
    double clumps;    /* that will be sound when it is cut; 0: it tells nothing */
    double divisions; /* expected of them on the shipping day: its part of the variety's mean */
} cw_knowledge_lot;

typedef struct cw_knowledge_input { /* borrowed for the call */
    size_t varieties, lots;
    const cw_knowledge_variety *variety;
    const cw_knowledge_lot *lot;
    const cw_latent *rate; /* units = varieties; its lots, if any, are these */
    const size_t *order;   /* [ordered] the lots that are cut, in their order; NULL: all, as given */
    size_t ordered;
    cw_go_on go_on; /* given up: CW_REFUSED */
} cw_knowledge_input;

/* value[lots], in money, never below 0. freed[lots] (may be NULL): by how many divisions the quantity of the lot's variety is expected
 * to rise. Both are 0 for what is not cut. */
cw_code cw_knowledge_values(const cw_knowledge_input *in, double *value, double *freed,
                            cw_error *err) CW_MUST_CHECK;

/* Expected profit of the quantity that the confidence gives, and its expected rise when a share (0 .. 1) of the variance of log S
 * gets known. */
double cw_knowledge_profit(const cw_knowledge_variety *v);
double cw_knowledge_rise(const cw_knowledge_variety *v, double share);

#endif

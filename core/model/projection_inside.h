/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_PROJECTION_INSIDE_H
#define CW_MODEL_PROJECTION_INSIDE_H

/* What the files of the projection share; nobody else includes this.
 *
 *     projection.c          puts the input in order, asks for laws
 *     projection_lattice.c  where the nodes stand
 *     projection_nodes.c    cumulants of S at each node
 *     projection_tilts.c    what is unlike the rest about a cohort
 *     projection_law.c      cumulants at the nodes -> distribution
 *     projection_why.c      the same nodes with parts switched off
 *     projection_joint.c    all varieties together
 *     projection_lying.c    what is left at the end of a stretch */

#include "model/projection.h"

#include <stdbool.h>

/* What is not known has four sides. On each, a node stands at some point of the posterior's mixture and at z
 * standard deviations from that point's mean; the rest of the normal spread, tau, stays with the node and is
 * treated locally (a normal law is a mixture of narrower normals: z^2 on average + tau^2 = 1). So the law of
 * S is smooth with few nodes. A side that moves S little is minor: all of its spread is local. The major ones
 * are covered by a rank-1 lattice, the larger the more of them there are (generators found by search for even
 * two-sided projections). */
#define LATTICES     4
#define MOST_NODES   256
#define FEW_NODES    48  /* of the first lattice, for few clumps */
#define ROOM         264 /* a little more, so that arrays do not all fall on the same lines of the cache */
#define SIDES        4
#define LATENT_SIDES 3
enum { RATE, CLUMP_ROT, DIVISION_ROT, DRYING };

typedef struct side {
    const cw_latent *known; /* NULL: nothing to know */
    unsigned point[ROOM];
    double z[ROOM];
    double middle[ROOM]; /* z of the node if nothing were local */
    double tau[ROOM];
    double weight[ROOM]; /* of the node as seen from this side; mean 1 */
} side;

typedef struct lattice {
    size_t nodes;
    side side[SIDES];
} lattice;

/* What joint draws need of a variety's nodes, kept as its law is made: the mean slopes (of the variety's own predictors, and
 * if all its lots moved as it does), and how S moves with the drying that all lots have in common. */
typedef struct moves {
    bool known;
    double since; /* how far what the law hangs on has moved since it was worked out */
    double slope[LATENT_SIDES], whole[LATENT_SIDES], dry;
} moves;

/* What age makes of the weeks of one side, for each different pair of age and weeks that cohorts have: few, days being
 * whole. */
typedef struct ages {
    size_t count;
    double *key; /* [2 count] age, weeks; in order */
    /* [(points + 1) count] logs of the factor: their mean over the mixture, then at each point */
    double *factors;
} ages;

struct cw_projection {
    cw_projection_input in;
    bool tilted[LATENT_SIDES]; /* some point has a tilt that matters here */
    lattice on[LATTICES];      /* for few clumps; for at most one major side, two, more */
    cw_stock *cohort;          /* sorted by variety, lot, stage and clocks; like ones merged; none empty */
    size_t *variety_from;      /* [varieties + 1] into cohort */
    size_t *lot_from;          /* [lots] */
    size_t *lot_to;
    ages ages[LATENT_SIDES]; /* of the hazards that are tilted */
    moves *move;             /* [varieties] */
};

/* A run of cohorts of one variety, and how much of what is not known is still not known (1: all of it, 0:
 * nothing). */
typedef struct cohorts {
    const cw_stock *at;
    size_t n;
    size_t variety;
    double unknown[SIDES];
    bool rot_clumps, rot_divisions, shrivel; /* false: as if there were none */
} cohorts;

/* How much the mean of S moves with each predictor (in divisions), how much of its variance is about chance, and how far
 * each point of a side stands from the mean over its mixture, for these cohorts: what a point says of age, room, lots or the
 * order of cutting often takes back what it says of the variety, for both were fitted to the same rows. */
typedef struct leverage {
    double slope[LATENT_SIDES], chance;
    double shift[LATENT_SIDES][ROOM]; /* [points] */
} leverage;

typedef struct nodes {
    const lattice *on;
    size_t count;
    double weight[ROOM];                 /* sum 1 */
    double k1[ROOM], k2[ROOM], k3[ROOM]; /* cumulants of S, what is local included */
    double chance[ROOM];                 /* the part of k2 that is chance, not ignorance */
    double slope[LATENT_SIDES][ROOM];    /* d k1 / d (eta, log h1, log h2) */
    double whole[LATENT_SIDES];          /* the mean of that, if all lots moved as their variety does */
    leverage of;                         /* what stands behind it */
    double local2[ROOM];                 /* covariance of what is local to both hazards */
    double phi[ROOM];
    bool minor[LATENT_SIDES];
    /* each side's predictor with nothing local, as the law of few clumps needs it, and its distance from the mean */
    double exact[LATENT_SIDES][ROOM], exact_off[LATENT_SIDES][ROOM];
} nodes;

void cw_projection_lattice(cw_projection *p);
cohorts cw_projection_cohorts(const cw_projection *p, size_t variety);
void cw_projection_nodes(const cw_projection *p, const cohorts *c, nodes *out);
/* So little on hand that its law can be enumerated: chance is most of what is open, and few nodes do. */
#define FEW_CLUMPS    6
#define FEW_DIVISIONS 40
bool cw_projection_is_few(const cohorts *c);
void cw_projection_moments(const nodes *n, double *mean, double *variance);
/* `of_all` (may be NULL): what moves the variety's S, these being all its cohorts. */
void cw_projection_law(const cw_projection *p, const cohorts *c, cw_distribution *out, moves *of_all);
void cw_projection_moves(const cw_projection *p, const cohorts *c, const nodes *n, moves *out);
/* Only what stands behind the nodes. */
void cw_projection_lean(const cw_projection *p, const cohorts *c, leverage *out);

/* What a cohort of a lot meets at every node with nothing local: the rate, its squared relative spread by what is not
 * known of the lot, and the chances of a clump and of a division to be sound at the end of their stretches. */
typedef struct chances {
    double rate[ROOM], spread[ROOM], clump[ROOM], division[ROOM];
} chances;
void cw_projection_chances(const cw_projection *p, const cohorts *c, const cw_stock *stock, const nodes *n,
                           chances *out);

bool cw_projection_ages(cw_projection *p); /* fills `ages`; false without memory */
/* What the tilts make of a cohort at each node, as factors: of its rate by its place in the order of cutting, of its
 * weeks by their age. */
void cw_projection_tilts(const cw_projection *p, const lattice *on, bool minor, int k, const cw_stock *stock,
                         double *factor);
/* At the middle of what is known: means of the three predictors, phi over the mixture. */
void cw_projection_weigh(const cw_projection *p, const cohorts *c, const double *mean, double phi,
                         leverage *out);
/* Weeks of rot to come (k: CLUMP_ROT or DIVISION_ROT) as they weigh at their age, over the mixture. */
double cw_projection_weighed_weeks(const cw_projection *p, int k, const cw_stock *stock);

/* A linear predictor of a variety: total spread at a point of the mixture, and mean and spread over the
 * mixture. */
double cw_projection_spread(const cw_latent *l, size_t point, size_t variety);
void cw_projection_predictor(const cw_latent *l, size_t variety, double *mean, double *sd);

#endif

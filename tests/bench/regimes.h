/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_BENCH_REGIMES_H
#define CW_TESTS_BENCH_REGIMES_H

#include "bench/worlds.h"

/* Nurseries where data are no random sample, or where this year is not like the others. Each regime is the base one
 * with something changed; all is invented, and nothing is drawn from the fitted model. Clumps are of different size,
 * lots are cut in one to four sessions in some order, crates are looked at for some reason, things rot one by one at
 * their own moment in a room, divisions dry and shrivel at their own limit. */
typedef struct cw_regime {
    const char *name;
    size_t varieties, past_seasons, worlds;
    double today;             /* weeks since digging; shipping is in week 24 */
    double begun, done;       /* shares of varieties of which some, or all, is cut by today */
    double clump_sd;          /* of log size between the clumps of a lot */
    double even;              /* eyes that come to a division: 0 Poisson .. 1 a fixed number */
    double cell_sd, outliers; /* variety by season; share of lots that are quite different */
    double rot[2]; /* this year's hazards of clumps and of divisions against what the season would have */
    double room, room_from; /* hazards in one room of three are so many times higher from this week on */
    double sorted;          /* clumps are cut by size: 0 as they come, 1 strictly the best first */
    double best_varieties;  /* 0 as they come, 1 strictly the varieties that do best this year first */
    double suspicion;       /* 0 rounds at random, 1 checks only where rot is suspected */
    double told;            /* share of checks of which the reason is told */
    double shape;           /* of the Weibull law of rot */
    double pa;              /* vapour pressure deficit of the cellar */
    double k_sd;            /* of log k between nurseries; 0: the default is right */
    double limit_sd[2]; /* of the log of the middle limit, and of the log of its spread, between nurseries */
    double weighed;     /* chance of a lot to have a crate weighed */
    double trend;       /* of the log rate, a year */
    double dead;        /* share of lots that give nothing */
    /* this year's chance of a lot of clumps, and of a session's divisions, to be looked at */
    double checked[2];
} cw_regime;

extern const cw_regime cw_regimes[];
extern const size_t cw_regimes_count;

int cw_regime_make(const cw_regime *r, uint64_t seed, cw_world *out); /* 0 without memory */

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_BENCH_KEEPING_DESK_H
#define CW_BENCH_KEEPING_DESK_H

#include "base/text.h"

#include <stddef.h>
#include <stdint.h>

/* How many would the program itself keep? A nursery's past as the files that an owner would load, and the plan that the desk makes of
 * them in a nursery file of its own season. Seasons are counted from FIRST_SEASON. */
#define FIRST_SEASON 2027

typedef struct lived { /* CSV texts, as they grow */
    cw_text history, plantings, checks, sales;
} lived;

void lived_begin(lived *l);
void lived_free(lived *l);
/* What was set out in a season and what came of it: clumps dug sound, divisions cut of them, and those that kept to shipping. */
void lived_grew(lived *l, int variety, int season, int64_t plants, int64_t clumps, int64_t divisions,
                int64_t sound);
/* What was sold; share < 1: it sold out when so much of what was asked had come. */
void lived_sold(lived *l, int variety, int season, int64_t sold, double share);

typedef struct lived_now {
    int season, varieties;
    const double *price;           /* [varieties] cents, all of it earned */
    const double *estimate;        /* [varieties] of demand, the owner's; 0: none */
    const int64_t *have;           /* [varieties] sound divisions on the shipping day */
    double cost, discount, places; /* cents a plant; places < 0: beds without an end */
    int ahead;
} lived_now;

/* A file of the season is made, the past, the assortment and the stock are loaded (desk/intake), settings and estimates are said, and
 * the plan is asked for and committed (desk/offer/beds): the hold-backs on record, keep[varieties], and up to how many what is left
 * unsold is planted. Selling, planting and digging are the world's. Ends the program on an error. */
void lived_plan(const lived *l, const lived_now *now, int64_t *keep, int64_t *upto);

#endif

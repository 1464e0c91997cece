/* SPDX-License-Identifier: MIT */
#ifndef CW_BENCH_KEEPING_DESK_H
#define CW_BENCH_KEEPING_DESK_H

#include "base/text.h"
#include "support/nursery.h"

#include <stddef.h>
#include <stdint.h>

/* A nursery that lives through the program itself, year after year, in files of its own: its past is loaded, and from then on clumps
 * are dug of the rows, cut and looked over; hold-backs are the plan's, put on record; what is left goes on offer; orders come until
 * they are refused, are promised, pulled, packed and sent; what is to be planted goes to the beds, the rest out; and the next season's
 * file is made from this one and proved against it. The caller throws the dice: how many are asked for, what plants and clumps give.
 * Whatever the program refuses, and whatever its books say otherwise than the caller's, ends the program.
 *
 * The shop opens on the shipping day, when all that is sound is counted, and sells for SHOP_DAYS; so do its past seasons. */
#define FIRST_SEASON   2027
#define SHOP_DAYS      35
#define MOST_VARIETIES 64

typedef struct lived {
    test_nursery t;
    uint64_t seed; /* of the days on which buyers come */
    int varieties, season;
    const double *price;                                /* [varieties] cents, all of it earned */
    cw_text history, plantings, checks, sales, bought;  /* the past, as files that an owner would load */
    int64_t sold[MOST_VARIETIES], hold[MOST_VARIETIES]; /* this season's */
    double estimate[MOST_VARIETIES];                    /* of demand, as said on record; 0: none */
} lived;

/* What plants of a variety became by the next shipping day. */
typedef struct lived_grown {
    int64_t plants, clumps, divisions, sound;
} lived_grown;

void lived_begin(lived *l, uint64_t seed, const double *price, int varieties);
/* A season before the first file: what was set out and came of it, and what was sold, with stock enough. */
void lived_past(lived *l, int variety, int season, const lived_grown *g, int64_t sold);

typedef struct lived_terms {
    double cost, discount, places; /* cents a plant; places < 0: beds without an end */
    int ahead;
} lived_terms;
/* The first file, of `season`: the past is loaded, and have[varieties] divisions are found by a stock-take. */
void lived_open(lived *l, int season, const lived_terms *terms, const int64_t *have);

/* The owner's own estimates of demand, [varieties]; 0: none, or none any more. */
void lived_estimate(lived *l, const double *estimate);

/* The plan is asked for and committed: keep[varieties] are the hold-backs on record, as far as there is so much. In the last season
 * (keep NULL) nothing is held back. Then all else goes on offer. */
void lived_plan(lived *l, const int64_t *have, int64_t *keep);

/* Orders come for asked[varieties] in all, and what can be sold is promised, pulled, packed and sent: sold[varieties]. */
void lived_sell(lived *l, const int64_t *asked, int64_t *sold);

/* When the shop has closed: up to how many what is left unsold is worth planting, upto[varieties], as the plan says it then. */
void lived_worth(lived *l, int64_t *upto);

/* g[v].plants go to the beds and the rest out, the season is closed and the next one's file made and proved; there clumps are dug of
 * the rows, cut, and looked over on the shipping day. */
void lived_turn(lived *l, const lived_grown *g);
void lived_end(lived *l);

/* For keeping_shop.c and keeping_desk.c. */
void lived_must(cw_code code, const cw_error *err);
void lived_today(lived *l, cw_day day);
cw_day lived_ship(int season);
/* Adds to by_day[SHOP_DAYS] the buyers' wishes for `asked` of a variety. */
void lived_buyers(const lived *l, int variety, int season, int64_t asked, int64_t *by_day);

#endif

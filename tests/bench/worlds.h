/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_BENCH_WORLDS_H
#define CW_TESTS_BENCH_WORLDS_H

#include "model/learned.h"
#include "model/projection.h"

#include <stddef.h>
#include <stdint.h>

/* Simulated nurseries, all invented, to see whether projections keep their promise. Nothing in them is drawn
 * from the fitted model: a clump has tubers and eyes of its own, a division needs one of each, some are blind
 * or cut badly; clumps and divisions rot one by one at their own moment; divisions dry and shrivel at their
 * own limit; a day in February is taken as today, with some lots divided, some checked, most whole, and what
 * then comes by April is the truth. */
typedef enum cw_world_kind {
    CW_WORLD_PLAIN, /* divisions a clump about Poisson, small differences between lots */
    CW_WORLD_LOOSE, /* clumps differ far more than Poisson, rows differ much */
    CW_WORLD_TIGHT, /* eyes nearly fixed by the variety: far below Poisson, no difference between rows */
    CW_WORLD_HEAVY, /* seasons, variety-by-season and rot effects with heavy tails (Student, 4 degrees) */
    CW_WORLD_YOUNG, /* two past seasons, many new varieties, few checks */
    CW_WORLD_KINDS
} cw_world_kind;

typedef struct cw_world_settings {
    cw_world_kind kind;
    size_t varieties, past_seasons, sessions_a_season, lots; /* sessions and lots: at most, per variety */
    uint64_t seed;
} cw_world_settings;

typedef struct cw_world {
    size_t varieties, seasons, forms, sizes; /* the last season is this one */
    int *form, *size;                        /* [varieties] */
    cw_rate_row *rate;
    size_t rates;
    cw_rot_row *rot;
    size_t rots;
    cw_rate_cut *cut;  /* [rates] or NULL */
    cw_rot_look *look; /* [rots] or NULL */
    int *lot_room;     /* [lots] or NULL */
    cw_weighing *weighing;
    size_t weighings, crates;
    cw_shrivel_check *check;
    size_t checks;
    size_t *lot_variety;
    size_t lots;
    cw_stock *stock;
    size_t stocks;
    double weeks_to_ship;
    int64_t *came; /* [varieties] sound divisions on the shipping day */
} cw_world;

int cw_world_make(const cw_world_settings *settings, cw_world *out); /* 0 without memory */
void cw_world_free(cw_world *w);

/* A nursery's models and its projection, fitted as the program does it. Zeroed to start; a second fit of the
 * same struct begins from the last optimum. */
typedef struct cw_fitted {
    cw_learned learned;
    cw_projection *projection;
    cw_distribution *law; /* [varieties] */
} cw_fitted;
cw_code cw_world_fit(const cw_world *w, unsigned threads, cw_fitted *fit, cw_error *err) CW_MUST_CHECK;
void cw_fitted_free(cw_fitted *fit);

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_BENCH_DRAWS_H
#define CW_TESTS_BENCH_DRAWS_H

#include "base/rng.h"
#include "model/projection.h"

/* The projection's posterior played out by plain simulation, event by event, straight from the definitions:
 * the reference that the lattice is held against. Adds what each variety's stock came to in one draw to
 * out[draws]. */
void cw_draws_of_variety(const cw_projection_input *in, size_t variety, cw_rng *rng, int64_t *out,
                         size_t draws);

/* Smallest x with at least a share p of the draws at or below; sorts the draws. */
int64_t cw_draws_quantile(int64_t *draw, size_t draws, double p);

/* Invented knowledge and stock: `varieties` with one to three lots each in mixed cohorts. The latents and the
 * rows are owned by the caller (cw_draws_free). Sizes and spreads vary widely; `shift` picks another such
 * nursery. */
typedef struct cw_draws_case {
    cw_projection_input in;
    cw_latent *latent[3];
    cw_shrink *shrink;
    size_t *lot_variety;
    cw_stock *stock;
} cw_draws_case;
int cw_draws_make(size_t varieties, uint64_t shift, cw_draws_case *out); /* 0 without memory */
void cw_draws_free(cw_draws_case *c);

#endif

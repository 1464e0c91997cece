/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_RNG_H
#define CW_BASE_RNG_H

#include <stdint.h>

/* Philox4x32-10, a counter-based generator: a stream is (seed, stream number), and any number of streams are
 * independent, so a result does not depend on the order or the number of threads.
 * Source: Salmon, Moraes, Dror & Shaw, "Parallel random numbers: as easy as 1, 2, 3", SC'11. */
typedef struct cw_rng {
    uint32_t key[2];
    uint32_t counter[4];
    uint32_t out[4];
    unsigned used; /* words of `out` already handed out */
} cw_rng;

void cw_rng_init(cw_rng *r, uint64_t seed, uint64_t stream);
uint32_t cw_rng_u32(cw_rng *r);
uint64_t cw_rng_u64(cw_rng *r);
double cw_rng_uniform(cw_rng *r);             /* open interval (0, 1), 53 bits */
uint32_t cw_rng_below(cw_rng *r, uint32_t n); /* 0 .. n-1 without bias; n >= 1 */

/* The bare block function, for known-answer tests. */
void cw_philox4x32_10(const uint32_t counter[4], const uint32_t key[2], uint32_t out[4]);

#endif

/* SPDX-License-Identifier: MIT */
/* How often is often enough, and which draw? A test that draws its cases at random draws a third as many under the sanitizers, where
 * each costs several times as much: the release build has tried the answers of all, here only memory is looked at. */
#ifndef TEST_ROUNDS_H
#define TEST_ROUNDS_H

#include "support/check.h"

#include <stdint.h>
#include <stdlib.h>

#ifdef __SANITIZE_ADDRESS__
#define TEST_ROUNDS(n) (((n) + 2) / 3)
#else
#define TEST_ROUNDS(n) (n)
#endif

/* The same tests say the same of the same program: fresh draws are for the long scripts, which set CW_SEED. Prints it. */
static inline uint64_t test_seed(void)
{
    const char *told = getenv("CW_SEED");
    uint64_t seed = told ? strtoull(told, NULL, 10) : 1;
    print_message("CW_SEED=%llu\n", (unsigned long long)seed);
    return seed;
}

#endif

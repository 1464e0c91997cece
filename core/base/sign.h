/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_SIGN_H
#define CW_BASE_SIGN_H

#include <stdint.h>
#include <string.h>

/* Are these the numbers that were worked on last time? A number that stands for many: add one after the other. Different ones
 * have the same with a chance of 2 to the power -64; nobody who wants that to happen can be kept from it, so for what a nursery
 * has itself, never for secrets. */
static inline uint64_t cw_sign_add(uint64_t sign, uint64_t number)
{
    sign = (sign ^ number) * 0x9e3779b97f4a7c15ULL; /* odd constants, well mixed bits */
    sign ^= sign >> 29;
    sign *= 0xbf58476d1ce4e5b9ULL;
    return sign ^ (sign >> 32);
}

static inline uint64_t cw_sign_real(uint64_t sign, double number)
{
    uint64_t bits;
    memcpy(&bits, &number, sizeof bits);
    return cw_sign_add(sign, bits);
}

#endif

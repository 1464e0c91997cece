/* SPDX-License-Identifier: MIT */
#include "base/rng.h"

#include "base/banned.h"

void cw_philox4x32_10(const uint32_t counter[4], const uint32_t key[2], uint32_t out[4])
{
    uint32_t c0 = counter[0], c1 = counter[1], c2 = counter[2], c3 = counter[3];
    uint32_t k0 = key[0], k1 = key[1];
    for (int round = 0; round < 10; round++) {
        uint64_t p0 = (uint64_t)0xD2511F53u * c0;
        uint64_t p1 = (uint64_t)0xCD9E8D57u * c2;
        uint32_t n0 = (uint32_t)(p1 >> 32) ^ c1 ^ k0;
        uint32_t n2 = (uint32_t)(p0 >> 32) ^ c3 ^ k1;
        c1 = (uint32_t)p1;
        c3 = (uint32_t)p0;
        c0 = n0;
        c2 = n2;
        k0 += 0x9E3779B9u;
        k1 += 0xBB67AE85u;
    }
    out[0] = c0;
    out[1] = c1;
    out[2] = c2;
    out[3] = c3;
}

void cw_rng_init(cw_rng *r, uint64_t seed, uint64_t stream)
{
    r->key[0] = (uint32_t)seed;
    r->key[1] = (uint32_t)(seed >> 32);
    r->counter[0] = 0;
    r->counter[1] = 0;
    r->counter[2] = (uint32_t)stream;
    r->counter[3] = (uint32_t)(stream >> 32);
    r->used = 4;
}

uint32_t cw_rng_u32(cw_rng *r)
{
    if (r->used == 4) {
        cw_philox4x32_10(r->counter, r->key, r->out);
        if (++r->counter[0] == 0)
            ++r->counter[1];
        r->used = 0;
    }
    return r->out[r->used++];
}

uint64_t cw_rng_u64(cw_rng *r)
{
    uint64_t high = cw_rng_u32(r);
    return high << 32 | cw_rng_u32(r);
}

double cw_rng_uniform(cw_rng *r)
{
    return ((double)(cw_rng_u64(r) >> 12) + 0.5) * 0x1.0p-52;
}

uint32_t cw_rng_below(cw_rng *r, uint32_t n)
{
    /* Lemire's multiply-shift with rejection of the few words that would bias. */
    uint64_t m = (uint64_t)cw_rng_u32(r) * n;
    if ((uint32_t)m < n) {
        uint32_t floor = (0u - n) % n;
        while ((uint32_t)m < floor)
            m = (uint64_t)cw_rng_u32(r) * n;
    }
    return (uint32_t)(m >> 32);
}

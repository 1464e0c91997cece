/* SPDX-License-Identifier: MIT */
#include "base/digest.h"

#include <assert.h>
#include <sodium.h>
#include <string.h>

#include "base/banned.h"

static crypto_hash_sha256_state *inner(cw_digest *d)
{
    static_assert(sizeof(crypto_hash_sha256_state) <= sizeof(cw_digest), "the opaque state has room");
    return (crypto_hash_sha256_state *)(void *)d->state;
}

void cw_digest_init(cw_digest *d)
{
    crypto_hash_sha256_init(inner(d));
}

void cw_digest_add(cw_digest *d, const void *bytes, size_t n)
{
    crypto_hash_sha256_update(inner(d), bytes, n);
}

void cw_digest_add_int(cw_digest *d, int64_t v)
{
    unsigned char b[8];
    for (int i = 0; i < 8; i++)
        b[i] = (unsigned char)((uint64_t)v >> (8 * i));
    cw_digest_add(d, b, sizeof b);
}

void cw_digest_add_text(cw_digest *d, const char *s)
{
    cw_digest_add_int(d, s ? (int64_t)strlen(s) : -1);
    if (s)
        cw_digest_add(d, s, strlen(s));
}

void cw_digest_end(cw_digest *d, char hex[65])
{
    unsigned char hash[crypto_hash_sha256_BYTES];
    crypto_hash_sha256_final(inner(d), hash);
    sodium_bin2hex(hex, 65, hash, sizeof hash);
}

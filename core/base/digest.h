/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_DIGEST_H
#define CW_BASE_DIGEST_H

#include <stddef.h>
#include <stdint.h>

/* SHA-256 (FIPS 180-4, by libsodium) of a stream of bytes, told as 64 hexadecimal digits. */
typedef struct cw_digest {
    uint64_t state[16]; /* libsodium's state; not to be looked into */
} cw_digest;

void cw_digest_init(cw_digest *d);
void cw_digest_add(cw_digest *d, const void *bytes, size_t n);
void cw_digest_add_int(cw_digest *d, int64_t v); /* eight bytes, little endian */
/* Its length, then its bytes; NULL counts as length -1. */
void cw_digest_add_text(cw_digest *d, const char *s);
void cw_digest_end(cw_digest *d, char hex[65]);

#endif

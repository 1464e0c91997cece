/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_PHONE_H
#define CW_TESTS_SUPPORT_PHONE_H

/* The telephone of somebody who has a second factor, for tests over HTTP: it learns the secret that the server told once. */
#include "base/totp.h"
#include "support/check.h"

#include <string.h>
#include <time.h>
#include <unistd.h>

/* Base32 by its definition, a bit at a time. */
static inline void phone_learn(unsigned char secret[CW_TOTP_SECRET], const char *letters)
{
    assert_non_null(letters);
    assert_int_equal(strlen(letters), 32);
    memset(secret, 0, CW_TOTP_SECRET);
    for (size_t bit = 0; bit < 160; bit++) {
        const char *alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567", *at = strchr(alphabet, letters[bit / 5]);
        assert_non_null(at);
        if ((size_t)(at - alphabet) >> (4 - bit % 5) & 1)
            secret[bit / 8] |= (unsigned char)(0x80 >> bit % 8);
    }
}

static inline void phone_shows(const unsigned char secret[CW_TOTP_SECRET], int steps,
                               char out[CW_TOTP_DIGITS + 1])
{
    assert_true(cw_totp_at(secret, cw_totp_step((cw_instant)time(NULL) * 1000) + steps, out));
}

/* So that no step ends between a code and its use. */
static inline void phone_early_in_a_step(void)
{
    unsigned left = CW_TOTP_STEP_S - (unsigned)(time(NULL) % CW_TOTP_STEP_S);
    if (left < 8)
        sleep(left + 1);
}

#endif

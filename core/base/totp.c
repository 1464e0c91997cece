/* SPDX-License-Identifier: MIT */
#include "base/totp.h"

#include <oath.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

int64_t cw_totp_step(cw_instant at)
{
    return at / 1000 / CW_TOTP_STEP_S;
}

bool cw_totp_at(const unsigned char secret[CW_TOTP_SECRET], int64_t step, char out[CW_TOTP_DIGITS + 1])
{
    return oath_hotp_generate((const char *)secret, CW_TOTP_SECRET, (uint64_t)step, CW_TOTP_DIGITS, false,
                              OATH_HOTP_DYNAMIC_TRUNCATION, out) == OATH_OK;
}

int64_t cw_totp_match(const unsigned char secret[CW_TOTP_SECRET], cw_instant now, int64_t after,
                      const char *code)
{
    char good[CW_TOTP_DIGITS + 1] = "";
    int64_t found = CW_TOTP_NONE, middle = cw_totp_step(now);
    if (strlen(code) != CW_TOTP_DIGITS)
        return CW_TOTP_NONE;
    for (int64_t step = middle - CW_TOTP_WINDOW; step <= middle + CW_TOTP_WINDOW; step++)
        if (step >= 0 && cw_totp_at(secret, step, good) && sodium_memcmp(good, code, CW_TOTP_DIGITS) == 0 &&
            step > after)
            found = step;
    sodium_memzero(good, sizeof good);
    return found;
}

bool cw_base32(const unsigned char *bytes, size_t n, char *out)
{
    char *letters = NULL;
    size_t length = 0;
    if (oath_base32_encode((const char *)bytes, n, &letters, &length) != OATH_OK)
        return false;
    memcpy(out, letters, length + 1);
    sodium_memzero(letters, length);
    free(letters);
    return true;
}

/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_TOTP_H
#define CW_BASE_TOTP_H

#include "base/day.h"

#include <stddef.h>

/* One-time codes by time, as a telephone's app shows them: RFC 6238 with HMAC-SHA-1, 6 digits and steps of 30 s, on the HOTP
 * of RFC 4226 (by liboath, whose generator keeps no state and takes no memory: safe for many threads). */
#define CW_TOTP_SECRET 20 /* bytes, as RFC 4226 (R6) recommends */
#define CW_TOTP_DIGITS 6
#define CW_TOTP_STEP_S 30
#define CW_TOTP_WINDOW 1 /* steps before and after now: clocks differ, and typing takes a while */
#define CW_TOTP_NONE   (-1)

int64_t cw_totp_step(cw_instant at); /* the step that holds an instant, counted from 1970 */

/* The code of a step >= 0; false if the library gives none. */
bool cw_totp_at(const unsigned char secret[CW_TOTP_SECRET], int64_t step, char out[CW_TOTP_DIGITS + 1]);

/* The step within the window around `now` that has this code and comes after step `after`; CW_TOTP_NONE if none has. Takes
 * the same time wherever codes differ. Who keeps the answer as the next `after` takes each code once. */
int64_t cw_totp_match(const unsigned char secret[CW_TOTP_SECRET], cw_instant now, int64_t after,
                      const char *code);

/* Base32 of RFC 4648 (by liboath) without padding, of n bytes, a multiple of 5; out has room for CW_BASE32_TEXT(n). False
 * without memory. */
#define CW_BASE32_TEXT(n) ((n) / 5 * 8 + 1)
bool cw_base32(const unsigned char *bytes, size_t n, char *out);

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_FOLD_H
#define CW_BASE_FOLD_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Are two words the same but for case, accents, punctuation and blanks, or nearly so? Folded text is lower case without accents;
 * letters beyond Latin stand as they are. */

/* The next code point of s[0..n), 0 at a byte that is no UTF-8; *at moves on. */
uint32_t cw_point_next(const char *s, size_t n, size_t *at);

/* The plain letters that a Latin letter is written as ("ss" for sharp s), "" for an accent that stands by itself; NULL for
 * whatever else. One letter stands in `one`. */
const char *cw_point_letters(uint32_t c, char one[2]);

#define CW_FOLD_BYTES 256

/* Letters and digits of s[0..n), folded, into out[CW_FOLD_BYTES], words parted by `gap` ('\0': by nothing); cut to fit. Returns
 * the length. */
size_t cw_fold(const char *s, size_t n, char gap, char out[CW_FOLD_BYTES]);

/* How many letters were put in, left out, changed or swapped with their neighbour between a and b; `most` + 1 when more than `most`
 * or when one is longer than 64 bytes (optimal string alignment). */
int cw_distance(const char *a, const char *b, int most);

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_COUNTRY_H
#define CW_BASE_COUNTRY_H

#include <stddef.h>

/* Which country is meant? In: what somebody typed, as UTF-8: an ISO 3166-1 code of two or three letters, or a name in English,
 * German, Dutch or French. Case, accents, blanks, hyphens and points do not count, nor do "the" and "and". Out: the alpha-2
 * code, a constant; NULL when no country is known by that. */
const char *cw_country_find(const char *text, size_t length);

#endif

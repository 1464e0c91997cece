/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_CHARSET_H
#define CW_BASE_CHARSET_H

#include "base/text.h"

/* In what encoding were these bytes of text written, and what do they say as UTF-8? A mark at the start tells it for sure; NUL bytes
 * in every second place tell UTF-16; what is UTF-8 throughout is taken for it. Only the rest is a judgement, by which reading
 * gives letters that European words are written with: Windows-1252 unless another gives clearly more of them. */
typedef enum cw_charset {
    CW_CHARSET_UNKNOWN,
    CW_UTF_8,
    CW_UTF_16_LE,
    CW_UTF_16_BE,
    CW_WINDOWS_1252, /* the Encoding Standard's: every byte has a meaning */
    CW_MACINTOSH,
    CW_IBM_850,
    CW_ISO_8859_15, /* as Windows-1252 above 0xA0, but for the euro and seven letters */
} cw_charset;

const char *cw_charset_name(cw_charset c);
cw_charset cw_charset_named(const char *name); /* CW_CHARSET_UNKNOWN if there is none */

/* *sure: the bytes leave no other reading. CW_CHARSET_UNKNOWN: no text at all (NUL bytes). */
cw_charset cw_charset_find(const char *bytes, size_t n, bool *sure);

/* The bytes as UTF-8, without a mark at the start, appended to `out`. What UTF-16 leaves half becomes U+FFFD. */
void cw_charset_decode(cw_charset c, const char *bytes, size_t n, cw_text *out);

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_CODE128_H
#define CW_BASE_CODE128_H

#include "base/error.h"
#include "base/text.h"

#include <stddef.h>
#include <stdint.h>

/* Code 128 (ISO/IEC 15417, not at hand: the tables are written from memory and the tests hold them against an
 * independent decoder), code sets B and C: printable ASCII (32 to 126), digit pairs packed. A symbol is 11
 * modules in three bars and three spaces, the stop 13; a check symbol modulo 103; a quiet zone of 10 modules
 * on both sides.
 *
 * A printer or a screen must not round a module: sizes are whole dots of the device. At 203 dots per inch a
 * module of 2 dots (0.25 mm) reads well, a scaled one does not, so never stretch the picture to a box. */
#define CW_CODE128_MAX_TEXT 48
#define CW_CODE128_QUIET    10

typedef struct cw_code128 {
    uint8_t symbols[CW_CODE128_MAX_TEXT + 3]; /* start, data, check, stop */
    size_t count;
} cw_code128;

/* CW_REFUSED if the text is empty, too long or has a character outside 32 .. 126. */
cw_code cw_code128_encode(const char *text, cw_code128 *out, cw_error *err) CW_MUST_CHECK;

/* Widths of bar, space, bar, space ... as digits, without the quiet zones; `n` gets how many there are. */
#define CW_CODE128_MAX_WIDTHS ((CW_CODE128_MAX_TEXT + 3) * 6 + 1)
void cw_code128_widths(const cw_code128 *c, uint8_t out[CW_CODE128_MAX_WIDTHS], size_t *n);

/* Modules over all, quiet zones included: times dots per module is the picture's width in dots. */
size_t cw_code128_modules(const cw_code128 *c);

/* Appends an <svg> of exactly whole dots: `dots` per module at `dpi` dots per inch, bars height_mm high. The
 * text is its accessible name; it is not drawn. */
cw_code cw_code128_svg(const char *text, int dpi, int dots, double height_mm, cw_text *out,
                       cw_error *err) CW_MUST_CHECK;

#endif

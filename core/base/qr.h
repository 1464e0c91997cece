/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_QR_H
#define CW_BASE_QR_H

#include "base/error.h"
#include "base/text.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* QR codes (by libqrencode): smallest version, error correction M, a quiet zone of 4 modules on all sides. As
 * with Code 128 a module is a whole number of the device's dots. */
#define CW_QR_QUIET    4
#define CW_QR_MAX_TEXT 512

typedef struct cw_qr {
    int width;     /* modules a side, without the quiet zone */
    uint8_t *dark; /* [width * width], rows from the top; 1 = dark */
} cw_qr;

/* CW_REFUSED if the text is empty, too long or not UTF-8. Free with cw_qr_free (right for a zeroed one too). */
cw_code cw_qr_encode(const char *text, cw_qr *out, cw_error *err) CW_MUST_CHECK;
/* The same of a text that nobody may find in the program's memory afterwards. */
cw_code cw_qr_encode_secret(const char *text, cw_qr *out, cw_error *err) CW_MUST_CHECK;
void cw_qr_free(cw_qr *q);

/* Appends the dark modules as path data of an SVG, `dots` user units each, the quiet zone left free on all sides; neighbours in
 * a row are one shape: smaller, and no seams between them. */
void cw_qr_path(const cw_qr *q, int dots, cw_text *out);

/* Appends an <svg> of exactly whole dots: `dots` per module at `dpi` dots per inch. The text is its
 * accessible name. */
cw_code cw_qr_svg(const char *text, int dpi, int dots, cw_text *out, cw_error *err) CW_MUST_CHECK;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_CODESVG_H
#define CW_BASE_CODESVG_H

#include "base/text.h"

#include <stddef.h>

/* The frame that bar codes and QR codes share: an <svg> whose user unit is one dot of the device, so that
 * everything drawn in whole numbers falls on whole dots. White ground (also on a dark page), dark shapes, no
 * smoothing. Between open and close stand the path data of the dark shapes. */
#define CW_CODE_MAX_DPI  2400
#define CW_CODE_MAX_DOTS 64

void cw_code_svg_open(cw_text *out, const char *name, size_t wide, size_t high, double mm_per_dot);
void cw_code_svg_close(cw_text *out);

#endif

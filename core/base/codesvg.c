/* SPDX-License-Identifier: MIT */
#include "base/codesvg_inside.h"

#include "base/banned.h"

void cw_code_svg_open(cw_text *out, const char *name, size_t wide, size_t high, double mm_per_dot)
{
    cw_text_addf(out,
                 "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%.4fmm\" height=\"%.4fmm\" viewBox=\"0 0 "
                 "%zu %zu\" "
                 "shape-rendering=\"crispEdges\" role=\"img\" aria-label=\"",
                 (double)wide * mm_per_dot, (double)high * mm_per_dot, wide, high);
    cw_text_add_markup(out, name);
    cw_text_addf(out, "\"><path fill=\"#fff\" d=\"M0 0h%zuv%zuh-%zuz\"/><path fill=\"#000\" d=\"", wide, high,
                 wide);
}

void cw_code_svg_close(cw_text *out)
{
    cw_text_add(out, "\"/></svg>");
}

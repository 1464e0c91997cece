/* SPDX-License-Identifier: MIT */
#include "base/table.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define PRINT_AT (64 * 1024)

/* Hands the gathered bytes on when there are many, or at the end. */
static cw_code hand_on(cw_text *gathered, size_t least, cw_sink to, cw_error *err)
{
    if (gathered->length < least && !gathered->failed)
        return CW_OK;
    cw_code code = cw_text_check(gathered, err);
    if (code == CW_OK && gathered->length)
        code = to.write(to.self, gathered->data, gathered->length, err);
    cw_text_clear(gathered);
    return code;
}

/* Characters that a terminal shows for UTF-8 text, near enough: bytes that start a character. */
static size_t shown_width(const char *s)
{
    size_t n = 0;
    for (; *s; s++)
        n += ((unsigned char)*s & 0xC0) != 0x80;
    return n;
}

static void pad(cw_text *out, size_t n)
{
    while (n-- > 0)
        cw_text_addc(out, ' ');
}

static void print_cell(cw_text *out, const char *s, size_t width, bool right, bool last)
{
    size_t n = shown_width(s);
    size_t gap = n < width ? width - n : 0;
    if (right)
        pad(out, gap);
    cw_text_add(out, s);
    if (!right && !last)
        pad(out, gap);
    if (!last)
        pad(out, 2);
}

static bool to_the_right(cw_type type)
{
    return type == CW_INT_T || type == CW_REAL_T || type == CW_MONEY_T;
}

cw_code cw_table_print(const cw_table *t, cw_sink to, cw_error *err)
{
    size_t *widths = calloc(t->width ? t->width : 1, sizeof *widths);
    cw_text out = CW_TEXT((size_t)4 << 20), one = CW_TEXT((size_t)1 << 20);
    cw_code code = widths ? CW_OK : cw_error_memory(err);
    for (size_t c = 0; code == CW_OK && c < t->width; c++) {
        widths[c] = strlen(t->columns[c].name);
        for (size_t r = 0; r < cw_table_rows(t); r++) {
            cw_text_clear(&one);
            cw_table_show(t, r, c, &one);
            size_t n = one.data ? shown_width(one.data) : 0;
            widths[c] = n > widths[c] ? n : widths[c];
        }
    }
    for (size_t r = 0; code == CW_OK && r <= cw_table_rows(t); r++) {
        for (size_t c = 0; c < t->width; c++) {
            cw_text_clear(&one);
            if (r == 0)
                cw_text_add(&one, t->columns[c].name);
            else
                cw_table_show(t, r - 1, c, &one);
            print_cell(&out, one.data ? one.data : "", widths[c], to_the_right(t->columns[c].type),
                       c + 1 == t->width);
        }
        cw_text_addc(&out, '\n');
        code = hand_on(&out, PRINT_AT, to, err);
    }
    if (code == CW_OK)
        code = hand_on(&out, 0, to, err);
    cw_text_free(&one);
    cw_text_free(&out);
    free(widths);
    return code;
}

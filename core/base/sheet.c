/* SPDX-License-Identifier: MIT */
#include "base/sheet_inside.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

cw_sheet *cw_workbook_add(cw_workbook *b, const char *name, cw_error *err)
{
    cw_sheet *all = realloc(b->sheets, (b->count + 1) * sizeof *all);
    if (all == NULL) {
        cw_error_memory(err);
        return NULL;
    }
    b->sheets = all;
    cw_sheet *s = &all[b->count++];
    *s = (cw_sheet){ .texts = CW_TEXT((size_t)CW_MAX_SHEET_TEXT_BYTES) };
    cw_copy(s->name, sizeof s->name, name);
    return s;
}

void cw_workbook_free(cw_workbook *b)
{
    for (size_t i = 0; i < b->count; i++) {
        free(b->sheets[i].squares);
        free(b->sheets[i].rows);
        cw_text_free(&b->sheets[i].texts);
    }
    free(b->sheets);
    *b = (cw_workbook){ 0 };
}

cw_code cw_sheet_full(const char *name, const char *what, long long most, cw_error *err)
{
    return cw_error_at(err, CW_REFUSED, name, 0, NULL, "has more %s than a file may have (%lld)", what, most);
}

/* Room for one more; false without memory. */
static bool room_for(void **list, size_t count, size_t *room, size_t size)
{
    if (count < *room)
        return true;
    size_t more = *room ? 2 * *room : 256;
    void *grown = realloc(*list, more * size);
    if (grown == NULL)
        return false;
    *list = grown;
    *room = more;
    return true;
}

static cw_code add_row(cw_sheet *s, long number, cw_error *err)
{
    if (s->row_count >= CW_MAX_SHEET_ROWS)
        return cw_sheet_full(s->name, "rows", CW_MAX_SHEET_ROWS, err);
    if (!room_for((void **)&s->rows, s->row_count, &s->row_room, sizeof *s->rows))
        return cw_error_memory(err);
    s->rows[s->row_count++] = (cw_sheet_row){ .first = s->square_count, .number = number };
    return CW_OK;
}

/* Blanks, tabs and the blank that does not break, at either end. */
static void trim(const char **text, size_t *n)
{
    const char *s = *text;
    size_t left = *n;
    for (;;) {
        if (left > 0 && (unsigned char)s[0] <= ' ')
            s++, left--;
        else if (left > 1 && memcmp(s, "\xC2\xA0", 2) == 0)
            s += 2, left -= 2;
        else
            break;
    }
    for (;;) {
        if (left > 0 && (unsigned char)s[left - 1] <= ' ')
            left--;
        else if (left > 1 && memcmp(s + left - 2, "\xC2\xA0", 2) == 0)
            left -= 2;
        else
            break;
    }
    *text = s;
    *n = left;
}

cw_code cw_sheet_put(cw_sheet *s, long row, unsigned column, cw_stands holds, const char *text, size_t n,
                     cw_error *err)
{
    trim(&text, &n);
    if (n == 0)
        return CW_OK;
    if (n > CW_MAX_FIELD_BYTES)
        return cw_error_at(err, CW_REFUSED, s->name, row, NULL, "a cell holds more than %d bytes",
                           CW_MAX_FIELD_BYTES);
    if (column >= CW_MAX_SHEET_COLUMNS)
        return cw_sheet_full(s->name, "columns", CW_MAX_SHEET_COLUMNS, err);
    if (s->row_count == 0 || s->rows[s->row_count - 1].number != row) {
        cw_code code = add_row(s, row, err);
        if (code != CW_OK)
            return code;
    }
    cw_sheet_row *r = &s->rows[s->row_count - 1];
    if (column < r->width) /* twice in one row: the file is wrong, the first stays */
        return CW_OK;
    for (; r->width <= column; r->width++) {
        if (s->square_count >= CW_MAX_SHEET_CELLS)
            return cw_sheet_full(s->name, "cells", CW_MAX_SHEET_CELLS, err);
        if (!room_for((void **)&s->squares, s->square_count, &s->square_room, sizeof *s->squares))
            return cw_error_memory(err);
        s->squares[s->square_count++] = (cw_square){ 0 };
    }
    size_t at = s->texts.length;
    cw_text_addn(&s->texts, text, n);
    if (s->texts.failed)
        return s->texts.starved ? cw_error_memory(err)
                                : cw_sheet_full(s->name, "bytes of text", CW_MAX_SHEET_TEXT_BYTES, err);
    s->squares[s->square_count - 1] = (cw_square){ (uint32_t)at, (uint32_t)n, holds };
    if (r->width > s->width)
        s->width = r->width;
    return CW_OK;
}

cw_field cw_sheet_at(const cw_sheet *s, size_t row, unsigned column, cw_stands *holds)
{
    const cw_sheet_row *r = row < s->row_count ? &s->rows[row] : NULL;
    const cw_square *q = r && column < r->width ? &s->squares[r->first + column] : NULL;
    if (holds)
        *holds = q ? q->holds : CW_STANDS_NOTHING;
    return q && q->n ? (cw_field){ s->texts.data + q->at, q->n } : (cw_field){ "", 0 };
}

void cw_column_letters(unsigned column, char out[8])
{
    char back[8];
    size_t n = 0, i = 0;
    for (unsigned c = column + 1; c > 0 && n < 7; c = (c - 1) / 26)
        back[n++] = (char)('A' + (c - 1) % 26);
    while (n > 0)
        out[i++] = back[--n];
    out[i] = '\0';
}

cw_code cw_workbook_read(const char *name, const char *bytes, size_t n, cw_charset charset, cw_go_on go_on,
                         cw_workbook *out, cw_error *err)
{
    static const char old[] =
        "\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1"; /* the compound file that .xls and passwords use */
    *out = (cw_workbook){ 0 };
    if (n > CW_MAX_SHEET_FILE_BYTES)
        return cw_error_at(err, CW_REFUSED, name, 0, NULL, "is larger than a spreadsheet may be (32 MB)");
    if (n == 0)
        return cw_error_at(err, CW_REFUSED, name, 0, NULL, "is empty");
    if (n >= sizeof old - 1 && memcmp(bytes, old, sizeof old - 1) == 0)
        return cw_error_at(err, CW_REFUSED, name, 0, NULL,
                           "is a workbook of the old kind (.xls), or one with a password; save it as .xlsx "
                           "without a password");
    bool zipped = n >= 4 && memcmp(bytes, "PK\3\4", 4) == 0;
    cw_code code = zipped ? cw_workbook_xlsx(name, bytes, n, go_on, out, err)
                          : cw_workbook_text(name, bytes, n, charset, go_on, out, err);
    if (code != CW_OK)
        cw_workbook_free(out);
    return code;
}

/* SPDX-License-Identifier: MIT */
#include "base/table.h"

#include "base/json.h"
#include "base/limits.h"
#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define FLUSH_AT (64 * 1024)

void cw_table_init(cw_table *t, const cw_column *columns, size_t width)
{
    *t = (cw_table){ .columns = columns, .width = width, .texts = CW_TEXT((size_t)2 << 30) };
}

void cw_table_free(cw_table *t)
{
    free(t->cells);
    cw_text_free(&t->texts);
    *t = (cw_table){ 0 };
}

/* The next cell, or NULL when the table has failed. */
static cw_cell *next_cell(cw_table *t)
{
    if (t->failed)
        return NULL;
    if (t->used == t->room) {
        size_t room = t->room ? t->room * 2 : t->width * 16;
        cw_cell *cells =
            room / t->width > 2 * (size_t)CW_MAX_TABLE_ROWS ? NULL : realloc(t->cells, room * sizeof *cells);
        if (cells == NULL) {
            t->failed = true;
            return NULL;
        }
        t->cells = cells;
        t->room = room;
    }
    cw_cell *cell = &t->cells[t->used++];
    *cell = (cw_cell){ .null = true };
    return cell;
}

static cw_type next_type(const cw_table *t)
{
    return t->columns[t->used % t->width].type;
}

void cw_put_null(cw_table *t)
{
    next_cell(t);
}

void cw_put_text(cw_table *t, const char *s)
{
    assert(t->failed || next_type(t) == CW_TEXT_T);
    cw_cell *cell = next_cell(t);
    if (cell == NULL || s == NULL)
        return;
    cell->v.offset = t->texts.length;
    cell->null = false;
    cw_text_addn(&t->texts, s, strlen(s) + 1);
    t->failed = t->texts.failed;
}

void cw_put_int(cw_table *t, int64_t v)
{
    cw_type type = next_type(t);
    assert(t->failed || type == CW_INT_T || type == CW_DAY_T || type == CW_INSTANT_T || type == CW_WEEK_T);
    cw_cell *cell = next_cell(t);
    if (cell == NULL)
        return;
    cell->v.i = v;
    cell->null = (type == CW_DAY_T && v == CW_NO_DAY) || (type == CW_INSTANT_T && v == CW_NO_INSTANT) ||
                 (type == CW_WEEK_T && v == 0);
}

void cw_put_real(cw_table *t, double v)
{
    assert(t->failed || next_type(t) == CW_REAL_T);
    cw_cell *cell = next_cell(t);
    if (cell == NULL)
        return;
    cell->v.r = v;
    cell->null = isnan(v);
}

static void put_whole(cw_table *t, cw_type type, int64_t v)
{
    assert(t->failed || next_type(t) == type);
    (void)type;
    cw_cell *cell = next_cell(t);
    if (cell == NULL)
        return;
    cell->v.i = v;
    cell->null = false;
}

void cw_put_money(cw_table *t, cw_cents v)
{
    put_whole(t, CW_MONEY_T, v);
}

void cw_put_bool(cw_table *t, bool v)
{
    put_whole(t, CW_BOOL_T, v);
}

cw_code cw_table_check(const cw_table *t, cw_error *err)
{
    if (t->failed)
        return cw_error_set(err, CW_MACHINE, "a result outgrew its limit of %d rows, or memory ran out",
                            CW_MAX_TABLE_ROWS);
    assert(t->width && t->used % t->width == 0);
    return CW_OK;
}

size_t cw_table_rows(const cw_table *t)
{
    return t->width ? t->used / t->width : 0;
}

int cw_table_column(const cw_table *t, const char *name)
{
    for (size_t c = 0; c < t->width; c++)
        if (strcmp(t->columns[c].name, name) == 0)
            return (int)c;
    return -1;
}

const cw_cell *cw_table_cell(const cw_table *t, size_t row, size_t column)
{
    assert(row < cw_table_rows(t) && column < t->width);
    return &t->cells[row * t->width + column];
}

const char *cw_table_text(const cw_table *t, size_t row, size_t column)
{
    const cw_cell *cell = cw_table_cell(t, row, column);
    assert(t->columns[column].type == CW_TEXT_T);
    return cell->null ? "" : t->texts.data + cell->v.offset;
}

int64_t cw_table_int(const cw_table *t, size_t row, size_t column)
{
    const cw_cell *cell = cw_table_cell(t, row, column);
    assert(t->columns[column].type != CW_TEXT_T && t->columns[column].type != CW_REAL_T);
    return cell->null ? 0 : cell->v.i;
}

double cw_table_real(const cw_table *t, size_t row, size_t column)
{
    const cw_cell *cell = cw_table_cell(t, row, column);
    if (cell->null)
        return 0;
    return t->columns[column].type == CW_REAL_T ? cell->v.r : (double)cw_table_int(t, row, column);
}

void cw_table_show(const cw_table *t, size_t row, size_t column, cw_text *out)
{
    const cw_cell *cell = cw_table_cell(t, row, column);
    const cw_column *c = &t->columns[column];
    char s[32];
    if (cell->null)
        return;
    switch (c->type) {
    case CW_TEXT_T:
        cw_text_add(out, t->texts.data + cell->v.offset);
        return;
    case CW_INT_T:
        cw_text_addf(out, "%lld", (long long)cell->v.i);
        return;
    case CW_REAL_T:
        cw_text_addf(out, "%.*f", c->decimals, cell->v.r);
        return;
    case CW_MONEY_T:
        cw_cents_format(cell->v.i, s);
        break;
    case CW_DAY_T:
        cw_day_format((cw_day)cell->v.i, s);
        break;
    case CW_INSTANT_T:
        cw_instant_format(cell->v.i, s);
        break;
    case CW_WEEK_T:
        cw_week_format((cw_week)cell->v.i, s);
        break;
    case CW_BOOL_T:
        cw_copy(s, sizeof s, cell->v.i ? "yes" : "no");
        break;
    }
    cw_text_add(out, s);
}

static cw_code text_write(void *self, const char *bytes, size_t n, cw_error *err)
{
    cw_text_addn(self, bytes, n);
    return cw_text_check(self, err);
}

cw_sink cw_sink_text(cw_text *t)
{
    return (cw_sink){ text_write, t };
}

/* Hands the gathered bytes on when there are many, or at the end. */
static cw_code flush(cw_text *gathered, size_t least, cw_sink to, cw_error *err)
{
    if (gathered->length < least && !gathered->failed)
        return CW_OK;
    cw_code code = cw_text_check(gathered, err);
    if (code == CW_OK && gathered->length)
        code = to.write(to.self, gathered->data, gathered->length, err);
    cw_text_clear(gathered);
    return code;
}

/* A cell that a spreadsheet would take for a formula is left as it is: a CSV is data, and changing it would break
 * the round trip. The workbook export writes texts as texts. */
static void csv_quote(cw_text *out, size_t from)
{
    bool needs = false;
    for (size_t i = from; i < out->length && !needs; i++)
        needs = strchr(",\"\r\n", out->data[i]) != NULL;
    if (!needs)
        return;
    cw_text plain = CW_TEXT(out->max);
    cw_text_addn(&plain, out->data + from, out->length - from);
    out->length = from;
    cw_text_addc(out, '"');
    for (size_t i = 0; i < plain.length; i++) {
        if (plain.data[i] == '"')
            cw_text_addc(out, '"');
        cw_text_addc(out, plain.data[i]);
    }
    cw_text_addc(out, '"');
    out->failed = out->failed || plain.failed;
    cw_text_free(&plain);
}

cw_code cw_table_csv(const cw_table *t, cw_sink to, cw_error *err)
{
    cw_text out = CW_TEXT((size_t)4 << 20);
    cw_code code = CW_OK;
    for (size_t c = 0; c < t->width; c++)
        cw_text_addf(&out, "%s%s", c ? "," : "", t->columns[c].name);
    cw_text_addc(&out, '\n');
    for (size_t r = 0; r < cw_table_rows(t) && code == CW_OK; r++) {
        for (size_t c = 0; c < t->width; c++) {
            if (c)
                cw_text_addc(&out, ',');
            size_t from = out.length;
            cw_table_show(t, r, c, &out);
            csv_quote(&out, from);
        }
        cw_text_addc(&out, '\n');
        code = flush(&out, FLUSH_AT, to, err);
    }
    if (code == CW_OK)
        code = flush(&out, 0, to, err);
    cw_text_free(&out);
    return code;
}

static void json_string_add(cw_text *out, const char *s)
{
    cw_text_addc(out, '"');
    for (; *s; s++) {
        unsigned char c = (unsigned char)*s;
        if (c == '"' || c == '\\') {
            cw_text_addc(out, '\\');
            cw_text_addc(out, *s);
        } else if (c < 0x20) {
            cw_text_addf(out, "\\u%04x", c);
        } else {
            cw_text_addc(out, *s);
        }
    }
    cw_text_addc(out, '"');
}

static void json_cell(const cw_table *t, size_t r, size_t c, cw_text *out)
{
    const cw_cell *cell = cw_table_cell(t, r, c);
    cw_type type = t->columns[c].type;
    if (cell->null) {
        cw_text_add(out, "null");
    } else if (type == CW_TEXT_T) {
        json_string_add(out, cw_table_text(t, r, c));
    } else if (type == CW_BOOL_T) {
        cw_text_add(out, cell->v.i ? "true" : "false");
    } else if (type == CW_INT_T || type == CW_REAL_T) {
        cw_table_show(t, r, c, out);
    } else {
        cw_text_addc(out, '"');
        cw_table_show(t, r, c, out);
        cw_text_addc(out, '"');
    }
}

cw_code cw_table_json(const cw_table *t, cw_sink to, cw_error *err)
{
    cw_text out = CW_TEXT((size_t)4 << 20);
    cw_code code = CW_OK;
    cw_text_addc(&out, '[');
    for (size_t r = 0; r < cw_table_rows(t) && code == CW_OK; r++) {
        cw_text_add(&out, r ? ",\n{" : "\n{");
        for (size_t c = 0; c < t->width; c++) {
            cw_text_addf(&out, "%s\"%s\":", c ? "," : "", t->columns[c].name);
            json_cell(t, r, c, &out);
        }
        cw_text_addc(&out, '}');
        code = flush(&out, FLUSH_AT, to, err);
    }
    cw_text_add(&out, "\n]");
    if (code == CW_OK)
        code = flush(&out, 0, to, err);
    cw_text_free(&out);
    return code;
}

json_t *cw_table_to_json(const cw_table *t)
{
    json_t *rows = t->failed ? NULL : json_array();
    cw_text one = CW_TEXT(CW_MAX_FIELD_BYTES * 4);
    for (size_t r = 0; rows && r < cw_table_rows(t); r++) {
        json_t *row = json_object();
        for (size_t c = 0; row && c < t->width; c++) {
            const cw_cell *cell = cw_table_cell(t, r, c);
            cw_type type = t->columns[c].type;
            json_t *v = NULL;
            cw_text_clear(&one);
            if (cell->null)
                v = json_null();
            else if (type == CW_BOOL_T)
                v = json_boolean(cell->v.i != 0);
            else if (type == CW_INT_T)
                v = json_integer(cell->v.i);
            else if (type == CW_REAL_T)
                v = json_real(cell->v.r);
            else {
                cw_table_show(t, r, c, &one);
                v = one.failed ? NULL : json_string(one.data ? one.data : "");
            }
            cw_json_put_take(&row, t->columns[c].name, v);
        }
        cw_json_append_take(&rows, row);
    }
    cw_text_free(&one);
    return rows;
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
        code = flush(&out, FLUSH_AT, to, err);
    }
    if (code == CW_OK)
        code = flush(&out, 0, to, err);
    cw_text_free(&one);
    cw_text_free(&out);
    free(widths);
    return code;
}

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

void cw_table_clear(cw_table *t)
{
    t->used = 0;
    cw_text_clear(&t->texts);
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

static const cw_column *next_column(const cw_table *t)
{
    return &t->columns[t->used % t->width];
}

static cw_type next_type(const cw_table *t)
{
    return next_column(t)->type;
}

void cw_put_null(cw_table *t)
{
    next_cell(t);
}

/* Texts stand one behind the other and cells hold offsets: the buffer moves when it grows. */
void cw_put_text(cw_table *t, const char *s)
{
    assert(t->failed || next_type(t) == CW_TEXT_T);
    bool null = s == NULL || (s[0] == '\0' && next_column(t)->null);
    cw_cell *cell = next_cell(t);
    if (cell == NULL || null)
        return;
    cell->v.offset = t->texts.length;
    cell->null = false;
    cw_text_addn(&t->texts, s, strlen(s) + 1);
    t->failed = t->texts.failed;
}

bool cw_is_none(cw_type type, int64_t v)
{
    return (type == CW_DAY_T && v == CW_NO_DAY) || (type == CW_INSTANT_T && v == CW_NO_INSTANT) ||
           (type == CW_WEEK_T && v == 0);
}

void cw_put_int(cw_table *t, int64_t v)
{
    cw_type type = next_type(t);
    assert(t->failed || type == CW_INT_T || type == CW_DAY_T || type == CW_INSTANT_T || type == CW_WEEK_T);
    cw_cell *cell = next_cell(t);
    if (cell == NULL)
        return;
    cell->v.i = v;
    cell->null = cw_is_none(type, v);
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

size_t cw_table_format(const cw_column *c, const cw_cell *cell, char out[CW_CELL_BYTES])
{
    cw_value v = { 0 };
    if (c->type == CW_REAL_T)
        v.r = cell->v.r;
    else
        v.i = cell->v.i;
    return cw_value_format(c->type, c->decimals, &v, out);
}

void cw_table_show(const cw_table *t, size_t row, size_t column, cw_text *out)
{
    const cw_cell *cell = cw_table_cell(t, row, column);
    char s[CW_CELL_BYTES];
    if (cell->null)
        return;
    if (t->columns[column].type == CW_TEXT_T)
        cw_text_add(out, t->texts.data + cell->v.offset);
    else
        cw_text_addn(out, s, cw_table_format(&t->columns[column], cell, s));
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

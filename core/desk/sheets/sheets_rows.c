/* SPDX-License-Identifier: MIT */
#include "desk/sheets/sheets_rows_inside.h"

#include <stdlib.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* Every row of the sheet: is it one to take, what does it say, and what is wrong with it? */

static bool is_sum_word(cw_field cell)
{
    static const char words[] = " total totals grandtotal subtotal sum summe gesamt gesamtsumme insgesamt "
                                "zwischensumme totaal subtotaal "
                                "som totaux somme totalgeneral soustotal totalgeneral summen eindtotaal ";
    /* What no variety begins with: "Subtotal Amber Lantern". */
    static const char *const begins[] = { "subtotal ",      "sub total ",   "grand total ",
                                          "zwischensumme ", "gesamtsumme ", "subtotaal ",
                                          "eindtotaal ",    "sous total ",  "total general " };
    char folded[CW_FOLD_BYTES], key[CW_FOLD_BYTES + 2];
    cw_fold(cell.s, cell.n, ' ', folded);
    for (size_t i = 0; i < sizeof begins / sizeof begins[0]; i++)
        if (strncmp(folded, begins[i], strlen(begins[i])) == 0)
            return true;
    size_t n = cw_fold(cell.s, cell.n, '\0', folded);
    if (n == 0 || n > 20)
        return false;
    snprintf(key, sizeof key, " %s ", folded);
    return strstr(words, key) != NULL;
}

static bool repeats_header(const cw_fitting *f, size_t row)
{
    unsigned same = 0;
    for (unsigned c = 0; f->header >= 0 && c < f->sheet->rows[row].width; c++) {
        cw_field cell = cw_sheet_at(f->sheet, row, c, NULL),
                 head = cw_sheet_at(f->sheet, (size_t)f->header, c, NULL);
        if (cell.n == 0)
            continue;
        if (cell.n != head.n || memcmp(cell.s, head.s, cell.n) != 0)
            return false;
        same++;
    }
    return same > 1;
}

/* Does a number stand under one of the varieties that head columns? */
static bool counts_any(const cw_fitting *f, size_t row)
{
    for (unsigned c = 0; c < f->sheet->rows[row].width; c++) {
        cw_stands holds;
        cw_field cell = cw_sheet_at(f->sheet, row, c, &holds);
        if (f->columns[c].heads && cw_fit_counts(f, cell, holds))
            return true;
    }
    return false;
}

/* Why a row is passed over; NULL: it is to be taken. */
static const char *passed_for(const cw_fitting *f, size_t row)
{
    unsigned used = 0, looked = 0, needed = 0, columns = 0;
    bool sum = false;
    for (unsigned c = 0; c < f->sheet->rows[row].width; c++) {
        cw_field cell = cw_sheet_at(f->sheet, row, c, NULL);
        used += cell.n > 0 && f->columns[c].to.kind >= 0;
        if (cell.n > 0 && looked++ < 3)
            sum = sum || is_sum_word(cell);
    }
    for (unsigned c = 0; c < f->width; c++) {
        columns += f->columns[c].to.kind >= 0;
        needed += f->columns[c].to.kind == f->kind && cw_target_column(f->columns[c].to)->need == CW_NEEDED;
    }
    if (sum && used < columns)
        return "a sum";
    if (repeats_header(f, row))
        return "the headings once more";
    if (used == 0)
        return "nothing in it is used";
    if (f->heads && !counts_any(f, row))
        return "no number stands under a variety";
    return used == 1 && needed > 1 ? "only one cell is filled: a heading or a note" : NULL;
}

static void pass(cw_fitting *f, size_t row, const char *why)
{
    char text[80] = "";
    for (unsigned c = 0; c < f->sheet->rows[row].width && text[0] == '\0'; c++) {
        cw_field cell = cw_sheet_at(f->sheet, row, c, NULL);
        if (cell.n)
            cw_shown(cell.s, cell.n, text);
    }
    if (f->passed_count++ < MOST_SHOWN)
        cw_json_append_take(&f->passed,
                            json_pack("{s:I,s:s,s:s}", "row", (json_int_t)f->sheet->rows[row].number, "text",
                                      text, "why", why));
}

/* Columns in which a blank cell means what stands above: what an order repeats, and what several rows may share. */
static bool may_carry(const cw_fitting *f, const cw_kind_column *k)
{
    if (f->kind == CW_ORDERS)
        return k->repeats;
    return k->need == CW_NEEDED &&
           (cw_column_is(k) == CW_IS_VARIETY || cw_column_is(k) == CW_IS_LOT ||
            cw_column_is(k) == CW_IS_PLACE || cw_column_is(k) == CW_IS_PAST || cw_column_is(k) == CW_IS_DAY ||
            cw_column_is(k) == CW_IS_DATE || strcmp(k->name, "season") == 0 || strcmp(k->name, "room") == 0);
}

static void read_one(cw_reading *r, cw_row_values *v, unsigned c, const char *carried)
{
    cw_fitting *f = r->f;
    const cw_fit_column *column = &f->columns[c];
    cw_stands holds;
    cw_field cell = cw_sheet_at(f->sheet, r->row, c, &holds);
    int k = column->to.column;
    if (column->group > 1 || column->heads) /* items in further columns are read line by line */
        return;
    cw_cell_read *value = &v->value[k];
    if (cell.n == 0 && carried && carried[0] && !v->filled[k]) {
        cw_copy(value->text, sizeof value->text, carried);
        v->filled[k] = v->carried[k] = true;
        v->from[k] = (int)c;
        return;
    }
    if (cell.n == 0)
        return;
    if (v->filled[k]) { /* a second column of the same: first and last name */
        size_t n = strlen(value->text);
        if (n + 2 < sizeof value->text) {
            value->text[n] = ' ';
            cw_fit_cut(value->text + n + 1, sizeof value->text - n - 1, cell.s, cell.n);
        }
        return;
    }
    v->from[k] = (int)c;
    v->filled[k] = true;
    if (!cw_cell_value(f, column->to, column, cell, holds, value)) {
        cw_fit_problem(f, r->row, (int)c, column->to, cell, value->wrong);
        r->wrong = true;
    }
    v->filled[k] = value->text[0] != '\0';
    f->repaired += value->repaired;
}

static void clear(cw_row_values *v)
{
    for (int k = 0; k < CW_MAX_KIND_COLUMNS; k++) {
        v->value[k].text[0] = v->value[k].wrong[0] = '\0';
        v->value[k].repaired = false;
        v->from[k] = -1;
        v->filled[k] = v->carried[k] = false;
    }
}

/* An order's own columns are carried while the order is the same; where none has a number, while the buyer is: nothing of one buyer's
 * may stand beside another's name. */
static bool same_order(const cw_reading *r)
{
    static const char *const of[] = { "order", "customer", "email" };
    const cw_fitting *f = r->f;
    int c = -1;
    for (size_t i = 0; i < sizeof of / sizeof of[0] && c < 0; i++)
        c = cw_fit_column_of(f, (cw_target){ CW_ORDERS, cw_kind_column_named(CW_ORDERS, of[i]) }, -1);
    if (f->kind != CW_ORDERS || c < 0)
        return true;
    cw_field cell = cw_sheet_at(f->sheet, r->row, (unsigned)c, NULL);
    const char *last = r->carry[f->columns[c].to.column];
    return cell.n == 0 || (strlen(last) == cell.n && memcmp(last, cell.s, cell.n) == 0);
}

static void read_values(cw_reading *r)
{
    cw_fitting *f = r->f;
    bool same = same_order(r);
    clear(&r->own);
    clear(&r->variety);
    clear(&r->place);
    for (unsigned c = 0; c < f->width; c++) {
        cw_target to = f->columns[c].to;
        if (to.kind < 0)
            continue;
        bool own = to.kind == f->kind;
        cw_row_values *v = own ? &r->own : to.kind == CW_VARIETIES ? &r->variety : &r->place;
        bool carry = own && same && may_carry(f, cw_target_column(to));
        read_one(r, v, c, carry ? r->carry[to.column] : NULL);
    }
    for (size_t i = 0; i < f->constant_count; i++) {
        cw_target to = f->constants[i].to;
        cw_row_values *v = to.kind == f->kind ? &r->own : to.kind == CW_VARIETIES ? &r->variety : &r->place;
        if (v->filled[to.column])
            continue;
        cw_field told = { f->constants[i].value, strlen(f->constants[i].value) };
        v->filled[to.column] =
            cw_cell_value(f, to, NULL, told, CW_STANDS_TEXT, &v->value[to.column]) && told.n > 0;
        if (!v->filled[to.column])
            cw_fit_problem(f, r->row, -1, to, told, v->value[to.column].wrong);
    }
}

static void carry_on(cw_reading *r)
{
    bool same = same_order(r);
    for (size_t k = 0; k < cw_kinds[r->f->kind].width; k++) {
        const cw_kind_column *column = &cw_kinds[r->f->kind].columns[k];
        if (may_carry(r->f, column) && (r->own.filled[k] || !same))
            cw_copy(r->carry[k], sizeof r->carry[k], r->own.filled[k] ? r->own.value[k].text : "");
    }
}

/* A row of the preview, with what becomes of each cell. */
static void show(cw_reading *r, bool always)
{
    cw_fitting *f = r->f;
    if (f->shown >= 2 * MOST_SHOWN || (!always && f->shown >= MOST_SHOWN))
        return;
    f->shown++;
    json_t *cells = json_array();
    for (unsigned c = 0; c < f->width; c++) {
        char text[80];
        cw_field cell = cw_sheet_at(f->sheet, r->row, c, NULL);
        cw_target to = f->columns[c].to;
        const cw_row_values *v = to.kind == f->kind        ? &r->own
                                 : to.kind == CW_VARIETIES ? &r->variety
                                                           : &r->place;
        const cw_cell_read *value = to.kind >= 0 && !f->columns[c].heads && v->from[to.column] == (int)c
                                        ? &v->value[to.column]
                                        : NULL;
        bool changed = value && value->wrong[0] == '\0' && (value->repaired || v->carried[to.column]);
        cw_json_append_take(&cells, json_pack("{s:s,s:o,s:o}", "text", cw_shown(cell.s, cell.n, text),
                                              "becomes", changed ? json_string(value->text) : json_null(),
                                              "wrong", value ? cw_json_known(value->wrong) : json_null()));
    }
    json_t *row = json_object();
    cw_json_put_take(&row, "row", json_integer(f->sheet->rows[r->row].number));
    cw_json_put_take(&row, "cells", cells);
    cw_json_append_take(&f->rows, row);
}

static cw_code read_row(cw_reading *r, cw_error *err)
{
    const char *why = passed_for(r->f, r->row);
    if (why) {
        pass(r->f, r->row, why);
        return CW_OK;
    }
    r->wrong = false;
    r->variety_index = -1;
    read_values(r);
    cw_code code = cw_lines_add(r, err);
    show(r, r->wrong);
    carry_on(r);
    return code;
}

cw_code cw_fit_rows(cw_fitting *f, cw_error *err)
{
    cw_reading *r = calloc(1, sizeof *r);
    cw_code code = r ? CW_OK : cw_error_memory(err);
    if (r) {
        r->f = f;
        r->carry = calloc(CW_MAX_KIND_COLUMNS, sizeof *r->carry);
        code = r->carry ? cw_lines_begin(f, err) : cw_error_memory(err);
    }
    for (size_t i = (size_t)(f->header + 1); code == CW_OK && i < f->sheet->row_count; i++) {
        r->row = i;
        code = read_row(r, err);
        if (code == CW_OK && i % CW_TELL_EVERY == 0)
            code = cw_asker_tell(f->who, "fit", f->sheet->row_count + i, 2 * f->sheet->row_count, err);
    }
    if (r) {
        cw_map_free(&r->counts);
        free(r->carry);
    }
    free(r);
    return code;
}

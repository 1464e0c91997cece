/* SPDX-License-Identifier: MIT */
#include "desk/sheets/sheets_rows_inside.h"

#include "base/digest.h"
#include "base/money.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* A row's records as lines of our own CSV. A record stands on the line that its row has in the sheet, so that what the intake says of
 * lines is true of the sheet's rows; only rows that hold several records drift. */

bool cw_is_made(const cw_fitting *f, int kind, const char *column)
{
    if (kind == CW_VARIETIES)
        return strcmp(column, "code") == 0 || strcmp(column, "name") == 0;
    if (kind == CW_PLACES)
        return true;
    if (kind == CW_LOTS)
        return strcmp(column, "lot") == 0;
    if (kind == CW_WEIGHINGS)
        return strcmp(column, "sample") == 0;
    return kind == CW_ORDERS &&
           (strcmp(column, "order") == 0 || strcmp(column, "line") == 0 || strcmp(column, "variety") == 0 ||
            strcmp(column, "quantity") == 0 || (f->own_prices && strcmp(column, "unit_price") == 0)) &&
           f->kind == CW_ORDERS;
}

static bool is_written(const cw_fitting *f, int kind, size_t column)
{
    cw_target t = { kind, (int)column };
    if (kind == f->kind && f->heads && cw_column_is(&cw_kinds[kind].columns[column]) == CW_IS_VARIETY)
        return true;
    return cw_fit_column_of(f, t, -1) >= 0 || cw_fit_constant(f, t) ||
           cw_is_made(f, kind, cw_kinds[kind].columns[column].name);
}

static void add_field(cw_text *csv, const char *s, bool first)
{
    if (!first)
        cw_text_addc(csv, ',');
    if (strpbrk(s, ",\"\n\r") == NULL) {
        cw_text_add(csv, s);
        return;
    }
    cw_text_addc(csv, '"');
    for (; *s; s++) {
        if (*s == '"')
            cw_text_addc(csv, '"');
        cw_text_addc(csv, *s);
    }
    cw_text_addc(csv, '"');
}

static cw_code begin(cw_fitting *f, int kind, cw_error *err)
{
    cw_written *w = &f->out[kind];
    bool first = true;
    w->csv = CW_TEXT((size_t)CW_MAX_SHEET_TEXT_BYTES);
    for (size_t k = 0; k < cw_kinds[kind].width; k++)
        if (is_written(f, kind, k)) {
            add_field(&w->csv, cw_kinds[kind].columns[k].name, first);
            first = false;
        }
    cw_text_addc(&w->csv, '\n');
    w->next_line = 2;
    return cw_text_check(&w->csv, err);
}

cw_code cw_lines_begin(cw_fitting *f, cw_error *err)
{
    cw_code code = begin(f, f->kind, err);
    if (code == CW_OK && f->kind != CW_VARIETIES)
        code = begin(f, CW_VARIETIES, err);
    return code == CW_OK && f->kind != CW_PLACES ? begin(f, CW_PLACES, err) : code;
}

static cw_code write_line(cw_reading *r, int kind, const cw_row_values *v, cw_error *err)
{
    cw_written *w = &r->f->out[kind];
    long number = r->f->sheet->rows[r->row].number;
    bool first = true;
    if (w->lines == w->room) {
        size_t room = w->room ? 2 * w->room : 1024;
        size_t *rows = realloc(w->row_of, room * sizeof *rows);
        w->row_of = rows ? rows : w->row_of;
        long *lines = rows ? realloc(w->line_of, room * sizeof *lines) : NULL;
        w->line_of = lines ? lines : w->line_of;
        if (lines == NULL)
            return cw_error_memory(err);
        w->room = room;
    }
    for (; w->next_line < number; w->next_line++)
        cw_text_addc(&w->csv, '\n');
    for (size_t k = 0; k < cw_kinds[kind].width; k++)
        if (is_written(r->f, kind, k)) {
            add_field(&w->csv, v->filled[k] ? v->value[k].text : "", first);
            first = false;
        }
    cw_text_addc(&w->csv, '\n');
    w->row_of[w->lines] = r->row;
    w->line_of[w->lines++] = w->next_line++;
    return cw_text_check(&w->csv, err);
}

static int own(const cw_fitting *f, const char *name)
{
    return cw_kind_column_named(f->kind, name);
}

static int column_of(const cw_kind *kind, cw_is is)
{
    for (size_t k = 0; k < kind->width; k++)
        if (cw_column_is(&kind->columns[k]) == is)
            return (int)k;
    return -1;
}

static void set(cw_row_values *v, int column, const char *text)
{
    if (column < 0)
        return;
    if (strcmp(v->value[column].text, text) != 0)
        v->value[column].repaired = true;
    cw_copy(v->value[column].text, sizeof v->value[column].text, text);
    v->filled[column] = true;
}

/* ---- varieties ---- */

/* A code that stands in a column of its own: known, or the new variety's. */
static cw_code by_code(cw_reading *r, const char *code, const char *name, cw_error *err)
{
    cw_fitting *f = r->f;
    size_t at = 0;
    cw_found found = cw_known_find(&f->varieties, code, strlen(code), &at);
    r->variety_index = (int64_t)at;
    if (found == CW_FOUND || found == CW_FOUND_FOLDED)
        return CW_OK;
    r->variety_index = (int64_t)f->varieties.count;
    return cw_known_add(&f->varieties, code, name[0] ? name : code) ? CW_OK : cw_error_memory(err);
}

/* The columns of the variety that was written before are not those of the next one in the same row. */
static void clear_variety(cw_reading *r)
{
    for (size_t k = 0; k < cw_kinds[CW_VARIETIES].width; k++)
        r->variety.filled[k] = false;
}

/* One line a variety: the first row that names it tells of it. */
static cw_code write_variety(cw_reading *r, cw_row_values *v, cw_error *err)
{
    cw_fitting *f = r->f;
    const int code = 0, name = 1; /* the first columns of varieties */
    bool is_new = false;
    if (r->variety_index < 0)
        return CW_OK;
    const char *its = f->varieties.codes[r->variety_index];
    int64_t *row = cw_map_put(&f->out[CW_VARIETIES].seen, its, strlen(its), &is_new);
    if (row == NULL)
        return cw_error_memory(err);
    if (!is_new && f->kind != CW_VARIETIES)
        return CW_OK;
    *row = f->sheet->rows[r->row].number;
    bool tells = (size_t)r->variety_index >= f->varieties.on_record || f->kind == CW_VARIETIES;
    for (size_t k = 2; k < cw_kinds[CW_VARIETIES].width; k++)
        tells = tells || v->filled[k];
    if (!tells)
        return CW_OK;
    set(v, code, its);
    if (!v->filled[name] && f->varieties.names[r->variety_index])
        set(v, name, f->varieties.names[r->variety_index]);
    return write_line(r, CW_VARIETIES, v, err);
}

static cw_code variety_list(cw_reading *r, cw_error *err)
{
    cw_row_values *v = &r->own;
    cw_code code = CW_OK;
    if (v->filled[0])
        code = by_code(r, v->value[0].text, v->value[1].text, err);
    else if (v->filled[1])
        code = cw_fit_variety(r->f, r->row, (unsigned)v->from[1], v->value[1].text, strlen(v->value[1].text),
                              &r->variety_index, err);
    if (code != CW_OK || (r->variety_index < 0 && v->filled[1]))
        return code; /* in doubt, and asked */
    return r->variety_index < 0 ? write_line(r, CW_VARIETIES, v, err) : write_variety(r, v, err);
}

/* The variety that a row of another kind names, by the column at `k`. */
static cw_code name_variety(cw_reading *r, int k, cw_error *err)
{
    cw_row_values *v = &r->own;
    if (k < 0)
        return CW_OK;
    cw_code code = CW_OK;
    const char *text = v->value[k].text;
    if (r->variety.filled[0])
        code =
            by_code(r, r->variety.value[0].text, r->variety.filled[1] ? r->variety.value[1].text : text, err);
    else if (v->filled[k] && v->from[k] >= 0)
        code = cw_fit_variety(r->f, r->row, (unsigned)v->from[k], text, strlen(text), &r->variety_index, err);
    if (code != CW_OK || r->variety_index < 0)
        return code;
    if (!r->variety.filled[1] && (size_t)r->variety_index >= r->f->varieties.on_record)
        set(&r->variety, 1, r->f->varieties.names[r->variety_index]);
    code = write_variety(r, &r->variety, err);
    set(v, k, r->f->varieties.codes[r->variety_index]);
    return code;
}

/* ---- places and lots ---- */

static cw_code name_place(cw_reading *r, int k, cw_error *err)
{
    cw_fitting *f = r->f;
    size_t at = 0;
    char text[CW_MAX_NAME + 1], number[24];
    if (k < 0 || !r->own.filled[k] || r->own.from[k] < 0)
        return CW_OK;
    cw_copy(text, sizeof text, r->own.value[k].text);
    cw_found found = cw_known_find(&f->places, text, strlen(text), &at);
    if (found == CW_FOUND || found == CW_FOUND_FOLDED) {
        set(&r->own, k, f->places.codes[at]);
        return CW_OK;
    }
    cw_target room = { CW_PLACES, cw_kind_column_named(CW_PLACES, "room") };
    if (!r->place.filled[room.column]) {
        cw_doubt d = { .what = "missing",
                       .typed = true,
                       .column = r->own.from[k],
                       .to = room,
                       .text = text,
                       .row = f->sheet->rows[r->row].number };
        cw_fit_doubt(f, &d, "There is no such place yet. In which room are the new places?");
        return CW_OK;
    }
    f->last_walk += 10;
    snprintf(number, sizeof number, "%lld", (long long)f->last_walk);
    set(&r->place, 0, text);
    set(&r->place, cw_kind_column_named(CW_PLACES, "walk_order"), number);
    json_t *made = json_pack("{s:s,s:s,s:s}", "kind", "places", "text", text, "code", text);
    if (f->made_count++ < MOST_PROBLEMS)
        cw_json_append_take(&f->made, made);
    else
        json_decref(made);
    return cw_known_add(&f->places, text, NULL) ? write_line(r, CW_PLACES, &r->place, err)
                                                : cw_error_memory(err);
}

static void name_lot(cw_reading *r, int k)
{
    cw_fitting *f = r->f;
    size_t at = 0;
    if (k < 0 || !r->own.filled[k])
        return;
    cw_cell_read *v = &r->own.value[k];
    cw_found found = cw_known_find(&f->lots, v->text, strlen(v->text), &at);
    if (found == CW_FOUND || found == CW_FOUND_FOLDED) {
        set(&r->own, k, f->lots.codes[at]);
        return;
    }
    cw_copy(v->wrong, sizeof v->wrong, "there is no such lot");
    cw_fit_problem(f, r->row, r->own.from[k], (cw_target){ f->kind, k },
                   (cw_field){ v->text, strlen(v->text) }, v->wrong);
    r->wrong = true;
}

/* How often the key came, this time counted. */
static int64_t count_of(cw_reading *r, const char *key)
{
    int64_t *at = cw_map_put(&r->counts, key, strlen(key), NULL);
    return at ? ++*at : 0;
}

static cw_code make_codes(cw_reading *r, cw_error *err)
{
    cw_fitting *f = r->f;
    char text[CW_MAX_CODE + 24];
    if (f->kind == CW_LOTS && !cw_fit_has(f, CW_LOTS, "lot") && r->variety_index >= 0) {
        int64_t n = count_of(r, f->varieties.codes[r->variety_index]);
        if (n == 0)
            return cw_error_memory(err);
        snprintf(text, sizeof text, "%s-%lld", f->varieties.codes[r->variety_index], (long long)n);
        set(&r->own, own(f, "lot"), text);
    }
    if (f->kind == CW_WEIGHINGS && !cw_fit_has(f, CW_WEIGHINGS, "sample"))
        set(&r->own, own(f, "sample"), r->own.value[own(f, "lot")].text);
    if (f->kind == CW_PLACES && !cw_fit_has(f, CW_PLACES, "walk_order")) {
        snprintf(text, sizeof text, "%ld", r->walk += 10);
        set(&r->own, own(f, "walk_order"), text);
    }
    return CW_OK;
}

/* ---- orders ---- */

/* Where no column tells it: what the variety costs in the catalogue. */
static void price_line(cw_reading *r)
{
    cw_fitting *f = r->f;
    char price[24];
    int k = own(f, "unit_price");
    bool variety = r->own.filled[own(f, "variety")] && r->variety_index >= 0;
    int64_t cents = variety ? f->varieties.prices[r->variety_index] : -1;
    if (cents >= 0) {
        cw_cents_format(cents, price);
        set(&r->own, k, price);
        return;
    }
    const char *text = variety ? f->varieties.codes[r->variety_index] : "";
    cw_fit_problem(f, r->row, -1, (cw_target){ CW_ORDERS, k }, (cw_field){ text, strlen(text) },
                   variety
                       ? "the catalogue has no price of it; give it one there, or a column of prices here"
                       : "only the sheet can tell what an assortment costs, and it has no column of prices");
    r->wrong = true;
}

static cw_code write_order_line(cw_reading *r, cw_error *err)
{
    cw_fitting *f = r->f;
    char number[24];
    if (f->own_prices)
        price_line(r);
    int line = own(f, "line"), order = own(f, "order");
    if (cw_fit_column_of(f, (cw_target){ CW_ORDERS, line }, -1) < 0) {
        int64_t n = count_of(r, r->own.value[order].text);
        if (n == 0)
            return cw_error_memory(err);
        snprintf(number, sizeof number, "%lld", (long long)n);
        set(&r->own, line, number);
    }
    return write_line(r, CW_ORDERS, &r->own, err);
}

/* Where no column tells the order's number, rows of one buyer and one day are one order. Its number is made of both, so that the same
 * sheet gives the same orders whenever it comes, however it is sorted. */
static void number_order(cw_reading *r)
{
    static const char *const of[] = { "customer", "email", "street", "postcode", "received_at" };
    cw_fitting *f = r->f;
    cw_digest d;
    char hex[65], number[12] = "S";
    bool buyer = false;
    if (cw_fit_has(f, CW_ORDERS, "order"))
        return;
    cw_digest_init(&d);
    for (size_t i = 0; i < sizeof of / sizeof of[0]; i++) {
        int k = own(f, of[i]);
        cw_digest_add_text(&d, r->own.filled[k] ? r->own.value[k].text : "");
        buyer = buyer || (i < 2 && r->own.filled[k]);
    }
    cw_digest_end(&d, hex);
    for (size_t i = 0; i < sizeof number - 2; i++)
        number[i + 1] = (char)(hex[i] >= 'a' ? hex[i] - 'a' + 'A' : hex[i]);
    if (buyer) {
        set(&r->own, own(f, "order"), number);
        return;
    }
    cw_fit_problem(f, r->row, -1, (cw_target){ CW_ORDERS, own(f, "order") }, (cw_field){ "", 0 },
                   "names neither an order nor a buyer");
    r->wrong = true;
}

static cw_code one_item(cw_reading *r, unsigned column, const char *s, size_t n, int64_t count, cw_error *err)
{
    cw_fitting *f = r->f;
    int variety = own(f, "variety"), quantity = own(f, "quantity");
    char number[24];
    r->variety_index = -1;
    cw_code code = cw_fit_variety(f, r->row, column, s, n, &r->variety_index, err);
    if (code != CW_OK || r->variety_index < 0)
        return code;
    code = write_variety(r, &r->variety, err);
    set(&r->own, variety, f->varieties.codes[r->variety_index]);
    if (count > 0) {
        snprintf(number, sizeof number, "%lld", (long long)count);
        set(&r->own, quantity, number);
    }
    return code == CW_OK ? write_order_line(r, err) : code;
}

static cw_code items(cw_reading *r, unsigned column, cw_field cell, cw_error *err)
{
    const char *s = cell.s;
    size_t left = cell.n;
    cw_code code = CW_OK;
    while (left > 0 && code == CW_OK) {
        size_t n = cw_piece_end(s, left), next = n;
        const char *piece = s;
        while (n > 0 && (unsigned char)piece[n - 1] <= ' ')
            n--;
        while (n > 0 && (unsigned char)*piece <= ' ')
            piece++, n--;
        int64_t count = cw_piece_leads(&piece, &n);
        if (count == 0)
            count = cw_piece_trails(piece, &n);
        if (n > 0)
            code = one_item(r, column, piece, n, count ? count : 1, err);
        s += next + (next < left);
        left -= next + (next < left);
    }
    return code;
}

/* Item 2 and its quantity and price, of the columns that end in the same number. */
static cw_code group_line(cw_reading *r, int group, cw_error *err)
{
    cw_fitting *f = r->f;
    static const char *const names[] = { "variety", "quantity", "unit_price" };
    for (size_t i = 0; i < 3; i++) {
        int k = own(f, names[i]), c = cw_fit_column_of(f, (cw_target){ CW_ORDERS, k }, group);
        if (c < 0)
            continue;
        cw_stands holds;
        cw_field cell = cw_sheet_at(f->sheet, r->row, (unsigned)c, &holds);
        r->own.from[k] = c;
        r->own.filled[k] = cell.n > 0;
        if (!cw_cell_value(f, f->columns[c].to, &f->columns[c], cell, holds, &r->own.value[k])) {
            cw_fit_problem(f, r->row, c, f->columns[c].to, cell, r->own.value[k].wrong);
            r->wrong = true;
        }
    }
    int k = own(f, "variety");
    if (!r->own.filled[k] || r->own.from[k] < 0)
        return CW_OK;
    char text[CW_MAX_NOTE + 1];
    cw_copy(text, sizeof text, r->own.value[k].text);
    return one_item(r, (unsigned)r->own.from[k], text, strlen(text), 0, err);
}

static cw_code order_row(cw_reading *r, cw_error *err)
{
    cw_fitting *f = r->f;
    int k = own(f, "variety"), most = 0;
    cw_code code = CW_OK;
    number_order(r);
    for (unsigned c = 0; c < f->width; c++)
        if (f->columns[c].to.kind == CW_ORDERS && f->columns[c].group > most)
            most = f->columns[c].group;
    if (most > 0) {
        for (int g = 1; g <= most && code == CW_OK; g++)
            if (cw_fit_column_of(f, (cw_target){ CW_ORDERS, k }, g) >= 0)
                code = group_line(r, g, err);
        return code;
    }
    int c = r->own.from[k];
    bool counted =
        c >= 0 && f->columns[c].seen.texts_with_counts > 0 && !cw_fit_has(f, CW_ORDERS, "quantity");
    if (counted)
        return items(r, (unsigned)c, cw_sheet_at(f->sheet, r->row, (unsigned)c, NULL), err);
    if (!r->own.filled[k])
        return write_order_line(r, err);
    code = name_variety(r, k, err);
    return code == CW_OK && r->variety_index >= 0 ? write_order_line(r, err) : code;
}

/* How many of the heading's variety. */
static cw_code heading_line(cw_reading *r, unsigned c, cw_error *err)
{
    cw_fitting *f = r->f;
    const cw_fit_column *column = &f->columns[c];
    const int k = column->to.column;
    cw_stands holds;
    cw_field cell = cw_sheet_at(f->sheet, r->row, c, &holds);
    cw_cell_read *value = &r->own.value[k];
    if (!cw_fit_counts(f, cell, holds))
        return CW_OK;
    if (!cw_cell_value(f, column->to, column, cell, holds, value)) {
        cw_fit_problem(f, r->row, (int)c, column->to, cell, value->wrong);
        r->wrong = true;
        return CW_OK;
    }
    r->own.filled[k] = true;
    cw_code code = cw_fit_variety(f, (size_t)f->header, c, column->header, strlen(column->header),
                                  &r->variety_index, err);
    if (code != CW_OK || r->variety_index < 0)
        return code;
    clear_variety(r);
    code = write_variety(r, &r->variety, err);
    set(&r->own, column_of(&cw_kinds[f->kind], CW_IS_VARIETY), f->varieties.codes[r->variety_index]);
    if (code == CW_OK && f->kind == CW_ORDERS)
        return write_order_line(r, err);
    if (code == CW_OK)
        code = make_codes(r, err);
    return code == CW_OK ? write_line(r, f->kind, &r->own, err) : code;
}

static cw_code heading_lines(cw_reading *r, cw_error *err)
{
    cw_code code = name_place(r, column_of(&cw_kinds[r->f->kind], CW_IS_PLACE), err);
    if (r->f->kind == CW_ORDERS)
        number_order(r);
    for (unsigned c = 0; c < r->f->width && code == CW_OK; c++)
        if (r->f->columns[c].heads)
            code = heading_line(r, c, err);
    return code;
}

cw_code cw_lines_add(cw_reading *r, cw_error *err)
{
    cw_fitting *f = r->f;
    const cw_kind *kind = &cw_kinds[f->kind];
    if (f->kind == CW_VARIETIES)
        return variety_list(r, err);
    if (f->header >= 0 && f->heads)
        return heading_lines(r, err);
    if (f->kind == CW_ORDERS)
        return order_row(r, err);
    int variety = column_of(kind, CW_IS_VARIETY);
    cw_code code = name_variety(r, variety, err);
    if (code == CW_OK)
        code = name_place(r, column_of(kind, CW_IS_PLACE), err);
    name_lot(r, column_of(kind, CW_IS_LOT));
    if (code == CW_OK)
        code = make_codes(r, err);
    if (code != CW_OK || (variety >= 0 && r->variety_index < 0 && r->own.filled[variety]))
        return code; /* in doubt, and asked */
    return write_line(r, f->kind, &r->own, err);
}

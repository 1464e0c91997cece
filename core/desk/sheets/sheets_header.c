/* SPDX-License-Identifier: MIT */
#include "desk/sheets/sheets_inside.h"

#include "base/country.h"
#include "base/digest.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Which sheet, which row heads it, and what stands in each column. */

#define LOOK_ROWS 40 /* a header stands among the first of them */

/* "Preis (EUR)" -> bare "preis", unit "eur"; "Item 2" -> bare "item", group 2. */
static void fold_header(cw_fit_column *c, cw_field cell)
{
    char plain[CW_FOLD_BYTES];
    size_t used = 0;
    cw_fit_cut(c->header, sizeof c->header, cell.s, cell.n);
    cw_fold(cell.s, cell.n, ' ', c->folded);
    const char *open = memchr(cell.s, '(', cell.n),
               *close = open ? memchr(open, ')', (size_t)(cell.s + cell.n - open)) : NULL;
    if (open == NULL) {
        open = memchr(cell.s, '[', cell.n);
        close = open ? memchr(open, ']', (size_t)(cell.s + cell.n - open)) : NULL;
    }
    if (close) {
        size_t length = cw_fold(open + 1, (size_t)(close - open - 1), '\0', plain);
        if (memchr(open, '%', (size_t)(close - open)))
            cw_copy(c->unit, sizeof c->unit, "%");
        else if (length < sizeof c->unit)
            memcpy(c->unit, plain, length + 1);
        used = cw_fold(cell.s, (size_t)(open - cell.s), ' ', c->bare);
    } else {
        used = cw_fold(cell.s, cell.n, ' ', c->bare);
    }
    size_t digits = used;
    while (digits > 0 && c->bare[digits - 1] >= '0' && c->bare[digits - 1] <= '9')
        digits--;
    if (digits < used && digits > 1 && used - digits <= 2) {
        int64_t group = 0;
        if (cw_parse_int(c->bare + digits, used - digits, 1, 50, &group))
            c->group = (int)group;
        while (digits > 0 && c->bare[digits - 1] == ' ')
            digits--;
        c->bare[digits] = '\0';
    }
}

/* How well a row heads the sheet: its texts that are words for columns of ours, of one kind. */
static double heads(const cw_sheet *s, size_t row)
{
    double best = 0;
    for (int k = 0; k < CW_KINDS; k++) {
        double sum = 0;
        for (unsigned c = 0; c < s->rows[row].width; c++) {
            cw_stands holds;
            cw_field cell = cw_sheet_at(s, row, c, &holds);
            cw_fit_column column = { .header = "" };
            cw_how how;
            double sure = 0;
            if (cell.n == 0 || cell.n > 80 || holds != CW_STANDS_TEXT)
                continue;
            fold_header(&column, cell);
            for (size_t t = 0; t < cw_kinds[k].width; t++) {
                double d = cw_words_match(k, t, &column, &how);
                sure = d > sure ? d : sure;
            }
            sum += sure;
        }
        best = sum > best ? sum : best;
    }
    return best;
}

static bool all_texts(const cw_sheet *s, size_t row)
{
    unsigned filled = 0;
    for (unsigned c = 0; c < s->rows[row].width; c++) {
        cw_stands holds;
        cw_typed_number number;
        cw_field cell = cw_sheet_at(s, row, c, &holds);
        filled += cell.n > 0;
        if (cell.n &&
            (holds != CW_STANDS_TEXT || cw_typed_number_read(cell.s, cell.n, CW_MARK_OPEN, &number)))
            return false;
    }
    return filled > 1 || s->width == 1;
}

static void find_header(cw_fitting *f, double *score)
{
    const cw_sheet *s = f->sheet;
    long best = -1;
    *score = 0;
    for (size_t r = 0; r < s->row_count && r < LOOK_ROWS; r++) {
        double d = heads(s, r);
        if (d > *score + 0.01) {
            *score = d;
            best = (long)r;
        }
    }
    /* No word is known: the first row of nothing but texts heads it, if rows of figures follow. */
    for (size_t r = 0; best < 0 && r < s->row_count && r < LOOK_ROWS; r++)
        if (all_texts(s, r) && r + 1 < s->row_count && !all_texts(s, r + 1))
            best = (long)r;
    f->header = best;
}

/* Of several sheets the one that is headed best; hidden ones only when told. */
static cw_code choose_sheet(cw_fitting *f, cw_error *err)
{
    double best = -1, second = -1;
    int at = 0, runner = -1, filled = 0;
    if (!f->sheet_told) {
        for (size_t i = 0; i < f->book.count; i++) {
            double score = 0;
            f->sheet = &f->book.sheets[i];
            if (f->sheet->hidden || f->sheet->row_count == 0)
                continue;
            filled++;
            find_header(f, &score);
            if (score > best) {
                second = best;
                runner = best >= 0 ? at : -1;
                best = score;
                at = (int)i;
            } else if (score > second) {
                second = score;
                runner = (int)i;
            }
        }
        f->sheet_at = at;
    }
    f->sheet = &f->book.sheets[f->sheet_at];
    if (f->sheet->row_count == 0)
        return cw_error_at(err, CW_REFUSED, f->file->name, 0, NULL, "nothing stands in the sheet: %s",
                           f->sheet->name);
    if (!f->sheet_told && runner >= 0 && second >= 1.5) {
        json_t *choices = json_array();
        for (size_t i = 0; i < f->book.count; i++)
            if (f->book.sheets[i].row_count > 0 && !f->book.sheets[i].hidden)
                cw_fit_choice(&choices, f->book.sheets[i].name, "%zu rows", f->book.sheets[i].row_count);
        cw_doubt d = {
            .what = "sheet", .column = -1, .to = CW_NO_TARGET, .text = f->sheet->name, .choices = choices
        };
        cw_fit_doubt(f, &d, "The workbook has %d sheets that could be taken; which one now?", filled);
    } else if (f->book.count > 1) {
        cw_fit_say(f, "Sheet %s, of %zu.", f->sheet->name, f->book.count);
    }
    return CW_OK;
}

static void digest_header(cw_fitting *f)
{
    cw_digest d;
    cw_digest_init(&d);
    for (unsigned c = 0; c < f->width; c++)
        cw_digest_add_text(&d, f->columns[c].folded);
    cw_digest_end(&d, f->shape);
}

/* How well a heading says a column of ours, of any kind. */
static double says(const cw_fit_column *c)
{
    double best = 0;
    cw_how how;
    for (int k = 0; k < CW_KINDS; k++)
        for (size_t t = 0; t < cw_kinds[k].width; t++) {
            double sure = cw_words_match(k, t, c, &how);
            best = sure > best ? sure : best;
        }
    return best;
}

/* Headings of two rows: what stands above, once for several columns or for the blank below it, and the own text. The two together
 * head the column where they say more. */
static void fold_above(cw_fitting *f, unsigned c)
{
    size_t row = (size_t)f->header;
    cw_field own = cw_sheet_at(f->sheet, row, c, NULL), above = cw_sheet_at(f->sheet, row - 1, c, NULL);
    cw_fit_column both = { .to = CW_NO_TARGET };
    char text[2 * CW_FOLD_BYTES];
    for (unsigned i = c; own.n > 0 && above.n == 0 && i > 0; i--)
        above = cw_sheet_at(f->sheet, row - 1, i - 1, NULL);
    if (above.n == 0 || above.n + own.n > 80)
        return;
    int n = snprintf(text, sizeof text, "%.*s%s%.*s", (int)above.n, above.s, own.n ? " " : "", (int)own.n,
                     own.n ? own.s : "");
    fold_header(&both, (cw_field){ text, (size_t)n });
    if (says(&both) > says(&f->columns[c]) + 0.05)
        f->columns[c] = both;
}

/* Words for columns of ours that stand in the first column, one under the other: more of them than head the sheet. */
bool cw_fit_lies_on_side(const cw_fitting *f)
{
    unsigned beside = 0, above = 0;
    for (size_t r = 0; r < f->sheet->row_count && r < LOOK_ROWS; r++) {
        cw_fit_column c = { .header = "" };
        cw_field cell = cw_sheet_at(f->sheet, r, 0, NULL);
        if (cell.n == 0 || cell.n > 80)
            continue;
        fold_header(&c, cell);
        beside += says(&c) >= 0.9;
    }
    for (unsigned c = 0; c < f->width; c++)
        above += says(&f->columns[c]) >= 0.9;
    return beside >= 3 && beside > above;
}

cw_code cw_fit_open(cw_fitting *f, cw_error *err)
{
    double score = 0;
    cw_code code = choose_sheet(f, err);
    if (code != CW_OK)
        return code;
    if (!f->header_told)
        find_header(f, &score);
    f->width = f->sheet->width;
    f->columns = calloc(f->width, sizeof *f->columns);
    if (f->columns == NULL)
        return cw_error_memory(err);
    for (unsigned c = 0; c < f->width; c++) {
        f->columns[c].to = CW_NO_TARGET;
        if (f->header >= 0)
            fold_header(&f->columns[c], cw_sheet_at(f->sheet, (size_t)f->header, c, NULL));
    }
    if (f->header > 0 && all_texts(f->sheet, (size_t)f->header - 1))
        for (unsigned c = 0; c < f->width; c++)
            fold_above(f, c);
    if (f->header >= 0)
        digest_header(f);
    if (f->header > 0 && !f->header_told)
        cw_fit_say(f, "The columns are headed in row %ld; what stands above is passed over.",
                   f->sheet->rows[f->header].number);
    if (f->book.workbook)
        return CW_OK;
    cw_fit_say(f, "Text in %s%s, %s.", cw_charset_name(f->book.charset),
               f->charset != CW_CHARSET_UNKNOWN ? ", as told"
               : f->book.charset_sure           ? ""
                                                : ", by its letters",
               f->book.why);
    return CW_OK;
}

/* "3 x Amber Lantern", "3x Amber", "2 Amber Lantern; 1 Cinder" */
static bool counts_something(cw_field cell)
{
    size_t i = 0;
    while (i < cell.n && cell.s[i] >= '0' && cell.s[i] <= '9')
        i++;
    if (i == 0 || i > 4)
        return false;
    size_t digits = i;
    while (i < cell.n && cell.s[i] == ' ')
        i++;
    if (i < cell.n && (cell.s[i] == 'x' || cell.s[i] == 'X' || cell.s[i] == '*'))
        i++;
    else if (i + 1 < cell.n && memcmp(cell.s + i, "\xC3\x97", 2) == 0)
        i += 2;
    else if (i == digits)
        return false;
    return i < cell.n;
}

static void look_at_text(const cw_fitting *f, cw_profile *p, cw_field cell)
{
    cw_typed_number number;
    cw_typed_day day;
    size_t index = 0;
    bool figure =
        memchr("0123456789", cell.s[0], 10) || memchr("0123456789", cell.s[cell.n - 1], 10) || cell.n < 24;
    if (figure && cw_typed_day_read(cell.s, cell.n, CW_ORDER_OPEN, &day)) {
        p->days++;
        p->moments += day.clock;
        p->dmy += day.shows == CW_ORDER_DMY;
        p->mdy += day.shows == CW_ORDER_MDY;
        if (day.open && p->open_days++ == 0)
            cw_fit_cut(p->open_day, sizeof p->open_day, cell.s, cell.n);
    } else if (figure && cw_typed_number_read(cell.s, cell.n, CW_MARK_OPEN, &number)) {
        p->numbers++;
        p->points += number.shows == CW_MARK_POINT;
        p->commas += number.shows == CW_MARK_COMMA;
        if (number.open && p->open_numbers++ == 0)
            cw_fit_cut(p->open_number, sizeof p->open_number, cell.s, cell.n);
    }
    cw_week week;
    p->weeks += cell.n < 12 && cw_typed_week_read(cell.s, cell.n, 2032, &week);
    bool yes;
    p->yes += cell.n < 8 && cw_typed_yes_read(cell.s, cell.n, &yes);
    if (p->filled > 2000) /* enough to know a column of names by */
        return;
    p->countries += cw_country_find(cell.s, cell.n) != NULL;
    p->varieties +=
        f->varieties.count && cw_known_find(&f->varieties, cell.s, cell.n, &index) <= CW_FOUND_FOLDED;
    p->lots += f->lots.count && cw_known_find(&f->lots, cell.s, cell.n, &index) <= CW_FOUND_FOLDED;
    p->places += f->places.count && cw_known_find(&f->places, cell.s, cell.n, &index) <= CW_FOUND_FOLDED;
    p->texts_with_counts += counts_something(cell);
}

static void look_at(const cw_fitting *f, cw_profile *p, cw_field cell, cw_stands holds)
{
    p->filled++;
    if (p->samples < 3)
        cw_shown(cell.s, cell.n, p->sample[p->samples++]);
    if (holds == CW_STANDS_DAY || holds == CW_STANDS_MOMENT) {
        p->days++;
        p->moments += holds == CW_STANDS_MOMENT;
    } else if (holds == CW_STANDS_YES) {
        p->yes++;
    } else if (holds == CW_STANDS_TEXT) {
        look_at_text(f, p, cell);
    } else if (holds == CW_STANDS_NUMBER) {
        size_t index = 0;
        p->numbers++;
        p->yes += cell.n == 1 && (cell.s[0] == '0' || cell.s[0] == '1');
        p->weeks += cell.n <= 2;
        p->lots += p->filled < 2000 && f->lots.count &&
                   cw_known_find(&f->lots, cell.s, cell.n, &index) <= CW_FOUND_FOLDED;
        p->varieties += p->filled < 2000 && f->varieties.count &&
                        cw_known_find(&f->varieties, cell.s, cell.n, &index) <= CW_FOUND_FOLDED;
    }
}

cw_code cw_fit_profile(cw_fitting *f, cw_error *err)
{
    for (size_t r = (size_t)(f->header + 1); r < f->sheet->row_count; r++) {
        for (unsigned c = 0; c < f->sheet->rows[r].width; c++) {
            cw_stands holds;
            cw_field cell = cw_sheet_at(f->sheet, r, c, &holds);
            if (cell.n)
                look_at(f, &f->columns[c].seen, cell, holds);
        }
        if (r % CW_TELL_EVERY == 0) {
            cw_code code = cw_asker_tell(f->who, "fit", r, 2 * f->sheet->row_count, err);
            if (code != CW_OK)
                return code;
        }
    }
    return CW_OK;
}

/* SPDX-License-Identifier: MIT */
#include "base/sheet_inside.h"

#include "base/day.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* The shared strings and the cells of a sheet (ECMA-376 part 1, 18.3 and 18.4). Of rich text the letters count; what is there to
 * tell how Japanese is read (rPh) does not. */

/* Text counts inside <t>, but not inside <rPh>: both by their depth. */
typedef struct strings_reading {
    cw_strings *out;
    int in_text, in_phonetic;
} strings_reading;

static void begin_string(cw_part_reader *p, cw_strings *s)
{
    if (s->count + 1 >= s->room) {
        size_t room = s->room ? 2 * s->room : 1024;
        size_t *grown = realloc(s->at, room * sizeof *grown);
        if (grown == NULL) {
            p->code = cw_error_memory(p->err);
            return;
        }
        s->at = grown;
        s->room = room;
    }
    s->at[s->count++] = s->texts.length;
    s->at[s->count] = s->texts.length;
}

static void string_start(cw_part_reader *p, const char *element, const char **attributes)
{
    strings_reading *r = p->mine;
    (void)attributes;
    if (strcmp(element, "rPh") == 0)
        r->in_phonetic++;
    else if (strcmp(element, "t") == 0)
        r->in_text++;
    else if (strcmp(element, "si") == 0)
        begin_string(p, r->out);
}

static void string_end(cw_part_reader *p, const char *element)
{
    strings_reading *r = p->mine;
    if (strcmp(element, "rPh") == 0)
        r->in_phonetic--;
    else if (strcmp(element, "t") == 0)
        r->in_text--;
}

static void string_text(cw_part_reader *p, const char *s, int n)
{
    strings_reading *r = p->mine;
    if (r->in_text == 0 || r->in_phonetic > 0 || r->out->count == 0)
        return;
    cw_text_addn(&r->out->texts, s, (size_t)n);
    if (r->out->texts.failed)
        p->code = r->out->texts.starved
                      ? cw_error_memory(p->err)
                      : cw_sheet_full(p->file, "bytes of text", CW_MAX_SHEET_TEXT_BYTES, p->err);
    r->out->at[r->out->count] = r->out->texts.length;
}

cw_code cw_strings_read(cw_zip *z, const char *part, cw_strings *out, cw_error *err)
{
    bool found = false;
    strings_reading r = { .out = out };
    cw_part_reader p = { .start = string_start, .end = string_end, .text = string_text, .mine = &r };
    return cw_part_read(z, part, &p, &found, err);
}

bool cw_serial_day(int64_t serial, bool from_1904, int64_t *day)
{
    const int64_t last = 2932896; /* 9999-12-31 */
    if (from_1904)
        *day = serial - 24107; /* 1904-01-01 lies so many days before 1970-01-01 */
    else if (serial < 60)
        *day = serial - 25568; /* before the day that never was, one less */
    else
        *day = serial - 25569;
    return serial >= (from_1904 ? 0 : 1) && (from_1904 || serial != 60) && *day <= last;
}

typedef struct merge {
    long top, bottom;
    unsigned column;
} merge;
#define MOST_MERGES 20000

typedef struct cells_reading {
    cw_xlsx *x;
    cw_sheet *out;
    long row;
    unsigned column, next_column;
    char type[12];
    long style;
    int in_value, in_text, in_phonetic;
    cw_text value;
    merge *merges;
    size_t merge_count;
} cells_reading;

/* "BC23" to column and row, both from 0 and 1. */
static bool read_reference(const char *s, unsigned *column, long *row)
{
    unsigned c = 0;
    long r = 0;
    size_t i = 0;
    for (; s[i] >= 'A' && s[i] <= 'Z' && i < 4; i++)
        c = c * 26 + (unsigned)(s[i] - 'A' + 1);
    size_t letters = i;
    for (; s[i] >= '0' && s[i] <= '9' && i < letters + 8; i++)
        r = r * 10 + (s[i] - '0');
    if (letters == 0 || i == letters || (s[i] != '\0' && s[i] != ':'))
        return false;
    *column = c - 1;
    *row = r;
    return true;
}

static void add_merge(cw_part_reader *p, cells_reading *r, const char *reference)
{
    unsigned left = 0, right = 0;
    long top = 0, bottom = 0;
    const char *colon = reference ? strchr(reference, ':') : NULL;
    if (!colon || !read_reference(reference, &left, &top) || !read_reference(colon + 1, &right, &bottom) ||
        left != right || bottom <= top || r->merge_count == MOST_MERGES)
        return;
    merge *grown = realloc(r->merges, (r->merge_count + 1) * sizeof *grown);
    if (grown == NULL) {
        p->code = cw_error_memory(p->err);
        return;
    }
    r->merges = grown;
    grown[r->merge_count++] = (merge){ top, bottom, left };
}

static void cell_start(cw_part_reader *p, const char *element, const char **attributes)
{
    cells_reading *r = p->mine;
    const char *reference = cw_xml_attribute(attributes, "r");
    if (strcmp(element, "row") == 0) {
        int64_t row = r->row + 1;
        if (reference && !cw_parse_int(reference, strlen(reference), r->row + 1, 1048576, &row))
            p->code = cw_error_at(p->err, CW_REFUSED, p->file, 0, NULL,
                                  "is damaged: %s has a row %.20s after row %ld", p->part, reference, r->row);
        r->row = (long)row;
        r->next_column = 0;
    } else if (strcmp(element, "c") == 0) {
        long row = 0;
        const char *type = cw_xml_attribute(attributes, "t"), *style = cw_xml_attribute(attributes, "s");
        int64_t s = -1;
        r->column = r->next_column;
        if (reference && (!read_reference(reference, &r->column, &row) || row != r->row))
            p->code = cw_error_at(p->err, CW_REFUSED, p->file, r->row, NULL,
                                  "is damaged: %s has a cell %.20s there", p->part, reference);
        r->next_column = r->column + 1;
        cw_copy(r->type, sizeof r->type, type ? type : "n");
        r->style = style && cw_parse_int(style, strlen(style), 0, 65535, &s) ? (long)s : -1;
        cw_text_clear(&r->value);
    } else if (strcmp(element, "v") == 0) {
        r->in_value++;
    } else if (strcmp(element, "t") == 0) {
        r->in_text++;
    } else if (strcmp(element, "rPh") == 0) {
        r->in_phonetic++;
    } else if (strcmp(element, "mergeCell") == 0) {
        add_merge(p, r, cw_xml_attribute(attributes, "ref"));
    }
}

static void cell_text(cw_part_reader *p, const char *s, int n)
{
    cells_reading *r = p->mine;
    bool counts =
        r->in_value > 0 || (r->in_text > 0 && r->in_phonetic == 0 && strcmp(r->type, "inlineStr") == 0);
    if (!counts)
        return;
    cw_text_addn(&r->value, s, (size_t)n);
    if (r->value.failed)
        p->code = r->value.starved ? cw_error_memory(p->err)
                                   : cw_error_at(p->err, CW_REFUSED, r->out->name, r->row, NULL,
                                                 "a cell holds more than %d bytes", CW_MAX_FIELD_BYTES);
}

static cw_code put_moment(cells_reading *r, double v, cw_stands holds, cw_error *err)
{
    char text[32];
    int64_t day = 0;
    int year = 0, month = 0, at = 0;
    double whole = floor(v);
    long second = lround((v - whole) * 86400);
    if (second == 86400) {
        whole += 1;
        second = 0;
    }
    if (!(v >= 0 && v < 3000000) || !cw_serial_day((int64_t)whole, r->x->from_1904, &day)) {
        snprintf(text, sizeof text, "day %.15g", v); /* no day: the owner is shown what stands there */
        return cw_sheet_put(r->out, r->row, r->column, CW_STANDS_FAULT, text, strlen(text), err);
    }
    cw_day_to_ymd((cw_day)day, &year, &month, &at);
    int n = snprintf(text, sizeof text, "%04d-%02d-%02d", year, month, at);
    if (holds == CW_STANDS_MOMENT || second > 0) {
        snprintf(text + n, sizeof text - (size_t)n, "T%02ld:%02ld:%02ld", second / 3600, second / 60 % 60,
                 second % 60);
        holds = CW_STANDS_MOMENT;
    }
    return cw_sheet_put(r->out, r->row, r->column, holds, text, strlen(text), err);
}

static cw_code put_number(cells_reading *r, cw_error *err)
{
    char text[40];
    double v = 0;
    cw_stands holds = r->style >= 0 && (size_t)r->style < r->x->styles.count
                          ? (cw_stands)r->x->styles.holds[r->style]
                          : CW_STANDS_NUMBER;
    if (!cw_parse_real(r->value.data, r->value.length, -1e300, 1e300, &v))
        return cw_sheet_put(r->out, r->row, r->column, CW_STANDS_FAULT, r->value.data, r->value.length, err);
    if (holds != CW_STANDS_NUMBER)
        return put_moment(r, v, holds, err);
    snprintf(text, sizeof text, fabs(v) < 1e15 && v == floor(v) ? "%.0f" : "%.15g", v);
    return cw_sheet_put(r->out, r->row, r->column, CW_STANDS_NUMBER, text, strlen(text), err);
}

/* t="d": ISO 8601, which a strict workbook may write. */
static cw_code put_iso(cells_reading *r, cw_error *err)
{
    cw_day day = 0;
    bool plain = cw_day_parse(r->value.data, r->value.length, &day);
    return cw_sheet_put(r->out, r->row, r->column, plain ? CW_STANDS_DAY : CW_STANDS_MOMENT, r->value.data,
                        r->value.length, err);
}

static cw_code put_cell(cells_reading *r, cw_part_reader *p)
{
    cw_error *err = p->err;
    const char *t = r->type;
    int64_t i = -1;
    if (r->value.length == 0)
        return CW_OK;
    if (strcmp(t, "s") == 0) {
        const cw_strings *s = &r->x->strings;
        if (!cw_parse_int(r->value.data, r->value.length, 0, (int64_t)s->count - 1, &i))
            return cw_error_at(err, CW_REFUSED, p->file, r->row, NULL,
                               "is damaged: it names a text that is not there: %.20s", r->value.data);
        size_t at = s->at[i];
        return s->texts.data ? cw_sheet_put(r->out, r->row, r->column, CW_STANDS_TEXT, s->texts.data + at,
                                            s->at[i + 1] - at, err)
                             : CW_OK;
    }
    if (strcmp(t, "n") == 0)
        return put_number(r, err);
    if (strcmp(t, "b") == 0) {
        bool yes = r->value.data[0] == '1' || r->value.data[0] == 't';
        return cw_sheet_put(r->out, r->row, r->column, CW_STANDS_YES, yes ? "yes" : "no", yes ? 3 : 2, err);
    }
    if (strcmp(t, "d") == 0)
        return put_iso(r, err);
    return cw_sheet_put(r->out, r->row, r->column, strcmp(t, "e") == 0 ? CW_STANDS_FAULT : CW_STANDS_TEXT,
                        r->value.data, r->value.length, err);
}

static void cell_end(cw_part_reader *p, const char *element)
{
    cells_reading *r = p->mine;
    if (strcmp(element, "v") == 0)
        r->in_value--;
    else if (strcmp(element, "t") == 0)
        r->in_text--;
    else if (strcmp(element, "rPh") == 0)
        r->in_phonetic--;
    else if (strcmp(element, "c") == 0) {
        size_t before = r->out->square_count, bytes = r->out->texts.length;
        p->code = put_cell(r, p);
        r->x->cells += r->out->square_count - before;
        r->x->bytes += r->out->texts.length - bytes;
        if (p->code == CW_OK && r->x->bytes > CW_MAX_SHEET_TEXT_BYTES)
            p->code = cw_sheet_full(p->file, "bytes of text", CW_MAX_SHEET_TEXT_BYTES, p->err);
        if (p->code == CW_OK && r->x->cells > CW_MAX_SHEET_CELLS)
            p->code = cw_sheet_full(p->file, "cells", CW_MAX_SHEET_CELLS, p->err);
    }
}

/* The first row at or below a number. */
static size_t row_from(const cw_sheet *s, long number)
{
    size_t low = 0, high = s->row_count;
    while (low < high) {
        size_t middle = (low + high) / 2;
        if (s->rows[middle].number < number)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

/* What is merged over rows stands in each of them. A row that has nothing of its own so far right is left alone. */
static void spread(const cells_reading *r)
{
    cw_sheet *s = r->out;
    for (size_t m = 0; m < r->merge_count; m++) {
        size_t at = row_from(s, r->merges[m].top);
        unsigned c = r->merges[m].column;
        if (at == s->row_count || s->rows[at].number != r->merges[m].top || c >= s->rows[at].width)
            continue;
        cw_square first = s->squares[s->rows[at].first + c];
        for (at++; at < s->row_count && s->rows[at].number <= r->merges[m].bottom; at++)
            if (c < s->rows[at].width)
                s->squares[s->rows[at].first + c] = first;
    }
}

cw_code cw_sheet_read(cw_xlsx *x, const char *part, cw_sheet *out, cw_error *err)
{
    bool found = false;
    cells_reading r = { .x = x, .out = out, .value = CW_TEXT(CW_MAX_FIELD_BYTES) };
    cw_part_reader p = { .start = cell_start, .end = cell_end, .text = cell_text, .mine = &r };
    cw_code code = cw_part_read(&x->zip, part, &p, &found, err);
    if (code == CW_OK && !found)
        code = cw_error_at(err, CW_REFUSED, x->zip.file, 0, NULL, "is damaged: the part %s is missing", part);
    if (code == CW_OK)
        spread(&r);
    cw_text_free(&r.value);
    free(r.merges);
    return code;
}

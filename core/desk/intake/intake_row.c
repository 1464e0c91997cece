/* SPDX-License-Identifier: MIT */
#include "desk/intake/intake_inside.h"

#include "base/day.h"
#include "base/text.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static void record(cw_intake *in, cw_row *row, int column, cw_code code, const char *text)
{
    cw_error e = CW_ERROR_NONE;
    cw_error_at(&e, code, row->file, row->line, column >= 0 ? row->kind->columns[column].name : NULL, "%s",
                text);
    cw_error_list_add(in->errors, &e);
    row->bad = true;
}

void cw_row_wrong(cw_intake *in, cw_row *row, int column, const char *format, ...)
{
    char text[768];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    record(in, row, column, CW_REFUSED, text);
}

void cw_row_clash(cw_intake *in, cw_row *row, int column, const char *format, ...)
{
    char text[768];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    record(in, row, column, CW_CONFLICT, text);
}

bool cw_row_failed(cw_intake *in, cw_row *row, int column, cw_code code, const cw_error *why)
{
    if (code == CW_OK)
        return true;
    if (code == CW_MACHINE)
        return false;
    record(in, row, column, code, why->text);
    return true;
}

cw_code cw_row_once(cw_intake *in, cw_row *row, const char *key, size_t n, cw_error *err)
{
    bool is_new = false;
    char shown[80], plain[80];
    int64_t *line = cw_map_put(&in->seen, key, n, &is_new);
    if (line == NULL)
        return cw_error_memory(err);
    if (is_new) {
        *line = row->line;
        return CW_OK;
    }
    bool grid = row->file == NULL;
    size_t cut = n < sizeof plain ? n : sizeof plain;
    for (size_t i = 0; i < cut; i++)
        plain[i] = (char)(key[i] ? key[i] : ' ');
    cw_shown(plain, cut, shown);
    if (grid)
        cw_row_wrong(in, row, 0, "this %s stands twice: %s", row->kind->one, shown);
    else
        cw_row_wrong(in, row, 0, "this %s stands twice in the file, first on line %lld: %s", row->kind->one,
                     (long long)*line, shown);
    return CW_OK;
}

/* A NUL-terminated copy of a field that lives as long as the row. */
static const char *keep(cw_row *row, const cw_field *f)
{
    char *copy = row->scratch + row->scratch_used;
    if (f->n > 0)
        memcpy(copy, f->s, f->n);
    copy[f->n] = '\0';
    row->scratch_used += f->n + 1;
    return copy;
}

static bool wrong(cw_intake *in, cw_row *row, int c, const cw_field *f, const char *what)
{
    char shown[80];
    cw_row_wrong(in, row, c, "%s: %s", what, cw_shown(f->s, f->n, shown));
    return false;
}

static bool too_late(cw_intake *in, cw_row *row, int c, const cw_field *f)
{
    char what[160], today[11];
    cw_day_format(in->who->today, today);
    snprintf(what, sizeof what, "lies after today (%s), but tells what has happened", today);
    return wrong(in, row, c, f, what);
}

static bool in_window(cw_intake *in, cw_row *row, int c, const cw_field *f, cw_day day)
{
    char what[160], first[11], last[11];
    cw_day ship = in->n->season.ship;
    if (day > ship - CW_WINDOW_BEFORE && day <= ship + CW_WINDOW_AFTER)
        return true;
    cw_day_format(ship - CW_WINDOW_BEFORE + 1, first);
    cw_day_format(ship + CW_WINDOW_AFTER, last);
    snprintf(what, sizeof what, "lies outside the season %d (%s to %s); is this the file of another season?",
             in->n->season.season, first, last);
    return wrong(in, row, c, f, what);
}

/* Is it a day, instant or week that the file may tell of? */
static bool in_time(cw_intake *in, cw_row *row, int c, const cw_field *f, int64_t v)
{
    const cw_kind_column *k = &row->kind->columns[c];
    cw_day ship = in->n->season.ship;
    if (k->holds.type == CW_WEEK_T) {
        return cw_kind_week_in_season(ship, (cw_week)v) || wrong(in, row, c, f, CW_WEEK_OUTSIDE);
    }
    bool instant = k->holds.type == CW_INSTANT_T;
    /* Today ends last, twelve hours after UTC's, at the date line. */
    bool late = instant ? v >= (in->who->today + 1) * CW_DAY_MS + CW_DAY_MS / 2 : v > in->who->today;
    if (k->must == CW_PAST && late)
        return too_late(in, row, c, f);
    return in_window(in, row, c, f, instant ? cw_instant_day(v) : (cw_day)v);
}

/* `kept` is the field itself where that is ended by NUL and lives as long as the row; NULL: it is to be copied. */
static bool read_value(cw_intake *in, cw_row *row, int c, const cw_field *f, const char *kept, cw_given *v)
{
    const cw_kind_column *k = &row->kind->columns[c];
    cw_value value = { 0 };
    char why[CW_WHY_BYTES];
    if (!cw_value_parse(&k->holds, f->s, f->n, &value)) {
        cw_row_wrong(in, row, c, "%s", cw_value_why(&k->holds, f->s, f->n, why));
        return false;
    }
    v->i = value.i;
    for (int d = 0; d < k->holds.decimals; d++)
        value.r *= 10;
    if (k->holds.type == CW_REAL_T)
        v->i = llround(value.r);
    else if (k->holds.type == CW_COUNTRY_T)
        v->t = value.t;
    else if (cw_column_text(k))
        v->t = kept ? kept : keep(row, f);
    return k->must == CW_NOTHING_MORE || in_time(in, row, c, f, v->i);
}

/* A sum of a season, said of a variety that is part of another by now: half is not the whole. */
static cw_code check_whole(cw_intake *in, cw_row *row, int c, const cw_field *f, const char *today,
                           cw_error *err)
{
    char code[CW_MAX_CODE + 1], into[CW_MAX_CODE + 1];
    bool sums = row->kind == &cw_kinds[CW_PAST_SALES] || row->kind == &cw_kinds[CW_PAST_ORDERS] ||
                row->kind == &cw_kinds[CW_PAST_PLANTINGS];
    if (!sums || f->n > CW_MAX_CODE || (f->n == strlen(today) && memcmp(f->s, today, f->n) == 0))
        return CW_OK;
    memcpy(code, f->s, f->n);
    code[f->n] = '\0';
    cw_code done = cw_intake_merged_into(in->db, code, into, err);
    if (done == CW_OK && into[0])
        cw_row_clash(in, row, c,
                     "%s was merged into %s: give what the two have together under %s, or leave the row out",
                     code, into, into);
    return done;
}

/* A code that must be known. One that a wrong row of this load names is passed over: that row was complained
 * of. */
static cw_code read_known(cw_intake *in, cw_row *row, int c, const cw_field *f, cw_given *v, cw_error *err)
{
    cw_must is = row->kind->columns[c].must;
    cw_code code = is == CW_KNOWN_VARIETY ? cw_codes_variety(&in->codes, f->s, f->n, &v->i, err)
                   : is == CW_KNOWN_LOT   ? cw_codes_lot(&in->codes, f->s, f->n, &v->i, err)
                                          : cw_codes_place(&in->codes, f->s, f->n, &v->i, err);
    if (code != CW_OK)
        return code;
    if (v->i < 0) {
        wrong(in, row, c, f,
              is == CW_KNOWN_VARIETY ? "there is no variety of this code"
              : is == CW_KNOWN_LOT   ? "there is no such lot"
                                     : "there is no such place");
        return CW_OK;
    }
    if (is == CW_KNOWN_VARIETY)
        code = check_whole(in, row, c, f, in->codes.variety[v->i].code, err);
    if (is == CW_KNOWN_PLACE)
        v->i = in->codes.place[v->i];
    if (is == CW_KNOWN_VARIETY ? in->codes.variety[v->i].id == 0
        : is == CW_KNOWN_LOT   ? in->codes.lot[v->i].id == 0
                               : v->i < 0)
        row->quiet = true;
    return code;
}

bool cw_row_open(cw_row *row, size_t bytes)
{
    row->room = bytes + CW_MAX_KIND_COLUMNS;
    row->scratch = malloc(row->room);
    row->repeated = malloc(2 * row->room);
    return row->scratch && row->repeated;
}

void cw_row_clear(cw_row *row)
{
    row->repeated_used = 0;
    memset(row->last_text, 0, sizeof row->last_text);
}

void cw_row_close(cw_row *row)
{
    free(row->scratch);
    free(row->repeated);
    row->scratch = row->repeated = NULL;
}

/* Is the field as it was in the row before, and was that well? */
static bool is_repeat(const cw_row *row, size_t c, const cw_field *f)
{
    return row->last_text[c] && row->last_length[c] == f->n && memcmp(row->last_text[c], f->s, f->n) == 0;
}

/* Keeps the text and value for the rows to come. A row brings at most `room` bytes, and cw_row_read
 * sees to that much. */
static void remember(cw_row *row, size_t c, const cw_field *f)
{
    char *copy = row->repeated + row->repeated_used;
    memcpy(copy, f->s, f->n);
    copy[f->n] = '\0';
    row->repeated_used += f->n + 1;
    row->last_text[c] = copy;
    row->last_length[c] = f->n;
    row->last[c] = row->is.v[c];
    if (row->is.v[c].t && row->kind->columns[c].holds.type != CW_COUNTRY_T)
        row->last[c].t = copy;
}

/* One column that is not empty. */
static cw_code read_column(cw_intake *in, cw_row *row, size_t c, const cw_field *f, cw_error *err)
{
    const cw_kind_column *k = &row->kind->columns[c];
    row->is.v[c].null = false;
    if (k->must >= CW_KNOWN_VARIETY)
        return read_known(in, row, (int)c, f, &row->is.v[c], err);
    if (k->repeats && is_repeat(row, c, f)) {
        row->is.v[c] = row->last[c];
        return CW_OK;
    }
    row->all_repeat = row->all_repeat && !k->repeats;
    row->last_text[c] = NULL;
    if (read_value(in, row, (int)c, f, NULL, &row->is.v[c]) && k->repeats)
        remember(row, c, f);
    return CW_OK;
}

/* A column that a form left out. */
static void read_nothing(cw_intake *in, cw_row *row, size_t c, cw_given *v)
{
    const cw_kind_column *k = &row->kind->columns[c];
    if (k->need == CW_NEEDED)
        cw_row_wrong(in, row, (int)c, "must not be empty");
    v->null = k->need != CW_ZERO;
    v->t = v->null || !cw_column_text(k) ? NULL : "";
}

void cw_row_begin(cw_row *row)
{
    row->bad = row->quiet = false;
    row->all_repeat = true;
    row->scratch_used = 0;
}

/* A number of a form: as it would stand in a file, for the sentences. */
static void read_number(cw_intake *in, cw_row *row, int c, int64_t i, cw_given *v)
{
    const cw_kind_column *k = &row->kind->columns[c];
    char text[CW_CELL_BYTES], why[CW_WHY_BYTES];
    cw_field f = { text, cw_value_format(k->holds.type, 0, &(cw_value){ .i = i }, text) };
    bool whole = k->holds.type == CW_INT_T;
    v->i = i;
    if (whole && ((double)i < k->holds.low || (double)i > k->holds.high))
        cw_row_wrong(in, row, c, "%s", cw_value_why(&k->holds, f.s, f.n, why));
    else if (k->must != CW_NOTHING_MORE)
        in_time(in, row, c, &f, i);
}

cw_code cw_row_say(cw_intake *in, cw_row *row, size_t c, const cw_saying *s, cw_error *err)
{
    cw_given *v = &row->is.v[c];
    *v = (cw_given){ .null = true, .absent = s == NULL };
    if (s == NULL || (s->t && s->n == 0)) {
        read_nothing(in, row, c, v);
        return CW_OK;
    }
    v->null = false;
    const cw_field f = { s->t, s->n };
    if (s->t && row->kind->columns[c].must >= CW_KNOWN_VARIETY)
        return read_known(in, row, (int)c, &f, v, err);
    if (s->t)
        read_value(in, row, (int)c, &f, s->t, v);
    else
        read_number(in, row, (int)c, s->i, v);
    return CW_OK;
}

cw_code cw_row_read(cw_intake *in, cw_row *row, cw_error *err)
{
    cw_row_begin(row);
    if (row->repeated_used > row->room)
        cw_row_clear(row);
    for (size_t c = 0; c < row->kind->width; c++) {
        const cw_kind_column *k = &row->kind->columns[c];
        cw_given *v = &row->is.v[c];
        *v = (cw_given){ .null = true, .absent = row->map[c] < 0 };
        const cw_field *f = v->absent ? NULL : &row->fields[row->map[c]];
        if (f && f->n > 0) {
            cw_code code = read_column(in, row, c, f, err);
            if (code != CW_OK)
                return code;
            continue;
        }
        read_nothing(in, row, c, v);
        row->all_repeat = row->all_repeat && (!k->repeats || row->last_text[c] == NULL);
        row->last_text[c] = NULL;
    }
    return CW_OK;
}

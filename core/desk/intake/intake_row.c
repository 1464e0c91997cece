/* SPDX-License-Identifier: MIT */
#include "desk/intake/intake_inside.h"

#include "base/country.h"
#include "base/day.h"
#include "base/money.h"
#include "base/text.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* What belongs to a season: everything from a year before its shipping day to half a year after it. A file of
 * the season before, or the one after, lies outside. */
#define WINDOW_BEFORE 366
#define WINDOW_AFTER  183

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
    size_t cut = n < sizeof plain ? n : sizeof plain;
    for (size_t i = 0; i < cut; i++)
        plain[i] = (char)(key[i] ? key[i] : ' ');
    cw_row_wrong(in, row, 0, "this %s stands twice in the file, first on line %lld: %s", row->kind->one,
                 (long long)*line, cw_shown(plain, cut, shown));
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

static bool plain_text(const cw_field *f)
{
    for (size_t i = 0; i < f->n; i++)
        if ((unsigned char)f->s[i] < 0x20 || f->s[i] == 0x7F)
            return false;
    return true;
}

static bool read_code(cw_intake *in, cw_row *row, int c, const cw_field *f, cw_given *v)
{
    if (f->n > CW_MAX_CODE)
        return wrong(in, row, c, f, "must be at most 32 bytes");
    if (!plain_text(f) || f->s[0] == ' ' || f->s[f->n - 1] == ' ')
        return wrong(in, row, c, f, "must not hold control characters, nor begin or end with a space");
    v->t = keep(row, f);
    return true;
}

static bool read_text(cw_intake *in, cw_row *row, int c, const cw_field *f, cw_given *v)
{
    char what[64];
    int64_t most = row->kind->columns[c].high;
    if ((int64_t)f->n > most) {
        snprintf(what, sizeof what, "must be at most %lld bytes", (long long)most);
        return wrong(in, row, c, f, what);
    }
    if (!plain_text(f))
        return wrong(in, row, c, f, "must be one line without control characters");
    v->t = keep(row, f);
    return true;
}

static bool read_word(cw_intake *in, cw_row *row, int c, const cw_field *f, cw_given *v)
{
    const char *words = row->kind->columns[c].words;
    char what[128];
    for (const char *w = words; *w;) {
        size_t n = strcspn(w, " ");
        if (n == f->n && memcmp(w, f->s, n) == 0) {
            v->t = keep(row, f);
            v->i = w - words;
            return true;
        }
        w += n + (w[n] == ' ');
    }
    snprintf(what, sizeof what, "must be one of %s", words);
    return wrong(in, row, c, f, what);
}

/* What is kept lives as long as the program. */
static bool read_country(cw_intake *in, cw_row *row, int c, const cw_field *f, cw_given *v)
{
    v->t = cw_country_find(f->s, f->n);
    return v->t != NULL || wrong(in, row, c, f, "is no country of ISO 3166-1, neither by code nor by name");
}

static bool read_int(cw_intake *in, cw_row *row, int c, const cw_field *f, cw_given *v)
{
    const cw_kind_column *k = &row->kind->columns[c];
    char what[96];
    if (cw_parse_int(f->s, f->n, k->low, k->high, &v->i))
        return true;
    snprintf(what, sizeof what, "must be a whole number from %lld to %lld", (long long)k->low,
             (long long)k->high);
    return wrong(in, row, c, f, what);
}

static bool read_real(cw_intake *in, cw_row *row, int c, const cw_field *f, cw_given *v)
{
    const cw_kind_column *k = &row->kind->columns[c];
    char what[96];
    double x = 0;
    if (cw_parse_real(f->s, f->n, (double)k->low, (double)k->high, &x)) {
        for (int d = 0; d < k->decimals; d++)
            x *= 10;
        v->i = llround(x);
        return true;
    }
    snprintf(what, sizeof what, "must be a number from %lld to %lld, with a decimal point", (long long)k->low,
             (long long)k->high);
    return wrong(in, row, c, f, what);
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
    if (day > ship - WINDOW_BEFORE && day <= ship + WINDOW_AFTER)
        return true;
    cw_day_format(ship - WINDOW_BEFORE + 1, first);
    cw_day_format(ship + WINDOW_AFTER, last);
    snprintf(what, sizeof what, "lies outside the season %d (%s to %s); is this the file of another season?",
             in->n->season.season, first, last);
    return wrong(in, row, c, f, what);
}

static bool read_day(cw_intake *in, cw_row *row, int c, const cw_field *f, cw_given *v)
{
    cw_day day = 0;
    if (!cw_day_parse(f->s, f->n, &day))
        return wrong(in, row, c, f, "must be a day that exists, as 2032-04-19");
    v->i = day;
    if (row->kind->columns[c].is == CW_IS_PAST && day > in->who->today) {
        return too_late(in, row, c, f);
    }
    return in_window(in, row, c, f, day);
}

static bool read_date(cw_intake *in, cw_row *row, int c, const cw_field *f, cw_given *v)
{
    cw_day day = 0;
    if (!cw_day_parse(f->s, f->n, &day))
        return wrong(in, row, c, f, "must be a day that exists, as 2032-04-19");
    v->i = day;
    return true;
}

static bool read_instant(cw_intake *in, cw_row *row, int c, const cw_field *f, cw_given *v)
{
    if (!cw_instant_parse(f->s, f->n, &v->i))
        return wrong(in, row, c, f,
                     "must be an instant with its offset, as 2032-01-31T09:15:00Z or ...+01:00");
    cw_day day = cw_instant_day(v->i);
    /* Today ends last, twelve hours after UTC's, at the date line. */
    if (row->kind->columns[c].is == CW_IS_PAST_INSTANT &&
        v->i >= (in->who->today + 1) * CW_DAY_MS + CW_DAY_MS / 2) {
        return too_late(in, row, c, f);
    }
    return in_window(in, row, c, f, day);
}

static bool read_week(cw_intake *in, cw_row *row, int c, const cw_field *f, cw_given *v)
{
    cw_week week = 0;
    cw_day ship = in->n->season.ship;
    if (!cw_week_parse(f->s, f->n, &week))
        return wrong(in, row, c, f, "must be an ISO week that exists, as 2032-W16");
    v->i = week;
    if (cw_week_monday(week) + 6 <= ship - WINDOW_BEFORE || cw_week_monday(week) > ship + WINDOW_BEFORE)
        return wrong(in, row, c, f, "lies more than a year from this season's shipping day");
    return true;
}

static bool read_money(cw_intake *in, cw_row *row, int c, const cw_field *f, cw_given *v)
{
    cw_cents cents = 0;
    if (!cw_cents_parse(f->s, f->n, &cents))
        return wrong(in, row, c, f, "must be an amount of money, as 12.50, never negative");
    v->i = cents;
    return true;
}

static bool read_yes(cw_intake *in, cw_row *row, int c, const cw_field *f, cw_given *v)
{
    bool yes = false;
    if (!cw_parse_bool(f->s, f->n, &yes))
        return wrong(in, row, c, f, "must be yes or no (1/0, yes/no, true/false)");
    v->i = yes;
    return true;
}

/* A code that must be known. One that a wrong row of this load names is passed over: that row was complained
 * of. */
static cw_code read_known(cw_intake *in, cw_row *row, int c, const cw_field *f, cw_given *v, cw_error *err)
{
    cw_is is = row->kind->columns[c].is;
    cw_code code = is == CW_IS_VARIETY ? cw_codes_variety(&in->codes, f->s, f->n, &v->i, err)
                   : is == CW_IS_LOT   ? cw_codes_lot(&in->codes, f->s, f->n, &v->i, err)
                                       : cw_codes_place(&in->codes, f->s, f->n, &v->i, err);
    if (code != CW_OK)
        return code;
    if (v->i < 0) {
        wrong(in, row, c, f,
              is == CW_IS_VARIETY ? "there is no variety of this code"
              : is == CW_IS_LOT   ? "there is no such lot"
                                  : "there is no such place");
        return CW_OK;
    }
    if (is == CW_IS_PLACE)
        v->i = in->codes.place[v->i];
    if (is == CW_IS_VARIETY ? in->codes.variety[v->i].id == 0
        : is == CW_IS_LOT   ? in->codes.lot[v->i].id == 0
                            : v->i < 0)
        row->quiet = true;
    return CW_OK;
}

typedef bool (*reader)(cw_intake *in, cw_row *row, int c, const cw_field *f, cw_given *v);

static const reader readers[] = {
    [CW_IS_CODE] = read_code, [CW_IS_TEXT] = read_text,       [CW_IS_WORD] = read_word,
    [CW_IS_INT] = read_int,   [CW_IS_REAL] = read_real,       [CW_IS_DAY] = read_day,
    [CW_IS_PAST] = read_day,  [CW_IS_INSTANT] = read_instant, [CW_IS_PAST_INSTANT] = read_instant,
    [CW_IS_WEEK] = read_week, [CW_IS_MONEY] = read_money,     [CW_IS_YES] = read_yes,
    [CW_IS_DATE] = read_date, [CW_IS_COUNTRY] = read_country,
};

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
    row->last[c] = row->v[c];
    if (row->v[c].t && row->kind->columns[c].is != CW_IS_COUNTRY)
        row->last[c].t = copy;
}

/* One column that is not empty. */
static cw_code read_column(cw_intake *in, cw_row *row, size_t c, const cw_field *f, cw_error *err)
{
    const cw_kind_column *k = &row->kind->columns[c];
    row->v[c].null = false;
    if (k->is == CW_IS_VARIETY || k->is == CW_IS_LOT || k->is == CW_IS_PLACE)
        return read_known(in, row, (int)c, f, &row->v[c], err);
    if (k->repeats && is_repeat(row, c, f)) {
        row->v[c] = row->last[c];
        return CW_OK;
    }
    row->all_repeat = row->all_repeat && !k->repeats;
    row->last_text[c] = NULL;
    if (readers[k->is](in, row, (int)c, f, &row->v[c]) && k->repeats)
        remember(row, c, f);
    return CW_OK;
}

cw_code cw_row_read(cw_intake *in, cw_row *row, cw_error *err)
{
    row->bad = row->quiet = false;
    row->all_repeat = true;
    row->scratch_used = 0;
    if (row->repeated_used > row->room)
        cw_row_clear(row);
    for (size_t c = 0; c < row->kind->width; c++) {
        const cw_kind_column *k = &row->kind->columns[c];
        cw_given *v = &row->v[c];
        *v = (cw_given){ .null = true, .absent = row->map[c] < 0 };
        const cw_field *f = v->absent ? NULL : &row->fields[row->map[c]];
        if (f && f->n > 0) {
            cw_code code = read_column(in, row, c, f, err);
            if (code != CW_OK)
                return code;
            continue;
        }
        if (k->need == CW_NEEDED)
            cw_row_wrong(in, row, (int)c, "must not be empty");
        v->null = k->need != CW_ZERO;
        row->all_repeat = row->all_repeat && (!k->repeats || row->last_text[c] == NULL);
        row->last_text[c] = NULL;
    }
    return CW_OK;
}

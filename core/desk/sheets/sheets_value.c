/* SPDX-License-Identifier: MIT */
#include "desk/sheets/sheets_inside.h"

#include "base/country.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* One cell as its column of ours is written. What is only written otherwise is repaired and said so; what means something else, or
 * nothing, is wrong. Whether the value may be is the intake's to say. */

static bool keep(cw_cell_read *out, const char *s, size_t n, cw_field cell)
{
    if (n > CW_MAX_NOTE)
        n = CW_MAX_NOTE;
    memcpy(out->text, s, n);
    out->text[n] = '\0';
    out->repaired = n != cell.n || memcmp(s, cell.s, n) != 0;
    return true;
}

static bool wrong(cw_cell_read *out, const char *what)
{
    cw_copy(out->wrong, sizeof out->wrong, what);
    return false;
}

/* One line without control characters. */
static bool read_text(cw_field cell, cw_cell_read *out)
{
    size_t used = 0;
    for (size_t i = 0; i < cell.n; i++) {
        unsigned char c = (unsigned char)cell.s[i];
        bool blank = c < 0x20 || c == 0x7F;
        if (blank && used > 0 && out->text[used - 1] == ' ')
            continue;
        if (used == CW_MAX_NOTE)
            return wrong(out, "is too long");
        out->text[used++] = (char)(blank ? ' ' : c);
    }
    out->text[used] = '\0';
    out->repaired = used != cell.n || memcmp(out->text, cell.s, used) != 0;
    return true;
}

static bool has_word(const char *words, const char *unit)
{
    char key[CW_TYPED_UNIT + 2];
    snprintf(key, sizeof key, " %s ", unit);
    return strstr(words, key) != NULL;
}

/* Is the sign or word one of the nursery's own currency? */
static bool own_currency(const char *currency, const char *unit)
{
    static const struct {
        const char *unit, *currencies;
    } marks[] = {
        { "$", " USD CAD AUD NZD SGD HKD MXN " },
        { "\xC2\xA3", " GBP " },
        { "\xE2\x82\xAC", " EUR " },
        { "\xC2\xA5", " JPY CNY " },
        { "euro", " EUR " },
        { "euros", " EUR " },
        { "fr", " CHF " },
        { "sfr", " CHF " },
        { "kr", " DKK SEK NOK ISK " },
        { "zl", " PLN " },
        { "kc", " CZK " },
        { "ft", " HUF " },
        { "dollar", " USD CAD AUD NZD " },
        { "dollars", " USD CAD AUD NZD " },
        { "pound", " GBP " },
        { "pounds", " GBP " },
    };
    char lower[4] = "";
    cw_copy(lower, sizeof lower, currency);
    for (char *c = lower; *c; c++)
        *c = (char)(*c >= 'A' && *c <= 'Z' ? *c - 'A' + 'a' : *c);
    if (strcmp(lower, unit) == 0)
        return true;
    for (size_t i = 0; i < sizeof marks / sizeof marks[0]; i++)
        if (strcmp(marks[i].unit, unit) == 0)
            return has_word(marks[i].currencies, currency);
    return false;
}

/* Moves the decimal point `places` to the left (right if negative), digits as they are. */
static bool shift(char text[40], int places)
{
    double v = 0;
    if (!cw_parse_real(text, strlen(text), -1e12, 1e12, &v))
        return false;
    for (; places > 0; places--)
        v /= 10;
    for (; places < 0; places++)
        v *= 10;
    snprintf(text, 40, "%.12g", v);
    return true;
}

/* May the unit stand behind such a number, and what does it do to it? */
static bool apply_unit(const cw_fitting *f, const cw_kind_column *k, const char *unit, char text[40])
{
    static const char pieces[] = " x pc pcs piece pieces st stk stck stuck stueck stuks stuk ea each piece p "
                                 "nr no clumps clump tubers tuber "
                                 "knollen knolle pollen pol division divisions delen stock stocke stoecke "
                                 "souche souches eclat eclats teilstuck teilstucke teilstueck teilstuecke "
                                 "deelknol deelknollen plant plants planten plante plantes pflanze pflanzen ";
    if (unit[0] == '\0')
        return true;
    if (cw_column_is(k) == CW_IS_MONEY)
        return own_currency(f->n->season.currency, unit) || has_word(pieces, unit);
    if (strcmp(k->name, "kg") == 0) {
        if (strcmp(unit, "g") == 0 || strcmp(unit, "gr") == 0 || strcmp(unit, "gramm") == 0 ||
            strcmp(unit, "gram") == 0)
            return shift(text, 3);
        return has_word(" kg kilo kilos ", unit);
    }
    if (strcmp(k->name, "height_cm") == 0 || strcmp(k->name, "spacing_cm") == 0) {
        if (strcmp(unit, "m") == 0)
            return shift(text, -2);
        if (strcmp(unit, "mm") == 0)
            return shift(text, 1);
        return strcmp(unit, "cm") == 0;
    }
    if (strcmp(k->name, "temp_c") == 0)
        return has_word(" c gradc celsius grad degc ", unit);
    if (strcmp(k->name, "temp_f") == 0)
        return has_word(" f degf fahrenheit ", unit);
    if (strcmp(k->name, "rh") == 0)
        return has_word(" % rh rf rv hr prozent percent ", unit);
    if (strcmp(k->name, "weeks") == 0)
        return has_word(" w week weeks wk wo woche wochen weken semaine semaines ", unit);
    return cw_column_is(k) == CW_IS_INT && has_word(pieces, unit);
}

static bool read_number(const cw_fitting *f, const cw_kind_column *k, const cw_fit_column *c, cw_field cell,
                        cw_stands holds, cw_cell_read *out)
{
    cw_typed_number n;
    if (!cw_typed_number_read(cell.s, cell.n, holds == CW_STANDS_NUMBER ? CW_MARK_POINT : f->decimal, &n))
        return wrong(out, "is no number that can be read");
    if (n.open && holds != CW_STANDS_NUMBER && f->decimal != CW_MARK_OPEN) {
        /* It is read by the mark that was decided; whole where three decimals may not be. */
        if (cw_column_is(k) == CW_IS_MONEY && strchr(n.text, '.'))
            return wrong(out, "has three decimals, and an amount has two");
    }
    /* A currency in the heading is the whole column's; another unit stands behind each number. */
    const char *given = n.unit[0] ? n.unit : c && cw_column_is(k) != CW_IS_TEXT ? c->unit : "";
    bool heading = n.unit[0] == '\0' && given[0];
    if (!apply_unit(f, k, given, n.text)) {
        /* Words in brackets behind a heading are mostly no unit: of those only a currency and a weight count. */
        bool counts =
            !heading || (cw_column_is(k) == CW_IS_MONEY && strlen(given) <= 3) || strcmp(k->name, "kg") == 0;
        char called[CW_TYPED_UNIT];
        cw_copy(called, sizeof called, given);
        for (char *u = called; *u && strlen(given) == 3; u++)
            *u = (char)(*u >= 'a' && *u <= 'z' ? *u - 'a' + 'A' : *u);
        if (counts && cw_column_is(k) == CW_IS_MONEY)
            snprintf(out->wrong, sizeof out->wrong, "is an amount in %s, and this nursery counts in %s",
                     called, f->n->season.currency);
        else if (counts)
            snprintf(out->wrong, sizeof out->wrong, "is counted in %s, which may not stand here", given);
        if (counts)
            return false;
    }
    char *point = strchr(n.text, '.');
    if (point && strspn(point + 1, "0") == strlen(point + 1)) /* 12.0 is whole */
        *point = '\0';
    return keep(out, n.text, strlen(n.text), cell);
}

/* When the local day `day` began: the nursery's clock is asked, which knows summer time. */
static cw_instant midnight(const cw_asker *who, cw_day day)
{
    cw_instant low = (cw_instant)day * CW_DAY_MS - CW_DAY_MS, high = (cw_instant)day * CW_DAY_MS + CW_DAY_MS;
    while (high - low > 60000) {
        cw_instant middle = low + (high - low) / 2;
        if (cw_asker_day(who, middle) < day)
            low = middle;
        else
            high = middle;
    }
    return high - ((high % 60000) + 60000) % 60000; /* offsets are whole minutes */
}

/* A local time as an instant. On the two days a year that are not 24 hours long the clocks change between one and three. */
static cw_instant local_instant(cw_fitting *f, cw_day day, int32_t ms)
{
    if (f->clock_next == 0 || f->clock_day != day) {
        f->clock_day = day;
        f->clock_from = midnight(f->who, day);
        f->clock_next = midnight(f->who, day + 1);
    }
    bool late = f->clock_next - f->clock_from != CW_DAY_MS && ms >= 3 * 3600000;
    return late ? f->clock_next - (CW_DAY_MS - ms) : f->clock_from + ms;
}

static bool read_when(cw_fitting *f, const cw_kind_column *k, cw_field cell, cw_stands holds,
                      cw_cell_read *out)
{
    cw_typed_day d;
    char text[32];
    bool instant = cw_column_is(k) == CW_IS_INSTANT || cw_column_is(k) == CW_IS_PAST_INSTANT;
    if (holds == CW_STANDS_NUMBER || !cw_typed_day_read(cell.s, cell.n, f->dates, &d))
        return wrong(out, instant ? "is no day and time that can be read" : "is no day that can be read");
    if (d.open && f->dates == CW_ORDER_OPEN)
        return wrong(out, "may be read with the day or the month first");
    if (!instant) {
        cw_day_format(d.day, text);
        return keep(out, text, 10, cell);
    }
    if (d.zone) {
        cw_instant_format((cw_instant)d.day * CW_DAY_MS + d.ms - (cw_instant)d.minutes * 60000, text);
    } else {
        cw_instant_format(local_instant(f, d.day, d.clock ? d.ms : 12 * 3600000), text);
    }
    keep(out, text, strlen(text), cell);
    return true;
}

static bool read_week(cw_fitting *f, cw_field cell, cw_cell_read *out)
{
    cw_week week = 0;
    cw_typed_day d;
    char text[12];
    int year = 0, month = 0, day = 0;
    cw_day_to_ymd(f->n->season.ship, &year, &month, &day);
    if (!cw_typed_week_read(cell.s, cell.n, year, &week)) {
        if (!cw_typed_day_read(cell.s, cell.n, f->dates, &d) || (d.open && f->dates == CW_ORDER_OPEN))
            return wrong(out, "is no week that can be read");
        week = cw_week_of(d.day);
    }
    cw_week_format(week, text);
    return keep(out, text, strlen(text), cell);
}

static bool read_yes(cw_field cell, cw_cell_read *out)
{
    bool yes = false;
    if (!cw_typed_yes_read(cell.s, cell.n, &yes))
        return wrong(out, "is neither yes nor no");
    return keep(out, yes ? "yes" : "no", yes ? 3 : 2, cell);
}

bool cw_cell_nothing(cw_field cell, cw_stands holds)
{
    static const char *const nothing[] = { "-",    "--",   "\xE2\x80\x93", "\xE2\x80\x94", "n/a", "N/A",
                                           "#N/A", "k.A.", "n.v.t.",       "nvt",          "?",   "/" };
    for (size_t i = 0; i < sizeof nothing / sizeof nothing[0]; i++)
        if (strlen(nothing[i]) == cell.n && memcmp(nothing[i], cell.s, cell.n) == 0)
            return true;
    return holds == CW_STANDS_NOTHING;
}

/* Nought in a word: "aucune" rotten. */
static bool is_none(cw_field cell)
{
    static const char words[] = " none nil zero kein keine keiner keines null geen nul aucun aucune ";
    char folded[CW_FOLD_BYTES];
    size_t n = cw_fold(cell.s, cell.n, '\0', folded);
    char key[10];
    if (n == 0 || n >= sizeof key - 2)
        return false;
    memcpy(key, folded, n + 1);
    return has_word(words, key);
}

bool cw_cell_value(cw_fitting *f, cw_target to, const cw_fit_column *c, cw_field cell, cw_stands holds,
                   cw_cell_read *out)
{
    const cw_kind_column *k = cw_target_column(to);
    out->text[0] = out->wrong[0] = '\0';
    out->repaired = false;
    if (cell.n == 0)
        return true;
    if (k->need != CW_NEEDED && cw_cell_nothing(cell, holds)) {
        out->repaired = true;
        return true;
    }
    if (holds == CW_STANDS_FAULT)
        return wrong(out, "is an error of the spreadsheet's own");
    switch (cw_column_is(k)) {
    case CW_IS_INT:
        if (holds == CW_STANDS_TEXT && is_none(cell))
            return keep(out, "0", 1, cell);
        return read_number(f, k, c, cell, holds, out);
    case CW_IS_REAL:
    case CW_IS_MONEY:
        return read_number(f, k, c, cell, holds, out);
    case CW_IS_DAY:
    case CW_IS_PAST:
    case CW_IS_DATE:
    case CW_IS_INSTANT:
    case CW_IS_PAST_INSTANT:
        return read_when(f, k, cell, holds, out);
    case CW_IS_WEEK:
        return read_week(f, cell, out);
    case CW_IS_YES:
        return read_yes(cell, out);
    case CW_IS_WORD: {
        const char *word = cw_words_find(k->holds.words, cell.s, cell.n);
        return word ? keep(out, word, strlen(word), cell)
                    : wrong(out, "is none of the words that may stand here");
    }
    case CW_IS_COUNTRY:
        if (cw_country_find(cell.s, cell.n) == NULL)
            return wrong(out, "is no country, neither by code nor by name");
        return read_text(cell, out);
    default:
        return read_text(cell, out);
    }
}

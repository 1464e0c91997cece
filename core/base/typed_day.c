/* SPDX-License-Identifier: MIT */
#include "base/typed.h"

#include "base/fold.h"
#include "base/text.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* Names of months in English, German, Dutch and French by their beginnings, folded; the longer before what it begins with. */
static const struct month {
    const char *name;
    int month;
} months[] = {
    { "jan", 1 },  { "jaen", 1 }, { "feb", 2 },  { "fev", 2 },  { "fevr", 2 }, { "mar", 3 }, { "maa", 3 },
    { "mrt", 3 },  { "mae", 3 },  { "apr", 4 },  { "avr", 4 },  { "mai", 5 },  { "may", 5 }, { "mei", 5 },
    { "juin", 6 }, { "jun", 6 },  { "juil", 7 }, { "jul", 7 },  { "aug", 8 },  { "aou", 8 }, { "sep", 9 },
    { "okt", 10 }, { "oct", 10 }, { "nov", 11 }, { "dec", 12 }, { "dez", 12 },
};

static int month_of(const char *word)
{
    for (size_t i = 0; i < sizeof months / sizeof months[0]; i++)
        if (strncmp(word, months[i].name, strlen(months[i].name)) == 0)
            return months[i].month;
    return 0;
}

/* A text as numbers and words, without what parts them. */
typedef struct piece {
    int number; /* -1: a word */
    int digits;
    int month;           /* of a word, 0: none */
    char before, behind; /* the characters beside it */
} piece;
#define MOST 12

static size_t pieces_of(const char *s, size_t n, piece out[MOST])
{
    size_t count = 0;
    for (size_t i = 0; i < n;) {
        if (s[i] >= '0' && s[i] <= '9') {
            piece p = { 0, 0, 0, i > 0 ? s[i - 1] : '\0', '\0' };
            for (; i < n && s[i] >= '0' && s[i] <= '9'; i++, p.digits++)
                p.number = p.number < 100000 ? p.number * 10 + (s[i] - '0') : p.number;
            p.behind = i < n ? s[i] : '\0';
            if (count == MOST)
                return MOST + 1;
            out[count++] = p;
        } else if ((s[i] >= 'a' && s[i] <= 'z') || (s[i] >= 'A' && s[i] <= 'Z') ||
                   (unsigned char)s[i] >= 0xC3) {
            char word[CW_FOLD_BYTES];
            size_t from = i;
            while (i < n && ((s[i] >= 'a' && s[i] <= 'z') || (s[i] >= 'A' && s[i] <= 'Z') ||
                             (unsigned char)s[i] >= 0x80))
                i++;
            cw_fold(s + from, i - from, '\0', word);
            if (count == MOST)
                return MOST + 1;
            out[count++] =
                (piece){ -1, 0, month_of(word), from > 0 ? s[from - 1] : '\0', i < n ? s[i] : '\0' };
        } else {
            i++;
        }
    }
    return count;
}

static bool make_day(int year, int digits, int month, int day, cw_day *out)
{
    if (digits == 2)
        year += year < 69 ? 2000 : 1900;
    else if (digits != 4)
        return false;
    if (year < 1900 || year > 2199 || month < 1 || month > 12 || day < 1 || day > 31)
        return false;
    int y = 0, m = 0, d = 0;
    *out = cw_day_from_ymd(year, month, day);
    cw_day_to_ymd(*out, &y, &m, &d);
    return y == year && m == month && d == day;
}

/* 12/03/2031: by both orders, and what that proves. */
static bool by_order(const piece *p, cw_order order, cw_typed_day *out)
{
    cw_day dmy = 0, mdy = 0;
    bool one = make_day(p[2].number, p[2].digits, p[1].number, p[0].number, &dmy);
    bool two = make_day(p[2].number, p[2].digits, p[0].number, p[1].number, &mdy);
    if (!one && !two)
        return false;
    /* Points between: nowhere is the month written first so (common practice, no source). */
    if (p[0].behind == '.' && p[1].behind == '.') {
        out->shows = CW_ORDER_DMY;
        out->day = dmy;
        return one && order != CW_ORDER_MDY;
    }
    if (one && two && dmy != mdy) {
        out->open = true;
        out->day = order == CW_ORDER_MDY ? mdy : dmy;
        return true;
    }
    if (!(one && two))
        out->shows = one ? CW_ORDER_DMY : CW_ORDER_MDY;
    out->day = one ? dmy : mdy;
    return order == CW_ORDER_OPEN || (one && two) || order == out->shows;
}

/* The day at the front of the pieces; *used of them. */
static bool read_date(const piece *p, size_t n, cw_order order, cw_typed_day *out, size_t *used)
{
    *used = 3;
    if (n < 3)
        return false;
    if (p[0].month == 0 && p[0].number < 0) /* the name of a weekday */
        return *used = 4, n >= 4 && read_date(p + 1, n - 1, order, out, used) && (*used += 1, true);
    if (p[0].digits == 4 && p[1].number >= 0 && p[2].number >= 0)
        return make_day(p[0].number, 4, p[1].number, p[2].number, &out->day);
    if (p[0].number >= 0 && p[1].month > 0 && p[2].number >= 0)
        return p[0].digits == 4 ? make_day(p[0].number, 4, p[1].month, p[2].number, &out->day)
                                : make_day(p[2].number, p[2].digits, p[1].month, p[0].number, &out->day);
    if (p[0].month > 0 && p[1].number >= 0 && p[2].number >= 0)
        return make_day(p[2].number, p[2].digits, p[0].month, p[1].number, &out->day);
    return p[0].number >= 0 && p[1].number >= 0 && p[2].number >= 0 && p[0].digits <= 2 && p[1].digits <= 2 &&
           by_order(p, order, out);
}

/* "14:30", "14:30:05", "2:30 pm", and "Z" or "+01:00" behind it. `s` is the text from the time on. */
static bool read_clock(const char *s, size_t n, cw_typed_day *out)
{
    piece p[MOST];
    size_t count = pieces_of(s, n, p), at = 2;
    char folded[CW_FOLD_BYTES];
    cw_fold(s, n, '\0', folded);
    if (count < 2 || count > MOST || p[0].digits > 2 || p[0].behind != ':' || p[1].digits != 2 ||
        p[0].number > 23 || p[1].number > 59)
        return false;
    int hour = p[0].number, second = 0;
    if (at < count && p[1].behind == ':' && p[2].digits == 2 && p[2].number < 60)
        second = p[at++].number;
    if (at < count && p[at - 1].behind == '.' && at == 3) /* a fraction of a second is dropped */
        at++;
    size_t length = strlen(folded);
    if (length > 2 && folded[length - 1] == 'm' && (folded[length - 2] == 'p' || folded[length - 2] == 'a')) {
        if (hour < 1 || hour > 12)
            return false;
        hour = hour % 12 + (folded[length - 2] == 'p' ? 12 : 0);
        at++;
    } else if (length > 1 && folded[length - 1] == 'z') {
        out->zone = true;
        at++;
    } else if (at < count && (p[at].before == '+' || p[at].before == '-')) {
        int sign = p[at].before == '-' ? -1 : 1;
        int minutes = p[at].digits == 4 ? p[at].number / 100 * 60 + p[at].number % 100 : p[at].number * 60;
        if (p[at].digits == 2 && at + 1 < count && p[at].behind == ':')
            minutes += p[++at].number;
        out->zone = true;
        out->minutes = sign * minutes;
        at++;
    } else if (at < count && p[at].number < 0) { /* "Uhr", "h" */
        at++;
    }
    out->clock = true;
    out->ms = (hour * 3600 + p[1].number * 60 + second) * 1000;
    return at >= count;
}

bool cw_typed_day_read(const char *s, size_t n, cw_order order, cw_typed_day *out)
{
    piece p[MOST];
    size_t used = 0, colon = 0;
    *out = (cw_typed_day){ 0 };
    if (n > 64 || n < 6)
        return false;
    while (colon < n && s[colon] != ':')
        colon++;
    size_t date = n; /* the time begins at the digits before the first colon */
    if (colon < n) {
        date = colon;
        while (date > 0 && s[date - 1] >= '0' && s[date - 1] <= '9')
            date--;
        if (date == 0 || date == colon || !read_clock(s + date, n - date, out))
            return false;
        if (s[date - 1] == 'T' || s[date - 1] == 't')
            date--;
    }
    size_t count = pieces_of(s, date, p);
    if (count > MOST || !read_date(p, count, order, out, &used))
        return false;
    cw_day plain = 0;
    out->plain = cw_day_parse(s, n, &plain);
    return count == used || (count == used + 1 && p[used].number < 0 && out->clock); /* "um 14:30" */
}

bool cw_typed_week_read(const char *s, size_t n, int year, cw_week *out)
{
    piece p[MOST];
    char iso[16];
    size_t count = n <= 24 ? pieces_of(s, n, p) : 0;
    int week = -1, of = year;
    char words[CW_FOLD_BYTES], key[CW_FOLD_BYTES + 2];
    static const char called[] = " w kw wk week weeknr woche kalenderwoche sem semaine s t ";
    if (cw_week_parse(s, n, out))
        return true;
    if (count == 0 || count > 3)
        return false;
    for (size_t i = 0; i < count; i++) {
        if (p[i].digits == 4)
            of = p[i].number;
        else if (p[i].digits >= 1 && p[i].digits <= 2 && week < 0)
            week = p[i].number;
        else if (p[i].number >= 0)
            return false;
    }
    size_t letters = 0; /* the letters alone: "KW 16" is a week, "16 trays" is none */
    size_t length = cw_fold(s, n, '\0', words);
    for (size_t i = 0; i < length; i++)
        if (words[i] < '0' || words[i] > '9')
            words[letters++] = words[i];
    words[letters] = '\0';
    snprintf(key, sizeof key, " %s ", words);
    if (letters > 0 && strstr(called, key) == NULL)
        return false;
    if (week < 1 || week > 53 || of < 1900 || of > 2199)
        return false;
    iso[0] = (char)('0' + of / 1000);
    iso[1] = (char)('0' + of / 100 % 10);
    iso[2] = (char)('0' + of / 10 % 10);
    iso[3] = (char)('0' + of % 10);
    iso[4] = '-';
    iso[5] = 'W';
    iso[6] = (char)('0' + week / 10);
    iso[7] = (char)('0' + week % 10);
    return cw_week_parse(iso, 8, out);
}

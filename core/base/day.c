/* SPDX-License-Identifier: MIT */
#include "base/day.h"

#include "base/text.h"
#include <stdio.h>

#include "base/banned.h"

/* Days from civil and back: counted in 400-year eras of 146,097 days that start on 1 March, so that the leap day
 * is the last day of its year. */
cw_day cw_day_from_ymd(int year, int month, int day)
{
    int y = month <= 2 ? year - 1 : year;
    int era = (y >= 0 ? y : y - 399) / 400;
    int yoe = y - era * 400;
    int doy = (153 * (month + (month > 2 ? -3 : 9)) + 2) / 5 + day - 1;
    int doe = yoe * 365 + yoe / 4 - yoe / 100 + doy;
    return era * 146097 + doe - 719468;
}

void cw_day_to_ymd(cw_day d, int *year, int *month, int *day)
{
    int z = d + 719468;
    int era = (z >= 0 ? z : z - 146096) / 146097;
    int doe = z - era * 146097;
    int yoe = (doe - doe / 1460 + doe / 36524 - doe / 146096) / 365;
    int doy = doe - (365 * yoe + yoe / 4 - yoe / 100);
    int mp = (5 * doy + 2) / 153;
    *day = doy - (153 * mp + 2) / 5 + 1;
    *month = mp < 10 ? mp + 3 : mp - 9;
    *year = yoe + era * 400 + (*month <= 2 ? 1 : 0);
}

static bool digits(const char *s, size_t n, int *out)
{
    int64_t v = 0;
    if (n == 0 || s[0] == '-' || !cw_parse_int(s, n, 0, 99999, &v))
        return false;
    *out = (int)v;
    return true;
}

bool cw_day_parse(const char *s, size_t n, cw_day *out)
{
    int y = 0, m = 0, d = 0, y2 = 0, m2 = 0, d2 = 0;
    if (n != 10 || s[4] != '-' || s[7] != '-' || !digits(s, 4, &y) || !digits(s + 5, 2, &m) ||
        !digits(s + 8, 2, &d))
        return false;
    if (y < 1900 || y > 2199 || m < 1 || m > 12 || d < 1 || d > 31)
        return false;
    cw_day day = cw_day_from_ymd(y, m, d);
    cw_day_to_ymd(day, &y2, &m2, &d2);
    if (y != y2 || m != m2 || d != d2)
        return false;
    *out = day;
    return true;
}

/* The last `n` digits of v: days are written by the million, and printf takes ten times as long. */
static void put_digits(char *out, int v, int n)
{
    for (unsigned left = v < 0 ? 0U - (unsigned)v : (unsigned)v; n-- > 0; left /= 10)
        out[n] = (char)('0' + left % 10);
}

void cw_day_format(cw_day day, char out[11])
{
    int y = 0, m = 0, d = 0;
    cw_day_to_ymd(day, &y, &m, &d);
    put_digits(out, y, 4);
    put_digits(out + 5, m, 2);
    put_digits(out + 8, d, 2);
    out[4] = out[7] = '-';
    out[10] = '\0';
}

/* Reads "Z" or "+hh:mm"; `*ms` is the offset to subtract. */
static bool offset_parse(const char *s, size_t n, int64_t *ms)
{
    int h = 0, m = 0;
    if (n == 1 && (s[0] == 'Z' || s[0] == 'z')) {
        *ms = 0;
        return true;
    }
    if (n != 6 || (s[0] != '+' && s[0] != '-') || s[3] != ':' || !digits(s + 1, 2, &h) ||
        !digits(s + 4, 2, &m))
        return false;
    if (h > 23 || m > 59)
        return false;
    *ms = (s[0] == '-' ? -1 : 1) * (int64_t)(h * 60 + m) * 60000;
    return true;
}

bool cw_instant_parse(const char *s, size_t n, cw_instant *out)
{
    cw_day day = 0;
    int h = 0, m = 0, sec = 0;
    int64_t ms = 0, offset = 0;
    if (n < 17 || !cw_day_parse(s, 10, &day) || (s[10] != 'T' && s[10] != 't' && s[10] != ' '))
        return false;
    if (!digits(s + 11, 2, &h) || s[13] != ':' || !digits(s + 14, 2, &m) || h > 23 || m > 59)
        return false;
    size_t i = 16;
    if (i < n && s[i] == ':') {
        if (n < 20 || !digits(s + 17, 2, &sec) || sec > 59)
            return false;
        i = 19;
        if (s[i] == '.') {
            int64_t scale = 100;
            size_t start = ++i;
            for (; i < n && s[i] >= '0' && s[i] <= '9'; i++, scale /= 10)
                ms += (s[i] - '0') * scale;
            if (i == start)
                return false;
        }
    }
    if (i >= n || !offset_parse(s + i, n - i, &offset))
        return false;
    *out = day * CW_DAY_MS + ((int64_t)h * 3600 + m * 60 + sec) * 1000 + ms - offset;
    return true;
}

cw_day cw_instant_day(cw_instant t)
{
    int64_t d = t / CW_DAY_MS;
    return (cw_day)(t % CW_DAY_MS < 0 ? d - 1 : d);
}

void cw_instant_format(cw_instant t, char out[25])
{
    cw_day d = cw_instant_day(t);
    int rest = (int)(t - d * CW_DAY_MS);
    char *end = out + 19;
    cw_day_format(d, out);
    out[10] = 'T';
    out[13] = out[16] = ':';
    put_digits(out + 11, rest / 3600000, 2);
    put_digits(out + 14, rest / 60000 % 60, 2);
    put_digits(out + 17, rest / 1000 % 60, 2);
    if (rest % 1000) {
        *end = '.';
        put_digits(end + 1, rest % 1000, 3);
        end += 4;
    }
    end[0] = 'Z';
    end[1] = '\0';
}

void cw_day_words(cw_day d, char out[24])
{
    static const char *const months[] = { "January",   "February", "March",    "April",
                                          "May",       "June",     "July",     "August",
                                          "September", "October",  "November", "December" };
    int year, month, day;
    cw_day_to_ymd(d, &year, &month, &day);
    snprintf(out, 24, "%d %s %d", day, months[month - 1], year);
}

/* Monday = 0. 1970-01-01 was a Thursday. */
static int weekday(cw_day d)
{
    int w = (d + 3) % 7;
    return w < 0 ? w + 7 : w;
}

cw_week cw_week_of(cw_day d)
{
    int y = 0, m = 0, dd = 0;
    cw_day thursday = d - weekday(d) + 3; /* a week belongs to the year of its Thursday */
    cw_day_to_ymd(thursday, &y, &m, &dd);
    return y * 100 + (thursday - cw_day_from_ymd(y, 1, 1)) / 7 + 1;
}

cw_day cw_week_monday(cw_week w)
{
    cw_day fourth = cw_day_from_ymd(w / 100, 1, 4); /* 4 January is always in week 1 */
    return fourth - weekday(fourth) + (w % 100 - 1) * 7;
}

bool cw_week_parse(const char *s, size_t n, cw_week *out)
{
    int y = 0, w = 0;
    if (n != 8 || s[4] != '-' || s[5] != 'W' || !digits(s, 4, &y) || !digits(s + 6, 2, &w))
        return false;
    if (y < 1900 || y > 2199 || w < 1 || w > 53 || cw_week_of(cw_week_monday(y * 100 + w)) != y * 100 + w)
        return false;
    *out = y * 100 + w;
    return true;
}

void cw_week_format(cw_week w, char out[9])
{
    char room[40];
    if (w < 0 || w > 999999) { /* none */
        snprintf(room, sizeof room, "%04d-W%02d", w / 100, w % 100);
        cw_copy(out, 9, room);
        return;
    }
    put_digits(out, w / 100, 4);
    out[4] = '-';
    out[5] = 'W';
    put_digits(out + 6, w % 100, 2);
    out[8] = '\0';
}

cw_week cw_week_add(cw_week w, int weeks)
{
    return cw_week_of(cw_week_monday(w) + 7 * weeks);
}

int cw_week_between(cw_week from, cw_week to)
{
    return (cw_week_monday(to) - cw_week_monday(from)) / 7;
}

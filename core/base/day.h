/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_DAY_H
#define CW_BASE_DAY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Days, instants and ISO weeks. No clock is read here: "now" is always handed in.
 * Calendar: proleptic Gregorian (ISO 8601-1:2019); days are counted from 1970-01-01 = 0. */

typedef int32_t cw_day;     /* days since 1970-01-01 */
typedef int64_t cw_instant; /* milliseconds since 1970-01-01T00:00:00Z */

#define CW_NO_DAY     INT32_MIN
#define CW_NO_INSTANT INT64_MIN
#define CW_DAY_MS     86400000LL

cw_day cw_day_from_ymd(int year, int month, int day);
void cw_day_to_ymd(cw_day d, int *year, int *month, int *day);

/* "2032-04-19"; the year 1900 to 2199, the day must exist. */
bool cw_day_parse(const char *s, size_t n, cw_day *out);
void cw_day_format(cw_day d, char out[11]);
/* "19 April 2032", for letters: no reader takes the day for the month */
void cw_day_words(cw_day d, char out[24]);

/* RFC 3339 instant, "2032-01-31T09:15:00Z" or with an offset "+01:00"; seconds and fractions may be absent. */
bool cw_instant_parse(const char *s, size_t n, cw_instant *out);
/* "2032-01-31T09:15:00Z", milliseconds only when not zero */
void cw_instant_format(cw_instant t, char out[25]);
cw_day cw_instant_day(cw_instant t); /* the UTC day */

/* ISO 8601 week "2032-W16", stored as year * 100 + week (203216). */
typedef int32_t cw_week;
bool cw_week_parse(const char *s, size_t n, cw_week *out);
void cw_week_format(cw_week w, char out[9]);
cw_week cw_week_of(cw_day d);
cw_day cw_week_monday(cw_week w);
cw_week cw_week_add(cw_week w, int weeks);
int cw_week_between(cw_week from, cw_week to); /* weeks from `from` to `to`, may be negative */

#endif

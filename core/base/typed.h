/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_TYPED_H
#define CW_BASE_TYPED_H

#include "base/day.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* What does a number or a day mean that people typed in their own way? Each reader says what it is sure of; what only the rest
 * of the column can decide (1.234, 03/04/2032) it leaves open, and is then told by `decimal` or `order`. */

typedef enum cw_mark {
    CW_MARK_OPEN,
    CW_MARK_POINT = '.',
    CW_MARK_COMMA = ','
} cw_mark; /* what parts the decimals */

#define CW_TYPED_UNIT 16

typedef struct cw_typed_number {
    char text[40]; /* "1234.5": a decimal point, no other mark */
    cw_mark shows; /* which mark this number proves; OPEN when it proves none */
    bool open;     /* one mark and three digits behind it: 1.234 */
    bool plain;    /* it was written so already */
    char unit
        [CW_TYPED_UNIT]; /* what stands before or behind it, folded: "eur", "pcs", "kg"; of signs "$", "%" themselves */
} cw_typed_number;

/* "9,95", "1'234.50", "$ 9.95", "12 pcs", "-3". False if it is no number, or has decimals by the other mark. Groups of thousands
 * must be of three digits. `decimal` OPEN: only what is sure is decided, and an open number is read as whole. */
bool cw_typed_number_read(const char *s, size_t n, cw_mark decimal, cw_typed_number *out);

typedef enum cw_order { CW_ORDER_OPEN, CW_ORDER_DMY, CW_ORDER_MDY } cw_order;

typedef struct cw_typed_day {
    cw_day day;
    cw_order shows; /* which order this date proves; OPEN when it proves none */
    bool open;      /* both orders give a day, and not the same: `day` is by `order`, or not set */
    bool plain;     /* it was an ISO day */
    bool clock;     /* a time of day followed: */
    int32_t ms;     /* of the day */
    bool zone;      /* and an offset from UTC, */
    int minutes;    /* of so many minutes */
} cw_typed_day;

/* "12/03/2031", "12.3.31", "3 Dec 2031", "Dec 3, 2031", "3. Dezember 2031", "2031-12-03", each with a time behind it or not. Years of
 * two digits: 69 to 99 are of the last century, as POSIX reads them (strptime %y). False if no order makes a day of it. */
bool cw_typed_day_read(const char *s, size_t n, cw_order order, cw_typed_day *out);

/* "2032-W16", "W16/2032", "KW 16", "week 16 2032", "semaine 16": the week alone is of `year`. */
bool cw_typed_week_read(const char *s, size_t n, int year, cw_week *out);

/* yes, y, ja, oui, true, wahr, waar, vrai, x, 1 and their contraries in English, German, Dutch and French, in any case. */
bool cw_typed_yes_read(const char *s, size_t n, bool *out);

#endif

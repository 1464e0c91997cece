/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_VALUE_H
#define CW_BASE_VALUE_H

#include "base/words.h"

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* What may one value be, how is it read, written and described? Columns of tables and of CSV files, members of JSON bodies,
 * parameters of addresses, options of the command line and settings all say it with the types below, and are read, refused and
 * described by the functions below, so that a day is the same day everywhere and is refused in the same words.
 *
 * USAGE:
 *     const cw_holds clumps = { .type = CW_INT_T, .high = CW_MAX_CLUMPS };
 *     cw_value v;
 *     char why[CW_WHY_BYTES];
 *     if (!cw_value_parse(&clumps, text, n, &v))
 *         return cw_error_at(err, CW_REFUSED, file, line, "clumps", "%s", cw_value_why(&clumps, text, n, why)); */
typedef enum cw_type {
    CW_TEXT_T, /* typed: at most `high` bytes (0: CW_MAX_NOTE), of control characters only line breaks and tabs */
    CW_INT_T,     /* `low` to `high`; both 0: any */
    CW_REAL_T,    /* likewise; shown with `decimals` digits */
    CW_MONEY_T,   /* cw_cents, typed never negative; in JSON a decimal string "12.50", typed also a number */
    CW_DAY_T,     /* "2032-04-19" */
    CW_INSTANT_T, /* RFC 3339, shown in UTC */
    CW_WEEK_T,    /* "2032-W16" */
    CW_BOOL_T,    /* as text yes/no (also 1/0, true/false), JSON true/false */
    /* The following are typed only; as cells of a table they are CW_TEXT_T. */
    CW_LINE_T,    /* `low` to `high` bytes without control characters */
    CW_CODE_T,    /* 1 to CW_MAX_CODE bytes, no control characters, no space at either end */
    CW_COUNTRY_T, /* a country's name or code; kept as its alpha-2 code of ISO 3166-1 */
    CW_MAIL_T,    /* empty, or an address for letters, at most `high` bytes */
    CW_DAYS_T,    /* at most `high` days, parted by spaces */
    CW_LONG_T,    /* JSON only: a text of any length, with any characters */
    CW_LIST_T,    /* JSON only: a list of `low` to `high` objects or texts */
} cw_type;

/* Of a number that a form may lack, and that is never negative. */
#define CW_NOT_SAID (-1)

/* The type of a table's cells that hold such values. */
#define CW_CELL_TYPE(type) ((type) >= CW_LINE_T ? CW_TEXT_T : (type))

typedef struct cw_holds {
    cw_type type;
    double low, high;
    int decimals;
    const char *words; /* of CW_TEXT_T: one of these, "open|packed|shipped" (base/words.h); NULL: any text */
} cw_holds;

typedef struct cw_value {
    int64_t i; /* also days, instants, weeks, cents, 0 or 1; of words the index, from 0 */
    double r;  /* of CW_REAL_T */
    /* texts: borrowed from what was read, not ended by NUL unless that was; of a country its code, for good */
    const char *t;
} cw_value;

/* False: it is no such value. The empty text is none but of CW_MAIL_T, CW_DAYS_T and texts. */
bool cw_value_parse(const cw_holds *h, const char *s, size_t n, cw_value *out);
bool cw_value_from_json(const cw_holds *h, const json_t *v, cw_value *out); /* not CW_LIST_T */

/* Why it is none, the value in the sentence: "must be a whole number from 0 to 5: six". Returns `out`. */
#define CW_WHY_BYTES 400
const char *cw_value_why(const cw_holds *h, const char *s, size_t n, char out[CW_WHY_BYTES]);
const char *cw_value_why_json(const cw_holds *h, const json_t *v, char out[CW_WHY_BYTES]);

/* What it may be, in words: "a whole number from 0 to 5", "clump or division". Returns `out`. */
const char *cw_value_describe(const cw_holds *h, char out[CW_WHY_BYTES]);

/* Writes one that is no text, as CSV has it; returns its length. */
#define CW_CELL_BYTES 400 /* the largest double with its decimals */
size_t cw_value_format(cw_type type, int decimals, const cw_value *v, char out[CW_CELL_BYTES]);

/* What may be typed, as JSON Schema (2020-12): new reference, NULL without memory. */
json_t *cw_value_schema(const cw_holds *h);

/* Is it one of "a|b|c"? *index from 0. */
bool cw_word_find(const char *words, const char *s, size_t n, int64_t *index);

/* The next word at *at, which moves behind it: NULL after the last. Not ended by NUL. */
const char *cw_word_next(const char **at, size_t *n);

#endif

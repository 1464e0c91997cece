/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_KINDS_H
#define CW_DESK_KINDS_H

#include "base/csv.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Which columns has a CSV file of each kind? For the rooms of the desk: one table, by which intake reads. core/desk/export has
 * columns of its own; a test loads each of its files again. */
typedef enum cw_is {
    CW_IS_CODE,    /* 1 to CW_MAX_CODE bytes, no control bytes, no space at either end */
    CW_IS_TEXT,    /* one line of at most `high` bytes; empty is null */
    CW_IS_WORD,    /* one of `words`; kept as the word */
    CW_IS_COUNTRY, /* a country's name or code; kept as its alpha-2 code of ISO 3166-1 */
    CW_IS_INT,     /* low to high */
    CW_IS_REAL,    /* low to high, kept as a whole number of 10^-decimals */
    CW_IS_DAY,     /* any day of the season's window */
    CW_IS_PAST,    /* a day of the window that is not after today */
    CW_IS_DATE,    /* any day that exists */
    CW_IS_INSTANT, /* an instant of the window */
    CW_IS_PAST_INSTANT,
    CW_IS_WEEK,
    CW_IS_MONEY,
    CW_IS_YES,
    CW_IS_VARIETY, /* a known variety; kept as its index in cw_codes */
    CW_IS_LOT,     /* a known lot, likewise */
    CW_IS_PLACE,   /* a known place, kept as its id */
} cw_is;

typedef enum cw_need {
    CW_NEEDED,    /* column required, never empty */
    CW_MAY_EMPTY, /* column required; empty is null */
    CW_MAY_LACK,  /* column optional; empty is null */
    CW_ZERO,      /* column optional; empty is 0 */
} cw_need;

typedef struct cw_kind_column {
    const char *name;
    cw_is is;
    cw_need need;
    int64_t low, high; /* of numbers (for CW_IS_REAL in whole units); of texts `high` bytes */
    int decimals;      /* of CW_IS_REAL */
    const char *words; /* of CW_IS_WORD, parted by spaces */
    bool repeats; /* mostly the same from row to row (an order's own columns): read once, then compared */
} cw_kind_column;

typedef enum cw_kind_id {
    CW_VARIETIES, /* in the order in which a load takes them */
    CW_PLACES,
    CW_ZONES,
    CW_DESTINATIONS,
    CW_HISTORY,
    CW_PAST_CHECKS,
    CW_PAST_SALES,
    CW_PAST_ORDERS,
    CW_LOTS,
    CW_WEIGHINGS,
    CW_AIR,
    CW_DIVISIONS,
    CW_CHECKS,
    CW_COUNTS,
    CW_ORDERS,
    CW_KINDS
} cw_kind_id;

typedef struct cw_kind {
    const char *name;
    const char *one; /* what a row is called in messages */
    const cw_kind_column *columns;
    size_t width;
    size_t key; /* the first `key` columns are the natural key; 0 when there is none (known by digest) */
    bool stock, trade; /* which revision it raises */
} cw_kind;

#define CW_MAX_KIND_COLUMNS 24

extern const cw_kind cw_kinds[CW_KINDS];

/* The kind named so, or -1. */
int cw_kind_named(const char *name);

/* The kind that a file's name tells: it begins with the kind and no letter follows ("orders.csv",
 * "orders-march.csv"). -1 if it tells none. */
int cw_kind_of_file(const char *path);

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_KINDS_H
#define CW_DESK_KINDS_H

#include "base/day.h"
#include "base/shape.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Which kinds of CSV file are there, and what do their columns hold? kinds.def declares them; intake reads by them and export
 * writes by them, so that what was written can be read again. */

/* What more a value must be than what it holds. */
typedef enum cw_must {
    CW_NOTHING_MORE,
    CW_IN_SEASON, /* a day, instant or week of the season's window */
    CW_PAST,      /* the same, and not after today */
    CW_KNOWN_VARIETY,
    CW_KNOWN_LOT,
    CW_KNOWN_PLACE,
} cw_must;

typedef enum cw_need {
    CW_NEEDED,    /* column required, never empty */
    CW_MAY_EMPTY, /* column required; empty is null */
    CW_MAY_LACK,  /* column optional; empty is null */
    CW_ZERO,      /* column optional; empty is 0, or the empty text */
} cw_need;

typedef struct cw_kind_column {
    const char *name;
    cw_holds holds;
    cw_need need;
    cw_must must;
    bool key;      /* part of the natural key */
    bool repeats;  /* mostly the same from row to row (an order's own columns): read once, then compared */
    bool not_kept; /* read only: not in the database, not written out */
} cw_kind_column;

typedef enum cw_kind_id {
#define KIND(id, name, one, about, raises) id,
#define COLUMN(name, ...)
#define END(name)
#include "desk/nursery/kinds.def"
#undef KIND
#undef COLUMN
#undef END
    CW_KINDS
} cw_kind_id;

/* Which revision a row raises. */
#define CW_RAISES_STOCK 1u
#define CW_RAISES_TRADE 2u

typedef struct cw_kind {
    const char *name;
    const char *one;   /* what a row is called in messages */
    const char *about; /* what the file holds */
    const cw_kind_column *columns;
    const cw_column *cells; /* the same as those of a table, as far as they are kept */
    size_t width, kept;     /* columns; the first so many are kept */
    unsigned raises;
} cw_kind;

#define CW_MAX_KIND_COLUMNS 32

extern const cw_kind cw_kinds[CW_KINDS];

/* The varieties as the page lists them: the kind's columns, and version. */
extern const cw_shape cw_kind_varieties_shape;

/* Has it a natural key? Otherwise its rows are known by their file's digest. Key columns need not be the first. */
bool cw_kind_keyed(const cw_kind *k);

/* Is the column needed in the header? */
bool cw_column_needed(const cw_kind_column *c);

/* Is its value a text? Codes that must be known are indices, or ids. */
bool cw_column_text(const cw_kind_column *c);

/* The kind named so, or -1. */
int cw_kind_named(const char *name);

/* The kind that a file's name tells: it begins with the kind and no letter follows ("orders.csv",
 * "orders-march.csv"). -1 if it tells none. */
int cw_kind_of_file(const char *path);

/* What belongs to a season: everything from a year before its shipping day to half a year after it; of weeks a year to either
 * side. A file of the season before, or the one after, lies outside. */
#define CW_WINDOW_BEFORE 366
#define CW_WINDOW_AFTER  183
#define CW_WEEK_OUTSIDE  "lies more than a year from this season's shipping day"
bool cw_kind_week_in_season(cw_day ship, cw_week week);

#endif

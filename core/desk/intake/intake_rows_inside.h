/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_INTAKE_ROWS_INSIDE_H
#define CW_DESK_INTAKE_ROWS_INSIDE_H

/* What is a row of each kind? A struct with a member for each column, made from kinds.def: cw_divisions_row has lot, divided_on, clumps ... Whoever
 * takes a row in, from a file, a form or a shop, fills one of these; what checks and enters it reads them by name. */
#include "desk/nursery/kinds.h"

/* One value. Varieties and lots are indices into cw_codes, places their ids. */
typedef struct cw_given {
    int64_t i;     /* of words their index */
    const char *t; /* texts and words; borrowed from the row, or from what was given */
    bool null;     /* empty, or the column is absent */
    bool absent;   /* the file has no such column: an update keeps what is on record */
} cw_given;

#define KIND(id, name, one, about, raises) typedef struct cw_##name##_row {
#define COLUMN(column, type, need, more)   cw_given column;
#define END(name)                                                                                            \
    }                                                                                                        \
    cw_##name##_row;
#include "desk/nursery/kinds.def"
#undef KIND
#undef COLUMN
#undef END

/* The same by column, for what goes over all of them. */
typedef union cw_values {
    cw_given v[CW_MAX_KIND_COLUMNS];
#define KIND(id, name, one, about, raises) cw_##name##_row name;
#define COLUMN(column, type, need, more)
#define END(name)
#include "desk/nursery/kinds.def"
#undef KIND
#undef COLUMN
#undef END
} cw_values;

/* Which column a member is. */
#define CW_AT(kind, column) ((int)(offsetof(cw_##kind##_row, column) / sizeof(cw_given)))

/* A row of a kind without a natural key as whole numbers: ids, days, 0 and 1 for the words. */
#define KIND(id, name, one, about, raises) typedef struct cw_##name##_fact {
#define COLUMN(column, type, need, more)   int64_t column;
#define END(name)                                                                                            \
    }                                                                                                        \
    cw_##name##_fact;
#include "desk/nursery/kinds.def"
#undef KIND
#undef COLUMN
#undef END

#define CW_FACT_COLUMNS 9

/* What a form or a shop says of one column: a text, or what is a number here too (days, money, yes and no). */
typedef struct cw_saying {
    const char *t; /* ended by NUL; NULL: it is the number */
    size_t n;
    int64_t i;
} cw_saying;

#endif

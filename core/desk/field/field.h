/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_FIELD_H
#define CW_DESK_FIELD_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

#include <jansson.h>

/* What stands in the field, what was seen of it on a walk, and what was dug?
 *
 * Whatever is entered is checked as the row of a CSV file would be (desk/intake), and all walks and lots of a planting must go
 * together (model/stand.h). A row is named; the variety only where the row holds several. A number not said is CW_NOT_SAID,
 * a text NULL, a day CW_NO_DAY (today).
 *
 * The answer to an entry is a row: planting,row,variety,lot,cause,cause_id,standing ; cause round, dug or planting and its number
 * are what undo is asked with (a planting is not undone), standing is what is left in the row. */

typedef struct cw_field_entry {
    const char *row, *variety;
    cw_day day;
    int64_t alive, rogued; /* walk */
    const char *reason;
    int64_t clumps, culled; /* dug */
    /* dug: the tag's code, NULL: the program names it; planting: the lot it came from */
    const char *lot, *place;
    const char *done;           /* dug: "yes", nothing of the row is left to dig */
    int64_t plants, spacing_cm; /* planting */
} cw_field_entry;

#define CW_FIELD_ENTRY                                                                                       \
    {                                                                                                        \
        .day = CW_NO_DAY, .alive = CW_NOT_SAID, .rogued = CW_NOT_SAID, .clumps = CW_NOT_SAID,                \
        .culled = CW_NOT_SAID, .plants = CW_NOT_SAID, .spacing_cm = CW_NOT_SAID                              \
    }

cw_code cw_field_walk(cw_nursery *n, const cw_asker *who, const cw_field_entry *e, cw_table *out,
                      cw_error *err) CW_MUST_CHECK;
/* Clumps lifted of a row become a lot. */
cw_code cw_field_dig(cw_nursery *n, const cw_asker *who, const cw_field_entry *e, cw_table *out,
                     cw_error *err) CW_MUST_CHECK;
/* Set out in a row, for this season's digging. */
cw_code cw_field_plant(cw_nursery *n, const cw_asker *who, const cw_field_entry *e, cw_table *out,
                       cw_error *err) CW_MUST_CHECK;
/* Says the row of a planting that had none on record. */
cw_code cw_field_name_row(cw_nursery *n, const cw_asker *who, int64_t planting, const char *row,
                          cw_table *out, cw_error *err) CW_MUST_CHECK;
/* Whoever works a row says so, or (yes false) leaves it, so that two phones do not go to the same. */
cw_code cw_field_take_row(cw_nursery *n, const cw_asker *who, const char *row, const char *variety, bool yes,
                          cw_table *out, cw_error *err) CW_MUST_CHECK;
/* Takes back a round or a lot that was dug; the lot only while nothing else has happened to it. */
cw_code cw_field_undo(cw_nursery *n, const cw_asker *who, const char *cause, int64_t id, const char *why,
                      cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_field_entered_shape;

/* planting,row,variety,name,plants,planted_on,lot,spacing_cm,standing,dug,culled,rogued,dead,walked_on,walked_by,dug_on,taken_by,loose
 * of every planting, by row. loose: lots of the variety were dug of no planting, so that nobody can say what still stands. */
cw_code cw_field_rows(cw_nursery *n, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_field_rows_shape;

/* lot,row,variety,name,dug_on,clumps,culled,place,by of what was dug from a day on, newest first; cause_id for undo. */
cw_code cw_field_dug(cw_nursery *n, cw_day from, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_field_dug_shape;

#endif

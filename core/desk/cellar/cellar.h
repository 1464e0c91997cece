/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_CELLAR_H
#define CW_DESK_CELLAR_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

#include <jansson.h>

/* What was done in the cellar, entry by entry? What lies where, and how did it get there?
 *
 * * Everything that is entered is checked as the row of a CSV file would be (desk/intake) and goes into the ledger by the same
 * code. A wrong entry is taken back by counter-entries (undo); nothing is ever typed over. Errors name the column. A number
 * that was not said is CW_NOT_SAID, a text NULL.
 *
 * * The answer to an entry is a row: lot, cause, cause_id, clumps, divisions; the last two are what the lot holds now, and
 * cause with cause_id are what undo is asked with. */

typedef struct cw_cellar_entry {
    const char *lot;
    cw_day day; /* CW_NO_DAY: today */
    /* dividing: where the divisions are put; counts and entries: only there; moves: from */
    const char *place;
    const char *to;                       /* moves */
    const char *stage;                    /* checks and counts: clump or division */
    int64_t clumps, divisions;            /* dividing (clumps taken), moves, entries */
    int64_t saleable, blind;              /* dividing */
    int64_t minutes, people;              /* dividing: how long it took of how many; 0: not said */
    int64_t rotten;                       /* dividing (of the clumps), checks */
    int64_t inspected, shrivelled, count; /* checks; counts */
    const char *why;                      /* checks: round, suspicion; NULL: not said */
    const char *looked;                   /* counts: yes, they were looked through; no; NULL: not said */
    const char *reason, *note; /* entries: found, missing, rotten, shrivelled, discarded, planted */
} cw_cellar_entry;

/* Every member as not said. */
#define CW_CELLAR_ENTRY                                                                                      \
    {                                                                                                        \
        .day = CW_NO_DAY, .clumps = CW_NOT_SAID, .divisions = CW_NOT_SAID, .saleable = CW_NOT_SAID,          \
        .blind = CW_NOT_SAID, .rotten = CW_NOT_SAID, .inspected = CW_NOT_SAID, .shrivelled = CW_NOT_SAID,    \
        .count = CW_NOT_SAID                                                                                 \
    }

cw_code cw_cellar_divide(cw_nursery *n, const cw_asker *who, const cw_cellar_entry *e, cw_table *out,
                         cw_error *err) CW_MUST_CHECK;
cw_code cw_cellar_check(cw_nursery *n, const cw_asker *who, const cw_cellar_entry *e, cw_table *out,
                        cw_error *err) CW_MUST_CHECK;
cw_code cw_cellar_count(cw_nursery *n, const cw_asker *who, const cw_cellar_entry *e, cw_table *out,
                        cw_error *err) CW_MUST_CHECK;
cw_code cw_cellar_move(cw_nursery *n, const cw_asker *who, const cw_cellar_entry *e, cw_table *out,
                       cw_error *err) CW_MUST_CHECK;
cw_code cw_cellar_enter(cw_nursery *n, const cw_asker *who, const cw_cellar_entry *e, cw_table *out,
                        cw_error *err) CW_MUST_CHECK;

/* Takes back what was entered: cause dividing, check, stock_take, move or entry, and its number. */
cw_code cw_cellar_undo(cw_nursery *n, const cw_asker *who, const char *cause, int64_t cause_id,
                       const char *why, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_cellar_entered_shape; /* of every entry and of its undoing */

/* lot,variety,name,row,dug_on,dug,culled,clumps,divisions,places,last_checked,held ; variety NULL: all. */
cw_code cw_cellar_lots(cw_nursery *n, const char *variety, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_cellar_lots_shape;

/* A lot's sheet: {lot: {...}, balances: [...], movements: [...], sessions: [...], checks: [...], counts: [...]}.
 * New reference. CW_NOT_FOUND if there is no such lot. */
cw_code cw_cellar_lot(cw_nursery *n, const char *lot, json_t **out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_cellar_lot_shape;

/* place,room,walk_order,lots,clumps,divisions ; in walking order. */
cw_code cw_cellar_places(cw_nursery *n, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_cellar_places_shape;

/* id,at,day,actor,lot,variety,place,clumps,divisions,reason,cause,cause_id,reverses,note of the days from..to. */
cw_code cw_cellar_movements(cw_nursery *n, cw_day from, cw_day to, cw_table *out,
                            cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_cellar_movements_shape;

/* {rooms: [..], points: [{at,temp_c,rh,vpd_pa}], weighings: [{sample,lot,day,kg}]} of a room, NULL: the first one. */
cw_code cw_cellar_air(cw_nursery *n, const char *room, json_t **out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_cellar_air_shape;

#endif

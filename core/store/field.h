/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_FIELD_H
#define CW_STORE_FIELD_H

#include "base/day.h"
#include "base/limits.h"
#include "store/db.h"

#include <stdbool.h>
#include <stdint.h>

/* What was set out, seen and dug in the field this season? Writes happen inside the caller's transaction. */
typedef struct cw_planting_row {
    int64_t id, variety_id, plants;
    cw_day planted_on;
    char variety[CW_MAX_CODE + 1], row[CW_MAX_CODE + 1]; /* row "": nobody has said it yet */
} cw_planting_row;

cw_code cw_field_planting(cw_db *db, int64_t id, bool *found, cw_planting_row *out,
                          cw_error *err) CW_MUST_CHECK;
/* The plantings of a row, by variety: one call each. */
cw_code cw_field_in_row(cw_db *db, const char *row, void (*take)(void *context, const cw_planting_row *p),
                        void *context, cw_error *err) CW_MUST_CHECK;

/* What happened to a planting, in no order: walks, then digging. */
typedef void (*cw_field_taker)(void *context, bool dug, int64_t id, cw_day day, int64_t a, int64_t b);
cw_code cw_field_events(cw_db *db, int64_t planting, cw_field_taker take, void *context,
                        cw_error *err) CW_MUST_CHECK;

typedef struct cw_round_row {
    int64_t planting;
    cw_day day;
    int64_t alive, rogued;
    const char *reason; /* NULL: none */
    cw_instant at;
    const char *actor;
} cw_round_row;
cw_code cw_field_add_round(cw_db *db, const cw_round_row *r, int64_t *id, cw_error *err) CW_MUST_CHECK;
/* *found false: there is none, or it was undone before. */
cw_code cw_field_undo_round(cw_db *db, int64_t id, bool *found, cw_error *err) CW_MUST_CHECK;
/* The planting of a round, or of a lot: 0 if there is none. */
cw_code cw_field_of_round(cw_db *db, int64_t round, int64_t *planting, cw_error *err) CW_MUST_CHECK;
cw_code cw_field_of_lot(cw_db *db, int64_t lot, int64_t *planting, cw_error *err) CW_MUST_CHECK;

/* A lot was dug of a planting; lots that name a planting's row and variety were. */
cw_code cw_field_link_lot(cw_db *db, int64_t lot, int64_t planting, cw_error *err) CW_MUST_CHECK;
cw_code cw_field_link_lots(cw_db *db, int64_t planting, cw_error *err) CW_MUST_CHECK;
/* Has nothing happened to a lot since it was dug? */
cw_code cw_field_untouched(cw_db *db, int64_t lot, bool *out, cw_error *err) CW_MUST_CHECK;
/* Do walks or lots hang on what stands in a row of a variety? */
cw_code cw_field_planting_used(cw_db *db, const char *row, int64_t variety, bool *out,
                               cw_error *err) CW_MUST_CHECK;
cw_code cw_field_undig(cw_db *db, int64_t lot, cw_error *err) CW_MUST_CHECK;
cw_code cw_field_lot_there(cw_db *db, const char *code, bool *out, cw_error *err) CW_MUST_CHECK;

/* by NULL: nobody any more. */
cw_code cw_field_take(cw_db *db, int64_t planting, const char *by, cw_error *err) CW_MUST_CHECK;
/* A planting gets its row. */
cw_code cw_field_move_in(cw_db *db, int64_t planting, const char *row, cw_error *err) CW_MUST_CHECK;
/* Divisions of a lot, planted out for the next season by that entry of the ledger. row NULL: not said. */
cw_code cw_field_plant_out(cw_db *db, int64_t lot, const char *row, int64_t plants, cw_day day, int64_t entry,
                           cw_error *err) CW_MUST_CHECK;

/* *out: that row already gets another lot of the same variety. */
cw_code cw_field_goes_to_row(cw_db *db, const char *row, int64_t lot, bool *out, cw_error *err) CW_MUST_CHECK;
/* The entry was taken back. */
cw_code cw_field_unplant(cw_db *db, int64_t entry, cw_error *err) CW_MUST_CHECK;

/* Every planting with what is said of it, and then every event of all (field.sql, list and events). */
typedef struct cw_field_listed {
    int64_t id, plants, spacing_cm; /* spacing -1: not known */
    const char *row, *variety, *name, *lot, *taken_by, *walked_by;
    cw_day planted_on;
    bool loose; /* lots of its variety were dug of no planting */
} cw_field_listed;
cw_code cw_field_list(cw_db *db, void (*take)(void *context, const cw_field_listed *p), void *context,
                      cw_error *err) CW_MUST_CHECK;
cw_code cw_field_all_events(cw_db *db,
                            void (*take)(void *context, int64_t planting, bool dug, int64_t id, cw_day day,
                                         int64_t a, int64_t b),
                            void *context, cw_error *err) CW_MUST_CHECK;

#endif

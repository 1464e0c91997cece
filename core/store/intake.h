/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_INTAKE_H
#define CW_STORE_INTAKE_H

#include "base/day.h"
#include "base/limits.h"
#include "store/db.h"

/* What do codes, files and orders that are taken in stand for on record, and what do they add to it? Rows of the kinds themselves:
 * store/record.h. Functions that find say so in *found; texts are copied. */

typedef struct cw_variety_found {
    int64_t id;
    bool retired, released, stands; /* stands: has a row of the offer */
    int64_t offered, sold, beyond;
    char code[CW_MAX_CODE + 1]; /* today's; it may be asked by a former one */
} cw_variety_found;
cw_code cw_intake_find_variety(cw_db *db, const char *code, bool *found, cw_variety_found *out,
                               cw_error *err) CW_MUST_CHECK;

/* The code of the variety into which the one of `code` was merged; "" if it was not. */
cw_code cw_intake_merged_into(cw_db *db, const char *code, char into[CW_MAX_CODE + 1],
                              cw_error *err) CW_MUST_CHECK;

/* Another variety, not retired, with the same name (small and capital letters are alike); *found false: none. */
typedef struct cw_namesake {
    int64_t id;
    char code[CW_MAX_CODE + 1];
    char name[CW_MAX_NAME + 1];
} cw_namesake;
cw_code cw_intake_namesake(cw_db *db, const char *name, const char *code, bool *found, cw_namesake *out,
                           cw_error *err) CW_MUST_CHECK;

typedef struct cw_lot_found {
    int64_t id;
    cw_day dug_on;
    int64_t place; /* id of its own place */
} cw_lot_found;
cw_code cw_intake_find_lot(cw_db *db, const char *code, bool *found, cw_lot_found *out,
                           cw_error *err) CW_MUST_CHECK;

cw_code cw_intake_find_place(cw_db *db, const char *code, bool *found, int64_t *id,
                             cw_error *err) CW_MUST_CHECK;

/* Stock has lain there, or a list names it. */
cw_code cw_intake_place_used(cw_db *db, const char *code, bool *used, cw_error *err) CW_MUST_CHECK;

/* The file from which facts came. */
typedef struct cw_source_row {
    const char *kind, *name, *digest;
    int64_t rows;
    const char *actor;
    cw_instant at;
} cw_source_row;
cw_code cw_source_add(cw_db *db, const cw_source_row *row, int64_t *id, cw_error *err) CW_MUST_CHECK;

typedef struct cw_source_found {
    int64_t id;
    char name[100];
    cw_instant at;
} cw_source_found;
cw_code cw_source_find(cw_db *db, const char *kind, const char *digest, bool *found, cw_source_found *out,
                       cw_error *err) CW_MUST_CHECK;
cw_code cw_source_stands(cw_db *db, int64_t id, bool *stands, cw_error *err) CW_MUST_CHECK; /* some of it */

cw_code cw_past_add_divided(cw_db *db, int64_t season, int64_t variety, int64_t clumps, int64_t divisions,
                            int64_t source, cw_error *err) CW_MUST_CHECK;

typedef struct cw_past_check_row {
    int64_t season, variety;
    const char *stage;
    double weeks;
    int64_t inspected, rotten;
    const int64_t *shrivelled; /* NULL: nobody looked */
    int64_t source;
} cw_past_check_row;
cw_code cw_past_add_check(cw_db *db, const cw_past_check_row *row, cw_error *err) CW_MUST_CHECK;

/* Orders. The head is read and written by store/record.h. */
cw_code cw_intake_order_latest(cw_db *db, cw_instant before, cw_instant *at, cw_error *err) CW_MUST_CHECK;
/* News of an order on record: 1 paid, 0 not. */
cw_code cw_intake_order_paid(cw_db *db, int64_t order, int64_t paid, cw_error *err) CW_MUST_CHECK;
cw_code cw_intake_order_touched(cw_db *db, int64_t order, cw_error *err) CW_MUST_CHECK;

typedef struct cw_line_found {
    int64_t id, quantity, price, all_or_none, first_asked;
    int64_t promised, instead; /* instead: of the promised, not its own */
    char variety[CW_MAX_CODE + 1], consent[8];
    char assortment[CW_MAX_NAME + 1], named[(CW_MAX_CODE + 1) * CW_MAX_NAMED + 1];
} cw_line_found;
cw_code cw_intake_find_line(cw_db *db, int64_t order, int64_t line, bool *found, cw_line_found *out,
                            cw_error *err) CW_MUST_CHECK;

typedef struct cw_line_row {
    const int64_t *variety; /* NULL: an assortment */
    const char *assortment; /* NULL: a variety */
    int64_t quantity, price;
    const char *consent, *named; /* named NULL: none */
    int64_t all_or_none;
} cw_line_row;
cw_code cw_intake_line_add(cw_db *db, int64_t order, int64_t line, const cw_line_row *row, int64_t *id,
                           cw_error *err) CW_MUST_CHECK;
/* So many at once, in less time. When one fails, those before it may stand: the caller takes all back. */
#define CW_LINES_AT_ONCE 16
typedef struct cw_line_new {
    int64_t order, line;
    cw_line_row row;
} cw_line_new;
cw_code cw_intake_lines_add(cw_db *db, const cw_line_new lines[CW_LINES_AT_ONCE],
                            cw_error *err) CW_MUST_CHECK;
cw_code cw_intake_line_change(cw_db *db, int64_t id, const cw_line_row *row, cw_error *err) CW_MUST_CHECK;
/* It asks for something else: nothing was shared out to it, and undoing a run brings nothing back. */
cw_code cw_intake_line_unshare(cw_db *db, int64_t id, cw_error *err) CW_MUST_CHECK;

/* The column held that text at first, before the office put it right (line 0: the order as a whole). */
cw_code cw_intake_was_first(cw_db *db, int64_t order, int64_t line, const char *column, const char *text,
                            bool *was, cw_error *err) CW_MUST_CHECK;

/* What was sold since, within the offer and beyond it; `stands`: has a row of the offer. */
cw_code cw_intake_sold_by(cw_db *db, int64_t variety, bool stands, int64_t sold, int64_t beyond,
                          cw_error *err) CW_MUST_CHECK;
cw_code cw_intake_oversell_add(cw_db *db, int64_t variety, cw_instant at, const char *actor, int64_t quantity,
                               const char *why, cw_error *err) CW_MUST_CHECK;

/* A room with readings in which no place lies. */
cw_code cw_intake_lonely_room(cw_db *db, bool *found, char room[CW_MAX_NAME + 1],
                              cw_error *err) CW_MUST_CHECK;

#endif

/* SPDX-License-Identifier: MIT */
#include "store/joining.h"

#include "base/grow.h"
#include "base/text.h"
#include "columns/joining.h"
#include "store/statement_inside.h"
#include <stdlib.h>

#include "base/banned.h"

static void text(char *out, size_t size, cw_stmt *q, cw_sql_column column)
{
    const char *s = cw_col_text(q, column);
    cw_copy(out, size, s ? s : "");
}

static void take_beside(cw_stmt *q, cw_beside *b)
{
    *b = (cw_beside){ .id = cw_col_int(q, joining_beside_id),
                      .week = cw_col_int(q, joining_beside_ship_week),
                      .lines = cw_col_int(q, joining_beside_lines),
                      .asked = cw_col_int(q, joining_beside_asked),
                      .paid = (int)cw_col_int_or(q, joining_beside_paid, -1),
                      .replaces = cw_col_int(q, joining_beside_replaces) != 0,
                      .same_place = cw_col_int(q, joining_beside_same_place) != 0,
                      .together = cw_col_int(q, joining_beside_together) != 0,
                      .pulled = cw_col_int(q, joining_beside_pulled) != 0,
                      .merged = cw_col_int(q, joining_beside_merged) != 0 };
    text(b->number, sizeof b->number, q, joining_beside_number);
    text(b->customer, sizeof b->customer, q, joining_beside_customer);
    text(b->tier, sizeof b->tier, q, joining_beside_tier);
}

cw_code cw_beside_read(cw_db *db, int64_t order, cw_beside **rows, size_t *count, cw_error *err)
{
    size_t room = 0;
    cw_stmt *q = cw_db_stmt(db, "joining.beside");
    *rows = NULL;
    *count = 0;
    cw_code code = cw_stmt_start(q, err, "i", order);
    while (code == CW_OK && cw_stmt_next(q)) {
        if (!cw_grow(rows, *count, &room, sizeof **rows)) {
            code = cw_error_memory(err);
            break;
        }
        take_beside(q, &(*rows)[(*count)++]);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

/* The one number of a one-row statement. */
static cw_code one(cw_db *db, const char *statement, int64_t id, int64_t *out, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, statement);
    cw_code code = cw_stmt_one(q, &found, err, "i", id);
    *out = code == CW_OK && found ? cw_col_int(q, cw_col_nth(q, 0)) : 0;
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_merged_here(cw_db *db, int64_t order, int64_t *out, cw_error *err)
{
    return one(db, "joining.merged_here", order, out, err);
}

cw_code cw_join_last_line(cw_db *db, int64_t order, int64_t *out, cw_error *err)
{
    return one(db, "joining.last_line", order, out, err);
}

cw_code cw_join_lines(cw_db *db, int64_t from, int64_t into, int64_t after, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "joining.move_lines"), err, "iii", from, into, after);
    if (code == CW_OK)
        code = cw_stmt_run(cw_db_stmt(db, "joining.move_notices"), err, "i", from);
    return code == CW_OK ? cw_stmt_run(cw_db_stmt(db, "joining.mark_merged"), err, "iI", from, &into) : code;
}

cw_code cw_join_pulled(cw_db *db, int64_t from, bool *out, cw_error *err)
{
    int64_t pulled = 0;
    cw_code code = one(db, "joining.moved_pulled", from, &pulled, err);
    *out = pulled != 0;
    return code;
}

cw_code cw_join_return(cw_db *db, int64_t from, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "joining.return_notices"), err, "i", from);
    if (code == CW_OK)
        code = cw_stmt_run(cw_db_stmt(db, "joining.return_lines"), err, "i", from);
    return code == CW_OK
               ? cw_stmt_run(cw_db_stmt(db, "joining.mark_merged"), err, "iI", from, (int64_t *)NULL)
               : code;
}

cw_code cw_together_leader(cw_db *db, int64_t order, int64_t *out, cw_error *err)
{
    return one(db, "joining.leader", order, out, err);
}

cw_code cw_together_join(cw_db *db, int64_t order, int64_t leader, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "joining.go_with"), err, "ii", order, leader);
}

cw_code cw_together_leave(cw_db *db, int64_t order, cw_error *err)
{
    int64_t next = 0;
    cw_code code = one(db, "joining.next_leader", order, &next, err);
    return code == CW_OK ? cw_stmt_run(cw_db_stmt(db, "joining.go_alone"), err, "ii", order, next) : code;
}

cw_code cw_together_parcels(cw_db *db, int64_t leader, cw_together_parcel **rows, size_t *count,
                            cw_error *err)
{
    size_t room = 0;
    cw_stmt *q = cw_db_stmt(db, "joining.parcels");
    *rows = NULL;
    *count = 0;
    cw_code code = cw_stmt_start(q, err, "i", leader);
    while (code == CW_OK && cw_stmt_next(q)) {
        if (!cw_grow(rows, *count, &room, sizeof **rows)) {
            code = cw_error_memory(err);
            break;
        }
        cw_together_parcel *p = &(*rows)[(*count)++];
        *p = (cw_together_parcel){ .id = cw_col_int(q, joining_parcels_id),
                                   .wave = cw_col_int(q, joining_parcels_wave),
                                   .slot = cw_col_int(q, joining_parcels_slot),
                                   .lies = cw_col_int(q, joining_parcels_lies) };
        text(p->state, sizeof p->state, q, joining_parcels_state);
        text(p->order, sizeof p->order, q, joining_parcels_number);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_together_lie(cw_db *db, int64_t parcel, int64_t slot, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "joining.lie_in"), err, "ii", parcel, slot);
}

cw_code cw_together_slots(cw_db *db, int64_t wave, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "joining.share_slots"), err, "i", wave);
}

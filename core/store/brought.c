/* SPDX-License-Identifier: MIT */
#include "store/brought.h"

#include "base/grow.h"
#include "base/text.h"
#include "columns/brought.h"
#include "store/rows.h"
#include "store/statement_inside.h"
#include <stdlib.h>

#include "base/banned.h"

static const cw_column list_columns[] = {
    { "brought", CW_INT_T },
    { "kind", CW_TEXT_T, .words = "holds|tracking" },
    { "name", CW_TEXT_T },
    { "at", CW_INSTANT_T },
    { "actor", CW_TEXT_T },
    { "stands", CW_INT_T,
      .says = "Parcels that it sent or put a number on, or holds of it that still stand." },
    { "undone_at", CW_INSTANT_T, .null = true },
    { "undone_by", CW_TEXT_T, .null = true },
    { "why", CW_TEXT_T, .null = true, .says = "Why it was taken back." },
};
const cw_shape cw_brought_list_shape = CW_ROWS(list_columns);

static void copy(char *out, size_t size, const char *text)
{
    cw_copy(out, size, text ? text : "");
}

static cw_code ended(cw_stmt *q, cw_code code, cw_error *err)
{
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_brought_list(cw_db *db, cw_table *out, cw_error *err)
{
    cw_table_init(out, list_columns, CW_WIDTH(list_columns));
    cw_code code = cw_rows_fill(db, "brought.list", out, err, "");
    return code == CW_OK ? cw_table_check(out, err) : code;
}

cw_code cw_brought_add(cw_db *db, const char *kind, const char *name, cw_instant at, const char *actor,
                       int64_t *id, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "brought.add"), err, "ttit", kind, name, at, actor);
    *id = cw_db_last_id(db);
    return code;
}

static const char *or_null(const char *text)
{
    return text[0] ? text : NULL;
}

cw_code cw_brought_add_parcel(cw_db *db, int64_t brought, const cw_brought_parcel *p, cw_error *err)
{
    int64_t on = p->on;
    return cw_stmt_run(cw_db_stmt(db, "brought.add_parcel"), err, "iiitttIt", brought, p->parcel,
                       (int64_t)p->sent, or_null(p->carrier), or_null(p->tracking), or_null(p->more),
                       p->on == CW_NO_DAY ? NULL : &on, p->said);
}

cw_code cw_brought_one(cw_db *db, int64_t id, cw_brought_row *out, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, "brought.one");
    cw_code code = cw_stmt_one(q, &found, err, "i", id);
    *out = (cw_brought_row){ .undone = false };
    if (code == CW_OK && found) {
        copy(out->kind, sizeof out->kind, cw_col_text(q, brought_one_kind));
        copy(out->name, sizeof out->name, cw_col_text(q, brought_one_name));
        out->undone = cw_col_int(q, brought_one_undone) != 0;
    }
    code = ended(q, code, err);
    return code == CW_OK && !found
               ? cw_error_set(err, CW_NOT_FOUND,
                              "no file of holds or of tracking numbers has the number %lld", (long long)id)
               : code;
}

static void fill_parcel(cw_stmt *q, cw_brought_parcel *p)
{
    p->parcel = cw_col_int(q, brought_parcels_parcel_id);
    p->sent = cw_col_int(q, brought_parcels_sent) != 0;
    copy(p->carrier, sizeof p->carrier, cw_col_text(q, brought_parcels_carrier));
    copy(p->tracking, sizeof p->tracking, cw_col_text(q, brought_parcels_tracking));
    copy(p->more, sizeof p->more, cw_col_text(q, brought_parcels_more));
    p->on = cw_col_null(q, brought_parcels_shipped_on) ? CW_NO_DAY
                                                       : (cw_day)cw_col_int(q, brought_parcels_shipped_on);
    copy(p->said, sizeof p->said, cw_col_text(q, brought_parcels_said));
}

cw_code cw_brought_parcels(cw_db *db, int64_t id, cw_brought_parcel **out, size_t *count, cw_error *err)
{
    bool room = true;
    cw_stmt *q = cw_db_stmt(db, "brought.parcels");
    cw_code code = cw_stmt_start(q, err, "i", id);
    *out = NULL;
    *count = 0;
    while (code == CW_OK && room && cw_stmt_next(q)) {
        cw_brought_parcel *p = cw_grow_item(out, count, sizeof *p);
        room = p != NULL;
        if (p)
            fill_parcel(q, p);
    }
    code = ended(q, code, err);
    return code == CW_OK && !room ? cw_error_memory(err) : code;
}

cw_code cw_brought_holds(cw_db *db, int64_t id, int64_t **out, size_t *count, cw_error *err)
{
    bool room = true;
    cw_stmt *q = cw_db_stmt(db, "brought.holds");
    cw_code code = cw_stmt_start(q, err, "i", id);
    *out = NULL;
    *count = 0;
    while (code == CW_OK && room && cw_stmt_next(q)) {
        int64_t *hold = cw_grow_item(out, count, sizeof *hold);
        room = hold != NULL;
        if (hold)
            *hold = cw_col_int(q, brought_holds_id);
    }
    code = ended(q, code, err);
    return code == CW_OK && !room ? cw_error_memory(err) : code;
}

cw_code cw_brought_undo(cw_db *db, int64_t id, cw_instant at, const char *actor, const char *why,
                        cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "brought.undo"), err, "iitt", id, at, actor, why);
}

static cw_code order_known(cw_db *db, const char *order, bool *known, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "brought.order_known");
    return ended(q, cw_stmt_one(q, known, err, "t", order), err);
}

cw_code cw_brought_parcels_of(cw_db *db, const char *order, const char *number,
                              cw_brought_may out[CW_BROUGHT_MAY], size_t *count, bool *known, cw_error *err)
{
    *count = 0;
    *known = false;
    cw_code code = order_known(db, order, known, err);
    if (code != CW_OK || !*known)
        return code;
    cw_stmt *q = cw_db_stmt(db, "brought.parcels_of");
    code = cw_stmt_start(q, err, "tt", order, number);
    while (code == CW_OK && *count < CW_BROUGHT_MAY && cw_stmt_next(q)) {
        cw_brought_may *m = &out[(*count)++];
        m->parcel = cw_col_int(q, brought_parcels_of_id);
        copy(m->state, sizeof m->state, cw_col_text(q, brought_parcels_of_state));
        m->numbered = cw_col_int(q, brought_parcels_of_numbered) != 0;
        m->has = cw_col_int(q, brought_parcels_of_has) != 0;
    }
    return ended(q, code, err);
}

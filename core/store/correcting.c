/* SPDX-License-Identifier: MIT */
#include "store/correcting.h"

#include "columns/correcting.h"
#include "store/statement_inside.h"

#include "base/banned.h"

static const char *or_null(const char *text)
{
    return text[0] ? text : NULL;
}

cw_code cw_order_correct(cw_db *db, const cw_order_head *o, cw_error *err)
{
    int64_t wish = o->wish_week, paid = o->paid;
    return cw_stmt_run(cw_db_stmt(db, "correcting.order"), err, "itttttttttttII", o->id, or_null(o->customer),
                       or_null(o->name2), or_null(o->email), or_null(o->phone), or_null(o->street),
                       or_null(o->town), or_null(o->postcode), or_null(o->country), or_null(o->region),
                       or_null(o->language), or_null(o->zone), wish ? &wish : NULL,
                       o->paid < 0 ? NULL : &paid);
}

cw_code cw_order_set_consent(cw_db *db, int64_t line_id, const char *consent, const char *named,
                             cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "correcting.consent"), err, "itt", line_id, consent, or_null(named));
}

cw_code cw_order_first(cw_db *db, int64_t order_id, int line, const char *field, const char *first,
                       cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "correcting.first"), err, "iitt", order_id, (int64_t)line, field,
                       first);
}

cw_code cw_order_uncovered(cw_db *db, int64_t line_id, void (*take)(void *context, const cw_uncovered *row),
                           void *context, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "correcting.uncovered");
    cw_code code = cw_stmt_start(q, err, "i", line_id);
    while (code == CW_OK && cw_stmt_next(q)) {
        cw_uncovered row = { cw_col_int(q, correcting_uncovered_id),
                             cw_col_int(q, correcting_uncovered_quantity),
                             cw_col_text(q, correcting_uncovered_code) };
        take(context, &row);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

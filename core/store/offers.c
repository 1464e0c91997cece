/* SPDX-License-Identifier: MIT */
#include "store/offers.h"

#include "columns/offers.h"
#include "store/statement_inside.h"
#include <math.h>

#include "base/banned.h"

cw_code cw_offer_read(cw_db *db, int64_t variety_id, cw_offer *out, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "offers.of");
    bool found = false;
    *out = (cw_offer){ 0 };
    cw_code code = cw_stmt_one(q, &found, err, "i", variety_id);
    if (code == CW_OK && found)
        *out = (cw_offer){ cw_col_int(q, offers_of_released) != 0, cw_col_int(q, offers_of_offered),
                           cw_col_int(q, offers_of_sold), cw_col_int(q, offers_of_beyond) };
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_offer_release(cw_db *db, const cw_release *r, int64_t *before, cw_error *err)
{
    cw_offer now;
    cw_code code = cw_offer_read(db, r->variety_id, &now, err);
    if (code != CW_OK)
        return code;
    int64_t needed = now.sold > r->offered ? now.sold - r->offered : 0;
    *before = now.offered;
    if (needed != now.beyond)
        code = cw_stmt_run(cw_db_stmt(db, "offers.leave"), err, "iitit", r->variety_id, r->at, r->actor,
                           needed - now.beyond, "what was sold already stands; the release sets the rest");
    if (code == CW_OK)
        code = cw_stmt_run(cw_db_stmt(db, "offers.set"), err, "iii", r->variety_id, r->offered, needed);
    if (code == CW_OK)
        code = cw_stmt_run(cw_db_stmt(db, "offers.release"), err, "iitiirrtt", r->variety_id, r->at, r->actor,
                           now.offered, r->offered, r->confidence, r->p_short, r->basis, r->why);
    return code;
}

/* Runs a query with one text parameter or none, a row at a time. */
static cw_code rows(cw_stmt *q, bool named, const char *name, void (*take)(cw_stmt *q, void *context),
                    void *context, cw_error *err)
{
    cw_code code = named ? cw_stmt_start(q, err, "t", name) : cw_stmt_start(q, err, "");
    while (code == CW_OK && cw_stmt_next(q))
        take(q, context);
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

static void put_release(cw_stmt *q, void *context)
{
    cw_table *t = context;
    cw_put_text(t, cw_col_text(q, offers_releases_code));
    cw_put_int(t, cw_col_int(q, offers_releases_at));
    cw_put_text(t, cw_col_text(q, offers_releases_actor));
    cw_put_int(t, cw_col_int(q, offers_releases_before));
    cw_put_int(t, cw_col_int(q, offers_releases_offered));
    cw_put_real(t, cw_col_null(q, offers_releases_confidence) ? NAN
                                                              : cw_col_real(q, offers_releases_confidence));
    cw_put_real(t, cw_col_null(q, offers_releases_p_short) ? NAN : cw_col_real(q, offers_releases_p_short));
    cw_put_text(t, cw_col_text(q, offers_releases_basis));
    cw_put_text(t, cw_col_text(q, offers_releases_why));
}

static const cw_column offer_releases_columns[] = { { "variety", CW_TEXT_T },
                                                    { "at", CW_INSTANT_T },
                                                    { "actor", CW_TEXT_T },
                                                    { "before", CW_INT_T },
                                                    { "offered", CW_INT_T },
                                                    { "confidence", CW_REAL_T, 3, .null = true },
                                                    { "p_short", CW_REAL_T, 4, .null = true },
                                                    { "basis", CW_TEXT_T },
                                                    { "why", CW_TEXT_T, .null = true } };
const cw_shape cw_offer_releases_shape = CW_ROWS(offer_releases_columns);

cw_code cw_offer_releases(cw_db *db, const char *variety, cw_table *out, cw_error *err)
{
    cw_table_init(out, offer_releases_columns, CW_WIDTH(offer_releases_columns));
    cw_code code = rows(cw_db_stmt(db, "offers.releases"), true, variety, put_release, out, err);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

static void put_available(cw_stmt *q, void *context)
{
    cw_table *t = context;
    int64_t offered = cw_col_int(q, offers_availability_offered),
            sold = cw_col_int(q, offers_availability_sold);
    cw_put_text(t, cw_col_text(q, offers_availability_code));
    cw_put_int(t, offered);
    cw_put_int(t, sold);
    cw_put_int(t, offered > sold ? offered - sold : 0);
}

static const cw_column offer_availability_columns[] = {
    { "variety", CW_TEXT_T }, { "offered", CW_INT_T }, { "sold", CW_INT_T }, { "left", CW_INT_T }
};
const cw_shape cw_offer_availability_shape = CW_ROWS(offer_availability_columns);

cw_code cw_offer_availability(cw_db *db, cw_table *out, cw_error *err)
{
    cw_table_init(out, offer_availability_columns, CW_WIDTH(offer_availability_columns));
    cw_code code = rows(cw_db_stmt(db, "offers.availability"), false, NULL, put_available, out, err);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

static void put_day(cw_stmt *q, void *context)
{
    cw_put_int(context, cw_col_int(q, offers_asked_by_day_day));
    cw_put_int(context, cw_col_int(q, offers_asked_by_day_asked));
}

static const cw_column offer_asked_by_day_columns[] = { { "day", CW_DAY_T }, { "asked", CW_INT_T } };
const cw_shape cw_offer_asked_by_day_shape = CW_ROWS(offer_asked_by_day_columns);

cw_code cw_offer_asked_by_day(cw_db *db, const char *variety, cw_table *out, cw_error *err)
{
    cw_table_init(out, offer_asked_by_day_columns, CW_WIDTH(offer_asked_by_day_columns));
    cw_code code = rows(cw_db_stmt(db, "offers.asked_by_day"), true, variety, put_day, out, err);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

cw_code cw_offer_past_sales(cw_db *db,
                            void (*take)(void *context, int64_t variety_id, int season, int64_t sold,
                                         cw_day sold_out_on),
                            void *context, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "offers.past_sales");
    cw_code code = cw_stmt_start(q, err, "");
    while (code == CW_OK && cw_stmt_next(q))
        take(context, cw_col_int(q, offers_past_sales_variety_id),
             (int)cw_col_int(q, offers_past_sales_season), cw_col_int(q, offers_past_sales_sold),
             (cw_day)cw_col_int_or(q, offers_past_sales_sold_out_on, CW_NO_DAY));
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_offer_past_orders(cw_db *db,
                             void (*take)(void *context, int64_t variety_id, int season, cw_day day,
                                          int64_t quantity),
                             void *context, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "offers.past_orders");
    cw_code code = cw_stmt_start(q, err, "");
    while (code == CW_OK && cw_stmt_next(q))
        take(context, cw_col_int(q, offers_past_orders_variety_id),
             (int)cw_col_int(q, offers_past_orders_season), (cw_day)cw_col_int(q, offers_past_orders_day),
             cw_col_int(q, offers_past_orders_quantity));
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

/* SPDX-License-Identifier: MIT */
#include "store/orders.h"

#include "base/grow.h"
#include "base/text.h"
#include "columns/orders.h"
#include "store/offers.h"
#include "store/rows.h"
#include "store/statement_inside.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static void text(char *out, size_t size, cw_stmt *q, cw_sql_column column)
{
    const char *s = cw_col_text(q, column);
    cw_copy(out, size, s ? s : "");
}
#define TEXT(field, column) text(field, sizeof(field), q, column)

cw_code cw_order_read(cw_db *db, const char *number, cw_order_head *out, cw_error *err)
{
    bool found = false;
    char shown[80];
    cw_stmt *q = cw_db_stmt(db, "orders.by_number");
    cw_code code = cw_stmt_one(q, &found, err, "t", number);
    if (code == CW_OK && found) {
        *out = (cw_order_head){ .id = cw_col_int(q, orders_by_number_id),
                                .received_at = cw_col_int(q, orders_by_number_received_at),
                                .wish_week = (cw_week)cw_col_int(q, orders_by_number_wish_week),
                                .ship_complete = cw_col_int(q, orders_by_number_ship_complete) != 0,
                                .ship_week = (cw_week)cw_col_int(q, orders_by_number_ship_week),
                                .version = cw_col_int(q, orders_by_number_version) };
        TEXT(out->number, orders_by_number_number);
        TEXT(out->channel, orders_by_number_channel);
        TEXT(out->tier, orders_by_number_tier);
        TEXT(out->customer, orders_by_number_customer);
        TEXT(out->email, orders_by_number_email);
        TEXT(out->postcode, orders_by_number_postcode);
        TEXT(out->country, orders_by_number_country);
        TEXT(out->region, orders_by_number_region);
        TEXT(out->zone, orders_by_number_zone);
        TEXT(out->state, orders_by_number_state);
        TEXT(out->replaces, orders_by_number_replaces);
        TEXT(out->merged_into, orders_by_number_merged_into);
        TEXT(out->name2, orders_by_number_name2);
        TEXT(out->phone, orders_by_number_phone);
        TEXT(out->street, orders_by_number_street);
        TEXT(out->town, orders_by_number_town);
        out->paid = (int)cw_col_int_or(q, orders_by_number_paid, -1);
        out->kept_unpaid = cw_col_int(q, orders_by_number_kept_unpaid) != 0;
        out->zone_by_range = cw_col_int(q, orders_by_number_zone_by_range) != 0;
        TEXT(out->language, orders_by_number_language);
    }
    cw_code end = cw_stmt_end(q, err);
    code = code == CW_OK ? end : code;
    if (code == CW_OK && !found)
        code = cw_error_at(err, CW_NOT_FOUND, NULL, 0, "order", "there is no order %s",
                           cw_shown(number, strlen(number), shown));
    return code;
}

static void take_line(cw_stmt *q, cw_order_line *l)
{
    *l = (cw_order_line){ .id = cw_col_int(q, orders_lines_id),
                          .line = (int32_t)cw_col_int(q, orders_lines_line),
                          .variety_id = cw_col_int(q, orders_lines_variety_id),
                          .quantity = cw_col_int(q, orders_lines_quantity),
                          .unit_price = cw_col_int(q, orders_lines_unit_price),
                          .all_or_none = cw_col_int(q, orders_lines_all_or_none) != 0 };
    TEXT(l->code, orders_lines_code);
    TEXT(l->name, orders_lines_name);
    TEXT(l->assortment, orders_lines_assortment);
    TEXT(l->consent, orders_lines_consent);
    TEXT(l->named, orders_lines_named);
}

cw_code cw_order_lines(cw_db *db, int64_t order_id, cw_order_line **lines, size_t *count, cw_error *err)
{
    size_t room = 0;
    cw_stmt *q = cw_db_stmt(db, "orders.lines");
    *lines = NULL;
    *count = 0;
    cw_code code = cw_stmt_start(q, err, "i", order_id);
    while (code == CW_OK && cw_stmt_next(q)) {
        if (!cw_grow(lines, *count, &room, sizeof **lines)) {
            code = cw_error_memory(err);
            break;
        }
        take_line(q, &(*lines)[(*count)++]);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_order_line_find(cw_db *db, const char *number, int64_t line, cw_order_head *head,
                           cw_order_line *out, cw_error *err)
{
    cw_order_line *lines = NULL;
    size_t count = 0, i = 0;
    cw_code code = cw_order_read(db, number, head, err);
    if (code == CW_OK)
        code = cw_order_lines(db, head->id, &lines, &count, err);
    while (code == CW_OK && i < count && lines[i].line != line)
        i++;
    if (code == CW_OK && i == count)
        code = cw_error_at(err, CW_NOT_FOUND, NULL, 0, "line", "order %s has no line %lld", head->number,
                           (long long)line);
    if (code == CW_OK)
        *out = lines[i];
    free(lines);
    return code;
}

/* The one text of a one-row statement, "" when there is none. */
static cw_code one_text(cw_db *db, const char *statement, int64_t id, char *out, size_t size, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, statement);
    cw_code code = cw_stmt_one(q, &found, err, "i", id);
    out[0] = '\0';
    if (code == CW_OK && found)
        text(out, size, q, cw_col_nth(q, 0));
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_order_customer(cw_db *db, int64_t order_id, char *out, size_t size, cw_error *err)
{
    return one_text(db, "orders.customer", order_id, out, size, err);
}

cw_code cw_order_variety_name(cw_db *db, int64_t variety_id, char *out, size_t size, cw_error *err)
{
    return one_text(db, "orders.variety_name", variety_id, out, size, err);
}

static const cw_column order_events_columns[] = { { "at", CW_INSTANT_T },
                                                  { "actor", CW_TEXT_T },
                                                  { "kind", CW_TEXT_T },
                                                  { "line", CW_INT_T, .null = true },
                                                  { "before", CW_TEXT_T, .null = true },
                                                  { "after", CW_TEXT_T, .null = true },
                                                  { "note", CW_TEXT_T, .null = true } };
const cw_shape cw_order_events_shape = CW_ROWS(order_events_columns);

cw_code cw_order_events(cw_db *db, int64_t order_id, cw_table *out, cw_error *err)
{
    cw_table_init(out, order_events_columns, CW_WIDTH(order_events_columns));
    return cw_rows_fill(db, "orders.events", out, err, "i", order_id);
}

static const cw_column order_parcels_columns[] = { { "parcel", CW_INT_T },
                                                   { "week", CW_WEEK_T },
                                                   { "slot", CW_INT_T },
                                                   { "state", CW_TEXT_T, .words = cw_words_parcel_states },
                                                   { "weight_g", CW_INT_T, .null = true },
                                                   { "shipped_on", CW_DAY_T, .null = true },
                                                   { "carrier", CW_TEXT_T, .null = true },
                                                   { "tracking", CW_TEXT_T, .null = true },
                                                   { "more_tracking", CW_TEXT_T, .null = true } };
const cw_shape cw_order_parcels_shape = CW_ROWS(order_parcels_columns);

cw_code cw_order_parcels(cw_db *db, int64_t order_id, cw_table *out, cw_error *err)
{
    cw_table_init(out, order_parcels_columns, CW_WIDTH(order_parcels_columns));
    return cw_rows_fill(db, "orders.parcels", out, err, "i", order_id);
}

static const cw_column order_notices_columns[] = { { "notice", CW_INT_T },
                                                   { "kind", CW_TEXT_T },
                                                   { "line", CW_INT_T, .null = true },
                                                   { "due_on", CW_DAY_T },
                                                   { "amount", CW_MONEY_T },
                                                   { "state", CW_TEXT_T },
                                                   { "evidence", CW_TEXT_T, .null = true } };
const cw_shape cw_order_notices_shape = CW_ROWS(order_notices_columns);

cw_code cw_order_notices(cw_db *db, int64_t order_id, cw_table *out, cw_error *err)
{
    cw_table_init(out, order_notices_columns, CW_WIDTH(order_notices_columns));
    return cw_rows_fill(db, "orders.notices", out, err, "i", order_id);
}

cw_code cw_order_event_add(cw_db *db, const cw_order_event *e, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "orders.event_add"), err, "iIittttt", e->order_id,
                       e->line_id ? &e->line_id : NULL, e->at, e->actor, e->kind, e->before, e->after,
                       e->note);
}

cw_code cw_order_set_quantity(cw_db *db, const cw_order_line *line, int64_t quantity, cw_error *err)
{
    int64_t change = quantity - line->quantity;
    cw_offer o = { 0 };
    cw_code code = CW_OK;
    if (line->variety_id) {
        code = cw_offer_read(db, line->variety_id, &o, err);
        if (code == CW_OK && change > 0 && o.sold + change > o.offered + o.beyond)
            return cw_error_set(err, CW_CONFLICT,
                                "only %lld more of %s may be sold; asked for in addition: %lld",
                                (long long)(o.offered + o.beyond - o.sold), line->code, (long long)change);
        if (code == CW_OK)
            code =
                cw_stmt_run(cw_db_stmt(db, "orders.sold_by"), err, "iii", line->variety_id, change, line->id);
    }
    return code == CW_OK ? cw_stmt_run(cw_db_stmt(db, "orders.set_quantity"), err, "ii", line->id, quantity)
                         : code;
}

cw_code cw_order_set_state(cw_db *db, int64_t order_id, const char *state, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "orders.set_state"), err, "it", order_id, state);
}

cw_code cw_order_raise_version(cw_db *db, int64_t order_id, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "orders.raise_version"), err, "i", order_id);
}

cw_code cw_order_pulled(cw_db *db, int64_t order_id, int64_t *taken, int64_t *open, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, "orders.pulled");
    cw_code code = cw_stmt_one(q, &found, err, "i", order_id);
    *taken = code == CW_OK && found ? cw_col_int(q, orders_pulled_taken) : 0;
    *open = code == CW_OK && found ? cw_col_int(q, orders_pulled_open) : 0;
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_order_leave(cw_db *db, int64_t variety_id, int64_t quantity, cw_instant at, const char *actor,
                       const char *why, cw_error *err)
{
    cw_code code =
        cw_stmt_run(cw_db_stmt(db, "offers.leave"), err, "iitit", variety_id, at, actor, quantity, why);
    return code == CW_OK ? cw_stmt_run(cw_db_stmt(db, "orders.beyond_by"), err, "ii", variety_id, quantity)
                         : code;
}

static cw_code no_variety(const char *variety, cw_error *err)
{
    char shown[80];
    return cw_error_at(err, CW_NOT_FOUND, NULL, 0, "variety", "there is no variety %s",
                       cw_shown(variety, strlen(variety), shown));
}

cw_code cw_order_for_sale(cw_db *db, const char *variety, cw_for_sale *out, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, "orders.for_sale");
    cw_code code = cw_stmt_one(q, &found, err, "t", variety);
    if (code == CW_OK && found) {
        *out = (cw_for_sale){ .id = cw_col_int(q, orders_for_sale_id),
                              .price = cw_col_int_or(q, orders_for_sale_price, -1),
                              .retired = cw_col_int(q, orders_for_sale_retired) != 0 };
        TEXT(out->code, orders_for_sale_code);
    }
    cw_code end = cw_stmt_end(q, err);
    code = code == CW_OK ? end : code;
    return code == CW_OK && !found ? no_variety(variety, err) : code;
}

cw_code cw_order_variety(cw_db *db, const char *variety, int64_t *out, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, "orders.variety");
    cw_code code = cw_stmt_one(q, &found, err, "t", variety);
    *out = code == CW_OK && found ? cw_col_int(q, orders_variety_id) : 0;
    cw_code end = cw_stmt_end(q, err);
    code = code == CW_OK ? end : code;
    return code == CW_OK && !found ? no_variety(variety, err) : code;
}

static const cw_column order_find_columns[] = {
    { "order", CW_TEXT_T },
    { "received_at", CW_INSTANT_T },
    { "customer", CW_TEXT_T, .null = true },
    { "email", CW_TEXT_T, .null = true },
    { "postcode", CW_TEXT_T, .null = true },
    { "tier", CW_TEXT_T },
    { "lines", CW_INT_T },
    { "asked", CW_INT_T },
    { "firm", CW_INT_T },
    { "short", CW_INT_T },
    { "week", CW_WEEK_T, .null = true },
    { "state", CW_TEXT_T, .words = cw_words_order_states },
};
const cw_shape cw_order_find_shape = CW_ROWS(order_find_columns);

static const cw_column buyers_columns[] = {
    { "customer", CW_TEXT_T },
    { "name2", CW_TEXT_T, .null = true },
    { "email", CW_TEXT_T, .null = true },
    { "phone", CW_TEXT_T, .null = true },
    { "street", CW_TEXT_T, .null = true },
    { "town", CW_TEXT_T, .null = true },
    { "postcode", CW_TEXT_T, .null = true },
    { "country", CW_TEXT_T, .null = true },
    { "region", CW_TEXT_T, .null = true },
    { "language", CW_TEXT_T, .words = cw_words_languages, .null = true },
    { "zone", CW_TEXT_T, .null = true, .says = "null: the table of postcodes tells it" },
    { "tier", CW_TEXT_T },
    { "consent", CW_TEXT_T, .words = cw_words_buyer_consents,
      .says = "of the last order, where all its lines say the same; else none" },
    { "season", CW_INT_T, .says = "of the last order" },
};
const cw_shape cw_order_buyers_shape = CW_ROWS(buyers_columns);

cw_code cw_order_buyers(cw_db *db, const char *text, int64_t most, cw_table *out, cw_error *err)
{
    return cw_rows_fill(db, "orders.buyers", out, err, "ti", text, most);
}

cw_code cw_order_find(cw_db *db, const cw_order_query *w, cw_table *out, bool *more, cw_error *err)
{
    int64_t week = w->week;
    cw_stmt *q = cw_db_stmt(db, "orders.find");
    cw_table_init(out, order_find_columns, CW_WIDTH(order_find_columns));
    cw_code code = cw_stmt_start(q, err, "tItIii", w->text, w->variety_id ? &w->variety_id : NULL, w->state,
                                 week ? &week : NULL, w->most + 1, w->from);
    *more = false;
    for (int64_t rows = 0; code == CW_OK && cw_stmt_next(q); rows++) {
        if (rows == w->most) {
            *more = true;
            break;
        }
        int64_t asked = cw_col_int(q, orders_find_asked), firm = cw_col_int(q, orders_find_firm);
        cw_put_text(out, cw_col_text(q, orders_find_number));
        cw_put_int(out, cw_col_int(q, orders_find_received_at));
        cw_put_text(out, cw_col_text(q, orders_find_customer));
        cw_put_text(out, cw_col_text(q, orders_find_email));
        cw_put_text(out, cw_col_text(q, orders_find_postcode));
        cw_put_text(out, cw_col_text(q, orders_find_tier));
        cw_put_int(out, cw_col_int(q, orders_find_lines));
        cw_put_int(out, asked);
        cw_put_int(out, firm);
        cw_put_int(out, asked - firm);
        if (cw_col_null(q, orders_find_ship_week))
            cw_put_null(out);
        else
            cw_put_int(out, cw_col_int(q, orders_find_ship_week));
        cw_put_text(out, cw_col_text(q, orders_find_state));
    }
    cw_code end = cw_stmt_end(q, err);
    code = code == CW_OK ? end : code;
    return code == CW_OK ? cw_table_check(out, err) : code;
}

/* SPDX-License-Identifier: MIT */
#include "store/orders.h"

#include "base/grow.h"
#include "base/text.h"
#include "store/offers.h"
#include "store/statement_inside.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static void text(char *out, size_t size, cw_stmt *q, int column)
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
        *out = (cw_order_head){ .id = cw_col_int(q, 0),
                                .received_at = cw_col_int(q, 2),
                                .wish_week = (cw_week)cw_col_int(q, 11),
                                .ship_complete = cw_col_int(q, 12) != 0,
                                .ship_week = (cw_week)cw_col_int(q, 13),
                                .version = cw_col_int(q, 15) };
        TEXT(out->number, 1);
        TEXT(out->channel, 3);
        TEXT(out->tier, 4);
        TEXT(out->customer, 5);
        TEXT(out->email, 6);
        TEXT(out->postcode, 7);
        TEXT(out->country, 8);
        TEXT(out->region, 9);
        TEXT(out->zone, 10);
        TEXT(out->state, 14);
        TEXT(out->replaces, 16);
        TEXT(out->name2, 17);
        TEXT(out->phone, 18);
        TEXT(out->street, 19);
        TEXT(out->town, 20);
        out->zone_by_range = cw_col_int(q, 21) != 0;
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
    *l = (cw_order_line){ .id = cw_col_int(q, 0),
                          .line = (int32_t)cw_col_int(q, 1),
                          .variety_id = cw_col_int(q, 2),
                          .quantity = cw_col_int(q, 6),
                          .unit_price = cw_col_int(q, 7),
                          .all_or_none = cw_col_int(q, 10) != 0 };
    TEXT(l->code, 3);
    TEXT(l->name, 4);
    TEXT(l->assortment, 5);
    TEXT(l->consent, 8);
    TEXT(l->named, 9);
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
        text(out, size, q, 0);
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

/* Rows of a statement into a table with the same columns. */
static cw_code fill(cw_stmt *q, cw_code code, const cw_column *columns, size_t width, cw_table *out,
                    cw_error *err)
{
    cw_table_init(out, columns, width);
    while (code == CW_OK && cw_stmt_next(q))
        for (size_t c = 0; c < width; c++) {
            if (cw_col_null(q, (int)c))
                cw_put_null(out);
            else if (columns[c].type == CW_TEXT_T)
                cw_put_text(out, cw_col_text(q, (int)c));
            else if (columns[c].type == CW_MONEY_T)
                cw_put_money(out, cw_col_int(q, (int)c));
            else
                cw_put_int(out, cw_col_int(q, (int)c));
        }
    cw_code end = cw_stmt_end(q, err);
    code = code == CW_OK ? end : code;
    return code == CW_OK ? cw_table_check(out, err) : code;
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
    cw_stmt *q = cw_db_stmt(db, "orders.events");
    return fill(q, cw_stmt_start(q, err, "i", order_id), order_events_columns, CW_WIDTH(order_events_columns),
                out, err);
}

static const cw_column order_parcels_columns[] = { { "parcel", CW_INT_T },
                                                   { "week", CW_WEEK_T },
                                                   { "slot", CW_INT_T },
                                                   { "state", CW_TEXT_T, .words = cw_words_parcel_states },
                                                   { "weight_g", CW_INT_T, .null = true },
                                                   { "shipped_on", CW_DAY_T, .null = true },
                                                   { "carrier", CW_TEXT_T, .null = true },
                                                   { "tracking", CW_TEXT_T, .null = true } };
const cw_shape cw_order_parcels_shape = CW_ROWS(order_parcels_columns);

cw_code cw_order_parcels(cw_db *db, int64_t order_id, cw_table *out, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "orders.parcels");
    return fill(q, cw_stmt_start(q, err, "i", order_id), order_parcels_columns,
                CW_WIDTH(order_parcels_columns), out, err);
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
    cw_stmt *q = cw_db_stmt(db, "orders.notices");
    return fill(q, cw_stmt_start(q, err, "i", order_id), order_notices_columns,
                CW_WIDTH(order_notices_columns), out, err);
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
                                "only %lld more of %s may be sold; %lld are asked for in addition",
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
    *taken = code == CW_OK && found ? cw_col_int(q, 0) : 0;
    *open = code == CW_OK && found ? cw_col_int(q, 1) : 0;
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

cw_code cw_order_variety(cw_db *db, const char *variety, int64_t *out, cw_error *err)
{
    bool found = false;
    char shown[80];
    cw_stmt *q = cw_db_stmt(db, "orders.variety");
    cw_code code = cw_stmt_one(q, &found, err, "t", variety);
    *out = code == CW_OK && found ? cw_col_int(q, 0) : 0;
    cw_code end = cw_stmt_end(q, err);
    code = code == CW_OK ? end : code;
    if (code == CW_OK && !found)
        code = cw_error_at(err, CW_NOT_FOUND, NULL, 0, "variety", "there is no variety %s",
                           cw_shown(variety, strlen(variety), shown));
    return code;
}

/* "%text%", with the signs that LIKE reads as patterns taken literally. */
static void pattern_of(const char *query, char *out, size_t size)
{
    size_t used = 0;
    out[used++] = '%';
    for (const char *s = query; *s && used + 4 < size; s++) {
        if (*s == '%' || *s == '_' || *s == '\\')
            out[used++] = '\\';
        out[used++] = *s;
    }
    out[used++] = '%';
    out[used] = '\0';
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

cw_code cw_order_find(cw_db *db, const cw_order_query *w, cw_table *out, bool *more, cw_error *err)
{
    char pattern[2 * CW_MAX_NAME + 8];
    int64_t week = w->week;
    cw_stmt *q = cw_db_stmt(db, "orders.find");
    cw_table_init(out, order_find_columns, CW_WIDTH(order_find_columns));
    if (w->text)
        pattern_of(w->text, pattern, sizeof pattern);
    cw_code code =
        cw_stmt_start(q, err, "tItIii", w->text ? pattern : NULL, w->variety_id ? &w->variety_id : NULL,
                      w->state, week ? &week : NULL, w->most + 1, w->from);
    *more = false;
    for (int64_t rows = 0; code == CW_OK && cw_stmt_next(q); rows++) {
        if (rows == w->most) {
            *more = true;
            break;
        }
        int64_t asked = cw_col_int(q, 10), firm = cw_col_int(q, 11);
        cw_put_text(out, cw_col_text(q, 1));
        cw_put_int(out, cw_col_int(q, 2));
        cw_put_text(out, cw_col_text(q, 3));
        cw_put_text(out, cw_col_text(q, 4));
        cw_put_text(out, cw_col_text(q, 5));
        cw_put_text(out, cw_col_text(q, 6));
        cw_put_int(out, cw_col_int(q, 9));
        cw_put_int(out, asked);
        cw_put_int(out, firm);
        cw_put_int(out, asked - firm);
        if (cw_col_null(q, 7))
            cw_put_null(out);
        else
            cw_put_int(out, cw_col_int(q, 7));
        cw_put_text(out, cw_col_text(q, 8));
    }
    cw_code end = cw_stmt_end(q, err);
    code = code == CW_OK ? end : code;
    return code == CW_OK ? cw_table_check(out, err) : code;
}

/* SPDX-License-Identifier: MIT */
#include "store/shipping.h"

#include "base/grow.h"
#include "base/text.h"
#include "columns/shipping.h"
#include "store/statement_inside.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static void copy(char *out, size_t size, const char *text)
{
    cw_copy(out, size, text ? text : "");
}

static bool take_order(cw_stmt *q, cw_ship_book *b)
{
    cw_ship_order *o = cw_grow_item(&b->order, &b->orders, sizeof *o);
    if (o == NULL)
        return false;
    o->id = cw_col_int(q, shipping_orders_id);
    o->number = cw_texts_keep(&b->texts, cw_col_text(q, shipping_orders_number));
    o->received_at = cw_col_int(q, shipping_orders_received_at);
    o->zone = cw_texts_keep(&b->texts, cw_col_text(q, shipping_orders_zone));
    o->wish = (cw_week)cw_col_int(q, shipping_orders_wish_week);
    o->week = (cw_week)cw_col_int(q, shipping_orders_ship_week);
    o->pinned = cw_col_int(q, shipping_orders_pinned) != 0;
    o->shipped = strcmp(cw_col_text(q, shipping_orders_state), "shipped") == 0;
    o->customer = cw_texts_keep(&b->texts, cw_col_text(q, shipping_orders_customer));
    o->country = cw_texts_keep(&b->texts, cw_col_text(q, shipping_orders_country));
    o->region = cw_texts_keep(&b->texts, cw_col_text(q, shipping_orders_region));
    int64_t gone = cw_col_int(q, shipping_orders_gone);
    o->divisions = o->shipped ? gone : -gone;
    o->in_wave = cw_col_int(q, shipping_orders_in_wave) != 0;
    o->version = cw_col_int(q, shipping_orders_version);
    o->blocked = cw_texts_keep(&b->texts, cw_col_text(q, shipping_orders_blocked));
    return !b->texts.failed;
}

static bool take_zone(cw_stmt *q, cw_ship_book *b)
{
    cw_ship_zone *z = cw_grow_item(&b->zone, &b->zones, sizeof *z);
    if (z == NULL)
        return false;
    copy(z->code, sizeof z->code, cw_col_text(q, shipping_zones_code));
    z->first_week = (cw_week)cw_col_int(q, shipping_zones_first_week);
    return true;
}

static bool take_hold(cw_stmt *q, cw_ship_book *b)
{
    cw_ship_hold *h = cw_grow_item(&b->hold, &b->holds, sizeof *h);
    if (h == NULL)
        return false;
    h->id = cw_col_int(q, shipping_holds_id);
    copy(h->zone, sizeof h->zone, cw_col_text(q, shipping_holds_zone));
    h->order_id = cw_col_int(q, shipping_holds_order_id);
    h->first_week = (cw_week)cw_col_int(q, shipping_holds_first_week);
    h->last_week = (cw_week)cw_col_int(q, shipping_holds_last_week);
    copy(h->why, sizeof h->why, cw_col_text(q, shipping_holds_why));
    copy(h->order, sizeof h->order, cw_col_text(q, shipping_holds_number));
    h->at = cw_col_int(q, shipping_holds_at);
    copy(h->actor, sizeof h->actor, cw_col_text(q, shipping_holds_actor));
    copy(h->place.country, sizeof h->place.country, cw_col_text(q, shipping_holds_country));
    copy(h->place.region, sizeof h->place.region, cw_col_text(q, shipping_holds_region));
    copy(h->place.from, sizeof h->place.from, cw_col_text(q, shipping_holds_postcode_from));
    copy(h->place.to, sizeof h->place.to, cw_col_text(q, shipping_holds_postcode_to));
    copy(h->place.carrier, sizeof h->place.carrier, cw_col_text(q, shipping_holds_carrier));
    return true;
}

static bool take_held(cw_stmt *q, cw_ship_book *b)
{
    cw_ship_held *h = cw_grow_item(&b->held, &b->helds, sizeof *h);
    if (h == NULL)
        return false;
    *h = (cw_ship_held){ cw_col_int(q, shipping_held_places_hold_id),
                         cw_col_int(q, shipping_held_places_order_id) };
    return true;
}

static bool take_leave(cw_stmt *q, cw_ship_book *b)
{
    cw_ship_leave *l = cw_grow_item(&b->leave, &b->leaves, sizeof *l);
    if (l == NULL)
        return false;
    *l = (cw_ship_leave){ cw_col_int(q, shipping_overruled_frost_hold_id),
                          cw_col_int(q, shipping_overruled_frost_order_id) };
    return true;
}

static cw_code each(cw_db *db, const char *name, bool (*take)(cw_stmt *q, cw_ship_book *b), cw_ship_book *b,
                    cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, name);
    bool room = true;
    cw_code code = cw_stmt_start(q, err, "");
    while (code == CW_OK && room && cw_stmt_next(q))
        room = take(q, b);
    cw_code end = cw_stmt_end(q, err);
    if (code == CW_OK && !room)
        return cw_error_memory(err);
    return code == CW_OK ? end : code;
}

/* What is promised to a line; lines ascend. */
typedef struct promised {
    int64_t line, quantity;
} promised;

typedef struct asking {
    cw_ship_book *b;
    promised *promised;
    size_t count, at; /* at: how far the promises are read */
    size_t order;     /* of the line before */
    bool no_memory, unordered;
} asking;

static bool take_promised(void *context, const cw_scanned *row)
{
    asking *a = context;
    int64_t line = cw_scanned_int(row, 0), last = a->count ? a->promised[a->count - 1].line : INT64_MIN;
    a->unordered = line < last;
    if (line > last) {
        promised *p = cw_grow_item(&a->promised, &a->count, sizeof *p);
        a->no_memory = p == NULL;
        if (p)
            *p = (promised){ line, 0 };
    }
    if (a->unordered || a->no_memory)
        return false;
    a->promised[a->count - 1].quantity += cw_scanned_int(row, 1);
    return true;
}

/* Nearly always that of the line before, or the next one. */
static cw_ship_order *order_of(asking *a, int64_t id)
{
    const cw_ship_book *b = a->b;
    size_t low = a->order, high;
    if (low < b->orders && b->order[low].id == id)
        return &b->order[low];
    if (low + 1 < b->orders && b->order[low + 1].id == id)
        return &b->order[++a->order];
    for (low = 0, high = b->orders; low < high;) {
        size_t mid = low + (high - low) / 2;
        if (b->order[mid].id < id)
            low = mid + 1;
        else
            high = mid;
    }
    if (low == b->orders || b->order[low].id != id)
        return NULL; /* it is cancelled */
    a->order = low;
    return &b->order[low];
}

/* Of a line that was shared out counts what is promised, of any other what it asks. */
static bool take_asked(void *context, const cw_scanned *row)
{
    asking *a = context;
    int64_t id = cw_scanned_int(row, 0);
    cw_ship_order *o = order_of(a, cw_scanned_int(row, 1));
    while (a->at < a->count && a->promised[a->at].line < id)
        a->at++;
    if (o && !o->shipped)
        o->divisions += a->at < a->count && a->promised[a->at].line == id ? a->promised[a->at].quantity
                                                                          : cw_scanned_int(row, 2);
    return true;
}

/* What each order has to send beside what has left. */
static cw_code read_asked(cw_db *db, cw_ship_book *b, cw_error *err)
{
    asking a = { .b = b };
    cw_code code = cw_stmt_scan(cw_db_stmt(db, "shipping.promised"), take_promised, &a, err);
    if (code == CW_OK && a.no_memory)
        code = cw_error_memory(err);
    if (code == CW_OK && a.unordered) /* as no sound table gives them */
        code = cw_db_damaged(err, "shipping.promised");
    if (code == CW_OK)
        code = cw_stmt_scan(cw_db_stmt(db, "shipping.asked"), take_asked, &a, err);
    free(a.promised);
    return code;
}

cw_code cw_ship_book_read(cw_db *db, cw_ship_book *out, cw_error *err)
{
    *out = (cw_ship_book){ 0 };
    cw_code code = each(db, "shipping.orders", take_order, out, err);
    if (code == CW_OK)
        code = read_asked(db, out, err);
    if (code == CW_OK)
        code = each(db, "shipping.zones", take_zone, out, err);
    if (code == CW_OK)
        code = each(db, "shipping.holds", take_hold, out, err);
    if (code == CW_OK)
        code = each(db, "shipping.overruled_frost", take_leave, out, err);
    if (code == CW_OK)
        code = each(db, "shipping.held_places", take_held, out, err);
    if (code != CW_OK)
        cw_ship_book_free(out);
    return code;
}

cw_code cw_ship_holds_read(cw_db *db, cw_week now, cw_ship_book *out, cw_error *err)
{
    *out = (cw_ship_book){ 0 };
    cw_code code = each(db, "shipping.holds", take_hold, out, err);
    if (code != CW_OK)
        return code;
    cw_stmt *q = cw_db_stmt(db, "shipping.holds_touch");
    code = cw_stmt_start(q, err, "i", (int64_t)now);
    for (size_t i = 0; code == CW_OK && cw_stmt_next(q);) {
        while (i < out->holds && out->hold[i].id != cw_col_int(q, shipping_holds_touch_hold_id))
            i++;
        const cw_sql_column touches[] = { shipping_holds_touch_orders, shipping_holds_touch_parcels,
                                          shipping_holds_touch_stops };
        for (int k = 0; i < out->holds && k < 3; k++)
            out->hold[i].touches[k] = cw_col_int(q, touches[k]);
    }
    cw_code end = cw_stmt_end(q, err);
    code = code == CW_OK ? end : code;
    if (code != CW_OK)
        cw_ship_book_free(out);
    return code;
}

cw_code cw_ship_frost(cw_db *db, int64_t order_id, cw_week week, cw_week or_week, bool *held, char why[301],
                      cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "shipping.frost");
    cw_code code = cw_stmt_one(q, held, err, "iii", order_id, (int64_t)week, (int64_t)or_week);
    copy(why, 301, *held ? cw_col_text(q, shipping_frost_reason) : "");
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_ship_overrule_frost(cw_db *db, int64_t order_id, cw_week week, cw_instant at, const char *actor,
                               const char *why, cw_error *err)
{
    int64_t w = week;
    return why ? cw_stmt_run(cw_db_stmt(db, "shipping.overrule_frost"), err, "iIitt", order_id,
                             week ? &w : NULL, at, actor, why)
               : cw_stmt_run(cw_db_stmt(db, "shipping.heed_frost"), err, "i", order_id);
}

void cw_ship_book_free(cw_ship_book *b)
{
    free(b->order);
    free(b->zone);
    free(b->hold);
    free(b->held);
    free(b->leave);
    cw_texts_free(&b->texts);
    *b = (cw_ship_book){ 0 };
}

cw_code cw_ship_set_week(cw_db *db, int64_t order_id, cw_week week, int reason, bool pinned, cw_error *err)
{
    int64_t w = week;
    return cw_stmt_run(cw_db_stmt(db, "shipping.set_week"), err, "iIii", order_id, week ? &w : NULL,
                       (int64_t)reason, (int64_t)pinned);
}

cw_code cw_ship_event(cw_db *db, int64_t order_id, cw_instant at, const char *actor, const char *before,
                      const char *after, const char *note, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "shipping.event"), err, "iitttt", order_id, at, actor, before, after,
                       note);
}

cw_code cw_ship_hold_add(cw_db *db, const char *zone, int64_t order_id, cw_week first, cw_week last,
                         const char *why, cw_instant at, const char *actor, int64_t brought, int64_t *id,
                         cw_error *err)
{
    cw_code code =
        cw_stmt_run(cw_db_stmt(db, "shipping.hold_add"), err, "tIiititI", zone, order_id ? &order_id : NULL,
                    (int64_t)first, (int64_t)last, why, at, actor, brought ? &brought : NULL);
    *id = cw_db_last_id(db);
    return code;
}

cw_code cw_ship_hold_place(cw_db *db, const cw_ship_held_place *place, cw_week first, cw_week last,
                           const char *why, cw_instant at, const char *actor, int64_t brought, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "shipping.hold_place"), err, "tttttiititI", place->country,
                       place->region, place->from, place->to, place->carrier, (int64_t)first, (int64_t)last,
                       why, at, actor, brought ? &brought : NULL);
}

cw_code cw_ship_hold_names(cw_db *db, const char *order, const char *zone, int64_t *order_id, bool *known,
                           cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "shipping.hold_names");
    bool found = false;
    cw_code code = cw_stmt_one(q, &found, err, "tt", order, zone);
    *order_id = found ? cw_col_int(q, shipping_hold_names_order_id) : 0;
    *known = found && cw_col_int(q, shipping_hold_names_zone) != 0;
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_ship_carrier_held(cw_db *db, int64_t order_id, const char *carrier, cw_week week, bool *held,
                             char why[301], cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "shipping.carrier_held");
    cw_code code = cw_stmt_one(q, held, err, "iti", order_id, carrier, (int64_t)week);
    copy(why, 301, *held ? cw_col_text(q, shipping_carrier_held_reason) : "");
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_ship_hold_lift(cw_db *db, int64_t id, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "shipping.hold_lift"), err, "i", id);
    if (code == CW_OK && cw_db_changes(db) == 0)
        return cw_error_set(err, CW_NOT_FOUND, "there is no frost hold number %lld", (long long)id);
    return code;
}

cw_code cw_ship_destination(cw_db *db, const char *country, const char *region, char rule[8], char note[301],
                            cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "shipping.destination");
    bool found = false;
    cw_code code = cw_stmt_one(q, &found, err, "tt", country, region);
    copy(rule, 8, found ? cw_col_text(q, shipping_destination_rule) : "allow");
    copy(note, 301, found ? cw_col_text(q, shipping_destination_note) : "");
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_ship_order_destination(cw_db *db, int64_t order_id, cw_ship_place *out, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "shipping.order_destination");
    bool found = false;
    cw_code code = cw_stmt_one(q, &found, err, "i", order_id);
    copy(out->rule, sizeof out->rule, found ? cw_col_text(q, shipping_order_destination_rule) : "allow");
    copy(out->note, sizeof out->note, found ? cw_col_text(q, shipping_order_destination_note) : "");
    copy(out->country, sizeof out->country, found ? cw_col_text(q, shipping_order_destination_country) : "");
    copy(out->region, sizeof out->region, found ? cw_col_text(q, shipping_order_destination_region) : "");
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_ship_blocked(cw_db *db, int64_t *count, char number[33], char country[33], cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "shipping.blocked");
    bool found = false;
    cw_code code = cw_stmt_one(q, &found, err, "");
    *count = found ? cw_col_int(q, shipping_blocked_count) : 0;
    copy(number, 33, found ? cw_col_text(q, shipping_blocked_number) : "");
    copy(country, 33, found ? cw_col_text(q, shipping_blocked_country) : "");
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_ship_overrule(cw_db *db, int64_t order_id, cw_instant at, const char *actor, const char *why,
                         cw_error *err)
{
    return why ? cw_stmt_run(cw_db_stmt(db, "shipping.overrule_destination"), err, "iitt", order_id, at,
                             actor, why)
               : cw_stmt_run(cw_db_stmt(db, "shipping.heed_destination"), err, "i", order_id);
}

cw_code cw_ship_gates_read(cw_db *db, int64_t order_id, cw_ship_gates *out, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "shipping.gates");
    bool found = false;
    cw_code code = cw_stmt_one(q, &found, err, "i", order_id);
    copy(out->blocked, sizeof out->blocked, found ? cw_col_text(q, shipping_gates_blocked) : "");
    copy(out->blocked_overruled, sizeof out->blocked_overruled,
         found ? cw_col_text(q, shipping_gates_blocked_overruled) : "");
    copy(out->warning, sizeof out->warning, found ? cw_col_text(q, shipping_gates_warning) : "");
    copy(out->frost, sizeof out->frost, found ? cw_col_text(q, shipping_gates_frost) : "");
    copy(out->frost_overruled, sizeof out->frost_overruled,
         found ? cw_col_text(q, shipping_gates_frost_overruled) : "");
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

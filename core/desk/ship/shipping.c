/* SPDX-License-Identifier: MIT */
#include "desk/ship/shipping.h"

#include "base/json.h"
#include "base/text.h"
#include "desk/nursery/based_inside.h"
#include "desk/ship/shipping_inside.h"
#include "store/audit.h"
#include "store/rows.h"
#include "store/season.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define WEEKS 40 /* a season's shipping ends long before this; a later order gets a note */

void cw_shipping_plan_free(cw_shipping_plan *p)
{
    cw_ship_book_free(&p->book);
    free(p->zone);
    free(p->hold);
    free(p->of_place);
    free(p->leave);
    free(p->order);
    free(p->capacity);
    free(p->load);
    free(p->ship);
    memset(p, 0, sizeof *p);
}

int cw_shipping_zone_index(const cw_ship_book *b, const char *zone)
{
    for (size_t z = 0; z < b->zones; z++)
        if (strcmp(b->zone[z].code, zone) == 0)
            return (int)z;
    return -1;
}

static int order_index(const cw_ship_book *b, int64_t id)
{
    size_t low = 0, high = b->orders;
    while (low < high) {
        size_t mid = low + (high - low) / 2;
        if (b->order[mid].id < id)
            low = mid + 1;
        else
            high = mid;
    }
    return low < b->orders && b->order[low].id == id ? (int)low : -1;
}

static int parcels_of(int64_t divisions, double per_parcel)
{
    return divisions < 1 ? 0 : (int)ceil((double)divisions / per_parcel);
}

static void state_orders(cw_shipping_plan *p, double per_parcel)
{
    for (size_t i = 0; i < p->book.orders; i++) {
        const cw_ship_order *o = &p->book.order[i];
        p->order[i] = (cw_schedule_order){ .number = o->number,
                                           .received_at = o->received_at,
                                           .zone = cw_shipping_zone_index(&p->book, o->zone),
                                           .wish_week = o->wish,
                                           .parcels = parcels_of(o->divisions, per_parcel),
                                           .fixed_week = o->week,
                                           .barred = o->blocked[0] ? o->blocked : NULL };
        if (o->week != 0 && o->shipped)
            p->order[i].fix = CW_SCHEDULE_SHIPPED;
        else if (o->week != 0 && o->in_wave)
            p->order[i].fix = CW_SCHEDULE_IN_WAVE;
        else if (o->week != 0 && o->pinned)
            p->order[i].fix = CW_SCHEDULE_PINNED;
    }
}

static bool is_place(const cw_ship_hold *h)
{
    return h->place.country[0] || h->place.from[0];
}

/* The orders where the n-th hold of a place is; `at`: how far the list of the book is read. */
static const bool *of_place(cw_shipping_plan *p, size_t n, int64_t hold, size_t *at)
{
    bool *of = p->of_place + n * (p->book.orders + 1);
    for (; *at < p->book.helds && p->book.held[*at].hold_id <= hold; (*at)++) {
        int order = order_index(&p->book, p->book.held[*at].order_id); /* none of a cancelled one */
        if (p->book.held[*at].hold_id == hold && order >= 0)
            of[order] = true;
    }
    return of;
}

static void state_rest(cw_shipping_plan *p, double capacity)
{
    size_t holds = 0, places = 0, at = 0;
    for (size_t z = 0; z < p->book.zones; z++)
        p->zone[z] = (cw_schedule_zone){ p->book.zone[z].code, p->book.zone[z].first_week };
    for (size_t h = 0; h < p->book.holds; h++) {
        const cw_ship_hold *from = &p->book.hold[h];
        cw_schedule_hold hold = { -1, -1, from->first_week, from->last_week,
                                  from->why[0] ? from->why : NULL };
        if (from->order_id)
            hold.order = order_index(&p->book, from->order_id);
        else if (is_place(from))
            hold.of = of_place(p, places++, from->id, &at);
        else
            hold.zone = cw_shipping_zone_index(&p->book, from->zone);
        if (hold.of && hold.reason == NULL)
            hold.reason = "hold";
        if (hold.order < 0 && hold.zone < 0 && hold.of == NULL)
            continue;
        for (size_t k = 0; k < p->book.leaves; k++) {
            int order =
                p->book.leave[k].hold_id == from->id ? order_index(&p->book, p->book.leave[k].order_id) : -1;
            if (order >= 0)
                p->leave[p->schedule.leave_count++] = (cw_schedule_leave){ holds, (size_t)order };
        }
        p->hold[holds++] = hold;
    }
    p->schedule.hold_count = holds;
    for (int w = 0; w < WEEKS; w++)
        p->capacity[w] = (int)capacity;
}

cw_code cw_shipping_plan_make(cw_nursery *n, const cw_asker *who, cw_shipping_plan *p, cw_error *err)
{
    double capacity = 0, per_parcel = 1;
    size_t places = 0;
    memset(p, 0, sizeof *p);
    cw_code code = cw_season_look(n, err);
    if (code == CW_OK)
        code = cw_nursery_number(n, "parcels_per_week", &capacity, err);
    if (code == CW_OK)
        code = cw_nursery_number(n, "divisions_per_parcel", &per_parcel, err);
    if (code == CW_OK)
        code = cw_ship_book_read(n->db, &p->book, err);
    if (code != CW_OK)
        return code;
    p->zone = calloc(p->book.zones + 1, sizeof *p->zone);
    p->hold = calloc(p->book.holds + 1, sizeof *p->hold);
    p->leave = calloc(p->book.leaves + 1, sizeof *p->leave);
    for (size_t h = 0; h < p->book.holds; h++)
        places += is_place(&p->book.hold[h]);
    p->of_place = calloc(places + 1, p->book.orders + 1);
    p->order = calloc(p->book.orders + 1, sizeof *p->order);
    p->ship = calloc(p->book.orders + 1, sizeof *p->ship);
    p->capacity = calloc(WEEKS, sizeof *p->capacity);
    p->load = calloc(WEEKS, sizeof *p->load);
    if (!p->zone || !p->hold || !p->leave || !p->of_place || !p->order || !p->ship || !p->capacity ||
        !p->load)
        return cw_error_memory(err);
    cw_day first = n->season.ship > who->today ? n->season.ship : who->today;
    p->schedule = (cw_schedule){ .first_week = cw_week_of(first),
                                 .weeks = WEEKS,
                                 .capacity = p->capacity,
                                 .zones = p->zone,
                                 .zone_count = p->book.zones,
                                 .holds = p->hold,
                                 .leaves = p->leave,
                                 .orders = p->order,
                                 .order_count = p->book.orders };
    /* Zones may start before the planned day: then the earliest of them opens the season. */
    for (size_t z = 0; z < p->book.zones; z++) {
        cw_week w = p->book.zone[z].first_week;
        if (w != 0 && w < p->schedule.first_week && cw_week_monday(w) >= who->today)
            p->schedule.first_week = w;
    }
    state_orders(p, per_parcel);
    state_rest(p, capacity);
    return cw_schedule_place(&p->schedule, p->ship, p->load, err);
}

/* Writes only what changes, so that an order on the desk keeps its version when its week stays. */
cw_code cw_shipping_plan_record(cw_nursery *n, const cw_asker *who, const cw_shipping_plan *p, cw_error *err)
{
    int64_t changed = 0;
    cw_code code = CW_OK;
    for (size_t i = 0; i < p->book.orders && code == CW_OK; i++) {
        const cw_ship_order *o = &p->book.order[i];
        if (p->order[i].fix != CW_SCHEDULE_FREE || o->week == p->ship[i].week)
            continue;
        code = cw_ship_set_week(n->db, o->id, p->ship[i].week, (int)p->ship[i].why, false, err);
        changed++;
    }
    if (code == CW_OK && changed > 0) {
        char after[64];
        snprintf(after, sizeof after, "%lld order%s another week", (long long)changed,
                 changed == 1 ? " has" : "s have");
        code = cw_audit_add(n->db, who->now, who->actor, "schedule", "orders", NULL, after, err);
        if (code == CW_OK)
            code = cw_season_touch(n->db, false, true, err);
    }
    return code;
}

static const cw_column order_columns[] = {
    { "order", CW_TEXT_T },
    { "received_at", CW_INSTANT_T },
    { "customer", CW_TEXT_T, .null = true },
    { "zone", CW_TEXT_T, .null = true },
    { "wish_week", CW_WEEK_T, .null = true },
    { "week", CW_WEEK_T, .null = true },
    { "parcels", CW_INT_T },
    { "pinned", CW_BOOL_T },
    { "sentence", CW_TEXT_T },
};

const cw_shape cw_shipping_schedule_shape = CW_ROWS(order_columns);

static void put_orders(const cw_shipping_plan *p, cw_table *out)
{
    cw_table_init(out, order_columns, sizeof order_columns / sizeof order_columns[0]);
    for (size_t i = 0; i < p->book.orders; i++) {
        const cw_ship_order *o = &p->book.order[i];
        char sentence[CW_SCHEDULE_SENTENCE];
        cw_schedule_say(&p->schedule, i, &p->ship[i], sentence);
        cw_put_text(out, o->number);
        cw_put_int(out, o->received_at);
        cw_put_text(out, o->customer[0] ? o->customer : NULL);
        cw_put_text(out, o->zone[0] ? o->zone : NULL);
        cw_put_int(out, o->wish);
        cw_put_int(out, p->ship[i].week);
        cw_put_int(out, p->order[i].parcels);
        cw_put_bool(out, o->pinned);
        cw_put_text(out, sentence);
    }
}

cw_code cw_shipping_schedule(cw_nursery *n, const cw_asker *who, bool record, cw_table *out, cw_error *err)
{
    cw_shipping_plan p;
    cw_table_init(out, order_columns, sizeof order_columns / sizeof order_columns[0]);
    if (record && cw_office_only(who, "set ship weeks", err) != CW_OK)
        return CW_FORBIDDEN;
    cw_code code = record ? cw_work_begin(n, err) : CW_OK;
    if (code != CW_OK)
        return code;
    code = cw_shipping_plan_make(n, who, &p, err);
    if (code == CW_OK)
        code = cw_asker_tell(who, "setting the weeks", 0, 0, err);
    if (code == CW_OK && record)
        code = cw_shipping_plan_record(n, who, &p, err);
    if (code == CW_OK)
        put_orders(&p, out);
    if (code == CW_OK)
        code = cw_table_check(out, err);
    cw_shipping_plan_free(&p);
    return record ? cw_work_end(n, code, err) : code;
}

/* Week of each order as it stands on record. */
static cw_week *standing(const cw_shipping_plan *p)
{
    cw_week *week = calloc(p->book.orders + 1, sizeof *week);
    for (size_t i = 0; week && i < p->book.orders; i++)
        week[i] = p->book.order[i].week;
    return week;
}

static json_t *weeks_json(const cw_shipping_plan *p)
{
    json_t *list = json_array();
    int parcels[WEEKS] = { 0 }, orders[WEEKS] = { 0 };
    for (size_t i = 0; i < p->book.orders; i++) {
        cw_week week = p->ship[i].week;
        int w = week ? cw_week_between(p->schedule.first_week, week) : -1;
        if (w < 0 || w >= WEEKS)
            continue;
        parcels[w] += p->order[i].parcels;
        orders[w]++;
    }
    for (int w = 0; w < p->schedule.weeks; w++) {
        char name[9];
        /* The first sixteen weeks are always shown, later ones only when an order stands there. */
        if (orders[w] == 0 && w > 15)
            continue;
        cw_week_format(cw_week_add(p->schedule.first_week, w), name);
        cw_json_append_take(&list, json_pack("{s:s,s:i,s:i,s:i}", "week", name, "parcels", parcels[w],
                                             "capacity", p->capacity[w], "orders", orders[w]));
    }
    return list;
}

static const cw_shape weeks_shape = { .list = true,
                                      .parts = (const cw_part[]){
                                          { "week", CW_WEEK_T },
                                          { "parcels", CW_INT_T },
                                          { "capacity", CW_INT_T },
                                          { "orders", CW_INT_T },
                                          { 0 },
                                      } };
const cw_shape cw_shipping_board_shape = { .parts = (const cw_part[]){
                                               { "weeks", .shape = &weeks_shape },
                                               { "without", CW_INT_T },
                                               { "found", CW_INT_T },
                                               { "orders", .shape = &cw_shipping_schedule_shape },
                                               { 0 },
                                           } };

static void write_text(cw_writer *w, const char *s)
{
    cw_write_text(w, s, strlen(s));
}

static bool is_without(const cw_shipping_plan *p, size_t i)
{
    return p->ship[i].week == 0 && p->order[i].parcels > 0;
}

static bool is_asked(const cw_shipping_plan *p, size_t i, const cw_board_ask *ask)
{
    if (ask == NULL || (ask->week == 0 && !ask->without))
        return true;
    return (ask->week && p->ship[i].week == ask->week) || (ask->without && is_without(p, i));
}

/* As put_orders, to be handed on at once: a season has a quarter of a million orders. */
static cw_code write_orders(const cw_shipping_plan *p, const cw_board_ask *ask, cw_writer *w, cw_error *err)
{
    char sentence[CW_SCHEDULE_SENTENCE];
    int64_t most = ask ? ask->most : INT64_MAX;
    cw_code code = cw_writer_begin(w, order_columns, CW_WIDTH(order_columns), err);
    for (size_t i = 0; code == CW_OK && i < p->book.orders && most > 0; i++) {
        const cw_ship_order *o = &p->book.order[i];
        if (!is_asked(p, i, ask))
            continue;
        most--;
        cw_schedule_say(&p->schedule, i, &p->ship[i], sentence);
        write_text(w, o->number);
        cw_write_int(w, o->received_at);
        write_text(w, o->customer);
        write_text(w, o->zone);
        cw_write_int(w, o->wish);
        cw_write_int(w, p->ship[i].week);
        cw_write_int(w, p->order[i].parcels);
        cw_write_int(w, o->pinned);
        write_text(w, sentence);
        code = cw_writer_check(w, err);
    }
    return code == CW_OK ? cw_writer_end(w, err) : code;
}

/* All but the orders, up to where they begin. */
static cw_code write_head(const cw_shipping_plan *p, const cw_board_ask *ask, cw_sink to, cw_error *err)
{
    cw_text head = CW_TEXT((size_t)1 << 20);
    int64_t without = 0, found = 0;
    json_t *list = weeks_json(p);
    char *weeks = cw_json_text(list, JSON_COMPACT);
    json_decref(list);
    for (size_t i = 0; i < p->book.orders; i++) {
        without += is_without(p, i);
        found += is_asked(p, i, ask);
    }
    cw_text_addf(&head, "{\"weeks\":%s,\"without\":%lld,\"found\":%lld,\"orders\":", weeks ? weeks : "",
                 (long long)without, (long long)found);
    cw_code code = weeks ? cw_text_check(&head, err) : cw_error_memory(err);
    free(weeks);
    if (code == CW_OK)
        code = to.write(to.self, head.data, head.length, err);
    cw_text_free(&head);
    return code;
}

cw_code cw_shipping_board(cw_nursery *n, const cw_asker *who, const cw_board_ask *ask, cw_sink to,
                          cw_error *err)
{
    cw_shipping_plan p;
    cw_writer w = cw_writer_new(CW_AS_JSON, to);
    cw_code code = cw_shipping_plan_make(n, who, &p, err);
    if (code == CW_OK)
        code = write_head(&p, ask, to, err);
    if (code == CW_OK)
        code = write_orders(&p, ask, &w, err);
    if (code == CW_OK)
        code = to.write(to.self, "}", 1, err);
    cw_writer_free(&w);
    cw_shipping_plan_free(&p);
    return code;
}

static cw_code find_order(const cw_shipping_plan *p, const char *number, size_t *out, cw_error *err)
{
    char shown[80];
    for (size_t i = 0; i < p->book.orders; i++) {
        if (strcmp(p->book.order[i].number, number) == 0) {
            *out = i;
            return CW_OK;
        }
    }
    return cw_error_set(err, CW_NOT_FOUND, "there is no open order %s",
                        cw_shown(number, strlen(number), shown));
}

static const cw_column put_breaks_columns[] = { { "rule", CW_TEXT_T },
                                                { "amount", CW_INT_T },
                                                { "sentence", CW_TEXT_T } };
const cw_shape cw_shipping_breaks_shape = CW_ROWS(put_breaks_columns);

static cw_code put_breaks(const cw_shipping_plan *p, size_t order, cw_week week, cw_table *out, cw_error *err)
{
    static const char *const names[CW_SCHEDULE_RULES] = { "before zone", "before wish", "in hold", "capacity",
                                                          "outside",     "gone",        "blocked" };
    cw_schedule_break breaks[CW_SCHEDULE_RULES];
    cw_week *now = standing(p);
    cw_table_init(out, put_breaks_columns, CW_WIDTH(put_breaks_columns));
    if (now == NULL)
        return cw_error_memory(err);
    size_t count = cw_schedule_check_move(&p->schedule, now, order, week, breaks);
    for (size_t i = 0; i < count; i++) {
        cw_put_text(out, names[breaks[i].rule]);
        cw_put_int(out, breaks[i].amount);
        cw_put_text(out, breaks[i].sentence);
    }
    free(now);
    return cw_table_check(out, err);
}

cw_code cw_shipping_breaks(cw_nursery *n, const cw_asker *who, const char *order, cw_week week, cw_table *out,
                           cw_error *err)
{
    cw_shipping_plan p;
    size_t i = 0;
    memset(out, 0, sizeof *out);
    cw_code code = cw_shipping_plan_make(n, who, &p, err);
    if (code == CW_OK)
        code = find_order(&p, order, &i, err);
    if (code == CW_OK)
        code = put_breaks(&p, i, week, out, err);
    cw_shipping_plan_free(&p);
    return code;
}

static cw_code move(cw_nursery *n, const cw_asker *who, const cw_shipping_plan *p, size_t i, cw_week week,
                    const char *why, cw_error *err)
{
    const cw_ship_order *o = &p->book.order[i];
    char before[9] = "", after[9] = "";
    if (o->in_wave || o->shipped)
        return cw_error_set(err, CW_CONFLICT, "order %s is %s, so its week stands", o->number,
                            o->shipped ? "gone" : "in a wave");
    if (o->week)
        cw_week_format(o->week, before);
    if (week)
        cw_week_format(week, after);
    cw_based_text(who, "week", before);
    cw_code code = cw_based_hold(who, "the order's week", err);
    if (code == CW_OK)
        code = cw_ship_set_week(n->db, o->id, week, CW_SCHEDULE_BY_FIX, week != 0, err);
    if (code == CW_OK &&
        week) /* the caller was told what the move breaks, so the holds of that week are overruled by it */
        code = cw_ship_overrule_frost(n->db, o->id, week, who->now, who->actor,
                                      why && why[0] ? why : "moved into a held week", err);
    if (code == CW_OK)
        code = cw_ship_event(n->db, o->id, who->now, who->actor, before, after, why, err);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "move order", o->number, before, after, err);
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

cw_code cw_shipping_move(cw_nursery *n, const cw_asker *who, const char *order, cw_week week, const char *why,
                         cw_table *out, cw_error *err)
{
    cw_shipping_plan p;
    size_t i = 0;
    memset(out, 0, sizeof *out);
    if (cw_office_only(who, "move orders", err) != CW_OK)
        return CW_FORBIDDEN;
    cw_code code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = cw_shipping_plan_make(n, who, &p, err);
    if (code == CW_OK)
        code = find_order(&p, order, &i, err);
    if (code == CW_OK)
        code = put_breaks(&p, i, week ? week : p.book.order[i].week, out, err);
    if (code == CW_OK)
        code = move(n, who, &p, i, week, why, err);
    cw_shipping_plan_free(&p);
    return cw_work_end(n, code, err);
}

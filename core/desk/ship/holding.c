/* SPDX-License-Identifier: MIT */
/* Holds: of a zone, an order, a place or a carrier; what they keep, and what their end lets go. */
#include "base/country.h"
#include "base/text.h"
#include "desk/nursery/nursery_inside.h"
#include "desk/ship/shipping.h"
#include "desk/ship/shipping_inside.h"
#include "store/audit.h"
#include "store/rows.h"
#include "store/season.h"
#include "store/shipping.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

static const cw_column shipping_holds_columns[] = {
    { "hold", CW_INT_T },
    { "zone", CW_TEXT_T, .null = true },
    { "order", CW_TEXT_T, .null = true },
    { "first_week", CW_WEEK_T },
    { "last_week", CW_WEEK_T },
    { "why", CW_TEXT_T, .null = true },
    { "at", CW_INSTANT_T },
    { "actor", CW_TEXT_T },
    { "orders", CW_INT_T, .says = "Orders it keeps now: in a wave, not left." },
    { "parcels", CW_INT_T, .says = "Parcels of them." },
    { "stops", CW_INT_T, .says = "Stops where something of them is still to be taken." },
    { "country", CW_TEXT_T, .null = true, .says = "Of a place: its code." },
    { "region", CW_TEXT_T, .null = true },
    { "postcode_from", CW_TEXT_T, .null = true,
      .says = "A range of postcodes, by their first letters and digits." },
    { "postcode_to", CW_TEXT_T, .null = true },
    { "carrier", CW_TEXT_T, .null = true, .says = "Of a carrier, everywhere or in the place." },
};
const cw_shape cw_shipping_holds_shape = CW_ROWS(shipping_holds_columns);

cw_code cw_shipping_holds(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err)
{
    cw_ship_book b;
    cw_table_init(out, shipping_holds_columns, CW_WIDTH(shipping_holds_columns));
    cw_code code = cw_ship_holds_read(n->db, cw_week_of(who->today), &b, err);
    for (size_t i = 0; code == CW_OK && i < b.holds; i++) {
        const cw_ship_hold *h = &b.hold[i];
        cw_put_int(out, h->id);
        cw_put_text(out, h->zone[0] ? h->zone : NULL);
        cw_put_text(out, h->order[0] ? h->order : NULL);
        cw_put_int(out, h->first_week);
        cw_put_int(out, h->last_week);
        cw_put_text(out, h->why);
        cw_put_int(out, h->at);
        cw_put_text(out, h->actor);
        for (int k = 0; k < 3; k++)
            cw_put_int(out, h->touches[k]);
        for (int k = 0; k < 5; k++) {
            const char *part = (const char *const[]){ h->place.country, h->place.region, h->place.from,
                                                      h->place.to, h->place.carrier }[k];
            cw_put_text(out, part[0] ? part : NULL);
        }
    }
    if (code == CW_OK)
        cw_ship_book_free(&b);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

static const cw_column touched_columns[] = {
    { "hold", CW_INT_T },
    { "order", CW_TEXT_T },
    { "customer", CW_TEXT_T, .null = true },
    { "wave", CW_INT_T },
    { "week", CW_WEEK_T },
    { "slot", CW_INT_T },
    { "parcel", CW_INT_T },
    { "state", CW_TEXT_T, .words = "open|packed" },
    { "open", CW_INT_T, .says = "Divisions still to be taken." },
    { "taken", CW_INT_T },
    { "stops", CW_INT_T, .says = "Stops where something is still to be taken." },
    { "sentence", CW_TEXT_T },
};
const cw_shape cw_shipping_touched_shape = CW_ROWS(touched_columns);

cw_code cw_shipping_touched(cw_nursery *n, const cw_asker *who, int64_t hold, cw_table *out, cw_error *err)
{
    cw_table_init(out, touched_columns, CW_WIDTH(touched_columns));
    cw_code code = cw_rows_fill(n->db, "shipping.touched", out, err, "Ii", hold ? &hold : NULL,
                                (int64_t)cw_week_of(who->today));
    cw_people_hide(who, out);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

static cw_code hold_add(cw_nursery *n, const cw_asker *who, const char *zone, const char *order,
                        cw_week first, cw_week last, const char *why, cw_error *err)
{
    cw_ship_book b;
    char shown[80];
    int64_t order_id = 0, id = 0;
    cw_code code = cw_ship_book_read(n->db, &b, err);
    if (code != CW_OK)
        return code;
    for (size_t i = 0; order && i < b.orders; i++)
        if (strcmp(b.order[i].number, order) == 0)
            order_id = b.order[i].id;
    if (order && order_id == 0)
        code = cw_error_set(err, CW_NOT_FOUND, "there is no open order %s",
                            cw_shown(order, strlen(order), shown));
    else if (zone && cw_shipping_zone_index(&b, zone) < 0)
        code = cw_error_set(err, CW_NOT_FOUND, "the zone table has no zone %s",
                            cw_shown(zone, strlen(zone), shown));
    cw_ship_book_free(&b);
    if (code == CW_OK)
        code = cw_ship_hold_add(n->db, zone, order_id, first, last, why, who->now, who->actor, 0, &id, err);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "frost hold", zone ? zone : order, NULL,
                            zone ? why : NULL, err);
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

cw_code cw_shipping_hold(cw_nursery *n, const cw_asker *who, const char *zone, const char *order,
                         cw_week first, cw_week last, const char *why, cw_table *out, cw_error *err)
{
    memset(out, 0, sizeof *out);
    if (cw_office_only(who, "set frost holds", err) != CW_OK)
        return CW_FORBIDDEN;
    if ((zone == NULL) == (order == NULL))
        return cw_error_set(err, CW_USAGE, "a frost hold names a zone or an order");
    if (first == 0 || last == 0 || first > last)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "last_week",
                           "must not come before the first week of the hold");
    cw_code code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = hold_add(n, who, zone, order, first, last, why, err);
    if (code == CW_OK)
        code = cw_shipping_holds(n, who, out, err);
    return cw_work_end(n, code, err);
}

/* Upper case, without blanks and hyphens: as the record compares it. */
static void bare(const char *s, char *out, size_t size)
{
    size_t n = 0;
    for (; *s && n + 1 < size; s++)
        if (*s != ' ' && *s != '-')
            out[n++] = *s >= 'a' && *s <= 'z' ? (char)(*s - 'a' + 'A') : *s;
    out[n] = '\0';
}

cw_code cw_shipping_place_read(const cw_hold_place *p, cw_ship_held_place *out, cw_error *err)
{
    char shown[80];
    const char *country = p->country && p->country[0] ? cw_country_find(p->country, strlen(p->country)) : "";
    *out = (cw_ship_held_place){ .country = "" };
    if (country == NULL)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "country", "is no country: %s",
                           cw_shown(p->country, strlen(p->country), shown));
    cw_copy(out->country, sizeof out->country, country);
    cw_copy(out->region, sizeof out->region, p->region ? p->region : "");
    bare(p->postcode_from ? p->postcode_from : "", out->from, sizeof out->from);
    bare(p->postcode_to && p->postcode_to[0] ? p->postcode_to : out->from, out->to, sizeof out->to);
    cw_copy(out->carrier, sizeof out->carrier, p->carrier ? p->carrier : "");
    if (country[0] == '\0' && (out->region[0] || (out->from[0] == '\0' && out->carrier[0] == '\0')))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "country",
                           "is needed, unless a range of postcodes is given");
    if (strlen(out->from) != strlen(out->to) || strcmp(out->from, out->to) > 0)
        return cw_error_at(
            err, CW_REFUSED, NULL, 0, "postcode_to",
            "must have as many letters and digits as the first of the range, and not come before it: %s",
            cw_shown(out->to, strlen(out->to), shown));
    return CW_OK;
}

static cw_code hold_place(cw_nursery *n, const cw_asker *who, const cw_ship_held_place *place, cw_week first,
                          cw_week last, const char *why, cw_error *err)
{
    char subject[600];
    snprintf(subject, sizeof subject, "%s%s%s%s%s%s%s%s%s", place->carrier,
             place->carrier[0] && place->country[0] ? " " : "", place->country, place->region[0] ? " " : "",
             place->region, place->from[0] && place->country[0] ? " " : "", place->from,
             place->from[0] ? "-" : "", place->to);
    cw_code code = cw_ship_hold_place(n->db, place, first, last, why, who->now, who->actor, 0, err);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "hold", subject, NULL, why, err);
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

cw_code cw_shipping_hold_place(cw_nursery *n, const cw_asker *who, const cw_hold_place *place, cw_week first,
                               cw_week last, const char *why, cw_table *out, cw_error *err)
{
    cw_ship_held_place read;
    memset(out, 0, sizeof *out);
    if (cw_office_only(who, "set holds", err) != CW_OK)
        return CW_FORBIDDEN;
    if (first == 0 || last == 0 || first > last)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "last_week",
                           "must not come before the first week of the hold");
    cw_code code = cw_shipping_place_read(place, &read, err);
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = hold_place(n, who, &read, first, last, why, err);
    if (code == CW_OK)
        code = cw_shipping_holds(n, who, out, err);
    return cw_work_end(n, code, err);
}

/* What waited for the hold may leave sooner: the weeks that are on record are set again. Where none is, nobody has set them yet. */
cw_code cw_shipping_level(cw_nursery *n, const cw_asker *who, cw_error *err)
{
    cw_shipping_plan p;
    bool set = false;
    cw_code code = cw_shipping_plan_make(n, who, &p, err);
    for (size_t i = 0; code == CW_OK && i < p.book.orders; i++)
        set = set || (p.order[i].fix == CW_SCHEDULE_FREE && p.book.order[i].week != 0);
    if (code == CW_OK && set)
        code = cw_shipping_plan_record(n, who, &p, err);
    cw_shipping_plan_free(&p);
    return code;
}

cw_code cw_shipping_lift(cw_nursery *n, const cw_asker *who, int64_t hold, cw_error *err)
{
    char subject[32];
    if (cw_office_only(who, "lift frost holds", err) != CW_OK)
        return CW_FORBIDDEN;
    cw_code code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    snprintf(subject, sizeof subject, "%lld", (long long)hold);
    code = cw_ship_hold_lift(n->db, hold, err);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "lift frost hold", subject, NULL, NULL, err);
    if (code == CW_OK)
        code = cw_shipping_level(n, who, err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, false, true, err);
    return cw_work_end(n, code, err);
}

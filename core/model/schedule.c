/* SPDX-License-Identifier: MIT */
#include "model/schedule.h"

#include "base/text.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Weeks of the schedule as bits, bit t = first_week + t. */
typedef uint64_t week_set;
_Static_assert(CW_SCHEDULE_MAX_WEEKS <= 64, "a week_set has a bit for every week");

static cw_code check(const cw_schedule *s, cw_error *err)
{
    if (s->weeks < 1 || s->weeks > CW_SCHEDULE_MAX_WEEKS)
        return cw_error_set(err, CW_REFUSED, "a schedule of %d weeks: it may have 1 to %d", s->weeks,
                            CW_SCHEDULE_MAX_WEEKS);
    for (size_t i = 0; i < s->hold_count; i++) {
        const cw_schedule_hold *h = &s->holds[i];
        bool of_zone = h->zone >= 0 && (size_t)h->zone < s->zone_count;
        bool of_order = h->order >= 0 && (size_t)h->order < s->order_count;
        if (of_zone + of_order + (h->of != NULL) != 1)
            return cw_error_set(err, CW_REFUSED, "frost hold %zu names neither one zone nor one order",
                                i + 1);
    }
    for (size_t i = 0; i < s->order_count; i++) {
        const cw_schedule_order *o = &s->orders[i];
        if (o->parcels < 0)
            return cw_error_set(err, CW_REFUSED, "order %s has %d parcels", o->number, o->parcels);
        if (o->zone < -1 || (o->zone >= 0 && (size_t)o->zone >= s->zone_count))
            return cw_error_set(err, CW_REFUSED, "order %s names a zone that is not in the table", o->number);
        if (o->fix != CW_SCHEDULE_FREE && o->fixed_week == 0)
            return cw_error_set(err, CW_REFUSED, "order %s is fixed, but to no week", o->number);
    }
    return CW_OK;
}

static cw_week last_week(const cw_schedule *s)
{
    return cw_week_add(s->first_week, s->weeks - 1);
}

static cw_week latest_zone(const cw_schedule *s)
{
    cw_week latest = 0;
    for (size_t z = 0; z < s->zone_count; z++)
        latest = s->zones[z].first_week > latest ? s->zones[z].first_week : latest;
    return latest;
}

/* The week before which the zone rule lets this order not leave; 0 = none. */
static cw_week zone_week(const cw_schedule *s, const cw_schedule_order *o, cw_week latest)
{
    return o->zone < 0 ? latest : s->zones[o->zone].first_week;
}

static cw_week earliest(const cw_schedule *s, const cw_schedule_order *o, cw_week latest,
                        cw_schedule_why *why)
{
    cw_week week = s->first_week, zone = zone_week(s, o, latest);
    *why = o->wish_week == week ? CW_SCHEDULE_BY_WISH : CW_SCHEDULE_SOONEST;
    if (zone > week) {
        week = zone;
        *why = o->zone < 0 ? CW_SCHEDULE_NO_ZONE : CW_SCHEDULE_BY_ZONE;
    }
    if (o->wish_week > week) {
        week = o->wish_week;
        *why = CW_SCHEDULE_BY_WISH;
    }
    return week;
}

static bool hold_covers(const cw_schedule_hold *h, cw_week week)
{
    return h->from <= week && (h->to == 0 || week <= h->to);
}

static bool has_leave(const cw_schedule *s, const cw_schedule_hold *h, size_t order)
{
    for (size_t i = 0; i < s->leave_count; i++)
        if (s->leaves[i].order == order && &s->holds[s->leaves[i].hold] == h)
            return true;
    return false;
}

static bool hold_is_of(const cw_schedule_hold *h, const cw_schedule *s, size_t order)
{
    if (has_leave(s, h, order))
        return false;
    if (h->of)
        return h->of[order];
    return h->order >= 0 ? (size_t)h->order == order : h->zone == s->orders[order].zone;
}

static week_set hold_weeks(const cw_schedule *s, const cw_schedule_hold *h)
{
    week_set set = 0;
    for (int t = 0; t < s->weeks; t++)
        if (hold_covers(h, cw_week_add(s->first_week, t)))
            set |= (week_set)1 << t;
    return set;
}

/* held[order] = weeks in which it may not leave. `of_zone` is scratch of zone_count. */
static void gather_holds(const cw_schedule *s, week_set *of_zone, week_set *held)
{
    for (size_t i = 0; i < s->hold_count; i++) {
        const cw_schedule_hold *h = &s->holds[i];
        for (size_t k = 0; h->of && k < s->order_count; k++)
            held[k] |= h->of[k] ? hold_weeks(s, h) : 0;
        if (h->order >= 0)
            held[h->order] |= hold_weeks(s, h);
        else if (h->of == NULL)
            of_zone[h->zone] |= hold_weeks(s, h);
    }
    for (size_t i = 0; i < s->order_count; i++)
        if (s->orders[i].zone >= 0)
            held[i] |= of_zone[s->orders[i].zone];
    for (size_t i = 0; i < s->leave_count; i++) { /* few: worked out anew */
        size_t order = s->leaves[i].order;
        held[order] = 0;
        for (size_t h = 0; h < s->hold_count; h++)
            held[order] |= hold_is_of(&s->holds[h], s, order) ? hold_weeks(s, &s->holds[h]) : 0;
    }
}

typedef struct queued {
    const cw_schedule_order *order;
    size_t index;
} queued;

static int by_arrival(const void *pa, const void *pb)
{
    const queued *a = pa, *b = pb;
    if (a->order->received_at != b->order->received_at)
        return a->order->received_at < b->order->received_at ? -1 : 1;
    int names = strcmp(a->order->number, b->order->number);
    return names ? names : (a->index > b->index) - (a->index < b->index);
}

/* The earliest week left open to one order; the load of that week grows. */
static cw_ship place_one(const cw_schedule *s, const cw_schedule_order *o, cw_week latest, week_set held,
                         int *load)
{
    cw_ship ship = { .week = 0 };
    ship.earliest = earliest(s, o, latest, &ship.why);
    if (o->barred || o->parcels == 0) {
        ship.why = o->barred ? CW_SCHEDULE_BARRED : CW_SCHEDULE_NOTHING;
        return ship;
    }
    int t = cw_week_between(s->first_week, ship.earliest);
    if (t >= s->weeks) {
        ship.why = CW_SCHEDULE_TOO_LATE;
        return ship;
    }
    for (; t < s->weeks; t++) {
        if (held >> t & 1) {
            ship.weeks_held++;
            ship.why = CW_SCHEDULE_BY_HOLD;
        } else if (s->capacity[t] >= 0 && o->parcels > s->capacity[t] - load[t]) {
            ship.weeks_full++;
            ship.why = CW_SCHEDULE_BY_ROOM;
        } else {
            ship.week = cw_week_add(s->first_week, t);
            load[t] += o->parcels;
            return ship;
        }
    }
    ship.why = ship.weeks_full ? CW_SCHEDULE_NO_ROOM : CW_SCHEDULE_HELD;
    return ship;
}

cw_code cw_schedule_place(const cw_schedule *s, cw_ship *out, int *load, cw_error *err)
{
    int loads[CW_SCHEDULE_MAX_WEEKS] = { 0 };
    queued *queue = NULL;
    week_set *of_zone = NULL, *held = NULL;
    size_t free_orders = 0;
    cw_code code = check(s, err);
    if (code != CW_OK)
        goto done;
    queue = calloc(s->order_count + 1, sizeof *queue);
    of_zone = calloc(s->zone_count + 1, sizeof *of_zone);
    held = calloc(s->order_count + 1, sizeof *held);
    if (!queue || !of_zone || !held) {
        code = cw_error_memory(err);
        goto done;
    }
    gather_holds(s, of_zone, held);
    cw_week latest = latest_zone(s);
    for (size_t i = 0; i < s->order_count; i++) {
        const cw_schedule_order *o = &s->orders[i];
        if (o->fix == CW_SCHEDULE_FREE) {
            queue[free_orders++] = (queued){ o, i };
            continue;
        }
        cw_schedule_why unused;
        int t = cw_week_between(s->first_week, o->fixed_week);
        out[i] = (cw_ship){ o->fixed_week, CW_SCHEDULE_BY_FIX, earliest(s, o, latest, &unused), 0, 0 };
        if (t >= 0 && t < s->weeks)
            loads[t] += o->parcels;
    }
    qsort(queue, free_orders, sizeof *queue, by_arrival);
    for (size_t k = 0; k < free_orders; k++)
        out[queue[k].index] = place_one(s, queue[k].order, latest, held[queue[k].index], loads);
    if (load)
        memcpy(load, loads, (size_t)s->weeks * sizeof *load);
done:
    free(queue);
    free(of_zone);
    free(held);
    return code;
}

/* ---- Sentences ---- */

/* Appends to a sentence; what does not fit is cut. */
static void add(char out[CW_SCHEDULE_SENTENCE], const char *format, ...) CW_PRINTF(2, 3);
static void add(char out[CW_SCHEDULE_SENTENCE], const char *format, ...)
{
    va_list args;
    size_t n = strlen(out);
    va_start(args, format);
    vsnprintf(out + n, CW_SCHEDULE_SENTENCE - n, format, args);
    va_end(args);
}

static const char *zone_name(const cw_schedule *s, const cw_schedule_order *o, char shown[80])
{
    const char *name = s->zones[o->zone].name;
    return cw_shown(name, strlen(name), shown);
}

static const char *hold_reason(const cw_schedule *s, size_t order, cw_week from, char shown[80])
{
    for (size_t i = 0; i < s->hold_count; i++) {
        const cw_schedule_hold *h = &s->holds[i];
        if (hold_is_of(h, s, order) && (h->to == 0 || h->to >= from) && h->reason)
            return cw_shown(h->reason, strlen(h->reason), shown);
    }
    return "frost hold";
}

static void say_fixed(const cw_schedule *s, size_t order, const char *week, char out[CW_SCHEDULE_SENTENCE])
{
    const cw_schedule_order *o = &s->orders[order];
    char shown[80];
    if (o->fix == CW_SCHEDULE_SHIPPED)
        add(out, "Shipped in week %s.", week);
    else if (o->fix == CW_SCHEDULE_IN_WAVE)
        add(out, "Is being packed in the wave of week %s.", week);
    else
        add(out, "Leaves in week %s, which the office chose.", week);
    if (o->fix != CW_SCHEDULE_SHIPPED && o->barred)
        add(out, " But it may not leave: %s.", o->barred);
    for (size_t i = 0; o->fix != CW_SCHEDULE_SHIPPED && !o->barred && i < s->hold_count; i++)
        if (hold_is_of(&s->holds[i], s, order) && hold_covers(&s->holds[i], o->fixed_week)) {
            const char *reason = s->holds[i].reason ? s->holds[i].reason : "frost hold";
            add(out, " But it is on hold that week: %s.", cw_shown(reason, strlen(reason), shown));
            return;
        }
}

static void say_nowhere(const cw_schedule *s, size_t order, const cw_ship *ship,
                        char out[CW_SCHEDULE_SENTENCE])
{
    const cw_schedule_order *o = &s->orders[order];
    char from[9], to[9], shown[80];
    cw_week_format(ship->earliest, from);
    cw_week_format(last_week(s), to);
    if (ship->why == CW_SCHEDULE_BARRED)
        add(out, "Has no week: %s.", o->barred);
    else if (ship->why == CW_SCHEDULE_NOTHING)
        add(out, "Has no week: it has nothing to send.");
    else if (ship->why == CW_SCHEDULE_TOO_LATE)
        add(out, "Has no week: by zone and wish it may leave in week %s, but the last week is %s.", from, to);
    else if (ship->why == CW_SCHEDULE_HELD)
        add(out, "Has no week: %s from week %s to the last week, %s.",
            hold_reason(s, order, ship->earliest, shown), from, to);
    else
        add(out, "Has no week: no week from %s to %s has room for its %d parcel%s.", from, to, o->parcels,
            o->parcels == 1 ? "" : "s");
}

void cw_schedule_say(const cw_schedule *s, size_t order, const cw_ship *ship, char out[CW_SCHEDULE_SENTENCE])
{
    const cw_schedule_order *o = &s->orders[order];
    char week[9], wish[9], shown[80];
    out[0] = '\0';
    cw_week_format(ship->week, week);
    cw_week_format(o->wish_week, wish);
    if (ship->why == CW_SCHEDULE_BY_FIX) {
        say_fixed(s, order, week, out);
        return;
    }
    if (ship->week == 0) {
        say_nowhere(s, order, ship, out);
        return;
    }
    add(out, "Leaves in week %s", week);
    if (ship->weeks_held || ship->weeks_full) {
        if (ship->weeks_held)
            add(out, ": %d week%s later for %s", ship->weeks_held, CW_S(ship->weeks_held),
                hold_reason(s, order, ship->earliest, shown));
        if (ship->weeks_full)
            add(out,
                ship->weeks_held
                    ? ", and %d week%s later because orders that came before it fill the crew's time"
                    : ": %d week%s later because orders that came before it fill the crew's time",
                ship->weeks_full, CW_S(ship->weeks_full));
    } else if (ship->why == CW_SCHEDULE_BY_ZONE) {
        add(out, ", the first week for zone %s", zone_name(s, o, shown));
    } else if (ship->why == CW_SCHEDULE_NO_ZONE) {
        add(out, ": its climate zone is not known, so it waits for the latest zone");
    } else if (ship->why == CW_SCHEDULE_SOONEST) {
        add(out, ", the first week open");
    }
    if (o->wish_week == 0)
        add(out, ".");
    else if (o->wish_week == ship->week)
        add(out, ", as the buyer wished.");
    else
        add(out, "; the buyer wished week %s.", wish);
}

/* ---- What a move breaks ---- */

typedef struct breaks {
    cw_schedule_break *list;
    size_t count;
} breaks;

/* Opens the next entry; its sentence is to be filled. */
static char *broken(breaks *b, cw_schedule_rule rule, int amount)
{
    cw_schedule_break *next = &b->list[b->count++];
    *next = (cw_schedule_break){ .rule = rule, .amount = amount };
    return next->sentence;
}

static void check_early(const cw_schedule *s, const cw_schedule_order *o, cw_week to, breaks *b)
{
    char week[9], shown[80];
    cw_week zone = zone_week(s, o, latest_zone(s));
    if (zone > to) {
        int early = cw_week_between(to, zone);
        char *out = broken(b, CW_RULE_BEFORE_ZONE, early);
        cw_week_format(zone, week);
        if (o->zone < 0)
            add(out,
                "%d week%s too early: its climate zone is not known, and the latest zone starts in week %s.",
                early, CW_S(early), week);
        else
            add(out, "%d week%s too early: zone %s starts in week %s.", early, CW_S(early),
                zone_name(s, o, shown), week);
    }
    if (o->wish_week > to) {
        int early = cw_week_between(to, o->wish_week);
        char *out = broken(b, CW_RULE_BEFORE_WISH, early);
        cw_week_format(o->wish_week, week);
        add(out, "%d week%s before the buyer's wish, week %s.", early, CW_S(early), week);
    }
}

static void check_hold(const cw_schedule *s, size_t order, cw_week to, breaks *b)
{
    for (size_t i = 0; i < s->hold_count; i++) {
        const cw_schedule_hold *h = &s->holds[i];
        char week[9], shown[80];
        if (!hold_is_of(h, s, order) || !hold_covers(h, to))
            continue;
        char *out = broken(b, CW_RULE_IN_HOLD, 1);
        const char *reason = h->reason ? h->reason : "frost hold";
        add(out, "On hold that week (%s)", cw_shown(reason, strlen(reason), shown));
        cw_week_format(h->to, week);
        if (h->to)
            add(out, ", up to week %s.", week);
        else
            add(out, ", until it is lifted.");
        return;
    }
}

static void check_room(const cw_schedule *s, const cw_week *week, size_t order, cw_week to, breaks *b)
{
    int t = cw_week_between(s->first_week, to);
    char name[9], last[9];
    cw_week_format(to, name);
    if (t < 0 || t >= s->weeks) {
        int outside = t < 0 ? -t : t - s->weeks + 1;
        char *out = broken(b, CW_RULE_OUTSIDE, outside);
        cw_week_format(t < 0 ? s->first_week : last_week(s), last);
        add(out,
            t < 0 ? "Week %s is past: the first week open is %s." : "Week %s lies behind the last week, %s.",
            name, last);
        return;
    }
    long parcels = s->orders[order].parcels;
    for (size_t i = 0; i < s->order_count; i++)
        if (i != order && week[i] == to)
            parcels += s->orders[i].parcels;
    if (s->capacity[t] < 0 || parcels <= s->capacity[t])
        return;
    int over = (int)(parcels - s->capacity[t]);
    char *out = broken(b, CW_RULE_CAPACITY, over);
    add(out, "%d parcel%s more than the crew can pack: week %s would have %ld, and %d can be packed.", over,
        over == 1 ? "" : "s", name, parcels, s->capacity[t]);
}

size_t cw_schedule_check_move(const cw_schedule *s, const cw_week *week, size_t order, cw_week to,
                              cw_schedule_break out[CW_SCHEDULE_RULES])
{
    const cw_schedule_order *o = &s->orders[order];
    breaks b = { out, 0 };
    if (to != 0) {
        check_early(s, o, to, &b);
        check_hold(s, order, to, &b);
        check_room(s, week, order, to, &b);
    }
    bool gone = o->fix == CW_SCHEDULE_SHIPPED;
    if (to != week[order] && (gone || o->fix == CW_SCHEDULE_IN_WAVE))
        add(broken(&b, CW_RULE_GONE, gone ? 2 : 1),
            gone ? "It has been shipped already." : "It is being packed in a wave.");
    if (to != 0 && o->barred)
        add(broken(&b, CW_RULE_BARRED, 1), "It may not leave in any week: %s.", o->barred);
    return b.count;
}

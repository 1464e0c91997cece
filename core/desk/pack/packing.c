/* SPDX-License-Identifier: MIT */
#include "desk/pack/packing.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/map.h"
#include "base/text.h"
#include "desk/pack/packing_inside.h"
#include "desk/pick/picking_inside.h"
#include "store/audit.h"
#include "store/season.h"

#include "base/banned.h"

typedef long long ll;

typedef struct lister {
    cw_table *out;
    cw_week now;
} lister;

/* How many weeks too long is a parcel here? Counted from its wave's week, while it has or awaits content and no frost hold
 * keeps it. */
static int64_t late_weeks(const cw_parcel_listed *p, cw_week now)
{
    bool here = p->state[0] != 's', something = p->taken > 0 || p->open > 0;
    return here && something && p->frost == NULL && p->week < now ? cw_week_between(p->week, now) : 0;
}

static void put_parcel(void *context, const cw_parcel_listed *p)
{
    const lister *l = context;
    cw_table *out = l->out;
    cw_put_int(out, p->id);
    cw_put_int(out, p->wave);
    cw_put_int(out, p->week);
    cw_put_text(out, p->order);
    cw_put_int(out, p->slot);
    cw_put_text(out, p->state);
    cw_put_text(out, p->customer);
    cw_put_int(out, p->quantity);
    cw_put_int(out, p->taken);
    cw_put_int(out, p->open);
    if (p->weight_g)
        cw_put_int(out, p->weight_g);
    else
        cw_put_null(out);
    cw_put_int(out, p->packed_at);
    cw_put_text(out, p->packed_by);
    cw_put_int(out, p->shipped_on);
    cw_put_text(out, p->carrier);
    cw_put_text(out, p->tracking);
    cw_put_text(out, p->frost);
    cw_put_bool(out, p->unpaid);
    cw_put_bool(out, p->corrected);
    cw_put_int(out, late_weeks(p, l->now));
    cw_put_text(out, p->joined);
    cw_put_text(out, p->slots);
    cw_put_int(out, p->further + 1);
    cw_put_text(out, p->more);
}

static const cw_column packing_list_columns[] = {
    { "id", CW_INT_T },
    { "wave", CW_INT_T },
    { "week", CW_WEEK_T },
    { "order", CW_TEXT_T },
    { "slot", CW_INT_T },
    { "state", CW_TEXT_T, .words = cw_words_parcel_states },
    { "customer", CW_TEXT_T, .null = true },
    { "quantity", CW_INT_T },
    { "taken", CW_INT_T },
    { "open", CW_INT_T },
    { "weight_g", CW_INT_T, .null = true },
    { "packed_at", CW_INSTANT_T, .null = true },
    { "packed_by", CW_TEXT_T, .null = true },
    { "shipped_on", CW_DAY_T, .null = true },
    { "carrier", CW_TEXT_T, .null = true },
    { "tracking", CW_TEXT_T, .null = true },
    { "frost", CW_TEXT_T, .null = true, .says = "The frost hold that keeps it, in words." },
    { "unpaid", CW_BOOL_T, .says = "Kept back until its order is paid (setting hold_unpaid)." },
    { "corrected", CW_BOOL_T, .says = "Its order was put right since it was packed: print its papers anew." },
    { "late_weeks", CW_INT_T, .says = "Weeks since its week ended, while it is still here." },
    { "joined", CW_TEXT_T, .null = true, .says = "Other orders in the same slot and box." },
    { "slots", CW_TEXT_T, .null = true, .says = "All its slots, where a big order lies in several." },
    { "boxes", CW_INT_T, .says = "Boxes that it leaves in." },
    { "more_tracking", CW_TEXT_T, .null = true, .says = "The numbers of the boxes beside the first." },
};
const cw_shape cw_packing_list_shape = CW_ROWS(packing_list_columns);

cw_code cw_packing_list(cw_nursery *n, const cw_asker *who, int64_t wave, const char *state, cw_table *out,
                        cw_error *err)
{
    cw_table_init(out, packing_list_columns, CW_WIDTH(packing_list_columns));
    lister l = { out, cw_week_of(who->today) };
    cw_code code = cw_waves_parcels(n->db, wave, state, l.now, put_parcel, &l, err);
    cw_people_hide(who, out);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

/* Why a parcel may not be closed or leave: reasons that do not depend on what is in it. */
static cw_code may_leave(cw_nursery *n, const cw_parcel_row *p, cw_week now, cw_error *err)
{
    bool frost = false;
    char why[301];
    cw_ship_place to = { 0 };
    if (strcmp(p->order_state, "cancelled") == 0)
        return cw_error_set(err, CW_CONFLICT,
                            "order %s is cancelled: undo its picks and put the divisions back", p->order);
    cw_code code = cw_ship_order_destination(n->db, p->order_id, &to, err);
    if (code != CW_OK)
        return code;
    if (strcmp(to.rule, "block") == 0)
        return cw_error_set(err, CW_CONFLICT, "order %s must not go to %s%s%s: %s; " CW_AUTHORITY, p->order,
                            to.country, to.region[0] ? " " : "", to.region,
                            to.note[0] ? to.note : "the destination table blocks it");
    /* The week in which it leaves: this week, or its wave's week if it is packed ahead. */
    code = cw_ship_frost(n->db, p->order_id, now, p->week > now ? p->week : now, &frost, why, err);
    if (code != CW_OK)
        return code;
    if (frost)
        return cw_error_set(
            err, CW_CONFLICT,
            "the parcel of order %s is under a %s: put it aside until the office lifts the hold, "
            "or overrules it for this order",
            p->order, why);
    if (p->unpaid)
        return cw_error_set(
            err, CW_CONFLICT,
            "order %s is not paid, and nothing leaves unpaid: put its parcel aside for the office", p->order);
    if (p->held[0])
        return cw_error_set(
            err, CW_CONFLICT,
            "the parcel of order %s has divisions of a lot that is held, %s: put it aside for the office",
            p->order, p->held);
    if (p->complete && p->rest > 0)
        return cw_error_set(err, CW_CONFLICT, "order %s leaves whole or not at all; missing of it: %lld",
                            p->order, (ll)p->rest);
    return CW_OK;
}

/* An order that leaves whole may lie in more parcels than one: each is packed by itself, and none leaves before all can. */
static cw_code all_may_leave(const cw_parcel_row *p, cw_error *err)
{
    return p->complete && p->unready > 0
               ? cw_error_set(err, CW_CONFLICT,
                              "order %s leaves whole or not at all, and a part of it lies in another parcel "
                              "that cannot leave yet: pack that one first",
                              p->order)
               : CW_OK;
}

/* What a parcel should hold of each lot, against the labels scanned. */
typedef struct tally {
    cw_map seen; /* lot code to labels scanned */
    cw_text wrong;
    bool failed;
} tally;

static size_t lot_length(const char *label)
{
    return strcspn(label, " \t@|/");
}

static void hold_against(void *context, const cw_parcel_lot *r)
{
    tally *t = context;
    int64_t *seen = cw_map_put(&t->seen, r->lot, strlen(r->lot), NULL);
    t->failed = t->failed || seen == NULL;
    if (t->failed)
        return;
    if (*seen < r->taken)
        cw_text_addf(&t->wrong, "%s%lld of %s (lot %s) missing", t->wrong.length ? "; " : "",
                     (ll)(r->taken - *seen), r->variety, r->lot);
    else if (*seen > r->taken)
        cw_text_addf(&t->wrong, "%s%lld of %s (lot %s) too many", t->wrong.length ? "; " : "",
                     (ll)(*seen - r->taken), r->variety, r->lot);
    *seen = 0; /* what is left over belongs to no pick */
}

static void strangers(tally *t, const cw_packing_count *c)
{
    char shown[80];
    for (size_t i = 0; i < c->label_count; i++) {
        size_t length = lot_length(c->labels[i]);
        int64_t *left = cw_map_put(&t->seen, c->labels[i], length, NULL);
        if (left == NULL || *left == 0)
            continue;
        cw_text_addf(&t->wrong, "%s%lld of lot %s do not belong in it", t->wrong.length ? "; " : "",
                     (ll)*left, cw_shown(c->labels[i], length, shown));
        *left = 0;
    }
}

static cw_code check_labels(cw_nursery *n, int64_t parcel, const char *orders, const cw_packing_count *c,
                            cw_error *err)
{
    tally t = { .wrong = CW_TEXT(600) };
    for (size_t i = 0; i < c->label_count; i++) {
        int64_t *seen = cw_map_put(&t.seen, c->labels[i], lot_length(c->labels[i]), NULL);
        t.failed = t.failed || seen == NULL;
        if (seen)
            (*seen)++;
    }
    cw_code code = cw_waves_parcel_lots(n->db, parcel, hold_against, &t, err);
    if (code == CW_OK && t.failed)
        code = cw_error_memory(err);
    if (code == CW_OK)
        strangers(&t, c);
    if (code == CW_OK && t.wrong.length)
        code =
            cw_error_set(err, CW_CONFLICT, "the parcel of order %s is not right: %s", orders, t.wrong.data);
    cw_map_free(&t.seen);
    cw_text_free(&t.wrong);
    return code;
}

static cw_code check_count(const char *orders, int64_t taken, const cw_packing_count *c, cw_error *err)
{
    if (c->count == taken)
        return CW_OK;
    return cw_error_at(err, CW_CONFLICT, NULL, 0, "count",
                       "%lld counted, %lld belong in the parcel of order %s: %lld %s", (ll)c->count,
                       (ll)taken, orders, (ll)llabs(taken - c->count),
                       c->count < taken ? "missing" : "too many");
}

/* May this parcel of the slot be closed? What was counted is looked at after. */
static cw_code may_pack(cw_nursery *n, const cw_asker *who, int64_t parcel, cw_parcel_row *p, cw_error *err)
{
    cw_week now = cw_week_of(who->today);
    cw_code code = cw_waves_parcel(n->db, parcel, p, err);
    if (code != CW_OK)
        return code;
    if (strcmp(p->state, "open") != 0)
        return cw_error_set(err, CW_CONFLICT, "parcel %lld of order %s is %s already", (ll)parcel, p->order,
                            p->state);
    if (p->open_picks > 0)
        return cw_error_set(err, CW_CONFLICT, "%lld picks of order %s are not answered yet",
                            (ll)p->open_picks, p->order);
    if (p->taken == 0)
        return cw_error_set(err, CW_CONFLICT, "nothing was pulled for order %s, so there is nothing to pack",
                            p->order);
    return may_leave(n, p, p->week > now ? p->week : now, err);
}

/* `first` of those in the slot: the weights are noted with it. */
static cw_code pack_one(cw_nursery *n, const cw_asker *who, int64_t parcel, const cw_parcel_row *p,
                        const cw_packing_count *c, bool first, cw_error *err)
{
    char subject[40], after[120], boxes[32] = "";
    cw_code code = cw_waves_pack(n->db, parcel, first ? c->weight_g : 0, who->now, who->actor, err);
    for (size_t i = 0; i < c->further_count && code == CW_OK; i++)
        code = cw_waves_box_packed(n->db, parcel, (int64_t)i + 2, first ? c->further[i] : 0, err);
    if (c->further_count)
        snprintf(boxes, sizeof boxes, ", %zu boxes", c->further_count + 1);
    snprintf(subject, sizeof subject, "parcel %lld", (ll)parcel);
    snprintf(after, sizeof after, "order %s, %lld division%s, by %s%s", p->order, (ll)p->taken,
             CW_S(p->taken), c->count < 0 ? "scan" : "count", boxes);
    return code == CW_OK ? cw_audit_add(n->db, who->now, who->actor, "pack", subject, NULL, after, err)
                         : code;
}

cw_code cw_packing_in_slot(cw_nursery *n, int64_t parcel, int64_t ids[CW_SLOT_PARCELS], size_t *count,
                           cw_error *err)
{
    cw_code code = cw_waves_in_slot(n->db, parcel, ids, count, err);
    if (code == CW_OK && *count == 0)
        ids[(*count)++] = parcel;
    return code;
}

/* What lies in one slot is counted as one and closed as one; its weight is that of the box, noted once. */
static cw_code pack(cw_nursery *n, const cw_asker *who, int64_t parcel, const cw_packing_count *c,
                    cw_error *err)
{
    int64_t ids[CW_SLOT_PARCELS], taken = 0;
    size_t count = 0;
    cw_parcel_row p = { 0 };
    cw_text orders = CW_TEXT(4096);
    cw_code code = cw_packing_in_slot(n, parcel, ids, &count, err);
    for (size_t i = 0; i < count && code == CW_OK; i++) {
        code = may_pack(n, who, ids[i], &p, err);
        taken += p.taken;
        cw_text_addf(&orders, "%s%s", i ? " and " : "", p.order);
    }
    if (code == CW_OK)
        code = cw_text_check(&orders, err);
    if (code == CW_OK)
        code = c->count < 0 ? check_labels(n, ids[0], orders.data, c, err)
                            : check_count(orders.data, taken, c, err);
    for (size_t i = 0; i < count && code == CW_OK; i++) {
        code = cw_waves_parcel(n->db, ids[i], &p, err);
        if (code == CW_OK)
            code = pack_one(n, who, ids[i], &p, c, i == 0, err);
    }
    cw_text_free(&orders);
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

static bool weight_right(int64_t grams)
{
    return grams >= 0 && grams <= 1000000;
}

static cw_code weight_wrong(const char *column, int64_t grams, cw_error *err)
{
    return cw_error_at(err, CW_REFUSED, NULL, 0, column, "must be 1 to 1000000 grams: %lld", (ll)grams);
}

cw_code cw_packing_pack(cw_nursery *n, const cw_asker *who, int64_t parcel, const cw_packing_count *count,
                        cw_error *err)
{
    if (cw_packers_only(who, "pack parcels", err) != CW_OK)
        return CW_FORBIDDEN;
    if (!weight_right(count->weight_g))
        return weight_wrong("weight_g", count->weight_g, err);
    if (count->further_count > CW_PACKING_MAX_FURTHER)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "further", "a parcel has at most %d boxes",
                           CW_PACKING_MAX_FURTHER + 1);
    for (size_t i = 0; i < count->further_count; i++)
        if (!weight_right(count->further[i]))
            return weight_wrong("further", count->further[i], err);
    if (count->count < 0 && count->labels == NULL)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "count", "count the divisions, or scan their labels");
    cw_code code = cw_work_begin(n, err);
    return code == CW_OK ? cw_work_end(n, pack(n, who, parcel, count, err), err) : code;
}

static cw_code unpack_one(cw_nursery *n, const cw_asker *who, int64_t parcel, const char *why, cw_error *err)
{
    cw_parcel_row p = { 0 };
    char subject[40];
    cw_code code = cw_waves_parcel(n->db, parcel, &p, err);
    if (code == CW_OK && strcmp(p.state, "packed") != 0)
        return cw_error_set(err, CW_CONFLICT, "parcel %lld of order %s is %s", (ll)parcel, p.order, p.state);
    if (code == CW_OK)
        code = cw_waves_unpack(n->db, parcel, err);
    snprintf(subject, sizeof subject, "parcel %lld", (ll)parcel);
    if (code == CW_OK)
        code = cw_waves_event(n->db, p.order_id, who->now, who->actor, "parcel opened", NULL, why, err);
    return code == CW_OK
               ? cw_audit_add(n->db, who->now, who->actor, "open parcel", subject, "packed", NULL, err)
               : code;
}

static cw_code unpack(cw_nursery *n, const cw_asker *who, int64_t parcel, const char *why, cw_error *err)
{
    int64_t ids[CW_SLOT_PARCELS];
    size_t count = 0;
    cw_code code = cw_packing_in_slot(n, parcel, ids, &count, err);
    for (size_t i = 0; i < count && code == CW_OK; i++)
        code = unpack_one(n, who, ids[i], why, err);
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

cw_code cw_packing_unpack(cw_nursery *n, const cw_asker *who, int64_t parcel, const char *why, cw_error *err)
{
    if (cw_packers_only(who, "open parcels", err) != CW_OK)
        return CW_FORBIDDEN;
    cw_code code = cw_work_begin(n, err);
    return code == CW_OK ? cw_work_end(n, unpack(n, who, parcel, why, err), err) : code;
}

/* The order may go, but not by a carrier that is held. */
static cw_code carrier_free(cw_nursery *n, const cw_parcel_row *p, const cw_packing_sent *sent, cw_error *err)
{
    bool held = false;
    char why[301];
    if (sent->carrier == NULL || sent->carrier[0] == '\0')
        return CW_OK;
    cw_code code =
        cw_ship_carrier_held(n->db, p->order_id, sent->carrier, cw_week_of(sent->on), &held, why, err);
    return code == CW_OK && held
               ? cw_error_at(err, CW_CONFLICT, NULL, 0, "carrier",
                             "nothing is to be sent by this carrier now (%s): send the parcel of order %s by "
                             "another, or let the office overrule the hold for it",
                             why, p->order)
               : code;
}

#define LEFT_WORDS (CW_SENT_WORDS + 40)

static const char *say_left(const cw_parcel_row *p, const char *how, char out[LEFT_WORDS])
{
    snprintf(out, LEFT_WORDS, "%lld division%s on %s", (ll)p->taken, CW_S(p->taken), how);
    return out;
}

static cw_code ship_one(cw_nursery *n, const cw_asker *who, int64_t parcel, const cw_packing_sent *sent,
                        int64_t *rest, cw_error *err)
{
    cw_parcel_row p = { 0 };
    char subject[40], after[LEFT_WORDS], said[CW_SENT_WORDS];
    cw_code code = cw_waves_parcel(n->db, parcel, &p, err);
    if (code == CW_OK && strcmp(p.state, "packed") != 0)
        return cw_error_set(err, CW_CONFLICT,
                            strcmp(p.state, "open") == 0 ? "parcel %lld of order %s is not packed yet"
                                                         : "parcel %lld of order %s has gone already",
                            (ll)parcel, p.order);
    if (code == CW_OK)
        code = may_leave(n, &p, cw_week_of(sent->on), err);
    if (code == CW_OK)
        code = all_may_leave(&p, err);
    if (code == CW_OK)
        code = carrier_free(n, &p, sent, err);
    if (code == CW_OK)
        code = cw_packing_number_free(n, p.order_id, sent, NULL, err);
    if (code == CW_OK)
        code = cw_packing_write_sent(n, parcel, sent, false, err);
    snprintf(subject, sizeof subject, "parcel %lld", (ll)parcel);
    if (code == CW_OK)
        code = cw_waves_event(n->db, p.order_id, who->now, who->actor, "shipped",
                              say_left(&p, cw_packing_say_sent(sent, said), after), NULL, err);
    if (code == CW_OK && p.rest <= 0 && p.others == 0)
        code = cw_waves_order_shipped(n->db, p.order_id, err);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "ship", subject, p.order,
                            say_left(&p, cw_packing_record_sent(sent, said), after), err);
    *rest += p.rest > 0 ? p.rest : 0;
    return code;
}

/* What lies in one slot leaves as one box, under one number. */
cw_code cw_packing_ship_inside(cw_nursery *n, const cw_asker *who, int64_t parcel,
                               const cw_packing_sent *sent, int64_t *rest, cw_error *err)
{
    int64_t ids[CW_SLOT_PARCELS];
    size_t count = 0;
    cw_packing_sent as = *sent;
    *rest = 0;
    cw_code code = cw_packing_in_slot(n, parcel, ids, &count, err);
    for (size_t i = 0; i < count && code == CW_OK; i++) {
        code = ship_one(n, who, ids[i], &as, rest, err);
        as.shared = true; /* the others in the box have it from the first */
    }
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

cw_code cw_packing_ship(cw_nursery *n, const cw_asker *who, int64_t parcel, const cw_packing_sent *sent,
                        int64_t *rest, cw_error *err)
{
    if (cw_packers_only(who, "send parcels", err) != CW_OK)
        return CW_FORBIDDEN;
    cw_code code = cw_packing_day_right(who, sent->on, err);
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    return code == CW_OK ? cw_work_end(n, cw_packing_ship_inside(n, who, parcel, sent, rest, err), err)
                         : code;
}

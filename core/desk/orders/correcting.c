/* SPDX-License-Identifier: MIT */
#include "desk/orders/correcting.h"

#include "base/json.h"
#include "base/text.h"
#include "desk/nursery/based_inside.h"
#include "desk/nursery/kinds.h"
#include "desk/orders/clearing_inside.h"
#include "desk/orders/correcting_inside.h"
#include "desk/orders/ordering_inside.h"
#include "desk/ship/shipping_one_inside.h"
#include "store/audit.h"
#include "store/correcting.h"
#include "store/season.h"
#include "store/shipping.h"
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

#define SAYS 16384

/* The order's own texts, as the CSV kind calls them. */
typedef struct own_text {
    const char *name;
    size_t asked, stands, size;
    bool place; /* where the parcel goes */
    bool open;  /* of an open order only */
} own_text;
#define OWN(field, place, open)                                                                              \
    {                                                                                                        \
#field, offsetof(cw_correcting_ask, field), offsetof(cw_order_head, field),                          \
            sizeof(((cw_order_head *)0)->field), place, open                                                 \
    }
static const own_text texts[] = {
    OWN(customer, true, false),  OWN(name2, true, false),   OWN(email, false, false),
    OWN(phone, false, false),    OWN(street, true, false),  OWN(town, true, false),
    OWN(postcode, true, false),  OWN(country, true, false), OWN(region, true, false),
    OWN(language, false, false), OWN(zone, false, true),
};
#define TEXTS (sizeof texts / sizeof texts[0])

static const char *asked_of(const cw_correcting_ask *a, const own_text *f)
{
    return *(const char *const *)(const void *)((const char *)a + f->asked);
}

static char *standing(cw_order_head *h, const own_text *f)
{
    return (char *)h + f->stands;
}

static const cw_holds *holds_of(const char *name)
{
    const cw_kind *k = &cw_kinds[CW_ORDERS];
    for (size_t c = 0; c < k->width; c++)
        if (strcmp(k->columns[c].name, name) == 0)
            return &k->columns[c].holds;
    return NULL; /* a name of the table above is one of the kind's */
}

/* A value as a file may give it; "" for none. */
static cw_code read_text(const own_text *f, const char *typed, char out[CW_MAX_NAME + 1], cw_error *err)
{
    const cw_holds *h = holds_of(f->name);
    cw_value v = { .t = "" };
    char why[CW_WHY_BYTES];
    size_t n = strlen(typed);
    out[0] = '\0';
    if (n == 0)
        return CW_OK;
    if (!cw_value_parse(h, typed, n, &v))
        return cw_error_at(err, CW_REFUSED, NULL, 0, f->name, "%s", cw_value_why(h, typed, n, why));
    cw_copy(out, CW_MAX_NAME + 1, h->type == CW_COUNTRY_T ? v.t : typed);
    return CW_OK;
}

/* One change, for the event: what stood there and what stands there now. */
static void note(cw_correction *c, const char *name, const char *before, const char *after)
{
    cw_text_addf(&c->fields, "%s%s", c->fields.length ? ", " : "", name);
    cw_text_addf(&c->before, "%s%s %s", c->before.length ? "; " : "", name, before[0] ? before : "none");
    cw_text_addf(&c->after, "%s%s %s", c->after.length ? "; " : "", name, after[0] ? after : "none");
}

static cw_code set_text(cw_correction *c, const own_text *f, const char *typed, cw_error *err)
{
    char now[CW_MAX_NAME + 1], *stands = standing(&c->head, f);
    cw_code code = read_text(f, typed, now, err);
    if (code == CW_OK)
        cw_based_text(c->who, f->name, stands);
    if (code != CW_OK || strcmp(now, stands) == 0)
        return code;
    c->open_only |= f->open;
    c->place |= f->place;
    c->week |= f->open || strcmp(f->name, "country") == 0 || strcmp(f->name, "region") == 0 ||
               strcmp(f->name, "postcode") == 0; /* of which the table of postcodes makes a zone */
    note(c, f->name, stands, now);
    code = cw_order_first(c->n->db, c->head.id, 0, f->name, stands[0] ? stands : NULL, err);
    cw_copy(stands, f->size, now);
    return code;
}

static cw_code set_wish(cw_correction *c, const char *typed, cw_error *err)
{
    const cw_holds *h = holds_of("wish_week");
    cw_value v = { .i = 0 };
    char why[CW_WHY_BYTES], before[9] = "", first[16];
    if (typed[0] && !cw_value_parse(h, typed, strlen(typed), &v))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "wish_week", "%s",
                           cw_value_why(h, typed, strlen(typed), why));
    if (typed[0] && !cw_kind_week_in_season(c->n->season.ship, (cw_week)v.i))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "wish_week", CW_WEEK_OUTSIDE ": %s", typed);
    if (c->head.wish_week)
        cw_week_format(c->head.wish_week, before);
    cw_based_text(c->who, "wish_week", before);
    if ((cw_week)v.i == c->head.wish_week)
        return CW_OK;
    c->open_only = c->week = true;
    note(c, "wish_week", before, typed);
    snprintf(first, sizeof first, "%lld", (long long)c->head.wish_week);
    cw_code code =
        cw_order_first(c->n->db, c->head.id, 0, "wish_week", c->head.wish_week ? first : NULL, err);
    c->head.wish_week = (cw_week)v.i;
    return code;
}

static const char *paid_word(int paid)
{
    return paid < 0 ? "" : paid ? "yes" : "no";
}

static cw_code set_paid(cw_correction *c, const char *typed, cw_error *err)
{
    int paid = strcmp(typed, "yes") == 0 ? 1 : strcmp(typed, "no") == 0 ? 0 : -1;
    if (paid < 0 && typed[0])
        return cw_error_at(err, CW_REFUSED, NULL, 0, "paid", "must be yes or no: %s", typed);
    cw_based_text(c->who, "paid", paid_word(c->head.paid));
    if (paid == c->head.paid)
        return CW_OK;
    note(c, "paid", paid_word(c->head.paid), typed);
    if (paid == 0)
        cw_correction_say(c, "What was not paid is not owed back.");
    cw_code code = cw_order_first(c->n->db, c->head.id, 0, "paid",
                                  c->head.paid < 0 ? NULL
                                  : c->head.paid   ? "1"
                                                   : "0",
                                  err);
    c->head.paid = paid;
    return code;
}

/* Everything that is the order's own; nothing is written to it yet. */
static cw_code read_own(cw_correction *c, const cw_correcting_ask *a, cw_error *err)
{
    cw_code code = CW_OK;
    for (size_t i = 0; i < TEXTS && code == CW_OK; i++)
        if (asked_of(a, &texts[i]))
            code = set_text(c, &texts[i], asked_of(a, &texts[i]), err);
    if (code == CW_OK && a->wish_week)
        code = set_wish(c, a->wish_week, err);
    if (code == CW_OK && a->paid)
        code = set_paid(c, a->paid, err);
    if (code == CW_OK)
        code = cw_based_hold(c->who, "the order", err);
    if (code == CW_OK && c->open_only)
        code = cw_ordering_be_open(&c->head, err);
    return code;
}

/* What of the order is under way with the old name or place on it? */
static cw_code say_parcels(cw_correction *c, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_order_parcels(c->n->db, c->head.id, &t, err);
    int slot = cw_table_column(&t, "slot"), state = cw_table_column(&t, "state"),
        tracking = cw_table_column(&t, "tracking"), on = cw_table_column(&t, "shipped_on");
    for (size_t i = 0; code == CW_OK && i < cw_table_rows(&t); i++) {
        const char *is = cw_table_text(&t, i, state), *number = cw_table_text(&t, i, tracking);
        char day[11] = "";
        if (strcmp(is, "packed") == 0)
            cw_correction_say(c, "The parcel in slot %lld is closed: print its slip and its label again.",
                              (long long)cw_table_int(&t, i, slot));
        else if (strcmp(is, "open") == 0)
            cw_correction_say(c, "If the slip for slot %lld is printed already, print it again.",
                              (long long)cw_table_int(&t, i, slot));
        else {
            cw_day_format((cw_day)cw_table_int(&t, i, on), day);
            cw_correction_say(
                c, "The parcel that left on %s%s%s has the old name and address: tell the carrier.", day,
                number && number[0] ? " as " : "", number ? number : "");
        }
    }
    cw_table_free(&t);
    return code;
}

/* What keeps it back now, and did not before. */
static cw_code say_gates(cw_correction *c, const cw_ship_gates *was, cw_error *err)
{
    cw_ship_gates now;
    cw_code code = cw_ship_gates_read(c->n->db, c->head.id, &now, err);
    if (code != CW_OK)
        return code;
    if (now.blocked[0] && strcmp(now.blocked, was->blocked) != 0)
        cw_correction_say(c, "It must not leave: %s.", now.blocked);
    if (now.warning[0] && strcmp(now.warning, was->warning) != 0)
        cw_correction_say(c, "The destination table warns: %s.", now.warning);
    cw_order_head head;
    code = cw_order_read(c->n->db, c->head.number, &head, err);
    if (code == CW_OK && head.kept_unpaid && !c->head.kept_unpaid)
        cw_correction_say(c, "It is kept back until it is paid.");
    if (now.frost[0] && strcmp(now.frost, was->frost) != 0)
        cw_correction_say(c, "It is kept back by a %s.", now.frost);
    return code;
}

void cw_correction_say(cw_correction *c, const char *format, ...)
{
    char line[600];
    va_list args;
    va_start(args, format);
    vsnprintf(line, sizeof line, format, args);
    va_end(args);
    cw_text_addf(&c->says, "%s%s", c->says.length ? "\n" : "", line);
}

/* On record: who may read the order reads both values; the audit, from which nothing can be removed, has the fields' names. */
static cw_code record(cw_correction *c, const char *why, cw_error *err)
{
    char subject[64];
    cw_order_event e = { .order_id = c->head.id,
                         .at = c->who->now,
                         .actor = c->who->actor,
                         .kind = "corrected",
                         .before = c->before.data,
                         .after = c->after.data,
                         .note = why };
    snprintf(subject, sizeof subject, "order %s", c->head.number);
    cw_code code = cw_text_check(&c->before, err);
    if (code == CW_OK)
        code = cw_text_check(&c->after, err);
    if (code == CW_OK)
        code = cw_order_event_add(c->n->db, &e, err);
    return code == CW_OK ? cw_audit_add(c->n->db, c->who->now, c->who->actor, "correct", subject, NULL,
                                        c->fields.data, err)
                         : code;
}

static cw_code correct(cw_correction *c, const char *order, const cw_correcting_ask *a, cw_error *err)
{
    cw_ship_gates gates = { .blocked = "" };
    cw_code code = cw_order_read(c->n->db, order, &c->head, err);
    if (c->head.zone_by_range)
        c->head.zone[0] = '\0'; /* not the order's own */
    if (code == CW_OK)
        code = cw_ship_gates_read(c->n->db, c->head.id, &gates, err);
    if (code == CW_OK)
        code = read_own(c, a, err);
    if (code == CW_OK)
        code = cw_text_check(&c->fields, err); /* what could not be noted down is not done either */
    bool own = c->fields.length > 0;
    if (code == CW_OK && own)
        code = cw_order_correct(c->n->db, &c->head, err);
    if (code == CW_OK && a->consent)
        code = cw_correction_consent(c, a, err);
    if (code != CW_OK || c->fields.length == 0)
        return code;
    if (c->place)
        code = say_parcels(c, err);
    if (code == CW_OK && own && strcmp(c->head.state, "open") == 0)
        code = say_gates(c, &gates, err);
    if (code == CW_OK && c->week && strcmp(c->head.state, "open") == 0)
        code = cw_shipping_again(c->n, c->who, c->head.id, &c->says, err);
    if (code == CW_OK)
        code = record(c, a->why && a->why[0] ? a->why : NULL, err);
    return code == CW_OK ? cw_season_touch(c->n->db, false, true, err) : code;
}

/* The sentences, a line each, as a list. */
static cw_code tell(const cw_text *says, json_t **out, cw_error *err)
{
    json_t *list = json_array();
    for (const char *at = says->data ? says->data : ""; *at;) {
        size_t n = strcspn(at, "\n");
        cw_json_append_take(&list, json_stringn(at, n));
        at += n + (at[n] == '\n');
    }
    *out = list;
    return list ? cw_text_check(says, err) : cw_error_memory(err);
}

cw_code cw_correcting_set(cw_nursery *n, const cw_asker *who, const char *order, const cw_correcting_ask *ask,
                          json_t **tells, cw_error *err)
{
    cw_correction c = { .n = n,
                        .who = who,
                        .fields = CW_TEXT(SAYS),
                        .before = CW_TEXT(SAYS),
                        .after = CW_TEXT(SAYS),
                        .says = CW_TEXT(SAYS) };
    *tells = NULL;
    /* A closed season has no open order: what is the person's may still be put right, for refunds and claims. */
    bool open_only = ask->zone || ask->wish_week || ask->consent;
    cw_code code = cw_office_only(who, "correct orders", err);
    if (code == CW_OK)
        code = open_only ? cw_work_begin(n, err) : cw_work_begin_after(n, err);
    if (code == CW_OK) {
        code = correct(&c, order, ask, err);
        if (code == CW_OK)
            code = tell(&c.says, tells, err);
        code = cw_work_end(n, code, err);
    }
    if (code != CW_OK) {
        json_decref(*tells);
        *tells = NULL;
    }
    cw_text_free(&c.fields);
    cw_text_free(&c.before);
    cw_text_free(&c.after);
    cw_text_free(&c.says);
    return code;
}

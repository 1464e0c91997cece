/* SPDX-License-Identifier: MIT */
#include "desk/orders/ordering.h"

#include "base/limits.h"
#include "desk/nursery/based_inside.h"
#include "desk/nursery/past_inside.h"
#include "desk/nursery/roles_inside.h"
#include "desk/orders/clearing_inside.h"
#include "desk/orders/ordering_inside.h"
#include "desk/share/standing_inside.h"
#include "store/allocations.h"
#include "store/audit.h"
#include "store/claims.h"
#include "store/offers.h"
#include "store/orders.h"
#include "store/season.h"
#include "store/waves.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

const cw_shape cw_ordering_find_shape = { .of = &cw_order_find_shape };

cw_code cw_ordering_find(cw_nursery *n, const cw_asker *who, const cw_ordering_query *w, cw_table *out,
                         bool *more, cw_error *err)
{
    cw_order_query q = { .text = w->text && w->text[0] ? w->text : NULL,
                         .state = w->state,
                         .week = w->week,
                         .most = CW_ORDERING_PAGE,
                         .from = (w->page < 1 ? 0 : w->page - 1) * CW_ORDERING_PAGE };
    cw_code code = CW_OK;
    (void)who;
    *more = false;
    memset(out, 0, sizeof *out);
    if (w->variety)
        code = cw_order_variety(n->db, w->variety, &q.variety_id, err);
    return code == CW_OK ? cw_order_find(n->db, &q, out, more, err) : code;
}

const cw_shape cw_ordering_buyers_shape = { .of = &cw_order_buyers_shape };

cw_code cw_ordering_buyers(cw_nursery *n, const cw_asker *who, const char *text, cw_table *out, cw_error *err)
{
    cw_table_init(out, cw_order_buyers_shape.columns, cw_order_buyers_shape.width);
    if (cw_office_only(who, "look buyers up", err) != CW_OK)
        return CW_FORBIDDEN;
    cw_code code = CW_OK;
    for (size_t i = cw_past_count(n); code == CW_OK && i-- > 0;)
        code = cw_order_buyers(cw_past_at(n, i)->db, text, CW_ORDERING_BUYERS, out, err);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

static cw_code need_why(const char *why, const char *what, cw_error *err)
{
    if (why && why[0])
        return CW_OK;
    return cw_error_at(err, CW_REFUSED, NULL, 0, "why", "%s needs a reason", what);
}

/* What a line is promised, ready to be taken back in the order substitutes, then its own. */
typedef struct promised {
    int64_t variety[64], quantity[64];
    size_t count;
    int64_t all, fixed; /* fixed: pulled or being pulled */
} promised;

static void note_promise(void *context, const cw_promise_row *row)
{
    promised *p = context;
    p->all += row->quantity;
    p->fixed += row->picked + row->pulling;
    if (row->quantity > row->picked + row->pulling && p->count < sizeof p->variety / sizeof p->variety[0]) {
        p->variety[p->count] = row->variety_id;
        p->quantity[p->count++] = row->quantity - row->picked - row->pulling;
    }
}

/* Takes back up to `excess` of what is listed, from the end: its own variety stands first, so it goes last. */
static cw_code shrink_listed(cw_nursery *n, const cw_asker *who, const cw_order_line *line, const promised *p,
                             int64_t excess, const char *why, cw_error *err)
{
    cw_code code = CW_OK;
    for (size_t k = p->count; k-- > 0 && excess > 0 && code == CW_OK;) {
        int64_t part = p->quantity[k] < excess ? p->quantity[k] : excess;
        cw_taking_back t = { line->id, p->variety[k], part, who->now, who->actor, why };
        code = cw_promise_take_back(n->db, &t, err);
        excess -= part;
    }
    return code;
}

/* Brings what is promised down to `quantity`. */
static cw_code shrink_promise(cw_nursery *n, const cw_asker *who, const cw_order_line *line, int64_t quantity,
                              const char *why, cw_error *err)
{
    for (;;) { /* a list holds 64 varieties; an assortment may have more */
        promised p = { .count = 0 };
        cw_code code = cw_promises_each(n->db, line->id, note_promise, &p, err);
        if (code != CW_OK || p.all <= quantity)
            return code;
        if (p.fixed > quantity)
            return cw_error_set(err, CW_CONFLICT,
                                "%lld of line %d %s pulled or on an open pick list; undo those picks first",
                                (long long)p.fixed, line->line, p.fixed == 1 ? "is" : "are");
        code = shrink_listed(n, who, line, &p, p.all - quantity, why, err);
        if (code != CW_OK)
            return code;
    }
}

static cw_code add_event(cw_nursery *n, const cw_asker *who, const cw_order_head *head,
                         const cw_order_line *line, const char *kind, int64_t after, const char *why,
                         cw_error *err)
{
    char was[24], is[24], subject[96];
    snprintf(was, sizeof was, "%lld", (long long)(line ? line->quantity : 0));
    snprintf(is, sizeof is, "%lld", (long long)after);
    cw_order_event e = { head->id, line ? line->id : 0,      who->now,         who->actor,
                         kind,     line ? was : head->state, line ? is : kind, why };
    if (line)
        snprintf(subject, sizeof subject, "order %s line %d", head->number, line->line);
    else
        snprintf(subject, sizeof subject, "order %s", head->number);
    cw_code code = cw_order_event_add(n->db, &e, err);
    return code == CW_OK ? cw_audit_add(n->db, who->now, who->actor, kind, subject, e.before, e.after, err)
                         : code;
}

cw_code cw_ordering_ask(cw_nursery *n, const cw_asker *who, const cw_order_line *line, int64_t quantity,
                        cw_error *err)
{
    cw_offer offer = { 0 };
    cw_code code = CW_OK;
    int64_t more = quantity - line->quantity;
    if (more > 0 && line->variety_id)
        code = cw_offer_read(n->db, line->variety_id, &offer, err);
    /* As when orders are loaded: a variety that was never offered has no limit, and what is sold of it is noted as allowed. */
    if (code == CW_OK && more > 0 && line->variety_id && !offer.released && offer.sold + more > offer.beyond)
        code = cw_order_leave(n->db, line->variety_id, offer.sold + more - offer.beyond, who->now, who->actor,
                              "ordered before anything was released", err);
    return code == CW_OK ? cw_order_set_quantity(n->db, line, quantity, err) : code;
}

cw_code cw_ordering_set_line(cw_nursery *n, const cw_asker *who, const cw_order_head *head,
                             const cw_order_line *line, int64_t quantity, const char *why, cw_error *err)
{
    cw_code code = quantity < line->quantity ? shrink_promise(n, who, line, quantity, why, err) : CW_OK;
    if (code == CW_OK)
        code = cw_ordering_ask(n, who, line, quantity, err);
    return code == CW_OK
               ? add_event(n, who, head, line, quantity == 0 ? "cancelled" : "changed", quantity, why, err)
               : code;
}

cw_code cw_ordering_be_open(const cw_order_head *head, cw_error *err)
{
    if (strcmp(head->state, "open") == 0)
        return CW_OK;
    return cw_error_set(err, CW_CONFLICT, "order %s is %s; it can no longer be changed", head->number,
                        head->state);
}

static cw_code line_still(const cw_asker *who, const cw_order_head *head, const cw_order_line *l,
                          cw_error *err)
{
    char what[96];
    snprintf(what, sizeof what, "the quantity of line %d of order %s", l->line, head->number);
    cw_based_int(who, "quantity", l->quantity);
    return cw_based_hold(who, what, err);
}

/* Cancels a line as far as it has not left. */
static cw_code cancel_line(cw_nursery *n, const cw_asker *who, const cw_order_head *head,
                           const cw_order_line *l, const char *why, cw_error *err)
{
    int64_t left = 0;
    cw_code code = cw_clearing_clear(n, who, head->id, l->id, 0, "cancelled", &left, err);
    if (code == CW_OK && left > 0 && head->replaces[0])
        code = cw_error_set(err, CW_CONFLICT,
                            "%lld of order %s have left; a replacement goes whole or not at all",
                            (long long)left, head->number);
    if (code == CW_OK && l->quantity > left)
        code = cw_ordering_set_line(n, who, head, l, left, why, err);
    return code == CW_OK && head->replaces[0] ? cw_claim_open_again(n->db, head->id, l->line, err) : code;
}

/* Cancels the lines, or only one of them. */
static cw_code cancel_lines(cw_nursery *n, const cw_asker *who, const cw_order_head *head, int line,
                            const char *why, cw_error *err)
{
    cw_order_line *lines = NULL;
    size_t count = 0;
    bool met = false;
    cw_code code = cw_order_lines(n->db, head->id, &lines, &count, err);
    for (size_t i = 0; i < count && code == CW_OK; i++) {
        if (line != 0 && lines[i].line != line)
            continue;
        met = true;
        if (line != 0)
            code = line_still(who, head, &lines[i], err);
        if (code == CW_OK && lines[i].quantity > 0)
            code = cancel_line(n, who, head, &lines[i], why, err);
    }
    if (code == CW_OK && !met && line != 0)
        code = cw_error_at(err, CW_NOT_FOUND, NULL, 0, "line", "order %s has no line %d", head->number, line);
    free(lines);
    return code;
}

cw_code cw_ordering_settle(cw_nursery *n, const cw_asker *who, const cw_order_head *head, const char *why,
                           cw_error *err)
{
    cw_order_line *lines = NULL;
    size_t count = 0;
    int64_t asked = 0, left = 0;
    cw_code code = cw_order_lines(n->db, head->id, &lines, &count, err);
    for (size_t i = 0; i < count; i++)
        asked += lines[i].quantity;
    free(lines);
    if (code == CW_OK)
        code = cw_clearing_left(n, head->id, 0, &left, err);
    if (code != CW_OK || asked > left)
        return code == CW_OK ? cw_order_raise_version(n->db, head->id, err) : code;
    if (left > 0)
        return cw_waves_order_shipped(n->db, head->id, err);
    code = cw_order_set_state(n->db, head->id, "cancelled", err);
    return code == CW_OK ? add_event(n, who, head, NULL, "cancelled", 0, why, err) : code;
}

cw_code cw_ordering_cancel(cw_nursery *n, const cw_asker *who, const char *order, int line, const char *why,
                           cw_error *err)
{
    cw_order_head head;
    cw_code code = cw_office_only(who, "cancel orders", err);
    if (code == CW_OK)
        code = need_why(why, "cancelling", err);
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = cw_order_read(n->db, order, &head, err);
    if (code == CW_OK)
        code = cw_ordering_be_open(&head, err);
    cw_based_int(who, "version", head.version);
    if (code == CW_OK)
        code = cw_based_hold(who, "the order", err);
    if (code == CW_OK)
        code = cancel_lines(n, who, &head, line, why, err);
    if (code == CW_OK)
        code = cw_ordering_settle(n, who, &head, why, err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, false, true, err);
    return cw_work_end(n, code, err);
}

cw_code cw_ordering_change(cw_nursery *n, const cw_asker *who, const char *order, int line, int64_t quantity,
                           const char *why, cw_error *err)
{
    cw_order_head head;
    cw_order_line l;
    cw_code code = cw_office_only(who, "change orders", err);
    if (code == CW_OK)
        code = need_why(why, "changing a line", err);
    if (code == CW_OK && (quantity < 1 || quantity > CW_MAX_LINE_QUANTITY))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "quantity",
                           "must lie between 1 and %d: %lld (cancel the line instead)", CW_MAX_LINE_QUANTITY,
                           (long long)quantity);
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = cw_order_line_find(n->db, order, line, &head, &l, err);
    if (code == CW_OK)
        code = cw_ordering_be_open(&head, err);
    if (code == CW_OK && head.replaces[0])
        code = cw_error_set(
            err, CW_CONFLICT,
            "order %s replaces what was claimed of order %s: cancel it and answer the claim anew",
            head.number, head.replaces);
    if (code == CW_OK)
        code = line_still(who, &head, &l, err);
    if (code == CW_OK && quantity > l.quantity && quantity * l.unit_price > CW_MAX_CENTS)
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "quantity",
                           "the line would be worth more than %lld in all", CW_MAX_CENTS / 100);
    if (code == CW_OK && quantity != l.quantity) {
        code = cw_ordering_set_line(n, who, &head, &l, quantity, why, err);
        if (code == CW_OK)
            code = cw_order_raise_version(n->db, head.id, err);
        if (code == CW_OK)
            code = cw_season_touch(n->db, false, true, err);
    }
    return cw_work_end(n, code, err);
}

static cw_code grant(cw_nursery *n, const cw_asker *who, const char *variety, int64_t quantity,
                     const char *why, int64_t *left, cw_error *err)
{
    int64_t id = 0;
    cw_offer o = { 0 };
    char after[CW_MAX_NOTE + 32];
    cw_code code = cw_order_variety(n->db, variety, &id, err);
    if (code == CW_OK)
        code = cw_offer_read(n->db, id, &o, err);
    *left = o.offered + o.beyond + quantity - o.sold;
    if (code == CW_OK && (o.beyond + quantity < 0 || *left < 0))
        return cw_error_at(err, CW_CONFLICT, NULL, 0, "quantity",
                           "offered of %s: %lld, and beyond that may be sold: %lld; sold: %lld. Only what is "
                           "not sold can be taken back",
                           variety, (long long)o.offered, (long long)o.beyond, (long long)o.sold);
    if (code == CW_OK)
        code = cw_order_leave(n->db, id, quantity, who->now, who->actor, why, err);
    snprintf(after, sizeof after, "%+lld: %s", (long long)quantity, why);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "oversell", variety, NULL, after, err);
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

cw_code cw_ordering_oversell(cw_nursery *n, const cw_asker *who, const char *variety, int64_t quantity,
                             const char *why, int64_t *left, cw_error *err)
{
    cw_code code = cw_owner_only(who, "allow more to be sold than is offered", err);
    if (code == CW_OK)
        code = need_why(why, "selling more than is offered", err);
    if (code == CW_OK && (quantity == 0 || quantity > CW_MAX_DIVISIONS || quantity < -CW_MAX_DIVISIONS))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "quantity", "must be a number of divisions, not 0: %lld",
                           (long long)quantity);
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    return code == CW_OK ? cw_work_end(n, grant(n, who, variety, quantity, why, left, err), err) : code;
}

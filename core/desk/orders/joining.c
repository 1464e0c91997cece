/* SPDX-License-Identifier: MIT */
#include "desk/orders/joining.h"

#include "base/json.h"
#include "base/text.h"
#include "desk/nursery/nursery_inside.h"
#include "desk/orders/ordering_inside.h"
#include "store/audit.h"
#include "store/joining.h"
#include "store/orders.h"
#include "store/season.h"
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

typedef long long ll;

static const cw_column joining_beside_columns[] = {
    { "order", CW_TEXT_T },
    { "customer", CW_TEXT_T, .null = true },
    { "week", CW_WEEK_T, .null = true },
    { "lines", CW_INT_T },
    { "quantity", CW_INT_T },
    { "same_place", CW_BOOL_T, .says = "It goes to the same address." },
    { "together", CW_BOOL_T, .says = "It travels with this order." },
    { "pulled", CW_BOOL_T, .says = "Something of it is on a list, or was: it cannot be merged." },
    { "merged", CW_BOOL_T, .says = "It was put into this order." },
};
const cw_shape cw_joining_beside_shape = CW_ROWS(joining_beside_columns);

cw_code cw_joining_beside(cw_nursery *n, const cw_asker *who, const char *order, cw_table *out, cw_error *err)
{
    cw_order_head head = { .id = 0 };
    cw_beside *rows = NULL;
    size_t count = 0;
    cw_table_init(out, joining_beside_columns, CW_WIDTH(joining_beside_columns));
    cw_code code = cw_office_only(who, "see a buyer's other orders", err);
    if (code == CW_OK)
        code = cw_order_read(n->db, order, &head, err);
    if (code == CW_OK)
        code = cw_beside_read(n->db, head.id, &rows, &count, err);
    for (size_t i = 0; i < count && code == CW_OK; i++) {
        const cw_beside *b = &rows[i];
        cw_put_text(out, b->number);
        cw_put_text(out, b->customer[0] ? b->customer : NULL);
        if (b->week)
            cw_put_int(out, b->week);
        else
            cw_put_null(out);
        cw_put_int(out, b->lines);
        cw_put_int(out, b->asked);
        cw_put_bool(out, b->same_place);
        cw_put_bool(out, b->together);
        cw_put_bool(out, b->pulled);
        cw_put_bool(out, b->merged);
    }
    free(rows);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

/* Both orders, as one piece of work has them before it. */
typedef struct pair {
    cw_nursery *n;
    const cw_asker *who;
    cw_order_head head, other;
    cw_beside beside; /* the other, seen from the first */
    json_t *tells;
} pair;

__attribute__((format(printf, 2, 3))) static void say(pair *p, const char *format, ...)
{
    char line[400];
    va_list args;
    va_start(args, format);
    vsnprintf(line, sizeof line, format, args);
    va_end(args);
    cw_json_append_take(&p->tells, json_string(line));
}

static cw_code find(pair *p, const char *order, const char *other, cw_error *err)
{
    cw_beside *rows = NULL;
    size_t count = 0, i = 0;
    cw_code code = cw_order_read(p->n->db, order, &p->head, err);
    if (code == CW_OK)
        code = cw_order_read(p->n->db, other, &p->other, err);
    if (code == CW_OK && p->head.id == p->other.id)
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "other", "is the order itself: %s", p->other.number);
    if (code == CW_OK)
        code = cw_beside_read(p->n->db, p->head.id, &rows, &count, err);
    while (i < count && rows[i].id != p->other.id)
        i++;
    if (code == CW_OK && i < count)
        p->beside = rows[i];
    free(rows);
    if (code != CW_OK)
        return code;
    code = cw_ordering_be_open(&p->head, err);
    if (code == CW_OK && !p->beside.merged)
        code = cw_ordering_be_open(&p->other, err);
    if (code == CW_OK && i == count)
        code = cw_error_set(err, CW_CONFLICT,
                            "orders %s and %s are not of one buyer: neither the e-mail nor the name and the "
                            "postcode are the same",
                            p->head.number, p->other.number);
    if (code == CW_OK && (p->head.replaces[0] || p->other.replaces[0]))
        code = cw_error_set(err, CW_CONFLICT, "order %s replaces what was claimed, and stays by itself",
                            p->head.replaces[0] ? p->head.number : p->other.number);
    return code;
}

/* The events of both, and the audit. */
static cw_code record(pair *p, const char *kind, cw_error *err)
{
    char subject[64];
    snprintf(subject, sizeof subject, "order %s", p->head.number);
    cw_order_event e = { p->head.id, 0, p->who->now, p->who->actor, kind, NULL, p->other.number, NULL };
    cw_code code = cw_order_event_add(p->n->db, &e, err);
    e.order_id = p->other.id;
    e.after = p->head.number;
    if (code == CW_OK)
        code = cw_order_event_add(p->n->db, &e, err);
    if (code == CW_OK)
        code = cw_order_raise_version(p->n->db, p->head.id, err);
    return code == CW_OK
               ? cw_audit_add(p->n->db, p->who->now, p->who->actor, kind, subject, NULL, p->other.number, err)
               : code;
}

static cw_code may_merge(pair *p, cw_error *err)
{
    int64_t inside = 0;
    cw_code code = cw_merged_here(p->n->db, p->other.id, &inside, err);
    if (code != CW_OK)
        return code;
    if (inside > 0)
        return cw_error_set(err, CW_CONFLICT,
                            "order %s has another order in it already: put %s into %s instead",
                            p->other.number, p->head.number, p->other.number);
    if (p->beside.pulled)
        return cw_error_set(err, CW_CONFLICT,
                            "something of order %s is on a list already: let both go in one parcel instead",
                            p->other.number);
    if (p->head.paid != p->other.paid && (p->head.paid == 0 || p->other.paid == 0))
        return cw_error_set(err, CW_CONFLICT,
                            "order %s is %s and order %s is %s: what is owed back rests on that; say it of "
                            "both, then put them together",
                            p->head.number, p->head.paid ? "paid" : "not paid", p->other.number,
                            p->other.paid ? "paid" : "not paid");
    if (strcmp(p->head.tier, p->other.tier) != 0)
        return cw_error_set(err, CW_CONFLICT, "order %s is %s and order %s is %s", p->head.number,
                            p->head.tier, p->other.number, p->other.tier);
    return CW_OK;
}

static cw_code merge(pair *p, cw_error *err)
{
    int64_t last = 0;
    cw_code code = may_merge(p, err);
    if (code == CW_OK)
        code = cw_together_leave(p->n->db, p->other.id, err);
    if (code == CW_OK)
        code = cw_join_last_line(p->n->db, p->head.id, &last, err);
    if (code == CW_OK && last + p->beside.lines > CW_MAX_LINES_PER_ORDER)
        code = cw_error_set(err, CW_CONFLICT, "together they would have more than %d lines",
                            CW_MAX_LINES_PER_ORDER);
    if (code == CW_OK)
        code = cw_join_lines(p->n->db, p->other.id, p->head.id, last, err);
    if (code != CW_OK)
        return code;
    say(p, "%lld line%s of order %s %s in order %s now, with all that is promised.", (ll)p->beside.lines,
        p->beside.lines == 1 ? "" : "s", p->other.number, p->beside.lines == 1 ? "stands" : "stand",
        p->head.number);
    if (p->other.ship_week && p->other.ship_week != p->head.ship_week) {
        char was[9], is[9] = "none yet";
        cw_week_format(p->other.ship_week, was);
        if (p->head.ship_week)
            cw_week_format(p->head.ship_week, is);
        say(p, "Its week was %s; the order's is %s.", was, is);
    }
    if (!p->beside.same_place)
        say(p, "Order %s had another address: all goes to that of order %s.", p->other.number,
            p->head.number);
    if (p->other.ship_complete != p->head.ship_complete)
        say(p, "Order %s leaves %s.", p->head.number,
            p->head.ship_complete ? "whole or not at all, with these lines" : "as it is ready");
    return record(p, "merged", err);
}

static cw_code unmerge(pair *p, cw_error *err)
{
    bool pulled = false;
    if (!p->beside.merged)
        return cw_error_set(err, CW_CONFLICT, "order %s was not put into order %s", p->other.number,
                            p->head.number);
    cw_code code = cw_join_pulled(p->n->db, p->other.id, &pulled, err);
    if (code == CW_OK && pulled)
        code = cw_error_set(err, CW_CONFLICT,
                            "something that came from order %s is on a list already: it stays in order %s",
                            p->other.number, p->head.number);
    if (code == CW_OK)
        code = cw_join_return(p->n->db, p->other.id, err);
    return code == CW_OK ? record(p, "unmerged", err) : code;
}

/* Where they lie in lists that are there already: in the first slot of theirs, and `alone` (NULL: nobody) in its own. A packer must
 * know. */
static cw_code lie(pair *p, int64_t leader, const char *alone, cw_error *err)
{
    cw_together_parcel *rows = NULL;
    size_t count = 0;
    int64_t wave = 0, shared = 0;
    cw_code code = cw_together_parcels(p->n->db, leader, &rows, &count, err);
    for (size_t i = 0; i < count && code == CW_OK; i++) {
        const cw_together_parcel *r = &rows[i];
        bool own = alone && strcmp(r->order, alone) == 0;
        if (!own && r->wave != wave) {
            wave = r->wave;
            shared = r->slot;
        }
        int64_t to = own ? r->slot : shared;
        if (strcmp(r->state, "open") != 0)
            code = cw_error_set(err, CW_CONFLICT,
                                "the parcel of order %s in slot %lld is closed: open it again first",
                                r->order, (ll)r->lies);
        if (code != CW_OK || r->lies == to)
            continue;
        code = cw_together_lie(p->n->db, r->id, to, err);
        say(p, "Wave %lld: what lies in slot %lld for order %s goes into slot %lld.", (ll)r->wave,
            (ll)r->lies, r->order, (ll)to);
    }
    free(rows);
    return code;
}

static cw_code together(pair *p, cw_error *err)
{
    int64_t leader = 0;
    if (!p->beside.same_place)
        return cw_error_set(err, CW_CONFLICT, "orders %s and %s go to different addresses", p->head.number,
                            p->other.number);
    if (p->head.ship_week != p->other.ship_week)
        return cw_error_set(err, CW_CONFLICT,
                            "orders %s and %s leave in different weeks: give both the same week first",
                            p->head.number, p->other.number);
    if (p->beside.together)
        return CW_OK;
    cw_code code = cw_together_leader(p->n->db, p->head.id, &leader, err);
    if (code == CW_OK)
        code = cw_together_leave(p->n->db, p->other.id, err);
    if (code == CW_OK)
        code = cw_together_join(p->n->db, p->other.id, leader, err);
    if (code == CW_OK)
        code = lie(p, leader, NULL, err);
    return code == CW_OK ? record(p, "together", err) : code;
}

static cw_code apart(pair *p, cw_error *err)
{
    int64_t leader = 0;
    if (!p->beside.together)
        return cw_error_set(err, CW_CONFLICT, "orders %s and %s do not travel together", p->head.number,
                            p->other.number);
    cw_code code = cw_together_leader(p->n->db, p->other.id, &leader, err);
    if (code == CW_OK)
        code = lie(p, leader, p->other.number, err);
    if (code == CW_OK)
        code = cw_together_leave(p->n->db, p->other.id, err);
    return code == CW_OK ? record(p, "apart", err) : code;
}

cw_code cw_joining_set(cw_nursery *n, const cw_asker *who, const char *order, const char *other,
                       cw_joining_what what, json_t **tells, cw_error *err)
{
    static cw_code (*const does[])(pair *, cw_error *) = {
        [CW_MERGE] = merge, [CW_UNMERGE] = unmerge, [CW_TOGETHER] = together, [CW_APART] = apart
    };
    pair p = { .n = n, .who = who, .tells = json_array() };
    *tells = NULL;
    cw_code code = cw_office_only(who, "put orders together", err);
    if (code == CW_OK && p.tells == NULL)
        code = cw_error_memory(err);
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    if (code != CW_OK) {
        json_decref(p.tells);
        return code;
    }
    code = find(&p, order, other, err);
    if (code == CW_OK)
        code = does[what](&p, err);
    if (code == CW_OK && p.tells == NULL)
        code = cw_error_memory(err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, false, true, err);
    code = cw_work_end(n, code, err);
    if (code == CW_OK)
        *tells = p.tells;
    else
        json_decref(p.tells);
    return code;
}

/* SPDX-License-Identifier: MIT */
#include "desk/orders/rest.h"

#include "base/text.h"
#include "desk/nursery/nursery_inside.h"
#include "desk/orders/ordering_inside.h"
#include "desk/pick/picking_inside.h"
#include "store/allocations.h"
#include "store/clearing.h"
#include "store/orders.h"
#include "store/rows.h"
#include "store/season.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static const cw_column rest_list_columns[] = {
    { "order", CW_TEXT_T },
    { "customer", CW_TEXT_T, .null = true },
    { "week", CW_WEEK_T, .null = true },
    { "lines", CW_INT_T },
    { "short", CW_INT_T, .says = "Divisions that closing takes off the order." },
    { "refund", CW_MONEY_T },
    { "left", CW_INT_T, .says = "Divisions of the order that have gone." },
    { "what", CW_TEXT_T },
};
const cw_shape cw_rest_list_shape = CW_ROWS(rest_list_columns);

cw_code cw_rest_list(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err)
{
    cw_table_init(out, rest_list_columns, CW_WIDTH(rest_list_columns));
    cw_code code = cw_office_only(who, "see what orders still wait for", err);
    return code == CW_OK ? cw_rows_fill(n->db, "clearing.rests", out, err, "") : code;
}

/* What a line is sure of, and of its promises those that a packer found short. */
typedef struct sure {
    cw_db *db;
    cw_error *err;
    cw_code code;
    int64_t line, sure;
    struct {
        int64_t variety, quantity;
    } gone[64];
    size_t count;
} sure;

static void note_promise(void *context, const cw_promise_row *row)
{
    sure *s = context;
    bool found_short = false;
    int64_t here = row->picked + row->pulling;
    if (s->code == CW_OK && row->quantity > here)
        s->code = cw_lying_found_short(s->db, s->line, row->variety_id, &found_short, s->err);
    if (found_short && s->count < sizeof s->gone / sizeof s->gone[0]) {
        s->gone[s->count].variety = row->variety_id;
        s->gone[s->count++].quantity = row->quantity - here;
        s->sure += here;
    } else {
        s->sure += row->quantity;
    }
}

static cw_code close_line(cw_nursery *n, const cw_asker *who, const cw_order_head *head,
                          const cw_order_line *l, const char *why, cw_rest_done *out, cw_error *err)
{
    sure s = { .db = n->db, .err = err, .line = l->id };
    cw_code code = cw_promises_each(n->db, l->id, note_promise, &s, err);
    code = code == CW_OK ? s.code : code;
    for (size_t i = 0; i < s.count && code == CW_OK; i++) {
        cw_taking_back t = { l->id, s.gone[i].variety, s.gone[i].quantity, who->now, who->actor, why };
        code = cw_promise_take_back(n->db, &t, err);
    }
    if (code != CW_OK || l->quantity <= s.sure)
        return code;
    out->divisions += l->quantity - s.sure;
    out->refund += head->paid == 0 ? 0 : (l->quantity - s.sure) * l->unit_price;
    return cw_ordering_set_line(n, who, head, l, s.sure, why, err);
}

static cw_code close_order(cw_nursery *n, const cw_asker *who, const char *order, const char *why,
                           cw_rest_done *out, cw_error *err)
{
    cw_order_head head;
    cw_order_line *lines = NULL;
    size_t count = 0;
    int64_t before = out->divisions;
    cw_code code = cw_order_read(n->db, order, &head, err);
    if (code == CW_OK)
        code = cw_ordering_be_open(&head, err);
    if (code == CW_OK && head.replaces[0])
        code =
            cw_error_set(err, CW_CONFLICT, "order %s replaces what was claimed of order %s; it has no rest",
                         head.number, head.replaces);
    if (code == CW_OK)
        code = cw_order_lines(n->db, head.id, &lines, &count, err);
    for (size_t i = 0; i < count && code == CW_OK; i++)
        code = close_line(n, who, &head, &lines[i], why, out, err);
    free(lines);
    if (code == CW_OK && out->divisions == before)
        return cw_error_set(err, CW_CONFLICT,
                            "order %s is promised all that it asks; nothing of it is to be closed",
                            head.number);
    out->orders++;
    return code == CW_OK ? cw_ordering_settle(n, who, &head, why, err) : code;
}

cw_code cw_rest_close(cw_nursery *n, const cw_asker *who, const char *const *orders, size_t count,
                      const char *why, cw_rest_done *out, cw_error *err)
{
    *out = (cw_rest_done){ 0, 0, 0 };
    const char *reason = why && why[0] ? why : "nothing more of it comes";
    cw_code code = cw_office_only(who, "close orders", err);
    if (code == CW_OK && (count < 1 || count > CW_REST_MOST))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "orders", "must name 1 to %d orders: %zu", CW_REST_MOST,
                           count);
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    for (size_t i = 0; i < count && code == CW_OK; i++)
        code = close_order(n, who, orders[i], reason, out, err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, false, true, err);
    return cw_work_end(n, code, err);
}

static cw_code settle_one(cw_nursery *n, const cw_asker *who, const cw_rest_item *item, const char *why,
                          cw_rest_settled *out, cw_error *err)
{
    cw_order_head head;
    cw_order_line line;
    int64_t added = 0;
    cw_rest_done done = { 0, 0, 0 };
    cw_picking_from from = { item->lot, item->place };
    if (item->lot) {
        cw_code filled = cw_picking_fill_in(n, who, item->parcel, &from, &added, err);
        out->filled += added;
        return filled;
    }
    cw_code code = cw_order_line_find(n->db, item->order, item->line, &head, &line, err);
    if (code == CW_OK)
        code = cw_ordering_be_open(&head, err);
    if (code == CW_OK)
        code = close_line(n, who, &head, &line, why, &done, err);
    if (code == CW_OK && done.divisions == 0)
        return cw_error_set(err, CW_CONFLICT, "line %lld of order %s is short of nothing any more",
                            (long long)item->line, head.number);
    out->refunded += done.divisions;
    out->refund += done.refund;
    return code == CW_OK ? cw_ordering_settle(n, who, &head, why, err) : code;
}

cw_code cw_rest_settle(cw_nursery *n, const cw_asker *who, const cw_rest_item *items, size_t count,
                       const char *why, cw_rest_settled *out, cw_error *err)
{
    const char *reason = why && why[0] ? why : "nothing more of it comes";
    *out = (cw_rest_settled){ 0, 0, 0 };
    cw_code code = cw_office_only(who, "settle what was found short", err);
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    for (size_t i = 0; i < count && code == CW_OK; i++)
        code = settle_one(n, who, &items[i], reason, out, err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, false, true, err);
    return cw_work_end(n, code, err);
}

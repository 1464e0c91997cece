/* SPDX-License-Identifier: MIT */
#include "desk/orders/adding.h"

#include "base/text.h"
#include "desk/nursery/nursery_inside.h"
#include "desk/orders/ordering_inside.h"
#include "desk/share/arriving.h"
#include "store/audit.h"
#include "store/intake.h"
#include "store/joining.h"
#include "store/orders.h"
#include "store/season.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

static cw_code check(const cw_adding_ask *a, const cw_for_sale *v, cw_error *err)
{
    static const char *const consents[] = { "none", "same", "any" };
    bool known = a->consent == NULL;
    for (size_t i = 0; a->consent && i < sizeof consents / sizeof consents[0]; i++)
        known = known || strcmp(a->consent, consents[i]) == 0;
    if (!known)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "consent",
                           "a line that is added allows none, same or any: %s", a->consent);
    if (v->retired)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "variety", "the variety is retired and is not sold: %s",
                           v->code);
    if (a->unit_price < 0 && v->price < 0)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "unit_price",
                           "the catalogue has no price of %s: say what it costs", v->code);
    if (a->quantity * (a->unit_price < 0 ? v->price : a->unit_price) > CW_MAX_CENTS)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "quantity",
                           "the line would be worth more than %lld in all", CW_MAX_CENTS / 100);
    return CW_OK;
}

/* On record, with how many were asked. */
static cw_code record(cw_nursery *n, const cw_asker *who, const cw_order_head *head,
                      const cw_order_line *line, const char *why, cw_error *err)
{
    char subject[96], after[96];
    snprintf(subject, sizeof subject, "order %s line %d", head->number, line->line);
    snprintf(after, sizeof after, "%lld of %s", (long long)line->quantity, line->code);
    cw_order_event e = { head->id, line->id, who->now, who->actor, "added", NULL, after, why };
    cw_code code = cw_order_event_add(n->db, &e, err);
    return code == CW_OK ? cw_audit_add(n->db, who->now, who->actor, "add line", subject, NULL, after, err)
                         : code;
}

/* A line that asks nothing yet, then what it asks, as any line that is changed: the offer decides. */
static cw_code add(cw_nursery *n, const cw_asker *who, const cw_order_head *head, const cw_adding_ask *a,
                   const cw_for_sale *v, cw_order_line *line, cw_error *err)
{
    int64_t last = 0;
    cw_line_row row = { .variety = &v->id,
                        .price = a->unit_price < 0 ? v->price : a->unit_price,
                        .consent = a->consent ? a->consent : "none" };
    cw_code code = cw_join_last_line(n->db, head->id, &last, err);
    if (code == CW_OK && last >= CW_MAX_LINES_PER_ORDER)
        code = cw_error_set(err, CW_CONFLICT, "order %s has %lld lines, which is all that an order may have",
                            head->number, (long long)last);
    *line = (cw_order_line){ .line = (int32_t)last + 1, .variety_id = v->id };
    cw_copy(line->code, sizeof line->code, v->code);
    if (code == CW_OK)
        code = cw_intake_line_add(n->db, head->id, line->line, &row, &line->id, err);
    if (code == CW_OK)
        code = cw_ordering_ask(n, who, line, a->quantity, err);
    line->quantity = a->quantity;
    if (code == CW_OK)
        code = record(n, who, head, line, a->why && a->why[0] ? a->why : NULL, err);
    if (code == CW_OK)
        code = cw_order_raise_version(n->db, head->id, err);
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

static cw_code tell(cw_nursery *n, const cw_order_head *head, const cw_order_line *line, const json_t *told,
                    json_t **out, cw_error *err)
{
    int64_t taken = 0, open = 0;
    size_t i;
    json_t *own = json_object_get(told, head->number), *waits, *tells = json_array();
    char say[160];
    cw_code code = tells ? cw_order_pulled(n->db, head->id, &taken, &open, err) : cw_error_memory(err);
    bool firm = json_integer_value(json_object_get(own, "firm")) > 0;
    if (code == CW_OK && firm) {
        snprintf(say, sizeof say, "%lld of %s %s promised.", (long long)line->quantity, line->code,
                 line->quantity == 1 ? "is" : "are");
        code = json_array_append_new(tells, json_string(say)) ? cw_error_memory(err) : CW_OK;
    }
    json_array_foreach(json_object_get(own, "waits"), i,
                       waits) if (code == CW_OK && json_array_append(tells, waits)) code =
        cw_error_memory(err);
    if (code == CW_OK && taken + open > 0 &&
        json_array_append_new(
            tells, json_string("The order is on a list already: this line waits for the next wave.")))
        code = cw_error_memory(err);
    if (code == CW_OK && (*out = json_pack("{s:i,s:O}", "line", (int)line->line, "tells", tells)) == NULL)
        code = cw_error_memory(err);
    json_decref(tells);
    return code;
}

/* The line, then what it is promised, which is a work of its own. */
static cw_code add_and_promise(cw_nursery *n, const cw_asker *who, const char *order,
                               const cw_adding_ask *ask, json_t *told, json_t **out, cw_error *err)
{
    cw_order_head head;
    cw_order_line line = { .id = 0 };
    cw_for_sale v = { .id = 0 };
    cw_arriving_done done;
    cw_error own = CW_ERROR_NONE;
    int64_t mark = -1;
    cw_code code = cw_arriving_mark(n, &mark, err);
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = cw_order_read(n->db, order, &head, err);
    if (code == CW_OK)
        code = cw_ordering_be_open(&head, err);
    if (code == CW_OK && head.replaces[0])
        code = cw_error_set(err, CW_CONFLICT, "order %s replaces what was claimed of order %s, and no more",
                            head.number, head.replaces);
    if (code == CW_OK)
        code = cw_order_for_sale(n->db, ask->variety, &v, err);
    if (code == CW_OK)
        code = check(ask, &v, err);
    if (code == CW_OK)
        code = add(n, who, &head, ask, &v, &line, err);
    code = cw_work_end(n, code, err);
    /* If that cannot be worked out the line waits, as an order would. */
    if (code == CW_OK && cw_arriving_promise(n, who, mark, 1, told, &done, &own) == CW_MACHINE)
        code = cw_error_set(err, CW_MACHINE, "%s", own.text);
    return code == CW_OK ? tell(n, &head, &line, told, out, err) : code;
}

cw_code cw_adding_line(cw_nursery *n, const cw_asker *who, const char *order, const cw_adding_ask *ask,
                       json_t **out, cw_error *err)
{
    bool own = !n->batch;
    json_t *told = NULL;
    *out = NULL;
    cw_code code = cw_office_only(who, "add to orders", err);
    if (code == CW_OK && (ask->quantity < 1 || ask->quantity > CW_MAX_LINE_QUANTITY))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "quantity", "must lie between 1 and %d: %lld",
                           CW_MAX_LINE_QUANTITY, (long long)ask->quantity);
    if (code == CW_OK && (told = json_object()) == NULL)
        code = cw_error_memory(err);
    if (code == CW_OK && own)
        code = cw_nursery_batch_begin(n, err);
    if (code != CW_OK) {
        json_decref(told);
        return code;
    }
    code = add_and_promise(n, who, order, ask, told, out, err);
    json_decref(told);
    if (own && code == CW_OK)
        code = cw_nursery_batch_commit(n, err);
    else if (own)
        cw_nursery_batch_drop(n);
    if (code != CW_OK) {
        json_decref(*out);
        *out = NULL;
    }
    return code;
}

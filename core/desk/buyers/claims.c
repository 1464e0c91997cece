/* SPDX-License-Identifier: MIT */
#include "desk/buyers/claims.h"

#include "base/limits.h"
#include "base/text.h"
#include "desk/buyers/forgetting_inside.h"
#include "desk/share/standing_inside.h"
#include "store/allocations.h"
#include "store/audit.h"
#include "store/claims.h"
#include "store/orders.h"
#include "store/season.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* The order that sends a replacement. */
typedef struct replacement {
    char number[CW_MAX_CODE + 1 + 24];
    int64_t order_id, reserve_used;
    int line; /* the last one added */
} replacement;

/* The replacement's one promise. */
static bool promise_once(void *context, cw_promise *out)
{
    cw_promise *p = context;
    *out = *p;
    p->line = 0;
    return out->line != 0;
}

/* An order of its own, promised whole: from here on it leaves as every order does, in a wave, in a parcel, with its lots. */
static cw_code send(cw_nursery *n, const cw_asker *who, const cw_claim_row *c, const cw_claim_lot *from,
                    replacement *out, cw_error *err)
{
    int64_t line = 0;
    cw_run_row run = { .at = who->now,
                       .actor = who->actor,
                       .what = "allocate",
                       .rule = "claim",
                       .supply = "counted",
                       .confidence = -1,
                       .digest = "",
                       .lines = 1,
                       .placed = c->quantity };
    cw_share_outcome all = {
        .allocated = (int32_t)c->quantity, .need = (int32_t)c->quantity, .reason = CW_SHARE_FULL, .cause = -1
    };
    cw_promise p = { .variety = from->variety_id, .quantity = c->quantity, .kind = CW_PROMISE_OWN };
    cw_code code = CW_OK;
    /* A long order number leaves no room for the claim's number behind it. */
    if (out->order_id == 0 &&
        snprintf(out->number, sizeof out->number, "%s-R%lld", c->order, (long long)c->id) > CW_MAX_CODE)
        snprintf(out->number, sizeof out->number, "R%lld", (long long)c->id);
    if (out->order_id == 0)
        code = cw_claim_order_add(n->db, c->id, out->number, who->now, &out->order_id, err);
    if (code == CW_OK)
        code =
            cw_claim_line_add(n->db, out->order_id, ++out->line, from->variety_id, c->quantity, &line, err);
    if (code == CW_OK)
        code = cw_runs_add(n->db, &run, err);
    p.line = line;
    cw_why_pack(&all, 0, &p.why);
    if (code == CW_OK)
        code = cw_promises_add(n->db, run.id, promise_once, &p, err);
    out->reserve_used = from->reserve < c->quantity ? from->reserve : c->quantity;
    return code;
}

/* Sets the replacement aside: the office may say from which lot; else the walk chooses. */
static cw_code replace(cw_nursery *n, const cw_asker *who, const cw_claim_row *c, const char *lot,
                       cw_claim_lot *from, replacement *order, cw_error *err)
{
    bool found = false;
    int64_t spare = 0;
    char before[32], after[32];
    cw_code code = cw_claim_lot_find(n->db, c->line_id, lot, c->quantity, &found, from, err);
    if (code == CW_OK && !found)
        return lot ? cw_error_at(err, CW_CONFLICT, NULL, 0, "lot",
                                 "lot %s cannot replace %lld: it is no lot of what the line received, is "
                                 "held, or has not so "
                                 "many free at one place",
                                 lot, (long long)c->quantity)
                   : cw_error_at(err, CW_CONFLICT, NULL, 0, "lot",
                                 "no lot of what the line received has %lld free; refund it",
                                 (long long)c->quantity);
    if (code == CW_OK)
        code = cw_claim_spare(n->db, from->variety_id, &spare, err);
    if (code == CW_OK && spare < c->quantity)
        return cw_error_at(
            err, CW_CONFLICT, NULL, 0, "quantity",
            "only %lld of %s are neither promised nor held back for planting; refund it, or replace fewer",
            (long long)(spare < 0 ? 0 : spare), from->variety);
    if (code == CW_OK)
        code = send(n, who, c, from, order, err);
    if (code != CW_OK || from->reserve == 0)
        return code;
    snprintf(before, sizeof before, "reserve %lld", (long long)from->reserve);
    snprintf(after, sizeof after, "reserve %lld",
             (long long)(from->reserve > c->quantity ? from->reserve - c->quantity : 0));
    code = cw_claim_use_reserve(n->db, from->variety_id, c->quantity, err);
    return code == CW_OK
               ? cw_audit_add(n->db, who->now, who->actor, "use reserve", from->variety, before, after, err)
               : code;
}

static cw_code on_record(cw_nursery *n, const cw_asker *who, const cw_claim_row *c, const cw_claim_answer *a,
                         const char *order, cw_error *err)
{
    char after[160], subject[96], amount[24];
    cw_cents_format(a->amount, amount);
    if (strcmp(a->answer, "replace") == 0)
        snprintf(after, sizeof after, "%lld replaced: order %s", (long long)c->quantity, order);
    else if (strcmp(a->answer, "refund") == 0)
        snprintf(after, sizeof after, "%lld refunded: %s", (long long)c->quantity, amount);
    else
        snprintf(after, sizeof after, "%lld refused", (long long)c->quantity);
    snprintf(subject, sizeof subject, "claim %lld of order %s", (long long)c->id, c->order);
    cw_order_event e = { c->order_id, c->line_id, who->now, who->actor, "claim", NULL, after, a->reply };
    cw_code code = cw_order_event_add(n->db, &e, err);
    return code == CW_OK ? cw_audit_add(n->db, who->now, who->actor, a->answer, subject, "open", after, err)
                         : code;
}

static cw_code answer(cw_nursery *n, const cw_asker *who, int64_t claim, const char *word, const char *lot,
                      const char *reply, replacement *order, cw_error *err)
{
    cw_claim_row c;
    cw_claim_lot from = { .id = 0 };
    order->reserve_used = 0;
    cw_code code = cw_claim_read(n->db, claim, &c, err);
    if (code == CW_OK && strcmp(c.answer, "open") != 0)
        code =
            cw_error_set(err, CW_CONFLICT, "claim %lld is answered already: %s", (long long)claim, c.answer);
    if (code == CW_OK && strcmp(word, "replace") == 0)
        code = replace(n, who, &c, lot, &from, order, err);
    if (code != CW_OK)
        return code;
    cw_claim_answer a = { .id = claim,
                          .lot_id = lot ? from.id : 0,
                          .replacement_id = from.id ? order->order_id : 0,
                          .replacement_line = order->line,
                          .reserve_used = order->reserve_used,
                          .answer = word,
                          .reply = reply,
                          .actor = who->actor,
                          .at = who->now,
                          .amount = strcmp(word, "refund") == 0 ? c.quantity * c.unit_price : 0 };
    code = cw_claim_answer_set(n->db, &a, err);
    if (code == CW_OK)
        code = on_record(n, who, &c, &a, order->number, err);
    if (code == CW_OK && c.forgotten)
        code = cw_forgetting_numbers_off(n, c.order_id, err);
    return code == CW_OK ? cw_season_touch(n->db, from.id != 0, true, err) : code;
}

static bool is_open(const char *word)
{
    return word == NULL || word[0] == '\0' || strcmp(word, "open") == 0;
}

static cw_code check_answer(const char *word, const char *lot, const char *reply, cw_error *err)
{
    bool replaced = strcmp(word, "replace") == 0;
    if (!replaced && strcmp(word, "refund") != 0 && strcmp(word, "refused") != 0)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "answer", "must be replace, refund or refused");
    if (lot && !replaced)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "lot", "only what is replaced comes from a lot");
    if (strcmp(word, "refused") == 0 && (reply == NULL || reply[0] == '\0'))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "reply", "refusing a claim needs a reason");
    return CW_OK;
}

static cw_code add(cw_nursery *n, const cw_asker *who, const cw_claim_ask *ask, replacement *order,
                   int64_t *id, cw_error *err)
{
    cw_order_head head = { .id = 0 };
    cw_order_line line = { .id = 0 };
    int64_t received = 0, claimed = 0;
    char subject[96], after[64];
    cw_code code = cw_order_line_find(n->db, ask->order, ask->line, &head, &line, err);
    if (code == CW_OK)
        code = cw_claims_received(n->db, line.id, &received, &claimed, err);
    if (code == CW_OK && ask->quantity > received - claimed)
        code = cw_error_at(err, CW_CONFLICT, NULL, 0, "quantity",
                           "line %d of order %s received %lld, %lld of them claimed already: %lld", ask->line,
                           head.number, (long long)received, (long long)claimed, (long long)ask->quantity);
    cw_claim_row row = { .order_id = head.id, .line_id = line.id, .quantity = ask->quantity };
    if (code == CW_OK)
        code = cw_claim_add(n->db, &row, who->now, who->actor, ask->why, err);
    *id = row.id;
    snprintf(subject, sizeof subject, "claim %lld of order %s", (long long)row.id, head.number);
    snprintf(after, sizeof after, "line %d, %lld failed", ask->line, (long long)ask->quantity);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "claim", subject, NULL, after, err);
    if (code == CW_OK && !is_open(ask->answer))
        code = answer(n, who, row.id, ask->answer, ask->lot, ask->reply, order, err);
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

cw_code cw_claims_add(cw_nursery *n, const cw_asker *who, const cw_claim_ask *ask, int64_t *id, cw_error *err)
{
    cw_code code = cw_office_only(who, "take claims", err);
    *id = 0;
    if (code == CW_OK && (ask->why == NULL || ask->why[0] == '\0'))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "why", "a claim needs what the buyer says of it");
    if (code == CW_OK && (ask->quantity < 1 || ask->quantity > CW_MAX_LINE_QUANTITY))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "quantity", "must lie between 1 and %d: %lld",
                           CW_MAX_LINE_QUANTITY, (long long)ask->quantity);
    if (code == CW_OK && !is_open(ask->answer))
        code = check_answer(ask->answer, ask->lot, ask->reply, err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    replacement order = { .order_id = 0 };
    return code == CW_OK ? cw_work_end(n, add(n, who, ask, &order, id, err), err) : code;
}

typedef struct parcel_lines {
    struct {
        int line;
        int64_t quantity;
    } item[CW_MAX_LINES_PER_ORDER];
    size_t count;
    char order[CW_MAX_CODE + 1];
} parcel_lines;

static void take_line(void *context, const char *order, int line, int64_t quantity)
{
    parcel_lines *p = context;
    cw_copy(p->order, sizeof p->order, order);
    if (quantity > 0 && p->count < sizeof p->item / sizeof p->item[0]) {
        p->item[p->count].line = line;
        p->item[p->count++].quantity = quantity;
    }
}

static cw_code add_parcel(cw_nursery *n, const cw_asker *who, int64_t parcel, const cw_claim_ask *as,
                          const parcel_lines *lines, cw_claims_done *out, cw_error *err)
{
    replacement order = { .order_id = 0 };
    cw_code code = CW_OK;
    if (lines->count == 0)
        return lines->order[0]
                   ? cw_error_set(err, CW_CONFLICT,
                                  "all that this parcel of order %s brought is claimed already", lines->order)
                   : cw_error_set(err, CW_CONFLICT, "parcel %lld has not left, so nothing in it has failed",
                                  (long long)parcel);
    for (size_t i = 0; i < lines->count && code == CW_OK; i++) {
        int64_t id = 0;
        cw_claim_ask ask = *as;
        ask.order = lines->order;
        ask.line = lines->item[i].line;
        ask.quantity = lines->item[i].quantity;
        code = add(n, who, &ask, &order, &id, err);
        out->claims++;
        out->divisions += ask.quantity;
    }
    cw_copy(out->replacement, sizeof out->replacement, order.order_id ? order.number : "");
    return code;
}

cw_code cw_claims_parcel(cw_nursery *n, const cw_asker *who, int64_t parcel, const cw_claim_ask *as,
                         cw_claims_done *out, cw_error *err)
{
    parcel_lines *lines = calloc(1, sizeof *lines);
    *out = (cw_claims_done){ 0 };
    cw_code code = lines ? cw_office_only(who, "take claims", err) : cw_error_memory(err);
    if (code == CW_OK && (as->why == NULL || as->why[0] == '\0'))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "why", "a claim needs what the buyer says of it");
    if (code == CW_OK && !is_open(as->answer))
        code = check_answer(as->answer, NULL, as->reply, err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    if (code == CW_OK) {
        code = cw_claim_of_parcel(n->db, parcel, take_line, lines, err);
        if (code == CW_OK)
            code = add_parcel(n, who, parcel, as, lines, out, err);
        code = cw_work_end(n, code, err);
    }
    free(lines);
    return code;
}

cw_code cw_claims_answer(cw_nursery *n, const cw_asker *who, int64_t claim, const char *word, const char *lot,
                         const char *reply, cw_error *err)
{
    cw_code code = cw_office_only(who, "answer claims", err);
    if (code == CW_OK)
        code = check_answer(word ? word : "", lot, reply, err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    replacement order = { .order_id = 0 };
    return code == CW_OK ? cw_work_end(n, answer(n, who, claim, word, lot, reply, &order, err), err) : code;
}

const cw_shape cw_claims_list_shape = { .of = &cw_claims_rows_shape };

cw_code cw_claims_list(cw_nursery *n, const cw_asker *who, const char *word, cw_table *out, cw_error *err)
{
    cw_code code = cw_office_only(who, "see claims", err);
    return code == CW_OK ? cw_claims_rows(n->db, word, out, err) : code;
}

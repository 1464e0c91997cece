/* SPDX-License-Identifier: MIT */
#include "desk/orders/notices.h"

#include "base/grow.h"
#include "base/map.h"
#include "base/text.h"
#include "desk/orders/notices_inside.h"
#include "desk/share/standing_inside.h"
#include "store/audit.h"
#include "store/outbox.h"
#include "store/season.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* The facts that have a notice: by fact, 1 + its place in `known`. */
typedef struct known_fact {
    int64_t id;
    bool due, wanted;
} known_fact;
typedef struct known_facts {
    cw_map by_fact;
    known_fact *item;
    size_t count, room;
    bool failed;
} known_facts;

static void take_fact(void *context, int64_t id, const char *fact, bool due)
{
    known_facts *k = context;
    int64_t *slot = cw_grow(&k->item, k->count, &k->room, sizeof *k->item)
                        ? cw_map_put(&k->by_fact, fact, strlen(fact), NULL)
                        : NULL;
    if (slot == NULL) {
        k->failed = true;
        return;
    }
    k->item[k->count++] = (known_fact){ id, due, false };
    *slot = (int64_t)k->count;
}

static void facts_free(known_facts *k)
{
    cw_map_free(&k->by_fact);
    free(k->item);
}

/* Adds what is wanted and not known; withdraws what is due and not wanted. */
static cw_code settle(cw_nursery *n, const cw_asker *who, const cw_wanted_list *w, known_facts *k,
                      cw_notices_made *out, cw_error *err)
{
    cw_code code = CW_OK;
    for (size_t i = 0; i < w->count && code == CW_OK; i++) {
        const cw_wanted_notice *x = &w->item[i];
        const int64_t *at = cw_map_get(&k->by_fact, x->fact, strlen(x->fact));
        if (at) {
            k->item[*at - 1].wanted = true;
            out->kept++;
            continue;
        }
        cw_notice_new row = { x->order_id, x->line_id, x->kind,   x->detail,
                              x->fact,     who->now,   x->due_on, x->amount };
        code = cw_notice_add(n->db, &row, err);
        if (code == CW_OK && i % CW_TELL_EVERY == 0)
            code = cw_asker_tell(who, "writing notices", i, w->count, err);
        out->made++;
    }
    for (size_t i = 0; i < k->count && code == CW_OK; i++) {
        if (!k->item[i].due || k->item[i].wanted)
            continue;
        code = cw_notice_withdraw(n->db, k->item[i].id, err);
        out->withdrawn++;
    }
    return code;
}

cw_code cw_notices_make_inside(cw_nursery *n, const cw_asker *who, cw_notices_made *out, cw_error *err)
{
    *out = (cw_notices_made){ 0, 0, 0 };
    cw_wanted_list wanted;
    known_facts known = { .item = NULL };
    char after[96];
    cw_code code = cw_notices_gather(n, who, &wanted, err);
    if (code == CW_OK)
        code = cw_notices_facts(n->db, take_fact, &known, err);
    if (code == CW_OK && known.failed)
        code = cw_error_memory(err);
    if (code == CW_OK)
        code = settle(n, who, &wanted, &known, out, err);
    if (code == CW_OK && out->made + out->withdrawn > 0) {
        snprintf(after, sizeof after, "%lld made, %lld withdrawn", (long long)out->made,
                 (long long)out->withdrawn);
        code = cw_audit_add(n->db, who->now, who->actor, "make notices", "notices", NULL, after, err);
        if (code == CW_OK)
            code = cw_season_touch(n->db, false, true, err);
    }
    facts_free(&known);
    cw_wanted_free(&wanted);
    return code;
}

cw_code cw_notices_make(cw_nursery *n, const cw_asker *who, cw_notices_made *out, cw_error *err)
{
    *out = (cw_notices_made){ 0, 0, 0 };
    cw_code code = cw_office_only(who, "make notices", err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    return code == CW_OK ? cw_work_end(n, cw_notices_make_inside(n, who, out, err), err) : code;
}

const cw_shape cw_notices_show_shape = { .of = &cw_notices_list_shape };

cw_code cw_notices_show(cw_nursery *n, const cw_asker *who, const char *state, cw_day due_by, cw_table *out,
                        cw_error *err)
{
    cw_code code = cw_office_only(who, "see notices", err);
    return code == CW_OK ? cw_notices_list(n->db, state, due_by, who->today, out, err) : code;
}

cw_code cw_notices_numbers(cw_nursery *n, const char *state, cw_day due_by, int64_t **ids, size_t *count,
                           cw_error *err)
{
    return cw_notices_ids(n->db, state, due_by, ids, count, err);
}

cw_code cw_notices_caution(cw_nursery *n, char *out, size_t size, cw_error *err)
{
    cw_times times;
    cw_code code = cw_times_read(n, &times, err);
    if (code == CW_OK)
        cw_copy(out, size, cw_timetable_caution(&times.table));
    return code;
}

static cw_code mark(cw_nursery *n, const cw_asker *who, int64_t notice, const char *state, const char *why,
                    cw_error *err)
{
    cw_notice_row row = { .detail = NULL };
    cw_outbox_row letter = { .id = 0 };
    char subject[96];
    cw_code code = cw_notice_read(n->db, notice, &row, err);
    if (code == CW_OK && strcmp(row.state, "due") != 0)
        code = cw_error_set(err, CW_CONFLICT, "notice %lld is %s already", (long long)notice, row.state);
    if (code == CW_OK)
        code = cw_outbox_of_notice(n->db, notice, &letter, err);
    if (code == CW_OK && strcmp(letter.state, "going") == 0)
        code = cw_error_set(err, CW_CONFLICT, "the letter of notice %lld is going at this moment",
                            (long long)notice);
    if (code == CW_OK && letter.id > 0) /* a person has said what became of it */
        code = cw_outbox_remove(n->db, letter.id, err);
    if (code == CW_OK)
        code = cw_notice_done(n->db, notice, state, who->now, who->actor, why, err);
    snprintf(subject, sizeof subject, "notice %lld of order %s", (long long)notice, row.order);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, state, subject, "due", state,
                            err); /* evidence may name the buyer */
    if (code == CW_OK)
        code = cw_season_touch(n->db, false, true, err);
    free(row.detail);
    return code;
}

static cw_code done(cw_nursery *n, const cw_asker *who, const int64_t *notices, size_t count,
                    const char *state, const char *column, const char *why, cw_error *err)
{
    cw_code code = cw_office_only(who, "settle notices", err);
    if (code == CW_OK && (why == NULL || why[0] == '\0'))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, column, "must say %s",
                           strcmp(state, "sent") == 0 ? "how it was sent and what proves it"
                                                      : "why it need not be sent");
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    if (code != CW_OK)
        return code;
    for (size_t i = 0; i < count && code == CW_OK; i++) {
        code = mark(n, who, notices[i], state, why, err);
        if (code == CW_OK && i % CW_TELL_EVERY == 0)
            code = cw_asker_tell(who, "settling notices", i, count, err);
    }
    return cw_work_end(n, code, err);
}

cw_code cw_notices_sent(cw_nursery *n, const cw_asker *who, int64_t notice, const char *evidence,
                        cw_error *err)
{
    return done(n, who, &notice, 1, "sent", "evidence", evidence, err);
}

cw_code cw_notices_sent_all(cw_nursery *n, const cw_asker *who, const int64_t *notices, size_t count,
                            const char *evidence, cw_error *err)
{
    if (count < 1 || count > CW_NOTICES_MOST)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "notices", "must be 1 to %d notices: %zu",
                           CW_NOTICES_MOST, count);
    return done(n, who, notices, count, "sent", "evidence", evidence, err);
}

cw_code cw_notices_drop(cw_nursery *n, const cw_asker *who, int64_t notice, const char *why, cw_error *err)
{
    return done(n, who, &notice, 1, "dropped", "why", why, err);
}

typedef struct owing {
    cw_table *out;
    bool all;
} owing;

/* One row of what is owed; money in the nursery's currency. */
typedef struct owed_row {
    const char *number, *customer, *email, *variety, *why;
    int line;
    int64_t gone, lacking;
    cw_cents price, owed, settled;
} owed_row;

static void put_owed(const owing *o, const owed_row *r)
{
    if (r->owed == 0 || (!o->all && r->settled >= r->owed))
        return;
    cw_put_text(o->out, r->number);
    cw_put_text(o->out, r->customer);
    cw_put_text(o->out, r->email);
    cw_put_int(o->out, r->line);
    cw_put_text(o->out, r->variety);
    cw_put_text(o->out, r->why);
    cw_put_int(o->out, r->gone);
    cw_put_int(o->out, r->lacking);
    cw_put_money(o->out, r->price);
    cw_put_money(o->out, r->owed);
    cw_put_money(o->out, r->settled);
    cw_put_money(o->out, r->owed - r->settled);
}

static void owed_line(void *context, const cw_lacking_line *l)
{
    owed_row r = { .number = l->number,
                   .customer = l->customer,
                   .email = l->email,
                   .variety = l->code ? l->code : l->name,
                   .line = l->line,
                   .gone = l->peak - l->asked,
                   .lacking = cw_lacking_short(l),
                   .price = l->unit_price,
                   .settled = l->sent + l->dropped };
    r.why = r.lacking == 0 ? "cancelled" : r.gone == 0 ? "not delivered" : "cancelled, and not delivered";
    r.owed = (r.gone + r.lacking) * r.price;
    put_owed(context, &r);
}

static void owed_claim(void *context, const cw_claim_refund *c)
{
    bool settled = strcmp(c->notice, "sent") == 0 || strcmp(c->notice, "dropped") == 0;
    put_owed(context, &(owed_row){ .number = c->number,
                                   .customer = c->customer,
                                   .email = c->email,
                                   .variety = c->code[0] ? c->code : c->name,
                                   .why = "guarantee claim",
                                   .line = c->line,
                                   .lacking = c->quantity,
                                   .price = c->quantity ? c->amount / c->quantity : 0,
                                   .owed = c->amount,
                                   .settled = settled ? c->amount : 0 });
}

static const cw_column notices_refunds_columns[] = {
    { "order", CW_TEXT_T },
    { "customer", CW_TEXT_T, .null = true },
    { "email", CW_TEXT_T, .null = true },
    { "line", CW_INT_T, .null = true },
    { "variety", CW_TEXT_T },
    { "why", CW_TEXT_T },
    { "cancelled", CW_INT_T },
    { "short", CW_INT_T },
    { "unit_price", CW_MONEY_T },
    { "owed", CW_MONEY_T },
    { "refunded", CW_MONEY_T },
    { "left", CW_MONEY_T },
};
const cw_shape cw_notices_refunds_shape = CW_ROWS(notices_refunds_columns);

cw_code cw_notices_refunds(cw_nursery *n, const cw_asker *who, bool all, cw_table *out, cw_error *err)
{
    owing o = { out, all };
    cw_table_init(out, notices_refunds_columns, CW_WIDTH(notices_refunds_columns));
    cw_code code = cw_office_only(who, "see refunds", err);
    if (code == CW_OK)
        code = cw_notices_lines(n->db, owed_line, &o, err);
    if (code == CW_OK)
        code = cw_notices_claims(n->db, owed_claim, &o, err);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

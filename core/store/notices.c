/* SPDX-License-Identifier: MIT */
#include "store/notices.h"

#include "base/text.h"
#include "columns/notices.h"
#include "store/rows.h"
#include "store/statement_inside.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Each reader hands one row after the other to the desk, in the shape of its struct. */

cw_code cw_notices_orders(cw_db *db, void (*take)(void *context, const cw_open_order *row), void *context,
                          cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "notices.orders");
    cw_code code = cw_stmt_start(q, err, "");
    while (code == CW_OK && cw_stmt_next(q)) {
        cw_open_order r = { .id = cw_col_int(q, notices_orders_id),
                            .number = cw_col_text(q, notices_orders_number),
                            .received_at = cw_col_int(q, notices_orders_received_at),
                            .wish_week = (cw_week)cw_col_int(q, notices_orders_wish_week),
                            .ship_week = (cw_week)cw_col_int(q, notices_orders_ship_week),
                            .zone_week = (cw_week)cw_col_int(q, notices_orders_first_week),
                            .told = (int)cw_col_int(q, notices_orders_told),
                            .told_day = (cw_day)cw_col_int_or(q, notices_orders_told_day, CW_NO_DAY) };
        take(context, &r);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_notices_lines(cw_db *db, void (*take)(void *context, const cw_lacking_line *row), void *context,
                         cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "notices.lines");
    cw_code code = cw_stmt_start(q, err, "");
    while (code == CW_OK && cw_stmt_next(q)) {
        bool shipped = !cw_col_null(q, notices_lines_sent);
        const char *name = cw_col_text(q, notices_lines_name);
        cw_lacking_line r = { .order_id = cw_col_int(q, notices_lines_order_id),
                              .number = cw_col_text_there(q, notices_lines_number),
                              .state = cw_col_text_there(q, notices_lines_state),
                              .ship_week = (cw_week)cw_col_int(q, notices_lines_ship_week),
                              .customer = cw_col_text(q, notices_lines_customer),
                              .email = cw_col_text(q, notices_lines_email),
                              .line_id = cw_col_int(q, notices_lines_line_id),
                              .line = (int)cw_col_int(q, notices_lines_line),
                              .code = cw_col_text(q, notices_lines_code),
                              .name = name ? name : cw_col_text(q, notices_lines_assortment),
                              .asked = cw_col_int(q, notices_lines_quantity),
                              .unit_price = cw_col_int(q, notices_lines_unit_price),
                              .peak = cw_col_int(q, notices_lines_peak),
                              .got = cw_col_int(q, shipped ? notices_lines_sent : notices_lines_firm),
                              .shared_out = !cw_col_null(q, notices_lines_firm),
                              .more_may_come = cw_col_int_or(q, notices_lines_came, 1) !=
                                               0, /* an assortment takes what there is */
                              .changed_at = cw_col_int_or(q, notices_lines_at, CW_NO_INSTANT),
                              .note = cw_col_text(q, notices_lines_note),
                              .sent = cw_col_int(q, notices_lines_refund_sent),
                              .dropped = cw_col_int(q, notices_lines_refund_dropped),
                              .shipped_on = (cw_day)cw_col_int_or(q, notices_lines_shipped_on, CW_NO_DAY) };
        take(context, &r);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

int64_t cw_lacking_short(const cw_lacking_line *r)
{
    bool left = strcmp(r->state, "shipped") == 0;
    if (r->asked <= r->got || (!left && (!r->shared_out || r->more_may_come)))
        return 0;
    return r->asked - r->got;
}

cw_code cw_notices_substitutes(cw_db *db, void (*take)(void *context, const cw_substituted *row),
                               void *context, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "notices.substitutes");
    cw_code code = cw_stmt_start(q, err, "");
    while (code == CW_OK && cw_stmt_next(q)) {
        cw_substituted r = { .order_id = cw_col_int(q, notices_substitutes_order_id),
                             .number = cw_col_text(q, notices_substitutes_number),
                             .ship_week = (cw_week)cw_col_int(q, notices_substitutes_ship_week),
                             .line_id = cw_col_int(q, notices_substitutes_line_id),
                             .line = (int)cw_col_int(q, notices_substitutes_line),
                             .wanted = cw_col_text(q, notices_substitutes_wanted),
                             .variety_id = cw_col_int(q, notices_substitutes_variety_id),
                             .code = cw_col_text(q, notices_substitutes_code),
                             .name = cw_col_text(q, notices_substitutes_name),
                             .quantity = cw_col_int(q, notices_substitutes_quantity) };
        take(context, &r);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_notices_recalls(cw_db *db, void (*take)(void *context, const cw_recalled *row), void *context,
                           cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "notices.recalls");
    cw_code code = cw_stmt_start(q, err, "");
    while (code == CW_OK && cw_stmt_next(q)) {
        cw_recalled r = { .order_id = cw_col_int(q, notices_recalls_order_id),
                          .number = cw_col_text_there(q, notices_recalls_number),
                          .line_id = cw_col_int(q, notices_recalls_line_id),
                          .line = (int)cw_col_int(q, notices_recalls_line),
                          .name = cw_col_text_there(q, notices_recalls_name),
                          .lot_id = cw_col_int(q, notices_recalls_lot_id),
                          .lot = cw_col_text_there(q, notices_recalls_code),
                          .row = cw_col_text(q, notices_recalls_row),
                          .why = cw_col_text(q, notices_recalls_held),
                          .quantity = cw_col_int(q, notices_recalls_quantity) };
        take(context, &r);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_notices_claims(cw_db *db, void (*take)(void *context, const cw_claim_refund *row), void *context,
                          cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "notices.claims");
    cw_code code = cw_stmt_start(q, err, "");
    while (code == CW_OK && cw_stmt_next(q)) {
        cw_claim_refund r = { .order_id = cw_col_int(q, notices_claims_order_id),
                              .number = cw_col_text(q, notices_claims_number),
                              .customer = cw_col_text(q, notices_claims_customer),
                              .email = cw_col_text(q, notices_claims_email),
                              .line_id = cw_col_int(q, notices_claims_line_id),
                              .line = (int)cw_col_int(q, notices_claims_line),
                              .code = cw_col_text(q, notices_claims_code),
                              .name = cw_col_text(q, notices_claims_name),
                              .claim_id = cw_col_int(q, notices_claims_claim_id),
                              .quantity = cw_col_int(q, notices_claims_quantity),
                              .amount = cw_col_int(q, notices_claims_amount),
                              .at = cw_col_int(q, notices_claims_at),
                              .why = cw_col_text(q, notices_claims_why),
                              .notice = cw_col_text(q, notices_claims_notice) };
        take(context, &r);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_notices_facts(cw_db *db, void (*take)(void *context, int64_t id, const char *fact, bool due),
                         void *context, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "notices.facts");
    cw_code code = cw_stmt_start(q, err, "");
    while (code == CW_OK && cw_stmt_next(q))
        take(context, cw_col_int(q, notices_facts_id), cw_col_text(q, notices_facts_fact),
             strcmp(cw_col_text(q, notices_facts_state), "due") == 0);
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_notice_add(cw_db *db, const cw_notice_new *n, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "notices.add"), err, "iItiitit", n->order_id,
                       n->line_id ? &n->line_id : NULL, n->kind, n->made_at, (int64_t)n->due_on, n->detail,
                       n->amount, n->fact);
}

cw_code cw_notice_withdraw(cw_db *db, int64_t id, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "notices.withdraw"), err, "i", id);
}

cw_code cw_notice_done(cw_db *db, int64_t id, const char *state, cw_instant at, const char *actor,
                       const char *evidence, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "notices.done"), err, "ititt", id, state, at, actor, evidence);
}

static void text(char *out, size_t size, cw_stmt *q, cw_sql_column column)
{
    const char *s = cw_col_text(q, column);
    cw_copy(out, size, s ? s : "");
}

cw_code cw_notice_read(cw_db *db, int64_t id, cw_notice_row *out, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, "notices.read");
    *out = (cw_notice_row){ .id = id };
    cw_code code = cw_stmt_one(q, &found, err, "i", id);
    if (code == CW_OK && found) {
        text(out->kind, sizeof out->kind, q, notices_read_kind);
        text(out->state, sizeof out->state, q, notices_read_state);
        out->due_on = (cw_day)cw_col_int(q, notices_read_due_on);
        out->amount = cw_col_int(q, notices_read_amount);
        out->made_at = cw_col_int(q, notices_read_made_at);
        out->detail = strdup(cw_col_text(q, notices_read_detail));
        text(out->order, sizeof out->order, q, notices_read_number);
        out->line = (int)cw_col_int(q, notices_read_line);
        text(out->customer, sizeof out->customer, q, notices_read_customer);
        text(out->email, sizeof out->email, q, notices_read_email);
        text(out->postcode, sizeof out->postcode, q, notices_read_postcode);
        text(out->country, sizeof out->country, q, notices_read_country);
        text(out->language, sizeof out->language, q, notices_read_language);
        if (out->detail == NULL)
            code = cw_error_memory(err);
    }
    cw_code end = cw_stmt_end(q, err);
    if (code == CW_OK && end == CW_OK && !found)
        return cw_error_at(err, CW_NOT_FOUND, NULL, 0, "notice", "there is no notice %lld", (long long)id);
    return code == CW_OK ? end : code;
}

static const cw_column notices_list_columns[] = {
    { "notice", CW_INT_T },
    { "order", CW_TEXT_T },
    { "line", CW_INT_T, .null = true },
    { "kind", CW_TEXT_T },
    { "due_on", CW_DAY_T },
    { "overdue", CW_BOOL_T },
    { "state", CW_TEXT_T },
    { "customer", CW_TEXT_T, .null = true },
    { "email", CW_TEXT_T, .null = true },
    { "amount", CW_MONEY_T },
    { "sentence", CW_TEXT_T, .null = true },
    { "made_at", CW_INSTANT_T },
    { "done_at", CW_INSTANT_T, .null = true },
    { "actor", CW_TEXT_T, .null = true },
    { "evidence", CW_TEXT_T, .null = true },
};
const cw_shape cw_notices_list_shape = CW_ROWS(notices_list_columns);

cw_code cw_notices_list(cw_db *db, const char *state, cw_day due_by, cw_day today, cw_table *out,
                        cw_error *err)
{
    int64_t by = due_by;
    cw_table_init(out, notices_list_columns, CW_WIDTH(notices_list_columns));
    return cw_rows_fill(db, "notices.list", out, err, "tIi", state, due_by == CW_NO_DAY ? NULL : &by,
                        (int64_t)today);
}

cw_code cw_notices_ids(cw_db *db, const char *state, cw_day due_by, int64_t **ids, size_t *count,
                       cw_error *err)
{
    int64_t by = due_by;
    return cw_rows_ids(db, "notices.ids", ids, count, err, "tI", state, due_by == CW_NO_DAY ? NULL : &by);
}

static const cw_column templates_list_columns[] = { { "kind", CW_TEXT_T, .words = cw_words_notice_kinds },
                                                    { "language", CW_TEXT_T, .words = cw_words_languages },
                                                    { "subject", CW_TEXT_T },
                                                    { "body", CW_TEXT_T },
                                                    { "version", CW_INT_T } };
const cw_shape cw_templates_list_shape = CW_ROWS(templates_list_columns);

cw_code cw_templates_list(cw_db *db, cw_table *out, cw_error *err)
{
    cw_table_init(out, templates_list_columns, CW_WIDTH(templates_list_columns));
    return cw_rows_fill(db, "notices.templates", out, err, "");
}

cw_code cw_template_read(cw_db *db, const char *kind, const char *language, cw_template *out, cw_error *err)
{
    bool found = false;
    char shown[80];
    cw_stmt *q = cw_db_stmt(db, "notices.template");
    *out = (cw_template){ NULL, NULL, 0 };
    cw_code code = cw_stmt_one(q, &found, err, "tt", kind, language);
    if (code == CW_OK && found) {
        *out = (cw_template){ strdup(cw_col_text(q, notices_template_subject)),
                              strdup(cw_col_text(q, notices_template_body)),
                              cw_col_int(q, notices_template_version) };
        if (out->subject == NULL || out->body == NULL)
            code = cw_error_memory(err);
    }
    cw_code end = cw_stmt_end(q, err);
    if (code == CW_OK && end == CW_OK && !found)
        return cw_error_at(err, CW_NOT_FOUND, NULL, 0, "kind",
                           "there is no text for notices of this kind: %s",
                           cw_shown(kind, strlen(kind), shown));
    return code == CW_OK ? end : code;
}

void cw_template_free(cw_template *t)
{
    free(t->subject);
    free(t->body);
    t->subject = t->body = NULL;
}

cw_code cw_template_set(cw_db *db, const char *kind, const char *language, const char *subject,
                        const char *body, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "notices.template_set"), err, "tttt", kind, language, subject, body);
}

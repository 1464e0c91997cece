/* SPDX-License-Identifier: MIT */
#include "store/notices.h"

#include "base/text.h"
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
        cw_open_order r = { .id = cw_col_int(q, 0),
                            .number = cw_col_text(q, 1),
                            .received_at = cw_col_int(q, 2),
                            .wish_week = (cw_week)cw_col_int(q, 3),
                            .ship_week = (cw_week)cw_col_int(q, 4),
                            .zone_week = (cw_week)cw_col_int(q, 5),
                            .told = (int)cw_col_int(q, 6),
                            .told_day = (cw_day)cw_col_int_or(q, 7, CW_NO_DAY) };
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
        bool shipped = !cw_col_null(q, 15);
        const char *name = cw_col_text(q, 9);
        cw_lacking_line r = { .order_id = cw_col_int(q, 0),
                              .number = cw_col_text(q, 1),
                              .state = cw_col_text(q, 2),
                              .ship_week = (cw_week)cw_col_int(q, 3),
                              .customer = cw_col_text(q, 4),
                              .email = cw_col_text(q, 5),
                              .line_id = cw_col_int(q, 6),
                              .line = (int)cw_col_int(q, 7),
                              .code = cw_col_text(q, 8),
                              .name = name ? name : cw_col_text(q, 10),
                              .asked = cw_col_int(q, 11),
                              .unit_price = cw_col_int(q, 12),
                              .peak = cw_col_int(q, 13),
                              .got = cw_col_int(q, shipped ? 15 : 14),
                              .shared_out = !cw_col_null(q, 14),
                              .more_may_come =
                                  cw_col_int_or(q, 16, 1) != 0, /* an assortment takes what there is */
                              .changed_at = cw_col_int_or(q, 17, CW_NO_INSTANT),
                              .note = cw_col_text(q, 18),
                              .sent = cw_col_int(q, 19),
                              .dropped = cw_col_int(q, 20),
                              .shipped_on = (cw_day)cw_col_int_or(q, 21, CW_NO_DAY) };
        take(context, &r);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_notices_substitutes(cw_db *db, void (*take)(void *context, const cw_substituted *row),
                               void *context, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "notices.substitutes");
    cw_code code = cw_stmt_start(q, err, "");
    while (code == CW_OK && cw_stmt_next(q)) {
        cw_substituted r = { .order_id = cw_col_int(q, 0),
                             .number = cw_col_text(q, 1),
                             .ship_week = (cw_week)cw_col_int(q, 2),
                             .line_id = cw_col_int(q, 3),
                             .line = (int)cw_col_int(q, 4),
                             .wanted = cw_col_text(q, 5),
                             .variety_id = cw_col_int(q, 6),
                             .code = cw_col_text(q, 7),
                             .name = cw_col_text(q, 8),
                             .quantity = cw_col_int(q, 9) };
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
        cw_recalled r = { .order_id = cw_col_int(q, 0),
                          .number = cw_col_text(q, 1),
                          .line_id = cw_col_int(q, 2),
                          .line = (int)cw_col_int(q, 3),
                          .name = cw_col_text(q, 4),
                          .lot_id = cw_col_int(q, 5),
                          .lot = cw_col_text(q, 6),
                          .row = cw_col_text(q, 7),
                          .why = cw_col_text(q, 8),
                          .quantity = cw_col_int(q, 9) };
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
        cw_claim_refund r = { .order_id = cw_col_int(q, 0),
                              .number = cw_col_text(q, 1),
                              .customer = cw_col_text(q, 2),
                              .email = cw_col_text(q, 3),
                              .line_id = cw_col_int(q, 4),
                              .line = (int)cw_col_int(q, 5),
                              .code = cw_col_text(q, 6),
                              .name = cw_col_text(q, 7),
                              .claim_id = cw_col_int(q, 8),
                              .quantity = cw_col_int(q, 9),
                              .amount = cw_col_int(q, 10),
                              .at = cw_col_int(q, 11),
                              .why = cw_col_text(q, 12),
                              .notice = cw_col_text(q, 13) };
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
        take(context, cw_col_int(q, 0), cw_col_text(q, 1), strcmp(cw_col_text(q, 2), "due") == 0);
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

static void text(char *out, size_t size, cw_stmt *q, int column)
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
        text(out->kind, sizeof out->kind, q, 1);
        text(out->state, sizeof out->state, q, 2);
        out->due_on = (cw_day)cw_col_int(q, 3);
        out->amount = cw_col_int(q, 4);
        out->detail = strdup(cw_col_text(q, 5));
        text(out->order, sizeof out->order, q, 6);
        out->line = (int)cw_col_int(q, 7);
        text(out->customer, sizeof out->customer, q, 8);
        text(out->email, sizeof out->email, q, 9);
        text(out->postcode, sizeof out->postcode, q, 10);
        text(out->country, sizeof out->country, q, 11);
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
                                                    { "subject", CW_TEXT_T },
                                                    { "body", CW_TEXT_T },
                                                    { "version", CW_INT_T } };
const cw_shape cw_templates_list_shape = CW_ROWS(templates_list_columns);

cw_code cw_templates_list(cw_db *db, cw_table *out, cw_error *err)
{
    cw_table_init(out, templates_list_columns, CW_WIDTH(templates_list_columns));
    return cw_rows_fill(db, "notices.templates", out, err, "");
}

cw_code cw_template_read(cw_db *db, const char *kind, cw_template *out, cw_error *err)
{
    bool found = false;
    char shown[80];
    cw_stmt *q = cw_db_stmt(db, "notices.template");
    *out = (cw_template){ NULL, NULL, 0 };
    cw_code code = cw_stmt_one(q, &found, err, "t", kind);
    if (code == CW_OK && found) {
        *out = (cw_template){ strdup(cw_col_text(q, 0)), strdup(cw_col_text(q, 1)), cw_col_int(q, 2) };
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

cw_code cw_template_set(cw_db *db, const char *kind, const char *subject, const char *body, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "notices.template_set"), err, "ttt", kind, subject, body);
}

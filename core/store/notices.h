/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_NOTICES_H
#define CW_STORE_NOTICES_H

#include "base/day.h"
#include "base/limits.h"
#include "base/money.h"
#include "base/shape.h"
#include "store/db.h"

#include <stdbool.h>
#include <stdint.h>

/* What must a buyer be told, and what was told? Here only what stands in the file; the desk decides what of it is a
 * notice. Texts of rows are borrowed for the call; NULL where there is none. Changes happen inside the caller's
 * transaction. */

typedef struct cw_open_order {
    int64_t id;
    const char *number;
    cw_instant received_at;
    cw_week wish_week, ship_week, zone_week; /* 0: none */
    int told;                                /* delays that the buyer was told of */
    cw_day told_day;                         /* the day that the last of them promised; CW_NO_DAY */
} cw_open_order;
cw_code cw_notices_orders(cw_db *db, void (*take)(void *context, const cw_open_order *row), void *context,
                          cw_error *err) CW_MUST_CHECK;

/* A line that asks less than it once did, or will not get all that it asks. */
typedef struct cw_lacking_line {
    int64_t order_id, line_id;
    const char *number, *state, *customer, *email, *code, *name, *note;
    cw_week ship_week; /* 0: none */
    int line;
    int64_t asked, peak; /* now, and the most that it ever asked */
    int64_t got;         /* promised; of a shipped order: sent */
    bool shared_out;     /* a run has looked at the line */
    bool more_may_come;
    cw_cents unit_price;
    cw_cents sent, dropped; /* refunds of the line: sent, and dropped by a person with a reason */
    cw_instant changed_at;  /* of the last change; CW_NO_INSTANT */
    cw_day shipped_on;      /* CW_NO_DAY */
} cw_lacking_line;
/* What of the line will not be delivered for good, apart from what was cancelled. */
int64_t cw_lacking_short(const cw_lacking_line *r);
cw_code cw_notices_lines(cw_db *db, void (*take)(void *context, const cw_lacking_line *row), void *context,
                         cw_error *err) CW_MUST_CHECK;

typedef struct cw_substituted {
    int64_t order_id, line_id, variety_id, quantity;
    const char *number, *wanted, *code, *name;
    cw_week ship_week;
    int line;
} cw_substituted;
cw_code cw_notices_substitutes(cw_db *db, void (*take)(void *context, const cw_substituted *row),
                               void *context, cw_error *err) CW_MUST_CHECK;

typedef struct cw_recalled {
    int64_t order_id, line_id, lot_id, quantity;
    const char *number, *name, *lot, *row, *why;
    int line;
} cw_recalled;
cw_code cw_notices_recalls(cw_db *db, void (*take)(void *context, const cw_recalled *row), void *context,
                           cw_error *err) CW_MUST_CHECK;

typedef struct cw_claim_refund {
    int64_t order_id, line_id, claim_id, quantity;
    const char *number, *customer, *email, *code, *name, *why, *notice; /* notice: its state, "" if none */
    int line;
    cw_cents amount;
    cw_instant at;
} cw_claim_refund;
cw_code cw_notices_claims(cw_db *db, void (*take)(void *context, const cw_claim_refund *row), void *context,
                          cw_error *err) CW_MUST_CHECK;

cw_code cw_notices_facts(cw_db *db, void (*take)(void *context, int64_t id, const char *fact, bool due),
                         void *context, cw_error *err) CW_MUST_CHECK;

typedef struct cw_notice_new {
    int64_t order_id, line_id; /* line_id 0: the order as a whole */
    const char *kind, *detail, *fact;
    cw_instant made_at;
    cw_day due_on;
    cw_cents amount;
} cw_notice_new;
cw_code cw_notice_add(cw_db *db, const cw_notice_new *n, cw_error *err) CW_MUST_CHECK;
cw_code cw_notice_withdraw(cw_db *db, int64_t id, cw_error *err) CW_MUST_CHECK; /* one that is due */
cw_code cw_notice_done(cw_db *db, int64_t id, const char *state, cw_instant at, const char *actor,
                       const char *evidence, cw_error *err) CW_MUST_CHECK;

typedef struct cw_notice_row {
    int64_t id;
    char kind[16], state[16], order[CW_MAX_CODE + 1];
    char customer[CW_MAX_NAME + 1], email[CW_MAX_NAME + 100], postcode[CW_MAX_NAME + 1],
        country[CW_MAX_NAME + 1];
    char language[4]; /* "": the order names none */
    int line;         /* 0: the order as a whole */
    cw_day due_on;
    cw_instant made_at;
    cw_cents amount;
    char *detail; /* JSON; the caller frees it */
} cw_notice_row;
/* CW_NOT_FOUND */
cw_code cw_notice_read(cw_db *db, int64_t id, cw_notice_row *out, cw_error *err) CW_MUST_CHECK;

/* notice,order,line,kind,due_on,overdue,state,customer,email,amount,sentence,made_at,done_at,actor,evidence. state NULL: all;
 * due_by CW_NO_DAY: any. */
cw_code cw_notices_list(cw_db *db, const char *state, cw_day due_by, cw_day today, cw_table *out,
                        cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_notices_list_shape;

/* Their numbers, in the order of the list; *ids is to be freed. */
cw_code cw_notices_ids(cw_db *db, const char *state, cw_day due_by, int64_t **ids, size_t *count,
                       cw_error *err) CW_MUST_CHECK;

/* kind,language,subject,body,version */
cw_code cw_templates_list(cw_db *db, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_templates_list_shape;
typedef struct cw_template {
    char *subject, *body; /* the caller frees both */
    int64_t version;
} cw_template;
/* CW_NOT_FOUND */
cw_code cw_template_read(cw_db *db, const char *kind, const char *language, cw_template *out,
                         cw_error *err) CW_MUST_CHECK;
cw_code cw_template_set(cw_db *db, const char *kind, const char *language, const char *subject,
                        const char *body, cw_error *err) CW_MUST_CHECK;
void cw_template_free(cw_template *t);

#endif

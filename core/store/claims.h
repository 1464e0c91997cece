/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_CLAIMS_H
#define CW_STORE_CLAIMS_H

#include "base/day.h"
#include "base/limits.h"
#include "base/money.h"
#include "base/shape.h"
#include "store/db.h"

#include <stdbool.h>
#include <stdint.h>

/* What did buyers claim under the guarantee, and what became of it? Changes happen inside the caller's transaction. */

/* Divisions that a line received, and how many of them were claimed and not refused. */
cw_code cw_claims_received(cw_db *db, int64_t line_id, int64_t *received, int64_t *claimed,
                           cw_error *err) CW_MUST_CHECK;

typedef struct cw_claim_row {
    int64_t id, order_id, line_id, quantity;
    char order[CW_MAX_CODE + 1], answer[16];
    int line;
    cw_cents unit_price;
    bool forgotten; /* its buyer was taken out of the file while it was open */
} cw_claim_row;
/* Adds an open claim; `id` of the row is set. */
cw_code cw_claim_add(cw_db *db, cw_claim_row *row, cw_instant at, const char *actor, const char *why,
                     cw_error *err) CW_MUST_CHECK;
/* CW_NOT_FOUND */
cw_code cw_claim_read(cw_db *db, int64_t id, cw_claim_row *out, cw_error *err) CW_MUST_CHECK;

typedef struct cw_claim_answer {
    int64_t id, lot_id; /* lot_id 0: none */
    int64_t replacement_id, reserve_used;
    int replacement_line;               /* of that order */
    const char *answer, *reply, *actor; /* reply may be NULL */
    cw_cents amount;
    cw_instant at;
} cw_claim_answer;
cw_code cw_claim_answer_set(cw_db *db, const cw_claim_answer *a, cw_error *err) CW_MUST_CHECK;

/* A lot that can replace `quantity` of what the line received: `lot`, or (NULL) the one longest in store. */
typedef struct cw_claim_lot {
    int64_t id, variety_id, reserve, place_id; /* so many lie together at the place */
    char lot[CW_MAX_CODE + 1], variety[CW_MAX_CODE + 1];
} cw_claim_lot;
cw_code cw_claim_lot_find(cw_db *db, int64_t line_id, const char *lot, int64_t quantity, bool *found,
                          cw_claim_lot *out, cw_error *err) CW_MUST_CHECK;

/* Divisions of a variety that nobody is promised, beyond the hold-back; the reserve is among them. */
cw_code cw_claim_spare(cw_db *db, int64_t variety_id, int64_t *spare, cw_error *err) CW_MUST_CHECK;
/* The order that sends the replacement: to whom and where the claim's order went; and a line of it. */
cw_code cw_claim_order_add(cw_db *db, int64_t claim, const char *number, cw_instant at, int64_t *order_id,
                           cw_error *err) CW_MUST_CHECK;
cw_code cw_claim_line_add(cw_db *db, int64_t order_id, int line, int64_t variety_id, int64_t quantity,
                          int64_t *line_id, cw_error *err) CW_MUST_CHECK;

/* What a parcel that has left brought, by line, as far as it is not claimed yet; the text is borrowed for the call. */
cw_code cw_claim_of_parcel(cw_db *db, int64_t parcel,
                           void (*take)(void *context, const char *order, int line, int64_t quantity),
                           void *context, cw_error *err) CW_MUST_CHECK;

/* Of a replacement order, or (not 0) of one line of it, that is cancelled: the claim is open again. */
cw_code cw_claim_open_again(cw_db *db, int64_t order_id, int line, cw_error *err) CW_MUST_CHECK;
cw_code cw_claim_use_reserve(cw_db *db, int64_t variety_id, int64_t quantity, cw_error *err) CW_MUST_CHECK;

/* claim,order,line,customer,variety,name,quantity,at,why,answer,lot,amount,reply,answered_at,answered_by,replacement;
 * open ones first. */
cw_code cw_claims_rows(cw_db *db, const char *answer, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_claims_rows_shape;

#endif

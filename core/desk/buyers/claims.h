/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_CLAIMS_H
#define CW_DESK_CLAIMS_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

/* A buyer says that a division failed: what becomes of it?
 *
 *   open ──▶ replace (by an order of its own) | refund (unit price x divisions) | refused (with the reply)
 *     ▲          │
 *     └──────────┘ the replacement's order is cancelled
 *
 *  1. Of a line no more is claimed than it received, refused claims apart (sql/checks: claims_within_received).
 *  2. A replacement is of a variety that the line received, from lots that may leave; it uses up the guarantee reserve first
 *     and never what is promised to others or held back for planting.
 *  3. It leaves as every order does: an order with the number of the first and "-R" and the claim's, promised whole, which
 *     gets a week, a stop, a slot, a slip and a tracking number, and is traced (sql/checks: claims_leave_as_orders). It was never
 *     on offer, so it is not sold.
 *  4. A refund becomes a notice and stands in the refund register (desk/orders/notices). */
typedef struct cw_claim_ask {
    const char *order;
    int line;
    int64_t quantity;
    const char *why;    /* what the buyer says */
    const char *answer; /* replace, refund, refused; NULL or open: later */
    const char *lot;    /* replace: from this lot alone; NULL: as the walk finds them */
    const char *reply;  /* to the buyer; needed when refused */
} cw_claim_ask;

/* CW_CONFLICT when more is claimed than was received, or there is no stock for it. */
cw_code cw_claims_add(cw_nursery *n, const cw_asker *who, const cw_claim_ask *ask, int64_t *id,
                      cw_error *err) CW_MUST_CHECK;

/* The whole of a parcel that has left failed (frozen, lost): one claim for each line that it brought, all answered alike, what is
 * replaced in one order; order, line, quantity and lot of `as` are not read. All or none. */
typedef struct cw_claims_done {
    int64_t claims, divisions;
    char replacement[64]; /* the order that brings it; "" when nothing is replaced */
} cw_claims_done;
cw_code cw_claims_parcel(cw_nursery *n, const cw_asker *who, int64_t parcel, const cw_claim_ask *as,
                         cw_claims_done *out, cw_error *err) CW_MUST_CHECK;

/* Answers an open claim. */
cw_code cw_claims_answer(cw_nursery *n, const cw_asker *who, int64_t claim, const char *answer,
                         const char *lot, const char *reply, cw_error *err) CW_MUST_CHECK;

/* claim,order,line,customer,variety,name,quantity,at,why,answer,lot,amount,reply,answered_at,answered_by,
 * replacement (its order). answer NULL: all. */
cw_code cw_claims_list(cw_nursery *n, const cw_asker *who, const char *answer, cw_table *out,
                       cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_claims_list_shape;

#endif

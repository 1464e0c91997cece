/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_TRACING_H
#define CW_DESK_TRACING_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

/* If a row proves mislabelled or sick: who received of it? And of an order: which rows did it come from?
 * lot,variety,row,dug_on,order,line,customer,email,postcode,country,week,slot,state,shipped_on,quantity,by (picked, or claim
 * for a guarantee replacement),notice (of recall). Only owner and office see people; for others those columns are empty. */
cw_code cw_tracing_lot(cw_nursery *n, const cw_asker *who, const char *lot, cw_table *out,
                       cw_error *err) CW_MUST_CHECK;
cw_code cw_tracing_order(cw_nursery *n, const cw_asker *who, const char *order, cw_table *out,
                         cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_tracing_shape; /* of both */

/* The season's mass balance: a row for each variety, from clumps dug to divisions shipped. */
cw_code cw_tracing_balance(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_tracing_balance_shape;

/* Holds a lot back with the reason (sick, mislabelled): nothing of it is picked any more; `why` NULL lets it go. On record.
 * Anybody of the nursery holds; only owner and office let go, or give a held lot another reason (CW_CONFLICT for others). */
cw_code cw_tracing_hold(cw_nursery *n, const cw_asker *who, const char *lot, const char *why,
                        cw_error *err) CW_MUST_CHECK;

#endif

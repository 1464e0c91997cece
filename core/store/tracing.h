/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_TRACING_H
#define CW_STORE_TRACING_H

#include "base/limits.h"
#include "base/shape.h"
#include "store/db.h"

#include <stdbool.h>

/* Who received something of which lot, and from which lots did an order come? From rows to people and back, over picks and
 * guarantee replacements. */

/* lot,variety,row,dug_on,order,line,customer,email,postcode,country,week,slot,state,shipped_on,quantity,by,notice. CW_NOT_FOUND
 * when there is no such lot or order. */
cw_code cw_trace_lot(cw_db *db, const char *lot, cw_table *out, cw_error *err) CW_MUST_CHECK;
cw_code cw_trace_order(cw_db *db, const char *order, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_trace_shape; /* of both */
/* The same behind season,sure: of lots of several years in one list (desk/stock/lineage). */
extern const cw_shape cw_trace_years_shape;

/* A row for each variety, from clumps dug to divisions shipped; the columns are named in tracing.c. */
cw_code cw_trace_balance(cw_db *db, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_trace_balance_shape;

/* Why nothing of a lot may leave, "" when it may. CW_NOT_FOUND when there is no such lot. */
cw_code cw_trace_held(cw_db *db, const char *lot, char out[CW_MAX_NAME + 1], cw_error *err) CW_MUST_CHECK;

/* Says why nothing of a lot may leave; NULL lets it go again. Without `anew` it must not be held: CW_CONFLICT. */
cw_code cw_trace_hold(cw_db *db, const char *lot, const char *why, bool anew, cw_error *err) CW_MUST_CHECK;

#endif

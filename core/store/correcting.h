/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_CORRECTING_H
#define CW_STORE_CORRECTING_H

#include "store/orders.h"

/* What was put right on an order after it was taken? The order has the value that stands; `corrected` keeps the one it was taken
 * with, so that a file that says it again asks for no change. Inside the caller's transaction. */

/* Writes the order's own columns as `now` has them. */
cw_code cw_order_correct(cw_db *db, const cw_order_head *now, cw_error *err) CW_MUST_CHECK;
cw_code cw_order_set_consent(cw_db *db, int64_t line_id, const char *consent, const char *named,
                             cw_error *err) CW_MUST_CHECK;

/* Keeps what a field was taken with, the first time that it is put right. line 0: the order's own; first NULL: it had none. */
cw_code cw_order_first(cw_db *db, int64_t order_id, int line, const char *field, const char *first,
                       cw_error *err) CW_MUST_CHECK;

/* Substitutes that a line is promised and that its consent does not cover. The text is borrowed for the call. */
typedef struct cw_uncovered {
    int64_t variety_id, quantity;
    const char *code;
} cw_uncovered;
cw_code cw_order_uncovered(cw_db *db, int64_t line_id, void (*take)(void *context, const cw_uncovered *row),
                           void *context, cw_error *err) CW_MUST_CHECK;

#endif

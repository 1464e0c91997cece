/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_TODAY_H
#define CW_DESK_TODAY_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

/* What wants doing today at a desk (winter, orders, cellar), worst first? today.def names the items; an item of which nothing waits is
 * left out, so that an empty list says: nothing. Every count is that of the screen behind it. Winter and orders: owner and
 * office; cellar: people of the nursery. CW_NOT_FOUND for another desk. */

/* what,urgent,n,about,money,day : `about` names the worst (a variety, lot, order or wave), where there is one. */
cw_code cw_today_list(cw_nursery *n, const cw_asker *who, const char *desk, cw_table *out,
                      cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_today_list_shape;

/* How far has the file begun? step,n : rows on record of varieties, places, lots, history, past_checks, zones, orders; stocked:
 * varieties with stock; people: accounts. */
cw_code cw_today_begun(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_today_begun_shape;

#endif

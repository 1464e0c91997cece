/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_REST_H
#define CW_DESK_REST_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

#include <stddef.h>

/* Orders whose rest will not come: which are they, and how are they closed? The rest of a line is what it asks and is neither promised
 * nor sent; what a packer found short and nothing else was pulled for counts as not promised. */

/* order,customer,week,lines,short,refund,left,what: open orders with a line that was shared out and is short. lines and short count
 * all that closing would take off; left: divisions that have gone; what: "2 of AMB, 1 of BRI". Those of which something has gone
 * stand first, then by week. */
cw_code cw_rest_list(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_rest_list_shape;

typedef struct cw_rest_done {
    int64_t orders, divisions;
    cw_cents refund; /* what becomes owed by it */
} cw_rest_done;

/* Closes them, all or none: each asks what it is sure of, the rest is refunded by a notice (desk/orders/notices), and an order of
 * which nothing is to come any more is shipped, or cancelled if nothing has left. CW_CONFLICT for an order that has no rest. */
#define CW_REST_MOST 2000
cw_code cw_rest_close(cw_nursery *n, const cw_asker *who, const char *const *orders, size_t count,
                      const char *why, cw_rest_done *out, cw_error *err) CW_MUST_CHECK;

/* One crate was short and several orders are hit: what becomes of each is said at once, all or none. */
typedef struct cw_rest_item {
    const char *order;
    int64_t line;
    int64_t parcel;          /* filled from another lot: the parcel it lies short in; */
    const char *lot, *place; /* from there; lot NULL: the rest of the line is refunded */
} cw_rest_item;
typedef struct cw_rest_settled {
    int64_t filled, refunded; /* divisions */
    cw_cents refund;
} cw_rest_settled;
cw_code cw_rest_settle(cw_nursery *n, const cw_asker *who, const cw_rest_item *items, size_t count,
                       const char *why, cw_rest_settled *out, cw_error *err) CW_MUST_CHECK;

#endif

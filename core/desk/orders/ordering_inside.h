/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_ORDERING_INSIDE_H
#define CW_DESK_ORDERING_INSIDE_H

/* What files of this room do to an order inside their own work. */
#include "desk/nursery/nursery_inside.h"
#include "desk/orders/ordering.h"
#include "store/orders.h"

/* CW_CONFLICT when it is cancelled or shipped. */
cw_code cw_ordering_be_open(const cw_order_head *head, cw_error *err) CW_MUST_CHECK;

/* Sets what a line asks, and what is sold with it. CW_CONFLICT when there is not so much on offer. */
cw_code cw_ordering_ask(cw_nursery *n, const cw_asker *who, const cw_order_line *line, int64_t quantity,
                        cw_error *err) CW_MUST_CHECK;

/* Sets what a line asks, on record; fewer than are promised: the promise shrinks with it, substitutes first. */
cw_code cw_ordering_set_line(cw_nursery *n, const cw_asker *who, const cw_order_head *head,
                             const cw_order_line *line, int64_t quantity, const char *why,
                             cw_error *err) CW_MUST_CHECK;

/* The order's state after its lines have changed: shipped when all that it asks has left, cancelled when it asks nothing. */
cw_code cw_ordering_settle(cw_nursery *n, const cw_asker *who, const cw_order_head *head, const char *why,
                           cw_error *err) CW_MUST_CHECK;

#endif

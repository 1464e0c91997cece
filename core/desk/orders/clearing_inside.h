/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_CLEARING_INSIDE_H
#define CW_DESK_CLEARING_INSIDE_H

#include "desk/nursery/nursery_inside.h"
#include "desk/orders/clearing.h"

/* Takes an order (one line, one variety of it; 0: any) off all lists and out of all parcels that are here, inside the caller's work.
 * A parcel that was closed is open again. *left: divisions that have gone. because: cancelled, changed. */
cw_code cw_clearing_clear(cw_nursery *n, const cw_asker *who, int64_t order, int64_t line, int64_t variety,
                          const char *because, int64_t *left, cw_error *err) CW_MUST_CHECK;

/* Divisions of a line that have gone to the buyer. */
cw_code cw_clearing_left(cw_nursery *n, int64_t order, int64_t line, int64_t *left,
                         cw_error *err) CW_MUST_CHECK;

#endif

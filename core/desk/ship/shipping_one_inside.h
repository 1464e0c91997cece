/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_SHIPPING_ONE_INSIDE_H
#define CW_DESK_SHIPPING_ONE_INSIDE_H

#include "base/text.h"
#include "desk/nursery/nursery.h"

/* An order's zone, wish or place has changed: in which week does it leave now? For rooms above, inside the caller's work. An
 * order that has a week, and stands in it by the schedule alone, gets the week that the schedule gives it now; one that is pinned, in
 * a wave or gone keeps its own. `says` gets what came of it and what its week now breaks, in sentences; nothing when it stands as
 * it stood. */
cw_code cw_shipping_again(cw_nursery *n, const cw_asker *who, int64_t order_id, cw_text *says,
                          cw_error *err) CW_MUST_CHECK;

#endif

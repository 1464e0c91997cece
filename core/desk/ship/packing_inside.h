/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_PACKING_INSIDE_H
#define CW_DESK_PACKING_INSIDE_H

/* For files of this room: how a parcel left. */
#include "desk/nursery/nursery_inside.h"
#include "desk/ship/packing.h"
#include "store/waves.h"

#define CW_SENT_WORDS 240

/* The parcels that are closed, opened or sent as one, the one asked for first; alone when nothing is in any of them, so that it
 * is refused by its own rules. */
cw_code cw_packing_in_slot(cw_nursery *n, int64_t parcel, int64_t ids[CW_SLOT_PARCELS], size_t *count,
                           cw_error *err) CW_MUST_CHECK;

/* "2032-04-19, by road, T-7" for events and the audit; returns `out`. */
const char *cw_packing_say_sent(const cw_packing_sent *sent, char out[CW_SENT_WORDS]);

cw_code cw_packing_day_right(const cw_asker *who, cw_day on, cw_error *err) CW_MUST_CHECK;

/* CW_CONFLICT when a parcel of another order left under the number and it was not said that this is meant. */
cw_code cw_packing_number_free(cw_nursery *n, int64_t order, const cw_packing_sent *sent,
                               cw_error *err) CW_MUST_CHECK;

#endif

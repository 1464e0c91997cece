/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_SHIPPING_H
#define CW_DESK_SHIPPING_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

#include <jansson.h>

/* In which week does each order leave, and what does moving one break? model/schedule has the rules. The first week is
 * that of the season's shipping day, or this week if that is later. An order counts one parcel for every
 * "divisions_per_parcel" (a setting) that it asks for. */

/* order,received_at,customer,zone,wish_week,week,parcels,pinned,sentence of every order that is not cancelled. With
 * `record` the weeks are written (owner and office); without it nothing is. */
cw_code cw_shipping_schedule(cw_nursery *n, const cw_asker *who, bool record, cw_table *out,
                             cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_shipping_schedule_shape;

/* The board: {weeks:[{week,parcels,capacity,orders}], orders:[...as above]} as it stands on record. New reference. */
cw_code cw_shipping_board(cw_nursery *n, const cw_asker *who, json_t **out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_shipping_board_shape;

/* rule,amount,sentence : what moving the order to `week` would break; none: the move is clean. */
cw_code cw_shipping_breaks(cw_nursery *n, const cw_asker *who, const char *order, cw_week week, cw_table *out,
                           cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_shipping_breaks_shape;

/* Moves and pins an order, on record with what it breaks (out as above). week 0 lets the schedule choose again. Refused
 * for an order that is in a wave or gone. */
cw_code cw_shipping_move(cw_nursery *n, const cw_asker *who, const char *order, cw_week week, const char *why,
                         cw_table *out, cw_error *err) CW_MUST_CHECK;

/* Frost holds: hold,zone,order,first_week,last_week,why,at,actor. Exactly one of zone and order is named. */
cw_code cw_shipping_holds(cw_nursery *n, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_shipping_holds_shape;
cw_code cw_shipping_hold(cw_nursery *n, const cw_asker *who, const char *zone, const char *order,
                         cw_week first, cw_week last, const char *why, cw_table *out,
                         cw_error *err) CW_MUST_CHECK;
cw_code cw_shipping_lift(cw_nursery *n, const cw_asker *who, int64_t hold, cw_error *err) CW_MUST_CHECK;

#endif

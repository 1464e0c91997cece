/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_SHIPPING_H
#define CW_DESK_SHIPPING_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

/* In which week does each order leave, and what does moving one break? model/schedule has the rules. The first week is
 * that of the season's shipping day, or this week if that is later. An order counts one parcel for every
 * "divisions_per_parcel" (a setting) that it has to send: what is promised, or asked on lines that nothing was shared out to
 * yet. An order that has nothing to send, or goes where nothing may be sent, gets no week. */

/* order,received_at,customer,zone,wish_week,week,parcels,pinned,sentence of every order that is not cancelled. With
 * `record` the weeks are written (owner and office); without it nothing is. */
cw_code cw_shipping_schedule(cw_nursery *n, const cw_asker *who, bool record, cw_table *out,
                             cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_shipping_schedule_shape;

/* Which orders of the board: of a week (0: no matter which), or those that have something to send and no week, or both; with neither,
 * all. At most so many are told. */
typedef struct cw_board_ask {
    cw_week week;
    bool without;
    int64_t most;
} cw_board_ask;

/* The board: {weeks:[{week,parcels,capacity,orders}], without, found, orders:[...as above]} as it stands on record, as JSON: without is
 * how many have something to send and no week, found how many were asked for. ask NULL: all. */
cw_code cw_shipping_board(cw_nursery *n, const cw_asker *who, const cw_board_ask *ask, cw_sink to,
                          cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_shipping_board_shape;

/* rule,amount,sentence : what moving the order to `week` would break; none: the move is clean. */
cw_code cw_shipping_breaks(cw_nursery *n, const cw_asker *who, const char *order, cw_week week, cw_table *out,
                           cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_shipping_breaks_shape;

/* Moves and pins an order, on record with what it breaks (out as above). week 0 lets the schedule choose again. Refused
 * for an order that is in a wave or gone. */
cw_code cw_shipping_move(cw_nursery *n, const cw_asker *who, const char *order, cw_week week, const char *why,
                         cw_table *out, cw_error *err) CW_MUST_CHECK;

/* Holds: hold,zone,order,first_week,last_week,why,at,actor,orders,parcels,stops,country,region,postcode_from,postcode_to,carrier. Of a zone, of
 * an order, of a place (country, region of it, range of postcodes: weather, plant health), or of a carrier, everywhere or in a place: what goes by
 * it, by the destination's carrier or else the setting `carrier`, waits, and no parcel is sent by it. orders, parcels and stops are what the hold keeps now: orders and parcels that are in a wave and have not left, and the stops
 * where something of them is still to be taken.
 *
 * A hold binds at once whatever has not left: what is open of it is marked on the walk and off the printed list, what a phone
 * hands in all the same stands in the ledger, and no such parcel is closed, written into the carrier's file or sent, until
 * the hold is lifted, is over, or is overruled for the order (desk/ship/overruling). */
cw_code cw_shipping_holds(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_shipping_holds_shape;

/* Each parcel that a hold (0: any) keeps: hold,order,customer,wave,week,slot,parcel,state,open,taken,stops,sentence. */
cw_code cw_shipping_touched(cw_nursery *n, const cw_asker *who, int64_t hold, cw_table *out,
                            cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_shipping_touched_shape;

cw_code cw_shipping_hold(cw_nursery *n, const cw_asker *who, const char *zone, const char *order,
                         cw_week first, cw_week last, const char *why, cw_table *out,
                         cw_error *err) CW_MUST_CHECK;
/* NULL or "": not named. The country by any name; postcodes by their first letters and digits, `to` as many as `from`, and the same
 * without it. CW_REFUSED with the member. */
typedef struct cw_hold_place {
    const char *country, *region, *postcode_from, *postcode_to, *carrier;
} cw_hold_place;
cw_code cw_shipping_hold_place(cw_nursery *n, const cw_asker *who, const cw_hold_place *place, cw_week first,
                               cw_week last, const char *why, cw_table *out, cw_error *err) CW_MUST_CHECK;

/* Where weeks are on record they are set again: what waited for the hold may leave sooner. */
cw_code cw_shipping_lift(cw_nursery *n, const cw_asker *who, int64_t hold, cw_error *err) CW_MUST_CHECK;

#endif

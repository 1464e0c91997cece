/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_CLEARING_H
#define CW_DESK_CLEARING_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

/* What of an order lies on packers' lists and in parcels: what would a cancellation take off whose list, and out of which slot? One
 * row for each pick, in walking order: wave,week,slot,parcel,what,stop,place,taken_by,lot,variety,name,quantity,sentence.
 *
 *   open   on a list, not taken: comes off it
 *   taken  in a parcel that is here: back in the ledger at once; the packers are told to put it back (desk/pick/picking)
 *   left   gone to the buyer: stays
 *
 * line 0: of the whole order. */
cw_code cw_clearing_lying(cw_nursery *n, const cw_asker *who, const char *order, int line, cw_table *out,
                          cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_clearing_lying_shape;

#endif

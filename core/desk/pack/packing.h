/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_PACKING_H
#define CW_DESK_PACKING_H

#include "base/limits.h"
#include "base/shape.h"
#include "desk/nursery/nursery.h"

#include <stddef.h>

/* Is everything in the parcel that belongs in it, may it go, and has it gone? desk/pick/picking.h draws a parcel's states.
 *
 * A parcel is packed only when every pick of it is answered, its order is paid or need not be, and what was counted, or scanned label by label, is what the
 * picks say. It is neither packed nor sent while its destination is blocked, while a frost hold keeps it, while a lot in it is held, or, when its order
 * leaves whole or not at all, while something of the order is missing. What an order still waits for goes in a parcel of
 * a later wave; the order is shipped once nothing that it asks is left and all its parcels have gone. */

/* One parcel may leave in several boxes, each with its weight and its tracking number: what is said of the first is the parcel's own.
 * What lies in one slot (orders that travel together, desk/orders/joining) is counted, closed, opened, sent and put right as one box
 * under one number; each order keeps its own parcel. */

/* id,wave,week,order,slot,state,customer,quantity,taken,open,weight_g,packed_at,packed_by,shipped_on,carrier,tracking,frost,
 * unpaid,corrected,late_weeks,joined,slots,boxes,more_tracking;
 * wave 0: of all waves; state NULL: all; frost: the frost hold that keeps it, in words; late_weeks: for how many weeks it is
 * forgotten here, 0 when it is not; joined: other orders in the same box; slots: all of a parcel that lies in several. */
cw_code cw_packing_list(cw_nursery *n, const cw_asker *who, int64_t wave, const char *state, cw_table *out,
                        cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_packing_list_shape;

#define CW_PACKING_MAX_LABELS 2000
typedef struct cw_packing_count {
    int64_t count; /* divisions counted; -1: labels were scanned instead */
    const char *const
        *labels; /* what the scanner read: a lot code, with more behind a blank, "@", "|" or "/" */
    size_t label_count;
    int64_t weight_g; /* 0: not weighed */
    /* what does not go into one box: the grams of each box beside the first, 0 for not weighed */
    const int64_t *further;
    size_t further_count; /* at most CW_PACKING_MAX_FURTHER */
} cw_packing_count;
#define CW_PACKING_MAX_FURTHER 19
/* CW_CONFLICT with what is missing or too many. */
cw_code cw_packing_pack(cw_nursery *n, const cw_asker *who, int64_t parcel, const cw_packing_count *count,
                        cw_error *err) CW_MUST_CHECK;

/* Opens a packed parcel again. */
cw_code cw_packing_unpack(cw_nursery *n, const cw_asker *who, int64_t parcel, const char *why,
                          cw_error *err) CW_MUST_CHECK;

/* How a parcel left. A tracking number that stands on a parcel of another order is refused (CW_CONFLICT, column tracking,
 * the sentence says which) unless it is said that both went under it. Blanks and capitals make no other number. */
typedef struct cw_packing_sent {
    const char *carrier, *tracking; /* NULL: not said */
    bool shared;                    /* another order's parcel has the number, too, and that is meant */
    cw_day on;
    const char *more; /* the numbers of the boxes beside the first, parted by commas; NULL: not said */
} cw_packing_sent;
/* Bytes of `more`. */
#define CW_PACKING_MAX_MORE 4000

/* *rest: divisions that the order asked and that no parcel holds yet. */
cw_code cw_packing_ship(cw_nursery *n, const cw_asker *who, int64_t parcel, const cw_packing_sent *sent,
                        int64_t *rest, cw_error *err) CW_MUST_CHECK;

/* Puts right how a parcel left. NULL and CW_NO_DAY: as it was; an empty text: none. */
cw_code cw_packing_correct(cw_nursery *n, const cw_asker *who, int64_t parcel, const cw_packing_sent *sent,
                           const char *why, cw_error *err) CW_MUST_CHECK;

/* It has not left after all: packed again, without a number, and its order open. CW_CONFLICT once the buyer claimed. */
cw_code cw_packing_unship(cw_nursery *n, const cw_asker *who, int64_t parcel, const char *why,
                          cw_error *err) CW_MUST_CHECK;

/* Packed parcels that have not gone (of a wave; 0: all) and that no frost hold keeps, for a carrier's program, with the columns that the nursery chose
 * (setting carrier_columns), a row for each box: order, parcel, box, boxes, wave, week, slot, customer, name2, email, phone, street, town, postcode, country, region, zone, channel,
 * divisions, weight_g, weight_kg, carrier, tracking. The columns belong to `out`, which is freed with
 * cw_packing_file_free. */
#define CW_PACKING_COLUMNS 24
typedef struct cw_packing_file {
    cw_column column[CW_PACKING_COLUMNS];
    cw_table table;
} cw_packing_file;
cw_code cw_packing_carrier_file(cw_nursery *n, const cw_asker *who, int64_t wave, cw_packing_file *out,
                                cw_error *err) CW_MUST_CHECK;
void cw_packing_file_free(cw_packing_file *f);

#endif

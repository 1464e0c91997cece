/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_RETURNED_INSIDE_H
#define CW_DESK_RETURNED_INSIDE_H

/* For rooms of core/desk: what a carrier's file says of one parcel, and that it is taken back. All inside the caller's work. */
#include "desk/nursery/nursery_inside.h"
#include "desk/pack/packing_inside.h"
#include "store/brought.h"

/* Which parcel does a row mean? By its own number ("P12" as on slips, or 12), or as the one of its order that may have left: that which has
 * this tracking number, else the only closed one, else the only one that left without a number. Either text may be "". CW_NOT_FOUND,
 * CW_REFUSED or CW_CONFLICT with the column. */
cw_code cw_returned_parcel(cw_nursery *n, const char *order, const char *parcel, const char *number,
                           int64_t *id, cw_error *err) CW_MUST_CHECK;

typedef enum cw_returned_fate {
    CW_RETURNED_KNOWN,    /* all of it was on record */
    CW_RETURNED_NUMBERED, /* it had left, and has its number, or further ones, now */
    CW_RETURNED_SENT,     /* it has left by this */
} cw_returned_fate;

/* Numbers of its boxes, in their order. A closed parcel leaves by it; one that has left gets what was not on record; another number than
 * on record is a CW_CONFLICT that names both. What is done is put down under the file. */
typedef struct cw_returned {
    const char *number[CW_PACKING_MAX_FURTHER + 1];
    size_t count;
    const char *carrier; /* NULL: not said */
    cw_day on;           /* CW_NO_DAY: not said; a closed parcel leaves today */
    const char *file;
    /* The row of the file (store/brought), made when something is first done for it. */
    cw_code (*brought)(void *context, int64_t *id, cw_error *err);
    void *context;
} cw_returned;
cw_code cw_returned_take(cw_nursery *n, const cw_asker *who, int64_t parcel, const cw_returned *r,
                         cw_returned_fate *fate, cw_error *err) CW_MUST_CHECK;

/* One parcel as it was before the file. CW_CONFLICT when it was put right since, or its buyer claimed. */
cw_code cw_returned_undo(cw_nursery *n, const cw_asker *who, const cw_brought_parcel *p, const char *why,
                         cw_error *err) CW_MUST_CHECK;

#endif

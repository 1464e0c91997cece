/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_CORRECTING_H
#define CW_DESK_CORRECTING_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

#include <jansson.h>

/* A name was misspelt, the buyer has moved, wishes another week, or allows other substitutes: what stands on the order from now
 * on, and what does that mean for lists and parcels that are there already?
 *
 *   person and place   in every state of the order, also when the season is closed: refunds and claims still write to them. A parcel
 *                      that is closed is told to get a new slip and label; one that has left went to the old place.
 *   zone, wish, place  of an open order: its week follows the schedule, unless it is pinned, in a wave or gone; a blocked destination
 *                      and a frost hold bind it at once, wherever its parcels stand (desk/ship/shipping, packing)
 *   paid               in every state: what was not paid is not owed back (desk/orders/notices), and an order may be kept back until
 *                      it is (setting hold_unpaid)
 *   consent            of an open order: substitutes that it no longer covers are taken back, off lists and out of parcels; those
 *                      that have left stay
 *
 * Who, when and why stands with the order, where a person's data can be removed; the audit says which fields. What the order was
 * taken with is kept, too: a file or shop that says it again changes nothing. */
typedef struct cw_correcting_ask {
    /* NULL: as it is; "": none */
    const char *customer, *name2, *email, *phone, *street, *town, *postcode, *country, *region, *language,
        *zone;
    const char *wish_week; /* likewise; "2032-W16" */
    const char *paid;      /* yes, no, or "" for nobody said; NULL: as it is */
    const char *consent;   /* of the lines; NULL: as it is */
    const char *named;     /* codes parted by blanks, with consent named */
    int64_t line;          /* consent of this line alone; 0: of all */
    const char *why;       /* may be NULL */
} cw_correcting_ask;

/* *tells: what it means, a list of sentences (new reference). Asking for what stands already changes nothing. */
cw_code cw_correcting_set(cw_nursery *n, const cw_asker *who, const char *order, const cw_correcting_ask *ask,
                          json_t **tells, cw_error *err) CW_MUST_CHECK;

#endif

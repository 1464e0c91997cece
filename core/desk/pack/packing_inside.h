/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_PACKING_INSIDE_H
#define CW_DESK_PACKING_INSIDE_H

/* For files of this room: how a parcel left. */
#include "desk/nursery/nursery_inside.h"
#include "desk/pack/packing.h"
#include "store/waves.h"

#define CW_SENT_WORDS 600

/* The parcels that are closed, opened or sent as one, the one asked for first; alone when nothing is in any of them, so that it
 * is refused by its own rules. */
cw_code cw_packing_in_slot(cw_nursery *n, int64_t parcel, int64_t ids[CW_SLOT_PARCELS], size_t *count,
                           cw_error *err) CW_MUST_CHECK;

/* The numbers of the boxes beside the first. */
typedef struct cw_box_numbers {
    char text[CW_PACKING_MAX_MORE + 1]; /* what `at` points into */
    const char *at[CW_PACKING_MAX_FURTHER];
    size_t count;
} cw_box_numbers;
/* CW_REFUSED where one is too long, stands twice or there are too many; and where the first box has none. */
cw_code cw_packing_numbers(const cw_packing_sent *sent, cw_box_numbers *out, cw_error *err) CW_MUST_CHECK;

/* Writes how a parcel left, first box and others; `all`: no other box than those that are said. */
cw_code cw_packing_write_sent(cw_nursery *n, int64_t parcel, const cw_packing_sent *sent, bool all,
                              cw_error *err) CW_MUST_CHECK;

/* "2032-04-19, by road, T-7, T-8" for events, and without the numbers for the audit, which nobody can be taken out of:
 * "2032-04-19, by road, numbered"; both return `out`. */
const char *cw_packing_say_sent(const cw_packing_sent *sent, char out[CW_SENT_WORDS]);
const char *cw_packing_record_sent(const cw_packing_sent *sent, char out[CW_SENT_WORDS]);

cw_code cw_packing_day_right(const cw_asker *who, cw_day on, cw_error *err) CW_MUST_CHECK;

/* CW_CONFLICT when a parcel of another order left under one of the numbers and it was not said that this is meant. Those that `was`
 * (NULL: it has not left yet) had already are not asked about again. */
cw_code cw_packing_number_free(cw_nursery *n, int64_t order, const cw_packing_sent *sent,
                               const cw_packing_sent *was, cw_error *err) CW_MUST_CHECK;

/* As the public ones (desk/pack/packing.h), of the whole box, inside the caller's work. */
cw_code cw_packing_ship_inside(cw_nursery *n, const cw_asker *who, int64_t parcel,
                               const cw_packing_sent *sent, int64_t *rest, cw_error *err) CW_MUST_CHECK;
cw_code cw_packing_correct_inside(cw_nursery *n, const cw_asker *who, int64_t parcel,
                                  const cw_packing_sent *sent, const char *why, cw_error *err) CW_MUST_CHECK;
cw_code cw_packing_unship_inside(cw_nursery *n, const cw_asker *who, int64_t parcel, const char *why,
                                 cw_error *err) CW_MUST_CHECK;

#endif

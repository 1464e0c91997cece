/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_SHIPPING_INSIDE_H
#define CW_DESK_SHIPPING_INSIDE_H

/* For files of core/desk: the schedule's problem as read from the file, and its answer. */
#include "desk/nursery/nursery_inside.h"
#include "desk/ship/shipping.h"
#include "model/schedule.h"
#include "store/shipping.h"

typedef struct cw_shipping_plan {
    cw_ship_book book;
    cw_schedule_zone *zone;
    cw_schedule_hold *hold;
    bool *of_place; /* which orders each hold of a place holds */
    cw_schedule_leave *leave;
    cw_schedule_order *order; /* as book.order */
    int *capacity, *load;     /* [schedule.weeks] */
    cw_ship *ship;            /* as book.order */
    cw_schedule schedule;     /* points into the above */
} cw_shipping_plan;

/* Reads and places all orders. Freed with cw_shipping_plan_free, also after an error. */
cw_code cw_shipping_plan_make(cw_nursery *n, const cw_asker *who, cw_shipping_plan *out,
                              cw_error *err) CW_MUST_CHECK;
void cw_shipping_plan_free(cw_shipping_plan *p);

int cw_shipping_zone_index(const cw_ship_book *b, const char *zone); /* -1: the table has none of that name */

/* Writes the weeks that differ from those on record, inside the caller's work. */
cw_code cw_shipping_plan_record(cw_nursery *n, const cw_asker *who, const cw_shipping_plan *p,
                                cw_error *err) CW_MUST_CHECK;

/* A place as a person writes it, or a carrier, as the record has it: any name of the country, postcodes with blanks and hyphens, one end of
 * a range for both. CW_REFUSED with the member. */
cw_code cw_shipping_place_read(const cw_hold_place *p, cw_ship_held_place *out, cw_error *err) CW_MUST_CHECK;

/* Sets the weeks that are on record again, inside the caller's work. Where none is, nobody has set them yet. */
cw_code cw_shipping_level(cw_nursery *n, const cw_asker *who, cw_error *err) CW_MUST_CHECK;

#endif

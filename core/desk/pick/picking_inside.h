/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_PICKING_INSIDE_H
#define CW_DESK_PICKING_INSIDE_H

/* For files of core/desk: a wave as planned, before it is written. */
#include "desk/nursery/nursery_inside.h"
#include "desk/pick/picking.h"
#include "desk/ship/shipping_inside.h"
#include "model/walk.h"
#include "store/waves.h"

/* Beside every "allow", "warn" and "block": the table of destinations is what the nursery noted, not the law. */
#define CW_AUTHORITY "the plant-health authority decides"

typedef struct cw_wave_plan {
    cw_wave_book book;
    bool scheduled; /* orders without a week were given one, in `schedule` */
    cw_shipping_plan schedule;
    bool *out;          /* [orders] left out */
    bool *skip;         /* [wanteds] not pulled: all or nothing, and not all is there */
    int64_t *waits;     /* [wanteds] promised but not there */
    int64_t *slot;      /* [orders] parcel slot, 0: nothing of it is pulled */
    int64_t *pick_slot; /* [walk picks] in which slot of a big order's parcel, 0: in the first */
    size_t *line;       /* [walk lines] index into wanted */
    size_t *place;      /* [walk places] index into stock, for id and code */
    size_t places;
    size_t *stock; /* [walk stock] index into stock */
    cw_walk *walk;
    cw_table notes;
} cw_wave_plan;

/* Freed with cw_wave_plan_free, also after an error. Writes nothing. */
cw_code cw_wave_plan_make(cw_nursery *n, const cw_asker *who, const cw_picking_ask *ask, cw_wave_plan *out,
                          cw_error *err) CW_MUST_CHECK;
void cw_wave_plan_free(cw_wave_plan *p);

/* Plans the walk of what is neither out nor skipped (picking_walk.c). */
cw_code cw_wave_plan_walk(cw_wave_plan *p, cw_day today, cw_error *err) CW_MUST_CHECK;

/* cw_picking_fill inside the caller's work (picking_short.c). */
cw_code cw_picking_fill_in(cw_nursery *n, const cw_asker *who, int64_t parcel, const cw_picking_from *from,
                           int64_t *added, cw_error *err) CW_MUST_CHECK;

extern const cw_column cw_pick_columns[];
#define CW_PICK_COLUMNS 8

#endif

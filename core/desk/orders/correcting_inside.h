/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_CORRECTING_INSIDE_H
#define CW_DESK_CORRECTING_INSIDE_H

/* Inside of desk/orders/correcting. */
#include "base/text.h"
#include "desk/nursery/nursery_inside.h"
#include "desk/orders/correcting.h"
#include "store/orders.h"

typedef struct cw_correction {
    cw_nursery *n;
    const cw_asker *who;
    cw_order_head head;            /* as it stands, then as it will */
    cw_text fields, before, after; /* what was changed; both empty when nothing is */
    cw_text says;                  /* what it means, a sentence a line */
    /* a changed field is on the parcel; decides the week; is an open order's alone */
    bool place, week, open_only;
} cw_correction;

void cw_correction_say(cw_correction *c, const char *format, ...) CW_PRINTF(2, 3);

/* Consent of the lines: what it no longer covers is taken back. */
cw_code cw_correction_consent(cw_correction *c, const cw_correcting_ask *a, cw_error *err) CW_MUST_CHECK;

#endif

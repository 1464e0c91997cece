/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_SAID_INSIDE_H
#define CW_DESK_SAID_INSIDE_H

/* Inside of desk/forecast, and for desk/offer: a projection is kept as it was said. */
#include "desk/forecast/forecast_inside.h"

/* Keeps the forecast on record, inside the caller's work; not again while the last one kept rests on the same stock and
 * days. why: release or month. */
cw_code cw_said_keep(cw_nursery *n, const cw_asker *who, const cw_forecast *f, const char *why,
                     cw_error *err) CW_MUST_CHECK;

#endif

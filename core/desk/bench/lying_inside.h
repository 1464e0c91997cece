/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_LYING_INSIDE_H
#define CW_DESK_LYING_INSIDE_H

/* Inside of desk/bench/lying: lying.c looks at places, lying_damper.c asks what damper air would save. */
#include "desk/forecast/forecast_inside.h"

#define CW_LYING_DAYS 5

/* A room's air over its last CW_AIR_RECENT_DAYS with readings. */
typedef struct cw_room_air {
    double temp_c, rh, vpd;
} cw_room_air;
cw_room_air cw_lying_air(const cw_forecast_data *d, size_t room);

/* Index of a lot by its row id, CW_NONE. */
size_t cw_lying_lot(const cw_forecast_data *d, int64_t id);

#endif

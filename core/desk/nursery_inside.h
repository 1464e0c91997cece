/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_NURSERY_INSIDE_H
#define CW_DESK_NURSERY_INSIDE_H

/* Inside of a cw_nursery: for files of core/desk only. */
#include "desk/nursery.h"
#include "store/db.h"

struct cw_forecast_cache; /* desk/forecast: the last projections, by stock revision, day and shipping day */

struct cw_nursery {
    cw_db *db;
    cw_season season;
    struct cw_forecast_cache *cache; /* owned; made by desk/forecast at its first use, may be NULL until then */
};

#endif

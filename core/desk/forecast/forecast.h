/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_FORECAST_H
#define CW_DESK_FORECAST_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

#include <jansson.h>

/* How many sound divisions of each variety will there be on the shipping day, and why? Everything is worked out from
 * the ledger as it stood on a day, so that any past day's projection can be told again. */
typedef struct cw_forecast_ask {
    cw_day ship;         /* CW_NO_DAY: the season's shipping day */
    cw_day as_of;        /* CW_NO_DAY: the asker's today */
    const char *variety; /* code; NULL: all */
} cw_forecast_ask;

/* variety,clumps,divisions,expected,p05,p10,p25,p50,p75,p90,p95,hold_back,reserve,saleable_p10,saleable_p50 : on hand,
 * and sound divisions on the shipping day before hold-back and reserve. `notes` (may be NULL) gets one sentence a line:
 * stated defaults in use, readings bridged. */
cw_code cw_forecast_project(cw_nursery *n, const cw_asker *who, const cw_forecast_ask *ask, cw_table *out,
                            cw_text *notes, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_forecast_project_shape;

/* One variety in full (ask->variety must be named): its figures, the law as chances, its lots, its past seasons, where
 * the figures come from in words and numbers, and which measurement would narrow them most. New reference. */
cw_code cw_forecast_sheet(cw_nursery *n, const cw_asker *who, const cw_forecast_ask *ask, json_t **out,
                          cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_forecast_sheet_shape;

/* piece,value,low,high,mean_effect,variance_share,sentence : the same explanation as a table, for people. */
cw_code cw_forecast_why(cw_nursery *n, const cw_asker *who, const cw_forecast_ask *ask, cw_table *out,
                        cw_error *err) CW_MUST_CHECK;

/* P(sound divisions - hold-back - reserve >= quantity). */
cw_code cw_forecast_at_least(cw_nursery *n, const cw_asker *who, const cw_forecast_ask *ask, int64_t quantity,
                             double *chance, cw_error *err) CW_MUST_CHECK;

/* variety,before_as_of,before_p50,now_p50,before_p10,now_p10,clumps_change,divisions_change,noise,why : what moved since
 * another day, largest change first. */
cw_code cw_forecast_changes(cw_nursery *n, const cw_asker *who, cw_day since, cw_table *out,
                            cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_forecast_changes_shape;

#endif

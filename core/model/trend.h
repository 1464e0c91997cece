/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_TREND_H
#define CW_MODEL_TREND_H

#include "model/demand.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Is a variety asked for more and more, or less and less, and how many will be asked for in seasons to come?
 *
 * In:  what past seasons sold (a season that sold out says nothing of a trend and is left out).
 * Out: a slope of log demand a season, with its sd, and the laws of demand of later seasons.
 *
 *     log(sold + 1/2) = level + slope * season + error,  error variance = CW_TREND_NOISE + 1 / (sold + 1/2)
 *     slope ~ N(0, CW_TREND_SD^2);  level flat
 *
 * In season `ahead` from now log demand has moved by slope * (past + sum of CW_TREND_DAMP^i, i = 1 .. ahead), past being from the
 * middle of the seasons that were seen to now: a trend goes on, less each season (damped trend: Gardner & McKenzie 1985, Management
 * Science 31, from memory). What is not known of the slope widens the law. The two constants and the damping are common practice, no
 * source. */
#define CW_TREND_SD    0.04 /* of a slope before any season: few varieties move by more than a tenth a season */
#define CW_TREND_NOISE 0.06 /* variance of log demand between seasons of a variety */
#define CW_TREND_DAMP  0.7

typedef struct cw_trend_row {
    size_t variety;
    int season;
    int64_t sold;
    bool sold_out;
} cw_trend_row;

typedef struct cw_trend {
    double slope, sd; /* a season, on the log scale */
    double past;      /* seasons from the middle of those seen to `now` */
} cw_trend;

/* out[varieties]; a variety with fewer than two seasons has slope 0 and the prior's sd. */
cw_code cw_trend_fit(const cw_trend_row *row, size_t n, size_t varieties, int now, cw_trend *out,
                     cw_error *err) CW_MUST_CHECK;

/* What is asked for in the season `ahead` of now, from what the seasons seen say of a season. */
void cw_trend_ahead(const cw_trend *t, const cw_demand *seen, int ahead, cw_demand *out);

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_SERVER_CLOCK_H
#define CW_SERVER_CLOCK_H

#include "desk/nursery/nursery.h"

/* The only place that reads the clock. The core is told what "now" is; here it is found out. */
cw_instant cw_clock_now(void);
int64_t cw_clock_ticks(void); /* milliseconds that never step back, for deadlines */

/* Makes `zone` (IANA name, NULL for UTC) the process's: once, before threads start. */
void cw_clock_zone(const char *zone);
cw_day cw_clock_day(cw_instant at); /* the day there */

/* Sets who->today and who->now from the clock, or, when `today` is a day, to noon of that day; and who->clock. */
void cw_clock_set(cw_asker *who, cw_day today);

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_AIR_H
#define CW_MODEL_AIR_H

#include "base/day.h"
#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

/* How dry has the air of a room been, and how dry will it be?
 *
 * Vapour pressure deficit VPD = e_s(T) (1 - RH / 100), Pa; e_s the saturation vapour pressure over liquid
 * water, IAPWS R7-97(2012), region 4 (exact formula 273.15 .. 647.096 K; below 0 C, down to -20 C, it is the
 * formula's own continuation over supercooled water).
 *
 * Integral over irregular readings, Pa days: straight lines between neighbours (trapezoids). A gap longer
 * than CW_AIR_GAP_HOURS is not bridged: the hours in it are counted as flagged and carried at the recent mean
 * (the measured mean of the CW_AIR_RECENT_DAYS before the gap, or after it if there are none). Hours before
 * the first reading are a gap, too. Hours after the last reading are carried at the recent mean and counted
 * as ahead. A room without a single reading is carried at the stated default and all its hours are flagged.
 */
#define CW_AIR_GAP_HOURS   48
#define CW_AIR_RECENT_DAYS 14
#define CW_AIR_DEFAULT_PA  54.0 /* 5.6 C and 94 % RH, the middle of common practice (no source) */

double cw_air_saturation_pa(double temp_c);
double cw_air_vpd_pa(double temp_c, double rh_percent); /* RH is held within 0 .. 100 */

typedef struct cw_air_reading {
    cw_instant at;
    double temp_c;
    double rh_percent;
} cw_air_reading;

typedef struct cw_air_integral {
    double pa_days;
    double measured_hours;
    double flagged_hours; /* in gaps, or before the first reading */
    double ahead_hours;   /* after the last reading */
} cw_air_integral;

/* One room's readings put in order, with running sums, so that any span costs a search. Readings may come in
 * any order; of several at one instant the mean counts. */
typedef struct cw_air_room cw_air_room;
cw_code cw_air_room_new(const cw_air_reading *reading, size_t readings, cw_air_room **out,
                        cw_error *err) CW_MUST_CHECK;
void cw_air_room_free(cw_air_room *r);

/* Integral from `from` to `to` (from <= to). `r` may be NULL: a room never measured. */
cw_air_integral cw_air_between(const cw_air_room *r, cw_instant from, cw_instant to);

/* The mean VPD that is carried ahead, Pa. */
double cw_air_recent_pa(const cw_air_room *r);

#endif

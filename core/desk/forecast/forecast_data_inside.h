/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_FORECAST_DATA_INSIDE_H
#define CW_DESK_FORECAST_DATA_INSIDE_H

/* What did the ledger say at the end of a day, in the shapes that the models take? For files of this room.
 *
 * Clocks. Every lot is replayed day by day as cohorts: clumps that were dug, divisions that were cut, each with the
 * day on which it was last known sound. A storage check restarts the clock of what it inspected and found sound; a
 * dividing session takes clumps and starts divisions. Nobody writes down which crate was looked at, so the rule is:
 * what has waited longest since it was last known sound is inspected, taken or missed first. A stock-take that finds fewer
 * than the ledger says is a look at all of these: what is gone rotted, the clock of the others begins anew. One that finds
 * as many, or more, is a look if whoever counted said so, or else by the setting counts_look. What it finds beyond the
 * ledger was seen on that day.
 *
 * Plantings that still stand, and behind them lots of past seasons, where a row names one, are numbered behind this season's lots:
 * all_lots, all_lots + 1, ...
 *
 * What is still whole is taken to be cut midway between the day and the shipping day (common practice, no source:
 * dividing goes on until shipping starts). Rooms without a reading take the models' stated default. */
#include "desk/nursery/nursery_inside.h"
#include "model/air.h"
#include "model/establish.h"
#include "model/projection.h"
#include "model/rate.h"
#include "model/rot.h"
#include "store/snapshot.h"

#include <stddef.h>
#include <stdint.h>

#define CW_NONE ((size_t)-1)

/* A run of clumps or divisions of one lot with one clock. */
typedef struct cw_fd_cohort {
    size_t lot;
    cw_stage stage;
    int64_t count;
    cw_day since; /* digging or cutting */
    cw_day sound; /* last known sound */
} cw_fd_cohort;

/* Plants of a variety that still stand: `weight` of the season's losses is still to come (model/establish.h). */
typedef struct cw_fd_bed {
    size_t variety;
    int64_t plants;
    double weight;
} cw_fd_bed;

typedef struct cw_forecast_data {
    cw_snapshot *snapshot;
    int season, first_season; /* years; first_season: the oldest with a row */
    cw_day as_of, ship, divide;
    bool best_first; /* the best clumps of a lot are cut first */
    cw_rot_own rot_own;
    bool counts_look; /* a stock-take is a look at what it counts unless it says otherwise */
    size_t varieties, forms, sizes, lots;
    /* plantings that still stand are numbered behind the lots: all_lots = lots + beds */
    size_t beds, all_lots;
    cw_fd_bed *bed; /* [beds] */
    cw_day dig;     /* the middle of digging */
    size_t establish_rows;
    cw_establish_row *establish_row; /* seasons counted from the first that has one */
    int establish_seasons;
    int *form, *size;                    /* [varieties] level, -1 when not known */
    int64_t *clumps, *divisions;         /* [varieties] on hand */
    int64_t *whole;                      /* [varieties] not cut yet: clumps on hand, and plants that stand */
    int64_t *lot_clumps, *lot_divisions; /* [lots] */
    size_t *lot_variety;                 /* [lots] */
    double *lot_cut;                     /* [lots] share of its clumps that has been cut */
    int *lot_place;                      /* [lots] its room among those that lots name, -1 = none is named */
    size_t rate_rows, rot_rows, cohorts, shrivel_checks;
    cw_rate_row *rate_row; /* season counted from first_season */
    cw_rate_cut *rate_cut; /* [rate_rows] */
    cw_rot_row *rot_row;
    cw_rot_look *rot_look; /* [rot_rows] */
    cw_fd_cohort *cohort;
    cw_shrivel_check *shrivel_check;
    /* [cohorts + beds], the same in the projection's terms, and behind them what still stands */
    cw_stock *stock;
    size_t weighings;
    cw_weighing *weighing; /* [weighings] this season's in the snapshot's order, then those of past ones */
    cw_air_room **room;    /* [snapshot->rooms] */
    size_t *lot_room;      /* [lots] index into room, CW_NONE without readings */
    double flagged_hours;  /* most hours of any room's past that had to be bridged */
    size_t *by_id;         /* variety indices sorted by row id */
} cw_forecast_data;

/* Reads everything as of `as_of` for a projection to `ship`. Freed with ..._free. */
cw_code cw_forecast_data_load(cw_nursery *n, cw_day as_of, cw_day ship, cw_forecast_data **out,
                              cw_error *err) CW_MUST_CHECK;
void cw_forecast_data_free(cw_forecast_data *d);

/* Fills rows and cohorts from the snapshot; a step of the load. */
cw_code cw_forecast_replay(cw_forecast_data *d, cw_error *err) CW_MUST_CHECK;

/* Fills beds and what is told of establishment; a step of the load. */
cw_code cw_forecast_field(cw_forecast_data *d, cw_error *err) CW_MUST_CHECK;
void cw_forecast_bed_stock(const cw_forecast_data *d, size_t bed, cw_stock *out);

/* Index of a variety by its row id or by its code; CW_NONE if there is none. */
size_t cw_forecast_data_by_id(const cw_forecast_data *d, int64_t id);
/* The same for rows that come in order of the id, or nearly: *at, first 0, is where the last one was found. */
size_t cw_forecast_data_by_id_from(const cw_forecast_data *d, int64_t id, size_t *at);
/* Index of the lot with this row id; CW_NONE if there is none. */
size_t cw_forecast_data_lot_by_id(const cw_forecast_data *d, int64_t id);
size_t cw_forecast_data_by_code(const cw_forecast_data *d, const char *code);

/* How dry the store has been lately, or was at the end of the season before: vapour pressure deficit, Pa; -1: not known. */
double cw_forecast_data_pa(const cw_forecast_data *d);

/* Drying of a lot's room between two days, Pa days. */
double cw_forecast_data_drying(const cw_forecast_data *d, size_t lot, cw_day from, cw_day to);

#endif

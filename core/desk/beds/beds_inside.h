/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_BEDS_INSIDE_H
#define CW_DESK_BEDS_INSIDE_H

/* Inside of desk/beds/beds: the planting plan before it is told. beds_growth.c says what a plant gives, beds_plan.c gathers and
 * decides, beds.c tells all varieties, beds_variety.c one, beds_write.c writes, beds_figures.c reads what is said. */
#include "desk/forecast/forecast_inside.h"
#include "desk/beds/beds.h"
#include "desk/offer/offering_inside.h"
#include "model/keep.h"
#include "store/kept.h"

#define CW_BEDS_DEMANDS 5 /* this season's and four later ones; from then on a trend is as good as still */

typedef struct cw_beds_growth {
    double mean, sd, dispersion; /* model/keep.h */
    double establishment, clump_sound, rate, division_sound;
} cw_beds_growth;

typedef struct cw_beds_row {
    cw_kept_said said;
    cw_beds_growth growth;
    cw_demand demand;    /* of this season, trend and all */
    cw_demand sold_only; /* of one variety asked for with an own figure: without that */
    double slope;        /* of log demand a season */
    bool demand_said, growth_said;
    const char *needs; /* "demand", "price": without it there is no figure; NULL */
    cw_cents price;    /* -1: not known */
    int64_t reserve;
    cw_distribution sound;                /* what is planted already counted in */
    cw_distribution law[CW_BEDS_DEMANDS]; /* of demand */
    const cw_distribution *year[CW_KEEP_SEASONS + 1];
    cw_keep_ask ask;
    cw_keep keep;
} cw_beds_row;

typedef struct cw_beds {
    const cw_forecast *forecast; /* borrowed from the nursery */
    size_t one;                  /* the variety asked for, CW_NONE: all */
    int seasons;
    double cost, discount, margin_share; /* settings */
    double metres, spacing_cm;
    cw_keep_beds beds;
    cw_beds_row *row; /* [varieties]; of one variety only its own is filled */
} cw_beds;

cw_code cw_beds_make(cw_nursery *n, const cw_asker *who, const cw_beds_ask *ask, cw_beds **out,
                     cw_error *err) CW_MUST_CHECK;
void cw_beds_free(cw_beds *b);
bool cw_beds_shows(const cw_beds *b, size_t variety);

/* A row of the plan. */
#define CW_BEDS_COLUMNS 37
#define CW_BEDS_BRIEF   13
extern const cw_column cw_beds_columns[CW_BEDS_COLUMNS];
void cw_beds_put(const cw_beds *b, size_t variety, cw_table *out);

/* What one division planted gives next spring, in a season that nothing is known of yet. */
cw_code cw_beds_growth_of(cw_nursery *n, const cw_forecast *f, cw_beds_growth *out, /* [varieties] */
                          cw_error *err) CW_MUST_CHECK;

#endif

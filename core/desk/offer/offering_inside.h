/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_OFFERING_INSIDE_H
#define CW_DESK_OFFERING_INSIDE_H

/* Inside of desk/offer/offering: the plan before it is told. Shared by offering.c, offering_plan.c and offering_release.c. */
#include "desk/forecast/forecast_inside.h"
#include "desk/offer/offering.h"
#include "model/demand.h"
#include "model/quantity.h"
#include "model/trend.h"
#include "store/kept.h"

typedef struct cw_plan_row {
    cw_quantity_ask ask; /* points into the plan */
    cw_quantity quantity;
    cw_cents price; /* -1: not known */
    int64_t hold_back, reserve;
} cw_plan_row;

typedef struct cw_plan {
    const cw_forecast *forecast; /* borrowed from the nursery */
    size_t one;                  /* the variety asked for, CW_NONE: all */
    cw_go_on go_on;              /* asked while it is made, and while its draws are */
    cw_projection *projection;   /* of a "what if" on rot, else NULL */
    cw_latent *clump_rot, *division_rot;
    cw_joint *joint;            /* of that projection */
    const cw_distribution *law; /* [varieties] sound divisions: the forecast's, or `tried` */
    cw_distribution *tried;
    cw_distribution *saleable;     /* [varieties] */
    const cw_distribution *demand; /* [varieties] borrowed from the nursery */
    cw_plan_row *row;              /* [varieties] */
    double confidence;             /* of every row */
} cw_plan;

cw_code cw_plan_make(cw_nursery *n, const cw_asker *who, const cw_offering_ask *ask, cw_plan **out,
                     cw_error *err) CW_MUST_CHECK;
void cw_plan_free(cw_plan *p);
bool cw_plan_shows(const cw_plan *p, size_t variety);
/* What a division of standard deviation of what is there costs, in cents: what a measurement is worth goes by it. */
double cw_plan_doubt_costs(const cw_plan *p, size_t variety);

/* Demand of the forecast's varieties, [varieties]; kept with the nursery: good until its next call. */
cw_code cw_plan_demand(cw_nursery *n, const cw_forecast *f, const cw_demand **out,
                       cw_error *err) CW_MUST_CHECK;

/* After it: the same from what past seasons sold alone, good as long; and if the owner said this of usual seasons (cw_plan_said
 * makes a row of it), out[varieties]. */
cw_code cw_plan_demand_sold_only(cw_nursery *n, const cw_demand **out, cw_error *err) CW_MUST_CHECK;
cw_code cw_plan_demand_if(const cw_nursery *n, const cw_sales *said, size_t count, cw_demand *out,
                          cw_error *err) CW_MUST_CHECK;
cw_sales cw_plan_said(size_t variety, const cw_kept_said *said); /* where the owner said the demand */

/* The same as laws, good as long; a variety of which nothing is known has an empty one (cells 0). */
cw_code cw_plan_demand_laws(cw_nursery *n, const cw_forecast *f, const cw_distribution **out,
                            cw_error *err) CW_MUST_CHECK;

/* And how it moves from season to season, [varieties]: of the last cw_plan_demand, and good as long. */
const cw_trend *cw_plan_trend(const cw_nursery *n);

/* The share of a season's orders that has come by the end of that day of this one, 0 .. 1; likewise. */
double cw_plan_come(const cw_nursery *n, cw_day day);

/* Nursery-wide figures at the quantities proposed, and along confidences. */
cw_code cw_plan_totals(const cw_plan *p, cw_tradeoff *out, cw_error *err) CW_MUST_CHECK;
cw_code cw_plan_curve(const cw_plan *p, const double *confidence, size_t n, cw_tradeoff *out,
                      cw_error *err) CW_MUST_CHECK;

#endif

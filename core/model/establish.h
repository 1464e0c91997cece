/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_ESTABLISH_H
#define CW_MODEL_ESTABLISH_H

#include "base/error.h"
#include "base/go_on.h"
#include "model/mixed.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* How many of the plants that were set out are dug as sound clumps?
 *
 * Between two looks a plant is lost with chance 1 - exp(-w exp(eta)),
 *
 *     eta = intercept + variety + season + variety x season,
 *
 * fitted to past seasons (plants set out, clumps dug) and to this season's walks and digging by the mixed model (binomial,
 * complementary log-log link, offset log w). w is the part of the season's losses that falls between the looks: of the whole way
 * from planting to the crate it is 1. Most are lost early, while they root, and some at digging: w = 0.75 sqrt(t) after the
 * share t of the time to digging, the other 0.25 at digging itself (broken, rotten, thrown away). Shares, and the defaults of the
 * sds, are common practice, no source.
 *
 * Units: plants are whole. Assumptions: plants are lost independently given eta; a walk sees every plant.
 *
 * Without any row the answer is the prior that is handed in: the share that the nursery reckons with, and the sd of its log. */
typedef struct cw_establish_row {
    int variety, season; /* from 0 */
    double weight;       /* w; a row with 0 tells nothing */
    int64_t plants, lost;
} cw_establish_row;

typedef struct cw_establish_data { /* borrowed for the call */
    const cw_establish_row *rows;
    size_t n_rows, varieties, seasons;
    int season;          /* this one, 0 .. seasons - 1 */
    double share, doubt; /* prior: dug of planted, and the sd of its log */
    cw_go_on go_on;
} cw_establish_data;

typedef struct cw_establish cw_establish;

/* CW_REFUSED names the row (from 1) that cannot be. *out is NULL unless CW_OK. */
cw_code cw_establish_fit(const cw_establish_data *data, cw_establish **out, cw_error *err) CW_MUST_CHECK;
void cw_establish_free(cw_establish *e);
bool cw_establish_informed(const cw_establish *e);  /* false: there was no row */
int64_t cw_establish_plants(const cw_establish *e); /* of all rows: how much the fit rests on */

/* eta of a variety this season: its mean and sd. Not for two threads at a time on one fit. */
void cw_establish_now(cw_establish *e, size_t variety, double *mean, double *sd);
/* The share of what was planted that is dug, in a season that nothing is known of yet, and the sd of its log. */
void cw_establish_another(cw_establish *e, size_t variety, double *share, double *log_sd);

/* Losses that fall before the share t of the time from planting to digging, 0 .. 0.75; the whole is 1. */
double cw_establish_weight(double t);

/* Nodes and weights of a normal law (Gauss and Hermite): over them a mean over eta is a sum. */
#define CW_ESTABLISH_NODES 5
extern const double cw_establish_node[CW_ESTABLISH_NODES], cw_establish_part[CW_ESTABLISH_NODES];

#endif

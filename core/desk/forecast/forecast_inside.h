/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_FORECAST_INSIDE_H
#define CW_DESK_FORECAST_INSIDE_H

/* For files of core/desk: the projection itself, kept in the nursery under the stock revision. */
#include "base/text.h"
#include "desk/forecast/forecast.h"
#include "desk/forecast/forecast_data_inside.h"
#include "model/learned.h"
#include "model/projection.h"
#include "model/quantity.h"

typedef struct cw_forecast {
    int64_t stock_revision;
    cw_forecast_data *data;
    cw_learned learned;
    cw_establish *establish; /* made when plants stand, or at first need */
    cw_projection *projection;
    /* [varieties] sound divisions on the shipping day, hold-back and reserve not taken off */
    cw_distribution *law;
    cw_joint *joint; /* made at first need */
    /* Draws of an earlier forecast that is asked for no more, and the varieties that have the same here; or NULL. */
    cw_joint *joint_before;
    bool *kept; /* [varieties] */
    /* as a program that begins now would make it; else something of an earlier one is in it (refining.h) */
    bool whole;
} cw_forecast;

#define CW_FORECASTS 3 /* kept: today's and two past days */
struct cw_forecast_cache {
    cw_forecast *kept[CW_FORECASTS]; /* most recently asked first */
    bool apart; /* one piece of work's own: days after each other, each from the one before */
};
void cw_forecast_free(cw_forecast *f);

/* From nothing, on one thread: what a program that begins now would learn. */
cw_code cw_forecast_learn_whole(cw_nursery *n, const cw_asker *who, cw_day ship, cw_day as_of,
                                int64_t *stock_revision, cw_learned *out, cw_error *err) CW_MUST_CHECK;

/* Work over many past days has forecasts of its own, so that what it says does not hang on what was asked before it. */
cw_code cw_forecast_apart(cw_nursery *n, struct cw_forecast_cache **had, cw_error *err) CW_MUST_CHECK;
void cw_forecast_together(cw_nursery *n, struct cw_forecast_cache *had);

/* Plants (forecast_field.c): makes f->establish if it is not made yet. */
cw_code cw_forecast_establishment(cw_nursery *n, const cw_forecast *f, cw_go_on go_on,
                                  cw_error *err) CW_MUST_CHECK;
void cw_forecast_field_average(const cw_forecast *f);
cw_code cw_forecast_field_laws(cw_forecast *f, const cw_projection_input *in, cw_go_on go_on,
                               cw_error *err) CW_MUST_CHECK;
/* Plants of a variety that still stand, and the share of them that should be dug sound. */
int64_t cw_forecast_plants(const cw_forecast *f, size_t variety, double *share);

/* A row of the projection of one variety. */
#define CW_PROJECT_COLUMNS 15
extern const cw_column cw_project_columns[CW_PROJECT_COLUMNS];

/* The projection of `as_of` to `ship` (CW_NO_DAY: today, the season's day). Borrowed: good until the next call that may
 * read the stock afresh. Prices, hold-backs, offers and sales in its snapshot are those of now. */
cw_code cw_forecast_get(cw_nursery *n, const cw_asker *who, cw_day ship, cw_day as_of,
                        const cw_forecast **out, cw_error *err) CW_MUST_CHECK;

/* What the owner says of a variety's rate, as a range; 0 to 0: nothing. */
cw_rate_own cw_forecast_own(const cw_snap_variety *v);

/* Saleable divisions: the law less hold-back and reserve. */
void cw_forecast_saleable(const cw_forecast *f, size_t variety, cw_distribution *out);

/* Joint draws of all varieties, correlated through what they share; made once per forecast. */
cw_code cw_forecast_joint(const cw_forecast *f, cw_go_on go_on, const cw_joint **out,
                          cw_error *err) CW_MUST_CHECK;

/* Sound divisions of each variety that will be there at this confidence (the quantile at 1 - confidence), hold-back and
 * reserve not taken off, for the variety row ids given. */
cw_code cw_forecast_supply(cw_nursery *n, const cw_asker *who, double confidence, const int64_t *variety_ids,
                           size_t count, int64_t *supply, cw_error *err) CW_MUST_CHECK;

/* Adds a sentence a line: stated defaults in use, readings bridged. */
void cw_forecast_notes(const cw_forecast *f, cw_text *notes);

/* What a cw_forecast_ask asks for: the forecast, and the variety it names (CW_NONE: all). */
cw_code cw_forecast_asked(cw_nursery *n, const cw_asker *who, const cw_forecast_ask *ask,
                          const cw_forecast **f, size_t *variety, cw_error *err) CW_MUST_CHECK;

void cw_forecast_cache_free(struct cw_forecast_cache *c);

#endif

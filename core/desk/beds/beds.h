/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_BEDS_H
#define CW_DESK_BEDS_H

#include "base/money.h"
#include "base/shape.h"
#include "desk/nursery/nursery.h"

#include <jansson.h>

/* How many of each variety should be kept for planting, what do the beds hold, and what would another figure lose? The model is
 * model/keep.h; here its figures are gathered: what is sound this spring from the projection, what is asked for from past sales and
 * their trend, what a plant gives from the division rate and the losses of the store in a season not seen yet, money and beds from the
 * settings. The owner can say an own figure for a variety, on record; nothing is written until somebody commits. What is said of demand
 * is the one place for it: a prior of the demand that the offer goes by, too (model/demand.h); growth, cost and least stand in the
 * place of what is learned. */

/* One figure said of a variety: a "what if", or for the record. */
typedef enum cw_beds_field {
    CW_BEDS_DEMAND,  /* low .. high, asked for in a usual season, 8 in 10 sure */
    CW_BEDS_GROWTH,  /* divisions next spring of one planted */
    CW_BEDS_COST,    /* cents, of growing one plant */
    CW_BEDS_LEAST,   /* keep so many at least */
    CW_BEDS_PRICE,   /* cents; only tried here: the record has it in the catalogue */
    CW_BEDS_RESERVE, /* likewise */
} cw_beds_field;
typedef struct cw_beds_figure {
    const char *variety; /* code */
    cw_beds_field field;
    bool learned; /* nothing is said any more: what is learned stands */
    double value, high;
} cw_beds_figure;

/* "AMB:demand:40..90,BRI:growth:3.2" ; the items borrow from `text` in the same struct. An empty value: what is learned. CW_USAGE
 * names what is not understood. */
#define CW_BEDS_FIGURES 200
typedef struct cw_beds_figures {
    cw_beds_figure item[CW_BEDS_FIGURES];
    size_t count;
    char text[4001];
} cw_beds_figures;
cw_code cw_beds_figures_read(const char *text, cw_beds_figures *out, cw_error *err) CW_MUST_CHECK;

typedef struct cw_beds_ask {
    bool brief;          /* of the plan the columns that files rely on, for people and CSV */
    int64_t places;      /* -1: as the settings say */
    const char *variety; /* code; NULL: all */
    int64_t keep;        /* of that variety: what follows of this figure; -1: of the best */
    /* borrowed; of one variety its own, at the price of a place as the record has it */
    const cw_beds_figure *tries;
    size_t n_tries;
} cw_beds_ask;

/* variety,keep,low,high,value,hold_back,loss_of_hold_back,growth,growth_sd,demand,expected_next,place_price,needs and more beside
 * it. keep .. value are null where demand or price is not known: `needs` says which. `beds` (may be NULL): places, planted, price of a place, how
 * the settings say them. New reference. */
cw_code cw_beds_plan(cw_nursery *n, const cw_asker *who, const cw_beds_ask *ask, cw_table *out, json_t **beds,
                     cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_beds_plan_shape, cw_beds_totals_shape;

/* One variety (ask->variety must be named): its row, the law of this spring, what each figure kept is worth, the years that follow
 * ask->keep, and in sentences why. New reference. */
cw_code cw_beds_variety(cw_nursery *n, const cw_asker *who, const cw_beds_ask *ask, json_t **out,
                        cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_beds_variety_shape;

/* season,mean,p10,p25,p50,p75,p90,kept,planted,sold,demand,met of the same: for people. */
cw_code cw_beds_years(cw_nursery *n, const cw_asker *who, const cw_beds_ask *ask, cw_table *out,
                      cw_text *sentences, cw_error *err) CW_MUST_CHECK;

/* Writes hold-backs, on record; owner only. Without items: the best figures of the plan, of all varieties that have one. An item
 * with keep < 0 takes the plan's. *run: to take it back; 0 if nothing changed. out: variety,before,after. */
typedef struct cw_beds_item {
    const char *variety;
    int64_t keep;
} cw_beds_item;
cw_code cw_beds_commit(cw_nursery *n, const cw_asker *who, const cw_beds_ask *ask, const cw_beds_item *items,
                       size_t n_items, int64_t *run, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_beds_changes_shape, cw_beds_based; /* based: hold-backs as they were seen */

/* Takes such a writing back: hold-backs are as before it. CW_CONFLICT, and nothing is done, if one of them was changed since. */
cw_code cw_beds_undo(cw_nursery *n, const cw_asker *who, int64_t run, cw_table *out,
                     cw_error *err) CW_MUST_CHECK;
cw_code cw_beds_runs(cw_nursery *n, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_beds_runs_shape;

/* Says figures of varieties, on record; owner only. */
cw_code cw_beds_say(cw_nursery *n, const cw_asker *who, const cw_beds_figure *figures, size_t count,
                    cw_error *err) CW_MUST_CHECK;

/* The planting list: row,variety,name,plants,from,to : what is kept and not planted yet, in the order of the rows it was dug from;
 * from .. to are its places in the beds, counted through. */
cw_code cw_beds_list(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err) CW_MUST_CHECK;

#endif

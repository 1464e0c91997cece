/* SPDX-License-Identifier: MIT */
/* Demand of each variety from what past seasons sold and what the owner says of a usual one, kept with the nursery until either
 * changes. */
#include "desk/offer/offering_inside.h"

#include "base/grow.h"
#include "model/orders_curve.h"
#include "store/kept.h"
#include "store/offers.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

struct cw_demand_kept {
    int64_t trade; /* revision at which the seasons below were last seen to be the same */
    cw_day ship;
    cw_orders_curve curve;
    cw_sales *sale; /* seasons, then what is said */
    size_t sales, seasons, varieties;
    cw_demand *demand;    /* [varieties] */
    cw_demand *sold_only; /* [varieties] without what is said; made at first need */
    cw_trend *trend;      /* [varieties] */
    cw_distribution *law; /* [varieties] made at first need */
};

static void kept_free(struct cw_demand_kept *k)
{
    if (k == NULL)
        return;
    free(k->sale);
    free(k->demand);
    free(k->sold_only);
    free(k->trend);
    free(k->law);
    free(k);
}

typedef struct reading {
    const cw_forecast_data *data;
    cw_day ship; /* of this season */
    cw_orders_curve curve;
    cw_sales *sale;
    cw_day *out_on; /* of each sale, CW_NO_DAY: did not sell out */
    int *season;    /* likewise */
    size_t sales, seasons, sale_room, out_room, season_room;
    cw_order_day *row;
    size_t rows, row_room;
    bool no_memory;
} reading;

static void reading_free(reading *r)
{
    free(r->sale);
    free(r->out_on);
    free(r->season);
    free(r->row);
}

/* A day of a season, from that season's shipping day: the same day of the year as this season's. */
static int from_shipping(const reading *r, int season, cw_day day)
{
    return (int)(day - r->ship + lround(365.2425 * (r->data->season - season)));
}

cw_sales cw_plan_said(size_t variety, const cw_kept_said *said)
{
    return (cw_sales){ .variety = variety, .said = true, .low = said->demand_low, .high = said->demand_high };
}

static void take_sale(void *context, int64_t variety_id, int season, int64_t sold, cw_day sold_out_on)
{
    reading *r = context;
    size_t v = cw_forecast_data_by_id(r->data, variety_id);
    if (v == CW_NONE || season >= r->data->season || r->no_memory)
        return;
    r->no_memory = !cw_grow(&r->sale, r->sales, &r->sale_room, sizeof *r->sale) ||
                   !cw_grow(&r->out_on, r->sales, &r->out_room, sizeof *r->out_on) ||
                   !cw_grow(&r->season, r->sales, &r->season_room, sizeof *r->season);
    if (r->no_memory)
        return;
    r->sale[r->sales] = (cw_sales){ .variety = v, .sold = sold, .sold_out = sold_out_on != CW_NO_DAY };
    r->out_on[r->sales] = sold_out_on;
    r->season[r->sales++] = season;
    r->seasons = r->sales;
}

static void take_said(void *context, const cw_kept_said *said)
{
    reading *r = context;
    size_t v = cw_forecast_data_by_id(r->data, said->variety_id);
    if (v == CW_NONE || isnan(said->demand_low) || r->no_memory)
        return;
    r->no_memory = !cw_grow(&r->sale, r->sales, &r->sale_room, sizeof *r->sale);
    if (!r->no_memory)
        r->sale[r->sales++] = cw_plan_said(v, said);
}

static void take_order(void *context, int64_t variety_id, int season, cw_day day, int64_t quantity)
{
    reading *r = context;
    if (season >= r->data->season || r->no_memory)
        return;
    r->no_memory = !cw_grow(&r->row, r->rows, &r->row_room, sizeof *r->row);
    if (r->no_memory)
        return;
    r->row[r->rows++] =
        (cw_order_day){ ((int64_t)season << 40) + variety_id, from_shipping(r, season, day), quantity };
}

/* What past seasons sold, each sell-out with the share of a season that its day stands for; and what the owner says. */
static cw_code read_seasons(cw_nursery *n, reading *r, cw_error *err)
{
    cw_code code = cw_offer_past_sales(n->db, take_sale, r, err);
    if (code == CW_OK)
        code = cw_kept_said_each(n->db, take_said, r, err);
    if (code == CW_OK)
        code = cw_offer_past_orders(n->db, take_order, r, err);
    if (code == CW_OK && r->no_memory)
        code = cw_error_memory(err);
    if (code != CW_OK)
        return code;
    cw_orders_curve_learn(r->row, r->rows, &r->curve);
    for (size_t i = 0; i < r->seasons; i++)
        if (r->sale[i].sold_out) {
            double share = cw_orders_curve_at(&r->curve, from_shipping(r, r->season[i], r->out_on[i]));
            r->sale[i].share = fmax(0.01, share);
            r->sale[i].sure = r->curve.sure;
        }
    return CW_OK;
}

static bool same(const struct cw_demand_kept *k, const reading *r)
{
    if (k == NULL || k->varieties != r->data->varieties || k->sales != r->sales || k->seasons != r->seasons)
        return false;
    for (size_t i = 0; i < r->sales; i++) {
        const cw_sales *a = &k->sale[i], *b = &r->sale[i];
        if (a->variety != b->variety || a->sold != b->sold || a->sold_out != b->sold_out ||
            a->share != b->share || a->sure != b->sure || a->low != b->low || a->high != b->high)
            return false;
    }
    return true;
}

static cw_code fit(cw_nursery *n, reading *r, cw_error *err)
{
    struct cw_demand_kept *k = calloc(1, sizeof *k);
    cw_demand *demand = calloc(r->data->varieties + 1, sizeof *demand);
    if (k == NULL || demand == NULL) {
        free(k);
        free(demand);
        return cw_error_memory(err);
    }
    *k = (struct cw_demand_kept){ .sale = r->sale,
                                  .sales = r->sales,
                                  .seasons = r->seasons,
                                  .varieties = r->data->varieties,
                                  .demand = demand };
    r->sale = NULL;
    cw_code code = cw_demand_fit(k->sale, k->sales, k->varieties, 0, k->demand, NULL, err);
    if (code != CW_OK) {
        kept_free(k);
        return code;
    }
    kept_free(n->demand);
    n->demand = k;
    n->demand_free = kept_free;
    return CW_OK;
}

/* Which season sold what may change where the sales do not: so at each reading. */
static cw_code fit_trend(cw_nursery *n, const reading *r, cw_error *err)
{
    struct cw_demand_kept *k = n->demand;
    cw_trend_row *row = calloc(k->seasons + 1, sizeof *row);
    cw_trend *trend = calloc(k->varieties + 1, sizeof *trend);
    cw_code code = row && trend ? CW_OK : cw_error_memory(err);
    for (size_t i = 0; code == CW_OK && i < k->seasons; i++)
        row[i] = (cw_trend_row){ k->sale[i].variety, r->season[i], k->sale[i].sold, k->sale[i].sold_out };
    if (code == CW_OK)
        code = cw_trend_fit(row, k->seasons, k->varieties, r->data->season, trend, err);
    free(row);
    if (code != CW_OK) {
        free(trend);
        return code;
    }
    free(k->trend);
    k->trend = trend;
    return CW_OK;
}

const cw_trend *cw_plan_trend(const cw_nursery *n)
{
    return n->demand ? n->demand->trend : NULL;
}

double cw_plan_come(const cw_nursery *n, cw_day day)
{
    return n->demand ? cw_orders_curve_at(&n->demand->curve, (int)(day - n->demand->ship)) : 0;
}

/* Orders also raise the trade revision but change nothing here: the seasons are read again, found the same, and the fit is
 * kept. */
cw_code cw_plan_demand(cw_nursery *n, const cw_forecast *f, const cw_demand **out, cw_error *err)
{
    cw_revision now;
    reading r = { .data = f->data, .ship = n->season.ship };
    *out = NULL;
    cw_code code = cw_nursery_revision(n, &now, err);
    if (code != CW_OK)
        return code;
    if (n->demand && n->demand->trade == now.trade && n->demand->ship == n->season.ship &&
        n->demand->varieties == f->data->varieties) {
        *out = n->demand->demand;
        return CW_OK;
    }
    code = read_seasons(n, &r, err);
    if (code == CW_OK && !same(n->demand, &r))
        code = fit(n, &r, err);
    if (code == CW_OK)
        code = fit_trend(n, &r, err);
    if (code == CW_OK) {
        n->demand->trade = now.trade;
        n->demand->ship = n->season.ship;
        n->demand->curve = r.curve;
        *out = n->demand->demand;
    }
    reading_free(&r);
    return code;
}

cw_code cw_plan_demand_if(const cw_nursery *n, const cw_sales *said, size_t count, cw_demand *out,
                          cw_error *err)
{
    const struct cw_demand_kept *k = n->demand;
    cw_sales *sale = calloc(k->seasons + count + 1, sizeof *sale);
    if (sale == NULL)
        return cw_error_memory(err);
    for (size_t i = 0; i < k->seasons + count; i++)
        sale[i] = i < k->seasons ? k->sale[i] : said[i - k->seasons];
    cw_code code = cw_demand_fit(sale, k->seasons + count, k->varieties, 0, out, NULL, err);
    free(sale);
    return code;
}

cw_code cw_plan_demand_sold_only(cw_nursery *n, const cw_demand **out, cw_error *err)
{
    struct cw_demand_kept *k = n->demand;
    *out = k->sales == k->seasons ? k->demand : k->sold_only;
    if (*out)
        return CW_OK;
    cw_demand *made = calloc(k->varieties + 1, sizeof *made);
    if (made == NULL)
        return cw_error_memory(err);
    cw_code code = cw_plan_demand_if(n, NULL, 0, made, err);
    if (code != CW_OK) {
        free(made);
        return code;
    }
    *out = k->sold_only = made;
    return CW_OK;
}

cw_code cw_plan_demand_laws(cw_nursery *n, const cw_forecast *f, const cw_distribution **out, cw_error *err)
{
    const cw_demand *demand = NULL;
    *out = NULL;
    cw_code code = cw_plan_demand(n, f, &demand, err);
    if (code != CW_OK)
        return code;
    struct cw_demand_kept *k = n->demand;
    if (k->law == NULL) {
        cw_distribution *law = calloc(k->varieties + 1, sizeof *law);
        if (law == NULL)
            return cw_error_memory(err);
        for (size_t v = 0; v < k->varieties; v++)
            if (demand[v].known)
                cw_demand_law(&demand[v], &law[v]);
        k->law = law;
    }
    *out = k->law;
    return CW_OK;
}

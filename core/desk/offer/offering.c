/* SPDX-License-Identifier: MIT */
#include "desk/offer/offering.h"

#include "desk/forecast/forecast_inside.h"
#include "desk/offer/offering_inside.h"
#include "store/offers.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static const cw_column plan_columns[] = {
    { "variety", CW_TEXT_T, 0 },        { "offered", CW_INT_T, 0 },          { "sold", CW_INT_T, 0 },
    { "quantity", CW_INT_T, 0 },        { "confidence", CW_REAL_T, 3 },      { "p_short", CW_REAL_T, 4 },
    { "expected_short", CW_REAL_T, 2 }, { "expected_unsold", CW_REAL_T, 1 }, { "binds", CW_TEXT_T, 0 },
    { "demand", CW_REAL_T, 1 },         { "supported", CW_INT_T, 0 },
};

static const cw_column desk_columns[] = {
    { "variety", CW_TEXT_T },
    { "name", CW_TEXT_T },
    { "form", CW_TEXT_T, .null = true },
    { "size", CW_TEXT_T, .null = true },
    { "colour", CW_TEXT_T, .null = true },
    { "price", CW_MONEY_T, .null = true },
    { "clumps", CW_INT_T },
    { "divisions", CW_INT_T },
    { "expected", CW_REAL_T, 1 },
    { "p05", CW_INT_T },
    { "p10", CW_INT_T },
    { "p25", CW_INT_T },
    { "p50", CW_INT_T },
    { "p75", CW_INT_T },
    { "p90", CW_INT_T },
    { "p95", CW_INT_T },
    { "hold_back", CW_INT_T },
    { "hold_back_set", CW_INT_T },
    { "reserve", CW_INT_T },
    { "offered", CW_INT_T },
    { "sold", CW_INT_T },
    { "quantity", CW_INT_T },
    { "confidence", CW_REAL_T, 3 },
    { "p_short", CW_REAL_T, 4 },
    { "expected_short", CW_REAL_T, 2 },
    { "expected_unsold", CW_REAL_T, 1 },
    { "margin_at_stake", CW_MONEY_T },
    { "binds", CW_TEXT_T },
    { "by_stock", CW_INT_T },
    { "demand", CW_REAL_T, 1, .null = true, .says = "What past sales and the owner say is asked." },
    { "supported", CW_INT_T, .null = true, .says = "How many that supports." },
};

static const cw_shape rows_shape = CW_ROWS(desk_columns);
static const cw_shape totals_shape = {
    .parts =
        (const cw_part[]){
            { "confidence", CW_REAL_T },
            { "offered", CW_INT_T },
            { "sold", CW_INT_T },
            { "quantity", CW_INT_T },
            { "expected_short", CW_REAL_T },
            { "short_q90", CW_REAL_T },
            { "expected_refunds", CW_MONEY_T },
            { "refunds_q90", CW_MONEY_T },
            { "expected_unsold", CW_REAL_T },
            { "margin", CW_MONEY_T },
            { "expected_margin", CW_MONEY_T },
            { "margin_at_stake", CW_MONEY_T },
            { "p_any_short", CW_REAL_T },
            { "too_far", CW_INT_T,
              .says = "Varieties of which more is sold than the stock alone would offer." },
            { "too_far_short", CW_REAL_T, .says = "Part of expected_short." },
            { "too_far_refunds", CW_MONEY_T, .says = "Part of expected_refunds." },
            { 0 },
        }
};
const cw_shape cw_offering_desk_shape = { .parts = (const cw_part[]){
                                              { "totals", .shape = &totals_shape },
                                              { "varieties", .shape = &rows_shape },
                                              { 0 },
                                          } };

/* What past sales and the owner say will be asked for, and how many to offer that supports. Empty where both say nothing. */
static void put_demand(const cw_plan_row *r, cw_table *out)
{
    cw_put_real(out, r->ask.demand ? r->ask.demand->mean : NAN);
    if (r->quantity.by_demand < 0)
        cw_put_null(out);
    else
        cw_put_int(out, r->quantity.by_demand);
}

static void put_plan(const cw_plan *p, size_t v, cw_table *out)
{
    const cw_snap_variety *s = &p->forecast->data->snapshot->variety[v];
    const cw_quantity_view *view = &p->row[v].quantity.view;
    cw_put_text(out, s->code);
    cw_put_int(out, s->offered);
    cw_put_int(out, s->sold);
    cw_put_int(out, view->quantity);
    cw_put_real(out, p->row[v].ask.confidence);
    cw_put_real(out, view->p_short);
    cw_put_real(out, view->expected_short);
    cw_put_real(out, view->expected_unsold);
    cw_put_text(out, cw_quantity_bind_name(p->row[v].quantity.binds));
    put_demand(&p->row[v], out);
}

static void put_desk(const cw_plan *p, size_t v, cw_table *out)
{
    static const double levels[] = { 0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95 };
    const cw_snap_variety *s = &p->forecast->data->snapshot->variety[v];
    const cw_plan_row *r = &p->row[v];
    const cw_quantity_view *view = &r->quantity.view;
    cw_put_text(out, s->code);
    cw_put_text(out, s->name);
    cw_put_text(out, s->form);
    cw_put_text(out, s->size);
    cw_put_text(out, s->colour);
    if (r->price < 0)
        cw_put_null(out);
    else
        cw_put_money(out, r->price);
    cw_put_int(out, p->forecast->data->clumps[v]);
    cw_put_int(out, p->forecast->data->divisions[v]);
    cw_put_real(out, p->law[v].mean);
    for (size_t q = 0; q < sizeof levels / sizeof levels[0]; q++)
        cw_put_int(out, cw_distribution_quantile(&p->law[v], levels[q]));
    cw_put_int(out, r->hold_back);
    cw_put_int(out, s->hold_back_set);
    cw_put_int(out, r->reserve);
    cw_put_int(out, s->offered);
    cw_put_int(out, s->sold);
    cw_put_int(out, view->quantity);
    cw_put_real(out, r->ask.confidence);
    cw_put_real(out, view->p_short);
    cw_put_real(out, view->expected_short);
    cw_put_real(out, view->expected_unsold);
    cw_put_money(out, (cw_cents)llround(view->margin_at_stake));
    cw_put_text(out, cw_quantity_bind_name(r->quantity.binds));
    cw_put_int(out, r->quantity.by_stock);
    put_demand(r, out);
}

static cw_code fill(const cw_plan *p, void (*put)(const cw_plan *, size_t, cw_table *), cw_table *out,
                    cw_error *err)
{
    for (size_t v = 0; v < p->forecast->data->varieties; v++)
        if (cw_plan_shows(p, v))
            put(p, v, out);
    return cw_table_check(out, err);
}

cw_code cw_offering_plan(cw_nursery *n, const cw_asker *who, const cw_offering_ask *ask, cw_table *out,
                         cw_error *err)
{
    cw_plan *p = NULL;
    cw_table_init(out, plan_columns, sizeof plan_columns / sizeof plan_columns[0]);
    cw_code code = cw_plan_make(n, who, ask, &p, err);
    if (code == CW_OK)
        code = fill(p, put_plan, out, err);
    cw_plan_free(p);
    return code;
}

static json_t *cents(double v)
{
    char s[24];
    cw_cents_format((cw_cents)llround(v), s);
    return json_string(s);
}

/* Sums of the rows, and totals from the same joint draws as the curve, so that both agree. */
static cw_code totals_json(const cw_plan *p, json_t **out, cw_error *err)
{
    int64_t offered = 0, quantity = 0, sold = 0;
    double margin = 0, stake = 0;
    size_t count = p->forecast->data->varieties;
    for (size_t v = 0; v < count; v++) {
        const cw_quantity_view *view = &p->row[v].quantity.view;
        offered += p->forecast->data->snapshot->variety[v].offered;
        sold += p->forecast->data->snapshot->variety[v].sold;
        quantity += view->quantity;
        margin += view->expected_margin;
        stake += view->margin_at_stake;
    }
    cw_tradeoff t = { 0 };
    cw_code code = cw_plan_totals(p, &t, err);
    if (code != CW_OK)
        return code;
    *out = json_pack("{s:f,s:I,s:I,s:I,s:f,s:f,s:o,s:o,s:f,s:o,s:o,s:o,s:f,s:I,s:f,s:o}", "confidence",
                     p->confidence, "offered", (json_int_t)offered, "sold", (json_int_t)sold, "quantity",
                     (json_int_t)quantity, "expected_short", t.short_mean, "short_q90", t.short_q90,
                     "expected_refunds", cents(t.refund_mean), "refunds_q90", cents(t.refund_q90),
                     "expected_unsold", t.unsold_mean, "margin", cents(t.margin_mean), "expected_margin",
                     cents(margin), "margin_at_stake", cents(stake), "p_any_short", t.p_any_short, "too_far",
                     (json_int_t)t.too_far, "too_far_short", t.too_far_short, "too_far_refunds",
                     cents(t.too_far_refund));
    return *out ? CW_OK : cw_error_memory(err);
}

cw_code cw_offering_desk(cw_nursery *n, const cw_asker *who, const cw_offering_ask *ask, cw_table *out,
                         json_t **totals, cw_error *err)
{
    cw_plan *p = NULL;
    cw_table_init(out, desk_columns, sizeof desk_columns / sizeof desk_columns[0]);
    cw_code code = cw_plan_make(n, who, ask, &p, err);
    if (code == CW_OK)
        code = fill(p, put_desk, out, err);
    if (code == CW_OK && totals)
        code = totals_json(p, totals, err);
    cw_plan_free(p);
    return code;
}

static const cw_column offering_curve_columns[] = {
    { "confidence", CW_REAL_T, 3 },
    { "offered", CW_INT_T },
    { "expected_short", CW_REAL_T, 1 },
    { "short_q90", CW_REAL_T, 1 },
    { "expected_refunds", CW_MONEY_T },
    { "refunds_q90", CW_MONEY_T },
    { "expected_unsold", CW_REAL_T, 1 },
    { "margin", CW_MONEY_T },
    { "margin_q10", CW_MONEY_T },
    { "p_any_short", CW_REAL_T, 3 },
    { "too_far", CW_INT_T },
    { "too_far_short", CW_REAL_T, 1 },
    { "too_far_refunds", CW_MONEY_T },
};
const cw_shape cw_offering_curve_shape = CW_ROWS(offering_curve_columns);

cw_code cw_offering_curve(cw_nursery *n, const cw_asker *who, const cw_offering_ask *ask, cw_table *out,
                          cw_error *err)
{
    static const double at[] = { 0.5, 0.6, 0.7, 0.75, 0.8, 0.85, 0.9, 0.925, 0.95, 0.975, 0.99 };
    enum { POINTS = sizeof at / sizeof at[0] };
    cw_tradeoff curve[POINTS];
    cw_plan *p = NULL;
    cw_table_init(out, offering_curve_columns, CW_WIDTH(offering_curve_columns));
    cw_code code = cw_plan_make(n, who, ask, &p, err);
    if (code == CW_OK)
        code = cw_plan_curve(p, at, POINTS, curve, err);
    for (size_t i = 0; code == CW_OK && i < POINTS; i++) {
        cw_put_real(out, curve[i].confidence);
        cw_put_int(out, curve[i].offered);
        cw_put_real(out, curve[i].short_mean);
        cw_put_real(out, curve[i].short_q90);
        cw_put_money(out, (cw_cents)llround(curve[i].refund_mean));
        cw_put_money(out, (cw_cents)llround(curve[i].refund_q90));
        cw_put_real(out, curve[i].unsold_mean);
        cw_put_money(out, (cw_cents)llround(curve[i].margin_mean));
        cw_put_money(out, (cw_cents)llround(curve[i].margin_q10));
        cw_put_real(out, curve[i].p_any_short);
        cw_put_int(out, (int64_t)curve[i].too_far);
        cw_put_real(out, curve[i].too_far_short);
        cw_put_money(out, (cw_cents)llround(curve[i].too_far_refund));
    }
    cw_plan_free(p);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

const cw_shape cw_offering_releases_shape = { .of = &cw_offer_releases_shape };
const cw_shape cw_offering_availability_shape = { .of = &cw_offer_availability_shape };
const cw_shape cw_offering_asked_by_day_shape = { .of = &cw_offer_asked_by_day_shape };

cw_code cw_offering_releases(cw_nursery *n, const char *variety, cw_table *out, cw_error *err)
{
    return cw_offer_releases(n->db, variety, out, err);
}

cw_code cw_offering_availability(cw_nursery *n, cw_table *out, cw_error *err)
{
    return cw_offer_availability(n->db, out, err);
}

cw_code cw_offering_asked_by_day(cw_nursery *n, const char *variety, cw_table *out, cw_error *err)
{
    return cw_offer_asked_by_day(n->db, variety, out, err);
}

/* SPDX-License-Identifier: MIT */
#include "desk/offer/offering_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* A plan by money may ask for no confidence at all, but the curve takes none of 0. */
#define LEAST_CONFIDENCE 1e-9
#define ASK_EVERY        64 /* varieties */

typedef struct shares {
    double confidence, demand_confidence, demand_caps, margin, short_cost;
} shares;

static cw_code read_shares(cw_nursery *n, shares *s, cw_error *err)
{
    cw_code code = cw_nursery_number(n, "confidence", &s->confidence, err);
    if (code == CW_OK)
        code = cw_nursery_number(n, "demand_confidence", &s->demand_confidence, err);
    if (code == CW_OK)
        code = cw_nursery_number(n, "demand_caps", &s->demand_caps, err);
    if (code == CW_OK)
        code = cw_nursery_number(n, "margin_share", &s->margin, err);
    if (code == CW_OK)
        code = cw_nursery_number(n, "short_cost_share", &s->short_cost, err);
    return code;
}

static bool by_shares(const cw_offering_ask *ask)
{
    return ask->margin_share > 0 || ask->short_cost_share > 0;
}

static cw_code check_shares(const cw_offering_ask *ask, cw_error *err)
{
    if (!(ask->margin_share >= 0 && ask->margin_share <= 1))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "margin_share", "must lie between 0 and 1: %g",
                           ask->margin_share);
    if (!(ask->short_cost_share >= 0 && ask->short_cost_share <= 20))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "short_cost_share", "must lie between 0 and 20: %g",
                           ask->short_cost_share);
    if (by_shares(ask) && (ask->confidence > 0 || ask->margin >= 0 || ask->short_cost >= 0))
        return cw_error_set(err, CW_USAGE,
                            "give a confidence, or money per division, or shares of the price: one of them");
    return CW_OK;
}

static cw_code check_ask(const cw_offering_ask *ask, cw_error *err)
{
    if (!(ask->confidence >= 0 && ask->confidence < 1))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "confidence", "must lie above 0 and below 1: %g",
                           ask->confidence);
    if (ask->confidence > 0 && (ask->margin >= 0 || ask->short_cost >= 0))
        return cw_error_set(err, CW_USAGE, "give a confidence, or a margin with a short cost, not both");
    if ((ask->margin >= 0) != (ask->short_cost >= 0))
        return cw_error_set(err, CW_USAGE, "a margin and a short cost are given together");
    if (ask->margin == 0 && ask->short_cost == 0)
        return cw_error_set(err, CW_REFUSED,
                            "margin and short cost are both 0, so nothing says how many to offer");
    if (!(ask->rot >= 0 && ask->rot <= 100))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "rot",
                           "must lie between 0 and 100 times what is projected: %g", ask->rot);
    return check_shares(ask, err);
}

/* A copy of a latent field with `add` on every mean; NULL without memory. */
static cw_latent *shifted(const cw_latent *from, double add)
{
    cw_latent *l = cw_latent_copy(from);
    for (size_t p = 0; l && p < l->points; p++)
        for (size_t u = 0; u < l->units; u++)
            l->point[p].mean[u] += add;
    return l;
}

/* The projection again with rot `factor` times as fast: every log hazard moves by log factor. */
static cw_code try_rot(cw_plan *p, double factor, cw_error *err)
{
    const cw_forecast *f = p->forecast;
    const cw_forecast_data *d = f->data;
    p->clump_rot = shifted(cw_rot_latent(f->learned.rot, CW_ROT_CLUMP), log(factor));
    p->division_rot = shifted(cw_rot_latent(f->learned.rot, CW_ROT_DIVISION), log(factor));
    p->tried = calloc(d->varieties + 1, sizeof *p->tried);
    if (p->clump_rot == NULL || p->division_rot == NULL || p->tried == NULL)
        return cw_error_memory(err);
    cw_projection_input in = { .varieties = d->varieties,
                               .lots = d->all_lots,
                               .stocks = d->cohorts + d->beds,
                               .lot_variety = d->lot_variety,
                               .stock = d->stock,
                               .rate = cw_rate_latent(f->learned.rate),
                               .clump_rot = p->clump_rot,
                               .division_rot = p->division_rot,
                               .dead = cw_rate_dead(f->learned.rate),
                               .rot_tie = cw_rot_tie(f->learned.rot),
                               .shrink = f->learned.shrink };
    cw_code code = cw_projection_new(&in, &p->projection, err);
    if (code == CW_OK)
        cw_projection_all(p->projection, 0, p->tried);
    p->law = p->tried;
    return code;
}

static void plan_row(cw_plan *p, size_t v, const cw_offering_ask *ask, const shares *s)
{
    const cw_snap_variety *has = &p->forecast->data->snapshot->variety[v];
    cw_plan_row *r = &p->row[v];
    *r = (cw_plan_row){ .price = has->price, .hold_back = has->hold_back, .reserve = has->reserve };
    for (size_t i = 0; i < ask->n_tries; i++) {
        const cw_offering_try *t = &ask->tries[i];
        if (strcmp(t->variety, has->code) != 0)
            continue;
        r->price = t->price >= 0 ? t->price : r->price;
        if (t->hold_back >= 0)
            r->hold_back = t->hold_back > has->planted ? t->hold_back - has->planted : 0;
        r->reserve = t->reserve >= 0 ? t->reserve : r->reserve;
    }
    double price = r->price > 0 ? (double)r->price : 0;
    bool money = ask->margin >= 0;
    cw_distribution_less(&p->law[v], r->hold_back + r->reserve, &p->saleable[v]);
    r->ask = (cw_quantity_ask){
        .saleable = &p->saleable[v],
        .demand = p->demand[v].cells ? &p->demand[v] : NULL,
        .margin = money ? ask->margin : (cw_cents)llround(price * s->margin),
        .short_cost = money ? ask->short_cost : (cw_cents)llround(price * s->short_cost),
        .demand_confidence = s->demand_confidence,
        .demand_caps = s->demand_caps != 0,
        .sold = has->sold,
    };
    r->ask.confidence = p->confidence;
    cw_quantity_plan(&r->ask, &r->quantity);
}

/* Shares of the price give the same confidence whatever the price is. */
static double confidence_of(const cw_offering_ask *ask, const shares *s)
{
    const double parts = 1e6;
    if (ask->confidence > 0)
        return ask->confidence;
    if (by_shares(ask))
        return cw_quantity_confidence((cw_cents)llround(ask->margin_share * parts),
                                      (cw_cents)llround(ask->short_cost_share * parts));
    return ask->margin >= 0 ? cw_quantity_confidence(ask->margin, ask->short_cost) : s->confidence;
}

static cw_code known_tries(const cw_forecast *f, const cw_offering_ask *ask, cw_error *err)
{
    for (size_t i = 0; i < ask->n_tries; i++) {
        char shown[80];
        if (cw_forecast_data_by_code(f->data, ask->tries[i].variety) == CW_NONE)
            return cw_error_set(err, CW_NOT_FOUND, "there is no variety with the code %s",
                                cw_shown(ask->tries[i].variety, strlen(ask->tries[i].variety), shown));
    }
    return CW_OK;
}

static cw_code fill(cw_nursery *n, const cw_offering_ask *ask, cw_plan *p, cw_error *err)
{
    size_t count = p->forecast->data->varieties;
    shares s = { 0 };
    p->law = p->forecast->law;
    p->saleable = malloc((count + 1) * sizeof *p->saleable); /* all of it is filled below */
    p->row = calloc(count + 1, sizeof *p->row);
    if (!p->saleable || !p->row)
        return cw_error_memory(err);
    cw_code code = known_tries(p->forecast, ask, err);
    if (code == CW_OK)
        code = read_shares(n, &s, err);
    if (code == CW_OK && ask->rot > 0 && ask->rot != 1)
        code = try_rot(p, ask->rot, err);
    if (code == CW_OK)
        code = cw_plan_demand_laws(n, p->forecast, &p->demand, err);
    if (by_shares(ask)) {
        s.margin = ask->margin_share;
        s.short_cost = ask->short_cost_share;
    }
    p->confidence = confidence_of(ask, &s);
    for (size_t v = 0; code == CW_OK && v < count; v++) {
        plan_row(p, v, ask, &s);
        if (v % ASK_EVERY == 0 && !cw_wanted(p->go_on))
            code = cw_given_up(err);
    }
    return code;
}

cw_code cw_plan_make(cw_nursery *n, const cw_asker *who, const cw_offering_ask *ask, cw_plan **out,
                     cw_error *err)
{
    cw_forecast_ask asked = { ask->ship, ask->as_of, ask->variety };
    *out = NULL;
    cw_code code = check_ask(ask, err);
    if (code != CW_OK)
        return code;
    cw_plan *p = calloc(1, sizeof *p);
    if (p == NULL)
        return cw_error_memory(err);
    p->go_on = cw_asker_go_on(who);
    code = cw_forecast_asked(n, who, &asked, &p->forecast, &p->one, err);
    if (code == CW_OK)
        code = fill(n, ask, p, err);
    if (code != CW_OK) {
        cw_plan_free(p);
        return code;
    }
    *out = p;
    return CW_OK;
}

void cw_plan_free(cw_plan *p)
{
    if (p == NULL)
        return;
    cw_joint_free(p->joint);
    cw_projection_free(p->projection);
    cw_latent_free(p->clump_rot);
    cw_latent_free(p->division_rot);
    free(p->tried);
    free(p->saleable);
    free(p->row);
    free(p);
}

/* A retired variety is shown only while something of it is on hand, on offer or sold. */
bool cw_plan_shows(const cw_plan *p, size_t v)
{
    const cw_forecast_data *d = p->forecast->data;
    const cw_snap_variety *s = &d->snapshot->variety[v];
    if (p->one != CW_NONE)
        return v == p->one;
    return !s->retired || d->clumps[v] + d->divisions[v] + s->offered + s->sold > 0;
}

typedef struct draws {
    const cw_joint *joint;
    const cw_plan *plan;
} draws;

static void saleable_in(const void *context, size_t variety, double *out)
{
    const draws *d = context;
    const cw_plan_row *r = &d->plan->row[variety];
    cw_joint_above(d->joint, variety, r->hold_back + r->reserve, out);
}

/* Per-variety arrays that the trade-off takes. */
typedef struct columns {
    double *demand;
    int64_t *cap, *sold;
    cw_cents *margin, *short_cost, *refund;
} columns;

static void columns_free(columns *c)
{
    free(c->demand);
    free(c->cap);
    free(c->sold);
    free(c->margin);
    free(c->short_cost);
    free(c->refund);
}

static cw_code columns_make(const cw_plan *p, columns *c, cw_error *err)
{
    size_t n = p->forecast->data->varieties;
    c->demand = calloc(n + 1, sizeof *c->demand);
    c->cap = calloc(n + 1, sizeof *c->cap);
    c->sold = calloc(n + 1, sizeof *c->sold);
    c->margin = calloc(n + 1, sizeof *c->margin);
    c->short_cost = calloc(n + 1, sizeof *c->short_cost);
    c->refund = calloc(n + 1, sizeof *c->refund);
    if (!c->demand || !c->cap || !c->sold || !c->margin || !c->short_cost || !c->refund)
        return cw_error_memory(err);
    for (size_t v = 0; v < n; v++) {
        const cw_plan_row *r = &p->row[v];
        c->demand[v] = r->ask.demand ? r->ask.demand->mean : -1;
        c->cap[v] = r->ask.demand_caps ? r->quantity.by_demand : -1;
        c->sold[v] = r->ask.sold;
        c->margin[v] = r->ask.margin;
        c->short_cost[v] = r->ask.short_cost;
        c->refund[v] = r->price > 0 ? r->price : 0;
    }
    return CW_OK;
}

static cw_code joint_of(const cw_plan *p, const cw_joint **out, cw_error *err)
{
    cw_plan *mine = (cw_plan *)p; /* draws are made at first need */
    cw_code code = CW_OK;
    if (p->projection == NULL)
        return cw_forecast_joint(p->forecast, p->go_on, out, err);
    if (p->joint == NULL)
        code = cw_joint_new(p->projection, p->law, CW_JOINT_DRAWS, 0, p->go_on, &mine->joint, err);
    *out = p->joint;
    return code;
}

cw_code cw_plan_curve(const cw_plan *p, const double *confidence, size_t n, cw_tradeoff *out, cw_error *err)
{
    columns c = { 0 };
    draws d = { NULL, p };
    cw_code code = joint_of(p, &d.joint, err);
    if (code == CW_OK)
        code = columns_make(p, &c, err);
    if (code == CW_OK) {
        cw_tradeoff_input in = { .varieties = p->forecast->data->varieties,
                                 .draws = cw_joint_draws(d.joint),
                                 .saleable = saleable_in,
                                 .context = &d,
                                 .law = p->saleable,
                                 .demand = c.demand,
                                 .cap = c.cap,
                                 .sold = c.sold,
                                 .margin = c.margin,
                                 .short_cost = c.short_cost,
                                 .refund = c.refund };
        code = cw_tradeoff_curve(&in, confidence, n, out, err);
    }
    columns_free(&c);
    return code;
}

cw_code cw_plan_totals(const cw_plan *p, cw_tradeoff *out, cw_error *err)
{
    const double at = fmax(p->confidence, LEAST_CONFIDENCE);
    return cw_plan_curve(p, &at, 1, out, err);
}

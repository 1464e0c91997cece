/* SPDX-License-Identifier: MIT */
/* The planting plan: figures gathered for each variety, and decided together. */
#include "desk/beds/beds_inside.h"

#include "base/text.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* The price of a place as the record has it, kept with the nursery: one variety is then looked at alone. */
struct cw_beds_kept {
    int64_t stock, trade;
    cw_day as_of, ship;
    cw_keep_beds beds;
};

static void kept_free(struct cw_beds_kept *k)
{
    free(k);
}

static cw_code read_settings(cw_nursery *n, cw_beds *b, cw_error *err)
{
    double seasons = 0, places = 0;
    const struct {
        const char *name;
        double *to;
    } numbers[] = { { "plant_seasons", &seasons },        { "plant_cost", &b->cost },
                    { "plant_discount", &b->discount },   { "margin_share", &b->margin_share },
                    { "beds_places", &places },           { "beds_metres", &b->metres },
                    { "beds_spacing_cm", &b->spacing_cm } };
    cw_code code = CW_OK;
    for (size_t i = 0; code == CW_OK && i < sizeof numbers / sizeof numbers[0]; i++)
        code = cw_nursery_number(n, numbers[i].name, numbers[i].to, err);
    b->seasons = (int)seasons;
    b->cost *= 100;
    b->beds.places = places > 0 ? places : b->metres > 0 ? floor(100 * b->metres / b->spacing_cm) : -1;
    return code;
}

static void take_said(void *context, const cw_kept_said *said)
{
    cw_beds *b = context;
    size_t v = cw_forecast_data_by_id(b->forecast->data, said->variety_id);
    if (v != CW_NONE)
        b->row[v].said = *said;
}

static void try_figure(cw_beds_row *r, const cw_beds_figure *t)
{
    switch (t->field) {
    case CW_BEDS_DEMAND:
        r->said.demand_low = t->learned ? NAN : t->value;
        r->said.demand_high = t->learned ? NAN : t->high;
        break;
    case CW_BEDS_GROWTH:
        r->said.growth = t->learned ? NAN : t->value;
        break;
    case CW_BEDS_COST:
        r->said.cost = t->learned ? -1 : (cw_cents)t->value;
        break;
    case CW_BEDS_LEAST:
        r->said.least = t->learned ? -1 : (int64_t)t->value;
        break;
    case CW_BEDS_PRICE:
        r->price = t->learned ? r->price : (cw_cents)t->value;
        break;
    case CW_BEDS_RESERVE:
        r->reserve = t->learned ? r->reserve : (int64_t)t->value;
        break;
    }
}

static cw_code try_figures(cw_beds *b, const cw_beds_ask *ask, cw_error *err)
{
    for (size_t i = 0; i < ask->n_tries; i++) {
        char shown[80];
        const char *code = ask->tries[i].variety;
        size_t v = cw_forecast_data_by_code(b->forecast->data, code);
        if (v == CW_NONE)
            return cw_error_set(err, CW_NOT_FOUND, "there is no variety with the code %s",
                                cw_shown(code, strlen(code), shown));
        try_figure(&b->row[v], &ask->tries[i]);
    }
    return CW_OK;
}

static void law_of(const cw_demand *d, cw_distribution *out)
{
    if (d->mean > 0)
        cw_demand_law(d, out);
    else
        cw_distribution_point(out, 0);
}

/* How the season stands: the share of its orders that is yet to come, and of each variety what went to buyers already. */
typedef struct so_far {
    double to_come;
    int64_t *gone; /* [varieties] */
} so_far;

/* Events stand in the order of the lots. Before anything was sold the shop has not opened, whatever day it is. */
static void look_at_season(const cw_nursery *n, const cw_forecast_data *d, so_far *s)
{
    const cw_snapshot *snap = d->snapshot;
    bool opened = false;
    size_t e = 0;
    for (size_t l = 0; l < d->lots; l++) {
        while (e < snap->events && snap->event[e].lot_id < snap->lot[l].id)
            e++;
        for (; e < snap->events && snap->event[e].lot_id == snap->lot[l].id; e++)
            if (d->lot_variety[l] != CW_NONE)
                s->gone[d->lot_variety[l]] += snap->event[e].left_sound;
    }
    for (size_t v = 0; v < d->varieties; v++) {
        s->gone[v] -= snap->variety[v].planted;
        opened = opened || snap->variety[v].sold > 0;
    }
    s->to_come = opened ? 1 - fmin(1, cw_plan_come(n, d->as_of)) : 1;
}

/* What this season still asks of the stock that is there: what is sold and lies here yet, and the part of a season's demand that is
 * yet to come (thinned, a negative binomial law stays one). */
static void still_asked(const cw_demand *season, int64_t here, double to_come, cw_distribution *out)
{
    cw_demand rest = { .known = true, .mean = to_come * season->mean };
    rest.variance = rest.mean + to_come * to_come * fmax(0, season->variance - season->mean);
    law_of(&rest, out);
    if (here <= 0)
        return;
    out->first += here;
    out->mean += (double)here;
}

/* Demand of this season and of later ones: what the owner says stands still, what is learned goes on with its trend, each for its
 * part of what is known. */
static void make_demand(cw_beds *b, size_t v, const cw_demand *seen, const cw_trend *trend, const so_far *now)
{
    cw_beds_row *r = &b->row[v];
    int64_t here = b->forecast->data->snapshot->variety[v].sold - now->gone[v];
    const cw_trend part = { .slope = trend->slope * (1 - seen->own_share),
                            .sd = trend->sd * (1 - seen->own_share),
                            .past = trend->past };
    r->demand_said = !isnan(r->said.demand_low);
    r->slope = part.slope;
    for (int t = 0; t < CW_BEDS_DEMANDS; t++) {
        cw_demand d = { .known = seen->known };
        if (seen->known)
            cw_trend_ahead(&part, seen, t, &d);
        if (t == 0) {
            r->demand = d;
            r->demand.own_share = seen->own_share;
        }
        if (d.known && t == 0)
            still_asked(&d, here, now->to_come, &r->law[0]);
        else if (d.known)
            law_of(&d, &r->law[t]);
    }
    for (int t = 0; t <= b->seasons; t++)
        r->year[t] = &r->law[t < CW_BEDS_DEMANDS ? t : CW_BEDS_DEMANDS - 1];
}

static void make_row(cw_beds *b, size_t v, const cw_beds_growth *growth)
{
    const cw_snap_variety *s = &b->forecast->data->snapshot->variety[v];
    cw_beds_row *r = &b->row[v];
    r->growth = *growth;
    r->growth_said = !isnan(r->said.growth);
    if (r->growth_said)
        r->growth.mean = r->said.growth;
    r->sound = b->forecast->law[v];
    r->sound.first += s->planted; /* what is in the ground already is kept for certain */
    r->sound.mean += (double)s->planted;
    r->needs = s->retired ? NULL : !r->demand.known ? "demand" : r->price < 0 ? "price" : NULL;
    if (!r->demand.known) /* a retired variety: nothing is kept of it whatever is asked for */
        cw_distribution_point(&r->law[0], 0);
    int64_t least = r->said.least > 0 ? r->said.least : 0;
    r->ask = (cw_keep_ask){ .sound = &r->sound,
                            .demand = r->year,
                            .seasons = b->seasons,
                            .growth = r->growth.mean,
                            .growth_sd = r->growth.sd,
                            .growth_dispersion = r->growth.dispersion,
                            .margin = r->price > 0 ? (double)r->price * b->margin_share : 0,
                            .cost = r->said.cost >= 0 ? (double)r->said.cost : b->cost,
                            .discount = b->discount,
                            .reserve = r->reserve,
                            .places = b->beds.places < 0 ? CW_KEEP_PLACES : (int64_t)b->beds.places,
                            .floor = least > s->planted ? least : s->planted,
                            .typed = s->hold_back_set,
                            .retired = s->retired };
}

/* What would be asked for if what is tried were on record; NULL where no demand is tried. */
static cw_code try_demand(const cw_nursery *n, const cw_beds *b, const cw_beds_ask *ask, cw_demand **out,
                          cw_error *err)
{
    size_t varieties = b->forecast->data->varieties, count = 0, tried = 0;
    *out = NULL;
    for (size_t i = 0; i < ask->n_tries; i++)
        tried += ask->tries[i].field == CW_BEDS_DEMAND;
    if (tried == 0)
        return CW_OK;
    cw_sales *said = calloc(varieties + 1, sizeof *said);
    cw_demand *made = calloc(varieties + 1, sizeof *made);
    cw_code code = said && made ? CW_OK : cw_error_memory(err);
    for (size_t v = 0; code == CW_OK && v < varieties; v++)
        if (!isnan(b->row[v].said.demand_low))
            said[count++] = cw_plan_said(v, &b->row[v].said);
    if (code == CW_OK)
        code = cw_plan_demand_if(n, said, count, made, err);
    free(said);
    if (code != CW_OK) {
        free(made);
        return code;
    }
    *out = made;
    return CW_OK;
}

/* Of one variety that has an own figure: what past sales say alone. */
static cw_code look_without(cw_nursery *n, cw_beds *b, cw_error *err)
{
    const cw_demand *sold_only = NULL;
    if (b->one == CW_NONE || isnan(b->row[b->one].said.demand_low))
        return CW_OK;
    cw_code code = cw_plan_demand_sold_only(n, &sold_only, err);
    if (code == CW_OK)
        b->row[b->one].sold_only = sold_only[b->one];
    return code;
}

static cw_code gather(cw_nursery *n, cw_beds *b, const cw_beds_ask *ask, cw_error *err)
{
    const cw_forecast_data *d = b->forecast->data;
    const cw_demand *demand = NULL;
    const cw_trend *trend = NULL;
    cw_demand *tried = NULL;
    cw_beds_growth *growth = calloc(d->varieties + 1, sizeof *growth);
    so_far now = { .gone = calloc(d->varieties + 1, sizeof *now.gone) };
    b->row = calloc(d->varieties + 1, sizeof *b->row);
    cw_code code =
        growth && now.gone && b->row ? cw_plan_demand(n, b->forecast, &demand, err) : cw_error_memory(err);
    for (size_t v = 0; b->row && v < d->varieties; v++) {
        const cw_snap_variety *s = &d->snapshot->variety[v];
        b->row[v].said = (cw_kept_said){ s->id, NAN, NAN, NAN, -1, -1 };
        b->row[v].price = s->price;
        b->row[v].reserve = s->reserve;
    }
    if (code == CW_OK)
        code = cw_kept_said_each(n->db, take_said, b, err);
    if (code == CW_OK)
        code = try_figures(b, ask, err);
    if (code == CW_OK)
        code = try_demand(n, b, ask, &tried, err);
    demand = tried ? tried : demand;
    if (code == CW_OK)
        code = look_without(n, b, err);
    if (code == CW_OK)
        code = cw_beds_growth_of(n, b->forecast, growth, err);
    trend = cw_plan_trend(n);
    if (code == CW_OK)
        look_at_season(n, d, &now);
    for (size_t v = 0; code == CW_OK && v < d->varieties; v++) {
        if (b->one != CW_NONE && v != b->one)
            continue;
        make_demand(b, v, &demand[v], &trend[v], &now);
        make_row(b, v, &growth[v]);
    }
    free(tried);
    free(growth);
    free(now.gone);
    return code;
}

/* All varieties that have a figure, at one price for a place. */
static cw_code decide_all(cw_beds *b, cw_go_on go_on, cw_error *err)
{
    size_t n = b->forecast->data->varieties, count = 0;
    cw_keep_ask *ask = calloc(n + 1, sizeof *ask);
    cw_keep *keep = calloc(n + 1, sizeof *keep);
    cw_code code = ask && keep ? CW_OK : cw_error_memory(err);
    for (size_t v = 0; code == CW_OK && v < n; v++)
        if (b->row[v].needs == NULL)
            ask[count++] = b->row[v].ask;
    if (code == CW_OK)
        code = cw_keep_nursery(ask, count, b->beds.places, 0, go_on, keep, &b->beds, err);
    for (size_t v = 0, i = 0; code == CW_OK && v < n; v++)
        if (b->row[v].needs == NULL)
            b->row[v].keep = keep[i++];
    free(ask);
    free(keep);
    return code;
}

static cw_code decide_one(cw_beds *b, cw_error *err)
{
    cw_beds_row *r = &b->row[b->one];
    cw_keeper *k = NULL;
    if (r->needs)
        return CW_OK;
    cw_code code = cw_keeper_new(&r->ask, &k, err);
    if (code == CW_OK) {
        cw_keeper_price(k, b->beds.price);
        cw_keeper_best(k, &r->keep);
    }
    cw_keeper_free(k);
    return code;
}

static cw_code make(cw_nursery *n, const cw_asker *who, const cw_beds_ask *ask, const cw_keep_beds *price,
                    cw_beds **out, cw_error *err)
{
    const cw_forecast_ask asked = { CW_NO_DAY, CW_NO_DAY, ask->variety };
    *out = NULL;
    cw_beds *b = calloc(1, sizeof *b);
    if (b == NULL)
        return cw_error_memory(err);
    cw_code code = cw_forecast_asked(n, who, &asked, &b->forecast, &b->one, err);
    if (code == CW_OK)
        code = read_settings(n, b, err);
    if (ask->places >= 0)
        b->beds.places = (double)ask->places;
    if (price)
        b->beds = *price;
    if (code == CW_OK)
        code = gather(n, b, ask, err);
    if (code == CW_OK)
        code = b->one == CW_NONE ? decide_all(b, cw_asker_go_on(who), err) : decide_one(b, err);
    if (code != CW_OK) {
        cw_beds_free(b);
        return code;
    }
    *out = b;
    return CW_OK;
}

static void keep_price(cw_nursery *n, const cw_revision *now, const cw_beds *b)
{
    struct cw_beds_kept *k = n->beds ? n->beds : calloc(1, sizeof *k);
    if (k == NULL)
        return; /* it is worked out again */
    *k = (struct cw_beds_kept){ now->stock, now->trade, b->forecast->data->as_of, b->forecast->data->ship,
                                b->beds };
    n->beds = k;
    n->beds_free = kept_free;
}

/* The price of a place with everything as it is on record. */
static cw_code price_now(cw_nursery *n, const cw_asker *who, cw_keep_beds *out, cw_error *err)
{
    const cw_beds_ask all = { .places = -1, .keep = -1 };
    cw_revision now;
    cw_beds *b = NULL;
    cw_code code = cw_nursery_revision(n, &now, err);
    const struct cw_beds_kept *k = n->beds;
    if (code == CW_OK && k && k->stock == now.stock && k->trade == now.trade && k->as_of == who->today &&
        k->ship == n->season.ship) {
        *out = k->beds;
        return CW_OK;
    }
    if (code == CW_OK)
        code = make(n, who, &all, NULL, &b, err);
    if (code == CW_OK) {
        *out = b->beds;
        keep_price(n, &now, b);
    }
    cw_beds_free(b);
    return code;
}

cw_code cw_beds_make(cw_nursery *n, const cw_asker *who, const cw_beds_ask *ask, cw_beds **out, cw_error *err)
{
    cw_keep_beds price = { 0 };
    cw_revision now;
    if (ask->variety && ask->places < 0) {
        cw_code code = price_now(n, who, &price, err);
        return code == CW_OK ? make(n, who, ask, &price, out, err) : code;
    }
    cw_code code = cw_nursery_revision(n, &now, err);
    if (code == CW_OK && ask->variety) { /* other beds: their price first */
        const cw_beds_ask all = { .places = ask->places, .keep = -1 };
        code = make(n, who, &all, NULL, out, err);
        if (code != CW_OK)
            return code;
        price = (*out)->beds;
        cw_beds_free(*out);
        return make(n, who, ask, &price, out, err);
    }
    if (code == CW_OK)
        code = make(n, who, ask, NULL, out, err);
    if (code == CW_OK && ask->places < 0 && ask->n_tries == 0)
        keep_price(n, &now, *out);
    return code;
}

void cw_beds_free(cw_beds *b)
{
    if (b)
        free(b->row);
    free(b);
}

/* A retired variety is shown only while something is held back of it. */
bool cw_beds_shows(const cw_beds *b, size_t v)
{
    const cw_snap_variety *s = &b->forecast->data->snapshot->variety[v];
    return b->one == CW_NONE ? !s->retired || s->hold_back_set > 0 : v == b->one;
}

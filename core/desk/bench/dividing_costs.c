/* SPDX-License-Identifier: MIT */
#include "desk/bench/dividing_inside.h"

#include "base/parallel.h"
#include "model/knowledge.h"
#include "model/orders_curve.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* What it costs to cut a lot on a day: what is lost, not known in time, late.
 *
 * What is lost comes from the projection itself: the mean of a lot on the shipping day, worked out for its whole clumps as if they
 * were cut on each of a few days (knots), and in between on a straight line of its logarithm. */

#define UNSOLD_WORTH                                                                                         \
    0.1 /* of a division that nobody asks for: it can be planted (common practice, no source) */

typedef struct projecting {
    cw_bench *b;
    cw_projection *at[CW_BENCH_KNOTS + 1]; /* the last: nothing is lost */
    cw_go_on go_on;
} projecting;

static void project_lot(void *context, unsigned worker, size_t i)
{
    projecting *p = context;
    size_t k = i % (CW_BENCH_KNOTS + 1);
    cw_bench_lot *l = &p->b->lot[i / (CW_BENCH_KNOTS + 1)];
    cw_distribution law;
    (void)worker;
    if (!cw_wanted(p->go_on))
        return;
    cw_projection_lot(p->at[k], l->lot, &law);
    if (k == CW_BENCH_KNOTS)
        l->all = law.mean;
    else
        l->sound[k] = law.mean;
}

/* The whole clumps as if they were cut on `cut`. */
static size_t whole_stock(const cw_forecast_data *d, cw_day cut, cw_stock *out)
{
    size_t n = 0;
    for (size_t i = 0; i < d->cohorts; i++) {
        const cw_fd_cohort *c = &d->cohort[i];
        if (c->stage != CW_CLUMP)
            continue;
        cw_stock *s = &out[n++];
        *s = d->stock[i];
        s->clump_weeks = fmax(0, (cut - c->sound) / 7.0);
        s->division_weeks = fmax(0, (d->ship - cut) / 7.0);
        s->to_pa_days = cw_forecast_data_drying(d, c->lot, cut, d->ship);
    }
    return n;
}

static cw_code project_on(projecting *p, size_t k, cw_day cut, cw_stock *stock, cw_error *err)
{
    const cw_forecast *f = p->b->forecast;
    const cw_forecast_data *d = f->data;
    bool lost = k < CW_BENCH_KNOTS;
    cw_projection_input in = { .varieties = d->varieties,
                               .lots = d->all_lots,
                               .stocks = whole_stock(d, cut, stock),
                               .lot_variety = d->lot_variety,
                               .stock = stock,
                               .weeks_to_ship = (double)(d->ship - d->as_of) / 7.0,
                               .rate = cw_rate_latent(f->learned.rate),
                               .clump_rot = lost ? cw_rot_latent(f->learned.rot, CW_ROT_CLUMP) : NULL,
                               .division_rot = lost ? cw_rot_latent(f->learned.rot, CW_ROT_DIVISION) : NULL,
                               .dead = cw_rate_dead(f->learned.rate),
                               .rot_tie = lost ? cw_rot_tie(f->learned.rot) : 0,
                               .shrink = lost ? f->learned.shrink : NULL };
    return cw_projection_new(&in, &p->at[k], err);
}

cw_code cw_bench_sound(cw_bench *b, const cw_asker *who, cw_error *err)
{
    projecting p = { .b = b, .go_on = cw_asker_go_on(who) };
    cw_day first = b->days ? b->day[0].day : b->from, last = b->days ? b->day[b->days - 1].day : b->from;
    cw_stock *stock = calloc(b->forecast->data->cohorts + 1, sizeof *stock);
    cw_code code = stock ? CW_OK : cw_error_memory(err);
    for (size_t k = 0; code == CW_OK && k < CW_BENCH_KNOTS && cw_wanted(p.go_on); k++) {
        b->knot[k] = first + (cw_day)((int64_t)(last - first) * (int64_t)k / (CW_BENCH_KNOTS - 1));
        code = project_on(&p, k, b->knot[k], stock, err);
    }
    if (code == CW_OK)
        code = project_on(&p, CW_BENCH_KNOTS, first, stock, err);
    if (code == CW_OK)
        cw_parallel_for(0, b->lots * (CW_BENCH_KNOTS + 1), project_lot, &p);
    if (code == CW_OK && !cw_wanted(p.go_on))
        code = cw_given_up(err);
    for (size_t k = 0; k <= CW_BENCH_KNOTS; k++)
        cw_projection_free(p.at[k]);
    free(stock);
    return code;
}

/* Sound divisions on the shipping day if the lot is cut on `day`. */
static double sound_on(const cw_bench *b, const cw_bench_lot *l, cw_day day)
{
    size_t k = 1;
    while (k < CW_BENCH_KNOTS - 1 && b->knot[k] < day)
        k++;
    double from = fmax(l->sound[k - 1], 1e-9), to = fmax(l->sound[k], 1e-9);
    cw_day width = b->knot[k] - b->knot[k - 1];
    double at = width > 0 ? (double)(day - b->knot[k - 1]) / (double)width : 0;
    return exp(log(from) + at * (log(to) - log(from)));
}

/* ---- money ---- */

static double price_of(const cw_bench *b, size_t variety)
{
    cw_cents price = b->forecast->data->snapshot->variety[variety].price;
    return price > 0 ? (double)price : b->price;
}

/* Chance that one division more is asked for, where demand is known. */
static double sells(const cw_bench *b, size_t variety)
{
    cw_distribution saleable, demand;
    if (!b->demand[variety].known)
        return 1;
    cw_forecast_saleable(b->forecast, variety, &saleable);
    cw_demand_law(&b->demand[variety], &demand);
    return fmax(UNSOLD_WORTH, cw_distribution_at_least(&demand, (int64_t)(saleable.mean + 1)));
}

static void price_loss(cw_bench *b, const double *margin)
{
    for (size_t l = 0; l < b->lots; l++) {
        const cw_bench_lot *lot = &b->lot[l];
        double m = margin[lot->variety];
        for (size_t d = 0; d < b->days; d++)
            b->loss[l * b->days + d] = m * fmax(0, lot->all - sound_on(b, lot, b->day[d].day));
        b->never_loss[l] = m * lot->all;
    }
}

/* The share of the season's orders, as far as it is to come, that comes after the first release that knows of a lot cut on `day`. */
static double in_time(const cw_bench *b, const cw_orders_curve *curve, cw_day day)
{
    cw_day every = (cw_day)b->release_days,
           base = b->released == CW_NO_INSTANT ? b->today : cw_instant_day(b->released);
    cw_day next = base + every;
    while (next <= day)
        next += every;
    double now = 1 - cw_orders_curve_at(curve, b->today - b->ship),
           then = 1 - cw_orders_curve_at(curve, next - b->ship);
    return now > 0 ? fmin(1, then / now) : 0;
}

static void price_knowledge(cw_bench *b)
{
    cw_orders_curve curve;
    cw_orders_curve_learn(NULL, 0, &curve);
    for (size_t d = 0; d < b->days; d++) {
        double lost = 1 - in_time(b, &curve, b->day[d].day);
        for (size_t l = 0; l < b->lots; l++)
            b->knowledge[l * b->days + d] = lost * b->lot[l].value;
    }
}

/* Divisions promised for a week that `lot` is to give, and what it costs if they come too late. */
static void owe(cw_bench *b, size_t lot, cw_week week, double divisions, double short_cost)
{
    cw_day due = cw_week_monday(week) - (cw_day)b->lead_days;
    cw_week *first = &b->lot[lot].owed;
    *first = *first == 0 || week < *first ? week : *first;
    for (size_t d = 0; d < b->days; d++)
        b->late[lot * b->days + d] += b->day[d].day > due ? divisions * short_cost : 0;
    b->never_late[lot] += divisions * short_cost;
}

/* What is on hand serves the earliest weeks; then the lots, in the order in which they are taken to be cut. */
static void price_late(cw_bench *b, const double *short_cost, double *left)
{
    const cw_forecast_data *d = b->forecast->data;
    double have = 0;
    size_t before = CW_NONE;
    memset(b->late, 0, b->lots * b->days * sizeof *b->late);
    memset(b->never_late, 0, b->lots * sizeof *b->never_late);
    for (size_t l = 0; l < b->lots; l++) {
        left[l] = b->lot[l].sound[0];
        b->lot[l].owed = 0;
    }
    for (size_t i = 0; i < b->promises; i++) {
        const cw_promised_row *p = &b->promised[i];
        size_t v = cw_forecast_data_by_id(d, p->variety);
        double need = (double)p->quantity;
        if (v == CW_NONE)
            continue;
        have = v == before ? have : (double)d->divisions[v];
        before = v;
        double now = fmin(have, need);
        have -= now;
        need -= now;
        for (size_t k = 0; k < b->lots && need > 0; k++) {
            size_t l = b->order[k];
            if (b->lot[l].variety != v || left[l] <= 0)
                continue;
            double part = fmin(left[l], need);
            left[l] -= part;
            need -= part;
            owe(b, l, p->week, part, short_cost[v]);
        }
    }
}

typedef struct knowing {
    cw_knowledge_variety *variety;
    cw_distribution *demand;
    cw_knowledge_lot *lot;
    double *value, *freed, *margin, *short_cost, *left;
    size_t *order;
} knowing;

static void knowing_free(knowing *k)
{
    void *parts[] = { k->variety, k->demand,     k->lot,  k->value, k->freed,
                      k->margin,  k->short_cost, k->left, k->order };
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
        free(parts[i]);
}

static cw_code knowing_new(const cw_bench *b, knowing *k, cw_error *err)
{
    size_t v = b->forecast->data->varieties + 1, l = b->forecast->data->lots + 1;
    k->variety = calloc(v, sizeof *k->variety);
    k->demand = calloc(v, sizeof *k->demand);
    k->margin = calloc(v, sizeof *k->margin);
    k->short_cost = calloc(v, sizeof *k->short_cost);
    k->lot = calloc(l, sizeof *k->lot);
    k->value = calloc(l, sizeof *k->value);
    k->freed = calloc(l, sizeof *k->freed);
    k->left = calloc(l, sizeof *k->left);
    k->order = calloc(l, sizeof *k->order);
    return k->variety && k->demand && k->margin && k->short_cost && k->lot && k->value && k->freed &&
                   k->left && k->order
               ? CW_OK
               : cw_error_memory(err);
}

static void describe(const cw_bench *b, knowing *k)
{
    const cw_forecast *f = b->forecast;
    for (size_t v = 0; v < f->data->varieties; v++) {
        const cw_snap_variety *s = &f->data->snapshot->variety[v];
        if (b->demand[v].known)
            cw_demand_law(&b->demand[v], &k->demand[v]);
        k->margin[v] = price_of(b, v) * b->margin_share;
        k->short_cost[v] = price_of(b, v) * b->short_share;
        k->variety[v] = (cw_knowledge_variety){ .mean = f->law[v].mean,
                                                .variance = f->law[v].variance,
                                                .withheld = (double)(s->hold_back + s->reserve),
                                                .sold = (double)s->sold,
                                                .margin = k->margin[v],
                                                .short_cost = k->short_cost[v],
                                                .confidence = b->confidence,
                                                .demand = b->demand[v].known ? &k->demand[v] : NULL };
    }
    for (size_t l = 0; l < f->data->lots; l++)
        k->lot[l].variety = f->data->lot_variety[l] == CW_NONE ? 0 : f->data->lot_variety[l];
    for (size_t i = 0; i < b->lots; i++) {
        const cw_bench_lot *lot = &b->lot[i];
        double rotten = lot->all > 0 ? fmin(1, lot->sound[0] / lot->all) : 1;
        k->lot[lot->lot].clumps =
            (double)lot->clumps * sqrt(rotten); /* about half of what is lost, is lost as clumps */
        k->lot[lot->lot].divisions = lot->sound[0];
    }
    for (size_t i = 0; i < b->lots; i++)
        k->order[i] = b->lot[b->order[i]].lot;
}

/* Knowledge is worked out over all lots of the file, of which those not in the plan tell nothing. */
static cw_code value_lots(cw_bench *b, knowing *k, cw_go_on go_on, cw_error *err)
{
    const cw_forecast_data *d = b->forecast->data;
    cw_knowledge_input in = {
        d->varieties, d->lots, k->variety, k->lot, cw_rate_latent(b->forecast->learned.rate),
        k->order,     b->lots, go_on
    };
    cw_code code = cw_knowledge_values(&in, k->value, k->freed, err);
    for (size_t i = 0; code == CW_OK && i < b->lots; i++) {
        b->lot[i].value = k->value[b->lot[i].lot];
        b->lot[i].freed = k->freed[b->lot[i].lot];
    }
    return code;
}

cw_code cw_bench_price(cw_bench *b, const cw_asker *who, cw_error *err)
{
    knowing k = { 0 };
    cw_code code = knowing_new(b, &k, err);
    if (code == CW_OK) {
        describe(b, &k);
        code = value_lots(b, &k, cw_asker_go_on(who), err);
    }
    if (code == CW_OK) {
        price_knowledge(b);
        price_late(b, k.short_cost, k.left);
        for (size_t v = 0; v < b->forecast->data->varieties; v++)
            k.margin[v] *= sells(b, v);
        price_loss(b, k.margin);
    }
    knowing_free(&k);
    return code;
}

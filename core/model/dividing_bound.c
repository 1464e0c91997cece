/* SPDX-License-Identifier: MIT */
#include "model/dividing_inside.h"

#include "model/flow.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* What no plan can cost less than: Lagrange's bound, at prices that come from an optimal flow. */

#define FLOW_UNITS 1e9 /* largest cost of a minute in the flow's whole numbers */
#define FIRST_ARCS                                                                                           \
    6 /* days of a lot that the flow begins with: its cheapest at prices that are nearly right */
#define MORE_ARCS 3   /* most that a lot gains in a round */
#define ROUNDS    40  /* of pricing arcs; left early, the bound is a little lower and still holds */
#define SAMPLE    500 /* lots */
#define MANY      8   /* lots of a day */
#define STEPS     120 /* of the subgradient method */

typedef struct prices {
    double *cut, *wash; /* [days] */
} prices;

static prices best_of(const cw_bounding *b)
{
    return (prices){ b->cut, b->wash };
}

/* The scratch block: trial prices, other prices, loads; 2 * days each. */
static prices scratch(const dividing *w, const cw_bounding *b, int which)
{
    double *at = b->block + 2 * w->days * (size_t)which;
    return (prices){ at, at + w->days };
}

void cw_bounding_free(cw_bounding *b)
{
    free(b->cut);
    free(b->wash);
    free(b->hint);
    free(b->choice);
    free(b->cut_room);
    free(b->wash_room);
    free(b->block);
}

cw_code cw_bounding_new(const dividing *w, cw_bounding *b, cw_error *err)
{
    size_t d = w->days + 1, l = w->lots + 1;
    *b = (cw_bounding){ .bound = -INFINITY };
    b->cut = calloc(d, sizeof *b->cut);
    b->wash = calloc(d, sizeof *b->wash);
    b->hint = calloc(l, sizeof *b->hint);
    b->choice = calloc(l, sizeof *b->choice);
    b->cut_room = calloc(d, sizeof *b->cut_room);
    b->wash_room = calloc(d, sizeof *b->wash_room);
    b->block = calloc(6 * d, sizeof *b->block);
    return b->cut && b->wash && b->hint && b->choice && b->cut_room && b->wash_room && b->block
               ? CW_OK
               : cw_error_memory(err);
}

static double room(const int64_t *of, size_t day)
{
    return of[day] > 0 ? (double)of[day] : 0;
}

/* A lot that takes several days may be shared out over them; a small one stands where it fits. */
static const double *costs(const dividing *w, size_t lot)
{
    return (w->small[lot] ? w->cost : w->in->cost) + lot * w->days;
}

/* Lagrange's bound on the cost of the free lots; `day` (may be NULL) gets each lot's choice. */
static double lagrange(const dividing *w, const cw_bounding *b, prices p, int32_t *day)
{
    double sum = 0;
    for (size_t l = 0; l < w->lots; l++) {
        const cw_dividing_lot *lot = &w->in->lot[l];
        const double *cost = costs(w, l);
        double best = lot->never, cut = (double)lot->cut_minutes, wash = (double)lot->wash_minutes;
        int32_t at = NEVER;
        for (size_t d = 0; d < w->days && !w->fixed[l]; d++) {
            double c = cost[d] + cut * p.cut[d] + wash * p.wash[d];
            if (c < best) {
                best = c;
                at = (int32_t)d;
            }
        }
        sum += w->fixed[l] ? 0 : best;
        if (day)
            day[l] = at;
    }
    for (size_t d = 0; d < w->days; d++)
        sum -= p.cut[d] * room(b->cut_room, d) + p.wash[d] * room(b->wash_room, d);
    return sum;
}

/* How many minutes more than there are the choice takes of each day. */
static void loads(const dividing *w, const cw_bounding *b, prices to, const int32_t *choice)
{
    for (size_t d = 0; d < w->days; d++) {
        to.cut[d] = -room(b->cut_room, d);
        to.wash[d] = -room(b->wash_room, d);
    }
    for (size_t l = 0; l < w->lots; l++)
        if (!w->fixed[l] && choice[l] != NEVER) {
            to.cut[choice[l]] += (double)w->in->lot[l].cut_minutes;
            to.wash[choice[l]] += (double)w->in->lot[l].wash_minutes;
        }
}

static double square_of(size_t n, const double *price, const double *load)
{
    double sum = 0;
    for (size_t d = 0; d < n; d++)
        sum += price[d] > 0 || load[d] > 0 ? load[d] * load[d] : 0;
    return sum;
}

/* Polyak's steps on the prices of both kinds of minutes, keeping the best. `upper`: cost of some plan. */
static double climb(const dividing *w, const cw_bounding *b, prices p, double upper)
{
    prices trial = scratch(w, b, 0), load = scratch(w, b, 2);
    double theta = 1, bound = -INFINITY;
    size_t n = w->days;
    memcpy(trial.cut, p.cut, n * sizeof *p.cut);
    memcpy(trial.wash, p.wash, n * sizeof *p.wash);
    for (int step = 0, idle = 0; step < STEPS && upper - bound > 1e-9 * fabs(upper); step++, idle++) {
        double value = lagrange(w, b, trial, b->choice);
        if (value > bound) {
            bound = value;
            idle = 0;
            memcpy(p.cut, trial.cut, n * sizeof *p.cut);
            memcpy(p.wash, trial.wash, n * sizeof *p.wash);
        } else if (idle == 4) {
            theta /= 2;
            idle = 0;
            memcpy(trial.cut, p.cut, n * sizeof *p.cut);
            memcpy(trial.wash, p.wash, n * sizeof *p.wash);
            value = lagrange(w, b, trial, b->choice);
        }
        loads(w, b, load, b->choice);
        double square = square_of(n, trial.cut, load.cut) + square_of(n, trial.wash, load.wash);
        if (square <= 0)
            break;
        double by = theta * (upper - value) / square;
        for (size_t d = 0; d < n; d++) {
            trial.cut[d] = fmax(0, trial.cut[d] + by * load.cut[d]);
            trial.wash[d] = fmax(0, trial.wash[d] + by * load.wash[d]);
        }
    }
    return bound;
}

/* ---- the transportation problem: nodes are lots, then days, then the end ---- */

typedef struct relaxed {
    const dividing *w;
    bool washing; /* minutes of washing are what is scarce; else minutes at the bench */
    size_t every; /* only every so manieth lot takes part, in as much less room */
    cw_flow *flow;
    double units;     /* flow cost of one unit of money a minute */
    cw_flow_arc *arc; /* days to the end; lots to the end (never); lots to days */
    size_t arcs;
    int32_t *at; /* [lots * days] the arc of a lot and a day, 0 = none yet */
} relaxed;

static int64_t minutes(const relaxed *r, size_t lot)
{
    return r->washing ? r->w->in->lot[lot].wash_minutes : r->w->in->lot[lot].cut_minutes;
}

static bool left_out(const relaxed *r, size_t lot)
{
    return r->w->fixed[lot] || lot % r->every != 0;
}

/* Cost of a minute of the lot; one that takes none is sent nowhere. */
static double a_minute(const relaxed *r, size_t lot, double cost)
{
    int64_t n = minutes(r, lot);
    return n > 0 ? cost / (double)n : 0;
}

static void add_arc(relaxed *r, size_t lot, size_t day)
{
    const dividing *w = r->w;
    if (r->at[lot * w->days + day] != 0)
        return;
    r->at[lot * w->days + day] = (int32_t)r->arcs;
    r->arc[r->arcs++] = (cw_flow_arc){ (int32_t)lot, (int32_t)(w->lots + day), CW_FLOW_INFINITE,
                                       llround(a_minute(r, lot, costs(w, lot)[day]) * r->units) };
}

/* Adds at most `most` days of the lot that are cheaper by the prices than `limit` (money a minute). */
static void add_cheapest(relaxed *r, size_t lot, const double *price, double limit, int most)
{
    const dividing *w = r->w;
    const double *cost = costs(w, lot);
    for (int k = 0; k < most; k++) {
        size_t best = w->days;
        double least = limit;
        for (size_t d = 0; d < w->days; d++) {
            double c = a_minute(r, lot, cost[d]) + price[d];
            if (c < least && r->at[lot * w->days + d] == 0) {
                least = c;
                best = d;
            }
        }
        if (best == w->days)
            return;
        add_arc(r, lot, best);
    }
}

static void first_arcs(relaxed *r, const cw_bounding *b, const double *price)
{
    const dividing *w = r->w;
    int32_t end = (int32_t)(w->lots + w->days);
    for (size_t d = 0; d < w->days; d++)
        r->arc[r->arcs++] =
            (cw_flow_arc){ (int32_t)(w->lots + d), end,
                           (int64_t)room(r->washing ? b->wash_room : b->cut_room, d) / (int64_t)r->every, 0 };
    for (size_t l = 0; l < w->lots; l++)
        r->arc[r->arcs++] = (cw_flow_arc){ (int32_t)l, end, CW_FLOW_INFINITE,
                                           llround(a_minute(r, l, w->in->lot[l].never) * r->units) };
    for (size_t l = 0; l < w->lots; l++) {
        if (left_out(r, l))
            continue;
        add_cheapest(r, l, price, INFINITY, FIRST_ARCS);
        size_t n =
            w->at[l] == NEVER || r->every > 1 ? 0 : cw_dividing_days_of(w->in, l, w->at[l], NULL, NULL);
        for (size_t k = 0; k < n; k++)
            add_arc(r, l, (size_t)w->at[l] + k);
    }
}

/* The plan that stands as a flow: what the flow begins from. */
static void plan_as_flow(const relaxed *r, int64_t *flow)
{
    const dividing *w = r->w;
    for (size_t l = 0; l < w->lots; l++) {
        if (left_out(r, l))
            continue;
        if (w->at[l] == NEVER || r->every > 1) {
            flow[w->days + l] = minutes(r, l);
            continue;
        }
        size_t n = cw_dividing_days_of(w->in, l, w->at[l], w->part_cut, w->part_wash);
        for (size_t k = 0; k < n; k++) {
            size_t d = (size_t)w->at[l] + k;
            int64_t part = r->washing ? w->part_wash[k] : w->part_cut[k];
            flow[r->at[l * w->days + d]] += part;
            flow[d] += part;
        }
    }
}

static cw_code begin(relaxed *r, const double *price, cw_error *err)
{
    const dividing *w = r->w;
    size_t nodes = w->lots + w->days + 1;
    int64_t *flow = calloc(r->arcs + 1, sizeof *flow), *guess = calloc(nodes, sizeof *guess);
    cw_code code = flow && guess ? cw_flow_add(r->flow, r->arc, r->arcs, err) : cw_error_memory(err);
    if (code == CW_OK) {
        plan_as_flow(r, flow);
        for (size_t d = 0; d < w->days; d++)
            guess[w->lots + d] = -llround(price[d] * r->units);
        for (size_t a = w->days; a < r->arcs; a++) { /* no arc of a lot is worth less than nothing */
            int64_t least = guess[r->arc[a].to] - r->arc[a].cost;
            bool first = a < w->days + w->lots;
            if (first || least > guess[r->arc[a].from])
                guess[r->arc[a].from] = least;
        }
        code = cw_flow_begin(r->flow, flow, guess, err);
    }
    free(flow);
    free(guess);
    return code;
}

static cw_code relaxed_new(relaxed *r, const cw_bounding *b, const double *price, cw_error *err)
{
    const dividing *w = r->w;
    size_t nodes = w->lots + w->days + 1;
    double dearest = 0;
    int64_t *supply = calloc(nodes, sizeof *supply);
    r->arc = calloc(w->days + w->lots * (w->days + 1) + 1, sizeof *r->arc);
    r->at = calloc(w->lots * w->days + 1, sizeof *r->at);
    if (!supply || !r->arc || !r->at) {
        free(supply);
        return cw_error_memory(err);
    }
    for (size_t l = 0; l < w->lots; l++) {
        const double *cost = costs(w, l);
        supply[l] = left_out(r, l) ? 0 : minutes(r, l);
        supply[nodes - 1] -= supply[l];
        dearest = fmax(dearest, fabs(a_minute(r, l, w->in->lot[l].never)));
        for (size_t d = 0; d < w->days; d++)
            dearest = isfinite(cost[d]) ? fmax(dearest, fabs(a_minute(r, l, cost[d]))) : dearest;
    }
    r->units = FLOW_UNITS / fmax(dearest, 1e-300);
    cw_code code = cw_flow_new((int32_t)nodes, supply, &r->flow, err);
    free(supply);
    if (code == CW_OK) {
        cw_flow_heed(r->flow, w->in->go_on);
        first_arcs(r, b, price);
    }
    return code == CW_OK ? begin(r, price, err) : code;
}

/* Adds the arcs that would make the flow cheaper; how many. `price` [days] by the flow's potentials. */
static size_t price_out(relaxed *r, const double *price, const int64_t *potential)
{
    const dividing *w = r->w;
    size_t before = r->arcs;
    int64_t end = potential[w->lots + w->days];
    for (size_t l = 0; l < w->lots; l++) /* half a unit: what rounding may do */
        if (!left_out(r, l))
            add_cheapest(r, l, price, ((double)(end - potential[l]) - 0.5) / r->units, MORE_ARCS);
    return r->arcs - before;
}

static void read_hint(const relaxed *r, int32_t *hint)
{
    const int64_t *f = cw_flow_flows(r->flow);
    for (size_t l = 0; l < r->w->lots; l++)
        hint[l] = NEVER;
    for (size_t a = r->w->days + r->w->lots; a < cw_flow_arcs(r->flow); a++) {
        size_t lot = (size_t)r->arc[a].from;
        if (f[a] > 0 && f[a] == minutes(r, lot))
            hint[lot] = r->arc[a].to - (int32_t)r->w->lots;
    }
}

/* From prices that are nearly right to those of an optimal flow. The best bound met on the way is kept, with its prices. */
static cw_code relax_some(const dividing *w, const cw_bounding *b, bool washing, size_t every, prices p,
                          double *bound, int32_t *hint, cw_error *err)
{
    relaxed r = { .w = w, .washing = washing, .every = every };
    cw_flow_status status = CW_FLOW_OPTIMAL;
    double *price = washing ? p.wash : p.cut;
    prices now = scratch(w, b, 0);
    double *trial = washing ? now.wash : now.cut;
    memset(washing ? now.cut : now.wash, 0, w->days * sizeof *trial);
    cw_code code = relaxed_new(&r, b, price, err);
    for (int round = 0; code == CW_OK && round < ROUNDS; round++) {
        size_t from = r.arcs;
        code = cw_wanted(w->in->go_on) ? cw_flow_solve(r.flow, &status, err) : cw_given_up(err);
        if (code != CW_OK)
            break;
        const int64_t *potential = cw_flow_potentials(r.flow);
        for (size_t d = 0; d < w->days; d++)
            trial[d] = fmax(0, (double)(potential[w->lots + w->days] - potential[w->lots + d]) / r.units);
        double value = lagrange(w, b, now, NULL);
        if (value > *bound) {
            *bound = value;
            memcpy(price, trial, w->days * sizeof *price);
        }
        if (price_out(&r, trial, potential) == 0)
            break;
        code = cw_flow_add(r.flow, r.arc + from, r.arcs - from, err);
    }
    if (code == CW_OK)
        read_hint(&r, hint);
    cw_flow_free(r.flow);
    free(r.arc);
    free(r.at);
    return code;
}

/* Many lots: a sample of them first, whose prices are nearly right. */
static cw_code relax(const dividing *w, const cw_bounding *b, bool washing, prices p, double *bound,
                     int32_t *hint, cw_error *err)
{
    cw_code code = CW_OK;
    if (w->lots >= 2 * SAMPLE)
        code = relax_some(w, b, washing, w->lots / SAMPLE, p, bound, hint, err);
    return code == CW_OK ? relax_some(w, b, washing, 1, p, bound, hint, err) : code;
}

/* Where a day takes many lots, whole ones leave about half a lot of it unused at either end. The relaxation of days that are
 * shorter by one lot leaves room for those that it cuts up, so its hint is the better one (its value is no bound). */
static cw_code hint_with_room(dividing *w, cw_bounding *b, bool washing, cw_error *err)
{
    prices other = scratch(w, b, 1);
    double mean = 0, all = 0, none = -INFINITY;
    int64_t *of = washing ? b->wash_room : b->cut_room;
    for (size_t l = 0; l < w->lots; l++)
        mean += (double)(washing ? w->in->lot[l].wash_minutes : w->in->lot[l].cut_minutes) / (double)w->lots;
    for (size_t d = 0; d < w->days; d++)
        all += room(of, d) / (double)w->days;
    if (mean <= 0 || all < MANY * mean)
        return CW_OK;
    for (size_t l = 0; l < w->lots; l++) /* the plan that stands does not fit these days */
        if (!w->fixed[l])
            cw_dividing_take(w, l);
    memcpy(other.cut, b->cut, w->days * sizeof *b->cut);
    memcpy(other.wash, b->wash, w->days * sizeof *b->wash);
    for (size_t d = 0; d < w->days; d++)
        of[d] -= llround(mean);
    cw_code code = relax_some(w, b, washing, 1, other, &none, b->hint, err);
    for (size_t d = 0; d < w->days; d++)
        of[d] += llround(mean);
    return code;
}

/* Is washing more than the relaxation of the bench leaves room for? */
static bool wash_is_scarce(const dividing *w, const cw_bounding *b)
{
    prices load = scratch(w, b, 2);
    loads(w, b, load, b->hint);
    for (size_t d = 0; d < w->days; d++)
        if (load.wash[d] > 0)
            return true;
    return false;
}

cw_code cw_bounding_solve(dividing *w, cw_bounding *b, cw_error *err)
{
    double washing = -INFINITY;
    prices best = best_of(b), other = scratch(w, b, 1);
    cw_code code = relax(w, b, false, best, &b->bound, b->hint, err);
    b->scarce = code == CW_OK && wash_is_scarce(w, b);
    if (code == CW_OK && !b->scarce)
        return hint_with_room(w, b, false, err);
    memset(other.cut, 0, w->days * sizeof *other.cut);
    memset(other.wash, 0, w->days * sizeof *other.wash);
    if (code == CW_OK)
        code = relax(w, b, true, other, &washing, b->choice, err);
    bool better = code == CW_OK && washing > b->bound;
    if (better) {
        b->bound = washing;
        memcpy(b->hint, b->choice, w->lots * sizeof *b->hint);
        memcpy(best.cut, other.cut, w->days * sizeof *best.cut);
        memcpy(best.wash, other.wash, w->days * sizeof *best.wash);
    }
    return code == CW_OK ? hint_with_room(w, b, better, err) : code;
}

void cw_bounding_both(const dividing *w, cw_bounding *b)
{
    prices best = best_of(b), other = scratch(w, b, 1);
    memcpy(other.cut, best.cut, w->days * sizeof *best.cut);
    memcpy(other.wash, best.wash, w->days * sizeof *best.wash);
    double value = climb(w, b, other, w->total - b->kept);
    if (value <= b->bound)
        return;
    b->bound = value;
    memcpy(best.cut, other.cut, w->days * sizeof *best.cut);
    memcpy(best.wash, other.wash, w->days * sizeof *best.wash);
}

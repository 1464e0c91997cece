/* SPDX-License-Identifier: MIT */
#include "model/stops.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

enum {
    EXCHANGE_ROUNDS = 20
}; /* each round tries every place once; three or four rounds settle it in practice */

/* What a place is worth to the greedy step. Needs that it meets whole, and those that it begins, count one each: on 3,000 crowded waves
 * the four lose a sixth less of the risk that could be taken than the first three. */
typedef enum score { BY_SHARE, BY_DIVISIONS, BY_NEEDS_MET, BY_NEEDS_BEGUN, SCORES } score;

typedef struct cover {
    const cw_wave *w;
    const int64_t *need;
    cw_cell_map map;
    size_t *start, *by_risk; /* of cw_stock_by_risk */
    bool *chosen, *forced;
    int64_t *have;   /* [variety] in chosen places */
    double *worth;   /* [variety] sum of risk * divisions taken from chosen places */
    size_t *dropped; /* [places] scratch of an exchange */
    double *gains;   /* [places] what a place not chosen could give */
    double stop_cost, cost;
    double slack; /* changes of the objective below this are rounding */
} cover;

static int64_t least(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

/* ---- Setting up ---- */

static int riskier(const void *pa, const void *pb, void *context)
{
    const cw_wave *w = context;
    size_t a = *(const size_t *)pa, b = *(const size_t *)pb;
    const cw_walk_stock *x = &w->stock[a], *y = &w->stock[b];
    if (x->variety != y->variety)
        return x->variety < y->variety ? -1 : 1;
    if (x->risk != y->risk)
        return x->risk > y->risk ? -1 : 1;
    int p = w->walk_order[x->place], q = w->walk_order[y->place];
    if (p != q)
        return p < q ? -1 : 1;
    return a < b ? -1 : a > b;
}

void cw_stock_by_risk(const cw_wave *w, size_t *start, size_t *by_risk)
{
    memset(start, 0, (w->variety_count + 1) * sizeof *start);
    for (size_t i = 0; i < w->stock_count; i++) {
        by_risk[i] = i;
        start[w->stock[i].variety + 1]++;
    }
    for (size_t v = 0; v < w->variety_count; v++)
        start[v + 1] += start[v];
    qsort_r(by_risk, w->stock_count, sizeof *by_risk, riskier, (void *)(uintptr_t)w);
}

static int by_place(const void *pa, const void *pb)
{
    const cw_cell *a = pa, *b = pb;
    if (a->place != b->place)
        return a->place < b->place ? -1 : 1;
    return a->variety < b->variety ? -1 : a->variety > b->variety;
}

static int largest_first(const void *pa, const void *pb, void *context)
{
    const cw_cell *cells = context;
    const cw_cell *a = &cells[*(const size_t *)pa], *b = &cells[*(const size_t *)pb];
    if (a->variety != b->variety)
        return a->variety < b->variety ? -1 : 1;
    if (a->quantity != b->quantity)
        return a->quantity > b->quantity ? -1 : 1;
    return a->place < b->place ? -1 : a->place > b->place;
}

/* Wanted stock, lots of a place and variety taken together, indexed both ways. */
static void fill_map(cover *c)
{
    cw_cell_map *m = &c->map;
    size_t n = 0, kept = 0;
    for (size_t i = 0; i < c->w->stock_count; i++) {
        const cw_walk_stock *s = &c->w->stock[i];
        if (s->quantity > 0 && c->need[s->variety] > 0)
            m->cells[n++] = (cw_cell){ s->place, s->variety, s->quantity };
    }
    qsort(m->cells, n, sizeof *m->cells, by_place);
    for (size_t i = 0; i < n; i++) {
        if (kept && by_place(&m->cells[kept - 1], &m->cells[i]) == 0)
            m->cells[kept - 1].quantity += m->cells[i].quantity;
        else
            m->cells[kept++] = m->cells[i];
    }
    for (size_t i = 0; i < kept; i++) {
        m->sources[i] = i;
        m->at[m->cells[i].place + 1]++;
        m->from[m->cells[i].variety + 1]++;
    }
    for (size_t p = 0; p < m->places; p++)
        m->at[p + 1] += m->at[p];
    for (size_t v = 0; v < m->varieties; v++)
        m->from[v + 1] += m->from[v];
    qsort_r(m->sources, kept, sizeof *m->sources, largest_first, m->cells);
}

static cw_code cover_open(cover *c, const cw_wave *w, const int64_t *need, bool *chosen, cw_error *err)
{
    size_t places = w->place_count + 1, varieties = w->variety_count + 1, stock = w->stock_count + 1;
    *c = (cover){ .w = w,
                  .need = need,
                  .chosen = chosen,
                  .map = { .places = w->place_count, .varieties = w->variety_count } };
    c->map.cells = calloc(stock, sizeof *c->map.cells);
    c->map.sources = calloc(stock, sizeof *c->map.sources);
    c->map.at = calloc(places, sizeof *c->map.at);
    c->map.from = calloc(varieties, sizeof *c->map.from);
    c->start = calloc(varieties, sizeof *c->start);
    c->by_risk = calloc(stock, sizeof *c->by_risk);
    c->forced = calloc(places, sizeof *c->forced);
    c->have = calloc(varieties, sizeof *c->have);
    c->worth = calloc(varieties, sizeof *c->worth);
    c->dropped = calloc(places, sizeof *c->dropped);
    c->gains = calloc(places, sizeof *c->gains);
    if (!c->map.cells || !c->map.sources || !c->map.at || !c->map.from || !c->start || !c->by_risk ||
        !c->forced || !c->have || !c->worth || !c->dropped || !c->gains)
        return cw_error_memory(err);
    fill_map(c);
    cw_stock_by_risk(w, c->start, c->by_risk);
    return CW_OK;
}

static void cover_close(cover *c)
{
    free(c->map.cells);
    free(c->map.sources);
    free(c->map.at);
    free(c->map.from);
    free(c->start);
    free(c->by_risk);
    free(c->forced);
    free(c->have);
    free(c->worth);
    free(c->dropped);
    free(c->gains);
}

/* ---- One place in or out ---- */

/* What is taken of v, most at risk first, from the chosen places. */
static double worth_of(const cover *c, size_t v)
{
    int64_t left = c->need[v];
    double sum = 0;
    for (size_t e = c->start[v]; left > 0 && e < c->start[v + 1]; e++) {
        const cw_walk_stock *s = &c->w->stock[c->by_risk[e]];
        if (!c->chosen[s->place])
            continue;
        int64_t taken = least(left, s->quantity);
        sum += s->risk * (double)taken;
        left -= taken;
    }
    return sum;
}

static void put(cover *c, size_t place, bool in)
{
    c->chosen[place] = in;
    c->cost += in ? c->stop_cost : -c->stop_cost;
    for (size_t k = c->map.at[place]; k < c->map.at[place + 1]; k++) {
        const cw_cell *cell = &c->map.cells[k];
        c->have[cell->variety] += in ? cell->quantity : -cell->quantity;
        double worth = worth_of(c, cell->variety);
        c->cost -= worth - c->worth[cell->variety];
        c->worth[cell->variety] = worth;
    }
}

static bool better(const cover *c, double cost, double than)
{
    return cost < than - c->slack;
}

static bool to_spare(const cover *c, size_t place)
{
    for (size_t k = c->map.at[place]; k < c->map.at[place + 1]; k++) {
        const cw_cell *cell = &c->map.cells[k];
        if (c->have[cell->variety] - cell->quantity < c->need[cell->variety])
            return false;
    }
    return true;
}

static bool drop(cover *c, size_t place)
{
    if (!c->chosen[place] || c->forced[place] || !to_spare(c, place))
        return false;
    double before = c->cost;
    put(c, place, false);
    if (better(c, c->cost, before))
        return true;
    put(c, place, true);
    c->cost = before; /* not left to rounding */
    return false;
}

/* ---- The three steps ---- */

static void clear(cover *c)
{
    memset(c->chosen, 0, c->map.places * sizeof *c->chosen);
    memset(c->have, 0, c->map.varieties * sizeof *c->have);
    memset(c->worth, 0, c->map.varieties * sizeof *c->worth);
    c->cost = 0;
}

static void find_forced(cover *c)
{
    const cw_cell_map *m = &c->map;
    for (size_t v = 0; v < m->varieties; v++) {
        int64_t total = 0;
        for (size_t k = m->from[v]; k < m->from[v + 1]; k++)
            total += m->cells[m->sources[k]].quantity;
        for (size_t k = m->from[v]; k < m->from[v + 1]; k++)
            if (total - m->cells[m->sources[k]].quantity < c->need[v])
                c->forced[m->cells[m->sources[k]].place] = true;
    }
}

static double gain(const cover *c, size_t place, score by)
{
    double sum = 0;
    for (size_t k = c->map.at[place]; k < c->map.at[place + 1]; k++) {
        const cw_cell *cell = &c->map.cells[k];
        int64_t open = c->need[cell->variety] - c->have[cell->variety];
        if (open <= 0)
            continue;
        int64_t given = least(open, cell->quantity);
        if (by == BY_DIVISIONS)
            sum += (double)given;
        else if (by != BY_SHARE && (given == open) == (by == BY_NEEDS_MET))
            sum += 1;
        else
            sum += (by == BY_SHARE ? 1 : 1e-3) * (double)given / (double)open;
    }
    return sum;
}

/* Takes a place up, and counts anew what its neighbours could still give. */
static void take_up(cover *c, size_t place, score by)
{
    const cw_cell_map *m = &c->map;
    put(c, place, true);
    for (size_t k = m->at[place]; k < m->at[place + 1]; k++) {
        size_t v = m->cells[k].variety;
        for (size_t i = m->from[v]; i < m->from[v + 1]; i++) {
            size_t other = m->cells[m->sources[i]].place;
            c->gains[other] = c->chosen[other] ? 0 : gain(c, other, by);
        }
    }
}

static void greedy(cover *c, score by)
{
    clear(c);
    for (size_t p = 0; p < c->map.places; p++)
        c->gains[p] = gain(c, p, by);
    for (size_t p = 0; p < c->map.places; p++)
        if (c->forced[p])
            take_up(c, p, by);
    for (;;) {
        size_t best = 0;
        for (size_t p = 1; p < c->map.places; p++)
            if (c->gains[p] > c->gains[best] ||
                (c->gains[p] == c->gains[best] && c->w->walk_order[p] < c->w->walk_order[best]))
                best = p;
        if (c->map.places == 0 || c->gains[best] <= 0)
            return;
        take_up(c, best, by);
    }
}

/* Takes up `place`, drops each neighbour (a chosen place with a variety in common) that pays; takes it all
 * back unless the objective fell. */
static bool exchange(cover *c, size_t place)
{
    const cw_cell_map *m = &c->map;
    double before = c->cost;
    size_t dropped = 0;
    put(c, place, true);
    for (size_t k = m->at[place]; k < m->at[place + 1]; k++) {
        size_t v = m->cells[k].variety;
        for (size_t i = m->from[v + 1]; i-- > m->from[v];) { /* smallest quantities first */
            size_t other = m->cells[m->sources[i]].place;
            if (other != place && drop(c, other))
                c->dropped[dropped++] = other;
        }
    }
    if (better(c, c->cost, before))
        return true;
    while (dropped)
        put(c, c->dropped[--dropped], true);
    put(c, place, false);
    c->cost = before;
    return false;
}

/* The other way round, where a stop has a price: all places, then whichever pays most to leave out. Finds what single
 * exchanges do not: two places of risky stock in place of one that holds both. */
static void peel(cover *c)
{
    clear(c);
    for (size_t p = 0; p < c->map.places; p++)
        if (c->map.at[p] < c->map.at[p + 1])
            put(c, p, true);
    for (;;) {
        size_t best = c->map.places;
        double now = c->cost, lowest = c->cost;
        for (size_t p = 0; p < c->map.places; p++) {
            if (!c->chosen[p] || c->forced[p] || !to_spare(c, p))
                continue;
            put(c, p, false);
            if (better(c, c->cost, lowest)) {
                lowest = c->cost;
                best = p;
            }
            put(c, p, true);
            c->cost = now;
        }
        if (best == c->map.places)
            return;
        put(c, best, false);
    }
}

static void improve(cover *c)
{
    for (size_t p = 0; p < c->map.places; p++)
        drop(c, p);
    bool changed = true;
    for (int round = 0; changed && round < EXCHANGE_ROUNDS; round++) {
        changed = false;
        for (size_t p = 0; p < c->map.places; p++)
            if (!c->chosen[p] && c->map.at[p] < c->map.at[p + 1] && exchange(c, p))
                changed = true;
    }
}

/* Takes a given choice as the current one. */
static void adopt(cover *c, const bool *choice)
{
    clear(c);
    for (size_t p = 0; p < c->map.places; p++)
        if (choice[p])
            put(c, p, true);
}

/* When stops come first, a stop costs more than all that risk can weigh. */
static void set_price(cover *c)
{
    double all = 1;
    for (size_t v = 0; v < c->map.varieties; v++)
        if (c->start[v] < c->start[v + 1])
            all += c->w->stock[c->by_risk[c->start[v]]].risk * (double)c->need[v];
    c->stop_cost = c->w->stop_cost > 0 ? c->w->stop_cost : all;
    c->slack = 1e-9 * all;
}

cw_code cw_stops_choose(const cw_wave *w, const int64_t *need, bool *visit, cw_error *err)
{
    cover c;
    bool improved = false;
    bool *best = calloc(w->place_count + 1, sizeof *best);
    cw_code code = cover_open(&c, w, need, visit, err);
    if (code == CW_OK && best == NULL)
        code = cw_error_memory(err);
    if (code != CW_OK)
        goto done;
    set_price(&c);
    find_forced(&c);
    double lowest = INFINITY;
    for (score by = BY_SHARE; by <= SCORES; by++) {
        if (by < SCORES)
            greedy(&c, by);
        else if (w->stop_cost > 0)
            peel(&c);
        else
            break;
        improve(&c);
        if (better(&c, c.cost, lowest)) {
            lowest = c.cost;
            memcpy(best, c.chosen, w->place_count * sizeof *best);
        }
    }
    if (!(w->stop_cost > 0))
        code = cw_stops_search(&c.map, need, c.forced, best, &improved, err);
    adopt(&c, best);
    if (improved)
        improve(&c);
done:
    cover_close(&c);
    free(best);
    return code;
}

/* SPDX-License-Identifier: MIT */
/* From promises and free stock to model/walk's problem, and its answer back. */
#include <stdlib.h>
#include <string.h>

#include "desk/pick/picking_inside.h"

#include "base/banned.h"

typedef struct problem {
    int64_t *ids; /* of varieties wanted, ascending */
    size_t varieties;
    cw_walk_line *line;
    size_t lines;
    cw_walk_stock *stock;
    size_t stocks;
    int *walk_order;
} problem;

static int by_id(const void *a, const void *b)
{
    int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;
    return x < y ? -1 : x > y;
}

static void problem_free(problem *q)
{
    free(q->ids);
    free(q->line);
    free(q->stock);
    free(q->walk_order);
}

/* What is wanted of one lot alone is a variety of its own to the walk, by the lot's id with the sign turned. */
static int64_t key_of(const cw_wave_wanted *w)
{
    return w->lot ? -w->lot : w->variety_id;
}

static void list_varieties(const cw_wave_plan *p, problem *q)
{
    size_t n = 0;
    for (size_t i = 0; i < p->book.wanteds; i++)
        q->ids[n++] = key_of(&p->book.wanted[i]);
    qsort(q->ids, n, sizeof *q->ids, by_id);
    for (size_t i = 0; i < n; i++)
        if (q->varieties == 0 || q->ids[q->varieties - 1] != q->ids[i])
            q->ids[q->varieties++] = q->ids[i];
}

/* Index of the variety among those wanted; q->varieties if it is not. */
static size_t variety_of(const problem *q, int64_t id)
{
    const int64_t *at = q->varieties ? bsearch(&id, q->ids, q->varieties, sizeof id, by_id) : NULL;
    return at ? (size_t)(at - q->ids) : q->varieties;
}

static void list_lines(cw_wave_plan *p, problem *q)
{
    for (size_t i = 0; i < p->book.wanteds; i++) {
        const cw_wave_wanted *w = &p->book.wanted[i];
        if (p->out[w->order] || p->skip[i])
            continue;
        p->line[q->lines] = i;
        q->line[q->lines++] = (cw_walk_line){ w->order, variety_of(q, key_of(w)), w->quantity };
    }
}

/* Places by row id, so that each is one place of the walk. */
typedef struct spot {
    int64_t place;
    size_t stock;
} spot;

static int by_place(const void *a, const void *b)
{
    const spot *x = a, *y = b;
    return x->place < y->place ? -1 : x->place > y->place;
}

/* Divisions that are wanted of this lot alone. */
static int64_t wanted_of(const cw_wave_plan *p, int64_t lot)
{
    int64_t n = 0;
    for (size_t i = 0; i < p->book.wanteds; i++)
        if (p->book.wanted[i].lot == lot && !p->out[p->book.wanted[i].order] && !p->skip[i])
            n += p->book.wanted[i].quantity;
    return n;
}

static void add_stock(cw_wave_plan *p, problem *q, size_t stock, int64_t key, int64_t quantity, cw_day today)
{
    const cw_wave_stock *s = &p->book.stock[stock];
    if (quantity == 0 || variety_of(q, key) == q->varieties)
        return;
    p->stock[q->stocks] = stock;
    q->stock[q->stocks++] = (cw_walk_stock){ .place = p->places - 1,
                                             .lot = (size_t)s->lot_id,
                                             .variety = variety_of(q, key),
                                             .quantity = quantity,
                                             .risk = s->sound < today ? today - s->sound : 0 };
}

/* Risk of a lot: days since its divisions were last known sound. Stops come first in the walk, so it decides between
 * lots that cost equally many stops. */
static void list_stock(cw_wave_plan *p, problem *q, spot *spots, cw_day today)
{
    size_t n = 0;
    for (size_t i = 0; i < p->book.stocks; i++)
        if (variety_of(q, p->book.stock[i].variety_id) < q->varieties ||
            variety_of(q, -p->book.stock[i].lot_id) < q->varieties)
            spots[n++] = (spot){ p->book.stock[i].place_id, i };
    qsort(spots, n, sizeof *spots, by_place);
    p->places = 0;
    for (size_t k = 0; k < n; k++) {
        const cw_wave_stock *s = &p->book.stock[spots[k].stock];
        int64_t kept = variety_of(q, -s->lot_id) < q->varieties ? wanted_of(p, s->lot_id) : 0;
        for (size_t j = 0; kept > 0 && j < k; j++) /* places before gave some of it */
            if (p->book.stock[spots[j].stock].lot_id == s->lot_id)
                kept -= p->book.stock[spots[j].stock].quantity;
        kept = kept < 0 ? 0 : kept > s->quantity ? s->quantity : kept;
        if (k == 0 || spots[k].place != spots[k - 1].place) {
            q->walk_order[p->places] = s->walk_order;
            p->place[p->places++] = spots[k].stock;
        }
        add_stock(p, q, spots[k].stock, -s->lot_id, kept, today);
        add_stock(p, q, spots[k].stock, s->variety_id, s->quantity - kept, today);
    }
}

static cw_code plan(cw_wave_plan *p, const problem *q, cw_error *err)
{
    cw_wave w = { .walk_order = q->walk_order,
                  .place_count = p->places,
                  .stock = q->stock,
                  .stock_count = q->stocks,
                  .lines = q->line,
                  .line_count = q->lines,
                  .order_count = p->book.orders,
                  .variety_count = q->varieties };
    cw_walk_free(p->walk);
    p->walk = NULL;
    return cw_walk_plan(&w, &p->walk, err);
}

cw_code cw_wave_plan_walk(cw_wave_plan *p, cw_day today, cw_error *err)
{
    problem q = { 0 };
    cw_code code = CW_OK;
    spot *spots = calloc(p->book.stocks + 1, sizeof *spots);
    q.ids = calloc(p->book.wanteds + 1, sizeof *q.ids);
    q.line = calloc(p->book.wanteds + 1, sizeof *q.line);
    q.stock = calloc(2 * p->book.stocks + 1, sizeof *q.stock);
    q.walk_order = calloc(p->book.stocks + 1, sizeof *q.walk_order);
    if (!spots || !q.ids || !q.line || !q.stock || !q.walk_order) {
        code = cw_error_memory(err);
        goto done;
    }
    list_varieties(p, &q);
    list_lines(p, &q);
    list_stock(p, &q, spots, today);
    code = plan(p, &q, err);
done:
    free(spots);
    problem_free(&q);
    return code;
}

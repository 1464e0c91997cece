/* SPDX-License-Identifier: MIT */
#include "desk/bench/rota.h"

#include "base/grow.h"
#include "base/limits.h"
#include "desk/bench/lying_inside.h"
#include "desk/offer/offering_inside.h"
#include "model/measure.h"
#include "store/dividing.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define MOST 200 /* crates of a week */

static const cw_column rota_columns[] = {
    { "lot", CW_TEXT_T },
    { "variety", CW_TEXT_T },
    { "name", CW_TEXT_T },
    { "place", CW_TEXT_T, .null = true },
    { "room", CW_TEXT_T, .null = true },
    { "stage", CW_TEXT_T, .words = cw_words_stages },
    { "there", CW_INT_T },
    { "look", CW_INT_T, .says = "How many to look at." },
    { "weeks", CW_REAL_T, 1, .says = "Since they were last known sound, their mean." },
    { "expect", CW_REAL_T, 1, .says = "Of those looked at, expected rotten." },
    { "minutes", CW_INT_T },
    { "worth", CW_MONEY_T, .says = "What the answer saves, expected, on top of the looks before it." },
    { "rank", CW_INT_T, .says = "By what a minute brings." },
};
const cw_shape cw_rota_shape = CW_ROWS(rota_columns);

typedef struct crate {
    int64_t lot, walk_order;
    bool divisions;
    char place[CW_MAX_CODE + 1], room[CW_MAX_NAME + 1];
} crate;

typedef struct rota {
    cw_plan *plan;
    const cw_snapshot *snapshot;
    crate *crate;
    size_t crates, room;
    uint8_t *passed; /* [lots] */
    double *loss;    /* [varieties] */
    cw_rota_ask ask;
    cw_rota_look look[MOST];
    size_t looks;
    bool no_memory;
} rota;

static void take_crate(void *context, const cw_crate_row *row)
{
    rota *r = context;
    size_t lot = cw_lying_lot(r->plan->forecast->data, row->lot);
    r->no_memory = r->no_memory || !cw_grow(&r->crate, r->crates, &r->room, sizeof *r->crate);
    if (r->no_memory || lot == CW_NONE)
        return;
    if (row->held)
        r->passed[lot] = 1;
    crate *c = &r->crate[r->crates++];
    *c = (crate){ .lot = row->lot, .walk_order = row->walk_order, .divisions = row->divisions };
    cw_copy(c->place, sizeof c->place, row->place);
    cw_copy(c->room, sizeof c->room, row->room);
}

static const crate *crate_of(const rota *r, const cw_rota_look *look)
{
    static const crate nowhere = { .walk_order = INT64_MAX };
    int64_t id = r->snapshot->lot[look->lot].id;
    bool divisions = look->kind == CW_MEASURE_DIVISIONS;
    size_t low = 0, high = r->crates;
    while (low < high) { /* by lot, clumps before divisions */
        size_t mid = low + (high - low) / 2;
        const crate *c = &r->crate[mid];
        if (c->lot < id || (c->lot == id && c->divisions < divisions))
            low = mid + 1;
        else
            high = mid;
    }
    return low < r->crates && r->crate[low].lot == id && r->crate[low].divisions == divisions ? &r->crate[low]
                                                                                              : &nowhere;
}

static cw_code read(cw_nursery *n, rota *r, double minutes, cw_error *err)
{
    const cw_forecast_data *d = r->plan->forecast->data;
    r->snapshot = d->snapshot;
    r->passed = calloc(d->lots + 1, sizeof *r->passed);
    r->loss = calloc(d->varieties + 1, sizeof *r->loss);
    cw_code code = r->passed && r->loss ? CW_OK : cw_error_memory(err);
    if (code == CW_OK)
        code = cw_crates(n->db, take_crate, r, err);
    if (code == CW_OK && r->no_memory)
        code = cw_error_memory(err);
    if (code == CW_OK)
        code = cw_nursery_number(n, "check_minutes", &r->ask.minutes, err);
    if (code == CW_OK)
        code = cw_nursery_number(n, "open_minutes", &r->ask.open, err);
    if (code == CW_OK)
        code = cw_nursery_number(n, "look_minutes", &r->ask.look, err);
    r->ask.minutes = minutes >= 0 ? minutes : r->ask.minutes;
    r->ask.passed = r->passed;
    for (size_t v = 0; code == CW_OK && v < d->varieties; v++)
        r->loss[v] = cw_plan_doubt_costs(r->plan, v);
    return code;
}

static int by_walk(const void *pa, const void *pb, void *context)
{
    const rota *r = context;
    size_t a = *(const size_t *)pa, b = *(const size_t *)pb;
    int64_t wa = crate_of(r, &r->look[a])->walk_order, wb = crate_of(r, &r->look[b])->walk_order;
    return wa != wb ? (wa > wb) - (wa < wb) : (a > b) - (a < b);
}

static void put(const rota *r, size_t rank, cw_table *out)
{
    const cw_rota_look *l = &r->look[rank];
    const cw_snap_variety *v = &r->snapshot->variety[l->variety];
    const crate *c = crate_of(r, l);
    cw_put_text(out, r->snapshot->lot[l->lot].code);
    cw_put_text(out, v->code);
    cw_put_text(out, v->name);
    cw_put_text(out, c->place);
    cw_put_text(out, c->room);
    cw_put_text(out, l->kind == CW_MEASURE_DIVISIONS ? "division" : "clump");
    cw_put_int(out, l->there);
    cw_put_int(out, l->look);
    cw_put_real(out, l->weeks);
    cw_put_real(out, l->expect);
    cw_put_int(out, (int64_t)ceil(l->minutes));
    cw_put_money(out, (cw_cents)llround(l->worth));
    cw_put_int(out, (int64_t)rank + 1);
}

static void say(const rota *r, cw_text *notes)
{
    double minutes = 0, worth = 0;
    for (size_t i = 0; i < r->looks; i++) {
        minutes += r->look[i].minutes;
        worth += r->look[i].worth;
    }
    if (r->looks == 0) {
        cw_text_addf(notes, "Nothing is worth opening in %g minutes\n", r->ask.minutes);
        return;
    }
    char money[24];
    cw_cents_format((cw_cents)llround(worth), money);
    cw_text_addf(notes, "%zu %s in %.0f of %g minutes: what they tell is worth about %s\n", r->looks,
                 r->looks == 1 ? "crate" : "crates", minutes, r->ask.minutes, money);
}

/* Looks that are worth less than a cent. They stand anywhere, since the order is by what a minute brings. */
static void leave_out_trifles(rota *r)
{
    size_t kept = 0;
    for (size_t i = 0; i < r->looks; i++)
        if (llround(r->look[i].worth) > 0)
            r->look[kept++] = r->look[i];
    r->looks = kept;
}

static cw_code list(cw_nursery *n, rota *r, double minutes, cw_table *out, cw_text *notes, cw_error *err)
{
    size_t order[MOST];
    const cw_plan *p = r->plan;
    cw_code code = read(n, r, minutes, err);
    if (code == CW_OK)
        code = cw_measure_rota(p->projection ? p->projection : p->forecast->projection, p->law, r->loss,
                               &r->ask, MOST, r->look, &r->looks, err);
    if (code != CW_OK)
        return code;
    leave_out_trifles(r);
    for (size_t i = 0; i < r->looks; i++)
        order[i] = i;
    qsort_r(order, r->looks, sizeof *order, by_walk, r);
    for (size_t i = 0; i < r->looks; i++)
        put(r, order[i], out);
    if (notes)
        say(r, notes);
    return cw_table_check(out, err);
}

cw_code cw_rota_list(cw_nursery *n, const cw_asker *who, double minutes, cw_table *out, cw_text *notes,
                     cw_error *err)
{
    const cw_offering_ask ask = { .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY };
    rota *r = calloc(1, sizeof *r);
    cw_table_init(out, rota_columns, CW_WIDTH(rota_columns));
    if (r == NULL)
        return cw_error_memory(err);
    cw_code code = cw_plan_make(n, who, &ask, &r->plan, err);
    if (code == CW_OK)
        code = list(n, r, minutes, out, notes, err);
    cw_plan_free(r->plan);
    free(r->crate);
    free(r->passed);
    free(r->loss);
    free(r);
    return code;
}

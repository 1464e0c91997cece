/* SPDX-License-Identifier: MIT */
#include "desk/closing/letter_inside.h"

#include "base/grow.h"
#include "store/tracing.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define WEEKS_BEFORE 8 /* the day that is looked at when nothing was said on record */

bool cw_letter_fooled(const cw_letter_row *r)
{
    return r->came < r->low || r->came > r->high;
}

void cw_letter_free(cw_letter *l)
{
    cw_taught_free(&l->taught);
    cw_review_end(&l->review);
    cw_table_free(&l->said);
    free(l->row);
    free(l->sold_out);
    free(l->past);
    *l = (cw_letter){ 0 };
}

/* ---- what was said on record ---- */

typedef struct first_said {
    int64_t id;
    bool release;
    cw_day day;
    cw_said_row *row;
    size_t rows, room;
    bool failed;
} first_said;

/* The first release is what the catalogue rested on; before there is one, the first month's end. */
static void take_said(void *context, const cw_said *said, const cw_said_row *row)
{
    first_said *f = context;
    bool release = strcmp(said->why, "release") == 0;
    if (f->id && said->id != f->id && (f->release || !release))
        return;
    if (said->id != f->id) {
        f->id = said->id;
        f->release = release;
        f->day = said->day;
        f->rows = 0;
    }
    f->failed = f->failed || !cw_grow(&f->row, f->rows, &f->room, sizeof *f->row);
    if (!f->failed)
        f->row[f->rows++] = *row;
}

static const cw_said_row *said_of(const first_said *f, int64_t variety_id)
{
    size_t low = 0, high = f->rows;
    while (low < high) {
        size_t mid = low + (high - low) / 2;
        if (f->row[mid].variety_id < variety_id)
            low = mid + 1;
        else
            high = mid;
    }
    return low < f->rows && f->row[low].variety_id == variety_id ? &f->row[low] : NULL;
}

/* ---- what came, and why ---- */

typedef struct thrown {
    int64_t rotten, shrivelled;
    cw_day first_cut, first_look;
} thrown;

/* Of each variety's lots: what checks threw out since the day, and when somebody first cut or looked. */
static thrown *look_at_events(const cw_letter *l)
{
    const cw_forecast_data *d = l->review.then;
    const cw_snapshot *s = d->snapshot;
    thrown *t = calloc(d->varieties + 1, sizeof *t);
    for (size_t v = 0; t && v < d->varieties; v++)
        t[v].first_cut = t[v].first_look = CW_NO_DAY;
    for (size_t i = 0, lot = 0; t && i < s->events; i++) {
        const cw_snap_event *e = &s->event[i];
        while (lot < d->lots && s->lot[lot].id < e->lot_id)
            lot++;
        if (lot == d->lots || d->lot_variety[lot] == CW_NONE)
            continue;
        thrown *of = &t[d->lot_variety[lot]];
        bool cut = e->kind == CW_SNAP_DIVIDED, look = e->kind == CW_SNAP_CHECKED;
        if (cut && (of->first_cut == CW_NO_DAY || e->day < of->first_cut))
            of->first_cut = e->day;
        if (look && (of->first_look == CW_NO_DAY || e->day < of->first_look))
            of->first_look = e->day;
        if (look && e->division && e->day > l->said_on) {
            of->rotten += e->rotten;
            of->shrivelled += e->shrivelled > 0 ? e->shrivelled : 0;
        }
    }
    return t;
}

/* What the clumps cut since gave beside what was expected of them is the rate's part; the rest is the store's. */
static cw_letter_cause cause_of(const cw_held *h, const cw_letter_row *r, const thrown *t)
{
    double missed = (double)r->came - r->expected;
    double rate = r->gave > 0 ? (r->gave - h->rate) * (double)h->cut_clumps : 0;
    double store = missed - rate;
    if (fabs(rate) >= fabs(store) && rate * missed > 0)
        return CW_LETTER_RATE;
    if (store > 0)
        return CW_LETTER_KEPT;
    return t->shrivelled > t->rotten ? CW_LETTER_DRIED : CW_LETTER_ROT;
}

static int by_miss(const void *pa, const void *pb)
{
    const cw_letter_row *a = pa, *b = pb;
    double x = fabs((double)a->came - a->expected), y = fabs((double)b->came - b->expected);
    return x != y ? (x < y) - (x > y) : (a->variety > b->variety) - (a->variety < b->variety);
}

static cw_code hold_rows(cw_letter *l, const first_said *f, cw_error *err)
{
    const cw_forecast_data *d = l->review.then;
    thrown *t = look_at_events(l);
    l->row = calloc(l->review.rows + 1, sizeof *l->row);
    if (t == NULL || l->row == NULL) {
        free(t);
        return cw_error_memory(err);
    }
    for (size_t i = 0, v = 0; i < l->review.rows; i++) {
        const cw_held *h = &l->review.row[i];
        if (h->is_lot)
            continue;
        /* Rows stand by variety, as the snapshot's varieties do. */
        while (v < d->varieties && d->snapshot->variety[v].code != h->code)
            v++;
        const cw_said_row *said = l->on_record ? said_of(f, d->snapshot->variety[v].id) : NULL;
        if (l->on_record && said == NULL)
            continue;
        cw_letter_row *r = &l->row[l->rows++];
        *r = (cw_letter_row){ .variety = v,
                              .expected = said ? said->expected : h->law.mean,
                              .low = said ? said->quantile[1] : cw_distribution_quantile(&h->law, 0.1),
                              .high = said ? said->quantile[5] : cw_distribution_quantile(&h->law, 0.9),
                              .came = h->came,
                              .rate = h->rate,
                              .first_cut = t[v].first_cut,
                              .first_look = t[v].first_look };
        r->gave = h->cut_clumps > 0 ? (double)h->cut_divisions / (double)h->cut_clumps : 0;
        r->cause = cause_of(h, r, &t[v]);
        l->held += !cw_letter_fooled(r);
    }
    free(t);
    if (l->rows > 1)
        qsort(l->row, l->rows, sizeof *l->row, by_miss);
    return CW_OK;
}

/* ---- the mass balance ---- */

static int64_t at(const cw_table *t, size_t row, const char *column)
{
    return cw_table_int(t, row, (size_t)cw_table_column(t, column));
}

static void add_losses(cw_letter *l, const cw_table *b)
{
    const cw_snapshot *s = l->review.then->snapshot;
    double per_clump = l->cut > 0 ? (double)l->made / (double)l->cut : 0;
    for (size_t row = 0, v = 0; row < cw_table_rows(b); row++) {
        while (v < s->varieties && strcmp(s->variety[v].code, cw_table_text(b, row, 0)) != 0)
            v++;
        double cut = (double)(at(b, row, "clumps_divided")), made = (double)at(b, row, "divisions_made");
        double gives = cut > 0 ? made / cut : per_clump;
        double clumps = (double)at(b, row, "clumps_rotten") * gives;
        double rotten = (double)at(b, row, "divisions_rotten");
        double shrivelled = (double)at(b, row, "divisions_shrivelled");
        double gone = (double)at(b, row, "divisions_lost") + (double)at(b, row, "clumps_lost") * gives;
        l->lost.rotten_clumps += clumps;
        l->lost.rotten += rotten;
        l->lost.shrivelled += shrivelled;
        l->lost.gone += gone;
        if (v < s->varieties && s->variety[v].price > 0)
            l->lost.money += (clumps + rotten + shrivelled + gone) * (double)s->variety[v].price;
    }
}

static cw_code read_balance(cw_letter *l, cw_nursery *n, cw_error *err)
{
    cw_table b = { 0 };
    cw_code code = cw_trace_balance(n->db, &b, err);
    for (size_t row = 0; code == CW_OK && row < cw_table_rows(&b); row++) {
        l->dug += at(&b, row, "clumps_dug");
        l->cut += at(&b, row, "clumps_divided");
        l->made += at(&b, row, "divisions_made");
        l->shipped += at(&b, row, "divisions_shipped");
        l->planted += at(&b, row, "divisions_planted");
        l->on_hand += at(&b, row, "divisions_on_hand");
    }
    if (code == CW_OK)
        add_losses(l, &b);
    cw_table_free(&b);
    return code;
}

/* ---- demand ---- */

static int by_day(const void *pa, const void *pb)
{
    const cw_letter_sold_out *a = pa, *b = pb;
    return a->day != b->day ? (a->day > b->day) - (a->day < b->day)
                            : (a->variety > b->variety) - (a->variety < b->variety);
}

static cw_code read_demand(cw_letter *l, cw_error *err)
{
    const cw_forecast_data *d = l->review.then;
    l->sold_out = calloc(l->taught.sales + 1, sizeof *l->sold_out);
    if (l->sold_out == NULL)
        return cw_error_memory(err);
    for (size_t v = 0; v < d->snapshot->varieties; v++) {
        l->offered += d->snapshot->variety[v].offered;
        l->sold += d->snapshot->variety[v].sold;
    }
    for (size_t i = 0; i < l->taught.sales; i++) {
        const cw_taught_sale *sale = &l->taught.sale[i];
        size_t v = cw_forecast_data_by_id(d, sale->variety_id);
        l->asked += sale->sold;
        if (v != CW_NONE && sale->sold_out != CW_NO_DAY)
            l->sold_out[l->sold_outs++] = (cw_letter_sold_out){ v, sale->sold_out };
    }
    if (l->sold_outs > 1)
        qsort(l->sold_out, l->sold_outs, sizeof *l->sold_out, by_day);
    return CW_OK;
}

static void take_past(void *context, const cw_past_said *line)
{
    cw_letter *l = context;
    l->failed = l->failed || !cw_grow(&l->past, l->pasts, &l->past_room, sizeof *l->past);
    if (!l->failed)
        l->past[l->pasts++] = *line;
}

cw_code cw_letter_read(cw_letter *l, cw_nursery *n, const cw_asker *who, cw_error *err)
{
    first_said f = { 0 };
    *l = (cw_letter){ 0 };
    cw_code code = cw_season_look(n, err);
    if (code == CW_OK)
        code = cw_said_rows(n->db, n->season.ship, take_said, &f, err);
    if (code == CW_OK && f.failed)
        code = cw_error_memory(err);
    l->over = n->season.ship <= who->today;
    l->on_record = f.id != 0;
    l->said_on = f.id ? f.day : n->season.ship - 7 * WEEKS_BEFORE;
    const cw_day never = INT32_MAX;
    const cw_hindsight_ask ask = { l->over ? &l->said_on : &never, 1 };
    if (code == CW_OK)
        code = cw_review_make(&l->review, n, who, &ask, err);
    if (code == CW_OK)
        code = cw_review_said(&l->review, &l->said, err);
    if (code == CW_OK)
        code = hold_rows(l, &f, err);
    if (code == CW_OK)
        code = read_balance(l, n, err);
    if (code == CW_OK)
        code = cw_taught_read(l->review.then, n->season.season, &l->taught, err);
    if (code == CW_OK)
        code = cw_taught_asked(n, who, &l->taught, err);
    if (code == CW_OK)
        code = read_demand(l, err);
    if (code == CW_OK)
        code = cw_turning_said_each(n->db, take_past, l, err);
    if (code == CW_OK && l->failed)
        code = cw_error_memory(err);
    free(f.row);
    return code;
}

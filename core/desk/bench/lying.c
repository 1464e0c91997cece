/* SPDX-License-Identifier: MIT */
#include "desk/bench/lying.h"

#include "base/json.h"
#include "base/limits.h"
#include "base/parallel.h"
#include "desk/bench/lying_inside.h"
#include "store/dividing.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* ---- what the projection says of each lot, as it lies ---- */

/* Of a lot's clumps, or its divisions. */
typedef struct heap {
    double count, rot[CW_LYING_DAYS], dry[CW_LYING_DAYS];
    cw_day sound; /* the longest wait began */
} heap;

typedef struct looking {
    const cw_forecast *f;
    cw_go_on go_on;
    cw_day day[CW_LYING_DAYS];
    size_t *from;      /* [varieties + 1] into `cohort` */
    size_t *cohort;    /* cohorts by variety */
    cw_stock *stretch; /* [cohorts * days], in that order */
    cw_lying *lying;   /* likewise */
    heap *heap;        /* [2 * lots]: clumps, divisions */
    cw_table places;
    /* the place in hand */
    int64_t place_id, lots, held, clumps, divisions;
    char place[CW_MAX_CODE + 1], room[CW_MAX_NAME + 1];
    int64_t walk_order;
    double rot[CW_LYING_DAYS], dry[CW_LYING_DAYS];
    cw_day sound;
    bool open;
} looking;

static void stretch_to(const cw_forecast_data *d, size_t cohort, cw_day day, cw_stock *out)
{
    const cw_fd_cohort *c = &d->cohort[cohort];
    *out = d->stock[cohort];
    double weeks = day > c->sound ? (double)(day - c->sound) / 7.0 : 0;
    if (c->stage == CW_CLUMP) {
        out->clump_weeks = weeks;
        out->division_weeks = 0;
        out->to_pa_days = out->from_pa_days;
    } else {
        out->division_weeks = weeks;
        out->to_pa_days = out->from_pa_days + cw_forecast_data_drying(d, c->lot, c->sound, day);
    }
}

static void lie(void *context, unsigned worker, size_t v)
{
    looking *w = context;
    size_t from = w->from[v], to = w->from[v + 1];
    (void)worker;
    if (!cw_wanted(w->go_on))
        return;
    for (size_t i = from; i < to; i++)
        for (size_t k = 0; k < CW_LYING_DAYS; k++)
            stretch_to(w->f->data, w->cohort[i], w->day[k], &w->stretch[i * CW_LYING_DAYS + k]);
    cw_projection_lying(w->f->projection, v, w->stretch + from * CW_LYING_DAYS, (to - from) * CW_LYING_DAYS,
                        w->lying + from * CW_LYING_DAYS);
}

static void sort_by_variety(looking *w)
{
    const cw_forecast_data *d = w->f->data;
    for (size_t i = 0; i < d->cohorts; i++)
        if (d->lot_variety[d->cohort[i].lot] != CW_NONE)
            w->from[d->lot_variety[d->cohort[i].lot] + 1]++;
    for (size_t v = 0; v < d->varieties; v++)
        w->from[v + 1] += w->from[v];
    for (size_t i = d->cohorts;
         i-- > 0;) { /* from[v + 1] goes down to where v begins, which is from[v] of before */
        size_t v = d->lot_variety[d->cohort[i].lot];
        if (v != CW_NONE)
            w->cohort[--w->from[v + 1]] = i;
    }
    for (size_t v = 0; v < d->varieties; v++)
        w->from[v] = w->from[v + 1];
    w->from[d->varieties] = 0;
    for (size_t i = 0; i < d->cohorts; i++)
        w->from[d->varieties] += d->lot_variety[d->cohort[i].lot] != CW_NONE;
}

static void heap_up(looking *w)
{
    const cw_forecast_data *d = w->f->data;
    for (size_t i = 0; i < w->from[d->varieties]; i++) {
        const cw_fd_cohort *c = &d->cohort[w->cohort[i]];
        heap *h = &w->heap[2 * c->lot + (c->stage == CW_DIVISION)];
        double n = (double)c->count;
        h->sound = h->count > 0 && h->sound < c->sound ? h->sound : c->sound;
        h->count += n;
        for (size_t k = 0; k < CW_LYING_DAYS; k++) {
            h->rot[k] += n * w->lying[i * CW_LYING_DAYS + k].rotten;
            h->dry[k] += n * w->lying[i * CW_LYING_DAYS + k].shrivelled;
        }
    }
}

/* ---- places ---- */

#define SHARE(name)                                                                                          \
    {                                                                                                        \
        name, CW_REAL_T, 4                                                                                   \
    }
static const cw_column place_columns[] = {
    { "place", CW_TEXT_T, .null = true },
    { "room", CW_TEXT_T, .null = true },
    { "walk_order", CW_INT_T },
    { "lots", CW_INT_T },
    { "held", CW_INT_T, .says = "Of those lots." },
    { "clumps", CW_INT_T },
    { "divisions", CW_INT_T },
    { "weeks", CW_REAL_T, 1, .says = "Since what has waited longest was last known sound." },
    SHARE("rot_0"),
    SHARE("rot_1"),
    SHARE("rot_2"),
    SHARE("rot_3"),
    SHARE("rot_4"),
    SHARE("dry_0"),
    SHARE("dry_1"),
    SHARE("dry_2"),
    SHARE("dry_3"),
    SHARE("dry_4"),
};
static const cw_column room_columns[] = {
    { "room", CW_TEXT_T },
    { "temp_c", CW_REAL_T, 1 },
    { "rh", CW_REAL_T, 1 },
    { "vpd_pa", CW_REAL_T, 1 },
};
static const cw_shape places_shape = CW_ROWS(place_columns), rooms_shape = CW_ROWS(room_columns);
const cw_shape cw_lying_shape = { .parts = (const cw_part[]){
                                      { "today", CW_DAY_T },
                                      { "ship", CW_DAY_T },
                                      { "days", .shape = &cw_shape_texts },
                                      { "rooms", .shape = &rooms_shape },
                                      { "places", .shape = &places_shape },
                                      { 0 },
                                  } };

/* Four digits of a share are enough, and half of the page's bytes. */
static double short_of(double share)
{
    return round(share * 1e4) / 1e4;
}

static void put_place(looking *w)
{
    double things = (double)(w->clumps + w->divisions), divisions = (double)w->divisions;
    if (!w->open)
        return;
    cw_put_text(&w->places, w->place);
    cw_put_text(&w->places, w->room);
    cw_put_int(&w->places, w->walk_order);
    cw_put_int(&w->places, w->lots);
    cw_put_int(&w->places, w->held);
    cw_put_int(&w->places, w->clumps);
    cw_put_int(&w->places, w->divisions);
    cw_put_real(&w->places,
                w->lots > 0 && w->day[0] > w->sound ? short_of((double)(w->day[0] - w->sound) / 7) : 0);
    for (size_t k = 0; k < CW_LYING_DAYS; k++)
        cw_put_real(&w->places, things > 0 ? short_of(w->rot[k] / things) : 0);
    for (size_t k = 0; k < CW_LYING_DAYS; k++)
        cw_put_real(&w->places, divisions > 0 ? short_of(w->dry[k] / divisions) : 0);
}

static void take_row(void *context, const cw_lying_row *row)
{
    looking *w = context;
    if (!w->open || w->place_id != row->place_id) {
        put_place(w);
        w->open = true;
        w->place_id = row->place_id;
        w->walk_order = row->walk_order;
        w->lots = w->held = w->clumps = w->divisions = 0;
        w->sound = w->day[0];
        memset(w->rot, 0, sizeof w->rot);
        memset(w->dry, 0, sizeof w->dry);
        cw_copy(w->place, sizeof w->place, row->place);
        cw_copy(w->room, sizeof w->room, row->room);
    }
    if (row->lot == 0)
        return;
    size_t lot = cw_lying_lot(w->f->data, row->lot);
    w->lots++;
    w->held += row->held;
    w->clumps += row->clumps;
    w->divisions += row->divisions;
    for (int s = 0; s < 2 && lot != CW_NONE; s++) {
        const heap *h = &w->heap[2 * lot + (size_t)s];
        double n = (double)(s == 0 ? row->clumps : row->divisions);
        if (n <= 0 || h->count <= 0)
            continue;
        w->sound = h->sound < w->sound ? h->sound : w->sound;
        for (size_t k = 0; k < CW_LYING_DAYS; k++) {
            w->rot[k] += n * h->rot[k] / h->count;
            w->dry[k] += n * h->dry[k] / h->count;
        }
    }
}

size_t cw_lying_lot(const cw_forecast_data *d, int64_t id)
{
    size_t low = 0, high = d->lots;
    while (low < high) { /* lots stand by id */
        size_t mid = low + (high - low) / 2;
        if (d->snapshot->lot[mid].id < id)
            low = mid + 1;
        else
            high = mid;
    }
    return low < d->lots && d->snapshot->lot[low].id == id ? low : CW_NONE;
}

/* ---- the whole ---- */

static cw_code work_new(looking *w, cw_error *err)
{
    const cw_forecast_data *d = w->f->data;
    size_t cells = (d->cohorts + 1) * CW_LYING_DAYS;
    w->from = calloc(d->varieties + 2, sizeof *w->from);
    w->cohort = calloc(d->cohorts + 1, sizeof *w->cohort);
    w->stretch = calloc(cells, sizeof *w->stretch);
    w->lying = calloc(cells, sizeof *w->lying);
    w->heap = calloc(2 * d->lots + 2, sizeof *w->heap);
    for (size_t k = 0; k < CW_LYING_DAYS; k++)
        w->day[k] = d->as_of + (cw_day)((int64_t)(d->ship - d->as_of) * (int64_t)k / (CW_LYING_DAYS - 1));
    cw_table_init(&w->places, place_columns, CW_WIDTH(place_columns));
    return w->from && w->cohort && w->stretch && w->lying && w->heap ? CW_OK : cw_error_memory(err);
}

static void work_free(looking *w)
{
    free(w->from);
    free(w->cohort);
    free(w->stretch);
    free(w->lying);
    free(w->heap);
    cw_table_free(&w->places);
}

static void put_rooms(const cw_forecast_data *d, cw_table *out)
{
    for (size_t r = 0; r < d->snapshot->rooms; r++) {
        cw_room_air air = cw_lying_air(d, r);
        cw_put_text(out, d->snapshot->room[r]);
        cw_put_real(out, air.temp_c);
        cw_put_real(out, air.rh);
        cw_put_real(out, air.vpd);
    }
}

static cw_code document(looking *w, json_t **out, cw_error *err)
{
    cw_table rooms;
    char text[11], ship[11];
    json_t *days = json_array();
    cw_table_init(&rooms, room_columns, CW_WIDTH(room_columns));
    put_rooms(w->f->data, &rooms);
    for (size_t k = 0; k < CW_LYING_DAYS; k++) {
        cw_day_format(w->day[k], text);
        cw_json_append_take(&days, json_string(text));
    }
    cw_day_format(w->day[0], text);
    cw_day_format(w->f->data->ship, ship);
    cw_code code = cw_table_check(&w->places, err);
    if (code == CW_OK)
        code = cw_table_check(&rooms, err);
    *out = code == CW_OK
               ? json_pack("{s:s,s:s,s:o,s:o,s:o}", "today", text, "ship", ship, "days", days, "rooms",
                           cw_table_to_json(&rooms), "places", cw_table_to_json(&w->places))
               : NULL;
    if (code == CW_OK && *out == NULL)
        code = cw_error_memory(err);
    else if (code != CW_OK)
        json_decref(days);
    cw_table_free(&rooms);
    return code;
}

cw_code cw_lying_look(cw_nursery *n, const cw_asker *who, json_t **out, cw_error *err)
{
    looking w = { .go_on = cw_asker_go_on(who) };
    *out = NULL;
    cw_code code = cw_forecast_get(n, who, CW_NO_DAY, CW_NO_DAY, &w.f, err);
    if (code != CW_OK)
        return code;
    code = work_new(&w, err);
    if (code == CW_OK) {
        sort_by_variety(&w);
        cw_parallel_for(0, w.f->data->varieties, lie, &w);
        code = cw_wanted(w.go_on) ? CW_OK : cw_given_up(err);
    }
    if (code == CW_OK) {
        heap_up(&w);
        code = cw_lying_rows(n->db, take_row, &w, err);
    }
    if (code == CW_OK) {
        put_place(&w);
        code = document(&w, out, err);
    }
    work_free(&w);
    return code;
}

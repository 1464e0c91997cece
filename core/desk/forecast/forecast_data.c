/* SPDX-License-Identifier: MIT */
#include "desk/forecast/forecast_data_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Numbers the different texts of `get` in order of first appearance; "" is -1. Few levels, so a linear search. */
static cw_code levels(const cw_snapshot *s, bool forms, int *level, size_t *out, cw_error *err)
{
    size_t count = 0;
    size_t *first = calloc(s->varieties + 1, sizeof *first);
    if (first == NULL)
        return cw_error_memory(err);
    for (size_t v = 0; v < s->varieties; v++) {
        const char *text = forms ? s->variety[v].form : s->variety[v].size;
        size_t k = 0;
        level[v] = -1;
        if (text[0] == '\0')
            continue;
        while (k < count && strcmp(forms ? s->variety[first[k]].form : s->variety[first[k]].size, text) != 0)
            k++;
        if (k == count)
            first[count++] = v;
        level[v] = (int)k;
    }
    free(first);
    *out = count;
    return CW_OK;
}

/* Numbers the rooms that lots name, in order of first appearance. */
static cw_code places(cw_forecast_data *d, cw_error *err)
{
    const cw_snapshot *s = d->snapshot;
    int count = 0;
    size_t *first = calloc(s->lots + 1, sizeof *first);
    if (first == NULL)
        return cw_error_memory(err);
    for (size_t lot = 0; lot < s->lots; lot++) {
        int k = 0;
        d->lot_place[lot] = -1;
        if (s->lot[lot].room[0] == '\0')
            continue;
        while (k < count && strcmp(s->lot[first[k]].room, s->lot[lot].room) != 0)
            k++;
        if (k == count)
            first[count++] = lot;
        d->lot_place[lot] = k;
    }
    free(first);
    return CW_OK;
}

static cw_code rooms(cw_forecast_data *d, cw_error *err)
{
    const cw_snapshot *s = d->snapshot;
    cw_air_reading *readings = calloc(s->airs + 1, sizeof *readings);
    cw_code code = readings ? CW_OK : cw_error_memory(err);
    for (size_t room = 0, i = 0; code == CW_OK && room < s->rooms; room++) {
        size_t n = 0;
        for (; i < s->airs && s->air[i].room == room; i++)
            readings[n++] = (cw_air_reading){ s->air[i].at, s->air[i].temp_c, s->air[i].rh };
        code = cw_air_room_new(readings, n, &d->room[room], err);
        if (code == CW_OK && n > 0) {
            cw_air_integral past =
                cw_air_between(d->room[room], readings[0].at, (cw_instant)(d->as_of + 1) * CW_DAY_MS);
            d->flagged_hours = past.flagged_hours > d->flagged_hours ? past.flagged_hours : d->flagged_hours;
        }
    }
    for (size_t lot = 0; lot < d->all_lots; lot++) {
        d->lot_room[lot] =
            s->rooms == 1 ? 0 : CW_NONE; /* a nursery with one measured room keeps its stock there */
        if (lot >= d->lots)
            continue; /* nobody knows yet where it will lie */
        for (size_t room = 0; room < s->rooms; room++)
            if (strcmp(s->lot[lot].room, s->room[room]) == 0)
                d->lot_room[lot] = room;
    }
    free(readings);
    return code;
}

static cw_instant noon(cw_day day)
{
    return day * CW_DAY_MS + CW_DAY_MS / 2;
}

double cw_forecast_data_drying(const cw_forecast_data *d, size_t lot, cw_day from, cw_day to)
{
    const cw_air_room *room = d->lot_room[lot] == CW_NONE ? NULL : d->room[d->lot_room[lot]];
    return from < to ? cw_air_between(room, noon(from), noon(to)).pa_days : 0;
}

double cw_forecast_data_pa(const cw_forecast_data *d)
{
    return d->snapshot->rooms ? cw_air_recent_pa(d->room[0]) : d->snapshot->past->pa;
}

size_t cw_forecast_data_lot_by_id(const cw_forecast_data *d, int64_t id)
{
    const cw_snapshot *s = d->snapshot;
    size_t low = 0, high = s->lots;
    while (low < high) {
        size_t mid = low + (high - low) / 2;
        if (s->lot[mid].id < id)
            low = mid + 1;
        else
            high = mid;
    }
    return low < s->lots && s->lot[low].id == id ? low : CW_NONE;
}

static void stocks(cw_forecast_data *d)
{
    const cw_snapshot *s = d->snapshot;
    for (size_t i = 0; i < d->cohorts; i++) {
        const cw_fd_cohort *c = &d->cohort[i];
        cw_stock *k = &d->stock[i];
        *k = (cw_stock){ .lot = c->lot, .stage = c->stage, .count = c->count };
        if (c->stage == CW_CLUMP) {
            k->clump_weeks = (d->divide - c->sound) / 7.0;
            k->clump_age = (c->sound - c->since) / 7.0;
            k->cut = d->lot_cut[c->lot];
            k->division_weeks = (d->ship - d->divide) / 7.0;
            k->to_pa_days = cw_forecast_data_drying(d, c->lot, d->divide, d->ship);
        } else {
            k->division_weeks = d->ship > c->sound ? (d->ship - c->sound) / 7.0 : 0;
            k->division_age = (c->sound - c->since) / 7.0;
            k->from_pa_days = cw_forecast_data_drying(d, c->lot, c->since, c->sound);
            k->to_pa_days = k->from_pa_days + cw_forecast_data_drying(d, c->lot, c->sound, d->ship);
        }
    }
    for (size_t i = 0; i < d->beds; i++)
        cw_forecast_bed_stock(d, i, &d->stock[d->cohorts + i]);
    for (size_t i = 0; i < s->weighings; i++) {
        size_t lot = cw_forecast_data_lot_by_id(d, s->weighing[i].lot_id);
        d->weighing[i] =
            (cw_weighing){ s->weighing[i].sample, lot == CW_NONE ? 0 : lot, 0, s->weighing[i].kg };
        if (lot != CW_NONE)
            d->weighing[i].pa_days = cw_forecast_data_drying(d, lot, s->lot[lot].dug_on, s->weighing[i].day);
    }
    d->weighings = s->weighings;
    for (size_t i = 0; i < s->past->weighings; i++) {
        const cw_snap_past_weighing *w = &s->past->weighing[i];
        if (w->season < d->season)
            d->weighing[d->weighings++] =
                (cw_weighing){ s->samples + w->sample, d->all_lots + (size_t)w->lot, w->pa_days, w->kg };
    }
}

static cw_code set_up(cw_forecast_data *d, cw_error *err)
{
    const cw_snapshot *s = d->snapshot;
    size_t v = s->varieties + 1, l = s->lots + s->field->plantings + 1;
    d->varieties = s->varieties;
    d->lots = s->lots;
    d->form = calloc(v, sizeof *d->form);
    d->size = calloc(v, sizeof *d->size);
    d->clumps = calloc(v, sizeof *d->clumps);
    d->divisions = calloc(v, sizeof *d->divisions);
    d->whole = calloc(v, sizeof *d->whole);
    d->by_id = calloc(v, sizeof *d->by_id);
    d->lot_clumps = calloc(l, sizeof *d->lot_clumps);
    d->lot_divisions = calloc(l, sizeof *d->lot_divisions);
    d->lot_variety = calloc(l, sizeof *d->lot_variety);
    d->lot_cut = calloc(l, sizeof *d->lot_cut);
    d->lot_place = calloc(l, sizeof *d->lot_place);
    d->lot_room = calloc(l, sizeof *d->lot_room);
    d->room = calloc(s->rooms + 1, sizeof *d->room);
    d->weighing = calloc(s->weighings + s->past->weighings + 1, sizeof *d->weighing);
    if (!d->form || !d->size || !d->clumps || !d->divisions || !d->whole || !d->by_id || !d->lot_clumps ||
        !d->lot_divisions || !d->lot_variety || !d->lot_cut || !d->lot_place || !d->lot_room || !d->room ||
        !d->weighing)
        return cw_error_memory(err);
    return CW_OK;
}

/* by_id: indices in order of row id; the snapshot has the varieties in order of code. */
static int by_row_id(const void *pa, const void *pb, void *context)
{
    const cw_snapshot *s = context;
    int64_t a = s->variety[*(const size_t *)pa].id, b = s->variety[*(const size_t *)pb].id;
    return (a > b) - (a < b);
}

static cw_code fill(cw_forecast_data *d, cw_error *err)
{
    const cw_snapshot *s = d->snapshot;
    for (size_t v = 0; v < d->varieties; v++)
        d->by_id[v] = v;
    qsort_r(d->by_id, d->varieties, sizeof *d->by_id, by_row_id, d->snapshot);
    cw_code code = levels(s, true, d->form, &d->forms, err);
    if (code == CW_OK)
        code = levels(s, false, d->size, &d->sizes, err);
    for (size_t lot = 0; lot < d->lots; lot++)
        d->lot_variety[lot] = cw_forecast_data_by_id(d, s->lot[lot].variety_id);
    if (code == CW_OK)
        code = cw_forecast_field(d, err);
    d->all_lots = d->lots + d->beds;
    for (size_t k = 0; code == CW_OK && k < d->beds; k++) {
        d->lot_variety[d->lots + k] = d->bed[k].variety;
        d->lot_place[d->lots + k] = -1;
    }
    if (code == CW_OK)
        code = places(d, err);
    if (code == CW_OK)
        code = rooms(d, err);
    if (code != CW_OK)
        return code;
    code = cw_forecast_replay(d, err);
    if (code != CW_OK)
        return code;
    d->stock = calloc(d->cohorts + d->beds + 1, sizeof *d->stock);
    if (d->stock == NULL)
        return cw_error_memory(err);
    stocks(d);
    for (size_t v = 0; v < d->varieties; v++)
        d->whole[v] = d->clumps[v];
    for (size_t k = 0; k < d->beds; k++)
        d->whole[d->bed[k].variety] += d->bed[k].plants;
    return CW_OK;
}

/* One figure alone is the middle of a range. */
static cw_code own_rot(cw_nursery *n, cw_rot_own *out, cw_error *err)
{
    static const double apart = 1.5, most = 0.95;
    double low = 0, high = 0;
    cw_code code = cw_nursery_number(n, "rot_low", &low, err);
    if (code == CW_OK)
        code = cw_nursery_number(n, "rot_high", &high, err);
    double middle = fmax(low, high);
    if (low > 0 && high > 0)
        *out = (cw_rot_own){ .low = fmin(low, high), .high = middle };
    else
        *out = (cw_rot_own){ .low = middle / apart, .high = fmin(most, middle * apart) };
    return code;
}

/* From the middle of digging to the nursery's shipping day, in whole weeks: one lot more hardly makes it another. */
static double winter_weeks(const cw_forecast_data *d, cw_day ship)
{
    static const double least = 4;
    return fmax(least, round((double)(ship - d->dig) / 7.0));
}

cw_code cw_forecast_data_load(cw_nursery *n, cw_day as_of, cw_day ship, cw_forecast_data **out, cw_error *err)
{
    *out = NULL;
    cw_forecast_data *d = calloc(1, sizeof *d);
    if (d == NULL)
        return cw_error_memory(err);
    d->season = n->season.season;
    d->as_of = as_of;
    d->ship = ship;
    d->divide = as_of + (ship > as_of ? (ship - as_of) / 2 : 0);
    double look = 0;
    cw_code code = cw_nursery_number(n, "counts_look", &look, err);
    d->counts_look = look != 0;
    if (code == CW_OK)
        code = cw_nursery_number(n, "best_first", &look, err);
    d->best_first = code == CW_OK && look != 0;
    if (code == CW_OK)
        code = own_rot(n, &d->rot_own, err);
    if (code == CW_OK)
        code = cw_snapshot_read(n->db, as_of, &n->kept, &d->snapshot, err);
    if (code == CW_OK)
        code = set_up(d, err);
    if (code == CW_OK)
        code = fill(d, err);
    if (code == CW_OK)
        d->rot_own.weeks = winter_weeks(d, n->season.ship);
    if (code != CW_OK) {
        cw_forecast_data_free(d);
        return code;
    }
    *out = d;
    return CW_OK;
}

void cw_forecast_data_free(cw_forecast_data *d)
{
    if (d == NULL)
        return;
    for (size_t r = 0; d->room && d->snapshot && r < d->snapshot->rooms; r++)
        cw_air_room_free(d->room[r]);
    void *parts[] = { d->bed,       d->establish_row, d->form,       d->size,          d->clumps,
                      d->divisions, d->by_id,         d->lot_clumps, d->lot_divisions, d->lot_variety,
                      d->lot_cut,   d->lot_place,     d->rate_cut,   d->rot_look,      d->lot_room,
                      d->room,      d->weighing,      d->stock,      d->rate_row,      d->rot_row,
                      d->cohort,    d->shrivel_check, d->whole };
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
        free(parts[i]);
    cw_snapshot_free(d->snapshot);
    free(d);
}

/* The place in by_id of the first variety with this id or a higher one. */
static size_t first_of(const cw_forecast_data *d, int64_t id)
{
    size_t low = 0, high = d->varieties;
    while (low < high) {
        size_t mid = low + (high - low) / 2;
        if (d->snapshot->variety[d->by_id[mid]].id < id)
            low = mid + 1;
        else
            high = mid;
    }
    return low;
}

size_t cw_forecast_data_by_id_from(const cw_forecast_data *d, int64_t id, size_t *at)
{
    for (size_t k = *at; k < *at + 2 && k < d->varieties; k++)
        if (d->snapshot->variety[d->by_id[k]].id == id) {
            *at = k;
            return d->by_id[k];
        }
    size_t low = first_of(d, id);
    if (low == d->varieties || d->snapshot->variety[d->by_id[low]].id != id)
        return CW_NONE;
    *at = low;
    return d->by_id[low];
}

size_t cw_forecast_data_by_id(const cw_forecast_data *d, int64_t id)
{
    size_t at = d->varieties; /* nowhere near */
    return cw_forecast_data_by_id_from(d, id, &at);
}

size_t cw_forecast_data_by_code(const cw_forecast_data *d, const char *code)
{
    size_t low = 0, high = d->varieties;
    while (low < high) {
        size_t mid = low + (high - low) / 2;
        if (strcmp(d->snapshot->variety[mid].code, code) < 0)
            low = mid + 1;
        else
            high = mid;
    }
    return low < d->varieties && strcmp(d->snapshot->variety[low].code, code) == 0 ? low : CW_NONE;
}

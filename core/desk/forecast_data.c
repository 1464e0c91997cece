/* SPDX-License-Identifier: MIT */
#include "desk/forecast_data.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* A check on the day of digging or cutting still saw something: half a day. */
#define SHORTEST_WEEKS (0.5 / 7)

typedef struct builder {
    cw_forecast_data *d;
    size_t rate_room, rot_room, cohort_room, shrivel_room;
    cw_fd_cohort *lot; /* cohorts of the lot in hand, in order of `sound` */
    size_t lot_count, lot_room;
    bool no_memory;
} builder;

static void *grown(builder *b, void *rows, size_t count, size_t *room, size_t size)
{
    if (count < *room)
        return rows;
    size_t more = *room ? *room * 2 : 64;
    void *bigger = realloc(rows, more * size);
    if (bigger == NULL) {
        b->no_memory = true;
        return rows;
    }
    *room = more;
    return bigger;
}

static void add_rate(builder *b, size_t variety, int season, size_t lot, int64_t clumps, int64_t divisions)
{
    cw_forecast_data *d = b->d;
    if (variety == CW_NONE || clumps <= 0)
        return;
    d->rate_row = grown(b, d->rate_row, d->rate_rows, &b->rate_room, sizeof *d->rate_row);
    if (!b->no_memory)
        d->rate_row[d->rate_rows++] = (cw_rate_row){ (int)variety, season, lot == CW_NONE ? -1 : (int)lot, clumps, divisions };
}

static void add_rot(builder *b, size_t variety, cw_rot_row row)
{
    cw_forecast_data *d = b->d;
    if (variety == CW_NONE || row.inspected <= 0)
        return;
    row.variety = (int)variety;
    row.weeks = row.weeks < SHORTEST_WEEKS ? SHORTEST_WEEKS : row.weeks;
    d->rot_row = grown(b, d->rot_row, d->rot_rows, &b->rot_room, sizeof *d->rot_row);
    if (!b->no_memory)
        d->rot_row[d->rot_rows++] = row;
}

static void add_shrivel(builder *b, cw_shrivel_check check)
{
    cw_forecast_data *d = b->d;
    if (check.inspected <= 0)
        return;
    d->shrivel_check = grown(b, d->shrivel_check, d->shrivel_checks, &b->shrivel_room, sizeof *d->shrivel_check);
    if (!b->no_memory)
        d->shrivel_check[d->shrivel_checks++] = check;
}

/* Puts a cohort among those of the lot in hand, by the day it was last known sound, joined with its like. */
static void lot_put(builder *b, cw_fd_cohort c)
{
    if (c.count <= 0)
        return;
    b->lot = grown(b, b->lot, b->lot_count, &b->lot_room, sizeof *b->lot);
    if (b->no_memory)
        return;
    size_t at = b->lot_count;
    while (at > 0 && b->lot[at - 1].sound > c.sound)
        at--;
    if (at > 0 && b->lot[at - 1].sound == c.sound && b->lot[at - 1].stage == c.stage && b->lot[at - 1].since == c.since) {
        b->lot[at - 1].count += c.count;
        return;
    }
    memmove(b->lot + at + 1, b->lot + at, (b->lot_count - at) * sizeof *b->lot);
    b->lot[at] = c;
    b->lot_count++;
}

/* What a look at some of a lot told: how many of how many, and over which time on average. */
typedef struct look {
    int64_t count;
    double weeks;      /* mean since last known sound */
    double from, to;   /* mean drying since cutting, when last known sound and now */
    cw_day since;      /* cutting day of the oldest of them */
} look;

/* Takes `count` of a stage out of the lot, longest waiting first. What the ledger lacks is not taken. */
static look lot_take(builder *b, size_t lot, cw_stage stage, int64_t count, cw_day day)
{
    look seen = { 0, 0, 0, 0, day };
    for (size_t i = 0; i < b->lot_count && count > 0; i++) {
        cw_fd_cohort *c = &b->lot[i];
        if (c->stage != stage || c->count == 0)
            continue;
        int64_t n = c->count < count ? c->count : count;
        if (seen.count == 0)
            seen.since = c->since;
        seen.count += n;
        seen.weeks += (double)n * (day - c->sound) / 7.0;
        if (stage == CW_DIVISION) {
            seen.from += (double)n * cw_forecast_data_drying(b->d, lot, c->since, c->sound);
            seen.to += (double)n * cw_forecast_data_drying(b->d, lot, c->since, day);
        }
        c->count -= n;
        count -= n;
    }
    if (seen.count > 0) {
        seen.weeks /= (double)seen.count;
        seen.from /= (double)seen.count;
        seen.to /= (double)seen.count;
    }
    return seen;
}

static void replay_dividing(builder *b, size_t lot, const cw_snap_event *e)
{
    cw_forecast_data *d = b->d;
    look seen = lot_take(b, lot, CW_CLUMP, e->clumps, e->day);
    add_rot(b, d->lot_variety[lot],
            (cw_rot_row){ 0, d->season, (int)lot, CW_ROT_CLUMP, seen.weeks, e->clumps, e->rotten });
    add_rate(b, d->lot_variety[lot], d->season, lot, e->clumps - e->rotten, e->saleable);
    lot_put(b, (cw_fd_cohort){ lot, CW_DIVISION, e->saleable, e->day, e->day });
}

static void replay_check(builder *b, size_t lot, const cw_snap_event *e)
{
    cw_forecast_data *d = b->d;
    cw_stage stage = e->division ? CW_DIVISION : CW_CLUMP;
    look seen = lot_take(b, lot, stage, e->inspected, e->day);
    int64_t thrown = e->rotten + (e->shrivelled > 0 ? e->shrivelled : 0);
    add_rot(b, d->lot_variety[lot],
            (cw_rot_row){ 0, d->season, (int)lot, e->division ? CW_ROT_DIVISION : CW_ROT_CLUMP, seen.weeks, e->inspected,
                          e->rotten });
    if (e->division && e->shrivelled >= 0)
        add_shrivel(b, (cw_shrivel_check){ lot, seen.from, seen.to, e->inspected - e->rotten, e->shrivelled });
    lot_put(b, (cw_fd_cohort){ lot, stage, seen.count - thrown, seen.since, e->day });
}

static void replay_entry(builder *b, size_t lot, const cw_snap_event *e)
{
    const int64_t change[2] = { e->clumps_change, e->divisions_change };
    for (int k = 0; k < 2; k++) {
        cw_stage stage = k == 0 ? CW_CLUMP : CW_DIVISION;
        if (change[k] < 0)
            lot_take(b, lot, stage, -change[k], e->day);
        else
            lot_put(b, (cw_fd_cohort){ lot, stage, change[k], e->day, e->day });
    }
}

/* Moves the lot's cohorts to the result and counts what is on hand. */
static void lot_end(builder *b, size_t lot)
{
    cw_forecast_data *d = b->d;
    for (size_t i = 0; i < b->lot_count; i++) {
        if (b->lot[i].count == 0)
            continue;
        d->cohort = grown(b, d->cohort, d->cohorts, &b->cohort_room, sizeof *d->cohort);
        if (b->no_memory)
            return;
        d->cohort[d->cohorts++] = b->lot[i];
        if (b->lot[i].stage == CW_CLUMP)
            d->lot_clumps[lot] += b->lot[i].count;
        else
            d->lot_divisions[lot] += b->lot[i].count;
    }
    if (d->lot_variety[lot] != CW_NONE) {
        d->clumps[d->lot_variety[lot]] += d->lot_clumps[lot];
        d->divisions[d->lot_variety[lot]] += d->lot_divisions[lot];
    }
}

static void replay(builder *b)
{
    const cw_snapshot *s = b->d->snapshot;
    size_t e = 0;
    for (size_t lot = 0; lot < s->lots && !b->no_memory; lot++) {
        const cw_snap_lot *l = &s->lot[lot];
        b->lot_count = 0;
        lot_put(b, (cw_fd_cohort){ lot, CW_CLUMP, l->clumps, l->dug_on, l->dug_on });
        while (e < s->events && s->event[e].lot_id < l->id)
            e++;
        for (; e < s->events && s->event[e].lot_id == l->id; e++) {
            if (s->event[e].kind == CW_SNAP_DIVIDED)
                replay_dividing(b, lot, &s->event[e]);
            else if (s->event[e].kind == CW_SNAP_CHECKED)
                replay_check(b, lot, &s->event[e]);
            else
                replay_entry(b, lot, &s->event[e]);
        }
        lot_end(b, lot);
    }
}

/* Checks of a past season that counted shrivelled, summed by how many weeks they lay (in steps of a fifth). The air of
 * past seasons is not kept, so this season's recent mean stands for it; that it was another is one unknown for all that
 * lay together, and the shrink model lets one such sum count for no more than a crate that dries alike. */
#define WEEK_STEPS 40
#define MOST_SEASONS 64
typedef struct week_sum {
    double weeks; /* over the inspected */
    int64_t inspected, shrivelled;
} week_sum;

static void sum_past_check(week_sum *sums, int seasons_ago, const cw_snap_past_check *c)
{
    int64_t sound = c->inspected - c->rotten;
    double at = 5 * log(c->weeks > 0.1 ? c->weeks : 0.1) + 12;
    size_t season = seasons_ago < MOST_SEASONS ? (size_t)seasons_ago : MOST_SEASONS - 1;
    week_sum *sum = &sums[season * WEEK_STEPS + (at < 0 ? 0 : at >= WEEK_STEPS ? WEEK_STEPS - 1 : (size_t)at)];
    sum->weeks += c->weeks * (double)sound;
    sum->inspected += sound;
    sum->shrivelled += c->shrivelled;
}

static void add_week_sums(builder *b, const week_sum *sums)
{
    const cw_forecast_data *d = b->d;
    double pa = d->snapshot->rooms ? cw_air_recent_pa(d->room[0]) : CW_AIR_DEFAULT_PA;
    for (size_t i = 0; i < MOST_SEASONS * WEEK_STEPS; i++)
        if (sums[i].inspected > 0)
            add_shrivel(b, (cw_shrivel_check){ CW_SHRINK_NO_LOT, 0, pa * 7 * sums[i].weeks / (double)sums[i].inspected,
                                               sums[i].inspected, sums[i].shrivelled });
}

static void past_seasons(builder *b)
{
    cw_forecast_data *d = b->d;
    const cw_snapshot *s = d->snapshot;
    week_sum *sums = calloc(MOST_SEASONS * WEEK_STEPS, sizeof *sums);
    b->no_memory = b->no_memory || sums == NULL;
    for (size_t i = 0; i < s->histories; i++)
        if (s->history[i].season < d->season)
            add_rate(b, cw_forecast_data_by_id(d, s->history[i].variety_id), s->history[i].season, CW_NONE,
                     s->history[i].clumps, s->history[i].divisions);
    for (size_t i = 0; sums && i < s->past_checks; i++) {
        const cw_snap_past_check *c = &s->past_check[i];
        if (c->season >= d->season)
            continue;
        add_rot(b, cw_forecast_data_by_id(d, c->variety_id),
                (cw_rot_row){ 0, c->season, -1, c->division ? CW_ROT_DIVISION : CW_ROT_CLUMP, c->weeks, c->inspected, c->rotten });
        if (c->division && c->shrivelled >= 0)
            sum_past_check(sums, d->season - c->season, c);
    }
    if (sums)
        add_week_sums(b, sums);
    free(sums);
}

/* Numbers the different texts of `get` in order of first appearance; "" is -1. Few levels, so a linear search. */
static size_t levels(const cw_snapshot *s, bool forms, int *level)
{
    size_t count = 0;
    size_t *first = calloc(s->varieties + 1, sizeof *first);
    for (size_t v = 0; first && v < s->varieties; v++) {
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
    return count;
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
            cw_air_integral past = cw_air_between(d->room[room], readings[0].at, (cw_instant)(d->as_of + 1) * CW_DAY_MS);
            d->flagged_hours = past.flagged_hours > d->flagged_hours ? past.flagged_hours : d->flagged_hours;
        }
    }
    for (size_t lot = 0; lot < s->lots; lot++) {
        d->lot_room[lot] = s->rooms == 1 ? 0 : CW_NONE; /* a nursery with one measured room keeps its stock there */
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

static size_t lot_by_id(const cw_snapshot *s, int64_t id)
{
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
            k->division_weeks = (d->ship - d->divide) / 7.0;
            k->to_pa_days = cw_forecast_data_drying(d, c->lot, d->divide, d->ship);
        } else {
            k->division_weeks = d->ship > c->sound ? (d->ship - c->sound) / 7.0 : 0;
            k->from_pa_days = cw_forecast_data_drying(d, c->lot, c->since, c->sound);
            k->to_pa_days = k->from_pa_days + cw_forecast_data_drying(d, c->lot, c->sound, d->ship);
        }
    }
    for (size_t i = 0; i < s->weighings; i++) {
        size_t lot = lot_by_id(s, s->weighing[i].lot_id);
        d->weighing[i] = (cw_weighing){ s->weighing[i].sample, lot == CW_NONE ? 0 : lot, 0, s->weighing[i].kg };
        if (lot != CW_NONE)
            d->weighing[i].pa_days = cw_forecast_data_drying(d, lot, s->lot[lot].dug_on, s->weighing[i].day);
    }
}

static cw_code set_up(cw_forecast_data *d, cw_error *err)
{
    const cw_snapshot *s = d->snapshot;
    size_t v = s->varieties + 1, l = s->lots + 1;
    d->varieties = s->varieties;
    d->lots = s->lots;
    d->form = calloc(v, sizeof *d->form);
    d->size = calloc(v, sizeof *d->size);
    d->clumps = calloc(v, sizeof *d->clumps);
    d->divisions = calloc(v, sizeof *d->divisions);
    d->by_id = calloc(v, sizeof *d->by_id);
    d->lot_clumps = calloc(l, sizeof *d->lot_clumps);
    d->lot_divisions = calloc(l, sizeof *d->lot_divisions);
    d->lot_variety = calloc(l, sizeof *d->lot_variety);
    d->lot_room = calloc(l, sizeof *d->lot_room);
    d->room = calloc(s->rooms + 1, sizeof *d->room);
    d->weighing = calloc(s->weighings + 1, sizeof *d->weighing);
    if (!d->form || !d->size || !d->clumps || !d->divisions || !d->by_id || !d->lot_clumps || !d->lot_divisions ||
        !d->lot_variety || !d->lot_room || !d->room || !d->weighing)
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

/* The models count seasons from 0. */
static void count_seasons(cw_forecast_data *d)
{
    d->first_season = d->season;
    for (size_t i = 0; i < d->rate_rows; i++)
        d->first_season = d->rate_row[i].season < d->first_season ? d->rate_row[i].season : d->first_season;
    for (size_t i = 0; i < d->rot_rows; i++)
        d->first_season = d->rot_row[i].season < d->first_season ? d->rot_row[i].season : d->first_season;
    for (size_t i = 0; i < d->rate_rows; i++)
        d->rate_row[i].season -= d->first_season;
    for (size_t i = 0; i < d->rot_rows; i++)
        d->rot_row[i].season -= d->first_season;
}

static cw_code fill(cw_forecast_data *d, cw_error *err)
{
    builder b = { .d = d };
    const cw_snapshot *s = d->snapshot;
    for (size_t v = 0; v < d->varieties; v++)
        d->by_id[v] = v;
    qsort_r(d->by_id, d->varieties, sizeof *d->by_id, by_row_id, d->snapshot);
    d->forms = levels(s, true, d->form);
    d->sizes = levels(s, false, d->size);
    for (size_t lot = 0; lot < d->lots; lot++)
        d->lot_variety[lot] = cw_forecast_data_by_id(d, s->lot[lot].variety_id);
    cw_code code = rooms(d, err);
    if (code != CW_OK)
        return code;
    past_seasons(&b);
    replay(&b);
    free(b.lot);
    count_seasons(d);
    d->stock = b.no_memory ? NULL : calloc(d->cohorts + 1, sizeof *d->stock);
    if (d->stock == NULL)
        return cw_error_memory(err);
    stocks(d);
    return CW_OK;
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
    cw_code code = cw_snapshot_read(n->db, as_of, &d->snapshot, err);
    if (code == CW_OK)
        code = set_up(d, err);
    if (code == CW_OK)
        code = fill(d, err);
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
    void *parts[] = { d->form,     d->size,     d->clumps,  d->divisions,     d->by_id, d->lot_clumps, d->lot_divisions,
                      d->lot_variety, d->lot_room, d->room, d->weighing,      d->stock, d->rate_row,   d->rot_row,
                      d->cohort,   d->shrivel_check };
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
        free(parts[i]);
    cw_snapshot_free(d->snapshot);
    free(d);
}

size_t cw_forecast_data_by_id(const cw_forecast_data *d, int64_t id)
{
    size_t low = 0, high = d->varieties;
    while (low < high) {
        size_t mid = low + (high - low) / 2;
        if (d->snapshot->variety[d->by_id[mid]].id < id)
            low = mid + 1;
        else
            high = mid;
    }
    return low < d->varieties && d->snapshot->variety[d->by_id[low]].id == id ? d->by_id[low] : CW_NONE;
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

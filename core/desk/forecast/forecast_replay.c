/* SPDX-License-Identifier: MIT */
/* The ledger's days played again: cohorts with their clocks, and what was seen on the way. */
#include "desk/forecast/forecast_data_inside.h"

#include "base/grow.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* A check on the day of digging or cutting counts as half a day of storage, so that what it found weighs something. */
#define SHORTEST_WEEKS (0.5 / 7)

typedef struct builder {
    cw_forecast_data *d;
    size_t rate_room, rot_room, cohort_room, shrivel_room;
    cw_fd_cohort *lot; /* cohorts of the lot in hand, in order of `sound` */
    size_t lot_count, lot_room;
    size_t cut_room, look_room;
    cw_fd_cohort *split; /* cohorts that became lots of their own, waiting for their lot's turn */
    size_t split_count, split_room;
    int64_t cut, all;  /* clumps of the lot in hand that were cut, of so many, ... */
    double cut_before; /* ... behind this part of what was dug */
    bool no_memory;
} builder;

static void grow(builder *b, void *rows, size_t count, size_t *room, size_t size)
{
    b->no_memory = !cw_grow(rows, count, room, size) || b->no_memory;
}

static void add_rate(builder *b, size_t variety, int season, size_t lot, int64_t clumps, int64_t divisions,
                     cw_rate_cut cut)
{
    cw_forecast_data *d = b->d;
    if (variety == CW_NONE || clumps <= 0)
        return;
    grow(b, &d->rate_row, d->rate_rows, &b->rate_room, sizeof *d->rate_row);
    grow(b, &d->rate_cut, d->rate_rows, &b->cut_room, sizeof *d->rate_cut);
    if (b->no_memory)
        return;
    d->rate_cut[d->rate_rows] = cut;
    d->rate_row[d->rate_rows++] =
        (cw_rate_row){ (int)variety, season, lot == CW_NONE ? -1 : (int)lot, clumps, divisions };
}

static void add_rot(builder *b, size_t variety, cw_rot_row row, cw_rot_look look)
{
    cw_forecast_data *d = b->d;
    if (variety == CW_NONE || row.inspected <= 0)
        return;
    row.variety = (int)variety;
    row.weeks = row.weeks < SHORTEST_WEEKS ? SHORTEST_WEEKS : row.weeks;
    grow(b, &d->rot_row, d->rot_rows, &b->rot_room, sizeof *d->rot_row);
    grow(b, &d->rot_look, d->rot_rows, &b->look_room, sizeof *d->rot_look);
    if (b->no_memory)
        return;
    look.room = row.lot < 0 || (size_t)row.lot >= d->lots ? -1 : d->lot_place[row.lot];
    d->rot_look[d->rot_rows] = look;
    d->rot_row[d->rot_rows++] = row;
}

static void add_shrivel(builder *b, cw_shrivel_check check)
{
    cw_forecast_data *d = b->d;
    if (check.inspected <= 0)
        return;
    grow(b, &d->shrivel_check, d->shrivel_checks, &b->shrivel_room, sizeof *d->shrivel_check);
    if (!b->no_memory)
        d->shrivel_check[d->shrivel_checks++] = check;
}

/* Puts a cohort among those of the lot in hand, by the day it was last known sound, joined with its like. */
static void lot_put(builder *b, cw_fd_cohort c)
{
    if (c.count <= 0)
        return;
    grow(b, &b->lot, b->lot_count, &b->lot_room, sizeof *b->lot);
    if (b->no_memory)
        return;
    size_t at = b->lot_count;
    while (at > 0 && b->lot[at - 1].sound > c.sound)
        at--;
    if (at > 0 && b->lot[at - 1].sound == c.sound && b->lot[at - 1].stage == c.stage &&
        b->lot[at - 1].since == c.since) {
        b->lot[at - 1].count += c.count;
        return;
    }
    memmove(b->lot + at + 1, b->lot + at, (b->lot_count - at) * sizeof *b->lot);
    b->lot[at] = c;
    b->lot_count++;
}

/* Part of a lot as somebody looked at it: how many, and how long they had been in store on average. */
typedef struct look {
    int64_t count;
    double weeks;    /* mean since last known sound */
    double age;      /* mean since digging or cutting, then */
    double from, to; /* mean drying since cutting, when last known sound and now */
    cw_day since;    /* cutting day of the oldest of them */
} look;

/* Takes `count` of a stage out of the lot, longest waiting first. What the ledger lacks is not taken. */
static look lot_take(builder *b, size_t lot, cw_stage stage, int64_t count, cw_day day)
{
    look seen = { 0, 0, 0, 0, 0, day };
    for (size_t i = 0; i < b->lot_count && count > 0; i++) {
        cw_fd_cohort *c = &b->lot[i];
        if (c->stage != stage || c->count == 0)
            continue;
        int64_t n = c->count < count ? c->count : count;
        if (seen.count == 0)
            seen.since = c->since;
        seen.count += n;
        seen.weeks += (double)n * (day - c->sound) / 7.0;
        seen.age += (double)n * (c->sound - c->since) / 7.0;
        if (stage == CW_DIVISION) {
            seen.from += (double)n * cw_forecast_data_drying(b->d, lot, c->since, c->sound);
            seen.to += (double)n * cw_forecast_data_drying(b->d, lot, c->since, day);
        }
        c->count -= n;
        count -= n;
    }
    if (seen.count > 0) {
        seen.weeks /= (double)seen.count;
        seen.age /= (double)seen.count;
        seen.from /= (double)seen.count;
        seen.to /= (double)seen.count;
    }
    return seen;
}

/* Which part of the lot the next `clumps` are. */
static cw_rate_cut cut_of(builder *b, size_t lot, int64_t clumps)
{
    double all = fmax((double)b->all, 1), left = 1 - b->cut_before;
    double from = b->cut_before + left * ((double)b->cut / all);
    b->cut += clumps;
    double to = b->cut_before + left * ((double)b->cut / all);
    b->d->lot_cut[lot] = fmin(to, 1);
    return (cw_rate_cut){ fmin(from, 1), fmin(to, 1) };
}

static void replay_dividing(builder *b, size_t lot, const cw_snap_event *e)
{
    cw_forecast_data *d = b->d;
    look seen = lot_take(b, lot, CW_CLUMP, e->clumps, e->day);
    add_rot(b, d->lot_variety[lot],
            (cw_rot_row){ 0, d->season, (int)lot, CW_ROT_CLUMP, seen.weeks, e->clumps, e->rotten },
            (cw_rot_look){ seen.age, CW_ROT_DIVIDING, -1 });
    add_rate(b, d->lot_variety[lot], d->season, lot, e->clumps - e->rotten, e->saleable,
             cut_of(b, lot, e->clumps));
    lot_put(b, (cw_fd_cohort){ lot, CW_DIVISION, e->saleable, e->day, e->day });
}

static void replay_check(builder *b, size_t lot, const cw_snap_event *e)
{
    static const cw_rot_why why[] = { CW_ROT_UNTOLD, CW_ROT_ROUND, CW_ROT_SUSPICION };
    cw_forecast_data *d = b->d;
    cw_stage stage = e->division ? CW_DIVISION : CW_CLUMP;
    look seen = lot_take(b, lot, stage, e->inspected, e->day);
    int64_t thrown = e->rotten + (e->shrivelled > 0 ? e->shrivelled : 0);
    add_rot(b, d->lot_variety[lot],
            (cw_rot_row){ 0, d->season, (int)lot, e->division ? CW_ROT_DIVISION : CW_ROT_CLUMP, seen.weeks,
                          e->inspected, e->rotten },
            (cw_rot_look){ seen.age, why[e->suspicion + 1], -1 });
    if (e->division && e->shrivelled >= 0)
        add_shrivel(b,
                    (cw_shrivel_check){ lot, seen.from, seen.to, e->inspected - e->rotten, e->shrivelled });
    lot_put(b, (cw_fd_cohort){ lot, stage, seen.count - thrown, seen.since, e->day });
}

/* A stock-take found `count` where the ledger said `before`. One that was a look tells as much as a check of all that was
 * to be there: what is gone rotted, and what is left is sound on that day. Else it only moves the ledger. */
static void replay_count(builder *b, size_t lot, const cw_snap_event *e)
{
    cw_forecast_data *d = b->d;
    cw_stage stage = e->division ? CW_DIVISION : CW_CLUMP;
    int64_t gone = e->before > e->count ? e->before - e->count : 0;
    bool looked = e->looked >= 0 ? e->looked != 0 : gone > 0 || d->counts_look;
    look seen = lot_take(b, lot, stage, looked ? e->before : gone, e->day);
    if (looked) {
        int64_t lost = gone < seen.count ? gone : seen.count;
        add_rot(b, d->lot_variety[lot],
                (cw_rot_row){ 0, d->season, (int)lot, e->division ? CW_ROT_DIVISION : CW_ROT_CLUMP,
                              seen.weeks, seen.count, lost },
                (cw_rot_look){ seen.age, CW_ROT_ROUND, -1 });
        if (e->division) /* what is left is not shrivelled either */
            add_shrivel(b, (cw_shrivel_check){ lot, seen.from, seen.to, seen.count - lost, 0 });
        lot_put(b, (cw_fd_cohort){ lot, stage, seen.count - lost, seen.since, e->day });
    }
    lot_put(b, (cw_fd_cohort){ lot, stage, e->count - e->before, e->day, e->day });
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

/* Clumps of the lot in hand. */
static int64_t clumps_of(const builder *b)
{
    int64_t n = 0;
    for (size_t i = 0; i < b->lot_count; i++)
        n += b->lot[i].stage == CW_CLUMP ? b->lot[i].count : 0;
    return n;
}

/* What is cut of the lot from here on is the rest of what was dug. */
static void cut_from_here(builder *b, size_t lot)
{
    b->cut_before = b->d->lot_cut[lot];
    b->cut = 0;
    b->all = clumps_of(b);
}

/* Those that are put aside for `other` keep their clocks; longest waiting first, as in all that is taken. */
static void put_aside(builder *b, size_t other, cw_stage stage, int64_t count)
{
    for (size_t i = 0; i < b->lot_count && count > 0; i++) {
        cw_fd_cohort *c = &b->lot[i];
        if (c->stage != stage || c->count == 0)
            continue;
        int64_t n = c->count < count ? c->count : count;
        grow(b, &b->split, b->split_count, &b->split_room, sizeof *b->split);
        if (b->no_memory)
            return;
        b->split[b->split_count] = *c;
        b->split[b->split_count].lot = other;
        b->split[b->split_count++].count = n;
        c->count -= n;
        count -= n;
    }
}

static void replay_split(builder *b, size_t lot, const cw_snap_event *e)
{
    size_t other = cw_forecast_data_lot_by_id(b->d, e->other);
    if (other == CW_NONE)
        return;
    put_aside(b, other, CW_CLUMP, -e->clumps_change);
    put_aside(b, other, CW_DIVISION, -e->divisions_change);
    b->d->lot_cut[other] = b->d->lot_cut[lot];
    cut_from_here(b, lot);
}

/* A lot begins with what was dug, or with what was split off another, which has the lower number and was played before. */
static void lot_begin(builder *b, size_t lot)
{
    const cw_snap_lot *l = &b->d->snapshot->lot[lot];
    b->lot_count = 0;
    lot_put(b, (cw_fd_cohort){ lot, CW_CLUMP, l->clumps, l->dug_on, l->dug_on });
    for (size_t i = 0; i < b->split_count; i++)
        if (b->split[i].lot == lot)
            lot_put(b, b->split[i]);
    cut_from_here(b, lot);
}

/* Moves the lot's cohorts to the result and counts what is on hand. */
static void lot_end(builder *b, size_t lot)
{
    cw_forecast_data *d = b->d;
    for (size_t i = 0; i < b->lot_count; i++) {
        if (b->lot[i].count == 0)
            continue;
        grow(b, &d->cohort, d->cohorts, &b->cohort_room, sizeof *d->cohort);
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
        lot_begin(b, lot);
        while (e < s->events && s->event[e].lot_id < l->id)
            e++;
        for (; e < s->events && s->event[e].lot_id == l->id; e++) {
            if (s->event[e].kind == CW_SNAP_DIVIDED)
                replay_dividing(b, lot, &s->event[e]);
            else if (s->event[e].kind == CW_SNAP_CHECKED)
                replay_check(b, lot, &s->event[e]);
            else if (s->event[e].kind == CW_SNAP_COUNTED)
                replay_count(b, lot, &s->event[e]);
            else if (s->event[e].kind == CW_SNAP_SPLIT)
                replay_split(b, lot, &s->event[e]);
            else
                replay_entry(b, lot, &s->event[e]);
        }
        lot_end(b, lot);
    }
}

/* Checks of a past season that counted shrivelled, summed by how many weeks they lay (in steps of a fifth). The air of
 * past seasons is not kept, so this season's recent mean, or before its first reading last season's, stands for it; that it was another is one unknown for all that
 * lay together, and the shrink model lets one such sum count for no more than a crate that dries alike. */
#define WEEK_STEPS   40
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
    week_sum *sum = &sums[season * WEEK_STEPS + (at < 0             ? 0
                                                 : at >= WEEK_STEPS ? WEEK_STEPS - 1
                                                                    : (size_t)at)];
    sum->weeks += c->weeks * (double)sound;
    sum->inspected += sound;
    sum->shrivelled += c->shrivelled;
}

static void add_week_sums(builder *b, const week_sum *sums)
{
    const cw_forecast_data *d = b->d;
    double pa = cw_forecast_data_pa(d);
    pa = pa < 0 ? CW_AIR_DEFAULT_PA : pa;
    for (size_t i = 0; i < MOST_SEASONS * WEEK_STEPS; i++)
        if (sums[i].inspected > 0)
            add_shrivel(b, (cw_shrivel_check){ CW_SHRINK_NO_LOT, 0,
                                               pa * 7 * sums[i].weeks / (double)sums[i].inspected,
                                               sums[i].inspected, sums[i].shrivelled });
}

/* A lot of a past season, numbered behind this season's. */
static int past_lot(const cw_forecast_data *d, int64_t number)
{
    return number < 0 ? -1 : (int)d->all_lots + (int)number;
}

/* Why a look of a past season came about. Of a sum nobody knows: clumps were mostly seen at dividing. */
static cw_rot_why past_why(const cw_snap_past_check *c)
{
    static const cw_rot_why why[] = { CW_ROT_DIVIDING, CW_ROT_ROUND, CW_ROT_UNTOLD, CW_ROT_SUSPICION };
    return c->why >= 0 ? why[c->why] : c->division ? CW_ROT_UNTOLD : CW_ROT_DIVIDING;
}

static void past_seasons(builder *b)
{
    cw_forecast_data *d = b->d;
    const cw_snapshot *s = d->snapshot;
    week_sum *sums = calloc(MOST_SEASONS * WEEK_STEPS, sizeof *sums);
    size_t at = 0;
    b->no_memory = b->no_memory || sums == NULL;
    for (size_t i = 0; i < s->past->histories; i++)
        if (s->past->history[i].season < d->season)
            add_rate(b, cw_forecast_data_by_id_from(d, s->past->history[i].variety_id, &at),
                     s->past->history[i].season,
                     s->past->history[i].lot < 0 ? CW_NONE : d->all_lots + (size_t)s->past->history[i].lot,
                     s->past->history[i].clumps, s->past->history[i].divisions,
                     (cw_rate_cut){ s->past->history[i].cut_from, s->past->history[i].cut_to });
    for (size_t i = 0; sums && i < s->past->checks; i++) {
        const cw_snap_past_check *c = &s->past->check[i];
        if (c->season >= d->season)
            continue;
        add_rot(b, cw_forecast_data_by_id_from(d, c->variety_id, &at),
                (cw_rot_row){ 0, c->season, past_lot(d, c->lot), c->division ? CW_ROT_DIVISION : CW_ROT_CLUMP,
                              c->weeks, c->inspected, c->rotten },
                (cw_rot_look){ c->age, past_why(c), -1 });
        if (c->division && c->shrivelled >= 0)
            sum_past_check(sums, d->season - c->season, c);
    }
    for (size_t i = 0; i < s->past->shrivels; i++) {
        const cw_snap_past_shrivel *c = &s->past->shrivel[i];
        if (c->season < d->season)
            add_shrivel(b, (cw_shrivel_check){ d->all_lots + (size_t)c->lot, c->from_pa_days, c->to_pa_days,
                                               c->inspected, c->shrivelled });
    }
    if (sums)
        add_week_sums(b, sums);
    free(sums);
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

cw_code cw_forecast_replay(cw_forecast_data *d, cw_error *err)
{
    builder b = { .d = d };
    past_seasons(&b);
    replay(&b);
    free(b.lot);
    free(b.split);
    count_seasons(d);
    return b.no_memory ? cw_error_memory(err) : CW_OK;
}

/* SPDX-License-Identifier: MIT */
#include "desk/forecast/hindsight_inside.h"

#include "base/grow.h"
#include "model/special.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define EVERY_DAYS 14
#define TELL_EVERY 64 /* lots: each is a projection of its own */
#define FRESH_DAYS 14 /* what was looked at so shortly before the day that came is called counted */

cw_fate cw_review_fate(const cw_review *r, size_t lot, cw_day since)
{
    const cw_forecast_data *d = r->then;
    const cw_snapshot *s = d->snapshot;
    cw_fate f = { .clumps_left = d->lot_clumps[lot],
                  .on_hand = d->lot_divisions[lot],
                  .sound = r->sound[lot],
                  .variance = r->variance[lot],
                  .counted = (double)r->fresh[lot],
                  .unseen = r->oldest[lot] <= since };
    size_t low = 0, high = s->events;
    while (low < high) {
        size_t mid = low + (high - low) / 2;
        if (s->event[mid].lot_id < s->lot[lot].id)
            low = mid + 1;
        else
            high = mid;
    }
    for (; low < s->events && s->event[low].lot_id == s->lot[lot].id; low++) {
        const cw_snap_event *e = &s->event[low];
        if (e->day <= since)
            continue;
        f.left_sound += e->left_sound;
        f.counted += (double)e->left_sound;
        if (e->kind == CW_SNAP_DIVIDED) {
            f.cut_clumps += e->clumps - e->rotten;
            f.cut_divisions += e->saleable;
        } else if (e->kind == CW_SNAP_SPLIT) {
            /* It stood in this lot on the past day, under whatever name. */
            size_t other = cw_forecast_data_lot_by_id(d, e->other);
            if (other != CW_NONE) {
                cw_fate part = cw_review_fate(r, other, since);
                cw_fate_add(&f, &part);
            }
        } else if (e->kind == CW_SNAP_CHECKED && e->division) {
            f.lost += e->rotten + (e->shrivelled > 0 ? e->shrivelled : 0);
        }
    }
    return f;
}

static cw_held *add(cw_review *r, cw_error *err)
{
    if (!cw_grow(&r->row, r->rows, &r->room, sizeof *r->row)) {
        cw_error_memory(err);
        return NULL;
    }
    cw_held *h = &r->row[r->rows++];
    memset(h, 0, sizeof *h);
    return h;
}

void cw_fate_points(const cw_fate *f, int64_t any[CW_HINDSIGHT_POINTS])
{
    double sd = sqrt(f->variance);
    for (int k = 0; k < CW_HINDSIGHT_POINTS; k++) {
        int64_t sound = llround(f->sound + sd * cw_normal_quantile((k + 0.5) / CW_HINDSIGHT_POINTS));
        any[k] = f->left_sound + (sound < 0 ? 0 : sound > f->on_hand ? f->on_hand : sound);
    }
}

static void fill_held(cw_held *h, const cw_forecast *f, size_t variety, const cw_fate *x)
{
    cw_projection_why w;
    h->as_of = f->data->as_of;
    cw_fate_points(x, h->any);
    h->came = x->left_sound + llround(x->sound);
    h->counted = fmin(x->counted, (double)h->came);
    h->cut_clumps = x->cut_clumps;
    h->cut_divisions = x->cut_divisions;
    h->lost = x->lost;
    cw_projection_explain(f->projection, variety, &w);
    h->rate = w.rate;
    h->rate_low = w.rate_low;
    h->rate_high = w.rate_high;
}

/* Index in `then` of each lot of the past day: both are in order of row id. */
static size_t *match_lots(const cw_forecast_data *past, const cw_forecast_data *then)
{
    size_t *at = calloc(past->lots + 1, sizeof *at);
    for (size_t i = 0, k = 0; at && i < past->lots; i++) {
        while (k < then->lots && then->snapshot->lot[k].id < past->snapshot->lot[i].id)
            k++;
        at[i] = k < then->lots && then->snapshot->lot[k].id == past->snapshot->lot[i].id ? k : CW_NONE;
    }
    return at;
}

typedef struct sums {
    cw_fate *variety; /* [varieties] over the lots known on the past day */
    cw_fate *lot;     /* [past lots] */
} sums;

static cw_code hold_day(cw_review *r, const cw_forecast *f, const sums *s, const size_t *at, cw_error *err)
{
    const cw_forecast_data *d = f->data;
    for (size_t v = 0; v < d->varieties; v++) {
        if (d->clumps[v] + d->divisions[v] == 0 || s->variety[v].clumps_left > 0 || s->variety[v].unseen)
            continue;
        cw_held *h = add(r, err);
        if (h == NULL)
            return CW_MACHINE;
        fill_held(h, f, v, &s->variety[v]);
        h->code =
            r->then->snapshot->variety[cw_forecast_data_by_id(r->then, d->snapshot->variety[v].id)].code;
        h->law = f->law[v];
    }
    for (size_t lot = 0; lot < d->lots; lot++) {
        size_t v = d->lot_variety[lot];
        if (lot % TELL_EVERY == 0 && !cw_wanted(cw_asker_go_on(r->who)))
            return cw_given_up(err);
        if (v == CW_NONE || at[lot] == CW_NONE || d->lot_clumps[lot] + d->lot_divisions[lot] == 0 ||
            s->lot[lot].clumps_left > 0)
            continue;
        r->left_out += s->lot[lot].unseen;
        if (s->lot[lot].unseen || (s->variety[v].clumps_left == 0 && !s->variety[v].unseen))
            continue;
        cw_held *h = add(r, err);
        if (h == NULL)
            return CW_MACHINE;
        fill_held(h, f, v, &s->lot[lot]);
        h->is_lot = true;
        h->code = r->then->snapshot->lot[at[lot]].code;
        cw_projection_lot(f->projection, lot, &h->law);
    }
    return CW_OK;
}

/* Lots of a variety rot together: their spreads add up. */
void cw_fate_add(cw_fate *sum, const cw_fate *lot)
{
    double sd = sqrt(sum->variance) + sqrt(lot->variance);
    sum->clumps_left += lot->clumps_left;
    sum->left_sound += lot->left_sound;
    sum->on_hand += lot->on_hand;
    sum->cut_clumps += lot->cut_clumps;
    sum->cut_divisions += lot->cut_divisions;
    sum->lost += lot->lost;
    sum->sound += lot->sound;
    sum->counted += lot->counted;
    sum->variance = sd * sd;
    sum->unseen = sum->unseen || lot->unseen;
}

static cw_code review_day(cw_review *r, cw_day day, cw_error *err)
{
    const cw_forecast *f = NULL;
    sums s = { NULL, NULL };
    size_t *at = NULL;
    cw_code code = cw_forecast_get(r->n, r->who, r->till, day, &f, err);
    if (code != CW_OK)
        return code;
    at = match_lots(f->data, r->then);
    s.variety = calloc(f->data->varieties + 1, sizeof *s.variety);
    s.lot = calloc(f->data->lots + 1, sizeof *s.lot);
    if (at == NULL || s.variety == NULL || s.lot == NULL) {
        code = cw_error_memory(err);
        goto done;
    }
    for (size_t lot = 0; lot < f->data->lots; lot++) {
        size_t v = f->data->lot_variety[lot];
        if (at[lot] == CW_NONE || v == CW_NONE)
            continue;
        s.lot[lot] = cw_review_fate(r, at[lot], day);
        cw_fate_add(&s.variety[v], &s.lot[lot]);
    }
    code = hold_day(r, f, &s, at, err);
done:
    free(at);
    free(s.variety);
    free(s.lot);
    return code;
}

static void choose_days(cw_review *r, const cw_hindsight_ask *ask)
{
    for (size_t i = 0; i < ask->n_days && r->n_days < CW_HINDSIGHT_DAYS; i++)
        if (ask->days[i] < r->till)
            r->days[r->n_days++] = ask->days[i];
    if (ask->n_days > 0)
        return;
    cw_day first = r->till;
    for (size_t lot = 0; lot < r->then->lots; lot++)
        first = r->then->snapshot->lot[lot].dug_on < first ? r->then->snapshot->lot[lot].dug_on : first;
    for (cw_day day = first + 2 * EVERY_DAYS; day < r->till && r->n_days < CW_HINDSIGHT_DAYS;
         day += EVERY_DAYS)
        r->days[r->n_days++] = day;
}

void cw_review_end(cw_review *r)
{
    cw_forecast_data_free(r->then);
    free(r->sound);
    free(r->variance);
    free(r->fresh);
    free(r->oldest);
    free(r->row);
}

/* When what is on hand was last looked at. */
static void look_at_clocks(cw_review *r)
{
    const cw_forecast_data *d = r->then;
    for (size_t lot = 0; lot < d->lots; lot++)
        r->oldest[lot] = r->till + 1;
    for (size_t i = 0; i < d->cohorts; i++) {
        const cw_fd_cohort *c = &d->cohort[i];
        if (c->stage != CW_DIVISION)
            continue;
        r->oldest[c->lot] = c->sound < r->oldest[c->lot] ? c->sound : r->oldest[c->lot];
        r->fresh[c->lot] += c->sound > r->till - FRESH_DAYS ? c->count : 0;
    }
}

/* Stock that nobody has looked at since may be rotten or shrivelled. The projection of that day says how much of it to expect,
 * so that a past projection is not compared with stock that only looks sound. */
static cw_code count_sound(cw_review *r, cw_error *err)
{
    const cw_forecast *f = NULL;
    size_t lots = r->then->lots;
    r->sound = calloc(lots + 1, sizeof *r->sound);
    r->variance = calloc(lots + 1, sizeof *r->variance);
    r->fresh = calloc(lots + 1, sizeof *r->fresh);
    r->oldest = calloc(lots + 1, sizeof *r->oldest);
    if (r->sound == NULL || r->variance == NULL || r->fresh == NULL || r->oldest == NULL)
        return cw_error_memory(err);
    look_at_clocks(r);
    cw_code code = cw_forecast_get(r->n, r->who, r->till, r->till, &f, err);
    for (size_t lot = 0; code == CW_OK && lot < lots; lot++) {
        cw_distribution law;
        if (lot % TELL_EVERY == 0 && !cw_wanted(cw_asker_go_on(r->who)))
            return cw_given_up(err);
        if (r->then->lot_divisions[lot] == 0 || r->then->lot_clumps[lot] > 0)
            continue;
        cw_projection_lot(f->projection, lot, &law);
        r->sound[lot] = law.mean;
        r->variance[lot] = law.variance;
    }
    return code;
}

static cw_code review(cw_review *r, cw_nursery *n, const cw_asker *who, const cw_hindsight_ask *ask,
                      cw_error *err)
{
    cw_code code = cw_season_look(n, err);
    r->till = n->season.ship < who->today ? n->season.ship : who->today;
    if (code == CW_OK)
        code = cw_forecast_data_load(n, r->till, r->till, &r->then, err);
    if (code == CW_OK)
        code = count_sound(r, err);
    if (code == CW_OK)
        choose_days(r, ask);
    for (size_t i = 0; code == CW_OK && i < r->n_days; i++) {
        code = cw_asker_tell(who, "past days", i, r->n_days, err);
        if (code == CW_OK)
            code = review_day(r, r->days[i], err);
    }
    return code;
}

cw_code cw_review_make(cw_review *r, cw_nursery *n, const cw_asker *who, const cw_hindsight_ask *ask,
                       cw_error *err)
{
    struct cw_forecast_cache *had = NULL;
    *r = (cw_review){ .n = n, .who = who };
    cw_code code = cw_forecast_apart(n, &had, err);
    if (code != CW_OK)
        return code;
    code = review(r, n, who, ask, err);
    cw_forecast_together(n, had);
    return code;
}

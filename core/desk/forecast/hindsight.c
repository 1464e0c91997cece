/* SPDX-License-Identifier: MIT */
#include "desk/forecast/hindsight.h"

#include "base/json.h"

#include "desk/forecast/forecast_inside.h"
#include "model/score.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define EVERY_DAYS 14
#define MOST_DAYS  60
#define WORST      10

/* One projection held against what came. */
typedef struct held {
    cw_day as_of;
    bool is_lot;
    const char *code; /* of the variety or lot, in the snapshot of the day that came */
    cw_distribution law;
    int64_t came;
    /* What went wrong, as far as the ledger tells. */
    double rate, rate_low, rate_high; /* projected */
    int64_t cut_clumps, cut_divisions, lost;
} held;

typedef struct review {
    cw_nursery *n;
    const cw_asker *who;
    cw_day till;            /* the day that came */
    cw_forecast_data *then; /* as of `till` */
    double *sound;          /* [then->lots] divisions on hand then, less what rot and drying nobody saw yet */
    held *row;
    size_t rows, room;
    cw_day days[MOST_DAYS];
    size_t n_days;
} review;

/* What became of one lot between a past day and the day that came. */
typedef struct fate {
    int64_t clumps_left, came, cut_clumps, cut_divisions, lost;
} fate;

static fate lot_fate(const review *r, size_t lot, cw_day since)
{
    const cw_forecast_data *d = r->then;
    const cw_snapshot *s = d->snapshot;
    fate f = { .clumps_left = d->lot_clumps[lot], .came = llround(r->sound[lot]) };
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
        f.came += e->left_sound;
        if (e->kind == CW_SNAP_DIVIDED) {
            f.cut_clumps += e->clumps - e->rotten;
            f.cut_divisions += e->saleable;
        } else if (e->kind == CW_SNAP_CHECKED && e->division) {
            f.lost += e->rotten + (e->shrivelled > 0 ? e->shrivelled : 0);
        }
    }
    return f;
}

static held *add(review *r, cw_error *err)
{
    if (r->rows == r->room) {
        size_t room = r->room ? r->room * 2 : 256;
        held *row = realloc(r->row, room * sizeof *row);
        if (row == NULL) {
            cw_error_memory(err);
            return NULL;
        }
        r->row = row;
        r->room = room;
    }
    held *h = &r->row[r->rows++];
    memset(h, 0, sizeof *h);
    return h;
}

static void fill_held(held *h, const cw_forecast *f, size_t variety, const fate *x)
{
    cw_projection_why w;
    h->as_of = f->data->as_of;
    h->came = x->came;
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
    fate *variety; /* [varieties] over the lots known on the past day */
    fate *lot;     /* [past lots] */
} sums;

static cw_code hold_day(review *r, const cw_forecast *f, const sums *s, const size_t *at, cw_error *err)
{
    const cw_forecast_data *d = f->data;
    for (size_t v = 0; v < d->varieties; v++) {
        if (d->clumps[v] + d->divisions[v] == 0 || s->variety[v].clumps_left > 0)
            continue;
        held *h = add(r, err);
        if (h == NULL)
            return CW_MACHINE;
        fill_held(h, f, v, &s->variety[v]);
        h->code =
            r->then->snapshot->variety[cw_forecast_data_by_id(r->then, d->snapshot->variety[v].id)].code;
        h->law = f->law[v];
    }
    for (size_t lot = 0; lot < d->lots; lot++) {
        size_t v = d->lot_variety[lot];
        if (v == CW_NONE || at[lot] == CW_NONE || d->lot_clumps[lot] + d->lot_divisions[lot] == 0 ||
            s->variety[v].clumps_left == 0 || s->lot[lot].clumps_left > 0)
            continue;
        held *h = add(r, err);
        if (h == NULL)
            return CW_MACHINE;
        fill_held(h, f, v, &s->lot[lot]);
        h->is_lot = true;
        h->code = r->then->snapshot->lot[at[lot]].code;
        cw_projection_lot(f->projection, lot, &h->law);
    }
    return CW_OK;
}

static cw_code review_day(review *r, cw_day day, cw_error *err)
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
        s.lot[lot] = lot_fate(r, at[lot], day);
        s.variety[v].clumps_left += s.lot[lot].clumps_left;
        s.variety[v].came += s.lot[lot].came;
        s.variety[v].cut_clumps += s.lot[lot].cut_clumps;
        s.variety[v].cut_divisions += s.lot[lot].cut_divisions;
        s.variety[v].lost += s.lot[lot].lost;
    }
    code = hold_day(r, f, &s, at, err);
done:
    free(at);
    free(s.variety);
    free(s.lot);
    return code;
}

static void choose_days(review *r, const cw_hindsight_ask *ask)
{
    for (size_t i = 0; i < ask->n_days && r->n_days < MOST_DAYS; i++)
        if (ask->days[i] < r->till)
            r->days[r->n_days++] = ask->days[i];
    if (ask->n_days > 0)
        return;
    cw_day first = r->till;
    for (size_t lot = 0; lot < r->then->lots; lot++)
        first = r->then->snapshot->lot[lot].dug_on < first ? r->then->snapshot->lot[lot].dug_on : first;
    for (cw_day day = first + 2 * EVERY_DAYS; day < r->till && r->n_days < MOST_DAYS; day += EVERY_DAYS)
        r->days[r->n_days++] = day;
}

static void review_end(review *r)
{
    cw_forecast_data_free(r->then);
    free(r->sound);
    free(r->row);
}

/* What is on hand and was not looked at since may be rotten or shrivelled unseen: the projection of that very day says
 * how much of it to expect, so that a past projection is not held against stock that only looks sound. */
static cw_code count_sound(review *r, cw_error *err)
{
    const cw_forecast *f = NULL;
    r->sound = calloc(r->then->lots + 1, sizeof *r->sound);
    if (r->sound == NULL)
        return cw_error_memory(err);
    cw_code code = cw_forecast_get(r->n, r->who, r->till, r->till, &f, err);
    for (size_t lot = 0; code == CW_OK && lot < r->then->lots; lot++) {
        cw_distribution law;
        if (r->then->lot_divisions[lot] == 0 || r->then->lot_clumps[lot] > 0)
            continue;
        cw_projection_lot(f->projection, lot, &law);
        r->sound[lot] = law.mean;
    }
    return code;
}

static cw_code review_make(review *r, cw_nursery *n, const cw_asker *who, const cw_hindsight_ask *ask,
                           cw_error *err)
{
    *r = (review){ .n = n, .who = who };
    r->till = n->season.ship < who->today ? n->season.ship : who->today;
    cw_code code = cw_forecast_data_load(n, r->till, r->till, &r->then, err);
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

cw_code cw_hindsight_rows(cw_nursery *n, const cw_asker *who, const cw_hindsight_ask *ask, cw_table *out,
                          cw_error *err)
{
    static const cw_column columns[] = {
        { "as_of", CW_DAY_T, 0 },     { "unit", CW_TEXT_T, 0 },     { "code", CW_TEXT_T, 0 },
        { "expected", CW_REAL_T, 1 }, { "p05", CW_INT_T, 0 },       { "p10", CW_INT_T, 0 },
        { "p25", CW_INT_T, 0 },       { "p50", CW_INT_T, 0 },       { "p75", CW_INT_T, 0 },
        { "p90", CW_INT_T, 0 },       { "p95", CW_INT_T, 0 },       { "came", CW_INT_T, 0 },
        { "pit_low", CW_REAL_T, 4 },  { "pit_high", CW_REAL_T, 4 },
    };
    review r;
    cw_table_init(out, columns, sizeof columns / sizeof columns[0]);
    cw_code code = review_make(&r, n, who, ask, err);
    for (size_t i = 0; code == CW_OK && i < r.rows; i++) {
        const held *h = &r.row[i];
        cw_pit pit = cw_score_pit(&h->law, h->came);
        cw_put_int(out, h->as_of);
        cw_put_text(out, h->is_lot ? "lot" : "variety");
        cw_put_text(out, h->code);
        cw_put_real(out, h->law.mean);
        for (size_t q = 0; q < CW_SCORE_QUANTILES; q++)
            cw_put_int(out, cw_distribution_quantile(&h->law, cw_score_levels[q]));
        cw_put_int(out, h->came);
        cw_put_real(out, pit.low);
        cw_put_real(out, pit.high);
    }
    review_end(&r);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

static const cw_column score_columns[] = {
    { "as_of", CW_DAY_T, 0 },
    { "projections", CW_INT_T, 0 },
    { "expected", CW_REAL_T, 1 },
    { "came", CW_REAL_T, 0 },
    { "bias_percent", CW_REAL_T, 2 },
    { "cover50", CW_REAL_T, 3 },
    { "cover80", CW_REAL_T, 3 },
    { "cover90", CW_REAL_T, 3 },
    { "below05", CW_REAL_T, 3 },
    { "above95", CW_REAL_T, 3 },
    { "quantile_loss_percent", CW_REAL_T, 2 },
    { "crps", CW_REAL_T, 2 },
};

static void put_scores(cw_table *out, cw_day day, const cw_scores *s)
{
    double n = s->count ? (double)s->count : 1;
    cw_put_int(out, day);
    cw_put_int(out, (int64_t)s->count);
    cw_put_real(out, s->projected);
    cw_put_real(out, s->came);
    cw_put_real(out, s->came > 0 ? 100 * (s->projected / s->came - 1) : NAN);
    cw_put_real(out, s->cover50 / n);
    cw_put_real(out, s->cover80 / n);
    cw_put_real(out, s->cover90 / n);
    cw_put_real(out, s->below05 / n);
    cw_put_real(out, s->above95 / n);
    cw_put_real(out, s->came > 0 ? 100 * cw_scores_loss(s) : NAN);
    cw_put_real(out, s->crps / n);
}

static void scores_table(const review *r, cw_table *out, cw_scores *all)
{
    cw_table_init(out, score_columns, sizeof score_columns / sizeof score_columns[0]);
    memset(all, 0, sizeof *all);
    for (size_t i = 0; i < r->n_days; i++) {
        cw_scores day = { 0 };
        for (size_t k = 0; k < r->rows; k++) {
            if (r->row[k].as_of != r->days[i])
                continue;
            cw_scores_add(&day, &r->row[k].law, r->row[k].came);
            cw_scores_add(all, &r->row[k].law, r->row[k].came);
        }
        if (day.count > 0)
            put_scores(out, r->days[i], &day);
    }
    put_scores(out, CW_NO_DAY, all);
}

cw_code cw_hindsight_scores(cw_nursery *n, const cw_asker *who, const cw_hindsight_ask *ask, cw_table *out,
                            cw_error *err)
{
    review r;
    cw_scores all;
    cw_table_init(out, score_columns, sizeof score_columns / sizeof score_columns[0]);
    cw_code code = review_make(&r, n, who, ask, err);
    if (code == CW_OK)
        scores_table(&r, out, &all);
    review_end(&r);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

/* How far off, in standard deviations of the projection. */
static double off(const held *h)
{
    return fabs((double)h->came - h->law.mean) / sqrt(h->law.variance + 0.25);
}

static int by_off(const void *a, const void *b)
{
    double x = off(a), y = off(b);
    return (x < y) - (x > y);
}

static void what_went_wrong(const held *h, char *out, size_t size)
{
    size_t n = 0;
    out[0] = '\0';
    if (h->cut_clumps > 0)
        n += (size_t)snprintf(
            out, size, "%lld clumps cut since gave %.1f a clump where %.1f (%.1f to %.1f) was expected. ",
            (long long)h->cut_clumps, (double)h->cut_divisions / (double)h->cut_clumps, h->rate, h->rate_low,
            h->rate_high);
    if (h->lost > 0 && n < size)
        n += (size_t)snprintf(out + n, size - n, "%lld divisions were thrown out at checks. ",
                              (long long)h->lost);
    if (n < size)
        snprintf(out + n, size - n, "%.0f were expected, %lld came.", h->law.mean, (long long)h->came);
}

static json_t *worst_json(review *r)
{
    json_t *list = json_array();
    if (r->rows > 1)
        qsort(r->row, r->rows, sizeof *r->row, by_off);
    for (size_t i = 0; i < r->rows && i < WORST; i++) {
        const held *h = &r->row[i];
        char day[11], sentence[400];
        cw_day_format(h->as_of, day);
        what_went_wrong(h, sentence, sizeof sentence);
        cw_json_append_take(&list,
                            json_pack("{s:s,s:s,s:s,s:f,s:I,s:I,s:I,s:I,s:s}", "as_of", day, "unit",
                                      h->is_lot ? "lot" : "variety", "code", h->code, "expected", h->law.mean,
                                      "p10", (json_int_t)cw_distribution_quantile(&h->law, 0.1), "p50",
                                      (json_int_t)cw_distribution_quantile(&h->law, 0.5), "p90",
                                      (json_int_t)cw_distribution_quantile(&h->law, 0.9), "came",
                                      (json_int_t)h->came, "sentence", sentence));
    }
    return list;
}

/* For central ranges of 10 % to 90 % and the tails beside them: how often they held what came. */
static json_t *reliability_json(const review *r)
{
    json_t *list = json_array();
    for (int i = 1; i <= 9; i++) {
        double nominal = i / 10.0, seen = 0;
        for (size_t k = 0; k < r->rows; k++)
            seen += cw_score_pit_within(cw_score_pit(&r->row[k].law, r->row[k].came), 0.5 - nominal / 2,
                                        0.5 + nominal / 2);
        cw_json_append_take(&list,
                            json_pack("{s:f,s:f,s:I}", "nominal", nominal, "observed",
                                      r->rows ? seen / (double)r->rows : 0.0, "n", (json_int_t)r->rows));
    }
    return list;
}

cw_code cw_hindsight_report(cw_nursery *n, const cw_asker *who, const cw_hindsight_ask *ask, json_t **out,
                            cw_error *err)
{
    review r;
    cw_scores all;
    cw_table scores = { 0 };
    *out = NULL;
    cw_code code = review_make(&r, n, who, ask, err);
    if (code == CW_OK) {
        char till[11];
        json_t *histogram = json_array();
        scores_table(&r, &scores, &all);
        for (size_t b = 0; b < CW_SCORE_BINS; b++)
            cw_json_append_take(&histogram, json_real(all.count ? all.histogram[b] / (double)all.count : 0));
        cw_day_format(r.till, till);
        json_t *reliability = reliability_json(&r);
        *out = json_pack("{s:s,s:I,s:o,s:o,s:o,s:o}", "till", till, "projections", (json_int_t)all.count,
                         "scores", cw_table_to_json(&scores), "reliability", reliability, "pit", histogram,
                         "worst", worst_json(&r));
        code = *out ? CW_OK : cw_error_memory(err);
    }
    cw_table_free(&scores);
    review_end(&r);
    return code;
}

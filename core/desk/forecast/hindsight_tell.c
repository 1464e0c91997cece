/* SPDX-License-Identifier: MIT */
#include "desk/forecast/hindsight_inside.h"

#include "base/json.h"
#include "model/score.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define WORST 10

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
    cw_review r;
    cw_table_init(out, columns, sizeof columns / sizeof columns[0]);
    cw_code code = cw_review_make(&r, n, who, ask, err);
    for (size_t i = 0; code == CW_OK && i < r.rows; i++) {
        const cw_held *h = &r.row[i];
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
    cw_review_end(&r);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

static const cw_column score_columns[] = {
    { "as_of", CW_DAY_T, .null = true },
    { "projections", CW_INT_T },
    { "expected", CW_REAL_T, 1 },
    { "came", CW_REAL_T },
    { "bias_percent", CW_REAL_T, 2, .null = true },
    { "cover50", CW_REAL_T, 3 },
    { "cover80", CW_REAL_T, 3 },
    { "cover90", CW_REAL_T, 3 },
    { "below05", CW_REAL_T, 3 },
    { "above95", CW_REAL_T, 3 },
    { "quantile_loss_percent", CW_REAL_T, 2, .null = true },
    { "crps", CW_REAL_T, 2 },
    { "counted_percent", CW_REAL_T, 1, .null = true },
};

static void put_scores(cw_table *out, cw_day day, const cw_scores *s, double counted)
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
    cw_put_real(out, s->came > 0 ? 100 * fmin(1, counted / s->came) : NAN);
}

static void scores_table(const cw_review *r, cw_table *out, cw_scores *all)
{
    cw_table_init(out, score_columns, sizeof score_columns / sizeof score_columns[0]);
    double counted_all = 0;
    memset(all, 0, sizeof *all);
    for (size_t i = 0; i < r->n_days; i++) {
        cw_scores day = { 0 };
        double counted = 0;
        for (size_t k = 0; k < r->rows; k++) {
            const cw_held *h = &r->row[k];
            if (h->as_of != r->days[i])
                continue;
            cw_scores_add_any(&day, &h->law, h->any, CW_HINDSIGHT_POINTS);
            cw_scores_add_any(all, &h->law, h->any, CW_HINDSIGHT_POINTS);
            counted += h->counted;
        }
        if (day.count > 0)
            put_scores(out, r->days[i], &day, counted);
        counted_all += counted;
    }
    put_scores(out, CW_NO_DAY, all, counted_all);
}

cw_code cw_hindsight_scores(cw_nursery *n, const cw_asker *who, const cw_hindsight_ask *ask, cw_table *out,
                            cw_error *err)
{
    cw_review r;
    cw_scores all;
    cw_table_init(out, score_columns, sizeof score_columns / sizeof score_columns[0]);
    cw_code code = cw_review_make(&r, n, who, ask, err);
    if (code == CW_OK)
        scores_table(&r, out, &all);
    cw_review_end(&r);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

/* How far off, in standard deviations of the projection. */
static double off(const cw_held *h)
{
    return fabs((double)h->came - h->law.mean) / sqrt(h->law.variance + 0.25);
}

static int by_off(const void *a, const void *b)
{
    double x = off(a), y = off(b);
    return (x < y) - (x > y);
}

/* First what was said and what came; then what of the ledger's facts explains a miss on that side, if any does. */
static void what_went_wrong(const cw_held *h, char *out, size_t size)
{
    double missed = (double)h->came - h->law.mean;
    double gave = h->cut_clumps > 0 ? (double)h->cut_divisions / (double)h->cut_clumps : h->rate;
    size_t n = (size_t)snprintf(out, size, "%.0f expected, %lld came.", h->law.mean, (long long)h->came);
    bool told = false;
    if (n < size && (gave - h->rate) * missed > 0) {
        n += (size_t)snprintf(
            out + n, size - n,
            " %lld clump%s cut since gave %s: %.1f each where %.1f (%.1f to %.1f) was expected.",
            (long long)h->cut_clumps, h->cut_clumps == 1 ? "" : "s", missed > 0 ? "more" : "less", gave,
            h->rate, h->rate_low, h->rate_high);
        told = true;
    }
    if (n < size && missed < 0 && h->lost > 0) {
        n += (size_t)snprintf(out + n, size - n, " %lld division%s thrown out at checks.", (long long)h->lost,
                              h->lost == 1 ? " was" : "s were");
        told = true;
    }
    if (n < size && !told)
        snprintf(out + n, size - n,
                 missed > 0 ? " Less was lost in store than expected."
                            : " Nothing that was cut or thrown out explains it; was something not entered?");
}

static json_t *worst_json(cw_review *r)
{
    json_t *list = json_array();
    if (r->rows > 1)
        qsort(r->row, r->rows, sizeof *r->row, by_off);
    for (size_t i = 0; i < r->rows && i < WORST; i++) {
        const cw_held *h = &r->row[i];
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
static json_t *reliability_json(const cw_review *r)
{
    json_t *list = json_array();
    for (int i = 1; i <= 9; i++) {
        double nominal = i / 10.0, seen = 0;
        for (size_t k = 0; k < r->rows; k++)
            for (int p = 0; p < CW_HINDSIGHT_POINTS; p++)
                seen += cw_score_pit_within(cw_score_pit(&r->row[k].law, r->row[k].any[p]), 0.5 - nominal / 2,
                                            0.5 + nominal / 2) /
                        CW_HINDSIGHT_POINTS;
        cw_json_append_take(&list,
                            json_pack("{s:f,s:f,s:I}", "nominal", nominal, "observed",
                                      r->rows ? seen / (double)r->rows : 0.0, "n", (json_int_t)r->rows));
    }
    return list;
}

/* Of all that came on the scored past days. */
static double counted_percent(const cw_review *r)
{
    double counted = 0, came = 0;
    for (size_t i = 0; i < r->rows; i++) {
        counted += r->row[i].counted;
        came += (double)r->row[i].came;
    }
    return came > 0 ? 100 * counted / came : 0;
}

#define CUT_ENOUGH 5 /* clumps of a variety that tell whether it gave what the owner said */

/* Ranges that the owner said, of varieties cut this season, and how many of those held what the clumps gave. */
static json_t *own_json(const cw_review *r)
{
    const cw_forecast_data *d = r->then;
    json_int_t said = 0, held = 0;
    int64_t *cut = calloc(2 * d->varieties + 1, sizeof *cut);
    for (size_t i = 0; cut != NULL && i < d->rate_rows; i++) {
        const cw_rate_row *row = &d->rate_row[i];
        cut[2 * (size_t)row->variety] += row->season == d->season - d->first_season ? row->clumps : 0;
        cut[2 * (size_t)row->variety + 1] += row->season == d->season - d->first_season ? row->divisions : 0;
    }
    for (size_t v = 0; cut != NULL && v < d->varieties; v++) {
        cw_rate_own own = cw_forecast_own(&d->snapshot->variety[v]);
        if (!(own.low > 0) || cut[2 * v] < CUT_ENOUGH)
            continue;
        double gave = (double)cut[2 * v + 1] / (double)cut[2 * v];
        said++;
        held += gave >= own.low && gave <= own.high;
    }
    json_t *out = cut ? json_pack("{s:I,s:I}", "said", said, "held", held) : NULL;
    free(cut);
    return out;
}

static const cw_shape own_shape = {
    .parts =
        (const cw_part[]){
            { "said", CW_INT_T,
              .says = "Ranges that the owner gave, of varieties of which five clumps are cut." },
            { "held", CW_INT_T, .says = "Of those, how many held what a clump gave." },
            { 0 },
        }
};
static const cw_shape scores_shape = CW_ROWS(score_columns);
static const cw_shape reliability_shape = { .list = true,
                                            .parts = (const cw_part[]){
                                                { "nominal", CW_REAL_T },
                                                { "observed", CW_REAL_T },
                                                { "n", CW_INT_T },
                                                { 0 },
                                            } };
static const cw_shape worst_shape = { .list = true,
                                      .parts = (const cw_part[]){
                                          { "as_of", CW_DAY_T },
                                          { "unit", CW_TEXT_T, .words = "lot|variety" },
                                          { "code", CW_TEXT_T },
                                          { "expected", CW_REAL_T },
                                          { "p10", CW_INT_T },
                                          { "p50", CW_INT_T },
                                          { "p90", CW_INT_T },
                                          { "came", CW_INT_T },
                                          { "sentence", CW_TEXT_T },
                                          { 0 },
                                      } };
const cw_shape cw_hindsight_report_shape = {
    .parts =
        (const cw_part[]){
            { "till", CW_DAY_T },
            { "projections", CW_INT_T },
            { "counted_percent", CW_REAL_T, .says = "Share of what came that was counted." },
            { "left_out", CW_INT_T, .says = "Of which nobody has looked since." },
            { "scores", .shape = &scores_shape },
            { "said", .shape = &cw_review_said_shape },
            { "own", .shape = &own_shape },
            { "reliability", .shape = &reliability_shape },
            { "pit", .shape = &cw_shape_numbers },
            { "worst", .shape = &worst_shape },
            { 0 },
        }
};

cw_code cw_hindsight_report(cw_nursery *n, const cw_asker *who, const cw_hindsight_ask *ask, json_t **out,
                            cw_error *err)
{
    cw_review r;
    cw_scores all;
    cw_table scores = { 0 }, said = { 0 };
    *out = NULL;
    cw_code code = cw_review_make(&r, n, who, ask, err);
    if (code == CW_OK)
        code = cw_review_said(&r, &said, err);
    if (code == CW_OK) {
        char till[11];
        json_t *histogram = json_array();
        scores_table(&r, &scores, &all);
        for (size_t b = 0; b < CW_SCORE_BINS; b++)
            cw_json_append_take(&histogram, json_real(all.count ? all.histogram[b] / (double)all.count : 0));
        cw_day_format(r.till, till);
        json_t *reliability = reliability_json(&r);
        *out = json_pack("{s:s,s:I,s:f,s:I,s:o,s:o,s:o,s:o,s:o,s:o}", "till", till, "projections",
                         (json_int_t)all.count, "counted_percent", counted_percent(&r), "left_out",
                         (json_int_t)r.left_out, "scores", cw_table_to_json(&scores), "said",
                         cw_table_to_json(&said), "own", own_json(&r), "reliability", reliability, "pit",
                         histogram, "worst", worst_json(&r));
        code = *out ? CW_OK : cw_error_memory(err);
    }
    cw_table_free(&scores);
    cw_table_free(&said);
    cw_review_end(&r);
    return code;
}

cw_code cw_hindsight_said(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err)
{
    static const cw_day none = INT32_MAX; /* never past: nothing is told again */
    const cw_hindsight_ask ask = { &none, 1 };
    cw_review r;
    *out = (cw_table){ 0 };
    cw_code code = cw_review_make(&r, n, who, &ask, err);
    if (code == CW_OK)
        code = cw_review_said(&r, out, err);
    cw_review_end(&r);
    return code;
}

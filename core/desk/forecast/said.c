/* SPDX-License-Identifier: MIT */
/* What was said at releases and at the end of each month: kept as it was said, and compared with what came. */
#include "desk/forecast/hindsight_inside.h"
#include "desk/forecast/said_inside.h"

#include "model/score.h"
#include "store/said.h"
#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static_assert(CW_SAID_QUANTILES == CW_SCORE_QUANTILES, "said at the levels that are scored");

#define MONTH_END_DAYS 3 /* days after a month's end on which its projection still counts as said then */

static cw_code add(cw_nursery *n, const cw_asker *who, const cw_forecast *f, const char *why, cw_error *err)
{
    const cw_forecast_data *d = f->data;
    cw_said s = { .why = why, .day = d->as_of, .ship = d->ship, .stock_revision = f->stock_revision };
    cw_code code = cw_said_add(n->db, &s, who->now, who->actor, err);
    for (size_t v = 0; code == CW_OK && v < d->varieties; v++) {
        cw_said_row row = { .variety_id = d->snapshot->variety[v].id, .expected = f->law[v].mean };
        if (d->clumps[v] + d->divisions[v] == 0)
            continue;
        for (int q = 0; q < CW_SAID_QUANTILES; q++)
            row.quantile[q] = cw_distribution_quantile(&f->law[v], cw_score_levels[q]);
        code = cw_said_add_row(n->db, s.id, &row, err);
    }
    return code;
}

cw_code cw_said_keep(cw_nursery *n, const cw_asker *who, const cw_forecast *f, const char *why, cw_error *err)
{
    bool found = false;
    cw_said last = { 0 };
    cw_code code = cw_said_last(n->db, NULL, &found, &last, err);
    if (code != CW_OK || (found && last.day == f->data->as_of && last.ship == f->data->ship &&
                          last.stock_revision == f->stock_revision))
        return code;
    return add(n, who, f, why, err);
}

/* The last day of the month before a day's. */
static cw_day month_end(cw_day today)
{
    int year = 0, month = 0, day = 0;
    cw_day_to_ymd(today, &year, &month, &day);
    return cw_day_from_ymd(year, month, 1) - 1;
}

cw_code cw_hindsight_keep(cw_nursery *n, const cw_asker *who, bool *kept, cw_error *err)
{
    bool found = false;
    cw_said last = { 0 };
    const cw_forecast *f = NULL;
    cw_day end = month_end(who->today), day = who->today - end <= MONTH_END_DAYS ? end : who->today;
    size_t varieties = 0;
    *kept = false;
    cw_instant begun = 0;
    cw_code code = cw_said_last(n->db, "month", &found, &last, err);
    if (code == CW_OK)
        code = cw_said_begun(n->db, &begun, err);
    if (code != CW_OK || (found && last.day >= end) || who->today > n->season.ship ||
        cw_asker_day(who, begun) > end)
        return code;
    code = cw_forecast_get(n, who, CW_NO_DAY, day, &f, err);
    for (size_t v = 0; code == CW_OK && v < f->data->varieties; v++)
        varieties += f->data->clumps[v] + f->data->divisions[v] > 0;
    if (code != CW_OK || varieties == 0)
        return code;
    code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = cw_work_end(n, add(n, who, f, "month", err), err);
    *kept = code == CW_OK;
    return code;
}

static const cw_column columns[] = {
    { "said_on", CW_DAY_T },
    { "why", CW_TEXT_T },
    { "projections", CW_INT_T },
    { "expected", CW_REAL_T, 1 },
    { "came", CW_REAL_T },
    { "bias_percent", CW_REAL_T, 2, .null = true },
    { "cover50", CW_REAL_T, 3, .null = true },
    { "cover80", CW_REAL_T, 3, .null = true },
    { "cover90", CW_REAL_T, 3, .null = true },
    { "quantile_loss_percent", CW_REAL_T, 2, .null = true },
};
const cw_shape cw_review_said_shape = CW_ROWS(columns);

typedef struct account {
    const cw_review *r;
    cw_table *out;
    cw_fate *fate; /* [varieties] since `day`, over the lots dug by then */
    int64_t id;    /* of what is being read; 0: nothing yet */
    cw_day day;
    char why[16];
    double count, expected, came, cover[3], loss;
} account;

/* What came of each variety since a day. */
static void gather(account *a)
{
    const cw_forecast_data *d = a->r->then;
    memset(a->fate, 0, (d->varieties + 1) * sizeof *a->fate);
    for (size_t lot = 0; lot < d->lots; lot++) {
        if (d->lot_variety[lot] == CW_NONE || d->snapshot->lot[lot].dug_on > a->day)
            continue;
        cw_fate f = cw_review_fate(a->r, lot, a->day);
        cw_fate_add(&a->fate[d->lot_variety[lot]], &f);
    }
}

static void put(account *a)
{
    if (a->id == 0)
        return;
    double n = a->count > 0 ? a->count : NAN;
    cw_put_int(a->out, a->day);
    cw_put_text(a->out, a->why);
    cw_put_int(a->out, (int64_t)a->count);
    cw_put_real(a->out, a->expected);
    cw_put_real(a->out, a->came);
    cw_put_real(a->out, a->came > 0 ? 100 * (a->expected / a->came - 1) : NAN);
    for (int k = 0; k < 3; k++)
        cw_put_real(a->out, a->cover[k] / n);
    cw_put_real(a->out, a->came > 0 ? 100 * a->loss / a->came : NAN);
}

static void take(void *context, const cw_said *said, const cw_said_row *row)
{
    static const int from[3] = { 2, 1, 0 }; /* the ranges of 50, 80 and 90 % begin at these quantiles */
    account *a = context;
    if (said->id != a->id) {
        put(a);
        *a = (account){ .r = a->r, .out = a->out, .fate = a->fate, .id = said->id, .day = said->day };
        snprintf(a->why, sizeof a->why, "%s", said->why);
        gather(a);
    }
    size_t v = cw_forecast_data_by_id(a->r->then, row->variety_id);
    if (v == CW_NONE || a->fate[v].clumps_left > 0 || a->fate[v].unseen)
        return;
    int64_t any[CW_HINDSIGHT_POINTS];
    cw_fate_points(&a->fate[v], any);
    a->count += 1;
    a->expected += row->expected;
    for (int p = 0; p < CW_HINDSIGHT_POINTS; p++) {
        a->came += (double)any[p] / CW_HINDSIGHT_POINTS;
        for (int k = 0; k < 3; k++)
            a->cover[k] += (row->quantile[from[k]] <= any[p] && any[p] <= row->quantile[6 - from[k]]) /
                           (double)CW_HINDSIGHT_POINTS;
        for (int q = 0; q < CW_SAID_QUANTILES; q++)
            a->loss += cw_score_pinball(cw_score_levels[q], (double)any[p], (double)row->quantile[q]) /
                       (CW_SAID_QUANTILES * CW_HINDSIGHT_POINTS);
    }
}

cw_code cw_review_said(const cw_review *r, cw_table *out, cw_error *err)
{
    account a = { .r = r, .out = out, .fate = calloc(r->then->varieties + 1, sizeof *a.fate) };
    cw_table_init(out, columns, sizeof columns / sizeof columns[0]);
    if (a.fate == NULL)
        return cw_error_memory(err);
    cw_code code = cw_said_rows(r->n->db, r->till, take, &a, err);
    if (code == CW_OK)
        put(&a);
    free(a.fate);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

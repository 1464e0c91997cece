/* SPDX-License-Identifier: MIT */
#include "desk/forecast/forecast.h"

#include "base/text.h"
#include "desk/forecast/forecast_inside.h"
#include <stdio.h>
#include <stdlib.h>

#include "base/banned.h"

typedef struct moved {
    size_t variety;
    int64_t before10, before50, now10, now50, clumps, divisions;
} moved;

static int by_size(const void *pa, const void *pb)
{
    const moved *a = pa, *b = pb;
    int64_t x = llabs(a->now50 - a->before50), y = llabs(b->now50 - b->before50);
    if (x != y)
        return (x < y) - (x > y);
    return (a->variety > b->variety) - (a->variety < b->variety);
}

/* The likeliest reason, from what the ledger says happened in between. */
static void ground(const moved *m, char *out, size_t size)
{
    int64_t shift = m->now50 - m->before50;
    if (m->clumps < 0 && m->divisions > 0)
        snprintf(out, size, "%lld clump%s went under the knife or out, %lld division%s more on hand.",
                 (long long)-m->clumps, CW_S(-m->clumps), (long long)m->divisions, CW_S(m->divisions));
    else if (m->clumps < 0 || m->divisions < 0)
        snprintf(out, size, "%lld clump%s and %lld division%s left the cellar.", (long long)-m->clumps,
                 CW_S(-m->clumps), (long long)-m->divisions, CW_S(-m->divisions));
    else if (m->clumps > 0 || m->divisions > 0)
        snprintf(out, size, "%lld clump%s and %lld division%s came in.", (long long)m->clumps,
                 CW_S(m->clumps), (long long)m->divisions, CW_S(m->divisions));
    else
        snprintf(out, size, "Its stock did not change; what others showed of the season moved it %s.",
                 shift > 0 ? "up" : "down");
}

/* Fits that see one more session move every variety a little: such a move is no news (a tenth: our choice, no source). */
static bool is_noise(const moved *m)
{
    int64_t shift = llabs(m->now50 - m->before50), width = m->now50 - m->now10;
    return m->clumps == 0 && m->divisions == 0 && (shift <= 1 || 10 * shift <= width);
}

static const cw_column forecast_changes_columns[] = {
    { "variety", CW_TEXT_T },
    { "since", CW_DAY_T },
    { "before_p10", CW_INT_T },
    { "now_p10", CW_INT_T },
    { "before_p50", CW_INT_T },
    { "now_p50", CW_INT_T },
    { "clumps_change", CW_INT_T },
    { "divisions_change", CW_INT_T },
    { "noise", CW_BOOL_T,
      .says = "Its stock is the same, and the middle moved by no more than one, or a tenth of what lies "
              "between p10 and it." },
    { "why", CW_TEXT_T },
};
const cw_shape cw_forecast_changes_shape = CW_ROWS(forecast_changes_columns);

cw_code cw_forecast_changes(cw_nursery *n, const cw_asker *who, cw_day since, cw_table *out, cw_error *err)
{
    const cw_forecast *before = NULL, *now = NULL;
    moved *list = NULL;
    size_t count = 0;
    cw_table_init(out, forecast_changes_columns, CW_WIDTH(forecast_changes_columns));
    if (since >= who->today)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "since", "must be a day before today");
    cw_code code = cw_forecast_get(n, who, CW_NO_DAY, since, &before, err);
    if (code == CW_OK)
        code = cw_forecast_get(n, who, CW_NO_DAY, CW_NO_DAY, &now, err); /* the cache keeps both */
    if (code == CW_OK && (list = calloc(now->data->varieties + 1, sizeof *list)) == NULL)
        code = cw_error_memory(err);
    if (code != CW_OK)
        return code;
    for (size_t v = 0; v < now->data->varieties; v++) {
        size_t b = cw_forecast_data_by_id(before->data, now->data->snapshot->variety[v].id);
        if (b == CW_NONE)
            continue;
        moved m = { v,
                    cw_distribution_quantile(&before->law[b], 0.1),
                    cw_distribution_quantile(&before->law[b], 0.5),
                    cw_distribution_quantile(&now->law[v], 0.1),
                    cw_distribution_quantile(&now->law[v], 0.5),
                    now->data->clumps[v] - before->data->clumps[b],
                    now->data->divisions[v] - before->data->divisions[b] };
        if (m.before50 != m.now50 || m.before10 != m.now10 || m.clumps || m.divisions)
            list[count++] = m;
    }
    qsort(list, count, sizeof *list, by_size);
    for (size_t i = 0; i < count; i++) {
        char why[200];
        ground(&list[i], why, sizeof why);
        cw_put_text(out, now->data->snapshot->variety[list[i].variety].code);
        cw_put_int(out, since);
        cw_put_int(out, list[i].before10);
        cw_put_int(out, list[i].now10);
        cw_put_int(out, list[i].before50);
        cw_put_int(out, list[i].now50);
        cw_put_int(out, list[i].clumps);
        cw_put_int(out, list[i].divisions);
        cw_put_bool(out, is_noise(&list[i]));
        cw_put_text(out, why);
    }
    free(list);
    return cw_table_check(out, err);
}

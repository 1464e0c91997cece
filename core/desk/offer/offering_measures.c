/* SPDX-License-Identifier: MIT */
#include "desk/offer/offering_inside.h"

#include "model/measure.h"
#include "model/special.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

#define MOST 10

static const cw_column offering_measures_columns[] = {
    { "variety", CW_TEXT_T },
    { "name", CW_TEXT_T },
    { "measure", CW_TEXT_T, .words = "divide|clumps|divisions" },
    { "count", CW_INT_T },
    { "saves", CW_MONEY_T, .says = "Expected, at the plan's confidence." },
    { "elsewhere", CW_MONEY_T, .says = "What of it is saved in other varieties." },
};
const cw_shape cw_offering_measures_shape = CW_ROWS(offering_measures_columns);

/* What a division of standard deviation costs: of a normal law at a confidence that is right for the money,
 * margin / (1 - confidence) times the density there. Nothing where demand binds and not the stock. */
double cw_plan_doubt_costs(const cw_plan *p, size_t v)
{
    const cw_plan_row *r = &p->row[v];
    double confidence = fmin(fmax(p->confidence, 0.01), 0.99);
    if (!cw_plan_shows(p, v))
        return 0.0;
    if (r->ask.demand_caps && r->quantity.by_demand >= 0 && r->quantity.by_demand < r->quantity.by_stock)
        return 0.0;
    return (double)r->ask.margin / (1.0 - confidence) * cw_normal_density(cw_normal_quantile(confidence));
}

static const char *word_of(cw_measure_kind kind)
{
    return kind == CW_MEASURE_DIVIDE ? "divide" : kind == CW_MEASURE_CLUMPS ? "clumps" : "divisions";
}

static void put(const cw_plan *p, const cw_measure *m, cw_table *out)
{
    const cw_snap_variety *v = &p->forecast->data->snapshot->variety[m->variety];
    cw_put_text(out, v->code);
    cw_put_text(out, v->name);
    cw_put_text(out, word_of(m->kind));
    cw_put_int(out, m->count);
    cw_put_money(out, (cw_cents)llround(m->saves));
    cw_put_money(out, (cw_cents)llround(m->elsewhere));
}

cw_code cw_offering_measures(cw_nursery *n, const cw_asker *who, const cw_offering_ask *ask, cw_table *out,
                             cw_error *err)
{
    cw_plan *p = NULL;
    cw_measure best[MOST];
    double *loss = NULL;
    size_t found = 0;
    cw_table_init(out, offering_measures_columns, CW_WIDTH(offering_measures_columns));
    cw_code code = cw_plan_make(n, who, ask, &p, err);
    if (code == CW_OK && (loss = calloc(p->forecast->data->varieties + 1, sizeof *loss)) == NULL)
        code = cw_error_memory(err);
    for (size_t v = 0; code == CW_OK && v < p->forecast->data->varieties; v++)
        loss[v] = cw_plan_doubt_costs(p, v);
    if (code == CW_OK)
        code = cw_measure_next(p->projection ? p->projection : p->forecast->projection, p->law, loss, MOST,
                               best, &found, err);
    for (size_t i = 0; code == CW_OK && i < found; i++)
        if (llround(best[i].saves) > 0)
            put(p, &best[i], out);
    free(loss);
    cw_plan_free(p);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

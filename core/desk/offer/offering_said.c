/* SPDX-License-Identifier: MIT */
/* What the owner said of demand held against what the season asked for, beside what past sales said without it. */
#include "desk/offer/offering_inside.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

static const cw_column columns[] = {
    { "variety", CW_TEXT_T },
    { "low", CW_REAL_T, 1, .says = "Asked for in a usual season, as the owner says, 8 in 10 sure." },
    { "high", CW_REAL_T, 1 },
    { "sold", CW_INT_T },
    { "ended", CW_BOOL_T, .says = "All on offer was sold: more may have been asked for." },
    { "held", CW_BOOL_T, .null = true, .says = "The range held what was asked for; null: nobody knows." },
    { "expected", CW_REAL_T, 1 },
    { "sales_only", CW_REAL_T, 1, .null = true, .says = "Expected by past sales alone." },
    { "nearer", CW_BOOL_T, .null = true, .says = "Expected was nearer than that." },
};
const cw_shape cw_offering_said_shape = CW_ROWS(columns);

typedef struct telling {
    const cw_forecast_data *data;
    const cw_demand *demand, *sold_only;
    cw_table *out;
} telling;

static void put_known(bool known, bool value, cw_table *out)
{
    if (known)
        cw_put_bool(out, value);
    else
        cw_put_null(out);
}

static void tell_one(void *context, const cw_kept_said *said)
{
    telling *t = context;
    size_t v = cw_forecast_data_by_id(t->data, said->variety_id);
    if (v == CW_NONE || isnan(said->demand_low))
        return;
    const cw_snap_variety *s = &t->data->snapshot->variety[v];
    if (s->offered == 0 && s->sold == 0)
        return; /* nobody could ask for it */
    double sold = (double)s->sold, low = said->demand_low, high = said->demand_high;
    bool ended = s->sold >= s->offered, known = t->sold_only[v].known;
    cw_put_text(t->out, s->code);
    cw_put_real(t->out, low);
    cw_put_real(t->out, high);
    cw_put_int(t->out, s->sold);
    cw_put_bool(t->out, ended);
    put_known(!ended || sold > high, low <= sold && sold <= high, t->out);
    cw_put_real(t->out, t->demand[v].mean);
    cw_put_real(t->out, known ? t->sold_only[v].mean : NAN);
    put_known(known && !ended, fabs(t->demand[v].mean - sold) < fabs(t->sold_only[v].mean - sold), t->out);
}

cw_code cw_offering_said(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err)
{
    const cw_forecast *f = NULL;
    telling t = { .out = out };
    cw_table_init(out, columns, CW_WIDTH(columns));
    cw_code code = cw_season_look(n, err);
    if (code != CW_OK || who->today < n->season.ship)
        return code;
    code = cw_forecast_get(n, who, CW_NO_DAY, CW_NO_DAY, &f, err);
    if (code == CW_OK)
        code = cw_plan_demand(n, f, &t.demand, err);
    if (code == CW_OK)
        code = cw_plan_demand_sold_only(n, &t.sold_only, err);
    if (code != CW_OK)
        return code;
    t.data = f->data;
    code = cw_kept_said_each(n->db, tell_one, &t, err);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

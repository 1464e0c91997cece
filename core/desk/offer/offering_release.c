/* SPDX-License-Identifier: MIT */
#include "desk/offer/offering_inside.h"

#include "base/json.h"
#include "base/limits.h"
#include "desk/forecast/said_inside.h"
#include "desk/nursery/based_inside.h"
#include "store/audit.h"
#include "store/offers.h"
#include "store/season.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* The projection that a release rests on, kept with it as JSON so that it can be told long after. */
static char *basis(const cw_plan *p, size_t v)
{
    const cw_forecast_data *d = p->forecast->data;
    const cw_distribution *law = &p->law[v];
    char as_of[11], ship[11];
    cw_day_format(d->as_of, as_of);
    cw_day_format(d->ship, ship);
    json_t *o = json_pack("{s:s,s:s,s:I,s:I,s:I,s:f,s:I,s:I,s:I,s:I,s:I}", "as_of", as_of, "ship", ship,
                          "stock_revision", (json_int_t)p->forecast->stock_revision, "clumps",
                          (json_int_t)d->clumps[v], "divisions", (json_int_t)d->divisions[v], "expected",
                          law->mean, "p10", (json_int_t)cw_distribution_quantile(law, 0.1), "p50",
                          (json_int_t)cw_distribution_quantile(law, 0.5), "p90",
                          (json_int_t)cw_distribution_quantile(law, 0.9), "hold_back",
                          (json_int_t)p->row[v].hold_back, "reserve", (json_int_t)p->row[v].reserve);
    char *text = o ? cw_json_text(o, JSON_COMPACT | JSON_REAL_PRECISION(6)) : NULL;
    json_decref(o);
    return text;
}

/* Chance of falling short if the whole quantity is sold. */
static double p_short(const cw_plan *p, size_t v, int64_t quantity)
{
    return 1 - cw_distribution_at_least(&p->saleable[v], quantity);
}

static cw_code release_one(cw_nursery *n, const cw_asker *who, const cw_plan *p, size_t v, int64_t quantity,
                           const char *why, cw_table *out, cw_error *err)
{
    const cw_snap_variety *s = &p->forecast->data->snapshot->variety[v];
    char before_text[32], after_text[32];
    int64_t before = 0;
    char *ground = basis(p, v);
    if (ground == NULL)
        return cw_error_memory(err);
    cw_release r = { .variety_id = s->id,
                     .at = who->now,
                     .actor = who->actor,
                     .offered = quantity,
                     .confidence = p->row[v].ask.confidence,
                     .p_short = p_short(p, v, quantity),
                     .basis = ground,
                     .why = why };
    cw_code code = cw_offer_release(n->db, &r, &before, err);
    free(ground);
    cw_based_int(who, s->code, before);
    snprintf(before_text, sizeof before_text, "%lld", (long long)before);
    snprintf(after_text, sizeof after_text, "%lld", (long long)quantity);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "release", s->code, before_text, after_text, err);
    if (code == CW_OK) {
        cw_put_text(out, s->code);
        cw_put_int(out, before);
        cw_put_int(out, quantity);
    }
    return code;
}

static cw_code release_plan(cw_nursery *n, const cw_asker *who, const cw_plan *p, const char *why,
                            cw_table *out, cw_error *err)
{
    cw_code code = CW_OK;
    for (size_t v = 0; v < p->forecast->data->varieties && code == CW_OK; v++) {
        const cw_snap_variety *s = &p->forecast->data->snapshot->variety[v];
        int64_t quantity = p->row[v].quantity.view.quantity;
        if (!cw_plan_shows(p, v) || (s->retired && p->one == CW_NONE))
            continue;
        if (!s->released || s->offered != quantity)
            code = release_one(n, who, p, v, quantity, why, out, err);
    }
    return code;
}

static cw_code release_item(cw_nursery *n, const cw_asker *who, const cw_plan *p,
                            const cw_offering_item *item, const char *why, cw_table *out, cw_error *err)
{
    char shown[80];
    size_t v = cw_forecast_data_by_code(p->forecast->data, item->variety);
    if (v == CW_NONE)
        return cw_error_set(err, CW_NOT_FOUND, "there is no variety with the code %s",
                            cw_shown(item->variety, strlen(item->variety), shown));
    const cw_snap_variety *s = &p->forecast->data->snapshot->variety[v];
    if (item->quantity < 0 || item->quantity > CW_MAX_DIVISIONS)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "quantity", "must lie between 0 and %d: %lld of %s",
                           CW_MAX_DIVISIONS, (long long)item->quantity, s->code);
    if (item->quantity < s->sold && item->quantity < s->offered)
        return cw_error_at(err, CW_CONFLICT, NULL, 0, "quantity",
                           "already sold: %lld of %s, so the offer cannot go down to %lld",
                           (long long)s->sold, s->code, (long long)item->quantity);
    return release_one(n, who, p, v, item->quantity, why, out, err);
}

static const cw_column offering_release_columns[] = { { "variety", CW_TEXT_T },
                                                      { "before", CW_INT_T },
                                                      { "offered", CW_INT_T } };
static json_t *any_offers(void)
{
    return json_pack("{s:s,s:{s:s}}", "type", "object", "additionalProperties", "type", "integer");
}
const cw_shape cw_offering_release_based = { .make = any_offers };
const cw_shape cw_offering_release_shape = CW_ROWS(offering_release_columns);

cw_code cw_offering_release(cw_nursery *n, const cw_asker *who, const cw_offering_ask *ask,
                            const cw_offering_item *items, size_t n_items, const char *why, cw_table *out,
                            cw_error *err)
{
    cw_plan *p = NULL;
    cw_table_init(out, offering_release_columns, CW_WIDTH(offering_release_columns));
    if (cw_owner_only(who, "put quantities on offer", err) != CW_OK)
        return CW_FORBIDDEN;
    if (ask->n_tries > 0 || (ask->rot > 0 && ask->rot != 1))
        return cw_error_set(err, CW_USAGE, "what is only tried cannot be released: change the record first");
    cw_code code = cw_plan_make(n, who, ask, &p, err);
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    if (code != CW_OK) {
        cw_plan_free(p);
        return code;
    }
    if (n_items == 0)
        code = release_plan(n, who, p, why, out, err);
    for (size_t i = 0; i < n_items && code == CW_OK; i++)
        code = release_item(n, who, p, &items[i], why, out, err);
    if (code ==
        CW_OK) /* only after all were written, so that every one is reported; the work is then rolled back */
        code = cw_based_hold(who, "the offer", err);
    if (code == CW_OK && cw_table_rows(out) > 0)
        code = cw_said_keep(n, who, p->forecast, "release", err);
    if (code == CW_OK && cw_table_rows(out) > 0)
        code = cw_season_touch(n->db, false, true, err);
    if (code == CW_OK)
        code = cw_table_check(out, err);
    code = cw_work_end(n, code, err);
    cw_plan_free(p);
    return code;
}

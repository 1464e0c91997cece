/* SPDX-License-Identifier: MIT */
/* One variety of the planting plan: its law this spring, what each figure is worth, the years that follow, and why. */
#include "desk/beds/beds_inside.h"

#include "base/json.h"
#include "base/text.h"
#include <math.h>
#include <string.h>

#include "base/banned.h"

#define CURVE_POINTS 40
#define MET          0.5 /* a spring has its demand met where that is likelier than not */

static const cw_column curve_columns[] = {
    { "keep", CW_INT_T },
    { "value", CW_MONEY_T },
    { "places", CW_REAL_T, 2, .says = "Expected to be planted." },
    { "for_sale", CW_REAL_T, 2 },
    { "sold", CW_REAL_T, 2 },
    { "next", CW_REAL_T, 2, .says = "Sound divisions expected next spring." },
};

static const cw_column year_columns[] = {
    { "season", CW_INT_T },      { "mean", CW_REAL_T, 1 },
    { "p10", CW_INT_T },         { "p25", CW_INT_T },
    { "p50", CW_INT_T },         { "p75", CW_INT_T },
    { "p90", CW_INT_T },         { "kept", CW_REAL_T, 1 },
    { "planted", CW_REAL_T, 1 }, { "sold", CW_REAL_T, 1 },
    { "demand", CW_REAL_T, 1 },  { "met", CW_REAL_T, 3, .says = "Chance that all who ask can be served." },
};

static const cw_shape curve_shape = CW_ROWS(curve_columns), years_shape = CW_ROWS(year_columns);
static const cw_shape pmf_shape = { .parts = (const cw_part[]){
                                        { "from", CW_INT_T },
                                        { "step", CW_INT_T },
                                        { "p", .shape = &cw_shape_numbers },
                                        { 0 },
                                    } };
const cw_shape cw_beds_variety_shape = {
    .columns = cw_beds_columns,
    .width = CW_BEDS_COLUMNS,
    .parts =
        (const cw_part[]){
            { "asked", CW_INT_T, .null = true, .says = "The figure that the years follow." },
            { "demand_low", CW_REAL_T, .null = true, .says = "Asked this season, 8 in 10 sure." },
            { "demand_high", CW_REAL_T, .null = true },
            { "pmf", .shape = &pmf_shape, .says = "Of the sound divisions of this spring." },
            { "curve", .shape = &curve_shape },
            { "years", .shape = &years_shape },
            { "sentences", .shape = &cw_shape_texts },
            { 0 },
        }
};

typedef struct sheet {
    const cw_beds *b;
    const cw_beds_row *r;
    const cw_snap_variety *s;
    cw_keeper *k; /* NULL: there is no figure */
    int64_t keep;
    cw_table curve, years;
    cw_keep_year year[CW_KEEP_SEASONS + 1];
    cw_text say; /* a sentence a line */
} sheet;

/* Figures from 0 to what may be there, close to each other near the best. */
static void make_curve(sheet *x)
{
    int64_t most = cw_distribution_quantile(&x->r->sound, 0.99), best = x->r->keep.best.keep;
    int64_t last = -1, top = most > best + 5 ? most : best + 5;
    top = top > x->keep ? top : x->keep;
    for (int i = 0; i <= CURVE_POINTS; i++) {
        double u = 2.0 * i / CURVE_POINTS - 1; /* -1 .. 1 over the best, squared away from it */
        double at = u < 0 ? (double)best * (1 - u * u) : (double)best + (double)(top - best) * u * u;
        cw_keep_view view;
        int64_t keep = (int64_t)llround(at);
        if (keep <= last)
            continue;
        cw_keeper_view(x->k, keep, &view);
        if (view.keep <= last)
            break; /* the beds hold no more */
        last = view.keep;
        cw_put_int(&x->curve, view.keep);
        cw_put_money(&x->curve, (cw_cents)llround(view.value));
        cw_put_real(&x->curve, view.planted);
        cw_put_real(&x->curve, view.for_sale);
        cw_put_real(&x->curve, view.sold);
        cw_put_real(&x->curve, view.planted * x->r->growth.mean);
    }
}

static void put_years(sheet *x)
{
    for (int t = 0; t <= x->b->seasons; t++) {
        const cw_keep_year *y = &x->year[t];
        cw_put_int(&x->years, x->b->forecast->data->season + t);
        cw_put_real(&x->years, y->mean);
        cw_put_int(&x->years, (int64_t)y->q10);
        cw_put_int(&x->years, (int64_t)y->q25);
        cw_put_int(&x->years, (int64_t)y->q50);
        cw_put_int(&x->years, (int64_t)y->q75);
        cw_put_int(&x->years, (int64_t)y->q90);
        cw_put_real(&x->years, y->kept);
        cw_put_real(&x->years, y->planted);
        cw_put_real(&x->years, y->sold);
        cw_put_real(&x->years, y->demand);
        cw_put_real(&x->years, fmin(1, fmax(0, y->met)));
    }
}

static const char *money(double cents, char out[24])
{
    cw_cents_format((cw_cents)llround(cents), out);
    return out;
}

static void say_figure(sheet *x)
{
    const cw_keep *k = &x->r->keep;
    char a[24], c[24];
    if (x->s->retired)
        cw_text_add(&x->say, "It is retired: nothing is kept.\n");
    else if (k->all)
        cw_text_addf(
            &x->say,
            "It is being built up: keep all that there is, up to %lld. Until then each division is worth "
            "more in the beds than sold.\n",
            (long long)k->best.keep);
    else
        cw_text_addf(&x->say, "Keep %lld; from %lld to %lld it makes next to no difference (0.5 %%).\n",
                     (long long)k->best.keep, (long long)k->low, (long long)k->high);
    if (k->plant_up_to > k->best.keep)
        cw_text_addf(&x->say, "What is left unsold in May is worth planting up to %lld in all.\n",
                     (long long)k->plant_up_to);
    cw_text_addf(&x->say, "One more kept costs %s of sales now and brings %s later.\n",
                 money(k->one_more_costs, a), money(k->one_more_brings, c));
    if (k->typed.keep != k->best.keep)
        cw_text_addf(&x->say, "The hold-back on record, %lld, loses %s against that.\n",
                     (long long)x->s->hold_back_set, money(fmax(0, k->best.value - k->typed.value), a));
    if (x->s->planted > 0)
        cw_text_addf(&x->say, "%lld %s in the ground already.\n", (long long)x->s->planted,
                     x->s->planted == 1 ? "is" : "are");
}

static void say_years(sheet *x)
{
    int met = -1;
    for (int t = 1; met < 0 && t <= x->b->seasons; t++)
        met = x->year[t].met >= MET ? t : -1;
    if (x->year[0].met >= MET)
        cw_text_add(&x->say, "Demand can be met this spring already.\n");
    else if (met > 0)
        cw_text_addf(&x->say, "Demand is first met in the season %d, likelier than not.\n",
                     x->b->forecast->data->season + met);
    else
        cw_text_addf(&x->say, "Demand is not met within %d seasons.\n", x->b->seasons);
}

static void say_demand(sheet *x)
{
    const cw_beds_row *r = x->r;
    if (!r->demand_said)
        cw_text_addf(&x->say, "Asked for this season: about %.0f by past sales%s.\n", r->demand.mean,
                     r->slope > 0.02    ? ", and rising"
                     : r->slope < -0.02 ? ", and falling"
                                        : "");
    else
        cw_text_addf(
            &x->say,
            "Asked for this season: about %.0f. You said %.0f to %.0f in a usual season: that is %.0f %% of "
            "what is known of it.\n",
            r->demand.mean, r->said.demand_low, r->said.demand_high, 100 * r->demand.own_share);
    if (r->demand_said && r->sold_only.known)
        cw_text_addf(&x->say, "Past sales alone say about %.0f.\n", r->sold_only.mean);
}

static void say_ground(sheet *x)
{
    const cw_beds_growth *g = &x->r->growth;
    char a[24];
    if (x->r->growth_said)
        cw_text_addf(&x->say, "A plant gives %.1f divisions next spring: your figure.\n", g->mean);
    else
        cw_text_addf(
            &x->say,
            "A plant gives %.1f divisions next spring: %.0f %% come to be dug, %.0f %% of clumps are sound "
            "when cut, a clump gives %.1f, and %.0f %% of divisions are sound when shipped.\n",
            g->mean, 100 * g->establishment, 100 * g->clump_sound, g->rate, 100 * g->division_sound);
    if (!x->r->demand.known)
        cw_text_add(&x->say, "Nobody knows what is asked for: say how many a year, such as 40..90.\n");
    else
        say_demand(x);
    if (x->r->needs && x->r->needs[0] == 'p')
        cw_text_add(&x->say, "It has no price, so nothing says what a division is worth.\n");
    if (x->b->beds.price >= 0.5)
        cw_text_addf(&x->say, "The beds are full: one more place would earn %s.\n",
                     money(x->b->beds.price, a));
}

static void sheet_free(sheet *x)
{
    cw_keeper_free(x->k);
    cw_table_free(&x->curve);
    cw_table_free(&x->years);
    cw_text_free(&x->say);
}

static cw_code sheet_make(const cw_beds *b, int64_t keep, sheet *x, cw_error *err)
{
    *x = (sheet){ .b = b, .r = &b->row[b->one], .say = CW_TEXT(8000) };
    x->s = &b->forecast->data->snapshot->variety[b->one];
    cw_table_init(&x->curve, curve_columns, CW_WIDTH(curve_columns));
    cw_table_init(&x->years, year_columns, CW_WIDTH(year_columns));
    cw_code code = CW_OK;
    if (x->r->needs == NULL) {
        x->keep = keep >= 0 ? keep : x->r->keep.best.keep;
        code = cw_keeper_new(&x->r->ask, &x->k, err);
    }
    if (code == CW_OK && x->k) {
        cw_keeper_price(x->k, b->beds.price);
        code = cw_keeper_years(x->k, x->keep, x->year, err);
    }
    if (code == CW_OK && x->k) {
        make_curve(x);
        put_years(x);
        say_figure(x);
        if (!x->s->retired)
            say_years(x);
    }
    if (code == CW_OK) {
        say_ground(x);
        code = cw_text_check(&x->say, err);
    }
    return code;
}

static json_t *law_json(const cw_distribution *d)
{
    json_t *p = json_array();
    double before = 0;
    for (size_t i = 0; i < d->cells; i++) {
        cw_json_append_take(&p, json_real(d->cdf[i] - before));
        before = d->cdf[i];
    }
    return json_pack("{s:I,s:I,s:o}", "from", (json_int_t)d->first, "step", (json_int_t)d->step, "p", p);
}

static json_t *lines_json(const cw_text *say)
{
    json_t *list = json_array();
    const char *at = say->data ? say->data : "";
    for (const char *end; (end = strchr(at, '\n')) != NULL; at = end + 1)
        cw_json_append_take(&list, json_stringn(at, (size_t)(end - at)));
    return list;
}

static json_t *number_or_null(bool known, double v)
{
    return known ? json_real(v) : json_null();
}

static json_t *document(const sheet *x)
{
    cw_table row = { 0 };
    cw_table_init(&row, cw_beds_columns, CW_BEDS_COLUMNS);
    cw_beds_put(x->b, x->b->one, &row);
    json_t *rows = cw_table_to_json(&row), *doc = json_incref(json_array_get(rows, 0));
    bool known = x->r->demand.known, said = x->r->demand_said;
    cw_distribution law = { 0 };
    if (known)
        cw_demand_law(&x->r->demand, &law);
    json_decref(rows);
    cw_table_free(&row);
    cw_json_put_take(&doc, "asked", x->k ? json_integer(x->keep) : json_null());
    cw_json_put_take(&doc, "demand_low",
                     number_or_null(known, said    ? x->r->said.demand_low
                                           : known ? (double)cw_distribution_quantile(&law, 0.1)
                                                   : 0));
    cw_json_put_take(&doc, "demand_high",
                     number_or_null(known, said    ? x->r->said.demand_high
                                           : known ? (double)cw_distribution_quantile(&law, 0.9)
                                                   : 0));
    cw_json_put_take(&doc, "pmf", law_json(&x->r->sound));
    cw_json_put_take(&doc, "curve", cw_table_to_json(&x->curve));
    cw_json_put_take(&doc, "years", cw_table_to_json(&x->years));
    cw_json_put_take(&doc, "sentences", lines_json(&x->say));
    return doc;
}

static cw_code looked_at(cw_nursery *n, const cw_asker *who, const cw_beds_ask *ask, cw_beds **b, sheet *x,
                         cw_error *err)
{
    *b = NULL;
    *x = (sheet){ 0 };
    if (ask->variety == NULL)
        return cw_error_set(err, CW_USAGE, "name one variety");
    cw_code code = cw_beds_make(n, who, ask, b, err);
    return code == CW_OK ? sheet_make(*b, ask->keep, x, err) : code;
}

cw_code cw_beds_variety(cw_nursery *n, const cw_asker *who, const cw_beds_ask *ask, json_t **out,
                        cw_error *err)
{
    cw_beds *b = NULL;
    sheet x;
    *out = NULL;
    cw_code code = looked_at(n, who, ask, &b, &x, err);
    if (code == CW_OK) {
        *out = document(&x);
        code = *out ? CW_OK : cw_error_memory(err);
    }
    sheet_free(&x);
    cw_beds_free(b);
    return code;
}

cw_code cw_beds_years(cw_nursery *n, const cw_asker *who, const cw_beds_ask *ask, cw_table *out,
                      cw_text *sentences, cw_error *err)
{
    cw_beds *b = NULL;
    sheet x;
    cw_table_init(out, year_columns, CW_WIDTH(year_columns));
    cw_code code = looked_at(n, who, ask, &b, &x, err);
    if (code == CW_OK) {
        cw_table_free(out);
        *out = x.years;
        x.years = (cw_table){ 0 };
        cw_text_add(sentences, x.say.data ? x.say.data : "");
        code = cw_table_check(out, err);
    }
    sheet_free(&x);
    cw_beds_free(b);
    return code;
}

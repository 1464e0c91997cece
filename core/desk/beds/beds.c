/* SPDX-License-Identifier: MIT */
/* The planting plan told as a table, and the planting list. */
#include "desk/beds/beds_inside.h"

#include "base/limits.h"
#include "base/text.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

const cw_column cw_beds_columns[CW_BEDS_COLUMNS] = {
    { "variety", CW_TEXT_T },
    { "keep", CW_INT_T, .null = true, .says = "The best figure." },
    { "low", CW_INT_T, .null = true, .says = "Figures from here" },
    { "high", CW_INT_T, .null = true, .says = "to here are worth 99.5 % of the best." },
    { "value", CW_MONEY_T, .null = true, .says = "Earned over the seasons, growing and places paid." },
    { "hold_back", CW_INT_T, .says = "On record." },
    { "loss_of_hold_back", CW_MONEY_T, .null = true, .says = "What that loses against the best." },
    { "growth", CW_REAL_T, 2, .says = "Divisions next spring of one planted." },
    { "growth_sd", CW_REAL_T, 3, .says = "Doubt of its logarithm." },
    { "demand", CW_REAL_T, 1, .null = true, .says = "Asked for this season." },
    { "expected_next", CW_REAL_T, 1, .null = true, .says = "Sound divisions next spring." },
    { "place_price", CW_MONEY_T, .says = "What one more place in the beds would earn." },
    { "needs", CW_TEXT_T, .null = true, .words = "demand|price",
      .says = "What must be said before there is a figure." },
    { "name", CW_TEXT_T },
    { "p05", CW_INT_T, .says = "Sound divisions this spring, what is planted counted in." },
    { "p10", CW_INT_T },
    { "p25", CW_INT_T },
    { "p50", CW_INT_T },
    { "p75", CW_INT_T },
    { "p90", CW_INT_T },
    { "p95", CW_INT_T },
    { "for_sale", CW_REAL_T, 1, .null = true, .says = "Expected, if the best figure is kept." },
    { "places", CW_REAL_T, 1, .null = true, .says = "Expected to be planted, unsold ones too." },
    { "planted", CW_INT_T, .says = "Set out already." },
    { "offered", CW_INT_T },
    { "trend", CW_REAL_T, 3, .null = true, .says = "Of demand, a season." },
    { "demand_said", CW_BOOL_T, .says = "The owner says something of it." },
    { "said_low", CW_REAL_T, 1, .null = true, .says = "Of demand, as the owner says it." },
    { "said_high", CW_REAL_T, 1, .null = true },
    { "growth_said", CW_BOOL_T },
    { "least", CW_INT_T, .null = true },
    { "growth_spread", CW_REAL_T, 3,
      .says = "Variance of next spring's number over its mean, the season aside." },
    { "cost", CW_MONEY_T, .says = "Of growing one plant." },
    { "cost_said", CW_BOOL_T, .says = "The owner's for this variety, not the setting." },
    { "all", CW_BOOL_T, .says = "Being built up: all that is there is kept." },
    { "retired", CW_BOOL_T },
    { "up_to", CW_INT_T, .null = true,
      .says = "What is left unsold is worth planting up to so many in all." },
};

static const cw_shape rows_shape = CW_ROWS(cw_beds_columns);
const cw_shape cw_beds_totals_shape = {
    .parts =
        (const cw_part[]){
            { "places", CW_INT_T, .null = true, .says = "In the beds; null: nobody said how many." },
            { "metres", CW_REAL_T, .null = true, .says = "Of rows, where places are told so." },
            { "spacing_cm", CW_REAL_T },
            { "planted", CW_REAL_T, .says = "Expected, at the best figures." },
            { "held_back", CW_INT_T, .says = "Sum of the hold-backs on record." },
            { "price", CW_MONEY_T, .says = "What one more place would earn." },
            { "seasons", CW_INT_T, .says = "Seasons ahead that count." },
            { "wanting", CW_INT_T, .says = "Varieties without a figure." },
            { 0 },
        }
};
const cw_shape cw_beds_plan_shape = { .parts = (const cw_part[]){
                                          { "beds", .shape = &cw_beds_totals_shape },
                                          { "varieties", .shape = &rows_shape },
                                          { 0 },
                                      } };

static void put_cents(double cents, cw_table *out)
{
    if (isnan(cents))
        cw_put_null(out);
    else
        cw_put_money(out, (cw_cents)llround(cents));
}

static void put_keep(const cw_beds_row *r, const cw_snap_variety *s, cw_table *out)
{
    const cw_keep *k = &r->keep;
    bool no = r->needs != NULL;
    if (no) {
        for (int c = 0; c < 3; c++)
            cw_put_null(out);
    } else {
        cw_put_int(out, k->best.keep);
        cw_put_int(out, k->low);
        cw_put_int(out, k->high);
    }
    put_cents(no ? NAN : k->best.value, out);
    cw_put_int(out, s->hold_back_set);
    put_cents(no ? NAN : fmax(0, k->best.value - k->typed.value), out);
}

void cw_beds_put(const cw_beds *b, size_t v, cw_table *out)
{
    static const double levels[] = { 0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95 };
    const cw_snap_variety *s = &b->forecast->data->snapshot->variety[v];
    const cw_beds_row *r = &b->row[v];
    bool no = r->needs != NULL;
    cw_put_text(out, s->code);
    put_keep(r, s, out);
    cw_put_real(out, r->growth.mean);
    cw_put_real(out, r->growth.sd);
    cw_put_real(out, r->demand.known ? r->demand.mean : NAN);
    cw_put_real(out, no ? NAN : r->growth.mean * r->keep.best.planted);
    put_cents(b->beds.price, out);
    cw_put_text(out, r->needs);
    if (out->width == CW_BEDS_BRIEF)
        return;
    cw_put_text(out, s->name);
    for (size_t q = 0; q < sizeof levels / sizeof levels[0]; q++)
        cw_put_int(out, cw_distribution_quantile(&r->sound, levels[q]));
    cw_put_real(out, no ? NAN : r->keep.best.for_sale);
    cw_put_real(out, no ? NAN : r->keep.best.planted);
    cw_put_int(out, s->planted);
    cw_put_int(out, s->offered);
    cw_put_real(out, r->demand.known ? expm1(r->slope) : NAN);
    cw_put_bool(out, r->demand_said);
    cw_put_real(out, r->said.demand_low);
    cw_put_real(out, r->said.demand_high);
    cw_put_bool(out, r->growth_said);
    if (r->said.least < 0)
        cw_put_null(out);
    else
        cw_put_int(out, r->said.least);
    cw_put_real(out, r->growth.dispersion);
    put_cents(r->ask.cost, out);
    cw_put_bool(out, r->said.cost >= 0);
    cw_put_bool(out, r->keep.all);
    cw_put_bool(out, s->retired);
    if (no)
        cw_put_null(out);
    else
        cw_put_int(out, s->retired ? 0 : r->keep.plant_up_to);
}

static json_t *money_json(double cents)
{
    char s[24];
    cw_cents_format((cw_cents)llround(cents), s);
    return json_string(s);
}

static json_t *totals(const cw_beds *b)
{
    int64_t held = 0, wanting = 0;
    for (size_t v = 0; v < b->forecast->data->varieties; v++) {
        held += b->forecast->data->snapshot->variety[v].hold_back_set;
        wanting += b->row[v].needs != NULL;
    }
    return json_pack("{s:o,s:o,s:f,s:f,s:I,s:o,s:i,s:I}", "places",
                     b->beds.places < 0 ? json_null() : json_integer((json_int_t)b->beds.places), "metres",
                     b->metres > 0 ? json_real(b->metres) : json_null(), "spacing_cm", b->spacing_cm,
                     "planted", b->beds.planted, "held_back", (json_int_t)held, "price",
                     money_json(b->beds.price), "seasons", b->seasons, "wanting", (json_int_t)wanting);
}

cw_code cw_beds_plan(cw_nursery *n, const cw_asker *who, const cw_beds_ask *ask, cw_table *out, json_t **beds,
                     cw_error *err)
{
    cw_beds *b = NULL;
    cw_table_init(out, cw_beds_columns, ask->brief ? CW_BEDS_BRIEF : CW_BEDS_COLUMNS);
    cw_code code = cw_beds_make(n, who, ask, &b, err);
    for (size_t v = 0; code == CW_OK && v < b->forecast->data->varieties; v++)
        if (cw_beds_shows(b, v))
            cw_beds_put(b, v, out);
    if (code == CW_OK)
        code = cw_table_check(out, err);
    if (code == CW_OK && beds) {
        *beds = totals(b);
        code = *beds ? CW_OK : cw_error_memory(err);
    }
    cw_beds_free(b);
    return code;
}

/* What is to be planted, and from which row it came. */
typedef struct item {
    size_t variety;
    const char *row; /* "" where no lot names one */
    int64_t plants;
} item;

typedef struct list {
    const cw_forecast_data *data;
    cw_text names;  /* rows' names, one after another */
    size_t *row_at; /* [varieties] 1 + where its row begins in `names`; 0: none yet */
} list;

static void take_row(void *context, int64_t variety_id, const char *row)
{
    list *l = context;
    size_t v = cw_forecast_data_by_id(l->data, variety_id);
    if (v == CW_NONE || l->row_at[v] > 0)
        return;
    l->row_at[v] = 1 + l->names.length;
    cw_text_add(&l->names, row);
    cw_text_addc(&l->names, '\0');
}

/* Rows as people count them: 9 before 10. */
static int by_row(const void *a, const void *b)
{
    const item *x = a, *y = b;
    const char *p = x->row, *q = y->row;
    if ((*p == '\0') != (*q == '\0'))
        return *p == '\0' ? 1 : -1; /* without a row: last */
    while (*p && *q) {
        bool digits = *p >= '0' && *p <= '9' && *q >= '0' && *q <= '9';
        if (digits) {
            char *pe = NULL, *qe = NULL;
            unsigned long long m = strtoull(p, &pe, 10), k = strtoull(q, &qe, 10);
            if (m != k)
                return m < k ? -1 : 1;
            p = pe;
            q = qe;
        } else {
            if (*p != *q)
                return (unsigned char)*p < (unsigned char)*q ? -1 : 1;
            p++;
            q++;
        }
    }
    if (*p || *q)
        return *p ? 1 : -1;
    return x->variety < y->variety ? -1 : 1;
}

static const cw_column list_columns[] = {
    { "row", CW_TEXT_T, .null = true, .says = "It was dug from; where no lot names one, none." },
    { "variety", CW_TEXT_T },
    { "name", CW_TEXT_T },
    { "plants", CW_INT_T },
    { "from", CW_INT_T, .says = "Places in the beds, counted through." },
    { "to", CW_INT_T },
};

static void put_list(const cw_forecast_data *d, const item *items, size_t count, cw_table *out)
{
    int64_t at = 1;
    for (size_t i = 0; i < count; i++) {
        const cw_snap_variety *s = &d->snapshot->variety[items[i].variety];
        cw_put_text(out, items[i].row);
        cw_put_text(out, s->code);
        cw_put_text(out, s->name);
        cw_put_int(out, items[i].plants);
        cw_put_int(out, at);
        cw_put_int(out, at + items[i].plants - 1);
        at += items[i].plants;
    }
}

cw_code cw_beds_list(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err)
{
    const cw_forecast *f = NULL;
    list l = { .names = CW_TEXT(CW_MAX_VARIETIES * (CW_MAX_CODE + 1)) };
    item *items = NULL;
    size_t count = 0;
    cw_table_init(out, list_columns, CW_WIDTH(list_columns));
    cw_code code = cw_forecast_get(n, who, CW_NO_DAY, CW_NO_DAY, &f, err);
    if (code != CW_OK)
        return code;
    l.data = f->data;
    l.row_at = calloc(f->data->varieties + 1, sizeof *l.row_at);
    items = calloc(f->data->varieties + 1, sizeof *items);
    code = l.row_at && items ? cw_kept_rows(n->db, take_row, &l, err) : cw_error_memory(err);
    if (code == CW_OK)
        code = cw_text_check(&l.names, err);
    for (size_t v = 0; code == CW_OK && v < f->data->varieties; v++) {
        const cw_snap_variety *s = &f->data->snapshot->variety[v];
        if (s->hold_back > 0)
            items[count++] = (item){ v, l.row_at[v] ? l.names.data + l.row_at[v] - 1 : "", s->hold_back };
    }
    if (code == CW_OK) {
        qsort(items, count, sizeof *items, by_row);
        put_list(f->data, items, count, out);
        code = cw_table_check(out, err);
    }
    cw_text_free(&l.names);
    free(l.row_at);
    free(items);
    return code;
}

/* SPDX-License-Identifier: MIT */
#include "desk/export/exporting.h"

#include "desk/export/exporting_inside.h"
#include "desk/forecast/forecast.h"
#include "desk/offer/offering.h"
#include "store/rows.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

#define T CW_TEXT_T
#define I CW_INT_T
#define R CW_REAL_T
#define M CW_MONEY_T
#define D CW_DAY_T
#define A CW_INSTANT_T
#define W CW_WEEK_T
#define B CW_BOOL_T

/* A table is the statement "exporting.<name>", except the two that are computed. */
const cw_export cw_exports[] = {
    { "varieties",
      "named cultivars with their class, price and what is held back",
      12,
      { { "code", T, 0 },
        { "name", T, 0 },
        { "form", T, 0 },
        { "size", T, 0 },
        { "colour", T, 0 },
        { "height_cm", I, 0 },
        { "price", M, 0 },
        { "hold_back", I, 0 },
        { "reserve", I, 0 },
        { "limit_per_order", I, 0 },
        { "introduced", I, 0 },
        { "retired", B, 0 } } },
    { "places",
      "rooms and places in walking order",
      3,
      { { "place", T, 0 }, { "room", T, 0 }, { "walk_order", I, 0 } } },
    { "zones", "climate zones and their first ship week", 2, { { "zone", T, 0 }, { "first_week", W, 0 } } },
    { "destinations",
      "where may be shipped to",
      4,
      { { "country", T, 0 }, { "region", T, 0 }, { "rule", T, 0 }, { "note", T, 0 } } },
    { "history",
      "dividing in past seasons",
      4,
      { { "season", I, 0 }, { "variety", T, 0 }, { "clumps", I, 0 }, { "divisions", I, 0 } } },
    { "past_checks",
      "storage checks of past seasons",
      7,
      { { "season", I, 0 },
        { "variety", T, 0 },
        { "stage", T, 0 },
        { "weeks", R, 4 },
        { "inspected", I, 0 },
        { "rotten", I, 0 },
        { "shrivelled", I, 0 } } },
    { "past_sales",
      "what past seasons sold",
      4,
      { { "season", I, 0 }, { "variety", T, 0 }, { "sold", I, 0 }, { "sold_out_on", D, 0 } } },
    { "past_orders",
      "on which days past seasons were ordered from",
      4,
      { { "season", I, 0 }, { "variety", T, 0 }, { "ordered_on", D, 0 }, { "quantity", I, 0 } } },
    { "lots",
      "what was dug",
      7,
      { { "lot", T, 0 },
        { "variety", T, 0 },
        { "dug_on", D, 0 },
        { "clumps", I, 0 },
        { "row", T, 0 },
        { "culled", I, 0 },
        { "place", T, 0 } } },
    { "weighings",
      "marked crates",
      4,
      { { "sample", T, 0 }, { "lot", T, 0 }, { "weighed_on", D, 0 }, { "kg", R, 4 } } },
    { "air",
      "readings of the rooms",
      4,
      { { "room", T, 0 }, { "at", A, 0 }, { "temp_c", R, 2 }, { "rh", R, 2 } } },
    { "divisions",
      "dividing sessions of this season",
      7,
      { { "lot", T, 0 },
        { "divided_on", D, 0 },
        { "clumps", I, 0 },
        { "saleable", I, 0 },
        { "blind", I, 0 },
        { "rotten", I, 0 },
        { "place", T, 0 } } },
    { "checks",
      "storage checks of this season",
      7,
      { { "lot", T, 0 },
        { "checked_on", D, 0 },
        { "stage", T, 0 },
        { "inspected", I, 0 },
        { "rotten", I, 0 },
        { "shrivelled", I, 0 },
        { "why", T, 0 } } },
    { "counts",
      "stock-takes",
      6,
      { { "lot", T, 0 },
        { "counted_on", D, 0 },
        { "stage", T, 0 },
        { "count", I, 0 },
        { "place", T, 0 },
        { "looked", I, 0 } } },
    { "orders",
      "order lines with their order's own columns",
      20,
      { { "order", T, 0 },    { "received_at", A, 0 }, { "line", I, 0 },        { "variety", T, 0 },
        { "quantity", I, 0 }, { "unit_price", M, 0 },  { "channel", T, 0 },     { "tier", T, 0 },
        { "customer", T, 0 }, { "email", T, 0 },       { "postcode", T, 0 },    { "country", T, 0 },
        { "region", T, 0 },   { "zone", T, 0 },        { "wish_week", W, 0 },   { "ship_complete", B, 0 },
        { "consent", T, 0 },  { "named", T, 0 },       { "all_or_none", B, 0 }, { "assortment", T, 0 } } },
    { "stock",
      "what lies where now",
      6,
      { { "lot", T, 0 },
        { "variety", T, 0 },
        { "place", T, 0 },
        { "room", T, 0 },
        { "clumps", I, 0 },
        { "divisions", I, 0 } } },
    { "ledger",
      "every movement of stock",
      14,
      { { "id", I, 0 },
        { "at", A, 0 },
        { "day", D, 0 },
        { "actor", T, 0 },
        { "lot", T, 0 },
        { "variety", T, 0 },
        { "place", T, 0 },
        { "clumps", I, 0 },
        { "divisions", I, 0 },
        { "reason", T, 0 },
        { "cause", T, 0 },
        { "cause_id", I, 0 },
        { "reverses", I, 0 },
        { "note", T, 0 } } },
    { "projection", "sound divisions on the shipping day, per variety", 0, { { 0 } } },
    { "plan", "catalogue quantities at the set confidence", 0, { { 0 } } },
    { "offers",
      "what is offered and sold",
      5,
      { { "variety", T, 0 },
        { "released", B, 0 },
        { "offered", I, 0 },
        { "sold", I, 0 },
        { "beyond", I, 0 } } },
    { "releases",
      "every release",
      8,
      { { "variety", T, 0 },
        { "at", A, 0 },
        { "actor", T, 0 },
        { "before", I, 0 },
        { "offered", I, 0 },
        { "confidence", R, 4 },
        { "p_short", R, 4 },
        { "why", T, 0 } } },
    { "oversells",
      "sales allowed beyond the offer",
      5,
      { { "variety", T, 0 }, { "at", A, 0 }, { "actor", T, 0 }, { "quantity", I, 0 }, { "why", T, 0 } } },
    { "allocations",
      "firm promises",
      9,
      { { "variety", T, 0 },
        { "order", T, 0 },
        { "line", I, 0 },
        { "kind", T, 0 },
        { "quantity", I, 0 },
        { "allocated", I, 0 },
        { "rule", T, 0 },
        { "at", A, 0 },
        { "actor", T, 0 } } },
    { "events",
      "what changed in orders",
      8,
      { { "order", T, 0 },
        { "line", I, 0 },
        { "at", A, 0 },
        { "actor", T, 0 },
        { "kind", T, 0 },
        { "before", T, 0 },
        { "after", T, 0 },
        { "note", T, 0 } } },
    { "weeks",
      "ship weeks of orders",
      7,
      { { "order", T, 0 },
        { "customer", T, 0 },
        { "zone", T, 0 },
        { "wish_week", W, 0 },
        { "ship_week", W, 0 },
        { "pinned", B, 0 },
        { "state", T, 0 } } },
    { "parcels",
      "parcels of waves",
      9,
      { { "week", W, 0 },
        { "wave", I, 0 },
        { "slot", I, 0 },
        { "order", T, 0 },
        { "state", T, 0 },
        { "weight_g", I, 0 },
        { "shipped_on", D, 0 },
        { "carrier", T, 0 },
        { "tracking", T, 0 } } },
    { "picks",
      "what was pulled, and what was short",
      13,
      { { "wave", I, 0 },
        { "stop", I, 0 },
        { "place", T, 0 },
        { "lot", T, 0 },
        { "variety", T, 0 },
        { "order", T, 0 },
        { "line", I, 0 },
        { "quantity", I, 0 },
        { "state", T, 0 },
        { "taken", I, 0 },
        { "short_reason", T, 0 },
        { "answered_at", A, 0 },
        { "answered_by", T, 0 } } },
    { "notices",
      "what buyers must be told",
      10,
      { { "order", T, 0 },
        { "line", I, 0 },
        { "kind", T, 0 },
        { "made_at", A, 0 },
        { "due_on", D, 0 },
        { "state", T, 0 },
        { "amount", M, 0 },
        { "done_at", A, 0 },
        { "actor", T, 0 },
        { "evidence", T, 0 } } },
    { "claims",
      "guarantee claims",
      9,
      { { "order", T, 0 },
        { "line", I, 0 },
        { "quantity", I, 0 },
        { "at", A, 0 },
        { "actor", T, 0 },
        { "why", T, 0 },
        { "answer", T, 0 },
        { "lot", T, 0 },
        { "amount", M, 0 } } },
    { "sources",
      "files that were taken in",
      6,
      { { "kind", T, 0 },
        { "name", T, 0 },
        { "rows", I, 0 },
        { "actor", T, 0 },
        { "at", A, 0 },
        { "digest", T, 0 } } },
    { "audit",
      "who did what",
      8,
      { { "id", I, 0 },
        { "at", A, 0 },
        { "actor", T, 0 },
        { "action", T, 0 },
        { "subject", T, 0 },
        { "before", T, 0 },
        { "after", T, 0 },
        { "hash", T, 0 } } },
};

const size_t cw_export_count = sizeof cw_exports / sizeof cw_exports[0];

bool cw_exporting_loads_again(const char *name)
{
    for (size_t i = 0; i < cw_export_count; i++) {
        if (strcmp(cw_exports[i].name, name) == 0)
            return true;
        if (strcmp(cw_exports[i].name, "orders") == 0)
            return false;
    }
    return false;
}

static const cw_column exporting_list_columns[] = { { "table", T }, { "about", T } };
const cw_shape cw_exporting_list_shape = CW_ROWS(exporting_list_columns);

cw_code cw_exporting_list(cw_table *out, cw_error *err)
{
    cw_table_init(out, exporting_list_columns, 2);
    for (size_t i = 0; i < cw_export_count; i++) {
        cw_put_text(out, cw_exports[i].name);
        cw_put_text(out, cw_exports[i].about);
    }
    return cw_table_check(out, err);
}

static cw_code computed(cw_nursery *n, const cw_asker *who, const char *name, cw_table *out, cw_error *err)
{
    if (strcmp(name, "plan") == 0) {
        cw_offering_ask ask = { .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY };
        return cw_offering_plan(n, who, &ask, out, err);
    }
    cw_forecast_ask ask = { .ship = CW_NO_DAY, .as_of = CW_NO_DAY };
    cw_text notes = CW_TEXT((size_t)1 << 20);
    cw_code code = cw_forecast_project(n, who, &ask, out, &notes, err);
    cw_text_free(&notes);
    return code;
}

static const char *statement_of(const cw_export *e, char name[64])
{
    snprintf(name, 64, "exporting.%s", e->name);
    return name;
}

cw_code cw_exporting_one(cw_nursery *n, const cw_asker *who, const cw_export *e, cw_table *out, cw_error *err)
{
    char name[64];
    if (e->width == 0)
        return computed(n, who, e->name, out, err);
    cw_table_init(out, e->columns, e->width);
    return cw_rows_fill(n->db, statement_of(e, name), out, err, "");
}

static cw_code find_export(const char *name, const cw_export **out, cw_error *err)
{
    char shown[80];
    for (size_t i = 0; i < cw_export_count; i++) {
        *out = &cw_exports[i];
        if (strcmp(cw_exports[i].name, name) == 0)
            return CW_OK;
    }
    return cw_error_set(err, CW_NOT_FOUND, "there is no table to write out by the name %s",
                        cw_shown(name, strlen(name), shown));
}

cw_code cw_exporting_table(cw_nursery *n, const cw_asker *who, const char *name, cw_table *out, cw_error *err)
{
    const cw_export *e = NULL;
    cw_code code = find_export(name, &e, err);
    return code == CW_OK ? cw_exporting_one(n, who, e, out, err) : code;
}

cw_code cw_exporting_write(cw_nursery *n, const cw_asker *who, const char *name, cw_format format, cw_sink to,
                           cw_error *err)
{
    const cw_export *e = NULL;
    cw_table t = { 0 };
    cw_writer w = cw_writer_new(format, to);
    cw_code code = find_export(name, &e, err);
    if (code == CW_OK && e->width == 0) {
        code = computed(n, who, name, &t, err);
        if (code == CW_OK)
            code = cw_writer_rows(&w, &t, err);
    } else if (code == CW_OK) {
        char statement[64];
        cw_table_init(&t, e->columns, e->width);
        code = cw_rows_write(n->db, statement_of(e, statement), &t, &w, err);
    }
    if (code == CW_OK)
        code = cw_writer_end(&w, err);
    cw_writer_free(&w);
    cw_table_free(&t);
    return code;
}

static const cw_column exporting_audit_columns[] = { { "id", I },
                                                     { "at", A },
                                                     { "actor", T },
                                                     { "action", T },
                                                     { "subject", T },
                                                     { "before", T, .null = true },
                                                     { "after", T, .null = true } };
const cw_shape cw_exporting_audit_shape = CW_ROWS(exporting_audit_columns);

cw_code cw_exporting_audit(cw_nursery *n, int64_t before, int64_t most, cw_table *out, cw_error *err)
{
    cw_table_init(out, exporting_audit_columns, CW_WIDTH(exporting_audit_columns));
    return cw_rows_fill(n->db, "exporting.audit_page", out, err, "ii", before > 0 ? before : INT64_MAX, most);
}

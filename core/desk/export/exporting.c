/* SPDX-License-Identifier: MIT */
#include "desk/export/exporting.h"

#include "desk/export/exporting_inside.h"
#include "desk/forecast/forecast.h"
#include "desk/nursery/kinds.h"
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

/* How many, and which. */
#define COLUMNS(...)                                                                                         \
    CW_WIDTH(((const cw_column[]){ __VA_ARGS__ })), (const cw_column[])                                      \
    {                                                                                                        \
        __VA_ARGS__                                                                                          \
    }

/* What is no CSV kind: the statement "exporting.<name>", except the two that are computed. */
static const cw_export others[] = {
    { "stock", "what lies where now",
      COLUMNS({ "lot", T }, { "variety", T }, { "place", T }, { "room", T }, { "clumps", I },
              { "divisions", I }) },
    { "ledger", "every movement of stock",
      COLUMNS({ "id", I }, { "at", A }, { "day", D }, { "actor", T }, { "lot", T }, { "variety", T },
              { "place", T }, { "clumps", I }, { "divisions", I }, { "reason", T }, { "cause", T },
              { "cause_id", I }, { "reverses", I }, { "note", T }) },
    { "projection", "sound divisions on the shipping day, per variety", 0, NULL },
    { "plan", "catalogue quantities at the set confidence", 0, NULL },
    { "offers", "what is offered and sold",
      COLUMNS({ "variety", T }, { "released", B }, { "offered", I }, { "sold", I }, { "beyond", I }) },
    { "releases", "every release",
      COLUMNS({ "variety", T }, { "at", A }, { "actor", T }, { "before", I }, { "offered", I },
              { "confidence", R, 4 }, { "p_short", R, 4 }, { "why", T }) },
    { "oversells", "sales allowed beyond the offer",
      COLUMNS({ "variety", T }, { "at", A }, { "actor", T }, { "quantity", I }, { "why", T }) },
    { "allocations", "firm promises",
      COLUMNS({ "variety", T }, { "order", T }, { "line", I }, { "kind", T }, { "quantity", I },
              { "allocated", I }, { "rule", T }, { "at", A }, { "actor", T }) },
    { "events", "what changed in orders",
      COLUMNS({ "order", T }, { "line", I }, { "at", A }, { "actor", T }, { "kind", T }, { "before", T },
              { "after", T }, { "note", T }) },
    { "weeks", "ship weeks of orders",
      COLUMNS({ "order", T }, { "customer", T }, { "zone", T }, { "wish_week", W }, { "ship_week", W },
              { "pinned", B }, { "state", T }) },
    { "parcels", "parcels of waves",
      COLUMNS({ "week", W }, { "wave", I }, { "slot", I }, { "order", T }, { "state", T }, { "weight_g", I },
              { "shipped_on", D }, { "carrier", T }, { "tracking", T }, { "more_tracking", T }) },
    { "picks", "what was pulled, and what was short",
      COLUMNS({ "wave", I }, { "stop", I }, { "place", T }, { "lot", T }, { "variety", T }, { "order", T },
              { "line", I }, { "quantity", I }, { "state", T }, { "taken", I }, { "short_reason", T },
              { "answered_at", A }, { "answered_by", T }) },
    { "notices", "what buyers must be told",
      COLUMNS({ "order", T }, { "line", I }, { "kind", T }, { "made_at", A }, { "due_on", D }, { "state", T },
              { "amount", M }, { "done_at", A }, { "actor", T }, { "evidence", T }) },
    { "claims", "guarantee claims",
      COLUMNS({ "order", T }, { "line", I }, { "quantity", I }, { "at", A }, { "actor", T }, { "why", T },
              { "answer", T }, { "lot", T }, { "amount", M }) },
    { "sources", "files that were taken in",
      COLUMNS({ "kind", T }, { "name", T }, { "rows", I }, { "actor", T }, { "at", A }, { "digest", T }) },
    { "audit", "who did what",
      COLUMNS({ "id", I }, { "at", A }, { "actor", T }, { "action", T }, { "subject", T }, { "before", T },
              { "after", T }, { "hash", T }) },
};

size_t cw_export_count(void)
{
    return CW_KINDS + CW_WIDTH(others);
}

cw_export cw_export_at(size_t i)
{
    if (i >= CW_KINDS)
        return others[i - CW_KINDS];
    const cw_kind *k = &cw_kinds[i];
    return (cw_export){ k->name, k->about, k->kept, k->cells };
}

bool cw_exporting_loads_again(const char *name)
{
    return cw_kind_named(name) >= 0;
}

static const cw_column exporting_list_columns[] = { { "table", T }, { "about", T } };
const cw_shape cw_exporting_list_shape = CW_ROWS(exporting_list_columns);

cw_code cw_exporting_list(cw_table *out, cw_error *err)
{
    cw_table_init(out, exporting_list_columns, 2);
    for (size_t i = 0; i < cw_export_count(); i++) {
        cw_export e = cw_export_at(i);
        cw_put_text(out, e.name);
        cw_put_text(out, e.about);
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
    snprintf(name, 64, cw_kind_named(e->name) >= 0 ? "kinds.list_%s" : "exporting.%s", e->name);
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

static cw_code find_export(const char *name, cw_export *out, cw_error *err)
{
    char shown[80];
    for (size_t i = 0; i < cw_export_count(); i++) {
        *out = cw_export_at(i);
        if (strcmp(out->name, name) == 0)
            return CW_OK;
    }
    return cw_error_set(err, CW_NOT_FOUND, "there is no table to write out by the name %s",
                        cw_shown(name, strlen(name), shown));
}

cw_code cw_exporting_table(cw_nursery *n, const cw_asker *who, const char *name, cw_table *out, cw_error *err)
{
    cw_export e = { 0 };
    cw_code code = find_export(name, &e, err);
    return code == CW_OK ? cw_exporting_one(n, who, &e, out, err) : code;
}

cw_code cw_exporting_write(cw_nursery *n, const cw_asker *who, const char *name, cw_format format, cw_sink to,
                           cw_error *err)
{
    cw_export e = { 0 };
    cw_table t = { 0 };
    cw_writer w = cw_writer_new(format, to);
    cw_code code = find_export(name, &e, err);
    if (code == CW_OK && e.width == 0) {
        code = computed(n, who, name, &t, err);
        if (code == CW_OK)
            code = cw_writer_rows(&w, &t, err);
    } else if (code == CW_OK) {
        char statement[64];
        code = cw_writer_begin(&w, e.columns, e.width, err);
        if (code == CW_OK && cw_kind_named(e.name) == CW_ORDERS)
            code = cw_rows_write_shared(n->db, "kinds.list_orders_own", "kinds.list_orders_lines", &w, err);
        else if (code == CW_OK)
            code = cw_rows_write(n->db, statement_of(&e, statement), &w, err);
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

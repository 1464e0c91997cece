/* SPDX-License-Identifier: MIT */
#include "desk/stock/lineage_inside.h"

#include "desk/stock/tracing.h"
#include "store/tracing.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static const cw_column node_columns[] = {
    { "node", CW_INT_T },
    { "under", CW_INT_T, .null = true, .says = "the node that it descends from" },
    { "season", CW_INT_T },
    { "kind", CW_TEXT_T, .words = "lot|planting|variety" },
    { "way", CW_TEXT_T, .words = "asked|from|came",
      .says = "asked for; what that came from; what came of it" },
    { "code", CW_TEXT_T, .null = true, .says = "of a lot" },
    { "row", CW_TEXT_T, .null = true },
    { "variety", CW_TEXT_T, .says = "its code in that season's file" },
    { "name", CW_TEXT_T },
    { "was", CW_TEXT_T, .null = true, .says = "the variety that a lot was taken for first" },
    { "day", CW_DAY_T, .null = true, .says = "on which it was dug, or planted" },
    { "quantity", CW_INT_T, .null = true, .says = "clumps dug, or plants set out" },
    { "sent", CW_INT_T, .null = true, .says = "divisions that buyers got" },
    { "sure", CW_BOOL_T, .says = "somebody wrote it down; else only the variety is the same" },
    { "held", CW_TEXT_T, .null = true, .says = "why a lot is held" },
    { "file", CW_TEXT_T, .null = true, .says = "null: that season's file is not beside" },
};
const cw_shape cw_lineage_tree_shape = CW_ROWS(node_columns),
               cw_lineage_buyers_shape = { .of = &cw_trace_years_shape };

static void put_count(cw_table *t, int64_t count)
{
    if (count < 0)
        cw_put_null(t);
    else
        cw_put_int(t, count);
}

static void put_node(const cw_family *f, const cw_relative *r, int64_t number, int64_t under, cw_table *t)
{
    static const char *const kinds[] = { "lot", "planting", "variety" }, *const ways[] = { "asked", "from",
                                                                                           "came" };
    bool known = r->is.day != CW_NO_DAY;
    cw_put_int(t, number);
    put_count(t, under);
    cw_put_int(t, r->season);
    cw_put_text(t, kinds[r->kind]);
    cw_put_text(t, ways[r->way]);
    cw_put_text(t, r->is.code);
    cw_put_text(t, r->is.row);
    cw_put_text(t, r->is.variety);
    cw_put_text(t, r->is.name);
    cw_put_text(t, r->is.was);
    cw_put_int(t, r->is.day);
    put_count(t, r->is.quantity);
    put_count(t, known && r->kind == CW_KIN_LOT ? r->is.sent : -1);
    cw_put_bool(t, r->sure);
    cw_put_text(t, r->is.held);
    cw_put_text(t, r->file == SIZE_MAX ? "" : cw_past_file_name(cw_past_at(f->n, r->file)));
}

/* In the order of a tree drawn downwards: whoever comes next under `under`, then what is under that. */
static void put_below(const cw_family *f, size_t under, int64_t under_number, cw_table *t)
{
    for (size_t i = 0; i < f->count; i++) {
        if (f->of[i].under != under)
            continue;
        int64_t number = (int64_t)cw_table_rows(t) + 1;
        put_node(f, &f->of[i], number, under_number, t);
        put_below(f, i, number, t);
    }
}

static cw_code tell_tree(const cw_family *f, cw_table *out, cw_error *err)
{
    cw_table_init(out, node_columns, CW_WIDTH(node_columns));
    put_below(f, SIZE_MAX, -1, out);
    return cw_table_check(out, err);
}

cw_code cw_lineage_tree(cw_nursery *n, const cw_asker *who, const cw_lineage_ask *ask, cw_table *out,
                        cw_error *err)
{
    cw_family f = { 0 };
    (void)who;
    cw_table_init(out, node_columns, CW_WIDTH(node_columns));
    cw_code code = cw_family_find(n, ask, &f, err);
    if (code == CW_OK)
        code = tell_tree(&f, out, err);
    cw_family_free(&f);
    return code;
}

/* One lot's buyers, as its own file knows them. */
static cw_code put_buyers(const cw_family *f, const cw_relative *r, const cw_asker *who, cw_table *out,
                          cw_error *err)
{
    cw_table of = { 0 };
    cw_code code = cw_tracing_lot(cw_past_at(f->n, r->file), who, r->is.code, &of, err);
    for (size_t row = 0; code == CW_OK && row < cw_table_rows(&of); row++) {
        cw_put_int(out, r->season);
        cw_put_bool(out, r->sure);
        for (size_t c = 0; c < of.width; c++) {
            if (cw_table_cell(&of, row, c)->null)
                cw_put_null(out);
            else if (of.columns[c].type == CW_TEXT_T)
                cw_put_text(out, cw_table_text(&of, row, c));
            else
                cw_put_int(out, cw_table_int(&of, row, c));
        }
    }
    cw_table_free(&of);
    return code;
}

static cw_code tell_buyers(const cw_family *f, const cw_asker *who, cw_table *out, cw_error *err)
{
    cw_table_init(out, cw_trace_years_shape.columns, cw_trace_years_shape.width);
    cw_code code = CW_OK;
    for (size_t i = 0; code == CW_OK && i < f->count; i++)
        if (f->of[i].kind == CW_KIN_LOT && f->of[i].way != CW_KIN_FROM)
            code = put_buyers(f, &f->of[i], who, out, err);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

cw_code cw_lineage_buyers(cw_nursery *n, const cw_asker *who, const cw_lineage_ask *ask, cw_table *out,
                          cw_error *err)
{
    cw_family f = { 0 };
    cw_table_init(out, cw_trace_years_shape.columns, cw_trace_years_shape.width);
    cw_code code = cw_family_find(n, ask, &f, err);
    if (code == CW_OK)
        code = tell_buyers(&f, who, out, err);
    cw_family_free(&f);
    return code;
}

const cw_shape cw_lineage_told_shape = { .parts = (const cw_part[]){
                                             { "files", .shape = &cw_past_files_shape },
                                             { "nodes", .shape = &cw_lineage_tree_shape },
                                             { "buyers", .shape = &cw_lineage_buyers_shape },
                                             { 0 },
                                         } };

cw_code cw_lineage_told(cw_nursery *n, const cw_asker *who, const cw_lineage_ask *ask, json_t **out,
                        cw_error *err)
{
    cw_family f = { 0 };
    cw_table files = { 0 }, nodes = { 0 }, buyers = { 0 };
    *out = NULL;
    cw_code code = cw_family_find(n, ask, &f, err);
    if (code == CW_OK)
        code = cw_past_files(n, &files, err);
    if (code == CW_OK)
        code = tell_tree(&f, &nodes, err);
    if (code == CW_OK)
        code = tell_buyers(&f, who, &buyers, err);
    if (code == CW_OK) {
        *out = json_pack("{s:o,s:o,s:o}", "files", cw_table_to_json(&files), "nodes",
                         cw_table_to_json(&nodes), "buyers", cw_table_to_json(&buyers));
        code = *out ? CW_OK : cw_error_memory(err);
    }
    cw_table_free(&files);
    cw_table_free(&nodes);
    cw_table_free(&buyers);
    cw_family_free(&f);
    return code;
}

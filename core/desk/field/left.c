/* SPDX-License-Identifier: MIT */
#include "desk/field/left.h"

#include "base/limits.h"
#include "desk/intake/intake_inside.h"
#include "desk/stock/stock_inside.h"
#include "store/audit.h"
#include "store/field.h"
#include "store/rows.h"
#include "store/season.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

#define WIDTH(columns) (columns), CW_WIDTH(columns)

static const cw_column list_columns[] = {
    { "lot", CW_TEXT_T },
    { "variety", CW_TEXT_T },
    { "name", CW_TEXT_T },
    { "places", CW_TEXT_T, .null = true },
    { "clumps", CW_INT_T },
    { "divisions", CW_INT_T },
    { "held", CW_TEXT_T, .null = true },
    { "hold_back", CW_INT_T, .says = "of the variety" },
    { "planted", CW_INT_T, .says = "of the variety, this season" },
    { "to_beds", CW_INT_T, .says = "the lot's part of what is still to be planted of the hold-back" },
};
const cw_shape cw_left_list_shape = CW_ROWS(list_columns);

cw_code cw_left_list(cw_nursery *n, cw_table *out, cw_error *err)
{
    cw_table_init(out, WIDTH(list_columns));
    return cw_rows_fill(n->db, "field.left", out, err, "");
}

static const cw_column planted_columns[] = {
    { "row", CW_TEXT_T, .null = true },
    { "variety", CW_TEXT_T },
    { "name", CW_TEXT_T },
    { "plants", CW_INT_T },
    { "planted_on", CW_DAY_T },
    { "lot", CW_TEXT_T, .null = true },
    { "entry", CW_INT_T },
};
const cw_shape cw_left_planted_shape = CW_ROWS(planted_columns);

cw_code cw_left_planted(cw_nursery *n, cw_table *out, cw_error *err)
{
    cw_table_init(out, WIDTH(planted_columns));
    return cw_rows_fill(n->db, "field.planted_out", out, err, "");
}

static const cw_column entered_columns[] = {
    { "lots", CW_INT_T },           { "planted", CW_INT_T },
    { "discarded", CW_INT_T },      { "clumps_discarded", CW_INT_T },
    { "divisions_left", CW_INT_T }, { "clumps_left", CW_INT_T },
};
const cw_shape cw_left_entered_shape = CW_ROWS(entered_columns);

/* Divisions of a lot go to the beds: the ledger's entry, and what stands in the row from then on. */
static cw_code plant_out(cw_nursery *n, const cw_asker *who, const cw_event *at, const cw_left_item *item,
                         cw_error *err)
{
    bool there = false;
    int64_t entry = 0;
    const char *row = item->row && item->row[0] ? item->row : NULL;
    if (row && strlen(row) > CW_MAX_CODE)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "row", "must be at most %d bytes", CW_MAX_CODE);
    cw_code code = row ? cw_field_goes_to_row(n->db, row, at->lot, &there, err) : CW_OK;
    if (code == CW_OK && there)
        code = cw_error_at(
            err, CW_CONFLICT, NULL, 0, "row",
            "row %.32s gets another lot of this variety; give the stretch its own name, as %.24s-b", row,
            row);
    if (code == CW_OK)
        code = cw_stock_enter(n, who, at, "planted", 0, item->planted, NULL, &entry, err);
    return code == CW_OK ? cw_field_plant_out(n->db, at->lot, row, item->planted, at->day, entry, err) : code;
}

static cw_code enter_one(cw_nursery *n, const cw_asker *who, cw_codes *codes, cw_day day,
                         const cw_left_item *item, cw_error *err)
{
    int64_t lot = -1, id = 0;
    char words[120], subject[CW_MAX_CODE + 8];
    cw_code code = cw_codes_lot(codes, item->lot, strlen(item->lot), &lot, err);
    if (code == CW_OK && lot < 0)
        return cw_error_at(err, CW_NOT_FOUND, NULL, 0, "lot", "there is no such lot");
    if (code != CW_OK)
        return code;
    const cw_event at = { codes->lot[lot].id, day, CW_ANY_PLACE, NULL };
    if (day < codes->lot[lot].dug_on)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "day", "lies before the lot was dug");
    if (item->planted > 0)
        code = plant_out(n, who, &at, item, err);
    if (code == CW_OK && item->discarded + item->clumps_discarded > 0)
        code = cw_stock_enter(n, who, &at, "discarded", item->clumps_discarded, item->discarded,
                              "left over at the season's end", &id, err);
    snprintf(subject, sizeof subject, "lot %.32s", item->lot);
    snprintf(words, sizeof words, "planted %lld in row %.32s, discarded %lld, of clumps %lld",
             (long long)item->planted, item->row ? item->row : "", (long long)item->discarded,
             (long long)item->clumps_discarded);
    return code == CW_OK
               ? cw_audit_add(n->db, who->now, who->actor, "season's end", subject, NULL, words, err)
               : code;
}

static cw_code enter_all(cw_nursery *n, const cw_asker *who, cw_day day, const cw_left_item *items,
                         size_t count, cw_error *err)
{
    cw_codes codes = { .db = n->db };
    cw_code code = CW_OK;
    for (size_t i = 0; i < count && code == CW_OK; i++) {
        cw_error why = CW_ERROR_NONE;
        code = enter_one(n, who, &codes, day, &items[i], &why);
        if (code != CW_OK)
            code = cw_error_at(err, code, NULL, (long)i + 1, why.column, "lot %.32s: %.600s", items[i].lot,
                               why.text);
    }
    cw_codes_free(&codes);
    return code == CW_OK ? cw_season_touch(n->db, true, false, err) : code;
}

/* What the whole nursery has left then. */
static cw_code put_totals(cw_nursery *n, const cw_left_item *items, size_t count, cw_table *out,
                          cw_error *err)
{
    int64_t sum[6] = { (int64_t)count };
    cw_table left;
    for (size_t i = 0; i < count; i++) {
        sum[1] += items[i].planted;
        sum[2] += items[i].discarded;
        sum[3] += items[i].clumps_discarded;
    }
    cw_code code = cw_left_list(n, &left, err);
    for (size_t r = 0; code == CW_OK && r < cw_table_rows(&left); r++) {
        sum[4] += cw_table_int(&left, r, 5);
        sum[5] += cw_table_int(&left, r, 4);
    }
    cw_table_free(&left);
    for (int i = 0; i < 6; i++)
        cw_put_int(out, sum[i]);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

cw_code cw_left_enter(cw_nursery *n, const cw_asker *who, cw_day day, const cw_left_item *items, size_t count,
                      cw_table *out, cw_error *err)
{
    cw_table_init(out, WIDTH(entered_columns));
    day = day == CW_NO_DAY ? who->today : day;
    if (day > who->today)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "day", "must not lie after today");
    for (size_t i = 0; i < count; i++)
        if (items[i].planted + items[i].discarded + items[i].clumps_discarded <= 0)
            return cw_error_at(err, CW_REFUSED, NULL, (long)i + 1, "lot", "lot %.32s: nothing is said of it",
                               items[i].lot);
    cw_code code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = enter_all(n, who, day, items, count, err);
    if (code == CW_OK)
        code = put_totals(n, items, count, out, err);
    return cw_work_end(n, code, err);
}

/* SPDX-License-Identifier: MIT */
#include "desk/pack/paper.h"

#include <string.h>

#include "base/text.h"
#include "desk/pick/picking_inside.h"
#include "store/notices.h"
#include "store/rows.h"

#include "base/banned.h"

static cw_code exists(cw_nursery *n, int64_t wave, cw_error *err)
{
    cw_wave_row row;
    return cw_waves_one(n->db, wave, &row, err);
}

static const cw_column tag_columns[] = {
    { "lot", CW_TEXT_T },
    { "variety", CW_TEXT_T },
    { "name", CW_TEXT_T },
    { "form", CW_TEXT_T, .null = true },
    { "size", CW_TEXT_T, .null = true },
    { "colour", CW_TEXT_T, .null = true },
    { "row", CW_TEXT_T, .null = true },
    { "place", CW_TEXT_T, .null = true },
    { "room", CW_TEXT_T, .null = true },
    { "divisions", CW_INT_T },
    { "clumps", CW_INT_T },
    { "held", CW_TEXT_T, .null = true },
    { "scan", CW_TEXT_T },
    { "cut_on", CW_DAY_T, .null = true }, /* of a session's tags only */
};
#define CRATE_TAG (CW_WIDTH(tag_columns) - 1)

cw_code cw_paper_tags(cw_nursery *n, int64_t wave, const char *const *lots, size_t count, cw_table *out,
                      cw_error *err)
{
    char shown[80];
    const int64_t *of = wave ? &wave : NULL;
    cw_table_init(out, tag_columns, CRATE_TAG);
    cw_code code = wave ? exists(n, wave, err) : CW_OK;
    if (code == CW_OK && count == 0)
        code = cw_rows_fill(n->db, "waves.tags", out, err, "It", of, NULL);
    for (size_t i = 0; i < count && code == CW_OK; i++) {
        size_t before = cw_table_rows(out);
        code = cw_rows_fill(n->db, "waves.tags", out, err, "It", of, lots[i]);
        if (code == CW_OK && cw_table_rows(out) == before)
            code = cw_error_at(err, CW_NOT_FOUND, NULL, 0, "lots", "there is no lot %s in store",
                               cw_shown(lots[i], strlen(lots[i]), shown));
    }
    return code;
}

cw_code cw_paper_cut_tags(cw_nursery *n, cw_day cut_on, const char *const *lots, size_t count, cw_table *out,
                          cw_error *err)
{
    char shown[80], day[11];
    cw_table_init(out, tag_columns, CW_WIDTH(tag_columns));
    if (count == 0)
        return cw_rows_fill(n->db, "waves.cut_tags", out, err, "it", (int64_t)cut_on, NULL);
    cw_code code = CW_OK;
    for (size_t i = 0; i < count && code == CW_OK; i++) {
        size_t before = cw_table_rows(out);
        code = cw_rows_fill(n->db, "waves.cut_tags", out, err, "it", (int64_t)cut_on, lots[i]);
        cw_day_format(cut_on, day);
        if (code == CW_OK && cw_table_rows(out) == before)
            code = cw_error_at(err, CW_NOT_FOUND, NULL, 0, "lots", "nothing was cut of lot %s on %s",
                               cw_shown(lots[i], strlen(lots[i]), shown), day);
    }
    return code;
}

typedef struct walk_paper {
    cw_table *out;
    cw_week week;
} walk_paper;

static void put_walk(void *context, const cw_walk_row *r)
{
    const walk_paper *p = context;
    cw_table *out = p->out;
    if (r->frost && r->state[0] == 'o')
        return; /* a frost hold keeps its parcel: nobody is sent there */
    cw_put_int(out, r->stop);
    cw_put_text(out, r->room);
    cw_put_text(out, r->place);
    cw_put_text(out, r->lot);
    cw_put_text(out, r->variety);
    cw_put_text(out, r->name);
    cw_put_text(out, r->form);
    cw_put_text(out, r->colour);
    cw_put_int(out, r->quantity);
    cw_put_text(out, r->order);
    cw_put_int(out, r->line);
    cw_put_int(out, r->slot);
    cw_put_text(out, r->state);
    cw_put_int(out, r->taken);
    cw_put_text(out, r->reason);
    cw_put_text(out, r->held);
    cw_put_text(out, r->taken_by);
    cw_put_int(out, p->week);
}

cw_code cw_paper_walk(cw_nursery *n, const cw_asker *who, int64_t wave, cw_table *out, cw_error *err)
{
    static const cw_column columns[] = {
        { "stop", CW_INT_T },
        { "room", CW_TEXT_T, .null = true },
        { "place", CW_TEXT_T, .null = true },
        { "lot", CW_TEXT_T },
        { "variety", CW_TEXT_T },
        { "name", CW_TEXT_T },
        { "form", CW_TEXT_T, .null = true },
        { "colour", CW_TEXT_T, .null = true },
        { "quantity", CW_INT_T },
        { "order", CW_TEXT_T },
        { "line", CW_INT_T },
        { "slot", CW_INT_T },
        { "state", CW_TEXT_T },
        { "taken", CW_INT_T },
        { "reason", CW_TEXT_T, .null = true },
        { "held", CW_TEXT_T, .null = true },
        { "taken_by", CW_TEXT_T, .null = true },
        { "week", CW_WEEK_T },
    };
    cw_wave_row row = { .week = 0 };
    cw_table_init(out, columns, CW_WIDTH(columns));
    cw_code code = cw_waves_one(n->db, wave, &row, err);
    walk_paper paper = { out, row.week };
    if (code == CW_OK)
        code = cw_waves_walk(n->db, wave, cw_week_of(who->today), put_walk, &paper, err);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

cw_code cw_paper_slips(cw_nursery *n, int64_t wave, bool by_walk, cw_table *out, cw_error *err)
{
    static const cw_column columns[] = {
        { "parcel", CW_INT_T },
        { "slot", CW_INT_T },
        { "state", CW_TEXT_T },
        { "order", CW_TEXT_T },
        { "customer", CW_TEXT_T, .null = true },
        { "name2", CW_TEXT_T, .null = true },
        { "street", CW_TEXT_T, .null = true },
        { "town", CW_TEXT_T, .null = true },
        { "postcode", CW_TEXT_T, .null = true },
        { "country", CW_TEXT_T, .null = true },
        { "region", CW_TEXT_T, .null = true },
        { "language", CW_TEXT_T, .null = true },
        { "line", CW_INT_T },
        { "variety", CW_TEXT_T },
        { "name", CW_TEXT_T },
        { "quantity", CW_INT_T },
        { "lots", CW_TEXT_T },
        { "instead_of", CW_TEXT_T, .null = true },
        { "assortment", CW_TEXT_T, .null = true },
        { "slots", CW_TEXT_T, .null = true },
        { "joined", CW_TEXT_T, .null = true },
    };
    cw_table_init(out, columns, CW_WIDTH(columns));
    cw_code code = exists(n, wave, err);
    return code == CW_OK ? cw_rows_fill(n->db, "waves.slips", out, err, "it", wave, by_walk ? "walk" : NULL)
                         : code;
}

enum { REST_LINE_ID = 1, REST_FOLLOWS = 4, REST_WAITS, REST_REFUNDED };

/* The statement knows what is promised and what is not; what is given up for good, and what was cancelled, is taken off it here. */
static void take_lacking(void *context, const cw_lacking_line *r)
{
    cw_table *t = context;
    int64_t lacking = cw_lacking_short(r);
    for (size_t i = 0; i < cw_table_rows(t); i++) {
        cw_cell *row = &t->cells[i * t->width];
        if (row[REST_LINE_ID].v.i != r->line_id)
            continue;
        int64_t beyond = lacking > row[REST_WAITS].v.i ? lacking - row[REST_WAITS].v.i : 0;
        row[REST_WAITS].v.i -= lacking - beyond;
        row[REST_FOLLOWS].v.i -= beyond < row[REST_FOLLOWS].v.i ? beyond : row[REST_FOLLOWS].v.i;
        row[REST_REFUNDED].v.i = lacking + r->peak - r->asked;
    }
}

cw_code cw_paper_rest(cw_nursery *n, int64_t wave, cw_table *out, cw_error *err)
{
    static const cw_column columns[] = {
        { "parcel", CW_INT_T },
        [REST_LINE_ID] = { "line_id", CW_INT_T },
        { "line", CW_INT_T },
        { "name", CW_TEXT_T },
        [REST_FOLLOWS] = { "follows", CW_INT_T },
        [REST_WAITS] = { "waits", CW_INT_T },
        [REST_REFUNDED] = { "refunded", CW_INT_T },
    };
    cw_table_init(out, columns, CW_WIDTH(columns));
    cw_code code = exists(n, wave, err);
    if (code == CW_OK)
        code = cw_rows_fill(n->db, "waves.slip_rest", out, err, "i", wave);
    return code == CW_OK ? cw_notices_lines(n->db, take_lacking, out, err) : code;
}

cw_code cw_paper_labels(cw_nursery *n, int64_t wave, cw_table *out, cw_error *err)
{
    static const cw_column columns[] = {
        { "variety", CW_TEXT_T },
        { "name", CW_TEXT_T },
        { "form", CW_TEXT_T, .null = true },
        { "colour", CW_TEXT_T, .null = true },
        { "lot", CW_TEXT_T },
        { "quantity", CW_INT_T },
        { "scan", CW_TEXT_T },
        { "slot", CW_INT_T },
        { "order", CW_TEXT_T },
    };
    cw_table_init(out, columns, CW_WIDTH(columns));
    cw_code code = exists(n, wave, err);
    return code == CW_OK ? cw_rows_fill(n->db, "waves.labels", out, err, "i", wave) : code;
}

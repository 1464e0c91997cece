/* SPDX-License-Identifier: MIT */
#include "desk/ship/paper.h"

#include <stdio.h>
#include <string.h>

#include "base/text.h"
#include "desk/ship/picking_inside.h"

#include "base/banned.h"

static void put_text_or_null(cw_table *out, const char *s)
{
    cw_put_text(out, s && s[0] ? s : NULL);
}

/* "LOT PLACE" or "LOT VARIETY"; the lot alone when there is no more to say. */
static void put_scan(cw_table *out, const char *lot, const char *more)
{
    char scan[2 * CW_MAX_CODE + 2];
    snprintf(scan, sizeof scan, "%s%s%s", lot, more && more[0] ? " " : "", more ? more : "");
    cw_put_text(out, scan);
}

static void put_tag(void *context, cw_stmt *q)
{
    cw_table *out = context;
    for (int c = 0; c < 9; c++)
        put_text_or_null(out, cw_col_text(q, c));
    cw_put_int(out, cw_col_int(q, 9));
    cw_put_int(out, cw_col_int(q, 10));
    cw_put_text(out, cw_col_text(q, 11));
    put_scan(out, cw_col_text(q, 0), cw_col_text(q, 7));
}

static cw_code exists(cw_nursery *n, int64_t wave, cw_error *err)
{
    cw_wave_row row;
    return cw_waves_one(n->db, wave, &row, err);
}

cw_code cw_paper_tags(cw_nursery *n, int64_t wave, const char *const *lots, size_t count, cw_table *out,
                      cw_error *err)
{
    static const cw_column columns[] = {
        { "lot", CW_TEXT_T, 0 },      { "variety", CW_TEXT_T, 0 }, { "name", CW_TEXT_T, 0 },
        { "form", CW_TEXT_T, 0 },     { "size", CW_TEXT_T, 0 },    { "colour", CW_TEXT_T, 0 },
        { "row", CW_TEXT_T, 0 },      { "place", CW_TEXT_T, 0 },   { "room", CW_TEXT_T, 0 },
        { "divisions", CW_INT_T, 0 }, { "clumps", CW_INT_T, 0 },   { "held", CW_TEXT_T, 0 },
        { "scan", CW_TEXT_T, 0 },
    };
    char shown[80];
    cw_waves_by by = { .statement = "waves.tags", .id = wave ? &wave : NULL, .has_text = true };
    cw_table_init(out, columns, sizeof columns / sizeof columns[0]);
    cw_code code = wave ? exists(n, wave, err) : CW_OK;
    if (code == CW_OK && count == 0)
        code = cw_waves_each(n->db, &by, put_tag, out, err);
    for (size_t i = 0; i < count && code == CW_OK; i++) {
        size_t before = cw_table_rows(out);
        by.text = lots[i];
        code = cw_waves_each(n->db, &by, put_tag, out, err);
        if (code == CW_OK)
            code = cw_table_check(out, err); /* rows that had no memory are no proof that there are none */
        if (code == CW_OK && cw_table_rows(out) == before)
            code = cw_error_at(err, CW_NOT_FOUND, NULL, 0, "lots", "there is no lot %s in store",
                               cw_shown(lots[i], strlen(lots[i]), shown));
    }
    return code == CW_OK ? cw_table_check(out, err) : code;
}

static void put_walk(void *context, cw_stmt *q)
{
    cw_table *out = context;
    if (!cw_col_null(q, 23) && cw_col_text(q, 13)[0] == 'o')
        return; /* a frost hold keeps its parcel: nobody is sent there */
    cw_put_int(out, cw_col_int(q, 0));
    put_text_or_null(out, cw_col_text(q, 3));
    put_text_or_null(out, cw_col_text(q, 2));
    cw_put_text(out, cw_col_text(q, 6));
    cw_put_text(out, cw_col_text(q, 7));
    cw_put_text(out, cw_col_text(q, 8));
    cw_put_text(out, cw_col_text(q, 19));
    cw_put_text(out, cw_col_text(q, 21));
    cw_put_int(out, cw_col_int(q, 9));
    cw_put_text(out, cw_col_text(q, 10));
    cw_put_int(out, cw_col_int(q, 11));
    cw_put_int(out, cw_col_int(q, 12));
    cw_put_text(out, cw_col_text(q, 13));
    cw_put_int(out, cw_col_int(q, 14));
    cw_put_text(out, cw_col_text(q, 15));
    cw_put_text(out, cw_col_text(q, 16));
    cw_put_text(out, cw_col_text(q, 4));
}

/* `now`: this week, where the statement marks what a frost hold keeps; else 0. */
static cw_code each_of_wave(cw_nursery *n, const char *statement, int64_t wave, cw_week now,
                            cw_waves_take take, cw_table *out, cw_error *err)
{
    cw_code code = exists(n, wave, err);
    if (code == CW_OK)
        code = cw_waves_each(n->db, &(cw_waves_by){ .statement = statement, .id = &wave, .now = now }, take,
                             out, err);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

cw_code cw_paper_walk(cw_nursery *n, const cw_asker *who, int64_t wave, cw_table *out, cw_error *err)
{
    static const cw_column columns[] = {
        { "stop", CW_INT_T, 0 },   { "room", CW_TEXT_T, 0 },     { "place", CW_TEXT_T, 0 },
        { "lot", CW_TEXT_T, 0 },   { "variety", CW_TEXT_T, 0 },  { "name", CW_TEXT_T, 0 },
        { "form", CW_TEXT_T, 0 },  { "colour", CW_TEXT_T, 0 },   { "quantity", CW_INT_T, 0 },
        { "order", CW_TEXT_T, 0 }, { "line", CW_INT_T, 0 },      { "slot", CW_INT_T, 0 },
        { "state", CW_TEXT_T, 0 }, { "taken", CW_INT_T, 0 },     { "reason", CW_TEXT_T, 0 },
        { "held", CW_TEXT_T, 0 },  { "taken_by", CW_TEXT_T, 0 },
    };
    cw_table_init(out, columns, sizeof columns / sizeof columns[0]);
    return each_of_wave(n, "waves.rows", wave, cw_week_of(who->today), put_walk, out, err);
}

/* The later part is known only when a parcel's last row has been read: it is filled in afterwards. */
static void put_slip(void *context, cw_stmt *q)
{
    cw_table *out = context;
    cw_put_int(out, cw_col_int(q, 0));
    cw_put_int(out, cw_col_int(q, 1));
    for (int c = 2; c < 8; c++)
        put_text_or_null(out, cw_col_text(q, c));
    cw_put_int(out, cw_col_int(q, 8));
    cw_put_text(out, cw_col_text(q, 9));
    cw_put_text(out, cw_col_text(q, 10));
    cw_put_int(out, cw_col_int(q, 11));
    cw_put_text(out, cw_col_text(q, 12));
    cw_put_text(out, cw_col_text(q, 13));
    cw_put_text(out, cw_col_text(q, 14));
    cw_put_int(out, cw_col_int(q, 15) - cw_col_int(q, 16));
}

static void take_off_own(cw_table *t)
{
    int parcel = cw_table_column(t, "parcel"), quantity = cw_table_column(t, "quantity"),
        later = cw_table_column(t, "later");
    size_t rows = cw_table_rows(t);
    for (size_t from = 0, to = 0; from < rows; from = to) {
        int64_t here = 0;
        for (to = from;
             to < rows && cw_table_int(t, to, (size_t)parcel) == cw_table_int(t, from, (size_t)parcel); to++)
            here += cw_table_int(t, to, (size_t)quantity);
        for (size_t i = from; i < to; i++) {
            cw_cell *cell = &t->cells[i * t->width + (size_t)later];
            cell->v.i = cell->v.i > here ? cell->v.i - here : 0;
        }
    }
}

cw_code cw_paper_slips(cw_nursery *n, int64_t wave, cw_table *out, cw_error *err)
{
    static const cw_column columns[] = {
        { "parcel", CW_INT_T, 0 },   { "slot", CW_INT_T, 0 },        { "state", CW_TEXT_T, 0 },
        { "order", CW_TEXT_T, 0 },   { "customer", CW_TEXT_T, 0 },   { "postcode", CW_TEXT_T, 0 },
        { "country", CW_TEXT_T, 0 }, { "region", CW_TEXT_T, 0 },     { "line", CW_INT_T, 0 },
        { "variety", CW_TEXT_T, 0 }, { "name", CW_TEXT_T, 0 },       { "quantity", CW_INT_T, 0 },
        { "lots", CW_TEXT_T, 0 },    { "instead_of", CW_TEXT_T, 0 }, { "assortment", CW_TEXT_T, 0 },
        { "later", CW_INT_T, 0 },
    };
    cw_table_init(out, columns, sizeof columns / sizeof columns[0]);
    cw_code code = each_of_wave(n, "waves.slips", wave, 0, put_slip, out, err);
    if (code == CW_OK)
        take_off_own(out);
    return code;
}

static void put_label(void *context, cw_stmt *q)
{
    cw_table *out = context;
    cw_put_text(out, cw_col_text(q, 0));
    cw_put_text(out, cw_col_text(q, 1));
    cw_put_text(out, cw_col_text(q, 4));
    cw_put_text(out, cw_col_text(q, 5));
    cw_put_text(out, cw_col_text(q, 2));
    cw_put_int(out, cw_col_int(q, 3));
    put_scan(out, cw_col_text(q, 2), cw_col_text(q, 0));
}

cw_code cw_paper_labels(cw_nursery *n, int64_t wave, cw_table *out, cw_error *err)
{
    static const cw_column columns[] = {
        { "variety", CW_TEXT_T, 0 }, { "name", CW_TEXT_T, 0 }, { "form", CW_TEXT_T, 0 },
        { "colour", CW_TEXT_T, 0 },  { "lot", CW_TEXT_T, 0 },  { "quantity", CW_INT_T, 0 },
        { "scan", CW_TEXT_T, 0 },
    };
    cw_table_init(out, columns, sizeof columns / sizeof columns[0]);
    return each_of_wave(n, "waves.labels", wave, 0, put_label, out, err);
}

/* SPDX-License-Identifier: MIT */
/* The carrier's file: the columns that the nursery chose, in its order. */
#include <string.h>

#include "base/text.h"
#include "desk/ship/packing.h"
#include "desk/ship/picking_inside.h"

#include "base/banned.h"

typedef struct known {
    const char *name;
    cw_type type;
    int column; /* of waves.parcels */
} known;

static const known knowns[] = {
    { "order", CW_TEXT_T, 1 },     { "parcel", CW_INT_T, 0 },     { "wave", CW_INT_T, 18 },
    { "week", CW_WEEK_T, 19 },     { "slot", CW_INT_T, 2 },       { "customer", CW_TEXT_T, 4 },
    { "email", CW_TEXT_T, 8 },     { "postcode", CW_TEXT_T, 5 },  { "country", CW_TEXT_T, 6 },
    { "region", CW_TEXT_T, 7 },    { "zone", CW_TEXT_T, 21 },     { "channel", CW_TEXT_T, 20 },
    { "divisions", CW_INT_T, 10 }, { "weight_g", CW_INT_T, 12 },  { "weight_kg", CW_REAL_T, 12 },
    { "carrier", CW_TEXT_T, 16 },  { "tracking", CW_TEXT_T, 17 },
};

typedef struct filler {
    cw_table *out;
    const known *chosen[CW_PACKING_COLUMNS];
    size_t count;
} filler;

static void put_parcel(void *context, cw_stmt *q)
{
    filler *f = context;
    if (!cw_col_null(q, 22))
        return;
    for (size_t i = 0; i < f->count; i++) {
        int c = f->chosen[i]->column;
        if (cw_col_null(q, c))
            cw_put_null(f->out);
        else if (f->chosen[i]->type == CW_TEXT_T)
            cw_put_text(f->out, cw_col_text(q, c));
        else if (f->chosen[i]->type == CW_REAL_T)
            cw_put_real(f->out, (double)cw_col_int(q, c) / 1000);
        else
            cw_put_int(f->out, cw_col_int(q, c));
    }
}

static const known *find(const char *name, size_t length)
{
    for (size_t i = 0; i < sizeof knowns / sizeof knowns[0]; i++)
        if (strlen(knowns[i].name) == length && memcmp(knowns[i].name, name, length) == 0)
            return &knowns[i];
    return NULL;
}

static cw_code choose(const char *setting, filler *f, cw_packing_file *out, cw_error *err)
{
    char shown[80];
    for (const char *at = setting; *(at += strspn(at, " ,")) != '\0';) {
        size_t length = strcspn(at, " ,");
        const known *k = find(at, length);
        if (k == NULL)
            return cw_error_at(err, CW_REFUSED, NULL, 0, "carrier_columns",
                               "the carrier file has no column of this name: %s",
                               cw_shown(at, length, shown));
        if (f->count == CW_PACKING_COLUMNS)
            return cw_error_at(err, CW_REFUSED, NULL, 0, "carrier_columns", "must name at most %d columns",
                               CW_PACKING_COLUMNS);
        out->column[f->count] = (cw_column){ k->name, k->type, k->type == CW_REAL_T ? 3 : 0 };
        f->chosen[f->count++] = k;
        at += length;
    }
    return f->count ? CW_OK
                    : cw_error_at(err, CW_REFUSED, NULL, 0, "carrier_columns", "the setting names no column");
}

cw_code cw_packing_carrier_file(cw_nursery *n, const cw_asker *who, int64_t wave, cw_packing_file *out,
                                cw_error *err)
{
    char setting[CW_MAX_NAME + 1];
    filler f = { .out = &out->table };
    cw_waves_by by = { .statement = "waves.parcels",
                       .id = wave ? &wave : NULL,
                       .text = "packed",
                       .now = cw_week_of(who->today) };
    memset(out, 0, sizeof *out);
    cw_code code = cw_nursery_setting(n, "carrier_columns", setting, sizeof setting, err);
    if (code == CW_OK)
        code = choose(setting, &f, out, err);
    if (code != CW_OK)
        return code;
    cw_table_init(&out->table, out->column, f.count);
    code = cw_waves_each(n->db, &by, put_parcel, &f, err);
    return code == CW_OK ? cw_table_check(&out->table, err) : code;
}

void cw_packing_file_free(cw_packing_file *f)
{
    cw_table_free(&f->table);
}

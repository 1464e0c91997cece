/* SPDX-License-Identifier: MIT */
/* The carrier's file: the columns that the nursery chose, in its order. */
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "base/text.h"
#include "desk/pack/packing.h"
#include "desk/pick/picking_inside.h"

#include "base/banned.h"

typedef struct known {
    const char *name;
    cw_type type;
    size_t at;    /* where it stands in a cw_parcel_listed */
    bool unknown; /* 0 means that it is not known */
} known;

#define AT(member) offsetof(cw_parcel_listed, member)
/* Not in it: which box of how many. */
#define NTH SIZE_MAX
#define ALL (SIZE_MAX - 1)

static const known knowns[] = {
    { "order", CW_TEXT_T, AT(order) },
    { "parcel", CW_INT_T, AT(id) },
    { "box", CW_INT_T, NTH },
    { "boxes", CW_INT_T, ALL },
    { "wave", CW_INT_T, AT(wave) },
    { "week", CW_WEEK_T, AT(week) },
    { "slot", CW_INT_T, AT(slot) },
    { "customer", CW_TEXT_T, AT(customer) },
    { "name2", CW_TEXT_T, AT(name2) },
    { "email", CW_TEXT_T, AT(email) },
    { "phone", CW_TEXT_T, AT(phone) },
    { "street", CW_TEXT_T, AT(street) },
    { "town", CW_TEXT_T, AT(town) },
    { "postcode", CW_TEXT_T, AT(postcode) },
    { "country", CW_TEXT_T, AT(country) },
    { "region", CW_TEXT_T, AT(region) },
    { "zone", CW_TEXT_T, AT(zone) },
    { "channel", CW_TEXT_T, AT(channel) },
    { "divisions", CW_INT_T, AT(box) },
    { "weight_g", CW_INT_T, AT(weight_g), true },
    { "weight_kg", CW_REAL_T, AT(weight_g), true },
    { "carrier", CW_TEXT_T, AT(carrier) },
    { "tracking", CW_TEXT_T, AT(tracking) },
};

typedef struct filler {
    cw_table *out;
    const known *chosen[CW_PACKING_COLUMNS];
    size_t count;
} filler;

static void put_number(cw_table *out, const known *k, int64_t v)
{
    if (k->unknown && v == 0)
        cw_put_null(out);
    else if (k->type == CW_REAL_T)
        cw_put_real(out, (double)v / 1000);
    else
        cw_put_int(out, v);
}

static void put_box(filler *f, const cw_parcel_listed *p, int64_t box, int64_t grams)
{
    for (size_t i = 0; i < f->count; i++) {
        const known *k = f->chosen[i];
        if (k->at == NTH)
            cw_put_int(f->out, box);
        else if (k->at == ALL)
            cw_put_int(f->out, p->further + 1);
        else if (k->at == AT(weight_g))
            put_number(f->out, k, grams);
        else if (k->type == CW_TEXT_T)
            cw_put_text(f->out, *(const char *const *)(const void *)((const char *)p + k->at));
        else if (k->type == CW_WEEK_T)
            cw_put_int(f->out, *(const cw_week *)(const void *)((const char *)p + k->at));
        else
            put_number(f->out, k, *(const int64_t *)(const void *)((const char *)p + k->at));
    }
}

/* A row for each box: the carrier wants a label on each. */
static void put_parcel(void *context, const cw_parcel_listed *p)
{
    filler *f = context;
    const char *weights = p->weights ? p->weights : "";
    if (p->frost || p->unpaid || p->follows)
        return;
    put_box(f, p, 1, p->weight_g);
    for (int64_t box = 2; box <= p->further + 1; box++) {
        char *end = NULL;
        put_box(f, p, box, strtoll(weights, &end, 10));
        weights = *end == ',' ? end + 1 : end;
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
    memset(out, 0, sizeof *out);
    cw_code code = cw_nursery_setting(n, "carrier_columns", setting, sizeof setting, err);
    if (code == CW_OK)
        code = choose(setting, &f, out, err);
    if (code != CW_OK)
        return code;
    cw_table_init(&out->table, out->column, f.count);
    code = cw_waves_parcels(n->db, wave, "packed", cw_week_of(who->today), put_parcel, &f, err);
    return code == CW_OK ? cw_table_check(&out->table, err) : code;
}

void cw_packing_file_free(cw_packing_file *f)
{
    cw_table_free(&f->table);
}

/* SPDX-License-Identifier: MIT */
#include "desk/stock/catalogue.h"

#include "base/limits.h"
#include "desk/nursery/based_inside.h"
#include "desk/nursery/kinds.h"
#include "desk/nursery/nursery_inside.h"
#include "store/audit.h"
#include "store/rows.h"
#include "store/season.h"
#include "store/varieties.h"
#include <stdio.h>

#include "base/banned.h"

const cw_shape cw_catalogue_list_shape = { .of = &cw_kind_varieties_shape };

static cw_code list(cw_nursery *n, const char *code, cw_table *out, cw_error *err)
{
    cw_table_init(out, cw_kind_varieties_shape.columns, cw_kind_varieties_shape.width);
    return cw_rows_fill(n->db, "kinds.shown_varieties", out, err, "t", code);
}

cw_code cw_catalogue_list(cw_nursery *n, cw_table *out, cw_error *err)
{
    return list(n, NULL, out, err);
}

static void tell(const cw_variety_terms *t, char out[200])
{
    char price[24] = "none";
    if (t->price >= 0)
        cw_cents_format(t->price, price);
    int n =
        snprintf(out, 200, "hold-back %lld, reserve %lld, price %s, limit %lld%s", (long long)t->hold_back,
                 (long long)t->reserve, price, (long long)t->limit_per_order, t->retired ? ", retired" : "");
    if (t->own_low > 0 || t->own_high > 0)
        snprintf(out + n, 200 - (size_t)n, ", %g to %g a clump", t->own_low, t->own_high);
}

static cw_code check(const cw_catalogue_edit *e, cw_error *err)
{
    if (e->hold_back > CW_MAX_DIVISIONS)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "hold_back", "must be at most %d: %lld",
                           CW_MAX_DIVISIONS, (long long)e->hold_back);
    if (e->reserve > CW_MAX_DIVISIONS)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "reserve", "must be at most %d: %lld", CW_MAX_DIVISIONS,
                           (long long)e->reserve);
    if (e->own_low > e->own_high && e->own_high > 0)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "own_low", "must be at most own_high, %g: %g",
                           e->own_high, e->own_low);
    return CW_OK;
}

static cw_code still(const cw_asker *who, const char *code, const cw_catalogue_edit *e,
                     const cw_variety_terms *t, cw_error *err)
{
    char price[24] = "";
    if (t->price >= 0)
        cw_cents_format(t->price, price);
    if (e->hold_back >= 0)
        cw_based_int(who, "hold_back", t->hold_back);
    if (e->reserve >= 0)
        cw_based_int(who, "reserve", t->reserve);
    if (e->limit_per_order >= 0)
        cw_based_int(who, "limit_per_order", t->limit_per_order);
    if (e->price >= 0)
        cw_based_text(who, "price", price);
    if (e->retired >= 0)
        cw_based_int(who, "retired", t->retired);
    if (e->own_low >= 0)
        cw_based_real(who, "own_low", t->own_low);
    if (e->own_high >= 0)
        cw_based_real(who, "own_high", t->own_high);
    return cw_based_hold(who, code, err);
}

static cw_code change(cw_nursery *n, const cw_asker *who, const char *code, const cw_catalogue_edit *e,
                      cw_error *err)
{
    cw_variety_terms t;
    char before[200], after[200];
    bool done = false;
    cw_code c = cw_variety_terms_read(n->db, code, &t, err);
    if (c != CW_OK)
        return c;
    tell(&t, before);
    if (e->version > 0 && e->version != t.version)
        return cw_error_set(err, CW_CONFLICT, "%s was changed meanwhile; it now has %s", code, before);
    c = still(who, code, e, &t, err);
    if (c != CW_OK)
        return c;
    t.hold_back = e->hold_back >= 0 ? e->hold_back : t.hold_back;
    t.reserve = e->reserve >= 0 ? e->reserve : t.reserve;
    t.limit_per_order = e->limit_per_order >= 0 ? e->limit_per_order : t.limit_per_order;
    t.price = e->price >= 0 ? e->price : t.price;
    t.retired = e->retired >= 0 ? e->retired != 0 : t.retired;
    t.own_low = e->own_low >= 0 ? e->own_low : t.own_low;
    t.own_high = e->own_high >= 0 ? e->own_high : t.own_high;
    tell(&t, after);
    c = cw_variety_terms_write(n->db, code, &t, &done, err);
    if (c == CW_OK && !done)
        return cw_error_set(err, CW_CONFLICT, "%s was changed meanwhile", code);
    if (c == CW_OK)
        c = cw_audit_add(n->db, who->now, who->actor, "edit variety", code, before, after, err);
    bool says = e->own_low >= 0 || e->own_high >= 0; /* that moves the projection */
    return c == CW_OK ? cw_season_touch(n->db, says, true, err) : c;
}

cw_code cw_catalogue_change(cw_nursery *n, const cw_asker *who, const char *code,
                            const cw_catalogue_edit *edit, cw_table *out, cw_error *err)
{
    cw_error ignored = CW_ERROR_NONE;
    *out = (cw_table){ 0 };
    if (cw_owner_only(who, "change a variety's figures", err) != CW_OK)
        return CW_FORBIDDEN;
    cw_code c = check(edit, err);
    if (c == CW_OK)
        c = cw_work_begin(n, err);
    if (c != CW_OK)
        return c;
    c = change(n, who, code, edit, err);
    if (c == CW_OK) /* before the end: what cannot be answered is not done */
        c = list(n, code, out, err);
    c = cw_work_end(n, c, err);
    if (c == CW_CONFLICT && list(n, code, out, &ignored) != CW_OK) {
        *err = ignored;
        c = ignored.code;
    }
    return c;
}

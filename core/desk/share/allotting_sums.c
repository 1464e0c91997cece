/* SPDX-License-Identifier: MIT */
#include "desk/share/allotting_inside.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* What making a preview firm would do. Preview and run use the same sums. */

cw_code cw_allotting_default(cw_nursery *n, cw_allotting_ask *out, cw_error *err)
{
    double tiers = 0;
    char supply[16];
    *out = (cw_allotting_ask){ 0 };
    cw_code code = cw_nursery_setting(n, "supply", supply, sizeof supply, err);
    if (code == CW_OK)
        code = cw_nursery_number(n, "tiers_first", &tiers, err);
    out->projected = strcmp(supply, "projected") == 0;
    out->tiers_first = tiers != 0;
    return code;
}

/* whole[o]: order o leaves complete or not at all, and has new divisions of the variety that is made firm alone. */
bool *cw_allotting_whole(const cw_allotting *a, size_t r)
{
    const cw_standing *s = a->standing;
    bool *whole = calloc(s->book->orders + 1, sizeof *whole);
    for (size_t i = 0; whole && i < s->lines; i++)
        if (s->line[i].variety == a->variety && s->order[s->line[i].order].ship_complete &&
            cw_allotting_of(a, r, i)->allocated > 0)
            whole[s->line[i].order] = true;
    return whole;
}

bool cw_allotting_meant(const cw_allotting *a, size_t r, const bool *whole, size_t i)
{
    const cw_share_line *l = &a->standing->line[i];
    if (cw_allotting_of(a, r, i)->need == 0)
        return false;
    return a->variety == CW_BOOK_NONE || l->variety == a->variety ||
           (whole[l->order] && cw_allotting_of(a, r, i)->allocated > 0);
}

cw_code cw_allotting_add_up(const cw_allotting *a, size_t r, cw_allotting_sum *out, cw_error *err)
{
    bool *whole = cw_allotting_whole(a, r);
    *out = (cw_allotting_sum){ 0 };
    if (whole == NULL)
        return cw_error_memory(err);
    for (size_t i = 0; i < a->standing->lines; i++) {
        const cw_share_line *l = &a->standing->line[i];
        const cw_share_outcome *o = cw_allotting_of(a, r, i);
        int32_t has = l->firm + o->allocated;
        bool asked_about = a->variety == CW_BOOK_NONE || l->variety == a->variety;
        if (asked_about) {
            out->whole += has == l->asked;
            out->part += has > 0 && has < l->asked;
            out->none += has == 0 && l->asked > 0;
        }
        if (!cw_allotting_meant(a, r, whole, i))
            continue;
        out->lines++;
        out->placed += o->allocated;
        out->short_ += o->need - o->allocated;
        out->others += asked_about ? 0 : o->allocated;
    }
    free(whole);
    return CW_OK;
}

static const cw_column sum_columns[] = {
    { "rule", CW_TEXT_T }, { "lines", CW_INT_T }, { "placed", CW_INT_T }, { "short", CW_INT_T },
    { "whole", CW_INT_T }, { "part", CW_INT_T },  { "none", CW_INT_T },   { "others", CW_INT_T },
};
const cw_shape cw_allotting_sums_shape = CW_ROWS(sum_columns);

cw_code cw_allotting_sums(const cw_allotting *a, cw_table *out, cw_error *err)
{
    cw_code code = CW_OK;
    cw_table_init(out, sum_columns, CW_WIDTH(sum_columns));
    for (size_t r = 0; r < a->rules && code == CW_OK; r++) {
        cw_allotting_sum sum;
        code = cw_allotting_add_up(a, r, &sum, err);
        cw_put_text(out, cw_share_rule_name(a->rule[r]));
        cw_put_int(out, sum.lines);
        cw_put_int(out, sum.placed);
        cw_put_int(out, sum.short_);
        cw_put_int(out, sum.whole);
        cw_put_int(out, sum.part);
        cw_put_int(out, sum.none);
        cw_put_int(out, sum.others);
    }
    return code == CW_OK ? cw_table_check(out, err) : code;
}

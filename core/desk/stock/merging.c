/* SPDX-License-Identifier: MIT */
#include "desk/stock/merging.h"

#include "base/money.h"
#include "base/text.h"
#include "desk/stock/naming.h"
#include "desk/stock/naming_inside.h"
#include "store/audit.h"
#include "store/merging.h"
#include "store/season.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

const cw_shape cw_merging_shape = { .of = &cw_naming_shape };
const cw_shape cw_merging_all_shape = { .of = &cw_merging_list_shape };

static void told(char out[24], int64_t price)
{
    if (price < 0)
        cw_copy(out, 24, "none");
    else
        cw_cents_format(price, out);
}

/* What the two say otherwise, and which word stands. */
static cw_code tell_sides(cw_nursery *n, const cw_named_variety *gone, const cw_named_variety *kept,
                          cw_table *out, cw_error *err)
{
    cw_merging_side a = { 0 }, b = { 0 };
    char note[800], prices[2][24];
    cw_code code = cw_merging_side_of(n->db, gone->id, &a, err);
    if (code == CW_OK)
        code = cw_merging_side_of(n->db, kept->id, &b, err);
    snprintf(note, sizeof note, "and %lld of %s: %lld together", (long long)b.clumps, kept->code,
             (long long)(a.clumps + b.clumps));
    cw_naming_put(out, "clumps on hand", a.clumps, note);
    snprintf(note, sizeof note, "and %lld of %s: %lld together", (long long)b.divisions, kept->code,
             (long long)(a.divisions + b.divisions));
    cw_naming_put(out, "divisions on hand", a.divisions, note);
    snprintf(note, sizeof note, "and %lld of %s: %lld together, %lld of them sold", (long long)b.offered,
             kept->code, (long long)(a.offered + b.offered), (long long)(a.sold + b.sold));
    cw_naming_put(out, "on offer", a.offered, note);
    snprintf(note, sizeof note, "and %lld of %s: %lld together", (long long)b.hold_back, kept->code,
             (long long)(a.hold_back + b.hold_back));
    cw_naming_put(out, "kept for planting", a.hold_back, note);
    if (a.price != b.price) {
        told(prices[0], a.price);
        told(prices[1], b.price);
        snprintf(note, sizeof note,
                 "%s costs %s, %s costs %s: %s stands, and lines keep what they were sold for", gone->code,
                 prices[0], kept->code, prices[1], prices[1]);
        cw_naming_put(out, "price", 1, note);
    }
    if (a.limit != b.limit)
        cw_naming_put(out, "limit for one order", 1, "of the variety that is kept stands");
    if (b.retired && !a.retired)
        cw_naming_put(out, "retired", 1, "the variety that is kept is retired: nothing of it is on offer");
    return code;
}

static cw_code tell_merge(cw_nursery *n, const cw_named_variety *gone, const cw_named_variety *kept,
                          cw_table *out, cw_error *err)
{
    char note[800];
    snprintf(note, sizeof note, "%s (%s) becomes %s (%s); %s still finds it", gone->code, gone->name,
             kept->code, kept->name, gone->code);
    cw_naming_put(out, "variety", 1, note);
    cw_code code = tell_sides(n, gone, kept, out, err);
    return code == CW_OK ? cw_naming_tell_reach(n, gone, out, err) : code;
}

static cw_code join(cw_nursery *n, const cw_asker *who, const cw_named_variety *gone,
                    const cw_named_variety *kept, const char *why, cw_error *err)
{
    const cw_naming_record r = { who->now, who->actor, why };
    cw_code code = cw_merging_join(n->db, gone, kept, &r, err);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "merge varieties", gone->code, kept->code, why, err);
    return code == CW_OK ? cw_season_touch(n->db, true, true, err) : code;
}

cw_code cw_merging_merge(cw_nursery *n, const cw_asker *who, const char *code, const char *to,
                         const char *why, bool commit, cw_table *out, cw_error *err)
{
    cw_named_variety gone = { 0 }, kept = { 0 };
    cw_code c = cw_naming_begin(n, cw_owner_only(who, "make two varieties one", err), why, commit, out, err);
    if (c != CW_OK)
        return c;
    c = cw_naming_known(n, "code", code, &gone, err);
    if (c == CW_OK)
        c = cw_naming_known(n, "to", to, &kept, err);
    if (c == CW_OK && gone.id == kept.id)
        c = cw_error_at(err, CW_REFUSED, NULL, 0, "to", "%s is %s already", code, kept.code);
    if (c == CW_OK)
        c = tell_merge(n, &gone, &kept, out, err);
    if (c == CW_OK)
        c = cw_table_check(out, err);
    if (c == CW_OK && commit)
        c = join(n, who, &gone, &kept, why, err);
    return commit ? cw_work_end(n, c, err) : c;
}

/* Nothing else has touched the two since. */
static cw_code untouched(cw_nursery *n, const char *code, const cw_merging *m, cw_error *err)
{
    char part[48] = "";
    if (!m->stands)
        return cw_error_set(err, CW_CONFLICT,
                            "%s was merged into another variety itself since; part those two first",
                            m->kept_code);
    cw_code c = cw_merging_touched(n->db, m, part, err);
    if (c == CW_OK && part[0])
        return cw_error_set(
            err, CW_CONFLICT,
            "since %s was merged into %s somebody has touched %s, so what was whose cannot be told "
            "any more; relabel its lots one by one",
            code, m->kept_code, part);
    return c;
}

static cw_code tell_undo(cw_nursery *n, const char *code, const cw_merging *m, cw_table *out, cw_error *err)
{
    cw_merging_rows r = { 0 };
    char note[800];
    cw_code c = cw_merging_rows_of(n->db, m, &r, err);
    snprintf(note, sizeof note, "%s is a variety of its own again, as it was", code);
    cw_naming_put(out, "variety", 1, note);
    cw_naming_put(out, "lots", r.lots, "");
    cw_naming_put(out, "lines of orders", r.lines, "");
    cw_naming_put(out, "plantings", r.plantings, "");
    cw_naming_put(out, "rows of history", r.past, "");
    return c;
}

cw_code cw_merging_undo(cw_nursery *n, const cw_asker *who, const char *code, const char *why, bool commit,
                        cw_table *out, cw_error *err)
{
    cw_merging m = { 0 };
    bool found = false;
    char shown[80];
    cw_code c = cw_naming_begin(n, cw_owner_only(who, "part two varieties that were merged", err), why,
                                commit, out, err);
    if (c != CW_OK)
        return c;
    c = cw_merging_of_code(n->db, code, &found, &m, err);
    if (c == CW_OK && !found)
        c = cw_error_at(err, CW_NOT_FOUND, NULL, 0, "code",
                        "no variety was merged this season under the code %s",
                        cw_shown(code, strlen(code), shown));
    if (c == CW_OK)
        c = untouched(n, code, &m, err);
    if (c == CW_OK)
        c = tell_undo(n, code, &m, out, err);
    if (c == CW_OK)
        c = cw_table_check(out, err);
    if (c == CW_OK && commit)
        c = cw_merging_part(n->db, &m, who->now, who->actor, err);
    if (c == CW_OK && commit)
        c = cw_audit_add(n->db, who->now, who->actor, "part varieties", code, m.kept_code, why, err);
    if (c == CW_OK && commit)
        c = cw_season_touch(n->db, true, true, err);
    return commit ? cw_work_end(n, c, err) : c;
}

cw_code cw_merging_all(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err)
{
    (void)who;
    return cw_merging_list(n->db, out, err);
}

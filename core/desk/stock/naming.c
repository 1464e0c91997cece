/* SPDX-License-Identifier: MIT */
#include "desk/stock/naming.h"

#include "base/text.h"
#include "base/value.h"
#include "desk/stock/naming_inside.h"
#include "store/audit.h"
#include "store/season.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

static const cw_column columns[] = {
    { "part", CW_TEXT_T, .says = "what bears the name, or rests on it" },
    { "quantity", CW_INT_T },
    { "note", CW_TEXT_T, .null = true },
};
const cw_shape cw_naming_shape = CW_ROWS(columns);
const cw_shape cw_naming_former_codes_shape = { .of = &cw_naming_formers_shape };

cw_code cw_naming_begin(cw_nursery *n, cw_code may, const char *why, bool commit, cw_table *out,
                        cw_error *err)
{
    cw_table_init(out, columns, CW_WIDTH(columns));
    if (may == CW_OK && commit && why[0] == '\0')
        return cw_error_at(err, CW_REFUSED, NULL, 0, "why",
                           "say why the name is changed; it stays on record");
    return may == CW_OK && commit ? cw_work_begin(n, err) : may;
}

void cw_naming_put(cw_table *t, const char *part, int64_t quantity, const char *note)
{
    cw_put_text(t, part);
    cw_put_int(t, quantity);
    cw_put_text(t, note);
}

cw_code cw_naming_known(cw_nursery *n, const char *column, const char *code, cw_named_variety *out,
                        cw_error *err)
{
    bool found = false;
    char shown[80];
    cw_code c = cw_naming_variety(n->db, code, &found, out, err);
    if (c == CW_OK && !found)
        return cw_error_at(err, CW_NOT_FOUND, NULL, 0, column, "there is no variety with the code %s",
                           cw_shown(code, strlen(code), shown));
    return c;
}

/* Nobody else bears the code, or ever bore it. */
static cw_code is_free(cw_nursery *n, const cw_named_variety *v, const char *to, cw_error *err)
{
    cw_named_variety other = { 0 };
    bool found = false;
    char shown[80];
    size_t length = strlen(to);
    if (length == 0 || length > CW_MAX_CODE || strpbrk(to, " \t,;") || cw_has_control(to, length, ""))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "to",
                           "must be a code of 1 to %d characters without spaces: %s", CW_MAX_CODE,
                           cw_shown(to, length, shown));
    if (strcmp(to, v->code) == 0)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "to", "is the code that %s has already", v->code);
    cw_code c = cw_naming_variety(n->db, to, &found, &other, err);
    if (c == CW_OK && found && other.id != v->id)
        return cw_error_at(err, CW_CONFLICT, NULL, 0, "to", "%s names %s (%s), today or once", to, other.code,
                           other.name);
    return c;
}

cw_code cw_naming_tell_reach(cw_nursery *n, const cw_named_variety *v, cw_table *out, cw_error *err)
{
    cw_naming_reach r = { 0 };
    char note[120];
    cw_code c = cw_naming_reach_of(n->db, v, &r, err);
    snprintf(note, sizeof note, "in %lld parcel%s, under the name that stood on them", (long long)r.parcels,
             CW_S(r.parcels));
    cw_naming_put(out, "lots", r.lots, "");
    cw_naming_put(out, "plantings", r.plantings, "");
    cw_naming_put(out, "lines of orders", r.lines, "");
    cw_naming_put(out, "promised firm and not sent", r.firm, "");
    cw_naming_put(out, "divisions that went out", r.taken, r.taken ? note : "");
    cw_naming_put(out, "letters due to buyers", r.notices, "");
    cw_naming_put(out, "substitutes named by buyers", r.wishes,
                  "stand as they were typed, and still find it");
    cw_naming_put(out, "past seasons", r.seasons, "");
    cw_naming_put(out, "rows of history", r.history, "");
    cw_naming_put(out, "open picks", r.picks, r.picks ? "walks that are printed show the former code" : "");
    return c;
}

static cw_code tell_rename(cw_nursery *n, const cw_named_variety *v, const char *to, cw_table *out,
                           cw_error *err)
{
    char note[480];
    snprintf(note, sizeof note, "%s (%s) becomes %s; %s still finds it", v->code, v->name, to, v->code);
    cw_naming_put(out, "variety", 1, note);
    return cw_naming_tell_reach(n, v, out, err);
}

static cw_code rename_variety(cw_nursery *n, const cw_asker *who, const cw_named_variety *v, const char *to,
                              const char *why, cw_error *err)
{
    const cw_naming_record r = { who->now, who->actor, why };
    char after[CW_MAX_CODE + 1];
    cw_copy(after, sizeof after, to);
    cw_code c = cw_naming_rename(n->db, v, to, &r, err);
    if (c == CW_OK)
        c = cw_audit_add(n->db, who->now, who->actor, "rename variety", v->code, after, why, err);
    return c == CW_OK ? cw_season_touch(n->db, true, true, err) : c;
}

cw_code cw_naming_rename_variety(cw_nursery *n, const cw_asker *who, const char *code, const char *to,
                                 const char *why, bool commit, cw_table *out, cw_error *err)
{
    cw_named_variety v = { 0 };
    cw_code c = cw_naming_begin(n, cw_owner_only(who, "change a variety's code", err), why, commit, out, err);
    if (c != CW_OK)
        return c;
    c = cw_naming_known(n, "code", code, &v, err);
    if (c == CW_OK)
        c = is_free(n, &v, to, err);
    if (c == CW_OK)
        c = tell_rename(n, &v, to, out, err);
    if (c == CW_OK)
        c = cw_table_check(out, err);
    if (c == CW_OK && commit)
        c = rename_variety(n, who, &v, to, why, err);
    return commit ? cw_work_end(n, c, err) : c;
}

cw_code cw_naming_tell_promises(cw_nursery *n, const cw_named_lot *lot, const cw_on_hand *goes, cw_table *out,
                                cw_error *err)
{
    cw_naming_promised p = { 0 };
    char note[480];
    cw_code code = cw_naming_promised_of(n->db, lot->variety_id, &p, err);
    int64_t clumps = p.clumps - goes->clumps, divisions = p.divisions - goes->divisions;
    snprintf(note, sizeof note, "%lld division%s and %lld clump%s of %s are left for them%s",
             (long long)divisions, CW_S(divisions), (long long)clumps, CW_S(clumps), lot->code,
             p.firm > divisions ? ": look at what is short" : "");
    cw_naming_put(out, "promised firm and not sent", p.firm, note);
    snprintf(note, sizeof note, "to those who ordered %s; read them before they are sent", lot->code);
    cw_naming_put(out, "letters due to buyers", p.notices, p.notices ? note : "");
    return code;
}

static cw_code tell_lot(cw_nursery *n, const char *code, const cw_named_lot *lot, const cw_named_variety *to,
                        cw_table *out, cw_error *err)
{
    const cw_on_hand goes = { lot->clumps, lot->divisions };
    char note[480];
    snprintf(note, sizeof note, "lot %s stands as %s; it becomes %s (%s)", code, lot->code, to->code,
             to->name);
    cw_naming_put(out, "clumps on hand", lot->clumps, note);
    cw_naming_put(out, "divisions on hand", lot->divisions, "");
    cw_naming_put(out, "dividing sessions", lot->sessions, "teach the other variety's rate from now on");
    cw_naming_put(out, "checks", lot->checks, "");
    cw_code c = cw_naming_tell_promises(n, lot, &goes, out, err);
    snprintf(note, sizeof note, "in %lld parcel%s under the name %s; trace the lot for the buyers",
             (long long)lot->parcels, CW_S(lot->parcels), lot->code);
    cw_naming_put(out, "divisions that went out", lot->taken, lot->taken ? note : "");
    return c;
}

static cw_code relabel(cw_nursery *n, const cw_asker *who, const char *code, const cw_named_lot *lot,
                       const cw_named_variety *to, const char *why, cw_error *err)
{
    const cw_naming_record r = { who->now, who->actor, why };
    char after[CW_MAX_CODE + CW_MAX_NAME + 4];
    snprintf(after, sizeof after, "%s: %s", to->code, why);
    cw_code c = cw_naming_relabel(n->db, lot, to->id, &r, err);
    if (c == CW_OK)
        c = cw_audit_add(n->db, who->now, who->actor, "relabel lot", code, lot->code, after, err);
    return c == CW_OK ? cw_season_touch(n->db, true, true, err) : c;
}

cw_code cw_naming_relabel_lot(cw_nursery *n, const cw_asker *who, const char *code, const char *to,
                              const char *why, bool commit, cw_table *out, cw_error *err)
{
    cw_named_variety v = { 0 };
    cw_named_lot lot = { 0 };
    cw_code c =
        cw_naming_begin(n, cw_office_only(who, "give a lot another variety", err), why, commit, out, err);
    if (c != CW_OK)
        return c;
    c = cw_naming_lot(n->db, code, &lot, err);
    if (c == CW_OK)
        c = cw_naming_known(n, "to", to, &v, err);
    if (c == CW_OK && v.id == lot.variety_id)
        c = cw_error_at(err, CW_REFUSED, NULL, 0, "to", "lot %s is %s already", code, v.code);
    if (c == CW_OK && lot.open_picks > 0)
        c = cw_error_set(err, CW_CONFLICT,
                         "open walks are to take %lld times of lot %s; walk them or drop them first",
                         (long long)lot.open_picks, code);
    if (c == CW_OK)
        c = tell_lot(n, code, &lot, &v, out, err);
    if (c == CW_OK)
        c = cw_table_check(out, err);
    if (c == CW_OK && commit)
        c = relabel(n, who, code, &lot, &v, why, err);
    return commit ? cw_work_end(n, c, err) : c;
}

cw_code cw_naming_former_codes(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err)
{
    (void)who;
    return cw_naming_formers(n->db, out, err);
}

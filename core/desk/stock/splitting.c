/* SPDX-License-Identifier: MIT */
#include "desk/stock/splitting.h"

#include "base/limits.h"
#include "base/text.h"
#include "base/value.h"
#include "desk/stock/naming_inside.h"
#include "desk/stock/stock_inside.h"
#include "store/audit.h"
#include "store/season.h"
#include "store/splitting.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

typedef long long ll;

/* What is split off, looked up. */
typedef struct part {
    cw_named_lot lot;
    cw_named_variety to;
    cw_day day;
    cw_on_hand goes, stays; /* stays: of what is free from that day on */
    cw_split_reach reach;
} part;

static cw_code check_code(cw_nursery *n, const char *as, cw_error *err)
{
    bool taken = false;
    char shown[80];
    size_t length = strlen(as);
    if (length == 0 || length > CW_MAX_CODE || strpbrk(as, " \t,;") || cw_has_control(as, length, ""))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "as",
                           "must be a code for the new lot, of 1 to %d characters without spaces: %s",
                           CW_MAX_CODE, cw_shown(as, length, shown));
    cw_code code = cw_splitting_code_taken(n->db, as, &taken, err);
    if (code == CW_OK && taken)
        return cw_error_at(err, CW_CONFLICT, NULL, 0, "as", "there is a lot %s already", as);
    return code;
}

static cw_code check_day(const cw_asker *who, const part *p, const char *lot, cw_error *err)
{
    char day[11], dug[11];
    cw_day_format(p->day, day);
    cw_day_format(p->lot.dug_on, dug);
    if (p->day > who->today)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "from", "lies after today: %s", day);
    if (p->day < p->lot.dug_on)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "from", "lot %s was dug on %s, after %s", lot, dug, day);
    return CW_OK;
}

/* How much, and is it there from that day on? */
static cw_code check_amount(cw_nursery *n, const cw_split *s, part *p, cw_error *err)
{
    cw_on_hand free = { 0, 0 };
    char day[11];
    cw_day_format(p->day, day);
    cw_code code = cw_ledger_free_on(n->db, p->lot.id, p->day, &free, err);
    if (code != CW_OK)
        return code;
    bool all = s->clumps < 0 && s->divisions < 0;
    p->goes.clumps = all ? free.clumps : s->clumps < 0 ? 0 : s->clumps;
    p->goes.divisions = all ? free.divisions : s->divisions < 0 ? 0 : s->divisions;
    p->stays = (cw_on_hand){ free.clumps - p->goes.clumps, free.divisions - p->goes.divisions };
    if (p->goes.clumps + p->goes.divisions == 0)
        return cw_error_at(
            err, CW_REFUSED, NULL, 0, "clumps",
            all ? "nothing is left of lot %s from %s on" : "say how much of lot %s, from %s on", s->lot, day);
    if (p->stays.clumps < 0)
        return cw_error_at(err, CW_CONFLICT, NULL, 0, "clumps",
                           "lot %s has %lld clumps from %s on, %lld cannot be another variety", s->lot,
                           (ll)free.clumps, day, (ll)p->goes.clumps);
    if (p->stays.divisions < 0)
        return cw_error_at(err, CW_CONFLICT, NULL, 0, "divisions",
                           "lot %s has %lld divisions from %s on, %lld cannot be another variety", s->lot,
                           (ll)free.divisions, day, (ll)p->goes.divisions);
    if (p->goes.divisions > 0 && p->stays.divisions < p->reach.open_picks)
        return cw_error_at(
            err, CW_CONFLICT, NULL, 0, "divisions",
            "open walks are to take %lld divisions of lot %s, and %lld would be left; walk them "
            "or drop them first",
            (ll)p->reach.open_picks, s->lot, (ll)p->stays.divisions);
    return CW_OK;
}

static cw_code look(cw_nursery *n, const cw_asker *who, const cw_split *s, part *p, cw_error *err)
{
    cw_code code = cw_naming_lot(n->db, s->lot, &p->lot, err);
    p->day = s->day == CW_NO_DAY ? who->today : s->day;
    if (code == CW_OK)
        code = cw_naming_known(n, "to", s->to, &p->to, err);
    if (code == CW_OK && p->to.id == p->lot.variety_id)
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "to", "lot %s is %s already", s->lot, p->to.code);
    if (code == CW_OK)
        code = check_code(n, s->as, err);
    if (code == CW_OK)
        code = check_day(who, p, s->lot, err);
    if (code == CW_OK)
        code = cw_splitting_reach(n->db, p->lot.id, p->day, &p->reach, err);
    return code == CW_OK ? check_amount(n, s, p, err) : code;
}

static cw_code tell(cw_nursery *n, const cw_split *s, const part *p, cw_table *out, cw_error *err)
{
    char note[480], day[11];
    cw_day_format(p->day, day);
    snprintf(note, sizeof note, "of lot %s (%s); they become lot %s of %s (%s) from %s on", s->lot,
             p->lot.code, s->as, p->to.code, p->to.name, day);
    cw_naming_put(out, "clumps that change their name", p->goes.clumps, note);
    cw_naming_put(out, "divisions that change their name", p->goes.divisions, "");
    snprintf(note, sizeof note, "stay lot %s", s->lot);
    cw_naming_put(out, "clumps that stay", p->stays.clumps, note);
    cw_naming_put(out, "divisions that stay", p->stays.divisions, "");
    snprintf(note, sizeof note, "stay with lot %s and teach the rate of %s", s->lot, p->lot.code);
    cw_naming_put(out, "dividing sessions", p->reach.sessions, note);
    /* Nobody can tell here whose clumps were cut: who knows takes the session back first, and enters it of the new lot. */
    snprintf(note, sizeof note,
             "stay, too, with what they made; if %s was cut, take them back before, and enter them of lot %s "
             "after",
             p->to.code, s->as);
    if (p->reach.sessions_since > 0)
        cw_naming_put(out, "of them since that day", p->reach.sessions_since, note);
    cw_code code = cw_naming_tell_promises(n, &p->lot, &p->goes, out, err);
    snprintf(note, sizeof note,
             "in %lld parcel%s since then, under the name %s; trace the lot for the buyers",
             (ll)p->reach.parcels, CW_S(p->reach.parcels), p->lot.code);
    cw_naming_put(out, "divisions that went out", p->reach.taken, p->reach.taken ? note : "");
    return code;
}

/* One move: out of the lot wherever it lies, and down again at the same places as the new one. */
static cw_code split_off(cw_nursery *n, const cw_asker *who, const cw_split *s, const part *p, cw_table *out,
                         cw_error *err)
{
    const cw_naming_record r = { who->now, who->actor, s->why };
    int64_t move = 0;
    char after[2 * CW_MAX_CODE + CW_MAX_NAME + 8];
    snprintf(after, sizeof after, "%s, %s: %s", s->as, p->to.code, s->why);
    cw_code code = cw_stock_next_movement(n->db, &move, err);
    const cw_movement m = { .at = who->now,
                            .day = p->day,
                            .actor = who->actor,
                            .lot = p->lot.id,
                            .place = CW_ANY_PLACE,
                            .clumps = p->goes.clumps,
                            .divisions = p->goes.divisions,
                            .reason = "moved",
                            .cause = "move",
                            .cause_id = move };
    if (code == CW_OK)
        code = cw_ledger_take(n->db, &m, err);
    const cw_split_row row = { p->lot.id, p->to.id, s->as, p->day, p->goes.clumps, p->goes.divisions, move };
    if (code == CW_OK)
        code = cw_splitting_add(n->db, &row, p->lot.variety_id, &r, err);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "split lot", s->lot, p->lot.code, after, err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, true, true, err);
    cw_naming_put(out, "entry", move, "by which it is taken back");
    return code == CW_OK ? cw_table_check(out, err) : code;
}

cw_code cw_splitting_lot(cw_nursery *n, const cw_asker *who, const cw_split *split, bool commit,
                         cw_table *out, cw_error *err)
{
    part p = { .lot = { 0 } };
    cw_code code = cw_naming_begin(n, cw_office_only(who, "give a part of a lot another variety", err),
                                   split->why, commit, out, err);
    if (code != CW_OK)
        return code;
    code = look(n, who, split, &p, err);
    if (code == CW_OK)
        code = tell(n, split, &p, out, err);
    if (code == CW_OK)
        code = cw_table_check(out, err);
    if (code == CW_OK && commit)
        code = split_off(n, who, split, &p, out, err);
    return commit ? cw_work_end(n, code, err) : code;
}

cw_code cw_stock_undo_split(cw_nursery *n, const cw_asker *who, int64_t move, cw_error *err)
{
    bool found = false, touched = false;
    int64_t id = 0;
    char lot[CW_MAX_CODE + 1];
    cw_code code = cw_splitting_of_move(n->db, move, &found, &touched, &id, lot, err);
    if (code != CW_OK || !found)
        return code;
    if (cw_office_only(who, "give a part of a lot its former name", err) != CW_OK)
        return CW_FORBIDDEN;
    if (touched)
        return cw_error_at(err, CW_CONFLICT, NULL, 0, "cause_id",
                           "something was entered of lot %s since; take that back first", lot);
    return cw_splitting_mark_undone(n->db, id, err);
}

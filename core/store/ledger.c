/* SPDX-License-Identifier: MIT */
#include "store/ledger.h"

#include "base/grow.h"
#include "base/text.h"
#include "columns/ledger.h"
#include "store/statement_inside.h"
#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

typedef long long ll;

static cw_code pair(cw_stmt *s, bool found, cw_on_hand *out, cw_code code, cw_error *err)
{
    *out = found
               ? (cw_on_hand){ cw_col_int(s, ledger_balance_clumps), cw_col_int(s, ledger_balance_divisions) }
               : (cw_on_hand){ 0, 0 };
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_ledger_at(cw_db *db, int64_t lot, int64_t place, cw_on_hand *out, cw_error *err)
{
    bool found = false;
    cw_stmt *s = cw_db_stmt(db, "ledger.balance");
    cw_code code = cw_stmt_one(s, &found, err, "ii", lot, place);
    return pair(s, found, out, code, err);
}

cw_code cw_ledger_lot(cw_db *db, int64_t lot, cw_on_hand *out, cw_error *err)
{
    bool found = false;
    cw_stmt *s = cw_db_stmt(db, "ledger.lot");
    cw_code code = cw_stmt_one(s, &found, err, "i", lot);
    return pair(s, found, out, code, err);
}

static int64_t least(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

/* Walks back from now to the end of `day`: *on is what the lot held then, *low the least since. */
static cw_code walk_back(cw_db *db, int64_t lot, cw_day day, cw_on_hand *on, cw_on_hand *low, cw_error *err)
{
    cw_code code = cw_ledger_lot(db, lot, on, err);
    if (code != CW_OK)
        return code;
    *low = *on;
    cw_stmt *s = cw_db_stmt(db, "ledger.after");
    int64_t last = INT64_MAX;
    code = cw_stmt_start(s, err, "ii", lot, (int64_t)day);
    while (code == CW_OK && cw_stmt_next(s)) {
        if (cw_col_int(s, ledger_after_day) != last && last != INT64_MAX)
            *low = (cw_on_hand){ least(low->clumps, on->clumps), least(low->divisions, on->divisions) };
        last = cw_col_int(s, ledger_after_day);
        on->clumps -= cw_col_int(s, ledger_after_clumps);
        on->divisions -= cw_col_int(s, ledger_after_divisions);
    }
    *low = (cw_on_hand){ least(low->clumps, on->clumps), least(low->divisions, on->divisions) };
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_ledger_on(cw_db *db, int64_t lot, cw_day day, cw_on_hand *out, cw_error *err)
{
    cw_on_hand low;
    return walk_back(db, lot, day, out, &low, err);
}

cw_code cw_ledger_free_on(cw_db *db, int64_t lot, cw_day day, cw_on_hand *out, cw_error *err)
{
    cw_on_hand on;
    return walk_back(db, lot, day, &on, out, err);
}

/* "lot L12 at place C-3" for messages; what cannot be looked up is left out. */
static void name_place(cw_db *db, int64_t lot, int64_t place, char out[128])
{
    cw_error ignored = CW_ERROR_NONE;
    bool found = false;
    cw_stmt *s = cw_db_stmt(db, "ledger.names");
    cw_copy(out, 128, "the lot");
    if (cw_stmt_one(s, &found, &ignored, "ii", lot, place) == CW_OK && found &&
        cw_col_text(s, ledger_names_place)[0])
        snprintf(out, 128, "lot %s at place %s", cw_col_text(s, ledger_names_lot),
                 cw_col_text(s, ledger_names_place));
    else if (found)
        snprintf(out, 128, "lot %s", cw_col_text(s, ledger_names_lot));
    if (cw_stmt_end(s, &ignored) != CW_OK)
        return;
}

/* Invariant 2, after the movement was added: only needed when something is taken that did not merely change
 * place. */
static cw_code still_there(cw_db *db, const cw_movement *m, cw_error *err)
{
    cw_on_hand low;
    if (m->clumps >= 0 && m->divisions >= 0)
        return CW_OK;
    if (strcmp(m->reason, "moved") == 0)
        return CW_OK;
    /* Entries mostly come in the order of their days; then the balance, which the database guards, is all there is. */
    bool later = false;
    cw_stmt *s = cw_db_stmt(db, "ledger.later");
    cw_code code = cw_stmt_one(s, &later, err, "ii", m->lot, (int64_t)m->day);
    cw_code end = cw_stmt_end(s, err);
    if (code != CW_OK || end != CW_OK || !later)
        return code != CW_OK ? code : end;
    code = cw_ledger_free_on(db, m->lot, m->day, &low, err);
    if (code != CW_OK || (low.clumps >= 0 && low.divisions >= 0))
        return code;
    char where[128], day[11];
    name_place(db, m->lot, 0, where);
    cw_day_format(m->day, day);
    if (low.clumps < 0)
        return cw_error_set(err, CW_CONFLICT,
                            "%s: %lld clumps cannot have gone on %s, that is %lld more than there were then "
                            "or are needed since",
                            where, (ll)-m->clumps, day, (ll)-low.clumps);
    return cw_error_set(err, CW_CONFLICT,
                        "%s: %lld divisions cannot have gone on %s, that is %lld more than there were then "
                        "or are needed since",
                        where, (ll)-m->divisions, day, (ll)-low.divisions);
}

cw_code cw_ledger_add(cw_db *db, const cw_movement *m, cw_error *err)
{
    cw_error raw = CW_ERROR_NONE;
    if (m->clumps == 0 && m->divisions == 0)
        return CW_OK;
    cw_code code = cw_stmt_run(cw_db_stmt(db, "ledger.add"), &raw, "iitiiiittit", (int64_t)m->at,
                               (int64_t)m->day, m->actor, m->lot, m->place, m->clumps, m->divisions,
                               m->reason, m->cause, m->cause_id, m->note);
    if (code == CW_CONFLICT) {
        char where[128];
        cw_on_hand now;
        name_place(db, m->lot, m->place, where);
        if (cw_ledger_at(db, m->lot, m->place, &now, err) != CW_OK)
            return code;
        if (now.clumps + m->clumps < 0)
            return cw_error_set(err, code, "%s has %lld clumps, %lld cannot go", where, (ll)now.clumps,
                                (ll)-m->clumps);
        if (now.divisions + m->divisions < 0)
            return cw_error_set(err, code, "%s has %lld divisions, %lld cannot go", where, (ll)now.divisions,
                                (ll)-m->divisions);
    }
    if (code != CW_OK)
        return cw_error_set(err, code, "%s", raw.text);
    return still_there(db, m, err);
}

/* Places of a lot, read whole before the first movement changes what is being read. */
typedef struct spot {
    int64_t place;
    cw_on_hand has;
} spot;

static cw_code read_spots(cw_stmt *s, cw_code started, spot **out, size_t *count, cw_error *err)
{
    size_t n = 0, room = 0;
    spot *spots = *out;
    cw_code code = started;
    while (code == CW_OK && cw_stmt_next(s)) {
        if (!cw_grow(&spots, n, &room, sizeof *spots)) {
            code = cw_error_memory(err);
            break;
        }
        spots[n++] = (spot){ cw_col_int(s, ledger_spots_place_id),
                             { cw_col_int(s, ledger_spots_clumps), cw_col_int(s, ledger_spots_divisions) } };
    }
    cw_code end = cw_stmt_end(s, err);
    *out = spots;
    *count = n;
    return code != CW_OK ? code : end;
}

/* Where it can be taken from, in the order in which it is taken. */
static cw_code find_spots(cw_db *db, int64_t lot, const cw_on_hand *want, spot **out, size_t *count,
                          cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "ledger.spots");
    cw_code code =
        read_spots(s, cw_stmt_start(s, err, "iii", lot, want->clumps, want->divisions), out, count, err);
    if (code != CW_OK || *count <= 1)
        return code;
    s = cw_db_stmt(db, "ledger.places");
    return read_spots(s, cw_stmt_start(s, err, "i", lot), out, count, err);
}

/* The wished place to the front; the others keep their order. */
static void wished_first(spot *spots, size_t n, int64_t place)
{
    for (size_t i = 1; i < n; i++) {
        if (spots[i].place != place)
            continue;
        spot wished = spots[i];
        memmove(spots + 1, spots, i * sizeof *spots);
        spots[0] = wished;
    }
}

cw_code cw_ledger_take(cw_db *db, const cw_movement *m, cw_error *err)
{
    spot *spots = NULL;
    size_t n = 0;
    assert(m->clumps >= 0 && m->divisions >= 0);
    cw_on_hand left = { m->clumps, m->divisions };
    cw_code code = left.clumps || left.divisions ? find_spots(db, m->lot, &left, &spots, &n, err) : CW_OK;
    if (code == CW_OK && m->place >= 0)
        wished_first(spots, n, m->place);
    for (size_t i = 0; i < n && code == CW_OK && (left.clumps || left.divisions); i++) {
        cw_movement one = *m;
        one.place = spots[i].place;
        one.clumps = -least(left.clumps, spots[i].has.clumps);
        one.divisions = -least(left.divisions, spots[i].has.divisions);
        left.clumps += one.clumps;
        left.divisions += one.divisions;
        code = cw_ledger_add(db, &one, err);
    }
    if (code == CW_OK && (left.clumps || left.divisions)) {
        char where[128];
        name_place(db, m->lot, 0, where);
        code =
            cw_error_set(err, CW_CONFLICT, "%s has %lld %s, %lld cannot go", where,
                         (ll)(left.clumps ? m->clumps - left.clumps : m->divisions - left.divisions),
                         left.clumps ? "clumps" : "divisions", (ll)(left.clumps ? m->clumps : m->divisions));
    }
    free(spots);
    return code;
}

typedef struct undo {
    int64_t id;
    cw_movement m; /* as the counter-entry will be, for the messages */
} undo;

static cw_code read_undos(cw_db *db, const char *cause, int64_t cause_id, undo **out, size_t *count,
                          cw_error *err)
{
    size_t n = 0, room = 0;
    undo *list = NULL;
    cw_stmt *s = cw_db_stmt(db, "ledger.of_cause");
    cw_code code = cw_stmt_start(s, err, "ti", cause, cause_id);
    while (code == CW_OK && cw_stmt_next(s)) {
        if (!cw_grow(&list, n, &room, sizeof *list)) {
            code = cw_error_memory(err);
            break;
        }
        list[n++] = (undo){ .id = cw_col_int(s, ledger_of_cause_id),
                            .m = { .day = (cw_day)cw_col_int(s, ledger_of_cause_day),
                                   .lot = cw_col_int(s, ledger_of_cause_lot_id),
                                   .place = cw_col_int(s, ledger_of_cause_place_id),
                                   .clumps = -cw_col_int(s, ledger_of_cause_clumps),
                                   .divisions = -cw_col_int(s, ledger_of_cause_divisions),
                                   .reason = "" } };
    }
    cw_code end = cw_stmt_end(s, err);
    *out = list;
    *count = n;
    return code != CW_OK ? code : end;
}

cw_code cw_ledger_reverse(cw_db *db, const char *cause, int64_t cause_id, cw_instant at, const char *actor,
                          const char *note, cw_error *err)
{
    undo *list = NULL;
    size_t n = 0;
    cw_code code = read_undos(db, cause, cause_id, &list, &n, err);
    if (code == CW_OK && n == 0)
        code = cw_error_set(err, CW_NOT_FOUND, "there is nothing to undo of %s %lld", cause, (ll)cause_id);
    for (size_t i = 0; i < n && code == CW_OK; i++) {
        cw_error raw = CW_ERROR_NONE;
        code = cw_stmt_run(cw_db_stmt(db, "ledger.reverse"), &raw, "iiitt", list[i].id, (int64_t)at,
                           (int64_t)list[i].m.day, actor, note);
        if (code == CW_CONFLICT) {
            char where[128];
            name_place(db, list[i].m.lot, list[i].m.place, where);
            cw_error_set(err, code,
                         "%s: what came has gone since, so it cannot be undone; undo what followed first",
                         where);
        } else if (code != CW_OK) {
            cw_error_set(err, code, "%s", raw.text);
        }
    }
    for (size_t i = 0; i < n && code == CW_OK; i++)
        code = still_there(db, &list[i].m, err);
    free(list);
    return code;
}

/* SPDX-License-Identifier: MIT */
#include "desk/field/field.h"

#include "base/limits.h"
#include "base/text.h"
#include "desk/intake/intake_inside.h"
#include "desk/stock/planting_inside.h"
#include "store/audit.h"
#include "store/ledger.h"
#include "store/rows.h"
#include "store/season.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define WIDTH(columns) (columns), CW_WIDTH(columns)

static const cw_column entered_columns[] = {
    { "planting", CW_INT_T, .null = true },
    { "row", CW_TEXT_T, .null = true },
    { "variety", CW_TEXT_T, .null = true },
    { "lot", CW_TEXT_T, .null = true },
    { "cause", CW_TEXT_T, .words = cw_words_field_causes },
    { "cause_id", CW_INT_T },
    { "standing", CW_INT_T, .null = true, .says = "plants left in the row" },
};
const cw_shape cw_field_entered_shape = CW_ROWS(entered_columns);

/* Closes an entry inside its transaction: audit, revision, what is left in the row. */
static cw_code close_entry(cw_nursery *n, const cw_asker *who, const char *action, int64_t planting,
                           const char *lot, const char *cause, int64_t id, const char *words, cw_table *out,
                           cw_error *err)
{
    cw_stand stand = { 0 };
    cw_planting_row p = { 0 };
    bool found = false;
    char subject[2 * CW_MAX_CODE + 40];
    cw_code code = planting ? cw_field_planting(n->db, planting, &found, &p, err) : CW_OK;
    if (code == CW_OK && found)
        code = cw_planting_check(n, planting, &stand, err);
    snprintf(subject, sizeof subject, "row %s %s", p.row, p.variety);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, action, subject, NULL, words, err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, true, false, err);
    cw_put_int(out, planting);
    cw_put_text(out, found ? p.row : NULL);
    cw_put_text(out, found ? p.variety : NULL);
    cw_put_text(out, lot);
    cw_put_text(out, cause);
    cw_put_int(out, id);
    if (found)
        cw_put_int(out, stand.standing);
    else
        cw_put_null(out);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

/* The planting meant by an entry's row, and its variety where one is named. */
static cw_code meant(cw_nursery *n, const char *row, const char *variety, cw_planting_row *out, cw_error *err)
{
    cw_codes codes = { .db = n->db };
    int64_t v = -1;
    char shown[80];
    cw_code code = CW_OK;
    if (row == NULL || row[0] == '\0')
        return cw_error_at(err, CW_REFUSED, NULL, 0, "row", "must not be empty");
    if (variety && variety[0])
        code = cw_codes_variety(&codes, variety, strlen(variety), &v, err);
    if (code == CW_OK && variety && variety[0] && v < 0)
        code = cw_error_at(err, CW_NOT_FOUND, NULL, 0, "variety", "there is no variety of this code: %s",
                           cw_shown(variety, strlen(variety), shown));
    if (code == CW_OK)
        code = cw_planting_of(n, row, v < 0 ? 0 : codes.variety[v].id, out, err);
    cw_codes_free(&codes);
    return code;
}

static cw_code add_round(cw_nursery *n, const cw_asker *who, const cw_planting_row *p,
                         const cw_field_entry *e, int64_t *id, cw_error *err)
{
    cw_saying room[6];
    const cw_saying *said[CW_MAX_KIND_COLUMNS] = {
        [CW_AT(field_rounds, row)] = cw_saying_text(&room[0], p->row),
        [CW_AT(field_rounds, seen_on)] = cw_saying_day(&room[1], who, e->day),
        [CW_AT(field_rounds, alive)] = cw_saying_number(&room[2], e->alive),
        [CW_AT(field_rounds, rogued)] = cw_saying_number(&room[3], e->rogued),
        [CW_AT(field_rounds, reason)] = cw_saying_text(&room[4], e->reason),
        [CW_AT(field_rounds, variety)] = cw_saying_text(&room[5], p->variety),
    };
    return cw_intake_one(n, who, CW_FIELD_ROUNDS, said, id, err);
}

static cw_code walk(cw_nursery *n, const cw_asker *who, const cw_field_entry *e, cw_table *out, cw_error *err)
{
    cw_planting_row p;
    int64_t id = 0;
    char words[200];
    cw_code code = meant(n, e->row, e->variety, &p, err);
    if (code == CW_OK)
        code = add_round(n, who, &p, e, &id, err);
    if (code == CW_OK && id == 0)
        code = cw_error_at(err, CW_CONFLICT, NULL, 0, "alive",
                           "just this walk of row %.32s is on record already", p.row);
    snprintf(words, sizeof words, "alive %lld, taken out %lld%s%.120s", (long long)e->alive,
             (long long)(e->rogued == CW_NOT_SAID ? 0 : e->rogued), e->reason ? ": " : "",
             e->reason ? e->reason : "");
    return code == CW_OK ? close_entry(n, who, "walk", p.id, NULL, "round", id, words, out, err) : code;
}

/* "A1-2": the row, and the first number that no lot has. */
static cw_code name_lot(cw_nursery *n, const char *row, char out[CW_MAX_CODE + 1], cw_error *err)
{
    bool there = true;
    cw_code code = CW_OK;
    for (int k = 1; code == CW_OK && there && k < 1000; k++) {
        snprintf(out, CW_MAX_CODE + 1, "%.27s-%d", row, k);
        code = cw_field_lot_there(n->db, out, &there, err);
    }
    return code == CW_OK && there ? cw_error_at(err, CW_CONFLICT, NULL, 0, "lot", "give the lot a code")
                                  : code;
}

/* The row is done with: nothing is alive in it any more. */
static cw_code finish(cw_nursery *n, const cw_asker *who, const cw_planting_row *p, cw_day day, cw_error *err)
{
    cw_field_entry none = CW_FIELD_ENTRY;
    int64_t id = 0;
    none.day = day;
    none.alive = 0;
    none.reason = "dug";
    return add_round(n, who, p, &none, &id, err);
}

static cw_code dig(cw_nursery *n, const cw_asker *who, const cw_field_entry *e, cw_table *out, cw_error *err)
{
    cw_planting_row p;
    cw_saying room[7];
    char lot[CW_MAX_CODE + 1] = "", words[200];
    int64_t id = 0;
    cw_code code = meant(n, e->row, e->variety, &p, err);
    if (code == CW_OK && e->lot && e->lot[0])
        cw_copy(lot, sizeof lot, e->lot);
    else if (code == CW_OK)
        code = name_lot(n, p.row, lot, err);
    const cw_saying *said[CW_MAX_KIND_COLUMNS] = {
        [CW_AT(lots, lot)] = cw_saying_text(&room[0], lot),
        [CW_AT(lots, variety)] = cw_saying_text(&room[1], p.variety),
        [CW_AT(lots, dug_on)] = cw_saying_day(&room[2], who, e->day),
        [CW_AT(lots, clumps)] = cw_saying_number(&room[3], e->clumps),
        [CW_AT(lots, row)] = cw_saying_text(&room[4], p.row),
        [CW_AT(lots, culled)] = cw_saying_number(&room[5], e->culled),
        [CW_AT(lots, place)] = cw_saying_text(&room[6], e->place && e->place[0] ? e->place : NULL),
    };
    if (code == CW_OK && e->clumps + (e->culled > 0 ? e->culled : 0) == 0)
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "clumps", "nothing was dug: 0 clumps, 0 culled");
    if (code == CW_OK)
        code = cw_intake_one(n, who, CW_LOTS, said, &id, err);
    if (code == CW_OK && id == 0)
        code = cw_error_at(err, CW_CONFLICT, NULL, 0, "lot", "lot %.32s is on record already", lot);
    if (code == CW_OK && e->done && strcmp(e->done, "yes") == 0)
        code = finish(n, who, &p, e->day, err);
    if (code == CW_OK)
        code = cw_field_take(n->db, p.id, NULL, err);
    snprintf(words, sizeof words, "lot %s, clumps %lld, culled %lld, place %.32s", lot, (long long)e->clumps,
             (long long)(e->culled == CW_NOT_SAID ? 0 : e->culled), e->place ? e->place : "");
    return code == CW_OK ? close_entry(n, who, "dig", p.id, lot, "dug", id, words, out, err) : code;
}

static cw_code plant(cw_nursery *n, const cw_asker *who, const cw_field_entry *e, cw_table *out,
                     cw_error *err)
{
    cw_saying room[6];
    int64_t id = 0;
    char words[100];
    cw_planting_row there;
    cw_error none = CW_ERROR_NONE;
    if (e->row == NULL || e->row[0] == '\0')
        return cw_error_at(err, CW_REFUSED, NULL, 0, "row", "must not be empty");
    cw_code code = meant(n, e->row, e->variety, &there, &none);
    if (code == CW_OK)
        return cw_error_at(
            err, CW_CONFLICT, NULL, 0, "row",
            "row %.32s holds %s already; another lot of it needs a stretch with its own name, as %.24s-b",
            e->row, there.variety, e->row);
    if (code == CW_MACHINE)
        return cw_error_set(err, code, "%s", none.text);
    const cw_saying *said[CW_MAX_KIND_COLUMNS] = {
        [CW_AT(plantings, row)] = cw_saying_text(&room[0], e->row),
        [CW_AT(plantings, variety)] = cw_saying_text(&room[1], e->variety),
        [CW_AT(plantings, plants)] = cw_saying_number(&room[2], e->plants),
        [CW_AT(plantings, planted_on)] = cw_saying_day(&room[3], who, e->day),
        [CW_AT(plantings, lot)] = cw_saying_text(&room[4], e->lot && e->lot[0] ? e->lot : NULL),
        [CW_AT(plantings, spacing_cm)] = cw_saying_number(&room[5], e->spacing_cm),
    };
    code = cw_intake_one(n, who, CW_PLANTINGS, said, &id, err);
    snprintf(words, sizeof words, "plants %lld, lot %.32s", (long long)e->plants, e->lot ? e->lot : "");
    return code == CW_OK ? close_entry(n, who, "plant", id, NULL, "planting", id, words, out, err) : code;
}

typedef cw_code (*doer)(cw_nursery *n, const cw_asker *who, const cw_field_entry *e, cw_table *out,
                        cw_error *err);

static cw_code enter(cw_nursery *n, const cw_asker *who, const cw_field_entry *e, doer act, cw_table *out,
                     cw_error *err)
{
    cw_table_init(out, WIDTH(entered_columns));
    cw_code code = cw_work_begin(n, err);
    return code == CW_OK ? cw_work_end(n, act(n, who, e, out, err), err) : code;
}

cw_code cw_field_walk(cw_nursery *n, const cw_asker *who, const cw_field_entry *e, cw_table *out,
                      cw_error *err)
{
    return enter(n, who, e, walk, out, err);
}

cw_code cw_field_dig(cw_nursery *n, const cw_asker *who, const cw_field_entry *e, cw_table *out,
                     cw_error *err)
{
    return enter(n, who, e, dig, out, err);
}

cw_code cw_field_plant(cw_nursery *n, const cw_asker *who, const cw_field_entry *e, cw_table *out,
                       cw_error *err)
{
    return enter(n, who, e, plant, out, err);
}

static cw_code name_row(cw_nursery *n, const cw_asker *who, int64_t planting, const char *row, cw_table *out,
                        cw_error *err)
{
    cw_planting_row p, other;
    bool found = false;
    cw_error why = CW_ERROR_NONE;
    size_t length = row ? strlen(row) : 0;
    if (length == 0 || length > CW_MAX_CODE)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "row", "must be 1 to %d bytes", CW_MAX_CODE);
    cw_code code = cw_field_planting(n->db, planting, &found, &p, err);
    if (code == CW_OK && !found)
        code = cw_error_at(err, CW_NOT_FOUND, NULL, 0, "planting", "there is no such planting: %lld",
                           (long long)planting);
    if (code == CW_OK && p.row[0])
        code = cw_error_at(err, CW_CONFLICT, NULL, 0, "row", "the planting stands in row %s already", p.row);
    if (code != CW_OK)
        return code;
    code = cw_planting_of(n, row, p.variety_id, &other, &why);
    if (code == CW_OK)
        return cw_error_at(
            err, CW_CONFLICT, NULL, 0, "row",
            "row %.32s holds %s already; another lot of it needs a stretch with its own name, as %.24s-b",
            row, p.variety, row);
    if (code != CW_NOT_FOUND &&
        code != CW_CONFLICT) { /* neither empty nor another variety's: it could not be read */
        *err = why;
        return code;
    }
    code = cw_field_move_in(n->db, planting, row, err);
    if (code == CW_OK)
        code = cw_field_link_lots(n->db, planting, err);
    return code == CW_OK ? close_entry(n, who, "plant", planting, NULL, "planting", planting, row, out, err)
                         : code;
}

cw_code cw_field_name_row(cw_nursery *n, const cw_asker *who, int64_t planting, const char *row,
                          cw_table *out, cw_error *err)
{
    cw_table_init(out, WIDTH(entered_columns));
    cw_code code = cw_work_begin(n, err);
    return code == CW_OK ? cw_work_end(n, name_row(n, who, planting, row, out, err), err) : code;
}

cw_code cw_field_take_row(cw_nursery *n, const cw_asker *who, const char *row, const char *variety, bool yes,
                          cw_table *out, cw_error *err)
{
    cw_planting_row p;
    cw_table_init(out, WIDTH(entered_columns));
    cw_code code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = meant(n, row, variety, &p, err);
    if (code == CW_OK)
        code = cw_field_take(n->db, p.id, yes ? who->actor : NULL, err);
    if (code == CW_OK)
        code =
            close_entry(n, who, yes ? "take row" : "leave row", p.id, NULL, "planting", p.id, "", out, err);
    return cw_work_end(n, code, err);
}

static cw_code undo_dug(cw_nursery *n, const cw_asker *who, int64_t lot, const char *why, cw_error *err)
{
    bool untouched = false;
    cw_error raw = CW_ERROR_NONE;
    cw_code code = cw_field_untouched(n->db, lot, &untouched, err);
    if (code == CW_OK && !untouched)
        code =
            cw_error_at(err, CW_CONFLICT, NULL, 0, "cause_id",
                        "something has been done with that lot since it was dug; correct it by a stock-take");
    if (code == CW_OK) {
        code = cw_ledger_reverse(n->db, "lot", lot, who->now, who->actor, why, &raw);
        if (code == CW_NOT_FOUND) /* all of it was culled: nothing came into store */
            code = CW_OK;
        else if (code != CW_OK)
            code = cw_error_at(err, code, NULL, 0, "cause_id", "%s", raw.text);
    }
    return code == CW_OK ? cw_field_undig(n->db, lot, err) : code;
}

cw_code cw_field_undo(cw_nursery *n, const cw_asker *who, const char *cause, int64_t id, const char *why,
                      cw_table *out, cw_error *err)
{
    bool dug = strcmp(cause, "dug") == 0, found = false;
    int64_t planting = 0;
    cw_table_init(out, WIDTH(entered_columns));
    if (why == NULL || why[0] == '\0' || strlen(why) > CW_MAX_NOTE)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "why",
                           "taking something back needs a reason of at most %d bytes", CW_MAX_NOTE);
    if (!dug && strcmp(cause, "round") != 0)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "cause", "must be one of round, dug: %.60s", cause);
    cw_code code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = dug ? cw_field_of_lot(n->db, id, &planting, err) : cw_field_of_round(n->db, id, &planting, err);
    if (code == CW_OK && planting != 0 && dug)
        code = undo_dug(n, who, id, why, err);
    else if (code == CW_OK && planting != 0)
        code = cw_field_undo_round(n->db, id, &found, err);
    if (code == CW_OK && (planting == 0 || (!dug && !found)))
        code = cw_error_at(err, CW_NOT_FOUND, NULL, 0, "cause_id",
                           "there is no such %s, or it is taken back already: %lld",
                           dug ? "lot dug of a row" : "walk", (long long)id);
    if (code == CW_OK)
        code = close_entry(n, who, "undo", planting, NULL, cause, id, why, out, err);
    return cw_work_end(n, code, err);
}

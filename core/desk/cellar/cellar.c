/* SPDX-License-Identifier: MIT */
#include "desk/cellar/cellar.h"

#include "base/limits.h"
#include "desk/intake/intake_inside.h"
#include "desk/stock/stock_inside.h"
#include "store/audit.h"
#include "store/cellar.h"
#include "store/ledger.h"
#include "store/season.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

#define WIDTH(columns) (columns), CW_WIDTH(columns)

static const cw_column answer_columns[] = {
    { "lot", CW_TEXT_T },   { "cause", CW_TEXT_T },    { "cause_id", CW_INT_T },
    { "clumps", CW_INT_T }, { "divisions", CW_INT_T },
};

const cw_shape cw_cellar_entered_shape = CW_ROWS(answer_columns);

/* Closes an entry inside its transaction: audit, revision, and what the lot holds now. */
static cw_code close_entry(cw_nursery *n, const cw_asker *who, const char *action, const char *cause,
                           int64_t cause_id, const char *words, cw_table *out, cw_error *err)
{
    char name[CW_MAX_CODE + 1], subject[64];
    int64_t lot = 0;
    cw_on_hand now = { 0, 0 };
    cw_code code = cw_lot_of_record(n->db, cause, cause_id, &lot, name, err);
    snprintf(subject, sizeof subject, "%s%s", lot ? "lot " : "", name);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, action, subject, NULL, words, err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, true, false, err);
    if (code == CW_OK)
        code = cw_ledger_lot(n->db, lot, &now, err);
    cw_put_text(out, name);
    cw_put_text(out, cause);
    cw_put_int(out, cause_id);
    cw_put_int(out, now.clumps);
    cw_put_int(out, now.divisions);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

/* "divided_on 2032-02-20, clumps 3": all that was said but the lot, for the record. */
static void tell(const cw_kind *k, const cw_saying *const *said, char out[400])
{
    size_t used = 0;
    out[0] = '\0';
    for (size_t c = 1; c < k->width && used < 400; c++) {
        char value[CW_CELL_BYTES] = "";
        if (said[c] == NULL)
            continue;
        if (said[c]->t == NULL)
            value[cw_value_format(k->columns[c].holds.type, 0, &(cw_value){ .i = said[c]->i }, value)] = '\0';
        used += (size_t)snprintf(out + used, 400 - used, "%s%s %s", used ? ", " : "", k->columns[c].name,
                                 said[c]->t ? said[c]->t : value);
    }
}

/* A row of one of the CSV kinds, entered and closed in one transaction. */
static cw_code enter_row(cw_nursery *n, const cw_asker *who, cw_kind_id kind, const cw_saying *const *said,
                         const char *cause, cw_table *out, cw_error *err)
{
    char words[400];
    int64_t id = 0;
    cw_table_init(out, WIDTH(answer_columns));
    cw_code code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = cw_intake_one(n, who, kind, said, &id, err);
    tell(&cw_kinds[kind], said, words);
    if (code == CW_OK)
        code = close_entry(n, who, cw_kinds[kind].one, cause, id, words, out, err);
    return cw_work_end(n, code, err);
}

cw_code cw_cellar_divide(cw_nursery *n, const cw_asker *who, const cw_cellar_entry *e, cw_table *out,
                         cw_error *err)
{
    cw_saying room[CW_MAX_KIND_COLUMNS];
    const cw_saying *said[CW_MAX_KIND_COLUMNS] = {
        [CW_AT(divisions, lot)] = cw_saying_text(&room[0], e->lot),
        [CW_AT(divisions, divided_on)] = cw_saying_day(&room[1], who, e->day),
        [CW_AT(divisions, clumps)] = cw_saying_number(&room[2], e->clumps),
        [CW_AT(divisions, saleable)] = cw_saying_number(&room[3], e->saleable),
        [CW_AT(divisions, blind)] = cw_saying_number(&room[4], e->blind),
        [CW_AT(divisions, rotten)] = cw_saying_number(&room[5], e->rotten),
        [CW_AT(divisions, place)] = cw_saying_text(&room[6], e->place),
        [CW_AT(divisions, minutes)] = cw_saying_number(&room[7], e->minutes > 0 ? e->minutes : CW_NOT_SAID),
        [CW_AT(divisions, people)] = cw_saying_number(&room[8], e->people > 0 ? e->people : CW_NOT_SAID),
    };
    return enter_row(n, who, CW_DIVISIONS, said, "dividing", out, err);
}

cw_code cw_cellar_check(cw_nursery *n, const cw_asker *who, const cw_cellar_entry *e, cw_table *out,
                        cw_error *err)
{
    cw_saying room[CW_MAX_KIND_COLUMNS];
    const cw_saying *said[CW_MAX_KIND_COLUMNS] = {
        [CW_AT(checks, lot)] = cw_saying_text(&room[0], e->lot),
        [CW_AT(checks, checked_on)] = cw_saying_day(&room[1], who, e->day),
        [CW_AT(checks, stage)] = cw_saying_text(&room[2], e->stage),
        [CW_AT(checks, inspected)] = cw_saying_number(&room[3], e->inspected),
        [CW_AT(checks, rotten)] = cw_saying_number(&room[4], e->rotten),
        [CW_AT(checks, shrivelled)] = cw_saying_number(&room[5], e->shrivelled),
        [CW_AT(checks, why)] = cw_saying_text(&room[6], e->why),
    };
    return enter_row(n, who, CW_CHECKS, said, "check", out, err);
}

cw_code cw_cellar_count(cw_nursery *n, const cw_asker *who, const cw_cellar_entry *e, cw_table *out,
                        cw_error *err)
{
    cw_saying room[CW_MAX_KIND_COLUMNS];
    const cw_saying *said[CW_MAX_KIND_COLUMNS] = {
        [CW_AT(counts, lot)] = cw_saying_text(&room[0], e->lot),
        [CW_AT(counts, counted_on)] = cw_saying_day(&room[1], who, e->day),
        [CW_AT(counts, stage)] = cw_saying_text(&room[2], e->stage),
        [CW_AT(counts, count)] = cw_saying_number(&room[3], e->count),
        [CW_AT(counts, place)] = cw_saying_text(&room[4], e->place),
        [CW_AT(counts, looked)] = cw_saying_text(&room[5], e->looked),
    };
    return enter_row(n, who, CW_COUNTS, said, "stock_take", out, err);
}

/* Lot, day and place of a move or another entry, which have no CSV kind. */
static cw_code find_event(cw_nursery *n, const cw_asker *who, const cw_cellar_entry *e, cw_event *event,
                          int64_t *to, cw_error *err)
{
    cw_codes codes = { .db = n->db };
    int64_t lot = -1, place = -1;
    char shown[80];
    const char *asked[3] = { e->lot ? e->lot : "", e->place ? e->place : "", e->to ? e->to : "" };
    cw_code code = cw_codes_lot(&codes, asked[0], strlen(asked[0]), &lot, err);
    if (code == CW_OK && lot < 0)
        code = cw_error_at(err, CW_NOT_FOUND, NULL, 0, "lot", "there is no such lot: %s",
                           cw_shown(asked[0], strlen(asked[0]), shown));
    *event = (cw_event){ .day = e->day == CW_NO_DAY ? who->today : e->day, .place = CW_ANY_PLACE };
    if (code == CW_OK)
        event->lot = codes.lot[lot].id;
    if (code == CW_OK && (event->day > who->today || event->day < codes.lot[lot].dug_on))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "day",
                           "must not lie after today, nor before the lot was dug");
    for (int k = 1; k <= 2 && code == CW_OK; k++) {
        if (asked[k][0] == '\0')
            continue;
        code = cw_codes_place(&codes, asked[k], strlen(asked[k]), &place, err);
        if (code == CW_OK && place < 0)
            code = cw_error_at(err, CW_NOT_FOUND, NULL, 0, k == 1 ? "place" : "to",
                               "there is no such place: %s", cw_shown(asked[k], strlen(asked[k]), shown));
        else if (code == CW_OK)
            *(k == 1 ? &event->place : to) = codes.place[place];
    }
    cw_codes_free(&codes);
    return code;
}

/* What moves stock and keeps no record of its own. It answers with its number, and with words for the audit. */
typedef cw_code (*doer)(cw_nursery *n, const cw_asker *who, const cw_cellar_entry *e, int64_t clumps,
                        int64_t divisions, int64_t *id, char words[256], cw_error *err);

static cw_code without_record(cw_nursery *n, const cw_asker *who, const cw_cellar_entry *e, doer act,
                              const char *cause, cw_table *out, cw_error *err)
{
    int64_t id = 0;
    char words[256] = "";
    cw_table_init(out, WIDTH(answer_columns));
    cw_code code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = act(n, who, e, e->clumps == CW_NOT_SAID ? 0 : e->clumps,
               e->divisions == CW_NOT_SAID ? 0 : e->divisions, &id, words, err);
    if (code == CW_OK)
        code = close_entry(n, who, cause, cause, id, words, out, err);
    return cw_work_end(n, code, err);
}

static cw_code move(cw_nursery *n, const cw_asker *who, const cw_cellar_entry *e, int64_t clumps,
                    int64_t divisions, int64_t *id, char words[256], cw_error *err)
{
    cw_event event;
    int64_t to = CW_ANY_PLACE;
    cw_code code = find_event(n, who, e, &event, &to, err);
    if (code == CW_OK && to == CW_ANY_PLACE)
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "to", "must not be empty");
    if (code == CW_OK && event.place == CW_ANY_PLACE)
        event.place = 0; /* stock whose place nobody has written down yet */
    if (code == CW_OK)
        code = cw_stock_move(n, who, &event, to, clumps, divisions, id, err);
    snprintf(words, 256, "from %s to %s, clumps %lld, divisions %lld", e->place ? e->place : "nowhere",
             e->to ? e->to : "", (long long)clumps, (long long)divisions);
    return code;
}

cw_code cw_cellar_move(cw_nursery *n, const cw_asker *who, const cw_cellar_entry *e, cw_table *out,
                       cw_error *err)
{
    return without_record(n, who, e, move, "move", out, err);
}

static cw_code enter(cw_nursery *n, const cw_asker *who, const cw_cellar_entry *e, int64_t clumps,
                     int64_t divisions, int64_t *id, char words[256], cw_error *err)
{
    cw_event event;
    int64_t to = CW_ANY_PLACE;
    const char *reason = e->reason ? e->reason : "";
    cw_code code = find_event(n, who, e, &event, &to, err);
    if (code == CW_OK && e->note && strlen(e->note) > CW_MAX_NOTE)
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "note", "must be at most %d bytes", CW_MAX_NOTE);
    if (code == CW_OK)
        code = cw_stock_enter(n, who, &event, reason, clumps, divisions, e->note, id, err);
    snprintf(words, 256, "%.30s, clumps %lld, divisions %lld", reason, (long long)clumps,
             (long long)divisions);
    return code;
}

cw_code cw_cellar_enter(cw_nursery *n, const cw_asker *who, const cw_cellar_entry *e, cw_table *out,
                        cw_error *err)
{
    return without_record(n, who, e, enter, "entry", out, err);
}

cw_code cw_cellar_undo(cw_nursery *n, const cw_asker *who, const char *cause, int64_t cause_id,
                       const char *why, cw_table *out, cw_error *err)
{
    cw_table_init(out, WIDTH(answer_columns));
    if (why == NULL || why[0] == '\0' || strlen(why) > CW_MAX_NOTE)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "why",
                           "taking something back needs a reason of at most %d bytes", CW_MAX_NOTE);
    cw_code code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = cw_stock_undo(n, who, cause, cause_id, why, err);
    if (code == CW_OK)
        code = close_entry(n, who, "undo", cause, cause_id, why, out, err);
    return cw_work_end(n, code, err);
}

/* SPDX-License-Identifier: MIT */
/* A picker's answer, booked once: in the ledger and on the pick. A second, different answer is a clash. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/digest.h"
#include "base/text.h"
#include "desk/pick/picking_inside.h"
#include "store/audit.h"
#include "store/ledger.h"
#include "store/people.h"
#include "store/season.h"

#include "base/banned.h"

typedef long long ll;

#define DETAIL 700

typedef struct outcome {
    const char *word; /* done, already, clash */
    char detail[DETAIL];
    int64_t ghosts; /* written off because the crate is empty */
} outcome;

static const char *const reasons[] = { "rotten", "shrivelled", "missing", "mislabelled" };

static bool is_reason(const char *s)
{
    for (size_t i = 0; i < sizeof reasons / sizeof reasons[0]; i++)
        if (strcmp(reasons[i], s) == 0)
            return true;
    return false;
}

static const char *reason_of(const cw_picking_answer *a)
{
    return a->reason ? a->reason : "";
}

static const char *packer_of(const cw_asker *who, const cw_picking_answer *a)
{
    return a->packer && a->packer[0] ? a->packer : who->actor;
}

/* Answers are kept under "pick:KEY", apart from the keys of whole requests. */
static void kept_key(const cw_picking_answer *a, char out[CW_PICKING_MAX_KEY + 8])
{
    snprintf(out, CW_PICKING_MAX_KEY + 8, "pick:%s", a->key);
}

static void digest(const cw_picking_answer *a, char out[65])
{
    cw_digest d;
    cw_digest_init(&d);
    cw_digest_add_int(&d, a->pick);
    cw_digest_add_int(&d, a->taken);
    cw_digest_add_text(&d, reason_of(a));
    if (a->empty) /* other answers keep the digest of the time before crates were asked about */
        cw_digest_add_int(&d, 1);
    cw_digest_end(&d, out);
}

/* Answered before under this key: the first outcome again. */
static cw_code known_key(cw_nursery *n, const cw_picking_answer *a, bool *known, outcome *out, cw_error *err)
{
    char key[CW_PICKING_MAX_KEY + 8], request[65] = "", now[65];
    unsigned status = 0;
    char *body = NULL;
    kept_key(a, key);
    cw_code code = cw_answered_find(n->db, key, known, request, &status, &body, err);
    if (code == CW_OK && *known) {
        digest(a, now);
        if (strcmp(request, now) != 0) {
            out->word = "clash";
            snprintf(out->detail, DETAIL,
                     "another answer was sent under this key before; this one was not booked");
        } else {
            out->word = status == 200 ? "already" : "clash";
            cw_copy(out->detail, DETAIL, body ? body : "");
        }
    }
    free(body);
    return code;
}

static cw_code keep(cw_nursery *n, const cw_asker *who, const cw_picking_answer *a, const outcome *o,
                    cw_error *err)
{
    char key[CW_PICKING_MAX_KEY + 8], request[65];
    kept_key(a, key);
    digest(a, request);
    return cw_answered_keep(n->db, key, request, strcmp(o->word, "clash") == 0 ? 409 : 200, o->detail,
                            who->now, err);
}

static void say_taken(int64_t taken, int64_t quantity, const char *reason, char out[80])
{
    if (taken == quantity)
        snprintf(out, 80, "all %lld taken", (ll)taken);
    else
        snprintf(out, 80, "%lld of %lld taken, the rest %s", (ll)taken, (ll)quantity, reason);
}

/* The pick has its answer: the same person saying the same is no clash. */
static void against(const cw_asker *who, const cw_picking_answer *a, const cw_pick_row *p, outcome *o)
{
    char theirs[80], mine[80], on[11];
    say_taken(p->taken, p->quantity, p->reason, theirs);
    say_taken(a->taken, p->quantity, reason_of(a), mine);
    if (strcmp(p->answered_by, packer_of(who, a)) == 0 && p->taken == a->taken &&
        strcmp(p->reason, reason_of(a)) == 0) {
        o->word = "already";
        snprintf(o->detail, DETAIL, "%s", theirs);
        return;
    }
    cw_day_format(cw_asker_day(who, p->answered_at), on);
    o->word = "clash";
    snprintf(
        o->detail, DETAIL,
        "%s answered lot %s for order %s before, on %s: %s. This answer (%s) was not booked: empty slot %lld "
        "of what was taken twice, or have the first answer undone",
        p->answered_by, p->lot_code, p->order, on, theirs, mine, (ll)p->slot);
}

static cw_movement movement(const cw_asker *who, const cw_pick_row *p, int64_t pick)
{
    return (cw_movement){ .at = who->now,
                          .day = who->today,
                          .actor = who->actor,
                          .lot = p->lot,
                          .place = p->place,
                          .cause = "pick",
                          .cause_id = pick };
}

/* The short part leaves the ledger as far as it is still in it at that place: others may have written it off before. *ghosts:
 * what left it beyond that, because the crate is empty. */
static cw_code write_short(cw_nursery *n, const cw_asker *who, const cw_picking_answer *a,
                           const cw_pick_row *p, int64_t *ghosts, cw_error *err)
{
    cw_on_hand there;
    int64_t lost = p->quantity - a->taken;
    if (lost == 0)
        return CW_OK;
    if (strcmp(a->reason, "mislabelled") == 0) {
        char why[CW_MAX_NAME + 1], day[11];
        cw_day_format(who->today, day);
        snprintf(why, sizeof why, "mislabelled: found by %.100s on %s at order %s", packer_of(who, a), day,
                 p->order);
        return cw_waves_hold_lot(n->db, p->lot, why, err);
    }
    cw_code code = cw_ledger_at(n->db, p->lot, p->place, &there, err);
    cw_movement m = movement(who, p, a->pick);
    m.reason = a->reason;
    if (code == CW_OK && a->empty && there.divisions > lost) {
        *ghosts = there.divisions - lost;
        lost = there.divisions;
    }
    m.divisions = -(lost < there.divisions ? lost : there.divisions);
    return code == CW_OK ? cw_ledger_add(n->db, &m, err) : code;
}

static cw_code book(cw_nursery *n, const cw_asker *who, const cw_picking_answer *a, const cw_pick_row *p,
                    int64_t *ghosts, cw_error *err)
{
    cw_movement m = movement(who, p, a->pick);
    m.reason = "picked";
    m.divisions = a->taken;
    cw_instant at = a->at == CW_NO_INSTANT || a->at > who->now ? who->now : a->at;
    cw_code code = cw_ledger_take(n->db, &m, err);
    if (code == CW_OK)
        code = write_short(n, who, a, p, ghosts, err);
    if (code == CW_OK)
        code = cw_waves_answer(n->db, a->pick, a->taken, a->reason, at, packer_of(who, a), err);
    if (code == CW_OK)
        code = cw_waves_settle(n->db, p->wave, err);
    return code;
}

static cw_code audit(cw_nursery *n, const cw_asker *who, const cw_picking_answer *a, const cw_pick_row *p,
                     const outcome *o, cw_error *err)
{
    char subject[40], after[240], said[80], empty[60] = "";
    say_taken(a->taken, p->quantity, reason_of(a), said);
    snprintf(subject, sizeof subject, "pick %lld", (ll)a->pick);
    if (a->empty)
        snprintf(empty, sizeof empty, "; the crate is empty, %lld more missing", (ll)o->ghosts);
    snprintf(after, sizeof after, "order %s line %d, lot %s: %s%s", p->order, p->line, p->lot_code, said,
             empty);
    return cw_audit_add(n->db, who->now, who->actor, "answer pick", subject, NULL, after, err);
}

/* In a savepoint: what the ledger cannot bear is a clash with the record, and the other answers stand. */
static cw_code try_book(cw_nursery *n, const cw_asker *who, const cw_picking_answer *a, const cw_pick_row *p,
                        outcome *o, cw_error *err)
{
    cw_error no = CW_ERROR_NONE;
    cw_code code = cw_db_savepoint(n->db, err);
    if (code != CW_OK)
        return code;
    code = book(n, who, a, p, &o->ghosts, &no);
    if (code == CW_CONFLICT) {
        cw_db_undo(n->db);
        o->word = "clash";
        snprintf(o->detail, DETAIL, "not booked: %.300s; count the lot, then answer again", no.text);
        return CW_OK;
    }
    if (code != CW_OK) {
        cw_db_undo(n->db);
        return cw_error_set(err, code, "%s", no.text);
    }
    o->word = "done";
    say_taken(a->taken, p->quantity, reason_of(a), o->detail);
    if (o->ghosts > 0)
        snprintf(o->detail, DETAIL,
                 "%lld of %lld taken, the rest missing; lot %s is empty here, %lld more written off",
                 (ll)a->taken, (ll)p->quantity, p->lot_code, (ll)o->ghosts);
    bool frost = false;
    char why[301];
    cw_week now = cw_week_of(who->today);
    code = cw_ship_frost(n->db, p->order_id, p->week > now ? p->week : now, 0, &frost, why, err);
    if (code != CW_OK) {
        cw_db_undo(n->db);
        return code;
    }
    if (frost && a->taken > 0)
        snprintf(o->detail, DETAIL, "booked, but order %s is under a %s: put its parcel aside", p->order,
                 why);
    if (p->held[0] && a->taken > 0)
        snprintf(o->detail, DETAIL, "booked, but lot %s is held (%.200s): put these aside for the office",
                 p->lot_code, p->held);
    return cw_db_release(n->db, err);
}

static cw_code answer_one(cw_nursery *n, const cw_asker *who, const cw_picking_answer *a, outcome *o,
                          cw_error *err)
{
    bool known = false, found = false, booked = false;
    cw_pick_row p = { 0 };
    cw_code code = known_key(n, a, &known, o, err);
    if (code != CW_OK || known)
        return code;
    code = cw_waves_pick(n->db, a->pick, &found, &p, err);
    if (code != CW_OK)
        return code;
    o->word = "clash";
    if (!found)
        snprintf(o->detail, DETAIL, "pick %lld is on no list any more: leave it, and load the list anew",
                 (ll)a->pick);
    else if (a->taken > p.quantity)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "taken", "%lld taken, but pick %lld asks only %lld",
                           (ll)a->taken, (ll)a->pick, (ll)p.quantity);
    else if ((a->taken < p.quantity) != (a->reason != NULL))
        return cw_error_at(
            err, CW_REFUSED, NULL, 0, "reason",
            a->reason
                ? "pick %lld has all that was asked, so it has no reason to be short"
                : "pick %lld is short: say whether the rest is rotten, shrivelled, missing or mislabelled",
            (ll)a->pick);
    else if (p.done)
        against(who, a, &p, o);
    else if (strcmp(p.order_state, "open") != 0)
        snprintf(o->detail, DETAIL, "order %s is %s: leave these where they are", p.order, p.order_state);
    else {
        code = try_book(n, who, a, &p, o, err);
        booked = code == CW_OK && strcmp(o->word, "done") == 0;
        if (booked)
            code = audit(n, who, a, &p, o, err);
        if (code == CW_OK && !booked)
            return code; /* nothing was decided, so the key is not used up */
    }
    return code == CW_OK ? keep(n, who, a, o, err) : code;
}

static cw_code check(const cw_picking_answer *a, size_t i, cw_error *err)
{
    char shown[80];
    size_t length = a->key ? strlen(a->key) : 0;
    if (length < 1 || length > CW_PICKING_MAX_KEY)
        return cw_error_at(err, CW_REFUSED, NULL, (long)i + 1, "key", "must have 1 to %d bytes",
                           CW_PICKING_MAX_KEY);
    if (a->taken < 0)
        return cw_error_at(err, CW_REFUSED, NULL, (long)i + 1, "taken", "must not be negative: %lld",
                           (ll)a->taken);
    if (a->reason && !is_reason(a->reason))
        return cw_error_at(err, CW_REFUSED, NULL, (long)i + 1, "reason",
                           "must be rotten, shrivelled, missing or mislabelled: %s",
                           cw_shown(a->reason, strlen(a->reason), shown));
    if (a->empty && strcmp(reason_of(a), "missing") != 0)
        return cw_error_at(err, CW_REFUSED, NULL, (long)i + 1, "empty", "goes with the reason missing only");
    return CW_OK;
}

static cw_code answer_all(cw_nursery *n, const cw_asker *who, const cw_picking_answer *answers, size_t count,
                          cw_table *out, cw_error *err)
{
    bool booked = false;
    cw_code code = CW_OK;
    for (size_t i = 0; i < count && code == CW_OK; i++) {
        outcome o = { "", "", 0 };
        code = check(&answers[i], i, err);
        if (code == CW_OK)
            code = answer_one(n, who, &answers[i], &o, err);
        if (code != CW_OK)
            break;
        booked = booked || strcmp(o.word, "done") == 0;
        cw_put_text(out, answers[i].key);
        cw_put_int(out, answers[i].pick);
        cw_put_text(out, o.word);
        cw_put_text(out, o.detail);
    }
    return code == CW_OK && booked ? cw_season_touch(n->db, true, true, err) : code;
}

static const cw_column picking_answer_all_columns[] = { { "key", CW_TEXT_T },
                                                        { "pick", CW_INT_T },
                                                        { "outcome", CW_TEXT_T,
                                                          .words = "done|already|clash" },
                                                        { "detail", CW_TEXT_T } };
const cw_shape cw_picking_answer_all_shape = CW_ROWS(picking_answer_all_columns);

cw_code cw_picking_answer_all(cw_nursery *n, const cw_asker *who, const cw_picking_answer *answers,
                              size_t count, cw_table *out, cw_error *err)
{
    cw_table_init(out, picking_answer_all_columns, CW_WIDTH(picking_answer_all_columns));
    if (cw_packers_only(who, "answer picks", err) != CW_OK)
        return CW_FORBIDDEN;
    if (count > CW_PICKING_MAX_ANSWERS)
        return cw_error_set(err, CW_REFUSED, "at most %d answers at once: %zu", CW_PICKING_MAX_ANSWERS,
                            count);
    cw_code code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = answer_all(n, who, answers, count, out, err);
    if (code == CW_OK)
        code = cw_table_check(out, err);
    return cw_work_end(n, code, err);
}

/* What was picked or written off is put back. A pick that was only mislabelled moved nothing in the ledger. */
static cw_code reverse(cw_nursery *n, const cw_asker *who, int64_t pick, const cw_pick_row *p,
                       const char *why, cw_error *err)
{
    cw_error no = CW_ERROR_NONE;
    cw_code code = cw_ledger_reverse(n->db, "pick", pick, who->now, who->actor, why, &no);
    if (code == CW_NOT_FOUND && p->taken == 0)
        return CW_OK;
    return code == CW_OK ? code : cw_error_set(err, code, "%s", no.text);
}

static cw_code undo(cw_nursery *n, const cw_asker *who, int64_t pick, const char *why, cw_error *err)
{
    bool found = false;
    cw_pick_row p = { 0 };
    char subject[40], before[80];
    cw_code code = cw_waves_pick(n->db, pick, &found, &p, err);
    if (code != CW_OK)
        return code;
    if (!found)
        return cw_error_set(err, CW_NOT_FOUND, "there is no pick %lld", (ll)pick);
    if (!p.done)
        return cw_error_set(err, CW_CONFLICT, "pick %lld has no answer to undo", (ll)pick);
    if (strcmp(p.parcel_state, "open") != 0)
        return cw_error_set(err, CW_CONFLICT, "the parcel of order %s is %s; %s", p.order, p.parcel_state,
                            strcmp(p.parcel_state, "packed") == 0 ? "open it first"
                                                                  : "what has left cannot be undone");
    if (p.promised < 1)
        return cw_error_set(
            err, CW_CONFLICT,
            "order %s line %d is promised nothing more of %s, so there is nothing to pick again", p.order,
            p.line, p.variety);
    code = reverse(n, who, pick, &p, why, err);
    if (code == CW_OK)
        code = cw_waves_reopen(n->db, pick, p.promised < p.quantity ? p.promised : p.quantity, err);
    if (code == CW_OK)
        code = cw_waves_settle(n->db, p.wave, err);
    snprintf(subject, sizeof subject, "pick %lld", (ll)pick);
    say_taken(p.taken, p.quantity, p.reason, before);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "undo pick", subject, before, why, err);
    return code == CW_OK ? cw_season_touch(n->db, true, true, err) : code;
}

cw_code cw_picking_undo(cw_nursery *n, const cw_asker *who, int64_t pick, const char *why, cw_error *err)
{
    if (cw_packers_only(who, "undo picks", err) != CW_OK)
        return CW_FORBIDDEN;
    if (why == NULL || why[0] == '\0')
        return cw_error_at(err, CW_REFUSED, NULL, 0, "why", "say why the answer is undone");
    cw_code code = cw_work_begin(n, err);
    return code == CW_OK ? cw_work_end(n, undo(n, who, pick, why, err), err) : code;
}

/* SPDX-License-Identifier: MIT */
#include "desk/stock/stock_inside.h"

#include "base/limits.h"
#include "store/field.h"
#include "store/ledger.h"
#include <string.h>

#include "base/banned.h"

typedef long long ll;

static cw_movement movement(const cw_asker *who, const cw_event *e, const char *reason, const char *cause,
                            int64_t id)
{
    return (cw_movement){ .at = who->now,
                          .day = e->day,
                          .actor = who->actor,
                          .lot = e->lot,
                          .place = e->place,
                          .reason = reason,
                          .cause = cause,
                          .cause_id = id };
}

/* Passes a ledger's refusal on, under the column that caused it. */
static cw_code under(const char *column, cw_code code, const cw_error *why, cw_error *err)
{
    if (code == CW_OK)
        return CW_OK;
    return cw_error_at(err, code, NULL, 0, column, "%s", why->text);
}

static cw_code take(cw_nursery *n, const cw_movement *m, int64_t clumps, int64_t divisions,
                    const char *column, cw_error *err)
{
    cw_error why = CW_ERROR_NONE;
    cw_movement one = *m;
    one.clumps = clumps;
    one.divisions = divisions;
    return under(column, cw_ledger_take(n->db, &one, &why), &why, err);
}

static cw_code put(cw_nursery *n, const cw_movement *m, int64_t clumps, int64_t divisions, const char *column,
                   cw_error *err)
{
    cw_error why = CW_ERROR_NONE;
    cw_movement one = *m;
    one.clumps = clumps;
    one.divisions = divisions;
    return under(column, cw_ledger_add(n->db, &one, &why), &why, err);
}

/* The place where what comes is put. */
static cw_code home(cw_nursery *n, const cw_event *e, int64_t *place, cw_error *err)
{
    *place = e->place;
    return e->place == CW_ANY_PLACE ? cw_stock_lot_place(n->db, e->lot, place, err) : CW_OK;
}

static cw_code check_session(const cw_dividing_row *d, cw_error *err)
{
    int64_t clumps = d->clumps, saleable = d->saleable, blind = d->blind, rotten = d->rotten;
    if (rotten > clumps)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "rotten",
                           "more clumps rotten than were taken from store (%lld): %lld", (ll)clumps,
                           (ll)rotten);
    if (clumps == 0)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "clumps",
                           "a dividing session needs at least one clump: 0");
    if (saleable > (clumps - rotten) * CW_MAX_DIVISIONS_PER_CLUMP)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "saleable",
                           "more than %d divisions from each of %lld sound clumps: %lld",
                           CW_MAX_DIVISIONS_PER_CLUMP, (ll)(clumps - rotten), (ll)saleable);
    if (blind > clumps * CW_MAX_DIVISIONS_PER_CLUMP)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "blind",
                           "more than %d tubers from each of %lld clumps: %lld", CW_MAX_DIVISIONS_PER_CLUMP,
                           (ll)clumps, (ll)blind);
    if (d->people && d->minutes == NULL)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "people",
                           "how many people goes with how many minutes, which is not said: %lld",
                           (ll)*d->people);
    return CW_OK;
}

cw_code cw_stock_divide(cw_nursery *n, const cw_asker *who, const cw_dividing_row *d, int64_t *id,
                        cw_error *err)
{
    cw_dividing_row r = *d;
    const cw_event e = { d->lot, d->day, d->place, d->source };
    cw_code code = check_session(d, err);
    if (code == CW_OK)
        code = home(n, &e, &r.place, err);
    if (code == CW_OK)
        code = cw_stock_add_dividing(n->db, &r, id, err);
    if (code != CW_OK)
        return code;
    cw_movement m = movement(who, &e, "divided", "dividing", *id);
    m.place = CW_ANY_PLACE;
    code = take(n, &m, r.clumps - r.rotten, 0, "clumps", err);
    m.reason = "rotten";
    if (code == CW_OK)
        code = take(n, &m, r.rotten, 0, "clumps", err);
    m.reason = "made";
    m.place = r.place;
    if (code == CW_OK)
        code = put(n, &m, 0, r.saleable, "saleable", err);
    return code;
}

static bool of_divisions(const char *stage)
{
    return strcmp(stage, "division") == 0;
}

static cw_code check_inspection(const cw_check_row *c, cw_error *err)
{
    int64_t inspected = c->inspected, rotten = c->rotten, shrivelled = c->shrivelled ? *c->shrivelled : 0;
    if (rotten > inspected)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "rotten", "more rotten than inspected (%lld): %lld",
                           (ll)inspected, (ll)rotten);
    if (shrivelled > 0 && !of_divisions(c->stage))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "shrivelled",
                           "only divisions are counted as shrivelled, not clumps: %lld", (ll)shrivelled);
    if (shrivelled > inspected - rotten)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "shrivelled",
                           "more rotten and shrivelled together than inspected (%lld): %lld", (ll)inspected,
                           (ll)(rotten + shrivelled));
    return CW_OK;
}

cw_code cw_stock_check(cw_nursery *n, const cw_asker *who, const cw_check_row *c, int64_t *id, cw_error *err)
{
    const cw_event e = { c->lot, c->day, CW_ANY_PLACE, c->source };
    bool divisions = of_divisions(c->stage);
    cw_code code = check_inspection(c, err);
    if (code == CW_OK)
        code = cw_stock_add_check(n->db, c, id, err);
    if (code != CW_OK)
        return code;
    cw_movement m = movement(who, &e, "rotten", "check", *id);
    code = take(n, &m, divisions ? 0 : c->rotten, divisions ? c->rotten : 0, "rotten", err);
    m.reason = "shrivelled";
    if (code == CW_OK && c->shrivelled && *c->shrivelled > 0)
        code = take(n, &m, 0, *c->shrivelled, "shrivelled", err);
    return code;
}

/* On hand at the end of a day, at one place or at all. */
static cw_code stock_on(cw_nursery *n, const cw_event *e, cw_on_hand *out, cw_error *err)
{
    return e->place == CW_ANY_PLACE ? cw_ledger_on(n->db, e->lot, e->day, out, err)
                                    : cw_stock_place_on(n->db, e->lot, e->place, e->day, out, err);
}

/* What is missing at a place is taken off there, and nowhere else. */
static cw_code missing(cw_nursery *n, cw_movement *m, int64_t clumps, int64_t divisions, cw_error *err)
{
    m->reason = "missing";
    if (m->place == CW_ANY_PLACE)
        return take(n, m, clumps, divisions, "count", err);
    return put(n, m, -clumps, -divisions, "count", err);
}

cw_code cw_stock_count(cw_nursery *n, const cw_asker *who, const cw_count_row *c, int64_t *id, cw_error *err)
{
    cw_on_hand had;
    int64_t place = 0;
    cw_count_row r = *c;
    const cw_event e = { c->lot, c->day, c->place ? *c->place : CW_ANY_PLACE, c->source };
    bool divisions = of_divisions(c->stage);
    cw_code code = stock_on(n, &e, &had, err);
    if (code == CW_OK)
        code = home(n, &e, &place, err);
    if (code != CW_OK)
        return code;
    r.before = divisions ? had.divisions : had.clumps;
    code = cw_stock_add_count(n->db, &r, id, err);
    if (code != CW_OK)
        return code;
    int64_t more = r.count - r.before;
    cw_movement m = movement(who, &e, "found", "stock_take", *id);
    if (more < 0)
        return missing(n, &m, divisions ? 0 : -more, divisions ? -more : 0, err);
    m.place = place;
    return put(n, &m, divisions ? 0 : more, divisions ? more : 0, "count", err);
}

cw_code cw_stock_move(cw_nursery *n, const cw_asker *who, const cw_event *e, int64_t to, int64_t clumps,
                      int64_t divisions, int64_t *id, cw_error *err)
{
    if (clumps < 0 || divisions < 0 || clumps + divisions == 0)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "clumps",
                           "a move needs clumps or divisions: %lld and %lld", (ll)clumps, (ll)divisions);
    if (to == e->place)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "to", "is where the lot lies already");
    /* A move has no record of its own: it goes by the number of its first movement. */
    cw_code code = cw_stock_next_movement(n->db, id, err);
    if (code != CW_OK)
        return code;
    cw_movement m = movement(who, e, "moved", "move", *id);
    code = put(n, &m, -clumps, -divisions, "from", err);
    m.place = to;
    if (code == CW_OK)
        code = put(n, &m, clumps, divisions, "to", err);
    return code;
}

static const struct {
    const char *reason;
    int sign;
    bool clumps; /* may be of clumps; all may be of divisions */
} entries[] = {
    { "found", 1, true },        { "missing", -1, true },   { "rotten", -1, true },
    { "shrivelled", -1, false }, { "discarded", -1, true }, { "planted", -1, false },
};

cw_code cw_stock_enter(cw_nursery *n, const cw_asker *who, const cw_event *e, const char *reason,
                       int64_t clumps, int64_t divisions, const char *note, int64_t *id, cw_error *err)
{
    size_t k = 0, count = sizeof entries / sizeof entries[0];
    cw_event where = *e;
    while (k < count && strcmp(entries[k].reason, reason) != 0)
        k++;
    if (k == count)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "reason",
                           "must be one of found, missing, rotten, shrivelled, discarded, planted: %.60s",
                           reason);
    if (clumps < 0 || divisions < 0 || clumps + divisions == 0)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "clumps",
                           "an entry needs clumps or divisions, not negative: %lld and %lld", (ll)clumps,
                           (ll)divisions);
    if (clumps > 0 && !entries[k].clumps)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "clumps", "only divisions can be %s, not clumps: %lld",
                           reason, (ll)clumps);
    cw_code code = cw_stock_next_movement(n->db, id, err);
    if (code == CW_OK && entries[k].sign > 0)
        code = home(n, e, &where.place, err);
    if (code != CW_OK)
        return code;
    cw_movement m = movement(who, &where, entries[k].reason, "entry", *id);
    m.note = note;
    const char *column = clumps > 0 ? "clumps" : "divisions";
    if (entries[k].sign > 0)
        return put(n, &m, clumps, divisions, column, err);
    if (where.place == CW_ANY_PLACE)
        return take(n, &m, clumps, divisions, column, err);
    return put(n, &m, -clumps, -divisions, column, err);
}

cw_code cw_stock_undo(cw_nursery *n, const cw_asker *who, const char *cause, int64_t id, const char *why,
                      cw_error *err)
{
    static const struct {
        const char *cause;
        bool record; /* of its own, which is marked as undone */
    } causes[] = {
        { "dividing", true }, { "check", true }, { "stock_take", true }, { "move", false }, { "entry", false }
    };
    size_t k = 0, count = sizeof causes / sizeof causes[0];
    cw_error raw = CW_ERROR_NONE;
    while (k < count && strcmp(causes[k].cause, cause) != 0)
        k++;
    if (k == count)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "cause",
                           "must be one of dividing, check, stock_take, move, entry: %.60s", cause);
    if (causes[k].record) {
        bool found = false;
        cw_code code = cw_stock_mark_undone(n->db, cause, id, &found, err);
        if (code == CW_OK && !found)
            code = cw_error_at(err, CW_NOT_FOUND, NULL, 0, "cause_id",
                               "there is no such %s, or it is undone already: %lld", cause, (ll)id);
        if (code != CW_OK)
            return code;
    }
    cw_code code = strcmp(cause, "move") == 0 ? cw_stock_undo_split(n, who, id, err) : CW_OK;
    if (code != CW_OK)
        return code;
    code = cw_ledger_reverse(n->db, cause, id, who->now, who->actor, why, &raw);
    /* A check that found nothing, or a count that agreed, moved nothing. */
    if (code == CW_NOT_FOUND && causes[k].record)
        return CW_OK;
    if (code == CW_OK && strcmp(cause, "entry") == 0)
        return cw_field_unplant(n->db, id, err);
    return under("cause_id", code, &raw, err);
}

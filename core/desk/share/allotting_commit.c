/* SPDX-License-Identifier: MIT */
#include "desk/share/allotting_inside.h"

#include "store/allocations.h"
#include "store/audit.h"
#include "store/orders.h"
#include "store/season.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

typedef struct source {
    const cw_asker *who;
    const cw_allotting *a;
    const bool *whole;
    size_t at;
    bool given_up;
    cw_error *err;
} source;

/* Handed to the store one by one: a season has a million promises, and a list of them all would be a second copy of the book. */
static bool next_promise(void *context, cw_promise *out)
{
    source *f = context;
    const cw_standing *s = f->a->standing;
    for (; f->at < s->lines; f->at++) {
        const cw_share_outcome *o = cw_allotting_of(f->a, 0, f->at);
        if (f->at % CW_TELL_EVERY == 0 &&
            (f->given_up = cw_asker_tell(f->who, "making firm", f->at, s->lines, f->err) != CW_OK))
            return false;
        if (!cw_allotting_meant(f->a, 0, f->whole, f->at))
            continue;
        *out = (cw_promise){ .line = s->book->line[s->line_in_book[f->at]].id,
                             .variety = s->book->variety[s->line[f->at].variety].id,
                             .quantity = o->allocated,
                             .kind = CW_PROMISE_OWN };
        cw_why_pack(o, o->cause >= 0 ? s->book->variety[o->cause].id : 0, &out->why);
        f->at++;
        return true;
    }
    return false;
}

static cw_code write_lines(cw_nursery *n, const cw_asker *who, const cw_allotting *a, const bool *whole,
                           int64_t run, cw_error *err)
{
    source f = { who, a, whole, 0, false, err };
    cw_code code = cw_promises_add(n->db, run, next_promise, &f, err);
    return code == CW_OK && f.given_up ? CW_REFUSED : code;
}

static cw_code make_firm(cw_nursery *n, const cw_asker *who, const cw_allotting *a, cw_allotting_done *out,
                         cw_error *err)
{
    char after[160];
    const cw_standing *s = a->standing;
    cw_allotting_sum sum;
    cw_code code = cw_allotting_add_up(a, 0, &sum, err);
    if (code != CW_OK)
        return code;
    bool *whole = cw_allotting_whole(a, 0);
    if (whole == NULL)
        return cw_error_memory(err);
    out->lines = sum.lines;
    out->placed = sum.placed;
    out->short_ = sum.short_;
    cw_copy(out->digest, sizeof out->digest, a->digest);
    cw_run_row run = { .at = who->now,
                       .actor = who->actor,
                       .what = "allocate",
                       .rule = cw_rule_text(a->rule[0], a->tiers_first),
                       .supply = s->basis.projected ? "projected" : "counted",
                       .confidence = s->basis.projected ? s->basis.confidence : -1,
                       .digest = a->digest,
                       .lines = out->lines,
                       .placed = out->placed };
    code = cw_runs_add(n->db, &run, err);
    out->run = run.id;
    if (code == CW_OK)
        code = write_lines(n, who, a, whole, run.id, err);
    free(whole);
    snprintf(after, sizeof after, "run %lld: %s, %s, %lld line%s, %lld placed, %lld short", (long long)run.id,
             run.rule, run.supply, (long long)out->lines, CW_S(out->lines), (long long)out->placed,
             (long long)out->short_);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "allocate",
                            a->variety == CW_BOOK_NONE ? "all" : s->book->variety[a->variety].code, NULL,
                            after, err);
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

typedef struct committing {
    cw_nursery *n;
    const cw_asker *who;
    const cw_allotting_ask *ask;
    const char *digest;
    cw_allotting_done *out;
    cw_allotting *a;
} committing;

/* Shares out again inside the transaction. The preview may be minutes old; its digest says whether it still holds. */
static cw_code commit_inside(void *context, cw_standing *s, cw_error *err)
{
    committing *c = context;
    cw_code code = cw_asker_tell(c->who, "sharing out", 0, 0, err);
    if (code != CW_OK) {
        cw_standing_free(s);
        return code;
    }
    code = cw_allotting_share_take(s, c->ask, &c->a, err);
    if (code == CW_OK && c->digest && strcmp(c->digest, c->a->digest) != 0)
        code = cw_error_at(err, CW_CONFLICT, NULL, 0, "digest",
                           "orders or stock changed since this preview was shown; look at the new one first");
    return code == CW_OK ? make_firm(c->n, c->who, c->a, c->out, err) : code;
}

cw_code cw_allotting_commit(cw_nursery *n, const cw_asker *who, const cw_allotting_ask *ask,
                            const char *digest, cw_allotting_done *out, cw_allotting **shown, cw_error *err)
{
    cw_basis basis;
    committing c = { n, who, ask, digest, out, NULL };
    *out = (cw_allotting_done){ 0 };
    if (shown)
        *shown = NULL;
    cw_code code = cw_office_only(who, "make allocations firm", err);
    if (code == CW_OK && ask->rule == NULL)
        code = cw_error_at(err, CW_USAGE, NULL, 0, "rule", "say which rule is to be made firm");
    if (code == CW_OK)
        code = cw_basis_read(n, ask->projected, ask->confidence, &basis, err);
    basis.variety = ask->variety;
    if (code == CW_OK)
        code = cw_standing_work(n, who, &basis, commit_inside, &c, err);
    if (code == CW_OK && shown) {
        *shown = c.a;
        c.a = NULL;
    }
    cw_allotting_free(c.a);
    return code;
}

static cw_code take_back(cw_nursery *n, const cw_asker *who, const cw_order_head *head,
                         const cw_order_line *line, const char *variety, int64_t quantity, const char *why,
                         cw_error *err)
{
    cw_taking_back t = {
        .line = line->id, .quantity = quantity, .at = who->now, .actor = who->actor, .why = why
    };
    char before[96], subject[96];
    cw_code code = cw_order_variety(n->db, variety, &t.variety, err);
    if (code == CW_OK)
        code = cw_promise_take_back(n->db, &t, err);
    snprintf(before, sizeof before, "%lld %s", (long long)quantity, variety);
    snprintf(subject, sizeof subject, "order %s line %d", head->number, line->line);
    cw_order_event e = { head->id, line->id, who->now, who->actor, "taken back", before, NULL, why };
    if (code == CW_OK)
        code = cw_order_event_add(n->db, &e, err);
    if (code == CW_OK)
        code = cw_order_raise_version(n->db, head->id, err);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "take back", subject, before, NULL,
                            err); /* why: in the event */
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

/* Inside the work. */
static cw_code take_back_line(cw_nursery *n, const cw_asker *who, const char *order, int line,
                              const char *variety, int64_t quantity, const char *why, cw_error *err)
{
    cw_order_head head;
    cw_order_line l;
    if (quantity < 1)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "quantity", "must be at least 1: %lld",
                           (long long)quantity);
    cw_code code = cw_order_line_find(n->db, order, line, &head, &l, err);
    if (code == CW_OK && l.all_or_none && quantity < l.quantity)
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "quantity",
                           "the line is all or nothing: take back all %lld of it, or none",
                           (long long)l.quantity);
    return code == CW_OK ? take_back(n, who, &head, &l, variety, quantity, why, err) : code;
}

static cw_code may_take_back(const cw_asker *who, const char *why, cw_error *err)
{
    cw_code code = cw_office_only(who, "take back what is promised", err);
    if (code == CW_OK && (why == NULL || why[0] == '\0'))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "why", "taking back a promise needs a reason");
    return code;
}

cw_code cw_allotting_take_back(cw_nursery *n, const cw_asker *who, const char *order, int line,
                               const char *variety, int64_t quantity, const char *why, cw_error *err)
{
    cw_code code = may_take_back(who, why, err);
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    return cw_work_end(n, take_back_line(n, who, order, line, variety, quantity, why, err), err);
}

/* Only the last run can be undone: a later one shared what this one had left over. */
static cw_code undo_inside(cw_nursery *n, const cw_asker *who, int64_t run, const char *why,
                           cw_allotting_undone *out, cw_error *err)
{
    char subject[40], before[64];
    bool found = false;
    cw_run_standing last;
    cw_code code = cw_run_standing_find(n->db, &last, &found, err);
    if (code != CW_OK)
        return code;
    if (!found || run > last.id)
        return cw_error_set(err, CW_NOT_FOUND, "no run %lld that was made firm stands", (long long)run);
    if (run != last.id)
        return cw_error_set(
            err, CW_CONFLICT,
            "run %lld was undone already, or run %lld was made firm after it and must be undone "
            "first",
            (long long)run, (long long)last.id);
    code = cw_run_undo(n->db, &last, who->now, who->actor, why, &out->lines, err);
    out->run = last.id;
    out->divisions = last.placed;
    snprintf(subject, sizeof subject, "run %lld", (long long)last.id);
    snprintf(before, sizeof before, "%s: %lld division%s", last.what, (long long)last.placed,
             CW_S(last.placed));
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "undo run", subject, before, why, err);
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

cw_code cw_allotting_undo(cw_nursery *n, const cw_asker *who, int64_t run, const char *why,
                          cw_allotting_undone *out, cw_error *err)
{
    *out = (cw_allotting_undone){ 0 };
    cw_code code = may_take_back(who, why, err);
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    return cw_work_end(n, undo_inside(n, who, run, why, out, err), err);
}

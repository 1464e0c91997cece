/* SPDX-License-Identifier: MIT */
#include "desk/share/substituting_inside.h"

#include "store/audit.h"
#include "store/season.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static const char *const consents[] = { "none", "same", "any", "named", "assortment" };

/* The number of rounds is not known in advance. */
static bool next_round(void *context, uint32_t rounds)
{
    const cw_asker *who = context;
    cw_error given_up = CW_ERROR_NONE;
    if (rounds == 0) /* within the first, or while the plan is checked */
        return cw_wanted(cw_asker_go_on(who));
    return cw_asker_tell(who, "choosing substitutes", rounds, 0, &given_up) == CW_OK;
}

cw_code cw_substituting_choose(cw_substituting *s, const cw_asker *who, cw_error *err)
{
    const char *why = NULL;
    s->in.go_on = next_round;
    s->in.context = (void *)(uintptr_t)who;
    cw_code code = cw_substitute_solve(&s->in, &s->plan, err);
    if (code != CW_OK)
        return code;
    s->sound = cw_substitute_verify(&s->in, &s->plan, &why);
    s->proven = s->sound && cw_substitute_is_best(&s->plan);
    if (why == cw_sub_left_off)
        return cw_given_up(err);
    return why == cw_sub_no_memory ? cw_error_memory(err) : CW_OK;
}

typedef struct reading {
    cw_nursery *n;
    cw_substituting *s;
} reading;

static cw_code read_inside(void *context, cw_standing *standing, cw_error *err)
{
    reading *r = context;
    return cw_substituting_read_take(r->n, standing, &r->s, err);
}

cw_code cw_substituting_preview(cw_nursery *n, const cw_asker *who, const cw_substituting_ask *ask,
                                cw_substituting **out, cw_error *err)
{
    cw_basis basis;
    reading r = { n, NULL };
    *out = NULL;
    cw_code code = cw_basis_read(n, ask->projected, ask->confidence, &basis, err);
    if (code == CW_OK)
        code = cw_standing_with(n, who, &basis, read_inside, &r, err);
    if (code == CW_OK)
        code = cw_substituting_choose(r.s, who, err);
    if (code != CW_OK) {
        cw_substituting_free(r.s);
        return code;
    }
    *out = r.s;
    return CW_OK;
}

void cw_substituting_free(cw_substituting *s)
{
    if (s == NULL)
        return;
    cw_sub_plan_free(&s->plan);
    cw_standing_free(s->standing);
    cw_text_free(&s->texts);
    free(s->own);
    free(s->with);
    free(s->item);
    free(s->item_of);
    free(s->variety);
    free(s->line);
    free(s->held);
    free(s->named);
    free(s->ban);
    free(s);
}

const char *cw_substituting_digest(const cw_substituting *s)
{
    return s->digest;
}

void cw_substituting_total(const cw_substituting *s, cw_substituting_totals *out)
{
    const cw_sub_plan *p = &s->plan;
    *out = (cw_substituting_totals){ .lines = (int64_t)s->items,
                                     .placed = p->total.placed,
                                     .distance = p->total.distance,
                                     .extra = p->total.extra,
                                     .named_placed = p->stage[0].placed,
                                     .assortment_placed = p->stage[1].placed,
                                     .at_most = p->at_most[0].placed + p->at_most[1].placed,
                                     .sound = s->sound,
                                     .proven = s->proven };
    for (size_t k = 0; k < s->items; k++)
        out->short_ += s->item[k].short_;
}

static const char *wanted(const cw_substituting *s, const cw_sub_item *item)
{
    if (item->line.wanted != CW_SUB_NONE_WANTED)
        return s->standing->book->variety[item->line.wanted].code;
    return s->texts.data + item->assortment;
}

static const cw_column substituting_lines_columns[] = {
    { "order", CW_TEXT_T },       { "line", CW_INT_T },     { "short", CW_INT_T },
    { "substitute", CW_TEXT_T },  { "quantity", CW_INT_T }, { "distance", CW_INT_T },
    { "extra_cost", CW_MONEY_T }, { "wanted", CW_TEXT_T },  { "consent", CW_TEXT_T },
    { "sentence", CW_TEXT_T },
};
const cw_shape cw_substituting_lines_shape = CW_ROWS(substituting_lines_columns);

cw_code cw_substituting_lines(const cw_substituting *s, bool explained, cw_table *out, cw_error *err)
{
    const cw_book *b = s->standing->book;
    char sentence[CW_SUB_SENTENCE];
    cw_table_init(out, substituting_lines_columns, explained ? 10 : 7);
    for (size_t k = 0; k < s->plan.choices; k++) {
        const cw_sub_choice *c = &s->plan.choice[k];
        const cw_sub_item *item = &s->item[c->line];
        cw_put_text(out, b->order[item->line.order].number);
        cw_put_int(out, item->line.line);
        cw_put_int(out, item->short_);
        cw_put_text(out, b->variety[c->variety].code);
        cw_put_int(out, c->quantity);
        cw_put_int(out, c->distance);
        cw_put_money(out, c->extra);
        if (!explained)
            continue;
        cw_put_text(out, wanted(s, item));
        cw_put_text(out, consents[item->line.consent]);
        cw_put_text(out, cw_substitute_say(c, sentence));
    }
    return cw_table_check(out, err);
}

const cw_shape cw_substituting_document_shape = { .parts = (const cw_part[]){
                                                      { "lines_short", CW_INT_T },
                                                      { "short", CW_INT_T },
                                                      { "placed", CW_INT_T },
                                                      { "at_most", CW_INT_T },
                                                      { "distance", CW_INT_T },
                                                      { "extra_cost", CW_MONEY_T },
                                                      { "assortment_spread", CW_INT_T },
                                                      { "digest", CW_TEXT_T },
                                                      { "proven", CW_BOOL_T },
                                                      { "lines", .shape = &cw_substituting_lines_shape },
                                                      { 0 },
                                                  } };

cw_code cw_substituting_document(const cw_substituting *s, json_t **out, cw_error *err)
{
    cw_substituting_totals t;
    cw_table lines;
    char extra[24];
    *out = NULL;
    cw_substituting_total(s, &t);
    cw_cents_format(t.extra, extra);
    cw_code code = cw_substituting_lines(s, true, &lines, err);
    if (code == CW_OK) {
        *out = json_pack("{s:I,s:I,s:I,s:I,s:I,s:s,s:i,s:s,s:b,s:o}", "lines_short", (json_int_t)t.lines,
                         "short", (json_int_t)t.short_, "placed", (json_int_t)t.placed, "at_most",
                         (json_int_t)t.at_most, "distance", (json_int_t)t.distance, "extra_cost", extra,
                         "assortment_spread", s->spread, "digest", s->digest, "proven", t.proven, "lines",
                         cw_table_to_json(&lines));
        code = *out ? CW_OK : cw_error_memory(err);
    }
    cw_table_free(&lines);
    return code;
}

static void say_change(const cw_sub_total *c, char out[CW_SUBSTITUTING_SENTENCE])
{
    char money[24];
    cw_cents_format(c->extra < 0 ? -c->extra : c->extra, money);
    if (c->placed < 0)
        snprintf(out, CW_SUBSTITUTING_SENTENCE,
                 "Without it %lld fewer divisions would be placed; total distance %+lld, extra cost %s%s.",
                 (long long)-c->placed, (long long)c->distance, c->extra < 0 ? "-" : "+", money);
    else if (c->placed > 0)
        snprintf(out, CW_SUBSTITUTING_SENTENCE,
                 "Without it lines that name a variety would be served less well, but it would free stock "
                 "for %lld more "
                 "divisions of assortments, which come after them; total distance %+lld, extra cost %s%s.",
                 (long long)c->placed, (long long)c->distance, c->extra < 0 ? "-" : "+", money);
    else if (c->distance != 0 || c->extra != 0)
        snprintf(out, CW_SUBSTITUTING_SENTENCE,
                 "Without it as many would be placed, but total distance would change by %+lld and extra "
                 "cost by %s%s.",
                 (long long)c->distance, c->extra < 0 ? "-" : "+", money);
    else
        snprintf(out, CW_SUBSTITUTING_SENTENCE, "Without it another plan would be just as good.");
}

static const cw_sub_choice *find_choice(const cw_substituting *s, const char *order, int line,
                                        uint32_t variety)
{
    for (size_t k = 0; k < s->plan.choices; k++) {
        const cw_sub_choice *c = &s->plan.choice[k];
        const cw_sub_line *l = &s->item[c->line].line;
        if (l->line == line && c->variety == variety &&
            strcmp(s->standing->book->order[l->order].number, order) == 0)
            return c;
    }
    return NULL;
}

cw_code cw_substituting_forbid(const cw_substituting *s, const char *order, int line, const char *variety,
                               cw_substituting_totals *change, char sentence[CW_SUBSTITUTING_SENTENCE],
                               cw_error *err)
{
    char shown_order[80], shown_variety[80];
    cw_sub_total t;
    const cw_sub_choice *c = find_choice(s, order, line, cw_book_variety_of(s->standing->book, variety));
    if (c == NULL)
        return cw_error_set(err, CW_NOT_FOUND, "the plan gives order %s line %d no %s",
                            cw_shown(order, strlen(order), shown_order), line,
                            cw_shown(variety, strlen(variety), shown_variety));
    cw_code code = cw_substitute_forbid(&s->in, &s->plan, c->line, c->variety, &t, err);
    if (code != CW_OK)
        return code;
    *change = (cw_substituting_totals){ .placed = t.placed, .distance = t.distance, .extra = t.extra };
    say_change(&t, sentence);
    return CW_OK;
}

/* reason = 1 | form differs << 4 | colour differs << 5 | assortment << 6 | size steps << 8 | (place in the list + 1) << 16;
 * n1 = distance, n2 = extra cost. */
void cw_choice_pack(const cw_sub_choice *c, cw_promise_why *out)
{
    *out = (cw_promise_why){ .reason = 1 | (c->form_differs ? 1 << 4 : 0) | (c->colour_differs ? 1 << 5 : 0) |
                                       (c->assortment ? 1 << 6 : 0) | c->size_steps << 8 |
                                       (c->named_place + 1) << 16,
                             .n = { c->distance, c->extra, 0, 0 } };
}

const char *cw_choice_say(const cw_promise_why *w, char out[CW_SUB_SENTENCE])
{
    cw_sub_choice c = { .distance = (int32_t)w->n[0],
                        .extra = w->n[1],
                        .form_differs = w->reason >> 4 & 1,
                        .colour_differs = w->reason >> 5 & 1,
                        .assortment = w->reason >> 6 & 1,
                        .size_steps = (int32_t)(w->reason >> 8 & 0xFF),
                        .named_place = (int32_t)(w->reason >> 16) - 1 };
    return cw_substitute_say(&c, out);
}

typedef struct source {
    const cw_substituting *s;
    const bool *completed; /* [orders] leaves complete, by what is chosen */
    size_t at, with;
} source;

static bool next_own(source *f, cw_promise *out)
{
    const cw_standing *t = f->s->standing;
    while (f->with < f->s->withs) {
        uint32_t i = f->s->with[f->with++];
        if (!f->completed[t->line[i].order])
            continue;
        cw_share_outcome o = f->s->own[i];
        o.allocated = o.need;
        o.reason = CW_SHARE_FULL;
        *out = (cw_promise){ .line = t->book->line[t->line_in_book[i]].id,
                             .variety = t->book->variety[t->line[i].variety].id,
                             .quantity = o.need,
                             .kind = CW_PROMISE_OWN };
        cw_why_pack(&o, 0, &out->why);
        return true;
    }
    return false;
}

static bool next_promise(void *context, cw_promise *out)
{
    source *f = context;
    const cw_substituting *s = f->s;
    if (f->at == s->plan.choices)
        return next_own(f, out);
    const cw_sub_choice *c = &s->plan.choice[f->at++];
    *out = (cw_promise){ .line = s->standing->book->line[s->item[c->line].in_book].id,
                         .variety = s->standing->book->variety[c->variety].id,
                         .quantity = c->quantity,
                         .kind = c->assortment ? CW_PROMISE_ASSORTMENT : CW_PROMISE_SUBSTITUTE };
    cw_choice_pack(c, &out->why);
    return true;
}

static cw_code write_promises(cw_nursery *n, const cw_substituting *s, int64_t run, cw_error *err)
{
    bool *completed = calloc(s->standing->book->orders + 1, sizeof *completed);
    if (completed == NULL)
        return cw_error_memory(err);
    for (size_t c = 0; c < s->plan.choices; c++) {
        const cw_sub_item *item = &s->item[s->plan.choice[c].line];
        completed[item->line.order] = completed[item->line.order] || item->complete;
    }
    source f = { s, completed, 0, 0 };
    cw_code code = cw_promises_add(n->db, run, next_promise, &f, err);
    free(completed);
    return code;
}

static cw_code make_firm(cw_nursery *n, const cw_asker *who, const cw_substituting *s,
                         cw_substituting_done *out, cw_error *err)
{
    char after[160];
    const cw_basis *basis = &s->standing->basis;
    cw_substituting_total(s, &out->totals);
    cw_copy(out->digest, sizeof out->digest, s->digest);
    cw_run_row run = { .at = who->now,
                       .actor = who->actor,
                       .what = "substitute",
                       .rule = "closest within consent",
                       .supply = basis->projected ? "projected" : "counted",
                       .confidence = basis->projected ? basis->confidence : -1,
                       .digest = s->digest,
                       .lines = out->totals.lines,
                       .placed = out->totals.placed };
    cw_code code = cw_runs_add(n->db, &run, err);
    out->run = run.id;
    if (code == CW_OK)
        code = write_promises(n, s, run.id, err);
    snprintf(after, sizeof after,
             "run %lld: %lld of %lld short placed, distance %lld, extra cost %lld hundredths",
             (long long)run.id, (long long)out->totals.placed, (long long)out->totals.short_,
             (long long)out->totals.distance, (long long)out->totals.extra);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "substitute", "all", NULL, after, err);
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

typedef struct committing {
    cw_nursery *n;
    const cw_asker *who;
    const char *digest;
    cw_substituting_done *out;
    cw_substituting *s;
} committing;

static cw_code commit_inside(void *context, cw_standing *standing, cw_error *err)
{
    committing *c = context;
    cw_code code = cw_substituting_read_take(c->n, standing, &c->s, err);
    if (code == CW_OK && c->digest && strcmp(c->digest, c->s->digest) != 0)
        code = cw_error_at(err, CW_CONFLICT, NULL, 0, "digest",
                           "orders or stock changed since this preview was shown; look at the new one first");
    if (code == CW_OK)
        code = cw_substituting_choose(c->s, c->who, err);
    if (code == CW_OK && !c->s->sound)
        code = cw_error_set(err, CW_MACHINE,
                            "the plan's proof does not hold, so nothing was made firm; please report it");
    return code == CW_OK ? make_firm(c->n, c->who, c->s, c->out, err) : code;
}

cw_code cw_substituting_commit(cw_nursery *n, const cw_asker *who, const cw_substituting_ask *ask,
                               const char *digest, cw_substituting_done *out, cw_substituting **shown,
                               cw_error *err)
{
    cw_basis basis;
    committing c = { n, who, digest, out, NULL };
    *out = (cw_substituting_done){ 0 };
    if (shown)
        *shown = NULL;
    cw_code code = cw_office_only(who, "make substitutes firm", err);
    if (code == CW_OK)
        code = cw_basis_read(n, ask->projected, ask->confidence, &basis, err);
    if (code == CW_OK)
        code = cw_standing_work(n, who, &basis, commit_inside, &c, err);
    if (code == CW_OK && shown) {
        *shown = c.s;
        c.s = NULL;
    }
    cw_substituting_free(c.s);
    return code;
}

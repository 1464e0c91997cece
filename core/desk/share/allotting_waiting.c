/* SPDX-License-Identifier: MIT */
#include "desk/share/allotting_inside.h"

#include "base/limits.h"
#include "base/text.h"
#include "store/allocations.h"
#include "store/orders.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Who is short, who is hit, who is next. */

static cw_code look_as(cw_nursery *n, const cw_asker *who, const cw_allotting_basis *basis, cw_standing **out,
                       cw_error *err)
{
    cw_allotting_ask said = { 0 };
    cw_basis b;
    cw_code code = basis ? CW_OK : cw_allotting_default(n, &said, err);
    if (code == CW_OK)
        code = cw_basis_read(n, basis ? basis->projected : said.projected, basis ? basis->confidence : 0, &b,
                             err);
    return code == CW_OK ? cw_standing_look(n, who, &b, out, err) : code;
}

typedef struct shortage {
    uint32_t variety, last_order;
    int64_t lines, orders, money; /* of what is still wanted */
    cw_cents harm;
} shortage;

static int by_shortage(const void *pa, const void *pb)
{
    const shortage *a = pa, *b = pb;
    if (a->harm != b->harm)
        return (a->harm < b->harm) - (a->harm > b->harm);
    return (a->variety > b->variety) - (a->variety < b->variety);
}

static void weigh_shortages(const cw_standing *s, shortage *all)
{
    const cw_book *b = s->book;
    for (size_t v = 0; v < b->varieties; v++)
        all[v] = (shortage){ .variety = (uint32_t)v, .last_order = UINT32_MAX };
    for (size_t i = 0; i < s->lines; i++) {
        const cw_share_line *l = &s->line[i];
        shortage *x = &all[l->variety];
        if (l->asked == l->firm || s->order[l->order].barred)
            continue;
        x->lines++;
        x->orders += x->last_order != l->order; /* lines stand order by order */
        x->last_order = l->order;
        x->money += (l->asked - l->firm) * b->line[s->line_in_book[i]].unit_price;
    }
    for (size_t v = 0; v < b->varieties; v++) {
        int64_t wanted = b->variety[v].wanted, missing = wanted - s->free[v];
        all[v].harm =
            missing > 0 ? (cw_cents)((double)all[v].money / (double)wanted * (double)missing + 0.5) : -1;
    }
}

static const cw_column allotting_short_columns[] = {
    { "variety", CW_TEXT_T }, { "name", CW_TEXT_T },  { "supply", CW_INT_T },
    { "asked", CW_INT_T },    { "firm", CW_INT_T },   { "short", CW_INT_T },
    { "lines", CW_INT_T },    { "orders", CW_INT_T }, { "harm", CW_MONEY_T },
};
const cw_shape cw_allotting_short_shape = CW_ROWS(allotting_short_columns);

cw_code cw_allotting_short(cw_nursery *n, const cw_asker *who, const cw_allotting_basis *basis, cw_table *out,
                           cw_error *err)
{
    cw_standing *s = NULL;
    shortage *all = NULL;
    cw_table_init(out, allotting_short_columns, CW_WIDTH(allotting_short_columns));
    cw_code code = look_as(n, who, basis, &s, err);
    if (code == CW_OK && (all = malloc((s->book->varieties + 1) * sizeof *all)) == NULL)
        code = cw_error_memory(err);
    if (code == CW_OK) {
        weigh_shortages(s, all);
        qsort(all, s->book->varieties, sizeof *all, by_shortage);
    }
    for (size_t k = 0; code == CW_OK && k < s->book->varieties && all[k].harm >= 0; k++) {
        const cw_book_variety *v = &s->book->variety[all[k].variety];
        int64_t supply = s->free[all[k].variety];
        cw_put_text(out, v->code);
        cw_put_text(out, v->name);
        cw_put_int(out, supply);
        cw_put_int(out, v->asked);
        cw_put_int(out, v->asked - v->wanted);
        cw_put_int(out, v->wanted - supply);
        cw_put_int(out, all[k].lines);
        cw_put_int(out, all[k].orders);
        cw_put_money(out, all[k].harm);
    }
    free(all);
    cw_standing_free(s);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

/* A promise that may be hit, in order of harm. */
typedef struct target {
    bool whole;
    uint8_t tier;
    cw_instant received_at;
    uint32_t order;
    int32_t line;
    int32_t firm, take;
} target;

static int by_harm(const void *pa, const void *pb)
{
    const target *a = pa, *b = pb;
    if (a->whole != b->whole)
        return a->whole - b->whole;
    if (a->tier != b->tier)
        return (int)b->tier - (int)a->tier;
    if (a->received_at != b->received_at)
        return (b->received_at > a->received_at) - (b->received_at < a->received_at);
    if (a->order != b->order)
        return (b->order > a->order) - (b->order < a->order);
    return (b->line > a->line) - (b->line < a->line);
}

static cw_code put_hit(cw_nursery *n, const cw_standing *s, uint32_t v, const target *t, cw_table *out,
                       cw_error *err)
{
    char room[CW_MAX_NAME + 1], sentence[400];
    const char *customer;
    const cw_book_variety *b = &s->book->variety[v];
    int64_t kept = s->there[v] - b->hold_back - b->reserve;
    cw_code code = cw_allotting_customer(n, &s->book->order[t->order], room, &customer, err);
    snprintf(sentence, sizeof sentence,
             "Promised: %lld of %s, there for them: %lld (kept to replant and in reserve: %lld). "
             "The latest "
             "orders of the last tier are hit first%s; this line would lose %d of its %d.",
             (long long)b->promised, b->name, (long long)(kept < 0 ? 0 : kept),
             (long long)(b->hold_back + b->reserve),
             t->whole ? ", and this one only because ordinary lines do not suffice" : "", t->take, t->firm);
    cw_put_text(out, s->book->order[t->order].number);
    cw_put_int(out, t->line);
    cw_put_text(out, b->code);
    cw_put_text(out, customer);
    cw_put_int(out, t->firm);
    cw_put_int(out, t->take);
    cw_put_text(out, sentence);
    return code;
}

static cw_code hit_variety(cw_nursery *n, const cw_standing *s, uint32_t v, cw_share_line *line, target *t,
                           int32_t *take, cw_table *out, cw_error *err)
{
    const cw_book *b = s->book;
    size_t count = 0;
    int64_t found = 0;
    for (size_t k = 0; k < b->firms; k++) {
        const cw_book_firm *f = &b->firm[k];
        const cw_book_line *l = &b->line[f->line];
        if (f->variety != v || f->quantity == f->picked)
            continue;
        int32_t firm = f->quantity - f->picked;
        line[count] = (cw_share_line){ v, l->order, l->line, firm, firm, l->all_or_none };
        t[count++] = (target){ .whole = l->all_or_none || s->order[l->order].ship_complete,
                               .tier = s->order[l->order].tier,
                               .received_at = s->order[l->order].received_at,
                               .order = l->order,
                               .line = l->line,
                               .firm = firm };
    }
    cw_code code = cw_share_hit(s->order, b->orders, line, count, -s->over[v], take, &found, err);
    for (size_t k = 0; k < count; k++)
        t[k].take = take[k];
    if (count > 0)
        qsort(t, count, sizeof *t, by_harm);
    for (size_t k = 0; k < count && code == CW_OK; k++)
        if (t[k].take > 0)
            code = put_hit(n, s, v, &t[k], out, err);
    return code;
}

static const cw_column allotting_hit_columns[] = {
    { "order", CW_TEXT_T },   { "line", CW_INT_T },
    { "variety", CW_TEXT_T }, { "customer", CW_TEXT_T, .null = true },
    { "firm", CW_INT_T },     { "would_lose", CW_INT_T },
    { "sentence", CW_TEXT_T }
};
const cw_shape cw_allotting_hit_shape = CW_ROWS(allotting_hit_columns);

cw_code cw_allotting_hit(cw_nursery *n, const cw_asker *who, const cw_allotting_basis *basis, cw_table *out,
                         cw_error *err)
{
    cw_standing *s = NULL;
    cw_table_init(out, allotting_hit_columns, CW_WIDTH(allotting_hit_columns));
    cw_code code = look_as(n, who, basis, &s, err);
    if (code != CW_OK)
        return code;
    size_t firms = s->book->firms + 1;
    cw_share_line *line = malloc(firms * sizeof *line);
    target *t = malloc(firms * sizeof *t);
    int32_t *take = malloc(firms * sizeof *take);
    if (!line || !t || !take)
        code = cw_error_memory(err);
    for (uint32_t v = 0; code == CW_OK && v < s->book->varieties; v++)
        if (s->over[v] < 0 && s->book->variety[v].promised > 0)
            code = hit_variety(n, s, v, line, t, take, out, err);
    free(line);
    free(t);
    free(take);
    cw_standing_free(s);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

typedef struct consent {
    char word[16];
} consent;

static void note_consent(void *context, const cw_book_wish *w)
{
    consent *c = context;
    cw_copy(c->word, sizeof c->word, w->consent);
}

/* What the office reads out: place so-and-so of `of`. */
static cw_code put_sentence(const cw_allotting *a, const cw_share_waiting *w, int32_t of, cw_table *out,
                            cw_error *err)
{
    const cw_standing *s = a->standing;
    const cw_share_line *l = &s->line[w->line];
    cw_text t = CW_TEXT(4096);
    if (w->place > 0)
        cw_text_addf(&t, "Number %d of %d waiting, by %s; ", w->place, of,
                     cw_rule_text(a->rule[0], a->tiers_first));
    else
        cw_text_add(&t, "It waits beside the queue; ");
    cw_text_addf(&t, "promised so far: %d of the %d asked", l->firm, l->asked);
    if (w->now > 0)
        cw_text_addf(&t, ", and %d can be promised now.", w->now);
    else if (w->cause >= 0)
        cw_text_addf(&t, "; the order is to leave complete or not at all, and %s is short for it too.",
                     s->book->variety[w->cause].name);
    else if (w->place == 0)
        cw_text_addf(&t, "; %s, so it is passed over until enough are free at once%s: %d.",
                     s->order[l->order].ship_complete ? "the order is to leave complete or not at all"
                                                      : "the line is all or nothing",
                     cw_share_rule_in_turn(a->rule[0]) ? " when its turn comes" : " that the others leave",
                     w->together);
    else if (w->late)
        cw_text_add(&t,
                    "; the order is to leave complete or not at all, so it is served when the others have "
                    "theirs.");
    else if (w->place == 1)
        cw_text_add(&t, "; the next division that comes free is for this line.");
    else
        cw_text_add(&t, "; it is served when those before it have theirs.");
    cw_code code = cw_text_check(&t, err);
    cw_put_text(out, t.data);
    cw_text_free(&t);
    return code;
}

static cw_code put_waiting(cw_nursery *n, const cw_allotting *a, const cw_share_waiting *w, int32_t of,
                           cw_table *out, cw_error *err)
{
    const cw_standing *s = a->standing;
    const cw_share_line *l = &s->line[w->line];
    const cw_book_line *b = &s->book->line[s->line_in_book[w->line]];
    char room[CW_MAX_NAME + 1];
    const char *customer;
    consent c = { "" };
    cw_code code = cw_allotting_customer(n, &s->book->order[l->order], room, &customer, err);
    if (code == CW_OK)
        code = cw_book_wish_read(n->db, b->id, note_consent, &c, err);
    if (code != CW_OK)
        return code;
    cw_put_text(out, s->book->order[l->order].number);
    cw_put_int(out, l->line);
    cw_put_text(out, customer);
    cw_put_text(out, cw_share_tier_name(s->order[l->order].tier));
    cw_put_int(out, w->need);
    cw_put_int(out, w->now);
    cw_put_text(out, c.word);
    return put_sentence(a, w, of, out, err);
}

static cw_code list_waiting(cw_nursery *n, const cw_allotting *a, cw_table *out, cw_error *err)
{
    const cw_standing *s = a->standing;
    size_t count = 0;
    int32_t of = 0;
    cw_share_waiting *w = malloc((s->lines + 1) * sizeof *w);
    if (w == NULL)
        return cw_error_memory(err);
    cw_code code =
        cw_share_queue(s->share, a->rule[0], a->tiers_first, a->variety, a->outcome[0], w, &count, err);
    for (size_t k = 0; k < count; k++)
        of += w[k].place > 0;
    for (size_t k = 0; code == CW_OK && k < count; k++)
        code = put_waiting(n, a, &w[k], of, out, err);
    free(w);
    return code;
}

static const cw_column allotting_waitlist_columns[] = { { "order", CW_TEXT_T },
                                                        { "line", CW_INT_T },
                                                        { "customer", CW_TEXT_T, .null = true },
                                                        { "tier", CW_TEXT_T, .words = cw_words_tiers },
                                                        { "short", CW_INT_T },
                                                        { "now", CW_INT_T },
                                                        { "consent", CW_TEXT_T, .words = cw_words_consents },
                                                        { "sentence", CW_TEXT_T } };
const cw_shape cw_allotting_waitlist_shape = CW_ROWS(allotting_waitlist_columns);

/* The variety shared by the rule in force. */
static cw_code preview_in_force(cw_nursery *n, const cw_asker *who, const char *variety, cw_allotting **out,
                                cw_error *err)
{
    cw_last_rule last;
    cw_allotting_ask ask;
    cw_code code = cw_last_rule_read(n, variety, &last, err);
    if (code == CW_OK)
        code = cw_allotting_default(n, &ask, err);
    if (code != CW_OK)
        return code;
    ask.variety = variety;
    ask.rule = cw_share_rule_name(last.rule);
    ask.tiers_first = last.tiers_first;
    return cw_allotting_preview(n, who, &ask, out, err);
}

cw_code cw_allotting_waitlist(cw_nursery *n, const cw_asker *who, const char *variety, cw_table *out,
                              cw_error *err)
{
    cw_allotting *a = NULL;
    cw_table_init(out, allotting_waitlist_columns, CW_WIDTH(allotting_waitlist_columns));
    cw_code code = preview_in_force(n, who, variety, &a, err);
    if (code == CW_OK)
        code = list_waiting(n, a, out, err);
    cw_allotting_free(a);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

static cw_code find_place(const cw_allotting *a, const char *order, int line, int *place, int *of,
                          cw_error *err)
{
    const cw_standing *s = a->standing;
    size_t count = 0;
    cw_share_waiting *w = malloc((s->lines + 1) * sizeof *w);
    if (w == NULL)
        return cw_error_memory(err);
    cw_code code =
        cw_share_queue(s->share, a->rule[0], a->tiers_first, a->variety, a->outcome[0], w, &count, err);
    for (size_t k = 0; code == CW_OK && k < count; k++) {
        const cw_share_line *l = &s->line[w[k].line];
        *of += w[k].place > 0;
        if (l->line == line && strcmp(s->book->order[l->order].number, order) == 0)
            *place = w[k].place;
    }
    free(w);
    return code;
}

cw_code cw_allotting_place(cw_nursery *n, const cw_asker *who, const char *variety, const char *order,
                           int line, bool *shared, int *place, int *of, cw_error *err)
{
    cw_run_how how;
    cw_allotting *a = NULL;
    *place = *of = 0;
    cw_code code = cw_runs_last_of(n->db, variety, &how, shared, err);
    if (code != CW_OK || !*shared)
        return code;
    code = preview_in_force(n, who, variety, &a, err);
    if (code == CW_OK)
        code = find_place(a, order, line, place, of, err);
    cw_allotting_free(a);
    return code;
}

static void put_run(void *context, const cw_run_row *r)
{
    cw_table *out = context;
    cw_put_int(out, r->id);
    cw_put_int(out, r->at);
    cw_put_text(out, r->actor);
    cw_put_text(out, r->what);
    cw_put_text(out, r->rule);
    cw_put_text(out, r->supply);
    if (r->confidence < 0)
        cw_put_null(out);
    else
        cw_put_real(out, r->confidence);
    cw_put_int(out, r->lines);
    cw_put_int(out, r->placed);
    cw_put_text(out, r->digest);
    if (r->undone)
        cw_put_int(out, r->undone);
    else
        cw_put_null(out);
}

static const cw_column allotting_runs_columns[] = { { "run", CW_INT_T },
                                                    { "at", CW_INSTANT_T },
                                                    { "actor", CW_TEXT_T },
                                                    { "what", CW_TEXT_T, .words = cw_words_runs },
                                                    { "rule", CW_TEXT_T },
                                                    { "supply", CW_TEXT_T, .words = cw_words_supplies },
                                                    { "confidence", CW_REAL_T, 3, .null = true },
                                                    { "lines", CW_INT_T },
                                                    { "placed", CW_INT_T },
                                                    { "digest", CW_TEXT_T },
                                                    { "undone_at", CW_INSTANT_T, .null = true } };
const cw_shape cw_allotting_runs_shape = CW_ROWS(allotting_runs_columns);

cw_code cw_allotting_runs(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err)
{
    (void)who;
    cw_table_init(out, allotting_runs_columns, CW_WIDTH(allotting_runs_columns));
    cw_code code = cw_runs_each(n->db, 500, put_run, out, err);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

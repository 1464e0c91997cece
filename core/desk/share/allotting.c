/* SPDX-License-Identifier: MIT */
#include "desk/share/allotting_inside.h"

#include "base/limits.h"
#include "base/parallel.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

const char cw_allotting_rule_words[] =
#define CW_SHARE_RULE(id, name, ...) "|" name
#include "model/share_rules.def"
#undef CW_SHARE_RULE
    ;

cw_code cw_rule_read(const char *word, cw_share_rule *out, cw_error *err)
{
    char shown[80];
    *out = cw_share_rule_of(word, strlen(word));
    if (*out < CW_SHARE_RULES)
        return CW_OK;
    return cw_error_at(err, CW_REFUSED, NULL, 0, "rule", "must be one of %s: %s", CW_ALLOTTING_RULES,
                       cw_shown(word, strlen(word), shown));
}

const char *cw_allotting_say(const cw_standing *s, const cw_share_outcome *o, char out[CW_SHARE_SENTENCE])
{
    return cw_share_say(o, o->cause >= 0 ? s->book->variety[o->cause].name : NULL, out);
}

/* The rules and the digest are independent, so they are computed side by side. */
typedef struct work {
    cw_allotting *a;
    cw_error err[CW_SHARE_RULES];
    cw_code code[CW_SHARE_RULES];
} work;

static void work_one(void *context, unsigned worker, size_t i)
{
    work *w = context;
    cw_allotting *a = w->a;
    (void)worker;
    if (i == a->rules)
        cw_standing_digest(a->standing, a->digest);
    else
        w->code[i] =
            cw_share_run(a->standing->share, a->rule[i], a->tiers_first, a->outcome[i], NULL, &w->err[i]);
}

static cw_share_outcome *outcomes(size_t n)
{
    return calloc(n + 1, sizeof(cw_share_outcome));
}

/* Numbers the lines that one variety's preview tells of, from 1. */
static cw_code choose_lines(cw_allotting *a, size_t *kept, cw_error *err)
{
    const cw_standing *s = a->standing;
    bool *whole = calloc(s->book->orders + 1, sizeof *whole);
    a->at = calloc(s->lines + 1, sizeof *a->at);
    *kept = 0;
    for (size_t i = 0; whole && i < s->lines; i++)
        if (s->line[i].variety == a->variety && s->order[s->line[i].order].ship_complete)
            whole[s->line[i].order] = true;
    for (size_t i = 0; whole && a->at && i < s->lines; i++)
        if (s->line[i].variety == a->variety || whole[s->line[i].order])
            a->at[i] = (uint32_t)++ * kept;
    bool had_room = whole && a->at;
    free(whole);
    return had_room ? CW_OK : cw_error_memory(err);
}

/* One rule after the other, so that the outcomes of all lines lie in memory once and not for each rule: of a season of a million
 * lines they take 46 MB, and an office asks for one variety after the other. */
static cw_code share_one_variety(cw_allotting *a, cw_error *err)
{
    size_t kept = 0;
    cw_share_outcome *all = outcomes(a->standing->lines);
    cw_code code = all ? choose_lines(a, &kept, err) : cw_error_memory(err);
    for (size_t r = 0; r < a->rules && code == CW_OK; r++) {
        a->outcome[r] = outcomes(kept);
        code = a->outcome[r] ? cw_share_run(a->standing->share, a->rule[r], a->tiers_first, all, NULL, err)
                             : cw_error_memory(err);
        for (size_t i = 0; i < a->standing->lines && code == CW_OK; i++)
            if (a->at[i])
                a->outcome[r][a->at[i]] = all[i];
    }
    free(all);
    if (code == CW_OK)
        cw_standing_digest(a->standing, a->digest);
    return code;
}

static cw_code share_all(cw_allotting *a, cw_error *err)
{
    work w = { .a = a };
    for (size_t r = 0; r < a->rules; r++) {
        a->outcome[r] = malloc((a->standing->lines + 1) * sizeof *a->outcome[r]);
        if (a->outcome[r] == NULL)
            return cw_error_memory(err);
    }
    cw_parallel_for(0, a->rules + 1, work_one, &w);
    for (size_t r = 0; r < a->rules; r++)
        if (w.code[r] != CW_OK)
            return cw_error_set(err, w.code[r], "%s", w.err[r].text);
    return CW_OK;
}

static cw_code set_up(cw_allotting *a, const cw_allotting_ask *ask, cw_error *err)
{
    char shown[80];
    a->tiers_first = ask->tiers_first;
    if (ask->variety) {
        a->variety = cw_book_variety_of(a->standing->book, ask->variety);
        if (a->variety == CW_BOOK_NONE)
            return cw_error_at(err, CW_NOT_FOUND, NULL, 0, "variety", "there is no variety %s",
                               cw_shown(ask->variety, strlen(ask->variety), shown));
    }
    if (ask->rule) {
        a->rules = 1;
        return cw_rule_read(ask->rule, &a->rule[0], err);
    }
    for (a->rules = 0; a->rules < CW_SHARE_RULES; a->rules++)
        a->rule[a->rules] = (cw_share_rule)a->rules;
    return CW_OK;
}

cw_code cw_allotting_share_take(cw_standing *s, const cw_allotting_ask *ask, cw_allotting **out,
                                cw_error *err)
{
    cw_allotting *a = calloc(1, sizeof *a);
    *out = NULL;
    if (a == NULL) {
        cw_standing_free(s);
        return cw_error_memory(err);
    }
    a->standing = s;
    a->variety = CW_BOOK_NONE;
    cw_code code = set_up(a, ask, err);
    if (code == CW_OK)
        code = cw_standing_share(s, err);
    if (code == CW_OK)
        code = a->variety != CW_BOOK_NONE && a->rules > 1 ? share_one_variety(a, err) : share_all(a, err);
    if (code != CW_OK) {
        cw_allotting_free(a);
        return code;
    }
    *out = a;
    return CW_OK;
}

cw_code cw_allotting_preview(cw_nursery *n, const cw_asker *who, const cw_allotting_ask *ask,
                             cw_allotting **out, cw_error *err)
{
    cw_basis basis;
    cw_standing *s = NULL;
    *out = NULL;
    cw_code code = cw_basis_read(n, ask->projected, ask->confidence, &basis, err);
    basis.variety = ask->variety;
    if (code == CW_OK)
        code = cw_standing_look(n, who, &basis, &s, err);
    return code == CW_OK ? cw_allotting_share_take(s, ask, out, err) : code;
}

void cw_allotting_free(cw_allotting *a)
{
    if (a == NULL)
        return;
    for (size_t r = 0; r < CW_SHARE_RULES; r++)
        free(a->outcome[r]);
    free(a->at);
    free(a->serve);
    cw_standing_free(a->standing);
    free(a);
}

const char *cw_allotting_digest(const cw_allotting *a)
{
    return a->digest;
}

/* How many lines of a variety end with all, some and nothing of what they asked. */
typedef struct tally {
    int64_t lines, asked, firm, placed, wanted, whole, part, none;
} tally;

static tally *count_all(const cw_allotting *a)
{
    const cw_standing *s = a->standing;
    size_t varieties = s->book->varieties;
    tally *all = calloc(a->rules * varieties + 1, sizeof *all);
    for (size_t r = 0; all && r < a->rules; r++)
        for (size_t i = 0; i < s->lines; i++) {
            const cw_share_line *l = &s->line[i];
            tally *t = &all[r * varieties + l->variety];
            int32_t has = l->firm + cw_allotting_of(a, r, i)->allocated;
            t->lines++;
            t->asked += l->asked;
            t->firm += l->firm;
            t->placed += cw_allotting_of(a, r, i)->allocated;
            t->wanted += l->asked - l->firm;
            t->whole += has == l->asked;
            t->part += has > 0 && has < l->asked;
            t->none += has == 0;
        }
    return all;
}

static const cw_column allotting_totals_columns[] = {
    { "variety", CW_TEXT_T }, { "name", CW_TEXT_T }, { "supply", CW_INT_T }, { "lines", CW_INT_T },
    { "asked", CW_INT_T },    { "firm", CW_INT_T },  { "rule", CW_TEXT_T },  { "placed", CW_INT_T },
    { "short", CW_INT_T },    { "whole", CW_INT_T }, { "part", CW_INT_T },   { "none", CW_INT_T },
};
const cw_shape cw_allotting_totals_shape = CW_ROWS(allotting_totals_columns);

cw_code cw_allotting_totals(const cw_allotting *a, bool short_only, cw_table *out, size_t *enough,
                            cw_error *err)
{
    const cw_book *b = a->standing->book;
    tally *all = count_all(a);
    cw_table_init(out, allotting_totals_columns, CW_WIDTH(allotting_totals_columns));
    if (all == NULL)
        return cw_error_memory(err);
    if (enough)
        *enough = 0;
    for (size_t v = 0; v < b->varieties; v++) {
        if ((a->variety != CW_BOOK_NONE && v != a->variety) || all[v].lines == 0)
            continue;
        if (all[v].wanted <= a->standing->free[v] && short_only) {
            if (enough)
                ++*enough;
            continue;
        }
        for (size_t r = 0; r < a->rules; r++) {
            const tally *t = &all[r * b->varieties + v];
            cw_put_text(out, b->variety[v].code);
            cw_put_text(out, b->variety[v].name);
            cw_put_int(out, a->standing->free[v]);
            cw_put_int(out, t->lines);
            cw_put_int(out, t->asked);
            cw_put_int(out, t->firm);
            cw_put_text(out, cw_share_rule_name(a->rule[r]));
            cw_put_int(out, t->placed);
            cw_put_int(out, t->wanted - t->placed);
            cw_put_int(out, t->whole);
            cw_put_int(out, t->part);
            cw_put_int(out, t->none);
        }
    }
    free(all);
    return cw_table_check(out, err);
}

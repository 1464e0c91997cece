/* SPDX-License-Identifier: MIT */
#include "model/substitute_inside.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define COMPARE(a, b) (((a) > (b)) - ((a) < (b)))

/* The variety that was asked matters to a line beyond its class only while it is itself in surplus. */
static uint32_t wanted_key(const cw_sub_stage *st, const cw_sub_line *l)
{
    return l->wanted != CW_SUB_NONE_WANTED && st->surplus[l->wanted] > 0 ? l->wanted : CW_SUB_NONE_WANTED;
}

static cw_sub_class class_key(const cw_sub_stage *st, const cw_sub_line *l)
{
    if (l->consent == CW_CONSENT_ASSORTMENT)
        return l->class;
    if (l->consent == CW_CONSENT_NAMED)
        return (cw_sub_class){ 0, 0, 0 };
    return st->in->variety[l->wanted].class;
}

static int compare_named(const cw_sub_input *in, const cw_sub_line *a, const cw_sub_line *b)
{
    if (a->named_count != b->named_count)
        return COMPARE(a->named_count, b->named_count);
    for (uint32_t k = 0; k < a->named_count; k++) {
        uint32_t x = in->named[a->named_first + k], y = in->named[b->named_first + k];
        if (x != y)
            return COMPARE(x, y);
    }
    return 0;
}

/* Alike lines may have the same substitutes at the same cost, but for what their orders hold. */
static int compare_lines(const cw_sub_stage *st, uint32_t la, uint32_t lb)
{
    const cw_sub_line *a = &st->in->line[la], *b = &st->in->line[lb];
    if (st->fate && st->fate[la] != st->fate[lb])
        return COMPARE(st->fate[la], st->fate[lb]);
    cw_sub_class x = class_key(st, a), y = class_key(st, b);
    if (a->consent != b->consent)
        return COMPARE(a->consent, b->consent);
    if (x.form != y.form)
        return COMPARE(x.form, y.form);
    if (x.colour != y.colour)
        return COMPARE(x.colour, y.colour);
    if (x.size != y.size)
        return COMPARE(x.size, y.size);
    if (a->paid != b->paid)
        return COMPARE(a->paid, b->paid);
    if (wanted_key(st, a) != wanted_key(st, b))
        return COMPARE(wanted_key(st, a), wanted_key(st, b));
    if (a->consent == CW_CONSENT_ASSORTMENT && a->spread != b->spread)
        return COMPARE(a->spread, b->spread);
    return a->consent == CW_CONSENT_NAMED ? compare_named(st->in, a, b) : 0;
}

static int by_key(const void *pa, const void *pb, void *context)
{
    const cw_sub_stage *st = context;
    uint32_t a = *(const uint32_t *)pa, b = *(const uint32_t *)pb;
    int c = compare_lines(st, st->line[a], st->line[b]);
    return c ? c : COMPARE(a, b);
}

static int by_line(const void *pa, const void *pb)
{
    return COMPARE(((const cw_sub_ban *)pa)->line, ((const cw_sub_ban *)pb)->line);
}

static bool has_ban(const cw_sub_stage *st, uint32_t line)
{
    cw_sub_ban key = { line, 0 };
    return st->in->bans > 0 && bsearch(&key, st->ban, st->in->bans, sizeof key, by_line) != NULL;
}

static cw_code work_open(cw_sub_stage *st, cw_sub_work *w, cw_error *err)
{
    size_t n = st->lines + 1;
    *w = (cw_sub_work){ .st = st };
    w->by_key = malloc(n * sizeof *w->by_key);
    w->apart = calloc(n, sizeof *w->apart);
    w->strikes = calloc(n, 1);
    w->member = malloc(n * sizeof *w->member);
    w->group = malloc(n * sizeof *w->group);
    w->group_price = malloc(n * sizeof *w->group_price);
    w->variety_price = calloc(st->varieties + 1, sizeof *w->variety_price);
    w->line_price = calloc(n, sizeof *w->line_price);
    if (!w->by_key || !w->apart || !w->strikes || !w->member || !w->group || !w->group_price ||
        !w->variety_price || !w->line_price)
        return cw_error_memory(err);
    for (size_t k = 0; k < st->lines; k++) {
        w->by_key[k] = (uint32_t)k;
        if (has_ban(st, st->line[k]))
            w->apart[k] = CW_SUB_ALONE;
    }
    if (st->lines > 0)
        qsort_r(w->by_key, st->lines, sizeof *w->by_key, by_key, st);
    return CW_OK;
}

static void work_close(cw_sub_work *w)
{
    free(w->by_key);
    free(w->apart);
    free(w->strikes);
    free(w->member);
    free(w->group);
    free(w->coupling);
    free(w->arc);
    free(w->group_price);
    free(w->variety_price);
    free(w->line_price);
    free(w->last.item);
}

static void add_member(cw_sub_work *w, size_t *members, uint32_t position)
{
    w->member[(*members)++] = position;
    w->group[w->groups - 1].count++;
    w->group[w->groups - 1].missing += w->st->in->line[w->st->line[position]].missing;
}

static int by_apart(const void *pa, const void *pb, void *context)
{
    const cw_sub_work *w = context;
    uint32_t a = *(const uint32_t *)pa, b = *(const uint32_t *)pb;
    if (w->apart[a] != w->apart[b])
        return COMPARE(w->apart[a], w->apart[b]);
    int32_t x = w->st->in->line[w->st->line[a]].missing, y = w->st->in->line[w->st->line[b]].missing;
    return w->apart[a] == CW_SUB_WITH_EQUAL && x != y ? COMPARE(x, y) : COMPARE(a, b);
}

static bool same_group(const cw_sub_work *w, uint32_t a, uint32_t b)
{
    const cw_sub_line *line = w->st->in->line;
    if (w->apart[a] != w->apart[b] || w->apart[a] == CW_SUB_ALONE)
        return false;
    return w->apart[a] == CW_SUB_WITH_ALIKE || line[w->st->line[a]].missing == line[w->st->line[b]].missing;
}

/* Runs of alike lines become groups, as far as they are not to be apart. */
static void form_groups(cw_sub_work *w)
{
    const cw_sub_stage *st = w->st;
    size_t members = 0;
    w->groups = 0;
    for (size_t first = 0, end = 0; first < st->lines; first = end) {
        uint32_t *run = &w->by_key[first];
        bool mixed = false;
        for (end = first; end < st->lines && compare_lines(st, st->line[*run], st->line[w->by_key[end]]) == 0;
             end++)
            mixed = mixed || w->apart[w->by_key[end]] != CW_SUB_WITH_ALIKE;
        if (mixed)
            qsort_r(run, end - first, sizeof *run, by_apart, w);
        for (size_t i = first; i < end; i++) {
            if (i == first || !same_group(w, w->by_key[i - 1], w->by_key[i]))
                w->group[w->groups++] = (cw_sub_group){ members, 0, 0 };
            add_member(w, &members, w->by_key[i]);
        }
    }
}

/* The prices of the last round, line by line. */
static cw_code write_proof(const cw_sub_work *w, struct cw_sub_proof **out, cw_error *err)
{
    const cw_sub_stage *st = w->st;
    struct cw_sub_proof *p = calloc(1, sizeof *p);
    *out = p;
    if (!p)
        return cw_error_memory(err);
    p->unit = st->unit;
    p->far = st->far;
    p->unplaced = st->unplaced;
    p->unfilled = st->unfilled;
    p->blank = st->blank;
    p->line = calloc(st->in->lines + 1, sizeof *p->line);
    p->variety = calloc(st->in->varieties + 1, sizeof *p->variety);
    p->limit = calloc(w->couplings + 1, sizeof *p->limit);
    if (!p->line || !p->variety || !p->limit)
        return cw_error_memory(err);
    for (size_t g = 0; g < w->groups; g++)
        for (size_t i = 0; i < w->group[g].count; i++)
            p->line[st->line[w->member[w->group[g].first + i]]] = w->group_price[g];
    for (size_t s = 0; s < st->varieties; s++)
        p->variety[st->variety[s]] = w->variety_price[s];
    for (size_t c = 0; c < w->couplings; c++)
        p->limit[p->limits++] = (cw_sub_limit_price){ w->coupling[c].order, st->variety[w->coupling[c].at],
                                                      w->coupling[c].price };
    return CW_OK;
}

void cw_sub_proof_free(struct cw_sub_proof *p)
{
    if (!p)
        return;
    free(p->line);
    free(p->variety);
    free(p->limit);
    free(p);
}

cw_code cw_sub_stage_solve(cw_sub_stage *st, cw_sub_choices *out, struct cw_sub_proof **proof,
                           cw_sub_plan *sizes, cw_error *err)
{
    cw_sub_work w;
    size_t before = out->count;
    bool clean = false;
    cw_code code = work_open(st, &w, err);
    while (code == CW_OK && !clean) {
        cw_sub_choices round = { 0 };
        if (st->in->go_on && !st->in->go_on(st->in->context, (uint32_t)sizes->rounds)) {
            code = cw_error_set(err, CW_REFUSED, "given up as asked; nothing was changed");
            break;
        }
        form_groups(&w);
        code = cw_sub_relax(&w, err);
        if (code == CW_OK)
            code = cw_sub_deal(&w, &round, &clean, err);
        for (size_t i = 0; i < round.count && code == CW_OK && clean; i++)
            code = cw_sub_choices_add(out, st->in, round.item[i].line, round.item[i].variety,
                                      round.item[i].quantity, err);
        free(w.last.item);
        w.last = round;
        w.rounds++;
        sizes->rounds++;
        sizes->groups = w.groups > sizes->groups ? w.groups : sizes->groups;
        sizes->arcs = w.flow_arcs > sizes->arcs ? w.flow_arcs : sizes->arcs;
    }
    if (code == CW_OK)
        code = write_proof(&w, proof, err);
    else
        out->count = before;
    work_close(&w);
    return code;
}

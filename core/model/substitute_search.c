/* SPDX-License-Identifier: MIT */
#include "model/substitute_inside.h"

#include "base/grow.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Units that take all or nothing. The flow of a branch that fills none of them in part is the branch's best plan; else
 * the branch is cut in two by a unit that is filled in part: it is whole, or it is out. */

#define MOST_WORK     200000 /* lines that are solved for, over all branches */
#define MOST_BRANCHES 4000
#define MOST_LATE     64 /* units that are tried once more at the end of the first plan */

typedef struct search {
    const cw_sub_input *in;
    int which;
    const cw_sub_choice *first; /* of the stage before */
    size_t firsts, most;        /* most: cap of branches */
    uint8_t *fate, *start;      /* [lines] now, and before any branch */
    int64_t *missing, *placed;  /* [lines + 1] of units */
    cw_sub_choices best;
    cw_sub_total best_total, bound;
    bool found, capped;
    cw_sub_branch *branch;
    size_t branches, room;
    cw_sub_plan *sizes;
} search;

/* The answer of one branch's flow. */
typedef struct answer {
    cw_sub_choices choices;
    struct cw_sub_proof *proof;
    cw_sub_total total;
    bool impossible; /* what must be whole cannot be: the proof says so */
} answer;

static void answer_free(answer *a)
{
    free(a->choices.item);
    cw_sub_proof_free(a->proof);
    *a = (answer){ 0 };
}

void cw_sub_first_fates(const cw_sub_input *in, int which, uint8_t *fate)
{
    memset(fate, CW_SUB_FREE, in->lines);
    bool any = false;
    for (size_t l = 0; l < in->lines && which == 0; l++)
        if (in->line[l].unit > 0 && in->line[l].missing > 0 && in->line[l].consent == CW_CONSENT_NONE) {
            fate[l] = CW_SUB_OUT;
            any = true;
        }
    for (size_t k = 0; k < in->lines && any; k++)
        if (fate[k] == CW_SUB_OUT && in->line[k].consent == CW_CONSENT_NONE)
            for (size_t l = 0; l < in->lines; l++)
                if (in->line[l].unit == in->line[k].unit)
                    fate[l] = CW_SUB_OUT;
}

static bool is_mine(const search *s, size_t l)
{
    const cw_sub_line *line = &s->in->line[l];
    return line->missing > 0 && line->consent != CW_CONSENT_NONE &&
           (line->consent == CW_CONSENT_ASSORTMENT) == (s->which == 1);
}

static bool is_better(const cw_sub_total *a, const cw_sub_total *b)
{
    if (a->placed != b->placed)
        return a->placed > b->placed;
    return a->distance != b->distance ? a->distance < b->distance : a->extra < b->extra;
}

static void count_units(search *s, const cw_sub_choices *c)
{
    memset(s->placed, 0, (s->in->lines + 1) * sizeof *s->placed);
    for (size_t i = 0; i < c->count; i++)
        s->placed[s->in->line[c->item[i].line].unit] += c->item[i].quantity;
}

static void set_fate(search *s, uint32_t unit, uint8_t fate)
{
    for (size_t l = 0; l < s->in->lines; l++)
        if (s->in->line[l].unit == unit)
            s->fate[l] = fate;
}

/* Is anything missing on a line that must be whole? */
static bool is_unfilled(search *s, const cw_sub_choices *c)
{
    count_units(s, c);
    for (size_t l = 0; l < s->in->lines; l++)
        if (s->fate[l] == CW_SUB_WHOLE && s->placed[s->in->line[l].unit] < s->missing[s->in->line[l].unit])
            return true;
    return false;
}

static cw_code solve(search *s, answer *a, cw_error *err)
{
    cw_sub_stage st;
    *a = (answer){ 0 };
    for (int blank = 0; blank < 2; blank++) {
        cw_code code = cw_sub_stage_open(s->in, s->which, s->fate, s->first, s->firsts, &st, err);
        if (code != CW_OK)
            return code;
        if (blank)
            cw_sub_stage_blank(&st);
        code = cw_sub_stage_solve(&st, &a->choices, &a->proof, s->sizes, err);
        cw_sub_stage_close(&st);
        if (code != CW_OK) {
            answer_free(a);
            return code;
        }
        cw_sub_total_of(a->choices.item, a->choices.count, &a->total);
        if (!is_unfilled(s, &a->choices)) {
            if (blank) {
                answer_free(a);
                return cw_error_set(err, CW_MACHINE,
                                    "a weight of the choice of substitutes is too small: a "
                                    "fault of this program");
            }
            return CW_OK;
        }
        if (blank)
            break;
        answer_free(a); /* once more, only to prove that it cannot be */
    }
    a->impossible = true;
    return CW_OK;
}

/* A unit that is filled in part, the most nearly whole one, the first of those; 0 = none. */
static uint32_t part_filled(search *s, const cw_sub_choices *c)
{
    uint32_t best = 0;
    count_units(s, c);
    for (uint32_t u = 1; u <= s->in->lines; u++)
        if (s->placed[u] > 0 && s->placed[u] < s->missing[u] &&
            (best == 0 || s->placed[u] * s->missing[best] > s->placed[best] * s->missing[u]))
            best = u;
    return best;
}

static void take_best(search *s, answer *a)
{
    free(s->best.item);
    s->best = a->choices;
    s->best_total = a->total;
    s->found = true;
    a->choices = (cw_sub_choices){ 0 };
}

/* All units that a flow fills in part leave, until none is: a first plan. */
static cw_code leave(search *s, const answer *root, cw_error *err)
{
    answer a = { 0 };
    const cw_sub_choices *c = &root->choices;
    cw_code code = CW_OK;
    while (part_filled(s, c) > 0) {
        for (uint32_t u = 1; u <= s->in->lines; u++)
            if (s->placed[u] > 0 && s->placed[u] < s->missing[u])
                set_fate(s, u, CW_SUB_OUT);
        answer_free(&a);
        if ((code = solve(s, &a, err)) != CW_OK)
            return code;
        c = &a.choices;
    }
    take_best(s, &a);
    answer_free(&a);
    return CW_OK;
}

/* Those who left are offered, whole, what the first plan leaves over. */
static cw_code offer_late(search *s, cw_error *err)
{
    search late = *s;
    cw_sub_choices all = { 0 };
    cw_code code = CW_OK;
    uint8_t *fate = malloc(s->in->lines + 1);
    if (fate == NULL)
        return cw_error_memory(err);
    late.fate = fate;
    for (size_t i = 0; i < s->firsts && code == CW_OK; i++)
        code =
            cw_sub_choices_add(&all, s->in, s->first[i].line, s->first[i].variety, s->first[i].quantity, err);
    for (size_t i = 0; i < s->best.count && code == CW_OK; i++)
        code = cw_sub_choices_add(&all, s->in, s->best.item[i].line, s->best.item[i].variety,
                                  s->best.item[i].quantity, err);
    int tried = 0;
    for (size_t l = 0; l < s->in->lines && code == CW_OK && tried < MOST_LATE; l++) {
        if (s->fate[l] != CW_SUB_OUT || s->start[l] == CW_SUB_OUT)
            continue;
        uint32_t unit = s->in->line[l].unit;
        answer a;
        memset(fate, CW_SUB_OUT, s->in->lines + 1);
        set_fate(&late, unit, CW_SUB_WHOLE);
        set_fate(s, unit, CW_SUB_FREE); /* not a second time for its other lines */
        late.first = all.item;
        late.firsts = all.count;
        code = solve(&late, &a, err);
        for (size_t i = 0; code == CW_OK && !a.impossible && i < a.choices.count; i++) {
            const cw_sub_choice *c = &a.choices.item[i];
            code = cw_sub_choices_add(&all, s->in, c->line, c->variety, c->quantity, err);
            if (code == CW_OK)
                code = cw_sub_choices_add(&s->best, s->in, c->line, c->variety, c->quantity, err);
        }
        answer_free(&a);
        tried++;
    }
    cw_sub_total_of(s->best.item, s->best.count, &s->best_total);
    free(all.item);
    free(fate);
    return code;
}

static cw_code add_branch(search *s, uint32_t unit, struct cw_sub_proof *proof, cw_error *err)
{
    if (!cw_grow(&s->branch, s->branches, &s->room, sizeof *s->branch)) {
        cw_sub_proof_free(proof);
        return cw_error_memory(err);
    }
    s->branch[s->branches++] = (cw_sub_branch){ unit, proof };
    return CW_OK;
}

/* One branch, whose flow's answer is taken; `fate` is as it was when it returns. */
static cw_code explore_take(search *s, answer *a, cw_error *err)
{
    bool worth = !a->impossible && (!s->found || is_better(&a->total, &s->best_total));
    uint32_t unit = worth ? part_filled(s, &a->choices) : 0;
    struct cw_sub_proof *proof = unit == 0 ? a->proof : NULL;
    if (worth && unit == 0)
        take_best(s, a);
    if (unit == 0)
        a->proof = NULL;
    answer_free(a);
    cw_code code = add_branch(s, unit, proof, err);
    for (int part = 0; part < 2 && code == CW_OK && unit > 0 && !s->capped; part++) {
        answer next;
        if (s->branches >= s->most) {
            s->capped = true;
            break;
        }
        set_fate(s, unit, part == 0 ? CW_SUB_WHOLE : CW_SUB_OUT);
        code = solve(s, &next, err);
        if (code == CW_OK)
            code = explore_take(s, &next, err);
        set_fate(s, unit, CW_SUB_FREE);
    }
    return code;
}

static void drop_branches(search *s)
{
    for (size_t k = 0; k < s->branches; k++)
        cw_sub_proof_free(s->branch[k].proof);
    s->branches = 0;
}

static cw_code open_search(search *s, cw_error *err)
{
    size_t n = s->in->lines + 1, lines = 1;
    s->fate = calloc(n, 1);
    s->start = calloc(n, 1);
    s->missing = calloc(n, sizeof *s->missing);
    s->placed = calloc(n, sizeof *s->placed);
    if (!s->fate || !s->start || !s->missing || !s->placed)
        return cw_error_memory(err);
    for (size_t l = 0; l < s->in->lines; l++)
        if (is_mine(s, l)) {
            s->missing[s->in->line[l].unit] += s->in->line[l].missing;
            lines++;
        }
    s->missing[0] = 0;
    cw_sub_first_fates(s->in, s->which, s->start);
    memcpy(s->fate, s->start, s->in->lines);
    s->most = MOST_WORK / lines < MOST_BRANCHES ? MOST_WORK / lines : MOST_BRANCHES;
    return CW_OK;
}

/* The bound of a capped search is that of its root, solved once more for its prices. */
static cw_code bound_by_root(search *s, cw_error *err)
{
    answer root;
    memcpy(s->fate, s->start, s->in->lines);
    drop_branches(s);
    cw_code code = solve(s, &root, err);
    if (code != CW_OK)
        return code;
    s->bound = root.total;
    code = add_branch(s, 0, root.proof, err);
    root.proof = NULL;
    answer_free(&root);
    return code;
}

cw_code cw_sub_search(const cw_sub_input *in, int which, cw_sub_choices *out, cw_sub_plan *plan,
                      cw_error *err)
{
    search s = { .in = in, .which = which, .first = out->item, .firsts = out->count, .sizes = plan };
    answer root = { 0 };
    cw_code code = open_search(&s, err);
    if (code == CW_OK)
        code = solve(&s, &root, err);
    if (code == CW_OK && part_filled(&s, &root.choices) > 0) {
        code = leave(&s, &root, err);
        if (code == CW_OK)
            code = offer_late(&s, err);
        memcpy(s.fate, s.start, in->lines);
    }
    if (code == CW_OK)
        code = explore_take(&s, &root, err);
    if (code == CW_OK && s.capped)
        code = bound_by_root(&s, err);
    else
        s.bound = s.best_total;
    for (size_t i = 0; i < s.best.count && code == CW_OK; i++)
        code = cw_sub_choices_add(out, in, s.best.item[i].line, s.best.item[i].variety,
                                  s.best.item[i].quantity, err);
    answer_free(&root);
    plan->branch[which] = s.branch;
    plan->branches[which] = s.branches;
    plan->at_most[which] = s.bound;
    free(s.fate);
    free(s.start);
    free(s.missing);
    free(s.placed);
    free(s.best.item);
    return code;
}

/* SPDX-License-Identifier: MIT */
#include "model/substitute.h"

#include "base/limits.h"
#include "model/substitute_inside.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static cw_code check_line(const cw_sub_input *in, size_t i, cw_error *err)
{
    const cw_sub_line *l = &in->line[i];
    bool assortment = l->consent == CW_CONSENT_ASSORTMENT;
    if (l->consent > CW_CONSENT_ASSORTMENT)
        return cw_error_set(err, CW_REFUSED, "line %zu has an unknown consent, %u", i, l->consent);
    if (assortment ? l->wanted != CW_SUB_NONE_WANTED : l->wanted >= in->varieties)
        return cw_error_set(err, CW_REFUSED, "line %zu asks for a variety that is not there", i);
    if (l->missing < 0 || l->missing > CW_MAX_LINE_QUANTITY || l->paid < 0 || l->paid > CW_MAX_CENTS ||
        l->spread < 0 || l->unit > in->lines)
        return cw_error_set(err, CW_REFUSED, "line %zu has a quantity, price, spread or unit out of range",
                            i);
    if (l->consent != CW_CONSENT_NAMED)
        return CW_OK;
    if ((size_t)l->named_first + l->named_count > in->named_total || l->named_count > CW_SUB_MAX_DISTANCE)
        return cw_error_set(err, CW_REFUSED, "line %zu has a list of substitutes that is out of range", i);
    for (uint32_t k = 0; k < l->named_count; k++)
        if (in->named[l->named_first + k] >= in->varieties)
            return cw_error_set(err, CW_REFUSED, "line %zu names a substitute that is not there", i);
    return CW_OK;
}

static cw_code check_input(const cw_sub_input *in, cw_error *err)
{
    if (in->lines >= INT32_MAX / 8 || in->varieties > CW_MAX_VARIETIES)
        return cw_error_set(err, CW_REFUSED, "too many lines or varieties to choose substitutes at once");
    for (size_t v = 0; v < in->varieties; v++)
        if (in->variety[v].surplus < 0 || in->variety[v].surplus > CW_MAX_DIVISIONS ||
            in->variety[v].limit_per_order < 0 || in->variety[v].price > CW_MAX_CENTS ||
            in->variety[v].class.size > 1000)
            return cw_error_set(err, CW_REFUSED,
                                "variety %zu has a surplus, price, size or limit out of range", v);
    for (size_t i = 0; i < in->helds; i++)
        if (in->held[i].variety >= in->varieties || in->held[i].substituted < 0)
            return cw_error_set(err, CW_REFUSED, "entry %zu of what orders hold is out of range", i);
    for (size_t i = 0; i < in->bans; i++)
        if (in->ban[i].line >= in->lines || in->ban[i].variety >= in->varieties)
            return cw_error_set(err, CW_REFUSED, "entry %zu of the forbidden pairs is out of range", i);
    for (size_t i = 0; i < in->lines; i++) {
        cw_code code = check_line(in, i, err);
        if (code != CW_OK)
            return code;
    }
    return CW_OK;
}

/* The order of the printed list: by order and line, closest first. It does not depend on how the plan was found. */
static int by_place(const void *pa, const void *pb, void *context)
{
    const cw_sub_line *line = context;
    const cw_sub_choice *a = pa, *b = pb;
    const cw_sub_line *x = &line[a->line], *y = &line[b->line];
    if (x->order != y->order)
        return x->order < y->order ? -1 : 1;
    if (x->line != y->line)
        return x->line < y->line ? -1 : 1;
    if (a->distance != b->distance)
        return a->distance < b->distance ? -1 : 1;
    return (a->variety > b->variety) - (a->variety < b->variety);
}

static void add_choice(const cw_sub_choice *c, cw_sub_total *t)
{
    t->placed += c->quantity;
    t->distance += (int64_t)c->quantity * c->distance;
    t->extra += c->quantity * c->extra;
}

void cw_sub_total_of(const cw_sub_choice *c, size_t n, cw_sub_total *out)
{
    *out = (cw_sub_total){ 0 };
    for (size_t i = 0; i < n; i++)
        add_choice(&c[i], out);
}

/* The bound of each stage is reached: no other permitted plan can beat it. */
bool cw_substitute_is_best(const cw_sub_plan *plan)
{
    bool best = true;
    for (int which = 0; which < 2; which++) {
        const cw_sub_total *a = &plan->stage[which], *b = &plan->at_most[which];
        best = best && a->placed == b->placed && a->distance == b->distance && a->extra == b->extra;
    }
    return best;
}

static void add_up(const cw_sub_input *in, cw_sub_plan *plan)
{
    for (size_t i = 0; i < in->lines; i++)
        plan->stage[in->line[i].consent == CW_CONSENT_ASSORTMENT].missing += in->line[i].missing;
    for (size_t i = 0; i < plan->choices; i++)
        add_choice(&plan->choice[i], &plan->stage[plan->choice[i].assortment]);
    for (int which = 0; which < 2; which++)
        plan->at_most[which].missing = plan->stage[which].missing;
    const cw_sub_total *a = &plan->stage[0], *b = &plan->stage[1];
    plan->total = (cw_sub_total){ a->missing + b->missing, a->placed + b->placed, a->distance + b->distance,
                                  a->extra + b->extra };
}

cw_code cw_substitute_solve(const cw_sub_input *in, cw_sub_plan *plan, cw_error *err)
{
    cw_sub_choices out = { 0 };
    *plan = (cw_sub_plan){ 0 };
    cw_code code = check_input(in, err);
    for (int which = 0; which < 2 && code == CW_OK; which++) {
        code = cw_sub_search(in, which, &out, plan, err);
    }
    plan->choice = out.item;
    plan->choices = out.count;
    if (code != CW_OK) {
        cw_sub_plan_free(plan);
        return code;
    }
    if (out.count > 0)
        qsort_r(plan->choice, plan->choices, sizeof *plan->choice, by_place, (void *)in->line);
    add_up(in, plan);
    return CW_OK;
}

void cw_sub_plan_free(cw_sub_plan *plan)
{
    free(plan->choice);
    for (int which = 0; which < 2; which++) {
        for (size_t k = 0; k < plan->branches[which]; k++)
            cw_sub_proof_free(plan->branch[which][k].proof);
        free(plan->branch[which]);
    }
    *plan = (cw_sub_plan){ 0 };
}

bool cw_substitute_allowed(const cw_sub_input *in, uint32_t line, uint32_t variety, cw_sub_choice *c)
{
    cw_sub_choices one = { 0 };
    cw_error err = CW_ERROR_NONE;
    const cw_sub_line *l = &in->line[line];
    int32_t distance;
    cw_cents extra;
    if (!cw_sub_pair(in, l, variety, &distance, &extra))
        return false;
    for (size_t i = 0; i < in->helds; i++)
        if (in->held[i].order == l->order && in->held[i].variety == variety && in->held[i].substituted == 0)
            return false;
    for (size_t i = 0; i < in->bans; i++)
        if (in->ban[i].line == line && in->ban[i].variety == variety)
            return false;
    if (cw_sub_choices_add(&one, in, line, variety, 0, &err) != CW_OK)
        return false;
    *c = one.item[0];
    free(one.item);
    return true;
}

/* Solves the whole plan once more without the pair: what one line loses may go to another. */
cw_code cw_substitute_forbid(const cw_sub_input *in, const cw_sub_plan *plan, uint32_t line, uint32_t variety,
                             cw_sub_total *change, cw_error *err)
{
    cw_sub_ban *ban = malloc((in->bans + 1) * sizeof *ban);
    if (!ban)
        return cw_error_memory(err);
    if (in->bans > 0)
        memcpy(ban, in->ban, in->bans * sizeof *ban);
    ban[in->bans] = (cw_sub_ban){ line, variety };
    cw_sub_input without = *in;
    without.ban = ban;
    without.bans = in->bans + 1;
    cw_sub_plan other;
    cw_code code = cw_substitute_solve(&without, &other, err);
    *change =
        (cw_sub_total){ 0, other.total.placed - plan->total.placed,
                        other.total.distance - plan->total.distance, other.total.extra - plan->total.extra };
    cw_sub_plan_free(&other);
    free(ban);
    return code;
}

static void class_text(const cw_sub_choice *c, char *out, size_t size)
{
    static const char *const kinds[2][2] = {
        { "The same form, the same colour", "The same form, another colour" },
        { "Another form, the same colour", "Another form, another colour" },
    };
    char steps[48] = "";
    if (c->size_steps == 1)
        snprintf(steps, sizeof steps, ", one size step away");
    else if (c->size_steps > 1)
        snprintf(steps, sizeof steps, ", %d size steps away", c->size_steps);
    snprintf(out, size, "%s%s", kinds[c->form_differs][c->colour_differs], steps);
}

const char *cw_substitute_say(const cw_sub_choice *c, char out[CW_SUB_SENTENCE])
{
    char what[120], money[24], cost[80] = "; it costs no more";
    if (c->assortment)
        snprintf(what, sizeof what, "It is of the kind asked for");
    else if (c->named_place >= 0)
        snprintf(what, sizeof what, "It is number %d on the buyer's own list", c->named_place + 1);
    else
        class_text(c, what, sizeof what);
    if (c->extra > 0) {
        cw_cents_format(c->extra, money);
        snprintf(cost, sizeof cost, "; it is %s dearer apiece, at our expense", money);
    }
    snprintf(out, CW_SUB_SENTENCE, "%s%s.", what, cost);
    return out;
}

/* SPDX-License-Identifier: MIT */
#include "model/substitute_inside.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* The proof: every plan costs at least
 *     sum missing * line - sum surplus * variety - sum limit * price - sum room * max(0, line - cost - variety - price)
 * for any prices >= 0 with line <= unplaced (weak duality). If our plan costs just that, none is better. The sums are
 * taken over lines and pairs themselves, not over the groups that the solver worked with, in 128 bits. */
__extension__ typedef __int128 wide;

static int by_limit(const void *pa, const void *pb)
{
    const cw_sub_limit_price *a = pa, *b = pb;
    if (a->order != b->order)
        return a->order < b->order ? -1 : 1;
    return (a->variety > b->variety) - (a->variety < b->variety);
}

static int64_t limit_price(const struct cw_sub_proof *p, uint32_t order, uint32_t v)
{
    cw_sub_limit_price key = { order, v, 0 };
    const cw_sub_limit_price *l = p->limits ? bsearch(&key, p->limit, p->limits, sizeof key, by_limit) : NULL;
    return l ? l->price : 0;
}

/* Are the weights large enough for the weighted sum to be the lexicographic measure? */
static const char *check_weights(const cw_sub_stage *st, const struct cw_sub_proof *p)
{
    return p->unit == st->unit && p->far == st->far && p->unplaced == st->unplaced &&
                   p->unfilled == st->unfilled && p->blank == st->blank
               ? NULL
               : "the weights are wrong";
}

static int by_order_variety(const void *pa, const void *pb, void *context)
{
    const cw_sub_line *line = context;
    const cw_sub_choice *a = pa, *b = pb;
    uint32_t x = line[a->line].order, y = line[b->line].order;
    if (x != y)
        return x < y ? -1 : 1;
    if (a->variety != b->variety)
        return a->variety < b->variety ? -1 : 1;
    return (a->line > b->line) - (a->line < b->line);
}

/* Consent, rooms, surplus and missing. got[lines], given[varieties] are zeroed scratch. */
static const char *check_choices(const cw_sub_stage *st, const cw_sub_choice *c, size_t n, int64_t *got,
                                 int64_t *given)
{
    const cw_sub_input *in = st->in;
    for (size_t i = 0; i < n; i++) {
        int32_t distance;
        cw_cents extra;
        if (c[i].quantity <= 0 || !cw_sub_pair(in, &in->line[c[i].line], c[i].variety, &distance, &extra))
            return "a substitute is given that the buyer did not consent to";
        if (distance != c[i].distance || extra != c[i].extra)
            return "a distance or extra cost is wrong";
        if (c[i].quantity > cw_sub_room(st, c[i].line, c[i].variety))
            return "an order gets a variety that it holds, or more of one than its limit";
        got[c[i].line] += c[i].quantity;
        given[c[i].variety] += c[i].quantity;
        if (got[c[i].line] > in->line[c[i].line].missing)
            return "a line gets more than it misses";
        if (given[c[i].variety] > st->surplus[c[i].variety])
            return "more of a variety is given than is left";
    }
    return NULL;
}

/* c[n] sorted by order and variety: do an order's lines together keep its limit? */
static const char *check_limits(const cw_sub_stage *st, const cw_sub_choice *c, size_t n)
{
    const cw_sub_line *line = st->in->line;
    int64_t sum = 0;
    for (size_t i = 0; i < n; i++) {
        bool same =
            i > 0 && line[c[i].line].order == line[c[i - 1].line].order && c[i].variety == c[i - 1].variety;
        if (same && c[i].line == c[i - 1].line)
            return "a line has the same substitute in two rows";
        sum = same ? sum + c[i].quantity : c[i].quantity;
        if (sum > cw_sub_limit_left(st, line[c[i].line].order, c[i].variety))
            return "an order gets more of a variety than its limit";
    }
    return NULL;
}

/* The bound that one line adds. */
static wide line_bound(const cw_sub_stage *st, const struct cw_sub_proof *p, uint32_t l)
{
    const cw_sub_line *line = &st->in->line[l];
    wide sum = (wide)line->missing * p->line[l];
    for (size_t s = 0; s < st->varieties; s++) {
        int32_t distance;
        cw_cents extra;
        uint32_t v = st->variety[s];
        if (p->line[l] <= p->variety[v]) /* no cost is below 0: the pair cannot pay */
            continue;
        if (!cw_sub_pair(st->in, line, v, &distance, &extra))
            continue;
        wide over = (wide)p->line[l] - p->variety[v];
        over -= p->blank ? 0 : distance * (wide)p->far + extra / p->unit;
        if (over > 0 && p->limits > 0)
            over -= limit_price(p, line->order, v);
        if (over > 0)
            sum -= over * cw_sub_room(st, l, v);
    }
    return sum;
}

/* What a total costs in the weights of a proof, all lines of the stage counted. */
static wide cost_of(const struct cw_sub_proof *p, const cw_sub_total *t)
{
    return (wide)p->unplaced * (t->missing - t->placed) + (wide)p->far * t->distance + t->extra / p->unit;
}

const char cw_sub_no_memory[] = "there is no memory to check in";
const char cw_sub_left_off[] = "the check was given up";

#define ASK_EVERY 256 /* lines */

static bool wanted(const cw_sub_input *in, size_t line)
{
    return line % ASK_EVERY != 0 || in->go_on == NULL || in->go_on(in->context, 0);
}

/* No plan within this branch costs less than `most`; or, by a blank proof, there is no plan within it. `out` is missing
 * on lines that are out: they cost that much in any case. */
static const char *check_bound(const cw_sub_stage *st, const struct cw_sub_proof *p, const cw_sub_total *most,
                               int64_t out)
{
    wide bound = (wide)out * p->unplaced;
    for (size_t k = 0; k < st->lines; k++) {
        uint32_t l = st->line[k];
        if (!wanted(st->in, k))
            return cw_sub_left_off;
        if (p->line[l] > (st->fate[l] == CW_SUB_WHOLE ? p->unfilled : p->unplaced))
            return "a line's price is above that of leaving it";
        bound += line_bound(st, p, l);
    }
    for (size_t s = 0; s < st->varieties; s++) {
        if (p->variety[st->variety[s]] < 0)
            return "a variety has a negative price";
        bound -= (wide)st->surplus[st->variety[s]] * p->variety[st->variety[s]];
    }
    for (size_t k = 0; k < p->limits; k++) {
        if (p->limit[k].price < 0 || (k > 0 && by_limit(&p->limit[k - 1], &p->limit[k]) >= 0))
            return "the prices of limits are wrong";
        if (p->limit[k].price > 0)
            bound -= (wide)p->limit[k].price * cw_sub_limit_left(st, p->limit[k].order, p->limit[k].variety);
    }
    if (p->blank ? bound > 0 : bound >= cost_of(p, most))
        return NULL;
    return "the prices do not prove that no plan is better";
}

/* What is checked of one stage, and where in its branches. */
typedef struct check {
    const cw_sub_input *in;
    const cw_sub_plan *plan;
    int which;
    const cw_sub_choice *first;
    size_t firsts, at;
    uint8_t *fate;
} check;

static const char *check_closed(check *k, const struct cw_sub_proof *p)
{
    cw_sub_stage st;
    cw_error err = CW_ERROR_NONE;
    int64_t out = 0;
    if (p == NULL)
        return "there is no proof";
    for (size_t l = 0; l < k->in->lines; l++)
        if (k->fate[l] == CW_SUB_OUT && (k->in->line[l].consent == CW_CONSENT_ASSORTMENT) == (k->which == 1))
            out += k->in->line[l].missing;
        else if (k->in->line[l].consent == CW_CONSENT_NONE && k->which == 0)
            out += k->in->line[l].missing;
    if (cw_sub_stage_open(k->in, k->which, k->fate, k->first, k->firsts, &st, &err) != CW_OK)
        return cw_sub_no_memory;
    if (p->blank)
        cw_sub_stage_blank(&st);
    const char *fault = check_weights(&st, p);
    fault = fault ? fault : check_bound(&st, p, &k->plan->at_most[k->which], out);
    cw_sub_stage_close(&st);
    return fault;
}

/* The branch at k->at and all below it: together they leave no plan out. */
static const char *check_branch(check *k)
{
    if (k->at >= k->plan->branches[k->which])
        return "a branch of the proof is missing";
    const cw_sub_branch *b = &k->plan->branch[k->which][k->at++];
    if (b->unit == 0)
        return check_closed(k, b->proof);
    const char *fault = NULL;
    for (int part = 0; part < 2 && !fault; part++) {
        for (size_t l = 0; l < k->in->lines; l++)
            if (k->in->line[l].unit == b->unit)
                k->fate[l] = part == 0 ? CW_SUB_WHOLE : CW_SUB_OUT;
        fault = check_branch(k);
    }
    for (size_t l = 0; l < k->in->lines; l++)
        if (k->in->line[l].unit == b->unit)
            k->fate[l] = CW_SUB_FREE;
    return fault;
}

/* Is no unit filled in part? scratch[lines + 1] */
static const char *check_units(const cw_sub_input *in, int which, const int64_t *got, int64_t *scratch)
{
    memset(scratch, 0, (in->lines + 1) * sizeof *scratch);
    for (size_t l = 0; l < in->lines; l++)
        scratch[in->line[l].unit] += got[l];
    for (size_t l = 0; l < in->lines; l++) {
        const cw_sub_line *x = &in->line[l];
        if (x->unit > 0 && (x->consent == CW_CONSENT_ASSORTMENT) == (which == 1) && scratch[x->unit] > 0 &&
            got[l] < x->missing)
            return "what takes all or nothing gets a part";
    }
    return NULL;
}

static const char *check_plan(check *k, const cw_sub_choice *c, size_t n, int64_t *got, int64_t *given)
{
    cw_sub_stage st;
    cw_error err = CW_ERROR_NONE;
    cw_sub_total t;
    const cw_sub_total *said = &k->plan->stage[k->which];
    if (cw_sub_stage_open(k->in, k->which, NULL, k->first, k->firsts, &st, &err) != CW_OK)
        return cw_sub_no_memory;
    const char *fault = check_choices(&st, c, n, got, given);
    fault = fault ? fault : check_limits(&st, c, n);
    cw_sub_stage_close(&st);
    cw_sub_total_of(c, n, &t);
    if (!fault && (t.placed != said->placed || t.distance != said->distance || t.extra != said->extra))
        fault = "the totals are wrong";
    return fault ? fault : check_units(k->in, k->which, got, given);
}

static const char *check_stage(const cw_sub_input *in, const cw_sub_plan *plan, int which)
{
    const char *fault = cw_sub_no_memory;
    size_t n = 0, firsts = 0, most = in->lines > in->varieties ? in->lines : in->varieties;
    cw_sub_choice *c = malloc((plan->choices + 1) * sizeof *c), *first = calloc(plan->choices + 1, sizeof *c);
    int64_t *got = calloc(in->lines + 1, sizeof *got), *given = calloc(most + 1, sizeof *given);
    check k = { .in = in, .plan = plan, .which = which, .first = first, .fate = calloc(in->lines + 1, 1) };
    if (!c || !first || !got || !given || !k.fate)
        goto done;
    for (size_t i = 0; i < plan->choices; i++)
        if (plan->choice[i].line >= in->lines || plan->choice[i].variety >= in->varieties) {
            fault = "a choice is out of range";
            goto done;
        } else if ((in->line[plan->choice[i].line].consent == CW_CONSENT_ASSORTMENT) == (which == 1)) {
            c[n++] = plan->choice[i];
        } else if (which == 1) {
            first[firsts++] = plan->choice[i];
        }
    k.firsts = firsts;
    if (n > 0)
        qsort_r(c, n, sizeof *c, by_order_variety, (void *)in->line);
    fault = check_plan(&k, c, n, got, given);
    cw_sub_first_fates(in, which, k.fate);
    fault = fault ? fault : check_branch(&k);
    if (!fault && k.at != plan->branches[which])
        fault = "the proof has branches too many";
done:
    free(c);
    free(first);
    free(got);
    free(given);
    free(k.fate);
    return fault;
}

bool cw_substitute_verify(const cw_sub_input *in, const cw_sub_plan *plan, const char **why)
{
    const char *fault = check_stage(in, plan, 0);
    fault = fault ? fault : check_stage(in, plan, 1);
    if (why)
        *why = fault;
    return !fault;
}

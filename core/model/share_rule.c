/* SPDX-License-Identifier: MIT */
#include "model/share_inside.h"

#include "base/text.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* What each rule of share_rules.def awards, why, how that is said, and who is next. */

static const char *const tier_texts[] = { " among wholesale", " among retail", " among the other orders" };
_Static_assert(sizeof tier_texts / sizeof tier_texts[0] == CW_TIERS, "words for each tier");

/* Whom the line shared with, when that is not everyone. */
static const char *among(const cw_share_outcome *o)
{
    return o->tiers_first && !cw_share_rule_in_turn(o->rule) && o->tier < CW_TIERS ? tier_texts[o->tier] : "";
}

/* The largest-remainder threshold: the greatest t such that at least `seats` fractions are >= t. By
 * bisection, so that no arrangement of the fractions makes it slow. Fractions lie in [0, sum). */
static int64_t threshold(const int64_t *fraction, size_t n, int64_t seats, int64_t sum)
{
    int64_t low = 0, high = sum; /* count(>= low) >= seats > count(>= high) */
    while (high - low > 1) {
        int64_t middle = low + (high - low) / 2, count = 0;
        for (size_t i = 0; i < n; i++)
            count += fraction[i] >= middle;
        if (count >= seats)
            low = middle;
        else
            high = middle;
    }
    return low;
}

/* Whether there is enough for all, who then get what they need. */
static bool all_served(const cw_share_pool *p)
{
    if (p->supply < p->sum)
        return false;
    for (size_t i = 0; i < p->n; i++)
        if (p->open[i])
            p->award[i] = p->queue[i].need;
    return true;
}

static int64_t pro_rata(const cw_share_pool *p)
{
    const cw_share_slot *queue = p->queue;
    const uint8_t *open = p->open;
    int64_t *fraction = p->scratch, supply = p->supply, sum = p->sum;
    int32_t *award = p->award;
    size_t n = p->n;
    if (all_served(p))
        return sum;
    int64_t seats = supply;
    for (size_t i = 0; i < n; i++) {
        fraction[i] = -1; /* closed lines win no seat */
        if (!open[i])
            continue;
        int64_t product = queue[i].need * supply; /* caps of limits.h keep it below 2^40 */
        award[i] = (int32_t)(product / sum);
        fraction[i] = product % sum;
        seats -= award[i];
    }
    if (seats == 0)
        return supply;
    int64_t t = threshold(fraction, n, seats, sum);
    for (size_t i = 0; i < n; i++)
        seats -= fraction[i] > t;
    for (size_t i = 0; i < n; i++)
        if (fraction[i] > t) {
            award[i]++;
        } else if (fraction[i] == t && seats > 0) { /* ties to the earlier */
            award[i]++;
            seats--;
        }
    return supply;
}

static int64_t lifted(const cw_share_slot *q, int32_t level)
{
    int32_t top = q->firm + q->need < level ? q->firm + q->need : level;
    return top > q->firm ? top - q->firm : 0;
}

static int64_t one_each(const cw_share_pool *p)
{
    const cw_share_slot *queue = p->queue;
    const uint8_t *open = p->open;
    int64_t supply = p->supply;
    int32_t *award = p->award;
    size_t n = p->n;
    int32_t low = 0, high = 1; /* everyone can be brought to `low`, not to `high` */
    for (size_t i = 0; i < n; i++)
        if (open[i] && queue[i].firm + queue[i].need >= high)
            high = queue[i].firm + queue[i].need + 1;
    *p->level = high - 1;
    if (all_served(p))
        return p->sum;
    while (high - low > 1) {
        int32_t middle = low + (high - low) / 2;
        int64_t cost = 0;
        for (size_t i = 0; i < n; i++)
            cost += open[i] ? lifted(&queue[i], middle) : 0;
        if (cost <= supply)
            low = middle;
        else
            high = middle;
    }
    int64_t over = supply;
    for (size_t i = 0; i < n; i++)
        if (open[i]) {
            award[i] = (int32_t)lifted(&queue[i], low);
            over -= award[i];
        }
    for (size_t i = 0; i < n && over > 0; i++)
        if (open[i] && queue[i].firm <= low && queue[i].firm + queue[i].need > low) {
            award[i]++;
            over--;
        }
    *p->level = low;
    return supply;
}

static cw_share_reason pro_rata_reason(const cw_share_slot *q, int32_t award, int64_t supply, int64_t sum,
                                       int32_t level)
{
    int64_t product = q->need * supply;
    (void)level;
    if (product % sum == 0)
        return CW_SHARE_EXACT;
    return award > product / sum ? CW_SHARE_ROUNDED_UP : CW_SHARE_ROUNDED_DOWN;
}

static int32_t pro_rata_part(const cw_share_slot *q, int64_t supply, int64_t sum, int32_t level)
{
    (void)level;
    return supply >= sum ? q->need : (int32_t)(q->need * supply / sum);
}

/* The share of a pro-rata line with two decimals, cut, not rounded: 2.999 must not read as 3.00. */
static void share_text(const cw_share_outcome *o, char out[32])
{
    int64_t hundredths = o->claimed > 0 ? (int64_t)o->need * o->supply * 100 / o->claimed : 0;
    cw_say(out, 32, "%lld.%lld%lld", (long long)(hundredths / 100), (long long)(hundredths % 100 / 10),
           (long long)(hundredths % 10));
}

static void pro_rata_say(const cw_share_outcome *o, char *out, size_t size)
{
    char share[32];
    share_text(o, share);
    cw_say(out, size, ": %lld left%s to share over %lld still wanted makes %s for this line%s",
           (long long)o->supply, among(o), (long long)o->claimed, share,
           o->reason == CW_SHARE_EXACT        ? "."
           : o->reason == CW_SHARE_ROUNDED_UP ? ", rounded up."
                                              : "; what rounding left over went to larger fractions, or to "
                                                "earlier orders.");
}

/* The next single division is the largest fraction's, which is the largest need's. */
static int larger_need(const cw_share_slot *a, const cw_share_slot *b)
{
    return (a->need < b->need) - (a->need > b->need);
}

static cw_share_reason one_each_reason(const cw_share_slot *q, int32_t award, int64_t supply, int64_t sum,
                                       int32_t level)
{
    (void)supply;
    (void)sum;
    if (q->firm > level)
        return CW_SHARE_OVER_LEVEL;
    return q->firm + award > level ? CW_SHARE_LEVEL_ONE_MORE : CW_SHARE_LEVEL;
}

static int32_t one_each_part(const cw_share_slot *q, int64_t supply, int64_t sum, int32_t level)
{
    (void)q;
    (void)supply;
    (void)sum;
    return level;
}

static void one_each_say(const cw_share_outcome *o, char *out, size_t size)
{
    if (o->reason == CW_SHARE_OVER_LEVEL)
        cw_say(out, size, ": the others%s are brought to %d each first.", among(o), o->part);
    else if (o->reason == CW_SHARE_LEVEL_ONE_MORE && o->part == 0)
        cw_say(out, size,
               ": there are fewer divisions than orders%s; the earliest, of which this is one, get one each.",
               among(o));
    else if (o->reason == CW_SHARE_LEVEL_ONE_MORE)
        cw_say(
            out, size,
            ": everyone%s gets up to %d, and the few over go to the earliest orders, of which this is one.",
            among(o), o->part);
    else if (o->part == 0)
        cw_say(out, size, ": there are fewer divisions than orders%s, so the earliest orders get one each.",
               among(o));
    else
        cw_say(out, size,
               ": everyone%s gets up to %d before anyone gets more, and the few over went to earlier orders.",
               among(o), o->part);
}

static int fewer_so_far(const cw_share_slot *a, const cw_share_slot *b)
{
    return (a->firm > b->firm) - (a->firm < b->firm);
}

static const cw_share_method methods[] = {
#define CW_SHARE_RULE(id, name, field, ...) { name, #field, "reason_" #field, __VA_ARGS__ },
#include "model/share_rules.def"
#undef CW_SHARE_RULE
};
_Static_assert(sizeof methods / sizeof methods[0] == CW_SHARE_RULES, "a method for each rule");

const cw_share_method *cw_share_method_of(cw_share_rule rule)
{
    return &methods[rule];
}

const char *cw_share_rule_name(cw_share_rule rule)
{
    return rule < CW_SHARE_RULES ? methods[rule].name : "?";
}

const char *cw_share_rule_field(cw_share_rule rule)
{
    return rule < CW_SHARE_RULES ? methods[rule].field : "?";
}

const char *cw_share_rule_reason_field(cw_share_rule rule)
{
    return rule < CW_SHARE_RULES ? methods[rule].reason_field : "?";
}

cw_share_rule cw_share_rule_of(const char *name, size_t n)
{
    size_t r = 0;
    while (r < CW_SHARE_RULES && (strlen(methods[r].name) != n || memcmp(methods[r].name, name, n) != 0))
        r++;
    return (cw_share_rule)r;
}

bool cw_share_rule_in_turn(cw_share_rule rule)
{
    return rule < CW_SHARE_RULES && methods[rule].award == NULL;
}

bool cw_share_rule_claims(cw_share_rule rule)
{
    return rule < CW_SHARE_RULES && methods[rule].claims;
}

/* ---- who is next ---- */

typedef struct next {
    cw_share_slot slot; /* as it stood before the run */
    uint32_t at;        /* in order of service */
    const cw_share_method *method;
    bool by_tier, whole;
    bool complete; /* its order leaves complete, and a single division would make it so */
    bool late;     /* complete, but gives way at every sharing: served once the others have theirs */
    cw_share_waiting told;
} next;

static int by_tier_and_rule(const next *a, const next *b)
{
    if (a->by_tier && a->slot.tier != b->slot.tier)
        return (a->slot.tier > b->slot.tier) - (a->slot.tier < b->slot.tier);
    if (a->late != b->late)
        return a->late ? 1 : -1;
    int by_rule = a->method->next && !a->late ? a->method->next(&a->slot, &b->slot) : 0;
    return by_rule != 0 ? by_rule : (a->at > b->at) - (a->at < b->at);
}

static int by_next(const void *pa, const void *pb)
{
    const next *a = pa, *b = pb;
    bool now = a->told.now > 0;
    if (now != (b->told.now > 0)) /* the run itself comes before what comes free later */
        return now ? -1 : 1;
    if (!now && a->whole != b->whole)
        return a->whole ? 1 : -1;
    return by_tier_and_rule(a, b);
}

/* Where a rule shares over all at once, a division that a whole line cannot use makes it and every order that is not
 * complete then give way. So an order that leaves complete has its own turn only before the first whole line of those it
 * shares with. */
static void find_late(next *all, size_t n)
{
    const next *first[CW_TIERS] = { NULL };
    for (size_t i = 0; i < n; i++) {
        const next **f = &first[all[i].by_tier ? all[i].slot.tier : 0];
        if (all[i].whole && all[i].told.now == 0 && (*f == NULL || by_tier_and_rule(&all[i], *f) < 0))
            *f = &all[i];
    }
    for (size_t i = 0; i < n; i++) {
        const next *f = first[all[i].by_tier ? all[i].slot.tier : 0];
        if (all[i].complete && all[i].method->award && f)
            all[i].told.late = by_tier_and_rule(f, &all[i]) < 0;
    }
    for (size_t i = 0; i < n; i++)
        all[i].late = all[i].told.late;
}

/* What stays over of each variety after a run. */
static int64_t *left_over(const cw_share *s, const cw_share_outcome *outcome)
{
    int64_t *left = malloc((s->in.varieties + 1) * sizeof *left);
    if (left && s->in.varieties > 0)
        memcpy(left, s->in.supply, s->in.varieties * sizeof *left);
    for (size_t i = 0; left && i < s->in.lines; i++)
        left[s->in.line[i].variety] -= outcome[i].allocated;
    return left;
}

/* What must be free at once before the line gets any: its own need when it is all or nothing, and when its order leaves
 * complete or not at all, whatever that still needs. */
static void weigh_whole(const cw_share *s, const cw_share_slot *q, const int64_t *left, cw_share_waiting *out)
{
    const cw_share_turn *t = &s->turn[q->turn];
    uint32_t variety = s->in.line[q->line].variety;
    int64_t all = 0;
    out->cause = -1;
    for (uint32_t j = t->first; j < t->end; j++) {
        const cw_share_entry *e = &s->entry[j];
        if (!t->ship_complete && e->line != q->line)
            continue;
        if (e->variety != variety && e->need > left[e->variety])
            out->cause = (int32_t)e->variety;
        if (e->variety == variety && (t->ship_complete || e->all_or_none))
            all += e->need;
    }
    out->together = all > 1 ? (int32_t)all : 1;
}

cw_code cw_share_queue(const cw_share *s, cw_share_rule rule, bool tiers_first, uint32_t variety,
                       const cw_share_outcome *outcome, cw_share_waiting *list, size_t *count, cw_error *err)
{
    uint32_t first = s->queue_start[variety], end = s->queue_start[variety + 1];
    next *all = malloc((end - first + 1) * sizeof *all);
    int64_t *left = left_over(s, outcome);
    size_t n = 0;
    int32_t place = 0;
    *count = 0;
    for (uint32_t i = first; all && left && i < end; i++) {
        const cw_share_slot *q = &s->queue[i];
        if (q->need == 0)
            continue;
        next *x = &all[n++];
        *x = (next){ .slot = *q,
                     .at = i,
                     .method = &methods[rule],
                     .by_tier = tiers_first || methods[rule].award == NULL,
                     .told = { .line = q->line, .now = outcome[q->line].allocated, .need = q->need } };
        weigh_whole(s, q, left, &x->told);
        x->whole = x->told.together > 1 || x->told.cause >= 0;
        x->complete = s->turn[q->turn].ship_complete && !x->whole;
    }
    find_late(all, n);
    if (n > 0)
        qsort(all, n, sizeof *all, by_next);
    for (size_t k = 0; k < n; k++) {
        list[k] = all[k].told;
        list[k].place = all[k].whole && all[k].told.now == 0 ? 0 : ++place;
    }
    *count = n;
    cw_code code = all && left ? CW_OK : cw_error_memory(err);
    free(all);
    free(left);
    return code;
}

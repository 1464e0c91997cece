/* SPDX-License-Identifier: MIT */
#include "model/share_inside.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

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

int64_t cw_share_pro_rata(const cw_share_slot *queue, const uint8_t *open, size_t n, int64_t supply,
                          int64_t sum, int64_t *fraction, int32_t *award)
{
    if (supply >= sum) {
        for (size_t i = 0; i < n; i++)
            if (open[i])
                award[i] = queue[i].need;
        return sum;
    }
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

int64_t cw_share_one_each(const cw_share_slot *queue, const uint8_t *open, size_t n, int64_t supply,
                          int64_t sum, int32_t *award, int32_t *level)
{
    int32_t low = 0, high = 1; /* everyone can be brought to `low`, not to `high` */
    for (size_t i = 0; i < n; i++)
        if (open[i] && queue[i].firm + queue[i].need >= high)
            high = queue[i].firm + queue[i].need + 1;
    *level = high - 1;
    if (supply >= sum) {
        for (size_t i = 0; i < n; i++)
            if (open[i])
                award[i] = queue[i].need;
        return sum;
    }
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
    *level = low;
    return supply;
}

/* Working state of the rounds; arrays by slot unless said. */
typedef struct rounds {
    const cw_share *s;
    cw_share_rule rule;
    bool tiers_first;
    int tier;      /* the tier being served, -1 = all together */
    uint8_t *open; /* shared over in this tier's rounds */
    uint8_t *gone; /* gave its share back */
    int32_t *award;
    int32_t *part;     /* what it had when it left */
    int64_t *fraction; /* scratch, as long as the longest queue */
    int64_t *supply;   /* [varieties] at the start of the tier */
    int64_t *sum;      /* [varieties] open needs */
    int32_t *level;    /* [varieties] */
    uint8_t *dirty;    /* [varieties] */
    int32_t *cause;    /* [orders] by turn: variety that a ship-complete order failed for, or -1 */
    int64_t *left;     /* [varieties] borrowed */
} rounds;

static bool mine(const rounds *r, uint8_t tier)
{
    return r->tier < 0 || tier == r->tier;
}

static void share_variety(rounds *r, size_t v)
{
    const cw_share *s = r->s;
    size_t first = s->queue_start[v], n = s->queue_start[v + 1] - first;
    const cw_share_slot *queue = &s->queue[first];
    int64_t sum = 0, given;
    for (size_t i = 0; i < n; i++) {
        bool open = queue[i].need > 0 && mine(r, queue[i].tier) && !r->gone[first + i];
        r->open[first + i] = open;
        sum += open ? queue[i].need : 0;
    }
    r->sum[v] = sum;
    if (r->rule == CW_SHARE_PRO_RATA)
        given =
            cw_share_pro_rata(queue, &r->open[first], n, r->supply[v], sum, r->fraction, &r->award[first]);
    else
        given =
            cw_share_one_each(queue, &r->open[first], n, r->supply[v], sum, &r->award[first], &r->level[v]);
    r->left[v] = r->supply[v] - given;
}

static void leave(rounds *r, const cw_share_entry *e)
{
    r->gone[e->slot] = 1;
    r->part[e->slot] = r->award[e->slot];
    r->award[e->slot] = 0;
    r->dirty[e->variety] = 1;
}

/* The entry of a ship-complete order that is short, or n. */
static size_t short_entry(const rounds *r, const cw_share_entry *e, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (r->award[e[i].slot] < e[i].need)
            return i;
    return n;
}

/* Step 2: who fell short of an all or nothing leaves. True if anyone did. */
static bool give_back(rounds *r)
{
    const cw_share *s = r->s;
    bool any = false;
    for (size_t k = 0; k < s->in.orders; k++) {
        const cw_share_turn *t = &s->turn[k];
        const cw_share_entry *e = &s->entry[t->first];
        size_t n = t->end - t->first;
        if (!t->unit || !mine(r, t->tier) || r->cause[k] >= 0)
            continue;
        if (t->ship_complete) {
            size_t bad = short_entry(r, e, n);
            if (bad == n)
                continue;
            r->cause[k] = (int32_t)e[bad].variety;
            for (size_t i = 0; i < n; i++)
                if (e[i].need > 0)
                    leave(r, &e[i]);
            any = true;
            continue;
        }
        for (size_t i = 0; i < n; i++)
            if (e[i].all_or_none && r->award[e[i].slot] > 0 && r->award[e[i].slot] < e[i].need) {
                leave(r, &e[i]);
                any = true;
            }
    }
    return any;
}

/* One who left is served after all, whole, from what stays over. */
static void take_late(rounds *r, const cw_share_entry *e)
{
    r->gone[e->slot] = 2;
    r->award[e->slot] = e->need;
}

/* Step 3, in order of service. */
static void offer_what_is_left(rounds *r)
{
    const cw_share *s = r->s;
    for (size_t k = 0; k < s->in.orders; k++) {
        const cw_share_turn *t = &s->turn[k];
        const cw_share_entry *e = &s->entry[t->first];
        size_t n = t->end - t->first, i;
        if (!t->unit || !mine(r, t->tier))
            continue;
        bool complete = r->cause[k] >= 0;
        for (i = 0; complete && i < n && e[i].need <= r->left[e[i].variety]; i++)
            r->left[e[i].variety] -= e[i].need;
        if (complete && i < n) /* does not fit: put back what was taken for the earlier lines */
            while (i-- > 0)
                r->left[e[i].variety] += e[i].need;
        else if (complete)
            for (i = 0; i < n; i++)
                take_late(r, &e[i]);
        else
            for (i = 0; i < n; i++)
                if (r->gone[e[i].slot] == 1 && e[i].need <= r->left[e[i].variety]) {
                    r->left[e[i].variety] -= e[i].need;
                    take_late(r, &e[i]);
                }
    }
}

static cw_share_reason reason_of(const rounds *r, const cw_share_slot *q, size_t slot, size_t v)
{
    int32_t award = r->award[slot];
    if (q->need == 0)
        return CW_SHARE_HELD;
    if (r->gone[slot] == 2)
        return CW_SHARE_WHOLE_LATER;
    if (r->gone[slot] == 1)
        return r->cause[q->turn] >= 0 ? CW_SHARE_NOT_COMPLETE : CW_SHARE_NOT_WHOLE;
    if (award == q->need)
        return CW_SHARE_FULL;
    if (r->supply[v] == 0)
        return CW_SHARE_RAN_OUT;
    if (r->rule == CW_SHARE_ONE_EACH) {
        if (q->firm > r->level[v])
            return CW_SHARE_OVER_LEVEL;
        return q->firm + award > r->level[v] ? CW_SHARE_LEVEL_ONE_MORE : CW_SHARE_LEVEL;
    }
    int64_t product = q->need * r->supply[v];
    if (product % r->sum[v] == 0)
        return CW_SHARE_EXACT;
    return award > product / r->sum[v] ? CW_SHARE_ROUNDED_UP : CW_SHARE_ROUNDED_DOWN;
}

static void write_line(const rounds *r, size_t v, size_t slot, int32_t place, int32_t lines,
                       cw_share_outcome *out)
{
    const cw_share_slot *q = &r->s->queue[slot];
    cw_share_reason reason = reason_of(r, q, slot, v);
    int64_t part = r->gone[slot] ? r->part[slot] : r->rule == CW_SHARE_ONE_EACH ? r->level[v] : 0;
    if (r->rule == CW_SHARE_PRO_RATA && !r->gone[slot] && r->sum[v] > 0)
        part = r->supply[v] >= r->sum[v] ? q->need : q->need * r->supply[v] / r->sum[v];
    out[q->line] = (cw_share_outcome){ .allocated = q->need > 0 ? r->award[slot] : 0,
                                       .need = q->need,
                                       .firm = q->firm,
                                       .place = q->need > 0 ? place : 0,
                                       .lines = lines,
                                       .part = (int32_t)part,
                                       .supply = r->supply[v],
                                       .claimed = r->sum[v],
                                       .cause = reason == CW_SHARE_NOT_COMPLETE ? r->cause[q->turn] : -1,
                                       .reason = (uint8_t)reason,
                                       .rule = (uint8_t)r->rule,
                                       .tier = q->tier,
                                       .tiers_first = r->tiers_first };
}

static void write_outcomes(const rounds *r, cw_share_outcome *out)
{
    const cw_share *s = r->s;
    for (size_t v = 0; v < s->in.varieties; v++) {
        int32_t lines = 0, place = 0;
        for (size_t i = s->queue_start[v]; i < s->queue_start[v + 1]; i++)
            lines += s->queue[i].need > 0 && mine(r, s->queue[i].tier);
        for (size_t i = s->queue_start[v]; i < s->queue_start[v + 1]; i++)
            if (mine(r, s->queue[i].tier)) {
                if (i + CW_SHARE_AHEAD < s->in.lines)
                    __builtin_prefetch(&out[s->queue[i + CW_SHARE_AHEAD].line], 1);
                place += s->queue[i].need > 0;
                write_line(r, v, i, place, lines, out);
            }
    }
}

static void serve_tier(rounds *r, cw_share_outcome *out)
{
    const cw_share *s = r->s;
    memcpy(r->supply, r->left, s->in.varieties * sizeof *r->supply);
    memset(r->dirty, 1, s->in.varieties);
    bool again = true, anyone = false;
    while (again) {
        for (size_t v = 0; v < s->in.varieties; v++)
            if (r->dirty[v]) {
                share_variety(r, v);
                r->dirty[v] = 0;
            }
        again = s->units && give_back(r);
        anyone = anyone || again;
    }
    if (anyone)
        offer_what_is_left(r);
    write_outcomes(r, out);
}

cw_code cw_share_rounds(const cw_share *s, cw_share_rule rule, bool tiers_first, int64_t *left,
                        cw_share_outcome *out, cw_error *err)
{
    size_t n = s->in.lines + 1, m = s->in.varieties + 1, longest = 0;
    for (size_t v = 0; v < s->in.varieties; v++)
        if (s->queue_start[v + 1] - s->queue_start[v] > longest)
            longest = s->queue_start[v + 1] - s->queue_start[v];
    rounds r = { .s = s, .rule = rule, .tiers_first = tiers_first, .left = left };
    cw_code code = CW_OK;
    r.open = malloc(n);
    r.gone = calloc(n, 1);
    r.award = calloc(n, sizeof *r.award);
    r.part = calloc(n, sizeof *r.part);
    r.fraction = malloc((longest + 1) * sizeof *r.fraction);
    r.supply = malloc(m * sizeof *r.supply);
    r.sum = malloc(m * sizeof *r.sum);
    r.level = calloc(m, sizeof *r.level);
    r.dirty = malloc(m);
    r.cause = malloc((s->in.orders + 1) * sizeof *r.cause);
    if (!r.open || !r.gone || !r.award || !r.part || !r.fraction || !r.supply || !r.sum || !r.level ||
        !r.dirty || !r.cause) {
        code = cw_error_memory(err);
        goto done;
    }
    memset(r.cause, 0xff, (s->in.orders + 1) * sizeof *r.cause); /* -1 */
    for (r.tier = tiers_first ? 0 : -1; r.tier < (tiers_first ? (int)CW_TIERS : 0); r.tier++)
        serve_tier(&r, out);
done:
    free(r.open);
    free(r.gone);
    free(r.award);
    free(r.part);
    free(r.fraction);
    free(r.supply);
    free(r.sum);
    free(r.level);
    free(r.dirty);
    free(r.cause);
    return code;
}

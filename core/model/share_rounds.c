/* SPDX-License-Identifier: MIT */
#include "model/share_inside.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Working state of the rounds; arrays by slot unless said. */
typedef struct rounds {
    const cw_share *s;
    cw_share_rule rule;
    const cw_share_method *method;
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
    int64_t sum = 0;
    for (size_t i = 0; i < n; i++) {
        bool open = queue[i].need > 0 && mine(r, queue[i].tier) && !r->gone[first + i];
        r->open[first + i] = open;
        sum += open ? queue[i].need : 0;
    }
    r->sum[v] = sum;
    const cw_share_pool pool = { queue,       &r->open[first],  n,           r->supply[v], sum,
                                 r->fraction, &r->award[first], &r->level[v] };
    r->left[v] = r->supply[v] - r->method->award(&pool);
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
    return r->method->reason(q, award, r->supply[v], r->sum[v], r->level[v]);
}

static void write_line(const rounds *r, size_t v, size_t slot, int32_t place, int32_t lines,
                       cw_share_outcome *out)
{
    const cw_share_slot *q = &r->s->queue[slot];
    cw_share_reason reason = reason_of(r, q, slot, v);
    int32_t part = r->gone[slot]    ? r->part[slot]
                   : r->sum[v] == 0 ? 0
                                    : r->method->part(q, r->supply[v], r->sum[v], r->level[v]);
    out[q->line] = (cw_share_outcome){ .allocated = q->need > 0 ? r->award[slot] : 0,
                                       .need = q->need,
                                       .firm = q->firm,
                                       .place = q->need > 0 ? place : 0,
                                       .lines = lines,
                                       .part = part,
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
    rounds r = {
        .s = s, .rule = rule, .method = cw_share_method_of(rule), .tiers_first = tiers_first, .left = left
    };
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

/* SPDX-License-Identifier: MIT */
#include "model/share.h"

#include "base/limits.h"
#include "model/share_inside.h"
#include <assert.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define DIGIT_BITS 11
#define DIGITS     (1u << DIGIT_BITS)

static cw_code check_line(const cw_share_input *in, size_t i, cw_error *err)
{
    const cw_share_line *l = &in->line[i];
    if (l->variety >= in->varieties || l->order >= in->orders)
        return cw_error_set(err, CW_REFUSED, "line %zu names variety %u or order %u, which is not there", i,
                            l->variety, l->order);
    if (l->asked < 0 || l->asked > CW_MAX_LINE_QUANTITY)
        return cw_error_set(err, CW_REFUSED, "line %zu asks %d divisions; 0 to %d are allowed", i, l->asked,
                            CW_MAX_LINE_QUANTITY);
    if (l->firm < 0 || l->firm > l->asked)
        return cw_error_set(err, CW_REFUSED, "line %zu has %d firm divisions of %d asked", i, l->firm,
                            l->asked);
    return CW_OK;
}

static cw_code check_input(const cw_share_input *in, cw_error *err)
{
    if (in->lines >= UINT32_MAX || in->orders >= UINT32_MAX || in->varieties >= UINT32_MAX)
        return cw_error_set(err, CW_REFUSED, "too many lines, orders or varieties to share out at once");
    for (size_t v = 0; v < in->varieties; v++)
        if (in->supply[v] < 0 || in->supply[v] > CW_MAX_DIVISIONS)
            return cw_error_set(err, CW_REFUSED, "variety %zu has a supply of %lld; 0 to %d are allowed", v,
                                (long long)in->supply[v], CW_MAX_DIVISIONS);
    for (size_t o = 0; o < in->orders; o++)
        if (in->order[o].tier >= CW_TIERS)
            return cw_error_set(err, CW_REFUSED, "order %zu has the unknown tier %u", o, in->order[o].tier);
    for (size_t i = 0; i < in->lines; i++) {
        cw_code code = check_line(in, i, err);
        if (code != CW_OK)
            return code;
    }
    return CW_OK;
}

typedef struct keyed {
    uint64_t key;
    uint32_t order;
} keyed;

/* One stable pass of a radix sort by the digit at `shift`; false if all have the same digit and nothing moved. */
static bool radix_pass(const keyed *from, keyed *to, unsigned shift, size_t n)
{
    uint32_t at[DIGITS] = { 0 };
    for (size_t i = 0; i < n; i++)
        at[from[i].key >> shift & (DIGITS - 1)]++;
    if (n == 0 || at[from[0].key >> shift & (DIGITS - 1)] == n)
        return false;
    uint32_t sum = 0;
    for (size_t d = 0; d < DIGITS; d++) {
        uint32_t count = at[d];
        at[d] = sum;
        sum += count;
    }
    for (size_t i = 0; i < n; i++)
        to[at[from[i].key >> shift & (DIGITS - 1)]++] = from[i];
    return true;
}

/* The turns, without their entries yet. Orders stand by number already, and every pass is stable. */
static cw_code sort_orders(cw_share *s, cw_error *err)
{
    size_t n = s->in.orders;
    keyed *a = malloc((n + 1) * sizeof *a), *b = malloc((n + 1) * sizeof *b);
    cw_code code = a && b ? CW_OK : cw_error_memory(err);
    if (code != CW_OK)
        goto done;
    uint64_t least = UINT64_MAX;
    for (size_t o = 0; o < n; o++) {
        a[o].key = (uint64_t)s->in.order[o].received_at ^ (uint64_t)1 << 63; /* signed order as unsigned */
        a[o].order = (uint32_t)o;
        least = a[o].key < least ? a[o].key : least;
    }
    for (size_t o = 0; o < n; o++)
        a[o].key -= least; /* a season spans few bits: most passes fall away */
    for (unsigned shift = 0; shift < 64; shift += DIGIT_BITS)
        if (radix_pass(a, b, shift, n)) {
            keyed *swap = a;
            a = b;
            b = swap;
        }
    for (size_t k = 0; k < n; k++) {
        const cw_share_order *o = &s->in.order[a[k].order];
        s->turn[k] =
            (cw_share_turn){ .order = a[k].order, .tier = o->tier, .ship_complete = o->ship_complete };
        s->turn[k].barred = o->barred;
        s->barred = s->barred || o->barred;
    }
done:
    free(a);
    free(b);
    return code;
}

static int by_number(const void *a, const void *b)
{
    int32_t x = ((const cw_share_entry *)a)->number, y = ((const cw_share_entry *)b)->number;
    return (x > y) - (x < y);
}

/* Sorts an order's few lines by number; false if a number comes twice. */
static bool sort_entries(cw_share_entry *e, size_t n)
{
    if (n > 24)
        qsort(e, n, sizeof *e, by_number);
    else
        for (size_t i = 1; i < n; i++) {
            cw_share_entry x = e[i];
            size_t j = i;
            for (; j > 0 && e[j - 1].number > x.number; j--)
                e[j] = e[j - 1];
            e[j] = x;
        }
    for (size_t i = 1; i < n; i++)
        if (e[i].number == e[i - 1].number)
            return false;
    return true;
}

/* The entries, by counting. place[o] is where order o's next entry goes. */
static void place_entries(cw_share *s, uint32_t *place)
{
    const cw_share_input *in = &s->in;
    memset(place, 0, in->orders * sizeof *place);
    for (size_t i = 0; i < in->lines; i++)
        place[in->line[i].order]++;
    uint32_t sum = 0;
    for (size_t k = 0; k < in->orders; k++) {
        cw_share_turn *t = &s->turn[k];
        t->first = sum;
        sum += place[t->order];
        t->end = sum;
        place[t->order] = t->first;
    }
    for (size_t i = 0; i < in->lines; i++) {
        const cw_share_line *l = &in->line[i];
        if (i + CW_SHARE_AHEAD < in->lines)
            __builtin_prefetch(&s->entry[place[l[CW_SHARE_AHEAD].order]], 1);
        s->entry[place[l->order]++] = (cw_share_entry){ .line = (uint32_t)i,
                                                        .variety = l->variety,
                                                        .number = l->line,
                                                        .need = l->asked - l->firm,
                                                        .firm = l->firm,
                                                        .all_or_none = l->all_or_none };
    }
}

static cw_code sort_lines(cw_share *s, cw_error *err)
{
    for (size_t k = 0; k < s->in.orders; k++) {
        cw_share_turn *t = &s->turn[k];
        if (!sort_entries(&s->entry[t->first], t->end - t->first))
            return cw_error_set(err, CW_REFUSED, "order %u has the same line number twice", t->order);
        t->unit = t->ship_complete;
        for (uint32_t j = t->first; j < t->end; j++) {
            t->unit = t->unit || s->entry[j].all_or_none;
            s->entry[j].need = t->barred ? 0 : s->entry[j].need;
        }
        s->units = s->units || t->unit;
    }
    return CW_OK;
}

/* Orders taken by turn, each appending its lines to their varieties' queues: the queues come out sorted. */
static void group_by_variety(cw_share *s)
{
    const cw_share_input *in = &s->in;
    uint32_t *end = s->queue_start;
    for (size_t i = 0; i < in->lines; i++)
        end[s->entry[i].variety + 1]++;
    for (size_t v = 0; v < in->varieties; v++)
        end[v + 1] += end[v];
    for (size_t k = 0; k < in->orders; k++)
        for (uint32_t j = s->turn[k].first; j < s->turn[k].end; j++) {
            cw_share_entry *e = &s->entry[j];
            e->slot = end[e->variety]++;
            s->queue[e->slot] = (cw_share_slot){ .line = e->line,
                                                 .turn = (uint32_t)k,
                                                 .need = e->need,
                                                 .firm = e->firm,
                                                 .tier = s->turn[k].tier };
            s->claimed[e->variety] += e->need;
            s->waiting[e->variety] += e->need > 0;
        }
    memmove(end + 1, end, in->varieties * sizeof *end); /* each end is the next one's start */
    end[0] = 0;
}

cw_code cw_share_new(const cw_share_input *in, cw_share **out, cw_error *err)
{
    *out = NULL;
    cw_code code = check_input(in, err);
    if (code != CW_OK)
        return code;
    cw_share *s = calloc(1, sizeof *s);
    if (!s)
        return cw_error_memory(err);
    s->in = *in;
    uint32_t *place = malloc((in->orders + 1) * sizeof *place);
    s->turn = malloc((in->orders + 1) * sizeof *s->turn);
    s->entry = malloc((in->lines + 1) * sizeof *s->entry);
    s->queue_start = calloc(in->varieties + 2, sizeof *s->queue_start);
    s->queue = malloc((in->lines + 1) * sizeof *s->queue);
    s->claimed = calloc(in->varieties + 1, sizeof *s->claimed);
    s->waiting = calloc(in->varieties + 1, sizeof *s->waiting);
    if (!place || !s->turn || !s->entry || !s->queue_start || !s->queue || !s->claimed || !s->waiting) {
        code = cw_error_memory(err);
        goto done;
    }
    code = sort_orders(s, err);
    if (code == CW_OK) {
        place_entries(s, place);
        code = sort_lines(s, err);
    }
    if (code == CW_OK)
        group_by_variety(s);
done:
    free(place);
    if (code != CW_OK) {
        cw_share_free(s);
        s = NULL;
    }
    *out = s;
    return code;
}

void cw_share_free(cw_share *s)
{
    if (!s)
        return;
    free(s->turn);
    free(s->entry);
    free(s->queue_start);
    free(s->queue);
    free(s->claimed);
    free(s->waiting);
    free(s);
}

/* Takes a ship-complete order's needs from `left` if all of them fit; else leaves it as it was and names the
 * first variety that stood in the way. */
static bool take_complete(const cw_share_entry *e, size_t n, int64_t *left, int32_t *cause)
{
    for (size_t i = 0; i < n; i++) {
        if (e[i].need > left[e[i].variety]) {
            *cause = (int32_t)e[i].variety;
            while (i-- > 0)
                left[e[i].variety] += e[i].need;
            return false;
        }
        left[e[i].variety] -= e[i].need;
    }
    return true;
}

/* One line's turn in first-come: what it gets and why. */
static void serve(const cw_share_entry *e, int64_t *left, cw_share_outcome *o)
{
    int64_t give = e->need <= *left ? e->need : e->all_or_none ? 0 : *left;
    o->allocated = (int32_t)give;
    if (e->need == 0)
        o->reason = CW_SHARE_HELD;
    else if (give == e->need)
        o->reason = CW_SHARE_FULL;
    else if (give > 0)
        o->reason = CW_SHARE_LAST_OF_IT;
    else
        o->reason = *left > 0 ? CW_SHARE_NOT_WHOLE : CW_SHARE_RAN_OUT;
    *left -= give;
}

static void serve_complete(const cw_share_entry *e, bool taken, int32_t cause, cw_share_outcome *o)
{
    o->allocated = taken ? e->need : 0;
    o->reason = e->need == 0 ? CW_SHARE_HELD : taken ? CW_SHARE_FULL : CW_SHARE_NOT_COMPLETE;
    o->cause = o->reason == CW_SHARE_NOT_COMPLETE ? cause : -1;
}

/* All lines of one order; place[] counts how many lines each variety has served. */
static void serve_order(const cw_share *s, cw_share_rule rule, const cw_share_turn *t, int32_t *place,
                        int64_t *left, cw_share_outcome *out)
{
    int32_t cause = -1;
    bool taken = t->ship_complete && take_complete(&s->entry[t->first], t->end - t->first, left, &cause);
    for (uint32_t j = t->first; j < t->end; j++) {
        const cw_share_entry *e = &s->entry[j];
        uint32_t v = e->variety;
        if (j + CW_SHARE_AHEAD < s->in.lines)
            __builtin_prefetch(&out[e[CW_SHARE_AHEAD].line], 1);
        cw_share_outcome o = { .need = e->need,
                               .firm = e->firm,
                               .place = e->need > 0 ? ++place[v] : 0,
                               .lines = s->waiting[v],
                               .part = (int32_t)left[v],
                               .supply = s->in.supply[v],
                               .claimed = s->claimed[v],
                               .cause = -1,
                               .rule = (uint8_t)rule,
                               .tier = t->tier,
                               .tiers_first = true };
        if (t->ship_complete)
            serve_complete(e, taken, cause, &o);
        else
            serve(e, &left[v], &o);
        out[e->line] = o;
    }
}

/* One order after the other, by tiers. */
static cw_code in_turn(const cw_share *s, cw_share_rule rule, int64_t *left, cw_share_outcome *out,
                       cw_error *err)
{
    int32_t *place = calloc(s->in.varieties + 1, sizeof *place);
    if (!place)
        return cw_error_memory(err);
    for (unsigned tier = 0; tier < CW_TIERS; tier++)
        for (size_t k = 0; k < s->in.orders; k++)
            if (s->turn[k].tier == tier)
                serve_order(s, rule, &s->turn[k], place, left, out);
    free(place);
    return CW_OK;
}

/* The needs of barred orders, which the rules took for none. */
static void say_barred(const cw_share *s, cw_share_outcome *out)
{
    for (size_t k = 0; s->barred && k < s->in.orders; k++)
        for (uint32_t j = s->turn[k].first; s->turn[k].barred && j < s->turn[k].end; j++) {
            const cw_share_line *l = &s->in.line[s->entry[j].line];
            if (l->asked == l->firm)
                continue;
            out[s->entry[j].line].need = l->asked - l->firm;
            out[s->entry[j].line].reason = CW_SHARE_BARRED;
        }
}

cw_code cw_share_run(const cw_share *s, cw_share_rule rule, bool tiers_first, cw_share_outcome *out,
                     int64_t *left, cw_error *err)
{
    assert(rule < CW_SHARE_RULES);
    int64_t *own = left ? NULL : malloc((s->in.varieties + 1) * sizeof *own);
    int64_t *use = left ? left : own;
    if (!use)
        return cw_error_memory(err);
    if (s->in.varieties > 0)
        memcpy(use, s->in.supply, s->in.varieties * sizeof *use);
    cw_code code = cw_share_method_of(rule)->award == NULL
                       ? in_turn(s, rule, use, out, err)
                       : cw_share_rounds(s, rule, tiers_first, use, out, err);
    if (code == CW_OK)
        say_barred(s, out);
    free(own);
    return code;
}

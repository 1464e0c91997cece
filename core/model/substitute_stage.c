/* SPDX-License-Identifier: MIT */
#include "model/substitute_inside.h"

#include "base/grow.h"
#include <assert.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define COMPARE(a, b) (((a) > (b)) - ((a) < (b)))
#define LARGEST       ((int64_t)1 << 55) /* of a weight: the flow kernel adds a few of them up */

__extension__ typedef __int128 wide;

static int size_steps(int32_t a, int32_t b)
{
    if (a < 0 || b < 0)
        return 1;
    return abs(a - b);
}

static bool same(int32_t a, int32_t b)
{
    return a >= 0 && a == b;
}

static int32_t named_place(const cw_sub_input *in, const cw_sub_line *l, uint32_t v)
{
    for (uint32_t k = 0; k < l->named_count; k++)
        if (in->named[l->named_first + k] == v)
            return (int32_t)k;
    return -1;
}

static bool in_class(const cw_sub_class *asked, const cw_sub_class *has)
{
    return (asked->form < 0 || asked->form == has->form) &&
           (asked->colour < 0 || asked->colour == has->colour) &&
           (asked->size < 0 || asked->size == has->size);
}

cw_sub_class cw_sub_class_of(const cw_sub_input *in, const cw_sub_line *l)
{
    return l->consent == CW_CONSENT_ASSORTMENT ? l->class : in->variety[l->wanted].class;
}

/* Distance by class, -1 if the class forbids it. */
static int32_t class_distance(uint8_t consent, const cw_sub_class *from, const cw_sub_class *to)
{
    if (consent == CW_CONSENT_ASSORTMENT)
        return in_class(from, to) ? 0 : -1;
    bool form = same(from->form, to->form), colour = same(from->colour, to->colour);
    if (consent == CW_CONSENT_SAME && !form && !colour)
        return -1;
    return (form ? 0 : 40) + (colour ? 0 : 30) + 10 * size_steps(from->size, to->size);
}

void cw_sub_distances(const cw_sub_stage *st, uint8_t consent, const cw_sub_class *from, int32_t *distance)
{
    for (size_t at = 0; at < st->varieties; at++)
        distance[at] = class_distance(consent, from, &st->in->variety[st->variety[at]].class);
}

bool cw_sub_pair(const cw_sub_input *in, const cw_sub_line *l, uint32_t v, int32_t *distance, cw_cents *extra)
{
    const cw_sub_variety *to = &in->variety[v];
    if (v == l->wanted || l->consent == CW_CONSENT_NONE)
        return false;
    *extra = to->price > l->paid ? to->price - l->paid : 0;
    if (l->consent == CW_CONSENT_NAMED) {
        *distance = named_place(in, l, v);
        return *distance >= 0;
    }
    if (l->consent != CW_CONSENT_ASSORTMENT && (to->price < l->paid || to->price < 0))
        return false;
    cw_sub_class from = cw_sub_class_of(in, l);
    *distance = class_distance(l->consent, &from, &to->class);
    return *distance >= 0;
}

static int by_order(const void *pa, const void *pb, void *context)
{
    const cw_sub_line *line = context, *a = &line[*(const uint32_t *)pa], *b = &line[*(const uint32_t *)pb];
    return a->order != b->order ? COMPARE(a->order, b->order) : COMPARE(a->line, b->line);
}

static int by_past(const void *pa, const void *pb)
{
    const cw_sub_past *a = pa, *b = pb;
    return a->order != b->order ? COMPARE(a->order, b->order) : COMPARE(a->variety, b->variety);
}

static int by_ban(const void *pa, const void *pb)
{
    const cw_sub_ban *a = pa, *b = pb;
    return a->line != b->line ? COMPARE(a->line, b->line) : COMPARE(a->variety, b->variety);
}

static const cw_sub_past *find_past(const cw_sub_stage *st, uint32_t order, uint32_t v)
{
    cw_sub_past key = { order, v, 0, false };
    return st->pasts ? bsearch(&key, st->past, st->pasts, sizeof key, by_past) : NULL;
}

int32_t cw_sub_limit_left(const cw_sub_stage *st, uint32_t order, uint32_t v)
{
    int32_t limit = st->in->variety[v].limit_per_order;
    if (limit == 0)
        return INT32_MAX;
    const cw_sub_past *p = find_past(st, order, v);
    int32_t left = limit - (p ? p->substituted : 0);
    return left > 0 ? left : 0;
}

int32_t cw_sub_room(const cw_sub_stage *st, uint32_t l, uint32_t v)
{
    const cw_sub_line *line = &st->in->line[l];
    const cw_sub_past *p = NULL;
    for (uint32_t i = st->past_first[l]; i < st->past_end[l]; i++)
        p = st->past[i].variety == v ? &st->past[i] : p;
    cw_sub_ban key = { l, v };
    if ((p && p->own) || (st->in->bans && bsearch(&key, st->ban, st->in->bans, sizeof key, by_ban)))
        return 0;
    int32_t room = line->missing, limit = st->in->variety[v].limit_per_order;
    if (line->consent == CW_CONSENT_ASSORTMENT && line->spread > 0 && line->spread < room)
        room = line->spread;
    if (limit > 0) {
        int32_t left = limit - (p ? p->substituted : 0);
        room = left < room ? left : room;
    }
    return room > 0 ? room : 0;
}

/* Where each line's order stands in `past`; both are in ascending order of orders. */
static void find_slices(cw_sub_stage *st)
{
    size_t i = 0;
    for (size_t k = 0; k < st->lines; k++) {
        uint32_t l = st->line[k], order = st->in->line[l].order;
        while (i < st->pasts && st->past[i].order < order)
            i++;
        size_t end = i;
        while (end < st->pasts && st->past[end].order == order)
            end++;
        st->past_first[l] = (uint32_t)i;
        st->past_end[l] = (uint32_t)end;
    }
}

/* Helds and the choices of the stage before, one entry per order and variety. */
static void gather_past(cw_sub_stage *st, const cw_sub_choice *first, size_t firsts)
{
    const cw_sub_input *in = st->in;
    size_t n = 0, k = 0;
    for (size_t i = 0; i < in->helds; i++) {
        const cw_sub_held *h = &in->held[i];
        st->past[n++] = (cw_sub_past){ h->order, h->variety, h->substituted, h->substituted == 0 };
    }
    for (size_t i = 0; i < firsts; i++)
        st->past[n++] =
            (cw_sub_past){ in->line[first[i].line].order, first[i].variety, first[i].quantity, false };
    if (n > 0)
        qsort(st->past, n, sizeof *st->past, by_past);
    for (size_t i = 0; i < n; i++)
        if (k > 0 && by_past(&st->past[k - 1], &st->past[i]) == 0) {
            st->past[k - 1].substituted += st->past[i].substituted;
            st->past[k - 1].own = st->past[k - 1].own || st->past[i].own;
        } else {
            st->past[k++] = st->past[i];
        }
    st->pasts = k;
}

static int64_t divisor(int64_t a, int64_t b)
{
    while (b != 0) {
        int64_t rest = a % b;
        a = b;
        b = rest;
    }
    return a;
}

/* far > what all extra costs together can be, unplaced > what all distances and extra costs together can be. Money is
 * counted in the largest unit that divides all prices. */
static cw_code set_weights(cw_sub_stage *st, bool units, cw_error *err)
{
    const cw_sub_input *in = st->in;
    int64_t missing = 0, surplus = 0, dearest = 0, cheapest = INT64_MAX;
    int32_t farthest = 100;
    st->unit = 0;
    for (size_t k = 0; k < st->lines; k++) {
        const cw_sub_line *l = &in->line[st->line[k]];
        missing += l->missing;
        st->unit = divisor(st->unit, l->paid);
        cheapest = l->paid < cheapest ? l->paid : cheapest;
        farthest = (int32_t)l->named_count > farthest ? (int32_t)l->named_count : farthest;
    }
    for (size_t k = 0; k < st->varieties; k++) {
        const cw_sub_variety *v = &in->variety[st->variety[k]];
        surplus += st->surplus[st->variety[k]];
        st->unit = divisor(st->unit, v->price < 0 ? 0 : v->price);
        dearest = v->price > dearest ? v->price : dearest;
    }
    st->unit = st->unit == 0 ? 1 : st->unit;
    wide flow = missing < surplus ? missing : surplus;
    wide extra = dearest > cheapest ? (dearest - cheapest) / st->unit : 0;
    wide far = flow * extra + 1, unplaced = flow * (farthest * far + extra) + 1;
    if (far > LARGEST || unplaced > (units ? LARGEST / 4 : LARGEST))
        return cw_error_set(
            err, CW_REFUSED,
            "prices up to %lld.%02d are too far apart to choose substitutes for %lld divisions exactly",
            (long long)(dearest / 100), (int)(dearest % 100), (long long)missing);
    st->far = (int64_t)far;
    st->unplaced = (int64_t)unplaced;
    st->unfilled = 4 * st->unplaced;
    return CW_OK;
}

/* Lines that are out count for the weights, which so are the same in all branches, and for nothing else. */
static void leave_out(cw_sub_stage *st)
{
    size_t k = 0;
    for (size_t i = 0; i < st->lines && st->fate; i++)
        if (st->fate[st->line[i]] != CW_SUB_OUT)
            st->line[k++] = st->line[i];
    st->lines = st->fate ? k : st->lines;
}

void cw_sub_stage_blank(cw_sub_stage *st)
{
    st->far = st->unplaced = 0;
    st->unfilled = 1;
    st->blank = true;
}

cw_code cw_sub_stage_open(const cw_sub_input *in, int which, const uint8_t *fate, const cw_sub_choice *first,
                          size_t firsts, cw_sub_stage *st, cw_error *err)
{
    bool units = false;
    *st = (cw_sub_stage){ .in = in, .which = which, .fate = fate };
    st->line = malloc((in->lines + 1) * sizeof *st->line);
    st->variety = malloc((in->varieties + 1) * sizeof *st->variety);
    st->surplus = malloc((in->varieties + 1) * sizeof *st->surplus);
    st->at = calloc(in->varieties + 1, sizeof *st->at);
    st->price = malloc((in->varieties + 1) * sizeof *st->price);
    st->past_first = calloc(in->lines + 1, sizeof *st->past_first);
    st->past_end = calloc(in->lines + 1, sizeof *st->past_end);
    st->past = malloc((in->helds + firsts + 1) * sizeof *st->past);
    st->ban = malloc((in->bans + 1) * sizeof *st->ban);
    if (!st->line || !st->variety || !st->surplus || !st->past || !st->ban || !st->price || !st->at ||
        !st->past_first || !st->past_end) {
        cw_sub_stage_close(st);
        return cw_error_memory(err);
    }
    for (size_t v = 0; v < in->varieties; v++)
        st->surplus[v] = in->variety[v].surplus;
    for (size_t i = 0; i < firsts; i++)
        st->surplus[first[i].variety] -= first[i].quantity;
    for (size_t v = 0; v < in->varieties; v++)
        if (st->surplus[v] > 0) {
            st->at[v] = (uint32_t)st->varieties;
            st->variety[st->varieties++] = (uint32_t)v;
        }
    for (size_t i = 0; i < in->lines; i++) {
        const cw_sub_line *l = &in->line[i];
        bool assortment = l->consent == CW_CONSENT_ASSORTMENT;
        if (l->missing > 0 && l->consent != CW_CONSENT_NONE && assortment == (which == 1))
            st->line[st->lines++] = (uint32_t)i;
        units = units || l->unit > 0;
    }
    if (st->lines > 0)
        qsort_r(st->line, st->lines, sizeof *st->line, by_order, (void *)in->line);
    gather_past(st, first, firsts);
    find_slices(st);
    if (in->bans > 0) {
        memcpy(st->ban, in->ban, in->bans * sizeof *st->ban);
        qsort(st->ban, in->bans, sizeof *st->ban, by_ban);
    }
    cw_code code = set_weights(st, units, err);
    leave_out(st);
    for (size_t at = 0; at < st->varieties && code == CW_OK; at++) {
        cw_cents price = in->variety[st->variety[at]].price;
        st->price[at] = price < 0 ? INT64_MIN / 4 : price / st->unit;
    }
    if (code != CW_OK)
        cw_sub_stage_close(st);
    return code;
}

void cw_sub_stage_close(cw_sub_stage *st)
{
    free(st->line);
    free(st->variety);
    free(st->surplus);
    free(st->past);
    free(st->price);
    free(st->at);
    free(st->past_first);
    free(st->past_end);
    free(st->ban);
    *st = (cw_sub_stage){ 0 };
}

cw_code cw_sub_choices_add(cw_sub_choices *c, const cw_sub_input *in, uint32_t line, uint32_t variety,
                           int32_t quantity, cw_error *err)
{
    if (!cw_grow(&c->item, c->count, &c->room, sizeof *c->item))
        return cw_error_memory(err);
    cw_sub_choice *x = &c->item[c->count++];
    const cw_sub_line *l = &in->line[line];
    const cw_sub_class *to = &in->variety[variety].class;
    *x = (cw_sub_choice){ .line = line, .variety = variety, .quantity = quantity, .named_place = -1 };
    bool permitted = cw_sub_pair(in, l, variety, &x->distance, &x->extra);
    assert(permitted);
    (void)permitted;
    if (l->consent == CW_CONSENT_NAMED)
        x->named_place = x->distance;
    if (l->consent == CW_CONSENT_ASSORTMENT) {
        x->assortment = true;
        return CW_OK;
    }
    const cw_sub_class *from = &in->variety[l->wanted].class;
    x->form_differs = !same(from->form, to->form);
    x->colour_differs = !same(from->colour, to->colour);
    x->size_steps = size_steps(from->size, to->size);
    return CW_OK;
}

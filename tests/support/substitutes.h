/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_SUBSTITUTES_H
#define CW_TESTS_SUPPORT_SUBSTITUTES_H

/* Small invented worlds for the choice of substitutes. The rules of consent and distance are written here a second time, plainly, so
 * that the program is not held against itself. */
#include "base/rng.h"
#include "model/substitute.h"
#include <stdlib.h>
#include <string.h>

enum { MOST_VARIETIES = 12, MOST_LINES = 40, MOST_HELDS = 60, MOST_NAMED = 120, MOST_BANS = 4 };

typedef struct sub_world {
    cw_sub_input in;
    cw_sub_variety variety[MOST_VARIETIES];
    cw_sub_line line[MOST_LINES];
    cw_sub_held held[MOST_HELDS];
    uint32_t named[MOST_NAMED];
    cw_sub_ban ban[MOST_BANS];
} sub_world;

static inline int32_t sub_maybe(cw_rng *r, uint32_t n)
{
    return (int32_t)cw_rng_below(r, n + 1) - 1; /* -1 = unknown */
}

static inline void sub_make_line(cw_rng *r, sub_world *w, size_t i, uint32_t orders, uint32_t most_missing)
{
    cw_sub_line *l = &w->line[i];
    *l = (cw_sub_line){ .order = cw_rng_below(r, orders),
                        .line = (int32_t)i,
                        .wanted = cw_rng_below(r, (uint32_t)w->in.varieties),
                        .missing = (int32_t)cw_rng_below(r, most_missing + 1),
                        .paid = 100 * (int64_t)cw_rng_below(r, 5),
                        .consent = (uint8_t)cw_rng_below(r, 5),
                        .class = { CW_SUB_UNKNOWN, CW_SUB_UNKNOWN, CW_SUB_UNKNOWN } };
    if (l->consent == CW_CONSENT_NAMED) {
        l->named_first = (uint32_t)w->in.named_total;
        l->named_count = cw_rng_below(r, 4);
        for (uint32_t k = 0; k < l->named_count; k++)
            w->named[w->in.named_total++] = cw_rng_below(r, (uint32_t)w->in.varieties);
    }
    if (l->consent == CW_CONSENT_ASSORTMENT) {
        l->wanted = CW_SUB_NONE_WANTED;
        l->class = (cw_sub_class){ sub_maybe(r, 2), sub_maybe(r, 2), sub_maybe(r, 2) };
        l->spread = (int32_t)cw_rng_below(r, 3);
    }
}

static inline void sub_make(cw_rng *r, sub_world *w, uint32_t varieties, uint32_t lines, uint32_t orders,
                            uint32_t most)
{
    memset(w, 0, sizeof *w);
    w->in = (cw_sub_input){ .varieties = varieties,
                            .lines = lines,
                            .variety = w->variety,
                            .line = w->line,
                            .held = w->held,
                            .named = w->named,
                            .ban = w->ban };
    for (uint32_t v = 0; v < varieties; v++)
        w->variety[v] = (cw_sub_variety){ { sub_maybe(r, 2), sub_maybe(r, 2), sub_maybe(r, 4) },
                                          cw_rng_below(r, 8) == 0 ? -1 : 100 * (int64_t)cw_rng_below(r, 6),
                                          (int32_t)cw_rng_below(r, most + 2),
                                          cw_rng_below(r, 2) ? 1 + (int32_t)cw_rng_below(r, 2) : 0 };
    for (uint32_t i = 0; i < lines; i++)
        sub_make_line(r, w, i, orders, most);
    for (uint32_t i = 0; i < orders && w->in.helds < MOST_HELDS; i++)
        if (cw_rng_below(r, 2))
            w->held[w->in.helds++] = (cw_sub_held){ cw_rng_below(r, orders), cw_rng_below(r, varieties),
                                                    (int32_t)cw_rng_below(r, 3) };
}

/* Some lines take all or nothing, and some orders: all their lines together. */
static inline void sub_add_units(cw_rng *r, sub_world *w)
{
    uint32_t whole_orders = cw_rng_below(r, 8);
    for (uint32_t i = 0; i < w->in.lines; i++) {
        cw_sub_line *l = &w->line[i];
        if (l->order < 3 && whole_orders >> l->order & 1)
            for (uint32_t k = 0; k <= i && l->unit == 0; k++) /* the number of its order's first line */
                l->unit = w->line[k].order == l->order ? k + 1 : 0;
        else if (cw_rng_below(r, 2))
            l->unit = i + 1;
    }
}

/* In some worlds the office forbids a few pairs, of which one may stand there twice. */
static inline void sub_add_bans(cw_rng *r, sub_world *w)
{
    for (uint32_t n = cw_rng_below(r, 2) * cw_rng_below(r, MOST_BANS + 1); w->in.bans < n;)
        w->ban[w->in.bans++] = (cw_sub_ban){ cw_rng_below(r, (uint32_t)w->in.lines),
                                             cw_rng_below(r, (uint32_t)w->in.varieties) };
}

/* May v go to line l, and at what measure? */
static inline bool sub_permitted(const sub_world *w, const cw_sub_line *l, uint32_t v, int *distance,
                                 int64_t *extra)
{
    const cw_sub_variety *t = &w->variety[v];
    *distance = 0;
    *extra = t->price > l->paid ? t->price - l->paid : 0;
    for (size_t i = 0; i < w->in.helds; i++)
        if (w->held[i].order == l->order && w->held[i].variety == v && w->held[i].substituted == 0)
            return false;
    for (size_t i = 0; i < w->in.bans; i++)
        if (&w->line[w->ban[i].line] == l && w->ban[i].variety == v)
            return false;
    if (v == l->wanted)
        return false;
    if (l->consent == CW_CONSENT_ASSORTMENT)
        return (l->class.form == -1 || l->class.form == t->class.form) &&
               (l->class.colour == -1 || l->class.colour == t->class.colour) &&
               (l->class.size == -1 || l->class.size == t->class.size);
    if (l->consent == CW_CONSENT_NAMED) {
        for (uint32_t k = 0; k < l->named_count; k++)
            if (w->named[l->named_first + k] == v) {
                *distance = (int)k;
                return true;
            }
        return false;
    }
    if (l->consent == CW_CONSENT_NONE || t->price < 0 || t->price < l->paid)
        return false;
    const cw_sub_class *a = &w->variety[l->wanted].class, *b = &t->class;
    bool form = a->form != -1 && a->form == b->form, colour = a->colour != -1 && a->colour == b->colour;
    int step = a->size == -1 || b->size == -1 ? 1 : abs(a->size - b->size);
    *distance = (form ? 0 : 40) + (colour ? 0 : 30) + 10 * step;
    return l->consent == CW_CONSENT_ANY || form || colour;
}

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_PROPERTY_SHARE_WORLDS_H
#define CW_TESTS_PROPERTY_SHARE_WORLDS_H

/* Invented orders for stock that is short, drawn by a seed, and the order of service among their lines. */
#include "support/check.h"

#include "base/rng.h"
#include "model/share.h"
#include <string.h>

#define SEED 20310201u

enum { MOST_ORDERS = 40, MOST_LINES = 120, MOST_VARIETIES = 6 };

typedef struct world {
    cw_share_input in;
    int64_t supply[MOST_VARIETIES];
    cw_share_order order[MOST_ORDERS];
    cw_share_line line[MOST_LINES];
} world;

/* `units`: with all-or-none lines and ship-complete orders; `firm`: with firm divisions. */
static inline void make(cw_rng *r, world *w, bool units, bool firm)
{
    uint32_t orders = 1 + cw_rng_below(r, MOST_ORDERS), varieties = 1 + cw_rng_below(r, MOST_VARIETIES);
    memset(w, 0, sizeof *w);
    w->in = (cw_share_input){ varieties, orders, 0, w->supply, w->order, w->line };
    for (uint32_t v = 0; v < varieties; v++)
        w->supply[v] = cw_rng_below(r, 60);
    for (uint32_t o = 0; o < orders; o++) {
        w->order[o] =
            (cw_share_order){ (cw_instant)cw_rng_below(r, 12) - 5, (uint8_t)cw_rng_below(r, CW_TIERS),
                              units && cw_rng_below(r, 4) == 0, units && cw_rng_below(r, 9) == 0 };
        for (uint32_t j = cw_rng_below(r, 4); j > 0 && w->in.lines < MOST_LINES; j--) {
            int32_t asked = (int32_t)cw_rng_below(r, 9);
            w->line[w->in.lines++] =
                (cw_share_line){ cw_rng_below(r, varieties),
                                 o,
                                 (int32_t)j,
                                 asked,
                                 firm ? (int32_t)cw_rng_below(r, (uint32_t)asked + 1) : 0,
                                 units && cw_rng_below(r, 5) == 0 };
        }
    }
}

static inline void run(const world *w, cw_share_rule rule, bool tiers_first, cw_share_outcome *out,
                       int64_t *left)
{
    cw_error err = CW_ERROR_NONE;
    cw_share *s = NULL;
    cw_check_ok(cw_share_new(&w->in, &s, &err), &err);
    cw_check_ok(cw_share_run(s, rule, tiers_first, out, left, &err), &err);
    cw_share_free(s);
}

static inline bool complete(const world *w, const cw_share_line *l)
{
    return w->order[l->order].ship_complete;
}

/* Is line i served before line j: (by tier,) received, order, line number. */
static inline bool before(const world *w, size_t i, size_t j, bool by_tier)
{
    const cw_share_line *a = &w->line[i], *b = &w->line[j];
    const cw_share_order *x = &w->order[a->order], *y = &w->order[b->order];
    if (by_tier && x->tier != y->tier)
        return x->tier < y->tier;
    if (x->received_at != y->received_at)
        return x->received_at < y->received_at;
    return a->order != b->order ? a->order < b->order : a->line < b->line;
}

#endif

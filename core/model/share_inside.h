/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_SHARE_INSIDE_H
#define CW_MODEL_SHARE_INSIDE_H

#include "model/share.h"

/* The inside of model/share, for share*.c only. */

/* An order in order of service: by received, then number. Its position here is its turn. */
typedef struct cw_share_turn {
    uint32_t first, end; /* its entries */
    uint32_t order;      /* index into the input */
    uint8_t tier;
    bool ship_complete;
    bool barred;
    bool unit; /* something of it can be given back: ship-complete, or with an all-or-none line */
} cw_share_turn;

/* A line as its order sees it. In order of turn, then line number: a pass over all orders reads straight on.
 */
typedef struct cw_share_entry {
    uint32_t line; /* index into the input */
    uint32_t slot; /* where it stands in its variety's queue */
    uint32_t variety;
    int32_t number; /* line number */
    int32_t need;
    int32_t firm;
    bool all_or_none;
} cw_share_entry;

/* The same line as its variety sees it. Grouped by variety, in a variety by turn, then line number. */
typedef struct cw_share_slot {
    uint32_t line;
    uint32_t turn;
    int32_t need;
    int32_t firm;
    uint8_t tier;
} cw_share_slot;

struct cw_share {
    cw_share_input in;
    cw_share_turn *turn;   /* [orders] */
    cw_share_entry *entry; /* [lines] */
    uint32_t *queue_start; /* [varieties + 1] */
    cw_share_slot *queue;  /* [lines] */
    int64_t *claimed;      /* [varieties] sum of needs */
    int32_t *waiting;      /* [varieties] lines with need > 0 */
    bool units;            /* any order is a unit */
    bool barred;           /* any order is: its needs count as none, and the outcome says so at the end */
};

/* Outcomes are written in an order that the processor cannot guess: fetch one this far ahead. */
#define CW_SHARE_AHEAD 12

/* The rules that have an award. left[varieties] holds the supply on entry and what stays over on exit. */
cw_code cw_share_rounds(const cw_share *s, cw_share_rule rule, bool tiers_first, int64_t *left,
                        cw_share_outcome *out, cw_error *err) CW_MUST_CHECK;

/* One variety's queue as a rule shares it out. */
typedef struct cw_share_pool {
    const cw_share_slot *queue; /* [n] in order of service */
    const uint8_t *open;        /* [n] whether it is shared over */
    size_t n;
    int64_t supply, sum; /* sum of the open needs */
    int64_t *scratch;    /* [n] */
    int32_t *award;      /* [n] out, of the open ones */
    int32_t *level;      /* out: what the rule measures by, for its reasons */
} cw_share_pool;

/* A rule: see share_rules.def. */
typedef struct cw_share_method {
    const char *name, *field, *reason_field;
    int64_t (*award)(const cw_share_pool *p); /* returns what is given out */
    cw_share_reason (*reason)(const cw_share_slot *q, int32_t award, int64_t supply, int64_t sum,
                              int32_t level);
    int32_t (*part)(const cw_share_slot *q, int64_t supply, int64_t sum, int32_t level);
    void (*say)(const cw_share_outcome *o, char *out, size_t size);
    int (*next)(const cw_share_slot *a, const cw_share_slot *b);
    bool claims;
} cw_share_method;
const cw_share_method *cw_share_method_of(cw_share_rule rule);

#endif

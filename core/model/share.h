/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_SHARE_H
#define CW_MODEL_SHARE_H

#include "base/day.h"
#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* A variety is short: which line gets how many of its divisions, and what do we say on the phone?
 *
 * In:  per variety the divisions that may be given now (counted or projected, less hold-back, guarantee
 *      reserve and all firm allocations, never below 0); per line what it asked and what is firm already.
 * Out: per line what it gets beyond what is firm, and why. Nothing firm is ever taken back: more stock shares
 *      out only the addition, over what is still short (need = asked - firm).
 *
 * first-come     by tier, received instant, order number, line number; each takes what it needs while there
 *                is any. An all-or-none line that does not fit is passed over whole.
 * pro-rata       need * supply / sum of needs, whole divisions by largest remainder, ties to the earlier
 *                order (received, order number, line number); never above the need.
 * one-each-first constrained equal awards: the lines with fewest divisions (firm ones counted) get one each,
 *                the earlier first, until the stock or the needs end. Nobody gets a second before everyone
 *                who wants one has a first.
 *
 * pro-rata and one-each-first share over all tiers together unless `tiers_first`; then a tier is served
 * before the next one gets anything.
 *
 * All-or-none line: gets its whole need or nothing. Ship-complete order: every line of the order, over all
 * varieties, gets its whole need, or the order gets nothing new (its firm allocations stay). In first-come
 * such an order is served at its turn if all of it fits, else passed over whole. In the other two rules,
 *   1. everyone is shared for as if it were ordinary;
 *   2. all-or-none lines that got a part, and ship-complete orders with any line short, give their share
 *      back and leave; the whole stock is shared anew over the rest; 1 and 2 repeat until nobody leaves;
 *   3. what is left then (only when all others have all they asked) is offered, whole or not at all, to those
 *      who left, in order of service.
 *
 * An order that is barred (nothing may be sent to it) gets nothing new and stands in nobody's way.
 *
 * The order of the input rows does not matter; orders stand in ascending order of their number, which is
 * what breaks ties. Cost: linear in the lines (counting and radix sort), memory about 60 bytes a line. */

typedef enum cw_share_rule {
#define CW_SHARE_RULE(id, name, ...) CW_SHARE_##id,
#include "model/share_rules.def"
#undef CW_SHARE_RULE
    CW_SHARE_RULES, /* how many there are */
} cw_share_rule;

/* "first-come"; "first_come"; "reason_first_come". */
const char *cw_share_rule_name(cw_share_rule rule);
const char *cw_share_rule_field(cw_share_rule rule);
const char *cw_share_rule_reason_field(cw_share_rule rule);

/* Which rule a name of n bytes is; CW_SHARE_RULES if none. */
cw_share_rule cw_share_rule_of(const char *name, size_t n);

/* Whether it serves one order after the other, and so by tiers anyway. */
bool cw_share_rule_in_turn(cw_share_rule rule);

/* Whether its reasons tell outcome.claimed; else they tell place and lines. */
bool cw_share_rule_claims(cw_share_rule rule);

typedef enum cw_share_tier {
    CW_TIER_WHOLESALE = 0,
    CW_TIER_RETAIL = 1,
    CW_TIER_OTHER = 2,
    CW_TIERS
} cw_share_tier;

/* "wholesale", "retail", "other". */
const char *cw_share_tier_name(cw_share_tier tier);

typedef struct cw_share_order {
    cw_instant received_at;
    uint8_t tier; /* cw_share_tier */
    bool ship_complete;
    bool barred;
} cw_share_order;

typedef struct cw_share_line {
    uint32_t variety; /* 0 .. varieties - 1 */
    uint32_t order;   /* index into orders */
    int32_t line;     /* line number within the order; (order, line) is unique */
    int32_t asked;    /* >= 0 */
    int32_t firm;     /* 0 .. asked */
    bool all_or_none;
} cw_share_line;

/* Everything is borrowed until cw_share_free. */
typedef struct cw_share_input {
    size_t varieties, orders, lines;
    const int64_t *supply;       /* [varieties] divisions that may be given now, >= 0 */
    const cw_share_order *order; /* [orders] ascending by order number */
    const cw_share_line *line;   /* [lines] in any order */
} cw_share_input;

typedef enum cw_share_reason {
    CW_SHARE_HELD,           /* nothing to do: all it asked is firm already */
    CW_SHARE_FULL,           /* gets all it still needs */
    CW_SHARE_LAST_OF_IT,     /* first-come: the stock ended within this line */
    CW_SHARE_RAN_OUT,        /* the stock was gone before its turn, or there was none */
    CW_SHARE_EXACT,          /* pro-rata: the share came out whole */
    CW_SHARE_ROUNDED_UP,     /* pro-rata: won one of the divisions left over by rounding */
    CW_SHARE_ROUNDED_DOWN,   /* pro-rata: did not */
    CW_SHARE_LEVEL,          /* one-each-first: brought to the level that all reach */
    CW_SHARE_LEVEL_ONE_MORE, /* one-each-first: one above it, being early */
    CW_SHARE_OVER_LEVEL,     /* one-each-first: its firm divisions lie above the level already */
    CW_SHARE_NOT_WHOLE,      /* all-or-none: could not be filled whole, passed over */
    CW_SHARE_NOT_COMPLETE,   /* ship-complete: another line of the order could not be filled, passed over */
    CW_SHARE_WHOLE_LATER,    /* all-or-none or ship-complete: filled whole from what was left at the end */
    CW_SHARE_BY_RULE,        /* the rule's own words */
    CW_SHARE_BARRED,         /* the order is barred: it was left out */
    CW_SHARE_REASONS,
} cw_share_reason;

/* What one line gets. All numbers are about this line's variety, and with tiers first about its tier. */
typedef struct cw_share_outcome {
    int32_t allocated; /* new divisions, beyond the firm ones */
    int32_t need;      /* asked - firm */
    int32_t firm;
    int32_t place;   /* 1 = first in the order of service, among the lines with need > 0; 0 = no need */
    int32_t lines;   /* how many such lines there are */
    int32_t part;    /* first-come: divisions left at its turn; pro-rata: the whole part of its share before
                      * rounding; one-each-first: the level; not whole: what it would have got */
    int64_t supply;  /* divisions that were shared */
    int64_t claimed; /* sum of the needs that they were shared over */
    int32_t cause;   /* NOT_COMPLETE: the variety that stood in the way; else -1 */
    uint8_t reason;  /* cw_share_reason */
    uint8_t rule;    /* cw_share_rule */
    uint8_t tier;    /* cw_share_tier */
    bool tiers_first;
} cw_share_outcome;

/* The input sorted once, from which any rule may be run: the preview of all rules side by side.
 * CW_REFUSED if a number is out of range or (order, line) comes twice; CW_MACHINE without memory. */
typedef struct cw_share cw_share;
cw_code cw_share_new(const cw_share_input *in, cw_share **out, cw_error *err) CW_MUST_CHECK;
void cw_share_free(cw_share *s);

/* Fills out[lines], parallel to the input's lines. `left` (may be NULL) gets what stays over, [varieties].
 * first-come always goes by tiers, whatever `tiers_first` says. */
cw_code cw_share_run(const cw_share *s, cw_share_rule rule, bool tiers_first, cw_share_outcome *out,
                     int64_t *left, cw_error *err) CW_MUST_CHECK;

/* Who waits for a variety, in the order in which single divisions that come free would reach them, each shared out by
 * this rule and made firm before the next one comes; first who gets some in the run of `outcome` [lines]. Lines that take
 * only several at once come last: they are passed over until so many are free together. */
typedef struct cw_share_waiting {
    uint32_t line;    /* index into the input */
    int32_t now;      /* what the run gives it */
    int32_t need;     /* what it wanted before the run */
    int32_t place;    /* 1 = reached first; 0: passed over */
    int32_t together; /* passed over until so many of the variety are free at once, 1: it takes single ones */
    int32_t cause;    /* its order leaves complete, and this other variety is short too; else -1 */
    bool late;        /* its order leaves complete and is served once all others (of its tier) have theirs */
} cw_share_waiting;

/* `list` has room for all lines of the variety; *count is how many wait. */
cw_code cw_share_queue(const cw_share *s, cw_share_rule rule, bool tiers_first, uint32_t variety,
                       const cw_share_outcome *outcome, cw_share_waiting *list, size_t *count,
                       cw_error *err) CW_MUST_CHECK;

/* The outcome as a sentence that the office can read out on the phone. `cause` is the name of the variety of
 * o->cause, NULL when there is none. Returns `out`. */
#define CW_SHARE_SENTENCE 320
const char *cw_share_say(const cw_share_outcome *o, const char *cause, char out[CW_SHARE_SENTENCE]);

/* The counts went down: stock no longer covers what is firm. Who is hit, least harm first?
 *
 * `over` divisions of one variety must be found among its firm lines. Taken last-come first-hit: other tiers
 * before retail before wholesale, and within a tier the latest received first; but an all-or-none line, and
 * any line of a ship-complete order, is spared while an ordinary line can still give (breaking it breaks a
 * whole wish). Proposes only: take[i] is how many line i would lose, 0 <= take[i] <= firm. All-or-none lines
 * lose all or nothing, so more than `over` may come free. Returns the divisions found (less than `over` when
 * all that is firm does not suffice). `line` are the firm lines of that variety; `order` as above. */
cw_code cw_share_hit(const cw_share_order *order, size_t orders, const cw_share_line *line, size_t lines,
                     int64_t over, int32_t *take, int64_t *found, cw_error *err) CW_MUST_CHECK;

#endif

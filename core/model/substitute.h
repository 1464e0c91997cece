/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_SUBSTITUTE_H
#define CW_MODEL_SUBSTITUTE_H

#include "base/error.h"
#include "base/money.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Which other varieties may stand in for what is short, within each buyer's consent, and why these?
 *
 * In:  short lines with the buyer's consent, varieties with their surplus, what each order holds already.
 * Out: for each line its substitutes. Chosen for all lines together, lexicographically:
 *          1. most divisions placed
 *          2. least total distance, per division
 *                 40 [form differs] + 30 [colour differs] + 10 |size step|
 *                 (unknown form or colour differs from everything; an unknown size counts one step);
 *                 of a named substitute its position in the buyer's list, 0 first; of an assortment 0
 *          3. least total extra cost, max(0, price of substitute - unit price paid) per division.
 *
 * May variety v go to line l?  Never the variety that was asked; never one that the order holds as an
 * allocated line; never without surplus; at most limit_per_order of v as a substitute in one order, all its
 * lines and what was substituted before counted; and by consent
 *      none    nothing
 *      same    same known form or same known colour, and price >= unit price paid
 *      any     price >= unit price paid
 *      named   only the varieties of the list, at any price
 *      assortment (a line that names a class): form, colour and size as far as the class names them, at any
 *              price, at most `spread` of one variety on the line. Assortments are filled in a second stage,
 *              from what the named lines leave.
 * An unknown price allows neither `same` nor `any`, and adds no extra cost.
 *
 * Each stage is a min-cost flow with whole numbers, solved to proven optimality: dual prices come with the
 * plan, and cw_substitute_verify checks plan and prices against the input alone. Alike lines are solved as
 * one and only arcs worth having are written down, so memory grows with lines + varieties, not their product.
 *
 * Among equally good plans the one returned depends on the input only, never on the order of its rows: lines
 * go by (order, line), varieties by their index.
 *
 * All or nothing: the lines of one `unit` (an all-or-none line alone, all lines of an order that leaves complete or
 * not at all) are filled whole, together, or get nothing. That makes the choice a hard problem in general: it is
 * solved by branching on the units that the flow would fill in part (whole, or left out), each branch bounded by its
 * flow. Every branch that was closed leaves its dual prices, and cw_substitute_verify goes through the same tree and
 * checks them, so the optimum is proven here too. The number of branches is capped; when the cap is met, the best
 * plan found comes with a proven bound (`at_most`), and says so by being below it. */

#define CW_SUB_NONE_WANTED  UINT32_MAX
#define CW_SUB_UNKNOWN      (-1)
#define CW_SUB_MAX_DISTANCE 1000

typedef enum cw_sub_consent {
    CW_CONSENT_NONE,
    CW_CONSENT_SAME,
    CW_CONSENT_ANY,
    CW_CONSENT_NAMED,
    CW_CONSENT_ASSORTMENT, /* second stage */
} cw_sub_consent;

/* Form and colour are numbers that the caller gives to names; CW_SUB_UNKNOWN where there is none. Size is 0
 * small, 1 medium, 2 large, 3 giant. */
typedef struct cw_sub_class {
    int32_t form, colour, size;
} cw_sub_class;

typedef struct cw_sub_variety {
    cw_sub_class class;
    cw_cents price;          /* < 0 = unknown */
    int32_t surplus;         /* divisions that may be given as substitutes, >= 0 */
    int32_t limit_per_order; /* 0 = no limit */
} cw_sub_variety;

typedef struct cw_sub_line {
    uint32_t order;  /* the same number on all lines of an order; ascending by order number */
    int32_t line;    /* line number; (order, line) is unique */
    uint32_t wanted; /* variety index; CW_SUB_NONE_WANTED for an assortment */
    int32_t missing; /* asked - allocated - substituted before, >= 0 */
    cw_cents paid;   /* unit price paid, >= 0 */
    uint8_t consent; /* cw_sub_consent */
    uint32_t named_first, named_count; /* consent named: slice of cw_sub_input.named, best first */
    cw_sub_class class;                /* assortment: CW_SUB_UNKNOWN leaves that open */
    int32_t spread; /* assortment: at most so many of one variety on this line; 0 = no such limit */
    /* 0 = a part is welcome; else filled whole, with all lines of this number, or not at all. 1 .. number of lines. A unit's
     * assortments are one, its named lines another */
    uint32_t unit;
} cw_sub_line;

/* What an order has already. */
typedef struct cw_sub_held {
    uint32_t order, variety;
    int32_t substituted; /* 0 = an allocated line: never again as a substitute. > 0 = so many came as
                            substitutes */
} cw_sub_held;

/* Everything is borrowed. Lines and helds in any order. */
typedef struct cw_sub_input {
    size_t varieties, lines, helds, named_total;
    const cw_sub_variety *variety;
    const cw_sub_line *line;
    const cw_sub_held *held;
    const uint32_t *named; /* variety indices, slices of which belong to lines */
    /* Pairs that the office forbids, or asks "what if not this one?" of. */
    const struct cw_sub_ban *ban;
    size_t bans;
    /* Asked before each round of the search and now and then within, with how many there were, and while a plan is checked (0);
     * false gives it up. May be NULL. */
    bool (*go_on)(void *context, uint32_t rounds);
    void *context;
} cw_sub_input;

typedef struct cw_sub_ban {
    uint32_t line; /* index into lines */
    uint32_t variety;
} cw_sub_ban;

/* One row of the plan, with what makes its distance. */
typedef struct cw_sub_choice {
    uint32_t line; /* index into the input's lines */
    uint32_t variety;
    int32_t quantity;    /* > 0 */
    int32_t distance;    /* per division */
    cw_cents extra;      /* per division */
    int32_t named_place; /* position in the buyer's list, -1 = consent is not `named` */
    int32_t size_steps;
    bool form_differs, colour_differs;
    bool assortment;
} cw_sub_choice;

typedef struct cw_sub_total {
    int64_t missing, placed, distance;
    cw_cents extra;
} cw_sub_total;

typedef struct cw_sub_plan {
    cw_sub_choice *choice; /* [choices] by order, line, distance, variety */
    size_t choices;
    cw_sub_total total;    /* of both stages */
    cw_sub_total stage[2]; /* named lines, assortments */
    /* no plan of the stage is better than this; the same as `stage` when it is the best */
    cw_sub_total at_most[2];
    struct cw_sub_branch *branch[2]; /* the proof: [branches], a branch before its two parts, "whole" first */
    size_t branches[2];
    size_t groups, arcs, rounds; /* how large the flow problems were, how often they were refined */
} cw_sub_plan;

/* CW_REFUSED when a number is out of range; CW_MACHINE without memory. `*plan` starts zeroed and is to be
 * freed. */
cw_code cw_substitute_solve(const cw_sub_input *in, cw_sub_plan *plan, cw_error *err) CW_MUST_CHECK;
void cw_sub_plan_free(cw_sub_plan *plan);

/* Is the plan proven the best, not only bounded? */
bool cw_substitute_is_best(const cw_sub_plan *plan);

/* Checks from the input alone that every choice is permitted and every limit kept, and by the dual prices
 * that no permitted plan is better than `at_most`. False with the failing condition in `why` (may be NULL). */
extern const char cw_sub_no_memory[]; /* `why` is this when it could not be checked at all */
extern const char cw_sub_left_off[];  /* or this when go_on ended it */
bool cw_substitute_verify(const cw_sub_input *in, const cw_sub_plan *plan, const char **why);

/* May this variety go to this line at all (limits and surplus > 0 apart from their amount)? Fills the parts
 * of `c` other than quantity when it may. For one-off questions; linear in helds. */
bool cw_substitute_allowed(const cw_sub_input *in, uint32_t line, uint32_t variety, cw_sub_choice *c);

/* What would it cost to forbid this choice? Solves again without the pair; `change` is new total - old total
 * (placed falls or stays; distance and extra are to be read together with placed). */
cw_code cw_substitute_forbid(const cw_sub_input *in, const cw_sub_plan *plan, uint32_t line, uint32_t variety,
                             cw_sub_total *change, cw_error *err) CW_MUST_CHECK;

/* Why this one, as a sentence: "Same form, another colour, one size step; 1.50 dearer, at our expense." */
#define CW_SUB_SENTENCE 240
const char *cw_substitute_say(const cw_sub_choice *c, char out[CW_SUB_SENTENCE]);

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_SUBSTITUTE_INSIDE_H
#define CW_MODEL_SUBSTITUTE_INSIDE_H

#include "model/substitute.h"

/* The inside of model/substitute, for substitute*.c only.
 *
 * One stage is the transport problem
 *     missing[l] = sum_v x[l,v] + unplaced[l]                             dual  line[l]
 *     sum_l x[l,v] <= surplus[v]                                          dual  variety[v] >= 0
 *     sum over lines l of order o of x[l,v] <= limit[v] - given[o,v]      dual  price of the limit >= 0
 *     x[l,v] <= room(l,v)
 * of least  unplaced_cost * unplaced + sum (far * distance + extra / unit) * x,  where the weights are so large that
 * the least is the lexicographic one.
 *
 * It is solved as a relaxation that is made exact where it has to be. Alike lines are one node (a group), whose arc to
 * v has the room of its lines together; limits over several lines of an order are left out. The solution is dealt out
 * to the lines; where that cannot be done a line becomes a group of its own, and where a limit is broken it is put in.
 * When nothing is broken, the relaxation's optimum is a plan: no plan can be better. */

/* What has been said of one order and variety. Sorted by order, variety. */
typedef struct cw_sub_past {
    uint32_t order, variety;
    int32_t substituted;
    bool own; /* an allocated line */
} cw_sub_past;

typedef struct cw_sub_choices {
    cw_sub_choice *item;
    size_t count, room;
} cw_sub_choices;

/* What a branch has decided of a line that takes all or nothing. */
enum { CW_SUB_FREE, CW_SUB_WHOLE, CW_SUB_OUT };

typedef struct cw_sub_stage {
    const cw_sub_input *in;
    int which;           /* 0 named lines, 1 assortments */
    const uint8_t *fate; /* [in->lines] CW_SUB_FREE ...; lines that are out are not in `line`; borrowed */
    uint32_t *line;      /* [lines] input lines of this stage with something missing, by order, line number */
    size_t lines;
    uint32_t *variety; /* [varieties] those with surplus left */
    size_t varieties;
    uint32_t *at;     /* [in->varieties] where a variety with surplus stands in `variety` */
    int32_t *surplus; /* [in->varieties] left at the start of the stage */
    int64_t *price;   /* [varieties] of variety[at], in units; far below 0 when unknown */
    cw_sub_past *past;
    size_t pasts;
    uint32_t *past_first, *past_end; /* [in->lines] the slice of `past` of a line's order */
    cw_sub_ban *ban;                 /* sorted by line, variety */
    /* weights; `unfilled` is what a division costs that is missing on a line that must be whole. It is 4 times
     * `unplaced`: filling one more division moves at most one other division off its line, and all distances and
     * extra costs together are below `unplaced`, so a line stays unfilled only if it cannot be filled. */
    int64_t unit, far, unplaced, unfilled;
    /* only unfilled divisions cost something (1 each): can the lines that must be whole be so at all? */
    bool blank;
} cw_sub_stage;

/* Dual prices. */
typedef struct cw_sub_limit_price {
    uint32_t order, variety;
    int64_t price;
} cw_sub_limit_price;

struct cw_sub_proof {
    int64_t unit, far, unplaced, unfilled; /* weights */
    bool blank;
    int64_t *line;             /* [in->lines], 0 for lines of the other stage */
    int64_t *variety;          /* [in->varieties] */
    cw_sub_limit_price *limit; /* sorted by order, variety; all others are 0 */
    size_t limits;
};

/* A branch of the search: cut in two by a unit, or closed by a proof. */
typedef struct cw_sub_branch {
    uint32_t unit;              /* 0 = closed */
    struct cw_sub_proof *proof; /* of a closed one */
} cw_sub_branch;

/* `first` are choices of the stage before (NULL, 0 for stage 0): they take surplus and count for limits. `fate` may be
 * NULL: all are free. */
cw_code cw_sub_stage_open(const cw_sub_input *in, int which, const uint8_t *fate, const cw_sub_choice *first,
                          size_t firsts, cw_sub_stage *st, cw_error *err) CW_MUST_CHECK;
void cw_sub_stage_blank(cw_sub_stage *st); /* sets the weights to those of `blank` */

/* fate[lines] before any branch: units of which a named line may not be substituted at all are out. */
void cw_sub_first_fates(const cw_sub_input *in, int which, uint8_t *fate);

/* The whole search of a stage: appends its choices to `out`, fills the plan's branch, at_most and sizes. */
cw_code cw_sub_search(const cw_sub_input *in, int which, cw_sub_choices *out, cw_sub_plan *plan,
                      cw_error *err) CW_MUST_CHECK;
void cw_sub_total_of(const cw_sub_choice *c, size_t n, cw_sub_total *out); /* all but `missing` */
void cw_sub_stage_close(cw_sub_stage *st);

/* Consent alone: may v go to the input line l, and at what distance and extra cost? */
bool cw_sub_pair(const cw_sub_input *in, const cw_sub_line *l, uint32_t v, int32_t *distance,
                 cw_cents *extra);

/* distance[at] from a line of this consent and class to variety[at]; -1 where these forbid it, whatever the price. Not
 * for named lists. */
void cw_sub_distances(const cw_sub_stage *st, uint8_t consent, const cw_sub_class *from, int32_t *distance);

/* The class that distances are measured from: that of the variety asked, or the one an assortment names. */
cw_sub_class cw_sub_class_of(const cw_sub_input *in, const cw_sub_line *l);

/* Most of v that input line l can take: what is missing, its spread, the order's limit less what it was given; 0 if the
 * order holds v or the pair is banned. Surplus apart. */
int32_t cw_sub_room(const cw_sub_stage *st, uint32_t l, uint32_t v);

/* limit - given of an order, or INT32_MAX without limit. */
int32_t cw_sub_limit_left(const cw_sub_stage *st, uint32_t order, uint32_t v);

cw_code cw_sub_choices_add(cw_sub_choices *c, const cw_sub_input *in, uint32_t line, uint32_t variety,
                           int32_t quantity, cw_error *err) CW_MUST_CHECK;

/* Solves the relaxation of a stage, in which only lines that must be whole take all or nothing, and appends its
 * choices. */
cw_code cw_sub_stage_solve(cw_sub_stage *st, cw_sub_choices *out, struct cw_sub_proof **proof,
                           cw_sub_plan *sizes, cw_error *err) CW_MUST_CHECK;
void cw_sub_proof_free(struct cw_sub_proof *p);

/* Lines solved as one, during one round. */
typedef struct cw_sub_group {
    size_t first, count; /* slice of cw_sub_work.member */
    int64_t missing;
} cw_sub_group;

/* A limit over several lines of one order that has been put in. */
typedef struct cw_sub_coupling {
    uint32_t order, at; /* at: index into stage->variety */
    int32_t room;
    int64_t price;
} cw_sub_coupling;

typedef struct cw_sub_arc {
    uint32_t group, at;
    int64_t cost, flow;
} cw_sub_arc;

/* With which lines one is solved. Any flow of lines that are alike and miss as much can be dealt out, as far as their
 * limits go: each may take as much of every variety as the next. Lines that miss more and less cannot always. */
enum cw_sub_apart { CW_SUB_WITH_ALIKE, CW_SUB_WITH_EQUAL, CW_SUB_ALONE };

/* State of the rounds of one stage. */
typedef struct cw_sub_work {
    cw_sub_stage *st;
    uint32_t *by_key; /* [lines] positions in stage->line, alike lines together */
    uint8_t *apart;   /* [lines] by position: cw_sub_apart */
    uint8_t *strikes; /* [lines] by position of an order's first line: how often a limit was broken */
    uint32_t *member; /* [lines] positions, by group */
    cw_sub_group *group;
    size_t groups;
    cw_sub_coupling *coupling; /* sorted by order, at */
    size_t couplings, couplings_room;
    /* the flow's answer */
    cw_sub_arc *arc; /* by group, in the order of their cost */
    size_t arcs;
    int64_t *group_price; /* [groups] */
    /* kept from round to round, as are the couplings' prices: the next round begins from them and from `last` */
    int64_t *line_price;    /* [lines] by position: that of its group */
    int64_t *variety_price; /* [stage->varieties] */
    cw_sub_choices last;    /* what the last round dealt; it may break limits, and need not be all */
    size_t rounds;          /* done so far */
    size_t flow_arcs;       /* size of the network */
} cw_sub_work;

cw_code cw_sub_relax(cw_sub_work *w, cw_error *err) CW_MUST_CHECK;

/* Deals the groups' arcs out to lines: appends to `out`. *clean is false if something had to be refined (then `out` is
 * only where the relaxation may begin when it is solved again). */
cw_code cw_sub_deal(cw_sub_work *w, cw_sub_choices *out, bool *clean, cw_error *err) CW_MUST_CHECK;

#endif

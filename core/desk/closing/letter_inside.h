/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_LETTER_INSIDE_H
#define CW_DESK_LETTER_INSIDE_H

/* What does the season's letter rest on? Read by letter_facts.c, put into words by letter.c. */
#include "desk/closing/letter.h"
#include "desk/closing/taught_inside.h"
#include "desk/forecast/hindsight_inside.h"
#include "store/said.h"
#include "store/turning.h"

typedef enum cw_letter_cause {
    CW_LETTER_RATE,  /* a clump gave more or fewer divisions than expected */
    CW_LETTER_ROT,   /* more was thrown out rotten */
    CW_LETTER_DRIED, /* more was thrown out shrivelled */
    CW_LETTER_KEPT   /* less was lost in store */
} cw_letter_cause;

/* A variety, what was said of it, and what came. */
typedef struct cw_letter_row {
    size_t variety; /* of the snapshot of the day that came */
    double expected;
    int64_t low, high, came; /* of 8 in 10 */
    cw_letter_cause cause;
    double rate, gave;            /* divisions per clump, said and cut since; gave 0: nothing was cut since */
    cw_day first_cut, first_look; /* CW_NO_DAY: never */
} cw_letter_row;

/* Of all varieties together, or of one. */
typedef struct cw_letter_loss {
    /* divisions; clumps as the divisions they would have given */
    double rotten_clumps, rotten, shrivelled, gone;
    double money; /* hundredths, of those that have a price */
} cw_letter_loss;

typedef struct cw_letter_sold_out {
    size_t variety;
    cw_day day;
} cw_letter_sold_out;

typedef struct cw_letter {
    cw_review review; /* of the day on which the catalogue rested */
    bool over;        /* the shipping day has come */
    bool on_record;   /* what is said of varieties was said then; else the program says it now of that day */
    cw_day said_on;
    cw_table said;      /* cw_review_said: a row for each release and month's end */
    cw_letter_row *row; /* by how far what came lies from what was expected, in divisions */
    size_t rows, held;  /* held: within the range of 8 in 10 */
    cw_letter_loss lost;
    int64_t dug, cut, made, shipped, planted, on_hand; /* clumps, clumps, divisions ... */
    int64_t asked, offered, sold;
    cw_letter_sold_out *sold_out; /* by day */
    size_t sold_outs;
    cw_taught taught;
    cw_past_said *past; /* how the last statements of past seasons held, the oldest first */
    size_t pasts, past_room;
    bool failed; /* no memory for them */
} cw_letter;

/* Free in any case. */
cw_code cw_letter_read(cw_letter *l, cw_nursery *n, const cw_asker *who, cw_error *err) CW_MUST_CHECK;
void cw_letter_free(cw_letter *l);

/* Outside of what was said. */
bool cw_letter_fooled(const cw_letter_row *r);

#endif

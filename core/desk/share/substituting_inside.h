/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_SUBSTITUTING_INSIDE_H
#define CW_DESK_SUBSTITUTING_INSIDE_H

/* For substituting*.c only. */
#include "base/text.h"
#include "desk/share/standing_inside.h"
#include "desk/share/substituting.h"
#include "model/substitute.h"
#include "store/allocations.h"

/* A short line beside its entry in the model's input. */
typedef struct cw_sub_item {
    cw_sub_line line;
    uint32_t in_book;  /* index into the book's lines */
    int32_t short_;    /* what is missing */
    size_t assortment; /* offset into `texts` of the words of an assortment */
    bool whole;        /* all or nothing */
    bool complete;     /* of an order that leaves complete or not at all */
} cw_sub_item;

struct cw_substituting {
    cw_standing *standing;
    cw_share_outcome *own; /* [standing lines] what their own varieties would give now */
    /* [withs] standing lines that their own varieties can fill, of orders that leave complete or not at all and are passed over
     * for another line: promised when that one is substituted */
    uint32_t *with;
    size_t withs;
    cw_sub_item *item; /* [in.lines] by order, line */
    size_t items;
    uint32_t *item_of; /* [book lines] index into item, CW_BOOK_NONE */
    cw_text texts;
    int32_t spread;
    cw_sub_variety *variety;
    cw_sub_line *line;
    cw_sub_held *held;
    uint32_t *named;
    cw_sub_ban *ban;
    cw_sub_input in;
    cw_sub_plan plan;
    bool sound;  /* the proof holds, of the plan or of its bound */
    bool proven; /* sound, and the plan is the best there is */
    char digest[65];
};

/* Reads who is short and what may be given, inside the caller's transaction; the standing is taken. */
cw_code cw_substituting_read_take(cw_nursery *n, cw_standing *standing, cw_substituting **out,
                                  cw_error *err) CW_MUST_CHECK;

/* Adds what the office forbade to the bans of the input; needs item_of and the room for bans of firms made. */
cw_code cw_substituting_list_banned(cw_nursery *n, cw_substituting *s, cw_error *err) CW_MUST_CHECK;

/* Chooses, and checks the proof. */
cw_code cw_substituting_choose(cw_substituting *s, const cw_asker *who, cw_error *err) CW_MUST_CHECK;

/* A choice in the numbers that a promise keeps, and back into a sentence. */
void cw_choice_pack(const cw_sub_choice *c, cw_promise_why *out);
const char *cw_choice_say(const cw_promise_why *w, char out[CW_SUB_SENTENCE]);

#endif

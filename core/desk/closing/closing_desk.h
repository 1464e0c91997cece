/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_CLOSING_DESK_H
#define CW_DESK_CLOSING_DESK_H

#include "desk/closing/closing.h"

#include <jansson.h>

/* How is a season closed from the page? In three steps, because the program that serves the file goes on meanwhile: look at what
 * would become of it; make the next season's file, which stands beside this one as season-YEAR.db, with the proof that the sums
 * agree; then close this one, if nothing was written since. */
typedef struct cw_turning_ask {
    int season;
    cw_day ship;
    bool leave_open;
    const cw_day *buyers_since; /* as in cw_next */
} cw_turning_ask;

/* {file, rows: [part,old,new,note], proof: [part,past,here,agree]} ; of a preview the proof is empty, and nothing is kept. Owner only. */
cw_code cw_closing_look(cw_nursery *n, const cw_asker *who, const cw_turning_ask *ask, json_t **out,
                        cw_error *err) CW_MUST_CHECK;
cw_code cw_closing_make(cw_nursery *n, const cw_asker *who, const cw_turning_ask *ask, json_t **out,
                        cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_closing_made_shape;

/* Sets the mark. CW_NOT_FOUND: the file was not made; CW_CONFLICT: something was written since. */
cw_code cw_closing_mark(cw_nursery *n, const cw_asker *who, const cw_turning_ask *ask,
                        cw_error *err) CW_MUST_CHECK;

/* {closed, season, day, at, actor, buyers} ; season, day, at and actor are null while the season is open. */
cw_code cw_closing_told(cw_nursery *n, json_t **out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_closing_told_shape;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_CLOSING_H
#define CW_DESK_CLOSING_H

#include "base/table.h"
#include "desk/nursery/nursery.h"

/* How does a season end, and the next one begin?
 *
 * The next season's file is made from this one: varieties, prices, places, zones, people, settings and words go along, weeks
 * and days moved by whole years; what the season taught becomes history, row by row as the models take it; what was asked for
 * becomes past sales and past orders; what was planted stands in the new season's rows. Lots, orders, buyers and parcels stay
 * behind, and so does the audit: the new file begins its own; buyers go along, without orders, when the owner asks for it.
 *
 * The old file is only read, apart from its closing mark: who, when, and the digest of what it taught. From then on it takes
 * claims, notices, refunds, holds of lots, letters on their way, forgetting and sign-ins only; an owner can reopen it on record. */
typedef struct cw_next {
    const char *path; /* of the new file: nothing may be there */
    int season;
    cw_day ship;
    /* claims, notices and refunds that nobody has answered stay in the old file, and are answered there */
    bool leave_open;
    bool no_mark; /* commit makes the file only: this one stays open (closing_desk.h) */
    /* Name, address and consent of buyers who ordered on this day or later go along, and no order; nobody who was forgotten. NULL:
     * no buyer goes along. */
    const cw_day *buyers_since;
} cw_next;

/* part,old,new,note : what is carried, what it becomes, what moves. With `commit` the file is made and this one is closed (the
 * nursery must be open for work); without, the same is made and thrown away. CW_REFUSED: something is there already, the
 * season is closed (into another file), or there are open ends and nobody said to leave them. Owner only. Made again after a
 * crash between the new file and the mark, it sets the mark. */
cw_code cw_closing_next(cw_nursery *n, const cw_asker *who, const cw_next *next, bool commit, cw_table *out,
                        cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_closing_next_shape;

/* The season takes everything again. Owner only; why goes on record. */
cw_code cw_closing_reopen(cw_nursery *n, const cw_asker *who, const char *why, cw_error *err) CW_MUST_CHECK;

/* What this file keeps of a past season against that season's own file: part,past,here,agree - a row for each sum, the last one
 * for the digest of every row. *broken counts those that differ. CW_NOT_FOUND: this file was not made from that season. */
cw_code cw_closing_prove(cw_nursery *n, cw_nursery *past, const cw_asker *who, cw_table *out, long *broken,
                         cw_error *err) CW_MUST_CHECK;

/* *found, and how it was closed. */
typedef struct cw_closed {
    int season; /* the one opened from it */
    cw_day day;
    cw_instant at;
    char actor[200];
    int64_t buyers; /* who went along: forgetting one of them here does not reach that file */
} cw_closed;
cw_code cw_closing_state(cw_nursery *n, bool *found, cw_closed *out, cw_error *err) CW_MUST_CHECK;

#endif

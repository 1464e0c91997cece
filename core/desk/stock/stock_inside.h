/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_STOCK_INSIDE_H
#define CW_DESK_STOCK_INSIDE_H

#include "desk/nursery/nursery_inside.h"
#include "store/stock.h"

/* What can people do to stock? For the rooms of the desk: one function for each entry, inside the caller's transaction. The
 * CSV intake and the cellar's forms both come here, so that a row and a form mean the same.
 *
 * Every function checks what the trade allows, writes its own record (a dividing, a check, a stock-take), and
 * the movements that follow from it, all of the given day. Errors name the column: CW_REFUSED wrong figures,
 * CW_CONFLICT more than there is. A place of CW_ANY_PLACE means: the lot's own place for what comes, all
 * places for what goes. */
#define CW_ANY_PLACE (-1)

typedef struct cw_event {
    int64_t lot;
    cw_day day;
    int64_t place;
    const int64_t *source; /* NULL: a form, not a file */
} cw_event;

/* Clumps taken from store and cut: of them `rotten` thrown out whole; `saleable` divisions made, put at the
 * place (CW_ANY_PLACE: the lot's own); `blind` tubers recorded and thrown out (they never were divisions, so the ledger does not
 * know them). How many minutes it took of how many people may be said, too: the bench learns from it. */
cw_code cw_stock_divide(cw_nursery *n, const cw_asker *who, const cw_dividing_row *d, int64_t *id,
                        cw_error *err) CW_MUST_CHECK;

/* A storage check; what was rotten or shrivelled is thrown out. `inspected` may exceed what the ledger has:
 * it is what was looked at, and a stock-take, not a check, corrects the ledger. */
cw_code cw_stock_check(cw_nursery *n, const cw_asker *who, const cw_check_row *c, int64_t *id,
                       cw_error *err) CW_MUST_CHECK;

/* A stock-take of the lot at one place, or everywhere: the ledger is moved to it by what was found or is missing. What was there
 * before is asked of the ledger. */
cw_code cw_stock_count(cw_nursery *n, const cw_asker *who, const cw_count_row *c, int64_t *id,
                       cw_error *err) CW_MUST_CHECK;

/* From e->place to another. */
cw_code cw_stock_move(cw_nursery *n, const cw_asker *who, const cw_event *e, int64_t to, int64_t clumps,
                      int64_t divisions, int64_t *id, cw_error *err) CW_MUST_CHECK;

/* Any other entry: found, missing, rotten, shrivelled, discarded, planted. */
cw_code cw_stock_enter(cw_nursery *n, const cw_asker *who, const cw_event *e, const char *reason,
                       int64_t clumps, int64_t divisions, const char *note, int64_t *id,
                       cw_error *err) CW_MUST_CHECK;

/* Takes back one of the above by counter-entries: cause dividing, check, stock_take, move or entry. */
cw_code cw_stock_undo(cw_nursery *n, const cw_asker *who, const char *cause, int64_t id, const char *why,
                      cw_error *err) CW_MUST_CHECK;

/* Before a move is taken back: if it split a part of a lot off, that is marked as undone (splitting.c); else nothing. CW_CONFLICT
 * where something was entered of the new lot since. */
cw_code cw_stock_undo_split(cw_nursery *n, const cw_asker *who, int64_t move, cw_error *err) CW_MUST_CHECK;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_FORGETTING_H
#define CW_DESK_FORGETTING_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

/* Takes a person out: name, e-mail and postcode of their orders, free texts that may name them, and what notices say of
 * them. What was typed while packing (the undoing of a pick) stands in the ledger, and reasons for what is of no one order
 * (releases, leave to sell more, settings, held lots, runs undone whole) in the audit; both stay: no names belong there.
 * Orders, lines, ledger and money stay, without the person. Owner only. What older backups hold is not touched.
 *
 * `customer` is an e-mail address, a name as it stands on the orders, or one order's number; with a `postcode` (NULL for
 * none) it is a name, and both must fit. Two orders are one person's when they bear the same e-mail address, or name and
 * postcode. CW_CONFLICT when more than one person fits (then nothing is changed and `out` lists them as the preview does),
 * and while an order of theirs is open: it could not be shipped any more; cancel or ship it first. */
typedef struct cw_forget_ask {
    const char *customer, *postcode;
    cw_day
        before; /* with customer NULL: all whose last order, shipping and claim are before this day (UTC) and who have
                      nothing open; an order, a claim, a notice that is due. Nobody is no error. */
} cw_forget_ask;

/* What would be taken out. out: order,state,customer,email,postcode,notes,notices,claims - the last three count texts that
 * may name the person. Changes nothing; open orders are listed, not refused. */
cw_code cw_forgetting_preview(cw_nursery *n, const cw_asker *who, const cw_forget_ask *ask, cw_table *out,
                              cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_forgetting_preview_shape;

/* out: order,state - those that were changed; it names nobody, so that an answer kept for a repeat does not either. */
cw_code cw_forgetting(cw_nursery *n, const cw_asker *who, const cw_forget_ask *ask, cw_table *out,
                      cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_forgetting_shape;

/* Wipes what forgetting left in the bytes of the file and of its log: rows that were moved or changed leave copies of
 * themselves. To be called when the forgetting is committed; does nothing when nothing is to be wiped. The file is written
 * anew, which takes as much memory and twice as much disk as it is large. CW_MACHINE when the disk or a reader does not
 * let it: who was taken out stays so, and a call from an hour later on tries again. So does any forgetting, also of nobody. */
cw_code cw_forgetting_wipe(cw_nursery *n, cw_instant now, cw_error *err) CW_MUST_CHECK;

#endif

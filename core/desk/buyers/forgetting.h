/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_FORGETTING_H
#define CW_DESK_FORGETTING_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

/* How is a buyer's data removed? Name, e-mail address and postcode go from the orders, and so do free texts that may name the
 * buyer, what notices say of them, and the parcels' numbers, by which the carrier knows them: while a claim is open those wait for its
 * answer. Orders, lines, ledger and money stay. Two kinds of text stay as well, and no name
 * belongs there: why a pick was undone (in the ledger), and reasons that belong to no single order (in the audit: releases,
 * sales allowed beyond the offer, settings, held lots, whole runs undone). Owner only. Older backups are not touched.
 *
 * * `customer` is an e-mail address, a name as it stands on the orders, or one order's number; with a `postcode` (NULL for
 * none) it is a name, and both must fit. Two orders are one person's when they bear the same e-mail address, or name and
 * postcode. CW_CONFLICT when more than one person fits (then nothing is changed and `out` lists them as the preview does), and
 * while an order of theirs is open: it could not be shipped any more; cancel or ship it first. */
typedef struct cw_forget_ask {
    const char *customer, *postcode;
    /* with customer NULL: all whose last order, shipping and claim are before this day (UTC) and who have nothing open; an
     * order, a claim, a notice that is due. Nobody is no error. */
    cw_day before;
} cw_forget_ask;

/* What would be removed. out: order,state,customer,email,postcode,notes,notices,claims,season,file - notes, notices and claims count
 * texts that may name the person. Changes nothing; open orders are listed, not refused. Files of past seasons that are looked into
 * (desk/nursery/past.h) are searched, too; cw_forgetting does not reach them, cw_forgetting_years does. */
cw_code cw_forgetting_preview(cw_nursery *n, const cw_asker *who, const cw_forget_ask *ask, cw_table *out,
                              cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_forgetting_preview_shape;

/* out: order,state,season,file - those that were changed; it names nobody, so that an answer kept for a repeat does not either. */
cw_code cw_forgetting(cw_nursery *n, const cw_asker *who, const cw_forget_ask *ask, cw_table *out,
                      cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_forgetting_shape;

/* The same in this season's file and in those of past seasons at these paths, and wiped after it. All are opened, locked and looked at
 * first: nothing is changed when one is held by somebody else, when more than one person fits in one, or when an order is open. Then
 * each is a transaction of its own with an audit of its own; should the machine fail between two, the text says how many are done,
 * and the same call does the rest. */
cw_code cw_forgetting_years(cw_nursery *n, const cw_asker *who, const cw_forget_ask *ask,
                            const char *const *past, size_t count, cw_table *out,
                            cw_error *err) CW_MUST_CHECK;

/* Wipes what forgetting left in the bytes of the file and of its log: rows that were moved or changed leave copies of
 * themselves. To be called when the forgetting is committed; does nothing when nothing is to be wiped. The file is written
 * anew, which takes as much memory and twice as much disk as it is large. CW_MACHINE when the disk or a reader does not let
 * it: what was removed stays removed, and a call an hour later or more tries again. So does any forgetting, also of nobody. */
cw_code cw_forgetting_wipe(cw_nursery *n, cw_instant now, cw_error *err) CW_MUST_CHECK;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_NAMING_INSIDE_H
#define CW_DESK_NAMING_INSIDE_H

#include "base/table.h"
#include "desk/nursery/nursery_inside.h"
#include "store/ledger.h"
#include "store/naming.h"

/* How each of them begins: `out` gets its columns (part,quantity,note: what a name reaches), and with commit there must be a reason, and
 * the work is begun. `may`: what the role test said. */
cw_code cw_naming_begin(cw_nursery *n, cw_code may, const char *why, bool commit, cw_table *out,
                        cw_error *err) CW_MUST_CHECK;
void cw_naming_put(cw_table *t, const char *part, int64_t quantity, const char *note);

/* CW_NOT_FOUND at `column`: no variety bears the code, today or once. */
cw_code cw_naming_known(cw_nursery *n, const char *column, const char *code, cw_named_variety *out,
                        cw_error *err) CW_MUST_CHECK;

/* What bears the variety's code: lots, lines, promises, parcels, notices, wishes, past seasons, plantings, open picks. */
cw_code cw_naming_tell_reach(cw_nursery *n, const cw_named_variety *v, cw_table *out,
                             cw_error *err) CW_MUST_CHECK;

/* Promises of the lot's variety that stand beyond what is left under its name when `goes` is another variety, and letters due. */
cw_code cw_naming_tell_promises(cw_nursery *n, const cw_named_lot *lot, const cw_on_hand *goes, cw_table *out,
                                cw_error *err) CW_MUST_CHECK;

#endif

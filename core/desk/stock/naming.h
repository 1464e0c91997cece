/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_NAMING_H
#define CW_DESK_NAMING_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

/* How is a wrong name put right: a variety's code that changes, a row that proves to be another variety?
 *
 * Both are previewed: part,quantity,note tells what bears the name, and what becomes of it. With `commit` it is done, on record
 * (`why` says why), and can be put back by the same call the other way round. */
extern const cw_shape cw_naming_shape;

/* The variety gets another code. The former one still finds it: in files, in orders of a shop, in searches. So do
 * the substitutes that buyers named by it. Owner only.
 * CW_CONFLICT: another variety bears, or bore, the code. */
cw_code cw_naming_rename_variety(cw_nursery *n, const cw_asker *who, const char *code, const char *to,
                                 const char *why, bool commit, cw_table *out, cw_error *err) CW_MUST_CHECK;

/* The lot is another variety, and was from digging on: stock, dividing sessions and checks are that one's from now on, in all
 * figures. Entries of the ledger name the lot, so none is changed. What had gone out went out under the old name: the preview
 * counts it, and tracing the lot names the buyers. Owner and office. CW_CONFLICT while open walks are to take of the lot. */
cw_code cw_naming_relabel_lot(cw_nursery *n, const cw_asker *who, const char *lot, const char *to,
                              const char *why, bool commit, cw_table *out, cw_error *err) CW_MUST_CHECK;

/* code,variety,at,actor,why of every former code. */
cw_code cw_naming_former_codes(cw_nursery *n, const cw_asker *who, cw_table *out,
                               cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_naming_former_codes_shape;

#endif

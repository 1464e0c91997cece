/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_MERGING_H
#define CW_DESK_MERGING_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

/* How do two codes that prove to be one variety become one, and how are they parted again?
 *
 * Both are previewed as a name that is put right is (naming.h): part,quantity,note. With `commit` it is done, on record. */
extern const cw_shape cw_merging_shape;

/* Lots, orders, promises, past seasons and plantings of `code` become those of `to`; what both have of the same season, day or line is
 * added up, hold-back and reserve, too. Name, class, price and limit are those of `to`. The code still finds it. Owner only. */
cw_code cw_merging_merge(cw_nursery *n, const cw_asker *who, const char *code, const char *to,
                         const char *why, bool commit, cw_table *out, cw_error *err) CW_MUST_CHECK;

/* The two are two again, as they were. Owner only. CW_CONFLICT: something else has touched them since; the sentence says what.
 * CW_NOT_FOUND: nothing was merged under this code. */
cw_code cw_merging_undo(cw_nursery *n, const cw_asker *who, const char *code, const char *why, bool commit,
                        cw_table *out, cw_error *err) CW_MUST_CHECK;

/* code,variety,at,actor,why,undone_at,undone_by of all of this season's. */
cw_code cw_merging_all(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_merging_all_shape;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_PLANTING_INSIDE_H
#define CW_DESK_PLANTING_INSIDE_H

/* Which planting is meant by a row, and do all walks and lots of it go together? For the rooms of the desk, inside the caller's
 * transaction: files, forms and the phone mean the same. */
#include "desk/nursery/nursery_inside.h"
#include "model/stand.h"
#include "store/field.h"

/* The planting of a row: of that variety, or (variety 0) the only one. CW_NOT_FOUND and CW_CONFLICT say in which column. */
cw_code cw_planting_of(cw_nursery *n, const char *row, int64_t variety, cw_planting_row *out,
                       cw_error *err) CW_MUST_CHECK;

/* The same for a lot that was dug: *found is false where the row has no planting at all. Another variety in it is CW_CONFLICT. */
cw_code cw_planting_of_lot(cw_nursery *n, const char *row, int64_t variety, bool *found, cw_planting_row *out,
                           cw_error *err) CW_MUST_CHECK;

/* Plays all of a planting's walks and lots (model/stand.h). CW_CONFLICT with a sentence that names the day if they do not go
 * together; `out` may be NULL. */
cw_code cw_planting_check(cw_nursery *n, int64_t planting, cw_stand *out, cw_error *err) CW_MUST_CHECK;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_BROUGHT_H
#define CW_DESK_BROUGHT_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

/* Which files of holds and of carriers came, and can one be taken back? (Files of the other kinds are put right row by row.) */

/* brought,kind,name,at,actor,stands,undone_at,undone_by,why, newest first. */
cw_code cw_brought_files(cw_nursery *n, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_brought_files_shape;

/* Takes a file back whole, or not at all: holds that it set and that still stand are lifted, and the weeks set again; parcels that it
 * sent are packed again, numbers that it gave are gone. CW_CONFLICT names the order of a parcel that was put right since, or of whose
 * buyer claimed. `why` is needed. */
cw_code cw_brought_take_back(cw_nursery *n, const cw_asker *who, int64_t brought, const char *why,
                             cw_error *err) CW_MUST_CHECK;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_FACTOR_INSIDE_H
#define CW_DESK_FACTOR_INSIDE_H

#include "desk/nursery/nursery.h"

/* For signing in, inside its work: CW_OK when the person has no second factor on, or `typed` (NULL: nothing) is a code of it,
 * which is then used up. CW_FORBIDDEN. */
cw_code cw_factor_pass(cw_nursery *n, const cw_asker *who, int64_t person, const char *name,
                       const char *typed, cw_error *err) CW_MUST_CHECK;

#endif

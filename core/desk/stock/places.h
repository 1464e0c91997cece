/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_PLACES_H
#define CW_DESK_PLACES_H

#include "desk/nursery/nursery.h"

/* How does a place get another name? What lies there stays, and all that was ever written of it names it by the new code. Paper that
 * was printed keeps the old one. CW_NOT_FOUND: there is no such place; CW_CONFLICT: the new code is taken. Owner or office. */
cw_code cw_places_rename(cw_nursery *n, const cw_asker *who, const char *from, const char *to,
                         cw_error *err) CW_MUST_CHECK;

#endif

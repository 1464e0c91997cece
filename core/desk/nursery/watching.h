/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_WATCHING_H
#define CW_DESK_WATCHING_H

#include "desk/nursery/nursery.h"

/* Was there more than people do? Floods of sign-in tries or of connections go into the audit, for the owner. */
cw_code cw_watching_unusual(cw_nursery *n, const cw_asker *who, const char *what,
                            cw_error *err) CW_MUST_CHECK;

#endif

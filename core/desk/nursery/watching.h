/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_WATCHING_H
#define CW_DESK_WATCHING_H

#include "desk/nursery/nursery.h"

/* What does the audit tell the owner that nobody did on purpose? More tries or connections than people make. */
cw_code cw_watching_unusual(cw_nursery *n, const cw_asker *who, const char *what,
                            cw_error *err) CW_MUST_CHECK;

#endif

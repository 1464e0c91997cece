/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_BASED_INSIDE_H
#define CW_DESK_BASED_INSIDE_H

#include "desk/nursery/nursery.h"

/* What did the asker see when they typed? A page says with every edit which values it was based on (cw_based in the asker).
 * Code that overwrites values asks after each by its name, inside the transaction and before the first write, and ends with
 * cw_based_hold:
 *
 *     cw_based_int(who, "quantity", line.quantity);
 *     code = cw_based_hold(who, "line 2 of order 1001", err);
 *
 * A value that has changed since stands in based->now, as it is, and cw_based_hold refuses with CW_CONFLICT. What was not
 * said is not asked: programs that say nothing overwrite as they always did. */
void cw_based_int(const cw_asker *who, const char *name, int64_t now);
void cw_based_real(const cw_asker *who, const char *name, double now); /* 0: there is none */
void cw_based_bool(const cw_asker *who, const char *name, bool now);
void cw_based_text(const cw_asker *who, const char *name, const char *now); /* NULL or "": there is none */
cw_code cw_based_hold(const cw_asker *who, const char *what, cw_error *err) CW_MUST_CHECK;

#endif

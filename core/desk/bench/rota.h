/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_ROTA_H
#define CW_DESK_ROTA_H

#include "base/shape.h"
#include "base/text.h"
#include "desk/nursery/nursery.h"

/* Which crates should be opened this week, and how many clumps or divisions looked at in each? What is worth most a minute
 * (model/measure): long not looked at, of varieties whose rot is not known well, that move much money.
 *
 * lot,variety,name,place,room,stage,there,look,weeks,expect,minutes,worth,rank : in walking order; `rank` is the order of what a
 * minute brings. `minutes`: that there are; < 0: the setting check_minutes. Held lots are left alone. `notes` (may be NULL)
 * gets sentences, one a line. */
cw_code cw_rota_list(cw_nursery *n, const cw_asker *who, double minutes, cw_table *out, cw_text *notes,
                     cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_rota_shape;

#endif

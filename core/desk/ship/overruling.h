/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_SHIP_OVERRULING_H
#define CW_DESK_SHIP_OVERRULING_H

#include "desk/nursery/nursery.h"

/* May this one order go in spite of a rule that keeps it? On record with who, when and why; why NULL takes the leave back.
 *
 *  destination  nothing may be sent where it goes: the owner alone overrules that, for the place that the order goes to now
 *  frost        frost holds: owner or office, for the holds that bind the order now; one set later binds it again */
typedef enum cw_overrule { CW_OVERRULE_DESTINATION, CW_OVERRULE_FROST } cw_overrule;

/* CW_CONFLICT when no such rule keeps the order (or, taking back, when there is no leave). */
cw_code cw_overruling_set(cw_nursery *n, const cw_asker *who, const char *order, cw_overrule rule,
                          const char *why, cw_error *err) CW_MUST_CHECK;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_FORGETTING_H
#define CW_DESK_FORGETTING_H

#include "base/table.h"
#include "desk/nursery.h"

/* Takes a person out: name, e-mail and postcode of their orders, free texts that may name them, and what notices say of
 * them. Orders, lines, ledger and money stay, without the person. `customer` is an e-mail address, a name as it stands
 * on the orders, or one order's number. CW_CONFLICT while an order of theirs is open: it could not be shipped any more; cancel or
 * ship it first. Owner only. What older backups hold is not touched. out: order,state - those that were changed. */
cw_code cw_forgetting(cw_nursery *n, const cw_asker *who, const char *customer, cw_table *out,
                      cw_error *err) CW_MUST_CHECK;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_FORGETTING_INSIDE_H
#define CW_DESK_FORGETTING_INSIDE_H

#include "base/table.h"
#include "desk/nursery/nursery.h"

/* CW_CONFLICT when an order of the preview is open: it could not be shipped any more. */
cw_code cw_forgetting_refuse_open(const cw_table *found, cw_error *err) CW_MUST_CHECK;

/* A claim of a buyer who was taken out is answered: what the carrier calls the parcel goes after them, and its old bytes. */
cw_code cw_forgetting_numbers_off(cw_nursery *n, int64_t order, cw_error *err) CW_MUST_CHECK;

#endif

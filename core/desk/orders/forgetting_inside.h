/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_FORGETTING_INSIDE_H
#define CW_DESK_FORGETTING_INSIDE_H

#include "base/table.h"

/* CW_CONFLICT when an order of the preview is open: it could not be shipped any more. */
cw_code cw_forgetting_refuse_open(const cw_table *found, cw_error *err) CW_MUST_CHECK;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_CATALOGUE_H
#define CW_DESK_CATALOGUE_H

#include "base/money.h"
#include "base/shape.h"
#include "desk/nursery/nursery.h"

/* Which varieties are there, and which figures of each does the owner change by hand? */

/* The columns of the CSV kind and version. */
cw_code cw_catalogue_list(cw_nursery *n, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_catalogue_list_shape;

/* What to change; -1 leaves a figure as it is. `version` is that of the row that was looked at; 0 does not ask. */
typedef struct cw_catalogue_edit {
    int64_t hold_back, reserve;
    int64_t limit_per_order; /* 0: no limit */
    cw_cents price;
    int64_t retired; /* 1, 0, or -1 */
    int64_t version;
    /* divisions a sound clump in a usual season, 8 in 10 sure; 0: nothing is said any more */
    double own_low, own_high;
} cw_catalogue_edit;

#define CW_CATALOGUE_EDIT                                                                                    \
    {                                                                                                        \
        .hold_back = -1, .reserve = -1, .limit_per_order = -1, .price = -1, .retired = -1, .own_low = -1,    \
        .own_high = -1                                                                                       \
    }

/* Owner only. CW_CONFLICT when somebody changed the row meanwhile: `out` then holds the row as it is now, so that both
 * can be shown; else the row as it became. On record with before and after. */
cw_code cw_catalogue_change(cw_nursery *n, const cw_asker *who, const char *code,
                            const cw_catalogue_edit *edit, cw_table *out, cw_error *err) CW_MUST_CHECK;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_EXPORTING_INSIDE_H
#define CW_DESK_EXPORTING_INSIDE_H

/* Inside of desk/export/exporting: the one table of what can be written out. */
#include "desk/nursery/nursery_inside.h"

typedef struct cw_export {
    const char *name, *about; /* those that `load` takes come first, "orders" is the last of them */
    size_t width;             /* 0: computed, its columns are told by the desk that computes it */
    cw_column columns[20];
} cw_export;

extern const cw_export cw_exports[];
extern const size_t cw_export_count;

cw_code cw_exporting_one(cw_nursery *n, const cw_asker *who, const cw_export *e, cw_table *out,
                         cw_error *err) CW_MUST_CHECK;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_EXPORTING_INSIDE_H
#define CW_DESK_EXPORTING_INSIDE_H

/* Inside of desk/export/exporting: what can be written out. */
#include "desk/nursery/nursery_inside.h"

typedef struct cw_export {
    const char *name, *about;
    size_t width; /* 0: computed, its columns are told by the desk that computes it */
    const cw_column *columns;
} cw_export;

/* The CSV kinds first, as kinds.def has them. */
size_t cw_export_count(void);
cw_export cw_export_at(size_t i);

cw_code cw_exporting_one(cw_nursery *n, const cw_asker *who, const cw_export *e, cw_table *out,
                         cw_error *err) CW_MUST_CHECK;

#endif

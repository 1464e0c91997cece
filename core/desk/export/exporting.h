/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_EXPORTING_H
#define CW_DESK_EXPORTING_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

/* How does a table of the nursery get into a spreadsheet or another program? Any table of the nursery as it stands, for
 * spreadsheets and for other programs. The tables that are CSV kinds can be loaded again, into this file (nothing changes) or,
 * in their order, into another. */

/* table,about : what can be written out. */
cw_code cw_exporting_list(cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_exporting_list_shape;

/* Is it a table that `load` takes? Then its file is data, read again as it is; the others are for spreadsheets, where texts
 * that look like formulas are guarded (cw_table_csv_sheet). */
bool cw_exporting_loads_again(const char *name);

/* One of them by name. `plan` and `projection` are computed as of who->today. CW_NOT_FOUND if there is none. */
cw_code cw_exporting_table(cw_nursery *n, const cw_asker *who, const char *name, cw_table *out,
                           cw_error *err) CW_MUST_CHECK;

/* The same written out piece by piece, so that a large table does not stand in memory. */
cw_code cw_exporting_write(cw_nursery *n, const cw_asker *who, const char *name, cw_format format, cw_sink to,
                           cw_error *err) CW_MUST_CHECK;

/* The season as one workbook (.xlsx), a sheet a table; texts are written as texts, so that no cell becomes a formula.
 * A file that exists is replaced. It is made for its owner only (0600): buyers stand in it. */
cw_code cw_exporting_workbook(cw_nursery *n, const cw_asker *who, const char *path,
                              cw_error *err) CW_MUST_CHECK;

/* Who did what, newest first: id,at,actor,action,subject,before,after; `before` an id of an earlier page, 0: from the end. */
cw_code cw_exporting_audit(cw_nursery *n, int64_t before, int64_t most, cw_table *out,
                           cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_exporting_audit_shape;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_KEEPING_H
#define CW_DESK_KEEPING_H

#include "base/table.h"
#include "desk/nursery/nursery.h"

/* Is the nursery file sound, and is there a copy of it that is? */

/* Online copy, made beside `path`, verified, synced, then renamed there; works beside a writer. A copy that is damaged is
 * thrown away and is an error. who->progress is told pages. */
cw_code cw_keeping_backup(cw_nursery *n, const cw_asker *who, const char *path, cw_error *err) CW_MUST_CHECK;

/* Everything that must hold: the file's own structure, parents of rows, conservation of the ledger and all of
 * sql/checks.sql, the audit's chain. out: area,finding - no row when all is well. *last becomes the audit's last hash, to
 * be kept elsewhere: rows cut off its end cannot show otherwise. */
cw_code cw_keeping_check(cw_nursery *n, cw_table *out, char last[65], cw_error *err) CW_MUST_CHECK;

/* Puts the copy in the place of the nursery file at `path`, which nobody may have open for writing. The copy is verified
 * first, by all the checks above; a bad one is refused and nothing changes. What stood there is kept as "<path>.before-restore". */
cw_code cw_keeping_restore(const char *copy, const char *path, cw_error *err) CW_MUST_CHECK;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_AUDIT_H
#define CW_STORE_AUDIT_H

#include "base/day.h"
#include "store/db.h"

/* Who did what, and has the record been tampered with? Every row carries the SHA-256 of the row before it and
 * of itself, so that a row that was changed, inserted or taken out of the middle shows. Rows cut off the end
 * cannot show by themselves: `clumpwise check` prints the last hash, which can be kept elsewhere. */

/* Adds a row inside the caller's transaction. `before` and `after` (may be NULL) tell the change in short
 * JSON or words. */
cw_code cw_audit_add(cw_db *db, cw_instant at, const char *actor, const char *action, const char *subject,
                     const char *before, const char *after, cw_error *err) CW_MUST_CHECK;

/* Recomputes the chain. *broken counts rows whose hash is wrong; `report` (may be NULL) gets a sentence for
 * each. `last` becomes the last hash, "" of an empty audit. */
cw_code cw_audit_check(cw_db *db, void (*report)(void *context, const char *sentence), void *context,
                       long *broken, char last[65], cw_error *err) CW_MUST_CHECK;

#endif

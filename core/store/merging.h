/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_MERGING_H
#define CW_STORE_MERGING_H

#include "store/naming.h"

#include <stdbool.h>
#include <stdint.h>

/* How do two varieties become one, and how are they parted again? Writes happen inside the caller's transaction. */

/* What of a variety is set by hand or offered. price, limit: -1 where there is none. */
typedef struct cw_merging_side {
    int64_t clumps, divisions; /* on hand */
    int64_t offered, sold;
    int64_t price, limit;
    int64_t hold_back, reserve;
    bool retired;
} cw_merging_side;
cw_code cw_merging_side_of(cw_db *db, int64_t variety_id, cw_merging_side *out, cw_error *err) CW_MUST_CHECK;

/* All rows of `gone` become rows of `kept`: those that a season, a day or a line has once only are added up. The code of `gone`
 * finds `kept` from now on. */
cw_code cw_merging_join(cw_db *db, const cw_named_variety *gone, const cw_named_variety *kept,
                        const cw_naming_record *r, cw_error *err) CW_MUST_CHECK;

typedef struct cw_merging {
    int64_t id, kept;
    char kept_code[CW_MAX_CODE + 1]; /* then */
    bool stands;                     /* the variety that was kept has a row of its own still */
} cw_merging;

/* The standing one by which `code` went; *found false: none. */
cw_code cw_merging_of_code(cw_db *db, const char *code, bool *found, cw_merging *out,
                           cw_error *err) CW_MUST_CHECK;

/* What of the kept variety was touched since: one part in words, or "" if nothing was. */
cw_code cw_merging_touched(cw_db *db, const cw_merging *m, char part[48], cw_error *err) CW_MUST_CHECK;

/* How many rows of each part would go back. */
typedef struct cw_merging_rows {
    int64_t lots, lines, plantings, past;
} cw_merging_rows;
cw_code cw_merging_rows_of(cw_db *db, const cw_merging *m, cw_merging_rows *out, cw_error *err) CW_MUST_CHECK;

/* Everything as it was; both versions are higher. */
cw_code cw_merging_part(cw_db *db, const cw_merging *m, cw_instant at, const char *actor,
                        cw_error *err) CW_MUST_CHECK;

/* code,variety,at,actor,why,undone_at,undone_by; the newest first. */
cw_code cw_merging_list(cw_db *db, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_merging_list_shape;

#endif

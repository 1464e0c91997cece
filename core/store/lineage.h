/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_LINEAGE_H
#define CW_STORE_LINEAGE_H

#include "base/day.h"
#include "base/limits.h"
#include "store/db.h"

#include <stdint.h>

/* What did a lot or a planting come from, and what came of it, within one file? */
typedef struct cw_kin {
    int64_t id; /* of the lot, or of the planting (0: only the ledger tells of it) */
    char code[CW_MAX_CODE + 1], variety[CW_MAX_CODE + 1], name[CW_MAX_NAME + 1], row[CW_MAX_NAME + 1];
    cw_day day;                /* dug, or planted */
    int64_t quantity;          /* clumps, or plants */
    int64_t sent;              /* divisions of a lot that buyers got */
    int64_t planting;          /* of which a lot was dug; 0: nobody wrote it down */
    int64_t split_of;          /* the lot of which it was a part; 0: of none */
    char lot[CW_MAX_CODE + 1]; /* planted; "": not known */
    int of_season; /* that lot's; 0: not said, -1: this file's own, planted out for the season after */
    /* why a lot is held; the variety that it was taken for first */
    char held[CW_MAX_NAME + 1], was[CW_MAX_CODE + 1];
} cw_kin;

/* false: enough */
typedef bool (*cw_kin_taker)(void *context, const cw_kin *kin);

/* Which lots: the first that is not NULL or 0. Of `row` and `variety` those whose planting nobody wrote down. */
typedef struct cw_lots_of {
    const char *code, *row, *variety, *order;
    int64_t planting, id, split_of;
} cw_lots_of;
cw_code cw_lineage_lots(cw_db *db, const cw_lots_of *of, cw_kin_taker take, void *context,
                        cw_error *err) CW_MUST_CHECK;

/* Which plantings: by number, in a row, of a lot of another season (`before`: that season is the one before this file's, so that a
 * planting which names no season means it, too), of a variety without a lot, planted out of the file's own lot. */
typedef struct cw_plantings_of {
    int64_t id;
    const char *row, *lot, *variety, *own;
    int season;
    bool before;
} cw_plantings_of;
cw_code cw_lineage_plantings(cw_db *db, const cw_plantings_of *of, cw_kin_taker take, void *context,
                             cw_error *err) CW_MUST_CHECK;

/* The codes that a variety bears or bore, the present one first. */
cw_code cw_lineage_codes(cw_db *db, const char *code, bool (*take)(void *context, const char *code),
                         void *context, cw_error *err) CW_MUST_CHECK;

#endif

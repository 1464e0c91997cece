/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_NAMING_H
#define CW_STORE_NAMING_H

#include "base/day.h"
#include "base/limits.h"
#include "base/shape.h"
#include "store/db.h"

/* Which variety does a code name, what bears its name, and how is a wrong name put right? Writes happen inside the caller's
 * transaction. */

typedef struct cw_named_variety {
    int64_t id;
    char code[CW_MAX_CODE + 1]; /* today's, whichever it was asked by */
    char name[CW_MAX_NAME + 1];
} cw_named_variety;

/* By today's code or a former one; *found false: nothing bears it. */
cw_code cw_naming_variety(cw_db *db, const char *code, bool *found, cw_named_variety *out,
                          cw_error *err) CW_MUST_CHECK;

/* What bears a variety's code. wishes: lines that name it as a substitute; picks: of open walks, whose labels may be printed; firm:
 * promised and not taken; taken: divisions that went into so many parcels; notices: due to its buyers; seasons: past ones that
 * know it. */
typedef struct cw_naming_reach {
    int64_t lots, lines, wishes, history, picks;
    int64_t firm, parcels, taken, notices, seasons, plantings;
} cw_naming_reach;
cw_code cw_naming_reach_of(cw_db *db, const cw_named_variety *v, cw_naming_reach *out,
                           cw_error *err) CW_MUST_CHECK;

/* Who did it, when, and why. */
typedef struct cw_naming_record {
    cw_instant at;
    const char *actor, *why;
} cw_naming_record;

/* The code that was is a former one from now on; `to` is none any more. */
cw_code cw_naming_rename(cw_db *db, const cw_named_variety *v, const char *to, const cw_naming_record *r,
                         cw_error *err) CW_MUST_CHECK;

/* code,variety,at,actor,why of every former code. */
cw_code cw_naming_formers(cw_db *db, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_naming_formers_shape;

/* A lot, and what rests on its being its variety. */
typedef struct cw_named_lot {
    int64_t id, variety_id;
    cw_day dug_on;
    char code[CW_MAX_CODE + 1]; /* of the variety */
    char name[CW_MAX_NAME + 1];
    int64_t clumps, divisions; /* on hand */
    int64_t sessions, checks;  /* entered of it */
    int64_t open_picks;        /* to be taken from it by open walks */
    int64_t taken, parcels;    /* divisions that went out of it, in so many parcels */
} cw_named_lot;
cw_code cw_naming_lot(cw_db *db, const char *lot, cw_named_lot *out, cw_error *err) CW_MUST_CHECK;

/* On hand of a variety, promised firm and not taken yet, and letters due to those who ordered it. */
typedef struct cw_naming_promised {
    int64_t clumps, divisions, firm, notices;
} cw_naming_promised;
cw_code cw_naming_promised_of(cw_db *db, int64_t variety_id, cw_naming_promised *out,
                              cw_error *err) CW_MUST_CHECK;

cw_code cw_naming_relabel(cw_db *db, const cw_named_lot *lot, int64_t to, const cw_naming_record *r,
                          cw_error *err) CW_MUST_CHECK;

#endif

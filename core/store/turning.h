/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_TURNING_H
#define CW_STORE_TURNING_H

#include "base/day.h"
#include "store/db.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* What of a season's file lives on when it is closed, and a copy of it becomes the next season's? Writes happen inside the
 * caller's transaction. */

typedef struct cw_closed_row {
    int season; /* the one that was opened from it */
    cw_day day;
    char digest[65], actor[200];
    cw_instant at;
    int64_t buyers; /* who went along */
} cw_closed_row;
/* *found false: the season is open. */
cw_code cw_turning_closed(cw_db *db, bool *found, cw_closed_row *out, cw_error *err) CW_MUST_CHECK;
cw_code cw_turning_close(cw_db *db, const cw_closed_row *row, cw_error *err) CW_MUST_CHECK;
cw_code cw_turning_reopen(cw_db *db, cw_instant at, const char *actor, const char *why,
                          cw_error *err) CW_MUST_CHECK;

/* What nobody has answered or sent yet. */
typedef struct cw_open_ends {
    int64_t claims, notices, refunds, parcels, orders;
} cw_open_ends;
cw_code cw_turning_open_ends(cw_db *db, cw_open_ends *out, cw_error *err) CW_MUST_CHECK;

/* A source for the rows that a season leaves behind; *id is theirs. */
cw_code cw_turning_source(cw_db *db, const char *name, const char *digest, int64_t rows, const char *actor,
                          cw_instant at, int64_t *id, cw_error *err) CW_MUST_CHECK;

/* A past season's rows. `lot` is its code, `source` from above. */
typedef struct cw_past_rate {
    int season;
    int64_t variety_id, clumps, divisions;
    const char *lot;
    double cut_from, cut_to;
} cw_past_rate;
typedef struct cw_past_rot {
    int season;
    int64_t variety_id, inspected, rotten;
    bool division;
    double weeks, age;
    const char *lot, *why; /* why: as past_check.why */
} cw_past_rot;
cw_code cw_turning_rate(cw_db *db, const cw_past_rate *r, int64_t source, cw_error *err) CW_MUST_CHECK;
cw_code cw_turning_rot(cw_db *db, const cw_past_rot *r, int64_t source, cw_error *err) CW_MUST_CHECK;
cw_code cw_turning_shrivel(cw_db *db, int season, const char *lot, const double pa_days[2], int64_t inspected,
                           int64_t shrivelled, int64_t source, cw_error *err) CW_MUST_CHECK;
cw_code cw_turning_weighing(cw_db *db, int season, const char *sample, const char *lot, double pa_days,
                            double kg, int64_t source, cw_error *err) CW_MUST_CHECK;

/* Names of this season's samples in the snapshot's order, one call each. */
cw_code cw_turning_samples(cw_db *db, void (*take)(void *context, const char *sample), void *context,
                           cw_error *err) CW_MUST_CHECK;

/* Calls take for what was asked for, by variety and instant; offered -1: the variety was not on offer. */
cw_code cw_turning_asked(cw_db *db,
                         void (*take)(void *context, int64_t variety, cw_instant at, int64_t quantity,
                                      int64_t offered),
                         void *context, cw_error *err) CW_MUST_CHECK;
cw_code cw_turning_sale(cw_db *db, int season, int64_t variety, int64_t sold, cw_day sold_out, /* CW_NO_DAY */
                        cw_error *err) CW_MUST_CHECK;
cw_code cw_turning_order(cw_db *db, int season, int64_t variety, cw_day day, int64_t quantity,
                         cw_error *err) CW_MUST_CHECK;

/* What was planted for the old season and dug becomes past plantings; what was planted out of the old season's lots stands in
 * the next one's rows. */
cw_code cw_turning_plant(cw_db *db, int season, cw_error *err) CW_MUST_CHECK;
/* Plants that count, and sound clumps dug of them: of the file's own season (season 0), or kept of a past one. */
cw_code cw_turning_field(cw_db *db, int season, int64_t *plants, int64_t *clumps,
                         cw_error *err) CW_MUST_CHECK;

/* Whoever ordered since that day becomes a known buyer; NULL: nobody is known any more. While the orders still stand. */
cw_code cw_turning_buyers(cw_db *db, const cw_day *since, cw_error *err) CW_MUST_CHECK;
/* Calls take with all that is known of each buyer, in order: of a season's own file (season 0), or of those whom a later file was
 * handed from that season or from before it. Until take says false. */
cw_code cw_turning_buyers_each(cw_db *db, int season, bool (*take)(void *context, const char *buyer),
                               void *context, cw_error *err) CW_MUST_CHECK;

/* How the last firm statement of a past season held. */
typedef struct cw_past_said {
    int season;
    cw_day said_on;
    char why[16]; /* release, month */
    int64_t varieties;
    double expected, came;
    double held; /* varieties within the range of 8 in 10; a mean where something was not counted */
} cw_past_said;
cw_code cw_turning_said(cw_db *db, const cw_past_said *line, cw_error *err) CW_MUST_CHECK;
/* Calls take for each season on record, the oldest first. */
cw_code cw_turning_said_each(cw_db *db, void (*take)(void *context, const cw_past_said *line), void *context,
                             cw_error *err) CW_MUST_CHECK;

/* Calls take for each zone. */
cw_code cw_turning_zones(cw_db *db, void (*take)(void *context, const char *code, cw_week week),
                         void *context, cw_error *err) CW_MUST_CHECK;
cw_code cw_turning_move_zone(cw_db *db, const char *code, cw_week week, cw_error *err) CW_MUST_CHECK;

/* Takes out of the file all rows of the tables that belong to one season, or to buyers: every table but those listed in
 * turning.c. Foreign keys must be off (cw_db_keys). Then retired varieties and sources that nothing speaks of any more. */
cw_code cw_turning_empty(cw_db *db, cw_error *err) CW_MUST_CHECK;
bool cw_turning_keeps(const char *table);

/* The file is of another season from now on. */
cw_code cw_turning_turn(cw_db *db, int season, cw_day ship, cw_instant at, cw_error *err) CW_MUST_CHECK;

typedef struct cw_origin_row {
    int season;
    cw_day day, ship;
    double pa; /* of its store at the end; only written; < 0: not known */
    char digest[65];
    bool told; /* only read: made by a program that knows past_said */
} cw_origin_row;
cw_code cw_turning_origin(cw_db *db, const cw_origin_row *o, const char *actor, cw_instant at,
                          cw_error *err) CW_MUST_CHECK;
cw_code cw_turning_origin_of(cw_db *db, int season, bool *found, cw_origin_row *out,
                             cw_error *err) CW_MUST_CHECK;

typedef struct cw_turning_counts {
    int64_t varieties, retired, places, zones, destinations, people, keys, settings, templates, orders, lots;
    int64_t rate, rot, shrivel, weighings, sales, plants, fields; /* of past season `season` */
    int64_t buyers;                                               /* taken along from seasons before */
} cw_turning_counts;
cw_code cw_turning_count(cw_db *db, int season, cw_turning_counts *out, cw_error *err) CW_MUST_CHECK;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_SNAPSHOT_H
#define CW_STORE_SNAPSHOT_H

#include "store/db.h"

#include "base/day.h"
#include "base/money.h"
#include "base/texts.h"

#include <stdbool.h>
#include <stddef.h>

/* What did the nursery file say at the end of a day? Everything a projection rests on, read in one read transaction (or inside
 * the caller's). Entries taken back since count as never made. Ids are row ids. All texts are owned by the snapshot. */

typedef struct cw_snap_variety {
    int64_t id;
    const char *code, *name, *form, *size, *colour; /* never NULL, "" when not known */
    cw_cents price;                                 /* -1 when not known */
    /* still to be kept; as the owner set it, of which what was planted is used up */
    int64_t hold_back, hold_back_set;
    int64_t planted;
    int64_t reserve;
    int64_t limit_per_order; /* 0: none */
    int64_t height_cm;       /* 0: not known */
    int64_t offered, sold, beyond;
    bool released, retired;
    /* divisions a sound clump in a usual season, as the owner says; 0: nothing is said */
    double own_low, own_high;
} cw_snap_variety;

typedef struct cw_snap_history {
    int64_t variety_id;
    int season;
    int64_t clumps, divisions;
    int64_t lot;             /* 0 .. past_lots - 1; -1: a sum, of no lot */
    double cut_from, cut_to; /* part of the lot's clumps, in the order of cutting */
} cw_snap_history;

typedef struct cw_snap_past_check {
    int64_t variety_id;
    int season;
    bool division; /* else clump */
    double weeks;
    int64_t inspected, rotten, shrivelled; /* shrivelled -1: nobody looked */
    int64_t lot;                           /* as above */
    double age;                            /* weeks since digging or cutting when last known sound */
    int why; /* 0 dividing, 1 round, 2 nobody said, 3 suspicion (past_check.why); -1: a sum */
} cw_snap_past_check;

/* Divisions of a past season that were looked at for shrivelling. */
typedef struct cw_snap_past_shrivel {
    int season;
    int64_t lot; /* 0 .. past_lots - 1 */
    double from_pa_days, to_pa_days;
    int64_t inspected, shrivelled;
} cw_snap_past_shrivel;

typedef struct cw_snap_past_weighing {
    int season;
    size_t sample; /* 0 .. past_samples - 1 */
    int64_t lot;
    double pa_days, kg;
} cw_snap_past_weighing;

typedef struct cw_snap_past_planting {
    int season;
    int64_t variety_id, plants, clumps;
} cw_snap_past_planting;

/* Set out to be dug this season. */
typedef struct cw_snap_planting {
    int64_t id, variety_id;
    const char *row; /* "": not known */
    int64_t plants;
    cw_day planted_on;
    bool loose; /* lots of the variety were dug of no planting */
} cw_snap_planting;

/* A walk of a planting (a alive, b of them taken out), or a lot dug of it (a clumps, b culled). */
typedef struct cw_snap_field_event {
    int64_t planting_id, id;
    cw_day day;
    bool dug;
    int64_t a, b;
} cw_snap_field_event;

typedef struct cw_snap_lot {
    int64_t id;
    const char *code, *room; /* room "": not known */
    int64_t variety_id;
    cw_day dug_on;
    int64_t clumps;
} cw_snap_lot;

/* Something that happened to a lot on a day. */
typedef enum cw_snap_kind {
    CW_SNAP_DIVIDED,
    CW_SNAP_CHECKED,
    CW_SNAP_ENTERED,
    CW_SNAP_COUNTED,
    CW_SNAP_SPLIT
} cw_snap_kind;
typedef struct cw_snap_event {
    int64_t lot_id;
    cw_day day;
    /* within a day: dividing, then checks, then entries, counts and splits as they were made */
    cw_snap_kind kind;
    int64_t id;
    bool division;                    /* checked, counted: the stage */
    int64_t clumps, rotten, saleable; /* divided: taken from store, of them rotten, divisions made */
    int64_t inspected, shrivelled;    /* checked (with rotten): shrivelled -1: nobody looked */
    int suspicion;         /* checked: 1 because something seemed wrong, 0 on a round, -1 nobody said */
    int64_t before, count; /* counted: what the ledger said, what was there */
    int looked;            /* counted: 1 looked through, 0 not, -1 nobody said */
    int64_t clumps_change, divisions_change; /* entered: picks, claims, other entries; split: what left */
    int64_t other;                           /* split: the lot that it became */
    int64_t left_sound;                      /* of divisions_change: picked or kept for planting */
} cw_snap_event;

typedef struct cw_snap_air {
    size_t room; /* index into rooms */
    cw_instant at;
    double temp_c, rh;
} cw_snap_air;

typedef struct cw_snap_weighing {
    size_t sample; /* 0, 1, ... in order of the samples' names */
    int64_t lot_id;
    cw_day day;
    double kg;
} cw_snap_weighing;

/* What past seasons taught of rates, rot and drying. A session of this season changes nothing of it, so snapshots share it
 * and it is read again only when `extent` is another. */
#define CW_SNAP_EXTENT 240
typedef struct cw_snap_past {
    size_t holders;
    char extent[CW_SNAP_EXTENT]; /* the last rows' ids, how many were taken off or changed */
    size_t histories, checks, shrivels, weighings, lots, samples;
    double pa;                 /* how dry the store was at the end of the season before, Pa; -1: not known */
    cw_snap_history *history;  /* by season, variety */
    cw_snap_past_check *check; /* by season, variety */
    cw_snap_past_shrivel *shrivel;   /* as they were kept */
    cw_snap_past_weighing *weighing; /* as they were kept */
} cw_snap_past;
void cw_snap_past_free(cw_snap_past *p); /* one holder less; NULL is nothing */

/* What stood in the field at the end of a day. Shared likewise, until something of it is written (migration 0039). */
typedef struct cw_snap_field {
    size_t holders;
    int64_t changes;
    cw_day as_of;
    size_t past_plantings, plantings, events;
    cw_snap_past_planting *past_planting; /* by season */
    cw_snap_planting *planting;           /* by id */
    cw_snap_field_event *event;           /* by planting, day, id */
    cw_texts texts;
} cw_snap_field;

/* What snapshots of one file share: starts zeroed. */
typedef struct cw_snap_kept {
    cw_snap_past *past;
    cw_snap_field *field;
} cw_snap_kept;
void cw_snap_kept_free(cw_snap_kept *k); /* empties it */

typedef struct cw_snapshot {
    int64_t stock_revision, trade_revision;
    cw_day as_of;
    size_t varieties, lots, events, airs, rooms, weighings, samples;
    cw_snap_variety *variety; /* by code */
    cw_snap_past *past;
    cw_snap_field *field;
    cw_snap_lot *lot;           /* by id */
    cw_snap_event *event;       /* by lot, day, kind, id */
    cw_snap_air *air;           /* by room, instant */
    const char **room;          /* names of rooms with readings */
    cw_snap_weighing *weighing; /* by sample, day */
    cw_texts texts;
} cw_snapshot;

/* *kept: what earlier calls read of this file's past seasons and field: shared as far as it still holds, else replaced. The
 * caller is one of the holders. */
cw_code cw_snapshot_read(cw_db *db, cw_day as_of, cw_snap_kept *kept, cw_snapshot **out,
                         cw_error *err) CW_MUST_CHECK;
/* Reads prices, hold-backs, offers and sales of the snapshot's varieties afresh, as they are now (what was planted of a
 * hold-back: as of the snapshot's day, as the stock it was taken from). */
cw_code cw_snapshot_refresh(cw_db *db, cw_snapshot *s, cw_error *err) CW_MUST_CHECK;
void cw_snapshot_free(cw_snapshot *s);

#endif

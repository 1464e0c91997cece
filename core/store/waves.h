/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_WAVES_H
#define CW_STORE_WAVES_H

#include "base/day.h"
#include "base/limits.h"
#include "base/money.h"
#include "store/db.h"

#include <stdbool.h>
#include <stddef.h>

/* What waits to be pulled and from where? What did packers answer, and what is in which parcel? Everything that changes
 * happens inside the caller's transaction, and who may and what follows is the desk's business (desk/pick/picking.h draws the
 * states). Texts of rows are borrowed for the call. */

/* ---- What a wave is planned from ---- */
typedef struct cw_wave_order {
    int64_t id;
    char number[CW_MAX_CODE + 1], customer[CW_MAX_NAME + 1];
    char country[CW_MAX_CODE + 1], region[CW_MAX_NAME + 1], zone[CW_MAX_CODE + 1];
    cw_week week; /* 0: not scheduled yet */
    bool pinned;
    bool blocked;    /* nothing may be sent to it */
    bool unpaid;     /* kept back until it is paid */
    bool complete;   /* leaves whole or not at all */
    int64_t missing; /* of such an order: asked and not promised */
} cw_wave_order;

typedef struct cw_wave_wanted { /* promised, not pulled, on no open list */
    size_t order;               /* index into orders */
    int64_t line_id, variety_id, quantity;
    int line;
    bool all_or_none;
    int64_t lot; /* of this lot alone, as the office chose for a claim; 0: of any */
    char variety[CW_MAX_CODE + 1];
} cw_wave_wanted;

typedef struct cw_wave_stock {
    int64_t lot_id, variety_id, place_id;
    int64_t quantity; /* free: open picks of other lists taken off */
    int walk_order;
    cw_day sound; /* the lot's divisions were last known sound */
    bool missed;  /* a packer missed some of it there, and nobody has counted there or put any there since */
    char lot[CW_MAX_CODE + 1], place[CW_MAX_CODE + 1];
} cw_wave_stock;

typedef struct cw_wave_book {
    cw_wave_order *order; /* in order of service */
    size_t orders;
    cw_wave_wanted *wanted; /* order by order, then by line */
    size_t wanteds;
    cw_wave_stock *stock; /* by variety, lot, place */
    size_t stocks;
} cw_wave_book;

/* Orders of the week and orders without a week; week 0: of all weeks; with an order id, that order whatever its week. */
cw_code cw_wave_book_read(cw_db *db, cw_week week, int64_t order_id, cw_wave_book *out,
                          cw_error *err) CW_MUST_CHECK;
void cw_wave_book_free(cw_wave_book *b);

/* ---- Making ---- */
cw_code cw_waves_add(cw_db *db, cw_week week, cw_instant at, const char *actor, int64_t *id,
                     cw_error *err) CW_MUST_CHECK;
cw_code cw_waves_add_stop(cw_db *db, int64_t wave, int64_t stop, int64_t place, int64_t *id,
                          cw_error *err) CW_MUST_CHECK;
cw_code cw_waves_add_parcel(cw_db *db, int64_t wave, int64_t order, int64_t slot, int64_t *id,
                            cw_error *err) CW_MUST_CHECK;
typedef struct cw_pick_new {
    int64_t wave, stop, parcel, line, variety, lot, quantity; /* ids */
    int64_t slot; /* of a big order's parcel, when it is not the first of its slots; else 0 */
} cw_pick_new;
cw_code cw_waves_add_pick(cw_db *db, const cw_pick_new *p, cw_error *err) CW_MUST_CHECK;

/* The stop of a place in a wave, made at the end of the walk if there is none. */
cw_code cw_waves_stop_at(cw_db *db, int64_t wave, int64_t place, int64_t *id, cw_error *err) CW_MUST_CHECK;

/* ---- Reading ---- */
/* 0 if the week has no wave. */
cw_code cw_waves_of_week(cw_db *db, cw_week week, int64_t *wave, bool *open, cw_error *err) CW_MUST_CHECK;

typedef struct cw_wave_row {
    cw_week week;
    char state[16], actor[CW_MAX_NAME + 1];
    cw_instant at;
} cw_wave_row;
/* CW_NOT_FOUND */
cw_code cw_waves_one(cw_db *db, int64_t wave, cw_wave_row *out, cw_error *err) CW_MUST_CHECK;

/* Lists: take is called row by row. Texts are borrowed until it returns, and NULL where nothing is noted. `now` is this week,
 * by which it is told what a frost hold keeps here: `frost` is then the reason, else NULL. */

/* The picks of a wave in the order of its walk. */
typedef struct cw_walk_row {
    int64_t stop, stop_id; /* its number on the walk, and its id */
    const char *place, *room, *taken_by;
    int64_t id; /* of the pick */
    const char *lot, *variety, *name, *form, *size, *colour, *held;
    int64_t quantity, line, slot, parcel;
    const char *order;
    const char *state; /* open, done */
    int64_t taken;
    const char *reason, *answered_by;
    cw_instant answered_at; /* CW_NO_INSTANT: not yet */
    const char *frost;
} cw_walk_row;
cw_code cw_waves_walk(cw_db *db, int64_t wave, cw_week now,
                      void (*take)(void *context, const cw_walk_row *row), void *context,
                      cw_error *err) CW_MUST_CHECK;

/* Parcels of a wave (0: of all), in one state (NULL: in any). */
typedef struct cw_parcel_listed {
    int64_t id, wave;
    cw_week week;
    const char *order, *customer, *name2, *email, *phone, *street, *town, *postcode, *country, *region, *zone,
        *channel;
    int64_t slot;
    const char *state;
    int64_t quantity, taken, open; /* divisions on its picks, taken; picks not answered */
    int64_t weight_g;              /* 0: not known */
    cw_instant packed_at;          /* CW_NO_INSTANT: not yet */
    const char *packed_by;
    cw_day shipped_on; /* CW_NO_DAY: not yet */
    const char *carrier, *tracking, *frost;
    bool unpaid;                /* kept back until its order is paid */
    bool corrected;             /* its order was put right since it was packed: its papers are old */
    const char *joined;         /* other orders in the same box, "1002, 1005"; NULL: none */
    bool follows;               /* it is in the box of another, which stands for both */
    int64_t box;                /* divisions in the box */
    const char *slots;          /* "5, 6" of a parcel that lies in several; NULL: in `slot` alone */
    int64_t further;            /* boxes beside the first */
    const char *more, *weights; /* their numbers "T-2, T-3" and grams "900,0" (0: not weighed); NULL: none */
} cw_parcel_listed;
cw_code cw_waves_parcels(cw_db *db, int64_t wave, const char *state, cw_week now,
                         void (*take)(void *context, const cw_parcel_listed *row), void *context,
                         cw_error *err) CW_MUST_CHECK;

/* Parcels that lie in one slot with this one, are in its state and have or await content, itself first: those of orders that
 * travel together. */
#define CW_SLOT_PARCELS 64
cw_code cw_waves_in_slot(cw_db *db, int64_t parcel, int64_t out[CW_SLOT_PARCELS], size_t *count,
                         cw_error *err) CW_MUST_CHECK;

/* What belongs in a parcel, and in those that lie in one slot with it, by lot. */
typedef struct cw_parcel_lot {
    const char *lot, *variety;
    int64_t taken;
} cw_parcel_lot;
cw_code cw_waves_parcel_lots(cw_db *db, int64_t parcel, void (*take)(void *context, const cw_parcel_lot *row),
                             void *context, cw_error *err) CW_MUST_CHECK;

/* The stops of a wave in the order of its walk. */
typedef struct cw_stop_listed {
    int64_t stop, picks, quantity, open; /* open: picks not answered */
    const char *place;
} cw_stop_listed;
cw_code cw_waves_stops(cw_db *db, int64_t wave, void (*take)(void *context, const cw_stop_listed *row),
                       void *context, cw_error *err) CW_MUST_CHECK;

/* Lines that a packer found short and that nothing else was pulled for, of a wave (0: of all). */
typedef struct cw_short_row {
    int64_t wave, line, variety_id, parcel;
    const char *order, *customer, *variety, *name, *reason, *lot, *place, *found_by;
    cw_instant found_at;
    const char *consent;
    cw_cents unit_price;
    const char *parcel_state;
    int64_t missing; /* divisions */
} cw_short_row;
cw_code cw_waves_shorts(cw_db *db, int64_t wave, void (*take)(void *context, const cw_short_row *row),
                        void *context, cw_error *err) CW_MUST_CHECK;

/* ---- Answers ---- */
typedef struct cw_pick_row {
    int64_t wave, parcel, lot, place, quantity, taken, order_id, slot;
    cw_week week;     /* of its wave */
    int64_t promised; /* that this pick may hold: promised less other picks of the line and variety */
    int line;
    bool done;
    cw_instant answered_at;
    char reason[16], answered_by[CW_MAX_NAME + 1];
    char parcel_state[16], order_state[16];
    char order[CW_MAX_CODE + 1], lot_code[CW_MAX_CODE + 1], variety[CW_MAX_CODE + 1];
    char held[CW_MAX_NAME + 1]; /* why the lot may not leave; "" when it may */
} cw_pick_row;
cw_code cw_waves_pick(cw_db *db, int64_t pick, bool *found, cw_pick_row *out, cw_error *err) CW_MUST_CHECK;
cw_code cw_waves_answer(cw_db *db, int64_t pick, int64_t taken, const char *reason, cw_instant at,
                        const char *actor, cw_error *err) CW_MUST_CHECK;
cw_code cw_waves_reopen(cw_db *db, int64_t pick, int64_t quantity, cw_error *err) CW_MUST_CHECK;
/* Open or closed, by its picks. */
cw_code cw_waves_settle(cw_db *db, int64_t wave, cw_error *err) CW_MUST_CHECK;
cw_code cw_waves_hold_lot(cw_db *db, int64_t lot, const char *why, cw_error *err) CW_MUST_CHECK;
cw_code cw_waves_answered(cw_db *db, int64_t wave, int64_t *count, cw_error *err) CW_MUST_CHECK;
cw_code cw_waves_drop(cw_db *db, int64_t wave, cw_error *err) CW_MUST_CHECK;

/* Takes a parcel's open picks off the list, and the parcel with them if it has no other. */
cw_code cw_waves_take_off(cw_db *db, int64_t parcel, cw_error *err) CW_MUST_CHECK;

typedef struct cw_stop_row {
    int64_t wave, stop;
    cw_instant taken_at;
    char taken_by[CW_MAX_NAME + 1], wave_state[16], place[CW_MAX_CODE + 1];
} cw_stop_row;
/* CW_NOT_FOUND */
cw_code cw_waves_stop(cw_db *db, int64_t stop, cw_stop_row *out, cw_error *err) CW_MUST_CHECK;
/* packer NULL: nobody. */
cw_code cw_waves_take_stop(cw_db *db, int64_t stop, const char *packer, cw_instant at,
                           cw_error *err) CW_MUST_CHECK;

/* ---- Parcels ---- */
typedef struct cw_parcel_row {
    int64_t wave, order_id, slot;
    cw_week week;
    char state[16], order[CW_MAX_CODE + 1], order_state[16];
    char country[CW_MAX_CODE + 1], region[CW_MAX_NAME + 1];
    bool complete; /* the order leaves whole or not at all */
    bool unpaid;   /* kept back until the order is paid */
    int64_t taken; /* divisions in it */
    int64_t open_picks;
    int64_t rest;               /* asked on the order, pulled into no parcel */
    int64_t others;             /* further parcels of the order, with something in them, that have not left */
    int64_t unready;            /* of those: not packed, or with a lot that may not leave */
    char held[CW_MAX_NAME + 1]; /* "LOT (why)" of a lot in it that may not leave, else "" */
} cw_parcel_row;
/* CW_NOT_FOUND */
cw_code cw_waves_parcel(cw_db *db, int64_t parcel, cw_parcel_row *out, cw_error *err) CW_MUST_CHECK;
/* Weight 0: not known. */
cw_code cw_waves_pack(cw_db *db, int64_t parcel, int64_t weight_g, cw_instant at, const char *actor,
                      cw_error *err) CW_MUST_CHECK;
cw_code cw_waves_unpack(cw_db *db, int64_t parcel, cw_error *err) CW_MUST_CHECK;
/* Boxes beside the first are numbered from 2. Weight 0: not known; tracking NULL: none. */
cw_code cw_waves_box_packed(cw_db *db, int64_t parcel, int64_t number, int64_t weight_g,
                            cw_error *err) CW_MUST_CHECK;
cw_code cw_waves_box_sent(cw_db *db, int64_t parcel, int64_t number, const char *tracking,
                          cw_error *err) CW_MUST_CHECK;
/* No box of a number above `last` any more. */
cw_code cw_waves_boxes_off(cw_db *db, int64_t parcel, int64_t last, cw_error *err) CW_MUST_CHECK;
/* No box beside the first has a number any more. */
cw_code cw_waves_boxes_unsent(cw_db *db, int64_t parcel, cw_error *err) CW_MUST_CHECK;
cw_code cw_waves_ship(cw_db *db, int64_t parcel, cw_day on, const char *carrier, const char *tracking,
                      cw_error *err) CW_MUST_CHECK;
/* How a parcel left; texts are "" for none. `more`: the numbers of its further boxes, "T-2, T-3". */
#define CW_SENT_BOXES 20
#define CW_SENT_MORE  (CW_SENT_BOXES * (CW_MAX_NAME + 2))
typedef struct cw_sent_row {
    char more[CW_SENT_MORE + 1];
    char order[CW_MAX_CODE + 1], carrier[CW_MAX_NAME + 1], tracking[CW_MAX_NAME + 1];
    cw_day on;
    int64_t claims; /* of its order, not refused */
    int64_t boxes;
} cw_sent_row;
cw_code cw_waves_sent(cw_db *db, int64_t parcel, cw_sent_row *out, cw_error *err) CW_MUST_CHECK;
/* A parcel of another order that left under the number, blanks and capitals apart. */
cw_code cw_waves_sent_under(cw_db *db, const char *tracking, int64_t order, bool *found, cw_sent_row *out,
                            cw_error *err) CW_MUST_CHECK;
/* Packed again, and its order open. */
cw_code cw_waves_unship(cw_db *db, int64_t parcel, int64_t order, cw_error *err) CW_MUST_CHECK;
cw_code cw_waves_order_shipped(cw_db *db, int64_t order, cw_error *err) CW_MUST_CHECK;
cw_code cw_waves_event(cw_db *db, int64_t order, cw_instant at, const char *actor, const char *kind,
                       const char *after, const char *note, cw_error *err) CW_MUST_CHECK;

#endif

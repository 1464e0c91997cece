/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_PICKING_H
#define CW_DESK_PICKING_H

#include "base/limits.h"
#include "base/shape.h"
#include "desk/nursery/nursery.h"

#include <jansson.h>
#include <stddef.h>

/* Which divisions are pulled from where for whom, and what came of it?
 *
 *   wave     open ──every pick answered──▶ closed        open ──no pick answered yet──▶ dropped
 *             ▲                              │
 *             └── a pick reopened or added ──┘
 *   pick     open ──answer (all, or fewer and why)──▶ done ──undo, while its parcel is open──▶ open
 *   parcel   open ──pack──▶ packed ──ship──▶ shipped      packed ──unpack──▶ open          (desk/pack/packing)
 *
 *  1. A wave holds only what is promised (own, substitute, assortment) and neither pulled nor on another open list, of
 *     open orders of its week; no line is ever pulled more than it is promised (sql/checks: picks_within_promise).
 *  2. A pick is planned only from free stock of a lot that may leave: on hand at that place, less other open picks.
 *  3. taken of a pick = what the ledger says it picked (sql/checks: picks_in_ledger). An answer and its movements are one
 *     transaction; the same key is never applied twice, and an answered pick is never answered over.
 *  4. What was found rotten, shrivelled or missing leaves the ledger with the answer, as far as it was still in it; of an
 *     empty crate, all that was still in it. What
 *     was found mislabelled stays, and its lot is held: nothing more of it is planned, packed or shipped until the office
 *     lifts that.
 *  5. An order that leaves whole, and a line that is all or nothing, is in a wave wholly or not at all.
 *  6. A packed parcel has no open pick (sql/checks: packed_is_answered).
 *  7. A parcel that a frost hold keeps stays on the walk, marked: what a phone that does not know it yet hands in is booked,
 *     and nothing is added to the parcel, nor is it packed or sent (desk/ship/shipping.h).
 *  8. A short line keeps its promise until the office decides: filled from another lot, or taken back (desk/share/allotting) and
 *     then substituted or refunded.
 *
 * Movements are booked under the day on which they are handed over; the minute of the answer stands with the pick. */

/* ---- Making a wave (owner, office, packer) ---- */
typedef struct cw_picking_ask {
    cw_week week;
    const char *const *orders; /* only these order numbers; NULL: all of the week */
    size_t count;
} cw_picking_ask;

/* Plans the week's wave and shows it; nothing is written. Orders without a week are scheduled first, as the schedule would.
 * picks: stop,place,lot,variety,quantity,order,line,slot. notes: what,order,line,variety,quantity,sentence, where what is
 * "left out" (destination blocked, frost hold, must leave whole), "waits" (promised but not there) or "warned".
 * CW_REFUSED when nothing promised waits for the week: the sentence says what to do. */
cw_code cw_picking_preview(cw_nursery *n, const cw_asker *who, const cw_picking_ask *ask, cw_table *picks,
                           cw_table *notes, cw_error *err) CW_MUST_CHECK;

/* The same, written: the schedule of orders that had no week, the wave, its stops, parcels and picks, in one
 * transaction. */
cw_code cw_picking_make(cw_nursery *n, const cw_asker *who, const cw_picking_ask *ask, int64_t *wave,
                        cw_table *notes, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_picking_notes_shape; /* of *notes */

/* The wave that a week's packers work on, 0 if none: an open one before a closed one, the newest first. */
cw_code cw_picking_of_week(cw_nursery *n, cw_week week, int64_t *wave, bool *open,
                           cw_error *err) CW_MUST_CHECK;

/* Drops a wave. Refused once any of its picks has been answered. */
cw_code cw_picking_drop(cw_nursery *n, const cw_asker *who, int64_t wave, const char *why,
                        cw_error *err) CW_MUST_CHECK;

/* Takes what is open of a parcel off the list (the order is changed, cancelled, or to leave in another week); what was
 * pulled for it stays until it is undone. */
cw_code cw_picking_take_off(cw_nursery *n, const cw_asker *who, int64_t parcel, const char *why,
                            cw_error *err) CW_MUST_CHECK;

/* ---- Looking ---- */
/* stop,place,lot,variety,quantity,order,line,slot in walking order. What is still open of a parcel that a frost hold keeps is
 * not on it. */
cw_code cw_picking_list(cw_nursery *n, const cw_asker *who, int64_t wave, cw_table *out,
                        cw_error *err) CW_MUST_CHECK;

/* wave,week,state,made_at,made_by,stops,parcels,packed,shipped,picks,open,divisions,taken,forgotten; week 0: all.
 * forgotten: parcels that are still here though the wave's week is over and no frost hold keeps them. */
cw_code cw_picking_waves(cw_nursery *n, const cw_asker *who, cw_week week, cw_table *out,
                         cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_picking_waves_shape;

/* {wave,week,state,stops:[{stop,id,place,room,taken_by,picks:[...]}],parcels:[...],put_back:[...]}. put_back: what lies in a slot and
 * is no longer meant for it. A pick's and a parcel's "frost" is the
 * frost hold that keeps the parcel, in words, or null. New reference. */
cw_code cw_picking_document(cw_nursery *n, const cw_asker *who, int64_t wave, json_t **out,
                            cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_picking_document_shape;

/* ---- Stops ---- */
/* CW_CONFLICT when somebody else has it: the sentence names them. Taking one's own again is well. */
cw_code cw_picking_take(cw_nursery *n, const cw_asker *who, int64_t stop, const char *packer,
                        cw_error *err) CW_MUST_CHECK;
/* One's own; owner and office release anybody's. */
cw_code cw_picking_release(cw_nursery *n, const cw_asker *who, int64_t stop, const char *packer,
                           cw_error *err) CW_MUST_CHECK;
/* packer,first_stop,last_stop,stops,picks,divisions: what is still open, in stretches of even work. */
cw_code cw_picking_stretches(cw_nursery *n, int64_t wave, size_t packers, cw_table *out,
                             cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_picking_stretches_shape;

/* ---- Answers ---- */
#define CW_PICKING_MAX_KEY     200
#define CW_PICKING_MAX_ANSWERS 1000
typedef struct cw_picking_answer {
    const char *key; /* the caller's own, the same however often it is sent */
    int64_t pick;
    int64_t taken;
    /* rotten, shrivelled, missing, mislabelled: exactly when fewer than asked were taken */
    const char *reason;
    cw_instant at;      /* when it was done; CW_NO_INSTANT: now */
    const char *packer; /* who did it, when several share a sign-in; NULL: the asker */
    /* with "missing": the crate is empty now, so what the ledger has of the lot's divisions there is missing, too */
    bool empty;
} cw_picking_answer;

/* key,pick,outcome,detail: "done", "already" (this key, or this very answer by the same person, was booked before), or
 * "clash" (it disagrees with what is on record and was not booked; the detail says with what). Each answer stands by
 * itself. CW_REFUSED, nothing booked, if one of them is no answer at all (more taken than asked, short without a reason). */
cw_code cw_picking_answer_all(cw_nursery *n, const cw_asker *who, const cw_picking_answer *answers,
                              size_t count, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_picking_answer_all_shape;

/* Takes an answer back by counter-entries while the parcel is open; the pick is open again, for no more than its line is
 * still promised. */
cw_code cw_picking_undo(cw_nursery *n, const cw_asker *who, int64_t pick, const char *why,
                        cw_error *err) CW_MUST_CHECK;

/* ---- What is no longer meant for a slot ---- */
/* A packer says that it is back at its place; the ledger has it there since the office took it out of the order. Said twice is
 * well. */
cw_code cw_picking_put_back(cw_nursery *n, const cw_asker *who, int64_t id, const char *packer,
                            cw_error *err) CW_MUST_CHECK;

/* ---- Shorts ---- */
/* Lines that a packer found short and nobody has settled, of one wave or (0) of all, the latest first: wave,order,line,customer,variety,name,short,
 * reason,lot,place,found_by,found_at,parcel,parcel_state,other_lot,other_place,other_free,consent,refund,sentence.
 * other_* is the best free stock for it (empty: there is none); refund is the price of what is short. */
cw_code cw_picking_shorts(cw_nursery *n, const cw_asker *who, int64_t wave, cw_table *out,
                          cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_picking_shorts_shape;

typedef struct cw_picking_from {
    const char *lot, *place; /* NULL: any */
} cw_picking_from;

/* Adds picks for all that an open parcel's order is promised and has not, from the lot and the place named and from no other.
 * Where none is named: a place where a packer missed something of the lot last, after all others; stops of the wave first,
 * then the most at risk. *added: divisions. */
cw_code cw_picking_fill(cw_nursery *n, const cw_asker *who, int64_t parcel, const cw_picking_from *from,
                        int64_t *added, cw_error *err) CW_MUST_CHECK;

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_ORDERS_H
#define CW_STORE_ORDERS_H

#include "base/day.h"
#include "base/limits.h"
#include "base/money.h"
#include "base/shape.h"
#include "store/db.h"

#include <stdbool.h>
#include <stdint.h>

/* What stands on one order, and how is it changed? One order as the order desk has it before it: found, read whole, and
 * changed on record. All changes happen inside the caller's transaction.
 *
 * Invariant: a change of a line's quantity moves offering.sold with it, so sold is always what the lines ask; more
 * than offered + beyond is refused by the database. */

typedef struct cw_order_head {
    int64_t id;
    char number[CW_MAX_CODE + 1];
    cw_instant received_at;
    char channel[CW_MAX_NAME + 1], tier[CW_MAX_NAME + 1], customer[CW_MAX_NAME + 1], email[CW_MAX_NAME + 1];
    char replaces[CW_MAX_CODE + 1];    /* the order of which it replaces something that failed; "": none */
    char merged_into[CW_MAX_CODE + 1]; /* the order in which its lines stand now; "": none */
    char name2[CW_MAX_NAME + 1], phone[CW_MAX_NAME + 1], street[CW_MAX_NAME + 1], town[CW_MAX_NAME + 1];
    char language[4]; /* of the buyer; "": the nursery's */
    char postcode[CW_MAX_NAME + 1], country[CW_MAX_NAME + 1], region[CW_MAX_NAME + 1], zone[CW_MAX_NAME + 1];
    bool zone_by_range; /* not said on the order: the table of postcodes tells it, if anything does */
    cw_week wish_week, ship_week; /* 0: none */
    bool ship_complete;
    int paid;         /* 1, 0, or -1: nobody said */
    bool kept_unpaid; /* kept back until it is paid (setting hold_unpaid) */
    char state[16];   /* open, cancelled, shipped */
    int64_t version;
} cw_order_head;

/* CW_NOT_FOUND with a sentence when there is no such order. */
cw_code cw_order_read(cw_db *db, const char *number, cw_order_head *out, cw_error *err) CW_MUST_CHECK;

typedef struct cw_order_line {
    int64_t id;
    int32_t line;
    int64_t variety_id; /* 0: an assortment */
    char code[CW_MAX_CODE + 1], name[CW_MAX_NAME + 1];
    char assortment[CW_MAX_NAME + 1]; /* "" for a line that names a variety */
    int64_t quantity;
    cw_cents unit_price;
    char consent[16];
    char named[CW_MAX_NAMED * (CW_MAX_CODE + 1) + 1];
    bool all_or_none;
} cw_order_line;

/* All lines of an order by number; `*lines` is to be freed. */
cw_code cw_order_lines(cw_db *db, int64_t order_id, cw_order_line **lines, size_t *count,
                       cw_error *err) CW_MUST_CHECK;

/* The order and one line of it, by their numbers. */
cw_code cw_order_line_find(cw_db *db, const char *number, int64_t line, cw_order_head *head,
                           cw_order_line *out, cw_error *err) CW_MUST_CHECK;

/* "" when there is none. */
cw_code cw_order_customer(cw_db *db, int64_t order_id, char *out, size_t size, cw_error *err) CW_MUST_CHECK;

/* at,actor,kind,line,before,after,note / parcel,week,slot,state,weight_g,shipped_on,carrier,tracking /
 * notice,kind,line,due_on,amount,state,evidence */
cw_code cw_order_events(cw_db *db, int64_t order_id, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_order_events_shape;
cw_code cw_order_parcels(cw_db *db, int64_t order_id, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_order_parcels_shape;
cw_code cw_order_notices(cw_db *db, int64_t order_id, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_order_notices_shape;

typedef struct cw_order_event {
    int64_t order_id, line_id; /* line_id 0: the order as a whole */
    cw_instant at;
    const char *actor, *kind;
    const char *before, *after, *note; /* may be NULL */
} cw_order_event;
cw_code cw_order_event_add(cw_db *db, const cw_order_event *e, cw_error *err) CW_MUST_CHECK;

/* Sets what a line asks and moves what is sold with it. CW_CONFLICT when there is not so much left on offer. */
cw_code cw_order_set_quantity(cw_db *db, const cw_order_line *line, int64_t quantity,
                              cw_error *err) CW_MUST_CHECK;
cw_code cw_order_set_state(cw_db *db, int64_t order_id, const char *state, cw_error *err) CW_MUST_CHECK;
cw_code cw_order_raise_version(cw_db *db, int64_t order_id, cw_error *err) CW_MUST_CHECK;

/* Divisions pulled for the order, and on open pick lists. */
cw_code cw_order_pulled(cw_db *db, int64_t order_id, int64_t *taken, int64_t *open,
                        cw_error *err) CW_MUST_CHECK;

/* Allows more (or less) to be sold beyond the offer, on record. */
cw_code cw_order_leave(cw_db *db, int64_t variety_id, int64_t quantity, cw_instant at, const char *actor,
                       const char *why, cw_error *err) CW_MUST_CHECK;

/* Id of a variety by its code; CW_NOT_FOUND with a sentence. */
cw_code cw_order_variety(cw_db *db, const char *code, int64_t *out, cw_error *err) CW_MUST_CHECK;

/* A variety as it is sold. */
typedef struct cw_for_sale {
    int64_t id;
    char code[CW_MAX_CODE + 1]; /* that it has now, whichever was typed */
    cw_cents price;             /* -1: the catalogue says none */
    bool retired;
} cw_for_sale;
cw_code cw_order_for_sale(cw_db *db, const char *code, cw_for_sale *out, cw_error *err) CW_MUST_CHECK;

/* "" when there is none. */
cw_code cw_order_variety_name(cw_db *db, int64_t variety_id, char *out, size_t size,
                              cw_error *err) CW_MUST_CHECK;

typedef struct cw_order_query {
    const char *text;   /* anywhere in number, name, e-mail or postcode; NULL: any */
    int64_t variety_id; /* 0: any */
    const char *state;  /* NULL: any */
    cw_week week;       /* 0: any */
    int64_t most, from; /* how many, after how many */
} cw_order_query;

/* order,received_at,customer,email,postcode,tier,lines,asked,firm,short,week,state, the latest received first; *more says
 * whether others follow. */
cw_code cw_order_find(cw_db *db, const cw_order_query *q, cw_table *out, bool *more,
                      cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_order_find_shape;

/* customer,name2,email,phone,street,town,postcode,country,region,language,zone,tier,consent,season : added to `out` (begun with the
 * shape's columns) for each order and known buyer with the text in name, e-mail address or postcode; who ordered last is first. */
cw_code cw_order_buyers(cw_db *db, const char *text, int64_t most, cw_table *out,
                        cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_order_buyers_shape;

#endif

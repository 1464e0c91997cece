/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_ORDERING_H
#define CW_DESK_ORDERING_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

/* The order desk, with a caller on the phone: which order is it, what happens to each line of it and why, and what may
 * be changed on the spot?
 *
 * Every change is an event of the order, with who, when and why; what a change frees goes back to what may be promised. */
typedef struct cw_ordering_query {
    const char *text;    /* anywhere in number, name, e-mail or postcode; NULL: any */
    const char *variety; /* code; NULL: any */
    const char *state;   /* open, cancelled, shipped; NULL: any */
    cw_week week;        /* 0: any */
    int64_t page;        /* 1, 2, ... of CW_ORDERING_PAGE orders, the latest received first */
} cw_ordering_query;
#define CW_ORDERING_PAGE 50

/* order,received_at,customer,email,postcode,tier,lines,asked,firm,short,week,state */
cw_code cw_ordering_find(cw_nursery *n, const cw_asker *who, const cw_ordering_query *q, cw_table *out,
                         bool *more, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_ordering_find_shape;

/* Who rings has ordered before: customer,name2,...,consent,season, a row for each order of this season, each buyer taken along from a
 * season before, and each order of past seasons' files that are looked into (desk/nursery/past.h); the last season first. `text` is
 * looked for in name, e-mail address and postcode. Who was forgotten has no name, and is not found. Office only. */
cw_code cw_ordering_buyers(cw_nursery *n, const cw_asker *who, const char *text, cw_table *out,
                           cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_ordering_buyers_shape;
#define CW_ORDERING_BUYERS 20 /* of each file */

/* The order whole: {order:{...}, lines:[{line,variety,name,assortment,quantity,unit_price,consent,named,all_or_none,firm,
 * own,short,substitutes:[{variety,name,quantity,sentence}],sentence}], events, parcels, notices}. */
cw_code cw_ordering_sheet(cw_nursery *n, const cw_asker *who, const char *order, json_t **out,
                          cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_ordering_sheet_shape;

/* The lines of the same for people: line,variety,quantity,unit_price,firm,short,sentence. */
cw_code cw_ordering_lines(cw_nursery *n, const cw_asker *who, const char *order, cw_table *out,
                          cw_error *err) CW_MUST_CHECK;

/* Cancels a line, or with line 0 the order. What of it is on a list or in a parcel that is here comes off (clearing.h tells
 * beforehand what that is); what has left stays asked, and the order is then shipped rather than cancelled. The order is
 * cancelled with its last line. */
cw_code cw_ordering_cancel(cw_nursery *n, const cw_asker *who, const char *order, int line, const char *why,
                           cw_error *err) CW_MUST_CHECK;

/* Sets what a line asks. Less than is promised: the promise shrinks with it, substitutes first. More than is left on
 * offer: CW_CONFLICT. */
cw_code cw_ordering_change(cw_nursery *n, const cw_asker *who, const char *order, int line, int64_t quantity,
                           const char *why, cw_error *err) CW_MUST_CHECK;

/* Allows `quantity` more of a variety to be sold than is offered. Owner only, and on record. A negative quantity takes back
 * what was allowed and not sold. *left is what may then still be sold. */
cw_code cw_ordering_oversell(cw_nursery *n, const cw_asker *who, const char *variety, int64_t quantity,
                             const char *why, int64_t *left, cw_error *err) CW_MUST_CHECK;

#endif

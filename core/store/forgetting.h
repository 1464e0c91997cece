/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_FORGETTING_H
#define CW_STORE_FORGETTING_H

#include "base/day.h"
#include "store/db.h"

#include <stdbool.h>
#include <stdint.h>

/* Which orders tell of a person, and how is that removed? What was grown, sold and shipped stays. */
typedef struct cw_forgettable {
    int64_t id, notes, notices, claims;
    /* taken along from a season before: `id` is that row's, and there is no order (NULL) and no state (NULL) */
    bool known;
    const char *order, *state, *customer, *email, *postcode; /* borrowed; the last three may be NULL */
    const char *person;                                      /* tells persons apart; "" for none */
} cw_forgettable;

/* Called for each order, by number, and then for each known buyer, until it returns false. */
typedef bool (*cw_forgettable_taker)(void *context, const cw_forgettable *row);

/* Orders by name, e-mail address or number; with a postcode by name and postcode. */
cw_code cw_forgetting_find(cw_db *db, const char *customer, const char *postcode, cw_forgettable_taker take,
                           void *context, cw_error *err) CW_MUST_CHECK;

/* Orders of all who have nothing open and of whom nothing happened on `before` or later. */
cw_code cw_forgetting_out_of_date(cw_db *db, cw_day before, cw_forgettable_taker take, void *context,
                                  cw_error *err) CW_MUST_CHECK;

/* Removes from everything that belongs to the order whatever tells of its buyer. Inside of the caller's transaction. */
cw_code cw_forgetting_blank(cw_db *db, int64_t order, cw_error *err) CW_MUST_CHECK;
/* Of that, what the carrier calls its parcels; they stay while a claim of the order is open, and go when it is answered. */
cw_code cw_forgetting_numbers(cw_db *db, int64_t order, cw_error *err) CW_MUST_CHECK;
/* And the row of who was taken along. */
cw_code cw_forgetting_known(cw_db *db, int64_t known, cw_error *err) CW_MUST_CHECK;

#endif

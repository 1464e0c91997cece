/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_ADDING_H
#define CW_DESK_ADDING_H

#include "base/money.h"
#include "base/shape.h"
#include "desk/nursery/nursery.h"

#include <jansson.h>

/* The buyer rings and wants one thing more: what becomes of it? It stands on the order as a line of its own, and is promised at once
 * if there is enough (desk/share/arriving). What of the order is on a list already stays as it is; the new line waits for the next wave.
 *
 * CW_CONFLICT when the order is not open, or there is not so much on offer. Cancelling the line takes it back. */
typedef struct cw_adding_ask {
    const char *variety; /* any code that it has or had */
    int64_t quantity;
    cw_cents unit_price; /* -1: the catalogue's */
    const char *consent; /* none, same, any; NULL: none */
    const char *why;     /* may be NULL */
} cw_adding_ask;

/* *out: {line, tells: [sentences]} (new reference). */
cw_code cw_adding_line(cw_nursery *n, const cw_asker *who, const char *order, const cw_adding_ask *ask,
                       json_t **out, cw_error *err) CW_MUST_CHECK;

#endif

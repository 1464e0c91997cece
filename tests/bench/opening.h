/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_BENCH_OPENING_H
#define CW_TESTS_BENCH_OPENING_H

#include "base/rng.h"
#include "desk/nursery/nursery.h"
#include "support/load.h"

#include <stdint.h>

/* The opening hour, for the benches of the server: 1,500 varieties on offer, 64 clients that post orders of 5 lines each,
 * and 8 that ask for the availability ten times a second. Invented, by the caller's seed. */
#define VARIETIES 1500
#define CLIENTS   64
#define LINES     5

/* Says what failed and ends the program; `err` may be NULL. */
_Noreturn void opening_die(const char *what, const cw_error *err);
double opening_now(void); /* seconds */

/* A nursery with varieties V0001 .. V1500, all on offer, in a file that is not there yet. */
void opening_make(const char *path, const cw_asker *who);

/* Popular varieties are asked more often. 1 .. VARIETIES. */
unsigned opening_variety(cw_rng *r);

#define MOST_ORDERS 8000000

typedef struct opening_orders {
    cw_rng rng;
    uint64_t next;
    unsigned char *acknowledged; /* by number, MOST_ORDERS */
    uint64_t of[CLIENTS];        /* the order that a connection waits for */
} opening_orders;

size_t opening_ask_availability(void *context, unsigned connection, char *out, size_t size);

/* Orders and polls together for so many seconds. */
void opening_run(unsigned port, opening_orders *o, double seconds, load_result *orders, load_result *polls);

/* Is every acknowledged order in the file, nothing oversold, and does every check hold? Prints it and ends the program if not. */
void opening_check(const char *path, const opening_orders *o);

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_FAILING_H
#define CW_TESTS_SUPPORT_FAILING_H

/* Memory that ends when a test says so. A program that links with -Wl,--wrap=malloc (and calloc, realloc, strdup, free,
 * json_loads, json_loadb) and calls failing_install has every allocation of our own code and of jansson counted here, and the n-th of
 * them refused while armed. What other libraries take for themselves inside is theirs and does not count, except SQLite's,
 * which the test hands over by failing_now from its own allocator. */
#include <stdbool.h>

typedef enum failing_whose {
    FAILING_OURS = 1,     /* our code and jansson */
    FAILING_DATABASE = 2, /* SQLite */
} failing_whose;

void failing_install(void);

/* From now on the n-th allocation (0: the first) of those in `whose` (a sum) fails; with `ever` all after it too. n < 0
 * only counts. */
void failing_arm(unsigned whose, long n, bool ever);
void failing_pause(void); /* counts stand still, nothing fails, until failing_resume */
void failing_resume(void);

bool failing_now(failing_whose whose); /* for an allocator: refuse this one? */
long failing_count(void);              /* allocations seen since failing_arm */
long failing_hits(void);               /* of them refused */

/* Blocks of ours and jansson's that were taken and not given back, over the whole life of the program. */
long failing_outstanding(void);

#endif

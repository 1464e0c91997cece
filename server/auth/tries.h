/* SPDX-License-Identifier: MIT */
#ifndef CW_SERVER_TRIES_H
#define CW_SERVER_TRIES_H

#include "auth/door.h"
#include "auth/throttle.h"

/* Inside of auth/: whose tries are counted where (door.h says why). */
#define KNOWN_PLACES 1024

typedef struct cw_tries {
    cw_throttle pairs, names, addresses, codes;
    uint64_t places[KNOWN_PLACES]; /* hashes of name and address of those who signed in well */
} cw_tries;

void cw_tries_init(cw_tries *t);
cw_tries *cw_door_tries_lock(cw_door *d);
void cw_door_tries_unlock(cw_door *d);

#endif

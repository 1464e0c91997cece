/* SPDX-License-Identifier: MIT */
#ifndef CW_HTTP_TURNS_H
#define CW_HTTP_TURNS_H

#include <stdbool.h>

/* How many may do at once what costs much memory (a password's hash: 64 MB), counted over all processes of a fleet? A server by
 * itself has its own bound (CW_SLOW_AT_ONCE) and no turns. That bound is half of these, so one nursery cannot keep all of them. */
#define CW_TURNS 4

typedef struct cw_turns cw_turns;

/* In memory that processes forked from now on share; for the life of the program. NULL: there is none. */
cw_turns *cw_turns_share(void);

/* A turn, given back by the same thread; -1 if `go_on` said no before one was free. Whose process dies has given its turn back. */
int cw_turns_take(cw_turns *t, bool (*go_on)(void *self), void *self);
void cw_turns_give(cw_turns *t, int turn); /* -1 is fine */

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_SERVER_TASK_H
#define CW_SERVER_TASK_H

#include "http/route.h"

/* How far a request at work is. A request may bring a name (header X-Task, made up by the client, 8 to 100 bytes). From
 * when it is wholly read until its reply is sent whoever sent it can ask after it under that name, and ask it to be given
 * up. The work heeds that where it tells its progress, a few times a second; what it had written is taken back with its
 * savepoint, and it answers 409 "given-up". Too late is harmless: the work ends as if nobody had asked. */
typedef struct cw_task_view {
    /* "unknown" not come yet, or done; "waiting" for a worker; "working"; "given-up" is being taken back */
    const char *state;
    char what[80];      /* the part that is at work: a file's name, "making firm"; empty: not told */
    uint64_t done, all; /* of that part or of the whole, as the work counts; all 0: not told */
} cw_task_view;

/* Finds the asker's own task; with `give_up` it is told to stop. */
void cw_task_look(const cw_request *q, const char *name, bool give_up, cw_task_view *out);

#endif

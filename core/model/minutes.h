/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_MINUTES_H
#define CW_MODEL_MINUTES_H

#include "base/error.h"

#include <stddef.h>
#include <stdint.h>

/* How many minutes of one person does a clump take at the bench, by variety?
 *
 * A session of n clumps that took so many minutes of so many people is a look at log minutes per clump, with more to say the more
 * clumps it has: weight w = n / (n + 10), since a session has something of its own (the day, the people). A variety's log mean is its
 * own sessions' weighted mean drawn to that of all varieties, which is drawn to the owner's figure:
 *
 *     log variety = (sum w x + K log all) / (sum w + K)        log all = (sum over all w x + A log stated) / (sum over all w + A)
 *
 * K = s2 / b2: spread of sessions over spread between varieties, both by the method of moments and within stated bounds, so that
 * varieties stand apart only as far as the sessions do. Without any session it is the stated figure. */
#define CW_MINUTES_STATED 6.0 /* of cutting a clump (common practice, no source) */

typedef struct cw_minutes_session {
    size_t variety;
    int64_t clumps; /* > 0 */
    double minutes; /* of one person: minutes times people, > 0 */
} cw_minutes_session;

typedef struct cw_minutes {
    double all;      /* minutes per clump of a variety of which nothing is known */
    size_t sessions; /* that it was learned from */
    double *variety; /* [varieties] */
} cw_minutes;

/* Sessions without clumps or minutes are passed over. Freed with ..._free, which leaves it empty. */
cw_code cw_minutes_learn(const cw_minutes_session *session, size_t n, size_t varieties, double stated,
                         cw_minutes *out, cw_error *err) CW_MUST_CHECK;
void cw_minutes_free(cw_minutes *m);

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_ANSWERS_H
#define CW_DESK_ANSWERS_H

#include "desk/nursery/nursery.h"

/* Was this very request answered before? Answers given under an idempotency key are kept in the same transaction as what
 * they tell of, so that a repeated request gets the same answer and does nothing twice. */
#define CW_ANSWERS_KEPT_DAYS 30

typedef struct cw_answer {
    char request[65]; /* digest of method, address and body */
    unsigned status;
    char *body; /* JSON; the caller frees it */
} cw_answer;

cw_code cw_answers_find(cw_nursery *n, const char *key, bool *found, cw_answer *out,
                        cw_error *err) CW_MUST_CHECK;
cw_code cw_answers_keep(cw_nursery *n, const char *key, const char *request, unsigned status,
                        const char *body, cw_instant now, cw_error *err) CW_MUST_CHECK;

/* Puts on record, beside what the request did, that `author` had entered it and handed it over to the asker. */
cw_code cw_answers_handed(cw_nursery *n, const cw_asker *who, const char *author, const char *what,
                          cw_error *err) CW_MUST_CHECK;
cw_code cw_answers_expire(cw_nursery *n, cw_instant now, cw_error *err) CW_MUST_CHECK;

#endif

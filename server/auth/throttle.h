/* SPDX-License-Identifier: MIT */
#ifndef CW_SERVER_THROTTLE_H
#define CW_SERVER_THROTTLE_H

#include <stdbool.h>
#include <stdint.h>

/* How long must one wait after wrong tries? The first `free_tries` cost nothing; each one after doubles the wait, 4 s, 8 s,
 * 16 s ... up to `most` seconds. Tries are forgotten when none was made for half an hour. With most = 60 and 30 free
 * tries an account sees fewer than 100 tries in any hour, however they are spread (OWASP ASVS 4.0.3, 2.2.1). A fixed table: who shares a slot shares its wait. */
#define CW_THROTTLE_SLOTS 1024

typedef struct cw_throttle {
    int free_tries, most;
    unsigned char secret[16]; /* of this run */
    struct {
        uint64_t whom; /* hash; 0: nobody */
        int tries;
        int64_t last, until; /* ticks, milliseconds */
    } slots[CW_THROTTLE_SLOTS];
} cw_throttle;

void cw_throttle_init(cw_throttle *t, int free_tries, int most);
int cw_throttle_left(const cw_throttle *t, const char *whom, int64_t ticks); /* seconds, rounded up */
bool cw_throttle_count(cw_throttle *t, const char *whom, int64_t ticks); /* true: from this try on it waits */
uint64_t cw_throttle_hash(const cw_throttle *t, const char *whom);       /* never 0 */
void cw_throttle_clear(cw_throttle *t, const char *whom);

#endif

/* SPDX-License-Identifier: MIT */
#include "auth/throttle.h"

#include <sodium.h>
#include <string.h>

#include "base/banned.h"

#define FORGET_MS (30 * 60 * 1000LL)

/* With a secret of this run, so that nobody can choose a name that shares another's slot. */
uint64_t cw_throttle_hash(const cw_throttle *t, const char *whom)
{
    uint64_t h = 0;
    crypto_shorthash((unsigned char *)&h, (const unsigned char *)whom, strlen(whom), t->secret);
    return h ? h : 1;
}

void cw_throttle_init(cw_throttle *t, int free_tries, int most)
{
    memset(t, 0, sizeof *t);
    t->free_tries = free_tries;
    t->most = most;
    randombytes_buf(t->secret, sizeof t->secret);
}

int cw_throttle_left(const cw_throttle *t, const char *whom, int64_t ticks)
{
    int64_t until = t->slots[cw_throttle_hash(t, whom) % CW_THROTTLE_SLOTS].until;
    return until > ticks ? (int)((until - ticks + 999) / 1000) : 0;
}

bool cw_throttle_count(cw_throttle *t, const char *whom, int64_t ticks)
{
    uint64_t h = cw_throttle_hash(t, whom);
    int i = (int)(h % CW_THROTTLE_SLOTS);
    if (ticks - t->slots[i].last > FORGET_MS)
        t->slots[i].tries = 0;
    t->slots[i].whom = h;
    t->slots[i].last = ticks;
    int over = ++t->slots[i].tries - t->free_tries;
    if (over < 0)
        return false;
    int64_t wait = over < 20 ? (int64_t)4 << over : t->most;
    t->slots[i].until = ticks + 1000 * (wait < t->most ? wait : t->most);
    return over == 0;
}

void cw_throttle_clear(cw_throttle *t, const char *whom)
{
    uint64_t h = cw_throttle_hash(t, whom);
    int i = (int)(h % CW_THROTTLE_SLOTS);
    if (t->slots[i].whom != h)
        return;
    t->slots[i].tries = 0;
    t->slots[i].until = 0;
}

/* SPDX-License-Identifier: MIT */
#include "auth/throttle.h"

#include <string.h>

#include "base/banned.h"

#define FORGET_MS (15 * 60 * 1000LL)

/* FNV-1a, 64 bits (public domain, by Fowler, Noll and Vo). */
static uint64_t hash(const char *s)
{
    uint64_t h = 14695981039346656037u;
    for (; *s; s++)
        h = (h ^ (unsigned char)*s) * 1099511628211u;
    return h ? h : 1;
}

void cw_throttle_init(cw_throttle *t, int free_tries, int most)
{
    memset(t, 0, sizeof *t);
    t->free_tries = free_tries;
    t->most = most;
}

int cw_throttle_left(const cw_throttle *t, const char *whom, int64_t ticks)
{
    int64_t until = t->slots[hash(whom) % CW_THROTTLE_SLOTS].until;
    return until > ticks ? (int)((until - ticks + 999) / 1000) : 0;
}

bool cw_throttle_count(cw_throttle *t, const char *whom, int64_t ticks)
{
    uint64_t h = hash(whom);
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
    uint64_t h = hash(whom);
    int i = (int)(h % CW_THROTTLE_SLOTS);
    if (t->slots[i].whom != h)
        return;
    t->slots[i].tries = 0;
    t->slots[i].until = 0;
}

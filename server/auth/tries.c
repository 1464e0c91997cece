/* SPDX-License-Identifier: MIT */
#include "auth/tries.h"

#include <stdio.h>

#include "base/limits.h"

#include "base/banned.h"

typedef char slot_text[CW_MAX_NAME + 80];

void cw_tries_init(cw_tries *t)
{
    *t = (cw_tries){ 0 };
    cw_throttle_init(&t->pairs, 5, 60);
    cw_throttle_init(&t->names, 30, 60);
    cw_throttle_init(&t->addresses, 20, 300);
    cw_throttle_init(&t->codes, 5, 60);
}

static bool in_session(const cw_try *t)
{
    return t->session && t->session[0] && !t->code;
}

/* Of the session, or of name and address: neither can be taken for the other, no address begins with a blank. */
static void pair_of(const cw_try *t, slot_text out)
{
    if (in_session(t))
        snprintf(out, sizeof(slot_text), " %s", t->session);
    else
        snprintf(out, sizeof(slot_text), "%s %s", t->address, t->name);
}

static bool is_known_place(const cw_tries *d, const char *pair)
{
    uint64_t h = cw_throttle_hash(&d->pairs, pair);
    return d->places[h % KNOWN_PLACES] == h;
}

static int longer(int a, int b)
{
    return a > b ? a : b;
}

static int wait_of(const cw_tries *d, const cw_try *t, int64_t ticks)
{
    slot_text pair;
    int address = cw_throttle_left(&d->addresses, t->address, ticks);
    if (t->code)
        return longer(cw_throttle_left(&d->codes, t->name, ticks), address);
    pair_of(t, pair);
    int own = cw_throttle_left(&d->pairs, pair, ticks);
    if (in_session(t))
        return own;
    int name = is_known_place(d, pair) ? 0 : cw_throttle_left(&d->names, t->name, ticks);
    return longer(longer(own, name), address);
}

static bool count(cw_tries *d, const cw_try *t, int64_t ticks)
{
    slot_text pair;
    if (!in_session(t) && t->code) {
        bool code = cw_throttle_count(&d->codes, t->name, ticks);
        return cw_throttle_count(&d->addresses, t->address, ticks) || code;
    }
    pair_of(t, pair);
    bool waits = cw_throttle_count(&d->pairs, pair, ticks);
    if (in_session(t))
        return waits;
    if (!is_known_place(d, pair))
        waits = cw_throttle_count(&d->names, t->name, ticks) || waits;
    return cw_throttle_count(&d->addresses, t->address, ticks) || waits;
}

static void pass(cw_tries *d, const cw_try *t)
{
    slot_text pair;
    if (t->code) {
        cw_throttle_clear(&d->codes, t->name);
        return;
    }
    pair_of(t, pair);
    cw_throttle_clear(&d->pairs, pair);
    if (in_session(t))
        return;
    uint64_t h = cw_throttle_hash(&d->pairs, pair);
    d->places[h % KNOWN_PLACES] = h;
}

int cw_throttle_wait(cw_door *d, const cw_try *t, int64_t ticks)
{
    int seconds = wait_of(cw_door_tries_lock(d), t, ticks);
    cw_door_tries_unlock(d);
    return seconds;
}

bool cw_throttle_failed(cw_door *d, const cw_try *t, int64_t ticks)
{
    bool waits = count(cw_door_tries_lock(d), t, ticks);
    cw_door_tries_unlock(d);
    return waits;
}

void cw_throttle_passed(cw_door *d, const cw_try *t)
{
    pass(cw_door_tries_lock(d), t);
    cw_door_tries_unlock(d);
}

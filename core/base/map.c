/* SPDX-License-Identifier: MIT */
#include "base/map.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define SMALL_ROOM 256

struct cw_map_slot {
    uint64_t hash;
    size_t offset, length; /* of the key in `keys` */
    int64_t value;
    bool taken;
};

/* FNV-1a over the bytes, then a mix so that the low bits, which choose the slot, depend on all of them. */
static uint64_t hash_of(const void *key, size_t n)
{
    const unsigned char *s = key;
    uint64_t h = 1469598103934665603u;
    for (size_t i = 0; i < n; i++)
        h = (h ^ s[i]) * 1099511628211u;
    h ^= h >> 32;
    return h * 0x9E3779B97F4A7C15u ^ h >> 29;
}

/* The slot of the key, or the free slot where it belongs. There is always a free one. */
static struct cw_map_slot *seek(const cw_map *m, uint64_t hash, const void *key, size_t n)
{
    size_t i = hash & (m->room - 1);
    for (;; i = (i + 1) & (m->room - 1)) {
        struct cw_map_slot *s = &m->slots[i];
        if (!s->taken ||
            (s->hash == hash && s->length == n && (n == 0 || memcmp(m->keys + s->offset, key, n) == 0)))
            return s;
    }
}

static bool grow_slots(cw_map *m)
{
    cw_map bigger = *m;
    if (2 * (m->used + 1) <= m->room)
        return true;
    bigger.room = m->room ? m->room * 2 : 64;
    bigger.slots = calloc(bigger.room, sizeof *bigger.slots);
    if (bigger.slots == NULL)
        return false;
    for (size_t i = 0; i < m->room; i++) {
        const struct cw_map_slot *s = &m->slots[i];
        if (s->taken)
            *seek(&bigger, s->hash, m->keys + s->offset, s->length) = *s;
    }
    free(m->slots);
    *m = bigger;
    return true;
}

static bool grow_keys(cw_map *m, size_t n)
{
    if (m->keys_used + n <= m->keys_room)
        return true;
    size_t room = m->keys_room ? m->keys_room : 1024;
    while (room < m->keys_used + n)
        room *= 2;
    char *keys = realloc(m->keys, room);
    if (keys == NULL)
        return false;
    m->keys = keys;
    m->keys_room = room;
    return true;
}

int64_t *cw_map_put(cw_map *m, const void *key, size_t n, bool *is_new)
{
    uint64_t hash = hash_of(key, n);
    if (!grow_slots(m) || !grow_keys(m, n))
        return NULL;
    struct cw_map_slot *s = seek(m, hash, key, n);
    if (is_new)
        *is_new = !s->taken;
    if (!s->taken) {
        *s = (struct cw_map_slot){ hash, m->keys_used, n, 0, true };
        if (n > 0)
            memcpy(m->keys + m->keys_used, key, n);
        m->keys_used += n;
        m->used++;
    }
    return &s->value;
}

const int64_t *cw_map_get(const cw_map *m, const void *key, size_t n)
{
    if (m->room == 0)
        return NULL;
    const struct cw_map_slot *s = seek(m, hash_of(key, n), key, n);
    return s->taken ? &s->value : NULL;
}

void cw_map_clear(cw_map *m)
{
    if (m->room > SMALL_ROOM) {
        cw_map_free(m);
        return;
    }
    for (size_t i = 0; i < m->room && m->used > 0; i++)
        m->slots[i].taken = false;
    m->used = m->keys_used = 0;
}

void cw_map_free(cw_map *m)
{
    free(m->slots);
    free(m->keys);
    *m = (cw_map){ 0 };
}

/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_FUZZ_ARENA_H
#define CW_TESTS_FUZZ_ARENA_H

/* Memory for SQLite from one block, by powers of two: where a target opens a database for each input, the sanitizer's
 * allocator would take most of the time. What is not given back shows in arena_out. A damaged file can ask for a hundred
 * megabytes at once: large blocks come from malloc, so that they do not stay with the arena, and above 256 MB there is no
 * memory, as on a small machine. */
#include "must.h"

#include <sqlite3.h>
#include <stdlib.h>
#include <string.h>

#define ARENA_BYTES   ((size_t)256 << 20)
#define ARENA_CLASSES 21 /* blocks of the arena are smaller than 2 to this; */
#define ARENA_LARGEST 28 /* larger ones are the allocator's, up to 2 to this */
#define ARENA_HEAD    16
#define ARENA_PLAIN   __attribute__((no_sanitize("address", "undefined", "coverage")))

static struct {
    unsigned char *bytes;
    size_t used;
    void *free[ARENA_CLASSES];
    long out;
} arena;

ARENA_PLAIN static unsigned arena_class(int n)
{
    return n <= 16 ? 5 : 32 - (unsigned)__builtin_clz((unsigned)n + ARENA_HEAD - 1);
}

ARENA_PLAIN static void *arena_malloc(int n)
{
    unsigned c = arena_class(n);
    unsigned char *block = c < ARENA_CLASSES ? arena.free[c] : NULL;
    if (c > ARENA_LARGEST)
        return NULL;
    if (c >= ARENA_CLASSES) {
        block = malloc((size_t)1 << c);
        must(block != NULL);
    } else if (block) {
        memcpy(&arena.free[c], block + ARENA_HEAD, sizeof(void *));
    } else {
        must(arena.used + ((size_t)1 << c) <= ARENA_BYTES);
        block = arena.bytes + arena.used;
        arena.used += (size_t)1 << c;
    }
    memcpy(block, &c, sizeof c);
    arena.out++;
    return block + ARENA_HEAD;
}

ARENA_PLAIN static void arena_free(void *p)
{
    unsigned c = 0;
    if (p == NULL)
        return;
    memcpy(&c, (unsigned char *)p - ARENA_HEAD, sizeof c);
    arena.out--;
    if (c >= ARENA_CLASSES) {
        free((unsigned char *)p - ARENA_HEAD);
        return;
    }
    memcpy(p, &arena.free[c], sizeof(void *));
    arena.free[c] = (unsigned char *)p - ARENA_HEAD;
}

ARENA_PLAIN static int arena_size(void *p)
{
    unsigned c = 0;
    if (p == NULL)
        return 0;
    memcpy(&c, (unsigned char *)p - ARENA_HEAD, sizeof c);
    return (1 << c) - ARENA_HEAD;
}

ARENA_PLAIN static void *arena_realloc(void *p, int n)
{
    int had = arena_size(p);
    if (had >= n)
        return p;
    void *q = arena_malloc(n);
    if (q == NULL)
        return NULL;
    memcpy(q, p, (size_t)had);
    arena_free(p);
    return q;
}

ARENA_PLAIN static int arena_roundup(int n)
{
    unsigned c = arena_class(n);
    return c > ARENA_LARGEST ? n : (1 << c) - ARENA_HEAD;
}

static int arena_init(void *unused)
{
    (void)unused;
    return SQLITE_OK;
}

static void arena_end(void *unused)
{
    (void)unused;
}

/* Blocks that SQLite has taken and not given back. */
static inline long arena_out(void)
{
    return arena.out;
}

static inline void arena_install(void)
{
    static sqlite3_mem_methods methods = { arena_malloc,  arena_free, arena_realloc, arena_size,
                                           arena_roundup, arena_init, arena_end,     NULL };
    arena.bytes = malloc(ARENA_BYTES);
    must(arena.bytes != NULL && sqlite3_config(SQLITE_CONFIG_MALLOC, &methods) == SQLITE_OK);
}

#endif

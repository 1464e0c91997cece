/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_FUZZ_ARENA_H
#define CW_TESTS_FUZZ_ARENA_H

/* Memory for SQLite from one block, by powers of two: where a target opens a database for each input, the sanitizer's
 * allocator would take most of the time. What is not given back shows in arena_out. */
#include "must.h"

#include <sqlite3.h>
#include <string.h>

#define ARENA_BYTES   ((size_t)256 << 20)
#define ARENA_CLASSES 28
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
    unsigned c = n <= 16 ? 5 : 32 - (unsigned)__builtin_clz((unsigned)n + ARENA_HEAD - 1);
    must(c < ARENA_CLASSES);
    return c;
}

ARENA_PLAIN static void *arena_malloc(int n)
{
    unsigned c = arena_class(n);
    unsigned char *block = arena.free[c];
    if (block) {
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
    memcpy(p, &arena.free[c], sizeof(void *));
    arena.free[c] = (unsigned char *)p - ARENA_HEAD;
    arena.out--;
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
    memcpy(q, p, (size_t)had);
    arena_free(p);
    return q;
}

ARENA_PLAIN static int arena_roundup(int n)
{
    return (1 << arena_class(n)) - ARENA_HEAD;
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

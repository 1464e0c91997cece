/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_GIVING_OUT_H
#define CW_TESTS_SUPPORT_GIVING_OUT_H

/* The n-th step of the database, or the n-th of its allocations, gives out while something is done: the call says so,
 * nothing of it stays, and everything that must hold still holds. n grows until the call gets through. Inline, as in
 * support/nursery.h. */
#include "support/nursery.h"

#include "store/db_inside.h"

typedef struct giving_out {
    const char *name;
    void (*set_up)(test_nursery *t);
    cw_code (*run)(test_nursery *t, cw_error *err);
    int64_t (*traces)(test_nursery *t); /* a sum over everything that it could leave behind */
    long least_allocations;             /* places that there are at least */
} giving_out;

#define GIVING_OUT_LEAST_STEPS 16

/* SQLite's own allocator with a count-down. Installed before the first connection, as a group's set-up. */
static struct {
    sqlite3_mem_methods plain;
    long left; /* -1: never fails */
} giving_out_memory = { .left = -1 };

static inline bool giving_out_now(void)
{
    if (giving_out_memory.left == 0)
        return true;
    giving_out_memory.left -= giving_out_memory.left > 0;
    return false;
}

static void *giving_out_malloc(int n)
{
    return giving_out_now() ? NULL : giving_out_memory.plain.xMalloc(n);
}

static void *giving_out_realloc(void *p, int n)
{
    return giving_out_now() ? NULL : giving_out_memory.plain.xRealloc(p, n);
}

static inline int giving_out_install(void **state)
{
    sqlite3_mem_methods mine;
    (void)state;
    if (sqlite3_config(SQLITE_CONFIG_GETMALLOC, &giving_out_memory.plain) != SQLITE_OK)
        return -1;
    mine = giving_out_memory.plain;
    mine.xMalloc = giving_out_malloc;
    mine.xRealloc = giving_out_realloc;
    return sqlite3_config(SQLITE_CONFIG_MALLOC, &mine) == SQLITE_OK ? 0 : -1;
}

/* Grows with each commit: while it stands, so do all rows. */
static inline unsigned giving_out_version(test_nursery *t)
{
    unsigned version = 0;
    assert_int_equal(sqlite3_file_control(t->n->db->raw, "main", SQLITE_FCNTL_DATA_VERSION, &version),
                     SQLITE_OK);
    return version;
}

/* After a failure: told, nothing left, all rules kept. */
static inline void is_as_before(test_nursery *t, cw_code code, const cw_error *err, int64_t traces,
                                int64_t before)
{
    assert_int_equal(code, CW_MACHINE);
    assert_string_not_equal(err->text, "");
    assert_true(sqlite3_get_autocommit(t->n->db->raw));
    assert_int_equal(traces, before);
}

/* Stops once: what takes the transaction back must get through. */
static int giving_out_step(void *left)
{
    return --*(long *)left == -1;
}

static inline cw_code giving_out_once(test_nursery *t, const giving_out *w, long n, bool steps)
{
    cw_error err = CW_ERROR_NONE;
    long left = n;
    int64_t before = w->traces(t);
    unsigned version = giving_out_version(t);
    if (steps)
        sqlite3_progress_handler(t->n->db->raw, 1, giving_out_step, &left);
    else
        giving_out_memory.left = n;
    cw_code code = w->run(t, &err);
    giving_out_memory.left = -1;
    sqlite3_progress_handler(t->n->db->raw, 0, NULL, NULL);
    /* The database counts a COMMIT's last step after it is on the disk; stopped there, all of it stands. */
    if (steps && strcmp(err.text, "writing to the disk: given up as asked; nothing was changed") == 0 &&
        w->traces(t) != before)
        return CW_OK;
    if (code != CW_OK)
        is_as_before(t, code, &err, w->traces(t), before);
    if (code != CW_OK && giving_out_version(t) != version)
        test_nursery_check(t);
    return code;
}

/* The next place to try. Steps are many; and under the sanitizers each place costs several times as much, while the release build has
 * tried every allocation, so that both go on in ever larger strides. */
static inline long giving_out_next(long n, bool steps)
{
#ifdef __SANITIZE_ADDRESS__
    return n + 1 + n / (steps ? 12 : 40);
#else
    return n + 1 + (steps ? n / 12 : 0);
#endif
}

static inline void give_out_everywhere(const giving_out *works, size_t count, bool steps)
{
    for (size_t i = 0; i < count; i++) {
        const giving_out *w = &works[i];
        test_nursery t;
        long failures = 0;
        test_nursery_make(&t);
        w->set_up(&t);
        test_nursery_check(&t);
        for (long n = 0; giving_out_once(&t, w, n, steps) != CW_OK; n = giving_out_next(n, steps))
            failures++;
        print_message("%s: %ld %s failed in turn\n", w->name, failures, steps ? "steps" : "allocations");
        assert_true(failures >= (steps ? GIVING_OUT_LEAST_STEPS : w->least_allocations));
        test_nursery_check(&t);
        test_nursery_free(&t);
    }
}

#endif

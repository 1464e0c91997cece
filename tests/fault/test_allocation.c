/* SPDX-License-Identifier: MIT */
/* Every function of the desks while memory ends: the n-th allocation is refused, of our own code and jansson's, of the
 * database's, or of both and all after it; and the n-th step of the database is stopped, or its n-th statement as it begins: each of
 * them, so that no function can pass over how one ended. Whatever n, the call either gives the answer
 * that it gives with memory in plenty, or says CW_MACHINE with a sentence and leaves the file as it was, row by row. Nothing is kept
 * that was taken, and everything that must hold still holds. Under AddressSanitizer leaks and strays are faults too.
 *
 * CW_FAULT_MOST=n tries up to n places of each (0: every one); CW_FAULT_CALL=name only that call, CW_FAULT_MODE=statements (or
 * another of the modes) only that. */
#include "desk_calls.h"

#include <math.h>
#include <sqlite3.h>
#include <time.h>
#include "store/db_inside.h"
#include "store/snapshot.h"

#include "base/banned.h"

typedef struct mode {
    const char *name;
    unsigned whose; /* 0: steps of the database instead of allocations */
    bool ever;
    long most;
    bool statements; /* instead of steps: the first step of a statement */
} mode;

/* How many places are tried of each call; the sanitizers make each several times as slow. */
#ifdef __SANITIZE_ADDRESS__
#define MOST(n) (((n) + 3) / 4)
#else
#define MOST(n) (n)
#endif
static const mode modes[] = {
    { "ours", FAILING_OURS, false, MOST(12) },
    { "the database's", FAILING_DATABASE, false, MOST(8) },
#ifndef __SANITIZE_ADDRESS__ /* what these find shows in answers and files, not in memory */
    { "all from there on", FAILING_OURS | FAILING_DATABASE, true, MOST(6) },
    { "steps", 0, false, MOST(6) },
    { "statements", 0, false, MOST(16), true },
#endif
};
#define MODES (sizeof modes / sizeof modes[0])

/* ---- The database's allocator ---- */
static sqlite3_mem_methods plain;

static void *database_malloc(int n)
{
    return failing_now(FAILING_DATABASE) ? NULL : plain.xMalloc(n);
}

static void *database_realloc(void *p, int n)
{
    return failing_now(FAILING_DATABASE) ? NULL : plain.xRealloc(p, n);
}

/* ---- The file before and after ---- */
static uint64_t mix(uint64_t h, const void *bytes, size_t n)
{
    const unsigned char *s = bytes;
    for (size_t i = 0; i < n; i++)
        h = (h ^ s[i]) * 1099511628211u;
    return h;
}

static uint64_t rows_of(sqlite3 *raw, const char *table, uint64_t h)
{
    char sql[200];
    sqlite3_stmt *s = NULL;
    snprintf(sql, sizeof sql, "SELECT * FROM \"%s\"", table);
    assert_int_equal(sqlite3_prepare_v2(raw, sql, -1, &s, NULL), SQLITE_OK);
    while (sqlite3_step(s) == SQLITE_ROW)
        for (int c = 0; c < sqlite3_column_count(s); c++) {
            int type = sqlite3_column_type(s, c);
            const void *bytes = sqlite3_column_blob(s, c);
            h = mix(h, &type, sizeof type);
            if (bytes)
                h = mix(h, bytes, (size_t)sqlite3_column_bytes(s, c));
        }
    sqlite3_finalize(s);
    return h;
}

/* Of every row of every table. */
static uint64_t file_sum(work *w)
{
    sqlite3 *raw = w->t.n->db->raw;
    sqlite3_stmt *s = NULL;
    uint64_t h = 1469598103934665603u;
    assert_int_equal(sqlite3_prepare_v2(
                         raw,
                         "SELECT name FROM sqlite_schema WHERE type = 'table' AND rootpage > 0 ORDER BY name",
                         -1, &s, NULL),
                     SQLITE_OK);
    while (sqlite3_step(s) == SQLITE_ROW) {
        const char *table = (const char *)sqlite3_column_text(s, 0);
        h = rows_of(raw, table, mix(h, table, strlen(table)));
    }
    sqlite3_finalize(s);
    return h;
}

/* Differs when something was committed since, by whomever. */
static unsigned version_of(sqlite3 *raw)
{
    unsigned version = 0;
    /* The others' work is seen when something is read. */
    assert_int_equal(sqlite3_exec(raw, "SELECT 1 FROM sqlite_schema LIMIT 1", NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_file_control(raw, "main", SQLITE_FCNTL_DATA_VERSION, &version), SQLITE_OK);
    return version;
}

/* What must always hold is asked once of each state: a call that failed has left the rows as they were, which held. */
static void check_new_state(work *w, uint64_t sum)
{
    static uint64_t held[1024]; /* the newest, in turn */
    static size_t next;
    for (size_t i = 0; i < sizeof held / sizeof held[0]; i++)
        if (held[i] == sum)
            return;
    test_nursery_check(&w->t);
    held[next++ % (sizeof held / sizeof held[0])] = sum;
}

static struct {
    char *bytes;
    size_t length;
    uint64_t sum;
} original;

static uint64_t sum_now; /* of the file as the last try left it */

static void put_back(work *w)
{
    cw_error err = CW_ERROR_NONE;
    char path[128];
    cw_nursery_close(w->t.n);
    snprintf(path, sizeof path, "%s-wal", w->t.path);
    unlink(path);
    snprintf(path, sizeof path, "%s-shm", w->t.path);
    unlink(path);
    FILE *f = fopen(w->t.path, "wb");
    assert_non_null(f);
    assert_int_equal(fwrite(original.bytes, 1, original.length, f), original.length);
    fclose(f);
    cw_check_ok(cw_nursery_open(w->t.path, CW_WORK, "test", &w->t.n, &err), &err);
    sum_now = original.sum;
}

static void keep_original(work *w)
{
    cw_error err = CW_ERROR_NONE;
    cw_nursery_close(w->t.n);
    FILE *f = fopen(w->t.path, "rb");
    assert_non_null(f);
    fseek(f, 0, SEEK_END);
    original.length = (size_t)ftell(f);
    rewind(f);
    original.bytes = malloc(original.length);
    assert_int_equal(fread(original.bytes, 1, original.length, f), original.length);
    fclose(f);
    cw_check_ok(cw_nursery_open(w->t.path, CW_WORK, "test", &w->t.n, &err), &err);
    original.sum = file_sum(w);
}

/* ---- One try ---- */
typedef struct
try {
    cw_code code;
    uint64_t before, after;
    long count, hits, kept; /* kept: blocks taken and not given back */
    char said[768], stopped[80];
}
try;

typedef struct stepping {
    long seen, at;
    bool statements;
    char text[80]; /* of the statement that was stopped */
} stepping;

static int step(void *self)
{
    stepping *s = self;
    return s->statements ? s->seen - 1 == s->at : s->seen++ == s->at;
}

static int statement_begins(unsigned what, void *self, void *statement, void *text)
{
    stepping *s = self;
    (void)what;
    (void)statement;
    if (strncmp(text, "--", 2) != 0 && s->seen++ == s->at) /* a trigger's are within another's */
        cw_copy(s->text, sizeof s->text, text);
    return 0;
}

/* What was computed from the file is kept for the next call, rightly; here each call starts without. */
static void forget_computed(work *w)
{
    cw_snap_kept_free(&w->t.n->kept); /* what past seasons taught and what stood, as last read */
    if (w->t.n->cache)
        w->t.n->cache_free(w->t.n->cache);
    w->t.n->cache = NULL;
    if (w->t.n->demand)
        w->t.n->demand_free(w->t.n->demand);
    w->t.n->demand = NULL;
    if (w->t.n->beds)
        w->t.n->beds_free(w->t.n->beds);
    w->t.n->beds = NULL;
    if (w->t.n->shop)
        w->t.n->shop_free(w->t.n->shop);
    w->t.n->shop = NULL;
    if (w->t.n->spare)
        w->t.n->spare_free(w->t.n->spare);
    w->t.n->spare = NULL;
}

static void run(work *w, const desk_call *c, const mode *m, long n, try *out)
{
    cw_error err = CW_ERROR_NONE;
    stepping steps = { 0, n, m->statements };
    sqlite3 *raw = w->t.n->db->raw;
    failing_arm(0, -1,
                false); /* what comes before has all it wants, though it be a call that is tried, too */
    if (c->before)
        c->before(w);
    forget_computed(w);
    cw_text_free(&w->answer);
    out->before = c->before ? file_sum(w) : sum_now;
    unsigned version = version_of(raw);
    out->kept = failing_outstanding();
    failing_arm(m->whose, n, m->ever);
    if (m->whose == 0)
        sqlite3_progress_handler(raw, 1, step, &steps);
    if (m->statements)
        sqlite3_trace_v2(raw, SQLITE_TRACE_STMT, statement_begins, &steps);
    out->code = c->call(w, &err);
    sqlite3_progress_handler(raw, 0, NULL, NULL);
    sqlite3_trace_v2(raw, 0, NULL, NULL);
    forget_computed(w);
    out->kept = failing_outstanding() - out->kept - (w->answer.data != NULL);
    out->count = m->whose ? failing_count() : steps.seen;
    out->hits = m->whose ? failing_hits() : n >= 0 && steps.seen > n;
    assert_true(sqlite3_get_autocommit(raw));
    /* Adding up all rows costs more than most calls: only where something may have changed. */
    bool committed = version_of(raw) != version;
    out->after = sum_now = committed || n < 0 ? file_sum(w) : out->before;
    assert_true(committed || out->after == out->before);
    cw_copy(out->said, sizeof out->said, err.text);
    cw_copy(out->stopped, sizeof out->stopped, steps.text);
}

/* The places to try: all of the first, then ever farther apart. */
static long next_place(long n, long all, long most)
{
    long dense = most / 2;
    if (most == 0 || all <= most || n < dense)
        return n + 1;
    double growth = pow((double)all / (double)dense, 1.0 / (double)(most - dense));
    long next = (long)ceil((double)(n + 1) * growth);
    return next > n ? next : n + 1;
}

static bool judge(work *w, const desk_call *c, const mode *m, long n, const try *plenty, const char *answer,
                  const try *t)
{
    const char *what = NULL;
    /* The database counts a COMMIT's last step after it is on the disk; stopped there, all of it stands. */
    bool committed =
        m->whose == 0 && strcmp(t->said, "writing to the disk: given up as asked; nothing was changed") == 0;
    if (t->code != CW_OK && t->code != CW_MACHINE)
        what = "neither the answer nor CW_MACHINE";
    else if (t->code == CW_MACHINE && t->hits == 0)
        what = "an error without a cause";
    else if (t->code == CW_MACHINE && t->said[0] == '\0')
        what = "an error without a sentence";
    else if (t->code == CW_MACHINE && t->after != t->before &&
             !(committed && (c->random || t->after == plenty->after)))
        what = "an error, yet the file changed";
    else if (t->code == CW_OK && !c->random && t->after != plenty->after)
        what = "said to be done, yet the file is another";
    else if (t->code == CW_OK && strcmp(w->answer.data ? w->answer.data : "", answer) != 0)
        what = "another answer than with memory in plenty";
    else if (t->kept != 0)
        what = "memory is kept";
    if (what) {
        print_error("%s, place %ld of %ld, %s: %s (code %d, %ld refused, %ld blocks kept): %s %s\n", c->name,
                    n, plenty->count, m->name, what, t->code, t->hits, t->kept, t->said, t->stopped);
        const char *got = w->answer.data ? w->answer.data : "";
        size_t at = 0;
        while (got[at] && got[at] == answer[at])
            at++;
        if (t->code == CW_OK && got[at] != answer[at])
            print_error("  from byte %zu: want %.200s\n  got %.200s\n", at, answer + at, got + at);
    }
    return what == NULL;
}

static long most_of(const desk_call *c, const mode *m)
{
    const char *asked = getenv("CW_FAULT_MOST");
    if (asked)
        return strtol(asked, NULL, 10);
    if (m->statements)
        return 2 * c->most; /* of what costs little each */
    return c->most && c->most < m->most ? c->most : m->most;
}

/* Adds up the places that were made to fail, and those at which something was wrong. */
static void fail_all(work *w, const desk_call *c, const mode *m, long *all_failed, long *wrong)
{
    try plenty = { 0 };
    long failed = 0, done = 0;
    put_back(w);
    run(w, c, m, -1, &plenty);
    char *answer = strdup(w->answer.data ? w->answer.data : "");
    *wrong += !judge(w, c, m, -1, &plenty, answer, &plenty);
    bool dirty = true;
    if (c->before == NULL && plenty.after == plenty.before) { /* and the same again */
        try again = { 0 };
        run(w, c, m, -1, &again);
        *wrong += !judge(w, c, m, -2, &plenty, answer, &again);
    }
    for (long n = 0; n < plenty.count; n = next_place(n, plenty.count, most_of(c, m))) {
        try t = { 0 };
        if (dirty)
            put_back(w);
        run(w, c, m, n, &t);
        *wrong += !judge(w, c, m, n, &plenty, answer, &t);
        check_new_state(w, t.after);
        dirty = c->before != NULL || t.after != t.before;
        failed += t.code != CW_OK;
        done++;
    }
    if (getenv("CW_FAULT_SHOW"))
        print_message("%s, %s: %ld places, %ld tried, %ld failed\n", c->name, m->name, plenty.count, done,
                      failed);
    free(answer);
    *all_failed += failed;
}

static double seconds(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

static void every_desk_in_turn(void **state)
{
    const mode *m = *state;
    const char *only = getenv("CW_FAULT_CALL"), *only_mode = getenv("CW_FAULT_MODE");
    if (only_mode && strcmp(only_mode, m->name) != 0)
        skip();
    work w = { .answer = CW_TEXT((size_t)16 << 20) };
    long failed = 0, wrong = 0, calls = 0;
    double start = seconds();
    failing_pause(); /* whatever became of the mode before */
    season_make(&w.t);
    keep_original(&w);
    for (size_t k = 0; k < DESK_TABLES; k++)
        for (size_t c = 0; c < desk_tables[k].count; c++) {
            const desk_call *call = &desk_tables[k].calls[c];
            double t = seconds();
            if (only && strcmp(only, call->name) != 0)
                continue;
            fail_all(&w, call, m, &failed, &wrong);
            calls++;
            if (getenv("CW_FAULT_SHOW"))
                print_message("  %.2f s\n", seconds() - t);
        }
    print_message("%s: %ld calls, refused in turn at places that made %ld fail, %.0f s\n", m->name, calls,
                  failed, seconds() - start);
    assert_true(only || failed > 0);
    assert_int_equal(wrong, 0);
    cw_text_free(&w.answer);
    free(original.bytes);
    test_nursery_free(&w.t);
}

int main(void)
{
    struct CMUnitTest tests[MODES + 1] = { cmocka_unit_test(no_desk_function_is_missing) };
    sqlite3_mem_methods mine;
    if (sqlite3_config(SQLITE_CONFIG_GETMALLOC, &plain) != SQLITE_OK)
        return 2;
    mine = plain;
    mine.xMalloc = database_malloc;
    mine.xRealloc = database_realloc;
    if (sqlite3_config(SQLITE_CONFIG_MALLOC, &mine) != SQLITE_OK)
        return 2;
    failing_install();
    for (size_t i = 0; i < MODES; i++)
        tests[i + 1] = (struct CMUnitTest){ modes[i].name, every_desk_in_turn, NULL, NULL,
                                            (void *)(uintptr_t)&modes[i] };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

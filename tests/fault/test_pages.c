/* SPDX-License-Identifier: MIT */
/* Two pages of the nursery file are swapped between tables: each is well formed, and each row is read as another table's. Or all
 * numbers of a column are as small or as large as cw_shape_holds lets them be (store/shape.c). Or a column that must hold something
 * holds nothing, or a text where a number belongs. Every function of the desks is then called on it, in a process of its own. It may
 * answer or refuse as it likes, but it must not crash, trip a sanitizer, or compute for more than five seconds.
 *
 * CW_SEED repeats a run; CW_PAGE_SWAPS=n tries n swaps (10 unless told; 2,000 in the slow tier, scripts/damage), CW_NUMBERS=n so
 * many columns at one of their edges (5 unless told; all: every one at each), CW_KINDS=n so many columns with nothing or another
 * kind in them (5 unless told; all: every one with each); CW_NUMBER=table.column only that of both;
 * CW_FAULT_CALL=name only that call; CW_FAULT_SHOW says more. */
#include "desk_calls.h"
#include "support/rounds.h"
#include "support/full.h"
#include "support/original.h"
#include "support/unasked.h"

#include "base/rng.h"
#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <sys/mman.h>
#include <sys/time.h>
#include <sys/wait.h>

#include "base/banned.h"

#define SECONDS 5
/* How many columns are tried unless told, and twice as many swaps: what is read beside a block shows under the sanitizers only, so most
 * of the time is theirs. scripts/damage tries thousands. */
#ifdef __SANITIZE_ADDRESS__
#define FEW 3
#else
#define FEW 2
#endif
#define ASSERTION 255 /* how cmocka ends a process in which no test runs */

extern char **environ;

const char *__asan_default_options(void);
const char *__asan_default_options(void)
{
    return "exitcode=99:allocator_may_return_null=1:max_allocation_size_mb=2000:detect_leaks=0";
}

const char *__ubsan_default_options(void);
const char *__ubsan_default_options(void);
const char *__ubsan_default_options(void)
{
    return "exitcode=99:print_stacktrace=1";
}

/* ---- The child: calls from number `first` on, telling which it is at ---- */
static const desk_call *call_of(long number)
{
    for (size_t k = 0; k < DESK_TABLES; k++) {
        if (number < (long)desk_tables[k].count)
            return &desk_tables[k].calls[number];
        number -= (long)desk_tables[k].count;
    }
    return NULL;
}

static long *shared(const char *path)
{
    int fd = open(path, O_RDWR | O_CREAT, 0600);
    if (fd < 0 || ftruncate(fd, sizeof(long)) != 0)
        exit(2);
    long *at = mmap(NULL, sizeof(long), PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
    close(fd);
    return at == MAP_FAILED ? NULL : at;
}

static void time_begins(void)
{
    /* Of the processor, so that a busy machine is not taken for a hang; and of the clock, for what only waits. */
    setitimer(ITIMER_PROF, &(struct itimerval){ .it_value = { SECONDS, 0 } }, NULL);
    alarm(60);
}

static int run_calls(const char *path, long first)
{
    char at_path[160];
    const char *only = getenv("CW_FAULT_CALL");
    cw_error err = CW_ERROR_NONE;
    work w = { .answer = CW_TEXT((size_t)16 << 20) };
    snprintf(at_path, sizeof at_path, "%s.at", path);
    long *at = shared(at_path);
    snprintf(w.t.path, sizeof w.t.path, "%s", path);
    snprintf(w.t.folder, sizeof w.t.folder, "%.*s", (int)(strrchr(path, '/') - path), path);
    failing_pause();
    time_begins();
    *at = first - 1;
    if (cw_nursery_open(path, CW_WORK, "test", &w.t.n, &err) != CW_OK)
        return 0;
    for (long i = first; call_of(i); i++) {
        const desk_call *c = call_of(i);
        if (only && strcmp(only, c->name) != 0)
            continue;
        w.t.who =
            (cw_asker){ .actor = "tester", .role = CW_ROLE_OWNER, .today = cw_day_from_ymd(2032, 2, 1) };
        w.t.who.now = w.t.who.clock = w.t.who.today * CW_DAY_MS + 43200000;
        err = (cw_error)CW_ERROR_NONE;
        *at = i;
        time_begins();
        if (c->before)
            c->before(&w);
        cw_code code = c->call(&w, &err);
        (void)code; /* whatever it answers */
        cw_text_free(&w.answer);
    }
    *at = first - 1;
    cw_nursery_close(w.t.n);
    return 0;
}

/* ---- The parent ---- */
typedef struct leaf {
    int64_t page;
    int kind; /* of its b-tree: table or index */
    char tree[64];
} leaf;

typedef struct damage {
    char path[96], at_path[160];
    test_original original;
    leaf *leaves;
    size_t count, page_size;
    long *at;
} damage;

static void find_leaves(damage *d)
{
    sqlite3 *raw = NULL;
    sqlite3_stmt *s = NULL;
    assert_int_equal(sqlite3_open_v2(d->path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(
        sqlite3_prepare_v2(raw,
                           "SELECT name, pageno, pgsize FROM dbstat WHERE pagetype = 'leaf' AND name "
                           "NOT LIKE 'sqlite_schema' ORDER BY pageno",
                           -1, &s, NULL),
        SQLITE_OK);
    while (sqlite3_step(s) == SQLITE_ROW) {
        d->leaves = realloc(d->leaves, (d->count + 1) * sizeof *d->leaves);
        leaf *l = &d->leaves[d->count++];
        l->page = sqlite3_column_int64(s, 1);
        d->page_size = (size_t)sqlite3_column_int64(s, 2);
        l->kind = d->original.bytes[(size_t)(l->page - 1) * d->page_size];
        snprintf(l->tree, sizeof l->tree, "%s", (const char *)sqlite3_column_text(s, 0));
    }
    sqlite3_finalize(s);
    sqlite3_close(raw);
    assert_true(d->count > 40);
}

static void swap_pages(damage *d, const leaf *a, const leaf *b)
{
    test_original_put(&d->original, d->path);
    FILE *f = fopen(d->path, "r+b");
    assert_non_null(f);
    size_t from[2] = { (size_t)(a->page - 1) * d->page_size, (size_t)(b->page - 1) * d->page_size };
    for (int i = 0; i < 2; i++) {
        assert_int_equal(fseek(f, (long)from[i], SEEK_SET), 0);
        assert_int_equal(fwrite(d->original.bytes + from[1 - i], 1, d->page_size, f), d->page_size);
    }
    fclose(f);
}

/* Runs every call on the file as it is; the number of faults. */
static long run_all(damage *d, const char *what)
{
    long faults = 0;
    char first[24];
    for (long next = 0; call_of(next);) {
        int status = 0;
        snprintf(first, sizeof first, "%ld", next);
        char *argv[] = { "test_pages", d->path, first, NULL };
        pid_t pid = 0;
        posix_spawn_file_actions_t actions;
        posix_spawn_file_actions_init(&actions);
        posix_spawn_file_actions_addopen(&actions, 1, "/dev/null", O_WRONLY, 0);
        if (getenv("CW_FAULT_SHOW") == NULL)
            posix_spawn_file_actions_addopen(&actions, 2, "/dev/null", O_WRONLY, 0);
        assert_int_equal(posix_spawn(&pid, "/proc/self/exe", &actions, NULL, argv, environ), 0);
        posix_spawn_file_actions_destroy(&actions);
        assert_int_equal(waitpid(pid, &status, 0), pid);
        if (WIFEXITED(status) && WEXITSTATUS(status) == 0)
            break;
        if (!WIFEXITED(status) || WEXITSTATUS(status) != ASSERTION) {
            const desk_call *c = call_of(*d->at);
            print_error("%s: %s: %s %d\n", what,
                        *d->at < next ? "opening"
                        : c           ? c->name
                                      : "?",
                        WIFSIGNALED(status) ? "signal" : "exit",
                        WIFSIGNALED(status) ? WTERMSIG(status) : WEXITSTATUS(status));
            faults++;
        }
        if (*d->at < next)
            break;
        next = *d->at + 1;
    }
    return faults;
}

/* One file for all tests: each begins with what it was. */
static test_nursery nursery;
static damage damaged;

static int damage_make(void **state)
{
    damage *d = &damaged;
    (void)state;
    (void)no_desk_function_is_missing; /* test_allocation sees to that */
    failing_pause();
    full_make(&nursery);
    cw_nursery_close(nursery.n);
    nursery.n = NULL;
    snprintf(d->path, sizeof d->path, "%s", nursery.path);
    snprintf(d->at_path, sizeof d->at_path, "%s.at", nursery.path);
    d->original = test_original_read(d->path);
    d->at = shared(d->at_path);
    return run_all(d, "the file as it is") != 0;
}

static int damage_free(void **state)
{
    (void)state;
    munmap(damaged.at, sizeof *damaged.at);
    free(damaged.leaves);
    free(damaged.original.bytes);
    test_nursery_free(&nursery);
    return 0;
}

/* What was called has written, and the file may have grown. */
static damage *as_it_was(void)
{
    test_original_put(&damaged.original, damaged.path);
    return &damaged;
}

static void pages_are_swapped_between_tables(void **state)
{
    const char *asked = getenv("CW_PAGE_SWAPS");
    long swaps = asked ? strtol(asked, NULL, 10) : 2 * FEW, faults = 0, done = 0;
    damage *d = as_it_was();
    cw_rng rng;
    (void)state;
    find_leaves(d);
    print_message("%zu leaves\n", d->count);
    cw_rng_init(&rng, test_seed(), 1);
    while (done < swaps) {
        const leaf *a = &d->leaves[cw_rng_below(&rng, (uint32_t)d->count)],
                   *b = &d->leaves[cw_rng_below(&rng, (uint32_t)d->count)];
        char what[200];
        if (a->kind != b->kind || strcmp(a->tree, b->tree) == 0)
            continue;
        snprintf(what, sizeof what, "swap %ld: %s (page %lld) and %s (page %lld)", done, a->tree,
                 (long long)a->page, b->tree, (long long)b->page);
        swap_pages(d, a, b);
        faults += run_all(d, what);
        done++;
    }
    print_message("%ld swaps, %ld faults\n", done, faults);
    assert_int_equal(faults, 0);
}

/* ---- Numbers at the edges of what is let through ---- */
static const int64_t edges[] = { -1000000000, -62091, 0, 1900, 120530, 230053, 1000000000, 9000000000000000 };
#define EDGES (sizeof edges / sizeof edges[0])

/* All of a column, or one row of it where they must differ: no CHECK, no trigger and no reference is asked. */
static void set_numbers(damage *d, const char *table, const char *column, int64_t value)
{
    sqlite3 *raw = NULL;
    char sql[300];
    test_original_put(&d->original, d->path);
    assert_int_equal(sqlite3_open(d->path, &raw), SQLITE_OK);
    sqlite3_db_config(raw, SQLITE_DBCONFIG_ENABLE_TRIGGER, 0, NULL);
    unasked_sql(raw, "PRAGMA foreign_keys = OFF; PRAGMA ignore_check_constraints = ON");
    snprintf(sql, sizeof sql, "UPDATE OR IGNORE \"%s\" SET \"%s\" = %lld", table, column, (long long)value);
    unasked_sql(raw, sql);
    unasked_sql(raw, "PRAGMA wal_checkpoint(TRUNCATE)");
    sqlite3_close(raw);
}

/* "table.column" of every column of the schema of which `which` holds; the caller frees. */
static char (*columns_where(const damage *d, const char *which, size_t *count))[128]
{
    char sql[300];
    sqlite3 *raw = NULL;
    sqlite3_stmt *s = NULL;
    char(*out)[128] = calloc(1000, sizeof *out);
    assert_non_null(out);
    assert_int_equal(sqlite3_open_v2(d->path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    snprintf(
        sql, sizeof sql,
        "SELECT t.name || '.' || c.name FROM sqlite_schema t, pragma_table_info(t.name) c WHERE t.type = "
        "'table' AND t.name NOT LIKE 'sqlite%%' AND %s ORDER BY 1",
        which);
    assert_int_equal(sqlite3_prepare_v2(raw, sql, -1, &s, NULL), SQLITE_OK);
    for (*count = 0; sqlite3_step(s) == SQLITE_ROW && *count < 1000; ++*count)
        snprintf(out[*count], sizeof out[0], "%s", (const char *)sqlite3_column_text(s, 0));
    sqlite3_finalize(s);
    sqlite3_close(raw);
    assert_true(*count > 100 && *count < 1000);
    return out;
}

static long try_number(damage *d, const char *name, size_t way)
{
    const int64_t value = edges[way];
    char table[128], what[200];
    snprintf(table, sizeof table, "%s", name);
    char *column = strchr(table, '.');
    *column++ = '\0';
    set_numbers(d, table, column, value);
    snprintf(what, sizeof what, "%s is %lld", name, (long long)value);
    return run_all(d, what);
}

/* What is tried on columns: `all` in the variable of the environment tries each column with each of `ways`, a number so many that
 * are drawn; CW_NUMBER=table.column that column only. */
typedef struct trial {
    const char *asked, *where, *what;
    uint64_t stream;
    size_t ways;
    long (*one)(damage *, const char *name, size_t way);
} trial;

static void try_columns(const trial *r)
{
    const char *asked = getenv(r->asked), *only = getenv("CW_NUMBER");
    bool all = only || (asked && strcmp(asked, "all") == 0);
    long most = asked && !all ? strtol(asked, NULL, 10) : FEW, faults = 0, done = 0;
    size_t count = 0;
    damage *d = as_it_was();
    cw_rng rng;
    char(*names)[128] = columns_where(d, r->where, &count);
    print_message("%zu columns\n", count);
    cw_rng_init(&rng, test_seed(), r->stream);
    for (size_t c = 0; all && c < count; c++)
        for (size_t w = 0; w < r->ways; w++)
            if (only == NULL || strcmp(only, names[c]) == 0) {
                faults += r->one(d, names[c], w);
                done++;
            }
    for (; !all && done < most; done++) {
        const char *name = names[cw_rng_below(&rng, (uint32_t)count)];
        faults += r->one(d, name, cw_rng_below(&rng, (uint32_t)r->ways));
    }
    print_message("%ld %s, %ld faults\n", done, r->what, faults);
    free(names);
    assert_int_equal(faults, 0);
}

static void numbers_stand_at_the_edges(void **state)
{
    (void)state;
    try_columns(&(trial){ "CW_NUMBERS", "c.type IN ('INTEGER', 'REAL')", "numbers", 2, EDGES, try_number });
}

/* ---- Nothing where something must be, and text where a number must be ---- */
static const char *const kinds[] = { "NULL", "'9223372036854775807 of another kind'" };
#define KINDS (sizeof kinds / sizeof kinds[0])

static long try_kind(damage *d, const char *name, size_t way)
{
    const char *value = kinds[way];
    char table[128], what[200];
    snprintf(table, sizeof table, "%s", name);
    char *column = strchr(table, '.');
    *column++ = '\0';
    test_original_put(&d->original, d->path);
    unasked_put(d->path, table, column, value);
    snprintf(what, sizeof what, "%s is %s", name, value);
    return run_all(d, what);
}

static void kinds_are_not_as_the_schema_asks(void **state)
{
    (void)state;
    try_columns(&(trial){ "CW_KINDS", "c.\"notnull\" AND c.pk = 0", "kinds", 3, KINDS, try_kind });
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(pages_are_swapped_between_tables),
                                        cmocka_unit_test(numbers_stand_at_the_edges),
                                        cmocka_unit_test(kinds_are_not_as_the_schema_asks) };
    if (argc == 3)
        return run_calls(argv[1], strtol(argv[2], NULL, 10));
    failing_install();
    return cmocka_run_group_tests(tests, damage_make, damage_free);
}

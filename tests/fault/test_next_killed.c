/* SPDX-License-Identifier: MIT */
/* The next season's file is being made when the program is killed (SIGKILL) at the n-th write, sync or truncation of the disk.
 * The season's own file is then as it was, or has its closing mark and nothing else, and that only if the new file is whole; a
 * new file that is there agrees with the old one in every sum; and the same command, given again, ends well.
 *
 * CW_KILLS says at how many places (40 unless told, the last ones always); 0: at every one. */
#include "support/disk.h"
#include "support/season.h"

#include "desk/closing/closing.h"
#include <inttypes.h>
#include <signal.h>
#include <sys/wait.h>

#include "base/banned.h"

#define LAST 20 /* places at the end, where names change and the mark is set: each is tried */

typedef struct trial {
    test_nursery t;
    char fresh[120]; /* the next season's file */
    char *bytes;     /* the season's file before */
    size_t length;
    uint64_t rows; /* of all its tables but those that the mark touches */
} trial;

static const char *const ends[] = { "", "-wal", "-shm", ".lock", ".making", ".making-wal", ".making-shm" };

static void sweep(const char *path)
{
    char name[200];
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        snprintf(name, sizeof name, "%s%s", path, ends[i]);
        unlink(name);
    }
}

static void put_back(const trial *x)
{
    sweep(x->t.path);
    sweep(x->fresh);
    FILE *f = fopen(x->t.path, "wbe");
    assert_non_null(f);
    assert_int_equal(fwrite(x->bytes, 1, x->length, f), x->length);
    fclose(f);
}

static sqlite3_stmt *prepared(sqlite3 *raw, const char *sql)
{
    sqlite3_stmt *s = NULL;
    if (sqlite3_prepare_v2(raw, sql, -1, &s, NULL) != SQLITE_OK)
        fail_msg("%s: %s", sql, sqlite3_errmsg(raw));
    return s;
}

static void mix(uint64_t *h, const char *text)
{
    for (; text && *text; text++)
        *h = (*h ^ (unsigned char)*text) * 1099511628211u;
    *h = (*h ^ 0xFF) * 1099511628211u;
}

/* What stands in all tables but those that the mark touches, and how many marks stand. */
static uint64_t rows_of(const char *path, int *marks)
{
    sqlite3 *raw = NULL;
    uint64_t h = 14695981039346656037u;
    char sql[200];
    assert_int_equal(sqlite3_open_v2(path, &raw, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    sqlite3_stmt *tables =
        prepared(raw, "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT IN "
                      "('closing', 'audit', 'nursery') AND name NOT LIKE 'sqlite_%' ORDER BY name");
    while (sqlite3_step(tables) == SQLITE_ROW) {
        const char *name = (const char *)sqlite3_column_text(tables, 0);
        mix(&h, name);
        snprintf(sql, sizeof sql, "SELECT * FROM \"%s\"", name);
        sqlite3_stmt *s = prepared(raw, sql);
        while (sqlite3_step(s) == SQLITE_ROW)
            for (int c = 0; c < sqlite3_column_count(s); c++)
                mix(&h, (const char *)sqlite3_column_text(s, c));
        sqlite3_finalize(s);
    }
    sqlite3_finalize(tables);
    sqlite3_stmt *s = prepared(raw, "SELECT COUNT(*) FROM closing WHERE reopened_at IS NULL");
    assert_int_equal(sqlite3_step(s), SQLITE_ROW);
    *marks = sqlite3_column_int(s, 0);
    sqlite3_finalize(s);
    sqlite3_close(raw);
    return h;
}

static cw_code next_of(trial *x, cw_nursery *n, cw_error *err)
{
    cw_table out = { 0 };
    const cw_next next = { x->fresh, 2032, cw_day_from_ymd(2033, 4, 18), .leave_open = true };
    cw_code code = cw_closing_next(n, &x->t.who, &next, true, &out, err);
    cw_table_free(&out);
    return code;
}

/* The next season's file made in a process of its own, which ends at the disk's n-th act. False: there is none so late. */
static bool killed_at(trial *x, long n)
{
    fflush(stdout);
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        cw_error err = CW_ERROR_NONE;
        cw_nursery *own = NULL;
        disk_install();
        if (cw_nursery_open(x->t.path, CW_WORK, "next", &own, &err) != CW_OK)
            _exit(2);
        disk_arm(n, SQLITE_IOERR, true);
        the_disk.kills = true;
        cw_code code = next_of(x, own, &err);
        if (code != CW_OK)
            fprintf(stderr, "%s\n", err.text);
        _exit(code == CW_OK ? 0 : 3);
    }
    int status = 0;
    assert_int_equal(waitpid(child, &status, 0), child);
    if (WIFEXITED(status) && WEXITSTATUS(status) == 0)
        return false;
    if (!WIFSIGNALED(status) || WTERMSIG(status) != SIGKILL)
        fail_msg("place %ld: ended with %d, not by the kill", n, status);
    return true;
}

/* The new file, where it is there, against the old one. */
static bool agrees(trial *x, long n)
{
    cw_error err = CW_ERROR_NONE;
    cw_nursery *fresh = NULL, *old = NULL;
    cw_table out = { 0 };
    long broken = 0;
    if (access(x->fresh, F_OK) != 0)
        return false;
    if (cw_nursery_open(x->fresh, CW_LOOK, NULL, &fresh, &err) != CW_OK ||
        cw_nursery_open(x->t.path, CW_LOOK, NULL, &old, &err) != CW_OK ||
        cw_closing_prove(fresh, old, &x->t.who, &out, &broken, &err) != CW_OK || broken)
        fail_msg("place %ld: the new file is there, and %s (%ld broken)", n, err.text, broken);
    cw_table_free(&out);
    cw_nursery_close(fresh);
    cw_nursery_close(old);
    return true;
}

static void then_again(trial *x, long n, bool marked)
{
    cw_error err = CW_ERROR_NONE;
    cw_nursery *own = NULL;
    int marks = 0;
    cw_check_ok(cw_nursery_open(x->t.path, CW_WORK, "next", &own, &err), &err);
    cw_code code = next_of(x, own, &err);
    if (code != (marked ? CW_CONFLICT : CW_OK) || (marked && !strstr(err.text, "this season is closed")))
        fail_msg("place %ld: given again (%d, %s): %s", n, (int)code, marked ? "closed" : "open", err.text);
    cw_nursery_close(own);
    assert_true(agrees(x, n));
    assert_true(rows_of(x->t.path, &marks) == x->rows);
    assert_int_equal(marks, 1);
}

/* True: the mark was set. */
static bool look(trial *x, long n, int counts[3])
{
    int marks = 0;
    /* The mark needs the new file; first looked at while the old one is as the kill left it. */
    uint64_t rows = rows_of(x->t.path, &marks);
    bool there = agrees(x, n);
    if (rows != x->rows)
        fail_msg("place %ld: the season's file is not as it was", n);
    if (marks > 1 || (marks == 1 && !there))
        fail_msg("place %ld: %d marks, and the new file is %s", n, marks, there ? "there" : "not there");
    counts[marks ? 2 : there ? 1 : 0]++;
    return marks == 1;
}

static void make(trial *x)
{
    picking_make(&x->t); /* orders, and no wave that would have to leave first */
    for (size_t i = 0; i < sizeof season_files / sizeof season_files[0]; i++)
        load_text(&x->t, season_files[i].name, season_files[i].text);
    load_text(&x->t, "past_plantings.csv", "season,variety,plants,clumps\n2030,AMB,40,33\n");
    load_text(&x->t, "plantings.csv", "row,variety,plants,planted_on,lot\nR1,AMB,30,2031-05-12,K1\n");
    load_text(&x->t, "field_rounds.csv", "row,seen_on,alive,rogued,reason\nR1,2031-07-10,28,1,virus\n");
    load_text(&x->t, "past_orders.csv", "season,variety,ordered_on,quantity\n2029,AMB,2030-01-15,20\n");
    x->t.who.today = cw_day_from_ymd(2032, 4, 25);
    x->t.who.now = x->t.who.clock = x->t.who.today * CW_DAY_MS + 43200000;
    cw_nursery_close(x->t.n);
    x->t.n = NULL;
    snprintf(x->fresh, sizeof x->fresh, "%s/next.db", x->t.folder);
    x->bytes = malloc(16 << 20);
    assert_non_null(x->bytes);
    FILE *f = fopen(x->t.path, "rbe");
    assert_non_null(f);
    x->length = fread(x->bytes, 1, 16 << 20, f);
    fclose(f);
    int marks = 0;
    x->rows = rows_of(x->t.path, &marks);
    assert_int_equal(marks, 0);
}

static void a_kill_leaves_the_old_season_or_both(void **state)
{
    static trial x;
    int counts[3] = { 0 };
    int64_t most = 40;
    const char *asked = getenv("CW_KILLS");
    long all = 0;
    (void)state;
    if (asked)
        assert_true(cw_parse_int(asked, strlen(asked), 0, 1000000, &most));
    make(&x);
    /* How many places are there? The first trial beyond the last one ends well: by halving. */
    long low = 0, high = 1;
    for (put_back(&x); killed_at(&x, high); put_back(&x))
        low = high, high *= 2;
    while (high - low > 1) {
        long middle = low + (high - low) / 2;
        put_back(&x);
        *(killed_at(&x, middle) ? &low : &high) = middle;
    }
    all = high;
    long step = most > LAST && all > most ? (all - LAST) / ((long)most - LAST) + 1 : 1;
    for (long n = 0; n < all; n += n + LAST >= all ? 1 : n + step + LAST > all ? all - LAST - n : step) {
        put_back(&x);
        if (!killed_at(&x, n))
            continue; /* as many acts as last time, give or take one: the log's length differs by the clock */
        bool marked = look(&x, n, counts);
        then_again(&x, n, marked);
    }
    print_message(
        "of %ld places: %d times nothing had come of it, %d times the new file, %d times the mark, too\n",
        all, counts[0], counts[1], counts[2]);
    assert_true(counts[0] > 0 && counts[1] > 0);
    put_back(&x);
    sweep(x.fresh);
    free(x.bytes);
    test_nursery_free(&x.t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_kill_leaves_the_old_season_or_both),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

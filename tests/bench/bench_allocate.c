/* SPDX-License-Identifier: MIT */
/* How long sharing out takes from a nursery file: 961,000 lines of 160,000 orders over 1,500 varieties, every rule
 * previewed from one reading, then first-come made firm. Everything is invented. Prints "name value unit" lines.
 *
 *     bench_allocate [FILE [LINES]]   FILE is made anew (default: a file under TMPDIR, removed at the end); with 0 lines
 *                                     it is a nursery file that is there, and only looked at */
#include "base/rng.h"
#include "desk/share/allotting.h"
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>
#include <unistd.h>

#include "base/banned.h"

#define VARIETIES       1500
#define LINES_PER_ORDER 6

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

/* Of all threads together; on a busy machine it tells more than the clock. */
static double cpu_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

static void must(int good, const char *what)
{
    if (!good) {
        fprintf(stderr, "bench_allocate: %s\n", what);
        exit(1);
    }
}

static void ok(cw_code code, const cw_error *err)
{
    char line[1600];
    if (code == CW_OK)
        return;
    cw_error_line(err, line, sizeof line);
    must(0, line);
}

static void sql(sqlite3 *db, const char *text)
{
    must(sqlite3_exec(db, text, NULL, NULL, NULL) == SQLITE_OK, sqlite3_errmsg(db));
}

static sqlite3_stmt *prepare(sqlite3 *db, const char *text)
{
    sqlite3_stmt *s = NULL;
    must(sqlite3_prepare_v2(db, text, -1, &s, NULL) == SQLITE_OK, sqlite3_errmsg(db));
    return s;
}

/* Binds the numbers and runs. */
static void row(sqlite3_stmt *s, const int64_t *v, int n)
{
    for (int i = 0; i < n; i++)
        sqlite3_bind_int64(s, i + 1, v[i]);
    must(sqlite3_step(s) == SQLITE_DONE, "a row was not taken");
    sqlite3_reset(s);
}

/* Four of five varieties have less than is asked. */
static void fill_stock(sqlite3 *db, cw_rng *rng, int64_t lines)
{
    sqlite3_stmt *v = prepare(db, "INSERT INTO variety (id, code, name, price, hold_back, reserve) "
                                  "VALUES (?1, printf('V%05d', ?1), printf('Variety %d', ?1), 800, 10, 5)");
    sqlite3_stmt *l = prepare(db, "INSERT INTO lot (id, code, variety_id, dug_on, clumps) "
                                  "VALUES (?1, printf('L%05d', ?1), ?1, 22580, 0)");
    sqlite3_stmt *m = prepare(
        db, "INSERT INTO movement (at, day, actor, lot_id, place_id, divisions, reason, cause, cause_id) "
            "VALUES (0, 22590, 'bench', ?1, 0, ?2, 'found', 'stock_take', ?1)");
    for (int64_t i = 1; i <= VARIETIES; i++) {
        row(v, &i, 1);
        row(l, &i, 1);
        int64_t most = 2 * lines / VARIETIES;
        row(m, (int64_t[]){ i, 20 + most / 2 + cw_rng_below(rng, (uint32_t)most) }, 2);
    }
    sqlite3_finalize(v);
    sqlite3_finalize(l);
    sqlite3_finalize(m);
}

static void fill_orders(sqlite3 *db, cw_rng *rng, int64_t lines)
{
    sqlite3_stmt *o = prepare(
        db, "INSERT INTO orders (id, number, received_at, tier, customer, email, postcode, country, zone) "
            "VALUES (?1, printf('2031-%06d', ?1), ?2, CASE ?3 WHEN 0 THEN 'wholesale' ELSE 'retail' END, "
            "'Somebody Invented', 'somebody@example.org', '00000', 'US', 'z6')");
    sqlite3_stmt *l = prepare(
        db, "INSERT INTO line (id, order_id, line, variety_id, quantity, unit_price, consent, all_or_none) "
            "VALUES (?1, ?2, ?3, ?4, ?5, 800, 'same', ?6)");
    int64_t id = 1, order = 1;
    for (; id <= lines; order++) {
        row(o, (int64_t[]){ order, 1956000000000 + order * 20000, cw_rng_below(rng, 8) }, 3);
        for (int64_t k = 1; k <= LINES_PER_ORDER && id <= lines; k++, id++) {
            double u = cw_rng_uniform(rng);
            int64_t variety = 1 + (int64_t)(u * u * VARIETIES); /* some are wanted more */
            row(l, (int64_t[]){ id, order, k, variety, 1 + cw_rng_below(rng, 3), cw_rng_below(rng, 25) == 0 },
                6);
        }
    }
    sqlite3_finalize(o);
    sqlite3_finalize(l);
}

static void make_file(const char *path, const cw_asker *who, int64_t lines)
{
    cw_error err = CW_ERROR_NONE;
    cw_season season = { 2031, cw_day_from_ymd(2032, 4, 19), "USD", "America/Chicago" };
    cw_nursery *n = NULL;
    sqlite3 *db = NULL;
    cw_rng rng;
    unlink(path);
    ok(cw_nursery_new(path, &season, who, &n, &err), &err);
    cw_nursery_close(n);
    must(sqlite3_open(path, &db) == SQLITE_OK, "the file does not open");
    cw_rng_init(&rng, 1, 1);
    sql(db, "PRAGMA synchronous=OFF; BEGIN");
    fill_stock(db, &rng, lines);
    fill_orders(db, &rng, lines);
    sql(db, "INSERT INTO offering (variety_id, offered, sold) "
            "SELECT variety_id, SUM(quantity), SUM(quantity) FROM line GROUP BY variety_id; COMMIT; PRAGMA "
            "wal_checkpoint(TRUNCATE)");
    sqlite3_close(db);
}

static void preview(const char *path, const cw_asker *who, const char *name)
{
    cw_error err = CW_ERROR_NONE;
    cw_nursery *n = NULL;
    cw_allotting *a = NULL;
    cw_table totals;
    cw_allotting_ask ask = { 0 };
    double start = now_s(), cpu = cpu_s();
    ok(cw_nursery_open(path, CW_LOOK, NULL, &n, &err), &err);
    ok(cw_allotting_preview(n, who, &ask, &a, &err), &err);
    ok(cw_allotting_totals(a, true, &totals, NULL, &err), &err);
    printf("allocate.%s %.3f s\n", name, now_s() - start);
    printf("allocate.%s_cpu %.3f s\n", name, cpu_s() - cpu);
    cw_table_free(&totals);
    cw_allotting_free(a);
    cw_nursery_close(n);
}

int main(int argc, char **argv)
{
    char path[512];
    cw_error err = CW_ERROR_NONE;
    cw_asker who = {
        .actor = "bench", .role = CW_ROLE_OWNER, .today = cw_day_from_ymd(2032, 2, 20), .now = 1961000000000
    };
    int64_t lines = argc > 2 ? strtoll(argv[2], NULL, 10) : 961000;
    const char *tmp = getenv("TMPDIR");
    if (argc > 1)
        snprintf(path, sizeof path, "%s", argv[1]);
    else
        snprintf(path, sizeof path, "%s/bench_allocate.db", tmp ? tmp : "/tmp");
    if (lines > 0)
        make_file(path, &who, lines);
    for (int i = 0; i < 3; i++)
        preview(path, &who, "preview_three_rules");
    if (lines == 0)
        return 0;

    cw_nursery *n = NULL;
    cw_allotting_done done;
    cw_allotting_ask ask = { .rule = "first-come" };
    double start = now_s(), cpu = cpu_s();
    ok(cw_nursery_open(path, CW_WORK, "bench", &n, &err), &err);
    ok(cw_allotting_commit(n, &who, &ask, NULL, &done, NULL, &err), &err);
    printf("allocate.commit_with_reading %.3f s\n", now_s() - start);
    printf("allocate.commit_with_reading_cpu %.3f s\n", cpu_s() - cpu);
    printf("allocate.commit_lines %lld lines\n", (long long)done.lines);
    cw_nursery_close(n);
    for (int i = 0; i < 2; i++)
        preview(path, &who, "preview_after_commit");
    struct rusage use;
    getrusage(RUSAGE_SELF, &use);
    printf("allocate.peak_memory %ld MB\n", use.ru_maxrss / 1024);
    if (argc < 2)
        unlink(path);
    return 0;
}

/* SPDX-License-Identifier: MIT */
/* How long does a desk work without asking whether its answer is still wanted? Every function of the desks is called on a nursery
 * of a thousand varieties, their lots and orders, and told "go on" each time it asks, within SQL or between two pieces of work. The
 * longest time without a question bounds how long a stop, or a client that has left, is waited for. It is measured in seconds of a
 * processor, so that a busy machine is not taken for slow work.
 *
 * CW_FAULT_CALL=name only that call; CW_HEEDING=n so many varieties. */
#include "desk_calls.h"
#include "support/season.h"
#include "support/original.h"

#include <pthread.h>
#include <time.h>

#include "base/banned.h"

#define VARIETIES 1000 /* with 5,000 lots and 25,000 lines */
#define MOST_S    0.5  /* so that four times as many take two seconds, on a slower machine, too */

static double cpu_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

/* Asked from several threads. */
typedef struct gauge {
    pthread_mutex_t lock;
    double last, longest;
    long asked;
} gauge;

static bool ask(void *self)
{
    gauge *g = self;
    pthread_mutex_lock(&g->lock);
    double now = cpu_s(), gap = now - g->last;
    g->longest = gap > g->longest ? gap : g->longest;
    g->last = now;
    g->asked++;
    pthread_mutex_unlock(&g->lock);
    return true;
}

static bool told(void *self, const char *what, uint64_t done, uint64_t all)
{
    (void)what;
    (void)done;
    (void)all;
    return ask(self);
}

static long size(void)
{
    const char *told_size = getenv("CW_HEEDING");
    return told_size ? strtol(told_size, NULL, 10) : VARIETIES;
}

/* Rows in bulk, beside those that each call names. Every other variety is short. */
static void grow(test_nursery *t)
{
    static const char *const rows[] = {
        "INSERT INTO variety (code, name, form, size, colour, price, hold_back) SELECT printf('W%05d', n), "
        "printf('Number %d', "
        "n), CASE n % 3 WHEN 0 THEN 'ball' WHEN 1 THEN 'cactus' ELSE 'pompon' END, CASE n % 2 WHEN 0 THEN "
        "'small' ELSE 'large' END, CASE n % 4 WHEN 0 THEN 'red' ELSE 'white' END, 650 + n % 300, n % 3 FROM "
        "many",
        "INSERT INTO history (season, variety_id, clumps, divisions, source_id) SELECT 2026 + (v.id + n) % "
        "5, v.id, 10 "
        "+ v.id % 30, 35 + v.id * 7 % 120, (SELECT MIN(id) FROM source) FROM variety v, (SELECT n FROM many "
        "WHERE n < 4) "
        "WHERE v.code LIKE 'W%'",
        "INSERT INTO past_sale (season, variety_id, sold, sold_out_on) SELECT 2028 + n, v.id, 20 + v.id % "
        "60, NULL FROM "
        "variety v, (SELECT n FROM many WHERE n < 3) WHERE v.code LIKE 'W%'",
        "INSERT INTO lot (code, variety_id, dug_on, clumps, place_id) SELECT printf('X%06d', v.id * 10 + n), "
        "v.id, 22570 + "
        "(v.id + n) % 20, CASE v.id % 2 WHEN 0 THEN 2 + n % 2 ELSE 12 + (v.id * n) % 40 END, (v.id + n) % 4 "
        "FROM variety v, (SELECT n FROM many WHERE n < "
        "6) "
        "WHERE v.code LIKE 'W%'",
        "INSERT INTO movement (at, day, actor, lot_id, place_id, clumps, reason, cause, cause_id) SELECT "
        "dug_on * "
        "86400000, dug_on, 'tester', id, place_id, clumps, 'dug', 'lot', id FROM lot WHERE code LIKE 'X%'",
        "INSERT INTO dividing (lot_id, day, clumps, rotten, saleable, place_id) SELECT id, 22620 + id % 20, "
        "clumps / 2, 0, "
        "clumps * 2, place_id FROM lot WHERE code LIKE 'X%' AND id % 3 = 0",
        "INSERT INTO movement (at, day, actor, lot_id, place_id, clumps, reason, cause, cause_id) SELECT "
        "d.day * "
        "86400000, d.day, 'tester', d.lot_id, d.place_id, -d.clumps, 'divided', 'dividing', d.id FROM "
        "dividing d JOIN "
        "lot l ON l.id = d.lot_id WHERE l.code LIKE 'X%'",
        "INSERT INTO movement (at, day, actor, lot_id, place_id, divisions, reason, cause, cause_id) SELECT "
        "d.day * "
        "86400000, d.day, 'tester', d.lot_id, d.place_id, d.saleable, 'made', 'dividing', d.id FROM dividing "
        "d JOIN "
        "lot l ON l.id = d.lot_id WHERE l.code LIKE 'X%'",
        "INSERT INTO storage_check (lot_id, day, stage, inspected, rotten) SELECT id, 22650 + id % 10, "
        "'clump', 5, 0 "
        "FROM lot WHERE code LIKE 'X%' AND id % 4 = 1",
        "INSERT INTO orders (number, received_at, customer, email, country, zone) SELECT printf('Y%06d', "
        "v.id * 10 + n), "
        "1956528000000 + (v.id * 5 + n) * 20000, 'Somebody', 'somebody@example.org', 'US', 'z7' FROM variety "
        "v, (SELECT n "
        "FROM many WHERE n < 6) WHERE v.code LIKE 'W%'",
        "INSERT INTO line (order_id, line, variety_id, quantity, unit_price, consent) SELECT o.id, n, "
        "(SELECT MIN(id) FROM "
        "variety WHERE code LIKE 'W%') + (o.id * 7 + n * n * 13) % (SELECT COUNT(*) FROM variety WHERE code "
        "LIKE 'W%'), 1 + "
        "(o.id + n) % 4, 650, CASE (o.id + n) % 3 WHEN 0 THEN 'same' WHEN 1 THEN 'any' ELSE 'none' END FROM "
        "orders o, (SELECT n "
        "FROM many WHERE n < 6) WHERE o.number LIKE 'Y%'",
        "INSERT INTO offering (variety_id, released, offered, sold) SELECT variety_id, 1, SUM(quantity) + "
        "20, "
        "SUM(quantity) FROM line l JOIN orders o ON o.id = l.order_id WHERE o.number LIKE 'Y%' GROUP BY "
        "variety_id",
        "UPDATE nursery SET stock_revision = stock_revision + 1, trade_revision = trade_revision + 1",
    };
    sqlite3 *raw = NULL;
    char sql[200];
    assert_int_equal(sqlite3_open(t->path, &raw), SQLITE_OK);
    snprintf(sql, sizeof sql,
             "CREATE TEMP TABLE many AS WITH RECURSIVE k (n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM k "
             "WHERE n < %ld) SELECT "
             "n FROM k",
             size());
    assert_int_equal(sqlite3_exec(raw, sql, NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_exec(raw, "PRAGMA synchronous = OFF; BEGIN", NULL, NULL, NULL), SQLITE_OK);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        if (sqlite3_exec(raw, rows[i], NULL, NULL, NULL) != SQLITE_OK)
            fail_msg("row %zu: %s", i, sqlite3_errmsg(raw));
    assert_int_equal(sqlite3_exec(raw, "COMMIT; ANALYZE; PRAGMA wal_checkpoint(TRUNCATE)", NULL, NULL, NULL),
                     SQLITE_OK);
    sqlite3_close(raw);
}

/* Why more may pass in one call. */
static const struct {
    const char *call, *why;
} longer[] = {
    { "workbook", "its library packs the finished sheets in one go and asks nobody" },
    { "restore", "only the command line restores" },
};

static double most_of(const char *call)
{
    for (size_t i = 0; i < sizeof longer / sizeof longer[0]; i++)
        if (strcmp(call, longer[i].call) == 0)
            return 4 * MOST_S;
    return MOST_S;
}

static bool heeds(work *w, const desk_call *c)
{
    cw_error err = CW_ERROR_NONE;
    gauge g = { .lock = PTHREAD_MUTEX_INITIALIZER };
    w->answer = CW_TEXT((size_t)200 << 20);
    cw_check_ok(cw_nursery_open(w->t.path, CW_WORK, "test", &w->t.n, &err), &err);
    w->t.who.progress = NULL;
    if (c->before)
        c->before(w);
    w->t.who.progress = told;
    w->t.who.progress_context = &g;
    cw_nursery_heed(w->t.n, (cw_go_on){ ask, &g });
    double begun = g.last = cpu_s();
    cw_code code = c->call(w, &err);
    double all = cpu_s() - begun;
    (void)ask(&g);
    cw_nursery_close(w->t.n);
    w->t.n = NULL;
    cw_text_free(&w->answer);
    if (all > 0.2 || g.longest > most_of(c->name))
        print_message("%-24s %.2f s, asked %ld times, %.2f s without (%d)\n", c->name, all, g.asked,
                      g.longest, code);
    return g.longest <= most_of(c->name);
}

static void every_function_asks_within_a_second(void **state)
{
    const char *only = getenv("CW_FAULT_CALL");
    work w = { 0 };
    long slow = 0;
    (void)state;
    (void)no_desk_function_is_missing; /* test_allocation sees to that */
    failing_pause();
    season_make(&w.t);
    cw_nursery_close(w.t.n);
    w.t.n = NULL;
    grow(&w.t);
    test_original original = test_original_read(w.t.path);
    for (size_t k = 0; k < DESK_TABLES; k++)
        for (size_t i = 0; i < desk_tables[k].count; i++) {
            const desk_call *c = &desk_tables[k].calls[i];
            if (only && strcmp(only, c->name) != 0)
                continue;
            test_original_put(&original, w.t.path);
            slow += !heeds(&w, c);
        }
    free(original.bytes);
    test_nursery_free(&w.t);
    assert_int_equal(slow, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(every_function_asks_within_a_second) };
    failing_install();
    return cmocka_run_group_tests(tests, NULL, NULL);
}

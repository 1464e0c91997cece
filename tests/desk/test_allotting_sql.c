/* SPDX-License-Identifier: MIT */
/* The demo season shared out by the program and, independently, by SQLite's window functions: every line must get the same.
 * The reference below is written from the rules' definitions and shares no code with core/. It has no word for
 * all-or-nothing, so those marks are taken off first. */
#include "support/demo.h"
#include "support/order_desk.h"

#include "base/banned.h"

#define SUPPLY                                                                                               \
    "WITH supply AS (SELECT v.id AS variety, MAX(0, COALESCE((SELECT SUM(b.divisions) FROM balance b "       \
    "JOIN lot l ON l.id = b.lot_id WHERE l.variety_id = v.id AND l.held IS NULL), 0) - v.hold_back - "       \
    "v.reserve "                                                                                             \
    "- COALESCE((SELECT SUM(a.quantity) FROM allocation a WHERE a.variety_id = v.id), 0)) AS n FROM "        \
    "variety v), "                                                                                           \
    "need AS (SELECT l.id, l.variety_id AS variety, o.number, l.line, o.received_at AS at, "                 \
    "CASE o.tier WHEN 'wholesale' THEN 0 WHEN 'retail' THEN 1 ELSE 2 END AS tier, s.n AS supply, "           \
    "COALESCE((SELECT SUM(a.quantity) FROM allocation a WHERE a.line_id = l.id), 0) AS firm, CASE WHEN "     \
    "o.country IN (SELECT country FROM destination WHERE rule = 'block' AND region = '') THEN 0 ELSE "       \
    "l.quantity - COALESCE((SELECT SUM(a.quantity) FROM allocation a WHERE a.line_id = l.id), 0) END AS "    \
    "want "                                                                                                  \
    "FROM line l JOIN orders o ON o.id = l.order_id JOIN supply s ON s.variety = l.variety_id "              \
    "WHERE o.state = 'open' AND l.quantity > 0) "

/* Number, line, what is promised in all, in order of number and line. */
static const struct {
    const char *rule, *sql;
} references[] = {
    { "first-come", SUPPLY "SELECT number, line, firm + MAX(0, MIN(want, supply - before)) FROM (SELECT *, "
                           "COALESCE(SUM(want) OVER "
                           "(PARTITION BY variety ORDER BY tier, at, number, line ROWS BETWEEN UNBOUNDED "
                           "PRECEDING AND 1 PRECEDING), 0) "
                           "AS before FROM need) ORDER BY number, line" },
    /* Largest remainder: the whole parts, then one more to the largest remainders, ties to the earlier order. */
    { "pro-rata", SUPPLY
      ", share AS (SELECT *, SUM(want) OVER (PARTITION BY variety) AS wanted FROM need), "
      "part AS (SELECT *, CASE WHEN supply >= wanted THEN want ELSE want * supply / wanted END AS whole, "
      "CASE WHEN supply >= wanted THEN 0 ELSE want * supply % wanted END AS rest FROM share), "
      "ranked AS (SELECT *, MIN(supply, wanted) - SUM(whole) OVER (PARTITION BY variety) AS over, "
      "ROW_NUMBER() OVER (PARTITION BY variety ORDER BY rest DESC, at, number, line) AS place FROM part) "
      "SELECT number, line, firm + whole + (rest > 0 AND place <= over) FROM ranked ORDER BY number, line" },
};

/* What the program gives, by number and line. */
static int by_number(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

static size_t shared(test_nursery *t, const char *rule, char ***out)
{
    cw_error err = CW_ERROR_NONE;
    cw_allotting *a = NULL;
    cw_table rows;
    cw_allotting_ask ask = { .rule = rule };
    cw_check_ok(cw_allotting_preview(t->n, &t->who, &ask, &a, &err), &err);
    cw_check_ok(cw_allotting_variety_lines(a, &rows, &err), &err);
    size_t n = cw_table_rows(&rows);
    char **text = calloc(n + 1, sizeof *text);
    assert_non_null(text);
    for (size_t r = 0; r < n; r++) {
        text[r] = malloc(80);
        assert_non_null(text[r]);
        snprintf(text[r], 80, "%s %04lld gets %lld", cw_table_text(&rows, r, 1),
                 (long long)cw_table_int(&rows, r, 2), (long long)cw_table_int(&rows, r, 4));
    }
    qsort(text, n, sizeof *text, by_number);
    cw_table_free(&rows);
    cw_allotting_free(a);
    *out = text;
    return n;
}

static void compare(test_nursery *t, const char *when)
{
    for (size_t k = 0; k < sizeof references / sizeof references[0]; k++) {
        char **got, want[80];
        size_t n = shared(t, references[k].rule, &got), i = 0;
        sqlite3 *raw = NULL;
        sqlite3_stmt *q = NULL;
        int64_t some = 0;
        assert_int_equal(sqlite3_open_v2(t->path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
        if (sqlite3_prepare_v2(raw, references[k].sql, -1, &q, NULL) != SQLITE_OK)
            fail_msg("%s", sqlite3_errmsg(raw));
        for (; sqlite3_step(q) == SQLITE_ROW; i++) {
            snprintf(want, sizeof want, "%s %04lld gets %lld", (const char *)sqlite3_column_text(q, 0),
                     (long long)sqlite3_column_int64(q, 1), (long long)sqlite3_column_int64(q, 2));
            if (i >= n || strcmp(got[i], want) != 0)
                fail_msg("%s, %s: got \"%s\", the reference says \"%s\"", when, references[k].rule,
                         i < n ? got[i] : "", want);
            some += sqlite3_column_int64(q, 2) > 0;
        }
        assert_int_equal(i, n);
        assert_true(some > 500);
        sqlite3_finalize(q);
        sqlite3_close(raw);
        for (i = 0; i < n; i++)
            free(got[i]);
        free(got);
    }
}

static void the_program_and_window_functions_agree(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    sqlite3 *raw = NULL;
    (void)state;
    test_demo_make(&t);
    cw_nursery_close(t.n);
    assert_int_equal(sqlite3_open(t.path, &raw), SQLITE_OK);
    assert_int_equal(sqlite3_exec(raw, "UPDATE line SET all_or_none = 0; UPDATE orders SET ship_complete = 0",
                                  NULL, NULL, NULL),
                     SQLITE_OK);
    sqlite3_close(raw);
    cw_check_ok(cw_nursery_open(t.path, CW_WORK, "test", &t.n, &err), &err);
    compare(&t, "at first");
    /* Half of it firm by another rule, then more stock: only the addition is shared. */
    make_firm(&t, "one-each-first", NULL);
    for (int lot = 1; lot <= 60; lot += 3) {
        char code[8];
        snprintf(code, sizeof code, "L%04d", lot);
        count_lot(&t, code, "2032-02-20", 40 + lot);
    }
    compare(&t, "with more stock");
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(the_program_and_window_functions_agree) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

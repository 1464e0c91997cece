/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_ORDER_DESK_H
#define CW_TESTS_SUPPORT_ORDER_DESK_H

/* What the tests of the order desk share: loading CSV text, looking into the file, and letting the office work. All
 * data are invented. */
#include "support/nursery.h"

#include "base/table.h"
#include "base/text.h"
#include "desk/share/allotting.h"
#include "desk/intake/intake.h"
#include "desk/orders/ordering.h"
#include "desk/share/substituting.h"

static inline void load_text(test_nursery *t, const char *name, const char *text)
{
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { NULL, 0, 0 };
    cw_table answer = { 0 };
    cw_intake_file file = { .name = name, .bytes = text, .length = strlen(text) };
    cw_intake_options o = { 0 };
    cw_code code = cw_intake_load(t->n, &t->who, &file, 1, &o, &answer, &errors, &err);
    cw_table_free(&answer);
    cw_error_list_free(&errors);
    cw_check_ok(code, &err);
}

/* The first number of a query that the test writes itself, through its own connection. */
#include <sqlite3.h>
static inline int64_t number_of(test_nursery *t, const char *sql)
{
    sqlite3 *raw = NULL;
    sqlite3_stmt *s = NULL;
    assert_int_equal(sqlite3_open_v2(t->path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    if (sqlite3_prepare_v2(raw, sql, -1, &s, NULL) != SQLITE_OK)
        fail_msg("%s", sqlite3_errmsg(raw));
    int64_t v = sqlite3_step(s) == SQLITE_ROW ? sqlite3_column_int64(s, 0) : INT64_MIN;
    sqlite3_finalize(s);
    sqlite3_close(raw);
    return v;
}

static inline void is_text(const char *got, const char *want)
{
    if (strcmp(got, want) == 0)
        return;
    fputs(got, stderr); /* whole: the library cuts what it prints */
    assert_string_equal(got, want);
}

/* All that a query answers is `want`: bars between columns, a line each row. */
static inline void rows_are(test_nursery *t, const char *sql, const char *want)
{
    sqlite3 *raw = NULL;
    sqlite3_stmt *s = NULL;
    cw_text got = CW_TEXT(1 << 20);
    assert_int_equal(sqlite3_open_v2(t->path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    if (sqlite3_prepare_v2(raw, sql, -1, &s, NULL) != SQLITE_OK)
        fail_msg("%s", sqlite3_errmsg(raw));
    while (sqlite3_step(s) == SQLITE_ROW)
        for (int c = 0, n = sqlite3_column_count(s); c < n; c++)
            cw_text_addf(&got, "%s%s",
                         sqlite3_column_text(s, c) ? (const char *)sqlite3_column_text(s, c) : "",
                         c + 1 < n ? "|" : "\n");
    sqlite3_finalize(s);
    sqlite3_close(raw);
    is_text(got.data ? got.data : "", want);
    cw_text_free(&got);
}

/* A table as CSV is `want`; it is freed. */
static inline void csv_is(cw_table *table, const char *want)
{
    cw_error err = CW_ERROR_NONE;
    cw_text got = CW_TEXT(1 << 20);
    cw_check_ok(cw_table_csv(table, cw_sink_text(&got), &err), &err);
    is_text(got.data, want);
    cw_text_free(&got);
    cw_table_free(table);
}

/* What one line is promised of all varieties. */
static inline int64_t promised(test_nursery *t, const char *order, int line)
{
    char sql[256];
    snprintf(sql, sizeof sql,
             "SELECT COALESCE(SUM(a.quantity), 0) FROM allocation a JOIN line l ON l.id = a.line_id "
             "JOIN orders o ON o.id = l.order_id WHERE o.number = '%s' AND l.line = %d",
             order, line);
    return number_of(t, sql);
}

static inline cw_allotting_done make_firm(test_nursery *t, const char *rule, const char *variety)
{
    cw_error err = CW_ERROR_NONE;
    cw_allotting_done done;
    cw_allotting_ask ask = { .rule = rule, .variety = variety };
    cw_check_ok(cw_allotting_commit(t->n, &t->who, &ask, NULL, &done, NULL, &err), &err);
    test_nursery_check(t);
    return done;
}

/* allocated of one line under one rule of a preview. */
static inline int64_t preview_of(test_nursery *t, const char *rule, const char *variety, const char *order,
                                 int line)
{
    cw_error err = CW_ERROR_NONE;
    cw_allotting *a = NULL;
    cw_table rows;
    int64_t allocated = -1;
    cw_allotting_ask ask = { .rule = rule, .variety = variety };
    cw_check_ok(cw_allotting_preview(t->n, &t->who, &ask, &a, &err), &err);
    cw_check_ok(cw_allotting_variety_lines(a, &rows, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&rows); r++)
        if (strcmp(cw_table_text(&rows, r, 1), order) == 0 && cw_table_int(&rows, r, 2) == line)
            allocated = cw_table_int(&rows, r, 4);
    cw_table_free(&rows);
    cw_allotting_free(a);
    return allocated;
}

/* The stock of a lot's divisions is moved to `count`, as a stock-take does. */
static inline void count_lot(test_nursery *t, const char *lot, const char *day, int count)
{
    char text[256];
    snprintf(text, sizeof text, "lot,counted_on,stage,count\n%s,%s,division,%d\n", lot, day, count);
    load_text(t, "counts.csv", text);
}

#endif

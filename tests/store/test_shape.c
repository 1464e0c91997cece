/* SPDX-License-Identifier: MIT */
/* What leaves the store is held against the schema: where a column must be there, and a number must be one, though the statement
 * joins LEFT, computes, or asks a view. */
#include "support/check.h"
#include "support/folder.h"
#include "support/unasked.h"

#include "columns/orders.h"
#include "store/book.h"
#include "store/db_inside.h"
#include "store/season.h"
#include "store/snapshot.h"
#include <dirent.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

typedef struct place {
    char folder[64], path[96];
} place;

static void make_file(place *p)
{
    cw_error err = CW_ERROR_NONE;
    cw_db *db = NULL;
    sqlite3 *raw = NULL;
    cw_season_row row = { 2031, 22745, "USD", "UTC" };
    *p = (place){ 0 };
    test_folder_make(p->folder, sizeof p->folder);
    snprintf(p->path, sizeof p->path, "%s/n.db", p->folder);
    cw_check_ok(cw_db_open(p->path, CW_DB_NEW, "test", &db, &err), &err);
    cw_check_ok(cw_db_begin(db, &err), &err);
    cw_check_ok(cw_season_make(db, &row, 0, &err), &err);
    cw_check_ok(cw_db_commit(db, &err), &err);
    cw_db_close(db);
    assert_int_equal(sqlite3_open(p->path, &raw), SQLITE_OK);
    unasked_sql(
        raw,
        "INSERT INTO variety (id, code, name) VALUES (1, 'V', 'Vane'), (2, 'W', 'Wick');"
        "INSERT INTO offering (variety_id, offered, sold) VALUES (1, 5, 2);"
        "INSERT INTO orders (id, number, received_at, ship_week) VALUES (1, '1001', 1000, 203210);"
        "INSERT INTO line (id, order_id, line, variety_id, quantity, unit_price) VALUES (1, 1, 1, 1, 2, 500);"
        "INSERT INTO line (id, order_id, line, assortment, quantity, unit_price) VALUES (2, 1, 2, 'any', 2, "
        "400);"
        "INSERT INTO source (id, kind, name, digest, rows, actor, at) VALUES (1, 'past_checks', 'c', 'd', 1, "
        "'test', 1);"
        "INSERT INTO past_check (season, variety_id, stage, weeks, inspected, rotten, source_id, age) VALUES "
        "(2030, 1, 'clump', 4, 20, 1, 1, 2)");
    sqlite3_close(raw);
}

static void drop_file(place *p)
{
    char path[400];
    struct dirent *entry = NULL;
    DIR *folder = opendir(p->folder);
    while (folder && (entry = readdir(folder)) != NULL) {
        snprintf(path, sizeof path, "%s/%s", p->folder, entry->d_name);
        unlink(path);
    }
    if (folder)
        closedir(folder);
    rmdir(p->folder);
}

static void words_tell_what_is_surely_there(void **state)
{
    static const struct {
        const char *sql;
        int column;
        const char *table;
        bool sure;
    } rows[] = {
        { "SELECT v.id, v.code FROM variety v LEFT JOIN planted p ON p.variety_id = v.id", 1, "variety",
          true },
        { "SELECT v.id, p.divisions FROM variety v LEFT JOIN planted p ON p.variety_id = v.id", 1, "planted",
          false },
        { "SELECT l.line, v.code FROM line l LEFT JOIN variety v ON v.id = l.variety_id", 1, "variety",
          false },
        { "SELECT l.line, v.code AS of FROM line l JOIN variety v ON v.id = l.variety_id", 1, "variety",
          true },
        { "SELECT l.line, v.code FROM line l, variety v", 1, "variety", true },
        /* the table is there twice: which of the two is meant decides */
        { "SELECT o.number, r.number FROM orders o LEFT JOIN orders r ON r.id = o.replaces", 0, "orders",
          true },
        { "SELECT o.number, r.number FROM orders o LEFT JOIN orders r ON r.id = o.replaces", 1, "orders",
          false },
        { "SELECT id, (SELECT r.number FROM orders r) FROM orders", 0, "orders", true },
        { "SELECT id, (SELECT r.number FROM orders r) FROM orders", 1, "orders", false },
        { "SELECT v.code, MAX(v.hold_back - 1, 0) FROM variety v LEFT JOIN planted p ON 1", 0, "variety",
          true },
        { "SELECT v.code, MAX(v.hold_back) FROM variety v", 0, "variety",
          false }, /* of none: one row of nothing */
        { "SELECT v.code, COUNT(*) FROM variety v", 0, "variety", false },
        { "SELECT v.code, COUNT(*) FROM variety v GROUP BY v.code", 0, "variety", true },
        { "SELECT v.code, (SELECT COUNT(*) FROM lot) FROM variety v LEFT JOIN lot l ON 1", 0, "variety",
          true },
        { "SELECT v.code, COALESCE(SUM(l.id), 0) FROM variety v LEFT JOIN lot l ON 1", 0, "variety", false },
        { "SELECT v.code FROM variety v UNION SELECT NULL", 0, "variety", false },
        { "SELECT v.code || 'x', 'a,b', v.name FROM variety v", 0, "variety", false },
        { "SELECT v.code || 'x', 'a,b', v.name FROM variety v", 2, "variety", true },
        { "SELECT v.code FROM (SELECT * FROM variety) v", 0, "variety", false },
        { "SELECT l.id, v.code FROM line l LEFT JOIN (lot b JOIN variety v ON 1) ON 1", 1, "variety", false },
        { "WITH v AS (SELECT 1) SELECT v.code FROM variety v", 0, "variety", false },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        if (cw_shape_surely_there(rows[i].sql, rows[i].column, rows[i].table) != rows[i].sure)
            fail_msg("column %d of %s", rows[i].column, rows[i].sql);
}

static cw_code read_book(cw_db *db, cw_error *err)
{
    cw_book *book = NULL;
    cw_code code = cw_book_read(db, NULL, &book, err);
    cw_book_free(book);
    return code;
}

static cw_code read_snapshot(cw_db *db, cw_error *err)
{
    cw_snapshot *s = NULL;
    cw_snap_kept kept = { 0 };
    cw_code code = cw_snapshot_read(db, 23000, &kept, &s, err);
    cw_snapshot_free(s);
    cw_snap_kept_free(&kept);
    return code;
}

static cw_code read_lines(cw_db *db, cw_error *err)
{
    int64_t lines = 0;
    cw_stmt *s = cw_db_stmt(db, "orders.lines");
    cw_code code = cw_stmt_start(s, err, "i", (int64_t)1);
    while (code == CW_OK && cw_stmt_next(s)) {
        lines += cw_col_int(s, orders_lines_quantity);
        (void)cw_col_text(s, orders_lines_code); /* of the assortment there is none, which is no damage */
    }
    cw_code end = cw_stmt_end(s, err);
    assert_true(end != CW_OK || lines == 4);
    return code == CW_OK ? end : code;
}

static void what_cannot_be_is_damage(void **state)
{
    static const struct {
        const char *table, *column, *value;
        cw_code (*read)(cw_db *db, cw_error *err);
        const char *says; /* NULL: it is as it may be */
    } rows[] = {
        { "variety", "colour", "'red'", read_book, NULL },
        { "variety", "colour", "'red'", read_snapshot, NULL },
        { "variety", "colour", "'red'", read_lines, NULL },
        { "variety", "code", "NULL", read_book, "variety.code" },
        { "variety", "name", "NULL", read_snapshot, "variety.name" },
        { "orders", "number", "NULL", read_book, "orders.number" },
        { "variety", "reserve", "'9223372036854775807 x'", read_book, "variety.reserve" },
        /* a number that is computed of a text is as large as the text says, or is the text: the statement's column is named */
        { "variety", "hold_back", "'9223372036854775807 x'", read_book, "hold_back" },
        { "offering", "released", "'9223372036854775807 x'", read_snapshot, "released" },
        { "line", "quantity", "'7 x'", read_lines, "line.quantity" },
        { "line", "quantity", "NULL", read_lines, "line.quantity" },
        /* the fits run out of numbers */
        { "past_check", "age", "30000", read_snapshot, NULL },
        { "past_check", "age", "30000.5", read_snapshot, "past_check.age" },
        { "past_check", "weeks", "-0.5", read_snapshot, "past_check.weeks" },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        place p;
        cw_error err = CW_ERROR_NONE;
        cw_db *db = NULL;
        make_file(&p);
        unasked_put(p.path, rows[i].table, rows[i].column, rows[i].value);
        cw_check_ok(cw_db_open(p.path, CW_DB_READ, NULL, &db, &err), &err);
        cw_code code = rows[i].read(db, &err);
        if (code != (rows[i].says ? CW_MACHINE : CW_OK) ||
            (rows[i].says && !strstr(err.text, rows[i].says)) ||
            (rows[i].says && !strstr(err.text, "the nursery file is damaged")))
            fail_msg("%s.%s is %s: %d, %s", rows[i].table, rows[i].column, rows[i].value, code, err.text);
        cw_db_close(db);
        drop_file(&p);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(words_tell_what_is_surely_there),
                                        cmocka_unit_test(what_cannot_be_is_damage) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

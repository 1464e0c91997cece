/* SPDX-License-Identifier: MIT */
/* A file of each earlier schema is brought up to date: its data stays, a copy of what it was lies beside it, and a reader
 * says what to do instead of guessing. Data invented. */
#include "support/check.h"
#include "support/folder.h"

#include "store/db.h"
#include "store/db_inside.h"
#include "store/sql.h"
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

static char folder[64];
static char path[96], copy[128];

static char *read_file(const char *name)
{
    FILE *f = fopen(name, "rb");
    if (f == NULL)
        fail_msg("cannot open %s", name);
    char *bytes = calloc(1, 1 << 20);
    assert_non_null(bytes);
    size_t n = fread(bytes, 1, (1 << 20) - 1, f);
    assert_true(n > 0);
    fclose(f);
    return bytes;
}

static void run_sql(const char *sql)
{
    sqlite3 *raw = NULL;
    char *why = NULL;
    assert_int_equal(sqlite3_open(path, &raw), SQLITE_OK);
    if (sqlite3_exec(raw, sql, NULL, NULL, &why) != SQLITE_OK)
        fail_msg("%s", why);
    sqlite3_close(raw);
}

/* As a program of that schema left it: its own migrations, and a season. */
static void make_schema(int schema)
{
    char pragma[96];
    for (size_t i = 0; cw_sql_migrations[i].name && cw_sql_migrations[i].number <= schema; i++) {
        char file[400];
        snprintf(file, sizeof file, "%s/sql/migrations/%s.sql", CW_SOURCE_DIR, cw_sql_migrations[i].name);
        char *sql = read_file(file);
        run_sql(sql);
        free(sql);
    }
    snprintf(pragma, sizeof pragma, "PRAGMA application_id=%d; PRAGMA user_version=%d", CW_APPLICATION_ID,
             schema);
    run_sql(pragma);
    run_sql("INSERT INTO nursery VALUES (1, 2031, 22754, 'USD', 'America/Chicago', 0, 0, 0)");
}

/* With an order, and a notice that was sent. */
static void make_schema_1(void)
{
    make_schema(1);
    run_sql("INSERT INTO orders (id, number, received_at) VALUES (1, '1001', 0);"
            "INSERT INTO notice (order_id, kind, made_at, due_on, detail, state) VALUES (1, "
            "'delay', 0, 0, '{}', 'sent')");
}

static int64_t number(const char *file, const char *sql)
{
    sqlite3 *raw = NULL;
    sqlite3_stmt *s = NULL;
    assert_int_equal(sqlite3_open_v2(file, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    if (sqlite3_prepare_v2(raw, sql, -1, &s, NULL) != SQLITE_OK)
        fail_msg("%s: %s", sql, sqlite3_errmsg(raw));
    int64_t v = sqlite3_step(s) == SQLITE_ROW ? sqlite3_column_int64(s, 0) : INT64_MIN;
    sqlite3_finalize(s);
    sqlite3_close(raw);
    return v;
}

static void a_file_of_schema_1_is_brought_up_to_date(void **state)
{
    cw_db *db = NULL;
    cw_error err = CW_ERROR_NONE;
    long broken = 0;
    (void)state;
    assert_true(cw_db_schema_known() >= 2);
    make_schema_1();
    assert_int_equal(cw_db_open(path, CW_DB_READ, NULL, &db, &err), CW_REFUSED);
    assert_non_null(strstr(err.text, "older clumpwise (schema 1"));
    assert_int_equal(number(path, "PRAGMA user_version"), 1); /* untouched by the reader */
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_db_open(path, CW_DB_WRITE, "test", &db, &err), &err);
    cw_check_ok(cw_db_integrity(db, NULL, NULL, &broken, &err), &err);
    assert_int_equal(broken, 0);
    cw_check_ok(cw_db_check(db, NULL, NULL, &broken, &err), &err);
    assert_int_equal(broken, 0);
    cw_db_close(db);
    assert_int_equal(number(path, "PRAGMA user_version"), cw_db_schema_known());
    assert_int_equal(number(path, "SELECT COUNT(*) FROM template"), 24);
    assert_int_equal(number(path, "SELECT COUNT(*) FROM notice WHERE state = 'sent' AND fact IS NULL"), 1);
    assert_int_equal(number(path, "SELECT season FROM nursery"), 2031);
    /* The copy is the file as it was. */
    assert_int_equal(number(copy, "PRAGMA user_version"), 1);
    assert_int_equal(number(copy, "SELECT COUNT(*) FROM notice"), 1);
    assert_int_equal(number(copy, "SELECT COUNT(*) FROM sqlite_schema WHERE name = 'template'"), 0);
    /* Opened again there is nothing to do. */
    unlink(copy);
    cw_check_ok(cw_db_open(path, CW_DB_WRITE, "test", &db, &err), &err);
    cw_db_close(db);
    assert_int_equal(access(copy, F_OK), -1);
}

/* Schema 7 keeps recovery codes in a table that Debian 12's SQLite calls damaged, a finding for each of them: more than the
 * hundred at which its check ends by itself. */
static void make_schema_7_with_codes(void)
{
    make_schema(7);
    run_sql("WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 12) "
            "INSERT INTO person (id, name, role, password, made_at) SELECT i, 'Nel ' || i, 'cellar', 'x', 0 "
            "FROM n;"
            "INSERT INTO factor (person_id, secret, made_at, on_at) SELECT id, printf('%040d', id), 0, 0 "
            "FROM person;"
            "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 10) "
            "INSERT INTO recovery (person_id, salt, digest) SELECT p.id, 's' || n.i, 'd' || n.i FROM person "
            "p, n");
}

static void remove_files(void)
{
    static const char *const ends[] = { "", "-wal", "-shm", ".lock", ".part" };
    char name[160];
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        snprintf(name, sizeof name, "%s%s", path, ends[i]);
        unlink(name);
        snprintf(name, sizeof name, "%s%s", copy, ends[i]);
        unlink(name);
    }
}

static void recovery_codes_get_through(void **state)
{
    cw_db *db = NULL;
    cw_error err = CW_ERROR_NONE;
    long broken = 0;
    (void)state;
    remove_files();
    make_schema_7_with_codes();
    cw_check_ok(cw_db_open(path, CW_DB_WRITE, "test", &db, &err), &err);
    cw_check_ok(cw_db_integrity(db, NULL, NULL, &broken, &err), &err);
    assert_int_equal(broken, 0);
    cw_db_close(db);
    static const char kept[] = "SELECT COUNT(*) FROM recovery WHERE substr(salt, 2) = substr(digest, 2) "
                               "AND salt LIKE 's%' AND digest LIKE 'd%' AND person_id BETWEEN 1 AND 12";
    assert_int_equal(number(path, kept), 120);
    assert_int_equal(number(copy, kept), 120);
    assert_int_equal(number(copy, "PRAGMA user_version"), 7);
    /* And the copy of the older program can be put back. */
    cw_check_ok(cw_db_restore(copy, path, &err), &err);
    cw_check_ok(cw_db_open(path, CW_DB_WRITE, "test", &db, &err), &err);
    cw_db_close(db);
    assert_int_equal(number(path, kept), 120);
}

/* Countries as people wrote them before they were read: by code, spelled out, unknown; and what the office had pinned. */
static void countries_and_holds_of_schema_7(void **state)
{
    cw_db *db = NULL;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    remove_files();
    make_schema(7);
    run_sql("INSERT INTO destination (country, region, rule) VALUES ('Australia', '', 'block'), ('AU', '', "
            "'allow'), "
            "('au', ' Tasmania ', 'warn'), ('Atlantis', '', 'allow');"
            "INSERT INTO orders (id, number, received_at, country, zone, ship_week, pinned) VALUES "
            "(1, '1', 0, 'Australia', 'z7', 203216, 1), (2, '2', 0, ' aus', 'z7', 203216, 1), (3, '3', 0, "
            "'Lemuria', NULL, "
            "NULL, 0), (4, '4', 0, '  ', NULL, NULL, 0), (5, '5', 0, 'US', NULL, NULL, 0);"
            "INSERT INTO frost_hold (zone, first_week, last_week, at, actor) VALUES ('z7', 203216, 203217, "
            "100, 'Nel');"
            "INSERT INTO order_event (order_id, at, actor, kind) VALUES (1, 200, 'Nel', 'moved'), (2, 50, "
            "'Nel', 'moved')");
    cw_check_ok(cw_db_open(path, CW_DB_WRITE, "test", &db, &err), &err);
    cw_db_close(db);
    assert_int_equal(number(path, "SELECT COUNT(*) FROM orders WHERE country = 'AU'"), 2);
    assert_int_equal(number(path, "SELECT COUNT(*) FROM orders WHERE country = 'Lemuria' AND id = 3"), 1);
    assert_int_equal(number(path, "SELECT COUNT(*) FROM orders WHERE country IS NULL AND id = 4"), 1);
    assert_int_equal(number(path, "SELECT COUNT(*) FROM destination"), 3);
    assert_int_equal(number(path, "SELECT COUNT(*) FROM destination WHERE country = 'AU' AND rule = 'block'"),
                     1);
    assert_int_equal(
        number(path, "SELECT COUNT(*) FROM destination WHERE region = 'Tasmania' AND country = 'AU'"), 1);
    /* 1 and 2 go to Australia; nobody can tell whether 3's place is one of the blocked. */
    assert_int_equal(number(path, "SELECT SUM(order_id) FROM blocked_order"), 6);
    /* The hold stood when 1 was moved, and not yet when 2 was. */
    assert_int_equal(number(path, "SELECT SUM(order_id) FROM frost_overruled"), 1);
    assert_int_equal(number(path, "SELECT SUM(order_id) FROM frost_bound"), 2);
}

/* A false finding hides no true one: a NULL that is there, and a missing entry of an index, stop the migration. */
static void true_damage_is_still_found(void **state)
{
    static const struct {
        const char *name, *sql;
    } rows[] = {
        { "a NULL",
          "PRAGMA writable_schema=ON; UPDATE sqlite_schema SET sql = replace(sql, 'salt TEXT NOT NULL', "
          "'salt TEXT') WHERE name = 'recovery'; PRAGMA writable_schema=RESET;"
          "UPDATE recovery SET salt = NULL WHERE person_id = 7 AND digest = 'd3';"
          "PRAGMA writable_schema=ON; UPDATE sqlite_schema SET sql = replace(sql, 'salt TEXT', "
          "'salt TEXT NOT NULL') WHERE name = 'recovery'" },
        { "a table behind it",
          "PRAGMA writable_schema=ON; UPDATE sqlite_schema SET sql = replace(sql, 'made_at INTEGER "
          "NOT NULL', 'made_at INTEGER') WHERE name = 'nursery'; PRAGMA writable_schema=RESET;"
          "UPDATE nursery SET made_at = NULL;"
          "PRAGMA writable_schema=ON; UPDATE sqlite_schema SET sql = replace(sql, 'made_at "
          "INTEGER', 'made_at INTEGER NOT NULL') WHERE name = 'nursery'" },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_db *db = NULL;
        cw_error err = CW_ERROR_NONE;
        print_message("%s\n", rows[i].name);
        remove_files();
        make_schema_7_with_codes();
        run_sql(rows[i].sql);
        assert_int_not_equal(cw_db_open(path, CW_DB_WRITE, "test", &db, &err), CW_OK);
        print_message("  %s\n", err.text);
        assert_non_null(strstr(err.text, "damaged"));
        assert_int_equal(number(path, "PRAGMA user_version"), 7);
    }
}

/* The key of a table WITHOUT ROWID is its first columns, in their order: of any other, SQLite 3.40.1 (Debian 12) calls sound rows
 * damaged, and so would check, backup and restore. */
static void keys_stand_first(void **state)
{
    cw_db *db = NULL;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    remove_files();
    cw_check_ok(cw_db_open(path, CW_DB_NEW, "test", &db, &err), &err);
    cw_db_close(db);
    assert_true(number(path, "SELECT COUNT(*) FROM pragma_table_list WHERE schema = 'main' AND wr") >= 10);
    assert_int_equal(number(path,
                            "SELECT COUNT(*) FROM pragma_table_list AS t, pragma_table_info(t.name) AS c "
                            "WHERE t.schema = 'main' AND t.wr AND c.pk > 0 AND c.pk <> c.cid + 1"),
                     0);
}

static int set_up(void **state)
{
    (void)state;
    test_folder_make(folder, sizeof folder);
    snprintf(path, sizeof path, "%s/n.db", folder);
    snprintf(copy, sizeof copy, "%s.before-schema-%d", path, cw_db_schema_known());
    return 0;
}

static int clean_up(void **state)
{
    char name[160];
    (void)state;
    remove_files();
    for (size_t i = 0; i < 3; i++) {
        snprintf(name, sizeof name, "%s.before-restore%s", path, i == 0 ? "" : i == 1 ? "-wal" : "-shm");
        unlink(name);
    }
    return rmdir(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_file_of_schema_1_is_brought_up_to_date),
        cmocka_unit_test(recovery_codes_get_through),
        cmocka_unit_test(countries_and_holds_of_schema_7),
        cmocka_unit_test(true_damage_is_still_found),
        cmocka_unit_test(keys_stand_first),
    };
    return cmocka_run_group_tests(tests, set_up, clean_up);
}

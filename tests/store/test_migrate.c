/* SPDX-License-Identifier: MIT */
/* A file of each earlier schema is brought up to date: its data stays, a copy of what it was lies beside it, and a reader
 * says what to do instead of guessing. Data invented. */
#include "support/check.h"

#include "store/db.h"
#include "store/db_inside.h"
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

static char folder[] = "/tmp/cw-migrate-XXXXXX";
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

/* As a program of schema 1 left it: its own migration, an order, and a notice that was sent. */
static void make_schema_1(void)
{
    sqlite3 *raw = NULL;
    char pragma[96], *why = NULL;
    char *sql = read_file(CW_SOURCE_DIR "/sql/migrations/0001_nursery.sql");
    assert_int_equal(sqlite3_open(path, &raw), SQLITE_OK);
    if (sqlite3_exec(raw, sql, NULL, NULL, &why) != SQLITE_OK)
        fail_msg("%s", why);
    free(sql);
    snprintf(pragma, sizeof pragma, "PRAGMA application_id=%d; PRAGMA user_version=1", CW_APPLICATION_ID);
    assert_int_equal(sqlite3_exec(raw, pragma, NULL, NULL, NULL), SQLITE_OK);
    if (sqlite3_exec(raw,
                     "INSERT INTO nursery VALUES (1, 2031, 22754, 'USD', 'America/Chicago', 0, 0, 0);"
                     "INSERT INTO orders (id, number, received_at) VALUES (1, '1001', 0);"
                     "INSERT INTO notice (order_id, kind, made_at, due_on, detail, state) VALUES (1, "
                     "'delay', 0, 0, '{}', 'sent')",
                     NULL, NULL, &why) != SQLITE_OK)
        fail_msg("%s", why);
    sqlite3_close(raw);
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
    assert_int_equal(number(path, "SELECT COUNT(*) FROM template"), 6);
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

static int set_up(void **state)
{
    (void)state;
    if (mkdtemp(folder) == NULL)
        return 1;
    snprintf(path, sizeof path, "%s/n.db", folder);
    snprintf(copy, sizeof copy, "%s.before-schema-%d", path, cw_db_schema_known());
    return 0;
}

static int clean_up(void **state)
{
    static const char *const ends[] = { "", "-wal", "-shm", ".lock" };
    char name[160];
    (void)state;
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        snprintf(name, sizeof name, "%s%s", path, ends[i]);
        unlink(name);
        snprintf(name, sizeof name, "%s%s", copy, ends[i]);
        unlink(name);
    }
    return rmdir(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(a_file_of_schema_1_is_brought_up_to_date) };
    return cmocka_run_group_tests(tests, set_up, clean_up);
}

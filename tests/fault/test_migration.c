/* SPDX-License-Identifier: MIT */
/* A file of the first schema is brought up to date, and that fails: a statement clashes with what is there, or the n-th write
 * or sync of the disk breaks. The file then has the old schema whole, or the new one whole, never one between; the copy beside it
 * is the old file; and on a sound disk it opens. */
#include "support/check.h"
#include "support/disk.h"
#include "support/folder.h"

#include "store/db_inside.h"
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "base/banned.h"

typedef struct place {
    char folder[64], path[96], copy[128];
} place;

static void run_sql(const char *path, const char *sql)
{
    sqlite3 *raw = NULL;
    char *why = NULL;
    assert_int_equal(sqlite3_open(path, &raw), SQLITE_OK);
    if (sqlite3_exec(raw, sql, NULL, NULL, &why) != SQLITE_OK)
        fail_msg("%s", why);
    sqlite3_close(raw);
}

static int number(const char *path, const char *sql)
{
    sqlite3 *raw = NULL;
    sqlite3_stmt *s = NULL;
    assert_int_equal(sqlite3_open(path, &raw), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(raw, sql, -1, &s, NULL), SQLITE_OK);
    int v = sqlite3_step(s) == SQLITE_ROW ? sqlite3_column_int(s, 0) : -1;
    sqlite3_finalize(s);
    sqlite3_close(raw);
    return v;
}

static char *read_text(const char *path)
{
    FILE *f = fopen(path, "rb");
    char *text = calloc(1, 200000);
    assert_non_null(f);
    assert_non_null(text);
    size_t n = fread(text, 1, 199999, f);
    assert_true(n > 0 && n < 199999);
    fclose(f);
    return text;
}

/* A file as the first program wrote it, with a row that must survive. */
static void make_old(place *p)
{
    char pragmas[200];
    char *first = read_text(CW_SOURCE_DIR "/sql/migrations/0001_nursery.sql");
    *p = (place){ 0 };
    test_folder_make(p->folder, sizeof p->folder);
    snprintf(p->path, sizeof p->path, "%s/n.db", p->folder);
    snprintf(p->copy, sizeof p->copy, "%s.before-schema-%d", p->path, cw_db_schema_known());
    snprintf(pragmas, sizeof pragmas,
             "PRAGMA application_id=%d; PRAGMA user_version=1; INSERT INTO setting (name, value) VALUES "
             "('name', 'Old');",
             CW_APPLICATION_ID);
    run_sql(p->path, first);
    run_sql(p->path, pragmas);
    free(first);
}

static void drop(place *p)
{
    static const char *const ends[] = { "", "-wal", "-shm", ".lock" };
    char path[160];
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        snprintf(path, sizeof path, "%s%s", p->path, ends[i]);
        unlink(path);
        snprintf(path, sizeof path, "%s%s", p->copy, ends[i]);
        unlink(path);
    }
    rmdir(p->folder);
}

static bool is_old(const char *path)
{
    return number(path, "PRAGMA user_version") == 1 &&
           number(path, "SELECT COUNT(*) FROM pragma_table_info('notice') WHERE name = 'fact'") == 0 &&
           number(path, "SELECT COUNT(*) FROM sqlite_schema WHERE name = 'notice_fact'") == 0;
}

static bool is_new(const char *path)
{
    return number(path, "PRAGMA user_version") == cw_db_schema_known() &&
           number(path, "SELECT COUNT(*) FROM pragma_table_info('notice') WHERE name = 'fact'") == 1 &&
           number(path, "SELECT COUNT(*) FROM sqlite_schema WHERE name = 'notice_fact'") == 1;
}

static void row_is_there(const char *path)
{
    assert_int_equal(number(path, "SELECT COUNT(*) FROM setting WHERE value = 'Old'"), 1);
}

/* The last statement of a migration cannot run; those before it could. */
static void a_statement_fails(void **state)
{
    place p;
    cw_db *db = NULL;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    make_old(&p);
    run_sql(p.path, "CREATE TABLE notice_fact (x)"); /* the name that 0002 gives to an index */
    assert_int_equal(cw_db_open(p.path, CW_DB_WRITE, "test", &db, &err), CW_MACHINE);
    print_message("%s\n", err.text);
    assert_non_null(strstr(err.text, "0002_templates"));
    run_sql(p.path, "DROP TABLE notice_fact");
    assert_true(is_old(p.path));
    row_is_there(p.path);
    row_is_there(p.copy);
    assert_int_equal(number(p.copy, "PRAGMA user_version"), 1);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_db_open(p.path, CW_DB_WRITE, "test", &db, &err), &err);
    cw_db_close(db);
    assert_true(is_new(p.path));
    row_is_there(p.path);
    drop(&p);
}

static void the_disk_fails_at_any_write(void **state)
{
    long failed = 0, stayed_old = 0, n = 0;
    bool through = false;
    (void)state;
    for (n = 0; !through; n += 1 + n / 10) {
        place p;
        cw_db *db = NULL;
        cw_error err = CW_ERROR_NONE;
        make_old(&p);
        disk_arm(n, n % 2 ? SQLITE_FULL : SQLITE_IOERR, true);
        disk_install();
        cw_code code = cw_db_open(p.path, CW_DB_WRITE, "test", &db, &err);
        cw_db_close(db);
        disk_remove();
        through = the_disk.failed == 0;
        disk_arm(-1, 0, false);
        if (code != CW_OK) {
            assert_int_equal(code, CW_MACHINE);
            assert_string_not_equal(err.text, "");
            failed++;
        }
        bool old = is_old(p.path);
        if (!old && !is_new(p.path))
            fail_msg("write %ld: a schema between the two", n);
        stayed_old += old;
        if (code == CW_OK)
            assert_false(old);
        row_is_there(p.path);
        if (access(p.copy, F_OK) == 0)
            row_is_there(p.copy);
        else
            assert_true(old); /* never migrated without a copy */
        err = (cw_error)CW_ERROR_NONE;
        cw_check_ok(cw_db_open(p.path, CW_DB_WRITE, "test", &db, &err), &err);
        cw_db_close(db);
        assert_true(is_new(p.path));
        row_is_there(p.path);
        drop(&p);
    }
    print_message("failed at %ld places up to write %ld; %ld left the old schema, the others the new\n",
                  failed, n, stayed_old);
    assert_true(failed > 10 && stayed_old > 5);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_statement_fails),
        cmocka_unit_test(the_disk_fails_at_any_write),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

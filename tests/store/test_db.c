/* SPDX-License-Identifier: MIT */
#include "support/check.h"
#include "support/folder.h"

#include "columns/season.h"
#include "store/db.h"
#include "store/season.h"
#include <dirent.h>
#include <fcntl.h>
#include <signal.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "base/banned.h"

typedef struct place {
    char folder[64], path[96];
} place;

static void make_place(place *p)
{
    *p = (place){ 0 };
    test_folder_make(p->folder, sizeof p->folder);
    snprintf(p->path, sizeof p->path, "%s/n.db", p->folder);
}

static void drop_place(place *p)
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

static void make_file(place *p)
{
    cw_error err = CW_ERROR_NONE;
    cw_db *db = NULL;
    cw_season_row row = { 2031, 22745, "USD", "UTC" };
    make_place(p);
    cw_check_ok(cw_db_open(p->path, CW_DB_NEW, "test", &db, &err), &err);
    cw_check_ok(cw_db_begin(db, &err), &err);
    cw_check_ok(cw_season_make(db, &row, 0, &err), &err);
    cw_check_ok(cw_db_commit(db, &err), &err);
    cw_db_close(db);
}

static void raw(const char *path, const char *sql)
{
    sqlite3 *db = NULL;
    char *message = NULL;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    if (sqlite3_exec(db, sql, NULL, NULL, &message) != SQLITE_OK)
        fail_msg("%s", message);
    sqlite3_close(db);
}

static void files_that_are_none_are_refused(void **state)
{
    static const struct {
        const char *name, *sql, *text;
        cw_db_mode mode;
        cw_code code;
        const char *says;
    } rows[] = {
        { "not there", NULL, NULL, CW_DB_WRITE, CW_REFUSED, "there is no such nursery file" },
        { "not there, to read", NULL, NULL, CW_DB_READ, CW_REFUSED, "there is no such nursery file" },
        { "a text", NULL,
          "Dear nursery, this is a letter and not a file of yours. It is long enough to look like a header "
          "of "
          "a hundred bytes and more.",
          CW_DB_READ, CW_REFUSED, "is not a nursery file" },
        { "another database", "CREATE TABLE t (a)", NULL, CW_DB_WRITE, CW_REFUSED, "is not a nursery file" },
        { "of a newer program", "PRAGMA application_id = 1131179376; PRAGMA user_version = 99", NULL,
          CW_DB_WRITE, CW_REFUSED, "newer clumpwise (schema 99" },
        { "of a newer program, to read", "PRAGMA application_id = 1131179376; PRAGMA user_version = 99", NULL,
          CW_DB_READ, CW_REFUSED, "newer clumpwise (schema 99" },
        { "of an older one, to read", "PRAGMA application_id = 1131179376; PRAGMA user_version = 0", NULL,
          CW_DB_READ, CW_REFUSED, "older clumpwise (schema 0" },
        { "made over", "CREATE TABLE t (a)", NULL, CW_DB_NEW, CW_REFUSED, "exists already" },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        place p;
        cw_error err = CW_ERROR_NONE;
        cw_db *db = NULL;
        print_message("%s\n", rows[i].name);
        make_place(&p);
        if (rows[i].sql)
            raw(p.path, rows[i].sql);
        if (rows[i].text) {
            FILE *f = fopen(p.path, "w");
            assert_non_null(f);
            fputs(rows[i].text, f);
            fclose(f);
        }
        assert_int_equal(cw_db_open(p.path, rows[i].mode, "test", &db, &err), rows[i].code);
        assert_non_null(strstr(err.text, rows[i].says));
        assert_null(db);
        drop_place(&p);
    }
}

static void an_older_file_is_migrated_after_a_backup(void **state)
{
    place p;
    cw_error err = CW_ERROR_NONE;
    cw_db *db = NULL;
    char copy[160];
    (void)state;
    make_place(&p);
    raw(p.path, "PRAGMA application_id = 1131179376; PRAGMA user_version = 0");
    cw_check_ok(cw_db_open(p.path, CW_DB_WRITE, "test", &db, &err), &err);
    cw_db_close(db);
    snprintf(copy, sizeof copy, "%s.before-schema-%d", p.path, cw_db_schema_known());
    assert_int_equal(access(copy, F_OK), 0);
    cw_check_ok(cw_db_open(p.path, CW_DB_READ, NULL, &db, &err), &err);
    cw_db_close(db);
    drop_place(&p);
}

static void there_is_one_writer_and_it_is_named(void **state)
{
    place p;
    cw_error err = CW_ERROR_NONE;
    cw_db *one = NULL, *two = NULL, *reader = NULL;
    (void)state;
    make_file(&p);
    cw_check_ok(cw_db_open(p.path, CW_DB_WRITE, "the first at its desk", &one, &err), &err);
    assert_int_equal(cw_db_open(p.path, CW_DB_WRITE, "the second", &two, &err), CW_MACHINE);
    assert_non_null(strstr(err.text, "the first at its desk (process "));
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_db_open(p.path, CW_DB_READ, NULL, &reader, &err), &err);
    cw_db_close(one);
    cw_check_ok(cw_db_open(p.path, CW_DB_WRITE, "the second", &two, &err), &err);
    cw_db_close(two);
    cw_db_close(reader);
    drop_place(&p);
}

static int64_t stock_revision(cw_db *db)
{
    cw_error err = CW_ERROR_NONE;
    int64_t stock = 0, trade = 0;
    cw_check_ok(cw_season_revision(db, &stock, &trade, &err), &err);
    return stock;
}

static void transactions_keep_or_drop_as_told(void **state)
{
    place p;
    cw_error err = CW_ERROR_NONE;
    cw_db *db = NULL, *reader = NULL;
    (void)state;
    make_file(&p);
    cw_check_ok(cw_db_open(p.path, CW_DB_WRITE, "test", &db, &err), &err);
    cw_check_ok(cw_db_open(p.path, CW_DB_READ, NULL, &reader, &err), &err);
    cw_check_ok(cw_db_begin(db, &err), &err);
    cw_check_ok(cw_season_touch(db, true, false, &err), &err);
    cw_check_ok(cw_db_savepoint(db, &err), &err);
    cw_check_ok(cw_season_touch(db, true, false, &err), &err);
    cw_db_undo(db);
    assert_int_equal(stock_revision(db), 1);
    assert_int_equal(stock_revision(reader), 0); /* not before the commit */
    cw_check_ok(cw_db_commit(db, &err), &err);
    assert_int_equal(stock_revision(reader), 1);
    cw_check_ok(cw_db_begin(db, &err), &err);
    cw_check_ok(cw_season_touch(db, true, true, &err), &err);
    cw_db_rollback(db);
    cw_db_rollback(db);
    assert_int_equal(stock_revision(db), 1);
    cw_db_close(reader);
    cw_db_close(db);
    drop_place(&p);
}

static void a_reader_cannot_write(void **state)
{
    place p;
    cw_error err = CW_ERROR_NONE;
    cw_db *db = NULL;
    (void)state;
    make_file(&p);
    cw_check_ok(cw_db_open(p.path, CW_DB_READ, NULL, &db, &err), &err);
    assert_int_equal(cw_season_touch(db, true, true, &err), CW_MACHINE);
    assert_non_null(strstr(err.text, "may only be read here"));
    cw_db_close(db);
    drop_place(&p);
}

static void a_constraint_is_a_conflict_in_its_own_words(void **state)
{
    place p;
    cw_error err = CW_ERROR_NONE;
    cw_db *db = NULL;
    cw_season_row row = { 2031, 22745, "USD", "UTC" };
    (void)state;
    make_file(&p);
    cw_check_ok(cw_db_open(p.path, CW_DB_WRITE, "test", &db, &err), &err);
    cw_check_ok(cw_db_begin(db, &err), &err);
    assert_int_equal(cw_season_make(db, &row, 0, &err), CW_CONFLICT);
    assert_string_equal(err.text, "UNIQUE constraint failed: nursery.id");
    cw_db_rollback(db);
    cw_db_close(db);
    drop_place(&p);
}

/* How a child ends that reads the statement's row by that name. */
static int read_by(cw_db *db, const char *statement, cw_sql_column column)
{
    pid_t child = fork();
    if (child == 0) {
        cw_error err = CW_ERROR_NONE;
        bool found = false;
        cw_stmt *s = cw_db_stmt(db, statement);
        int quiet = open("/dev/null", O_WRONLY);
        signal(SIGABRT, SIG_DFL); /* cmocka's own would take it for a test's failure */
        dup2(quiet, STDERR_FILENO);
        if (cw_stmt_one(s, &found, &err, "") == CW_OK)
            (void)cw_col_int(s, column);
        _exit(0);
    }
    int status = 0;
    assert_int_equal(waitpid(child, &status, 0), child);
    return WIFSIGNALED(status) ? WTERMSIG(status) : 0;
}

static void a_name_of_another_statement_aborts(void **state)
{
    place p;
    cw_error err = CW_ERROR_NONE;
    cw_db *db = NULL;
    (void)state;
    make_file(&p);
    cw_check_ok(cw_db_open(p.path, CW_DB_READ, NULL, &db, &err), &err);
    assert_int_equal(read_by(db, "season.read", season_read_season), 0);
    assert_int_equal(read_by(db, "season.revision", season_read_season), SIGABRT);
    cw_db_close(db);
    drop_place(&p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(files_that_are_none_are_refused),
        cmocka_unit_test(an_older_file_is_migrated_after_a_backup),
        cmocka_unit_test(there_is_one_writer_and_it_is_named),
        cmocka_unit_test(transactions_keep_or_drop_as_told),
        cmocka_unit_test(a_reader_cannot_write),
        cmocka_unit_test(a_constraint_is_a_conflict_in_its_own_words),
        cmocka_unit_test(a_name_of_another_statement_aborts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

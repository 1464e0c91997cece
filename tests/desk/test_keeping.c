/* SPDX-License-Identifier: MIT */
#include "support/full.h"

#include "base/text.h"
#include "desk/export/exporting.h"
#include "desk/intake/intake.h"
#include "desk/nursery/keeping.h"
#include <fcntl.h>
#include <sqlite3.h>
#include <sys/stat.h>

#include "base/banned.h"

static const char *const kinds[] = { "varieties",   "places", "zones",     "destinations", "history",
                                     "past_checks", "lots",   "weighings", "air",          "divisions",
                                     "checks",      "counts", "orders" };
#define KINDS (sizeof kinds / sizeof kinds[0])

static void load_demo(test_nursery *t)
{
    char paths[KINDS][400];
    cw_intake_file files[KINDS];
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { NULL, 0, 0 };
    cw_table answer;
    cw_intake_options o = { 0 };
    for (size_t k = 0; k < KINDS; k++) {
        snprintf(paths[k], sizeof paths[k], "%s/scripts/demo-season/%s.csv", CW_SOURCE_DIR, kinds[k]);
        files[k] = (cw_intake_file){ .path = paths[k] };
    }
    t->who.today = cw_day_from_ymd(2032, 2, 20);
    t->who.now = t->who.today * CW_DAY_MS + 43200000;
    cw_check_ok(cw_intake_load(t->n, &t->who, files, KINDS, &o, &answer, &errors, &err), &err);
    cw_table_free(&answer);
    cw_error_list_free(&errors);
}

static void export_all(test_nursery *t, cw_text texts[KINDS])
{
    cw_error err = CW_ERROR_NONE;
    for (size_t k = 0; k < KINDS; k++) {
        cw_table out;
        texts[k] = CW_TEXT((size_t)64 << 20);
        cw_check_ok(cw_exporting_table(t->n, &t->who, kinds[k], &out, &err), &err);
        cw_check_ok(cw_table_csv(&out, cw_sink_text(&texts[k]), &err), &err);
        cw_table_free(&out);
    }
}

/* Loads texts in one call; returns how many rows were new or changed. */
static int64_t load_texts(test_nursery *t, const cw_text texts[KINDS])
{
    cw_intake_file files[KINDS];
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { NULL, 0, 0 };
    cw_table answer;
    cw_intake_options o = { 0 };
    int64_t touched = 0;
    for (size_t k = 0; k < KINDS; k++)
        files[k] = (cw_intake_file){
            .name = kinds[k], .kind = kinds[k], .bytes = texts[k].data, .length = texts[k].length
        };
    cw_check_ok(cw_intake_load(t->n, &t->who, files, KINDS, &o, &answer, &errors, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&answer); r++)
        touched += cw_table_int(&answer, r, 3) + cw_table_int(&answer, r, 4);
    cw_table_free(&answer);
    cw_error_list_free(&errors);
    return touched;
}

static void what_is_written_out_can_be_read_in(void **state)
{
    test_nursery t, other;
    cw_text first[KINDS], second[KINDS];
    cw_revision before, after;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    test_nursery_make(&t);
    load_demo(&t);
    export_all(&t, first);
    /* Into the same file: nothing changes. */
    cw_check_ok(cw_nursery_revision(t.n, &before, &err), &err);
    assert_int_equal(load_texts(&t, first), 0);
    cw_check_ok(cw_nursery_revision(t.n, &after, &err), &err);
    assert_int_equal(after.stock, before.stock);
    assert_int_equal(after.trade, before.trade);
    /* Into an empty one: the same tables come out of it, byte for byte. */
    test_nursery_make(&other);
    other.who = t.who;
    assert_true(load_texts(&other, first) > 10000);
    test_nursery_check(&other);
    export_all(&other, second);
    for (size_t k = 0; k < KINDS; k++) {
        print_message("%s: %zu bytes\n", kinds[k], first[k].length);
        assert_int_equal(first[k].length, second[k].length);
        assert_memory_equal(first[k].data, second[k].data, first[k].length);
        cw_text_free(&first[k]);
        cw_text_free(&second[k]);
    }
    test_nursery_free(&other);
    test_nursery_free(&t);
}

static void every_table_can_be_written_out(void **state)
{
    test_nursery t;
    cw_table list;
    cw_error err = CW_ERROR_NONE;
    char path[128];
    unsigned char head[4] = { 0 };
    (void)state;
    test_nursery_make(&t);
    cw_check_ok(cw_exporting_list(&list, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&list); r++) {
        cw_table out = { 0 };
        print_message("%s\n", cw_table_text(&list, r, 0));
        cw_check_ok(cw_exporting_table(t.n, &t.who, cw_table_text(&list, r, 0), &out, &err), &err);
        cw_table_free(&out);
    }
    cw_table_free(&list);
    assert_int_equal(cw_exporting_table(t.n, &t.who, "secrets", &list, &err), CW_NOT_FOUND);
    snprintf(path, sizeof path, "%s/s.xlsx", t.folder);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_exporting_workbook(t.n, &t.who, path, &err), &err);
    FILE *f = fopen(path, "rb");
    assert_non_null(f);
    assert_int_equal(fread(head, 1, 4, f), 4);
    fclose(f);
    assert_memory_equal(head, "PK\x03\x04", 4); /* a ZIP archive, as ISO/IEC 29500-2 asks of a workbook */
    unlink(path);
    assert_int_equal(cw_exporting_workbook(t.n, &t.who, "/no/such/folder/s.xlsx", &err), CW_MACHINE);
    test_nursery_free(&t);
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

static void a_check_finds_what_is_broken(void **state)
{
    static const struct {
        const char *name, *sql, *detail;
    } rows[] = {
        { "a balance typed over", "UPDATE balance SET clumps = clumps + 1 WHERE lot_id = 1",
          "lot L0001 at place" },
        { "a movement taken out",
          "DROP TRIGGER movement_is_kept; PRAGMA foreign_keys = OFF; DELETE FROM movement WHERE id = 2",
          "lot L0002" },
        { "sold typed over", "UPDATE offering SET sold = sold + 1, beyond = beyond + 1 WHERE variety_id = 1",
          "sold says" },
        { "a parent taken out", "PRAGMA foreign_keys = OFF; DELETE FROM place WHERE id = 3",
          "a row without its parent" },
        { "a trigger added",
          "CREATE TRIGGER more AFTER INSERT ON line BEGIN UPDATE nursery SET season = 2000; END",
          "the trigger more is none of this program's" },
        { "a table under the name of a copying engine's",
          "CREATE TABLE _litestream_seq (id INTEGER PRIMARY KEY, seq INTEGER); CREATE TABLE _litestream_lock "
          "(name TEXT)",
          "the table _litestream_lock is none of this program's" },
        { "a view added", "CREATE VIEW names AS SELECT name FROM person", "the view names is none" },
        { "an index dropped", "DROP INDEX line_by_variety", "the index line_by_variety is missing" },
        { "a trigger changed",
          "DROP TRIGGER audit_is_kept; CREATE TRIGGER audit_is_kept BEFORE DELETE ON audit BEGIN SELECT 1; "
          "END",
          "the trigger audit_is_kept is not as this program makes it" },
        { "a check taken out",
          "PRAGMA writable_schema=ON; UPDATE sqlite_schema SET sql = replace(sql, 'CHECK (sold <= offered + "
          "beyond)', "
          "'CHECK (1)') WHERE name = 'offering'; PRAGMA writable_schema=RESET",
          "the table offering is not as this program makes it" },
        { "the audit changed", "DROP TRIGGER audit_stays; UPDATE audit SET actor = 'nobody' WHERE id = 2",
          "audit row 2" },
    };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    char copy[128], last[65];
    (void)state;
    test_nursery_make(&t);
    load_demo(&t);
    snprintf(copy, sizeof copy, "%s/copy.db", t.folder);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_nursery *n = NULL;
        cw_table found;
        bool told = false;
        print_message("%s\n", rows[i].name);
        cw_check_ok(cw_keeping_backup(t.n, &t.who, copy, &err), &err);
        raw(copy, rows[i].sql);
        cw_check_ok(cw_nursery_open(copy, CW_LOOK, NULL, &n, &err), &err);
        cw_check_ok(cw_keeping_check(n, &found, last, &err), &err);
        assert_true(cw_table_rows(&found) > 0);
        for (size_t r = 0; r < cw_table_rows(&found); r++)
            told = told || strstr(cw_table_text(&found, r, 1), rows[i].detail);
        assert_true(told);
        cw_table_free(&found);
        cw_nursery_close(n);
        /* And such a copy is never put in the place of a nursery file. */
        cw_error why = CW_ERROR_NONE;
        cw_nursery_close(t.n);
        assert_int_equal(cw_keeping_restore(copy, t.path, &why), CW_REFUSED);
        assert_non_null(strstr(why.text, "nothing was changed"));
        cw_check_ok(cw_nursery_open(t.path, CW_WORK, "test", &t.n, &err), &err);
    }
    unlink(copy);
    test_nursery_free(&t);
}

/* What scripts/standby's engine keeps in the file is no finding, and such a copy may take the file's place. */
static void a_copying_engine_may_keep_its_tables(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_nursery *n = NULL;
    cw_table found;
    char copy[128], last[65];
    (void)state;
    test_nursery_make(&t);
    load_demo(&t);
    snprintf(copy, sizeof copy, "%s/copy.db", t.folder);
    cw_check_ok(cw_keeping_backup(t.n, &t.who, copy, &err), &err);
    raw(copy, "CREATE TABLE _litestream_seq (id INTEGER PRIMARY KEY, seq INTEGER); "
              "CREATE TABLE _litestream_lock (id INTEGER); INSERT INTO _litestream_seq VALUES (1, 7)");
    cw_check_ok(cw_nursery_open(copy, CW_LOOK, NULL, &n, &err), &err);
    cw_check_ok(cw_keeping_check(n, &found, last, &err), &err);
    assert_int_equal(cw_table_rows(&found), 0);
    cw_table_free(&found);
    cw_nursery_close(n);
    cw_nursery_close(t.n);
    cw_check_ok(cw_keeping_restore(copy, t.path, &err), &err);
    cw_check_ok(cw_nursery_open(t.path, CW_WORK, "test", &t.n, &err), &err);
    unlink(copy);
    test_nursery_free(&t);
}

static void damage(const char *path, long from, size_t n)
{
    int fd = open(path, O_RDWR);
    char junk[8192];
    memset(junk, 0x5A, sizeof junk);
    assert_true(fd >= 0);
    assert_int_equal(pwrite(fd, junk, n, from), (ssize_t)n);
    close(fd);
}

static void a_backup_comes_back_whole_or_not_at_all(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    char copy[128], aside[128], value[64];
    (void)state;
    test_nursery_make(&t);
    load_demo(&t);
    snprintf(copy, sizeof copy, "%s/copy.db", t.folder);
    cw_check_ok(cw_keeping_backup(t.n, &t.who, copy, &err), &err);
    assert_int_equal(cw_keeping_backup(t.n, &t.who, t.path, &err), CW_REFUSED);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_nursery_set(t.n, &t.who, "confidence", "0.6", &err), &err);
    /* While somebody has it open for writing, nothing is put in its place. */
    assert_int_equal(cw_keeping_restore(copy, t.path, &err), CW_MACHINE);
    cw_nursery_close(t.n);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_keeping_restore(copy, t.path, &err), &err);
    cw_check_ok(cw_nursery_open(t.path, CW_WORK, "test", &t.n, &err), &err);
    cw_check_ok(cw_nursery_setting(t.n, "confidence", value, sizeof value, &err), &err);
    assert_string_equal(value, "0.9");
    test_nursery_check(&t);
    cw_nursery_close(t.n);
    /* What stood there is whole, too. */
    snprintf(aside, sizeof aside, "%s.before-restore", t.path);
    cw_check_ok(cw_nursery_open(aside, CW_WORK, "test", &t.n, &err), &err);
    cw_check_ok(cw_nursery_setting(t.n, "confidence", value, sizeof value, &err), &err);
    assert_string_equal(value, "0.6");
    cw_nursery_close(t.n);
    damage(copy, 40960, 8192);
    assert_int_not_equal(cw_keeping_restore(copy, t.path, &err), CW_OK);
    damage(copy, 0, 100);
    err = (cw_error)CW_ERROR_NONE;
    assert_int_not_equal(cw_keeping_restore(copy, t.path, &err), CW_OK);
    assert_true(strstr(err.text, "damaged") || strstr(err.text, "no"));
    cw_check_ok((err = (cw_error)CW_ERROR_NONE, cw_nursery_open(t.path, CW_WORK, "test", &t.n, &err)), &err);
    test_nursery_check(&t);
    unlink(copy);
    test_nursery_free(&t);
}

static void nothing_is_found(cw_nursery *n)
{
    cw_error err = CW_ERROR_NONE;
    cw_table found;
    char last[65];
    cw_check_ok(cw_keeping_check(n, &found, last, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&found); r++)
        print_error("%s: %s\n", cw_table_text(&found, r, 0), cw_table_text(&found, r, 1));
    assert_int_equal(cw_table_rows(&found), 0);
    cw_table_free(&found);
}

/* Whatever stands in the file, a sound file is called sound: checked, copied, the copy checked, and put back. */
static void a_file_with_a_row_in_every_table_is_sound(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_nursery *n = NULL;
    char copy[128];
    (void)state;
    full_make(&t);
    snprintf(copy, sizeof copy, "%s/copy.db", t.folder);
    nothing_is_found(t.n);
    cw_check_ok(cw_keeping_backup(t.n, &t.who, copy, &err), &err);
    cw_check_ok(cw_nursery_open(copy, CW_LOOK, NULL, &n, &err), &err);
    nothing_is_found(n);
    cw_nursery_close(n);
    cw_nursery_close(t.n);
    cw_check_ok(cw_keeping_restore(copy, t.path, &err), &err);
    cw_check_ok(cw_nursery_open(t.path, CW_WORK, "test", &t.n, &err), &err);
    nothing_is_found(t.n);
    full_check(&t);
    test_nursery_free(&t);
}

/* ---- A copy, a workbook: never over the nursery file or what belongs to it ---- */
static void put_link(test_nursery *t, const char *name, const char *to, bool hard)
{
    char path[200], target[200];
    snprintf(path, sizeof path, "%s/%s", t->folder, name);
    snprintf(target, sizeof target, "%s/%s", t->folder, to);
    assert_int_equal(hard ? link(target, path) : symlink(target, path), 0);
}

static void nothing_is_written_over_the_file_itself(void **state)
{
    static const struct {
        const char *name, *says;
    } rows[] = {
        { "n.db", "is the nursery file itself" },
        { "./n.db", "is the nursery file itself" },
        { "link.db", "is the nursery file itself" },
        { "n.db-wal", "belongs to the nursery file" },
        { "n.db-shm", "belongs to the nursery file" },
        { "n.db-journal",
          "belongs to the nursery file" }, /* is not there, and would be taken for a journal */
        { "n.db.lock", "belongs to the nursery file" },
        { "n.db.secrets", "belongs to the nursery file" }, /* the password of its mail account */
        { ".//n.db-wal", "belongs to the nursery file" },
        { "log", "belongs to the nursery file" },      /* a link to the log */
        { "log-hard", "belongs to the nursery file" }, /* the log under a second name */
        { "lock", "belongs to the nursery file" },
        { "other.db", "somebody is writing" },
        { "folder", "is no file" },
    };
    test_nursery t;
    cw_nursery *look = NULL, *other = NULL;
    cw_error err = CW_ERROR_NONE;
    char path[200];
    (void)state;
    test_nursery_make(&t);
    load_text(&t, "varieties.csv", pick_varieties);
    put_link(&t, "link.db", "n.db", false);
    put_link(&t, "log", "n.db-wal", false);
    put_link(&t, "log-hard", "n.db-wal", true);
    put_link(&t, "lock", "n.db.lock", false);
    snprintf(path, sizeof path, "%s/folder", t.folder);
    assert_int_equal(mkdir(path, 0700), 0);
    snprintf(path, sizeof path, "%s/other.db", t.folder);
    cw_check_ok(cw_nursery_new(path, cw_nursery_season(t.n), &t.who, &other, &err), &err);
    cw_check_ok(cw_nursery_open(t.path, CW_LOOK, NULL, &look, &err), &err);
    load_text(&t, "orders.csv", pick_orders); /* in the log, not yet in the file */
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_error why = CW_ERROR_NONE, why_book = CW_ERROR_NONE;
        snprintf(path, sizeof path, "%s/%s", t.folder, rows[i].name);
        cw_code code = cw_keeping_backup(look, &t.who, path, &why);
        cw_code book = cw_exporting_workbook(look, &t.who, path, &why_book);
        if (code != CW_REFUSED || strstr(why.text, rows[i].says) == NULL || book != CW_REFUSED ||
            strstr(why_book.text, rows[i].says) == NULL)
            fail_msg("%s: code %d: %s; %d: %s", rows[i].name, code, why.text, book, why_book.text);
    }
    snprintf(path, sizeof path, "%s/folder", t.folder);
    rmdir(path);
    cw_nursery_close(look);
    cw_nursery_close(other);
    /* All orders are there, also after the log has gone into the file. */
    cw_nursery_close(t.n);
    cw_check_ok(cw_nursery_open(t.path, CW_WORK, "test", &t.n, &err), &err);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM orders"), 5);
    nothing_is_found(t.n);
    test_nursery_free(&t);
}

/* A nursery file named "x.part" is not taken for what a copy to "x" left half-way. */
static void a_file_may_be_called_part(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_nursery *n = NULL;
    char path[200], copy[200];
    (void)state;
    test_nursery_make(&t);
    snprintf(path, sizeof path, "%s/season.db.part", t.folder);
    snprintf(copy, sizeof copy, "%s/season.db", t.folder);
    cw_check_ok(cw_nursery_new(path, cw_nursery_season(t.n), &t.who, &n, &err), &err);
    assert_int_equal(cw_keeping_backup(n, &t.who, copy, &err), CW_REFUSED);
    assert_int_equal(access(path, F_OK), 0);
    cw_nursery_close(n);
    test_nursery_free(&t);
}

/* Somebody worked in the copy and was cut off: what its log kept is not played into the copy that replaces it. */
static void a_log_that_was_left_beside_a_copy(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_nursery *n = NULL;
    char copy[200], log[220], kept[220];
    (void)state;
    test_nursery_make(&t);
    load_text(&t, "varieties.csv", pick_varieties);
    snprintf(copy, sizeof copy, "%s/copy.db", t.folder);
    snprintf(log, sizeof log, "%s-wal", copy);
    snprintf(kept, sizeof kept, "%s-kept", copy);
    cw_check_ok(cw_keeping_backup(t.n, &t.who, copy, &err), &err);
    cw_check_ok(cw_nursery_open(copy, CW_WORK, "test", &n, &err), &err);
    cw_check_ok(cw_nursery_set(n, &t.who, "confidence", "0.6", &err), &err);
    assert_int_equal(link(log, kept), 0);
    cw_nursery_close(n);
    unlink(log);
    assert_int_equal(rename(kept, log), 0);
    load_text(&t, "places.csv", pick_places);
    cw_check_ok(cw_keeping_backup(t.n, &t.who, copy, &err), &err);
    assert_int_equal(access(log, F_OK), -1);
    cw_check_ok(cw_nursery_open(copy, CW_WORK, "test", &n, &err), &err);
    nothing_is_found(n);
    cw_nursery_close(n);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_file_with_a_row_in_every_table_is_sound),
        cmocka_unit_test(nothing_is_written_over_the_file_itself),
        cmocka_unit_test(a_file_may_be_called_part),
        cmocka_unit_test(a_log_that_was_left_beside_a_copy),
        cmocka_unit_test(what_is_written_out_can_be_read_in),
        cmocka_unit_test(every_table_can_be_written_out),
        cmocka_unit_test(a_check_finds_what_is_broken),
        cmocka_unit_test(a_copying_engine_may_keep_its_tables),
        cmocka_unit_test(a_backup_comes_back_whole_or_not_at_all),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* SPDX-License-Identifier: MIT */
#include "support/nursery.h"

#include "store/audit.h"
#include <sqlite3.h>

#include "base/text.h"

#include "base/banned.h"

static void a_new_file_keeps_its_season(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_nursery *reader = NULL;
    (void)state;
    test_nursery_make(&t);
    cw_check_ok(cw_nursery_open(t.path, CW_LOOK, NULL, &reader, &err), &err);
    assert_int_equal(cw_nursery_season(reader)->season, 2031);
    assert_int_equal(cw_nursery_season(reader)->ship, cw_day_from_ymd(2032, 4, 19));
    assert_string_equal(cw_nursery_season(reader)->currency, "USD");
    assert_string_equal(cw_nursery_season(reader)->timezone, "America/Chicago");
    cw_nursery_close(reader);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

static void wrong_seasons_are_refused(void **state)
{
    static const struct {
        const char *name;
        cw_season season;
        const char *column;
    } rows[] = {
        { "absurd year", { 1, 0, "USD", "UTC" }, "season" },
        { "ships years later", { 2031, 30000, "USD", "UTC" }, "ship" },
        { "ships before digging", { 2031, 0, "USD", "UTC" }, "ship" },
        { "small letters", { 2031, 22745, "usd", "UTC" }, "currency" },
        { "no zone", { 2031, 22745, "USD", "../etc passwd" }, "timezone" },
    };
    cw_asker who = { .actor = "tester", .role = CW_ROLE_OWNER };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_error err = CW_ERROR_NONE;
        cw_nursery *n = NULL;
        print_message("%s\n", rows[i].name);
        assert_int_equal(cw_nursery_new("/tmp/cw-never-made.db", &rows[i].season, &who, &n, &err),
                         CW_REFUSED);
        assert_string_equal(err.column, rows[i].column);
        assert_null(n);
        assert_int_equal(access("/tmp/cw-never-made.db", F_OK), -1);
    }
}

static void settings_have_defaults_and_bounds(void **state)
{
    static const struct {
        const char *name, *value;
        cw_code want;
    } rows[] = {
        { "confidence", "0.8", CW_OK },
        { "confidence", "2", CW_REFUSED },
        { "confidence", "x", CW_REFUSED },
        { "parcels_per_week", "0", CW_REFUSED },
        { "parcels_per_week", "300", CW_OK },
        { "timetable", "own", CW_OK },
        { "timetable", "us-435 own", CW_REFUSED },
        { "timetable", "", CW_REFUSED },
        { "name", "two\nlines", CW_REFUSED },
        { "no such", "1", CW_REFUSED },
    };
    test_nursery t;
    char value[64];
    cw_error err = CW_ERROR_NONE;
    (void)state;
    test_nursery_make(&t);
    cw_check_ok(cw_nursery_setting(t.n, "confidence", value, sizeof value, &err), &err);
    assert_string_equal(value, "0.9");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_error e = CW_ERROR_NONE;
        print_message("%s = %s\n", rows[i].name, rows[i].value);
        assert_int_equal(cw_nursery_set(t.n, &t.who, rows[i].name, rows[i].value, &e), rows[i].want);
    }
    cw_check_ok(cw_nursery_setting(t.n, "confidence", value, sizeof value, &err), &err);
    assert_string_equal(value, "0.8");
    t.who.role = CW_ROLE_OFFICE;
    assert_int_equal(cw_nursery_set(t.n, &t.who, "confidence", "0.7", NULL), CW_FORBIDDEN);
    test_nursery_free(&t);
}

static void each_call_of_a_batch_stands_by_itself(void **state)
{
    test_nursery t;
    char value[64];
    cw_error err = CW_ERROR_NONE;
    cw_revision before, after;
    (void)state;
    test_nursery_make(&t);
    cw_check_ok(cw_nursery_revision(t.n, &before, &err), &err);
    cw_check_ok(cw_nursery_batch_begin(t.n, &err), &err);
    cw_check_ok(cw_nursery_set(t.n, &t.who, "confidence", "0.8", &err), &err);
    cw_check_ok(cw_work_begin(t.n, &err), &err);
    assert_int_equal(cw_work_end(t.n, CW_CONFLICT, &err), CW_CONFLICT);
    cw_check_ok(cw_nursery_set(t.n, &t.who, "parcels_per_week", "90", &err), &err);
    cw_check_ok(cw_nursery_batch_commit(t.n, &err), &err);
    cw_check_ok(cw_nursery_setting(t.n, "parcels_per_week", value, sizeof value, &err), &err);
    assert_string_equal(value, "90");
    cw_check_ok(cw_nursery_revision(t.n, &after, &err), &err);
    assert_int_equal(after.stock - before.stock, 2);
    test_nursery_free(&t);
}

typedef struct told {
    int count;
    char last[200];
} told;

static void take_sentence(void *context, const char *sentence)
{
    told *t = context;
    t->count++;
    cw_copy(t->last, sizeof t->last, sentence);
}

/* What no function of the program does, somebody with a database tool may. */
static void tampering_with_the_audit_shows(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    long broken = 0;
    char last[65];
    sqlite3 *raw = NULL;
    (void)state;
    test_nursery_make(&t);
    for (int i = 0; i < 5; i++)
        cw_check_ok(cw_nursery_set(t.n, &t.who, "confidence", i % 2 ? "0.7" : "0.8", &err), &err);
    cw_check_ok(cw_audit_check(t.n->db, test_report, NULL, &broken, last, &err), &err);
    assert_int_equal(broken, 0);
    assert_int_equal(strlen(last), 64);
    cw_nursery_close(t.n);
    t.n = NULL;
    assert_int_equal(sqlite3_open(t.path, &raw), SQLITE_OK);
    assert_int_equal(sqlite3_exec(raw, "UPDATE audit SET after = '0.99' WHERE id = 3", NULL, NULL, NULL),
                     SQLITE_CONSTRAINT);
    assert_int_equal(sqlite3_exec(raw, "DELETE FROM audit WHERE id = 5", NULL, NULL, NULL),
                     SQLITE_CONSTRAINT);
    assert_int_equal(sqlite3_exec(raw,
                                  "DROP TRIGGER audit_stays; UPDATE audit SET after = '0.99' WHERE id = 3;"
                                  "DROP TRIGGER audit_is_kept; DELETE FROM audit WHERE id = 5",
                                  NULL, NULL, NULL),
                     SQLITE_OK);
    sqlite3_close(raw);
    cw_check_ok(cw_nursery_open(t.path, CW_WORK, "test", &t.n, &err), &err);
    told told_ = { 0 };
    cw_check_ok(cw_audit_check(t.n->db, take_sentence, &told_, &broken, last, &err), &err);
    assert_int_equal(told_.count, 2);
    assert_string_equal(told_.last, "audit row 6 was changed, or a row before it is missing");
    assert_int_equal(broken, 2); /* the changed row, and the row after the one that is gone */
    test_nursery_free(&t);
}

/* Whatever column of a row is changed: that row alone no longer fits the chain. */
static void every_column_of_the_audit_is_in_its_chain(void **state)
{
    static const char *const changes[] = { "at = at + 1",       "actor = 'another'", "action = 'another'",
                                           "subject = 'other'", "before = '0.99'",   "before = NULL",
                                           "after = '0.99'",    "hash = 'no'" };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    sqlite3 *raw = NULL;
    (void)state;
    test_nursery_make(&t);
    for (int i = 0; i < 3; i++)
        cw_check_ok(cw_nursery_set(t.n, &t.who, "confidence", i % 2 ? "0.7" : "0.8", &err), &err);
    assert_int_equal(sqlite3_open(t.path, &raw), SQLITE_OK);
    assert_int_equal(sqlite3_exec(raw,
                                  "DROP TRIGGER audit_stays;"
                                  "CREATE TABLE whole AS SELECT * FROM audit WHERE id = 3",
                                  NULL, NULL, NULL),
                     SQLITE_OK);
    for (size_t i = 0; i < sizeof changes / sizeof changes[0]; i++) {
        char sql[200], last[65];
        long broken = 0;
        snprintf(sql, sizeof sql, "UPDATE audit SET %s WHERE id = 3", changes[i]);
        if (sqlite3_exec(raw, sql, NULL, NULL, NULL) != SQLITE_OK)
            fail_msg("%s: %s", sql, sqlite3_errmsg(raw));
        cw_check_ok(cw_audit_check(t.n->db, NULL, NULL, &broken, last, &err), &err);
        if (broken < 1)
            fail_msg("%s: not noticed", changes[i]);
        assert_int_equal(sqlite3_exec(raw,
                                      "UPDATE audit SET (at, actor, action, subject, before, after, hash) = "
                                      "(SELECT at, actor, action, subject, before, after, hash FROM whole) "
                                      "WHERE id = 3",
                                      NULL, NULL, NULL),
                         SQLITE_OK);
        cw_check_ok(cw_audit_check(t.n->db, test_report, NULL, &broken, last, &err), &err);
        assert_int_equal(broken, 0);
    }
    sqlite3_close(raw);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_new_file_keeps_its_season),
        cmocka_unit_test(wrong_seasons_are_refused),
        cmocka_unit_test(settings_have_defaults_and_bounds),
        cmocka_unit_test(each_call_of_a_batch_stands_by_itself),
        cmocka_unit_test(tampering_with_the_audit_shows),
        cmocka_unit_test(every_column_of_the_audit_is_in_its_chain),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

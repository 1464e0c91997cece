/* SPDX-License-Identifier: MIT */
/* A run that was made firm is undone whole, or refused with what rests on it. All data are invented. */
#include "support/order_desk.h"

#include "base/banned.h"

static void make(test_nursery *t)
{
    test_nursery_make(t);
    load_text(t, "varieties.csv",
              "code,name,form,size,colour,price\nAMB,Amber Lantern,ball,small,orange,6.50\n");
    load_text(t, "lots.csv", "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,0\n");
    load_text(t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price\n1001,2032-01-05T10:00:00Z,1,AMB,1,6.50\n"
              "1002,2032-01-05T11:00:00Z,1,AMB,3,6.50\n");
    count_lot(t, "L1", "2032-01-20", 3);
}

static void write_raw(test_nursery *t, const char *sql)
{
    sqlite3 *raw = NULL;
    assert_int_equal(sqlite3_open_v2(t->path, &raw, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    if (sqlite3_exec(raw, sql, NULL, NULL, NULL) != SQLITE_OK)
        fail_msg("%s", sqlite3_errmsg(raw));
    sqlite3_close(raw);
}

/* What rests on run 1, and what is said of it. */
static void what_rests_on_a_run_keeps_it(void **state)
{
    static const struct {
        const char *name, *sql; /* NULL: the office does it */
        cw_code code;
        const char *said;
    } rows[] = {
        { "an open pick",
          "INSERT INTO wave (id, week, at, actor) VALUES (1, 1, 1, 'x');"
          "INSERT INTO parcel (id, wave_id, order_id, slot, state) VALUES (1, 1, 2, 1, 'open');"
          "INSERT INTO stop (id, wave_id, stop, place_id) SELECT 1, 1, 1, MIN(id) FROM place;"
          "INSERT INTO pick (wave_id, stop_id, parcel_id, line_id, variety_id, lot_id, quantity, state) "
          "VALUES (1, 1, 1, 2, 1, 1, 1, 'open')",
          CW_CONFLICT,
          "order 1002 line 1 is pulled from store or on an open pick list; undo those picks first" },
        { "a notice that was sent",
          "INSERT INTO notice (order_id, line_id, kind, made_at, due_on, detail, state, done_at, actor) "
          "SELECT 2, 2, 'short', at, 1, '{}', 'sent', at, 'x' FROM run",
          CW_CONFLICT, "order 1002 line 1 was told of it by a notice that was sent" },
        { "a notice that is only due",
          "INSERT INTO notice (order_id, line_id, kind, made_at, due_on, detail, state) "
          "SELECT 2, 2, 'short', at, 1, '{}', 'due' FROM run",
          CW_OK, "" },
        { "a promise taken back", NULL, CW_CONFLICT, "2 of 3 divisions stand" },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        test_nursery t;
        cw_error err = CW_ERROR_NONE;
        cw_allotting_undone done;
        make(&t);
        assert_int_equal(make_firm(&t, "first-come", NULL).placed, 3);
        if (rows[i].sql)
            write_raw(&t, rows[i].sql);
        else
            cw_check_ok(cw_allotting_take_back(t.n, &t.who, "1001", 1, "AMB", 1, "rang", &err), &err);
        cw_code code = cw_allotting_undo(t.n, &t.who, 1, "the wrong rule", &done, &err);
        if (code != rows[i].code || (code != CW_OK && strstr(err.text, rows[i].said) == NULL))
            fail_msg("%s: %d %s", rows[i].name, (int)code, err.text);
        test_nursery_free(&t);
    }
}

static void a_run_is_undone_and_stays_on_record(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_allotting_undone done;
    cw_table runs;
    (void)state;
    make(&t);
    cw_asker packer = t.who;
    packer.role = CW_ROLE_PACKER;
    assert_int_equal(cw_allotting_undo(t.n, &t.who, 1, "x", &done, &err), CW_NOT_FOUND);
    make_firm(&t, "first-come", NULL);
    count_lot(&t, "L1", "2032-01-21", 4);
    make_firm(&t, "pro-rata", NULL);
    cw_error no = CW_ERROR_NONE, no_why = CW_ERROR_NONE, newer = CW_ERROR_NONE, ok = CW_ERROR_NONE;
    assert_int_equal(cw_allotting_undo(t.n, &packer, 2, "x", &done, &no), CW_FORBIDDEN);
    assert_int_equal(cw_allotting_undo(t.n, &t.who, 2, "", &done, &no_why), CW_REFUSED);
    assert_int_equal(cw_allotting_undo(t.n, &t.who, 1, "x", &done, &newer), CW_CONFLICT);
    assert_non_null(strstr(newer.text, "run 2 was made firm after it"));
    cw_check_ok(cw_allotting_undo(t.n, &t.who, 2, "the wrong rule", &done, &ok), &ok);
    assert_int_equal(done.divisions, 1);
    assert_int_equal(done.lines, 1);
    assert_int_equal(promised(&t, "1002", 1), 2);
    cw_check_ok(cw_allotting_undo(t.n, &t.who, 1, "that too", &done, &ok), &ok);
    assert_int_equal(done.divisions, 3);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM allocation"), 0);
    assert_int_equal(number_of(&t, "SELECT SUM(quantity) FROM taken_back"), 4);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM audit WHERE action = 'undo run'"), 2);
    cw_check_ok(cw_allotting_runs(t.n, &t.who, &runs, &ok), &ok);
    assert_int_equal(cw_table_rows(&runs), 2);
    cw_table_free(&runs);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* A later run found two promised to a line. They were taken back, and a file made the line ask for something else: what that run
 * found is not put back on it. */
static void a_line_that_asks_for_something_else_gets_nothing_back(void **state)
{
    static const char wants[] = "order,received_at,line,variety,quantity,unit_price\n"
                                "1002,2032-01-05T11:00:00Z,1,BRI,3,6.50\n";
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { NULL, 0, 0 };
    cw_table answer = { 0 };
    cw_allotting_undone done;
    cw_intake_file file = { .name = "orders.csv", .bytes = wants, .length = sizeof wants - 1 };
    (void)state;
    make(&t);
    load_text(&t, "varieties.csv", "code,name,form,size,colour,price\nBRI,Briar Song,ball,small,pink,6.50\n");
    make_firm(&t, "first-come", NULL);
    assert_int_equal(promised(&t, "1002", 1), 2);
    assert_int_equal(make_firm(&t, "first-come", NULL).placed, 0);
    cw_check_ok(cw_allotting_take_back(t.n, &t.who, "1002", 1, "AMB", 2, "rang", &err), &err);
    cw_check_ok(cw_intake_load(t.n, &t.who, &file, 1, &(cw_intake_options){ .changes = true }, &answer,
                               &errors, &err),
                &err);
    cw_table_free(&answer);
    cw_check_ok(cw_allotting_undo(t.n, &t.who, 2, "the wrong rule", &done, &err), &err);
    assert_int_equal(promised(&t, "1002", 1), 0);
    assert_int_equal(promised(&t, "1001", 1), 1);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

static void waits_by(test_nursery *t, const char *variety, const char *rule)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out;
    cw_check_ok(cw_allotting_waitlist(t->n, &t->who, variety, &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), 1);
    if (strstr(cw_table_text(&out, 0, 7), rule) == NULL)
        fail_msg("%s: %s", variety, cw_table_text(&out, 0, 7));
    cw_table_free(&out);
}

/* What was shared out waits by its own last run; what never was, by the last run that stands. */
static void who_waits_waits_by_the_last_rule_that_stands(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_allotting_undone done;
    (void)state;
    test_nursery_make(&t);
    load_text(&t, "varieties.csv",
              "code,name,price\nAMB,Amber Lantern,6.50\nBRI,Briar Song,8.00\nCIN,Cinder,7.00\n");
    load_text(&t, "lots.csv",
              "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,0\nL2,BRI,2031-10-20,0\nL3,CIN,2031-10-20,0\n");
    load_text(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price\n"
              "1001,2032-01-05T10:00:00Z,1,AMB,3,6.50\n1001,2032-01-05T10:00:00Z,2,BRI,3,8.00\n"
              "1001,2032-01-05T10:00:00Z,3,CIN,3,7.00\n");
    count_lot(&t, "L1", "2032-01-20", 1);
    count_lot(&t, "L2", "2032-01-20", 1);
    make_firm(&t, "first-come", "AMB");
    make_firm(&t, "one-each-first", "BRI");
    waits_by(&t, "AMB", "by first-come");
    waits_by(&t, "BRI", "by one-each-first");
    waits_by(&t, "CIN", "by one-each-first");
    cw_check_ok(cw_allotting_undo(t.n, &t.who, 2, "the wrong rule", &done, &err), &err);
    waits_by(&t, "AMB", "by first-come");
    waits_by(&t, "CIN", "by first-come");
    test_nursery_check(&t);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_rests_on_a_run_keeps_it),
        cmocka_unit_test(a_run_is_undone_and_stays_on_record),
        cmocka_unit_test(who_waits_waits_by_the_last_rule_that_stands),
        cmocka_unit_test(a_line_that_asks_for_something_else_gets_nothing_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

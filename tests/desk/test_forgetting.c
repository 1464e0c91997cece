/* SPDX-License-Identifier: MIT */
/* A person who is taken out is nowhere in the file's tables any more, and nothing else has changed. */
#include "desk/forgetting.h"
#include "desk/intake.h"
#include "desk/ordering.h"
#include "support/nursery.h"

#include <sqlite3.h>

static void load_orders(test_nursery *t)
{
    static const char varieties[] = "code,name,price\nBALL,Small Ball,5.00\n";
    static const char orders[] =
        "order,received_at,line,variety,quantity,unit_price,customer,email,postcode,country\n"
        "A1,2032-01-05T10:00:00Z,1,BALL,2,5.00,Fern Amblow,fern@example.org,54321,US\n"
        "A2,2032-01-06T10:00:00Z,1,BALL,3,5.00,Fern Amblow,Fern@Example.org,54321,US\n"
        "B1,2032-01-06T11:00:00Z,1,BALL,1,5.00,Tess Zeldon,tess@example.org,12345,US\n";
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { 0 };
    cw_table table = { 0 };
    cw_intake_file files[] = {
        { .name = "varieties.csv", .bytes = varieties, .length = sizeof varieties - 1 },
        { .name = "orders.csv", .bytes = orders, .length = sizeof orders - 1 }
    };
    cw_check_ok(cw_intake_load(t->n, &t->who, files, 2, &(cw_intake_options){ 0 }, &table, &errors, &err),
                &err);
    cw_table_free(&table);
}

/* How many texts of any table hold the needle. */
static int texts_with(const char *path, const char *needle)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *tables = NULL, *rows = NULL;
    int found = 0;
    assert_int_equal(sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(
        sqlite3_prepare_v2(db, "SELECT name FROM sqlite_schema WHERE type = 'table'", -1, &tables, NULL),
        SQLITE_OK);
    while (sqlite3_step(tables) == SQLITE_ROW) {
        char sql[200];
        snprintf(sql, sizeof sql, "SELECT * FROM \"%s\"", (const char *)sqlite3_column_text(tables, 0));
        assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &rows, NULL), SQLITE_OK);
        while (sqlite3_step(rows) == SQLITE_ROW)
            for (int c = 0; c < sqlite3_column_count(rows); c++) {
                const char *text = (const char *)sqlite3_column_text(rows, c);
                found += text && strcasestr(text, needle) != NULL;
            }
        sqlite3_finalize(rows);
    }
    sqlite3_finalize(tables);
    sqlite3_close(db);
    return found;
}

static void test_forget(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    (void)state;
    test_nursery_make(&t);
    load_orders(&t);
    assert_true(texts_with(t.path, "fern") > 0);
    /* Open orders could not be shipped any more. */
    assert_int_equal(cw_forgetting(t.n, &t.who, "fern@example.org", &out, &err), CW_CONFLICT);
    cw_table_free(&out);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "A1", 0, "Fern changed her mind", &err), &err);
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "A2", 0, "Fern changed her mind", &err), &err);
    cw_check_ok(cw_forgetting(t.n, &t.who, "FERN@example.org", &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), 2);
    cw_table_free(&out);
    assert_int_equal(texts_with(t.path, "fern"), 0);
    assert_int_equal(texts_with(t.path, "54321"), 0);
    assert_true(texts_with(t.path, "tess@example.org") > 0);
    assert_int_equal(cw_forgetting(t.n, &t.who, "fern@example.org", &out, &err), CW_NOT_FOUND);
    cw_table_free(&out);
    cw_asker office = t.who;
    office.role = CW_ROLE_OFFICE;
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(cw_forgetting(t.n, &office, "tess@example.org", &out, &err), CW_FORBIDDEN);
    cw_table_free(&out);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_forget) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

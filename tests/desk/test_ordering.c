/* SPDX-License-Identifier: MIT */
/* With a caller on the phone: finding the order, telling every line's fate, changing it on record. */
#include "support/three_orders.h"

#include "base/limits.h"
#include "desk/offer/offering.h"

#include "base/banned.h"

/* One member of one line of the sheet. */
static json_t *sheet_of(test_nursery *t, const char *order)
{
    cw_error err = CW_ERROR_NONE;
    json_t *sheet = NULL;
    cw_check_ok(cw_ordering_sheet(t->n, &t->who, order, &sheet, &err), &err);
    return sheet;
}

static const json_t *line_of(const json_t *sheet, size_t line)
{
    return json_array_get(json_object_get(sheet, "lines"), line - 1);
}

static int64_t whole(const json_t *o, const char *name)
{
    return json_integer_value(json_object_get(o, name));
}

static const char *words(const json_t *o, const char *name)
{
    const char *s = json_string_value(json_object_get(o, name));
    return s ? s : "";
}

static void every_line_says_what_becomes_of_it(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_substituting_done done;
    cw_substituting_ask ask = { 0 };
    (void)state;
    make(&t);
    json_t *sheet = sheet_of(&t, "1001");
    assert_string_equal(words(line_of(sheet, 1), "sentence"), "It has not been shared out yet.");
    json_decref(sheet);
    make_firm(&t, "one-each-first", NULL); /* 5 of AMB: 3 and 2 */
    cw_check_ok(cw_substituting_commit(t.n, &t.who, &ask, NULL, &done, NULL, &err), &err);
    cw_check_ok(cw_allotting_take_back(t.n, &t.who, "1001", 2, "BRI", 1, "sick row", &err), &err);
    test_nursery_check(&t);
    sheet = sheet_of(&t, "1001");
    const json_t *one = line_of(sheet, 1), *two = line_of(sheet, 2);
    assert_int_equal(whole(one, "own"), 3);
    assert_int_equal(whole(one, "firm"), 4); /* and one Cinder, of the same form */
    assert_int_equal(whole(one, "short"), 0);
    assert_non_null(
        strstr(words(one, "sentence"), "On 2032-02-01 by one-each-first: 3 of the 4 asked can be promised"));
    assert_non_null(strstr(words(one, "sentence"), "1 of other varieties"));
    const json_t *sub = json_array_get(json_object_get(one, "substitutes"), 0);
    assert_string_equal(words(sub, "variety"), "CIN");
    assert_int_equal(whole(sub, "quantity"), 1);
    assert_non_null(strstr(words(sub, "sentence"), "same form"));
    assert_int_equal(whole(two, "short"), 1);
    assert_non_null(strstr(words(two, "sentence"), "1 BRI was taken back: sick row."));
    assert_int_equal(json_array_size(json_object_get(sheet, "events")), 1);
    json_decref(sheet);
    sheet = sheet_of(&t, "1003");
    assert_int_equal(whole(line_of(sheet, 1), "firm"), 3);
    assert_non_null(strstr(words(line_of(sheet, 1), "sentence"), "fill the assortment"));
    json_decref(sheet);
    assert_int_equal(cw_ordering_sheet(t.n, &t.who, "nobody", &sheet, &err), CW_NOT_FOUND);
    test_nursery_free(&t);
}

static int64_t sold(test_nursery *t, const char *code)
{
    char sql[160];
    snprintf(sql, sizeof sql,
             "SELECT o.sold FROM offering o JOIN variety v ON v.id = o.variety_id WHERE v.code = '%s'", code);
    return number_of(t, sql);
}

static void what_is_cancelled_goes_back(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    make(&t);
    make_firm(&t, "first-come", NULL);
    assert_int_equal(promised(&t, "1001", 1), 4);
    assert_int_equal(promised(&t, "1002", 1), 1);
    assert_int_equal(cw_ordering_cancel(t.n, &t.who, "1001", 1, "", &err), CW_REFUSED);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1001", 1, "too many", &err), &err);
    test_nursery_check(&t);
    assert_int_equal(promised(&t, "1001", 1), 0);
    assert_int_equal(promised(&t, "1001", 2), 2);
    assert_int_equal(sold(&t, "AMB"), 3);
    assert_int_equal(preview_of(&t, "first-come", "AMB", "1002", 1), 3); /* next in the queue */
    assert_int_equal(preview_of(&t, "first-come", "AMB", "1001", 1),
                     -1); /* who asks nothing waits for nothing */
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1001", 0, "moved away", &err), &err);
    test_nursery_check(&t);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM orders WHERE state = 'cancelled'"), 1);
    assert_int_equal(
        number_of(
            &t,
            "SELECT SUM(quantity) FROM line WHERE order_id = (SELECT id FROM orders WHERE number = '1001')"),
        0);
    assert_int_equal(cw_ordering_cancel(t.n, &t.who, "1001", 0, "again", &err), CW_CONFLICT);
    json_t *sheet = sheet_of(&t, "1001");
    assert_non_null(strstr(words(line_of(sheet, 1), "sentence"), "was cancelled"));
    json_decref(sheet);
    /* The last line takes its order with it. */
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1002", 1, "changed his mind", &err), &err);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM orders WHERE state = 'cancelled'"), 2);
    test_nursery_free(&t);
}

static void what_is_on_a_list_is_not_made_fewer_but_comes_off_with_its_order(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    sqlite3 *raw = NULL;
    (void)state;
    make(&t);
    make_firm(&t, "first-come", NULL);
    cw_nursery_close(t.n);
    assert_int_equal(sqlite3_open(t.path, &raw), SQLITE_OK);
    assert_int_equal(
        sqlite3_exec(
            raw,
            "INSERT INTO wave (id, week, at, actor) VALUES (1, 203216, 0, 'x');"
            "INSERT INTO stop (id, wave_id, stop, place_id) VALUES (1, 1, 1, 0);"
            "INSERT INTO parcel (id, wave_id, order_id, slot) SELECT 1, 1, id, 1 FROM orders WHERE number = "
            "'1001';"
            "INSERT INTO pick (wave_id, stop_id, parcel_id, line_id, variety_id, lot_id, quantity)"
            " SELECT 1, 1, 1, l.id, l.variety_id, 1, 4 FROM line l JOIN orders o ON o.id = l.order_id"
            " WHERE o.number = '1001' AND l.line = 1;",
            NULL, NULL, NULL),
        SQLITE_OK);
    sqlite3_close(raw);
    cw_check_ok(cw_nursery_open(t.path, CW_WORK, "test", &t.n, &err), &err);
    assert_int_equal(cw_ordering_change(t.n, &t.who, "1001", 1, 2, "fewer", &err), CW_CONFLICT);
    assert_string_equal(err.text, "4 of line 1 are pulled or on an open pick list; undo those picks first");
    assert_int_equal(cw_allotting_take_back(t.n, &t.who, "1001", 1, "AMB", 1, "rot", &err), CW_CONFLICT);
    test_nursery_check(&t);
    assert_int_equal(promised(&t, "1001", 1), 4);
    assert_int_equal(promised(&t, "1001", 2), 2);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1001", 0, "rang", &err), &err);
    test_nursery_check(&t);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM pick"), 0);
    assert_int_equal(promised(&t, "1001", 1), 0);
    test_nursery_free(&t);
}

static void a_change_moves_what_is_sold_and_what_is_promised(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    make(&t);
    make_firm(&t, "first-come", NULL);
    cw_check_ok(cw_ordering_change(t.n, &t.who, "1001", 1, 2, "fewer after all", &err), &err);
    test_nursery_check(&t);
    assert_int_equal(promised(&t, "1001", 1), 2);
    assert_int_equal(sold(&t, "AMB"), 5);
    cw_check_ok(cw_ordering_change(t.n, &t.who, "1001", 1, 6, "more", &err), &err);
    test_nursery_check(&t);
    assert_int_equal(promised(&t, "1001", 1), 2); /* asked is not promised */
    assert_int_equal(sold(&t, "AMB"), 9);
    assert_int_equal(cw_ordering_change(t.n, &t.who, "1001", 1, 0, "none", &err), CW_REFUSED);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM order_event WHERE kind = 'changed'"), 2);
    test_nursery_free(&t);
}

static void more_than_offered_needs_the_owners_leave(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table released;
    int64_t left = 0;
    cw_offering_ask ask = {
        .confidence = 0.9, .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY
    };
    cw_offering_item item = { "AMB", 8 };
    (void)state;
    make(&t);
    cw_check_ok(cw_offering_release(t.n, &t.who, &ask, &item, 1, "test", &released, &err), &err);
    cw_table_free(&released);
    assert_int_equal(cw_ordering_change(t.n, &t.who, "1002", 1, 5, "more", &err),
                     CW_CONFLICT); /* 7 sold of 8 */
    assert_non_null(strstr(err.text, "only 1 more of AMB"));
    test_nursery_check(&t);
    t.who.role = CW_ROLE_OFFICE;
    assert_int_equal(cw_ordering_oversell(t.n, &t.who, "AMB", 1, "late lot", &left, &err), CW_FORBIDDEN);
    t.who.role = CW_ROLE_OWNER;
    assert_int_equal(cw_ordering_oversell(t.n, &t.who, "AMB", 1, "", &left, &err), CW_REFUSED);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_ordering_oversell(t.n, &t.who, "AMB", 1, "late lot", &left, &err), &err);
    assert_int_equal(left, 2);
    cw_check_ok(cw_ordering_change(t.n, &t.who, "1002", 1, 5, "more", &err), &err);
    test_nursery_check(&t);
    assert_int_equal(sold(&t, "AMB"), 9);
    /* Leave that was used cannot be taken back. */
    assert_int_equal(cw_ordering_oversell(t.n, &t.who, "AMB", -1, "no late lot", &left, &err), CW_CONFLICT);
    test_nursery_check(&t);
    /* Leave that was not, can. */
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_ordering_oversell(t.n, &t.who, "AMB", 3, "a neighbour's stock", &left, &err), &err);
    cw_check_ok(cw_ordering_oversell(t.n, &t.who, "AMB", -3, "he kept it", &left, &err), &err);
    assert_int_equal(left, 0);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* Four AMB asked: two and two CIN instead, one of which is being pulled. What the buyer gives up goes from the substitutes
 * that are free, then from its own, and what is being pulled stays. */
static void what_is_given_up_goes_from_the_substitutes_first(void **state)
{
    static const struct {
        int64_t asked;
        const char *left;
    } rows[] = {
        { 4, "AMB|2\nCIN|2\n" }, { 3, "AMB|2\nCIN|1\n" }, { 2, "AMB|1\nCIN|1\n" }, { 1, "CIN|1\n" }
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        test_nursery t;
        cw_error err = CW_ERROR_NONE;
        cw_substituting_done done;
        sqlite3 *raw = NULL;
        make(&t);
        count_lot(&t, "L1", "2032-01-21", 4);
        count_lot(&t, "L3", "2032-01-21", 9);
        make_firm(&t, "one-each-first", NULL);
        cw_check_ok(cw_substituting_commit(t.n, &t.who, &(cw_substituting_ask){ 0 }, NULL, &done, NULL, &err),
                    &err);
        cw_nursery_close(t.n);
        assert_int_equal(sqlite3_open(t.path, &raw), SQLITE_OK);
        assert_int_equal(
            sqlite3_exec(
                raw,
                "INSERT INTO wave (id, week, at, actor) VALUES (1, 203216, 0, 'x');"
                "INSERT INTO stop (id, wave_id, stop, place_id) VALUES (1, 1, 1, 0);"
                "INSERT INTO parcel (id, wave_id, order_id, slot) SELECT 1, 1, id, 1 FROM orders "
                "WHERE number = '1001';"
                "INSERT INTO pick (wave_id, stop_id, parcel_id, line_id, variety_id, lot_id, quantity)"
                " SELECT 1, 1, 1, l.id, v.id, 3, 1 FROM line l JOIN orders o ON o.id = l.order_id"
                " JOIN variety v ON v.code = 'CIN' WHERE o.number = '1001' AND l.line = 1;",
                NULL, NULL, NULL),
            SQLITE_OK);
        sqlite3_close(raw);
        cw_check_ok(cw_nursery_open(t.path, CW_WORK, "test", &t.n, &err), &err);
        cw_check_ok(cw_ordering_change(t.n, &t.who, "1001", 1, rows[i].asked, "fewer", &err), &err);
        test_nursery_check(&t);
        rows_are(&t,
                 "SELECT v.code, a.quantity FROM allocation a JOIN variety v ON v.id = a.variety_id JOIN "
                 "line l ON "
                 "l.id = a.line_id JOIN orders o ON o.id = l.order_id WHERE o.number = '1001' AND l.line = 1 "
                 "AND a.quantity > 0 "
                 "ORDER BY v.code",
                 rows[i].left);
        cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1001", 1, "none", &err), &err);
        test_nursery_check(&t);
        assert_int_equal(promised(&t, "1001", 1), 0);
        test_nursery_free(&t);
    }
}

/* Who did what to which order, from what to what, and why: the order has it all, the audit all but the why. */
static void changes_are_on_record(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    int64_t left = 0;
    char sql[160];
    (void)state;
    make(&t);
    int64_t since = number_of(&t, "SELECT MAX(id) FROM audit"),
            version = number_of(&t, "SELECT version FROM orders");
    cw_check_ok(cw_ordering_change(t.n, &t.who, "1001", 1, 2, "fewer", &err), &err);
    cw_check_ok(cw_ordering_change(t.n, &t.who, "1001", 1, 2, "as it is", &err), &err); /* nothing */
    assert_int_equal(number_of(&t, "SELECT version FROM orders WHERE number = '1001'"), version + 1);
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1001", 2, "sick row", &err), &err);
    assert_int_equal(number_of(&t, "SELECT version FROM orders WHERE number = '1001'"), version + 2);
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1001", 0, "moved away", &err), &err);
    assert_int_equal(number_of(&t, "SELECT version FROM orders WHERE number = '1001'"), version + 3);
    cw_check_ok(cw_ordering_oversell(t.n, &t.who, "AMB", 2, "late lot", &left, &err), &err);
    snprintf(sql, sizeof sql, "SELECT actor, action, subject, before, after FROM audit WHERE id > %lld",
             (long long)since);
    rows_are(&t, sql,
             "tester|changed|order 1001 line 1|4|2\ntester|cancelled|order 1001 line 2|2|0\n"
             "tester|cancelled|order 1001 line 1|2|0\ntester|cancelled|order 1001|open|cancelled\n"
             "tester|oversell|AMB||+2: late lot\n");
    rows_are(&t,
             "SELECT e.at, e.actor, e.kind, l.line, e.before, e.after, e.note FROM order_event e "
             "LEFT JOIN line l ON l.id = e.line_id ORDER BY e.id",
             "1959249600000|tester|changed|1|4|2|fewer\n1959249600000|tester|cancelled|2|2|0|sick row\n"
             "1959249600000|tester|cancelled|1|2|0|moved "
             "away\n1959249600000|tester|cancelled||open|cancelled|moved away\n");
    test_nursery_free(&t);
}

static void what_a_change_may_be(void **state)
{
    static const struct {
        const char *order;
        int line;
        int64_t quantity; /* -1: cancelled */
        const char *why;
        cw_role role;
        cw_code code;
        const char *said; /* NULL: it is not looked at */
    } rows[] = {
        { "1001", 1, 0, "x", CW_ROLE_OWNER, CW_REFUSED,
          "must lie between 1 and 100000: 0 (cancel the line instead)" },
        { "1001", 1, 100001, "x", CW_ROLE_OWNER, CW_REFUSED,
          "must lie between 1 and 100000: 100001 (cancel the line instead)" },
        { "1001", 1, 3, "", CW_ROLE_OWNER, CW_REFUSED, "changing a line needs a reason" },
        { "1001", 1, 3, NULL, CW_ROLE_OWNER, CW_REFUSED, "changing a line needs a reason" },
        { "1001", 1, 3, "x", CW_ROLE_PACKER, CW_FORBIDDEN },
        { "1001", 9, 3, "x", CW_ROLE_OWNER, CW_NOT_FOUND },
        { "9009", 1, 3, "x", CW_ROLE_OWNER, CW_NOT_FOUND },
        { "1001", 1, 100000, "x", CW_ROLE_OWNER, CW_OK },
        { "1001", 1, 1, "x", CW_ROLE_OFFICE, CW_OK },
        { "1001", 9, -1, "x", CW_ROLE_OWNER, CW_NOT_FOUND, "order 1001 has no line 9" },
        { "1001", 1, -1, "x", CW_ROLE_PACKER, CW_FORBIDDEN },
        { "1001", 1, -1, NULL, CW_ROLE_OWNER, CW_REFUSED, "cancelling needs a reason" },
        { "9009", 0, -1, "x", CW_ROLE_OWNER, CW_NOT_FOUND },
        { "1001", 0, -1, "x", CW_ROLE_OFFICE, CW_OK },
        { "1001", 1, 3, "x", CW_ROLE_OWNER, CW_CONFLICT,
          "order 1001 is cancelled; it can no longer be changed" },
    };
    static const struct {
        int64_t quantity, left;
        cw_code code;
        const char *said;
    } leave[] = {
        { 0, 0, CW_REFUSED, "must be a number of divisions, not 0: 0" },
        { CW_MAX_DIVISIONS + 1, 0, CW_REFUSED, NULL },
        { -CW_MAX_DIVISIONS - 1, 0, CW_REFUSED, NULL },
        { CW_MAX_DIVISIONS, CW_MAX_DIVISIONS, CW_OK },
        { -CW_MAX_DIVISIONS + 4, 4, CW_OK },
        { -CW_MAX_DIVISIONS, 0, CW_CONFLICT,
          "offered of CIN: 0, and beyond that may be sold: 4; sold: 0. Only what is not sold can be taken "
          "back" },
        { -4, 0, CW_OK }
    };
    test_nursery t;
    (void)state;
    make(&t);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_error err = CW_ERROR_NONE;
        cw_asker who = t.who;
        who.role = rows[i].role;
        cw_code code = rows[i].quantity < 0
                           ? cw_ordering_cancel(t.n, &who, rows[i].order, rows[i].line, rows[i].why, &err)
                           : cw_ordering_change(t.n, &who, rows[i].order, rows[i].line, rows[i].quantity,
                                                rows[i].why, &err);
        if (code != rows[i].code || (rows[i].said && strcmp(err.text, rows[i].said) != 0))
            fail_msg("row %zu: %d %s", i, (int)code, err.text);
        test_nursery_check(&t);
    }
    /* Nothing was released: what was sold beyond that is on record, and none of it is used now that all is cancelled. */
    rows_are(
        &t,
        "SELECT s.quantity, s.why FROM oversell s JOIN variety v ON v.id = s.variety_id WHERE v.code = 'AMB' "
        "AND s.why LIKE 'ordered%'",
        "99996|ordered before anything was released\n");
    assert_int_equal(sold(&t, "AMB"), 3);
    for (size_t i = 0; i < sizeof leave / sizeof leave[0]; i++) {
        cw_error err = CW_ERROR_NONE;
        int64_t left = 0;
        cw_code code = cw_ordering_oversell(t.n, &t.who, "CIN", leave[i].quantity, "x", &left, &err);
        if (code != leave[i].code || (leave[i].said && strcmp(err.text, leave[i].said) != 0))
            fail_msg("leave %zu: %d %s", i, (int)code, err.text);
        if (code == CW_OK)
            assert_int_equal(left, leave[i].left);
    }
    test_nursery_free(&t);
}

static void a_list_of_orders_says_how_far_they_are(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table rows;
    bool more = false;
    (void)state;
    make(&t);
    make_firm(&t, "first-come", NULL);
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1002", 0, "x", &err), &err);
    cw_check_ok(cw_ordering_find(t.n, &t.who, &(cw_ordering_query){ .page = 1 }, &rows, &more, &err), &err);
    csv_is(&rows, "order,received_at,customer,email,postcode,tier,lines,asked,firm,short,week,state\n"
                  "1003,2032-01-07T12:00:00Z,Cy Crind,cy@example.org,00300,retail,1,3,0,3,,open\n"
                  "1002,2032-01-06T11:00:00Z,Bo 100% Bostr,bo_b@example.org,00200,retail,1,0,0,0,,cancelled\n"
                  "1001,2032-01-05T10:00:00Z,Ada Ambl,ada@example.org,00100,retail,2,6,6,0,,open\n");
    cw_check_ok(
        cw_ordering_find(t.n, &t.who, &(cw_ordering_query){ .state = "cancelled" }, &rows, &more, &err),
        &err);
    assert_int_equal(cw_table_rows(&rows), 1);
    assert_string_equal(cw_table_text(&rows, 0, 0), "1002");
    cw_table_free(&rows);
    cw_check_ok(cw_ordering_lines(t.n, &t.who, "1001", &rows, &err), &err);
    csv_is(&rows, "line,variety,quantity,unit_price,firm,short,sentence\n"
                  "1,AMB,4,6.50,4,0,On 2032-02-01 by first-come: All 4 asked can be promised.\n"
                  "2,BRI,2,8.00,2,0,On 2032-02-01 by first-come: All 2 asked can be promised.\n");
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_line_says_what_becomes_of_it),
        cmocka_unit_test(what_is_cancelled_goes_back),
        cmocka_unit_test(what_is_on_a_list_is_not_made_fewer_but_comes_off_with_its_order),
        cmocka_unit_test(a_change_moves_what_is_sold_and_what_is_promised),
        cmocka_unit_test(what_is_given_up_goes_from_the_substitutes_first),
        cmocka_unit_test(changes_are_on_record),
        cmocka_unit_test(what_a_change_may_be),
        cmocka_unit_test(a_list_of_orders_says_how_far_they_are),
        cmocka_unit_test(more_than_offered_needs_the_owners_leave),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

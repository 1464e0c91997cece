/* SPDX-License-Identifier: MIT */
/* Orders that come after the shares were made firm: promised at once where there is enough for all who wait before them. */
#include "support/order_desk.h"

#include "desk/share/arriving.h"
#include "desk/stock/catalogue.h"

#include "base/banned.h"

static const char varieties[] = "code,name,form,size,colour,price,hold_back,reserve\n"
                                "AMB,Amber Lantern,ball,small,orange,6.50,0,0\n"
                                "BRI,Briar Song,cactus,large,pink,8.00,0,0\n"
                                "CIN,Cinder,ball,small,red,7.00,0,0\n";
static const char lots[] =
    "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,0\nL2,BRI,2031-10-21,0\nL3,CIN,2031-10-22,0\n";
/* Of AMB 20 are there and 4 asked; of BRI 5 are there and 4 asked, and a line of 9 all or nothing waits; CIN nobody asks. */
static const char orders[] = "order,received_at,line,variety,quantity,unit_price,all_or_none\n"
                             "1001,2032-01-05T10:00:00Z,1,AMB,4,6.50,0\n"
                             "1001,2032-01-05T10:00:00Z,2,BRI,1,8.00,0\n"
                             "1002,2032-01-06T11:00:00Z,1,BRI,9,8.00,1\n";

static void make(test_nursery *t, bool share)
{
    cw_error err = CW_ERROR_NONE;
    test_nursery_make(t);
    cw_check_ok(cw_nursery_set(t->n, &t->who, "supply", "counted", &err), &err);
    load_text(t, "varieties.csv", varieties);
    load_text(t, "lots.csv", lots);
    load_text(t, "orders.csv", orders);
    count_lot(t, "L1", "2032-01-20", 20);
    count_lot(t, "L2", "2032-01-20", 5);
    count_lot(t, "L3", "2032-01-20", 5);
    for (size_t v = 0; v < 3; v++) {
        static const char *const codes[] = { "AMB", "BRI", "CIN" };
        int64_t left = 0;
        cw_check_ok(cw_ordering_oversell(t->n, &t->who, codes[v], 100, "as a test sells", &left, &err), &err);
    }
    if (share)
        make_firm(t, "first-come", NULL);
}

/* One order as a shop sends it, and what is told of it (new reference). */
static json_t *comes(test_nursery *t, const char *order, int64_t *firm, size_t *waits)
{
    cw_error err = CW_ERROR_NONE;
    cw_arriving_done done;
    json_t *o = json_loads(order, 0, NULL), *answer = NULL, *told = json_object();
    int64_t mark = 0;
    cw_check_ok(cw_nursery_batch_begin(t->n, &err), &err);
    cw_check_ok(cw_arriving_mark(t->n, &mark, &err), &err);
    cw_check_ok(cw_intake_order(t->n, &t->who, o, &answer, &err), &err);
    cw_check_ok(cw_arriving_promise(t->n, &t->who, mark, 1, told, &done, &err), &err);
    cw_check_ok(cw_nursery_batch_commit(t->n, &err), &err);
    const json_t *of = json_object_get(told, json_string_value(json_object_get(o, "order")));
    *firm = json_integer_value(json_object_get(of, "firm"));
    *waits = json_array_size(json_object_get(of, "waits"));
    assert_int_equal(done.firm, *firm);
    test_nursery_check(t);
    json_decref(o);
    json_decref(answer);
    return told;
}

static void sentence_is(test_nursery *t, const char *order, int line, const char *part)
{
    cw_error err = CW_ERROR_NONE;
    json_t *sheet = NULL;
    cw_check_ok(cw_ordering_sheet(t->n, &t->who, order, &sheet, &err), &err);
    const char *s = json_string_value(
        json_object_get(json_array_get(json_object_get(sheet, "lines"), (size_t)line - 1), "sentence"));
    if (!strstr(s, part))
        fail_msg("%s line %d: %s", order, line, s);
    json_decref(sheet);
}

static void late_lines_are_promised_where_all_can_have_theirs(void **state)
{
    static const struct {
        const char *name, *order;
        int64_t firm; /* of the order */
        size_t waits;
    } rows[] = {
        { "enough",
          "{\"order\":\"2001\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":6,\"unit_price\":\"6.50\"}]}", 6,
          0 },
        { "one of two lines",
          "{\"order\":\"2002\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":\"6.50\"},"
          "{\"variety\":\"BRI\",\"quantity\":1,\"unit_price\":\"8.00\"}]}",
          1, 1 },
        { "complete or not at all",
          "{\"order\":\"2003\",\"ship_complete\":true,\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_"
          "price\":\"6.50\"},"
          "{\"variety\":\"BRI\",\"quantity\":1,\"unit_price\":\"8.00\"}]}",
          0, 2 },
        { "all that is left, the one that waits counted",
          "{\"order\":\"2004\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":8,\"unit_price\":\"6.50\",\"all_"
          "or_none\":true}]}",
          8, 0 },
        { "one too many",
          "{\"order\":\"2005\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":\"6.50\"}]}", 0,
          1 },
        { "never shared",
          "{\"order\":\"2006\",\"lines\":[{\"variety\":\"CIN\",\"quantity\":1,\"unit_price\":\"7.00\"}]}", 0,
          1 },
    };
    test_nursery t;
    (void)state;
    make(&t, true);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        int64_t firm = -1;
        size_t waits = 0;
        json_decref(comes(&t, rows[i].order, &firm, &waits));
        if (firm != rows[i].firm || waits != rows[i].waits)
            fail_msg("%s: %lld firm, %zu wait", rows[i].name, (long long)firm, waits);
    }
    assert_int_equal(
        number_of(&t, "SELECT SUM(a.quantity) FROM allocation a JOIN variety v ON v.id = a.variety_id "
                      "WHERE v.code = 'AMB'"),
        4 + 6 + 1 + 8);
    sentence_is(&t, "2001", 1, "by first-come: All 6 asked can be promised.");
    sentence_is(&t, "2002", 2, "It waits for the next sharing of BRI: number 1 of 2.");
    sentence_is(&t, "2006", 1, "It has not been shared out yet.");
    test_nursery_free(&t);
}

static void nothing_is_promised_before_the_first_sharing(void **state)
{
    test_nursery t;
    int64_t firm = -1;
    size_t waits = 9;
    (void)state;
    make(&t, false);
    json_decref(comes(
        &t, "{\"order\":\"2001\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":6,\"unit_price\":\"6.50\"}]}",
        &firm, &waits));
    assert_int_equal(firm, 0);
    assert_int_equal(waits, 0);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM run"), 0);
    test_nursery_free(&t);
}

/* Somebody writes between two orders: what was left before is not what is left now. */
static void what_is_left_is_looked_at_again_after_others_wrote(void **state)
{
    static const char wants[] =
        "{\"order\":\"200%d\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":5,\"unit_price\":\"6.50\"}]}";
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table row = { 0 };
    char order[120];
    int64_t firm = -1;
    size_t waits = 0;
    (void)state;
    make(&t, true);
    snprintf(order, sizeof order, wants, 1);
    json_decref(comes(&t, order, &firm, &waits));
    assert_int_equal(firm, 5);
    count_lot(&t, "L1", "2032-01-25", 10); /* 9 are promised */
    snprintf(order, sizeof order, wants, 2);
    json_decref(comes(&t, order, &firm, &waits));
    assert_int_equal(firm, 0);
    count_lot(&t, "L1", "2032-01-26", 19); /* 9 promised, 5 wait, 5 left */
    snprintf(order, sizeof order, wants, 3);
    json_decref(comes(&t, order, &firm, &waits));
    assert_int_equal(firm, 5);
    assert_int_equal(promised(&t, "2002", 1), 0);
    count_lot(&t, "L1", "2032-01-27", 29); /* 14 promised, 5 wait, 10 left */
    snprintf(order, sizeof order, wants, 4);
    json_decref(comes(&t, order, &firm, &waits));
    assert_int_equal(firm, 5);
    /* The stock is the same, but one more is kept to replant: 4 left. */
    const cw_catalogue_edit replant = { 1, -1, -1, -1, -1, 0 };
    cw_check_ok(cw_catalogue_change(t.n, &t.who, "AMB", &replant, &row, &err), &err);
    cw_table_free(&row);
    snprintf(order, sizeof order, wants, 5);
    json_decref(comes(&t, order, &firm, &waits));
    assert_int_equal(firm, 0);
    test_nursery_free(&t);
}

/* The rule in force stays what the office chose for the variety, and the office's run is the last of its kind. */
static void the_rule_in_force_stays(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table runs = { 0 };
    int64_t firm = -1;
    size_t waits = 0;
    (void)state;
    make(&t, false);
    make_firm(&t, "pro-rata", "AMB");
    make_firm(&t, "one-each-first", "BRI");
    json_decref(comes(
        &t, "{\"order\":\"2001\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":6,\"unit_price\":\"6.50\"}]}",
        &firm, &waits));
    assert_int_equal(firm, 6);
    cw_check_ok(cw_allotting_runs(t.n, &t.who, &runs, &err), &err);
    assert_int_equal(cw_table_rows(&runs), 3);
    assert_string_equal(cw_table_text(&runs, 0, 4), "pro-rata");
    cw_table_free(&runs);
    sentence_is(&t, "2001", 1, "by pro-rata");
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(late_lines_are_promised_where_all_can_have_theirs),
        cmocka_unit_test(nothing_is_promised_before_the_first_sharing),
        cmocka_unit_test(what_is_left_is_looked_at_again_after_others_wrote),
        cmocka_unit_test(the_rule_in_force_stays),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

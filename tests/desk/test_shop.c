/* SPDX-License-Identifier: MIT */
/* A shop is answered order by order: what is taken, what is refused, what it is told of the rest. */
#include "support/shop.h"

#include "base/limits.h"

#include "base/banned.h"

static void a_shop_is_answered_order_by_order(void **state)
{
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    ok(load_all(&t));
    release(&t, "AMB", 5);
    static const char good[] =
        "{\"order\":\"W1\",\"customer\":\"Ida\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,"
        "\"unit_price\":\"6.50\",\"consent\":\"named\",\"named\":[\"BRI\",\"CIN\"]},"
        "{\"assortment\":\"colour=pink\",\"quantity\":2,\"unit_price\":5}]}";
    taken k = take(&t, good);
    assert_string_equal(k.first, "");
    assert_true(json_is_true(json_object_get(k.answer, "taken")));
    assert_true(json_is_false(json_object_get(k.answer, "known")));
    assert_int_equal(json_integer_value(json_object_get(k.answer, "lines")), 2);
    json_decref(k.answer);
    int64_t made_at = number_of(&t, "SELECT version FROM orders WHERE number = 'W1'");
    assert_int_equal(number_of(&t, "SELECT version FROM orders WHERE number = '1001'"),
                     made_at); /* as a file's */
    t.who.now += 5000;         /* the same again, later: taken already */
    k = take(&t, good);
    assert_string_equal(k.first, "");
    assert_true(json_is_true(json_object_get(k.answer, "known")));
    json_decref(k.answer);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM line"), 5);
    assert_int_equal(number_of(&t, "SELECT version FROM orders WHERE number = 'W1'"), made_at);
    /* What is known changes nothing of the order: whoever edits it meanwhile is not sent back. A line more does, once. */
    static const char more[] =
        "{\"order\":\"W1\",\"customer\":\"Ida\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,"
        "\"unit_price\":\"6.50\",\"consent\":\"named\",\"named\":[\"BRI\",\"CIN\"]},"
        "{\"assortment\":\"colour=pink\",\"quantity\":2,\"unit_price\":5},"
        "{\"assortment\":\"colour=red\",\"quantity\":1,\"unit_price\":5}]}";
    for (int again = 0; again < 2; again++) {
        k = take(&t, more);
        assert_string_equal(k.first, "");
        assert_int_equal(json_is_true(json_object_get(k.answer, "known")), again);
        json_decref(k.answer);
        assert_int_equal(number_of(&t, "SELECT version FROM orders WHERE number = 'W1'"), made_at + 1);
        assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM line"), 6);
    }
    /* That it is paid is news, once; who comes with "not paid" later does not know of it. */
    static const struct {
        const char *paid;
        int64_t is, raised;
    } news[] = { { "true", 1, 1 }, { "true", 1, 0 }, { "false", 1, 0 } };
    for (size_t i = 0, raised = 1; i < 3; i++) {
        char text[400];
        snprintf(text, sizeof text,
                 "{\"order\":\"W1\",\"customer\":\"Ida\",\"paid\":%s,\"lines\":[{\"variety\":\"AMB\","
                 "\"quantity\":1,"
                 "\"unit_price\":\"6.50\",\"consent\":\"named\",\"named\":[\"BRI\",\"CIN\"]}]}",
                 news[i].paid);
        k = take(&t, text);
        assert_string_equal(k.first, "");
        assert_true(json_is_true(json_object_get(k.answer, "known")));
        json_decref(k.answer);
        raised += (size_t)news[i].raised;
        assert_int_equal(number_of(&t, "SELECT paid FROM orders WHERE number = 'W1'"), news[i].is);
        assert_int_equal(number_of(&t, "SELECT version FROM orders WHERE number = 'W1'"),
                         made_at + (int64_t)raised);
    }
    k = take(&t, "{\"order\":\"W2\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":6},"
                 "{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":6}]}");
    assert_int_equal(k.code, CW_CONFLICT);
    assert_string_equal(k.first, "quantity: only 0 of AMB are left (5 offered, 5 sold), 1 cannot be sold");
    assert_int_equal(json_integer_value(json_object_get(k.answer, "line")), 2);
    assert_string_equal(json_string_value(json_object_get(k.answer, "variety")), "AMB");
    assert_int_equal(json_integer_value(json_object_get(k.answer, "left")), 0);
    json_decref(k.answer);
    k = take(&t, "{\"order\":\"W3\",\"lines\":[{\"variety\":\"CIN\",\"quantity\":1,\"unit_price\":6}]}");
    assert_int_equal(k.code, CW_CONFLICT);
    assert_string_equal(k.first, "quantity: CIN is not on offer yet: 0 left, 1 asked");
    json_decref(k.answer);
    static const struct {
        const char *order, *first;
    } bad[] = {
        { "{\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":6}]}", "order: must not be empty" },
        { "{\"order\":\"W4\",\"lines\":[]}", "lines: must be a list of 1 to 500 lines" },
        { "{\"order\":\"W4\"}", "lines: must be a list of 1 to 500 lines" },
        { "[1]", "an object is needed" },
        { "{\"order\":\"W4\",\"gift\":true,\"lines\":[]}", "gift: is not known here" },
        { "{\"order\":\"W4\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1.5,\"unit_price\":6}]}",
          "quantity: must be a whole number from 1 to 100000: 1.5" },
        { "{\"order\":\"W4\",\"lines\":[{\"variety\":\"ZZ\",\"quantity\":1,\"unit_price\":6}]}",
          "variety: there is no variety of this code: ZZ" },
        { "{\"order\":\"W1\",\"customer\":\"Ida\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":2,\"unit_"
          "price\":\"6.50\"}]}",
          "quantity: line 1 of order W1 is on record with another quantity" },
        { "{\"order\":\"W1\",\"customer\":{},\"lines\":[{\"variety\":\"AMB\",\"quantity\":2,\"unit_price\":"
          "\"6.50\"}]}",
          "customer: must be one line of text, not an object" },
        { "{\"order\":5,\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":6}]}",
          "order: must be a code, not a number" },
        { "{\"order\":\"W4\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":true,\"unit_price\":6}]}",
          "quantity: must be a whole number from 1 to 100000, not true or false" },
        { "{\"order\":\"W4\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":\"1\",\"unit_price\":6}]}",
          "quantity: must be a whole number from 1 to 100000, not a text" },
        { "{\"order\":\"W4\",\"lines\":[{\"variety\":7,\"quantity\":1,\"unit_price\":6}]}",
          "variety: must be a code, not a number" },
        { "{\"order\":\"W4\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":false}]}",
          "unit_price: must be an amount of money, as 12.50, never negative, not true or false" },
        { "{\"order\":\"W4\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":6,\"all_or_none\":"
          "1}]}",
          "all_or_none: must be true or false, not a number" },
        { "{\"order\":\"W4\",\"ship_complete\":\"yes\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_"
          "price\":6}]}",
          "ship_complete: must be true or false, not a text" },
        { "{\"order\":\"W4\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":6,\"named\":[1]}]"
          "}",
          "named: must be a list of codes, or a text with blanks between them" },
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        k = take(&t, bad[i].order);
        assert_string_equal(k.first, bad[i].first);
        json_decref(k.answer);
    }
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM orders"), 3);
    test_nursery_free(&t);
}

/* What a shop's order was to do, and did not, is not done with the next one. */
static void what_was_refused_leaves_nothing_to_the_next(void **state)
{
#define PINK(n) "{\"assortment\":\"colour=pink\",\"quantity\":" #n ",\"unit_price\":5}"
    static const struct {
        const char *order;
        cw_code code;
    } rows[] = {
        { "{\"order\":\"A\",\"lines\":[" PINK(2) "]}", CW_OK },
        { "{\"order\":\"B\",\"lines\":[" PINK(3) "]}", CW_OK },
        { "{\"order\":\"A\",\"paid\":true,\"lines\":[" PINK(4) "]}",
          CW_CONFLICT }, /* it is paid, but asks more */
        { "{\"order\":\"B\",\"lines\":[" PINK(3) "]}", CW_OK },
        { "{\"order\":\"C\",\"lines\":[" PINK(1) ",{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":6}]}",
          CW_CONFLICT }, /* not on offer */
        { "{\"order\":\"B\",\"lines\":[" PINK(3) "," PINK(7) "]}", CW_OK },
        { "{\"order\":\"D\",\"lines\":[" PINK(1) "," PINK(2) "]}", CW_OK },
        { "{\"order\":\"A\",\"lines\":[" PINK(2) "]}", CW_OK },
    };
#undef PINK
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    load_text(&t, "varieties.csv", "code,name,price\nAMB,Amber Lantern,6.50\n");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        taken k = take(&t, rows[i].order);
        if (k.code != rows[i].code)
            fail_msg("%s: %d %s", rows[i].order, (int)k.code, k.first);
        json_decref(k.answer);
    }
    rows_are(
        &t,
        "SELECT o.number, o.paid, l.line, l.quantity FROM line l JOIN orders o ON o.id = l.order_id ORDER "
        "BY o.number, l.line",
        "A||1|2\nB||1|3\nB||2|7\nD||1|1\nD||2|2\n");
    rows_are(&t, "SELECT COUNT(*) FROM orders", "3\n");
    rows_are(&t, "SELECT COUNT(*) FROM order_event WHERE kind = 'paid'", "0\n");
    test_nursery_free(&t);
}

/* As many lines as an order may have, each with as long a list of substitutes as a line may have: one such order after the other. */
static void the_longest_orders_are_taken_one_after_the_other(void **state)
{
    test_nursery t;
    cw_text csv = CW_TEXT(8000), line = CW_TEXT(4000), order = CW_TEXT(2 << 20);
    (void)state;
    test_nursery_make(&t);
    cw_text_add(&csv, "code,name,price\n");
    cw_text_add(
        &line,
        "{\"assortment\":\"colour=pink\",\"quantity\":1,\"unit_price\":5,\"consent\":\"named\",\"named\":\"");
    for (int v = 0; v < CW_MAX_NAMED; v++) {
        cw_text_addf(&csv, "V%0*d,Variety %d,5\n", CW_MAX_CODE - 1, v, v);
        cw_text_addf(&line, "%sV%0*d", v ? " " : "", CW_MAX_CODE - 1, v);
    }
    cw_text_add(&line, "\"}");
    load_text(&t, "varieties.csv", csv.data);
    for (int o = 0; o < 3; o++) {
        cw_text_clear(&order);
        cw_text_addf(&order, "{\"order\":\"O%d\",\"lines\":[", o);
        for (int i = 0; i < CW_MAX_LINES_PER_ORDER; i++)
            cw_text_addf(&order, "%s%s", i ? "," : "", line.data);
        cw_text_add(&order, "]}");
        taken k = take(&t, order.data);
        assert_string_equal(k.first, "");
        json_decref(k.answer);
    }
    rows_are(&t, "SELECT COUNT(*), MIN(length(named)), MAX(length(named)) FROM line", "1500|659|659\n");
    cw_text_free(&csv);
    cw_text_free(&line);
    cw_text_free(&order);
    test_nursery_free(&t);
}

static int64_t left_of_amb(test_nursery *t)
{
    return number_of(t,
                     "SELECT offered + beyond - sold FROM offering o JOIN variety v ON v.id = o.variety_id "
                     "WHERE code = 'AMB'");
}

/* One of AMB; must be taken or refused for want of it. */
static void one_more(test_nursery *t, int number, bool taken_)
{
    char text[160];
    snprintf(text, sizeof text,
             "{\"order\":\"M%d\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":6}]}", number);
    cw_error err = CW_ERROR_NONE;
    json_t *order = json_loads(text, 0, NULL), *answer = NULL;
    cw_code code = cw_intake_order(t->n, &t->who, order, &answer, &err);
    if (code != (taken_ ? CW_OK : CW_CONFLICT))
        fail_msg("order M%d: code %d, %s", number, code, err.text);
    json_decref(order);
    json_decref(answer);
}

/* What is kept between two orders must not outlive what others write, nor what is taken back. */
static void a_shop_sees_what_happened_meanwhile(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    int64_t left = 0;
    (void)state;
    test_nursery_make(&t);
    ok(load_all(&t)); /* 3 of AMB are sold */
    release(&t, "AMB", 4);
    one_more(&t, 1, true);
    one_more(&t, 2, false);
    one_more(&t, 3, false);
    cw_check_ok(cw_ordering_oversell(t.n, &t.who, "AMB", 1, "a test", &left, &err), &err);
    one_more(&t, 4, true);
    one_more(&t, 5, false);
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "M1", 0, "a test", &err), &err);
    one_more(&t, 6, true);
    one_more(&t, 7, false);
    release(&t, "AMB", 7);
    cw_check_ok(cw_nursery_batch_begin(t.n, &err), &err); /* a batch that does not come to be */
    one_more(&t, 8, true);
    one_more(&t, 9, true);
    one_more(&t, 10, false);
    cw_nursery_batch_drop(t.n);
    assert_int_equal(left_of_amb(&t), 2);
    one_more(&t, 8, true);
    one_more(&t, 9, true);
    one_more(&t, 10, false);
    release(&t, "AMB", 8);
    ok(load_one(&t, "orders.csv", ORDER_HEADER "77,2032-01-25T10:00:00Z,1,AMB,1,6\n"));
    one_more(&t, 11, false);
    release(&t, "AMB", 9);
    ok(load_one(&t, "varieties.csv", "code,name,retired\nAMB,Amber Lantern,yes\n"));
    taken k =
        take(&t, "{\"order\":\"M12\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":6}]}");
    assert_string_equal(k.first, "variety: the variety is retired and is not sold: AMB");
    assert_int_equal(left_of_amb(&t), 1);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_shop_is_answered_order_by_order),
        cmocka_unit_test(what_was_refused_leaves_nothing_to_the_next),
        cmocka_unit_test(the_longest_orders_are_taken_one_after_the_other),
        cmocka_unit_test(a_shop_sees_what_happened_meanwhile),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

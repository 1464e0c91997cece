/* SPDX-License-Identifier: MIT */
/* Orders whose rest will not come: which they are, what closing them takes off and owes back, and what it leaves alone. Data invented. */
#include "support/picking.h"

#include "desk/buyers/claims.h"
#include "desk/orders/rest.h"

#include "base/banned.h"

#define RESTS "order,customer,week,lines,short,refund,left,what\n"

static void rests_are(test_nursery *t, const char *want)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_check_ok(cw_rest_list(t->n, &t->who, &out, &err), &err);
    csv_is(&out, want);
}

static void close_rests(test_nursery *t, const char *order, int64_t divisions, cw_cents refund)
{
    cw_error err = CW_ERROR_NONE;
    cw_rest_done done;
    cw_check_ok(cw_rest_close(t->n, &t->who, &order, 1, NULL, &done, &err), &err);
    test_nursery_check(t);
    assert_int_equal(done.orders, 1);
    assert_int_equal(done.divisions, divisions);
    assert_int_equal(done.refund, refund);
}

/* What a line asks and was changed to, by the order's history. */
static const char changes[] =
    "SELECT o.number, l.line, e.kind, e.before, e.after, e.note, e.actor FROM order_event e JOIN orders o ON "
    "o.id = e.order_id LEFT "
    "JOIN line l ON l.id = e.line_id WHERE e.kind IN ('changed', 'cancelled') ORDER BY e.id";

/* Seven AMB, six BRI and one CIN for nine, seven and five that are asked: 11 and 12 are promised all; 13, of a later week, six of eight AMB
 * and one of two BRI; 14 one of three, and has not paid; 15 comes too late for anything. */
static void make(test_nursery *t)
{
    test_nursery_make(t);
    load_text(t, "varieties.csv",
              "code,name,form,price\nAMB,Amber Lantern,ball,6.50\nBRI,Briar "
              "Song,cactus,7.00\nCIN,Cinder,ball,5.00\n");
    load_text(t, "places.csv", pick_places);
    load_text(t, "lots.csv",
              "lot,variety,dug_on,clumps,place\nL1,AMB,2031-10-20,0,C1\nL2,BRI,2031-10-20,0,C2\nL3,CIN,2031-"
              "10-20,0,C3\n"
              "L4,AMB,2031-10-20,0,C3\n");
    load_text(t, "zones.csv", pick_zones);
    load_text(t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,customer,zone,paid\n"
              "11,2032-01-05T10:00:00Z,1,AMB,1,6.50,Ada,z7,yes\n"
              "12,2032-01-05T11:00:00Z,1,BRI,5,7.00,Bo,z7,yes\n"
              "13,2032-01-05T12:00:00Z,1,AMB,8,6.50,Cy,z3,yes\n"
              "13,2032-01-05T12:00:00Z,2,BRI,2,7.00,Cy,z3,yes\n"
              "14,2032-01-05T13:00:00Z,1,CIN,3,5.00,Di,z7,no\n"
              "15,2032-01-05T14:00:00Z,1,CIN,2,5.00,,z7,yes\n");
    count_lot(t, "L1", "2032-01-20", 7);
    count_lot(t, "L2", "2032-01-20", 6);
    count_lot(t, "L3", "2032-01-20", 1);
    make_firm(t, "first-come", NULL);
}

/* Before anything is pulled a line is sure of what it is promised. */
static void what_is_promised_is_no_rest(void **state)
{
    test_nursery t;
    (void)state;
    make(&t);
    rests_are(
        &t, RESTS
        "13,Cy,,2,3,20.00,0,\"2 of AMB, 1 of BRI\"\n14,Di,,1,2,0.00,0,2 of CIN\n15,,,1,2,10.00,0,2 of CIN\n");
    int64_t revision = number_of(&t, "SELECT trade_revision FROM nursery"),
            stock = number_of(&t, "SELECT stock_revision FROM nursery");
    close_rests(&t, "13", 3, 2000);
    assert_true(number_of(&t, "SELECT trade_revision FROM nursery") > revision);
    assert_int_equal(number_of(&t, "SELECT stock_revision FROM nursery"), stock);
    close_rests(&t, "14", 2, 0); /* what was not paid is not owed back */
    close_rests(&t, "15", 2, 1000);
    rests_are(&t, RESTS);
    rows_are(
        &t, changes,
        "13|1|changed|8|6|nothing more of it comes|tester\n13|2|changed|2|1|nothing more of it comes|tester\n"
        "14|1|changed|3|1|nothing more of it comes|tester\n15|1|cancelled|2|0|nothing more of it "
        "comes|tester\n"
        "15||cancelled|open|cancelled|nothing more of it comes|tester\n");
    test_nursery_free(&t);
}

/* Once a packer found something short, a line is sure of what was pulled; of its other varieties, and other lines, nothing changes. */
static void what_was_found_short_is_a_rest(void **state)
{
    test_nursery t;
    char outcome[16];
    cw_error err = CW_ERROR_NONE;
    int64_t rest = 0;
    (void)state;
    make(&t);
    wave_make(&t);
    print_message("what is still on the list counts as pulled\n");
    rests_are(&t,
              RESTS "14,Di,2032-W16,1,2,0.00,0,2 of CIN\n13,Cy,2032-W20,2,3,20.00,0,\"2 of AMB, 1 of BRI\"\n"
                    "15,,,1,2,10.00,0,2 of CIN\n");
    answer(&t, "Marta", "k1", pick_of(&t, "12", 1), 3, "missing", outcome);
    rests_are(&t, RESTS "12,Bo,2032-W16,1,2,14.00,0,2 of BRI\n14,Di,2032-W16,1,2,0.00,0,2 of CIN\n"
                        "13,Cy,2032-W20,2,3,20.00,0,\"2 of AMB, 1 of BRI\"\n15,,,1,2,10.00,0,2 of CIN\n");
    answer_all_open(&t);
    cw_check_ok(pack(&t, "14", 1, NULL, 0, &err), &err);
    cw_check_ok(ship_off(&t, "14", &rest, &err), &err);
    rests_are(&t, RESTS "14,Di,2032-W16,1,2,0.00,1,2 of CIN\n12,Bo,2032-W16,1,2,14.00,0,2 of BRI\n"
                        "13,Cy,2032-W20,2,3,20.00,0,\"2 of AMB, 1 of BRI\"\n15,,,1,2,10.00,0,2 of CIN\n");
    close_rests(&t, "12", 2, 1400);
    rows_are(&t,
             "SELECT o.number, b.quantity, b.why, b.actor FROM taken_back b JOIN line l ON l.id = b.line_id "
             "JOIN orders o ON "
             "o.id = l.order_id",
             "12|2|nothing more of it comes|tester\n");
    close_rests(&t, "14", 2, 0);
    rows_are(&t, "SELECT number, state FROM orders ORDER BY number",
             "11|open\n12|open\n13|open\n14|shipped\n15|open\n");
    rows_are(&t, changes,
             "12|1|changed|5|3|nothing more of it comes|tester\n14|1|changed|3|1|nothing more of it "
             "comes|tester\n");
    print_message("two lines, of which one has all: that one is left alone\n");
    load_text(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,customer,zone,paid\n"
              "11,2032-01-05T10:00:00Z,2,CIN,1,5.00,Ada,z7,yes\n");
    close_rests(&t, "11", 1, 500);
    rows_are(&t,
             "SELECT l.line, l.quantity FROM line l JOIN orders o ON o.id = l.order_id WHERE o.number = '11'",
             "1|1\n2|0\n");
    rows_are(&t,
             "SELECT l.line FROM order_event e JOIN orders o ON o.id = e.order_id JOIN line l ON l.id = "
             "e.line_id WHERE o.number = "
             "'11' AND e.kind IN ('changed', 'cancelled')",
             "2\n");
    test_nursery_free(&t);
}

static void who_may_close_what(void **state)
{
    static const char *many[CW_REST_MOST + 1], *const cancelled[] = { "15" }, *const whole[] = { "11" },
                                                      *const again[] = { "11-R1" };
    static const struct {
        const char *const *orders;
        size_t count;
        cw_code code;
        const char *says;
    } rows[] = {
        { many, 0, CW_REFUSED, "must name 1 to 2000 orders: 0" },
        { many, CW_REST_MOST + 1, CW_REFUSED, "must name 1 to 2000 orders: 2001" },
        { many, CW_REST_MOST, CW_NOT_FOUND, "" },
        { many, 1, CW_NOT_FOUND, "" },
        { cancelled, 1, CW_CONFLICT, "order 15 is cancelled; it can no longer be changed" },
        { whole, 1, CW_CONFLICT, "order 11 is promised all that it asks; nothing of it is to be closed" },
        { again, 1, CW_CONFLICT, "order 11-R1 replaces what was claimed of order 11; it has no rest" },
    };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_rest_done done;
    cw_table out = { 0 };
    int64_t rest = 0, id = 0;
    (void)state;
    for (size_t i = 0; i <= CW_REST_MOST; i++)
        many[i] = "99";
    make(&t);
    close_rests(&t, "15", 2, 1000);
    wave_make(&t);
    answer_all_open(&t);
    load_text(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,customer,zone,paid\n"
              "16,2032-01-05T10:00:00Z,1,AMB,1,6.50,Ada,z7,yes\n");
    cw_check_ok(pack(&t, "11", 1, NULL, 0, &err), &err);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (rows[i].orders == again) { /* once it has been received it can be claimed */
            cw_check_ok(ship_off(&t, "11", &rest, &err), &err);
            count_lot(&t, "L4", "2032-01-25", 3);
            load_text(&t, "varieties.csv", "code,name,reserve\nAMB,Amber Lantern,1\n");
            cw_claim_ask ask = { "11", 1, 1, "soft", "replace", "L4", "gladly" };
            cw_check_ok(cw_claims_add(t.n, &t.who, &ask, &id, &err), &err);
        }
        err = (cw_error)CW_ERROR_NONE;
        cw_code code = cw_rest_close(t.n, &t.who, rows[i].orders, rows[i].count, NULL, &done, &err);
        if (code != rows[i].code || (rows[i].says[0] && strcmp(err.text, rows[i].says) != 0))
            fail_msg("row %zu: %d %s", i, code, err.text);
        if (code == CW_REFUSED)
            assert_string_equal(err.column, "orders");
        test_nursery_check(&t);
    }
    static const cw_role others[] = { CW_ROLE_NONE, CW_ROLE_PACKER, CW_ROLE_CELLAR, CW_ROLE_SHOP };
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++) {
        cw_asker who = t.who;
        who.role = others[i];
        assert_int_equal(cw_rest_close(t.n, &who, (const char *const[]){ "13" }, 1, NULL, &done, &err),
                         CW_FORBIDDEN);
        assert_int_equal(cw_rest_list(t.n, &who, &out, &err), CW_FORBIDDEN);
        cw_table_free(&out);
    }
    rows_are(
        &t, changes,
        "15|1|cancelled|2|0|nothing more of it comes|tester\n15||cancelled|open|cancelled|nothing more of it "
        "comes|tester\n");
    test_nursery_free(&t);
}

static cw_code settle(test_nursery *t, const cw_rest_item *items, size_t n, const char *why,
                      cw_rest_settled *done, cw_error *err)
{
    *err = (cw_error)CW_ERROR_NONE;
    cw_code code = cw_rest_settle(t->n, &t->who, items, n, why, done, err);
    test_nursery_check(t);
    return code;
}

/* Several at once: what is filled from another lot, and what is owed back of those who paid. */
static void what_came_short_is_settled(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_rest_settled done;
    char outcome[16];
    (void)state;
    make(&t);
    wave_make(&t);
    answer(&t, "Marta", "k1", pick_of(&t, "11", 1), 0, "missing", outcome);
    answer(&t, "Marta", "k2", pick_of(&t, "12", 1), 2, "missing", outcome);
    answer(&t, "Marta", "k3", pick_of(&t, "14", 1), 0, "rotten", outcome);
    count_lot(&t, "L4", "2032-01-25", 2);
    int64_t revision = number_of(&t, "SELECT trade_revision FROM nursery");
    cw_rest_item items[] = { { "12", 1, parcel_of(&t, "12"), NULL, NULL },
                             { "11", 1, parcel_of(&t, "11"), "L4", "C3" },
                             { "14", 1, parcel_of(&t, "14"), NULL, NULL } };
    cw_check_ok(settle(&t, items, 3, "the mice", &done, &err), &err);
    assert_int_equal(done.filled, 1);
    assert_int_equal(done.refunded, 6);
    assert_int_equal(done.refund, 2100); /* three of 12; the three of 14 were not paid */
    assert_true(number_of(&t, "SELECT trade_revision FROM nursery") > revision);
    rows_are(&t, changes,
             "12|1|changed|5|2|the mice|tester\n14|1|cancelled|3|0|the "
             "mice|tester\n14||cancelled|open|cancelled|the "
             "mice|tester\n");
    assert_int_equal(
        number_of(&t, "SELECT SUM(k.quantity) FROM pick k JOIN lot l ON l.id = k.lot_id WHERE l.code = 'L4'"),
        1);
    print_message("not a second time, nor of what there is not\n");
    static const struct {
        cw_rest_item item;
        cw_code code;
        const char *says;
    } rows[] = {
        { { "12", 1, 0, NULL, NULL }, CW_CONFLICT, "line 1 of order 12 is short of nothing any more" },
        { { "14", 1, 0, NULL, NULL }, CW_CONFLICT, "order 14 is cancelled; it can no longer be changed" },
        { { "12", 2, 0, NULL, NULL }, CW_NOT_FOUND, "" },
        { { "99", 1, 0, NULL, NULL }, CW_NOT_FOUND, "" },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_code code = settle(&t, &rows[i].item, 1, NULL, &done, &err);
        if (code != rows[i].code || (rows[i].says[0] && strcmp(err.text, rows[i].says) != 0))
            fail_msg("row %zu: %d %s", i, code, err.text);
    }
    cw_rest_item last = { "13", 2, 0, NULL, NULL };
    cw_check_ok(settle(&t, &last, 1, "", &done, &err), &err);
    rows_are(&t, "SELECT note FROM order_event ORDER BY id DESC LIMIT 1", "nothing more of it comes\n");
    last.line = 1;
    cw_check_ok(settle(&t, &last, 1, "x", &done, &err), &err);
    rows_are(&t, "SELECT note FROM order_event ORDER BY id DESC LIMIT 1", "x\n");
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_promised_is_no_rest),
        cmocka_unit_test(what_was_found_short_is_a_rest),
        cmocka_unit_test(who_may_close_what),
        cmocka_unit_test(what_came_short_is_settled),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

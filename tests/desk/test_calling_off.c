/* SPDX-License-Identifier: MIT */
/* An order that packers have on their lists and in their parcels is called off, or its rest is: what comes off, what is put back, what
 * stays. Data invented. */
#include "support/picking.h"

#include "desk/orders/clearing.h"
#include "desk/orders/notices.h"
#include "desk/orders/rest.h"

#include "base/banned.h"

static void lies(test_nursery *t, const char *order, int line, const char *want)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_text got = CW_TEXT(10000);
    cw_check_ok(cw_clearing_lying(t->n, &t->who, order, line, &out, &err), &err);
    for (size_t i = 0; i < cw_table_rows(&out); i++)
        cw_text_addf(&got, "%s\n", cw_table_text(&out, i, cw_table_column(&out, "sentence")));
    is_text(got.data ? got.data : "", want);
    cw_text_free(&got);
    cw_table_free(&out);
}

static void cancel(test_nursery *t, const char *order, int line)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_ordering_cancel(t->n, &t->who, order, line, "rang", &err), &err);
    test_nursery_check(t);
}

static void an_order_comes_off_the_lists_and_out_of_the_slots(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    char outcome[16];
    (void)state;
    picking_make(&t);
    wave_make(&t);
    cw_check_ok(cw_picking_take(t.n, &t.who, number_of(&t, "SELECT MIN(id) FROM stop"), "Marta", &err), &err);
    lies(&t, "1001", 0,
         "Wave 1, stop 1 (C1): 1 of BRI come off the list; Marta works there.\n"
         "Wave 1, stop 2 (C2): 2 of AMB come off the list.\n");
    print_message("one line on the list: the parcel keeps the other\n");
    cancel(&t, "1001", 2);
    rows_are(
        &t,
        "SELECT COUNT(*) FROM pick k JOIN parcel p ON p.id = k.parcel_id JOIN orders o ON o.id = p.order_id "
        "WHERE o.number = '1001'",
        "1\n");
    print_message(
        "the other is in the slot: back in the ledger at once, and on the packer's list until it is said\n");
    answer(&t, "Marta", "k1", pick_of(&t, "1001", 1), 2, NULL, outcome);
    assert_int_equal(lot_has(&t, "L1"), 3);
    lies(&t, "1001", 0, "Wave 1, slot 2: 2 of AMB go back to C2 (lot L1).\n");
    cancel(&t, "1001", 0);
    assert_int_equal(lot_has(&t, "L1"), 5);
    rows_are(&t, "SELECT state FROM orders WHERE number = '1001'", "cancelled\n");
    /* The ledger has it as never taken: of the same day, by whom, and why. */
    rows_are(&t,
             "SELECT r.day = m.day, r.actor, r.note FROM movement r JOIN movement m ON m.id = r.reverses "
             "WHERE r.cause = 'pick'",
             "1|tester|cancelled\n");
    assert_int_equal(parcel_of(&t, "1001"), INT64_MIN); /* gone, and its number is not used again */
    json_t *doc = NULL;
    cw_check_ok(cw_picking_document(t.n, &t.who, 1, &doc, &err), &err);
    const json_t *back = json_array_get(json_object_get(doc, "put_back"), 0);
    assert_string_equal(json_string_value(json_object_get(back, "place")), "C2");
    assert_int_equal(json_integer_value(json_object_get(back, "slot")), 2);
    int64_t id = json_integer_value(json_object_get(back, "id"));
    json_decref(doc);
    cw_check_ok(cw_picking_put_back(t.n, &t.who, id, "Marta", &err), &err);
    cw_check_ok(cw_picking_put_back(t.n, &t.who, id, "Pim", &err), &err); /* said twice */
    rows_are(&t, "SELECT done_by FROM put_back", "Marta\n");
    assert_int_equal(cw_picking_put_back(t.n, &t.who, 99, "Pim", &err), CW_NOT_FOUND);
    print_message("a phone that hands in the old pick is told\n");
    test_nursery_free(&t);
}

/* Every column, of a lot that lies at a place of one letter, where somebody of one letter works, and of one that lies nowhere. */
static void what_lies_where_is_told_whole(void **state)
{
#define LYING "wave,week,slot,parcel,what,stop,place,taken_by,lot,variety,name,quantity,sentence\n"
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    char outcome[16];
    int64_t rest = 0;
    (void)state;
    test_nursery_make(&t);
    load_text(&t, "varieties.csv", pick_varieties);
    load_text(&t, "places.csv", "place,room,walk_order\nC,cellar,10\n");
    load_text(&t, "lots.csv",
              "lot,variety,dug_on,clumps,place\nL1,AMB,2031-10-20,0,C\nL2,BRI,2031-10-21,0,\n");
    load_text(&t, "zones.csv", pick_zones);
    load_text(&t, "orders.csv", pick_orders);
    count_lot(&t, "L1", "2032-01-20", 9);
    count_lot(&t, "L2", "2032-01-20", 9);
    make_firm(&t, "first-come", NULL);
    wave_make(&t);
    cw_check_ok(cw_picking_take(t.n, &t.who, number_of(&t, "SELECT MIN(id) FROM stop"), "M", &err), &err);
    answer(&t, "M", "k1", pick_of(&t, "1002", 1), 3, NULL, outcome);
    cw_check_ok(cw_clearing_lying(t.n, &t.who, "1001", 0, &out, &err), &err);
    csv_is(&out, LYING "1,2032-W16,2,2,open,1,C,M,L1,AMB,Amber Lantern,2,\"Wave 1, stop 1 (C): 2 of AMB come "
                       "off the list; M works "
                       "there.\"\n"
                       "1,2032-W16,2,2,open,2,,,L2,BRI,Briar Song,1,\"Wave 1, stop 2 (no place): 1 of BRI "
                       "come off the list.\"\n");
    cw_check_ok(cw_clearing_lying(t.n, &t.who, "1001", 2, &out, &err), &err);
    csv_is(&out, LYING "1,2032-W16,2,2,open,2,,,L2,BRI,Briar Song,1,\"Wave 1, stop 2 (no place): 1 of BRI "
                       "come off the list.\"\n");
    cw_check_ok(cw_clearing_lying(t.n, &t.who, "1002", 0, &out, &err), &err);
    csv_is(&out, LYING
           "1,2032-W16,3,3,taken,1,C,M,L1,AMB,Amber Lantern,3,\"Wave 1, slot 3: 3 of AMB go back to C (lot "
           "L1).\"\n");
    answer_all_open(&t);
    cw_check_ok(pack(&t, "1004", 4, NULL, 0, &err), &err);
    cw_check_ok(cw_clearing_lying(t.n, &t.who, "1004", 0, &out, &err), &err);
    csv_is(&out, LYING
           "1,2032-W16,1,1,taken,2,,,L2,BRI,Briar Song,4,\"Wave 1, slot 1: 4 of BRI go back to no place "
           "(lot L2); its parcel is closed and is opened again.\"\n");
    cw_check_ok(ship_off(&t, "1004", &rest, &err), &err);
    cw_check_ok(cw_clearing_lying(t.n, &t.who, "1004", 0, &out, &err), &err);
    csv_is(&out, LYING
           "1,2032-W16,1,1,left,2,,,L2,BRI,Briar Song,4,\"Wave 1, slot 1: 4 of BRI have left and stay.\"\n");
    print_message("nothing of what lies on no list; and the office alone asks, of what there is\n");
    cw_check_ok(cw_clearing_lying(t.n, &t.who, "1005", 0, &out, &err), &err);
    csv_is(&out, LYING);
    assert_int_equal(cw_clearing_lying(t.n, &t.who, "1001", 3, &out, &err), CW_NOT_FOUND);
    cw_table_free(&out);
    assert_int_equal(cw_clearing_lying(t.n, &t.who, "9", 0, &out, &err), CW_NOT_FOUND);
    cw_table_free(&out);
    t.who.role = CW_ROLE_PACKER;
    assert_int_equal(cw_clearing_lying(t.n, &t.who, "1001", 0, &out, &err), CW_FORBIDDEN);
    cw_table_free(&out);
    t.who.role = CW_ROLE_OWNER;
    test_nursery_free(&t);
#undef LYING
}

/* What comes off a list changes what is there and what is promised, so that whoever looks is told; what lies on none changes the order
 * alone. A wave of which nothing is to be answered any more is closed. */
static void clearing_is_told_as_far_as_it_goes(void **state)
{
    test_nursery t;
    static const char trade[] = "SELECT trade_revision FROM nursery",
                      stock[] = "SELECT stock_revision FROM nursery";
    (void)state;
    picking_make(&t);
    wave_make(&t);
    int64_t before = number_of(&t, trade), there = number_of(&t, stock);
    cancel(&t, "1005", 0); /* of another week */
    assert_true(number_of(&t, trade) > before);
    assert_int_equal(number_of(&t, stock), there);
    static const char *const orders[] = { "1001", "1002", "1004" };
    for (size_t i = 0; i < 3; i++) {
        rows_are(&t, "SELECT state FROM wave", "open\n");
        there = number_of(&t, stock);
        cancel(&t, orders[i], 0);
        assert_true(number_of(&t, stock) > there);
    }
    rows_are(&t, "SELECT state FROM wave", "closed\n");
    assert_int_equal(
        number_of(&t, "SELECT COUNT(*) FROM pick") + number_of(&t, "SELECT COUNT(*) FROM parcel"), 0);
    test_nursery_free(&t);
}

/* Two parcels, one gone: what has left of a line is counted over all of them, and only what is here comes off. */
static void of_two_parcels_one_has_left(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    char outcome[16];
    int64_t rest = 0;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    answer(&t, "Marta", "k1", pick_of(&t, "1002", 1), 2, "missing", outcome);
    answer(&t, "Marta", "k2", pick_of(&t, "1001", 2), 0, "missing", outcome);
    answer_all_open(&t);
    cw_check_ok(pack(&t, "1001", 2, NULL, 0, &err), &err);
    cw_check_ok(ship_off(&t, "1001", &rest, &err), &err);
    assert_int_equal(rest, 1);
    cancel(&t, "1001", 0); /* AMB has left, all of it; BRI was never there */
    rows_are(&t,
             "SELECT l.line, l.quantity, o.state FROM orders o JOIN line l ON l.order_id = o.id WHERE "
             "o.number = '1001'",
             "1|2|shipped\n2|0|shipped\n");
    rows_are(&t,
             "SELECT l.line, e.kind FROM order_event e JOIN orders o ON o.id = e.order_id JOIN line l ON "
             "l.id = e.line_id "
             "WHERE o.number = '1001' AND e.kind IN ('cancelled', 'changed')",
             "2|cancelled\n");
    test_nursery_free(&t);
}

static void what_was_found_rotten_stays_found(void **state)
{
    test_nursery t;
    char outcome[16];
    (void)state;
    picking_make(&t);
    wave_make(&t);
    answer(&t, "Marta", "k1", pick_of(&t, "1002", 1), 2, "rotten", outcome);
    int64_t had = lot_has(&t, "L1") + lot_has(&t, "L3");
    cancel(&t, "1002", 0);
    assert_int_equal(lot_has(&t, "L1") + lot_has(&t, "L3"), had + 2); /* the rotten one does not come back */
    assert_int_equal(number_of(&t, "SELECT -SUM(divisions) FROM movement WHERE reason = 'rotten'"), 1);
    test_nursery_free(&t);
}

static void what_has_left_stays(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    char outcome[16];
    int64_t rest = 0;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    print_message("closed and not gone: opened and emptied\n");
    answer_all_open(&t);
    cw_check_ok(pack(&t, "1004", 4, NULL, 0, &err), &err);
    lies(&t, "1004", 0,
         "Wave 1, slot 1: 4 of BRI go back to C1 (lot L2); its parcel is closed and is opened again.\n");
    cancel(&t, "1004", 0);
    assert_int_equal(lot_has(&t, "L2"), 5);
    test_nursery_free(&t);

    print_message("gone in part: the rest is cancelled, the order is shipped\n");
    picking_make(&t);
    wave_make(&t);
    answer(&t, "Marta", "k1", pick_of(&t, "1002", 1), 2, "missing", outcome);
    answer_all_open(&t);
    cw_check_ok(pack(&t, "1002", 2, NULL, 0, &err), &err);
    cw_check_ok(ship_off(&t, "1002", &rest, &err), &err);
    assert_int_equal(rest, 1);
    lies(&t, "1002", 0, "Wave 1, slot 3: 2 of AMB have left and stay.\n");
    cancel(&t, "1002", 0);
    rows_are(
        &t,
        "SELECT o.state, l.quantity FROM orders o JOIN line l ON l.order_id = o.id WHERE o.number = '1002'",
        "shipped|2\n");
    test_nursery_free(&t);

    print_message("of whatever variety\n");
    picking_make(&t);
    wave_make(&t);
    answer(&t, "Marta", "k1", pick_of(&t, "1004", 1), 3, "missing", outcome);
    answer_all_open(&t);
    cw_check_ok(pack(&t, "1004", 3, NULL, 0, &err), &err);
    cw_check_ok(ship_off(&t, "1004", &rest, &err), &err);
    cancel(&t, "1004", 0);
    rows_are(
        &t,
        "SELECT o.state, l.quantity FROM orders o JOIN line l ON l.order_id = o.id WHERE o.number = '1004'",
        "shipped|3\n");
    test_nursery_free(&t);
}

/* Five AMB are there and seven asked: 1001 has its two, 1002 three of five; a packer finds one of those missing. */
static void short_of_some(test_nursery *t)
{
    char outcome[16];
    test_nursery_make(t);
    load_text(t, "varieties.csv", pick_varieties);
    load_text(t, "places.csv", pick_places);
    load_text(t, "lots.csv", pick_lots);
    load_text(t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,customer,zone\n"
              "1001,2032-01-05T10:00:00Z,1,AMB,2,6.50,Ada,z7\n"
              "1002,2032-01-05T11:00:00Z,1,AMB,5,6.50,Bo,z7\n"
              "1003,2032-01-05T12:00:00Z,1,AMB,1,6.50,Cy,z7\n");
    load_text(t, "zones.csv", pick_zones);
    count_lot(t, "L1", "2032-01-20", 5);
    make_firm(t, "first-come", NULL);
    wave_make(t);
    answer(t, "Marta", "k1", pick_of(t, "1002", 1), 2, "missing", outcome);
    assert_string_equal(outcome, "done");
}

static void rests_are(test_nursery *t, const char *want)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_check_ok(cw_rest_list(t->n, &t->who, &out, &err), &err);
    csv_is(&out, want);
}

/* A line of which nothing was shared out yet is a rest, too, once something of its order was. */
static void a_line_without_anything_is_a_rest(void **state)
{
    test_nursery t;
    (void)state;
    short_of_some(&t);
    load_text(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,customer,zone\n"
              "1002,2032-01-05T11:00:00Z,2,BRI,3,7.00,Bo,z7\n"
              "1005,2032-01-06T12:00:00Z,1,BRI,2,7.00,Di,z7\n");
    rests_are(&t, "order,customer,week,lines,short,refund,left,what\n"
                  "1002,Bo,2032-W16,2,6,40.50,0,\"3 of AMB, 3 of BRI\"\n"
                  "1003,Cy,,1,1,6.50,0,1 of AMB\n");
    test_nursery_free(&t);
}

static void the_rest_is_closed_and_refunded(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_rest_done done;
    cw_notices_made made;
    int64_t rest = 0;
    (void)state;
    short_of_some(&t);
    rests_are(&t, "order,customer,week,lines,short,refund,left,what\n"
                  "1002,Bo,2032-W16,1,3,19.50,0,3 of AMB\n1003,Cy,,1,1,6.50,0,1 of AMB\n");
    print_message("all or none: one of them has no rest\n");
    assert_int_equal(cw_rest_close(t.n, &t.who, (const char *[]){ "1002", "1001" }, 2, NULL, &done, &err),
                     CW_CONFLICT);
    assert_non_null(strstr(err.text, "order 1001 is promised all that it asks"));
    err = (cw_error)CW_ERROR_NONE;
    test_nursery_check(&t);
    cw_check_ok(cw_rest_close(t.n, &t.who, (const char *[]){ "1002", "1003" }, 2, NULL, &done, &err), &err);
    test_nursery_check(&t);
    assert_int_equal(done.orders, 2);
    assert_int_equal(done.divisions, 4);
    assert_int_equal(done.refund, 2600);
    rows_are(&t, "SELECT number, state FROM orders ORDER BY number",
             "1001|open\n1002|open\n1003|cancelled\n");
    rests_are(&t, "order,customer,week,lines,short,refund,left,what\n");
    cw_check_ok(cw_notices_make(t.n, &t.who, &made, &err), &err);
    rows_are(&t,
             "SELECT o.number, SUM(n.amount) FROM notice n JOIN orders o ON o.id = n.order_id WHERE n.kind = "
             "'refund' "
             "GROUP BY 1",
             "1002|1950\n1003|650\n");
    print_message("what it is sure of leaves, and then the order is shipped\n");
    answer_all_open(&t);
    cw_check_ok(pack(&t, "1002", 2, NULL, 0, &err), &err);
    cw_check_ok(ship_off(&t, "1002", &rest, &err), &err);
    assert_int_equal(rest, 0);
    rows_are(&t, "SELECT state FROM orders WHERE number = '1002'", "shipped\n");
    test_nursery_free(&t);

    print_message("closed after it left: shipped at once\n");
    short_of_some(&t);
    answer_all_open(&t);
    cw_check_ok(pack(&t, "1002", 2, NULL, 0, &err), &err);
    cw_check_ok(ship_off(&t, "1002", &rest, &err), &err);
    assert_int_equal(rest, 3);
    cw_check_ok(cw_rest_close(t.n, &t.who, (const char *[]){ "1002" }, 1, "late frost", &done, &err), &err);
    test_nursery_check(&t);
    rows_are(&t, "SELECT state FROM orders WHERE number = '1002'", "shipped\n");
    test_nursery_free(&t);
}

/* What is said of it stands in the order's history, however short; said nothing, the program says why. */
static void why_it_was_closed(void **state)
{
    static const struct {
        const char *why, *kept;
    } rows[] = { { NULL, "nothing more of it comes\n" },
                 { "", "nothing more of it comes\n" },
                 { "x", "x\n" },
                 { "late frost", "late frost\n" } };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        test_nursery t;
        cw_error err = CW_ERROR_NONE;
        cw_rest_done done;
        short_of_some(&t);
        cw_check_ok(cw_rest_close(t.n, &t.who, (const char *[]){ "1003" }, 1, rows[i].why, &done, &err),
                    &err);
        rows_are(
            &t,
            "SELECT DISTINCT e.note FROM order_event e JOIN orders o ON o.id = e.order_id WHERE o.number "
            "= '1003' AND e.kind = 'cancelled'",
            rows[i].kept);
        test_nursery_free(&t);
    }
}

/* One crate came short for two orders: one is filled from another lot, the other's rest is refunded, at once. */
static void a_short_crate_is_settled_for_all(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_rest_settled done;
    char outcome[16];
    (void)state;
    picking_make(&t);
    wave_make(&t);
    answer(&t, "Marta", "k1", pick_of(&t, "1001", 1), 1, "missing", outcome);
    answer(&t, "Marta", "k2", pick_of(&t, "1002", 1), 2, "missing", outcome);
    count_lot(&t, "L3", "2032-01-25", 3);
    cw_rest_item items[] = { { "1001", 1, parcel_of(&t, "1001"), "L3", "C3" },
                             { "1002", 1, parcel_of(&t, "1002"), NULL, NULL } };
    print_message("by the office alone\n");
    static const cw_role others[] = { CW_ROLE_NONE, CW_ROLE_PACKER, CW_ROLE_CELLAR, CW_ROLE_SHOP };
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++) {
        cw_asker who = t.who;
        who.role = others[i];
        assert_int_equal(cw_rest_settle(t.n, &who, items, 2, NULL, &done, &err), CW_FORBIDDEN);
        assert_int_equal(done.filled + done.refunded + done.refund, 0);
    }
    rows_are(&t, "SELECT number, state FROM orders WHERE number IN ('1001', '1002') ORDER BY number",
             "1001|open\n1002|open\n");
    err = (cw_error)CW_ERROR_NONE;
    print_message("all or none\n");
    cw_rest_item wrong[] = { items[0], { "1004", 1, parcel_of(&t, "1004"), NULL, NULL } };
    assert_int_equal(cw_rest_settle(t.n, &t.who, wrong, 2, NULL, &done, &err), CW_CONFLICT);
    test_nursery_check(&t);
    assert_int_equal(
        number_of(&t, "SELECT COUNT(*) FROM pick k JOIN lot l ON l.id = k.lot_id WHERE l.code = 'L3'"), 0);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_rest_settle(t.n, &t.who, items, 2, NULL, &done, &err), &err);
    test_nursery_check(&t);
    assert_int_equal(done.filled, 1);
    assert_int_equal(done.refunded, 1);
    assert_int_equal(done.refund, 650);
    cw_table out = { 0 };
    cw_check_ok(cw_picking_shorts(t.n, &t.who, 0, &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), 0);
    cw_table_free(&out);
    test_nursery_free(&t);
}

static void notices_are_sent_together_or_not_at_all(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_rest_done done;
    cw_notices_made made;
    (void)state;
    short_of_some(&t);
    cw_check_ok(cw_rest_close(t.n, &t.who, (const char *[]){ "1002", "1003" }, 2, NULL, &done, &err), &err);
    cw_check_ok(cw_notices_make(t.n, &t.who, &made, &err), &err);
    int64_t ids[8], count = number_of(&t, "SELECT COUNT(*) FROM notice");
    assert_true(count >= 4 && count <= 8);
    for (int64_t i = 0; i < count; i++)
        ids[i] = i + 1;
    assert_int_equal(cw_notices_sent_all(t.n, &t.who, ids, (size_t)count, "", &err), CW_REFUSED);
    static int64_t many[CW_NOTICES_MOST + 1];
    cw_asker packer = t.who;
    packer.role = CW_ROLE_PACKER;
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(cw_notices_sent_all(t.n, &packer, ids, (size_t)count, "merge of today", &err),
                     CW_FORBIDDEN);
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(cw_notices_sent_all(t.n, &t.who, ids, 0, "merge of today", &err), CW_REFUSED);
    assert_string_equal(err.text, "must be 1 to 20000 notices: 0");
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(cw_notices_sent_all(t.n, &t.who, many, CW_NOTICES_MOST + 1, "merge of today", &err),
                     CW_REFUSED);
    assert_string_equal(err.text, "must be 1 to 20000 notices: 20001");
    err = (cw_error)CW_ERROR_NONE; /* so many may be, but there is none of number 0 */
    assert_int_equal(cw_notices_sent_all(t.n, &t.who, many, CW_NOTICES_MOST, "merge of today", &err),
                     CW_NOT_FOUND);
    rows_are(&t, "SELECT COUNT(*) FROM notice WHERE state <> 'due'", "0\n");
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_notices_sent(t.n, &t.who, 1, "by post", &err), &err);
    assert_int_equal(cw_notices_sent_all(t.n, &t.who, ids, (size_t)count, "merge of today", &err),
                     CW_CONFLICT);
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM notice WHERE state = 'sent'"), 1);
    cw_check_ok(cw_notices_sent_all(t.n, &t.who, ids + 1, (size_t)count - 1, "merge of today", &err), &err);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM notice WHERE state = 'sent'"), count);
    rows_are(&t, "SELECT DISTINCT evidence FROM notice ORDER BY 1", "by post\nmerge of today\n");
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_order_comes_off_the_lists_and_out_of_the_slots),
        cmocka_unit_test(what_lies_where_is_told_whole),
        cmocka_unit_test(clearing_is_told_as_far_as_it_goes),
        cmocka_unit_test(of_two_parcels_one_has_left),
        cmocka_unit_test(what_was_found_rotten_stays_found),
        cmocka_unit_test(what_has_left_stays),
        cmocka_unit_test(a_line_without_anything_is_a_rest),
        cmocka_unit_test(the_rest_is_closed_and_refunded),
        cmocka_unit_test(why_it_was_closed),
        cmocka_unit_test(a_short_crate_is_settled_for_all),
        cmocka_unit_test(notices_are_sent_together_or_not_at_all),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* SPDX-License-Identifier: MIT */
/* One thing more on an order, and two orders of one buyer: merged, taken apart, in one box. Data invented. */
#include "support/picking.h"

#include "desk/orders/adding.h"
#include "desk/orders/correcting.h"
#include "desk/orders/joining.h"
#include "desk/orders/notices.h"
#include "desk/stock/naming.h"

#include "base/banned.h"

/* Ada's second order: the same address of mail, spelt otherwise. */
static const char second[] =
    "order,received_at,line,variety,quantity,unit_price,customer,email,country,zone\n"
    "2001,2032-01-06T10:00:00Z,1,BRI,1,8.00,Ada,ADA@example.org ,US,z7\n"
    "2001,2032-01-06T10:00:00Z,2,AMB,1,6.50,Ada,ADA@example.org ,US,z7\n";

static void correct(test_nursery *t, const char *order, cw_correcting_ask ask)
{
    cw_error err = CW_ERROR_NONE;
    json_t *tells = NULL;
    cw_check_ok(cw_correcting_set(t->n, &t->who, order, &ask, &tells, &err), &err);
    json_decref(tells);
}

/* Ada's two orders; of the second the AMB is promised, the BRI is not. */
static void make(test_nursery *t)
{
    picking_make(t);
    load_text(t, "orders.csv", second);
    make_firm(t, "first-come", NULL);
    correct(t, "1001", (cw_correcting_ask){ .email = "ada@example.org" });
    test_nursery_check(t);
}

static cw_code set(test_nursery *t, const char *order, const char *other, cw_joining_what what,
                   char tells[2000], cw_error *err)
{
    json_t *list = NULL, *one;
    size_t i;
    *err = (cw_error)CW_ERROR_NONE;
    cw_code code = cw_joining_set(t->n, &t->who, order, other, what, &list, err);
    tells[0] = '\0';
    json_array_foreach(list, i, one)
    {
        size_t used = strlen(tells);
        snprintf(tells + used, 2000 - used, "%s\n", json_string_value(one));
    }
    json_decref(list);
    if (code != CW_OK)
        print_message("  %s\n", err->text);
    test_nursery_check(t);
    return code;
}

static void add(test_nursery *t, const char *order, cw_adding_ask ask, const char *want)
{
    cw_error err = CW_ERROR_NONE;
    json_t *out = NULL;
    cw_check_ok(cw_adding_line(t->n, &t->who, order, &ask, &out, &err), &err);
    char *text = json_dumps(json_object_get(out, "tells"), 0);
    is_text(text, want);
    free(text);
    json_decref(out);
    test_nursery_check(t);
}

static void counted(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_nursery_set(t->n, &t->who, "supply", "counted", &err), &err);
}

static void a_line_is_added_and_promised_at_once(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    json_t *out = NULL;
    (void)state;
    picking_make(&t);
    counted(&t);
    print_message("eight AMB are there, six are asked: two more fit, a third waits\n");
    add(&t, "1002", (cw_adding_ask){ .variety = "AMB", .quantity = 1, .unit_price = -1 },
        "[\"1 of AMB is promised.\"]");
    rows_are(
        &t,
        "SELECT l.line, l.quantity, l.unit_price, l.consent, a.quantity FROM line l JOIN orders o ON o.id = "
        "l.order_id LEFT JOIN allocation a ON a.line_id = l.id WHERE o.number = '1002'",
        "1|3|650|none|3\n2|1|650|none|1\n");
    add(&t, "1001", (cw_adding_ask){ .variety = "AMB", .quantity = 2, .unit_price = 500, .consent = "any" },
        "[\"Line 3 waits for the next sharing of AMB.\"]");
    print_message("on record, and the order is another version\n");
    rows_are(&t, "SELECT kind, after FROM order_event WHERE kind = 'added' ORDER BY id",
             "added|1 of AMB\nadded|2 of AMB\n");
    print_message("on a list already: the new line waits for the next wave\n");
    int64_t wave = wave_make(&t);
    char sql[160];
    snprintf(sql, sizeof sql, "SELECT COUNT(*) FROM pick WHERE wave_id = %lld", (long long)wave);
    int64_t picks = number_of(&t, sql);
    add(&t, "1005", (cw_adding_ask){ .variety = "BRI", .quantity = 1, .unit_price = -1 },
        "[\"Line 2 waits for the next sharing of BRI.\"]");
    add(&t, "1002", (cw_adding_ask){ .variety = "BRI", .quantity = 1, .unit_price = -1 },
        "[\"Line 3 waits for the next sharing of BRI.\", \"The order is on a list already: this line waits "
        "for "
        "the next wave.\"]");
    assert_int_equal(number_of(&t, sql), picks);
    print_message("what cannot be is refused with its field\n");
    static const struct {
        const char *order;
        cw_adding_ask ask;
        cw_code code;
        const char *column;
    } wrong[] = {
        { "1001", { .variety = "NONE", .quantity = 1, .unit_price = -1 }, CW_NOT_FOUND, "variety" },
        { "1001", { .variety = "AMB", .quantity = 0, .unit_price = -1 }, CW_REFUSED, "quantity" },
        { "1001",
          { .variety = "AMB", .quantity = 1, .unit_price = -1, .consent = "named" },
          CW_REFUSED,
          "consent" },
        { "9999", { .variety = "AMB", .quantity = 1, .unit_price = -1 }, CW_NOT_FOUND, "order" },
    };
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        err = (cw_error)CW_ERROR_NONE;
        assert_int_equal(cw_adding_line(t.n, &t.who, wrong[i].order, &wrong[i].ask, &out, &err),
                         wrong[i].code);
        assert_string_equal(err.column, wrong[i].column);
    }
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1003", 0, "moves", &err), &err);
    const cw_adding_ask one = { .variety = "AMB", .quantity = 1, .unit_price = -1 };
    assert_int_equal(cw_adding_line(t.n, &t.who, "1003", &one, &out, &err), CW_CONFLICT);
    t.who.role = CW_ROLE_PACKER;
    assert_int_equal(cw_adding_line(t.n, &t.who, "1001", &one, &out, &err), CW_FORBIDDEN);
    test_nursery_free(&t);
}

static void a_former_code_adds_the_variety(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table said = { 0 };
    (void)state;
    picking_make(&t);
    counted(&t);
    cw_check_ok(cw_naming_rename_variety(t.n, &t.who, "AMB", "AMBER", "a label", true, &said, &err), &err);
    cw_table_free(&said);
    add(&t, "1002", (cw_adding_ask){ .variety = "AMB", .quantity = 1, .unit_price = -1 },
        "[\"1 of AMBER is promised.\"]");
    test_nursery_free(&t);
}

static const char standing[] = "SELECT o.number, o.state, l.line, v.code, l.quantity, COALESCE(a.quantity, "
                               "0) FROM orders o LEFT JOIN line l ON "
                               "l.order_id = o.id LEFT JOIN variety v ON v.id = l.variety_id LEFT JOIN "
                               "allocation a ON a.line_id = l.id WHERE "
                               "o.number IN ('1001', '2001') ORDER BY o.number, l.line";
static const char two[] = "1001|open|1|AMB|2|2\n1001|open|2|BRI|1|1\n"
                          "2001|open|1|BRI|1|0\n2001|open|2|AMB|1|1\n";
static const char one[] = "1001|open|1|AMB|2|2\n1001|open|2|BRI|1|1\n"
                          "1001|open|3|BRI|1|0\n1001|open|4|AMB|1|1\n2001|cancelled||||0\n";

static void beside_is(test_nursery *t, const char *order, const char *want)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_check_ok(cw_joining_beside(t->n, &t->who, order, &out, &err), &err);
    csv_is(&out, want);
}
#define BESIDE "order,customer,week,lines,quantity,same_place,together,pulled,merged\n"

static const char told[] = "SELECT o.number, n.kind, n.amount FROM notice n JOIN orders o ON o.id = "
                           "n.order_id WHERE o.number IN ('1001', '2001') "
                           "ORDER BY 1, 2";

static void tell(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_notices_made made;
    cw_check_ok(cw_notices_make(t->n, &t->who, &made, &err), &err);
    test_nursery_check(t);
}

static void orders_are_merged_with_all_they_are_promised(void **state)
{
    test_nursery t;
    char tells[2000];
    cw_error err;
    (void)state;
    make(&t);
    beside_is(&t, "1001", BESIDE "2001,Ada,,2,2,yes,no,no,no\n");
    beside_is(&t, "1002", BESIDE);
    print_message("one BRI will not come, which is owed back whichever order it stands in\n");
    tell(&t);
    rows_are(&t, told, "2001|refund|800\n2001|short|0\n");
    print_message("two buyers\n");
    assert_int_equal(set(&t, "1002", "2001", CW_MERGE, tells, &err), CW_CONFLICT);
    assert_int_equal(set(&t, "1001", "1001", CW_MERGE, tells, &err), CW_REFUSED);
    rows_are(&t, standing, two);
    cw_check_ok(set(&t, "1001", "2001", CW_MERGE, tells, &err), &err);
    is_text(tells, "2 lines of order 2001 stand in order 1001 now, with all that is promised.\n");
    rows_are(&t, standing, one);
    beside_is(&t, "1001", BESIDE "2001,Ada,,2,2,yes,no,no,yes\n");
    print_message("the file that brought it changes nothing, and nothing is owed back\n");
    load_text(&t, "orders.csv", second);
    rows_are(&t, standing, one);
    tell(&t);
    rows_are(&t, told, "1001|refund|800\n1001|short|0\n");
    print_message("it pulls as one order\n");
    int64_t wave = wave_make(&t);
    rows_are(&t,
             "SELECT COUNT(DISTINCT k.parcel_id), SUM(k.quantity) FROM pick k JOIN line l ON l.id = "
             "k.line_id JOIN "
             "orders o ON o.id = l.order_id WHERE o.number = '1001'",
             "1|4\n");
    assert_int_equal(set(&t, "1001", "2001", CW_UNMERGE, tells, &err), CW_CONFLICT);
    cw_check_ok(cw_picking_drop(t.n, &t.who, wave, "rain", &err), &err);
    cw_check_ok(set(&t, "1001", "2001", CW_UNMERGE, tells, &err), &err);
    rows_are(&t, standing, two);
    rows_are(&t, told, "2001|refund|800\n2001|short|0\n");
    rows_are(&t, "SELECT kind, after FROM order_event WHERE kind LIKE '%merged' ORDER BY id",
             "merged|2001\nmerged|1001\nunmerged|2001\nunmerged|1001\n");
    assert_int_equal(set(&t, "1001", "2001", CW_UNMERGE, tells, &err), CW_CONFLICT);
    print_message("a second merging inside: refused, the other way round is well\n");
    cw_check_ok(set(&t, "1001", "2001", CW_MERGE, tells, &err), &err);
    load_text(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,customer,email,country,zone\n"
              "2002,2032-01-07T10:00:00Z,1,AMB,1,6.50,Ada,ada@example.org,US,z7\n");
    assert_int_equal(set(&t, "2002", "1001", CW_MERGE, tells, &err), CW_CONFLICT);
    print_message("one is paid, the other is not\n");
    correct(&t, "2002", (cw_correcting_ask){ .paid = "no" });
    correct(&t, "1001", (cw_correcting_ask){ .paid = "yes" });
    assert_int_equal(set(&t, "1001", "2002", CW_MERGE, tells, &err), CW_CONFLICT);
    correct(&t, "2002", (cw_correcting_ask){ .paid = "yes" });
    cw_check_ok(set(&t, "1001", "2002", CW_MERGE, tells, &err), &err);
    t.who.role = CW_ROLE_PACKER;
    assert_int_equal(set(&t, "1001", "2002", CW_UNMERGE, tells, &err), CW_FORBIDDEN);
    test_nursery_free(&t);
}

static const char slots[] = "SELECT o.number, COALESCE(p.in_slot, p.slot), p.state, COALESCE(p.tracking, '') "
                            "FROM parcel p JOIN orders o ON o.id = "
                            "p.order_id WHERE o.number IN ('1001', '2001') ORDER BY o.number";

static void two_orders_leave_in_one_box(void **state)
{
    test_nursery t;
    char tells[2000];
    cw_error err;
    int64_t rest = 0;
    cw_packing_file file = { 0 };
    (void)state;
    make(&t);
    print_message("before there is a list\n");
    cw_check_ok(set(&t, "1001", "2001", CW_TOGETHER, tells, &err), &err);
    beside_is(&t, "2001", BESIDE "1001,Ada,,2,3,yes,yes,no,no\n");
    int64_t wave = wave_make(&t);
    rows_are(&t, slots, "1001|2|open|\n2001|2|open|\n");
    print_message("apart and together again while it is pulled\n");
    cw_check_ok(set(&t, "1001", "2001", CW_APART, tells, &err), &err);
    is_text(tells, "Wave 1: what lies in slot 2 for order 2001 goes into slot 4.\n");
    rows_are(&t, slots, "1001|2|open|\n2001|4|open|\n");
    cw_check_ok(set(&t, "2001", "1001", CW_TOGETHER, tells, &err), &err);
    is_text(tells, "Wave 1: what lies in slot 4 for order 2001 goes into slot 2.\n");
    cw_check_ok(set(&t, "2001", "1001", CW_APART, tells, &err), &err);
    cw_check_ok(set(&t, "1001", "2001", CW_TOGETHER, tells, &err), &err);
    rows_are(&t, slots, "1001|2|open|\n2001|2|open|\n");
    answer_all_open(&t);
    print_message("counted as one: three of the first and one of the second\n");
    assert_int_equal(pack(&t, "1001", 3, NULL, 0, &err), CW_CONFLICT);
    static const char *const labels[] = { "L1 AMB", "L1 AMB", "L2 BRI", "L3 AMB" };
    static const char *const three[] = { "L1 AMB", "L1 AMB", "L2 BRI" };
    assert_int_equal(pack(&t, "2001", -1, three, 3, &err), CW_CONFLICT);
    print_message("  %s\n", err.text);
    cw_check_ok(pack(&t, "2001", -1, labels, 4, &err), &err);
    rows_are(&t, slots, "1001|2|packed|\n2001|2|packed|\n");
    rows_are(&t, "SELECT SUM(weight_g) FROM parcel", "700\n");
    assert_int_equal(set(&t, "1001", "2001", CW_APART, tells, &err), CW_CONFLICT);
    print_message("the carrier gets one row\n");
    cw_check_ok(cw_nursery_set(t.n, &t.who, "carrier_columns", "order,slot,divisions", &err), &err);
    cw_check_ok(cw_packing_carrier_file(t.n, &t.who, wave, &file, &err), &err);
    cw_text csv = CW_TEXT(4096);
    cw_check_ok(cw_table_csv(&file.table, cw_sink_text(&csv), &err), &err);
    is_text(csv.data, "order,slot,divisions\n1001,2,4\n");
    cw_text_free(&csv);
    cw_packing_file_free(&file);
    print_message("one number for both; both orders know it\n");
    cw_check_ok(ship_off(&t, "2001", &rest, &err), &err);
    assert_int_equal(rest, 1); /* the BRI that 2001 waits for */
    rows_are(&t, slots, "1001|2|shipped|2001\n2001|2|shipped|2001\n");
    rows_are(&t, "SELECT number, state FROM orders WHERE number IN ('1001', '2001') ORDER BY number",
             "1001|shipped\n2001|open\n");
    cw_check_ok(cw_packing_correct(t.n, &t.who, parcel_of(&t, "1001"),
                                   &(cw_packing_sent){ .tracking = "T-9", .on = CW_NO_DAY }, "misread", &err),
                &err);
    rows_are(&t, slots, "1001|2|shipped|T-9\n2001|2|shipped|T-9\n");
    cw_check_ok(cw_packing_unship(t.n, &t.who, parcel_of(&t, "1001"), "still here", &err), &err);
    cw_check_ok(cw_packing_unpack(t.n, &t.who, parcel_of(&t, "2001"), "a label", &err), &err);
    rows_are(&t, slots, "1001|2|open|\n2001|2|open|\n");
    test_nursery_free(&t);
}

/* The order that led is cancelled when both lie in its slot: what is of the other stays where it lies. */
static void who_led_is_cancelled(void **state)
{
    test_nursery t;
    char tells[2000];
    cw_error err;
    (void)state;
    make(&t);
    cw_check_ok(set(&t, "1001", "2001", CW_TOGETHER, tells, &err), &err);
    wave_make(&t);
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1001", 0, "moves", &err), &err);
    test_nursery_check(&t);
    rows_are(&t, slots, "2001|2|open|\n");
    answer_all_open(&t);
    cw_check_ok(pack(&t, "2001", 1, NULL, 0, &err), &err);
    test_nursery_free(&t);
}

static void orders_for_two_places_are_not_joined(void **state)
{
    test_nursery t;
    char tells[2000];
    cw_error err;
    (void)state;
    make(&t);
    correct(&t, "2001", (cw_correcting_ask){ .town = "Elsewhere" });
    assert_int_equal(set(&t, "1001", "2001", CW_TOGETHER, tells, &err), CW_CONFLICT);
    correct(&t, "2001", (cw_correcting_ask){ .town = "" });
    cw_check_ok(set(&t, "1001", "2001", CW_TOGETHER, tells, &err), &err);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_line_is_added_and_promised_at_once),
        cmocka_unit_test(a_former_code_adds_the_variety),
        cmocka_unit_test(orders_are_merged_with_all_they_are_promised),
        cmocka_unit_test(two_orders_leave_in_one_box),
        cmocka_unit_test(who_led_is_cancelled),
        cmocka_unit_test(orders_for_two_places_are_not_joined),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* SPDX-License-Identifier: MIT */
/* Where a parcel goes: the address of an order, and the zone that the nursery's table of postcodes tells. Places and postcodes are
 * invented; codes of countries ISO 3166-1. */
#include "support/intake.h"
#include "support/order_desk.h"

#include "desk/buyers/forgetting.h"
#include "desk/orders/ordering.h"
#include "desk/ship/shipping.h"

#include "base/banned.h"

static const char zone_rows[] = "zone,first_week\nz7,2032-W16\nz5,2032-W18\nz3,2032-W21\n";
static const char ranges[] =
    "country,postcode_from,postcode_to,zone\nUS,40,59,z5\nUS,553,554,z3\nDE,,,z7\nNL,12,12,z5\n";
static const char some_orders[] = "order,received_at,line,variety,quantity,unit_price,customer,name2,email,"
                                  "phone,street,town,postcode,country,region,zone\n"
                                  "W,2032-01-05T10:00:00Z,1,AMB,2,6.50,Ada,Fern "
                                  "Shed,ada@example.org,555-0100,1 Mill Lane,Oddham,47001,US,ME,\n"
                                  "N,2032-01-05T10:00:00Z,1,AMB,2,6.50,Bo,,,,,,55 4-31,US,,\n"
                                  "O,2032-01-05T10:00:00Z,1,AMB,2,6.50,Cy,,,,,,55431,US,,z7\n"
                                  "S,2032-01-05T10:00:00Z,1,AMB,2,6.50,Di,,,,,,5,US,,\n"
                                  "D,2032-01-05T10:00:00Z,1,AMB,2,6.50,Ed,,,,,,,Germany,,\n"
                                  "L,2032-01-05T10:00:00Z,1,AMB,2,6.50,Fay,,,,,,12 34 ab,NL,,\n"
                                  "F,2032-01-05T10:00:00Z,1,AMB,2,6.50,Gus,,,,,,47001,FR,,\n";

static void make(test_nursery *t)
{
    test_nursery_make(t);
    assert_int_equal(load_one(t, "varieties.csv", varieties).code, CW_OK);
    assert_int_equal(load_one(t, "zones.csv", zone_rows).code, CW_OK);
    assert_int_equal(load_one(t, "zone_ranges.csv", ranges).code, CW_OK);
    loaded l = load_one(t, "orders.csv", some_orders);
    if (l.code != CW_OK)
        fail_msg("%s", l.first);
}

/* The schedule's zone of the order, "" for none. */
static void zone_is(test_nursery *t, const char *order, const char *zone)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_check_ok(cw_shipping_schedule(t->n, &t->who, false, &out, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&out); r++)
        if (strcmp(cw_table_text(&out, r, 0), order) == 0) {
            const char *got = cw_table_text(&out, r, (size_t)cw_table_column(&out, "zone"));
            assert_string_equal(got ? got : "", zone);
            cw_table_free(&out);
            return;
        }
    fail_msg("the schedule has no order %s", order);
}

static void a_postcode_tells_the_zone(void **state)
{
    static const char *const rows[][2] = {
        { "W", "z5" }, /* in a range */
        { "N", "z3" }, /* the narrower range stands before the wider; blanks and hyphens count nothing */
        { "O", "z7" }, /* its own zone stands before the table's */
        { "S", "" },   /* shorter than every range */
        { "D", "z7" }, /* a whole country, by its name, without a postcode */
        { "L", "z5" }, /* letters in any case */
        { "F", "" },   /* another country */
    };
    test_nursery t;
    (void)state;
    make(&t);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        zone_is(&t, rows[i][0], rows[i][1]);
    /* A range that comes later, or is mended, holds for what is on record. */
    assert_int_equal(
        load_one(&t, "zone_ranges.csv", "country,postcode_from,postcode_to,zone\nUS,5,5,z7\nUS,40,59,z3\n")
            .changed,
        1);
    zone_is(&t, "S", "z7");
    zone_is(&t, "W", "z3");
    test_nursery_check(&t);
    test_nursery_free(&t);
}

static void a_hold_binds_by_postcode(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_week week = 0;
    (void)state;
    make(&t);
    cw_check_ok(cw_shipping_hold(t.n, &t.who, "z5", NULL, 203218, 203219, "night frost", &out, &err), &err);
    cw_table_free(&out);
    cw_check_ok(cw_shipping_schedule(t.n, &t.who, false, &out, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&out); r++)
        if (strcmp(cw_table_text(&out, r, 0), "W") == 0)
            week = (cw_week)cw_table_int(&out, r, (size_t)cw_table_column(&out, "week"));
    assert_int_equal(week, 203220);
    cw_table_free(&out);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM frost_bound f JOIN orders o ON o.id = f.order_id "
                                   "WHERE o.number IN ('W', 'L')"),
                     2);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM frost_bound"), 2);
    test_nursery_free(&t);
}

static void forgetting_takes_the_address_and_leaves_the_zone(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    (void)state;
    make(&t);
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "W", 0, "changed their mind", &err), &err);
    cw_check_ok(
        cw_forgetting(t.n, &t.who, &(cw_forget_ask){ "ada@example.org", NULL, CW_NO_DAY }, &out, &err), &err);
    cw_table_free(&out);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM orders WHERE number = 'W' AND zone = 'z5' AND "
                                   "COALESCE(customer, name2, email, phone, street, town, postcode) IS NULL"),
                     1);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

static void bad_ranges_are_told(void **state)
{
    static const struct {
        const char *row, *first;
    } rows[] = {
        { "US,40,5,z5",
          "zone_ranges.csv:2: postcode_to: must be as long as postcode_from and not before it: 40 to 5" },
        { "US,59,40,z5",
          "zone_ranges.csv:2: postcode_to: must be as long as postcode_from and not before it: 59 to 40" },
        { "GB,e1,e9,z5",
          "zone_ranges.csv:2: postcode_from: must be capital letters and digits without blanks: e1" },
        { "NL,12 3,12 4,z5",
          "zone_ranges.csv:2: postcode_from: must be capital letters and digits without blanks: 12 3" },
        { "US,40,4-,z5",
          "zone_ranges.csv:2: postcode_to: must be capital letters and digits without blanks: 4-" },
    };
    test_nursery t;
    char text[200];
    (void)state;
    make(&t);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        print_message("%s\n", rows[i].row);
        snprintf(text, sizeof text, "country,postcode_from,postcode_to,zone\n%s\n", rows[i].row);
        assert_string_equal(load_one(&t, "zone_ranges.csv", text).first, rows[i].first);
    }
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM zone_range"), 4);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_postcode_tells_the_zone),
        cmocka_unit_test(a_hold_binds_by_postcode),
        cmocka_unit_test(forgetting_takes_the_address_and_leaves_the_zone),
        cmocka_unit_test(bad_ranges_are_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

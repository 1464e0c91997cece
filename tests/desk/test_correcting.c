/* SPDX-License-Identifier: MIT */
/* What is put right on an order after it was taken, in every state of its parcels: who the buyer is, where they live, when they want
 * it, what they allow in its place. Data invented. */
#include "support/picking.h"

#include "desk/orders/clearing.h"
#include "desk/orders/correcting.h"
#include "desk/buyers/forgetting.h"

#include "base/banned.h"

static cw_code correct(test_nursery *t, const char *order, cw_correcting_ask ask, char tells[2000],
                       cw_error *err)
{
    json_t *list = NULL, *one;
    size_t i;
    *err = (cw_error)CW_ERROR_NONE;
    cw_code code = cw_correcting_set(t->n, &t->who, order, &ask, &list, err);
    tells[0] = '\0';
    json_array_foreach(list, i, one)
    {
        size_t used = strlen(tells);
        snprintf(tells + used, 2000 - used, "%s\n", json_string_value(one));
    }
    json_decref(list);
    test_nursery_check(t);
    return code;
}

static void corrected(test_nursery *t, const char *order, cw_correcting_ask ask, const char *tells)
{
    char got[2000];
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(correct(t, order, ask, got, &err), &err);
    is_text(got, tells);
}

static void load_again(test_nursery *t, const char *name, const char *text, bool changes)
{
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { NULL, 0, 0 };
    cw_table answer = { 0 };
    cw_intake_file file = { .name = name, .bytes = text, .length = strlen(text) };
    cw_intake_options o = { .changes = changes };
    cw_code code = cw_intake_load(t->n, &t->who, &file, 1, &o, &answer, &errors, &err);
    cw_table_free(&answer);
    cw_error_list_free(&errors);
    cw_check_ok(code, &err);
    test_nursery_check(t);
}

static void who_it_is_stands_on_record_and_outlives_the_file(void **state)
{
    test_nursery t;
    char tells[2000];
    cw_error err;
    (void)state;
    picking_make(&t);
    corrected(&t, "1001",
              (cw_correcting_ask){
                  .customer = "Ada Amble", .email = "ada@example.org", .country = "united states" },
              "");
    rows_are(&t, "SELECT customer, email, country FROM orders WHERE number = '1001'",
             "Ada Amble|ada@example.org|US\n");
    rows_are(&t, "SELECT kind, before, after FROM order_event WHERE kind = 'corrected'",
             "corrected|customer Ada; email none|customer Ada Amble; email ada@example.org\n");
    rows_are(&t, "SELECT subject, after FROM audit WHERE action = 'correct'", "order 1001|customer, email\n");
    print_message("the same again: nothing\n");
    corrected(&t, "1001", (cw_correcting_ask){ .customer = "Ada Amble" }, "");
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM order_event WHERE kind = 'corrected'"), 1);
    print_message("the shop's file with the old name asks for no change, with and without --changes\n");
    load_again(&t, "orders.csv", pick_orders, false);
    load_again(&t, "orders.csv", pick_orders, true);
    rows_are(&t, "SELECT customer FROM orders WHERE number = '1001'", "Ada Amble\n");
    print_message("put right twice, the file still says what it said at first\n");
    corrected(&t, "1001", (cw_correcting_ask){ .customer = "Ada Ambler", .email = "" }, "");
    load_again(&t, "orders.csv", pick_orders, false);
    rows_are(&t, "SELECT customer, email FROM orders WHERE number = '1001'", "Ada Ambler|\n");
    print_message("what cannot be is refused with its field\n");
    static const struct {
        cw_correcting_ask ask;
        const char *column;
    } wrong[] = {
        { { .country = "Atlantis Minor" }, "country" },
        { { .wish_week = "2035-W10" }, "wish_week" },
        { { .wish_week = "spring" }, "wish_week" },
        { { .consent = "named" }, "named" },
        { { .consent = "any", .named = "AMB" }, "named" },
        { { .consent = "named", .named = "NONE" }, "variety" },
        { { .postcode = "1234567890123456789012345678901234567890" }, "postcode" },
        { { .consent = "any", .line = 9 }, "line" },
    };
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        cw_code code = correct(&t, "1001", wrong[i].ask, tells, &err);
        if (code == CW_OK || strcmp(err.column, wrong[i].column) != 0)
            fail_msg("%zu: %d %s: %s", i, code, err.column, err.text);
    }
    t.who.role = CW_ROLE_PACKER;
    assert_int_equal(correct(&t, "1001", (cw_correcting_ask){ .customer = "x" }, tells, &err), CW_FORBIDDEN);
    test_nursery_free(&t);
}

static void a_parcel_under_way_is_told_of(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    char tells[2000];
    int64_t rest = 0;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    corrected(&t, "1002", (cw_correcting_ask){ .postcode = "00300" },
              "If the slip for slot 3 is printed already, print it again.\n");
    answer_all_open(&t);
    cw_check_ok(pack(&t, "1002", 3, NULL, 0, &err), &err);
    print_message("closed: its paper is wrong, and the list says so until it is closed anew\n");
    corrected(&t, "1002", (cw_correcting_ask){ .customer = "Bo Bostr" },
              "The parcel in slot 3 is closed: print its slip and its label again.\n");
    print_message("closed: moved to where nothing may be sent: it does not leave\n");
    corrected(&t, "1002", (cw_correcting_ask){ .country = "NZ" },
              "The parcel in slot 3 is closed: print its slip and its label again.\n"
              "It must not leave: nothing may be sent to NZ (no certificate can be had).\n");
    assert_int_equal(ship_off(&t, "1002", &rest, &err), CW_CONFLICT);
    corrected(&t, "1002", (cw_correcting_ask){ .country = "US" },
              "The parcel in slot 3 is closed: print its slip and its label again.\n");
    cw_check_ok(ship_off(&t, "1002", &rest, &err), &err);
    print_message("gone: the person may be put right, what decides the week may not\n");
    corrected(&t, "1002", (cw_correcting_ask){ .customer = "Bo Bostrom" },
              "The parcel that left on 2032-02-01 as 1002 has the old name and address: tell the carrier.\n");
    assert_int_equal(correct(&t, "1002", (cw_correcting_ask){ .zone = "z3" }, tells, &err), CW_CONFLICT);
    assert_int_equal(correct(&t, "1002", (cw_correcting_ask){ .consent = "any" }, tells, &err), CW_CONFLICT);
    test_nursery_free(&t);
}

static cw_week week_of(test_nursery *t, const char *order)
{
    char sql[100];
    snprintf(sql, sizeof sql, "SELECT COALESCE(ship_week, 0) FROM orders WHERE number = '%s'", order);
    return (cw_week)number_of(t, sql);
}

static void the_week_follows_zone_and_wish(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    char tells[2000];
    (void)state;
    picking_make(&t);
    print_message("no week yet: nothing to say\n");
    corrected(&t, "1001", (cw_correcting_ask){ .zone = "z3" }, "");
    corrected(&t, "1001", (cw_correcting_ask){ .zone = "z7" }, "");
    cw_check_ok(cw_shipping_schedule(t.n, &t.who, true, &out, &err), &err);
    cw_table_free(&out);
    assert_int_equal(week_of(&t, "1001"), 203216);
    cw_check_ok(correct(&t, "1001", (cw_correcting_ask){ .zone = "z3" }, tells, &err), &err);
    assert_non_null(strstr(tells, "It was to leave in week 2032-W16."));
    assert_int_equal(week_of(&t, "1001"), 203220);
    cw_check_ok(
        correct(&t, "1001", (cw_correcting_ask){ .zone = "z7", .wish_week = "2032-W18" }, tells, &err), &err);
    assert_int_equal(week_of(&t, "1001"), 203218);
    print_message("the file wishes nothing and says the old zone: no change\n");
    load_again(&t, "orders.csv", pick_orders, false);
    rows_are(&t, "SELECT wish_week FROM orders WHERE number = '1001'", "203218\n");
    print_message("pinned: it stays, and what that breaks is said\n");
    cw_check_ok(cw_shipping_move(t.n, &t.who, "1001", 203218, "asked", &out, &err), &err);
    cw_table_free(&out);
    cw_check_ok(correct(&t, "1001", (cw_correcting_ask){ .wish_week = "2032-W21" }, tells, &err), &err);
    assert_non_null(strstr(tells, "It stays in week 2032-W18, as it is pinned there:"));
    assert_int_equal(week_of(&t, "1001"), 203218);
    print_message("in a wave: it stays; a hold of its new zone binds it at once\n");
    wave_make(&t);
    cw_check_ok(cw_shipping_hold(t.n, &t.who, "z3", NULL, 203216, 203217, "night frost", &out, &err), &err);
    cw_table_free(&out);
    cw_check_ok(correct(&t, "1002", (cw_correcting_ask){ .zone = "z3" }, tells, &err), &err);
    assert_non_null(strstr(tells, "It is kept back by a frost hold: night frost"));
    assert_non_null(strstr(tells, "It stays in week 2032-W16, as it is in a wave:"));
    answer_all_open(&t);
    assert_int_equal(pack(&t, "1002", 3, NULL, 0, &err), CW_CONFLICT);
    test_nursery_free(&t);
}

/* AMB is short of one, and BRI comes in its place for 1001. */
static void with_substitute(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_substituting_done done;
    test_nursery_make(t);
    load_text(t, "varieties.csv", pick_varieties);
    load_text(t, "places.csv", pick_places);
    load_text(t, "lots.csv", pick_lots);
    load_text(t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,customer,consent,zone\n"
              "1001,2032-01-05T10:00:00Z,1,AMB,3,6.50,Ada,any,z7\n");
    load_text(t, "zones.csv", pick_zones);
    count_lot(t, "L1", "2032-01-20", 1);
    count_lot(t, "L2", "2032-01-20", 6);
    make_firm(t, "first-come", NULL);
    cw_substituting_ask ask = { 0 };
    cw_check_ok(cw_substituting_commit(t->n, &t->who, &ask, NULL, &done, NULL, &err), &err);
    assert_int_equal(promised(t, "1001", 1), 3);
}

static void what_is_no_longer_allowed_is_taken_back(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    char tells[2000];
    (void)state;
    print_message("still covered: nothing is taken back\n");
    with_substitute(&t);
    corrected(&t, "1001", (cw_correcting_ask){ .consent = "named", .named = "BRI" }, "");
    assert_int_equal(promised(&t, "1001", 1), 3);
    corrected(&t, "1001", (cw_correcting_ask){ .consent = "none" },
              "Taken back: 2 of BRI for line 1, as the buyer no longer allows them.\n");
    assert_int_equal(promised(&t, "1001", 1), 1);
    print_message("the file says any, as it did\n");
    load_again(&t, "orders.csv",
               "order,received_at,line,variety,quantity,unit_price,customer,consent\n"
               "1001,2032-01-05T10:00:00Z,1,AMB,3,6.50,Ada,any\n",
               false);
    rows_are(&t, "SELECT consent FROM line", "none\n");
    test_nursery_free(&t);

    print_message("on the list and in the closed parcel: off the list, the parcel open, the packer told\n");
    with_substitute(&t);
    wave_make(&t);
    answer_all_open(&t);
    cw_check_ok(pack(&t, "1001", 3, NULL, 0, &err), &err);
    assert_int_equal(lot_has(&t, "L2"), 4);
    corrected(&t, "1001", (cw_correcting_ask){ .consent = "none" },
              "Taken back: 2 of BRI for line 1, as the buyer no longer allows them.\n");
    assert_int_equal(lot_has(&t, "L2"), 6);
    rows_are(&t, "SELECT slot, quantity, because FROM put_back", "1|2|changed\n");
    rows_are(&t, "SELECT state FROM parcel", "open\n");
    test_nursery_free(&t);

    print_message("gone: stays\n");
    with_substitute(&t);
    wave_make(&t);
    answer_all_open(&t);
    cw_check_ok(pack(&t, "1001", 3, NULL, 0, &err), &err);
    int64_t rest = 0;
    cw_check_ok(ship_off(&t, "1001", &rest, &err), &err);
    assert_int_equal(correct(&t, "1001", (cw_correcting_ask){ .consent = "none" }, tells, &err), CW_CONFLICT);
    test_nursery_free(&t);
}

static void who_saw_an_older_name_is_refused(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    char tells[2000];
    (void)state;
    picking_make(&t);
    cw_based based = { .on = json_pack("{s:s}", "customer", "Ada") };
    corrected(&t, "1001", (cw_correcting_ask){ .customer = "Ada A" }, "");
    t.who.based = &based;
    assert_int_equal(correct(&t, "1001", (cw_correcting_ask){ .customer = "Ada B" }, tells, &err),
                     CW_CONFLICT);
    assert_string_equal(json_string_value(json_object_get(based.now, "customer")), "Ada A");
    json_decref(based.on);
    json_decref(based.now);
    t.who.based = NULL;
    test_nursery_free(&t);
}

static void a_forgotten_buyer_is_forgotten_here_too(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    (void)state;
    picking_make(&t);
    corrected(&t, "1005", (cw_correcting_ask){ .customer = "Ed Edder", .email = "ed@example.org" }, "");
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1005", 0, "moves", &err), &err);
    cw_forget_ask ask = { .customer = "ed@example.org" };
    cw_check_ok(cw_forgetting(t.n, &t.who, &ask, &out, &err), &err);
    cw_table_free(&out);
    rows_are(&t, "SELECT before, after FROM order_event WHERE kind = 'corrected'", "|\n");
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM corrected"), 0);
    test_nursery_free(&t);
}

/* Each of the order's own fields, alone: it stands in its column, with what stood there at first, and says whether it is on the parcel
 * that is closed and whether it is an open order's alone. */
static void each_field_stands_in_its_own_column(void **state)
{
#define ASK(field, typed) { .field = typed }, #field, typed
    static const struct {
        cw_correcting_ask ask;
        const char *column, *stands, *first;
        bool paper, open;
    } fields[] = {
        { ASK(customer, "Bo Bostrom"), "Bo", true, false },
        { ASK(name2, "Bostrom and Sons"), "-", true, false },
        { ASK(email, "bo@example.org"), "-", false, false },
        { ASK(phone, "+1 555 0100"), "-", false, false },
        { ASK(street, "12 Fern Lane"), "-", true, false },
        { ASK(town, "Millbrook"), "-", true, false },
        { ASK(postcode, "00300"), "-", true, false },
        { ASK(region, "OR"), "-", true, false },
        { ASK(language, "de"), "-", false, false },
        { ASK(zone, "z3"), "z7", false, true },
    };
#undef ASK
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    char tells[2000], sql[300], want[200];
    int64_t rest = 0;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    answer_all_open(&t);
    cw_check_ok(pack(&t, "1002", 3, NULL, 0, &err), &err);
    for (size_t i = 0; i < sizeof fields / sizeof fields[0]; i++) {
        int64_t version = number_of(&t, "SELECT version FROM orders WHERE number = '1002'"),
                revision = number_of(&t, "SELECT trade_revision FROM nursery");
        print_message("%s\n", fields[i].column);
        cw_check_ok(correct(&t, "1002", fields[i].ask, tells, &err), &err);
        assert_int_equal(strstr(tells, "The parcel in slot 3 is closed") != NULL, fields[i].paper);
        snprintf(sql, sizeof sql,
                 "SELECT o.%s, COALESCE(c.first, '-') FROM orders o JOIN corrected c ON c.order_id = o.id "
                 "AND c.line = 0 "
                 "AND c.field = '%s' WHERE number = '1002'",
                 fields[i].column, fields[i].column);
        snprintf(want, sizeof want, "%s|%s\n", fields[i].stands, fields[i].first);
        rows_are(&t, sql, want);
        snprintf(
            sql, sizeof sql,
            "SELECT kind, before, after FROM order_event WHERE id = (SELECT MAX(id) FROM order_event WHERE "
            "kind = 'corrected')");
        snprintf(want, sizeof want, "corrected|%s %s|%s %s\n", fields[i].column,
                 strcmp(fields[i].first, "-") == 0 ? "none" : fields[i].first, fields[i].column,
                 fields[i].stands);
        rows_are(&t, sql, want);
        assert_int_equal(number_of(&t, "SELECT version FROM orders WHERE number = '1002'"), version + 1);
        assert_int_equal(number_of(&t, "SELECT trade_revision FROM nursery"), revision + 1);
    }
    print_message("once it has left: everything but what decides the week\n");
    assert_int_equal(ship_off(&t, "1002", &rest, &err), CW_OK);
    for (size_t i = 0; i < sizeof fields / sizeof fields[0]; i++) {
        cw_correcting_ask none = { 0 };
        memcpy(&none, &fields[i].ask, sizeof none);
        const char **typed = (const char **)&none; /* the texts stand first, zone last of them */
        for (size_t k = 0; k <= offsetof(cw_correcting_ask, zone) / sizeof *typed; k++)
            typed[k] = typed[k] ? "" : NULL;
        cw_code code = correct(&t, "1002", none, tells, &err);
        print_message("%s taken off: %d\n", fields[i].column, code);
        assert_int_equal(code, fields[i].open ? CW_CONFLICT : CW_OK);
        assert_int_equal(strstr(tells, "has the old name and address: tell the carrier.") != NULL,
                         fields[i].paper);
    }
    test_nursery_free(&t);
}

/* Yes, no, and nobody said; with a reason; with another field. */
static void what_was_paid_is_put_right(void **state)
{
    test_nursery t;
    char tells[2000];
    cw_error err;
    (void)state;
    picking_make(&t);
    const char *paid = "SELECT COALESCE(paid, '-') FROM orders WHERE number = '1001'";
    corrected(&t, "1001", (cw_correcting_ask){ .paid = "" }, "");
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM order_event WHERE kind = 'corrected'"), 0);
    corrected(&t, "1001", (cw_correcting_ask){ .paid = "yes" }, "");
    rows_are(&t, paid, "1\n");
    corrected(&t, "1001", (cw_correcting_ask){ .paid = "no", .customer = "Ada A", .why = "the bank says so" },
              "What was not paid is not owed back.\n");
    rows_are(&t, paid, "0\n");
    rows_are(&t, "SELECT before, after, note FROM order_event WHERE kind = 'corrected' ORDER BY id",
             "paid none|paid yes|\ncustomer Ada; paid yes|customer Ada A; paid no|the bank says so\n");
    corrected(&t, "1001", (cw_correcting_ask){ .paid = "", .why = "" }, "");
    rows_are(&t, paid, "-\n");
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM order_event WHERE kind = 'corrected' AND note = ''"),
                     0);
    print_message("what a file said at first is what nobody had said\n");
    rows_are(&t, "SELECT COALESCE(first, '-') FROM corrected WHERE field = 'paid'", "-\n");
    assert_int_equal(correct(&t, "1001", (cw_correcting_ask){ .paid = "maybe" }, tells, &err), CW_REFUSED);
    assert_string_equal(err.column, "paid");
    print_message("paid, and then not: the first is kept as the file has it\n");
    load_text(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,paid\n"
              "1101,2032-01-06T10:00:00Z,1,BRI,1,8,1\n1102,2032-01-06T10:00:00Z,1,BRI,1,8,0\n");
    corrected(&t, "1101", (cw_correcting_ask){ .paid = "no" }, "What was not paid is not owed back.\n");
    corrected(&t, "1102", (cw_correcting_ask){ .paid = "yes" }, "");
    rows_are(&t,
             "SELECT o.number, c.first FROM corrected c JOIN orders o ON o.id = c.order_id WHERE o.number > "
             "'1100' ORDER BY 1",
             "1101|1\n1102|0\n");
    print_message("an owner who keeps back what is not paid is told that this is\n");
    cw_asker owner = t.who;
    owner.role = CW_ROLE_OWNER;
    cw_check_ok(cw_nursery_set(t.n, &owner, "hold_unpaid", "all", &err), &err);
    corrected(&t, "1102", (cw_correcting_ask){ .paid = "no" },
              "What was not paid is not owed back.\nIt is kept back until it is paid.\n");
    corrected(&t, "1102", (cw_correcting_ask){ .customer = "Ed" }, ""); /* it was kept back before */
    test_nursery_free(&t);
}

/* A wish comes, changes and goes; what it was at first is kept as the file would say it. */
static void a_wish_is_put_right(void **state)
{
    test_nursery t;
    char tells[2000];
    cw_error err;
    (void)state;
    picking_make(&t);
    load_text(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,wish_week\n1101,2032-01-06T10:00:00Z,1,BRI,"
              "1,8,2032-W18\n");
    corrected(&t, "1101", (cw_correcting_ask){ .wish_week = "2032-W18" }, "");
    corrected(&t, "1101", (cw_correcting_ask){ .wish_week = "2032-W19" }, "");
    corrected(&t, "1101", (cw_correcting_ask){ .wish_week = "" }, "");
    corrected(&t, "1001", (cw_correcting_ask){ .wish_week = "2032-W17" }, "");
    rows_are(
        &t, "SELECT number, COALESCE(wish_week, '-') FROM orders WHERE number IN ('1001', '1101') ORDER BY 1",
        "1001|203217\n1101|-\n");
    rows_are(&t, "SELECT COALESCE(first, '-') FROM corrected WHERE field = 'wish_week' ORDER BY order_id",
             "-\n203218\n");
    rows_are(&t, "SELECT before, after FROM order_event WHERE kind = 'corrected' ORDER BY id",
             "wish_week 2032-W18|wish_week 2032-W19\nwish_week 2032-W19|wish_week none\n"
             "wish_week none|wish_week 2032-W17\n");
    assert_int_equal(correct(&t, "1101", (cw_correcting_ask){ .wish_week = "2032-W99" }, tells, &err),
                     CW_REFUSED);
    test_nursery_free(&t);
}

/* Consent of one line or of all; codes as they are typed; only lines that name a variety. */
static void consent_is_put_right_where_it_is_asked(void **state)
{
    test_nursery t;
    char tells[2000];
    cw_text many = CW_TEXT(600);
    cw_error err;
    (void)state;
    picking_make(&t);
    load_text(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,assortment\n1101,2032-01-06T10:00:00Z,1,,1,"
              "8,form=ball\n"
              "1101,2032-01-06T10:00:00Z,2,BRI,1,8,\n");
    const char *consents =
        "SELECT l.line, l.consent, COALESCE(l.named, '-') FROM line l JOIN orders o ON o.id = l.order_id "
        "WHERE o.number = '1001' ORDER BY 1";
    int64_t version = number_of(&t, "SELECT version FROM orders WHERE number = '1001'");
    corrected(&t, "1001", (cw_correcting_ask){ .consent = "named", .named = " ,AMB;  BRI ", .line = 2 }, "");
    rows_are(&t, consents, "1|none|-\n2|named|AMB BRI\n");
    assert_int_equal(number_of(&t, "SELECT version FROM orders WHERE number = '1001'"), version + 1);
    print_message("all lines, and the name with them: one event, one version\n");
    corrected(&t, "1001", (cw_correcting_ask){ .consent = "any", .customer = "Ada A" }, "");
    rows_are(&t, consents, "1|any|-\n2|any|-\n");
    assert_int_equal(number_of(&t, "SELECT version FROM orders WHERE number = '1001'"), version + 2);
    rows_are(&t, "SELECT before, after FROM order_event WHERE kind = 'corrected' ORDER BY id",
             "line 2 consent none|line 2 consent named AMB BRI\n"
             "customer Ada; line 1 consent none; line 2 consent named AMB BRI|"
             "customer Ada A; line 1 consent any; line 2 consent any\n");
    rows_are(&t, "SELECT after FROM audit WHERE action = 'correct' ORDER BY id",
             "consent of line 2\ncustomer, consent of line 1, consent of line 2\n");
    rows_are(&t, "SELECT line, field, COALESCE(first, '-') FROM corrected ORDER BY line, field",
             "0|customer|Ada\n1|consent|none\n1|named|-\n2|consent|none\n2|named|-\n");
    print_message("what stands is asked for again: no event, no version\n");
    corrected(&t, "1001", (cw_correcting_ask){ .consent = "any" }, "");
    assert_int_equal(number_of(&t, "SELECT version FROM orders WHERE number = '1001'"), version + 2);
    print_message("other codes with the same word are a change\n");
    corrected(&t, "1001", (cw_correcting_ask){ .consent = "named", .named = "BRI", .line = 1 }, "");
    corrected(&t, "1001", (cw_correcting_ask){ .consent = "named", .named = "AMB", .line = 1 }, "");
    rows_are(&t, consents, "1|named|AMB\n2|any|-\n");
    print_message("a line that asks for an assortment takes what fits it anyway\n");
    corrected(&t, "1101", (cw_correcting_ask){ .consent = "same" }, "");
    rows_are(&t,
             "SELECT l.line, l.consent FROM line l JOIN orders o ON o.id = l.order_id WHERE o.number = "
             "'1101' ORDER BY 1",
             "1|none\n2|same\n");
    print_message("at most so many, of such a length; a word that is none\n");
    for (int i = 0; i < CW_MAX_NAMED; i++)
        cw_text_add(&many, i % 2 ? "AMB " : "BRI ");
    cw_check_ok(correct(&t, "1001", (cw_correcting_ask){ .consent = "named", .named = many.data, .line = 1 },
                        tells, &err),
                &err);
    cw_text_add(&many, "AMB");
    assert_int_equal(
        correct(&t, "1001", (cw_correcting_ask){ .consent = "named", .named = many.data }, tells, &err),
        CW_REFUSED);
    assert_string_equal(err.column, "named");
    assert_int_equal(
        correct(&t, "1001",
                (cw_correcting_ask){ .consent = "named", .named = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456" },
                tells, &err),
        CW_REFUSED);
    assert_string_equal(err.column, "named");
    assert_int_equal(correct(&t, "1001", (cw_correcting_ask){ .consent = "perhaps" }, tells, &err),
                     CW_REFUSED);
    assert_string_equal(err.column, "consent");
    cw_text_free(&many);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(who_it_is_stands_on_record_and_outlives_the_file),
        cmocka_unit_test(a_parcel_under_way_is_told_of),
        cmocka_unit_test(the_week_follows_zone_and_wish),
        cmocka_unit_test(what_is_no_longer_allowed_is_taken_back),
        cmocka_unit_test(who_saw_an_older_name_is_refused),
        cmocka_unit_test(a_forgotten_buyer_is_forgotten_here_too),
        cmocka_unit_test(each_field_stands_in_its_own_column),
        cmocka_unit_test(what_was_paid_is_put_right),
        cmocka_unit_test(a_wish_is_put_right),
        cmocka_unit_test(consent_is_put_right_where_it_is_asked),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* SPDX-License-Identifier: MIT */
/* What an order line may ask, what a file may change of it, and what is on record then. Invented data. */
#include "support/intake.h"
#include "support/order_desk.h"

#include "base/banned.h"

#define HEADER                                                                                               \
    "order,received_at,line,variety,quantity,unit_price,tier,email,consent,named,assortment,all_or_none\n"

/* One line each; said NULL: it is taken. */
static void what_a_line_may_ask(void **state)
{
    static const struct {
        const char *line, *said;
    } rows[] = {
        { ",2,6,,,,,colour=pink form=formal decorative size=small,", NULL },
        { ",2,6,,,,,colour=pink  size=small,", NULL },
        { ",2,6,,,,,size=small,", NULL },
        { ",2,6,,,,,shape=round,",
          "assortment: must be words like colour=pink form=ball (colour, form, size, each once)" },
        { ",2,6,,,,,forms=ball,",
          "assortment: must be words like colour=pink form=ball (colour, form, size, each once)" },
        { ",2,6,,,,,colour=pink colour=red,",
          "assortment: must be words like colour=pink form=ball (colour" },
        { ",2,6,,,,,colour=,", "assortment: must be words like colour=pink form=ball (colour" },
        { ",2,6,,,,,pink colour=red,",
          "assortment: must be words like colour=pink form=ball: pink colour=red" },
        { "AMB,2,6,,,,,colour=pink,",
          "assortment: a line asks for a variety or for an assortment, not for both: colour=pink" },
        { "AMB,2,6,,ida.example.org,,,,", "email: is no address: ida.example.org" },
        { "AMB,2,6,,ida@example.org,,,,", NULL },
        { "AMB,2,6,,,same,BRI,,", "named: substitutes are named, but consent is same: BRI" },
        { "AMB,2,6,,,,BRI,,", "named: substitutes are named, but consent is none: BRI" },
        { "AMB,2,6,,,named,BRI  CIN,,", NULL },
        { "AMB,2,6,,,named,BRI BRI BRI BRI BRI BRI BRI BRI BRI BRI BRI BRI BRI BRI BRI BRI BRI BRI BRI BRI,,",
          NULL },
        { "AMB,2,6,,,named,BRI BRI BRI BRI BRI BRI BRI BRI BRI BRI BRI BRI BRI BRI BRI BRI BRI BRI BRI BRI "
          "BRI,,",
          "named: at most 20 substitutes may be named: 21" },
    };
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    ok(load_one(&t, "varieties.csv", varieties));
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char text[600];
        snprintf(text, sizeof text, HEADER "N%zu,2032-01-25T10:00:00Z,1,%s\n", i, rows[i].line);
        loaded l = load_one(&t, "orders.csv", text);
        if (rows[i].said ? l.code != CW_REFUSED || l.errors != 1 || !strstr(l.first, rows[i].said)
                         : l.code != CW_OK)
            fail_msg("%s: %d %s", rows[i].line, (int)l.code, l.first);
    }
    test_nursery_free(&t);
}

#define LINES                                                                                                \
    "SELECT o.number, l.line, v.code, l.assortment, l.quantity, l.first_asked, l.unit_price, l.consent, "    \
    "l.named, "                                                                                              \
    "l.all_or_none FROM line l JOIN orders o ON o.id = l.order_id LEFT JOIN variety v ON v.id = "            \
    "l.variety_id "                                                                                          \
    "ORDER BY o.number, l.line"
#define SOLD                                                                                                 \
    "SELECT v.code, o.sold, o.beyond FROM offering o JOIN variety v ON v.id = o.variety_id ORDER BY v.code"

/* Each file changes what it says of the order that `had` loaded, and nothing else. */
static void a_file_changes_what_it_says(void **state)
{
#define SHORT "order,received_at,line,variety,quantity,unit_price\n5,2032-01-25T10:00:00Z,1,"
    static const char had[] = HEADER "5,2032-01-25T10:00:00Z,1,AMB,3,6.50,retail,,named,BRI CIN,,1\n"
                                     "5,2032-01-25T10:00:00Z,2,BRI,1,8.00,retail,,same,,,0\n";
    static const struct {
        const char *text, *line, *sold, *before, *after;
        int changed;
    } rows[] = {
        { SHORT "AMB,3,6.50\n", "5|1|AMB||3|3|650|named|BRI CIN|1\n", "AMB|3|3\nBRI|1|1\n", "", "", 0 },
        { SHORT "AMB,5,6.50\n", "5|1|AMB||5|5|650|named|BRI CIN|1\n", "AMB|5|5\nBRI|1|1\n",
          "3 of AMB at 6.50, consent named, all or none", "5 of AMB at 6.50, consent named, all or none", 1 },
        { SHORT "CIN,3,6.50\n", "5|1|CIN||3|3|650|named|BRI CIN|1\n", "AMB|0|3\nBRI|1|1\nCIN|3|3\n",
          "3 of AMB at 6.50, consent named, all or none", "3 of CIN at 6.50, consent named, all or none", 1 },
        { SHORT "AMB,3,7.00\n", "5|1|AMB||3|3|700|named|BRI CIN|1\n", "AMB|3|3\nBRI|1|1\n",
          "3 of AMB at 6.50, consent named, all or none", "3 of AMB at 7.00, consent named, all or none", 1 },
        { HEADER "5,2032-01-25T10:00:00Z,1,AMB,3,6.50,retail,,same,,,1\n", "5|1|AMB||3|3|650|same||1\n",
          "AMB|3|3\nBRI|1|1\n", "3 of AMB at 6.50, consent named, all or none",
          "3 of AMB at 6.50, consent same, all or none", 1 },
        { HEADER "5,2032-01-25T10:00:00Z,1,AMB,3,6.50,retail,,named,BRI,,1\n",
          "5|1|AMB||3|3|650|named|BRI|1\n", "AMB|3|3\nBRI|1|1\n",
          "3 of AMB at 6.50, consent named, all or none", "3 of AMB at 6.50, consent named, all or none", 1 },
        { HEADER "5,2032-01-25T10:00:00Z,1,AMB,3,6.50,retail,,named,BRI CIN,,0\n",
          "5|1|AMB||3|3|650|named|BRI CIN|0\n", "AMB|3|3\nBRI|1|1\n",
          "3 of AMB at 6.50, consent named, all or none", "3 of AMB at 6.50, consent named", 1 },
        { HEADER "5,2032-01-25T10:00:00Z,1,,3,6.50,retail,,none,,colour=red,0\n",
          "5|1||colour=red|3|3|650|none||0\n", "AMB|0|3\nBRI|1|1\n",
          "3 of AMB at 6.50, consent named, all or none", "3 of colour=red at 6.50, consent none", 1 },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        test_nursery t;
        char want[400];
        test_nursery_make(&t);
        ok(load_one(&t, "varieties.csv", varieties));
        ok(load_one(&t, "orders.csv", had));
        print_message("%s", rows[i].text);
        int64_t version = number_of(&t, "SELECT version FROM orders");
        cw_intake_file f = file("new orders.csv", rows[i].text);
        f.kind = "orders";
        loaded l = load_with(&t, &f, 1, (cw_intake_options){ .changes = true });
        ok(l);
        assert_int_equal(l.changed, rows[i].changed);
        snprintf(want, sizeof want, "%s5|2|BRI||1|1|800|same||0\n", rows[i].line);
        rows_are(&t, LINES, want);
        rows_are(&t, SOLD, rows[i].sold);
        snprintf(want, sizeof want, "tester|changed|%s|%s|new orders.csv\n", rows[i].before, rows[i].after);
        rows_are(&t, "SELECT actor, kind, before, after, note FROM order_event WHERE kind = 'changed'",
                 rows[i].changed ? want : "");
        assert_int_equal(number_of(&t, "SELECT version FROM orders") > version, rows[i].changed);
        test_nursery_free(&t);
    }
}

/* What a file may not change, and why; nothing is changed then. */
static void a_file_does_not_change_what_stands(void **state)
{
    static const struct {
        const char *name, *text, *said;
        bool changes;
    } rows[] = {
        { "cancelled", SHORT "AMB,4,6.50\n", "order: is cancelled or shipped and cannot be changed: 5",
          true },
        { "cancelled, a line more",
          "order,received_at,line,variety,quantity,unit_price\n5,2032-01-25T10:00:00Z,3,AMB,4,6.50\n",
          "order: is cancelled or shipped, no line can be added: 5", true },
        { "less than is promised", SHORT "AMB,1,6.50\n",
          "quantity: already promised: 2, to line 1 of order 5; take that back first", true },
        { "another variety than is promised", SHORT "BRI,2,6.50\n",
          "variety: already promised: 2, to line 1 of order 5; take that back first", true },
        { "not told to", SHORT "AMB,4,6.50\n",
          "quantity: line 1 of order 5 is on record with another quantity; --changes lets a file change it",
          false },
        { "the price, not told to", SHORT "AMB,3,6.51\n",
          "unit_price: line 1 of order 5 is on record with another", false },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        test_nursery t;
        cw_error err = CW_ERROR_NONE;
        test_nursery_make(&t);
        ok(load_one(&t, "varieties.csv", varieties));
        ok(load_one(&t, "lots.csv", "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,0\n"));
        ok(load_one(&t, "orders.csv", SHORT "AMB,3,6.50\n"));
        if (i < 2) {
            cw_check_ok(cw_ordering_cancel(t.n, &t.who, "5", 0, "gave up", &err), &err);
        } else {
            count_lot(&t, "L1", "2032-01-20", 9); /* 5 are held back, 2 are of the reserve */
            make_firm(&t, "first-come", NULL);
        }
        print_message("%s: %lld promised\n", rows[i].name, (long long)promised(&t, "5", 1));
        cw_intake_file f = file("orders.csv", rows[i].text);
        loaded l = load_with(&t, &f, 1, (cw_intake_options){ .changes = rows[i].changes });
        assert_int_equal(l.code, CW_CONFLICT);
        if (strstr(l.first, rows[i].said) == NULL)
            fail_msg("%s", l.first);
        rows_are(&t, LINES, i < 2 ? "5|1|AMB||0|3|650|none||0\n" : "5|1|AMB||3|3|650|none||0\n");
        test_nursery_free(&t);
    }
}

/* A row with a fault is told of once: what follows from it (its order, its head, a code that a wrong row was to make) is passed
 * over. */
static void one_fault_is_told_of_once(void **state)
{
#define AT_TEN "2032-01-25T10:00:00Z"
    static const struct {
        const char *name, *varieties, *orders;
        long errors;
        const char *said;
    } rows[] = {
        { "lines without a number", NULL, "6," AT_TEN ",,AMB,1,6.50\n6," AT_TEN ",,BRI,1,8.00\n", 2,
          "orders.csv:2: line: must not be empty" },
        { "none, of an order that comes at another time", NULL, "5,2032-01-25T11:00:00Z,1,AMB,0,6.50\n", 1,
          "orders.csv:2: quantity: " },
        { "a variety that a wrong row was to make", "code,name,price\nDAH,Dahl,cheap\n",
          "5," AT_TEN ",1,DAH,3,6.50\n", 1, "varieties.csv:2: price: " },
        { "the first line of a new order", NULL, "7," AT_TEN ",1,AMB,0,6.50\n7," AT_TEN ",2,AMB,1,6.50\n", 1,
          "orders.csv:2: quantity: " },
        { "a new order between two of its lines", NULL,
          "7," AT_TEN ",1,AMB,0,6.50\n8," AT_TEN ",1,AMB,1,6.50\n7," AT_TEN ",2,AMB,1,6.50\n", 1,
          "orders.csv:2: quantity: " },
        { "two lines of one number", NULL, "8," AT_TEN ",1,AMB,1,6.50\n8," AT_TEN ",1,AMB,1,6.50\n", 1,
          "orders.csv:3: order: this order line stands twice in the file, first on line 2: 8 line 1" },
        { "two lines of one number, a line between them, backwards", NULL,
          "8," AT_TEN ",2,AMB,1,6.50\n8," AT_TEN ",1,AMB,1,6.50\n8," AT_TEN ",2,AMB,1,6.50\n", 1,
          "orders.csv:4: order: this order line stands twice in the file, first on line 2: 8 line 2" },
        { "two heads of a new order", NULL,
          "8," AT_TEN ",1,AMB,1,6.50\n8,2032-01-25T11:00:00Z,2,AMB,1,6.50\n", 1,
          "orders.csv:3: received_at: differs from the other lines of order 8" },
        { "the first line of a new order, and the order after it", NULL,
          "7," AT_TEN ",1,AMB,0,6.50\n5," AT_TEN ",1,AMB,4,6.50\n", 2, "orders.csv:2: quantity: " },
        { "a good order, then one at another time whose first line asks nothing", NULL,
          "8," AT_TEN ",1,AMB,1,6.50\n5,2032-01-25T11:00:00Z,1,AMB,0,6.50\n"
          "5,2032-01-25T11:00:00Z,2,AMB,1,6.50\n",
          2, "orders.csv:3: quantity: " },
        { "the first line of a new order, and two heads of its others", NULL,
          "7," AT_TEN ",1,AMB,0,6.50\n7," AT_TEN ",2,AMB,1,6.50\n7,2032-01-25T11:00:00Z,3,AMB,1,6.50\n", 2,
          "orders.csv:2: quantity: " },
    };
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    ok(load_one(&t, "varieties.csv", varieties));
    ok(load_one(&t, "orders.csv", SHORT "AMB,3,6.50\n"));
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char text[600];
        snprintf(text, sizeof text, "order,received_at,line,variety,quantity,unit_price\n%s", rows[i].orders);
        cw_intake_file files[] = { file("orders.csv", text),
                                   file("varieties.csv", rows[i].varieties ? rows[i].varieties : "") };
        loaded l = load_with(&t, files, rows[i].varieties ? 2 : 1, (cw_intake_options){ 0 });
        if (l.code == CW_OK || l.errors != rows[i].errors ||
            strncmp(l.first, rows[i].said, strlen(rows[i].said)) != 0)
            fail_msg("%s: %ld told, the first: %s", rows[i].name, l.errors, l.first);
        rows_are(&t, LINES, "5|1|AMB||3|3|650|none||0\n");
    }
    test_nursery_free(&t);
#undef AT_TEN
}

/* A line more for an order on record: told of, asked and sold. One of a new order is not told of. */
static void a_line_is_added(void **state)
{
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    ok(load_one(&t, "varieties.csv", varieties));
    ok(load_one(&t, "orders.csv", SHORT "AMB,3,6.50\n"));
    rows_are(&t, "SELECT COUNT(*) FROM order_event", "0\n");
    loaded l = load_one(&t, "orders.csv",
                        HEADER "5,2032-01-25T10:00:00Z,2,BRI,4,8.00,retail,,named,CIN,,1\n"
                               "6,2032-01-25T10:00:01Z,1,,2,5.00,wholesale,,,,size=small,\n");
    ok(l);
    assert_int_equal(l.made, 2);
    rows_are(&t, LINES,
             "5|1|AMB||3|3|650|none||0\n5|2|BRI||4|4|800|named|CIN|1\n6|1||size=small|2|2|500|none||0\n");
    rows_are(&t,
             "SELECT e.actor, e.kind, e.before, e.after, l.line FROM order_event e JOIN line l ON l.id = "
             "e.line_id",
             "tester|added||line 2, 4 asked|2\n");
    rows_are(&t, SOLD, "AMB|3|3\nBRI|4|4\n");
    rows_are(&t,
             "SELECT v.code, s.actor, s.quantity, s.why FROM oversell s JOIN variety v ON v.id = "
             "s.variety_id ORDER BY s.id",
             "AMB|tester|3|taken before a release, from orders.csv\nBRI|tester|4|taken before a release, "
             "from orders.csv\n");
    test_nursery_free(&t);
}

/* What an order was (cancelled, new, on record) says nothing of the one after it in the file. */
static void an_order_leaves_nothing_to_the_next(void **state)
{
#define AT_TEN "2032-01-25T10:00:00Z"
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    test_nursery_make(&t);
    ok(load_one(&t, "varieties.csv", varieties));
    ok(load_one(&t, "orders.csv",
                "order,received_at,line,variety,quantity,unit_price\n5," AT_TEN ",1,AMB,3,6.50\n6," AT_TEN
                ",1,AMB,1,6.50\n7," AT_TEN ",1,AMB,1,6.50\n"));
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "5", 0, "gave up", &err), &err);
    loaded l = load_one(&t, "orders.csv",
                        "order,received_at,line,variety,quantity,unit_price\n5," AT_TEN
                        ",1,AMB,3,6.50\n8," AT_TEN ",1,BRI,1,8.00\n6," AT_TEN ",1,AMB,1,6.50\n6," AT_TEN
                        ",2,BRI,2,8.00\n5," AT_TEN ",1,AMB,3,6.50\n");
    assert_string_equal(l.first, "orders.csv:6: order: this order line stands twice in the file, first on "
                                 "line 2: 5 line 1");
    l = load_one(&t, "orders.csv",
                 "order,received_at,line,variety,quantity,unit_price\n5," AT_TEN ",1,AMB,3,6.50\n8," AT_TEN
                 ",1,BRI,1,8.00\n6," AT_TEN ",1,AMB,1,6.50\n6," AT_TEN ",2,BRI,2,8.00\n7," AT_TEN
                 ",1,AMB,1,6.50\n");
    ok(l);
    assert_int_equal(l.made, 2);
    assert_int_equal(l.unchanged, 3);
    rows_are(&t, LINES,
             "5|1|AMB||0|3|650|none||0\n6|1|AMB||1|1|650|none||0\n6|2|BRI||2|2|800|none||0\n"
             "7|1|AMB||1|1|650|none||0\n8|1|BRI||1|1|800|none||0\n");
    rows_are(&t,
             "SELECT o.number, e.kind FROM order_event e JOIN orders o ON o.id = e.order_id WHERE e.kind = "
             "'added'",
             "6|added\n");
    test_nursery_free(&t);
#undef AT_TEN
}

/* The order's own columns: a file that lacks one says nothing of it, one that differs is refused or changes it. */
static void an_orders_own_columns(void **state)
{
#define HEAD                                                                                                 \
    "order,received_at,line,variety,quantity,unit_price,channel,tier,customer,email,postcode,country,"       \
    "region,zone,"                                                                                           \
    "wish_week,ship_complete\n"
#define REST ",1,AMB,3,6.50,"
    static const struct {
        const char *text, *name; /* of the column that differs; NULL: none */
    } rows[] = {
        { HEAD "5,2032-01-25T10:00:00Z" REST "shop,retail,Ida,ida@example.org,1234,US,ME,z7,2032-W17,1\n",
          NULL },
        { HEAD "5,2032-01-25T10:00:01Z" REST "shop,retail,Ida,ida@example.org,1234,US,ME,z7,2032-W17,1\n",
          "received_at" },
        { HEAD "5,2032-01-25T10:00:00Z" REST "post,retail,Ida,ida@example.org,1234,US,ME,z7,2032-W17,1\n",
          "channel" },
        { HEAD "5,2032-01-25T10:00:00Z" REST "shop,other,Ida,ida@example.org,1234,US,ME,z7,2032-W17,1\n",
          "tier" },
        { HEAD "5,2032-01-25T10:00:00Z" REST "shop,retail,Eve,ida@example.org,1234,US,ME,z7,2032-W17,1\n",
          "customer" },
        { HEAD "5,2032-01-25T10:00:00Z" REST "shop,retail,Ida,,1234,US,ME,z7,2032-W17,1\n", "email" },
        { HEAD "5,2032-01-25T10:00:00Z" REST "shop,retail,Ida,ida@example.org,1235,US,ME,z7,2032-W17,1\n",
          "postcode" },
        { HEAD "5,2032-01-25T10:00:00Z" REST "shop,retail,Ida,ida@example.org,1234,CA,ME,z7,2032-W17,1\n",
          "country" },
        { HEAD "5,2032-01-25T10:00:00Z" REST "shop,retail,Ida,ida@example.org,1234,US,VT,z7,2032-W17,1\n",
          "region" },
        { HEAD "5,2032-01-25T10:00:00Z" REST "shop,retail,Ida,ida@example.org,1234,US,ME,z3,2032-W17,1\n",
          "zone" },
        { HEAD "5,2032-01-25T10:00:00Z" REST "shop,retail,Ida,ida@example.org,1234,US,ME,z7,2032-W18,1\n",
          "wish_week" },
        { HEAD "5,2032-01-25T10:00:00Z" REST "shop,retail,Ida,ida@example.org,1234,US,ME,z7,2032-W17,0\n",
          "ship_complete" },
        { SHORT "AMB,3,6.50\n", NULL },
    };
    test_nursery t;
    char said[200], want[200];
    (void)state;
    test_nursery_make(&t);
    ok(load_one(&t, "varieties.csv", varieties));
    ok(load_one(&t, "zones.csv", "zone,first_week\nz7,2032-W16\nz3,2032-W20\n"));
    ok(load_one(&t, "orders.csv", rows[0].text));
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const char *name = rows[i].name ? rows[i].name : "";
        cw_intake_file f = file("orders.csv", rows[i].text);
        loaded l = load_with(&t, &f, 1, (cw_intake_options){ 0 });
        snprintf(said, sizeof said, "orders.csv:2: %s: order 5 is on record with another %s; --changes", name,
                 name);
        if (rows[i].name ? strncmp(l.first, said, strlen(said)) != 0 : l.unchanged != 1)
            fail_msg("%s: %s", rows[i].text, l.first);
        l = load_with(&t, &f, 1, (cw_intake_options){ .changes = true });
        ok(l);
        assert_int_equal(l.changed, rows[i].name != NULL);
        snprintf(want, sizeof want, "%s\n", name);
        if (rows[i].name)
            rows_are(&t,
                     "SELECT note FROM order_event WHERE kind = 'changed' AND line_id IS NULL ORDER BY id "
                     "DESC LIMIT 1",
                     want);
        f = file("orders.csv", rows[0].text);
        ok(load_with(&t, &f, 1, (cw_intake_options){ .changes = true }));
        rows_are(&t,
                 "SELECT number, received_at, channel, tier, customer, email, postcode, country, region, "
                 "zone, wish_week, "
                 "ship_complete, state FROM orders",
                 "5|1958637600000|shop|retail|Ida|ida@example.org|1234|US|ME|z7|203217|1|open\n");
    }
    test_nursery_free(&t);
}

/* Rows that differ in one part of their key each: the file changes the one it names, and every column of it. */
static void a_changed_row_changes_no_other(void **state)
{
    static const struct {
        const char *kind, *had, *changed, *sql, *want;
    } rows[] = {
        { "varieties",
          "code,name,form,size,colour,height_cm,price,hold_back,reserve,limit_per_order,introduced,retired\n"
          "AMB,Amber,ball,small,orange,90,6.50,5,2,3,2020,no\nBRI,Briar,cactus,large,pink,120,8.00,1,0,,2021,"
          "no\n",
          "code,name,form,size,colour,height_cm,price,hold_back,reserve,limit_per_order,introduced,retired,"
          "own_low,"
          "own_high\nBRI,Briar Song,pompon,tiny,red,60,9.00,4,3,6,2022,yes,3.5,7\n",
          "SELECT code, name, form, size, colour, height_cm, price, hold_back, reserve, limit_per_order, "
          "introduced, retired, own_low, own_high FROM "
          "variety ORDER BY code",
          "AMB|Amber|ball|small|orange|90|650|5|2|3|2020|0||\nBRI|Briar "
          "Song|pompon|tiny|red|60|900|4|3|6|2022|1|3.5|7.0\n" },
        { "places", "place,room,walk_order\nA1,north,10\nA2,north,20\n",
          "place,room,walk_order\nA2,south,25\n",
          "SELECT code, room, walk_order FROM place WHERE id > 0 ORDER BY code",
          "A1|north|10\nA2|south|25\n" },
        { "zones", "zone,first_week\nz3,2032-W20\nz7,2032-W16\n", "zone,first_week\nz7,2032-W17\n",
          "SELECT code, first_week FROM zone ORDER BY code", "z3|203220\nz7|203217\n" },
        { "destinations", "country,region,rule,note\nUS,,allow,\nUS,CA,warn,ask\nMX,CA,warn,ask\n",
          "country,region,rule,note\nUS,CA,block,closed\n",
          "SELECT country, region, rule, note FROM destination ORDER BY country, region",
          "MX|CA|warn|ask\nUS||allow|\nUS|CA|block|closed\n" },
        { "past_sales",
          "season,variety,sold,sold_out_on\n2029,AMB,60,2030-02-11\n2029,BRI,50,\n2030,AMB,41,\n",
          "season,variety,sold,sold_out_on\n2029,AMB,61,2030-02-12\n",
          "SELECT p.season, v.code, p.sold, p.sold_out_on - julianday('2030-02-12') + 2440587.5 FROM "
          "past_sale p JOIN variety v ON "
          "v.id = p.variety_id ORDER BY 1, 2",
          "2029|AMB|61|0.0\n2029|BRI|50|\n2030|AMB|41|\n" },
        { "past_orders",
          "season,variety,ordered_on,quantity\n2029,AMB,2030-01-12,7\n2029,AMB,2030-01-13,8\n2029,BRI,2030-"
          "01-12,2\n"
          "2030,AMB,2031-01-12,9\n",
          "season,variety,ordered_on,quantity\n2029,AMB,2030-01-12,70\n",
          "SELECT p.season, v.code, p.quantity FROM past_order p JOIN variety v ON v.id = p.variety_id ORDER "
          "BY 1, 2, p.day",
          "2029|AMB|70\n2029|AMB|8\n2029|BRI|2\n2030|AMB|9\n" },
        { "weighings",
          "sample,weighed_on,lot,kg\nS1,2031-12-06,L1,2.0\nS1,2032-01-05,L1,1.9\nS2,2031-12-06,L1,3.0\n",
          "sample,weighed_on,lot,kg\nS1,2031-12-06,L1,2.1\n",
          "SELECT sample, kg FROM weighing ORDER BY sample, day", "S1|2.1\nS1|1.9\nS2|3.0\n" },
        { "air",
          "room,at,temp_c,rh\nnorth,2031-12-05T06:00:00Z,6,90\nnorth,2031-12-06T06:00:00Z,7,91\nsouth,2031-"
          "12-05T06:00:00Z,8,92\n",
          "room,at,temp_c,rh\nnorth,2031-12-05T06:00:00Z,5,89\n",
          "SELECT room, temp_c, rh FROM air ORDER BY room, at",
          "north|5.0|89.0\nnorth|7.0|91.0\nsouth|8.0|92.0\n" },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        test_nursery t;
        char name[40];
        test_nursery_make(&t);
        if (i > 0)
            ok(load_one(&t, "varieties.csv", varieties));
        ok(load_one(&t, "lots.csv",
                    i > 0 ? "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,5\n"
                          : "lot,variety,dug_on,clumps\n"));
        snprintf(name, sizeof name, "%s.csv", rows[i].kind);
        ok(load_one(&t, name, rows[i].had));
        cw_intake_file f = file(name, rows[i].changed);
        loaded l = load_with(&t, &f, 1, (cw_intake_options){ .changes = true });
        if (l.code != CW_OK)
            fail_msg("%s: %s", name, l.first);
        assert_int_equal(l.changed, 1);
        rows_are(&t, rows[i].sql, rows[i].want);
        test_nursery_free(&t);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_a_line_may_ask),
        cmocka_unit_test(a_file_changes_what_it_says),
        cmocka_unit_test(a_file_does_not_change_what_stands),
        cmocka_unit_test(one_fault_is_told_of_once),
        cmocka_unit_test(a_line_is_added),
        cmocka_unit_test(an_order_leaves_nothing_to_the_next),
        cmocka_unit_test(an_orders_own_columns),
        cmocka_unit_test(a_changed_row_changes_no_other),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

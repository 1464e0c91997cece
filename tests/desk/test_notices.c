/* SPDX-License-Identifier: MIT */
/* What must be told, by when, and that it is told once. Invented data; the figures are worked out beside each case. */
#include "support/noticed.h"
#include "support/demo.h"

#include "base/banned.h"

static void made(cw_notices_made m, int made_, int kept, int withdrawn)
{
    if (m.made != made_ || m.kept != kept || m.withdrawn != withdrawn)
        fail_msg("%lld made, %lld kept, %lld withdrawn; not %d, %d, %d", (long long)m.made, (long long)m.kept,
                 (long long)m.withdrawn, made_, kept, withdrawn);
}

static void is_told(test_nursery *t, const char *order, int line, const char *kind, const char *due,
                    const char *amount, const char *sentence)
{
    told r = find(t, order, line, kind);
    if (!r.found)
        fail_msg("no notice %s of order %s", kind, order);
    assert_string_equal(r.due, due);
    assert_string_equal(r.amount, amount);
    assert_string_equal(r.sentence, sentence);
}

static void sent(test_nursery *t, int64_t id, const char *evidence)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_notices_sent(t->n, &t->who, id, evidence, &err), &err);
}

/* Today is Sunday 2032-02-01; seven working days later is Tuesday the 10th (2-6, 9, 10 February). AMB has 5: 1001 gets 4
 * of 4, 1002 1 of 3, so 2 x 6.55 are owed. BRI has 1 of 2: the other is replaced by CIN, as its buyer named it. */
static void each_fact_is_told_once(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_substituting_ask ask = { .projected = false };
    cw_substituting_done done;
    (void)state;
    make(&t);
    made(look(&t), 0, 0, 0); /* nothing is shared out, nobody is late */
    make_firm(&t, "first-come", NULL);
    made(look(&t), 4, 0, 0); /* short and refund, of 1002 and for now of 1003 */
    is_told(&t, "1002", 1, "short", "2032-02-10", "0.00",
            "3 of Amber Lantern asked, 1 promised, 2 short and nothing more to come");
    is_told(&t, "1002", 1, "refund", "2032-02-10", "13.10",
            "13.10 owed for 2 of Amber Lantern (0 cancelled, 2 not delivered)");
    made(look(&t), 0, 4, 0);
    cw_check_ok(cw_substituting_commit(t.n, &t.who, &ask, NULL, &done, NULL, &err), &err);
    made(look(&t), 1, 2, 2); /* the substitute instead of 1003's two, which nobody was sent */
    is_told(&t, "1003", 1, "substitute", "2032-04-16", "0.00", "1 of Cinder in place of Briar Song");
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1004", 0, "bought elsewhere", &err), &err);
    made(look(&t), 3, 3, 0); /* one for the order, and a refund for each of its lines */
    is_told(&t, "1004", 0, "cancelled", "2032-02-10", "0.00", "All cancelled, 21.30 to go back");
    is_told(&t, "1004", 1, "refund", "2032-02-10", "14.20",
            "14.20 owed for 2 of Cinder (2 cancelled, 0 not delivered)");
    is_told(&t, "1004", 2, "refund", "2032-02-10", "7.10",
            "7.10 owed for 1 of Cinder (1 cancelled, 0 not delivered)");
    cw_check_ok(cw_ordering_change(t.n, &t.who, "1005", 1, 1, "fewer", &err), &err);
    made(look(&t), 2, 6, 0);
    is_told(&t, "1005", 1, "cancelled", "2032-02-10", "0.00", "2 of Cinder cancelled, 14.20 to go back");
    cw_check_ok(cw_ordering_change(t.n, &t.who, "1005", 1, 3, "all three after all", &err), &err);
    made(look(&t), 0, 6, 2);
    test_nursery_free(&t);
}

/* 2032-W17 ends for parcels on Friday 23 April, W19 on 7 May: 14 days, so silence is consent. W23 (4 June) is a further
 * delay; it must be told by what was promised last. */
static void a_later_week_is_told_before_the_promised_one(void **state)
{
    test_nursery t;
    (void)state;
    make(&t);
    make_firm(&t, "first-come", "CIN");
    move(&t, "1005", 203217);
    made(look(&t), 0, 0, 0);
    move(&t, "1005", 203219);
    made(look(&t), 1, 0, 0);
    is_told(
        &t, "1005", 0, "delay", "2032-04-23", "0.00",
        "to leave by 2032-04-23, now expected by 2032-05-07; silence is consent (16 CFR 435.2(b)(1)(ii))");
    move(&t, "1005", 203222); /* 28 May: 35 days; the notice of W19 was not sent */
    made(look(&t), 1, 0, 1);
    is_told(&t, "1005", 0, "delay", "2032-04-23", "0.00",
            "to leave by 2032-04-23, now expected by 2032-05-28; silence cancels the order (16 CFR "
            "435.2(b)(1)(iii))");
    sent(&t, find(&t, "1005", 0, "delay").id, "mail of 2 February, no bounce");
    made(look(&t), 0, 0, 0);
    move(&t, "1005", 203223);
    made(look(&t), 1, 0, 0);
    assert_int_equal(
        number_of(&t, "SELECT COUNT(*) FROM notice WHERE kind = 'delay' AND state = 'due' AND due_on = "
                      "julianday('2032-05-28') - 2440587.5 AND detail LIKE '%435.2(b)(2)%'"),
        1);
    /* Back to the week that was told of: nothing to tell. */
    move(&t, "1005", 203222);
    made(look(&t), 0, 0, 1);
    test_nursery_free(&t);
}

/* On 1 May nothing has left, and no order has a week: all are late, by when is not known. */
static void what_did_not_leave_in_time_is_late(void **state)
{
    test_nursery t;
    (void)state;
    make(&t);
    load_text(&t, "orders.csv", /* one division alone is late, too */
              "order,received_at,line,variety,quantity,unit_price,wish_week\n1006,2032-01-09T13:00:00Z,1,CIN,"
              "1,7.10,2032-W17\n");
    t.who.today = cw_day_from_ymd(2032, 5, 1);
    t.who.now = t.who.today * CW_DAY_MS;
    made(look(&t), 6, 0, 0);
    told r = find(&t, "1001", 0, "delay");
    assert_true(r.overdue);
    assert_string_equal(r.due, "2032-04-23");
    test_nursery_free(&t);
}

static void only_what_is_due_is_settled(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    make(&t);
    make_firm(&t, "first-come", "AMB");
    look(&t);
    int64_t refund = find(&t, "1002", 1, "refund").id, lacking = find(&t, "1002", 1, "short").id;
    assert_int_equal(cw_notices_sent(t.n, &t.who, refund, "", &err), CW_REFUSED);
    err = (cw_error)CW_ERROR_NONE;
    sent(&t, refund, "bank, 2032-02-03, 13.10");
    assert_int_equal(cw_notices_sent(t.n, &t.who, refund, "again", &err), CW_CONFLICT);
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(cw_notices_drop(t.n, &t.who, 999, "x", &err), CW_NOT_FOUND);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_notices_drop(t.n, &t.who, lacking, "told by telephone", &err), &err);
    made(look(&t), 0, 1, 0);
    /* One more comes, and goes to that line: less is owed than was paid back, which is for a person to settle. */
    count_lot(&t, "L1", "2032-01-31", 6);
    make_firm(&t, "first-come", "AMB");
    made(look(&t), 1, 0, 0); /* short by one now, which is news */
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM notice WHERE kind = 'refund'"), 1);
    cw_asker packer = t.who;
    cw_notices_made m;
    packer.role = CW_ROLE_PACKER;
    assert_int_equal(cw_notices_make(t.n, &packer, &m, &err), CW_FORBIDDEN);
    assert_true(number_of(&t, "SELECT COUNT(*) FROM audit WHERE subject LIKE 'notice % of order 1002'") == 2);
    test_nursery_free(&t);
}

static void what_is_owed_adds_up(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table owed;
    cw_text csv = CW_TEXT(1 << 16);
    (void)state;
    make(&t);
    make_firm(&t, "first-come", "AMB");
    cw_check_ok(cw_ordering_change(t.n, &t.who, "1005", 1, 1, "fewer", &err), &err);
    look(&t);
    cw_check_ok(cw_notices_refunds(t.n, &t.who, false, &owed, &err), &err);
    cw_check_ok(cw_table_csv(&owed, cw_sink_text(&csv), &err), &err);
    assert_string_equal(
        csv.data, "order,customer,email,line,variety,why,cancelled,short,unit_price,owed,refunded,left\n"
                  "1002,J\xC3\xB6rg Bostr,bo@example.org,1,AMB,not delivered,0,2,6.55,13.10,0.00,13.10\n"
                  "1005,Ed Elm,ed@example.org,1,CIN,cancelled,2,0,7.10,14.20,0.00,14.20\n");
    cw_table_free(&owed);
    sent(&t, find(&t, "1002", 1, "refund").id, "bank, 13.10");
    cw_check_ok(cw_notices_refunds(t.n, &t.who, false, &owed, &err), &err);
    assert_int_equal(cw_table_rows(&owed), 1);
    cw_table_free(&owed);
    cw_check_ok(cw_notices_refunds(t.n, &t.who, true, &owed, &err), &err);
    assert_int_equal(cw_table_rows(&owed), 2);
    assert_int_equal(cw_table_int(&owed, 0, 11), 0);
    cw_table_free(&owed);
    cw_text_free(&csv);
    test_nursery_free(&t);
}

/* 13.10 were given back in the shop, so the refund is dropped; then all is cancelled, 19.65 in all: 6.55 are left. */
static void what_was_dropped_is_not_asked_again(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    make(&t);
    make_firm(&t, "first-come", "AMB");
    look(&t);
    told refund = find(&t, "1002", 1, "refund");
    assert_string_equal(refund.amount, "13.10");
    cw_check_ok(cw_notices_drop(t.n, &t.who, refund.id, "given back at the door", &err), &err);
    look(&t);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM notice WHERE kind = 'refund'"), 1);
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1002", 0, "rang", &err), &err);
    look(&t);
    assert_int_equal(number_of(&t, "SELECT amount FROM notice WHERE kind = 'refund' AND state = 'due'"), 655);
    test_nursery_free(&t);
}

/* A file that corrects a line says what was meant from the first: nobody cancelled anything. */
static void a_corrected_line_is_not_cancelled(void **state)
{
    static const char corrected[] = "order,received_at,line,variety,quantity,unit_price\n"
                                    "1005,2032-01-09T12:00:00Z,1,CIN,1,7.10\n";
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { 0 };
    cw_table answer = { 0 };
    cw_intake_file f = { .name = "orders.csv", .bytes = corrected, .length = sizeof corrected - 1 };
    cw_intake_options changes = { .changes = true };
    (void)state;
    make(&t);
    cw_check_ok(cw_intake_load(t.n, &t.who, &f, 1, &changes, &answer, &errors, &err), &err);
    cw_table_free(&answer);
    assert_int_equal(number_of(&t, "SELECT l.quantity FROM line l JOIN orders o ON o.id = l.order_id WHERE "
                                   "o.number = '1005'"),
                     1);
    made(look(&t), 0, 0, 0);
    test_nursery_free(&t);
}

/* 1005 is cancelled on Sunday 1 February, so its money is due on Tuesday the 10th; 1004, which stands before it, on Thursday the
 * 5th: Monday the 16th. A list up to a day holds what is due by then. */
static void each_order_has_its_own_day(void **state)
{
    static const struct {
        int day;
        size_t count;
    } rows[] = { { 9, 0 }, { 10, 2 }, { 15, 2 }, { 16, 5 } };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    make(&t);
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1005", 0, "rang", &err), &err);
    t.who.today += 4;
    t.who.now += 4 * CW_DAY_MS;
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1004", 0, "rang", &err), &err);
    look(&t);
    rows_are(&t,
             "SELECT o.number, date(n.due_on * 86400, 'unixepoch') FROM notice n JOIN orders o ON o.id = "
             "n.order_id "
             "WHERE n.kind = 'cancelled' ORDER BY o.number",
             "1004|2032-02-16\n1005|2032-02-10\n");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        int64_t *ids = NULL;
        size_t count = 0;
        cw_table shown;
        cw_day by = cw_day_from_ymd(2032, 2, rows[i].day);
        cw_check_ok(cw_notices_numbers(t.n, "due", by, &ids, &count, &err), &err);
        free(ids);
        assert_int_equal(count, rows[i].count);
        cw_check_ok(cw_notices_show(t.n, &t.who, "due", by, &shown, &err), &err);
        assert_int_equal(cw_table_rows(&shown), rows[i].count);
        cw_table_free(&shown);
    }
    test_nursery_free(&t);
}

/* The demo season shared out whole: looked at twice, told once; the register and the notices owe the same. */
static void the_demo_season_is_told_once(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table owed;
    cw_cents left = 0;
    (void)state;
    test_demo_make(&t);
    make_firm(&t, "first-come", NULL);
    t.who.today = cw_day_from_ymd(2032, 5, 10);
    t.who.now = t.who.today * CW_DAY_MS;
    cw_notices_made m = look(&t);
    assert_true(m.made > 0);
    made(look(&t), 0, (int)m.made, 0);
    cw_check_ok(cw_notices_refunds(t.n, &t.who, false, &owed, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&owed); r++)
        left += cw_table_int(&owed, r, 11);
    assert_int_equal(left, number_of(&t, "SELECT COALESCE(SUM(amount), 0) FROM notice"));
    cw_table_free(&owed);
    test_nursery_free(&t);
}

static cw_day six_hours_west(cw_instant at)
{
    return cw_instant_day(at - 6 * 3600000);
}

/* Thursday evening, 5 February, where the nursery is, and Friday in UTC: seven working days from Thursday are up on Monday
 * the 16th, from Friday on Tuesday the 17th. The right begins on the day where the nursery is. */
static void a_term_begins_on_the_nurserys_own_day(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    make(&t);
    t.who.today = cw_day_from_ymd(2032, 2, 5);
    t.who.now = (t.who.today + 1) * CW_DAY_MS + 2 * 3600000;
    t.who.day_of = six_hours_west;
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1004", 0, "rang", &err), &err);
    look(&t);
    assert_int_equal(number_of(&t, "SELECT due_on FROM notice WHERE kind = 'cancelled'"),
                     cw_day_from_ymd(2032, 2, 16));
    assert_int_equal(number_of(&t, "SELECT MAX(due_on) FROM notice WHERE kind = 'refund'"),
                     cw_day_from_ymd(2032, 2, 16));
    make_firm(&t, "first-come", NULL);
    cw_check_ok(cw_allotting_take_back(t.n, &t.who, "1002", 1, "AMB", 1, "rang", &err), &err);
    json_t *sheet = NULL;
    cw_check_ok(cw_ordering_sheet(t.n, &t.who, "1002", &sheet, &err), &err);
    const char *said =
        json_string_value(json_object_get(json_array_get(json_object_get(sheet, "lines"), 0), "sentence"));
    if (strstr(said, "2032-02-05") == NULL || strstr(said, "2032-02-06"))
        fail_msg("%s", said);
    json_decref(sheet);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_fact_is_told_once),
        cmocka_unit_test(a_later_week_is_told_before_the_promised_one),
        cmocka_unit_test(what_did_not_leave_in_time_is_late),
        cmocka_unit_test(only_what_is_due_is_settled),
        cmocka_unit_test(a_term_begins_on_the_nurserys_own_day),
        cmocka_unit_test(what_is_owed_adds_up),
        cmocka_unit_test(what_was_dropped_is_not_asked_again),
        cmocka_unit_test(a_corrected_line_is_not_cancelled),
        cmocka_unit_test(each_order_has_its_own_day),
        cmocka_unit_test(the_demo_season_is_told_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* SPDX-License-Identifier: MIT */
/* What must be told, by when, and that it is told once. Invented data; the figures are worked out beside each case. */
#include "support/demo.h"
#include "support/order_desk.h"

#include "desk/orders/notices.h"
#include "desk/ship/shipping.h"
#include "desk/stock/tracing.h"

#include "base/banned.h"

static const char varieties[] = "code,name,form,size,colour,price\n"
                                "AMB,Amber Lantern,ball,small,orange,6.50\n"
                                "BRI,Briar Song,cactus,large,pink,8.00\n"
                                "CIN,Cinder,ball,small,red,7.10\n";
static const char lots[] =
    "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,0\nL2,BRI,2031-10-21,0\nL3,CIN,2031-10-22,0\n";
static const char orders[] =
    "order,received_at,line,variety,quantity,unit_price,customer,email,wish_week,consent,named\n"
    "1001,2032-01-05T10:00:00Z,1,AMB,4,6.50,Ada Ambl,ada@example.org,2032-W17,none,\n"
    "1002,2032-01-06T11:00:00Z,1,AMB,3,6.55,J\xC3\xB6rg Bostr,bo@example.org,2032-W17,none,\n"
    "1003,2032-01-07T12:00:00Z,1,BRI,2,8.00,Cy Crind,,2032-W17,named,CIN\n"
    "1004,2032-01-08T12:00:00Z,1,CIN,2,7.10,Di Drum,di@example.org,2032-W17,none,\n"
    "1004,2032-01-08T12:00:00Z,2,CIN,1,7.10,Di Drum,di@example.org,2032-W17,none,\n"
    "1005,2032-01-09T12:00:00Z,1,CIN,3,7.10,Ed Elm,ed@example.org,2032-W17,none,\n";

static void make(test_nursery *t)
{
    test_nursery_make(t);
    load_text(t, "varieties.csv", varieties);
    load_text(t, "lots.csv", lots);
    load_text(t, "orders.csv", orders);
    count_lot(t, "L1", "2032-01-20", 5);
    count_lot(t, "L2", "2032-01-20", 1);
    count_lot(t, "L3", "2032-01-20", 10);
}

static cw_notices_made look(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_notices_made m;
    cw_check_ok(cw_notices_make(t->n, &t->who, &m, &err), &err);
    test_nursery_check(t);
    return m;
}

static void made(cw_notices_made m, int made_, int kept, int withdrawn)
{
    if (m.made != made_ || m.kept != kept || m.withdrawn != withdrawn)
        fail_msg("%lld made, %lld kept, %lld withdrawn; not %d, %d, %d", (long long)m.made, (long long)m.kept,
                 (long long)m.withdrawn, made_, kept, withdrawn);
}

typedef struct told {
    int64_t id;
    char due[11], amount[24], sentence[600], state[16];
    bool overdue, found;
} told;

/* The only notice of this kind for the order and line (0: any). */
static told find(test_nursery *t, const char *order, int line, const char *kind)
{
    cw_error err = CW_ERROR_NONE;
    cw_table rows;
    told r = { .found = false };
    cw_check_ok(cw_notices_show(t->n, &t->who, NULL, CW_NO_DAY, &rows, &err), &err);
    for (size_t i = 0; i < cw_table_rows(&rows); i++) {
        if (strcmp(cw_table_text(&rows, i, 1), order) != 0 || strcmp(cw_table_text(&rows, i, 3), kind) != 0 ||
            (line && cw_table_int(&rows, i, 2) != line))
            continue;
        if (r.found)
            fail_msg("two notices %s of order %s", kind, order);
        r.found = true;
        r.id = cw_table_int(&rows, i, 0);
        cw_day_format((cw_day)cw_table_int(&rows, i, 4), r.due);
        r.overdue = cw_table_int(&rows, i, 5) != 0;
        cw_copy(r.state, sizeof r.state, cw_table_text(&rows, i, 6));
        cw_cents_format(cw_table_int(&rows, i, 9), r.amount);
        cw_copy(r.sentence, sizeof r.sentence, cw_table_text(&rows, i, 10));
    }
    cw_table_free(&rows);
    return r;
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

static void move(test_nursery *t, const char *order, cw_week week)
{
    cw_error err = CW_ERROR_NONE;
    cw_table breaks;
    cw_check_ok(cw_shipping_move(t->n, &t->who, order, week, "late", &breaks, &err), &err);
    cw_table_free(&breaks);
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

/* All that a notice keeps, of each kind that an order desk makes: what the letter says, days as ISO 8601 has them, sums to the cent.
 * Refunds are due seven working days after the change (Tuesday 10 February), shorts a week before the parcel leaves. */
static void every_word_of_a_notice(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_substituting_done done;
    (void)state;
    make(&t);
    make_firm(&t, "first-come", NULL);
    cw_check_ok(cw_substituting_commit(t.n, &t.who, &(cw_substituting_ask){ 0 }, NULL, &done, NULL, &err),
                &err);
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1004", 0, "bought elsewhere", &err), &err);
    cw_check_ok(cw_ordering_change(t.n, &t.who, "1005", 1, 1, "fewer", &err), &err);
    cw_check_ok(cw_ordering_change(t.n, &t.who, "1002", 1, 2, "one less", &err), &err);
    move(&t, "1002", 203218);
    move(&t, "1003", 203217);
    move(&t, "1005", 203222);
    look(&t);
    rows_are(
        &t,
        "SELECT o.number, l.line, n.kind, n.state, date(n.due_on * 86400, 'unixepoch'), n.amount, "
        "replace(replace(n.fact, 'line' || COALESCE(n.line_id, 0), 'line#'), 'order' || o.id, 'order#'), "
        "n.detail "
        "FROM notice n JOIN orders o ON o.id = n.order_id LEFT JOIN line l ON l.id = n.line_id "
        "ORDER BY o.number, l.line, n.kind",
        "1002||delay|due|2032-04-23|0|delay:order#:2032-04-23:2032-04-30|{\"expected_day\":22765,"
        "\"promised\":\"2032-04-23\",\"expected\":\"2032-04-30\",\"cancelled_on\":\"\",\"silence\":"
        "\"consents\",\"refund_by\":\"\",\"source\":\"16 CFR 435.2(b)(1)(ii)\",\"sentence\":\"to leave by "
        "2032-04-23, now expected by 2032-04-30; silence is consent (16 CFR 435.2(b)(1)(ii))\"}\n"
        "1002|1|cancelled|due|2032-02-10|0|cancelled:line#:1|{\"what\":\"part\",\"variety\":\"Amber "
        "Lantern\",\"quantity\":\"1\",\"cancelled\":\"2032-02-01\",\"reason\":\"one "
        "less\",\"amount\":\"6.55\",\"refund_by\":\"2032-02-10\",\"sentence\":\"1 of Amber Lantern "
        "cancelled, 6.55 to go back\"}\n"
        "1002|1|refund|due|2032-02-10|1310|refund:line#:1310|{\"variety\":\"Amber "
        "Lantern\",\"code\":\"AMB\",\"quantity\":\"2\",\"why\":\"both\",\"refund_by\":\"2032-02-10\","
        "\"sentence\":\"13.10 owed for 2 of Amber Lantern (1 cancelled, 1 not delivered)\"}\n"
        "1002|1|short|due|2032-02-10|0|short:line#:1|{\"variety\":\"Amber "
        "Lantern\",\"code\":\"AMB\",\"asked\":\"2\",\"promised\":\"1\",\"quantity\":\"1\",\"amount\":\"6."
        "55\",\"refund_by\":\"2032-02-10\",\"sentence\":\"2 of Amber Lantern asked, 1 promised, 1 short and "
        "nothing more to come\"}\n"
        "1003|1|substitute|due|2032-04-16|0|substitute:line#:variety3:1|{\"variety\":\"Briar "
        "Song\",\"substitute\":\"Cinder\",\"code\":\"CIN\",\"quantity\":\"1\",\"due\":\"2032-04-16\","
        "\"sentence\":\"1 of Cinder in place of Briar Song\"}\n"
        "1004||cancelled|due|2032-02-10|0|cancelled:order#|{\"what\":\"all\",\"cancelled\":\"2032-02-01\","
        "\"reason\":\"bought "
        "elsewhere\",\"amount\":\"21.30\",\"refund_by\":\"2032-02-10\",\"sentence\":\"All cancelled, 21.30 "
        "to go back\"}\n"
        "1004|1|refund|due|2032-02-10|1420|refund:line#:1420|{\"variety\":\"Cinder\",\"code\":\"CIN\","
        "\"quantity\":\"2\",\"why\":\"cancelled\",\"refund_by\":\"2032-02-10\",\"sentence\":\"14.20 owed for "
        "2 of Cinder (2 cancelled, 0 not delivered)\"}\n"
        "1004|2|refund|due|2032-02-10|710|refund:line#:710|{\"variety\":\"Cinder\",\"code\":\"CIN\","
        "\"quantity\":\"1\",\"why\":\"cancelled\",\"refund_by\":\"2032-02-10\",\"sentence\":\"7.10 owed for "
        "1 of Cinder (1 cancelled, 0 not delivered)\"}\n"
        "1005||delay|due|2032-04-23|0|delay:order#:2032-04-23:2032-05-28|{\"expected_day\":22793,"
        "\"promised\":\"2032-04-23\",\"expected\":\"2032-05-28\",\"cancelled_on\":\"2032-05-23\",\"silence\":"
        "\"cancels\",\"refund_by\":\"2032-06-01\",\"source\":\"16 CFR 435.2(b)(1)(iii)\",\"sentence\":\"to "
        "leave by 2032-04-23, now expected by 2032-05-28; silence cancels the order (16 CFR "
        "435.2(b)(1)(iii))\"}\n"
        "1005|1|cancelled|due|2032-02-10|0|cancelled:line#:2|{\"what\":\"part\",\"variety\":\"Cinder\","
        "\"quantity\":\"2\",\"cancelled\":\"2032-02-01\",\"reason\":\"fewer\",\"amount\":\"14.20\",\"refund_"
        "by\":\"2032-02-10\",\"sentence\":\"2 of Cinder cancelled, 14.20 to go back\"}\n"
        "1005|1|refund|due|2032-02-10|1420|refund:line#:1420|{\"variety\":\"Cinder\",\"code\":\"CIN\","
        "\"quantity\":\"2\",\"why\":\"cancelled\",\"refund_by\":\"2032-02-10\",\"sentence\":\"14.20 owed for "
        "2 of Cinder (2 cancelled, 0 not delivered)\"}\n");
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

static void texts_are_the_nurserys(void **state)
{
    static const struct {
        const char *what, *subject, *body;
    } bad[] = { { "unknown word", "Order {order}", "Dear {custommer}," },
                { "open brace", "Order {order", "Dear you" },
                { "two lines of subject", "Order\nBcc: x@example.net", "Dear you" },
                { "empty", "", "Dear you" },
                { "broken UTF-8", "Order", "Dear \xFF" } };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    json_t *shown = NULL;
    (void)state;
    make(&t);
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        if (cw_notices_template_set(t.n, &t.who, "short", NULL, bad[i].subject, bad[i].body, &err) !=
            CW_REFUSED)
            fail_msg("%s", bad[i].what);
        err = (cw_error)CW_ERROR_NONE;
    }
    assert_int_equal(cw_notices_template_set(t.n, &t.who, "praise", NULL, "a", "b", &err), CW_NOT_FOUND);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_notices_template_set(t.n, &t.who, "short", NULL, "{order}: {{sorry}",
                                        "{customer}, {quantity} of {variety}.\n", &err),
                &err);
    make_firm(&t, "first-come", "AMB");
    look(&t);
    cw_check_ok(cw_notices_preview(t.n, &t.who, "short", NULL, NULL, NULL, find(&t, "1002", 1, "short").id,
                                   &shown, &err),
                &err);
    assert_string_equal(json_string_value(json_object_get(shown, "subject")), "1002: {sorry}");
    assert_string_equal(json_string_value(json_object_get(shown, "body")),
                        "J\xC3\xB6rg Bostr, 2 of Amber Lantern.\n");
    json_decref(shown);
    /* Every text that comes with the program fills wholly, for an invented notice. */
    static const char *const kinds[] = { "delay", "short", "substitute", "refund", "cancelled", "recall" };
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        cw_check_ok(cw_notices_preview(t.n, &t.who, kinds[i], NULL, NULL, NULL, 0, &shown, &err), &err);
        assert_null(strchr(json_string_value(json_object_get(shown, "body")), '{'));
        json_decref(shown);
    }
    test_nursery_free(&t);
}

/* By the door by which orders come in; "" takes it back. */
static void say_language(test_nursery *t, const char *order, const char *language)
{
    char csv[200];
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { 0 };
    cw_table answer = { 0 };
    int n = snprintf(csv, sizeof csv,
                     "order,received_at,line,variety,quantity,unit_price,language\n"
                     "%s,2032-01-06T11:00:00Z,1,AMB,3,6.55,%s\n",
                     order, language);
    cw_intake_file f = { .name = "orders.csv", .bytes = csv, .length = (size_t)n };
    cw_intake_options changes = { .changes = true };
    cw_check_ok(cw_intake_load(t->n, &t->who, &f, 1, &changes, &answer, &errors, &err), &err);
    cw_table_free(&answer);
    cw_error_list_free(&errors);
}

static void do_sql(test_nursery *t, const char *sql)
{
    sqlite3 *raw = NULL;
    assert_int_equal(sqlite3_open(t->path, &raw), SQLITE_OK);
    if (sqlite3_exec(raw, sql, NULL, NULL, NULL) != SQLITE_OK)
        fail_msg("%s: %s", sql, sqlite3_errmsg(raw));
    sqlite3_close(raw);
}

/* What the shipped letters say, whole, of one buyer in each language, and of one whose order names none: the nursery's. The day is
 * Sunday 1 February 2032; the refund of 13.10 is due seven working days later. */
static void each_buyer_reads_their_own_language(void **state)
{
    static const struct {
        const char *set, *order, *language, *subject, *line;
    } rows[] = {
        { "en", "", "", "Your order 1002: your refund of 13.10 USD", "10 February 2032 at the latest" },
        { "en", "de", "", "Ihre Bestellung 1002: Ihre Erstattung von 13,10 USD",
          "für 2 × Amber Lantern (wir können nicht liefern). Wir senden das Geld auf dem Weg zurück, auf dem "
          "Sie "
          "bezahlt\nhaben, spätestens am 10. Februar 2032." },
        { "en", "fr", "", "Votre commande 1002 : votre remboursement de 13,10 USD",
          "plus\ntard le 10 février 2032" },
        { "en", "nl", "", "Uw bestelling 1002: uw terugbetaling van 13,10 USD",
          "uiterlijk 10 februari 2032" },
        { "nl", "", "", "Uw bestelling 1002: uw terugbetaling van 13,10 USD", "uiterlijk 10 februari 2032" },
        { "nl", "en", "", "Your order 1002: your refund of 13.10 USD", "10 February 2032 at the latest" },
        { "nl", "de", "en", "Your order 1002: your refund of 13.10 USD", "10 February 2032 at the latest" },
    };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    json_t *shown = NULL;
    (void)state;
    make(&t);
    make_firm(&t, "first-come", "AMB");
    look(&t);
    int64_t id = find(&t, "1002", 1, "refund").id;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_check_ok(cw_nursery_set(t.n, &t.who, "language", rows[i].set, &err), &err);
        say_language(&t, "1002", rows[i].order);
        cw_check_ok(cw_notices_preview(t.n, &t.who, "refund", rows[i].language, NULL, NULL, id, &shown, &err),
                    &err);
        assert_string_equal(json_string_value(json_object_get(shown, "subject")), rows[i].subject);
        if (strstr(json_string_value(json_object_get(shown, "body")), rows[i].line) == NULL)
            fail_msg("%zu: not said: %s\n%s", i, rows[i].line,
                     json_string_value(json_object_get(shown, "body")));
        json_decref(shown);
    }
    assert_int_equal(cw_nursery_set(t.n, &t.who, "language", "tlh", &err), CW_REFUSED);
    err = (cw_error)CW_ERROR_NONE;
    /* The nursery's own text of a language stands before the one that came with the program, in that language only. */
    cw_check_ok(cw_notices_template_set(t.n, &t.who, "refund", "fr", "{order} !", "{amount}\n", &err), &err);
    say_language(&t, "1002", "fr");
    cw_check_ok(cw_notices_preview(t.n, &t.who, "refund", NULL, NULL, NULL, id, &shown, &err), &err);
    assert_string_equal(json_string_value(json_object_get(shown, "body")), "13,10\n");
    json_decref(shown);
    say_language(&t, "1002", "nl");
    cw_check_ok(cw_notices_preview(t.n, &t.who, "refund", NULL, NULL, NULL, id, &shown, &err), &err);
    assert_string_equal(json_string_value(json_object_get(shown, "subject")), rows[3].subject);
    json_decref(shown);
    test_nursery_free(&t);
}

/* Of every kind in every language nothing is left to fill in, no word of the data stands for a sentence, and each is its own. */
static void every_letter_in_every_language(void **state)
{
    static const char *const kinds[] = { "delay", "short", "substitute", "refund", "cancelled", "recall" };
    static const char *const languages[] = { "de", "en", "fr", "nl" };
    static const char *const greetings[] = { "Guten Tag ", "Dear ", "Bonjour ", "Beste " };
    static const char *const raw[] = { "{", "consents", "undelivered", ": part.", "2032-" };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    json_t *shown = NULL;
    (void)state;
    make(&t);
    for (size_t k = 0; k < 6; k++)
        for (size_t l = 0; l < 4; l++) {
            cw_check_ok(cw_notices_preview(t.n, &t.who, kinds[k], languages[l], NULL, NULL, 0, &shown, &err),
                        &err);
            const char *body = json_string_value(json_object_get(shown, "body"));
            if (strncmp(body, greetings[l], strlen(greetings[l])) != 0)
                fail_msg("%s in %s: %s", kinds[k], languages[l], body);
            for (size_t r = 0; r < sizeof raw / sizeof raw[0]; r++)
                if (strstr(body, raw[r]))
                    fail_msg("%s in %s says \"%s\": %s", kinds[k], languages[l], raw[r], body);
            json_decref(shown);
        }
    test_nursery_free(&t);
}

/* What was on record before letters had languages: days and set phrases in English words. */
static void older_notices_are_read_in_the_language_too(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    json_t *shown = NULL;
    (void)state;
    make(&t);
    make_firm(&t, "first-come", "AMB");
    look(&t);
    int64_t id = find(&t, "1002", 1, "refund").id;
    say_language(&t, "1002", "de");
    static const struct {
        const char *kind, *detail, *said;
    } rows[] = {
        { "refund", "{\"why\":\"that we cannot deliver\",\"refund_by\":\"1 March 2032\"}",
          "(wir können nicht liefern)" },
        { "refund", "{\"why\":\"that failed with you\",\"refund_by\":\"1 March 2032\"}", "am 1. März 2032." },
        { "delay", "{\"promised\":\"23 April 2032\",\"expected\":\"by 7 May 2032\"}",
          "dem Versand bis zum 7. Mai 2032." },
        { "delay", "{\"expected\":\"on a day that we do not know yet\"}",
          "an einem Tag, den wir noch nicht kennen." },
        { "recall", "{\"row\":\"not written down\"}", "Reihe nicht notiert," },
        { "recall", "{\"row\":\"\"}", "Reihe nicht notiert," },
        { "short", "{\"promised\":\"3\",\"asked\":\"5\"}", "haben Sie 5 bestellt, und wir haben 3 für Sie" },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char sql[400];
        snprintf(sql, sizeof sql, "UPDATE notice SET detail = '%s' WHERE id = %lld", rows[i].detail,
                 (long long)id);
        do_sql(&t, sql);
        cw_check_ok(cw_notices_preview(t.n, &t.who, rows[i].kind, NULL, NULL, NULL, id, &shown, &err), &err);
        if (strstr(json_string_value(json_object_get(shown, "body")), rows[i].said) == NULL)
            fail_msg("not said: %s\n%s", rows[i].said, json_string_value(json_object_get(shown, "body")));
        json_decref(shown);
    }
    test_nursery_free(&t);
}

static void messages_and_mail_merge(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_text eml = CW_TEXT(1 << 20);
    cw_table merge;
    (void)state;
    make(&t);
    make_firm(&t, "first-come", NULL);
    look(&t);
    int64_t id = find(&t, "1002", 1, "short").id;
    assert_int_equal(cw_notices_message(t.n, &t.who, id, &eml, &err), CW_REFUSED);
    assert_string_equal(err.column, "sender");
    err = (cw_error)CW_ERROR_NONE;
    static const char *const bad[] = { "Blue Gate", "office@", "a@b c",
                                       "office@example.com, other@example.com" };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) { /* told when it is typed, not in April */
        assert_int_equal(cw_nursery_set(t.n, &t.who, "sender", bad[i], &err), CW_REFUSED);
        assert_string_equal(err.column, "sender");
        err = (cw_error)CW_ERROR_NONE;
    }
    cw_check_ok(cw_nursery_set(t.n, &t.who, "sender", "", &err), &err);
    cw_check_ok(cw_nursery_set(t.n, &t.who, "sender", "Blue Gate <office@example.com>", &err), &err);
    cw_check_ok(cw_nursery_set(t.n, &t.who, "name", "Blue Gate", &err), &err);
    cw_check_ok(cw_notices_message(t.n, &t.who, id, &eml, &err), &err);
    assert_non_null(strstr(eml.data, "\r\nTo: =?UTF-8?B?SsO2cmcgQm9zdHI=?=\r\n <bo@example.org>\r\n"));
    assert_non_null(strstr(eml.data, "\r\nDear J=C3=B6rg Bostr,\r\n"));
    assert_non_null(strstr(eml.data, "10 February 2032")); /* days stand in letters as people write them */
    assert_null(strstr(eml.data, "2032-02-10"));
    cw_text_clear(&eml);
    assert_int_equal(cw_notices_message(t.n, &t.who, find(&t, "1003", 1, "short").id, &eml, &err),
                     CW_REFUSED);
    assert_string_equal(err.column, "to"); /* no address */
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_notices_merge(t.n, &t.who, "due", CW_NO_DAY, &merge, &err), &err);
    assert_int_equal(cw_table_rows(&merge), 4);
    assert_string_equal(cw_table_text(&merge, 0, 10), "USD");
    cw_table_free(&merge);
    cw_text_free(&eml);
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
        cmocka_unit_test(every_word_of_a_notice),
        cmocka_unit_test(texts_are_the_nurserys),
        cmocka_unit_test(each_buyer_reads_their_own_language),
        cmocka_unit_test(every_letter_in_every_language),
        cmocka_unit_test(older_notices_are_read_in_the_language_too),
        cmocka_unit_test(messages_and_mail_merge),
        cmocka_unit_test(the_demo_season_is_told_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* SPDX-License-Identifier: MIT */
/* Guarantee claims: no more than was received, replaced from a lot that is traced, or refunded to the cent. Invented data;
 * sql/checks.sql runs after every step. */
#include "support/picking.h"

#include "desk/buyers/claims.h"
#include "desk/orders/notices.h"
#include "desk/orders/ordering.h"
#include "desk/stock/tracing.h"

#include "base/banned.h"

/* Orders 1001 (2 AMB, 1 BRI) and 1002 (3 AMB) are pulled, packed and gone. Of AMB 8 - 5 = 3 are left, one of them promised to
 * 1003; the one BRI that is left is promised to 1005. */
static void make(test_nursery *t)
{
    static const struct {
        const char *order;
        int64_t count;
    } parcels[] = { { "1001", 3 }, { "1002", 3 } };
    cw_error err = CW_ERROR_NONE;
    char outcome[16], key[32], sql[80];
    int64_t pick, rest;
    picking_make(t);
    wave_make(t);
    while ((pick = number_of(t, "SELECT id FROM pick WHERE state = 'open' ORDER BY id LIMIT 1")) !=
           INT64_MIN) {
        snprintf(sql, sizeof sql, "SELECT quantity FROM pick WHERE id = %lld", (long long)pick);
        snprintf(key, sizeof key, "key-%lld", (long long)pick);
        answer(t, "Marta", key, pick, number_of(t, sql), NULL, outcome);
    }
    for (size_t i = 0; i < 2; i++) {
        cw_packing_count c = { .count = parcels[i].count, .weight_g = 500 };
        cw_check_ok(cw_packing_pack(t->n, &t->who, parcel_of(t, parcels[i].order), &c, &err), &err);
        cw_check_ok(cw_packing_ship(t->n, &t->who, parcel_of(t, parcels[i].order),
                                    &(cw_packing_sent){ "road", parcels[i].order, false, t->who.today },
                                    &rest, &err),
                    &err);
    }
    load_text(t, "varieties.csv", "code,name,reserve\nAMB,Amber Lantern,1\n");
}

static cw_code claim(test_nursery *t, cw_claim_ask ask, cw_error *err)
{
    int64_t id = 0;
    *err = (cw_error)CW_ERROR_NONE;
    cw_code code = cw_claims_add(t->n, &t->who, &ask, &id, err);
    test_nursery_check(t);
    return code;
}

static void only_what_was_received_is_claimed(void **state)
{
    static const struct {
        const char *what;
        cw_claim_ask ask;
        cw_code code;
        const char *sentence; /* "" when it is taken */
    } rows[] = {
        { "more than received",
          { "1001", 1, 3, "soft", "refund", NULL, NULL },
          CW_CONFLICT,
          "received 2, 0 of them" },
        { "nothing received", { "1003", 1, 1, "soft", "refund", NULL, NULL }, CW_CONFLICT, "received 0" },
        { "no such line", { "1001", 9, 1, "soft", NULL, NULL, NULL }, CW_NOT_FOUND, "no line 9" },
        { "no such order", { "9", 1, 1, "soft", NULL, NULL, NULL }, CW_NOT_FOUND, "no order 9" },
        { "none", { "1001", 1, 0, "soft", NULL, NULL, NULL }, CW_REFUSED, "between 1 and" },
        { "without a word", { "1001", 1, 1, "", NULL, NULL, NULL }, CW_REFUSED, "what the buyer says" },
        { "an unknown answer",
          { "1001", 1, 1, "soft", "perhaps", NULL, NULL },
          CW_REFUSED,
          "replace, refund or refused" },
        { "refused without a reason",
          { "1001", 1, 1, "soft", "refused", NULL, NULL },
          CW_REFUSED,
          "needs a reason" },
        { "refunded from a lot",
          { "1001", 1, 1, "soft", "refund", "L1", NULL },
          CW_REFUSED,
          "comes from a lot" },
        { "replaced by another variety",
          { "1001", 1, 1, "soft", "replace", "L2", NULL },
          CW_CONFLICT,
          "cannot replace 1" },
        { "replaced by what is promised",
          { "1001", 2, 1, "no eye", "replace", NULL, NULL },
          CW_CONFLICT,
          "only 0 of BRI" },
        { "refused", { "1001", 1, 2, "soft", "refused", NULL, "planted in March frost" }, CW_OK, "" },
        { "refused ones may be claimed again", { "1001", 1, 1, "soft", "replace", NULL, NULL }, CW_OK, "" },
        { "refund", { "1001", 2, 1, "no eye", "refund", NULL, NULL }, CW_OK, "" },
        { "claimed already",
          { "1001", 2, 1, "no eye", "refund", NULL, NULL },
          CW_CONFLICT,
          "received 1, 1 of them" },
        { "open for now", { "1002", 1, 2, "dry", NULL, NULL, NULL }, CW_OK, "" },
        { "beyond what is open",
          { "1002", 1, 2, "dry", NULL, NULL, NULL },
          CW_CONFLICT,
          "received 3, 2 of them" },
    };
    test_nursery t;
    cw_error err;
    (void)state;
    make(&t);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_code code = claim(&t, rows[i].ask, &err);
        if (code != rows[i].code || (code != CW_OK && strstr(err.text, rows[i].sentence) == NULL))
            fail_msg("%s: %d %s", rows[i].what, (int)code, err.text);
    }
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM claim"), 4);
    cw_asker packer = t.who;
    int64_t id;
    packer.role = CW_ROLE_PACKER;
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(cw_claims_add(t.n, &packer, &rows[0].ask, &id, &err), CW_FORBIDDEN);
    test_nursery_free(&t);
}

static void pull_all(test_nursery *t)
{
    int64_t pick;
    char outcome[16], key[32], sql[80];
    while ((pick = number_of(t, "SELECT id FROM pick WHERE state = 'open' ORDER BY id LIMIT 1")) !=
           INT64_MIN) {
        snprintf(sql, sizeof sql, "SELECT quantity FROM pick WHERE id = %lld", (long long)pick);
        snprintf(key, sizeof key, "again-%lld", (long long)pick);
        answer(t, "Marta", key, pick, number_of(t, sql), NULL, outcome);
    }
}

/* One AMB is replaced out of the reserve of one: promised at once, on the next wave's walk, in a parcel with a tracking number,
 * and the lot's trace finds the buyer twice. Held, the lot is recalled from everyone who received of it. */
static void a_replacement_leaves_as_any_order(void **state)
{
    static const char *const lots[] = { NULL, "L3",
                                        "L1" }; /* as the walk finds them, and as the office says */
    (void)state;
    for (size_t i = 0; i < 3; i++) {
        test_nursery t;
        cw_error err;
        cw_table rows;
        cw_notices_made m;
        char lot[CW_MAX_CODE + 1];
        make(&t);
        count_lot(&t, "L1", "2032-02-01", 4); /* either lot has enough */
        int64_t before = lot_has(&t, "L1") + lot_has(&t, "L3");
        int64_t sold = number_of(
            &t, "SELECT sold FROM offering o JOIN variety v ON v.id = o.variety_id WHERE v.code = 'AMB'");
        assert_int_equal(
            claim(&t, (cw_claim_ask){ "1001", 1, 1, "soft", "replace", lots[i], "gladly" }, &err), CW_OK);
        assert_int_equal(number_of(&t, "SELECT reserve FROM variety WHERE code = 'AMB'"), 0);
        assert_int_equal(promised(&t, "1001-R1", 1), 1);
        assert_int_equal(
            number_of(
                &t, "SELECT sold FROM offering o JOIN variety v ON v.id = o.variety_id WHERE v.code = 'AMB'"),
            sold);
        assert_int_equal(lot_has(&t, "L1") + lot_has(&t, "L3"),
                         before); /* it lies there until it is pulled */
        wave_make(&t);
        assert_int_equal(
            number_of(&t,
                      "SELECT COUNT(*) FROM pick WHERE state = 'open' AND line_id = (SELECT l.id FROM line l "
                      "JOIN orders o ON o.id = l.order_id WHERE o.number = '1001-R1')"),
            1);
        pull_all(&t);
        assert_int_equal(lot_has(&t, "L1") + lot_has(&t, "L3"), before - 1);
        cw_packing_count c = { .count = 1 };
        int64_t rest = 0, parcel = parcel_of(&t, "1001-R1");
        cw_check_ok(cw_packing_pack(t.n, &t.who, parcel, &c, &err), &err);
        cw_check_ok(cw_packing_ship(t.n, &t.who, parcel,
                                    &(cw_packing_sent){ "road", "T-77", false, t.who.today }, &rest, &err),
                    &err);
        test_nursery_check(&t);
        assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM orders WHERE number = '1001-R1' AND state = "
                                       "'shipped' AND customer = 'Ada'"),
                         1);
        cw_check_ok(cw_claims_list(t.n, &t.who, "replace", &rows, &err), &err);
        assert_string_equal(cw_table_text(&rows, 0, 12), "gladly");
        assert_string_equal(cw_table_text(&rows, 0, 15), "1001-R1");
        cw_copy(lot, sizeof lot, cw_table_text(&rows, 0, 10));
        cw_table_free(&rows);
        if (lots[i])
            assert_string_equal(lot, lots[i]);
        cw_check_ok(cw_tracing_order(t.n, &t.who, "1001", &rows, &err), &err);
        int64_t by_claim = 0;
        for (size_t r = 0; r < cw_table_rows(&rows); r++)
            by_claim += strcmp(cw_table_text(&rows, r, 15), "claim") == 0 &&
                        strcmp(cw_table_text(&rows, r, 0), lot) == 0 &&
                        strcmp(cw_table_text(&rows, r, 12), "shipped") == 0;
        assert_int_equal(by_claim, 1);
        cw_table_free(&rows);
        cw_check_ok(cw_tracing_hold(t.n, &t.who, lot, "leaf spots in the row", &err), &err);
        cw_check_ok(cw_notices_make(t.n, &t.who, &m, &err), &err);
        char sql[400];
        snprintf(sql, sizeof sql,
                 "SELECT (SELECT COUNT(*) FROM notice WHERE kind = 'recall') - (SELECT COUNT(DISTINCT "
                 "k.line_id) FROM pick k "
                 "JOIN parcel p ON p.id = k.parcel_id JOIN lot l ON l.id = k.lot_id WHERE l.code = '%s' AND "
                 "k.taken > 0 AND "
                 "p.state = 'shipped')",
                 lot);
        assert_int_equal(number_of(&t, sql), 0);
        assert_true(
            number_of(
                &t,
                "SELECT COUNT(*) FROM notice n JOIN orders o ON o.id = n.order_id WHERE n.kind = 'recall' "
                "AND o.number = '1001-R1'") == 1);
        test_nursery_check(&t);
        test_nursery_free(&t);
    }
}

/* Cancelled before it left, the claim is open again and the reserve whole; the run before it can still be undone. */
static void a_replacement_that_is_cancelled_opens_its_claim(void **state)
{
    test_nursery t;
    cw_error err;
    (void)state;
    make(&t);
    static const char sold[] =
        "SELECT o.sold FROM offering o JOIN variety v ON v.id = o.variety_id WHERE v.code = 'AMB'";
    int64_t before = number_of(&t, sold);
    assert_int_equal(claim(&t, (cw_claim_ask){ "1001", 1, 1, "soft", NULL, NULL, NULL }, &err), CW_OK);
    assert_int_equal(claim(&t, (cw_claim_ask){ "1002", 1, 1, "dry", "refund", NULL, "sorry" }, &err), CW_OK);
    cw_check_ok(cw_claims_answer(t.n, &t.who, 1, "replace", NULL, NULL, &err), &err);
    rows_are(&t, "SELECT number, customer FROM orders WHERE replaces NOT NULL", "1001-R1|Ada\n");
    assert_int_equal(cw_ordering_change(t.n, &t.who, "1001-R1", 1, 2, "two", &err), CW_CONFLICT);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1001-R1", 0, "refund instead", &err), &err);
    test_nursery_check(&t);
    assert_int_equal(number_of(&t, "SELECT reserve FROM variety WHERE code = 'AMB'"), 1);
    assert_int_equal(
        number_of(&t, "SELECT COUNT(*) FROM claim WHERE answer = 'open' AND replacement_id IS NULL"), 1);
    rows_are(&t, "SELECT id, answer, reply, amount FROM claim ORDER BY id",
             "1|open||0\n2|refund|sorry|650\n");
    assert_int_equal(number_of(&t, sold), before); /* what replaces was never sold */
    cw_check_ok(cw_claims_answer(t.n, &t.who, 1, "refund", NULL, NULL, &err), &err);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* Who claimed what, how it was answered, and what it cost the reserve. What is only paid back moves no stock. */
static void each_answer_is_on_record(void **state)
{
    test_nursery t;
    cw_error err;
    cw_revision before, after;
    char sql[160];
    (void)state;
    make(&t);
    int64_t since = number_of(&t, "SELECT MAX(id) FROM audit");
    cw_check_ok((err = (cw_error)CW_ERROR_NONE, cw_nursery_revision(t.n, &before, &err)), &err);
    assert_int_equal(claim(&t, (cw_claim_ask){ "1002", 1, 2, "dry", NULL, NULL, NULL }, &err), CW_OK);
    cw_check_ok(cw_claims_answer(t.n, &t.who, 1, "refund", NULL, "sorry", &err), &err);
    assert_int_equal(claim(&t, (cw_claim_ask){ "1001", 2, 1, "mould", NULL, NULL, NULL }, &err), CW_OK);
    cw_check_ok(cw_claims_answer(t.n, &t.who, 2, "refused", NULL, "too late", &err), &err);
    cw_check_ok(cw_nursery_revision(t.n, &after, &err), &err);
    assert_int_equal(after.stock, before.stock);
    assert_true(after.trade > before.trade);
    assert_int_equal(claim(&t, (cw_claim_ask){ "1001", 1, 1, "soft", "replace", "L3", "gladly" }, &err),
                     CW_OK);
    cw_check_ok(cw_nursery_revision(t.n, &after, &err), &err);
    assert_true(after.stock > before.stock);
    snprintf(sql, sizeof sql, "SELECT actor, action, subject, before, after FROM audit WHERE id > %lld",
             (long long)since);
    rows_are(&t, sql,
             "tester|claim|claim 1 of order 1002||line 1, 2 failed\n"
             "tester|refund|claim 1 of order 1002|open|2 refunded: 13.00\n"
             "tester|claim|claim 2 of order 1001||line 2, 1 failed\n"
             "tester|refused|claim 2 of order 1001|open|1 refused\n"
             "tester|claim|claim 3 of order 1001||line 1, 1 failed\n"
             "tester|use reserve|AMB|reserve 1|reserve 0\n"
             "tester|replace|claim 3 of order 1001|open|1 replaced: order 1001-R3\n");
    rows_are(&t,
             "SELECT o.number, l.line, e.actor, e.kind, e.before, e.after, e.note FROM order_event e "
             "JOIN orders o ON o.id = e.order_id LEFT JOIN line l ON l.id = e.line_id WHERE e.kind = 'claim' "
             "ORDER BY e.id",
             "1002|1|tester|claim||2 refunded: 13.00|sorry\n"
             "1001|2|tester|claim||1 refused|too late\n"
             "1001|1|tester|claim||1 replaced: order 1001-R3|gladly\n");
    rows_are(&t,
             "SELECT c.id, o.number, l.line, c.quantity, c.actor, c.why, c.answer, g.code, c.amount, "
             "c.reply, c.answered_at, "
             "c.answered_by, r.number, c.reserve_used FROM claim c JOIN orders o ON o.id = c.order_id JOIN "
             "line l ON l.id = "
             "c.line_id LEFT JOIN lot g ON g.id = c.lot_id LEFT JOIN orders r ON r.id = c.replacement_id "
             "ORDER BY c.id",
             "1|1002|1|2|tester|dry|refund||1300|sorry|1959249600000|tester||0\n"
             "2|1001|2|1|tester|mould|refused||0|too late|1959249600000|tester||0\n"
             "3|1001|1|1|tester|soft|replace|L3|0|gladly|1959249600000|tester|1001-R3|1\n");
    rows_are(&t,
             "SELECT o.number, o.channel, o.tier, o.customer, o.country, o.zone, l.line, v.code, l.quantity, "
             "l.unit_price "
             "FROM orders o JOIN line l ON l.order_id = o.id JOIN variety v ON v.id = l.variety_id WHERE "
             "o.replaces NOT NULL",
             "1001-R3|claim|retail|Ada|US|z7|1|AMB|1|0\n");
    cw_notices_made m;
    cw_check_ok(cw_notices_make(t.n, &t.who, &m, &err), &err);
    rows_are(&t,
             "SELECT o.number, n.kind, date(n.due_on * 86400, 'unixepoch'), n.amount, n.fact, n.detail FROM "
             "notice n "
             "JOIN orders o ON o.id = n.order_id WHERE n.fact LIKE 'refund:claim%'",
             "1002|refund|2032-02-10|1300|refund:claim:1|{\"variety\":\"Amber "
             "Lantern\",\"code\":\"AMB\",\"quantity\":\"2\",\"why\":\"failed\",\"refund_by\":\"2032-"
             "02-10\",\"sentence\":\"13.00 owed for 2 of Amber Lantern under the guarantee\"}\n");
    test_nursery_free(&t);
}

/* Of lot L1 two went to 1001 and three to 1002, and one more when replacements left without an order of their own. */
static void who_received_of_a_held_lot_is_told(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_notices_made m;
    sqlite3 *raw = NULL;
    (void)state;
    make(&t);
    assert_int_equal(claim(&t, (cw_claim_ask){ "1001", 1, 1, "dry", "refused", NULL, "no" }, &err), CW_OK);
    assert_int_equal(sqlite3_open(t.path, &raw), SQLITE_OK);
    if (sqlite3_exec(
            raw,
            "INSERT INTO claim (order_id, line_id, quantity, at, actor, why, answer, lot_id, answered_at, "
            "answered_by) "
            "SELECT o.id, l.id, 1, 0, 'x', 'soft', 'replace', g.id, 0, 'x' FROM orders o JOIN line l ON "
            "l.order_id = o.id, lot g WHERE o.number = '1002' AND g.code = 'L1';"
            "UPDATE lot SET row = 'r7' WHERE code = 'L1'",
            NULL, NULL, NULL) != SQLITE_OK)
        fail_msg("%s", sqlite3_errmsg(raw));
    sqlite3_close(raw);
    cw_check_ok(cw_tracing_hold(t.n, &t.who, "L1", "leaf spots", &err), &err);
    cw_check_ok(cw_notices_make(t.n, &t.who, &m, &err), &err);
    rows_are(
        &t,
        "SELECT o.number, l.line, date(n.due_on * 86400, 'unixepoch'), n.detail FROM notice n JOIN orders o "
        "ON o.id = "
        "n.order_id JOIN line l ON l.id = n.line_id WHERE n.kind = 'recall' ORDER BY o.number",
        "1001|1|2032-02-01|{\"variety\":\"Amber Lantern\",\"lot\":\"L1\",\"row\":\"r7\",\"reason\":\"leaf "
        "spots\",\"quantity\":\"2\",\"sentence\":\"received 2 of Amber Lantern from lot L1, which is held: "
        "leaf spots\"}\n"
        "1002|1|2032-02-01|{\"variety\":\"Amber Lantern\",\"lot\":\"L1\",\"row\":\"r7\",\"reason\":\"leaf "
        "spots\",\"quantity\":\"4\",\"sentence\":\"received 4 of Amber Lantern from lot L1, which is held: "
        "leaf spots\"}\n");
    test_nursery_free(&t);
}

/* 8.00 for one BRI: a notice, a row of the register, and after it was sent nothing is left. */
static void a_refund_is_owed_until_it_is_sent(void **state)
{
    test_nursery t;
    cw_error err;
    cw_table owed;
    cw_notices_made m;
    (void)state;
    make(&t);
    assert_int_equal(claim(&t, (cw_claim_ask){ "1001", 2, 1, "no eye", NULL, NULL, NULL }, &err), CW_OK);
    cw_check_ok(cw_claims_answer(t.n, &t.who, 1, "refund", NULL, NULL, &err), &err);
    assert_int_equal(cw_claims_answer(t.n, &t.who, 1, "refund", NULL, NULL, &err), CW_CONFLICT);
    static const char *const wrong[][3] = { { "praise", NULL, NULL },
                                            { "refused", NULL, NULL },
                                            { "refused", NULL, "" },
                                            { "refund", "L3", NULL },
                                            { NULL, NULL, NULL } };
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        err = (cw_error)CW_ERROR_NONE;
        assert_int_equal(cw_claims_answer(t.n, &t.who, 1, wrong[i][0], wrong[i][1], wrong[i][2], &err),
                         CW_REFUSED);
    }
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_notices_make(t.n, &t.who, &m, &err), &err);
    assert_int_equal(
        number_of(&t, "SELECT amount FROM notice WHERE kind = 'refund' AND fact = 'refund:claim:1'"), 800);
    cw_check_ok(cw_notices_refunds(t.n, &t.who, false, &owed, &err), &err);
    assert_int_equal(cw_table_rows(&owed), 1);
    assert_string_equal(cw_table_text(&owed, 0, 5), "guarantee claim");
    assert_int_equal(cw_table_int(&owed, 0, 11), 800);
    cw_table_free(&owed);
    cw_check_ok(cw_notices_sent(t.n, &t.who, number_of(&t, "SELECT id FROM notice WHERE kind = 'refund'"),
                                "bank", &err),
                &err);
    cw_check_ok(cw_notices_refunds(t.n, &t.who, false, &owed, &err), &err);
    assert_int_equal(cw_table_rows(&owed), 0);
    cw_table_free(&owed);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* Two of AMB at 6.50. */
static void a_refund_is_for_each_that_failed(void **state)
{
    test_nursery t;
    cw_error err;
    cw_notices_made m;
    (void)state;
    make(&t);
    assert_int_equal(claim(&t, (cw_claim_ask){ "1001", 1, 2, "soft", "refund", NULL, NULL }, &err), CW_OK);
    assert_int_equal(number_of(&t, "SELECT amount FROM claim"), 1300);
    cw_check_ok(cw_notices_make(t.n, &t.who, &m, &err), &err);
    assert_int_equal(number_of(&t, "SELECT amount FROM notice WHERE kind = 'refund'"), 1300);
    test_nursery_free(&t);
}

/* What is not said as it must be, or by somebody who may not, claims nothing of a parcel; what is refused or left open moves nothing. */
static void who_claims_a_parcel_and_how(void **state)
{
    static const struct {
        const char *name;
        cw_claim_ask as;
        cw_role role;
        cw_code want;
        const char *says;
    } rows[] = {
        { "a packer", { .why = "frozen", .answer = "refund" }, CW_ROLE_PACKER, CW_FORBIDDEN, "take claims" },
        { "the cellar",
          { .why = "frozen", .answer = "refund" },
          CW_ROLE_CELLAR,
          CW_FORBIDDEN,
          "take claims" },
        { "no word",
          { .answer = "refund" },
          CW_ROLE_OFFICE,
          CW_REFUSED,
          "why: a claim needs what the buyer" },
        { "an empty word",
          { .why = "", .answer = "refund" },
          CW_ROLE_OFFICE,
          CW_REFUSED,
          "why: a claim needs" },
        { "another answer",
          { .why = "frozen", .answer = "gift" },
          CW_ROLE_OFFICE,
          CW_REFUSED,
          "answer: must be" },
        { "refused without a reason",
          { .why = "frozen", .answer = "refused" },
          CW_ROLE_OFFICE,
          CW_REFUSED,
          "reply: " },
        { "refused, an empty reason",
          { .why = "frozen", .answer = "refused", .reply = "" },
          CW_ROLE_OFFICE,
          CW_REFUSED,
          "reply: refusing a claim needs a reason" },
    };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_claims_done done;
    char line[400];
    (void)state;
    make(&t);
    int64_t parcel = parcel_of(&t, "1001");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_asker who = t.who;
        who.role = rows[i].role;
        err = (cw_error)CW_ERROR_NONE;
        cw_code code = cw_claims_parcel(t.n, &who, parcel, &rows[i].as, &done, &err);
        cw_error_line(&err, line, sizeof line);
        if (code != rows[i].want || strstr(line, rows[i].says) == NULL || done.claims || done.divisions)
            fail_msg("%s: %d %s", rows[i].name, code, line);
        rows_are(&t, "SELECT COUNT(*) FROM claim", "0\n");
    }
    err = (cw_error)CW_ERROR_NONE;
    cw_claim_ask as = { .why = "frozen", .answer = "refused", .reply = "the frost came after" };
    cw_check_ok(cw_claims_parcel(t.n, &t.who, parcel, &as, &done, &err), &err);
    test_nursery_check(&t);
    assert_int_equal(done.claims, 2);
    assert_int_equal(done.divisions, 3);
    assert_string_equal(done.replacement, "");
    rows_are(&t, "SELECT answer, why, reply, amount FROM claim ORDER BY id",
             "refused|frozen|the frost came after|0\nrefused|frozen|the frost came after|0\n");
    as = (cw_claim_ask){ .why =
                             "still frozen" }; /* what was refused may be claimed again, and answered later */
    cw_check_ok(cw_claims_parcel(t.n, &t.who, parcel, &as, &done, &err), &err);
    test_nursery_check(&t);
    rows_are(&t,
             "SELECT l.line, c.quantity, c.answer FROM claim c JOIN line l ON l.id = c.line_id ORDER BY c.id",
             "1|2|refused\n2|1|refused\n1|2|open\n2|1|open\n");
    assert_int_equal(cw_claims_parcel(t.n, &t.who, parcel, &as, &done, &err), CW_CONFLICT);
    assert_string_equal(err.text, "all that this parcel of order 1001 brought is claimed already");
    assert_int_equal(done.claims + done.divisions, 0);
    test_nursery_free(&t);
}

/* All of a parcel froze: one claim, each line of it on record, refunded or replaced in one order. */
static void a_whole_parcel_is_one_claim(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_claims_done done;
    (void)state;
    make(&t);
    load_text(&t, "lots.csv",
              "lot,variety,dug_on,clumps,place\nL8,AMB,2031-10-20,0,C2\nL9,BRI,2031-10-20,0,C1\n");
    count_lot(&t, "L8", "2032-01-20", 9);
    count_lot(&t, "L9", "2032-01-20", 9);
    int64_t parcel = parcel_of(&t, "1001");
    cw_claim_ask as = { .why = "frozen", .answer = "replace" };
    assert_int_equal(cw_claims_parcel(t.n, &t.who, parcel_of(&t, "1004"), &as, &done, &err), CW_CONFLICT);
    assert_non_null(strstr(err.text, "has not left"));
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_claims_parcel(t.n, &t.who, parcel, &as, &done, &err), &err);
    test_nursery_check(&t);
    assert_int_equal(done.claims, 2);
    assert_int_equal(done.divisions, 3);
    rows_are(
        &t,
        "SELECT l.line, v.code, l.quantity FROM line l JOIN orders o ON o.id = l.order_id JOIN variety v ON "
        "v.id = l.variety_id WHERE o.replaces IS NOT NULL ORDER BY l.line",
        "1|AMB|2\n2|BRI|1\n");
    print_message("claimed already\n");
    assert_int_equal(cw_claims_parcel(t.n, &t.who, parcel, &as, &done, &err), CW_CONFLICT);
    print_message("one line of the replacement is called off: its claim is open again, the other's is not\n");
    char number[40];
    snprintf(number, sizeof number, "1001-R%lld", (long long)number_of(&t, "SELECT MIN(id) FROM claim"));
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, number, 2, "none to be had", &err), &err);
    test_nursery_check(&t);
    rows_are(&t, "SELECT answer FROM claim ORDER BY id", "replace\nopen\n");
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, number, 0, "none to be had", &err), &err);
    test_nursery_check(&t);
    rows_are(&t, "SELECT answer FROM claim ORDER BY id", "open\nopen\n");
    test_nursery_free(&t);

    print_message("refunded, one division of it being claimed before\n");
    make(&t);
    assert_int_equal(claim(&t, (cw_claim_ask){ "1001", 1, 1, "soft", "refund", NULL, NULL }, &err), CW_OK);
    as.answer = "refund";
    cw_check_ok(cw_claims_parcel(t.n, &t.who, parcel_of(&t, "1001"), &as, &done, &err), &err);
    test_nursery_check(&t);
    assert_int_equal(done.divisions, 2);
    assert_int_equal(number_of(&t, "SELECT SUM(amount) FROM claim"), 2100);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(only_what_was_received_is_claimed),
        cmocka_unit_test(a_replacement_leaves_as_any_order),
        cmocka_unit_test(a_replacement_that_is_cancelled_opens_its_claim),
        cmocka_unit_test(each_answer_is_on_record),
        cmocka_unit_test(who_received_of_a_held_lot_is_told),
        cmocka_unit_test(a_refund_is_owed_until_it_is_sent),
        cmocka_unit_test(a_refund_is_for_each_that_failed),
        cmocka_unit_test(who_claims_a_parcel_and_how),
        cmocka_unit_test(a_whole_parcel_is_one_claim),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

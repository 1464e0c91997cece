/* SPDX-License-Identifier: MIT */
/* What is offered, and what is sold of it: neither goes past the other. */
#include "support/offered_season.h"

#include "base/limits.h"
#include "desk/offer/offering.h"

#include "base/banned.h"

static void what_is_sold_stays_within_the_offer(void **state)
{
    test_nursery t;
    cw_intake_file f;
    (void)state;
    test_nursery_make(&t);
    ok(load_all(&t)); /* 3 of AMB are sold before any release */
    assert_int_equal(
        number_of(&t, "SELECT COUNT(*) FROM oversell WHERE why = 'taken before a release, from orders.csv'"),
        2);
    release(&t, "AMB", 10);
    loaded l = load_one(&t, "orders.csv",
                        ORDER_HEADER "7,2032-01-25T10:00:00Z,1,AMB,5,6\n7,2032-01-25T10:00:00Z,2,AMB,3,6\n");
    assert_int_equal(l.code, CW_CONFLICT);
    assert_string_equal(
        l.first, "orders.csv:3: quantity: only 2 of AMB are left (10 offered, 8 sold), 3 cannot be sold");
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM orders"), 2);
    l = load_one(&t, "orders.csv", ORDER_HEADER "7,2032-01-25T10:00:00Z,1,AMB,7,6\n");
    ok(l);
    f = file("orders.csv", ORDER_HEADER "8,2032-01-25T10:00:00Z,1,AMB,4,6\n");
    l = load_with(&t, &f, 1, (cw_intake_options){ .oversell = "promised by telephone" });
    ok(l);
    assert_int_equal(
        number_of(&t,
                  "SELECT beyond FROM offering o JOIN variety v ON v.id = o.variety_id WHERE code = 'AMB'"),
        4);
    assert_int_equal(number_of(&t, "SELECT quantity FROM oversell WHERE why = 'promised by telephone'"), 4);
    t.who.role = CW_ROLE_OFFICE;
    l = load_with(&t, &f, 1, (cw_intake_options){ .oversell = "promised by telephone" });
    assert_int_equal(l.code, CW_FORBIDDEN);
    test_nursery_free(&t);
}

/* 3 of AMB are sold: an offer may come down to them, not below; one that was below from the start may go up. */
static void an_offer_stays_above_what_is_sold(void **state)
{
    static const struct {
        const char *name;
        int64_t quantity;
        cw_code code;
    } rows[] = {
        { "above", 8, CW_OK },      { "just below what is sold", 2, CW_CONFLICT },
        { "none", 0, CW_CONFLICT }, { "what is sold", 3, CW_OK },
        { "up again", 9, CW_OK },
    };
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    ok(load_all(&t));
    release(&t, "AMB", 10);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_error err = CW_ERROR_NONE;
        cw_table out = { 0 };
        cw_offering_ask ask = {
            .confidence = 0.9, .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY, .rot = 1
        };
        const cw_offering_item item = { "AMB", rows[i].quantity };
        cw_code code = cw_offering_release(t.n, &t.who, &ask, &item, 1, "told", &out, &err);
        if (code != rows[i].code || (code != CW_OK && strstr(err.text, "already sold: 3 of AMB") == NULL))
            fail_msg("%s: %d %s", rows[i].name, (int)code, err.text);
        cw_table_free(&out);
    }
    assert_int_equal(
        number_of(&t,
                  "SELECT offered FROM offering o JOIN variety v ON v.id = o.variety_id WHERE code = 'AMB'"),
        9);
    test_nursery_free(&t);
}

/* By how sure one wants to be, by money, or by shares of the price: one of them, each within its limits. */
static void an_offer_is_asked_for_in_one_way(void **state)
{
    static const struct {
        double confidence;
        cw_cents margin, short_cost;
        double rot, margin_share, short_cost_share;
        cw_code code;
        const char *column, *said;
    } rows[] = {
        { -0.01, -1, -1, 1, 0, 0, CW_REFUSED, "confidence", "must lie above 0 and below 1: -0.01" },
        { 1, -1, -1, 1, 0, 0, CW_REFUSED, "confidence", "must lie above 0 and below 1: 1" },
        { 0.999, -1, -1, 1, 0, 0, CW_OK, "", "" },
        { 0, -1, -1, 1, 0, 0, CW_OK, "", "" },
        { 0, 0, 0, 1, 0, 0, CW_REFUSED, "",
          "margin and short cost are both 0, so nothing says how many to offer" },
        { 0, 0, 1, 1, 0, 0, CW_OK, "", "" },
        { 0, 1, 0, 1, 0, 0, CW_OK, "", "" },
        { 0, 1, -1, 1, 0, 0, CW_USAGE, "", "a margin and a short cost are given together" },
        { 0, -1, 0, 1, 0, 0, CW_USAGE, "", "a margin and a short cost are given together" },
        { 0.5, 1, 1, 1, 0, 0, CW_USAGE, "", "give a confidence, or a margin with a short cost, not both" },
        { 0, -1, -1, -0.5, 0, 0, CW_REFUSED, "rot",
          "must lie between 0 and 100 times what is projected: -0.5" },
        { 0, -1, -1, 100.5, 0, 0, CW_REFUSED, "rot",
          "must lie between 0 and 100 times what is projected: 100.5" },
        { 0, -1, -1, 100, 0, 0, CW_OK, "", "" },
        { 0, -1, -1, 0, 0, 0, CW_OK, "", "" },
        { 0, -1, -1, 1, -0.1, 0, CW_REFUSED, "margin_share", "must lie between 0 and 1: -0.1" },
        { 0, -1, -1, 1, 1.1, 0, CW_REFUSED, "margin_share", "must lie between 0 and 1: 1.1" },
        { 0, -1, -1, 1, 1, 0, CW_OK, "", "" },
        { 0, -1, -1, 1, 0, -0.1, CW_REFUSED, "short_cost_share", "must lie between 0 and 20: -0.1" },
        { 0, -1, -1, 1, 0, 20.5, CW_REFUSED, "short_cost_share", "must lie between 0 and 20: 20.5" },
        { 0, -1, -1, 1, 0, 20, CW_OK, "", "" },
        { 0.5, -1, -1, 1, 0.5, 0, CW_USAGE, "",
          "give a confidence, or money per division, or shares of the price: one of them" },
        { 0.5, -1, -1, 1, 0, 0.5, CW_USAGE, "",
          "give a confidence, or money per division, or shares of the price: one of them" },
        { 0, 1, 1, 1, 0.5, 0, CW_USAGE, "",
          "give a confidence, or money per division, or shares of the price: one of them" },
    };
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    load_text(&t, "varieties.csv", "code,name,price\nAMB,Amber Lantern,6.50\n");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_error err = CW_ERROR_NONE;
        cw_table out = { 0 };
        const cw_offering_ask ask = { .confidence = rows[i].confidence,
                                      .margin = rows[i].margin,
                                      .short_cost = rows[i].short_cost,
                                      .ship = CW_NO_DAY,
                                      .as_of = CW_NO_DAY,
                                      .rot = rows[i].rot,
                                      .margin_share = rows[i].margin_share,
                                      .short_cost_share = rows[i].short_cost_share };
        cw_code code = cw_offering_plan(t.n, &t.who, &ask, &out, &err);
        if (code != rows[i].code || strcmp(err.column, rows[i].column) != 0 ||
            strcmp(err.text, rows[i].said) != 0)
            fail_msg("row %zu: %d %s: %s", i, (int)code, err.column, err.text);
        cw_table_free(&out);
    }
    test_nursery_free(&t);
}

/* What may be put on offer, by whom, and what is on record then. */
static void what_may_be_released(void **state)
{
    const cw_offering_ask ask = {
        .confidence = 0.9, .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY, .rot = 1
    };
    static const cw_offering_try try_one = { .variety = "AMB", .hold_back = 1, .reserve = -1, .price = -1 };
    cw_offering_ask rot = ask, tries = ask;
    rot.rot = 2;
    tries.tries = &try_one;
    tries.n_tries = 1;
    const struct {
        const cw_offering_ask *ask;
        cw_offering_item item;
        cw_role role;
        cw_code code;
        const char *said;
    } rows[] = {
        { &ask, { "AMB", 5 }, CW_ROLE_OFFICE, CW_FORBIDDEN, "" },
        { &rot,
          { "AMB", 5 },
          CW_ROLE_OWNER,
          CW_USAGE,
          "what is only tried cannot be released: change the record first" },
        { &tries,
          { "AMB", 5 },
          CW_ROLE_OWNER,
          CW_USAGE,
          "what is only tried cannot be released: change the record first" },
        { &ask, { "ZZ", 5 }, CW_ROLE_OWNER, CW_NOT_FOUND, "there is no variety with the code ZZ" },
        { &ask, { "AMB", -1 }, CW_ROLE_OWNER, CW_REFUSED, "must lie between 0 and 10000000: -1 of AMB" },
        { &ask,
          { "AMB", CW_MAX_DIVISIONS + 1LL },
          CW_ROLE_OWNER,
          CW_REFUSED,
          "must lie between 0 and 10000000: 10000001 of AMB" },
        { &ask, { "BRI", 0 }, CW_ROLE_OWNER, CW_OK, "" },
        { &ask, { "AMB", 5 }, CW_ROLE_OWNER, CW_OK, "" },
        { &ask, { "AMB", 4 }, CW_ROLE_OWNER, CW_OK, "" },
    };
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    load_text(&t, "varieties.csv",
              "code,name,price,hold_back,reserve\nAMB,Amber Lantern,6.50,2,1\nBRI,Briar Song,8,0,0\n");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_error err = CW_ERROR_NONE;
        cw_table out = { 0 };
        t.who.role = rows[i].role;
        int64_t trade = number_of(&t, "SELECT trade_revision FROM nursery");
        cw_code code = cw_offering_release(t.n, &t.who, rows[i].ask, &rows[i].item, 1, "spring", &out, &err);
        if (code != rows[i].code || (rows[i].said[0] && strcmp(err.text, rows[i].said) != 0))
            fail_msg("row %zu: %d %s", i, (int)code, err.text);
        assert_int_equal(number_of(&t, "SELECT trade_revision FROM nursery") > trade, code == CW_OK);
        cw_table_free(&out);
    }
    rows_are(&t, "SELECT actor, subject, before, after FROM audit WHERE action = 'release' ORDER BY id",
             "tester|BRI|0|0\ntester|AMB|0|5\ntester|AMB|5|4\n");
    rows_are(
        &t,
        "SELECT v.code, r.before, r.offered, r.confidence, r.p_short, r.why, json_extract(r.basis, "
        "'$.hold_back'), "
        "json_extract(r.basis, '$.reserve'), json_extract(r.basis, '$.p90'), json_extract(r.basis, '$.ship') "
        "FROM release r JOIN variety v ON v.id = r.variety_id ORDER BY r.id",
        "BRI|0|0|0.9|0.0|spring|0|0|0|2032-04-19\nAMB|0|5|0.9|1.0|spring|2|1|0|2032-04-19\n"
        "AMB|5|4|0.9|1.0|spring|2|1|0|2032-04-19\n");
    rows_are(&t, "SELECT COUNT(*) FROM said WHERE why = 'release'", "1\n"); /* one a day */
    test_nursery_free(&t);
}

static void changes_are_made_only_when_asked_for(void **state)
{
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    ok(load_all(&t));
    cw_intake_file f = file("orders.csv", "order,received_at,line,variety,quantity,unit_price,customer\n"
                                          "1001,2032-01-20T10:00:00Z,1,BRI,4,8.00,Eve\n");
    loaded l = load_with(&t, &f, 1, (cw_intake_options){ .changes = true });
    ok(l);
    assert_int_equal(l.changed, 2); /* the order's customer, and the line */
    assert_int_equal(
        number_of(&t, "SELECT sold FROM offering o JOIN variety v ON v.id = o.variety_id WHERE code = 'AMB'"),
        0);
    assert_int_equal(
        number_of(&t, "SELECT sold FROM offering o JOIN variety v ON v.id = o.variety_id WHERE code = 'BRI'"),
        6);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM order_event WHERE before LIKE '3 of AMB at 6.50%'"),
                     1);
    /* Once more: nothing. */
    l = load_with(&t, &f, 1, (cw_intake_options){ .changes = true });
    ok(l);
    assert_int_equal(l.changed, 0);
    assert_int_equal(l.unchanged, 1);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_sold_stays_within_the_offer),
        cmocka_unit_test(an_offer_stays_above_what_is_sold),
        cmocka_unit_test(an_offer_is_asked_for_in_one_way),
        cmocka_unit_test(what_may_be_released),
        cmocka_unit_test(changes_are_made_only_when_asked_for),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

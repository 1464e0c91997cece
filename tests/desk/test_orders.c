/* SPDX-License-Identifier: MIT */
#include "support/intake.h"
#include "support/order_desk.h"

#include "base/limits.h"
#include "desk/export/exporting.h"
#include "desk/offer/offering.h"
#include "desk/orders/ordering.h"
#include "store/offers.h"
#include "columns/intake.h"
#include "store/statement_inside.h"
#include <sqlite3.h>

#include "base/banned.h"

static int64_t one_int(test_nursery *t, const char *sql)
{
    sqlite3 *raw = NULL;
    sqlite3_stmt *s = NULL;
    assert_int_equal(sqlite3_open_v2(t->path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(raw, sql, -1, &s, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(s), SQLITE_ROW);
    int64_t v = sqlite3_column_int64(s, 0);
    sqlite3_finalize(s);
    sqlite3_close(raw);
    return v;
}

static void release(test_nursery *t, const char *code, int64_t offered)
{
    cw_error err = CW_ERROR_NONE;
    bool found = false;
    int64_t before = 0;
    cw_stmt *s = cw_db_stmt(t->n->db, "intake.variety");
    cw_check_ok(cw_stmt_one(s, &found, &err, "t", code), &err);
    int64_t id = cw_col_int(s, intake_variety_id);
    cw_check_ok(cw_stmt_end(s, &err), &err);
    cw_release r = {
        .variety_id = id, .at = t->who.now, .actor = "tester", .offered = offered, .basis = "{}"
    };
    cw_check_ok(cw_work_begin(t->n, &err), &err);
    cw_check_ok(cw_work_end(t->n, cw_offer_release(t->n->db, &r, &before, &err), &err), &err);
}

#define ORDER_HEADER "order,received_at,line,variety,quantity,unit_price\n"

static void what_is_sold_stays_within_the_offer(void **state)
{
    test_nursery t;
    cw_intake_file f;
    (void)state;
    test_nursery_make(&t);
    ok(load_all(&t)); /* 3 of AMB are sold before any release */
    assert_int_equal(
        one_int(&t, "SELECT COUNT(*) FROM oversell WHERE why = 'taken before a release, from orders.csv'"),
        2);
    release(&t, "AMB", 10);
    loaded l = load_one(&t, "orders.csv",
                        ORDER_HEADER "7,2032-01-25T10:00:00Z,1,AMB,5,6\n7,2032-01-25T10:00:00Z,2,AMB,3,6\n");
    assert_int_equal(l.code, CW_CONFLICT);
    assert_string_equal(
        l.first, "orders.csv:3: quantity: only 2 of AMB are left (10 offered, 8 sold), 3 cannot be sold");
    assert_int_equal(one_int(&t, "SELECT COUNT(*) FROM orders"), 2);
    l = load_one(&t, "orders.csv", ORDER_HEADER "7,2032-01-25T10:00:00Z,1,AMB,7,6\n");
    ok(l);
    f = file("orders.csv", ORDER_HEADER "8,2032-01-25T10:00:00Z,1,AMB,4,6\n");
    l = load_with(&t, &f, 1, (cw_intake_options){ .oversell = "promised by telephone" });
    ok(l);
    assert_int_equal(
        one_int(&t, "SELECT beyond FROM offering o JOIN variety v ON v.id = o.variety_id WHERE code = 'AMB'"),
        4);
    assert_int_equal(one_int(&t, "SELECT quantity FROM oversell WHERE why = 'promised by telephone'"), 4);
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
        one_int(&t,
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
        int64_t trade = one_int(&t, "SELECT trade_revision FROM nursery");
        cw_code code = cw_offering_release(t.n, &t.who, rows[i].ask, &rows[i].item, 1, "spring", &out, &err);
        if (code != rows[i].code || (rows[i].said[0] && strcmp(err.text, rows[i].said) != 0))
            fail_msg("row %zu: %d %s", i, (int)code, err.text);
        assert_int_equal(one_int(&t, "SELECT trade_revision FROM nursery") > trade, code == CW_OK);
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
        one_int(&t, "SELECT sold FROM offering o JOIN variety v ON v.id = o.variety_id WHERE code = 'AMB'"),
        0);
    assert_int_equal(
        one_int(&t, "SELECT sold FROM offering o JOIN variety v ON v.id = o.variety_id WHERE code = 'BRI'"),
        6);
    assert_int_equal(one_int(&t, "SELECT COUNT(*) FROM order_event WHERE before LIKE '3 of AMB at 6.50%'"),
                     1);
    /* Once more: nothing. */
    l = load_with(&t, &f, 1, (cw_intake_options){ .changes = true });
    ok(l);
    assert_int_equal(l.changed, 0);
    assert_int_equal(l.unchanged, 1);
    test_nursery_free(&t);
}

/* One line of AMB, and BRI that may stand in for it, unless the row says otherwise. */
static void make_promised(test_nursery *t, const char *order, int amb, int bri)
{
    cw_error err = CW_ERROR_NONE;
    cw_substituting_done done;
    test_nursery_make(t);
    load_text(t, "varieties.csv",
              "code,name,form,size,colour,price\nAMB,Amber Lantern,ball,small,orange,6.50\n"
              "BRI,Briar Song,ball,small,pink,6.50\n");
    load_text(t, "lots.csv", "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,0\nL2,BRI,2031-10-20,0\n");
    load_text(t, "orders.csv", order);
    count_lot(t, "L1", "2032-01-20", amb);
    count_lot(t, "L2", "2032-01-20", bri);
    make_firm(t, "first-come", NULL);
    cw_check_ok(cw_substituting_commit(t->n, &t->who, &(cw_substituting_ask){ 0 }, NULL, &done, NULL, &err),
                &err);
}

/* What is promised rests on what the line asked and allowed. A file does not change that under it; where nothing is promised
 * any more, what was shared out of the variety that the line asked before leaves no trace in what it asks now. */
static void a_file_changes_no_line_under_its_promise(void **state)
{
#define HEADER "order,received_at,line,variety,quantity,unit_price,consent,named,all_or_none\n"
#define ORDER  HEADER "1001,2032-01-05T10:00:00Z,1,"
    static const struct {
        const char *name, *had;
        int amb, bri;
        const char *taken_back;   /* of the promise, two of it; NULL: nothing */
        const char *wants, *said; /* said NULL: it is done */
    } rows[] = {
        { "consent withdrawn", "AMB,2,6.50,any,,0", 0, 3, NULL, "AMB,2,6.50,none,,0", "as it allowed" },
        { "another list", "AMB,2,6.50,named,BRI,0", 0, 3, NULL, "AMB,2,6.50,named,AMB,0", "as it allowed" },
        { "dearer than its substitute", "AMB,2,6.50,any,,0", 0, 3, NULL, "AMB,2,9.00,any,,0",
          "as it allowed" },
        { "cheaper", "AMB,2,6.50,any,,0", 0, 3, NULL, "AMB,2,6.00,any,,0", NULL },
        { "taken back first", "AMB,2,6.50,any,,0", 0, 3, "BRI", "AMB,2,6.50,none,,0", NULL },
        { "its substitute is what it asks now", "AMB,2,6.50,any,,0", 0, 3, "BRI", "BRI,2,6.50,none,,0",
          NULL },
        { "it got nothing of what it asked", "AMB,2,6.50,none,,0", 0, 3, NULL, "BRI,2,6.50,none,,0", NULL },
        { "a class in place of a variety", "AMB,2,6.50,none,,0", 0, 3, NULL, ",2,6.50,none,,0", NULL },
        { "part of it is promised", "AMB,3,6.50,none,,0", 2, 0, NULL, "AMB,3,6.50,none,,1",
          "all or nothing" },
        { "all of it is promised", "AMB,2,6.50,none,,0", 2, 0, NULL, "AMB,2,6.50,none,,1", NULL },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        test_nursery t;
        cw_error err = CW_ERROR_NONE;
        char text[400];
        snprintf(text, sizeof text, ORDER "%s\n", rows[i].had);
        make_promised(&t, text, rows[i].amb, rows[i].bri);
        if (rows[i].taken_back)
            cw_check_ok(cw_allotting_take_back(t.n, &t.who, "1001", 1, rows[i].taken_back, 2, "rang", &err),
                        &err);
        if (rows[i].wants[0] == ',')
            snprintf(text, sizeof text,
                     "order,received_at,line,variety,quantity,unit_price,assortment\n"
                     "1001,2032-01-05T10:00:00Z,1,,2,6.50,colour=pink\n");
        else
            snprintf(text, sizeof text, ORDER "%s\n", rows[i].wants);
        cw_intake_file f = file("orders.csv", text);
        loaded l = load_with(&t, &f, 1, (cw_intake_options){ .changes = true });
        if (l.code != (rows[i].said ? CW_CONFLICT : CW_OK) ||
            (rows[i].said && !strstr(l.first, rows[i].said)))
            fail_msg("%s: %d %s", rows[i].name, (int)l.code, l.first);
        print_message("  %s\n", rows[i].name);
        test_nursery_check(&t);
        make_firm(&t, "first-come", NULL); /* with a check */
        test_nursery_free(&t);
    }
#undef ORDER
#undef HEADER
}

/* The dearest lines there may be, as many as fill a large file: what is added up over them stays a number. */
static void money_does_not_run_over(void **state)
{
    static const struct {
        const char *line, *said; /* said NULL: it is taken */
    } rows[] = {
        { "AMB,100000,1000000000.00", "the line is worth more than" },
        { "AMB,2,500000000.01", "the line is worth more than" },
        { "AMB,100000,10000.00", NULL },
        { "AMB,1,1000000000.00", NULL },
    };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out;
    cw_text text = CW_TEXT(1 << 20);
    (void)state;
    test_nursery_make(&t);
    load_text(&t, "varieties.csv", "code,name,price\nAMB,Amber Lantern,6.50\n");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char line[200];
        snprintf(line, sizeof line, ORDER_HEADER "X%zu,2032-01-25T10:00:00Z,1,%s\n", i, rows[i].line);
        loaded l = load_one(&t, "orders.csv", line);
        if (rows[i].said ? l.code != CW_REFUSED || !strstr(l.first, rows[i].said) : l.code != CW_OK)
            fail_msg("%s: %d %s", rows[i].line, (int)l.code, l.first);
    }
    cw_check_ok(cw_ordering_change(t.n, &t.who, "X3", 1, 1, "x", &err), &err);
    assert_int_equal(cw_ordering_change(t.n, &t.who, "X3", 1, 2, "x", &err), CW_REFUSED);
    assert_string_equal(err.text, "the line would be worth more than 1000000000 in all");
    err = (cw_error)CW_ERROR_NONE;
    load_text(&t, "orders.csv", ORDER_HEADER "X9,2032-01-25T10:00:00Z,1,AMB,1,500000000.00\n");
    cw_check_ok(cw_ordering_change(t.n, &t.who, "X9", 1, 2, "x", &err), &err); /* exactly as much as may be */
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "X9", 0, "x", &err), &err);
    cw_text_add(&text, ORDER_HEADER);
    for (int i = 0; i < 5000; i++)
        cw_text_addf(&text, "Y%04d,2032-01-25T10:00:00Z,1,AMB,100000,10000.00\n", i);
    ok(load_one(&t, "orders.csv", text.data));
    cw_text_free(&text);
    cw_check_ok(cw_allotting_short(t.n, &t.who, NULL, &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), 1);
    assert_true(cw_table_int(&out, 0, 8) > 5000 * 99000000000LL);
    cw_table_free(&out);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

static void a_retired_variety_takes_no_new_order(void **state)
{
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    ok(load_all(&t));
    ok(load_one(&t, "varieties.csv", "code,name,retired\nAMB,Amber Lantern,yes\n"));
    loaded l = load_one(&t, "orders.csv", ORDER_HEADER "9,2032-01-25T10:00:00Z,1,AMB,1,6\n");
    assert_string_equal(l.first, "orders.csv:2: variety: the variety is retired and is not sold: AMB");
    ok(load_one(&t, "orders.csv", orders)); /* what was taken before stands */
    test_nursery_free(&t);
}

typedef struct taken {
    cw_code code;
    char first[1600];
    json_t *answer;
} taken;

static taken take(test_nursery *t, const char *text)
{
    cw_error err = CW_ERROR_NONE;
    taken k = { .answer = NULL };
    json_t *order = json_loads(text, 0, NULL);
    assert_non_null(order);
    k.code = cw_intake_order(t->n, &t->who, order, &k.answer, &err);
    cw_error_line(&err, k.first, sizeof k.first);
    json_decref(order);
    test_nursery_check(t);
    return k;
}

static void a_shop_is_answered_order_by_order(void **state)
{
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    ok(load_all(&t));
    release(&t, "AMB", 5);
    static const char good[] =
        "{\"order\":\"W1\",\"customer\":\"Ida\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,"
        "\"unit_price\":\"6.50\",\"consent\":\"named\",\"named\":[\"BRI\",\"CIN\"]},"
        "{\"assortment\":\"colour=pink\",\"quantity\":2,\"unit_price\":5}]}";
    taken k = take(&t, good);
    assert_string_equal(k.first, "");
    assert_true(json_is_true(json_object_get(k.answer, "taken")));
    assert_true(json_is_false(json_object_get(k.answer, "known")));
    assert_int_equal(json_integer_value(json_object_get(k.answer, "lines")), 2);
    json_decref(k.answer);
    int64_t made_at = one_int(&t, "SELECT version FROM orders WHERE number = 'W1'");
    assert_int_equal(one_int(&t, "SELECT version FROM orders WHERE number = '1001'"),
                     made_at); /* as a file's */
    t.who.now += 5000;         /* the same again, later: taken already */
    k = take(&t, good);
    assert_string_equal(k.first, "");
    assert_true(json_is_true(json_object_get(k.answer, "known")));
    json_decref(k.answer);
    assert_int_equal(one_int(&t, "SELECT COUNT(*) FROM line"), 5);
    assert_int_equal(one_int(&t, "SELECT version FROM orders WHERE number = 'W1'"), made_at);
    /* What is known changes nothing of the order: whoever edits it meanwhile is not sent back. A line more does, once. */
    static const char more[] =
        "{\"order\":\"W1\",\"customer\":\"Ida\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,"
        "\"unit_price\":\"6.50\",\"consent\":\"named\",\"named\":[\"BRI\",\"CIN\"]},"
        "{\"assortment\":\"colour=pink\",\"quantity\":2,\"unit_price\":5},"
        "{\"assortment\":\"colour=red\",\"quantity\":1,\"unit_price\":5}]}";
    for (int again = 0; again < 2; again++) {
        k = take(&t, more);
        assert_string_equal(k.first, "");
        assert_int_equal(json_is_true(json_object_get(k.answer, "known")), again);
        json_decref(k.answer);
        assert_int_equal(one_int(&t, "SELECT version FROM orders WHERE number = 'W1'"), made_at + 1);
        assert_int_equal(one_int(&t, "SELECT COUNT(*) FROM line"), 6);
    }
    /* That it is paid is news, once; who comes with "not paid" later does not know of it. */
    static const struct {
        const char *paid;
        int64_t is, raised;
    } news[] = { { "true", 1, 1 }, { "true", 1, 0 }, { "false", 1, 0 } };
    for (size_t i = 0, raised = 1; i < 3; i++) {
        char text[400];
        snprintf(text, sizeof text,
                 "{\"order\":\"W1\",\"customer\":\"Ida\",\"paid\":%s,\"lines\":[{\"variety\":\"AMB\","
                 "\"quantity\":1,"
                 "\"unit_price\":\"6.50\",\"consent\":\"named\",\"named\":[\"BRI\",\"CIN\"]}]}",
                 news[i].paid);
        k = take(&t, text);
        assert_string_equal(k.first, "");
        assert_true(json_is_true(json_object_get(k.answer, "known")));
        json_decref(k.answer);
        raised += (size_t)news[i].raised;
        assert_int_equal(one_int(&t, "SELECT paid FROM orders WHERE number = 'W1'"), news[i].is);
        assert_int_equal(one_int(&t, "SELECT version FROM orders WHERE number = 'W1'"),
                         made_at + (int64_t)raised);
    }
    k = take(&t, "{\"order\":\"W2\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":6},"
                 "{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":6}]}");
    assert_int_equal(k.code, CW_CONFLICT);
    assert_string_equal(k.first, "quantity: only 0 of AMB are left (5 offered, 5 sold), 1 cannot be sold");
    assert_int_equal(json_integer_value(json_object_get(k.answer, "line")), 2);
    assert_string_equal(json_string_value(json_object_get(k.answer, "variety")), "AMB");
    assert_int_equal(json_integer_value(json_object_get(k.answer, "left")), 0);
    json_decref(k.answer);
    k = take(&t, "{\"order\":\"W3\",\"lines\":[{\"variety\":\"CIN\",\"quantity\":1,\"unit_price\":6}]}");
    assert_int_equal(k.code, CW_CONFLICT);
    assert_string_equal(k.first, "quantity: CIN is not on offer yet: 0 left, 1 asked");
    json_decref(k.answer);
    static const struct {
        const char *order, *first;
    } bad[] = {
        { "{\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":6}]}", "order: must not be empty" },
        { "{\"order\":\"W4\",\"lines\":[]}", "lines: must be a list of 1 to 500 lines" },
        { "{\"order\":\"W4\"}", "lines: must be a list of 1 to 500 lines" },
        { "[1]", "an object is needed" },
        { "{\"order\":\"W4\",\"gift\":true,\"lines\":[]}", "gift: is not known here" },
        { "{\"order\":\"W4\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1.5,\"unit_price\":6}]}",
          "quantity: must be a whole number from 1 to 100000: 1.5" },
        { "{\"order\":\"W4\",\"lines\":[{\"variety\":\"ZZ\",\"quantity\":1,\"unit_price\":6}]}",
          "variety: there is no variety of this code: ZZ" },
        { "{\"order\":\"W1\",\"customer\":\"Ida\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":2,\"unit_"
          "price\":\"6.50\"}]}",
          "quantity: line 1 of order W1 is on record with another quantity" },
        { "{\"order\":\"W1\",\"customer\":{},\"lines\":[{\"variety\":\"AMB\",\"quantity\":2,\"unit_price\":"
          "\"6.50\"}]}",
          "customer: must be one line of text, not an object" },
        { "{\"order\":5,\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":6}]}",
          "order: must be a code, not a number" },
        { "{\"order\":\"W4\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":true,\"unit_price\":6}]}",
          "quantity: must be a whole number from 1 to 100000, not true or false" },
        { "{\"order\":\"W4\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":\"1\",\"unit_price\":6}]}",
          "quantity: must be a whole number from 1 to 100000, not a text" },
        { "{\"order\":\"W4\",\"lines\":[{\"variety\":7,\"quantity\":1,\"unit_price\":6}]}",
          "variety: must be a code, not a number" },
        { "{\"order\":\"W4\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":false}]}",
          "unit_price: must be an amount of money, as 12.50, never negative, not true or false" },
        { "{\"order\":\"W4\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":6,\"all_or_none\":"
          "1}]}",
          "all_or_none: must be true or false, not a number" },
        { "{\"order\":\"W4\",\"ship_complete\":\"yes\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_"
          "price\":6}]}",
          "ship_complete: must be true or false, not a text" },
        { "{\"order\":\"W4\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":6,\"named\":[1]}]"
          "}",
          "named: must be a list of codes, or a text with blanks between them" },
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        k = take(&t, bad[i].order);
        assert_string_equal(k.first, bad[i].first);
        json_decref(k.answer);
    }
    assert_int_equal(one_int(&t, "SELECT COUNT(*) FROM orders"), 3);
    test_nursery_free(&t);
}

/* What a shop's order was to do, and did not, is not done with the next one. */
static void what_was_refused_leaves_nothing_to_the_next(void **state)
{
#define PINK(n) "{\"assortment\":\"colour=pink\",\"quantity\":" #n ",\"unit_price\":5}"
    static const struct {
        const char *order;
        cw_code code;
    } rows[] = {
        { "{\"order\":\"A\",\"lines\":[" PINK(2) "]}", CW_OK },
        { "{\"order\":\"B\",\"lines\":[" PINK(3) "]}", CW_OK },
        { "{\"order\":\"A\",\"paid\":true,\"lines\":[" PINK(4) "]}",
          CW_CONFLICT }, /* it is paid, but asks more */
        { "{\"order\":\"B\",\"lines\":[" PINK(3) "]}", CW_OK },
        { "{\"order\":\"C\",\"lines\":[" PINK(1) ",{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":6}]}",
          CW_CONFLICT }, /* not on offer */
        { "{\"order\":\"B\",\"lines\":[" PINK(3) "," PINK(7) "]}", CW_OK },
        { "{\"order\":\"D\",\"lines\":[" PINK(1) "," PINK(2) "]}", CW_OK },
        { "{\"order\":\"A\",\"lines\":[" PINK(2) "]}", CW_OK },
    };
#undef PINK
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    load_text(&t, "varieties.csv", "code,name,price\nAMB,Amber Lantern,6.50\n");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        taken k = take(&t, rows[i].order);
        if (k.code != rows[i].code)
            fail_msg("%s: %d %s", rows[i].order, (int)k.code, k.first);
        json_decref(k.answer);
    }
    rows_are(
        &t,
        "SELECT o.number, o.paid, l.line, l.quantity FROM line l JOIN orders o ON o.id = l.order_id ORDER "
        "BY o.number, l.line",
        "A||1|2\nB||1|3\nB||2|7\nD||1|1\nD||2|2\n");
    rows_are(&t, "SELECT COUNT(*) FROM orders", "3\n");
    rows_are(&t, "SELECT COUNT(*) FROM order_event WHERE kind = 'paid'", "0\n");
    test_nursery_free(&t);
}

/* As many lines as an order may have, each with as long a list of substitutes as a line may have: one such order after the other. */
static void the_longest_orders_are_taken_one_after_the_other(void **state)
{
    test_nursery t;
    cw_text csv = CW_TEXT(8000), line = CW_TEXT(4000), order = CW_TEXT(2 << 20);
    (void)state;
    test_nursery_make(&t);
    cw_text_add(&csv, "code,name,price\n");
    cw_text_add(
        &line,
        "{\"assortment\":\"colour=pink\",\"quantity\":1,\"unit_price\":5,\"consent\":\"named\",\"named\":\"");
    for (int v = 0; v < CW_MAX_NAMED; v++) {
        cw_text_addf(&csv, "V%0*d,Variety %d,5\n", CW_MAX_CODE - 1, v, v);
        cw_text_addf(&line, "%sV%0*d", v ? " " : "", CW_MAX_CODE - 1, v);
    }
    cw_text_add(&line, "\"}");
    load_text(&t, "varieties.csv", csv.data);
    for (int o = 0; o < 3; o++) {
        cw_text_clear(&order);
        cw_text_addf(&order, "{\"order\":\"O%d\",\"lines\":[", o);
        for (int i = 0; i < CW_MAX_LINES_PER_ORDER; i++)
            cw_text_addf(&order, "%s%s", i ? "," : "", line.data);
        cw_text_add(&order, "]}");
        taken k = take(&t, order.data);
        assert_string_equal(k.first, "");
        json_decref(k.answer);
    }
    rows_are(&t, "SELECT COUNT(*), MIN(length(named)), MAX(length(named)) FROM line", "1500|659|659\n");
    cw_text_free(&csv);
    cw_text_free(&line);
    cw_text_free(&order);
    test_nursery_free(&t);
}

static int64_t left_of_amb(test_nursery *t)
{
    return one_int(t, "SELECT offered + beyond - sold FROM offering o JOIN variety v ON v.id = o.variety_id "
                      "WHERE code = 'AMB'");
}

/* One of AMB; must be taken or refused for want of it. */
static void one_more(test_nursery *t, int number, bool taken_)
{
    char text[160];
    snprintf(text, sizeof text,
             "{\"order\":\"M%d\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":6}]}", number);
    cw_error err = CW_ERROR_NONE;
    json_t *order = json_loads(text, 0, NULL), *answer = NULL;
    cw_code code = cw_intake_order(t->n, &t->who, order, &answer, &err);
    if (code != (taken_ ? CW_OK : CW_CONFLICT))
        fail_msg("order M%d: code %d, %s", number, code, err.text);
    json_decref(order);
    json_decref(answer);
}

/* What is kept between two orders must not outlive what others write, nor what is taken back. */
static void a_shop_sees_what_happened_meanwhile(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    int64_t left = 0;
    (void)state;
    test_nursery_make(&t);
    ok(load_all(&t)); /* 3 of AMB are sold */
    release(&t, "AMB", 4);
    one_more(&t, 1, true);
    one_more(&t, 2, false);
    one_more(&t, 3, false);
    cw_check_ok(cw_ordering_oversell(t.n, &t.who, "AMB", 1, "a test", &left, &err), &err);
    one_more(&t, 4, true);
    one_more(&t, 5, false);
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "M1", 0, "a test", &err), &err);
    one_more(&t, 6, true);
    one_more(&t, 7, false);
    release(&t, "AMB", 7);
    cw_check_ok(cw_nursery_batch_begin(t.n, &err), &err); /* a batch that does not come to be */
    one_more(&t, 8, true);
    one_more(&t, 9, true);
    one_more(&t, 10, false);
    cw_nursery_batch_drop(t.n);
    assert_int_equal(left_of_amb(&t), 2);
    one_more(&t, 8, true);
    one_more(&t, 9, true);
    one_more(&t, 10, false);
    release(&t, "AMB", 8);
    ok(load_one(&t, "orders.csv", ORDER_HEADER "77,2032-01-25T10:00:00Z,1,AMB,1,6\n"));
    one_more(&t, 11, false);
    release(&t, "AMB", 9);
    ok(load_one(&t, "varieties.csv", "code,name,retired\nAMB,Amber Lantern,yes\n"));
    taken k =
        take(&t, "{\"order\":\"M12\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":6}]}");
    assert_string_equal(k.first, "variety: the variety is retired and is not sold: AMB");
    assert_int_equal(left_of_amb(&t), 1);
    test_nursery_free(&t);
}

/* An order that does not say when it came is after all that are on record, whatever the clock does; so first-come serves by
 * arrival. The numbers go down, so that they cannot do it. */
static void who_comes_later_is_served_later(void **state)
{
    static const struct {
        const char *what, *number;
        cw_instant after;
    } rows[] = { { "as it should be", "Z9", 0 },
                 { "in the same millisecond", "Z8", 0 },
                 { "back by an hour", "M5", -3600000 },
                 { "back by most of a day", "M4", -23 * 3600000 },
                 { "right again, at the same millisecond", "C2", 0 },
                 { "right again, later", "A1", 60000 } };
    char text[160];
    int64_t had = 30;
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    ok(load_all(&t)); /* 51 of AMB, 3 of them sold */
    release(&t, "AMB", 500);
    cw_instant start = t.who.now;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        t.who.now = start + rows[i].after;
        snprintf(text, sizeof text,
                 "{\"order\":\"%s\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":30,\"unit_price\":6}]}",
                 rows[i].number);
        taken k = take(&t, text);
        assert_string_equal(k.first, "");
        json_decref(k.answer);
        snprintf(text, sizeof text, "SELECT received_at FROM orders WHERE number = '%s'", rows[i].number);
        int64_t at = one_int(&t, text), clock = t.who.now;
        if (i == 0 || i + 1 == sizeof rows / sizeof rows[0] ? at != clock : at < start || at > start + 1000)
            fail_msg("%s: received at %lld, now is %lld", rows[i].what, (long long)at, (long long)clock);
    }
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        int64_t gets = preview_of(&t, "first-come", "AMB", rows[i].number, 1);
        if (gets > had || (i == 0 && gets < 30) || (i == 1 && gets == 0) || (i > 1 && gets > 0))
            fail_msg("%s: %s gets %lld", rows[i].what, rows[i].number, (long long)gets);
        had = gets;
    }
    /* One with a wrong date, far ahead, does not take those after it along. */
    static const char
        ahead[] = "{\"order\":\"Y1\",\"received_at\":\"2099-01-01T00:00:00Z\",\"lines\":[{\"variety\":"
                  "\"AMB\",\"quantity\":1,\"unit_price\":6}]}",
        next[] = "{\"order\":\"Y2\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":6}]}";
    t.who.now = start + 120000;
    json_decref(take(&t, ahead).answer);
    json_decref(take(&t, next).answer);
    assert_int_equal(one_int(&t, "SELECT received_at FROM orders WHERE number = 'Y2'"), t.who.now);
    test_nursery_free(&t);
}

/* Past sales are known by season and variety: loaded again they change nothing, corrected they are audited, and what
 * is written out can be read in again. */
static void past_sales_are_kept_by_season_and_variety(void **state)
{
    static const char sales[] =
        "season,variety,sold,sold_out_on\n2029,AMB,40,\n2030,AMB,55,2031-02-14\n2030,BRI,12,\n";
    static const struct {
        const char *what, *text, *first;
    } bad[] = {
        { "this season", "season,variety,sold\n2031,AMB,4\n",
          "past_sales.csv:2: season: this file's season is 2031, and past sales are of seasons before it: "
          "2031" },
        { "sold out years later", "season,variety,sold,sold_out_on\n2028,AMB,4,2031-01-01\n",
          "past_sales.csv:2: sold_out_on: must lie in the season's year (2028) or the one after it: "
          "2031-01-01" },
        { "no such day", "season,variety,sold,sold_out_on\n2028,AMB,4,2029-02-29\n",
          "past_sales.csv:2: sold_out_on: must be a day that exists, as 2032-04-19: 2029-02-29" },
        { "twice", "season,variety,sold\n2028,AMB,4\n2028,AMB,5\n",
          "past_sales.csv:3: season: this row of past sales stands twice in the file, first on line 2: 2028 "
          "AMB" },
        { "unknown variety", "season,variety,sold\n2028,QQ,4\n",
          "past_sales.csv:2: variety: there is no variety of this code: QQ" },
    };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out;
    cw_text csv = CW_TEXT(1 << 16);
    (void)state;
    test_nursery_make(&t);
    ok(load_all(&t));
    loaded l = load_one(&t, "past_sales.csv", sales);
    ok(l);
    assert_int_equal(l.made, 3);
    cw_check_ok(cw_exporting_table(t.n, &t.who, "past_sales", &out, &err), &err);
    cw_check_ok(cw_table_csv(&out, cw_sink_text(&csv), &err), &err);
    cw_table_free(&out);
    assert_string_equal(csv.data, sales);
    l = load_one(&t, "past_sales.csv", csv.data);
    ok(l);
    assert_int_equal(l.unchanged, 3);
    l = load_one(&t, "past_sales.csv",
                 "season,variety,sold\n2030,AMB,57\n"); /* keeps the day that it does not name */
    ok(l);
    assert_int_equal(l.changed, 1);
    assert_int_equal(
        one_int(&t, "SELECT COUNT(*) FROM past_sale WHERE sold = 57 AND sold_out_on IS NOT NULL"), 1);
    assert_int_equal(one_int(&t, "SELECT COUNT(*) FROM audit WHERE subject = 'row of past sales 2030 AMB'"),
                     1);
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        l = load_one(&t, "past_sales.csv", bad[i].text);
        if (l.code == CW_OK || strstr(l.first, bad[i].first) == NULL)
            fail_msg("%s: %s", bad[i].what, l.first);
    }
    cw_text_free(&csv);
    test_nursery_free(&t);
}

static void schema_of(test_nursery *t, cw_text *out)
{
    sqlite3 *raw = NULL;
    sqlite3_stmt *s = NULL;
    assert_int_equal(sqlite3_open_v2(t->path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(raw, "SELECT type, name, sql FROM sqlite_schema ORDER BY type, name",
                                        -1, &s, NULL),
                     SQLITE_OK);
    while (sqlite3_step(s) == SQLITE_ROW)
        for (int c = 0; c < 3; c++)
            cw_text_addf(out, "%s\n",
                         sqlite3_column_text(s, c) ? (const char *)sqlite3_column_text(s, c) : "");
    sqlite3_finalize(s);
    sqlite3_close(raw);
}

/* A file of more than a megabyte; the last line may ask for a variety that is none. */
static void many_orders(cw_text *out, int from, const char *last)
{
    cw_text_clear(out);
    cw_text_add(out, "order,received_at,line,variety,quantity,unit_price,customer,email\n");
    for (int i = 0; i < 8000; i++)
        for (int line = 1; line <= 2; line++)
            cw_text_addf(out,
                         "%d,2032-01-05T10:00:00Z,%d,%s,1,6.50,Somebody Invented %d,nobody%d@example.org\n",
                         from + i, line,
                         i == 7999 && line == 2 ? last
                         : line == 1            ? "AMB"
                                                : "BRI",
                         i % 977, i % 977);
    assert_true(out->length > 1 << 20);
}

/* Their indexes are made at the end: the file is the same as if each row had gone into them, also after a load that was refused. */
static void a_first_load_leaves_every_index(void **state)
{
    test_nursery t;
    cw_text before = CW_TEXT(1 << 20), after = CW_TEXT(1 << 20), csv = CW_TEXT(4 << 20);
    (void)state;
    test_nursery_make(&t);
    load_text(&t, "varieties.csv",
              "code,name,form,size,colour,price,hold_back,reserve\n"
              "AMB,Amber Lantern,ball,small,orange,6.50,2,1\nBRI,Briar Song,cactus,large,pink,8.00,0,0\n");
    schema_of(&t, &before);
    many_orders(&csv, 100000, "NONE");
    loaded l = load_one(&t, "orders.csv", csv.data);
    assert_int_not_equal(l.code, CW_OK);
    schema_of(&t, &after);
    assert_string_equal(after.data, before.data);
    assert_int_equal(one_int(&t, "SELECT COUNT(*) FROM orders"), 0);
    int64_t version = one_int(&t, "PRAGMA schema_version");
    many_orders(&csv, 100000, "BRI");
    load_text(&t, "orders.csv", csv.data);
    assert_int_equal(one_int(&t, "PRAGMA schema_version") - version, 8); /* four go, four come */
    many_orders(&csv, 200000, "BRI");
    load_text(&t, "orders.csv", csv.data); /* no first load any more */
    assert_int_equal(one_int(&t, "PRAGMA schema_version") - version, 8);
    cw_text_clear(&after);
    schema_of(&t, &after);
    assert_string_equal(after.data, before.data);
    assert_int_equal(one_int(&t, "SELECT COUNT(*) FROM line INDEXED BY line_by_variety WHERE variety_id = "
                                 "(SELECT id FROM variety WHERE code = 'AMB')"),
                     16000);
    assert_int_equal(one_int(&t, "SELECT COUNT(*) FROM orders INDEXED BY orders_by_email WHERE "
                                 "lower(trim(email)) = 'nobody3@example.org'"),
                     18);
    test_nursery_check(&t);
    cw_text_free(&before);
    cw_text_free(&after);
    cw_text_free(&csv);
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
        cmocka_unit_test(a_file_changes_no_line_under_its_promise),
        cmocka_unit_test(money_does_not_run_over),
        cmocka_unit_test(a_retired_variety_takes_no_new_order),
        cmocka_unit_test(a_shop_is_answered_order_by_order),
        cmocka_unit_test(what_was_refused_leaves_nothing_to_the_next),
        cmocka_unit_test(the_longest_orders_are_taken_one_after_the_other),
        cmocka_unit_test(a_shop_sees_what_happened_meanwhile),
        cmocka_unit_test(who_comes_later_is_served_later),
        cmocka_unit_test(a_first_load_leaves_every_index),
        cmocka_unit_test(past_sales_are_kept_by_season_and_variety),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* SPDX-License-Identifier: MIT */
/* Wrong names put right: a code that changes is found by both, a row that proves to be another variety counts as that one in
 * every figure, and nothing is moved without being said. All data are invented. */
#include "support/intake.h"
#include "support/season.h"

#include "desk/forecast/forecast.h"
#include "desk/share/substituting.h"
#include "desk/stock/catalogue.h"
#include "desk/stock/naming.h"
#include "desk/stock/tracing.h"
#include "store/offers.h"

#include "base/banned.h"

static cw_code rename_to(test_nursery *t, const char *code, const char *to, const char *why, bool commit,
                         cw_error *err)
{
    cw_table out = { 0 };
    cw_code done = cw_naming_rename_variety(t->n, &t->who, code, to, why, commit, &out, err);
    cw_table_free(&out);
    test_nursery_check(t);
    return done;
}

static void renamed(test_nursery *t, const char *code, const char *to)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(rename_to(t, code, to, "typed wrong", true, &err), &err);
}

static cw_code relabel_to(test_nursery *t, const char *lot, const char *to, bool commit, cw_error *err)
{
    cw_table out = { 0 };
    cw_code done = cw_naming_relabel_lot(t->n, &t->who, lot, to, "the stake", commit, &out, err);
    cw_table_free(&out);
    test_nursery_check(t);
    return done;
}

static void a_small_nursery(test_nursery *t)
{
    test_nursery_make(t);
    ok(load_all(t));
}

static void a_preview_changes_nothing(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    a_small_nursery(&t);
    cw_check_ok(rename_to(&t, "AMB", "AMBER", "", false, &err), &err);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM variety WHERE code = 'AMB'"), 1);
    cw_check_ok(relabel_to(&t, "L1", "CIN", false, &err), &err);
    assert_int_equal(number_of(&t, "SELECT variety_id = 1 FROM lot WHERE code = 'L1'"), 1);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM former_code"), 0);
    test_nursery_free(&t);
}

static void both_codes_find_it(void **state)
{
    (void)state;
    test_nursery t;
    a_small_nursery(&t);
    int64_t sold = number_of(&t, "SELECT sold FROM offering WHERE variety_id = 1");
    renamed(&t, "AMB", "AMBER");
    /* The old files say nothing new. */
    loaded l = load_one(&t, "varieties.csv", varieties);
    assert_int_equal(l.code, CW_OK);
    assert_int_equal(l.made + l.changed, 0);
    l = load_one(&t, "orders.csv", orders);
    assert_int_equal(l.made + l.changed, 0);
    /* One order by both codes sells one variety. */
    must_load(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,consent,named\n"
              "1009,2032-01-25T10:00:00Z,1,AMB,2,6.50,,\n1009,2032-01-25T10:00:00Z,2,AMBER,3,6.50,,\n"
              "1009,2032-01-25T10:00:00Z,3,BRI,1,8.00,named,AMB\n");
    assert_int_equal(number_of(&t, "SELECT sold FROM offering WHERE variety_id = 1"), sold + 5);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM variety"), 3);
    /* Nor is more sold by two codes than by one. */
    cw_error err = CW_ERROR_NONE;
    int64_t before = 0;
    const cw_release five = { .variety_id = 1,
                              .at = t.who.now,
                              .actor = "owner",
                              .offered = sold + 10,
                              .confidence = 0.9,
                              .p_short = 0.1,
                              .basis = "{}" };
    cw_check_ok(cw_work_begin(t.n, &err), &err);
    cw_check_ok(cw_offer_release(t.n->db, &five, &before, &err), &err);
    cw_check_ok(cw_work_end(t.n, CW_OK, &err), &err);
    l = load_one(&t, "orders.csv",
                 "order,received_at,line,variety,quantity,unit_price\n"
                 "1010,2032-01-25T11:00:00Z,1,AMB,3,6.50\n1010,2032-01-25T11:00:00Z,2,AMBER,3,6.50\n");
    assert_non_null(strstr(l.first, "only 2 of AMB"));
    test_nursery_free(&t);
}

static int64_t placed(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_substituting *s = NULL;
    cw_substituting_totals sum = { 0 };
    cw_check_ok(cw_substituting_preview(t->n, &t->who, &(cw_substituting_ask){ 0 }, &s, &err), &err);
    cw_substituting_total(s, &sum);
    cw_substituting_free(s);
    return sum.named_placed;
}

/* What a buyer named stays named, and a question by the former code is answered. */
static void later_work_finds_it_by_its_former_code(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    cw_table out = { 0 };
    const cw_forecast_ask ask = { CW_NO_DAY, CW_NO_DAY, "AMB" };
    a_small_nursery(&t);
    must_load(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,consent,named\n"
              "1009,2032-01-25T10:00:00Z,1,CIN,4,6.50,named,AMB\n");
    int64_t before = placed(&t);
    assert_true(before > 0);
    renamed(&t, "AMB", "AMBER");
    assert_int_equal(placed(&t), before);
    cw_check_ok(cw_forecast_project(t.n, &t.who, &ask, &out, NULL, &err), &err);
    assert_int_equal(cw_table_rows(&out), 1);
    assert_string_equal(cw_table_text(&out, 0, 0), "AMBER");
    cw_table_free(&out);
    cw_catalogue_edit e = CW_CATALOGUE_EDIT;
    e.hold_back = 9;
    cw_check_ok(cw_catalogue_change(t.n, &t.who, "AMB", &e, &out, &err), &err);
    assert_int_equal(number_of(&t, "SELECT hold_back FROM variety WHERE code = 'AMBER'"), 9);
    cw_table_free(&out);
    test_nursery_free(&t);
}

static void a_code_has_one_meaning(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    a_small_nursery(&t);
    renamed(&t, "AMB", "AMBER");
    static const char *const bad[] = { "", "A B", "AMBER", "0123456789012345678901234567890123" };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        err = (cw_error)CW_ERROR_NONE;
        assert_int_equal(rename_to(&t, "AMBER", bad[i], "why", true, &err), CW_REFUSED);
    }
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(rename_to(&t, "BRI", "AMB", "why", true, &err), CW_CONFLICT); /* once Amber's */
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(rename_to(&t, "BRI", "CIN", "why", true, &err), CW_CONFLICT);
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(rename_to(&t, "NONE", "N2", "why", true, &err), CW_NOT_FOUND);
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(rename_to(&t, "BRI", "BR2", "", true, &err), CW_REFUSED); /* no reason */
    renamed(&t, "AMB", "AMB2");                                                /* asked by its former code */
    renamed(&t, "AMB2", "AMB"); /* and back: then AMB is no former one */
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM former_code WHERE code = 'AMB'"), 0);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM former_code"), 2);
    t.who.role = CW_ROLE_OFFICE;
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(rename_to(&t, "BRI", "BR2", "why", true, &err), CW_FORBIDDEN);
    test_nursery_free(&t);
}

static int64_t balance(test_nursery *t, const char *variety, const char *column)
{
    cw_error err = CW_ERROR_NONE;
    cw_table b = { 0 };
    int64_t v = 0;
    cw_check_ok(cw_tracing_balance(t->n, &t->who, &b, &err), &err);
    for (size_t i = 0; i < cw_table_rows(&b); i++)
        if (strcmp(cw_table_text(&b, i, 0), variety) == 0)
            v = cw_table_int(&b, i, (size_t)cw_table_column(&b, column));
    cw_table_free(&b);
    return v;
}

static void a_lot_that_is_another_variety_counts_as_that_one(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    a_small_nursery(&t);
    int64_t amber = balance(&t, "AMB", "divisions_on_hand"), made = balance(&t, "AMB", "divisions_made");
    int64_t moves = number_of(&t, "SELECT COUNT(*) FROM movement");
    cw_check_ok(relabel_to(&t, "L1", "CIN", true, &err), &err);
    assert_int_equal(balance(&t, "CIN", "divisions_on_hand"), 39); /* the stock-take of lot L1 */
    assert_int_equal(balance(&t, "AMB", "divisions_on_hand"), amber - 39);
    assert_int_equal(balance(&t, "CIN", "divisions_made"), made);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM movement"), moves); /* entries name the lot */
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM audit WHERE action = 'relabel lot'"), 1);
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(relabel_to(&t, "L1", "CIN", true, &err), CW_REFUSED);
    cw_check_ok(relabel_to(&t, "L1", "AMB", true, &err), &err);
    assert_int_equal(balance(&t, "AMB", "divisions_on_hand"), amber);
    t.who.role = CW_ROLE_CELLAR;
    assert_int_equal(relabel_to(&t, "L1", "CIN", true, &err), CW_FORBIDDEN);
    test_nursery_free(&t);
}

/* What is to be taken by an open walk is not made another variety under the packer's hand; what went out stays what it was. */
static void walks_come_first(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    cw_table out = { 0 };
    season_make(&t);
    /* One pick of L2 is open, and of L1 something has gone out. */
    int64_t went = number_of(&t, "SELECT SUM(taken) FROM pick WHERE lot_id = 1");
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM pick WHERE lot_id = 2 AND state = 'open'"), 1);
    assert_int_equal(relabel_to(&t, "L2", "DOV", true, &err), CW_CONFLICT);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM relabelling"), 0);
    assert_true(went > 0);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_naming_relabel_lot(t.n, &t.who, "L1", "DOV", "the stake", true, &out, &err), &err);
    size_t last = cw_table_rows(&out) - 1;
    assert_string_equal(cw_table_text(&out, last, 0), "divisions that went out");
    assert_int_equal(cw_table_int(&out, last, 1), went);
    test_nursery_check(&t); /* picks keep the name under which they went */
    assert_int_equal(number_of(&t, "SELECT SUM(taken) FROM pick WHERE variety_id = 1"), went);
    cw_table_free(&out);
    test_nursery_free(&t);
}

/* Dug as the variety that was planted: the row keeps its plants, and the lot its row, whatever it proves to be. */
static void a_lot_that_was_dug_of_a_row(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    a_small_nursery(&t);
    must_load(&t, "plantings.csv", "row,variety,plants,planted_on\nR1,AMB,30,2031-05-12\n");
    must_load(&t, "lots.csv", "lot,variety,dug_on,clumps,row\nR1A,AMB,2031-10-20,20,R1\n");
    const char *link =
        "SELECT COUNT(*) FROM lot l JOIN planting p ON p.id = l.planting_id WHERE l.code = 'R1A'";
    assert_int_equal(number_of(&t, link), 1);
    cw_check_ok(relabel_to(&t, "R1A", "CIN", true, &err), &err); /* checks the file, too */
    assert_int_equal(number_of(&t, link), 1);
    cw_check_ok(relabel_to(&t, "R1A", "BRI", true, &err), &err);
    cw_check_ok(relabel_to(&t, "R1A", "AMB", true, &err), &err);
    test_nursery_free(&t);
}

/* "part quantity note" of each row. */
static void tells(cw_table *out, const char *want)
{
    cw_text got = CW_TEXT(4000);
    for (size_t r = 0; r < cw_table_rows(out); r++)
        cw_text_addf(&got, "%s: %lld %s\n", cw_table_text(out, r, 0), (long long)cw_table_int(out, r, 1),
                     out->cells[r * out->width + 2].null ? "" : cw_table_text(out, r, 2));
    is_text(got.data ? got.data : "", want);
    cw_text_free(&got);
    cw_table_free(out);
}

/* Every figure of what is asked beforehand; those of the season are counted from its rows. */
static void what_it_reaches_is_told(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    cw_table out = { 0 };
    season_make(&t);
    cw_check_ok(cw_naming_rename_variety(t.n, &t.who, "DOV", "DOVE", "", false, &out, &err), &err);
    tells(&out, "variety: 1 DOV (Dove Bell) becomes DOVE; DOV still finds it\n"
                "lots: 1 \nplantings: 0 \nlines of orders: 0 \npromised firm and not sent: 0 \n"
                "divisions that went out: 0 \nletters due to buyers: 0 \n"
                "substitutes named by buyers: 1 stand as they were typed, and still find it\n"
                "past seasons: 1 \nrows of history: 1 \nopen picks: 0 \n");
    cw_check_ok(cw_naming_rename_variety(t.n, &t.who, "BRI", "BRIAR", "", false, &out, &err), &err);
    tells(
        &out,
        "variety: 1 BRI (Briar Song) becomes BRIAR; BRI still finds it\n"
        "lots: 2 \nplantings: 0 \nlines of orders: 5 \npromised firm and not sent: 5 \n"
        "divisions that went out: 1 in 1 parcel, under the name that stood on them\n"
        "letters due to buyers: 0 \n"
        "substitutes named by buyers: 0 stand as they were typed, and still find it\n"
        "past seasons: 2 \nrows of history: 2 \nopen picks: 1 walks that are printed show the former code\n");
    /* Of L1 five were counted: 2 + 2 went, one was rotten. 2 + 3 + 1 of AMB are promised; three lie in L3, M1 has 12 - 1 clumps. */
    cw_check_ok(cw_naming_relabel_lot(t.n, &t.who, "L1", "DOV", "", false, &out, &err), &err);
    tells(&out, "clumps on hand: 0 lot L1 stands as AMB; it becomes DOV (Dove Bell)\n"
                "divisions on hand: 0 \n"
                "dividing sessions: 0 teach the other variety's rate from now on\nchecks: 0 \n"
                "promised firm and not sent: 2 3 divisions and 11 clumps of AMB are left for them\n"
                "letters due to buyers: 0 \n"
                "divisions that went out: 4 in 2 parcels under the name AMB; trace the lot for the buyers\n");
    cw_check_ok(cw_naming_relabel_lot(t.n, &t.who, "L3", "DOV", "", false, &out, &err), &err);
    tells(&out, "clumps on hand: 0 lot L3 stands as AMB; it becomes DOV (Dove Bell)\n"
                "divisions on hand: 3 \n"
                "dividing sessions: 0 teach the other variety's rate from now on\nchecks: 0 \n"
                "promised firm and not sent: 2 0 divisions and 11 clumps of AMB are left for them: look at "
                "what is short\n"
                "letters due to buyers: 0 \n"
                "divisions that went out: 0 \n");
    /* 8 - 5 clumps, 22 made and 2 of them rotten */
    cw_check_ok(cw_naming_relabel_lot(t.n, &t.who, "M3", "DOV", "", false, &out, &err), &err);
    tells(&out, "clumps on hand: 3 lot M3 stands as CIN; it becomes DOV (Dove Bell)\n"
                "divisions on hand: 20 \n"
                "dividing sessions: 1 teach the other variety's rate from now on\nchecks: 1 \n"
                "promised firm and not sent: 0 0 divisions and 0 clumps of CIN are left for them\n"
                "letters due to buyers: 0 \n"
                "divisions that went out: 0 \n");
    test_nursery_free(&t);
}

/* Who did it, when and why; both revisions rise, for what was projected and promised is told anew. */
static void each_name_stands_on_record(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    static const char longest[] = "01234567890123456789012345678901";
    static const char *const bad[] = { "A\tB", "A,B", "A;B", "A\nB", "\x7f" };
    a_small_nursery(&t);
    const char *revisions = "SELECT stock_revision * 1000 + trade_revision FROM nursery";
    int64_t before = number_of(&t, revisions);
    renamed(&t, "AMB", longest);
    assert_int_equal(number_of(&t, revisions), before + 1001);
    rows_are(&t,
             "SELECT f.code, v.code, f.actor, f.why FROM former_code f JOIN variety v ON v.id = f.variety_id",
             "AMB|01234567890123456789012345678901|tester|typed wrong\n");
    rows_are(&t, "SELECT actor, subject, before, after FROM audit WHERE action = 'rename variety'",
             "tester|AMB|01234567890123456789012345678901|typed wrong\n");
    assert_int_equal(number_of(&t, "SELECT at FROM former_code"), t.who.now);
    cw_check_ok(relabel_to(&t, "L1", "CIN", true, &err), &err);
    assert_int_equal(number_of(&t, revisions), before + 2002);
    rows_are(&t,
             "SELECT l.code, w.code, b.code, r.actor, r.why FROM relabelling r JOIN lot l ON l.id = r.lot_id "
             "JOIN variety w ON "
             "w.id = r.was JOIN variety b ON b.id = r.became",
             "L1|01234567890123456789012345678901|CIN|tester|the stake\n");
    rows_are(&t, "SELECT actor, subject, before, after FROM audit WHERE action = 'relabel lot'",
             "tester|L1|01234567890123456789012345678901|CIN: the stake\n");
    assert_int_equal(number_of(&t, "SELECT at FROM relabelling"), t.who.now);
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        err = (cw_error)CW_ERROR_NONE;
        assert_int_equal(rename_to(&t, "BRI", bad[i], "why", true, &err), CW_REFUSED);
        assert_string_equal(err.column, "to");
    }
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(rename_to(&t, "BRI", "BR2", "", true, &err), CW_REFUSED);
    assert_string_equal(err.column, "why");
    assert_int_equal(number_of(&t, revisions), before + 2002);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_preview_changes_nothing),
        cmocka_unit_test(both_codes_find_it),
        cmocka_unit_test(later_work_finds_it_by_its_former_code),
        cmocka_unit_test(a_code_has_one_meaning),
        cmocka_unit_test(a_lot_that_is_another_variety_counts_as_that_one),
        cmocka_unit_test(walks_come_first),
        cmocka_unit_test(a_lot_that_was_dug_of_a_row),
        cmocka_unit_test(what_it_reaches_is_told),
        cmocka_unit_test(each_name_stands_on_record),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

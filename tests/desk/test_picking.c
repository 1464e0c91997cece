/* SPDX-License-Identifier: MIT */
/* Waves, answers and parcels in a nursery small enough to follow by hand. What must always hold (sql/checks.sql) is asked
 * after every step. */
#include "support/picking.h"

#include "desk/cellar/cellar.h"

#include "base/banned.h"

static void a_wave_is_one_walk_of_what_is_promised(void **state)
{
    static const char *const rows[] = {
        /* Slots in order of service: 1004 is wholesale. Of AMB one lot has enough for both. 1003 is blocked, 1005 goes
         * in a later week. */
        "1,C1,L2,BRI,4,1004,1,1",
        "1,C1,L2,BRI,1,1001,2,2",
        "2,C2,L1,AMB,2,1001,1,2",
        "2,C2,L1,AMB,3,1002,1,3",
    };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table shown, notes, kept;
    cw_picking_ask ask = { .week = WEEK };
    cw_text csv = CW_TEXT(4000), again = CW_TEXT(4000), want = CW_TEXT(4000);
    (void)state;
    picking_make(&t);
    cw_check_ok(cw_picking_preview(t.n, &t.who, &ask, &shown, &notes, &err), &err);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM wave"), 0);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM orders WHERE ship_week IS NOT NULL"), 0);
    cw_check_ok(cw_table_csv(&shown, cw_sink_text(&csv), &err), &err);
    cw_text_add(&want, "stop,place,lot,variety,quantity,order,line,slot\n");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        cw_text_addf(&want, "%s\n", rows[i]);
    assert_string_equal(csv.data, want.data);
    assert_int_equal(cw_table_rows(&notes), 2);
    assert_string_equal(cw_table_text(&notes, 0, 0), "warned");
    assert_string_equal(cw_table_text(&notes, 0, 1), "1004");
    assert_string_equal(cw_table_text(&notes, 1, 0), "left out");
    assert_string_equal(cw_table_text(&notes, 1, 1), "1003");
    assert_non_null(strstr(cw_table_text(&notes, 1, 5), "no certificate can be had"));
    for (size_t i = 0; i < 2; i++) /* what the nursery noted is not the law */
        assert_non_null(strstr(cw_table_text(&notes, i, 5), "plant-health authority decides"));
    /* Made, it is what was shown, and the schedule stands with it. */
    int64_t wave = wave_make(&t);
    cw_check_ok(cw_picking_list(t.n, &t.who, wave, &kept, &err), &err);
    cw_check_ok(cw_table_csv(&kept, cw_sink_text(&again), &err), &err);
    assert_string_equal(again.data, csv.data);
    assert_int_equal(number_of(&t, "SELECT ship_week FROM orders WHERE number = '1005'"), 203220);
    cw_table_free(&shown);
    cw_table_free(&notes);
    cw_table_free(&kept);
    cw_text_free(&csv);
    cw_text_free(&again);
    cw_text_free(&want);
    test_nursery_free(&t);
}

static void what_cannot_be_pulled_is_said(void **state)
{
    static const struct {
        const char *name, *orders;
        cw_week week;
        bool firm;
        const char *sentence;
    } rows[] = {
        { "nothing is promised", "1001", WEEK, false, "allocate first" },
        { "another week's", NULL, 203222, true, "look at another week" },
        { "blocked, and nothing else", "1003", WEEK, true, "no certificate can be had" },
        { "an order of another week", "1005", WEEK, true, "nothing promised waits for order 1005" },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        test_nursery t;
        cw_error err = CW_ERROR_NONE;
        cw_table notes = { 0 };
        int64_t wave = 0;
        cw_picking_ask ask = { .week = rows[i].week,
                               .orders = rows[i].orders ? &rows[i].orders : NULL,
                               .count = 1 };
        print_message("%s\n", rows[i].name);
        test_nursery_make(&t);
        if (rows[i].firm) {
            test_nursery_free(&t);
            picking_make(&t);
        }
        assert_int_equal(cw_picking_make(t.n, &t.who, &ask, &wave, &notes, &err), CW_REFUSED);
        if (strstr(err.text, rows[i].sentence) == NULL)
            fail_msg("%s", err.text);
        assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM wave"), 0);
        test_nursery_check(&t);
        test_nursery_free(&t);
    }
}

static void what_must_leave_whole_waits(void **state)
{
    test_nursery t;
    (void)state;
    picking_make(&t);
    load_text(
        &t, "orders.csv",
        "order,received_at,line,variety,quantity,unit_price,customer,country,zone,ship_complete,all_or_none\n"
        "1006,2032-01-06T10:00:00Z,1,AMB,2,6.50,Flo,US,z7,1,0\n"
        "1007,2032-01-06T11:00:00Z,1,AMB,2,6.50,Gus,US,z7,0,1\n");
    count_lot(&t, "L1", "2032-01-21", 9);
    make_firm(&t, "first-come", NULL);
    assert_int_equal(promised(&t, "1006", 1), 2);
    /* Half of what was promised is gone before the wave: 5 for 1001 and 1002, 1003 is blocked, so one is left over, which
     * helps neither of the two. */
    count_lot(&t, "L1", "2032-01-22", 3);
    int64_t wave = wave_make(&t);
    assert_true(wave > 0);
    assert_int_equal(pick_of(&t, "1006", 1), INT64_MIN);
    assert_int_equal(pick_of(&t, "1007", 1), INT64_MIN);
    assert_int_equal(number_of(&t, "SELECT SUM(quantity) FROM pick k JOIN variety v ON v.id = k.variety_id "
                                   "WHERE v.code = 'AMB'"),
                     5);
    test_nursery_free(&t);
}

static void an_answer_is_booked_once(void **state)
{
    test_nursery t;
    char outcome[16];
    (void)state;
    picking_make(&t);
    wave_make(&t);
    int64_t pick = pick_of(&t, "1002", 1);
    answer(&t, "Marta", "key-1", pick, 2, "rotten", outcome);
    assert_string_equal(outcome, "done");
    assert_int_equal(lot_has(&t, "L1"), 2); /* 5 - 2 picked - 1 rotten */
    assert_int_equal(number_of(&t, "SELECT -SUM(divisions) FROM movement WHERE reason = 'rotten'"), 1);
    answer(&t, "Marta", "key-1", pick, 2, "rotten", outcome);
    assert_string_equal(outcome, "already");
    answer(&t, "Marta", "key-2", pick, 2, "rotten", outcome);
    assert_string_equal(outcome, "already");
    answer(&t, "Marta", "key-1", pick, 3, NULL, outcome);
    assert_string_equal(outcome, "clash");
    answer(&t, "Jon", "key-3", pick, 3, NULL, outcome);
    assert_string_equal(outcome, "clash");
    answer(&t, "Jon", "key-3", pick, 3, NULL, outcome);
    assert_string_equal(outcome, "clash"); /* not "already": nothing of Jon's was booked */
    answer(&t, "Jon", "key-4", 999, 1, NULL, outcome);
    assert_string_equal(outcome, "clash");
    /* Two phones under one sign-in: another packer's answer is another's, though it says the same. */
    cw_error err = CW_ERROR_NONE;
    cw_table out;
    cw_asker marta = t.who;
    marta.actor = "Marta";
    cw_picking_answer his = { "key-5", pick, 2, "rotten", CW_NO_INSTANT, "Jon", false };
    cw_check_ok(cw_picking_answer_all(t.n, &marta, &his, 1, &out, &err), &err);
    assert_string_equal(cw_table_text(&out, 0, 2), "clash");
    /* Its parcel lies in the third slot: which of them holds too many is said. */
    assert_string_equal(cw_table_text(&out, 0, 3),
                        "Marta answered lot L1 for order 1002 before, on 2032-02-01: 2 of 3 taken, the rest "
                        "rotten. This answer (2 of 3 taken, the rest rotten) was not booked: empty slot 3 of "
                        "what was taken twice, or have the first answer undone");
    cw_table_free(&out);
    assert_int_equal(lot_has(&t, "L1"), 2);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM pick WHERE state = 'done'"), 1);
    test_nursery_free(&t);
}

static void wrong_answers_are_refused_together(void **state)
{
    static const struct {
        const char *name;
        int64_t taken;
        const char *reason, *column;
    } rows[] = {
        { "more than asked", 4, NULL, "taken" },
        { "less than none", -1, "rotten", "taken" },
        { "short without a reason", 1, NULL, "reason" },
        { "a reason, but not short", 3, "missing", "reason" },
        { "a made-up reason", 1, "eaten", "reason" },
    };
    test_nursery t;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_error err = CW_ERROR_NONE;
        cw_table out = { 0 };
        cw_picking_answer both[2] = { { "good", pick_of(&t, "1001", 1), 2, NULL, CW_NO_INSTANT, NULL, false },
                                      { "bad", pick_of(&t, "1002", 1), rows[i].taken, rows[i].reason,
                                        CW_NO_INSTANT, NULL, false } };
        print_message("%s\n", rows[i].name);
        assert_int_equal(cw_picking_answer_all(t.n, &t.who, both, 2, &out, &err), CW_REFUSED);
        assert_string_equal(err.column, rows[i].column);
        assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM pick WHERE state = 'done'"), 0);
        assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM answered"), 0);
        cw_table_free(&out);
        test_nursery_check(&t);
    }
    test_nursery_free(&t);
}

/* Somebody wrote the stock off between the wave and the walk. */
static void the_ledger_is_not_overdrawn(void **state)
{
    test_nursery t;
    char outcome[16];
    (void)state;
    picking_make(&t);
    wave_make(&t);
    count_lot(&t, "L1", "2032-01-25", 1);
    answer(&t, "Marta", "all", pick_of(&t, "1002", 1), 3, NULL, outcome);
    assert_string_equal(outcome, "clash");
    answer(&t, "Marta", "some", pick_of(&t, "1002", 1), 1, "rotten", outcome);
    assert_string_equal(outcome, "done");
    assert_int_equal(lot_has(&t, "L1"),
                     0); /* two were short, but nothing of them was in the ledger any more */
    /* Counted again, the first answer can be given. */
    count_lot(&t, "L1", "2032-02-01", 2);
    answer(&t, "Marta", "other", pick_of(&t, "1001", 1), 2, NULL, outcome);
    assert_string_equal(outcome, "done");
    test_nursery_free(&t);
}

static void an_answer_can_be_taken_back(void **state)
{
    test_nursery t;
    char outcome[16];
    cw_error err = CW_ERROR_NONE, no = CW_ERROR_NONE;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    int64_t pick = pick_of(&t, "1002", 1);
    answer(&t, "Marta", "a", pick, 1, "missing", outcome);
    assert_int_equal(lot_has(&t, "L1"), 2);
    assert_int_equal(cw_picking_undo(t.n, &t.who, pick, "", &no), CW_REFUSED);
    cw_check_ok(cw_picking_undo(t.n, &t.who, pick, "they lay behind the crate", &err), &err);
    test_nursery_check(&t);
    assert_int_equal(lot_has(&t, "L1"), 5);
    assert_int_equal(pick_of(&t, "1002", 1), pick);
    answer(&t, "Marta", "a", pick, 1, "missing", outcome); /* the old key stays used */
    assert_string_equal(outcome, "already");
    answer(&t, "Marta", "b", pick, 3, NULL, outcome);
    assert_string_equal(outcome, "done");
    assert_int_equal(lot_has(&t, "L1"), 2);
    test_nursery_free(&t);
}

static void undo_reopens_no_more_than_is_promised(void **state)
{
    test_nursery t;
    char outcome[16];
    cw_error err = CW_ERROR_NONE;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    int64_t pick = pick_of(&t, "1002", 1);
    answer(&t, "Marta", "a", pick, 1, "missing", outcome);
    cw_check_ok(cw_allotting_take_back(t.n, &t.who, "1002", 1, "AMB", 2, "refunded by phone", &err), &err);
    cw_check_ok(cw_picking_undo(t.n, &t.who, pick, "wrong crate", &err), &err);
    test_nursery_check(&t);
    assert_int_equal(
        number_of(&t, "SELECT quantity FROM pick WHERE state = 'open' AND line_id = "
                      "(SELECT l.id FROM line l JOIN orders o ON o.id = l.order_id WHERE o.number = '1002')"),
        1);
    test_nursery_free(&t);
}

static void the_office_sees_a_short_and_fills_it(void **state)
{
    test_nursery t;
    char outcome[16];
    cw_error err = CW_ERROR_NONE, no = CW_ERROR_NONE;
    cw_table shorts;
    int64_t added = 0;
    (void)state;
    picking_make(&t);
    int64_t wave = wave_make(&t);
    answer(&t, "Marta", "a", pick_of(&t, "1002", 1), 1, "shrivelled", outcome);
    cw_check_ok(cw_picking_shorts(t.n, &t.who, wave, &shorts, &err), &err);
    assert_int_equal(cw_table_rows(&shorts), 1);
    assert_string_equal(cw_table_text(&shorts, 0, 1), "1002");
    assert_int_equal(cw_table_int(&shorts, 0, 6), 2);
    assert_string_equal(cw_table_text(&shorts, 0, 14), "L3");
    assert_string_equal(cw_table_text(&shorts, 0, 15), "C3");
    assert_int_equal(cw_table_int(&shorts, 0, 18), 1300); /* two at 6.50 */
    print_message("  %s\n", cw_table_text(&shorts, 0, 19));
    cw_table_free(&shorts);
    /* Lot L1 still lies in the wave, but is promised to 1001; only L3 is free. */
    assert_int_equal(
        cw_picking_fill(t.n, &t.who, parcel_of(&t, "1002"), &(cw_picking_from){ "L1", NULL }, &added, &no),
        CW_CONFLICT);
    cw_check_ok(
        cw_picking_fill(t.n, &t.who, parcel_of(&t, "1002"), &(cw_picking_from){ NULL, NULL }, &added, &err),
        &err);
    assert_int_equal(added, 2);
    test_nursery_check(&t);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM stop"), 3);
    cw_check_ok(cw_picking_shorts(t.n, &t.who, 0, &shorts, &err), &err);
    assert_int_equal(cw_table_rows(&shorts), 0);
    cw_table_free(&shorts);
    answer(&t, "Marta", "b", pick_of(&t, "1002", 1), 2, NULL, outcome);
    assert_int_equal(lot_has(&t, "L3"), 1);
    test_nursery_free(&t);
}

static int64_t has_at(test_nursery *t, const char *lot, const char *place)
{
    char sql[240];
    snprintf(sql, sizeof sql,
             "SELECT COALESCE(SUM(b.divisions), 0) FROM balance b JOIN lot l ON l.id = b.lot_id JOIN place p "
             "ON p.id = "
             "b.place_id WHERE l.code = '%s' AND p.code = '%s'",
             lot, place);
    return number_of(t, sql);
}

static cw_code say_missing(test_nursery *t, const char *key, int64_t pick, int64_t taken, const char *reason,
                           bool empty, cw_error *err)
{
    cw_table out = { 0 };
    cw_picking_answer a = {
        .key = key, .pick = pick, .taken = taken, .reason = reason, .at = CW_NO_INSTANT, .empty = empty
    };
    *err = (cw_error)CW_ERROR_NONE;
    cw_code code = cw_picking_answer_all(t->n, &t->who, &a, 1, &out, err);
    if (code == CW_OK)
        print_message("  %s: %s\n", cw_table_text(&out, 0, 2), cw_table_text(&out, 0, 3));
    cw_table_free(&out);
    test_nursery_check(t);
    return code;
}

/* Eight of L1 lie at C2 and two at C3 by the book. One of three is there: the crate is empty. */
static void an_empty_crate_leaves_no_ghost(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table shorts;
    int64_t added = 0;
    char outcome[16];
    (void)state;
    picking_make(&t);
    count_lot(&t, "L1", "2032-01-25", 10);
    int64_t wave = wave_make(&t), pick = pick_of(&t, "1002", 1);
    cw_cellar_entry move = CW_CELLAR_ENTRY;
    move.lot = "L1", move.place = "C2", move.to = "C3", move.divisions = 2;
    cw_check_ok(cw_cellar_move(t.n, &t.who, &move, &shorts, &err), &err);
    cw_table_free(&shorts);
    assert_int_equal(
        number_of(&t, "SELECT COUNT(*) FROM pick k JOIN stop s ON s.id = k.stop_id JOIN place p ON p.id = "
                      "s.place_id JOIN lot l ON l.id = k.lot_id WHERE l.code = 'L1' AND p.code = 'C2'"),
        2);
    answer(&t, "Marta", "first", pick_of(&t, "1001", 1), 2, NULL, outcome);
    assert_int_equal(say_missing(&t, "rotten", pick, 1, "rotten", true, &err), CW_REFUSED);
    assert_string_equal(err.column, "empty");
    assert_int_equal(say_missing(&t, "empty", pick, 1, "missing", true, &err), CW_OK);
    assert_int_equal(has_at(&t, "L1", "C2"), 0);
    assert_int_equal(has_at(&t, "L1", "C3"), 2);
    assert_int_equal(
        number_of(&t, "SELECT SUM(divisions) FROM movement WHERE reason = 'missing' AND cause = 'pick'"), -5);
    assert_int_equal(
        number_of(&t, "SELECT COUNT(*) FROM audit WHERE after LIKE '%the crate is empty, 3 more missing'"),
        1);
    /* Pressed by mistake: all of it comes back; and the same answer again under another key. */
    cw_check_ok(cw_picking_undo(t.n, &t.who, pick, "a slip", &err), &err);
    test_nursery_check(&t);
    assert_int_equal(has_at(&t, "L1", "C2"), 6);
    assert_int_equal(say_missing(&t, "empty", pick, 1, "missing", true, &err),
                     CW_OK); /* known: not done again */
    assert_int_equal(has_at(&t, "L1", "C2"), 6);
    /* Not empty, they say: what is left by the book there is offered after all other places. */
    assert_int_equal(say_missing(&t, "not", pick, 1, "missing", false, &err), CW_OK);
    assert_int_equal(has_at(&t, "L1", "C2"), 3);
    cw_check_ok(cw_picking_shorts(t.n, &t.who, wave, &shorts, &err), &err);
    assert_int_equal(cw_table_rows(&shorts), 1);
    print_message("  %s\n", cw_table_text(&shorts, 0, 19));
    assert_string_equal(cw_table_text(&shorts, 0, 14), "L1");
    assert_string_equal(cw_table_text(&shorts, 0, 15), "C3");
    cw_table_free(&shorts);
    cw_check_ok(
        cw_picking_fill(t.n, &t.who, parcel_of(&t, "1002"), &(cw_picking_from){ "L1", NULL }, &added, &err),
        &err);
    assert_int_equal(added, 2);
    assert_int_equal(
        number_of(&t,
                  "SELECT SUM(k.quantity) FROM pick k JOIN stop s ON s.id = k.stop_id JOIN place p ON p.id "
                  "= s.place_id WHERE k.state = 'open' AND k.lot_id = 1 AND p.code = 'C3'"),
        2);
    test_nursery_free(&t);
}

/* Whatever place is named is where the packer goes, also one that the walk would not choose. */
static void a_fill_goes_to_the_place_named(void **state)
{
    static const struct {
        const char *lot, *place;
        int64_t added; /* 0: refused, there is none */
    } rows[] = {
        { "L1", "C2", 2 }, { "L1", "C1", 2 }, { "L3", "C3", 2 }, { "L3", "C1", 0 }, { NULL, "C3", 2 }
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        test_nursery t;
        cw_error err = CW_ERROR_NONE;
        cw_table moved;
        int64_t added = 0;
        char outcome[16], sql[240];
        picking_make(&t);
        count_lot(&t, "L1", "2032-01-25", 10);
        wave_make(&t);
        cw_cellar_entry move = CW_CELLAR_ENTRY;
        move.lot = "L1", move.place = "C2", move.to = "C1", move.divisions = 2;
        cw_check_ok(cw_cellar_move(t.n, &t.who, &move, &moved, &err), &err);
        cw_table_free(&moved);
        answer(&t, "Marta", "a", pick_of(&t, "1002", 1), 1, "missing", outcome);
        print_message("row %zu\n", i);
        cw_picking_from from = { rows[i].lot, rows[i].place };
        cw_code code = cw_picking_fill(t.n, &t.who, parcel_of(&t, "1002"), &from, &added, &err);
        assert_int_equal(code, rows[i].added ? CW_OK : CW_CONFLICT);
        assert_int_equal(added, rows[i].added);
        if (rows[i].added == 0)
            assert_non_null(strstr(err.text, "in lot L3 at C1"));
        snprintf(sql, sizeof sql,
                 "SELECT COALESCE(SUM(k.quantity), 0) FROM pick k JOIN stop s ON s.id = k.stop_id JOIN place "
                 "p ON p.id = "
                 "s.place_id WHERE k.id = %lld AND k.state = 'open' AND p.code = '%s'",
                 (long long)pick_of(&t, "1002", 1), rows[i].place);
        assert_int_equal(number_of(&t, sql), rows[i].added);
        test_nursery_check(&t);
        test_nursery_free(&t);
    }
    (void)state;
}

static void a_mislabelled_lot_goes_nowhere(void **state)
{
    test_nursery t;
    char outcome[16];
    cw_error err = CW_ERROR_NONE, no = CW_ERROR_NONE;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    answer(&t, "Marta", "a", pick_of(&t, "1002", 1), 3, NULL, outcome);
    answer(&t, "Marta", "b", pick_of(&t, "1001", 1), 0, "mislabelled", outcome);
    assert_int_equal(lot_has(&t, "L1"), 2); /* they are there, but what are they? */
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM lot WHERE held IS NOT NULL"), 1);
    cw_packing_count count = { .count = 3 };
    assert_int_equal(cw_packing_pack(t.n, &t.who, parcel_of(&t, "1002"), &count, &no), CW_CONFLICT);
    assert_non_null(strstr(no.text, "mislabelled"));
    cw_check_ok(cw_picking_undo(t.n, &t.who, pick_of(&t, "1002", 1), "mislabelled lot", &err), &err);
    test_nursery_check(&t);
    /* What 1001 still waits for comes from the other lot in a further wave. */
    wave_make(&t);
    assert_int_equal(number_of(&t, "SELECT SUM(quantity) FROM pick WHERE wave_id = 2"), 2);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM pick k JOIN lot l ON l.id = k.lot_id "
                                   "WHERE wave_id = 2 AND l.code <> 'L3'"),
                     0);
    test_nursery_free(&t);
}

static void stops_are_worked_by_one(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table share;
    (void)state;
    picking_make(&t);
    int64_t wave = wave_make(&t), stop = number_of(&t, "SELECT MIN(id) FROM stop");
    cw_check_ok(cw_picking_take(t.n, &t.who, stop, "Marta", &err), &err);
    cw_check_ok(cw_picking_take(t.n, &t.who, stop, "Marta", &err), &err);
    cw_error no = CW_ERROR_NONE;
    assert_int_equal(cw_picking_take(t.n, &t.who, stop, "Jon", &no), CW_CONFLICT);
    assert_non_null(strstr(no.text, "Marta"));
    cw_asker packer = t.who;
    packer.role = CW_ROLE_PACKER;
    cw_error not_his = CW_ERROR_NONE;
    assert_int_equal(cw_picking_release(t.n, &packer, stop, "Jon", &not_his), CW_CONFLICT);
    cw_check_ok(cw_picking_release(t.n, &packer, stop, "Marta", &err), &err);
    cw_check_ok(cw_picking_take(t.n, &packer, stop, "Jon", &err), &err);
    packer.role = CW_ROLE_CELLAR;
    cw_error forbidden = CW_ERROR_NONE;
    assert_int_equal(cw_picking_take(t.n, &packer, stop, "Jon", &forbidden), CW_FORBIDDEN);
    cw_check_ok(cw_picking_stretches(t.n, wave, 2, &share, &err), &err);
    assert_int_equal(cw_table_rows(&share), 2);
    assert_int_equal(cw_table_int(&share, 0, 2), 1);
    assert_int_equal(cw_table_int(&share, 1, 1), 2);
    cw_table_free(&share);
    test_nursery_free(&t);
}

static void a_wave_is_dropped_only_untouched(void **state)
{
    test_nursery t;
    char outcome[16];
    cw_error err = CW_ERROR_NONE, no = CW_ERROR_NONE;
    (void)state;
    picking_make(&t);
    int64_t first = wave_make(&t), pick_before_drop = pick_of(&t, "1002", 1);
    cw_check_ok(cw_picking_drop(t.n, &t.who, first, "wrong week", &err), &err);
    test_nursery_check(&t);
    cw_table waves;
    cw_check_ok(cw_picking_waves(t.n, &t.who, 0, &waves, &err), &err);
    assert_int_equal(cw_table_rows(&waves), 0);
    cw_table_free(&waves);
    assert_int_equal(cw_picking_drop(t.n, &t.who, first, "again", &err), CW_CONFLICT);
    err = (cw_error)CW_ERROR_NONE;
    rows_are(&t, "SELECT actor, before, after FROM audit WHERE action = 'drop wave'",
             "tester|open|wrong week\n");
    int64_t stale = pick_before_drop, second = wave_make(&t);
    assert_int_not_equal(first, second);
    /* A phone that still holds the dropped list hits nothing of the new one. */
    answer(&t, "Marta", "stale", stale, 1, "rotten", outcome);
    assert_string_equal(outcome, "clash");
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM pick WHERE state = 'done'"), 0);
    answer(&t, "Marta", "a", pick_of(&t, "1002", 1), 3, NULL, outcome);
    assert_int_equal(cw_picking_drop(t.n, &t.who, second, "wrong week", &no), CW_CONFLICT);
    test_nursery_free(&t);
}

static void what_is_open_can_leave_the_list(void **state)
{
    test_nursery t;
    char outcome[16];
    cw_error err = CW_ERROR_NONE, no = CW_ERROR_NONE;
    cw_table breaks;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    answer(&t, "Marta", "a", pick_of(&t, "1001", 1), 2, NULL, outcome);
    /* 1001: BRI is open, AMB is pulled and stays. 1002: nothing is pulled, the parcel goes and the order may move. */
    cw_check_ok(cw_picking_take_off(t.n, &t.who, parcel_of(&t, "1001"), "rang up", &err), &err);
    assert_int_equal(cw_picking_take_off(t.n, &t.who, parcel_of(&t, "1001"), "rang up", &no), CW_CONFLICT);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM parcel"), 3);
    cw_error in_wave = CW_ERROR_NONE;
    assert_int_equal(cw_shipping_move(t.n, &t.who, "1002", 203217, "away", &breaks, &in_wave), CW_CONFLICT);
    cw_table_free(&breaks);
    cw_check_ok(cw_picking_take_off(t.n, &t.who, parcel_of(&t, "1002"), "away", &err), &err);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM parcel"), 2);
    test_nursery_check(&t);
    cw_check_ok(cw_shipping_move(t.n, &t.who, "1002", 203217, "away", &breaks, &err), &err);
    cw_table_free(&breaks);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_wave_is_one_walk_of_what_is_promised),
        cmocka_unit_test(what_cannot_be_pulled_is_said),
        cmocka_unit_test(what_must_leave_whole_waits),
        cmocka_unit_test(an_answer_is_booked_once),
        cmocka_unit_test(wrong_answers_are_refused_together),
        cmocka_unit_test(the_ledger_is_not_overdrawn),
        cmocka_unit_test(an_answer_can_be_taken_back),
        cmocka_unit_test(undo_reopens_no_more_than_is_promised),
        cmocka_unit_test(the_office_sees_a_short_and_fills_it),
        cmocka_unit_test(an_empty_crate_leaves_no_ghost),
        cmocka_unit_test(a_fill_goes_to_the_place_named),
        cmocka_unit_test(a_mislabelled_lot_goes_nowhere),
        cmocka_unit_test(stops_are_worked_by_one),
        cmocka_unit_test(a_wave_is_dropped_only_untouched),
        cmocka_unit_test(what_is_open_can_leave_the_list),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

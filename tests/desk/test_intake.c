/* SPDX-License-Identifier: MIT */
#include "support/intake.h"

#include "desk/cellar/cellar.h"
#include "store/ledger.h"
#include "columns/audit.h"
#include "store/statement_inside.h"

#include "base/banned.h"

static void a_season_is_loaded_in_one_call(void **state)
{
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    loaded l = load_all(&t);
    ok(l);
    assert_int_equal(l.made, 3 + 3 + 3 + 2 + 2 + 3 + 3);
    /* L1: 40 dug, 2 rotten at the check, 10 taken (1 rotten): 28. 44 made, 4 lost, and the count found 39 of 40. */
    assert_int_equal(on_hand(&t, "L1").clumps, 28);
    assert_int_equal(on_hand(&t, "L1").divisions, 39);
    assert_int_equal(on_hand(&t, "L2").clumps, 26); /* 30 - 5 = 25, one found */
    assert_int_equal(on_hand(&t, "L2").divisions, 21);
    assert_int_equal(on_hand(&t, "L3").divisions, 12);
    test_nursery_free(&t);
}

static void loading_again_changes_nothing(void **state)
{
    test_nursery t;
    cw_revision before, after;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    test_nursery_make(&t);
    ok(load_all(&t));
    cw_check_ok(cw_nursery_revision(t.n, &before, &err), &err);
    loaded l = load_all(&t);
    ok(l);
    assert_int_equal(l.made, 0);
    assert_int_equal(l.changed, 0);
    assert_int_equal(l.unchanged, 3 + 3 + 3 + 2 + 2 + 3 + 3);
    cw_check_ok(cw_nursery_revision(t.n, &after, &err), &err);
    assert_int_equal(after.stock, before.stock);
    assert_int_equal(after.trade, before.trade);
    /* Other line ends and a byte order mark do not make it another file. */
    l = load_one(&t, "divisions.csv",
                 "\xEF\xBB\xBFlot,divided_on,clumps,saleable,blind,rotten,place\r\n"
                 "L1,2031-12-05,10,44,7,1,B1\r\nL2,2031-12-06,5,21,3,0,\r\n");
    ok(l);
    assert_int_equal(l.made, 0);
    assert_non_null(strstr(l.note, "loaded before, as divisions.csv on 2032-02-01 at 12:00 UTC"));
    test_nursery_free(&t);
}

static void a_file_that_has_grown_adds_its_new_rows(void **state)
{
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    ok(load_all(&t));
    loaded l = load_one(&t, "divisions.csv",
                        "lot,divided_on,clumps,saleable,blind,rotten,place\n"
                        "L2,2031-12-06,5,21,3,0,\nL1,2031-12-05,10,44,7,1,B1\nL2,2032-01-20,4,18,,,\n");
    ok(l);
    assert_int_equal(l.made, 1);
    assert_int_equal(l.unchanged, 2);
    assert_int_equal(on_hand(&t, "L2").clumps, 22);
    test_nursery_free(&t);
}

static int64_t minutes_of(test_nursery *t, const char *lot)
{
    cw_error err = CW_ERROR_NONE;
    json_t *sheet = NULL;
    cw_check_ok(cw_cellar_lot(t->n, lot, &sheet, &err), &err);
    const json_t *sessions = json_object_get(sheet, "sessions");
    assert_int_equal(json_array_size(sessions), 1);
    int64_t minutes = json_integer_value(json_object_get(json_array_get(sessions, 0), "minutes"));
    json_decref(sheet);
    return minutes;
}

/* How long a session took is not what happened: a file that says it, too, tells of the sessions that are on record. */
static void minutes_come_to_the_sessions_on_record(void **state)
{
    static const char timed[] = "lot,divided_on,clumps,saleable,blind,rotten,place,minutes,people\n"
                                "L1,2031-12-05,10,44,7,1,B1,75,2\nL2,2031-12-06,5,21,3,0,,,\n";
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    ok(load_all(&t));
    assert_int_equal(minutes_of(&t, "L1"), 0);
    for (int again = 0; again < 2; again++) {
        loaded l = load_one(&t, "divisions.csv", timed);
        ok(l);
        assert_int_equal(l.made, 0);
        assert_int_equal(l.changed, again ? 0 : 1);
        assert_int_equal(l.unchanged, again ? 2 : 1);
        assert_int_equal(minutes_of(&t, "L1"), 75);
        assert_int_equal(minutes_of(&t, "L2"), 0);
    }
    loaded l = load_one(&t, "divisions.csv", divisions); /* the file without them is known as it was */
    ok(l);
    assert_int_equal(l.made, 0);
    assert_int_equal(on_hand(&t, "L1").clumps, 28);
    test_nursery_free(&t);
}

static void air_of_a_room_without_places_is_pointed_out(void **state)
{
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    ok(load_one(&t, "places.csv", places));
    loaded l = load_one(&t, "air.csv", "room,at,temp_c,rh\nnorht,2032-01-01T06:00:00Z,6,93\n");
    ok(l);
    assert_string_equal(l.note, "no place lies in the room norht: is its name right?");
    test_nursery_free(&t);
}

static void a_dry_run_leaves_no_trace(void **state)
{
    test_nursery t;
    cw_intake_file f = file("varieties.csv", varieties);
    (void)state;
    test_nursery_make(&t);
    loaded l = load_with(&t, &f, 1, (cw_intake_options){ .dry_run = true });
    ok(l);
    assert_int_equal(l.made, 3);
    l = load_with(&t, &f, 1, (cw_intake_options){ 0 });
    assert_int_equal(l.made, 3);
    test_nursery_free(&t);
}

static void a_changed_row_updates_and_is_audited(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    char before[64] = "", after[64] = "";
    (void)state;
    test_nursery_make(&t);
    ok(load_all(&t));
    /* Columns that the file lacks keep what is on record. */
    loaded l =
        load_one(&t, "varieties.csv", "code,name,price\nAMB,Amber Lantern,6.75\nBRI,Briar Song,8.00\n");
    ok(l);
    assert_int_equal(l.changed, 1);
    assert_int_equal(l.unchanged, 1);
    cw_stmt *s = cw_db_stmt(t.n->db, "audit.all");
    cw_check_ok(cw_stmt_start(s, &err, ""), &err);
    while (cw_stmt_next(s)) {
        if (strcmp(cw_col_text(s, audit_all_subject), "variety AMB") != 0)
            continue;
        cw_copy(before, sizeof before, cw_col_text(s, audit_all_before));
        cw_copy(after, sizeof after, cw_col_text(s, audit_all_after));
    }
    cw_check_ok(cw_stmt_end(s, &err), &err);
    assert_string_equal(before, "{\"price\":\"6.50\"}");
    assert_string_equal(after, "{\"price\":\"6.75\"}");
    test_nursery_free(&t);
}

typedef struct bad_case {
    const char *name, *file, *text, *first;
    long errors;
} bad_case;

/* Each is loaded alone into the small nursery: refused, with this first message, and nothing changed. */
static const bad_case bad_cases[] = {
    { "empty", "lots.csv", "", "lots.csv:1: the file is empty: a header row is required", 1 },
    { "header lacks a column", "lots.csv", "lot,variety,clumps\nL9,AMB,3\n",
      "lots.csv:1: dug_on: the header lacks this required column", 1 },
    { "unknown column", "lots.csv", "lot,variety,dug_on,clumps,weather\nL9,AMB,2031-10-20,3,wet\n",
      "lots.csv:1: unknown column: weather", 1 },
    { "semicolons", "lots.csv", "lot;variety;dug_on;clumps\nL9;AMB;2031-10-20;3\n",
      "lots.csv:1: columns must be parted by commas, not by semicolons or tabs: lot;variety;dug_on;clumps",
      1 },
    { "wrong type", "lots.csv", "lot,variety,dug_on,clumps\nL9,AMB,2031-10-20,twelve\n",
      "lots.csv:2: clumps: must be a whole number from 0 to 1000000: twelve", 1 },
    { "negative count", "lots.csv", "lot,variety,dug_on,clumps\nL9,AMB,2031-10-20,-4\n",
      "lots.csv:2: clumps: must be a whole number from 0 to 1000000: -4", 1 },
    { "absurd count", "lots.csv", "lot,variety,dug_on,clumps\nL9,AMB,2031-10-20,99999999\n",
      "lots.csv:2: clumps: must be a whole number from 0 to 1000000: 99999999", 1 },
    { "unknown variety", "lots.csv", "lot,variety,dug_on,clumps\nL9,ZZZ,2031-10-20,4\n",
      "lots.csv:2: variety: there is no variety of this code: ZZZ", 1 },
    { "unknown lot", "divisions.csv", "lot,divided_on,clumps,saleable\nL77,2031-12-01,4,9\n",
      "divisions.csv:2: lot: there is no such lot: L77", 1 },
    { "unknown place", "divisions.csv", "lot,divided_on,clumps,saleable,place\nL1,2031-12-01,4,9,Z9\n",
      "divisions.csv:2: place: there is no such place: Z9", 1 },
    { "more divided than there are", "divisions.csv", "lot,divided_on,clumps,saleable\nL1,2032-01-20,29,90\n",
      "divisions.csv:2: clumps: lot L1 has 28 clumps, 29 cannot go", 1 },
    { "more divided than there were then", "divisions.csv",
      "lot,divided_on,clumps,saleable\nL3,2032-01-10,1,4\n",
      "divisions.csv:2: clumps: lot L3 has 0 clumps, 1 cannot go", 1 },
    { "taken under a day when what came later was not there", "checks.csv",
      "lot,checked_on,stage,inspected,rotten\nL3,2032-01-10,division,12,2\n",
      "checks.csv:2: rotten: lot L3: 2 divisions cannot have gone on 2032-01-10, that is 2 more than there "
      "were then or "
      "are needed since",
      1 },
    { "more rotten than taken", "divisions.csv",
      "lot,divided_on,clumps,saleable,rotten\nL1,2031-12-01,4,9,5\n",
      "divisions.csv:2: rotten: more clumps rotten than were taken from store (4): 5", 1 },
    { "more divisions than a clump can bear", "divisions.csv",
      "lot,divided_on,clumps,saleable\nL1,2031-12-01,1,101\n",
      "divisions.csv:2: saleable: more than 100 divisions from each of 1 sound clumps: 101", 1 },
    { "more rotten than inspected", "checks.csv",
      "lot,checked_on,stage,inspected,rotten\nL1,2031-12-01,clump,3,4\n",
      "checks.csv:2: rotten: more rotten than inspected (3): 4", 1 },
    { "shrivelled clumps", "checks.csv",
      "lot,checked_on,stage,inspected,rotten,shrivelled\nL1,2031-12-01,clump,3,0,1\n",
      "checks.csv:2: shrivelled: only divisions are counted as shrivelled, not clumps: 1", 1 },
    { "unknown stage", "checks.csv", "lot,checked_on,stage,inspected,rotten\nL1,2031-12-01,tuber,3,0\n",
      "checks.csv:2: stage: must be clump or division: tuber", 1 },
    { "people without minutes", "divisions.csv",
      "lot,divided_on,clumps,saleable,people\nL1,2031-12-01,4,9,2\n",
      "divisions.csv:2: people: how many people goes with how many minutes, which is not said: 2", 1 },
    { "no minutes at all", "divisions.csv", "lot,divided_on,clumps,saleable,minutes\nL1,2031-12-01,4,9,0\n",
      "divisions.csv:2: minutes: must be a whole number from 1 to 10000: 0", 1 },
    { "after today", "divisions.csv", "lot,divided_on,clumps,saleable\nL1,2032-02-02,4,9\n",
      "divisions.csv:2: divided_on: lies after today (2032-02-01), but tells what has happened: 2032-02-02",
      1 },
    { "before it was dug", "divisions.csv", "lot,divided_on,clumps,saleable\nL1,2031-10-19,4,9\n",
      "divisions.csv:2: divided_on: lies before the lot was dug (2031-10-20): 2031-10-19", 1 },
    { "a day that does not exist", "lots.csv", "lot,variety,dug_on,clumps\nL9,AMB,2031-02-29,4\n",
      "lots.csv:2: dug_on: must be a day that exists, as 2032-04-19: 2031-02-29", 1 },
    { "the season before", "lots.csv", "lot,variety,dug_on,clumps\nL9,AMB,2030-10-20,4\n",
      "lots.csv:2: dug_on: lies outside the season 2031 (2031-04-20 to 2032-10-19); is this the file of "
      "another season?: "
      "2030-10-20",
      1 },
    { "history of this season", "history.csv", "season,variety,clumps,divisions\n2031,AMB,4,12\n",
      "history.csv:2: season: this file's season is 2031, and history is of seasons before it: 2031", 1 },
    { "another lot under the same code", "lots.csv", "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,41\n",
      "lots.csv:2: clumps: lot L1 is on record with another clumps [on record, in the file]: [40,41]; a file "
      "does not change "
      "a lot: correct its stock by a stock-take, or give the new lot its own code",
      1 },
    { "a key twice", "places.csv", "place,room,walk_order\nC1,x,1\nC2,x,2\nC1,x,3\n",
      "places.csv:4: place: this place stands twice in the file, first on line 2: C1", 1 },
    { "control character", "places.csv", "place,room,walk_order\nC\x01,x,1\n",
      "places.csv:2: place: must be one line without control characters: C?", 1 },
    { "invalid UTF-8", "places.csv", "place,room,walk_order\nC1,caf\xE9,1\n",
      "places.csv:2: field 2: not valid UTF-8 (save the file as CSV UTF-8): caf?", 1 },
    { "too few fields", "places.csv", "place,room,walk_order\nC1,x\n",
      "places.csv:2: 2 fields where the header has 3", 1 },
    { "a quote never closed", "places.csv", "place,room,walk_order\nC1,\"x,1\n",
      "places.csv:2: field 2: a quote is opened and never closed: \"x,1", 1 },
    { "both temperatures", "air.csv", "room,at,temp_c,temp_f,rh\nnorth,2032-01-01T06:00:00Z,6,43,93\n",
      "air.csv:2: temp_c: the temperature is given twice, in temp_c and temp_f", 1 },
    { "no temperature", "air.csv", "room,at,rh\nnorth,2032-01-01T06:00:00Z,93\n",
      "air.csv:2: temp_c: a temperature is needed, in temp_c or temp_f", 1 },
    { "an instant without offset", "air.csv", "room,at,temp_c,rh\nnorth,2032-01-01T06:00:00,6,93\n",
      "air.csv:2: at: must be an instant with its offset, as 2032-01-31T09:15:00Z or ...+01:00: "
      "2032-01-01T06:00:00",
      1 },
    { "humidity over 100", "air.csv", "room,at,temp_c,rh\nnorth,2032-01-01T06:00:00Z,6,930\n",
      "air.csv:2: rh: must be a number from 0 to 100: 930", 1 },
    { "an order that differs", "orders.csv",
      "order,received_at,line,variety,quantity,unit_price\n1001,2032-01-20T10:00:00Z,1,AMB,4,6.50\n",
      "orders.csv:2: quantity: line 1 of order 1001 is on record with another quantity; --changes lets a "
      "file change it",
      1 },
    { "an order's own columns differ", "orders.csv",
      "order,received_at,line,variety,quantity,unit_price,customer\n1001,2032-01-20T10:00:00Z,1,AMB,3,6.50,"
      "Eve\n",
      "orders.csv:2: customer: order 1001 is on record with another customer; --changes lets a file change "
      "it",
      1 },
    { "an order's lines disagree", "orders.csv",
      "order,received_at,line,variety,quantity,unit_price,customer\n7,2032-01-20T10:00:00Z,1,AMB,3,6,Eve\n"
      "7,2032-01-20T10:00:00Z,2,BRI,3,6,Adam\n",
      "orders.csv:3: customer: differs from the other lines of order 7", 1 },
    { "an order line twice", "orders.csv",
      "order,received_at,line,variety,quantity,unit_price\n7,2032-01-20T10:00:00Z,1,AMB,3,6\n7,2032-01-20T10:"
      "00:00Z,1,AMB,3,6\n",
      "orders.csv:3: order: this order line stands twice in the file, first on line 2: 7 line 1", 1 },
    { "an order line twice, another order between", "orders.csv",
      "order,received_at,line,variety,quantity,unit_price\n7,2032-01-20T10:00:00Z,2,AMB,3,6\n8,2032-01-20T10:"
      "00:00Z,1,AMB,3,6\n7,2032-01-20T10:00:00Z,1,AMB,1,6\n7,2032-01-20T10:00:00Z,2,AMB,1,6\n",
      "orders.csv:5: order: this order line stands twice in the file, first on line 2: 7 line 2", 1 },
    { "nothing asked", "orders.csv",
      "order,received_at,line,variety,quantity,unit_price\n7,2032-01-20T10:00:00Z,1,AMB,0,6\n",
      "orders.csv:2: quantity: must be a whole number from 1 to 100000: 0", 1 },
    { "neither variety nor assortment", "orders.csv",
      "order,received_at,line,variety,quantity,unit_price\n7,2032-01-20T10:00:00Z,1,,2,6\n",
      "orders.csv:2: variety: a line needs a variety, or an assortment in words", 1 },
    { "assortment of nonsense", "orders.csv",
      "order,received_at,line,variety,quantity,unit_price,assortment\n7,2032-01-20T10:00:00Z,1,,2,6,pink "
      "ones\n",
      "orders.csv:2: assortment: must be words like colour=pink form=ball: pink ones", 1 },
    { "named substitutes without names", "orders.csv",
      "order,received_at,line,variety,quantity,unit_price,consent\n7,2032-01-20T10:00:00Z,1,AMB,2,6,named\n",
      "orders.csv:2: named: consent to named substitutes needs their codes", 1 },
    { "a named substitute that is not", "orders.csv",
      "order,received_at,line,variety,quantity,unit_price,consent,named\n7,2032-01-20T10:00:00Z,1,AMB,2,6,"
      "named,BRI QQ\n",
      "orders.csv:2: named: there is no variety of this code: QQ", 1 },
    { "money with a comma", "orders.csv",
      "order,received_at,line,variety,quantity,unit_price\n7,2032-01-20T10:00:00Z,1,AMB,2,\"6,50\"\n",
      "orders.csv:2: unit_price: must be an amount of money, as 12.50, never negative: 6,50", 1 },
    { "no kind", "stuff.csv", "a,b\n1,2\n",
      "stuff.csv: the name does not begin with a kind of file; rename it, or name its kind: stuff.csv; the "
      "kinds are "
      "varieties, places, "
      "zones, destinations, zone_ranges, history, past_checks, past_sales, past_orders, past_plantings, "
      "plantings, lots, field_rounds, weighings, air, divisions, "
      "checks, "
      "counts, orders, holds, tracking",
      0 },
};

static void bad_input_is_told_and_changes_nothing(void **state)
{
    test_nursery t;
    cw_revision before, after;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    test_nursery_make(&t);
    ok(load_all(&t));
    cw_check_ok(cw_nursery_revision(t.n, &before, &err), &err);
    for (size_t i = 0; i < sizeof bad_cases / sizeof bad_cases[0]; i++) {
        const bad_case *c = &bad_cases[i];
        print_message("%s\n", c->name);
        loaded l = load_one(&t, c->file, c->text);
        assert_string_equal(l.first, c->first);
        assert_int_equal(l.code, strstr(c->first, "cannot ") || strstr(c->first, "on record") ? CW_CONFLICT
                                                                                              : CW_REFUSED);
        assert_int_equal(l.errors, c->errors);
    }
    cw_check_ok(cw_nursery_revision(t.n, &after, &err), &err);
    assert_int_equal(after.stock, before.stock);
    assert_int_equal(after.trade, before.trade);
    test_nursery_free(&t);
}

static void errors_are_listed_and_counted(void **state)
{
    test_nursery t;
    cw_text many = CW_TEXT(1 << 20);
    (void)state;
    test_nursery_make(&t);
    cw_text_add(&many, "place,room,walk_order\n");
    for (int i = 0; i < 500; i++)
        cw_text_addf(&many, "P%d,room,%s\n", i, i % 2 ? "x" : "1");
    loaded l = load_one(&t, "places.csv", many.data);
    assert_int_equal(l.errors, 250);
    assert_string_equal(l.first, "places.csv:3: walk_order: must be a whole number from 0 to 999999999: x");
    cw_text_free(&many);
    /* A row that hangs on a wrong row is not complained of again. */
    cw_intake_file files[] = { file("lots.csv", "lot,variety,dug_on,clumps\nL1,QQ,2031-10-20,5\n"),
                               file("divisions.csv", "lot,divided_on,clumps,saleable\nL1,2031-12-01,2,8\n") };
    l = load_with(&t, files, 2, (cw_intake_options){ 0 });
    assert_int_equal(l.errors, 1);
    test_nursery_free(&t);
}

static void bytes_that_are_no_text_are_refused(void **state)
{
    test_nursery t;
    static const char nul[] = "place,room,walk_order\nA\0B,x,1\n";
    cw_intake_file f = { .name = "places.csv", .bytes = nul, .length = sizeof nul - 1 };
    (void)state;
    test_nursery_make(&t);
    loaded l = load_with(&t, &f, 1, (cw_intake_options){ 0 });
    assert_string_equal(l.first, "places.csv:2: field 1: a NUL byte: A?B");
    /* A line without an end is given up after 256 KiB, whatever the size of the file. */
    size_t n = (size_t)32 << 20;
    char *line = malloc(n);
    assert_non_null(line);
    memset(line, 'x', n);
    memcpy(line, "place,room,walk_order\n", 22);
    f = (cw_intake_file){ .name = "places.csv", .bytes = line, .length = n };
    l = load_with(&t, &f, 1, (cw_intake_options){ 0 });
    assert_non_null(strstr(l.first, "places.csv:2: a row longer than 262144 bytes: xxxx"));
    free(line);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_season_is_loaded_in_one_call),
        cmocka_unit_test(loading_again_changes_nothing),
        cmocka_unit_test(a_file_that_has_grown_adds_its_new_rows),
        cmocka_unit_test(minutes_come_to_the_sessions_on_record),
        cmocka_unit_test(a_dry_run_leaves_no_trace),
        cmocka_unit_test(air_of_a_room_without_places_is_pointed_out),
        cmocka_unit_test(a_changed_row_updates_and_is_audited),
        cmocka_unit_test(bad_input_is_told_and_changes_nothing),
        cmocka_unit_test(errors_are_listed_and_counted),
        cmocka_unit_test(bytes_that_are_no_text_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

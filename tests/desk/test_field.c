/* SPDX-License-Identifier: MIT */
/* The field: plantings, walks, digging and planting out, by file and by phone; and the law that every plant ends as a clump, a
 * culled clump, taken out, dead, or still stands. All data are invented; that a row holds one variety at a time and is dug when
 * frost has taken the tops is common practice, no source. */
#include "support/intake.h"

#include "base/rng.h"
#include "desk/cellar/cellar.h"
#include "desk/closing/closing.h"
#include "desk/export/exporting.h"
#include "desk/field/field.h"
#include "desk/field/left.h"
#include <sqlite3.h>

#include "base/banned.h"

static const char plantings[] = "row,variety,plants,planted_on,lot,spacing_cm\n"
                                "r1,AMB,60,2031-05-14,K7,60\n"
                                "r2,BRI,40,2031-05-15,,\n"
                                "r3,AMB,20,2031-05-15,K8,\n"
                                "r3,CIN,25,2031-05-16,,\n";

static int64_t number_in(const char *path, const char *sql)
{
    sqlite3 *raw = NULL;
    sqlite3_stmt *s = NULL;
    assert_int_equal(sqlite3_open_v2(path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(raw, sql, -1, &s, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(s), SQLITE_ROW);
    int64_t n = sqlite3_column_int64(s, 0);
    sqlite3_finalize(s);
    sqlite3_close(raw);
    return n;
}

static void make(test_nursery *t)
{
    test_nursery_make(t);
    ok(load_one(t, "varieties.csv", varieties));
    ok(load_one(t, "places.csv", places));
    ok(load_one(t, "plantings.csv", plantings));
}

/* A table cell of the row with that row name and variety. */
static int64_t of_row(test_nursery *t, const char *row, const char *variety, const char *column)
{
    cw_error err = CW_ERROR_NONE;
    cw_table rows;
    int64_t out = -99;
    cw_check_ok(cw_field_rows(t->n, &rows, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&rows); r++)
        if (strcmp(cw_table_text(&rows, r, 1), row) == 0 && strcmp(cw_table_text(&rows, r, 2), variety) == 0)
            out = cw_table_int(&rows, r, (size_t)cw_table_column(&rows, column));
    cw_table_free(&rows);
    return out;
}

static void files_come_in_and_go_out(void **state)
{
    static const char rounds[] = "row,seen_on,alive,rogued,reason,variety\n"
                                 "r1,2031-07-02,57,1,virus,AMB\n"
                                 "r1,2031-08-20,55,0,,AMB\n"
                                 "r3,2031-08-20,20,0,,CIN\n";
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    make(&t);
    cw_intake_file both[] = { file("field_rounds.csv", rounds), file("lots.csv", lots) };
    ok(load_with(&t, both, 2, (cw_intake_options){ 0 }));
    /* 60 set out = 13 standing + 40 dug + 2 culled + 1 taken out + 4 dead */
    assert_int_equal(of_row(&t, "r1", "AMB", "standing"), 13);
    assert_int_equal(of_row(&t, "r1", "AMB", "dug"), 40);
    assert_int_equal(of_row(&t, "r1", "AMB", "culled"), 2);
    assert_int_equal(of_row(&t, "r1", "AMB", "rogued"), 1);
    assert_int_equal(of_row(&t, "r1", "AMB", "dead"), 4);
    assert_int_equal(of_row(&t, "r3", "CIN", "dead"), 5);
    assert_int_equal(of_row(&t, "r3", "AMB", "standing"), 20);
    const struct {
        const char *kind, *text;
    } out[] = { { "plantings", "row,variety,plants,planted_on,lot,spacing_cm\n"
                               "r1,AMB,60,2031-05-14,K7,60\n"
                               "r2,BRI,40,2031-05-15,,\n"
                               "r3,AMB,20,2031-05-15,K8,\n"
                               "r3,CIN,25,2031-05-16,,\n" },
                { "field_rounds", rounds } };
    for (size_t i = 0; i < 2; i++) {
        cw_table table;
        cw_text csv = CW_TEXT(100000);
        cw_check_ok(cw_exporting_table(t.n, &t.who, out[i].kind, &table, &err), &err);
        cw_sink sink = cw_sink_text(&csv);
        cw_check_ok(cw_table_csv(&table, sink, &err), &err);
        assert_string_equal(csv.data, out[i].text);
        char name[40];
        snprintf(name, sizeof name, "%s.csv", out[i].kind);
        loaded again = load_one(&t, name, csv.data);
        ok(again);
        assert_int_equal(again.made + again.changed, 0);
        assert_int_equal(again.unchanged, i == 0 ? 4 : 3);
        cw_text_free(&csv);
        cw_table_free(&table);
    }
    test_nursery_free(&t);
}

/* Lots may come before anybody writes down what was planted. */
static void order_of_files_does_not_matter(void **state)
{
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    ok(load_one(&t, "varieties.csv", varieties));
    ok(load_one(&t, "places.csv", places));
    ok(load_one(&t, "lots.csv", lots));
    ok(load_one(&t, "plantings.csv", plantings));
    assert_int_equal(of_row(&t, "r1", "AMB", "standing"), 18);
    /* The first walk alone would leave too few for what was dug; the second says that some came up late. */
    ok(load_one(&t, "field_rounds.csv", "row,seen_on,alive\nr1,2031-06-10,38\nr1,2031-07-10,50\n"));
    assert_int_equal(of_row(&t, "r1", "AMB", "standing"), 8);
    test_nursery_free(&t);
}

static void laws_are_told_with_the_place(void **state)
{
    static const struct {
        const char *file, *text, *first;
    } bad[] = {
        { "lots.csv", "lot,variety,dug_on,clumps,row,culled\nL9,AMB,2031-10-20,55,r1,6\n",
          "lots.csv:2: clumps: of row r1 stood 60 plants on 2031-10-20 (60 set out, 0 dug, culled or taken "
          "out, 0 not "
          "found alive): 61 cannot be dug; if more stand, enter a walk of the row first" },
        { "lots.csv", "lot,variety,dug_on,clumps,row\nL9,CIN,2031-10-20,5,r1\n",
          "lots.csv:2: variety: row r1 is planted with AMB; a stretch of another variety in it needs a "
          "planting of "
          "its own" },
        { "field_rounds.csv", "row,seen_on,alive\nr1,2031-06-20,61\n",
          "field_rounds.csv:2: alive: row r1 had 60 plants, 0 of them dug, culled or taken out before "
          "2031-06-20: 61 cannot be alive" },
        { "field_rounds.csv", "row,seen_on,alive,rogued\nr1,2031-06-20,6,7\n",
          "field_rounds.csv:2: rogued: more plants taken out than were alive (6): 7" },
        { "field_rounds.csv", "row,seen_on,alive\nr3,2031-06-20,6\n",
          "field_rounds.csv:2: row: row r3 holds several varieties (AMB, CIN); say which" },
        { "field_rounds.csv", "row,seen_on,alive\nr9,2031-06-20,6\n",
          "field_rounds.csv:2: row: nothing is on record as planted in row r9" },
        { "field_rounds.csv", "row,seen_on,alive\nr1,2031-05-01,6\n",
          "field_rounds.csv:2: seen_on: lies before row r1 was planted" },
        { "field_rounds.csv", "row,seen_on,alive\nr1,2032-03-01,6\n",
          "field_rounds.csv:2: seen_on: lies after today (2032-02-01), but tells what has happened: "
          "2032-03-01" },
        { "past_plantings.csv", "season,variety,plants,clumps\n2030,AMB,40,41\n",
          "past_plantings.csv:2: clumps: more clumps dug than plants set out (40): 41" },
        { "past_plantings.csv", "season,variety,plants,clumps\n2031,AMB,40,31\n",
          "past_plantings.csv:2: season: this file's season is 2031, and past plantings are of seasons "
          "before it: 2031" },
        { "plantings.csv", "row,variety,plants,planted_on\nr1,AMB,0,2031-05-14\n",
          "plantings.csv:2: plants: must be a whole number from 1 to 1000000: 0" },
    };
    test_nursery t;
    (void)state;
    make(&t);
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        loaded l = load_one(&t, bad[i].file, bad[i].text);
        assert_string_equal(l.first, bad[i].first);
        assert_true(l.code == CW_REFUSED || l.code == CW_CONFLICT || l.code == CW_NOT_FOUND);
    }
    /* A planting cannot shrink below what was dug of it. */
    ok(load_one(&t, "lots.csv", lots));
    loaded l = load_one(&t, "plantings.csv", "row,variety,plants,planted_on\nr1,AMB,41,2031-05-14\n");
    assert_int_equal(l.code, CW_CONFLICT);
    assert_non_null(strstr(l.first, "plantings.csv:2: clumps: of row r1 stood 41 plants"));
    assert_int_equal(of_row(&t, "r1", "AMB", "plants"), 60);
    test_nursery_free(&t);
}

static int64_t entered(const cw_table *t, const char *column)
{
    return cw_table_int(t, 0, (size_t)cw_table_column(t, column));
}

/* The phone: yesterday's sheet, a row done with, tags, somebody at a row, taking back. */
static void the_phone_in_the_field(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out;
    cw_field_entry e = CW_FIELD_ENTRY;
    (void)state;
    make(&t);
    today(&t, 2031, 10, 22);
    e.row = "r1";
    e.day = t.who.today - 1;
    e.alive = 52;
    cw_check_ok(cw_field_walk(t.n, &t.who, &e, &out, &err), &err);
    assert_int_equal(entered(&out, "standing"), 52);
    cw_table_free(&out);
    assert_int_equal(cw_field_walk(t.n, &t.who, &e, &out, &err), CW_CONFLICT); /* the very same again */
    cw_table_free(&out);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_field_take_row(t.n, &t.who, "r1", NULL, true, &out, &err), &err);
    cw_table_free(&out);
    assert_int_equal(number_in(t.path, "SELECT COUNT(*) FROM planting WHERE taken_by = 'tester'"), 1);
    cw_field_entry d = CW_FIELD_ENTRY;
    d.row = "r1";
    d.clumps = 30;
    d.culled = 2;
    d.place = "A1";
    cw_check_ok(cw_field_dig(t.n, &t.who, &d, &out, &err), &err);
    assert_string_equal(cw_table_text(&out, 0, (size_t)cw_table_column(&out, "lot")), "r1-1");
    assert_int_equal(entered(&out, "standing"), 20);
    int64_t first = entered(&out, "cause_id");
    cw_table_free(&out);
    assert_int_equal(number_in(t.path, "SELECT COUNT(*) FROM planting WHERE taken_by IS NOT NULL"), 0);
    d.clumps = 18;
    d.culled = 0;
    d.done = "yes";
    cw_check_ok(cw_field_dig(t.n, &t.who, &d, &out, &err), &err);
    assert_string_equal(cw_table_text(&out, 0, (size_t)cw_table_column(&out, "lot")), "r1-2");
    assert_int_equal(entered(&out, "standing"), 0);
    cw_table_free(&out);
    assert_int_equal(of_row(&t, "r1", "AMB", "dead"), 10); /* 8 by the walk, 2 when the row was done with */
    assert_int_equal(on_hand(&t, "r1-1").clumps, 30);
    d.clumps =
        3; /* two were not found when the row was done with, and could still turn up that day; three could not */
    assert_int_equal(cw_field_dig(t.n, &t.who, &d, &out, &err), CW_CONFLICT);
    assert_string_equal(err.column, "clumps");
    cw_table_free(&out);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_field_dug(t.n, t.who.today, &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), 2);
    cw_table_free(&out);
    /* What nothing has happened to yet is taken back; then it is not. */
    cw_check_ok(cw_field_undo(t.n, &t.who, "dug", first, "wrong row", &out, &err), &err);
    cw_table_free(&out);
    assert_int_equal(on_hand(&t, "r1-1").clumps, 0);
    assert_int_equal(of_row(&t, "r1", "AMB", "dug"), 18);
    test_nursery_check(&t);
    cw_cellar_entry touch = CW_CELLAR_ENTRY;
    touch.lot = "r1-2";
    touch.clumps = 3;
    touch.saleable = 12;
    cw_check_ok(cw_cellar_divide(t.n, &t.who, &touch, &out, &err), &err);
    cw_table_free(&out);
    int64_t second = number_in(t.path, "SELECT id FROM lot WHERE code = 'r1-2'");
    assert_int_equal(cw_field_undo(t.n, &t.who, "dug", second, "wrong row", &out, &err), CW_CONFLICT);
    cw_table_free(&out);
    err = (cw_error)CW_ERROR_NONE;
    int64_t walked = number_in(t.path, "SELECT MIN(id) FROM field_round");
    cw_check_ok(cw_field_undo(t.n, &t.who, "round", walked, "wrong row", &out, &err), &err);
    cw_table_free(&out);
    assert_int_equal(cw_field_undo(t.n, &t.who, "round", walked, "again", &out, &err), CW_NOT_FOUND);
    cw_table_free(&out);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* Entries at random, late and early, against a book kept by hand: what the program takes keeps its laws, and what it refuses
 * changes nothing. */
static void any_season_in_the_field(void **state)
{
    cw_rng r;
    test_nursery t;
    (void)state;
    make(&t);
    today(&t, 2031, 11, 1);
    cw_rng_init(&r, 17, 0);
    long taken = 0, refused = 0;
    int64_t dug = 0, culled = 0;
    for (int i = 0; i < 300; i++) {
        cw_error err = CW_ERROR_NONE;
        cw_table out;
        cw_field_entry e = CW_FIELD_ENTRY;
        bool walk = cw_rng_below(&r, 3) > 0;
        e.row = cw_rng_below(&r, 2) ? "r1" : "r2";
        e.day = cw_day_from_ymd(2031, 6, 1) + (cw_day)cw_rng_below(&r, 150);
        e.alive = (int64_t)cw_rng_below(&r, 62);
        e.rogued = (int64_t)cw_rng_below(&r, 4);
        e.clumps = (int64_t)cw_rng_below(&r, 8);
        e.culled = (int64_t)cw_rng_below(&r, 3);
        cw_code code =
            walk ? cw_field_walk(t.n, &t.who, &e, &out, &err) : cw_field_dig(t.n, &t.who, &e, &out, &err);
        cw_table_free(&out);
        assert_true(code == CW_OK || code == CW_CONFLICT || code == CW_REFUSED);
        taken += code == CW_OK;
        refused += code != CW_OK;
        if (code == CW_OK && !walk) {
            dug += e.clumps;
            culled += e.culled;
        }
        test_nursery_check(&t);
    }
    print_message("%ld taken, %ld refused\n", taken, refused);
    assert_true(taken > 40 && refused > 40);
    assert_int_equal(of_row(&t, "r1", "AMB", "dug") + of_row(&t, "r2", "BRI", "dug"), dug);
    assert_int_equal(of_row(&t, "r1", "AMB", "culled") + of_row(&t, "r2", "BRI", "culled"), culled);
    for (int i = 0; i < 2; i++) {
        const char *row = i ? "r2" : "r1", *variety = i ? "BRI" : "AMB";
        assert_int_equal(of_row(&t, row, variety, "plants"),
                         of_row(&t, row, variety, "standing") + of_row(&t, row, variety, "dug") +
                             of_row(&t, row, variety, "culled") + of_row(&t, row, variety, "rogued") +
                             of_row(&t, row, variety, "dead"));
    }
    test_nursery_free(&t);
}

/* The season's end: all lots at once, rows of the beds, and what the next season's file makes of it. */
static void what_is_left_goes_to_the_beds(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out;
    char path[128];
    (void)state;
    make(&t);
    ok(load_one(&t, "lots.csv", lots));
    ok(load_one(&t, "divisions.csv", divisions));
    cw_check_ok(cw_left_list(t.n, &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), 2);
    assert_string_equal(cw_table_text(&out, 0, 0), "L1");
    assert_int_equal(cw_table_int(&out, 0, 5), 44);
    assert_int_equal(cw_table_int(&out, 0, 9), 5); /* hold-back of AMB */
    cw_table_free(&out);
    const cw_left_item wrong[] = { { "L1", "b1", 5, 39, 30 }, { "L2", "b2", 22, 0, 0 } };
    assert_int_equal(cw_left_enter(t.n, &t.who, CW_NO_DAY, wrong, 2, &out, &err), CW_CONFLICT);
    assert_non_null(strstr(err.text, "lot L2: "));
    cw_table_free(&out);
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(on_hand(&t, "L1").divisions, 44); /* all or none */
    const cw_left_item items[] = { { "L1", "b1", 5, 39, 30 }, { "L2", NULL, 4, 17, 0 } };
    cw_check_ok(cw_left_enter(t.n, &t.who, CW_NO_DAY, items, 2, &out, &err), &err);
    assert_int_equal(cw_table_int(&out, 0, 1), 9);
    assert_int_equal(cw_table_int(&out, 0, 2), 56);
    assert_int_equal(cw_table_int(&out, 0, 4), 0);
    assert_int_equal(cw_table_int(&out, 0, 5), 25);
    cw_table_free(&out);
    test_nursery_check(&t);
    assert_int_equal(of_row(&t, "r1", "AMB", "standing"), 18); /* this season's rows are as they were */
    cw_check_ok(cw_left_planted(t.n, &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), 2);
    int64_t entry = cw_table_int(&out, 1, 6);
    cw_table_free(&out);
    /* Taken back, it is not planted any more. */
    cw_check_ok(cw_cellar_undo(t.n, &t.who, "entry", entry, "stays in store", &out, &err), &err);
    cw_table_free(&out);
    assert_int_equal(number_in(t.path, "SELECT COUNT(*) FROM planting WHERE entry_id IS NOT NULL"), 1);
    const cw_left_item again[] = { { "L2", "b2", 4, 0, 0 } };
    cw_check_ok(cw_left_enter(t.n, &t.who, CW_NO_DAY, again, 1, &out, &err), &err);
    cw_table_free(&out);
    today(&t, 2032, 5, 20);
    snprintf(path, sizeof path, "%s/next.db", t.folder);
    cw_next next = { .path = path, .season = 2032, .ship = cw_day_from_ymd(2033, 4, 18) };
    cw_check_ok(cw_closing_next(t.n, &t.who, &next, true, &out, &err), &err);
    cw_table_free(&out);
    assert_int_equal(
        number_in(path, "SELECT COUNT(*) FROM planting WHERE entry_id IS NULL AND of_season = 2031"), 2);
    assert_int_equal(number_in(path, "SELECT plants FROM planting WHERE row = 'b1' AND lot = 'L1'"), 5);
    assert_int_equal(number_in(path, "SELECT plants FROM planting WHERE row = 'b2' AND lot = 'L2'"), 4);
    /* 60 set out gave 40 sound clumps; r3, of which nothing was dug, tells nothing */
    assert_int_equal(number_in(path, "SELECT SUM(plants) FROM past_planting WHERE season = 2031"), 100);
    assert_int_equal(number_in(path, "SELECT SUM(clumps) FROM past_planting WHERE season = 2031"), 70);
    cw_nursery *made = NULL;
    long broken = 0;
    cw_check_ok(cw_nursery_open(path, CW_LOOK, NULL, &made, &err), &err);
    cw_check_ok(cw_closing_prove(made, t.n, &t.who, &out, &broken, &err), &err);
    assert_int_equal(broken, 0);
    cw_table_free(&out);
    cw_nursery_close(made);
    sqlite3 *raw = NULL; /* a figure that was changed in the new file does not agree any more */
    assert_int_equal(sqlite3_open_v2(path, &raw, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_exec(raw, "UPDATE past_planting SET clumps = clumps - 1", NULL, NULL, NULL),
                     SQLITE_OK);
    sqlite3_close(raw);
    cw_check_ok(cw_nursery_open(path, CW_LOOK, NULL, &made, &err), &err);
    cw_check_ok(cw_closing_prove(made, t.n, &t.who, &out, &broken, &err), &err);
    assert_int_equal(broken, 1);
    cw_table_free(&out);
    cw_nursery_close(made);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(files_come_in_and_go_out),     cmocka_unit_test(order_of_files_does_not_matter),
        cmocka_unit_test(laws_are_told_with_the_place), cmocka_unit_test(the_phone_in_the_field),
        cmocka_unit_test(any_season_in_the_field),      cmocka_unit_test(what_is_left_goes_to_the_beds),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* SPDX-License-Identifier: MIT */
/* The season's letter says what the records say: every figure in it is worked out here by hand from the rows that are loaded.
 * All data are invented. */
#include "support/intake.h"
#include "support/unasked.h"

#include "desk/cellar/cellar.h"
#include "desk/closing/closing.h"
#include "desk/closing/letter.h"
#include "store/offers.h"
#include "store/said.h"
#include <sqlite3.h>

#include "base/banned.h"

static void on_day(test_nursery *t, cw_day day)
{
    t->who.today = day;
    t->who.now = t->who.clock = day * CW_DAY_MS + 43200000;
}

/* Amber gives 2.5 a clump where about 4 were meant; Briar comes as said. */
static void make(test_nursery *t)
{
    test_nursery_make(t);
    on_day(t, cw_day_from_ymd(2032, 1, 25));
    must_load(t, "varieties.csv", varieties);
    must_load(t, "places.csv", places);
    must_load(t, "history.csv",
              "season,variety,clumps,divisions\n2029,AMB,60,260\n2030,AMB,55,231\n2030,BRI,40,160\n");
    must_load(t, "lots.csv",
              "lot,variety,dug_on,clumps,row,culled,place\nL1,AMB,2031-10-20,42,r1,2,A1\nL2,BRI,2031-10-21,"
              "30,r2,0,A2\n");
}

static void say(test_nursery *t, cw_day day)
{
    cw_error err = CW_ERROR_NONE;
    cw_said s = { .why = "release", .day = day, .ship = t->n->season.ship, .stock_revision = 1 };
    const cw_said_row row[] = { { 1, 160, { 130, 140, 150, 160, 170, 180, 190 } },
                                { 2, 120, { 95, 100, 110, 120, 130, 140, 145 } } };
    const cw_release r = { .variety_id = 1,
                           .at = t->who.now,
                           .actor = "owner",
                           .offered = 3,
                           .confidence = 0.9,
                           .p_short = 0.1,
                           .basis = "{}" };
    int64_t before = 0;
    cw_check_ok(cw_work_begin(t->n, &err), &err);
    cw_check_ok(cw_said_add(t->n->db, &s, t->who.now, "owner", &err), &err);
    for (size_t i = 0; i < 2; i++)
        cw_check_ok(cw_said_add_row(t->n->db, s.id, &row[i], &err), &err);
    cw_check_ok(cw_offer_release(t->n->db, &r, &before, &err), &err);
    cw_check_ok(cw_work_end(t->n, CW_OK, &err), &err);
}

static void spring(test_nursery *t)
{
    say(t, cw_day_from_ymd(2032, 1, 10));
    must_load(t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,customer\n"
              "1001,2032-01-20T18:00:00Z,1,AMB,3,6.50,Zacharina Unlikely\n");
    on_day(t, cw_day_from_ymd(2032, 5, 1));
    must_load(t, "divisions.csv",
              "lot,divided_on,clumps,saleable,rotten,place\nL1,2032-03-20,42,100,2,B1\n"
              "L2,2032-03-21,30,121,0,B1\n");
    must_load(t, "checks.csv",
              "lot,checked_on,stage,inspected,rotten,shrivelled\n"
              "L1,2032-04-19,division,100,2,1\nL2,2032-04-19,division,121,0,0\n");
}

static void letter(test_nursery *t, cw_text *out)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_letter_text(t->n, &t->who, out, &err), &err);
    for (size_t i = 0; i < out->length; i++) /* lines are folded for reading, not for asking */
        if (out->data[i] == '\n')
            out->data[i] = ' ';
}

static void has(const cw_text *text, const char *words)
{
    if (strstr(text->data, words) == NULL)
        fail_msg("not said: %s\n%s", words, text->data);
}

#define NOT_TOLD                                                                                             \
    "Of no variety can it be told yet what came: some of its clumps are whole, or nobody has looked since."

static void the_figures_are_those_of_the_records(void **state)
{
    (void)state;
    test_nursery t;
    cw_text text;
    make(&t);
    spring(&t);
    letter(&t, &text);
    has(&text, "72 clumps were dug; 70 cut, which gave 221 saleable divisions");
    /* 100 - 2 - 1 of Amber and 121 of Briar, said 160 and 120; Briar alone within 100 to 140 */
    has(&text, "On 10 January 2032 we said 280 divisions of 2 varieties that can be told by now; 218 came. "
               "The range of 8 "
               "in 10 held 1 of them.");
    has(&text, "Of the 2 varieties of which we spoke on 10 January 2032, 1 came within");
    has(&text, "AMB (Amber Lantern): 160 expected (140 to 180), 97 came; a clump gave 2.5 divisions where");
    has(&text, "3 divisions were offered and 3 asked for; 3 of them sold");
    has(&text, "AMB (Amber Lantern) sold out on 20 January 2032");
    /* two rotten clumps at 100/40 each, 2 rotten, 1 shrivelled; 8 at 6.50 */
    has(&text,
        "8 divisions were lost: 5 with clumps that rotted, 2 rotten after cutting, 1 shrivelled, 0 thrown");
    has(&text, "52.00 USD");
    has(&text, "Cut some clumps of AMB before the first release: the first were cut on 20 March 2032.");
    has(&text, "will know 2 dividing sessions");
    assert_null(strstr(text.data, NOT_TOLD));
    assert_null(strstr(text.data, "Zacharina"));
    assert_null(strstr(text.data, "BRI ")); /* it fooled nobody */
    cw_text_free(&text);
    test_nursery_free(&t);
}

/* Gave what was said, and the store took it: not the rate but rot, or drying, is named. */
static void the_cause_is_the_one_of_the_records(void **state)
{
    (void)state;
    static const struct {
        const char *check, *says;
    } cases[] = {
        { "L1,2032-04-19,division,168,70,5\n", "more was lost to rot than expected" },
        { "L1,2032-04-19,division,168,5,70\n", "more shrivelled than expected" },
    };
    for (size_t i = 0; i < 2; i++) {
        test_nursery t;
        cw_text text;
        char rows[200];
        make(&t);
        say(&t, cw_day_from_ymd(2032, 1, 10));
        on_day(&t, cw_day_from_ymd(2032, 5, 1));
        must_load(&t, "divisions.csv",
                  "lot,divided_on,clumps,saleable,place\nL1,2032-03-20,42,168,B1\nL2,2032-03-21,30,121,B1\n");
        snprintf(rows, sizeof rows,
                 "lot,checked_on,stage,inspected,rotten,shrivelled\nL2,2032-04-19,division,121,0,0\n%s",
                 cases[i].check);
        must_load(&t, "checks.csv", rows);
        letter(&t, &text);
        has(&text, cases[i].says);
        has(&text, "Open some crates of AMB in midwinter: the first check on record is of 19 April 2032.");
        cw_text_free(&text);
        test_nursery_free(&t);
    }
}

static void before_the_shipping_day_nothing_is_held_against_us(void **state)
{
    (void)state;
    test_nursery t;
    cw_text text;
    make(&t);
    say(&t, cw_day_from_ymd(2032, 1, 10));
    letter(&t, &text);
    has(&text, "is not over: it ships on 19 April 2032");
    has(&text, "What came can be told once the shipping day is there.");
    assert_null(strstr(text.data, "came within"));
    cw_text_free(&text);
    test_nursery_free(&t);
}

/* The shipping day is over, and the clumps are whole as they were: what was said cannot be held against anything. */
static void what_nobody_looked_at_is_not_told(void **state)
{
    (void)state;
    test_nursery t;
    cw_text text;
    make(&t);
    say(&t, cw_day_from_ymd(2032, 1, 10));
    on_day(&t, cw_day_from_ymd(2032, 5, 1));
    letter(&t, &text);
    has(&text, NOT_TOLD);
    assert_null(strstr(text.data, "Nothing was said on record"));
    assert_null(strstr(text.data, "On 10 January 2032 we said"));
    assert_null(strstr(text.data, "came within"));
    cw_text_free(&text);
    test_nursery_free(&t);
}

static void an_empty_season_has_a_letter_too(void **state)
{
    (void)state;
    test_nursery t;
    cw_text text;
    test_nursery_make(&t);
    on_day(&t, cw_day_from_ymd(2032, 6, 1));
    letter(&t, &text);
    has(&text, "No clumps were dug");
    has(&text, "Nothing was said on record");
    assert_null(strstr(text.data, NOT_TOLD));
    has(&text, "Nobody has asked for anything yet.");
    has(&text, "Nothing was lost on record.");
    cw_text_free(&text);
    test_nursery_free(&t);
}

/* Without a release on record the letter says what the program would have said, and says so. */
static void without_a_release_the_records_are_asked(void **state)
{
    (void)state;
    test_nursery t;
    cw_text text;
    make(&t);
    on_day(&t, cw_day_from_ymd(2032, 5, 1));
    must_load(&t, "divisions.csv",
              "lot,divided_on,clumps,saleable,place\nL1,2032-03-20,42,105,B1\nL2,2032-03-21,30,121,B1\n");
    must_load(&t, "checks.csv",
              "lot,checked_on,stage,inspected,rotten,shrivelled\n"
              "L1,2032-04-19,division,105,0,0\nL2,2032-04-19,division,121,0,0\n");
    letter(&t, &text);
    has(&text, "As the records stand, ");
    has(&text, "of 23 February 2032."); /* eight weeks before 19 April */
    cw_text_free(&text);
    test_nursery_free(&t);
}

static void a_closed_season_is_read_all_the_same(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    cw_text before, after;
    cw_table out = { 0 };
    char path[120];
    make(&t);
    spring(&t);
    letter(&t, &before);
    snprintf(path, sizeof path, "%s/next.db", t.folder);
    const cw_next next = { path, 2032, cw_day_from_ymd(2033, 4, 18), true };
    cw_check_ok(cw_closing_next(t.n, &t.who, &next, true, &out, &err), &err);
    letter(&t, &after);
    assert_string_equal(before.data, after.data);
    cw_table_free(&out);
    cw_text_free(&before);
    cw_text_free(&after);
    test_nursery_free(&t);
}

/* ---- over the years ---- */

static test_nursery turn(test_nursery *t, int season, const char *path)
{
    cw_error err = CW_ERROR_NONE;
    test_nursery u = *t;
    cw_table out = { 0 };
    const cw_next next = { path, season, cw_day_from_ymd(season + 1, 4, 19), .leave_open = true };
    cw_check_ok(cw_closing_next(t->n, &t->who, &next, true, &out, &err), &err);
    cw_table_free(&out);
    cw_check_ok(cw_nursery_open(path, CW_WORK, "test", &u.n, &err), &err);
    return u;
}

static long broken_of(test_nursery *u, test_nursery *past)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    long broken = 0;
    cw_check_ok(cw_closing_prove(u->n, past->n, &u->who, &out, &broken, &err), &err);
    cw_table_free(&out);
    return broken;
}

static void must_do(const char *path, const char *sql)
{
    sqlite3 *raw = NULL;
    assert_int_equal(sqlite3_open_v2(path, &raw, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_exec(raw, sql, NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(raw);
}

/* A year later, at the same days: Amber gives what was said, Briar does not. */
static void second_winter(test_nursery *u)
{
    on_day(u, cw_day_from_ymd(2033, 1, 25));
    say(u, cw_day_from_ymd(2032, 12, 10)); /* the last one counts */
    must_load(u, "lots.csv",
              "lot,variety,dug_on,clumps,place\nM1,AMB,2032-10-20,40,A1\nM2,BRI,2032-10-21,30,A2\n");
    say(u, cw_day_from_ymd(2033, 1, 10));
    on_day(u, cw_day_from_ymd(2033, 5, 1));
    must_load(u, "divisions.csv",
              "lot,divided_on,clumps,saleable,place\nM1,2033-03-20,40,158,B1\nM2,2033-03-21,30,131,B1\n");
    must_load(u, "checks.csv",
              "lot,checked_on,stage,inspected,rotten\nM1,2033-04-19,division,158,0\nM2,2033-04-19,division,"
              "131,0\n");
}

/* What the last firm statement came to is told in every later year, with the figures of the season's own letter. */
static void the_years_before_are_told(void **state)
{
    (void)state;
    test_nursery t, u, v;
    cw_text text;
    char first[120], second[120];
    make(&t);
    snprintf(first, sizeof first, "%s/2032.db", t.folder);
    snprintf(second, sizeof second, "%s/2033.db", t.folder);
    spring(&t);
    letter(&t, &text);
    assert_null(strstr(text.data, "Season of 20")); /* nothing was before it */
    cw_text_free(&text);
    u = turn(&t, 2032, first);
    letter(&u, &text);
    /* As in the_figures_are_those_of_the_records: 160 and 120 said, 97 and 121 came, Briar alone within 100 to 140. */
    has(&text, "How the seasons before held");
    has(&text, "Season of 2031: on 10 January 2032 we said 280 divisions of 2 varieties; 218 came. The range "
               "of 8 in 10 held "
               "1 of them.");
    assert_null(strstr(text.data, "Over 1 season"));
    cw_text_free(&text);
    assert_int_equal(broken_of(&u, &t), 0);
    second_winter(&u);
    v = turn(&u, 2033, second);
    letter(&v, &text);
    /* 158 within 140 to 180; 131 within 100 to 140. */
    has(&text, "Season of 2031: on 10 January 2032 we said 280 divisions of 2 varieties; 218 came.");
    has(&text, "Season of 2032: on 10 January 2033 we said 280 divisions of 2 varieties; 289 came. The range "
               "of 8 in 10 held "
               "2 of them.");
    has(&text, "Over 2 seasons ranges of 8 in 10 held 3 of 4 times, 75 in 100.");
    cw_text_free(&text);
    assert_int_equal(broken_of(&v, &u), 0);
    /* A line that was touched, or that is gone, shows; and a file of a program that knew no such lines is not held against one. */
    must_do(second, "UPDATE past_said SET came = came + 1 WHERE season = 2032");
    assert_int_equal(broken_of(&v, &u), 1);
    must_do(second, "DELETE FROM past_said WHERE season = 2032");
    assert_int_equal(broken_of(&v, &u), 1);
    must_do(second, "UPDATE origin SET told = 0 WHERE season = 2032");
    assert_int_equal(broken_of(&v, &u), 0);
    cw_nursery_close(v.n);
    cw_nursery_close(u.n);
    test_nursery_free(&t);
}

/* Closed before its shipping day, or without a word on record: there is no line, and the proof knows that, too. */
static void a_season_without_a_statement_has_no_line(void **state)
{
    (void)state;
    test_nursery t, u;
    cw_text text;
    char path[120];
    make(&t);
    snprintf(path, sizeof path, "%s/2032.db", t.folder);
    say(&t, cw_day_from_ymd(2032, 1, 10));
    u = turn(&t, 2032, path); /* in January, long before anything came */
    letter(&u, &text);
    assert_null(strstr(text.data, "Season of 2031"));
    cw_text_free(&text);
    assert_int_equal(broken_of(&u, &t), 0);
    must_do(path, "INSERT INTO past_said VALUES (2031, 22000, 'release', 2, 280, 218, 1)");
    assert_int_equal(broken_of(&u, &t), 1);
    cw_nursery_close(u.n);
    test_nursery_free(&t);
}

/* ---- a larger season ---- */

/* Ten clumps of each of twelve varieties, four a clump expected. P02 and P10 have no price. */
static void make_large(test_nursery *t)
{
    cw_text kinds = CW_TEXT(4000), past = CW_TEXT(4000), dug = CW_TEXT(4000);
    cw_text_add(&kinds, "code,name,price\n");
    cw_text_add(&past, "season,variety,clumps,divisions\n");
    cw_text_add(&dug, "lot,variety,dug_on,clumps,place\n");
    for (int i = 1; i <= 12; i++) {
        cw_text_addf(&kinds, "P%02d,Plant %d,%s\n", i, i,
                     i == 2 || i == 10 ? ""
                     : i == 7          ? "3"
                     : i == 12         ? "0.01"
                                       : "2");
        cw_text_addf(&past, "2029,P%02d,50,200\n2030,P%02d,50,200\n", i, i);
        cw_text_addf(&dug, "M%02d,P%02d,2031-10-20,10,A1\n", i, i);
    }
    test_nursery_make(t);
    on_day(t, cw_day_from_ymd(2032, 1, 4));
    must_load(t, "varieties.csv", kinds.data);
    must_load(t, "places.csv", places);
    must_load(t, "history.csv", past.data);
    must_load(t, "lots.csv", dug.data);
    cw_text_free(&kinds);
    cw_text_free(&past);
    cw_text_free(&dug);
}

/* Said of P01 to P11: as many as `expected`, 6 more or less of 8 in 10. */
static void say_of_all(test_nursery *t, const char *why, cw_day day, int64_t expected)
{
    cw_error err = CW_ERROR_NONE;
    cw_said s = { .why = why, .day = day, .ship = t->n->season.ship, .stock_revision = day };
    cw_check_ok(cw_work_begin(t->n, &err), &err);
    cw_check_ok(cw_said_add(t->n->db, &s, day * CW_DAY_MS, "owner", &err), &err);
    for (int64_t v = 1; v <= 11; v++) {
        int64_t m = v == 10 ? expected / 4 : v == 11 ? 2 * expected : expected;
        const cw_said_row row = { v, (double)m, { m - 9, m - 6, m - 3, m, m + 3, m + 6, m + 9 } };
        cw_check_ok(cw_said_add_row(t->n->db, s.id, &row, &err), &err);
    }
    cw_check_ok(cw_work_end(t->n, CW_OK, &err), &err);
}

static void enter(test_nursery *t, const char *reason, int64_t whole, int64_t cut)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_cellar_entry e = CW_CELLAR_ENTRY;
    e.lot = "M12";
    e.place = whole ? "A1" : "B1";
    e.reason = reason;
    e.clumps = whole;
    e.divisions = cut;
    cw_check_ok(cw_cellar_enter(t->n, &t->who, &e, &out, &err), &err);
    cw_table_free(&out);
}

static void large_spring(test_nursery *t)
{
    static const struct {
        const char *why;
        int month, day, expected; /* of 2032 */
    } said[] = { { "release", 1, 10, 40 }, { "release", 1, 15, 50 }, { "month", 1, 31, 51 },
                 { "month", 2, 15, 52 },   { "month", 2, 29, 53 },   { "month", 3, 10, 54 },
                 { "month", 3, 31, 55 } };
    say_of_all(t, "month", cw_day_from_ymd(2031, 12, 31), 90);
    for (size_t i = 0; i < sizeof said / sizeof said[0]; i++)
        say_of_all(t, said[i].why, cw_day_from_ymd(2032, said[i].month, said[i].day), said[i].expected);
    on_day(t, cw_day_from_ymd(2032, 5, 1));
    must_load(t, "divisions.csv",
              "lot,divided_on,clumps,saleable,rotten,place\n"
              "M10,2032-01-05,10,40,0,B1\n" /* before anything was said */
              "M01,2032-02-01,10,10,0,B1\n" /* three weeks and a day after the first release */
              "M02,2032-01-31,10,80,0,B1\n" /* three weeks after it */
              "M03,2032-03-20,10,34,0,B1\nM04,2032-03-20,10,46,0,B1\nM05,2032-03-20,10,33,0,B1\n"
              "M06,2032-03-20,10,47,0,B1\nM07,2032-03-20,10,40,0,B1\nM08,2032-03-21,10,60,0,B1\n"
              "M09,2032-03-20,10,55,0,B1\nM11,2032-04-18,10,40,0,B1\n"
              "M12,2032-03-20,8,20,1,B1\n");
    must_load(
        t, "checks.csv",
        "lot,checked_on,stage,inspected,rotten,shrivelled\n"
        "M07,2032-01-20,clump,10,0,\nM01,2032-04-19,division,10,0,0\nM02,2032-04-19,division,80,0,0\n"
        "M03,2032-04-19,division,34,0,0\nM04,2032-04-19,division,46,0,0\nM05,2032-04-19,division,33,0,0\n"
        "M06,2032-04-19,division,47,0,0\nM07,2032-04-19,division,40,18,2\nM08,2032-04-19,division,60,0,0\n"
        "M09,2032-04-19,division,55,0,0\nM10,2032-04-19,division,40,0,0\n");
    enter(t, "discarded", 1, 0);
    enter(t, "missing", 0, 2);
    enter(t, "planted", 0, 3);
}

/* Two each are on offer, three of P08; what is asked for goes on these days. */
static void large_orders(test_nursery *t)
{
    sqlite3 *raw = NULL;
    assert_int_equal(sqlite3_open_v2(t->path, &raw, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    unasked_sql(raw, "INSERT INTO offering (variety_id, released, offered) SELECT id, 1, CASE code WHEN "
                     "'P08' THEN 3 ELSE 2 END FROM variety WHERE code <= 'P08'");
    sqlite3_close(raw);
    must_load(t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price\n"
              "2001,2032-01-10T12:00:00Z,1,P01,1,2\n2002,2032-01-11T12:00:00Z,1,P06,2,2\n"
              "2002,2032-01-11T12:00:00Z,2,P05,2,2\n2003,2032-01-12T12:00:00Z,1,P03,2,2\n"
              "2004,2032-01-13T12:00:00Z,1,P07,2,2\n2005,2032-01-14T12:00:00Z,1,P02,2,2\n"
              "2006,2032-01-15T12:00:00Z,1,P04,2,2\n2006,2032-01-15T12:00:00Z,2,P08,2,2\n"
              "2007,2032-01-16T12:00:00Z,1,P01,1,2\n");
}

/* The first release is what the catalogue rested on, not the month's end before it nor what was said since. */
static void a_larger_season(void **state)
{
    (void)state;
    test_nursery t;
    cw_text text;
    make_large(&t);
    large_spring(&t);
    large_orders(&t);
    letter(&t, &text);
    /* M12: eight opened, one of them rotten; 485 of the others and 20 made, 18 + 2 thrown out, 2 missing, 3 planted */
    has(&text, "120 clumps were dug; 117 cut, which gave 505 saleable divisions. 0 divisions were shipped "
               "and 3 planted; 480 stand in the store.");
    /* The last six times. 9 * 50 + 12 + 100; 465 came, of which 46, 47 and 55 lie within 44 to 56. */
    assert_null(strstr(text.data, "On 31 December 2031 we said"));
    assert_null(strstr(text.data, "On 10 January 2032 we said"));
    has(&text, "On 15 January 2032 we said 562 divisions of 11 varieties that can be told by now; 465 came. "
               "The range of 8 in 10 held 3 of them.");
    has(&text, "On 31 March 2032 we said 618");
    /* 34 and 46 lie within 34 to 46. By how far it missed, then by code; what gave as expected and was never cut since was kept. */
    has(&text, "Of the 11 varieties of which we spoke on 10 January 2032, 2 came within their range of 8 in "
               "10. P02 (Plant 2): 40 expected (34 to 46), 80 came; a clump gave 8.0 divisions where 4.0 "
               "were expected. P11 (Plant 11): 80 expected (74 to 86), 40 came; more was lost to rot than "
               "expected. P01 (Plant 1): 40 expected (34 to 46), 10 came; a clump gave 1.0 divisions where "
               "4.0 were expected. P10 (Plant 10): 10 expected (4 to 16), 40 came; less was lost in store "
               "than expected. P07 (Plant 7): 40 expected (34 to 46), 20 came; more was lost to rot than "
               "expected. 4 more lay outside their range, each by less.");
    has(&text, "17 divisions were offered and 16 asked for; 16 of them sold. P05 (Plant 5) sold out on 11 "
               "January 2032. P06 (Plant 6) sold out on 11 January 2032. P03 (Plant 3) sold out on 12 "
               "January 2032. P07 (Plant 7) sold out on 13 January 2032. P02 (Plant 2) sold out on 14 "
               "January 2032. 2 more varieties sold out later.");
    /* A clump of M12 gave 20/7: one that rotted, one thrown out with the two that are missing; at a cent each, the 20 of M07 at 3.00 */
    has(&text, "28 divisions were lost: 3 with clumps that rotted, 18 rotten after cutting, 2 shrivelled, 5 "
               "thrown out or missing. At the catalogue's prices they would have brought 60.08 USD.");
    /* P02 was cut three weeks after, P07 was looked at ten days after; only five are named. */
    has(&text, "What to measure earlier  Check P11 in store now and then: no check of it is on record. Cut "
               "some clumps of P01 before the first release: the first were cut on 1 February 2032. Open "
               "some crates of P10 in midwinter: the first check on record is of 19 April 2032. Cut some "
               "clumps of P08 before the first release: the first were cut on 21 March 2032. Cut some "
               "clumps of P09 before the first release: the first were cut on 20 March 2032.  What the next");
    has(&text, "will know 12 dividing sessions, 23 looks for rot, 10 looks for shrivelling and 0 weighings "
               "of this one, and what was asked of 8 varieties.");
    cw_text_free(&text);
    test_nursery_free(&t);
}

/* One clump, one division, one buyer: no plural. */
static void a_season_of_one(void **state)
{
    (void)state;
    test_nursery t;
    cw_text text;
    test_nursery_make(&t);
    on_day(&t, cw_day_from_ymd(2032, 5, 1));
    must_load(&t, "varieties.csv", varieties);
    must_load(&t, "places.csv", places);
    must_load(&t, "lots.csv", "lot,variety,dug_on,clumps,place\nL1,AMB,2031-10-20,1,A1\n");
    must_load(&t, "divisions.csv", "lot,divided_on,clumps,saleable,place\nL1,2032-03-20,1,1,B1\n");
    must_load(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price\n1,2032-01-20T18:00:00Z,1,AMB,1,6.50\n");
    letter(&t, &text);
    has(&text, "1 clump was dug; 1 cut, which gave 1 saleable division.");
    has(&text, "1 division was asked for; nothing was released.");
    has(&text, "1 dividing session, 1 look for rot, 0 looks for shrivelling and 0 weighings of this one, "
               "and what was asked of 1 variety.");
    cw_text_free(&text);
    test_nursery_free(&t);
}

/* As it is printed: titles with a line below, one between the parts, no line longer than 78. */
static void it_is_folded_for_paper(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    cw_text text;
    bool full = false;
    make(&t);
    spring(&t);
    cw_check_ok(cw_letter_text(t.n, &t.who, &text, &err), &err);
    assert_ptr_equal(strstr(text.data, "The season\n\nThe season of 2031 shipped"), text.data);
    has(&text, "store.\n\nWhat we said, and what came\n\nOn 10");
    for (const char *line = text.data; *line; line += strcspn(line, "\n") + 1) {
        size_t n = strcspn(line, "\n"), next = strcspn(line + n + 1, " \n");
        assert_true(n <= 78);
        assert_true(n == 0 || (line[0] != ' ' && line[n - 1] != ' '));
        /* Where a sentence goes on, its next word would not have fitted. */
        if (n && line[n - 1] != '.' && line[n + 1] != '\n')
            assert_true(n + 1 + next > 78);
        full = full || n == 78;
    }
    assert_true(full);
    cw_text_free(&text);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_figures_are_those_of_the_records),
        cmocka_unit_test(the_cause_is_the_one_of_the_records),
        cmocka_unit_test(before_the_shipping_day_nothing_is_held_against_us),
        cmocka_unit_test(what_nobody_looked_at_is_not_told),
        cmocka_unit_test(an_empty_season_has_a_letter_too),
        cmocka_unit_test(without_a_release_the_records_are_asked),
        cmocka_unit_test(a_closed_season_is_read_all_the_same),
        cmocka_unit_test(the_years_before_are_told),
        cmocka_unit_test(a_season_without_a_statement_has_no_line),
        cmocka_unit_test(a_larger_season),
        cmocka_unit_test(a_season_of_one),
        cmocka_unit_test(it_is_folded_for_paper),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

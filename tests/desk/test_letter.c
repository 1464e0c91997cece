/* SPDX-License-Identifier: MIT */
/* The season's letter says what the records say: every figure in it is worked out here by hand from the rows that are loaded.
 * All data are invented. */
#include "support/intake.h"

#include "desk/closing/closing.h"
#include "desk/closing/letter.h"
#include "store/offers.h"
#include "store/said.h"

#include "base/banned.h"

static void must_load(test_nursery *t, const char *name, const char *text)
{
    loaded l = load_one(t, name, text);
    assert_string_equal(l.first, "");
    assert_int_equal(l.code, CW_OK);
}

static void today(test_nursery *t, cw_day day)
{
    t->who.today = day;
    t->who.now = t->who.clock = day * CW_DAY_MS + 43200000;
}

/* Amber gives 2.5 a clump where about 4 were meant; Briar comes as said. */
static void make(test_nursery *t)
{
    test_nursery_make(t);
    today(t, cw_day_from_ymd(2032, 1, 25));
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
    today(t, cw_day_from_ymd(2032, 5, 1));
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
        today(&t, cw_day_from_ymd(2032, 5, 1));
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

static void an_empty_season_has_a_letter_too(void **state)
{
    (void)state;
    test_nursery t;
    cw_text text;
    test_nursery_make(&t);
    today(&t, cw_day_from_ymd(2032, 6, 1));
    letter(&t, &text);
    has(&text, "No clumps were dug");
    has(&text, "Nothing was said on record");
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
    today(&t, cw_day_from_ymd(2032, 5, 1));
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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_figures_are_those_of_the_records),
        cmocka_unit_test(the_cause_is_the_one_of_the_records),
        cmocka_unit_test(before_the_shipping_day_nothing_is_held_against_us),
        cmocka_unit_test(an_empty_season_has_a_letter_too),
        cmocka_unit_test(without_a_release_the_records_are_asked),
        cmocka_unit_test(a_closed_season_is_read_all_the_same),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

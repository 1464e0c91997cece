/* SPDX-License-Identifier: MIT */
/* The owner says once what rots in a usual winter: the projection moves its way, its reason is named, it is taken back whole, and the
 * season's end says whether it was right. All data are invented. */
#include "support/intake.h"

#include "desk/forecast/forecast.h"
#include "desk/forecast/hindsight.h"
#include <jansson.h>
#include <math.h>

#include "base/banned.h"

static void make(test_nursery *t)
{
    test_nursery_make(t);
    must_load(t, "varieties.csv", varieties);
    must_load(t, "history.csv",
              "season,variety,clumps,divisions\n2029,AMB,100,200\n2030,AMB,100,200\n2030,BRI,100,300\n");
    must_load(t, "lots.csv", "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,200\nL2,BRI,2031-10-20,200\n");
}

static void say(test_nursery *t, const char *low, const char *high)
{
    static const char *const names[] = { "rot_low", "rot_high" };
    const char *const values[] = { low, high };
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_nursery_set_all(t->n, &t->who, names, values, 2, &err), &err);
}

static const cw_forecast_ask amber = { CW_NO_DAY, CW_NO_DAY, "AMB" };

static double expected(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    json_t *sheet = NULL;
    cw_check_ok(cw_forecast_sheet(t->n, &t->who, &amber, &sheet, &err), &err);
    double v = json_number_value(json_object_get(sheet, "expected"));
    json_decref(sheet);
    return v;
}

static void reason(test_nursery *t, char *out, size_t size)
{
    cw_error err = CW_ERROR_NONE;
    cw_table w = { 0 };
    out[0] = '\0';
    cw_check_ok(cw_forecast_why(t->n, &t->who, &amber, &w, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&w); r++)
        if (strcmp(cw_table_text(&w, r, 0), "rot: own estimate") == 0)
            cw_copy(out, size, cw_table_text(&w, r, (size_t)cw_table_column(&w, "sentence")));
    cw_table_free(&w);
}

static bool noted(test_nursery *t, const char *words)
{
    cw_error err = CW_ERROR_NONE;
    cw_table p = { 0 };
    cw_text notes = CW_TEXT(4000);
    const cw_forecast_ask all = { CW_NO_DAY, CW_NO_DAY, NULL };
    cw_check_ok(cw_forecast_project(t->n, &t->who, &all, &p, &notes, &err), &err);
    bool found = strstr(notes.data, words) != NULL;
    cw_table_free(&p);
    cw_text_free(&notes);
    return found;
}

static void it_moves_the_figure_and_is_named(void **state)
{
    (void)state;
    test_nursery t;
    char words[400], one[400];
    make(&t);
    double usual = expected(&t);
    reason(&t, words, sizeof words);
    assert_string_equal(words, "");
    assert_true(noted(&t, "their rot is the stated default"));
    say(&t, "0.4", "0.6");
    double lower = expected(&t);
    assert_true(lower < 0.85 * usual);
    reason(&t, words, sizeof words);
    assert_non_null(strstr(words, "You said 40 to 60 % rot in a usual winter: that is "));
    assert_true(noted(&t, "their rot rests on what you said") &&
                !noted(&t, "their rot is the stated default"));
    /* turned round it is the same, and said otherwise it is another, from the kept fit as from nothing */
    say(&t, "0.6", "0.4");
    cw_check_near("turned round", expected(&t), lower, 1e-9);
    say(&t, "0.02", "0.03");
    assert_true(expected(&t) > usual);
    /* one end alone is the middle of a range */
    say(&t, "0.3", "0");
    reason(&t, one, sizeof one);
    assert_non_null(strstr(one, "You said 20 to 45 % rot"));
    say(&t, "0", "0");
    cw_check_near("taken back", expected(&t), usual, 1e-9);
    reason(&t, words, sizeof words);
    assert_string_equal(words, "");
    test_nursery_check(&t);
    test_nursery_free(&t);
}

static void absurd_shares_are_refused(void **state)
{
    (void)state;
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    make(&t);
    assert_int_equal(cw_nursery_set(t.n, &t.who, "rot_low", "1", &err), CW_REFUSED);
    assert_int_equal(cw_nursery_set(t.n, &t.who, "rot_high", "-0.1", &err), CW_REFUSED);
    say(&t, "0.95", "0");
    assert_true(expected(&t) >= 0);
    test_nursery_free(&t);
}

/* The one row; none: an empty table. */
static size_t tell(test_nursery *t, cw_table *p)
{
    cw_error err = CW_ERROR_NONE;
    cw_table_free(p);
    cw_check_ok(cw_hindsight_rot(t->n, &t->who, p, &err), &err);
    return cw_table_rows(p);
}

static const cw_cell *cell(const cw_table *p, const char *column)
{
    return cw_table_cell(p, 0, (size_t)cw_table_column(p, column));
}

static void the_seasons_end_says_who_was_right(void **state)
{
    (void)state;
    test_nursery t;
    cw_table p = { 0 };
    make(&t);
    must_load(
        &t, "past_checks.csv",
        "season,variety,stage,weeks,inspected,rotten\n2029,AMB,clump,9,200,11\n2030,BRI,division,9,200,8\n");
    say(&t, "0.3", "0.5");
    today(&t, 2032, 2, 1);
    must_load(&t, "checks.csv", "lot,checked_on,stage,inspected,rotten,why\nL1,2031-10-27,clump,2,0,round\n");
    assert_int_equal(tell(&t, &p), 0); /* the season is not over */
    t.who.today = cw_day_from_ymd(2032, 6, 20);
    t.who.now = t.who.clock = t.who.today * CW_DAY_MS + 43200000;
    assert_int_equal(tell(&t, &p), 1);
    assert_true(cell(&p, "lost")->null && cell(&p, "held")->null && cell(&p, "nearer")->null); /* too few */
    /* 15 weeks after digging 60 of 198 and of 200 are rotten: about a third; what looked bad does not count */
    must_load(&t, "checks.csv",
              "lot,checked_on,stage,inspected,rotten,why\nL1,2032-02-02,clump,196,58,round\n"
              "L2,2032-02-02,clump,180,54,round\nL2,2032-02-03,clump,20,20,suspicion\n");
    assert_int_equal(tell(&t, &p), 1);
    assert_int_equal(cell(&p, "looked")->v.i, 2 + 196 + 180);
    assert_int_equal(cell(&p, "rotten")->v.i, 58 + 54);
    double lost = cell(&p, "lost")->v.r, with = cell(&p, "expected")->v.r, without = cell(&p, "without")->v.r;
    assert_true(lost > 0.3 && lost < 0.5 && with > without);
    assert_true(cell(&p, "held")->v.i == 1 && cell(&p, "nearer")->v.i == 1);
    /* what this season saw is not what it was expected by */
    cw_check_near("past seasons", without, 1 - exp(-0.01 * 24 / 2 * exp(0.145)), 0.03);
    say(&t, "0.6", "0.7"); /* what is expected without it does not hear it */
    assert_int_equal(tell(&t, &p), 1);
    cw_check_near("without", cell(&p, "without")->v.r, without, 1e-12);
    say(&t, "0.02", "0.03");
    assert_int_equal(tell(&t, &p), 1);
    assert_true(cell(&p, "held")->v.i == 0 && cell(&p, "nearer")->v.i == 0);
    say(&t, "0", "0");
    assert_int_equal(tell(&t, &p), 0);
    cw_table_free(&p);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_moves_the_figure_and_is_named),
        cmocka_unit_test(absurd_shares_are_refused),
        cmocka_unit_test(the_seasons_end_says_who_was_right),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

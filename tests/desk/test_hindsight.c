/* SPDX-License-Identifier: MIT */
/* Hindsight scores what somebody has looked at, says a miss the right way round, and keeps what was said. All data are
 * invented. */
#include "support/intake.h"

#include "desk/forecast/forecast.h"
#include "desk/forecast/hindsight.h"
#include "desk/offer/offering.h"
#include <jansson.h>
#include <math.h>
#include <sqlite3.h>

#include "base/banned.h"

/* On 1 February AMB is whole, BRI and CIN are cut. Then AMB is cut and gives far more than two a clump, and some of it is
 * thrown out at a check; BRI is counted on the shipping day; nobody ever looks at CIN again. */
static void make(test_nursery *t)
{
    test_nursery_make(t);
    must_load(t, "varieties.csv", varieties);
    must_load(t, "history.csv",
              "season,variety,clumps,divisions\n2029,AMB,100,200\n2030,AMB,100,200\n"
              "2029,BRI,100,300\n2030,BRI,100,300\n");
    must_load(
        t, "lots.csv",
        "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,10\nL2,BRI,2031-10-20,20\nL3,CIN,2031-10-20,20\n");
    must_load(t, "divisions.csv",
              "lot,divided_on,clumps,saleable\nL2,2032-01-10,20,60\nL3,2032-01-10,20,70\n");
}

static void spring(test_nursery *t)
{
    today(t, 2032, 4, 19);
    must_load(t, "divisions.csv", "lot,divided_on,clumps,saleable\nL1,2032-03-01,10,75\n");
    must_load(t, "checks.csv", "lot,checked_on,stage,inspected,rotten\nL1,2032-04-15,division,75,12\n");
    must_load(t, "counts.csv", "lot,counted_on,stage,count\nL2,2032-04-19,division,57\n");
}

static cw_day first_of_february(void)
{
    return cw_day_from_ymd(2032, 2, 1);
}

static void only_what_was_looked_at_is_scored(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    cw_table rows = { 0 };
    make(&t);
    spring(&t);
    cw_day day = first_of_february();
    const cw_hindsight_ask ask = { &day, 1 };
    cw_check_ok(cw_hindsight_rows(t.n, &t.who, &ask, &rows, &err), &err);
    assert_int_equal(cw_table_rows(&rows), 2); /* and not CIN: "came" would be our own guess */
    size_t came = (size_t)cw_table_column(&rows, "came"), code = (size_t)cw_table_column(&rows, "code");
    assert_string_equal(cw_table_text(&rows, 0, code), "AMB");
    assert_string_equal(cw_table_text(&rows, 1, code), "BRI");
    assert_in_range(cw_table_int(&rows, 0, came), 62, 63);
    assert_int_equal(cw_table_int(&rows, 1, came), 57);
    cw_table_free(&rows);
    json_t *report = NULL;
    cw_check_ok(cw_hindsight_report(t.n, &t.who, &ask, &report, &err), &err);
    assert_int_equal(json_integer_value(json_object_get(report, "projections")), 2);
    assert_int_equal(json_integer_value(json_object_get(report, "left_out")), 1);
    cw_check_near("counted", json_real_value(json_object_get(report, "counted_percent")), 100, 1e-9);
    json_decref(report);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

static const char *sentence_of(json_t *report, const char *code)
{
    size_t i;
    json_t *w;
    json_array_foreach(json_object_get(report, "worst"), i, w)
    {
        if (strcmp(json_string_value(json_object_get(w, "code")), code) == 0)
            return json_string_value(json_object_get(w, "sentence"));
    }
    fail_msg("%s is not among the worst", code);
    return "";
}

/* More came than was expected: what was thrown out is no reason for that. */
static void a_miss_is_explained_by_what_points_its_way(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    json_t *report = NULL;
    make(&t);
    spring(&t);
    cw_day day = first_of_february();
    const cw_hindsight_ask ask = { &day, 1 };
    cw_check_ok(cw_hindsight_report(t.n, &t.who, &ask, &report, &err), &err);
    const char *s = sentence_of(report, "AMB");
    assert_non_null(strstr(s, " expected, 6"));
    assert_non_null(strstr(s, "10 clumps cut since gave more: 7.5 each"));
    assert_null(strstr(s, "thrown out"));
    json_decref(report);
    test_nursery_free(&t);
}

/* As if it had been made in December. */
static void make_older(test_nursery *t)
{
    sqlite3 *raw = NULL;
    assert_int_equal(sqlite3_open(t->path, &raw), SQLITE_OK);
    assert_int_equal(
        sqlite3_exec(raw, "UPDATE nursery SET made_at = made_at - 45 * 86400000", NULL, NULL, NULL),
        SQLITE_OK);
    sqlite3_close(raw);
}

/* What was said at a release stands, whatever is typed later; the replay moves. */
static void what_was_said_is_kept(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    cw_table out = { 0 }, before = { 0 }, after = { 0 };
    bool kept = false;
    make(&t);
    const cw_offering_ask plan = {
        .confidence = 0.9, .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY, .rot = 1
    };
    cw_check_ok(cw_offering_release(t.n, &t.who, &plan, NULL, 0, "catalogue", &out, &err), &err);
    cw_table_free(&out);
    cw_check_ok(cw_hindsight_said(t.n, &t.who, &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), 0); /* the shipping day has not come */
    cw_table_free(&out);
    cw_check_ok(cw_hindsight_keep(t.n, &t.who, &kept, &err), &err);
    assert_false(kept); /* at January's end the file was not there */
    make_older(&t);
    cw_check_ok(cw_hindsight_keep(t.n, &t.who, &kept, &err), &err);
    assert_true(kept);
    cw_check_ok(cw_hindsight_keep(t.n, &t.who, &kept, &err), &err);
    assert_false(kept);
    today(&t, 2032, 3, 20);
    cw_check_ok(cw_hindsight_keep(t.n, &t.who, &kept, &err), &err);
    assert_true(kept);
    spring(&t);
    cw_check_ok(cw_hindsight_keep(t.n, &t.who, &kept, &err), &err);
    assert_true(kept); /* of 19 April: nothing is ahead of it any more, so it is not scored */
    cw_check_ok(cw_hindsight_said(t.n, &t.who, &before, &err), &err);
    assert_int_equal(cw_table_rows(&before), 3);
    assert_string_equal(cw_table_text(&before, 0, 1), "release");
    assert_string_equal(cw_table_text(&before, 1, 1), "month");
    assert_int_equal(cw_table_int(&before, 0, 0), first_of_february());
    assert_int_equal(cw_table_int(&before, 1, 0), first_of_february() - 1);
    assert_int_equal(cw_table_int(&before, 2, 0), cw_day_from_ymd(2032, 3, 20));
    assert_int_equal(cw_table_int(&before, 0, 2), 2);
    must_load(&t, "history.csv", "season,variety,clumps,divisions\n2027,AMB,300,2250\n2028,AMB,300,2250\n");
    cw_check_ok(cw_hindsight_said(t.n, &t.who, &after, &err), &err);
    for (size_t r = 0; r < 3; r++)
        cw_check_near("said", cw_table_real(&after, r, 3), cw_table_real(&before, r, 3), 1e-12);
    cw_table_free(&before);
    cw_table_free(&after);
    cw_day day = first_of_february();
    const cw_hindsight_ask ask = { &day, 1 };
    cw_check_ok(cw_hindsight_scores(t.n, &t.who, &ask, &out, &err), &err);
    cw_check_ok(cw_hindsight_said(t.n, &t.who, &after, &err), &err);
    if (!(cw_table_real(&out, 0, 2) > cw_table_real(&after, 0, 3) + 1))
        fail_msg("told again %.1f, said %.1f", cw_table_real(&out, 0, 2), cw_table_real(&after, 0, 3));
    cw_table_free(&out);
    cw_table_free(&after);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* Where neither dividing nor checking a few narrows the range, it is said so. */
static void nothing_cheap_helps_is_said(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    cw_table why = { 0 };
    const cw_forecast_ask ask = { CW_NO_DAY, CW_NO_DAY, "BRI" };
    make(&t);
    must_load(&t, "checks.csv", "lot,checked_on,stage,inspected,rotten\nL2,2032-02-01,division,60,1\n");
    cw_check_ok(cw_forecast_why(t.n, &t.who, &ask, &why, &err), &err);
    size_t last = cw_table_rows(&why) - 1;
    assert_string_equal(cw_table_text(&why, last, 0), "next");
    const char *s = cw_table_text(&why, last, (size_t)cw_table_column(&why, "sentence"));
    assert_non_null(strstr(s, "Nothing cheap helps"));
    cw_table_free(&why);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(only_what_was_looked_at_is_scored),
        cmocka_unit_test(a_miss_is_explained_by_what_points_its_way),
        cmocka_unit_test(what_was_said_is_kept),
        cmocka_unit_test(nothing_cheap_helps_is_said),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* SPDX-License-Identifier: MIT */
/* What rows are unlike each other by, from the files to the models: order of cutting, age, room, and why it was looked at. */
#include "support/intake.h"

#include "base/digest.h"
#include "desk/cellar/cellar.h"
#include "desk/export/exporting.h"
#include "desk/forecast/forecast.h"
#define cw_stock cw_model_stock /* the ledger's has the same name */
#include "desk/forecast/forecast_inside.h"
#undef cw_stock

#include <sqlite3.h>

#include "base/banned.h"

static void a_cellar(test_nursery *t)
{
    test_nursery_make(t);
    cw_intake_file f[] = {
        file("varieties.csv", "code,name\nAMB,Amber Lantern\nBRI,Bright Ember\n"),
        file("places.csv", "place,room,walk_order\nA1,north,10\nB1,south,30\n"),
        file("lots.csv",
             "lot,variety,dug_on,clumps,place\nL1,AMB,2031-10-20,40,A1\nL2,BRI,2031-10-20,30,B1\n"),
        file("divisions.csv",
             "lot,divided_on,clumps,saleable,place\nL1,2031-11-10,10,60,A1\nL1,2031-12-01,10,45,A1\n"),
        file("checks.csv", "lot,checked_on,stage,inspected,rotten,shrivelled,why\n"
                           "L1,2031-12-08,division,20,1,0,round\nL2,2031-12-15,clump,10,2,,suspicion\n"
                           "L2,2031-12-22,clump,7,0,,\n"),
    };
    loaded l = load_with(t, f, 5, (cw_intake_options){ 0 });
    assert_string_equal(l.first, "");
}

static void rows_are_told_apart(void **state)
{
    (void)state;
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_forecast_data *d = NULL;
    a_cellar(&t);
    cw_check_ok(cw_forecast_data_load(t.n, t.who.today, cw_day_from_ymd(2032, 4, 19), &d, &err), &err);
    assert_int_equal(d->rate_rows, 2);
    assert_int_equal(d->whole[0], 20);
    assert_int_equal(d->whole[1], 28); /* two were rotten */
    cw_check_near("first session", d->rate_cut[0].to, 0.25, 1e-12);
    cw_check_near("second session", d->rate_cut[1].from, 0.25, 1e-12);
    cw_check_near("second session", d->rate_cut[1].to, 0.5, 1e-12);
    static const struct {
        cw_rot_why why;
        int room;
        double age;
    } want[] = { { CW_ROT_DIVIDING, 0, 0 },
                 { CW_ROT_DIVIDING, 0, 0 },
                 { CW_ROT_ROUND, 0, 0 },
                 { CW_ROT_SUSPICION, 1, 0 },
                 { CW_ROT_UNTOLD, 1, 0 } };
    assert_int_equal(d->rot_rows, 5);
    for (size_t i = 0; i < 5; i++) {
        assert_int_equal(d->rot_look[i].why, want[i].why);
        assert_int_equal(d->rot_look[i].room, want[i].room);
        cw_check_near("age when last known sound", d->rot_look[i].age, want[i].age, 1e-12);
    }
    for (size_t i = 0; i < d->cohorts; i++) {
        const cw_model_stock *s = &d->stock[i];
        if (s->stage == CW_CLUMP)
            cw_check_near("cut before", s->cut, s->lot == 0 ? 0.5 : 0, 1e-12);
        if (s->stage == CW_CLUMP && s->lot == 1 &&
            s->count == 8) /* sound on 15 December, 56 days after digging */
            cw_check_near("age", s->clump_age, 8, 1e-12);
        if (s->stage == CW_DIVISION && s->count == 19)
            cw_check_near("age", s->division_age, 4, 1e-12);
    }
    assert_false(d->best_first);
    cw_forecast_data_free(d);
    cw_check_ok(cw_nursery_set(t.n, &t.who, "best_first", "1", &err), &err);
    cw_check_ok(cw_forecast_data_load(t.n, t.who.today, cw_day_from_ymd(2032, 4, 19), &d, &err), &err);
    assert_true(d->best_first);
    cw_forecast_data_free(d);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* What stands in the field is whole, too; the shares that are cut reach the fit. */
static void what_is_whole_is_told(void **state)
{
    (void)state;
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_forecast_data *d = NULL;
    const cw_forecast *f = NULL;
    a_cellar(&t);
    cw_intake_file standing[] = { file("varieties.csv", "code,name\nCIN,Cinder Bowl\n"),
                                  file("plantings.csv",
                                       "row,variety,plants,planted_on\nr1,CIN,60,2031-05-14\n") };
    assert_string_equal(load_with(&t, standing, 2, (cw_intake_options){ 0 }).first, "");
    cw_check_ok(
        cw_forecast_data_load(t.n, cw_day_from_ymd(2031, 10, 25), cw_day_from_ymd(2032, 4, 19), &d, &err),
        &err);
    assert_int_equal(d->whole[0], 40);
    assert_int_equal(d->clumps[2], 0);
    assert_int_equal(d->whole[2], 60);
    assert_int_equal(d->beds, 1);
    cw_forecast_data_free(d);
    cw_check_ok(cw_forecast_get(t.n, &t.who, CW_NO_DAY, CW_NO_DAY, &f, &err), &err);
    assert_true(cw_rate_report(f->learned.rate)->tilt_sd[CW_RATE_FIRST] > 0);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

static const cw_snap_past *past_of(test_nursery *t, int64_t *said)
{
    cw_error err = CW_ERROR_NONE;
    cw_forecast_data *d = NULL;
    cw_check_ok(cw_forecast_data_load(t->n, t->who.today, cw_day_from_ymd(2032, 4, 19), &d, &err), &err);
    const cw_snap_past *past = d->snapshot->past;
    assert_int_equal(past->histories, 1);
    *said = past->history[0].divisions;
    cw_forecast_data_free(d);
    return past;
}

/* A session of this season leaves what past seasons taught as it was read. A row taken off and another put in its place, with
 * the same number in the table, does not. */
static void past_seasons_are_read_once(void **state)
{
    (void)state;
    test_nursery t;
    int64_t said = 0;
    a_cellar(&t);
    cw_intake_file history[] = { file("history.csv", "season,variety,clumps,divisions\n2030,AMB,10,52\n") };
    assert_string_equal(load_with(&t, &history[0], 1, (cw_intake_options){ 0 }).first, "");
    const cw_snap_past *first = past_of(&t, &said);
    assert_int_equal(said, 52);
    cw_intake_file session[] = { file("divisions.csv",
                                      "lot,divided_on,clumps,saleable,place\nL1,2032-01-05,5,24,A1\n") };
    assert_string_equal(load_with(&t, session, 1, (cw_intake_options){ 0 }).first, "");
    assert_ptr_equal(past_of(&t, &said), first);
    mend_ok(&t, "history",
            "[{\"was\":{\"season\":\"2030\",\"variety\":\"AMB\",\"clumps\":\"10\",\"divisions\":\"52\"},"
            "\"now\":{\"season\":\"2030\",\"variety\":\"AMB\",\"clumps\":\"10\",\"divisions\":\"61\"}}]");
    (void)past_of(&t, &said);
    assert_int_equal(said, 61);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* Out as it came in, and an old file without the column is known again. */
static void why_goes_all_the_way(void **state)
{
    (void)state;
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    json_t *sheet = NULL;
    a_cellar(&t);
    cw_check_ok(cw_exporting_table(t.n, &t.who, "checks", &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), 3);
    assert_string_equal(cw_table_text(&out, 0, 6), "round");
    assert_string_equal(cw_table_text(&out, 1, 6), "suspicion");
    assert_string_equal(cw_table_text(&out, 2, 6), "");
    cw_table_free(&out);
    cw_cellar_entry e = CW_CELLAR_ENTRY;
    e.lot = "L1";
    e.stage = "division";
    e.inspected = 10;
    e.rotten = 0;
    e.why = "suspicion";
    cw_check_ok(cw_cellar_check(t.n, &t.who, &e, &out, &err), &err);
    cw_table_free(&out);
    cw_check_ok(cw_cellar_lot(t.n, "L1", &sheet, &err), &err);
    assert_string_equal(
        json_string_value(json_object_get(json_array_get(json_object_get(sheet, "checks"), 1), "why")),
        "suspicion");
    json_decref(sheet);
    e.why = "boredom";
    assert_int_equal(cw_cellar_check(t.n, &t.who, &e, &out, &err), CW_REFUSED);
    assert_string_equal(err.column, "why");
    cw_table_free(&out);
    cw_intake_file old[] = { file(
        "checks.csv", "lot,checked_on,stage,inspected,rotten,shrivelled\nL2,2032-01-05,clump,8,0,\n") };
    for (int again = 0; again < 2; again++) {
        loaded l = load_with(&t, old, 1, (cw_intake_options){ 0 });
        assert_string_equal(l.first, "");
    }
    /* The digest of a file without the column is what it was before there was one: lot, day, stage, the three figures, and
     * which of them lack. */
    cw_digest digest;
    char hex[65];
    const int64_t said[] = { 2, cw_day_from_ymd(2032, 1, 5), 0, 8, 0, 0, 1 << 5 };
    cw_digest_init(&digest);
    for (size_t i = 0; i < sizeof said / sizeof said[0]; i++)
        cw_digest_add_int(&digest, said[i]);
    cw_digest_end(&digest, hex);
    sqlite3 *raw = NULL;
    sqlite3_stmt *q = NULL;
    assert_int_equal(sqlite3_open_v2(t.path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(raw, "SELECT COUNT(*) FROM source WHERE digest = ?1", -1, &q, NULL),
                     SQLITE_OK);
    sqlite3_bind_text(q, 1, hex, -1, SQLITE_STATIC);
    assert_int_equal(sqlite3_step(q), SQLITE_ROW);
    assert_int_equal(sqlite3_column_int(q, 0), 1);
    sqlite3_finalize(q);
    sqlite3_close(raw);
    cw_check_ok(cw_exporting_table(t.n, &t.who, "checks", &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), 5);
    cw_table_free(&out);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* Twelve lots whose first half gives eight a clump and whose second gives four, in two rooms of which one rots four times
 * as fast: both is said, in the trade's words. */
static void what_moves_figures_is_said(void **state)
{
    (void)state;
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_text notes = CW_TEXT(4096), dug = CW_TEXT(4096), cut = CW_TEXT(4096), looked = CW_TEXT(4096);
    test_nursery_make(&t);
    cw_text_add(&dug, "lot,variety,dug_on,clumps,place\n");
    cw_text_add(&cut, "lot,divided_on,clumps,saleable,rotten,place\n");
    cw_text_add(&looked, "lot,checked_on,stage,inspected,rotten,shrivelled,why\n");
    for (int i = 0; i < 12; i++) {
        cw_text_addf(&dug, "L%d,%s,2031-10-20,300,%s\n", i, i % 3 ? "AMB" : "BRI", i % 2 ? "B1" : "A1");
        cw_text_addf(&looked, "L%d,2031-12-01,clump,200,%d,,round\n", i, i % 2 ? 40 : 10);
        int64_t first = i % 2 ? 6 : 1, second = i % 2 ? 10 : 2;
        for (int k = 0; k < 2; k++)
            cw_text_addf(&cut, "L%d,2031-12-%d,120,%lld,%lld,%s\n", i, 10 * (k + 1),
                         (long long)((k ? 4 : 8) * (120 - (k ? second : first))),
                         (long long)(k ? second : first), i % 2 ? "B1" : "A1");
    }
    cw_intake_file f[] = { file("varieties.csv", "code,name\nAMB,Amber Lantern\nBRI,Bright Ember\n"),
                           file("places.csv", "place,room,walk_order\nA1,north,10\nB1,south,30\n"),
                           file("lots.csv", dug.data), file("divisions.csv", cut.data),
                           file("checks.csv", looked.data) };
    loaded l = load_with(&t, f, 5, (cw_intake_options){ 0 });
    assert_string_equal(l.first, "");
    cw_forecast_ask all = { CW_NO_DAY, CW_NO_DAY, NULL };
    cw_check_ok(cw_forecast_project(t.n, &t.who, &all, &out, &notes, &err), &err);
    print_message("%s", notes.data);
    assert_non_null(strstr(notes.data, "The best clumps of a lot are cut first"));
    assert_non_null(strstr(notes.data, "In north clumps rot"));
    assert_null(strstr(notes.data, "Some lots have given nothing"));
    cw_table_free(&out);
    cw_text_free(&notes);
    cw_text_free(&dug);
    cw_text_free(&cut);
    cw_text_free(&looked);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(rows_are_told_apart),
                                        cmocka_unit_test(what_is_whole_is_told),
                                        cmocka_unit_test(past_seasons_are_read_once),
                                        cmocka_unit_test(why_goes_all_the_way),
                                        cmocka_unit_test(what_moves_figures_is_said) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

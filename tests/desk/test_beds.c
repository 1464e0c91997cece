/* SPDX-License-Identifier: MIT */
/* How many to keep for planting, as the owner asks it: figures gathered, hold-backs written and taken back. All data are invented. */
#include "support/intake.h"
#include "support/picking.h"

#include "desk/beds/beds.h"
#include "desk/offer/offering.h"
#include "desk/stock/catalogue.h"

#include "base/banned.h"

static const cw_beds_ask all = { .places = -1, .keep = -1 };

/* AMB sells well, BRI has few and is asked for, CIN has no past and DOV is retired. */
static void make(test_nursery *t)
{
    test_nursery_make(t);
    must_load(t, "varieties.csv",
              "code,name,price,hold_back,reserve\nAMB,Amber,8,10,0\nBRI,Bright,12,1,0\n"
              "CIN,Cinder,6,0,0\nDOV,Dove,5,3,0\n");
    must_load(t, "lots.csv",
              "lot,variety,dug_on,clumps,row\nL1,AMB,2031-10-20,24,R10\nL2,BRI,2031-10-20,3,R9\n"
              "L3,CIN,2031-10-20,9,R9\nL4,DOV,2031-10-20,9,\n");
    must_load(t, "history.csv",
              "season,variety,clumps,divisions\n2028,AMB,40,200\n2029,AMB,40,190\n2030,AMB,40,210\n"
              "2028,BRI,30,150\n2029,BRI,30,160\n2030,BRI,30,155\n");
    must_load(t, "past_checks.csv",
              "season,variety,stage,weeks,inspected,rotten\n2029,AMB,clump,10,300,15\n"
              "2030,AMB,clump,10,300,18\n2030,BRI,clump,10,300,20\n2030,AMB,division,8,400,9\n");
    must_load(t, "past_sales.csv",
              "season,variety,sold\n2028,AMB,80\n2029,AMB,92\n2030,AMB,85\n2029,BRI,60\n2030,BRI,66\n"
              "2029,DOV,20\n2030,DOV,22\n");
    cw_catalogue_edit retire = { -1, -1, -1, -1, 1, 0 };
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_check_ok(cw_catalogue_change(t->n, &t->who, "DOV", &retire, &out, &err), &err);
    cw_table_free(&out);
}

static const cw_cell *cell(const cw_table *p, const char *variety, const char *column)
{
    int c = cw_table_column(p, column);
    assert_true(c >= 0);
    for (size_t r = 0; r < cw_table_rows(p); r++)
        if (strcmp(cw_table_text(p, r, 0), variety) == 0)
            return cw_table_cell(p, r, (size_t)c);
    fail_msg("no row of %s", variety);
    return NULL;
}

static int64_t whole(const cw_table *p, const char *variety, const char *column)
{
    const cw_cell *c = cell(p, variety, column);
    assert_false(c->null);
    return c->v.i;
}

static double real(const cw_table *p, const char *variety, const char *column)
{
    const cw_cell *c = cell(p, variety, column);
    assert_false(c->null);
    return c->v.r;
}

static void plan(test_nursery *t, const cw_beds_ask *ask, cw_table *p)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_beds_plan(t->n, &t->who, ask, p, NULL, &err), &err);
}

static void say(test_nursery *t, const char *figures)
{
    static cw_beds_figures f;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_beds_figures_read(figures, &f, &err), &err);
    cw_check_ok(cw_beds_say(t->n, &t->who, f.item, f.count, &err), &err);
}

static void each_variety_has_a_figure_or_a_reason(void **state)
{
    (void)state;
    test_nursery t;
    cw_table p = { 0 };
    make(&t);
    plan(&t, &all, &p);
    assert_int_equal(cw_table_rows(&p), 4);
    assert_true(whole(&p, "AMB", "low") <= whole(&p, "AMB", "keep") &&
                whole(&p, "AMB", "keep") <= whole(&p, "AMB", "high"));
    assert_true(whole(&p, "AMB", "keep") > 10 && whole(&p, "AMB", "loss_of_hold_back") > 0);
    assert_true(whole(&p, "BRI", "all")); /* some 15 divisions, and 60 are asked for */
    assert_true(whole(&p, "BRI", "keep") >= whole(&p, "BRI", "p90"));
    assert_true(cell(&p, "CIN", "keep")->null && cell(&p, "CIN", "value")->null);
    assert_string_equal(cw_table_text(&p, 2, (size_t)cw_table_column(&p, "needs")), "demand");
    assert_int_equal(whole(&p, "DOV", "keep"), 0);
    double next = real(&p, "AMB", "expected_next");
    cw_check_near("next spring", next, real(&p, "AMB", "growth") * real(&p, "AMB", "places"), 1e-9);
    cw_table_free(&p);
    test_nursery_free(&t);
}

static void the_owners_figures_stand(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    cw_table p = { 0 };
    static cw_beds_figures tried;
    make(&t);
    plan(&t, &all, &p);
    int64_t learned = whole(&p, "AMB", "keep");
    cw_table_free(&p);
    say(&t, "CIN:demand:40..90,AMB:growth:2,AMB:least:70");
    plan(&t, &all, &p);
    assert_true(whole(&p, "CIN", "demand_said") && whole(&p, "CIN", "keep") > 0);
    cw_check_near("demand", real(&p, "CIN", "demand"), 60.4,
                  0.1); /* the middle of the range and what the nursery sells */
    cw_check_near("growth", real(&p, "AMB", "growth"), 2, 1e-9);
    assert_true(whole(&p, "AMB", "keep") >= 70);
    cw_table_free(&p);
    say(&t, "AMB:growth:,AMB:least:"); /* learned again */
    plan(&t, &all, &p);
    assert_int_equal(whole(&p, "AMB", "keep"), learned);
    assert_false(whole(&p, "AMB", "growth_said"));
    double bright = 0.8 * real(&p, "BRI", "demand"); /* its sales are believed, too */
    cw_table_free(&p);
    /* tried: nothing is written, and the others stay */
    cw_check_ok(cw_beds_figures_read("AMB:price:80,BRI:demand:0..2", &tried, &err), &err);
    const cw_beds_ask what_if = { .places = -1, .keep = -1, .tries = tried.item, .n_tries = tried.count };
    plan(&t, &what_if, &p);
    assert_true(whole(&p, "AMB", "value") > 0 && real(&p, "BRI", "demand") < bright);
    cw_table_free(&p);
    plan(&t, &all, &p);
    assert_int_equal(whole(&p, "AMB", "keep"), learned);
    assert_int_equal(cw_beds_figures_read("AMB:demand:90..40", &tried, &err), CW_USAGE);
    assert_non_null(strstr(err.text, "AMB:demand:90..40"));
    cw_table_free(&p);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

static int64_t hold_back_of(test_nursery *t, const char *variety)
{
    char sql[120];
    snprintf(sql, sizeof sql, "SELECT hold_back FROM variety WHERE code = '%s'", variety);
    return number_of(t, sql);
}

static void hold_backs_are_written_and_taken_back(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    cw_table p = { 0 }, offers = { 0 };
    int64_t run = 0;
    const cw_beds_item ticked[] = { { "AMB", -1 } };
    const cw_offering_ask plain = { .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY };
    make(&t);
    plan(&t, &all, &p);
    int64_t keep = whole(&p, "AMB", "keep");
    cw_table_free(&p);
    cw_check_ok(cw_offering_plan(t.n, &t.who, &plain, &offers, &err), &err);
    int64_t offered = whole(&offers, "AMB", "quantity");
    cw_table_free(&offers);
    cw_check_ok(cw_beds_commit(t.n, &t.who, &all, ticked, 1, &run, &p, &err), &err);
    assert_int_equal(cw_table_rows(&p), 1);
    cw_table_free(&p);
    assert_int_equal(hold_back_of(&t, "AMB"), keep);
    assert_int_equal(hold_back_of(&t, "BRI"), 1); /* only what was ticked */
    cw_check_ok(cw_offering_plan(t.n, &t.who, &plain, &offers, &err),
                &err); /* the catalogue follows at once */
    assert_int_equal(whole(&offers, "AMB", "quantity"), offered - (keep - 10));
    cw_table_free(&offers);
    plan(&t, &all, &p);
    assert_int_equal(whole(&p, "AMB", "loss_of_hold_back"), 0);
    cw_table_free(&p);
    cw_check_ok(cw_beds_undo(t.n, &t.who, run, &p, &err), &err);
    cw_table_free(&p);
    assert_int_equal(hold_back_of(&t, "AMB"), 10);
    assert_int_equal(cw_beds_undo(t.n, &t.who, run, &p, &err), CW_CONFLICT); /* once */
    cw_table_free(&p);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

static void what_was_changed_since_is_not_taken_back(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    cw_table p = { 0 };
    int64_t run = 0;
    make(&t);
    cw_check_ok(cw_beds_commit(t.n, &t.who, &all, NULL, 0, &run, &p, &err), &err);
    assert_int_equal(cw_table_rows(&p), 3); /* AMB, BRI, and DOV, which is retired */
    cw_table_free(&p);
    assert_int_equal(hold_back_of(&t, "DOV"), 0);
    int64_t amber = hold_back_of(&t, "AMB");
    cw_catalogue_edit edit = { 4, -1, -1, -1, -1, 0 };
    cw_check_ok(cw_catalogue_change(t.n, &t.who, "BRI", &edit, &p, &err), &err);
    cw_table_free(&p);
    assert_int_equal(cw_beds_undo(t.n, &t.who, run, &p, &err), CW_CONFLICT);
    assert_non_null(strstr(err.text, "BRI"));
    cw_table_free(&p);
    assert_int_equal(hold_back_of(&t, "AMB"), amber); /* all or none */
    assert_int_equal(hold_back_of(&t, "BRI"), 4);
    t.who.role = CW_ROLE_OFFICE;
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(cw_beds_commit(t.n, &t.who, &all, NULL, 0, &run, &p, &err), CW_FORBIDDEN);
    cw_table_free(&p);
    test_nursery_free(&t);
}

/* One price fills the beds, said in places or in metres of rows; a variety looked at alone is told the same. */
static void the_beds_have_a_price(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    cw_table p = { 0 }, one = { 0 };
    json_t *doc = NULL;
    make(&t);
    const char *const names[] = { "beds_metres", "beds_spacing_cm" }, *const values[] = { "9", "45" };
    cw_check_ok(cw_nursery_set_all(t.n, &t.who, names, values, 2, &err), &err);
    plan(&t, &all, &p);
    assert_true(real(&p, "AMB", "places") + real(&p, "BRI", "places") <= 20 + 1e-6);
    assert_true(whole(&p, "AMB", "place_price") > 0);
    const cw_beds_ask amber = { .places = -1, .variety = "AMB", .keep = -1 };
    plan(&t, &amber, &one);
    assert_true(whole(&one, "AMB", "keep") >= whole(&p, "AMB", "low") &&
                whole(&one, "AMB", "keep") <= whole(&p, "AMB", "high"));
    cw_check_ok(cw_beds_variety(t.n, &t.who, &amber, &doc, &err), &err);
    assert_true(json_array_size(json_object_get(doc, "years")) == 7);
    assert_true(json_array_size(json_object_get(doc, "curve")) > 5);
    json_decref(doc);
    cw_table_free(&one);
    cw_table_free(&p);
    test_nursery_free(&t);
}

/* This spring of a variety's years. */
static double this_spring(test_nursery *t, const char *variety, const char *column)
{
    cw_error err = CW_ERROR_NONE;
    cw_table years = { 0 };
    cw_text say = CW_TEXT(8000);
    const cw_beds_ask one = { .places = -1, .keep = -1, .variety = variety };
    cw_check_ok(cw_beds_years(t->n, &t->who, &one, &years, &say, &err), &err);
    double v = cw_table_cell(&years, 0, (size_t)cw_table_column(&years, column))->v.r;
    cw_table_free(&years);
    cw_text_free(&say);
    return v;
}

static void pull_all(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    int64_t wave = 0;
    cw_table notes = { 0 };
    const cw_picking_ask ask = { .week = cw_week_of(t->who.today) };
    cw_check_ok(cw_picking_make(t->n, &t->who, &ask, &wave, &notes, &err), &err);
    cw_table_free(&notes);
    answer_all_open(t);
}

/* In May the buyers have come: what is sold is still asked of the stock until it is pulled, and nothing beyond it, so that the rest is
 * for the beds as far as it is worth it. In winter, before the first order, all of a season is still to come. */
static void in_may_the_rest_is_for_the_beds(void **state)
{
    (void)state;
    test_nursery t;
    cw_table p = { 0 };
    make(&t);
    count_lot(&t, "L1", "2032-02-01", 90);
    plan(&t, &all, &p);
    double season = real(&p, "AMB", "demand");
    cw_check_near("asked, before the first order", this_spring(&t, "AMB", "demand"), season, 0.02);
    assert_true(whole(&p, "AMB", "up_to") > whole(&p, "AMB", "keep"));
    assert_true(cell(&p, "CIN", "up_to")->null);
    assert_int_equal(whole(&p, "DOV", "up_to"), 0);
    cw_table_free(&p);
    t.who.today = cw_day_from_ymd(2032, 5, 29);
    t.who.now = t.who.clock = t.who.today * CW_DAY_MS + 43200000;
    cw_check_near("asked, with the shop not opened", this_spring(&t, "AMB", "demand"), season, 0.02);
    must_load(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price\n1,2032-04-20T10:00:00Z,1,AMB,40,8.00\n");
    cw_check_near("asked, sold and here", this_spring(&t, "AMB", "demand"), 40, 1e-9);
    make_firm(&t, "first-come", "AMB");
    pull_all(&t);
    cw_check_near("asked, sold and gone", this_spring(&t, "AMB", "demand"), 0, 1e-9);
    cw_check_near("sold", this_spring(&t, "AMB", "sold"), 0, 1e-9);
    plan(&t, &all, &p);
    int64_t left = whole(&p, "AMB", "p50"), up_to = whole(&p, "AMB", "up_to");
    assert_true(left > 0);
    cw_check_near("planted", real(&p, "AMB", "places"), (double)(left < up_to ? left : up_to), 0.1);
    cw_table_free(&p);
    test_nursery_free(&t);
}

/* Rows as people count them, without those of which nothing is kept; the places run through. */
static void the_planting_list_goes_by_rows(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    cw_table p = { 0 };
    make(&t);
    cw_check_ok(cw_beds_list(t.n, &t.who, &p, &err), &err);
    assert_int_equal(cw_table_rows(&p), 3);
    assert_string_equal(cw_table_text(&p, 0, 1), "BRI"); /* R9 before R10; no row: last */
    assert_string_equal(cw_table_text(&p, 1, 1), "AMB");
    assert_string_equal(cw_table_text(&p, 2, 1), "DOV");
    assert_int_equal(cw_table_int(&p, 1, 4), 2);
    assert_int_equal(cw_table_int(&p, 1, 5), 11);
    cw_table_free(&p);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_variety_has_a_figure_or_a_reason),
        cmocka_unit_test(the_owners_figures_stand),
        cmocka_unit_test(hold_backs_are_written_and_taken_back),
        cmocka_unit_test(what_was_changed_since_is_not_taken_back),
        cmocka_unit_test(the_beds_have_a_price),
        cmocka_unit_test(in_may_the_rest_is_for_the_beds),
        cmocka_unit_test(the_planting_list_goes_by_rows),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* SPDX-License-Identifier: MIT */
/* What past sales and the days of past orders do to the plan. All data are invented. */
#include "support/intake.h"

#include "desk/export/exporting.h"
#include "desk/offer/offering.h"

#include "base/banned.h"

static const cw_offering_ask plain = {
    .confidence = 0.9, .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY, .rot = 1
};

static void must_load(test_nursery *t, const char *name, const char *text)
{
    loaded l = load_one(t, name, text);
    assert_string_equal(l.first, "");
    assert_int_equal(l.code, CW_OK);
}

/* Far more stock than anybody ever asked for, of AMB; BRI is what it was; CIN has no past. */
static void make(test_nursery *t)
{
    test_nursery_make(t);
    must_load(t, "varieties.csv", varieties);
    must_load(
        t, "lots.csv",
        "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,900\nL2,BRI,2031-10-20,60\nL3,CIN,2031-10-20,20\n");
    must_load(t, "past_sales.csv",
              "season,variety,sold,sold_out_on\n2028,AMB,60,\n2029,AMB,52,\n2030,AMB,71,\n"
              "2029,BRI,90,2030-01-20\n2030,BRI,80,2031-01-15\n");
}

static double cell(const cw_table *p, size_t row, const char *column)
{
    int c = cw_table_column(p, column);
    assert_true(c >= 0);
    return cw_table_cell(p, row, (size_t)c)->null ? -1
           : strcmp(column, "demand") == 0        ? cw_table_real(p, row, (size_t)c)
                                                  : (double)cw_table_int(p, row, (size_t)c);
}

static void plan(test_nursery *t, cw_table *p)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_offering_plan(t->n, &t->who, &plain, p, &err), &err);
    assert_int_equal(cw_table_rows(p), 3);
}

static void demand_is_told_and_caps_only_when_asked(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    cw_table p = { 0 };
    make(&t);
    plan(&t, &p);
    assert_true(cell(&p, 0, "demand") > 50 && cell(&p, 0, "demand") < 75);
    assert_true(cell(&p, 0, "quantity") > 300);
    assert_true(cell(&p, 0, "supported") > 60 && cell(&p, 0, "supported") < 120);
    assert_string_equal(cw_table_text(&p, 0, (size_t)cw_table_column(&p, "binds")), "stock");
    /* sold out when less than half of the orders had come: more was asked than sold */
    assert_true(cell(&p, 1, "demand") > 130);
    assert_true(cell(&p, 2, "demand") < 0 && cell(&p, 2, "supported") < 0);
    double supported = cell(&p, 0, "supported");
    cw_table_free(&p);
    cw_check_ok(cw_nursery_set(t.n, &t.who, "demand_caps", "1", &err), &err);
    plan(&t, &p);
    assert_true(cell(&p, 0, "quantity") == supported);
    assert_string_equal(cw_table_text(&p, 0, (size_t)cw_table_column(&p, "binds")), "demand");
    cw_table_free(&p);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* Where all orders come within a week of the opening, a sell-out in January leaves little unasked. */
static void the_days_of_past_orders_are_the_curve(void **state)
{
    (void)state;
    test_nursery t;
    cw_table p = { 0 };
    make(&t);
    plan(&t, &p);
    double before = cell(&p, 1, "demand");
    cw_table_free(&p);
    static const char early[] =
        "season,variety,ordered_on,quantity\n"
        "2028,AMB,2029-01-02,20\n2028,AMB,2029-01-04,40\n2029,AMB,2030-01-02,30\n"
        "2029,AMB,2030-01-05,22\n2030,AMB,2031-01-02,40\n2030,AMB,2031-01-04,31\n"
        "2030,BRI,2031-01-15,80\n"; /* of a sold-out season: says nothing of the curve */
    must_load(&t, "past_orders.csv", early);
    plan(&t, &p); /* the fit that was kept is not used again */
    assert_true(cell(&p, 1, "demand") < 0.8 * before);
    cw_table_free(&p);
    loaded again = load_one(&t, "past_orders.csv", early);
    assert_int_equal(again.unchanged, 7);
    assert_int_equal(again.made + again.changed, 0);
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_exporting_table(t.n, &t.who, "past_orders", &p, &err), &err);
    assert_int_equal(cw_table_rows(&p), 7);
    assert_string_equal(cw_table_text(&p, 0, 1), "AMB");
    cw_table_free(&p);
    loaded bad =
        load_one(&t, "past_orders.csv", "season,variety,ordered_on,quantity\n2031,AMB,2032-01-02,3\n");
    assert_string_equal(bad.first,
                        "past_orders.csv:2: season: this file's season is 2031, and past orders are of "
                        "seasons before it: 2031");
    bad = load_one(&t, "past_orders.csv", "season,variety,ordered_on,quantity\n2028,AMB,2032-01-02,3\n");
    assert_string_equal(bad.first,
                        "past_orders.csv:2: ordered_on: must lie in the season's year (2028) or the one "
                        "after it: 2032-01-02");
    test_nursery_check(&t);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(demand_is_told_and_caps_only_when_asked),
        cmocka_unit_test(the_days_of_past_orders_are_the_curve),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

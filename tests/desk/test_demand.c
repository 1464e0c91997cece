/* SPDX-License-Identifier: MIT */
/* What past sales and the days of past orders do to the plan. All data are invented. */
#include "support/intake.h"

#include "desk/export/exporting.h"
#include "desk/forecast/forecast_inside.h"
#include "desk/offer/offering.h"
#include "desk/offer/offering_inside.h"
#include "model/orders_curve.h"
#include "support/unasked.h"

#include <math.h>

#include "base/banned.h"

static const cw_offering_ask plain = {
    .confidence = 0.9, .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY, .rot = 1
};

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

typedef struct learned {
    const cw_demand *demand;
    const cw_trend *trend;
} learned;

static learned learn(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    const cw_forecast *f = NULL;
    learned k = { 0 };
    cw_check_ok(cw_forecast_get(t->n, &t->who, CW_NO_DAY, CW_NO_DAY, &f, &err), &err);
    cw_check_ok(cw_plan_demand(t->n, f, &k.demand, &err), &err);
    k.trend = cw_plan_trend(t->n);
    return k;
}

/* The slope of log(sold + 1/2) by least squares that model/trend.h states, with its prior; by hand of the three seasons. */
static double slope_of(const double *season, const double *sold, size_t n)
{
    double w = 0, x = 0, y = 0, up = 0, down = 1 / (CW_TREND_SD * CW_TREND_SD);
    for (size_t i = 0; i < n; i++) {
        double each = 1 / (CW_TREND_NOISE + 1 / (sold[i] + 0.5));
        w += each;
        x += each * season[i];
        y += each * log(sold[i] + 0.5);
    }
    for (size_t i = 0; i < n; i++) {
        double each = 1 / (CW_TREND_NOISE + 1 / (sold[i] + 0.5)), from = season[i] - x / w;
        up += each * from * (log(sold[i] + 0.5) - y / w);
        down += each * from * from;
    }
    return up / down;
}

static void by_another_program(test_nursery *t, const char *sql)
{
    sqlite3 *raw = NULL;
    assert_int_equal(sqlite3_open_v2(t->path, &raw, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    unasked_sql(raw, sql);
    sqlite3_close(raw);
}

static void ship_on(test_nursery *t, const char *day)
{
    cw_error err = CW_ERROR_NONE;
    cw_day to = 0;
    assert_true(cw_day_parse(day, strlen(day), &to));
    cw_check_ok(cw_offering_ship_move(t->n, &t->who, to, "a test", &err), &err);
}

/* What is learned is kept until what was sold is another, or the season when, or the day of shipping, from which the days of
 * sell-outs count; an order of this season makes it look again, and find the same. */
static void what_is_learned_is_kept_while_the_past_stands(void **state)
{
    (void)state;
    test_nursery t;
    make(&t);
    learned first = learn(&t), again = learn(&t);
    assert_ptr_equal(again.demand, first.demand);
    assert_ptr_equal(again.trend, first.trend);
    static const double sold[] = { 60, 52, 71 }, seasons[] = { 2028, 2029, 2030 },
                        other[] = { 2026, 2029, 2030 };
    cw_check_near("slope", first.trend[0].slope, slope_of(seasons, sold, 3), 1e-9);
    cw_check_near("no slope of sell-outs", first.trend[1].slope, 0, 0);
    cw_check_near("nor of nothing", first.trend[2].slope, 0, 0);
    double bri = first.demand[1].mean;
    assert_true(first.demand[0].known && first.demand[1].known && !first.demand[2].known);
    must_load(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price\n1,2032-01-20T10:00:00Z,1,AMB,3,6.50\n");
    again = learn(&t);
    assert_ptr_equal(again.demand, first.demand); /* the fit is kept; the trend is made anew, the same */
    cw_check_near("slope", again.trend[0].slope, slope_of(seasons, sold, 3), 1e-9);
    by_another_program(&t, "UPDATE past_sale SET season = 2026 WHERE season = 2028; "
                           "UPDATE nursery SET trade_revision = trade_revision + 1");
    again = learn(&t);
    cw_check_near("slope", again.trend[0].slope, slope_of(other, sold, 3), 1e-9);
    cw_check_near("as much is sold", again.demand[1].mean, bri, 1e-9);
    by_another_program(&t, "UPDATE past_sale SET sold = 90 WHERE sold = 80; "
                           "UPDATE nursery SET trade_revision = trade_revision + 1");
    again = learn(&t);
    assert_true(again.demand[1].mean > bri * 1.02);
    bri = again.demand[1].mean;
    /* Shipped a month earlier, more of the orders had come by the days on which it sold out. */
    ship_on(&t, "2032-03-15");
    again = learn(&t);
    double later = again.demand[1].mean;
    ship_on(&t, "2032-05-15");
    again = learn(&t);
    assert_true(later < bri * 0.95 && again.demand[1].mean > bri * 1.05);
    must_load(&t, "varieties-2.csv", "code,name\nDAH,Dahl\n"); /* a variety more: there is room for it */
    again = learn(&t);
    assert_false(again.demand[3].known);
    cw_check_near("nor of it", again.trend[3].slope, 0, 0);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* A day from this season's shipping day, moved by whole seasons: a year is 365.2425 days, as the calendar has it. */
static int from_ship(const test_nursery *t, int season, int year, int month, int day)
{
    return (int)(cw_day_from_ymd(year, month, day) - t->n->season.ship) +
           (int)lround(365.2425 * (2031 - season));
}

static double come_of(test_nursery *t, int day)
{
    return cw_plan_come(t->n, t->n->season.ship + day);
}

/* What the file says of past seasons is what is fitted: the same by the models, of what the test works out of the days itself. */
static void the_past_is_what_is_fitted(void **state)
{
    (void)state;
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_demand want[3];
    cw_orders_curve curve;
    const cw_forecast *f = NULL;
    const cw_distribution *laws = NULL, *again = NULL;
    make(&t);
    must_load(
        &t, "past_sales-2.csv",
        "season,variety,sold,sold_out_on\n2027,AMB,44,2027-11-01\n2026,CIN,12,2027-06-30\n2025,CIN,9,\n");
    must_load(
        &t, "past_orders.csv",
        "season,variety,ordered_on,quantity\n2028,AMB,2029-01-02,20\n2028,AMB,2029-03-04,40\n"
        "2029,AMB,2029-12-10,30\n2029,AMB,2030-02-05,22\n2030,AMB,2031-01-02,71\n2025,CIN,2026-01-20,9\n");
    const cw_order_day days[] = {
        { 1, from_ship(&t, 2028, 2029, 1, 2), 20 },   { 1, from_ship(&t, 2028, 2029, 3, 4), 40 },
        { 2, from_ship(&t, 2029, 2029, 12, 10), 30 }, { 2, from_ship(&t, 2029, 2030, 2, 5), 22 },
        { 3, from_ship(&t, 2030, 2031, 1, 2), 71 },   { 4, from_ship(&t, 2025, 2026, 1, 20), 9 },
    };
    cw_orders_curve_learn(days, sizeof days / sizeof days[0], &curve);
#define SHARE(season, year, month, day)                                                                      \
    fmax(0.01, cw_orders_curve_at(&curve, from_ship(&t, season, year, month, day)))
    const cw_sales sales[] = {
        { .variety = 0, .sold = 60 },
        { .variety = 0, .sold = 52 },
        { .variety = 0, .sold = 71 },
        { 0, 44, true, SHARE(2027, 2027, 11, 1), curve.sure },
        { 1, 90, true, SHARE(2029, 2030, 1, 20), curve.sure },
        { 1, 80, true, SHARE(2030, 2031, 1, 15), curve.sure },
        { 2, 12, true, SHARE(2026, 2027, 6, 30), curve.sure },
        { .variety = 2, .sold = 9 },
    };
#undef SHARE
    assert_true(sales[3].share == 0.01); /* sold out before any order usually comes */
    cw_check_ok(cw_demand_fit(sales, sizeof sales / sizeof sales[0], 3, 1, want, NULL, &err), &err);
    learned got = learn(&t);
    for (size_t v = 0; v < 3; v++) {
        cw_check_relative("mean", got.demand[v].mean, want[v].mean, 1e-12);
        cw_check_relative("variance", got.demand[v].variance, want[v].variance, 1e-12);
        assert_true(got.demand[v].known);
    }
    for (int day = -160; day < 90; day += 10)
        cw_check_near("share that has come", come_of(&t, day), cw_orders_curve_at(&curve, day), 1e-12);
    cw_check_ok(cw_forecast_get(t.n, &t.who, CW_NO_DAY, CW_NO_DAY, &f, &err), &err);
    cw_check_ok(cw_plan_demand_laws(t.n, f, &laws, &err), &err);
    cw_check_ok(cw_plan_demand_laws(t.n, f, &again, &err), &err);
    assert_ptr_equal(laws, again); /* made once */
    for (size_t v = 0; v < 3; v++) {
        static cw_distribution law;
        cw_demand_law(&want[v], &law);
        for (int64_t k = 0; k < 300; k += 7)
            cw_check_near("its law", cw_distribution_cdf(&laws[v], k), cw_distribution_cdf(&law, k), 1e-9);
    }
    print_message(
        "each thing that is changed behind the program's back is seen: how often, and whether it sold out\n");
    by_another_program(&t, "UPDATE past_sale SET sold_out_on = NULL WHERE sold = 44; "
                           "UPDATE nursery SET trade_revision = trade_revision + 1");
    double before = got.demand[0].mean;
    got = learn(&t);
    assert_true(got.demand[0].mean < 0.9 * before);
    before = got.demand[0].mean;
    by_another_program(&t, "DELETE FROM past_sale WHERE sold = 71; "
                           "UPDATE nursery SET trade_revision = trade_revision + 1");
    got = learn(&t);
    assert_true(got.demand[0].mean < 0.97 * before);
    before = got.demand[0].mean;
    by_another_program(
        &t, "UPDATE past_sale SET variety_id = (SELECT id FROM variety WHERE code = 'AMB') WHERE sold = 12; "
            "UPDATE nursery SET trade_revision = trade_revision + 1");
    got = learn(&t);
    assert_true(got.demand[0].mean < 0.9 * before);
    /* A season that is not over yet says nothing, whoever wrote it down. */
    before = got.demand[0].mean;
    by_another_program(
        &t, "INSERT INTO past_sale (variety_id, season, sold) SELECT id, 2031, 900 FROM variety WHERE code = "
            "'AMB'; UPDATE nursery SET trade_revision = trade_revision + 1");
    got = learn(&t);
    cw_check_relative("this season is not past", got.demand[0].mean, before, 1e-12);
    test_nursery_free(&t);
}

/* Nothing is known of the past: no demand, and no share of it that has come. */
static void without_a_past(void **state)
{
    (void)state;
    test_nursery t;
    test_nursery_make(&t);
    assert_true(cw_plan_come(t.n, t.n->season.ship) == 0 && cw_plan_trend(t.n) == NULL);
    must_load(&t, "varieties.csv", varieties);
    learned got = learn(&t);
    for (size_t v = 0; v < 3; v++)
        assert_false(got.demand[v].known);
    cw_check_near("half of the orders, by default", come_of(&t, -77), 0.5, 1e-12);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(demand_is_told_and_caps_only_when_asked),
        cmocka_unit_test(the_days_of_past_orders_are_the_curve),
        cmocka_unit_test(what_is_learned_is_kept_while_the_past_stands),
        cmocka_unit_test(the_past_is_what_is_fitted),
        cmocka_unit_test(without_a_past),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

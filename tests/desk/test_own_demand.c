/* SPDX-License-Identifier: MIT */
/* The owner says once how many are asked for: the offer and the planting plan go by it beside past sales, it is taken back whole, and
 * the season's end says whether it was right. All data are invented. */
#include "support/intake.h"

#include "desk/beds/beds.h"
#include "desk/offer/offering.h"

#include <math.h>

#include "base/banned.h"

static void make(test_nursery *t)
{
    test_nursery_make(t);
    must_load(t, "varieties.csv",
              "code,name,price,hold_back,reserve\nAMB,Amber,8,0,0\nBRI,Bright,12,0,0\nCIN,Cinder,6,0,0\n");
    must_load(t, "lots.csv",
              "lot,variety,dug_on,clumps,row\nL1,AMB,2031-10-20,24,R10\nL2,BRI,2031-10-20,20,R9\n"
              "L3,CIN,2031-10-20,19,R9\n");
    must_load(t, "past_sales.csv",
              "season,variety,sold\n2028,AMB,80\n2029,AMB,92\n2030,AMB,85\n2029,BRI,60\n2030,BRI,66\n");
}

static void say(test_nursery *t, const char *figures)
{
    static cw_beds_figures f;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_beds_figures_read(figures, &f, &err), &err);
    cw_check_ok(cw_beds_say(t->n, &t->who, f.item, f.count, &err), &err);
}

/* A number of a row of a table that begins with the variety; NAN where the cell is empty. */
static double cell(const cw_table *p, const char *variety, const char *column)
{
    int c = cw_table_column(p, column);
    assert_true(c >= 0);
    for (size_t r = 0; r < cw_table_rows(p); r++)
        if (strcmp(cw_table_text(p, r, 0), variety) == 0) {
            const cw_cell *x = cw_table_cell(p, r, (size_t)c);
            return x->null ? (double)NAN : p->columns[c].type == CW_REAL_T ? x->v.r : (double)x->v.i;
        }
    fail_msg("no row of %s", variety);
    return 0;
}

static double offered_for(test_nursery *t, const char *variety, const char *column)
{
    const cw_offering_ask ask = { .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY };
    cw_error err = CW_ERROR_NONE;
    cw_table p = { 0 };
    cw_check_ok(cw_offering_plan(t->n, &t->who, &ask, &p, &err), &err);
    double v = cell(&p, variety, column);
    cw_table_free(&p);
    return v;
}

static double kept_cell(test_nursery *t, const char *variety, const char *tried, const char *column)
{
    static cw_beds_figures f;
    cw_error err = CW_ERROR_NONE;
    cw_table p = { 0 };
    f.count = 0;
    if (tried)
        cw_check_ok(cw_beds_figures_read(tried, &f, &err), &err);
    const cw_beds_ask ask = { .places = -1, .keep = -1, .tries = f.item, .n_tries = f.count };
    cw_check_ok(cw_beds_plan(t->n, &t->who, &ask, &p, NULL, &err), &err);
    double v = cell(&p, variety, column);
    cw_table_free(&p);
    return v;
}

static double kept_for(test_nursery *t, const char *variety, const char *tried)
{
    return kept_cell(t, variety, tried, "demand");
}

static void said_once_it_holds_for_both(void **state)
{
    (void)state;
    test_nursery t;
    make(&t);
    double amb = offered_for(&t, "AMB", "demand"), kept = kept_for(&t, "AMB", NULL);
    assert_true(isnan(offered_for(&t, "CIN", "demand")) && isnan(offered_for(&t, "CIN", "supported")));
    double trial = kept_for(&t, "AMB", "AMB:demand:300..400");
    cw_check_near("only tried", offered_for(&t, "AMB", "demand"), amb, 1e-12);
    say(&t, "CIN:demand:40..90,AMB:demand:300..400");
    double more = offered_for(&t, "AMB", "demand");
    assert_true(more > 1.2 * amb && more < 350); /* both are believed in part */
    assert_true(offered_for(&t, "CIN", "supported") > 0);
    cw_check_near("CIN", offered_for(&t, "CIN", "demand"), 62, 6);
    cw_check_near("CIN in the beds", kept_for(&t, "CIN", NULL), offered_for(&t, "CIN", "demand"), 1e-9);
    assert_true(kept_for(&t, "AMB", NULL) > 1.2 * kept);
    /* said, it is what was tried, but for CIN, which says a little of the nursery */
    cw_check_near("as tried", kept_for(&t, "AMB", NULL) / trial, 1, 0.05);
    /* said otherwise, everywhere at once; taken back, all is as it was */
    say(&t, "AMB:demand:500..600");
    double still_more = offered_for(&t, "AMB", "demand");
    assert_true(still_more > more);
    say(&t, "AMB:demand:400..600"); /* one end alone */
    assert_true(offered_for(&t, "AMB", "demand") < still_more);
    say(&t, "CIN:demand:,AMB:demand:");
    cw_check_near("taken back", offered_for(&t, "AMB", "demand"), amb, 1e-12);
    cw_check_near("and in the beds", kept_for(&t, "AMB", NULL), kept, 1e-12);
    assert_true(isnan(offered_for(&t, "CIN", "demand")));
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* What the owner says stands still; only the rest of what is known goes on with the trend of past sales. */
static void the_trend_is_of_the_rest(void **state)
{
    (void)state;
    test_nursery t;
    make(&t);
    double learned = kept_cell(&t, "BRI", NULL, "trend");
    assert_true(learned > 0);
    double half = kept_cell(&t, "BRI", "BRI:demand:50..80", "trend");
    assert_true(half > 0 && half < 0.8 * learned);
    assert_true(kept_cell(&t, "BRI", "BRI:demand:1..4000", "trend") > half); /* which says next to nothing */
    test_nursery_free(&t);
}

static void expect_sentence(test_nursery *t, const char *variety, const char *begins, bool there)
{
    const cw_beds_ask ask = { .places = -1, .keep = -1, .variety = variety };
    cw_error err = CW_ERROR_NONE;
    cw_table years = { 0 };
    cw_text say = CW_TEXT(8000);
    cw_check_ok(cw_beds_years(t->n, &t->who, &ask, &years, &say, &err), &err);
    if ((strstr(say.data, begins) != NULL) != there)
        fail_msg("%s: %s\n%s", variety, begins, say.data);
    cw_table_free(&years);
    cw_text_free(&say);
}

static void the_why_names_it(void **state)
{
    (void)state;
    test_nursery t;
    make(&t);
    expect_sentence(&t, "AMB", "You said", false);
    say(&t, "CIN:demand:40..90,AMB:demand:300..400");
    expect_sentence(&t, "CIN", "You said 40 to 90 in a usual season: that is ", true);
    expect_sentence(&t, "CIN", "Past sales alone", false); /* there are none */
    expect_sentence(&t, "AMB", "You said 300 to 400 in a usual season: that is ", true);
    expect_sentence(&t, "AMB", "Past sales alone say about 8", true);
    test_nursery_free(&t);
}

static void past_the_shipping_day(test_nursery *t)
{
    t->who.today = cw_day_from_ymd(2032, 6, 20);
    t->who.now = t->who.clock = t->who.today * CW_DAY_MS + 43200000;
}

static void the_seasons_end_says_who_was_right(void **state)
{
    (void)state;
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table p = { 0 };
    const cw_offering_ask plan = { .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY };
    const cw_offering_item items[] = { { "AMB", 100 }, { "BRI", 50 } };
    make(&t);
    say(&t, "AMB:demand:30..60,BRI:demand:80..90,CIN:demand:5..9");
    cw_check_ok(cw_offering_release(t.n, &t.who, &plan, items, 2, "list", &p, &err), &err);
    cw_table_free(&p);
    must_load(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price\n1,2032-02-10T10:00:00Z,1,AMB,40,8.00\n"
              "2,2032-02-11T10:00:00Z,1,BRI,50,12.00\n");
    cw_check_ok(cw_offering_said(t.n, &t.who, &p, &err), &err);
    assert_int_equal(cw_table_rows(&p), 0); /* the season is not over */
    cw_table_free(&p);
    past_the_shipping_day(&t);
    cw_check_ok(cw_offering_said(t.n, &t.who, &p, &err), &err);
    assert_int_equal(cw_table_rows(&p), 2); /* nobody could ask for CIN */
    assert_true(cell(&p, "AMB", "sold") == 40 && cell(&p, "AMB", "ended") == 0);
    assert_true(cell(&p, "AMB", "held") == 1 && cell(&p, "AMB", "nearer") == 1);
    assert_true(cell(&p, "AMB", "expected") < cell(&p, "AMB", "sales_only"));
    /* sold out: more may have been asked for */
    assert_true(cell(&p, "BRI", "ended") == 1 && isnan(cell(&p, "BRI", "held")) &&
                isnan(cell(&p, "BRI", "nearer")));
    cw_table_free(&p);
    /* a range that more was sold than it says did not hold, sold out or not; and past sales were nearer to 40 than 300 */
    say(&t, "AMB:demand:300..400,BRI:demand:20..30");
    cw_check_ok(cw_offering_said(t.n, &t.who, &p, &err), &err);
    assert_true(cell(&p, "AMB", "held") == 0 && cell(&p, "AMB", "nearer") == 0);
    assert_true(cell(&p, "BRI", "held") == 0);
    cw_table_free(&p);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(said_once_it_holds_for_both),
        cmocka_unit_test(the_trend_is_of_the_rest),
        cmocka_unit_test(the_why_names_it),
        cmocka_unit_test(the_seasons_end_says_who_was_right),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

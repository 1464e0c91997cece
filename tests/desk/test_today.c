/* SPDX-License-Identifier: MIT */
/* What wants doing at each desk, and how an empty file begins. All data are invented. */
#include "support/intake.h"
#include "support/season.h"

#include "desk/nursery/kinds.h"
#include "desk/bench/dividing.h"
#include "desk/offer/offering.h"
#include "desk/buyers/claims.h"
#include "desk/orders/notices.h"
#include "desk/share/allotting.h"
#include "desk/today/today.h"

#include "base/banned.h"

/* "what:n:about ..." of a desk. */
static void day_of(test_nursery *t, const char *desk, const char *want)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_text got = CW_TEXT(4000);
    cw_check_ok(cw_today_list(t->n, &t->who, desk, &out, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&out); r++)
        cw_text_addf(&got, "%s:%lld:%s ", cw_table_text(&out, r, 0), (long long)cw_table_int(&out, r, 2),
                     out.cells[r * out.width + 3].null ? "" : cw_table_text(&out, r, 3));
    is_text(got.data ? got.data : "", want);
    cw_text_free(&got);
    cw_table_free(&out);
}

static void nothing_waits_in_an_empty_file(void **state)
{
    static const char *const desks[] = { "winter", "orders", "cellar" };
    test_nursery t;
    cw_table out = { 0 };
    cw_error err = CW_ERROR_NONE;
    (void)state;
    test_nursery_make(&t);
    for (size_t i = 0; i < 3; i++)
        day_of(&t, desks[i], "");
    assert_int_equal(cw_today_list(t.n, &t.who, "attic", &out, &err), CW_NOT_FOUND);
    cw_table_free(&out);
    err = (cw_error)CW_ERROR_NONE;
    t.who.role = CW_ROLE_PACKER;
    assert_int_equal(cw_today_list(t.n, &t.who, "orders", &out, &err), CW_FORBIDDEN);
    cw_table_free(&out);
    t.who.role = CW_ROLE_OWNER;
    test_nursery_free(&t);
}

/* Each sample, in the order of the kinds, into one empty file; twice. */
static void samples_load_into_an_empty_file(void **state)
{
    test_nursery t;
    int64_t made = 0;
    (void)state;
    test_nursery_make(&t);
    for (int again = 0; again < 2; again++)
        for (int k = 0; k < CW_KINDS; k++) {
            char name[64];
            cw_text csv = CW_TEXT(8192);
            cw_error err = CW_ERROR_NONE;
            cw_code code = cw_intake_sample(t.n, &t.who, cw_kinds[k].name, &csv, &err);
            if (code == CW_NOT_FOUND)
                continue;
            cw_check_ok(code, &err);
            snprintf(name, sizeof name, "%s.csv", cw_kinds[k].name);
            loaded l = load_one(&t, name, csv.data);
            if (l.code != CW_OK)
                fail_msg("%s: %s", name, l.first);
            made += l.made;
            if (again)
                assert_int_equal(l.made + l.changed, 0);
            cw_text_free(&csv);
        }
    assert_true(made >= 30);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* How many of an item wait, -1: it is not listed. */
static int64_t waits(test_nursery *t, const char *desk, const char *what)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    int64_t n = -1;
    cw_check_ok(cw_today_list(t->n, &t->who, desk, &out, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&out); r++)
        if (strcmp(cw_table_text(&out, r, 0), what) == 0)
            n = cw_table_int(&out, r, 2);
    cw_table_free(&out);
    return n;
}

static void what_waits_is_counted(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    (void)state;
    season_make(&t);
    cw_check_ok(cw_today_begun(t.n, &t.who, &out, &err), &err);
    assert_int_equal(cw_table_int(&out, 2, 1), 7); /* lots */
    assert_int_equal(cw_table_int(&out, 7, 1), 4); /* varieties with stock */
    cw_table_free(&out);
    load_text(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,country\n"
              "4001,2032-01-25T10:00:00Z,1,AMB,1,6.50,NZ\n");
    day_of(&t, "orders", "blocked:2:1003 unsettled:1:1002 unpromised:5: no_week:4:2001 ");
    /* The same as the screens behind the doors. */
    cw_check_ok(cw_picking_shorts(t.n, &t.who, 0, &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), waits(&t, "orders", "unsettled"));
    cw_table_free(&out);
    cw_claim_ask failed = { .order = "1001", .line = 1, .quantity = 1, .why = "soft", .answer = "open" };
    int64_t id = 0;
    cw_check_ok(cw_claims_add(t.n, &t.who, &failed, &id, &err), &err);
    assert_int_equal(waits(&t, "orders", "claims"), 1);
    cw_check_ok(cw_shipping_hold(t.n, &t.who, "z7", NULL, 203216, 203217, "frost", &out, &err), &err);
    assert_int_equal(cw_table_int(&out, cw_table_rows(&out) - 1, 8), waits(&t, "orders", "frost"));
    assert_true(waits(&t, "orders", "frost") > 0);
    cw_table_free(&out);
    /* Half a year later the week is over, and what was told is late. */
    cw_notices_made made;
    for (int i = 0; i < 2; i++) {
        t.who.today += 100;
        t.who.now += 100 * CW_DAY_MS;
        cw_check_ok(cw_notices_make(t.n, &t.who, &made, &err), &err);
    }
    cw_check_ok(cw_notices_show(t.n, &t.who, "due", t.who.today - 1, &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), waits(&t, "orders", "notices_late"));
    assert_true(cw_table_rows(&out) > 0);
    cw_table_free(&out);
    cw_check_ok(cw_picking_waves(t.n, &t.who, 0, &out, &err), &err);
    assert_int_equal(cw_table_int(&out, 0, (size_t)cw_table_column(&out, "forgotten")),
                     waits(&t, "orders", "forgotten"));
    cw_table_free(&out);
    test_nursery_free(&t);
}

/* Sold beyond what is sure, on offer beyond it, a release that is due or not yet. */
static void the_plan_is_looked_at(void **state)
{
    const cw_offering_ask ask = { .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY };
    static const cw_offering_item few[] = { { "CIN", 3 } }, many[] = { { "CIN", 500 } };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    json_t *totals = NULL;
    (void)state;
    season_make(&t);
    cw_check_ok(cw_offering_desk(t.n, &t.who, &ask, &out, &totals, &err), &err);
    int64_t too_far = json_integer_value(json_object_get(totals, "too_far"));
    assert_int_equal(waits(&t, "winter", "beyond"), too_far ? too_far : -1);
    json_decref(totals);
    cw_table_free(&out);
    assert_true(waits(&t, "winter", "release") > 0); /* never released */
    cw_check_ok(cw_offering_release(t.n, &t.who, &ask, few, 1, "a first few", &out, &err), &err);
    cw_table_free(&out);
    assert_int_equal(waits(&t, "winter", "release"), -1); /* a fortnight has not passed */
    t.who.today += 14;
    t.who.now += 14 * CW_DAY_MS;
    assert_true(waits(&t, "winter", "release") > 0);
    assert_int_equal(waits(&t, "winter", "too_many"), -1);
    cw_check_ok(cw_offering_release(t.n, &t.who, &ask, many, 1, "too bold", &out, &err), &err);
    cw_table_free(&out);
    assert_int_equal(waits(&t, "winter", "too_many"), 1);
    test_nursery_free(&t);
}

/* An item as it is listed; n 0 if it is not. */
typedef struct listed {
    int64_t n, money, day; /* money -1, day -1: none */
    bool urgent;
    char about[40];
} listed;

static listed item(test_nursery *t, const char *desk, const char *what)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    listed l = { .money = -1, .day = -1, .about = "" };
    cw_check_ok(cw_today_list(t->n, &t->who, desk, &out, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&out); r++) {
        const cw_cell *c = &out.cells[r * out.width];
        if (strcmp(cw_table_text(&out, r, 0), what) != 0)
            continue;
        l.urgent = c[1].v.i;
        l.n = c[2].v.i;
        snprintf(l.about, sizeof l.about, "%s", c[3].null ? "" : cw_table_text(&out, r, 3));
        l.money = c[4].null ? -1 : c[4].v.i;
        l.day = c[5].null ? -1 : c[5].v.i;
    }
    cw_table_free(&out);
    return l;
}

static void is_listed(test_nursery *t, const char *desk, const char *what, listed want)
{
    listed got = item(t, desk, what);
    print_message("%s: %lld %s %lld %lld\n", what, (long long)got.n, got.about, (long long)got.money,
                  (long long)got.day);
    assert_int_equal(got.n, want.n);
    assert_string_equal(got.about, want.about);
    assert_int_equal(got.money, want.money);
    assert_int_equal(got.day, want.day);
    assert_int_equal(got.urgent, want.urgent);
}

static void worst(listed *l, const char *about, int64_t by, int64_t *most)
{
    l->n++;
    if (by > *most)
        snprintf(l->about, sizeof l->about, "%s", about);
    *most = by > *most ? by : *most;
}

static int64_t of(const cw_table *t, size_t row, const char *column)
{
    return cw_table_int(t, row, (size_t)cw_table_column(t, column));
}

/* Each item's worst, money and day, as the screens behind them have it: the plan's rows, the measurements, the shorts. */
static void each_item_names_its_worst(void **state)
{
    const cw_offering_ask ask = { .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY };
    static const cw_offering_item much[] = { { "AMB", 300 }, { "CIN", 200 }, { "DOV", 500 } };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    (void)state;
    season_make(&t);
    cw_check_ok(cw_offering_release(t.n, &t.who, &ask, much, 3, "too bold", &out, &err), &err);
    cw_table_free(&out);
    load_text(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price\n"
              "4001,2032-01-25T10:00:00Z,1,CIN,150,6\n4002,2032-01-25T10:00:00Z,1,AMB,200,6\n"
              "4003,2032-01-25T10:00:00Z,1,BRI,1,6\n");
    t.who.today += 14; /* a release is due */
    t.who.now += 14 * CW_DAY_MS;
    listed beyond = { .money = -1, .day = -1, .urgent = true }, many = beyond, release = beyond;
    int64_t far = 0, wide = 0, more = 0;
    release.urgent = false;
    release.day = t.who.today - 14;
    cw_check_ok(cw_offering_desk(t.n, &t.who, &ask, &out, NULL, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&out); r++) {
        const char *code = cw_table_text(&out, r, 0);
        int64_t offered = of(&out, r, "offered"), sold = of(&out, r, "sold"), sure = of(&out, r, "by_stock");
        if (sold > sure)
            worst(&beyond, code, sold - sure, &far);
        else if (offered > sure)
            worst(&many, code, offered - sure, &wide);
        else if (of(&out, r, "quantity") > offered)
            worst(&release, code, of(&out, r, "quantity") - offered, &more);
    }
    cw_table_free(&out);
    assert_true(beyond.n >= 2 && many.n >= 1 && release.n >= 1);
    is_listed(&t, "winter", "beyond", beyond);
    is_listed(&t, "winter", "too_many", many);
    is_listed(&t, "winter", "release", release);
    /* 2.00 to 1.91 kg in 30 days: a hundredth a week. */
    is_listed(&t, "winter", "drying", (listed){ 1, -1, -1, true, "M3" });
    listed measure = { .money = -1, .day = -1 };
    cw_check_ok(cw_offering_measures(t.n, &t.who, &ask, &out, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&out); r++)
        if (of(&out, r, "saves") > 0 && measure.n++ == 0) {
            measure.money = of(&out, r, "saves");
            snprintf(measure.about, sizeof measure.about, "%s", cw_table_text(&out, r, 0));
        }
    cw_table_free(&out);
    assert_true(measure.n > 0);
    is_listed(&t, "winter", "measure", measure);
    listed few = { .money = 0, .day = -1 };
    cw_check_ok(cw_allotting_short(t.n, &t.who, NULL, &out, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&out); r++) {
        few.money += of(&out, r, "harm");
        if (few.n++ == 0)
            snprintf(few.about, sizeof few.about, "%s", cw_table_text(&out, r, 0));
    }
    cw_table_free(&out);
    assert_true(few.n >= 2);
    is_listed(&t, "orders", "short", few);
    test_nursery_free(&t);
}

/* Each desk's day is its people's: the cellar's all of the nursery's, no program's. */
static void a_desks_day_is_its_own_peoples(void **state)
{
    static const struct {
        cw_role role;
        bool winter, orders, cellar;
    } may[] = { { CW_ROLE_OWNER, true, true, true },
                { CW_ROLE_OFFICE, true, true, true },
                { CW_ROLE_PACKER, false, false, true },
                { CW_ROLE_CELLAR, false, false, true },
                { CW_ROLE_SHOP, false, false, false } };
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    for (size_t i = 0; i < sizeof may / sizeof may[0]; i++) {
        const struct {
            const char *desk;
            bool may;
        } desks[] = { { "winter", may[i].winter }, { "orders", may[i].orders }, { "cellar", may[i].cellar } };
        t.who.role = may[i].role;
        for (size_t k = 0; k < 3; k++) {
            cw_error err = CW_ERROR_NONE;
            cw_table out = { 0 };
            assert_int_equal(cw_today_list(t.n, &t.who, desks[k].desk, &out, &err),
                             desks[k].may ? CW_OK : CW_FORBIDDEN);
            cw_table_free(&out);
        }
        cw_error err = CW_ERROR_NONE;
        cw_table out = { 0 };
        assert_int_equal(cw_today_begun(t.n, &t.who, &out, &err), may[i].orders ? CW_OK : CW_FORBIDDEN);
        cw_table_free(&out);
    }
    t.who.role = CW_ROLE_OWNER;
    test_nursery_free(&t);
}

/* Rows wait from seven months before shipping on; a begun one for a week more, a dug one not at all. */
static void rows_are_to_be_dug(void **state)
{
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    load_text(&t, "varieties.csv", varieties);
    load_text(
        &t, "plantings.csv",
        "row,variety,plants,planted_on\nR1,AMB,30,2031-05-12\nR1,BRI,4,2031-05-12\nR2,AMB,12,2031-05-12\n"
        ",CIN,9,2031-05-12\n");
    t.who.today = cw_day_from_ymd(2031, 9, 1);
    assert_int_equal(waits(&t, "cellar", "dig"), -1);
    t.who.today = cw_day_from_ymd(2031, 10, 28);
    day_of(&t, "cellar", "dig:2:R1 ");
    load_text(&t, "field_rounds.csv", "row,seen_on,alive,rogued,variety\nR2,2031-10-20,0,0,AMB\n");
    day_of(&t, "cellar", "dig:1:R1 ");
    load_text(&t, "lots.csv",
              "lot,variety,dug_on,clumps,row,culled\nL1,AMB,2031-10-28,26,R1,1\nL2,BRI,2031-10-28,4,R1,0\n");
    day_of(&t, "cellar", "dig:1:R1 "); /* three of thirty may still stand */
    t.who.today += 8;
    assert_int_equal(waits(&t, "cellar", "dig"), -1);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

static void the_cellars_day(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    (void)state;
    season_make(&t);
    day_of(&t, "cellar", "walk:1:1 pack:1:1 check:6:M4 ");
    cw_check_ok(cw_bench_washed(t.n, &t.who, "M2", CW_NO_DAY, &out, &err), &err);
    cw_table_free(&out);
    assert_int_equal(waits(&t, "cellar", "cut"), -1); /* tomorrow */
    assert_int_equal(waits(&t, "cellar", "wash"), -1);
    t.who.today += 3;
    assert_int_equal(waits(&t, "cellar", "cut"), 1);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_waits_in_an_empty_file),
        cmocka_unit_test(samples_load_into_an_empty_file),
        cmocka_unit_test(what_waits_is_counted),
        cmocka_unit_test(the_plan_is_looked_at),
        cmocka_unit_test(each_item_names_its_worst),
        cmocka_unit_test(a_desks_day_is_its_own_peoples),
        cmocka_unit_test(rows_are_to_be_dug),
        cmocka_unit_test(the_cellars_day),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

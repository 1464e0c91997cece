/* SPDX-License-Identifier: MIT */
/* Rows that somebody typed, changed and deleted in a grid: all of them or none, and nothing of somebody else's written over. All data are
 * invented. */
#include "support/intake.h"
#include "support/order_desk.h"

#include "base/banned.h"

static const char history[] = "season,variety,clumps,divisions\n2030,AMB,20,90\n2030,AMB,9,33\n";
static const char zones[] = "zone,first_week\nz1,2032-W16\nz2,2032-W17\n";

/* ' for ": the rows are easier on the eye. */
static const char *json(const char *text)
{
    static char out[4000];
    size_t n = strlen(text);
    assert_true(n < sizeof out);
    for (size_t i = 0; i <= n; i++)
        out[i] = text[i] == '\'' ? '"' : text[i];
    return out;
}

static void begin(test_nursery *t)
{
    test_nursery_make(t);
    ok(load_one(t, "varieties.csv", varieties));
    ok(load_one(t, "places.csv", places));
    ok(load_one(t, "zones.csv", zones));
    ok(load_one(t, "history.csv", history));
    ok(load_one(t, "lots.csv", lots));
}

static void rows_come_change_and_go_together(void **state)
{
    (void)state;
    test_nursery t;
    begin(&t);
    mend_ok(&t, "zones",
            json("[{'was':{'zone':'z1','first_week':'2032-W16'},'now':null},"
                 "{'was':{'zone':'z2','first_week':'2032-W17'},'now':{'zone':'z2','first_week':'2032-W18'}},"
                 "{'was':null,'now':{'zone':'z3','first_week':'2032-W19'}}]"));
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM zone"), 2);
    assert_int_equal(number_of(&t, "SELECT SUM(first_week) FROM zone"), 203218 + 203219);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM audit WHERE action IN ('remove', 'change', 'mend')"),
                     3);
    /* Two rows take each other's key. */
    mend_ok(
        &t, "zones",
        json("[{'was':{'zone':'z2','first_week':'2032-W18'},'now':{'zone':'z3','first_week':'2032-W18'}},"
             "{'was':{'zone':'z3','first_week':'2032-W19'},'now':{'zone':'z2','first_week':'2032-W19'}}]"));
    assert_int_equal(number_of(&t, "SELECT first_week FROM zone WHERE code = 'z3'"), 203218);
    /* A kind without a key: one of two like rows is another now. */
    mend_ok(&t, "history",
            json("[{'was':{'season':'2030','variety':'AMB','clumps':'9','divisions':'33'},"
                 "'now':{'season':'2030','variety':'AMB','clumps':'9','divisions':'35'}}]"));
    assert_int_equal(number_of(&t, "SELECT SUM(divisions) FROM history"), 125);
    test_nursery_free(&t);
}

static void nothing_stands_when_anything_is_wrong(void **state)
{
    static const struct {
        const char *kind, *rows, *first;
        cw_code code;
    } wrong[] = {
        { "zones",
          "[{'was':{'zone':'z1','first_week':'2032-W16'}},"
          "{'was':null,'now':{'zone':'z9','first_week':'soon'}}]",
          "2: first_week: must be an ISO week that exists, as 2032-W16: soon", CW_REFUSED },
        { "zones",
          "[{'was':{'zone':'z1','first_week':'2032-W16'}},{'now':{'zone':'z2','first_week':'2032-W16'}}]",
          "2: zone: is on record already: zone z2", CW_CONFLICT },
        { "zones",
          "[{'was':{'zone':'z2','first_week':'2032-W17'},'now':{'zone':'z1','first_week':'2032-W17'}}]",
          "1: zone: is on record already: zone z1", CW_CONFLICT },
        { "zones", "[{'was':{'zone':'z8','first_week':'2032-W17'}}]",
          "1: zone: is not on record any more: zone z8", CW_CONFLICT },
        { "zones",
          "[{'was':{'zone':'z1','first_week':'2032-W17'},'now':{'zone':'z1','first_week':'2032-W19'}}]",
          "1: first_week: zone z1 was changed meanwhile: it is \"2032-W16\" now", CW_CONFLICT },
        { "zones",
          "[{'now':{'zone':'a','first_week':'2032-W19'}},{'now':{'zone':'a','first_week':'2032-W20'}}]",
          "2: zone: this zone stands twice: a", CW_REFUSED },
        { "zones", "[{'now':{'zone':'a','week':'2032-W19'}}]", "1: there is no such column: week",
          CW_REFUSED },
        { "zones", "[{'now':{'zone':4}}]", "1: zone: must be a text", CW_REFUSED },
        { "zones", "[{'now':[]}]", "1: was and now must be objects or null", CW_REFUSED },
        { "zones", "{}", "rows must be a list of at most 20000", CW_REFUSED },
        { "history", "[{'was':{'season':'2030','variety':'AMB','clumps':'9','divisions':'34'}}]",
          "1: season: is not on record any more: session", CW_CONFLICT },
        { "places", "[{'was':{'place':'A1','room':'north','walk_order':'10'}}]",
          "1: place: stock has lain at this place, and its history names it: A1; rename it instead",
          CW_CONFLICT },
        { "varieties",
          "[{'was':{'code':'CIN','name':'Cinder','form':'ball','size':'medium','colour':'red','price':'7.25'}"
          "}]",
          "1: a variety is not taken off the record: retire it instead", CW_REFUSED },
        { "lots", "[{'was':{'lot':'L3','variety':'AMB','dug_on':'2031-10-22','clumps':'0'}}]",
          "1: a lot is not taken off the record: stock hangs on it; a stock-take puts its count right",
          CW_REFUSED },
        { "checks", "[]", "checks are not mended in a grid: the cellar enters and undoes them", CW_REFUSED },
        { "orders", "[]", "orders are not mended in a grid: the order desk changes them", CW_REFUSED },
        { "crops", "[]", "there is no such kind of row: crops", CW_NOT_FOUND },
    };
    (void)state;
    test_nursery t;
    begin(&t);
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        print_message("%s %s\n", wrong[i].kind, wrong[i].rows);
        loaded l = mend(&t, wrong[i].kind, json(wrong[i].rows));
        assert_string_equal(l.first, wrong[i].first);
        assert_int_equal(l.code, wrong[i].code);
    }
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM zone"), 2);
    assert_int_equal(number_of(&t, "SELECT SUM(first_week) FROM zone"), 203216 + 203217);
    t.who.role = CW_ROLE_CELLAR;
    assert_int_equal(mend(&t, "zones", "[]").code, CW_FORBIDDEN);
    test_nursery_free(&t);
}

static void places_get_other_names(void **state)
{
    static const char swapped[] = "[{'was':{'place':'A1','room':'north','walk_order':'10'},"
                                  "'now':{'place':'A2','room':'north','walk_order':'10'}},"
                                  "{'was':{'place':'A2','room':'north','walk_order':'20'},"
                                  "'now':{'place':'A1','room':'loft','walk_order':'20'}}]";
    (void)state;
    test_nursery t;
    begin(&t);
    mend_ok(&t, "places", json(swapped));
    assert_int_equal(
        number_of(
            &t, "SELECT SUM(b.clumps) FROM balance b JOIN place p ON p.id = b.place_id WHERE p.code = 'A2'"),
        40);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM place WHERE code = 'A1' AND room = 'loft'"), 1);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM audit WHERE action = 'rename place'"), 2);
    is_text(mend(&t, "places",
                 json("[{'was':{'place':'B1','room':'south','walk_order':'30'},"
                      "'now':{'place':'A1','room':'south','walk_order':'30'}}]"))
                .first,
            "1: place: another place has this code: A1");
    is_text(mend(&t, "places",
                 json("[{'was':{'place':'B1','room':'south','walk_order':'30'},"
                      "'now':{'place':' B','room':'south','walk_order':'30'}}]"))
                .first,
            "1: place: must not begin or end with a space:  B");
    test_nursery_free(&t);
}

/* Only a lot with which nothing has been done; its stock goes along. */
static void a_lot_is_put_right(void **state)
{
    static const char right[] =
        "[{'was':{'lot':'L1','variety':'AMB','dug_on':'2031-10-20','clumps':'40','row':'r1',"
        "'culled':'2','place':'A1'},'now':{'lot':'L1','variety':'CIN','dug_on':'2031-10-19',"
        "'clumps':'44','row':'r3','culled':'1','place':'B1'}}]";
    static const char again[] =
        "[{'was':{'lot':'L1','variety':'CIN','dug_on':'2031-10-19','clumps':'44','row':'r3',"
        "'culled':'1','place':'B1'},'now':{'lot':'L1','variety':'CIN','dug_on':'2031-10-19',"
        "'clumps':'40','row':'r3','culled':'1','place':'B1'}}]";
    (void)state;
    test_nursery t;
    begin(&t);
    mend_ok(&t, "lots", json(right));
    assert_int_equal(
        number_of(&t, "SELECT SUM(b.clumps) FROM balance b JOIN lot l ON l.id = b.lot_id JOIN place p ON "
                      "p.id = b.place_id WHERE l.code = 'L1' AND p.code = 'B1'"),
        44);
    assert_int_equal(
        number_of(
            &t, "SELECT variety_id = (SELECT id FROM variety WHERE code = 'CIN') FROM lot WHERE code = 'L1'"),
        1);
    ok(load_one(&t, "counts.csv", "lot,counted_on,stage,count,place\nL1,2032-01-16,clump,44,B1\n"));
    is_text(mend(&t, "lots", json(again)).first, "1: lot: something was done with lot L1 since it was dug: a "
                                                 "stock-take puts its count right, its own page its "
                                                 "variety");
    test_nursery_free(&t);
}

static void rows_of_the_field(void **state)
{
    (void)state;
    test_nursery t;
    begin(&t);
    mend_ok(&t, "plantings",
            json("[{'now':{'row':'r9','variety':'AMB','plants':'30','planted_on':'2031-05-12','lot':'','"
                 "spacing_cm':''}},"
                 "{'now':{'row':'r8','variety':'BRI','plants':'9','planted_on':'2031-05-12'}}]"));
    mend_ok(&t, "field_rounds",
            json("[{'now':{'row':'r9','seen_on':'2031-07-01','alive':'28','rogued':'1','reason':'','variety':"
                 "'AMB'}}]"));
    mend_ok(&t, "field_rounds",
            json("[{'was':{'row':'r9','seen_on':'2031-07-01','alive':'28','rogued':'1','reason':'','variety':"
                 "'AMB'},"
                 "'now':{'row':'r9','seen_on':'2031-07-01','alive':'27','rogued':'1','reason':'','variety':'"
                 "AMB'}}]"));
    assert_int_equal(number_of(&t, "SELECT SUM(alive) FROM field_round WHERE reversed = 0"), 27);
    is_text(mend(&t, "plantings",
                 json("[{'was':{'row':'r9','variety':'AMB','plants':'30','planted_on':'2031-05-12','lot':'','"
                      "spacing_cm':''}}]"))
                .first,
            "1: row: walks were made or lots were dug of this row, and hang on it: r9");
    mend_ok(&t, "plantings",
            json("[{'was':{'row':'r8','variety':'BRI','plants':'9','planted_on':'2031-05-12','lot':'','"
                 "spacing_cm':''}}]"));
    mend_ok(&t, "past_plantings",
            json("[{'now':{'season':'2030','variety':'AMB','plants':'30','clumps':'28'}}]"));
    mend_ok(&t, "past_plantings",
            json("[{'was':{'season':'2030','variety':'AMB','plants':'30','clumps':'28'}}]"));
    assert_int_equal(
        number_of(&t, "SELECT (SELECT COUNT(*) FROM past_planting) + (SELECT COUNT(*) FROM planting)"), 1);
    test_nursery_free(&t);
}

/* Readings and past checks: figures with decimals find their row again. */
static void figures_are_found_again(void **state)
{
    (void)state;
    test_nursery t;
    begin(&t);
    ok(load_one(&t, "past_checks.csv",
                "season,variety,stage,weeks,inspected,rotten\n2030,AMB,clump,8.5,200,6\n"));
    ok(load_one(&t, "air.csv", "room,at,temp_c,rh\nnorth,2031-12-20T06:00:00Z,6.25,92\n"));
    ok(load_one(&t, "past_sales.csv", "season,variety,sold,sold_out_on\n2030,AMB,60,2031-02-11\n"));
    ok(load_one(&t, "weighings.csv", "sample,weighed_on,lot,kg\nS1,2031-12-06,L1,2.0005\n"));
    mend_ok(&t, "past_checks",
            json("[{'was':{'season':'2030','variety':'AMB','stage':'clump','weeks':'8.5000','inspected':'200'"
                 ",'rotten':'6',"
                 "'shrivelled':''}}]"));
    mend_ok(&t, "air",
            json("[{'was':{'room':'north','at':'2031-12-20T06:00:00Z','temp_c':'6.25','rh':'92.00'}}]"));
    mend_ok(&t, "past_sales",
            json("[{'was':{'season':'2030','variety':'AMB','sold':'60','sold_out_on':'2031-02-11'}}]"));
    mend_ok(&t, "weighings",
            json("[{'was':{'sample':'S1','lot':'L1','weighed_on':'2031-12-06','kg':'2.0005'}}]"));
    assert_int_equal(
        number_of(&t,
                  "SELECT (SELECT COUNT(*) FROM past_check) + (SELECT COUNT(*) FROM air) + (SELECT COUNT(*) "
                  "FROM past_sale) + (SELECT COUNT(*) FROM weighing)"),
        0);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rows_come_change_and_go_together),
        cmocka_unit_test(nothing_stands_when_anything_is_wrong),
        cmocka_unit_test(places_get_other_names),
        cmocka_unit_test(a_lot_is_put_right),
        cmocka_unit_test(rows_of_the_field),
        cmocka_unit_test(figures_are_found_again),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "model/walk.h"
#include <math.h>
#include <stdbool.h>

#define COUNT(a) (sizeof(a) / sizeof(a)[0])

/* Two varieties (0, 1), three places: both varieties lie at place 2, at the far end. */
static const int walk_order[] = { 10, 20, 30 };
static const cw_walk_stock stock[] = {
    { 0, 100, 0, 9, 0.5 }, /* place 0: variety 0, at risk */
    { 1, 101, 1, 9, 0.5 }, /* place 1: variety 1, at risk */
    { 2, 102, 0, 5, 0.1 },
    { 2, 103, 1, 9, 0.1 },
};

static cw_wave wave(const cw_walk_line *lines, size_t n)
{
    return (cw_wave){ walk_order, 3, stock, COUNT(stock), lines, n, 3, 2, 0, 0, 0 };
}

static void test_one_stop_serves_both(void **state)
{
    (void)state;
    static const cw_walk_line lines[] = { { 0, 0, 2 }, { 1, 0, 3 }, { 0, 1, 4 } };
    static const cw_pick want[] = { { 0, 2, 0, 1, 2 }, { 0, 2, 1, 2, 3 }, { 0, 3, 2, 1, 4 } };
    cw_wave w = wave(lines, COUNT(lines));
    cw_walk *walk = NULL;
    cw_check_ok(cw_walk_plan(&w, &walk, NULL), NULL);
    assert_int_equal(walk->stop_count, 1);
    assert_int_equal(walk->stops[0].place, 2);
    assert_int_equal(walk->stops[0].quantity, 9);
    assert_int_equal(walk->length, 60); /* to 30 and back to the door */
    assert_int_equal(walk->pick_count, COUNT(want));
    for (size_t i = 0; i < COUNT(want); i++)
        assert_memory_equal(&walk->picks[i], &want[i], sizeof want[i]);
    cw_walk_free(walk);
}

/* A stop that saves more divisions than it costs is made: 5 x (0.5 - 0.1) + 4 x 0.4 = 3.6 saved by one stop more. */
static void test_risk_can_buy_a_stop(void **state)
{
    (void)state;
    static const cw_walk_line lines[] = { { 0, 0, 5 }, { 1, 1, 4 } };
    static const struct {
        const char *row;
        double stop_cost;
        size_t stops;
    } rows[] = { { "stops come first", 0, 1 }, { "a stop is dear", 3.7, 1 }, { "a stop is cheap", 3.5, 2 } };
    for (size_t i = 0; i < COUNT(rows); i++) {
        cw_wave w = wave(lines, COUNT(lines));
        cw_walk *walk = NULL;
        w.stop_cost = rows[i].stop_cost;
        print_message("%s\n", rows[i].row);
        cw_check_ok(cw_walk_plan(&w, &walk, NULL), NULL);
        assert_int_equal(walk->stop_count, rows[i].stops);
        cw_walk_free(walk);
    }
}

static void test_short_stock_goes_to_the_first_lines(void **state)
{
    (void)state;
    static const cw_walk_line lines[] = { { 2, 0, 10 }, { 1, 0, 6 }, { 0, 0, 1 } };
    cw_wave w = wave(lines, COUNT(lines)); /* 14 of variety 0 in stock */
    cw_walk *walk = NULL;
    cw_check_ok(cw_walk_plan(&w, &walk, NULL), NULL);
    assert_int_equal(walk->short_count, 2);
    assert_int_equal(walk->shorts[0].line, 1);
    assert_int_equal(walk->shorts[0].quantity, 2);
    assert_int_equal(walk->shorts[1].line, 2);
    assert_int_equal(walk->shorts[1].quantity, 1);
    assert_int_equal(walk->stop_count, 2);
    cw_walk_free(walk);
}

/* The walk is the shorter sweep from the door to the packing table. */
static void test_direction(void **state)
{
    (void)state;
    static const cw_walk_line lines[] = { { 0, 0, 14 }, { 0, 1, 18 } };
    static const struct {
        const char *row;
        int door, packing;
        size_t first;
        int64_t length;
    } rows[] = { { "out and back", 0, 0, 0, 60 },
                 { "from door to packing", 0, 40, 0, 40 },
                 { "packing at the near end", 40, 0, 2, 40 },
                 { "door in the middle, packing near", 20, 5, 2, 35 } };
    for (size_t i = 0; i < COUNT(rows); i++) {
        cw_wave w = wave(lines, COUNT(lines));
        cw_walk *walk = NULL;
        w.door = rows[i].door;
        w.packing = rows[i].packing;
        print_message("%s\n", rows[i].row);
        cw_check_ok(cw_walk_plan(&w, &walk, NULL), NULL);
        assert_int_equal(walk->stop_count, 3);
        assert_int_equal(walk->stops[0].place, rows[i].first);
        assert_int_equal(walk->length, rows[i].length);
        cw_walk_free(walk);
    }
}

static void test_nothing_to_do(void **state)
{
    (void)state;
    cw_wave w = { 0 };
    cw_walk *walk = NULL;
    size_t first[3] = { 9, 9, 9 };
    cw_check_ok(cw_walk_plan(&w, &walk, NULL), NULL);
    assert_int_equal(walk->stop_count + walk->pick_count + walk->short_count, 0);
    assert_int_equal(walk->length, 0);
    cw_check_ok(cw_walk_share(walk, (cw_walk_pace){ 1, 1, 1 }, 2, first, NULL), NULL);
    assert_int_equal(first[0] + first[1] + first[2], 0);
    cw_walk_free(walk);
    cw_walk_free(NULL);
}

/* From one packer to as many as may be, at a pace of nothing or more. */
static void test_who_may_share_a_walk(void **state)
{
    (void)state;
    static const struct {
        size_t packers;
        cw_walk_pace pace;
        bool good;
    } rows[] = {
        { 0, { 1, 1, 1 }, false },  { 1, { 1, 1, 1 }, true },   { 64, { 1, 1, 1 }, true },
        { 65, { 1, 1, 1 }, false }, { 1, { 0, 0, 0 }, true },   { 1, { -1, 1, 1 }, false },
        { 1, { 1, -1, 1 }, false }, { 1, { 1, 1, -1 }, false },
    };
    assert_int_equal(CW_WALK_MAX_PACKERS, 64);
    for (size_t i = 0; i < COUNT(rows); i++) {
        cw_stop stops[2] = { { .pick_count = 1, .quantity = 3 }, { .pick_count = 2, .quantity = 5 } };
        const cw_walk walk = { .stops = stops, .stop_count = 2 };
        size_t first[CW_WALK_MAX_PACKERS + 1] = { 9 };
        cw_error err = CW_ERROR_NONE;
        assert_int_equal(cw_walk_share(&walk, rows[i].pace, rows[i].packers, first, &err),
                         rows[i].good ? CW_OK : CW_REFUSED);
        assert_string_equal(
            err.text, rows[i].good ? "" : "a walk is shared among 1 to 64 packers, at a pace of 0 or more");
        if (rows[i].good)
            assert_true(first[0] == 0 && first[rows[i].packers] == 2);
    }
}

static void test_a_wrong_wave_is_refused(void **state)
{
    (void)state;
    static const cw_walk_line fine = { 0, 0, 1 }, no_order = { 3, 0, 1 }, no_variety = { 0, 2, 1 },
                              negative = { 0, 0, -1 };
    static const cw_walk_stock no_place = { 3, 0, 0, 1, 0 }, no_such = { 0, 0, 2, 1, 0 },
                               minus = { 0, 0, 0, -1, 0 }, unlikely = { 0, 0, 0, 1, NAN };
    cw_wave wrong[] = { wave(&no_order, 1), wave(&no_variety, 1), wave(&negative, 1), wave(&fine, 1),
                        wave(&fine, 1),     wave(&fine, 1),       wave(&fine, 1),     wave(&fine, 1) };
    const cw_walk_stock *bad[] = { NULL, NULL, NULL, &no_place, &no_such, &minus, &unlikely, NULL };
    wrong[7].stop_cost = -1;
    for (size_t i = 0; i < COUNT(wrong); i++) {
        cw_walk *walk = NULL;
        cw_error err = CW_ERROR_NONE;
        if (bad[i]) {
            wrong[i].stock = bad[i];
            wrong[i].stock_count = 1;
        }
        assert_int_equal(cw_walk_plan(&wrong[i], &walk, &err), CW_REFUSED);
        assert_null(walk);
        assert_true(err.text[0] != '\0');
    }
    /* Numbers that are none, and the least that are some. */
    static const struct {
        double stop_cost, risk;
        int64_t stock, asked;
        bool good;
    } edges[] = {
        { NAN, 0, 1, 1, false },   { INFINITY, 0, 1, 1, false }, { 0, INFINITY, 1, 1, false },
        { 0, -0.1, 1, 1, false },  { 0, 0, 0, 0, true },         { 0, 0, 1, 0, true },
        { 0.5, 0.25, 1, 1, true },
    };
    for (size_t i = 0; i < COUNT(edges); i++) {
        const cw_walk_stock lies = { 2, 0, 1, edges[i].stock,
                                     edges[i].risk }; /* the last place and variety */
        const cw_walk_line asks = { 2, 1, edges[i].asked };
        cw_wave w = wave(&asks, 1);
        cw_walk *walk = NULL;
        w.stock = &lies;
        w.stock_count = 1;
        w.stop_cost = edges[i].stop_cost;
        assert_int_equal(cw_walk_plan(&w, &walk, NULL), edges[i].good ? CW_OK : CW_REFUSED);
        if (edges[i].good)
            assert_int_equal(walk->stop_count, edges[i].stock > 0 && edges[i].asked > 0);
        cw_walk_free(walk);
    }
}

/* Two lots at one place, and the same walk order twice: the one at more risk goes first, and places of one order by their number. */
static void test_the_one_at_risk_goes_first(void **state)
{
    (void)state;
    static const int order[] = { 10, 10, 20 };
    static const cw_walk_stock lots[] = {
        { 1, 1, 0, 3, 0.2 }, { 1, 2, 0, 3, 0.6 }, { 0, 3, 0, 3, 0.4 }, { 2, 4, 1, 9, 0.1 }
    };
    static const cw_walk_line lines[] = { { 0, 0, 4 }, { 1, 0, 4 }, { 1, 1, 1 } };
    /* All nine of variety 0 lie at two places of one walk order, so both are stops; of eight that are asked, one stays of the lot
     * at the least risk. */
    cw_wave w = { order, 3, lots, COUNT(lots), lines, COUNT(lines), 2, 2, 0, 0, 0 };
    cw_walk *walk = NULL;
    int64_t of_lot[4] = { 0 };
    cw_check_ok(cw_walk_plan(&w, &walk, NULL), NULL);
    assert_int_equal(walk->stop_count, 3);
    for (size_t i = 0; i < 3; i++)
        assert_int_equal(walk->stops[i].place, i);
    for (size_t i = 0; i < walk->pick_count; i++)
        of_lot[walk->picks[i].stock] += walk->picks[i].quantity;
    assert_int_equal(of_lot[0], 2);
    assert_int_equal(of_lot[1], 3);
    assert_int_equal(of_lot[2], 3);
    assert_int_equal(of_lot[3], 1);
    assert_int_equal(walk->short_count, 0);
    cw_walk_free(walk);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_one_stop_serves_both),
        cmocka_unit_test(test_risk_can_buy_a_stop),
        cmocka_unit_test(test_short_stock_goes_to_the_first_lines),
        cmocka_unit_test(test_direction),
        cmocka_unit_test(test_nothing_to_do),
        cmocka_unit_test(test_who_may_share_a_walk),
        cmocka_unit_test(test_a_wrong_wave_is_refused),
        cmocka_unit_test(test_the_one_at_risk_goes_first),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

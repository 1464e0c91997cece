/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "model/schedule.h"
#include <string.h>

#define COUNT(a) (sizeof(a) / sizeof(a)[0])

/* One season for all rows: weeks 2032-W16 .. W19, two zones, room for 3 parcels a week. */
static const cw_schedule_zone zones[] = { { "8a", 203215 }, { "4b", 203218 } };
static const int capacity[] = { 3, 3, 3, 3 };

static cw_schedule season(const cw_schedule_order *orders, size_t n, const cw_schedule_hold *holds,
                          size_t hold_count)
{
    return (cw_schedule){ .first_week = 203216,
                          .weeks = 4,
                          .capacity = capacity,
                          .zones = zones,
                          .zone_count = 2,
                          .holds = holds,
                          .hold_count = hold_count,
                          .orders = orders,
                          .order_count = n };
}

static void test_one_order(void **state)
{
    (void)state;
    static const struct {
        const char *row;
        cw_schedule_order order;
        cw_schedule_hold hold;
        cw_week week;
        cw_schedule_why why;
        const char *sentence;
    } rows[] = {
        { "warm zone, no wish",
          { "A", 1, 0, 0, 1, 0, 0, NULL },
          { -1, 0, 1, 1, NULL },
          203216,
          CW_SCHEDULE_SOONEST,
          "Leaves in week 2032-W16, the first week open." },
        { "cold zone",
          { "A", 1, 1, 0, 1, 0, 0, NULL },
          { -1, 0, 1, 1, NULL },
          203218,
          CW_SCHEDULE_BY_ZONE,
          "Leaves in week 2032-W18, the first week for zone 4b." },
        { "cold zone, wish too early",
          { "A", 1, 1, 203216, 1, 0, 0, NULL },
          { -1, 0, 1, 1, NULL },
          203218,
          CW_SCHEDULE_BY_ZONE,
          "Leaves in week 2032-W18, the first week for zone 4b; the buyer wished week 2032-W16." },
        { "wish",
          { "A", 1, 0, 203217, 1, 0, 0, NULL },
          { -1, 0, 1, 1, NULL },
          203217,
          CW_SCHEDULE_BY_WISH,
          "Leaves in week 2032-W17, as the buyer wished." },
        { "wish is the first week",
          { "A", 1, 0, 203216, 1, 0, 0, NULL },
          { -1, 0, 1, 1, NULL },
          203216,
          CW_SCHEDULE_BY_WISH,
          "Leaves in week 2032-W16, as the buyer wished." },
        { "zone unknown: as the latest zone",
          { "A", 1, -1, 0, 1, 0, 0, NULL },
          { -1, 0, 1, 1, NULL },
          203218,
          CW_SCHEDULE_NO_ZONE,
          "Leaves in week 2032-W18: its climate zone is not known, so it waits for the latest zone." },
        { "its zone is held for two weeks",
          { "A", 1, 0, 203216, 1, 0, 0, NULL },
          { 0, -1, 203210, 203217, "night frost" },
          203218,
          CW_SCHEDULE_BY_HOLD,
          "Leaves in week 2032-W18: 2 weeks later for night frost; the buyer wished week 2032-W16." },
        { "another zone is held",
          { "A", 1, 0, 0, 1, 0, 0, NULL },
          { 1, -1, 0, 0, NULL },
          203216,
          CW_SCHEDULE_SOONEST,
          "Leaves in week 2032-W16, the first week open." },
        { "the order is held until further notice",
          { "A", 1, 0, 203217, 1, 0, 0, NULL },
          { -1, 0, 203217, 0, NULL },
          0,
          CW_SCHEDULE_HELD,
          "Has no week: frost hold from week 2032-W17 to the last week, 2032-W19." },
        { "more parcels than any week takes",
          { "A", 1, 0, 0, 4, 0, 0, NULL },
          { -1, 0, 1, 1, NULL },
          0,
          CW_SCHEDULE_NO_ROOM,
          "Has no week: no week from 2032-W16 to 2032-W19 has room for its 4 parcels." },
        { "wish behind the last week",
          { "A", 1, 0, 203230, 1, 0, 0, NULL },
          { -1, 0, 1, 1, NULL },
          0,
          CW_SCHEDULE_TOO_LATE,
          "Has no week: by zone and wish it may leave in week 2032-W30, but the last week is 2032-W19." },
        { "pinned before its zone",
          { "A", 1, 1, 0, 1, CW_SCHEDULE_PINNED, 203216, NULL },
          { -1, 0, 1, 1, NULL },
          203216,
          CW_SCHEDULE_BY_FIX,
          "Leaves in week 2032-W16, which the office chose." },
        { "nothing may be sent there",
          { "A", 1, 0, 0, 1, 0, 0, "nothing may be sent to AU (no certificate)" },
          { -1, 0, 1, 1, NULL },
          0,
          CW_SCHEDULE_BARRED,
          "Has no week: nothing may be sent to AU (no certificate)." },
        { "pinned, and nothing may be sent there",
          { "A", 1, 0, 0, 1, CW_SCHEDULE_PINNED, 203216, "nothing may be sent to AU" },
          { -1, 0, 1, 1, NULL },
          203216,
          CW_SCHEDULE_BY_FIX,
          "Leaves in week 2032-W16, which the office chose. But it may not leave: nothing may be sent to "
          "AU." },
        { "nothing to send",
          { "A", 1, 0, 0, 0, 0, 0, NULL },
          { -1, 0, 1, 1, NULL },
          0,
          CW_SCHEDULE_NOTHING,
          "Has no week: it has nothing to send." },
        { "shipped in the past",
          { "A", 1, 0, 0, 1, CW_SCHEDULE_SHIPPED, 203212, NULL },
          { -1, 0, 1, 1, NULL },
          203212,
          CW_SCHEDULE_BY_FIX,
          "Shipped in week 2032-W12." },
        { "shipped: what holds it now is of no matter",
          { "A", 1, 0, 0, 1, CW_SCHEDULE_SHIPPED, 203216, NULL },
          { 0, -1, 203216, 203216, "night frost" },
          203216,
          CW_SCHEDULE_BY_FIX,
          "Shipped in week 2032-W16." },
        { "shipped before its place was closed",
          { "A", 1, 0, 0, 1, CW_SCHEDULE_SHIPPED, 203216, "nothing may be sent to AU" },
          { -1, 0, 1, 1, NULL },
          203216,
          CW_SCHEDULE_BY_FIX,
          "Shipped in week 2032-W16." },
        { "in a wave, and held in its last week",
          { "A", 1, 0, 0, 1, CW_SCHEDULE_IN_WAVE, 203217, NULL },
          { 0, -1, 203216, 203217, "night frost" },
          203217,
          CW_SCHEDULE_BY_FIX,
          "Is being packed in the wave of week 2032-W17. But it is on hold that week: night frost." },
        { "in a wave, and held the week after",
          { "A", 1, 0, 0, 1, CW_SCHEDULE_IN_WAVE, 203217, NULL },
          { 0, -1, 203218, 0, "night frost" },
          203217,
          CW_SCHEDULE_BY_FIX,
          "Is being packed in the wave of week 2032-W17." },
        { "held for its first week, without a word why",
          { "A", 1, 0, 0, 3, 0, 0, NULL },
          { -1, 0, 203216, 203216, NULL },
          203217,
          CW_SCHEDULE_BY_HOLD,
          "Leaves in week 2032-W17: 1 week later for frost hold." },
        { "as many parcels as a week takes",
          { "A", 1, 0, 0, 3, 0, 0, NULL },
          { -1, 0, 1, 1, NULL },
          203216,
          CW_SCHEDULE_SOONEST,
          "Leaves in week 2032-W16, the first week open." },
        { "wish in the last week",
          { "A", 1, 1, 203219, 1, 0, 0, NULL },
          { -1, 0, 1, 1, NULL },
          203219,
          CW_SCHEDULE_BY_WISH,
          "Leaves in week 2032-W19, as the buyer wished." },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        cw_schedule s = season(&rows[i].order, 1, &rows[i].hold, 1);
        cw_ship ship;
        cw_error err = CW_ERROR_NONE;
        char sentence[CW_SCHEDULE_SENTENCE];
        print_message("%s\n", rows[i].row);
        cw_check_ok(cw_schedule_place(&s, &ship, NULL, &err), &err);
        cw_schedule_say(&s, 0, &ship, sentence);
        assert_int_equal(ship.week, rows[i].week);
        assert_int_equal(ship.why, rows[i].why);
        assert_string_equal(sentence, rows[i].sentence);
        /* What is fixed is put off by nothing, and when it could have left is told all the same. */
        if (ship.why == CW_SCHEDULE_BY_FIX) {
            assert_int_equal(ship.weeks_held + ship.weeks_full, 0);
            assert_int_equal(ship.earliest, rows[i].order.zone == 1 ? 203218 : 203216);
        }
    }
}

/* First come, first served: the pinned order counts first, the latest comers move on, a small order may use
 * room that a large one could not. */
static void test_full_weeks(void **state)
{
    (void)state;
    static const cw_schedule_order orders[] = {
        { "late", 50, 0, 0, 1, 0, 0, NULL },  { "first", 10, 0, 0, 1, 0, 0, NULL },
        { "big", 20, 0, 0, 3, 0, 0, NULL },   { "tie-b", 30, 0, 0, 1, 0, 0, NULL },
        { "tie-a", 30, 0, 0, 1, 0, 0, NULL }, { "pinned", 90, 1, 0, 1, CW_SCHEDULE_PINNED, 203216, NULL },
        { "cold", 5, 1, 0, 1, 0, 0, NULL },
    };
    static const cw_week want[] = { 203218, 203216, 203217, 203218, 203216, 203216, 203218 };
    static const int want_load[] = { 3, 3, 3, 0 };
    cw_schedule s = season(orders, COUNT(orders), NULL, 0);
    cw_ship ship[COUNT(orders)];
    int load[4];
    char sentence[CW_SCHEDULE_SENTENCE];
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_schedule_place(&s, ship, load, &err), &err);
    for (size_t i = 0; i < COUNT(orders); i++) {
        print_message("%s\n", orders[i].number);
        assert_int_equal(ship[i].week, want[i]);
    }
    for (size_t t = 0; t < 4; t++)
        assert_int_equal(load[t], want_load[t]);
    cw_schedule_say(&s, 0, &ship[0], sentence);
    assert_string_equal(
        sentence,
        "Leaves in week 2032-W18: 2 weeks later because orders that came before it fill the crew's time.");
}

static void test_moves(void **state)
{
    (void)state;
    static const cw_schedule_order orders[] = { { "cold", 1, 1, 203219, 2, 0, 0, NULL },
                                                { "warm", 2, 0, 0, 3, 0, 0, NULL },
                                                { "waved", 3, 0, 0, 1, CW_SCHEDULE_IN_WAVE, 203217, NULL },
                                                { "far", 4, 0, 0, 1, 0, 0, "nothing may be sent to AU" } };
    static const cw_schedule_hold holds[] = { { 1, -1, 203216, 203216, "night frost" } };
    static const cw_week now[] = { 203219, 203216, 203217, 0 };
    static const struct {
        const char *row;
        size_t order;
        cw_week to;
        size_t n;
        struct {
            cw_schedule_rule rule;
            int amount;
            const char *sentence;
        } want[4];
    } rows[] = {
        { "stays", 0, 203219, 0, { { 0, 0, "" } } },
        { "breaks four rules",
          0,
          203216,
          4,
          { { CW_RULE_BEFORE_ZONE, 2, "2 weeks too early: zone 4b starts in week 2032-W18." },
            { CW_RULE_BEFORE_WISH, 3, "3 weeks before the buyer's wish, week 2032-W19." },
            { CW_RULE_IN_HOLD, 1, "On hold that week (night frost), up to week 2032-W16." },
            { CW_RULE_CAPACITY, 2,
              "2 parcels more than the crew can pack: week 2032-W16 would have 5, and 3 can be packed." } } },
        { "clean", 1, 203218, 0, { { 0, 0, "" } } },
        { "one too many beside the wave",
          1,
          203217,
          1,
          { { CW_RULE_CAPACITY, 1,
              "1 parcel more than the crew can pack: week 2032-W17 would have 4, and 3 can be packed." } } },
        { "past",
          1,
          203214,
          2,
          { { CW_RULE_BEFORE_ZONE, 1, "1 week too early: zone 8a starts in week 2032-W15." },
            { CW_RULE_OUTSIDE, 2, "Week 2032-W14 is past: the first week open is 2032-W16." } } },
        { "behind the end",
          1,
          203220,
          1,
          { { CW_RULE_OUTSIDE, 1, "Week 2032-W20 lies behind the last week, 2032-W19." } } },
        { "in a wave", 2, 203218, 1, { { CW_RULE_GONE, 1, "It is being packed in a wave." } } },
        { "blocked",
          3,
          203218,
          1,
          { { CW_RULE_BARRED, 1, "It may not leave in any week: nothing may be sent to AU." } } },
        { "off the schedule", 0, 0, 0, { { 0, 0, "" } } },
    };
    cw_schedule s = season(orders, COUNT(orders), holds, 1);
    for (size_t i = 0; i < COUNT(rows); i++) {
        cw_schedule_break got[CW_SCHEDULE_RULES];
        print_message("%s\n", rows[i].row);
        assert_int_equal(cw_schedule_check_move(&s, now, rows[i].order, rows[i].to, got), rows[i].n);
        for (size_t k = 0; k < rows[i].n; k++) {
            assert_int_equal(got[k].rule, rows[i].want[k].rule);
            assert_int_equal(got[k].amount, rows[i].want[k].amount);
            assert_string_equal(got[k].sentence, rows[i].want[k].sentence);
        }
    }
}

static void test_a_wrong_problem_is_refused(void **state)
{
    (void)state;
    static const cw_schedule_order fine = { "A", 1, 0, 0, 1, 0, 0, NULL },
                                   no_parcel = { "A", 1, 0, 0, -1, 0, 0, NULL },
                                   no_zone = { "A", 1, 2, 0, 1, 0, 0, NULL },
                                   no_week = { "A", 1, 0, 0, 1, CW_SCHEDULE_PINNED, 0, NULL };
    static const cw_schedule_hold both = { 0, 0, 0, 0, NULL }, none = { -1, -1, 0, 0, NULL },
                                  far = { -1, 1, 0, 0, NULL };
    cw_schedule wrong[] = { season(&no_parcel, 1, NULL, 0), season(&no_zone, 1, NULL, 0),
                            season(&no_week, 1, NULL, 0),   season(&fine, 1, &both, 1),
                            season(&fine, 1, &none, 1),     season(&fine, 1, &far, 1),
                            season(&fine, 1, NULL, 0),      season(&fine, 1, NULL, 0) };
    wrong[6].weeks = 0;
    wrong[7].weeks = CW_SCHEDULE_MAX_WEEKS + 1;
    cw_ship ship;
    for (size_t i = 0; i < COUNT(wrong); i++) {
        cw_error err = CW_ERROR_NONE;
        assert_int_equal(cw_schedule_place(&wrong[i], &ship, NULL, &err), CW_REFUSED);
        assert_true(err.text[0] != '\0');
    }
}

/* The schedule runs over a year's end: 2032 has 53 ISO weeks. */
static void test_over_new_year(void **state)
{
    (void)state;
    static const cw_schedule_order orders[] = { { "A", 1, -1, 0, 1, 0, 0, NULL },
                                                { "B", 2, -1, 0, 1, 0, 0, NULL },
                                                { "C", 3, -1, 0, 1, 0, 0, NULL } };
    static const int one[] = { 1, 1, 1 };
    cw_schedule s = { .first_week = 203252, .weeks = 3, .capacity = one, .orders = orders, .order_count = 3 };
    cw_ship ship[3];
    cw_check_ok(cw_schedule_place(&s, ship, NULL, NULL), NULL);
    assert_int_equal(ship[0].week, 203252);
    assert_int_equal(ship[1].week, 203253);
    assert_int_equal(ship[2].week, 203301);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_one_order),     cmocka_unit_test(test_full_weeks),
        cmocka_unit_test(test_moves),         cmocka_unit_test(test_a_wrong_problem_is_refused),
        cmocka_unit_test(test_over_new_year),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

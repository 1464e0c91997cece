/* SPDX-License-Identifier: MIT */
/* The shipping day can be moved, on record, and whoever works with it sees the day as it is now. */
#include "support/season.h"

#include "desk/export/exporting.h"
#include "desk/offer/offering.h"

#include "base/banned.h"

static const cw_offering_ask as_settings = {
    .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY
};

static int64_t offered_in_all(test_nursery *t, cw_nursery *n)
{
    cw_table plan = { 0 };
    cw_error err = CW_ERROR_NONE;
    int64_t sum = 0;
    cw_check_ok(cw_offering_plan(n, &t->who, &as_settings, &plan, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&plan); r++)
        sum += cw_table_int(&plan, r, (size_t)cw_table_column(&plan, "quantity"));
    cw_table_free(&plan);
    return sum;
}

static void a_preview_tells_what_comes_and_writes_nothing(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    int64_t now = 0, then = 0;
    cw_day day = cw_day_from_ymd(2032, 8, 30);
    (void)state;
    season_make(&t);
    int64_t before = offered_in_all(&t, t.n);
    cw_check_ok(cw_offering_ship_preview(t.n, &t.who, day, &out, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&out); r++) {
        now += cw_table_int(&out, r, 3);
        then += cw_table_int(&out, r, 4);
    }
    cw_table_free(&out);
    assert_int_equal(now, before);
    assert_true(then < now); /* four months more of rot */
    assert_int_equal(offered_in_all(&t, t.n), before);
    cw_check_ok(cw_offering_ship_move(t.n, &t.who, day, "a late spring", &err), &err);
    assert_int_equal(offered_in_all(&t, t.n), then);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* A reader that was open before the day moved plans for the new one, and so does the next session on the file. */
static void every_connection_sees_the_day_that_is_on_record(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_nursery *reader = NULL;
    cw_season s = { 0 };
    cw_day day = cw_day_from_ymd(2032, 8, 30);
    (void)state;
    season_make(&t);
    cw_check_ok(cw_nursery_open(t.path, CW_LOOK, NULL, &reader, &err), &err);
    int64_t before = offered_in_all(&t, reader);
    cw_check_ok(cw_offering_ship_move(t.n, &t.who, day, "a late spring", &err), &err);
    int64_t after = offered_in_all(&t, reader);
    assert_true(after < before);
    assert_int_equal(after, offered_in_all(&t, t.n));
    cw_check_ok(cw_nursery_season_now(reader, &s, &err), &err);
    assert_int_equal(s.ship, day);
    cw_nursery_close(reader);
    test_nursery_free(&t);
}

static void what_does_not_hold_is_refused(void **state)
{
    test_nursery t;
    cw_day day = cw_day_from_ymd(2032, 5, 3), other = cw_day_from_ymd(2032, 4, 26);
    (void)state;
    season_make(&t);
    cw_asker office = t.who;
    office.role = CW_ROLE_OFFICE;
    const struct {
        const char *name;
        const cw_asker *who;
        cw_day day;
        const char *why;
        cw_code want;
    } rows[] = {
        { "not the owner", &office, day, "late", CW_FORBIDDEN },
        { "no reason", &t.who, day, "", CW_REFUSED },
        { "another season", &t.who, cw_day_from_ymd(2034, 4, 19), "late", CW_REFUSED },
        { "a later day", &t.who, day, "late", CW_OK },
        { "and an earlier one", &t.who, other, "early", CW_OK },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_error err = CW_ERROR_NONE;
        print_message("%s\n", rows[i].name);
        assert_int_equal(cw_offering_ship_move(t.n, rows[i].who, rows[i].day, rows[i].why, &err),
                         rows[i].want);
    }
    assert_int_equal(cw_nursery_season(t.n)->ship, other);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

static void the_move_is_on_record_with_its_reason(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table audit = { 0 };
    (void)state;
    season_make(&t);
    cw_check_ok(cw_offering_ship_move(t.n, &t.who, cw_day_from_ymd(2032, 5, 3), "a late spring", &err), &err);
    cw_check_ok(cw_exporting_audit(t.n, 0, 1, &audit, &err), &err);
    assert_string_equal(cw_table_text(&audit, 0, 3), "move shipping day");
    assert_string_equal(cw_table_text(&audit, 0, 5), "2032-04-19");
    assert_string_equal(cw_table_text(&audit, 0, 6), "2032-05-03: a late spring");
    cw_table_free(&audit);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_preview_tells_what_comes_and_writes_nothing),
        cmocka_unit_test(every_connection_sees_the_day_that_is_on_record),
        cmocka_unit_test(what_does_not_hold_is_refused),
        cmocka_unit_test(the_move_is_on_record_with_its_reason),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

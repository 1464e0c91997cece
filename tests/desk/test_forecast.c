/* SPDX-License-Identifier: MIT */
#include "support/demo.h"

#include "desk/forecast/forecast.h"
#include "desk/forecast/hindsight.h"
#include "desk/offer/offering.h"

/* The demo season as it is loaded: figures of its own ledger (its README and verify script state them). */

static int setup(void **state)
{
    static test_nursery t;
    test_demo_make(&t);
    *state = &t;
    return 0;
}

static int teardown(void **state)
{
    test_nursery_check(*state);
    test_nursery_free(*state);
    return 0;
}

static const cw_forecast_ask all = { CW_NO_DAY, CW_NO_DAY, NULL };

static int64_t sum(const cw_table *t, const char *column)
{
    int c = cw_table_column(t, column);
    int64_t total = 0;
    assert_true(c >= 0);
    for (size_t r = 0; r < cw_table_rows(t); r++)
        total += cw_table_int(t, r, (size_t)c);
    return total;
}

static void test_on_hand_is_the_ledger(void **state)
{
    test_nursery *t = *state;
    cw_error err = CW_ERROR_NONE;
    cw_table p = { 0 };
    cw_check_ok(cw_forecast_project(t->n, &t->who, &all, &p, NULL, &err), &err);
    assert_int_equal(cw_table_rows(&p), 120);
    assert_int_equal(sum(&p, "clumps"), 4109);
    assert_int_equal(sum(&p, "divisions"), 8911);
    cw_table_free(&p);
}

static void test_quantiles_rise_and_saleable_is_what_is_left(void **state)
{
    static const char *const names[] = { "p05", "p10", "p25", "p50", "p75", "p90", "p95" };
    test_nursery *t = *state;
    cw_error err = CW_ERROR_NONE;
    cw_table p = { 0 };
    cw_check_ok(cw_forecast_project(t->n, &t->who, &all, &p, NULL, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&p); r++) {
        int64_t withheld = cw_table_int(&p, r, (size_t)cw_table_column(&p, "hold_back")) +
                           cw_table_int(&p, r, (size_t)cw_table_column(&p, "reserve"));
        int64_t p10 = cw_table_int(&p, r, (size_t)cw_table_column(&p, "p10"));
        for (size_t q = 1; q < 7; q++)
            assert_true(cw_table_int(&p, r, (size_t)cw_table_column(&p, names[q - 1])) <=
                        cw_table_int(&p, r, (size_t)cw_table_column(&p, names[q])));
        assert_int_equal(cw_table_int(&p, r, (size_t)cw_table_column(&p, "saleable_p10")),
                         p10 > withheld ? p10 - withheld : 0);
    }
    cw_table_free(&p);
}

static void test_a_past_day_can_be_told_again(void **state)
{
    test_nursery *t = *state;
    cw_error err = CW_ERROR_NONE;
    cw_table p = { 0 };
    cw_forecast_ask autumn = { CW_NO_DAY, cw_day_from_ymd(2031, 11, 21), NULL };
    cw_check_ok(cw_forecast_project(t->n, &t->who, &autumn, &p, NULL, &err), &err);
    /* All 6,240 clumps are dug by then, none is divided. */
    assert_int_equal(sum(&p, "divisions"), 0);
    assert_in_range(sum(&p, "clumps"), 6000, 6240);
    cw_table_free(&p);
}

static void test_the_same_question_has_the_same_answer(void **state)
{
    test_nursery *t = *state;
    cw_error err = CW_ERROR_NONE;
    cw_nursery *again = NULL;
    cw_text a = CW_TEXT(1 << 20), b = CW_TEXT(1 << 20);
    cw_table p = { 0 };
    cw_check_ok(cw_forecast_project(t->n, &t->who, &all, &p, NULL, &err), &err);
    cw_check_ok(cw_table_csv(&p, cw_sink_text(&a), &err), &err);
    cw_table_free(&p);
    /* A reader beside the writer starts cold, without what the writer's fits left to start from. */
    cw_check_ok(cw_nursery_open(t->path, CW_LOOK, NULL, &again, &err), &err);
    cw_check_ok(cw_forecast_project(again, &t->who, &all, &p, NULL, &err), &err);
    cw_check_ok(cw_table_csv(&p, cw_sink_text(&b), &err), &err);
    assert_string_equal(a.data, b.data);
    cw_table_free(&p);
    cw_nursery_close(again);
    cw_text_free(&a);
    cw_text_free(&b);
}

static void test_why_adds_up(void **state)
{
    test_nursery *t = *state;
    cw_error err = CW_ERROR_NONE;
    cw_table w = { 0 };
    cw_forecast_ask ask = { CW_NO_DAY, CW_NO_DAY, "BRUDO" };
    double parts = 0;
    cw_check_ok(cw_forecast_why(t->n, &t->who, &ask, &w, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&w); r++) {
        const char *piece = cw_table_text(&w, r, 0);
        if (strcmp(piece, "rate") == 0 || strncmp(piece, "rot", 3) == 0 || strcmp(piece, "shrink") == 0 ||
            strcmp(piece, "chance") == 0)
            parts += cw_table_real(&w, r, (size_t)cw_table_column(&w, "variance_share"));
    }
    cw_check_near("shares of the variance", parts, 1, 0.02);
    cw_table_free(&w);
}

static void test_an_unknown_variety_is_named(void **state)
{
    test_nursery *t = *state;
    cw_error err = CW_ERROR_NONE;
    cw_table p = { 0 };
    cw_forecast_ask ask = { CW_NO_DAY, CW_NO_DAY, "NOSUCH" };
    assert_int_equal(cw_forecast_project(t->n, &t->who, &ask, &p, NULL, &err), CW_NOT_FOUND);
    assert_non_null(strstr(err.text, "NOSUCH"));
    cw_table_free(&p);
}

/* A quantity at a confidence is the largest that is there with that chance; more confidence never offers more. */
static void test_more_confidence_offers_less(void **state)
{
    test_nursery *t = *state;
    cw_error err = CW_ERROR_NONE;
    int64_t last = INT64_MAX;
    static const double at[] = { 0.5, 0.7, 0.9, 0.99 };
    for (size_t i = 0; i < 4; i++) {
        cw_offering_ask ask = { .confidence = at[i],
                                .margin = -1,
                                .short_cost = -1,
                                .ship = CW_NO_DAY,
                                .as_of = CW_NO_DAY,
                                .rot = 1 };
        cw_table p = { 0 };
        cw_check_ok(cw_offering_plan(t->n, &t->who, &ask, &p, &err), &err);
        int64_t total = sum(&p, "quantity");
        assert_true(total <= last);
        for (size_t r = 0; r < cw_table_rows(&p); r++)
            if (strcmp(cw_table_text(&p, r, 8), "stock") == 0)
                assert_true(cw_table_real(&p, r, 5) <= 1 - at[i] + 1e-9);
        last = total;
        cw_table_free(&p);
    }
}

static void test_more_rot_offers_less(void **state)
{
    test_nursery *t = *state;
    cw_error err = CW_ERROR_NONE;
    int64_t totals[2];
    for (int i = 0; i < 2; i++) {
        cw_offering_ask ask = { .confidence = 0.9,
                                .margin = -1,
                                .short_cost = -1,
                                .ship = CW_NO_DAY,
                                .as_of = CW_NO_DAY,
                                .rot = i ? 3 : 1 };
        cw_table p = { 0 };
        cw_check_ok(cw_offering_plan(t->n, &t->who, &ask, &p, &err), &err);
        totals[i] = sum(&p, "quantity");
        cw_table_free(&p);
    }
    assert_true(totals[1] < totals[0]);
}

static void test_a_release_is_on_record_and_bounds_sales(void **state)
{
    test_nursery *t = *state;
    cw_error err = CW_ERROR_NONE;
    cw_offering_ask ask = {
        .confidence = 0.9, .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY, .rot = 1
    };
    cw_table r = { 0 }, again = { 0 }, list = { 0 };
    cw_check_ok(cw_offering_release(t->n, &t->who, &ask, NULL, 0, "first catalogue", &r, &err), &err);
    assert_int_equal(cw_table_rows(&r), 120);
    test_nursery_check(t);
    /* Nothing has changed since, so a second release finds nothing to do. */
    cw_check_ok(cw_offering_release(t->n, &t->who, &ask, NULL, 0, NULL, &again, &err), &err);
    assert_int_equal(cw_table_rows(&again), 0);
    cw_check_ok(cw_offering_releases(t->n, "BRUDO", &list, &err), &err);
    assert_int_equal(cw_table_rows(&list), 1);
    assert_string_equal(cw_table_text(&list, 0, 8), "first catalogue");
    assert_non_null(strstr(cw_table_text(&list, 0, 7), "\"as_of\":\"2032-02-20\""));
    cw_table_free(&r);
    cw_table_free(&again);
    cw_table_free(&list);
}

static void test_only_the_owner_releases(void **state)
{
    test_nursery *t = *state;
    cw_error err = CW_ERROR_NONE;
    cw_asker packer = t->who;
    packer.role = CW_ROLE_PACKER;
    cw_offering_ask ask = {
        .confidence = 0.9, .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY, .rot = 1
    };
    cw_table r = { 0 };
    assert_int_equal(cw_offering_release(t->n, &packer, &ask, NULL, 0, NULL, &r, &err), CW_FORBIDDEN);
    cw_table_free(&r);
}

static void test_hindsight_holds_its_promise_roughly(void **state)
{
    test_nursery *t = *state;
    cw_error err = CW_ERROR_NONE;
    cw_table s = { 0 };
    cw_hindsight_ask ask = { NULL, 0 };
    cw_check_ok(cw_hindsight_scores(t->n, &t->who, &ask, &s, &err), &err);
    size_t last = cw_table_rows(&s) - 1;
    assert_true(cw_table_int(&s, last, 1) > 100);
    /* Some 500 projections of one season, correlated through it: a wide gate, the calibration bench has the narrow one. */
    double cover80 = cw_table_real(&s, last, (size_t)cw_table_column(&s, "cover80"));
    assert_true(cover80 > 0.65 && cover80 < 0.95);
    cw_table_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_on_hand_is_the_ledger),
        cmocka_unit_test(test_quantiles_rise_and_saleable_is_what_is_left),
        cmocka_unit_test(test_a_past_day_can_be_told_again),
        cmocka_unit_test(test_the_same_question_has_the_same_answer),
        cmocka_unit_test(test_why_adds_up),
        cmocka_unit_test(test_an_unknown_variety_is_named),
        cmocka_unit_test(test_more_confidence_offers_less),
        cmocka_unit_test(test_more_rot_offers_less),
        cmocka_unit_test(test_a_release_is_on_record_and_bounds_sales),
        cmocka_unit_test(test_only_the_owner_releases),
        cmocka_unit_test(test_hindsight_holds_its_promise_roughly),
    };
    return cmocka_run_group_tests(tests, setup, teardown);
}

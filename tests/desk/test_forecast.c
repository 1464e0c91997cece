/* SPDX-License-Identifier: MIT */
#include "support/demo.h"

#include "desk/forecast/forecast.h"
#include "desk/forecast/hindsight.h"
#include "desk/offer/offering.h"
#include "desk/stock/catalogue.h"
#include "base/limits.h"
#include <math.h>

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

static double expected_of(test_nursery *t, const char *code, json_t **sheet)
{
    cw_error err = CW_ERROR_NONE;
    cw_forecast_ask ask = { CW_NO_DAY, CW_NO_DAY, code };
    cw_check_ok(cw_forecast_sheet(t->n, &t->who, &ask, sheet, &err), &err);
    return json_number_value(json_object_get(*sheet, "expected"));
}

static const char *own_sentence(json_t *sheet)
{
    size_t i;
    json_t *row;
    json_array_foreach(
        json_object_get(sheet, "why"), i,
        row) if (strcmp(json_string_value(json_object_get(row, "piece")), "rate: own estimate") ==
                 0) return json_string_value(json_object_get(row, "sentence"));
    return "";
}

/* What the owner expects of a clump moves the figure its way, is named as the reason, is scored in hindsight, and leaves no trace
 * when it is taken back. */
static void test_the_owner_may_know_better(void **state)
{
    test_nursery *t = *state;
    cw_error err = CW_ERROR_NONE;
    cw_table p = { 0 }, row = { 0 };
    json_t *before = NULL, *now = NULL, *after = NULL, *report = NULL;
    cw_check_ok(cw_forecast_project(t->n, &t->who, &all, &p, NULL, &err), &err);
    char code[CW_MAX_CODE + 1] = "";
    for (size_t r = 0; r < cw_table_rows(&p) && !code[0]; r++)
        if (cw_table_int(&p, r, (size_t)cw_table_column(&p, "clumps")) > 20)
            snprintf(code, sizeof code, "%s", cw_table_text(&p, r, 0));
    cw_table_free(&p);
    double usual = expected_of(t, code, &before);
    assert_string_equal(own_sentence(before), "");
    cw_catalogue_edit e = CW_CATALOGUE_EDIT;
    e.own_low = 30;
    e.own_high = 40;
    cw_check_ok(cw_catalogue_change(t->n, &t->who, code, &e, &row, &err), &err);
    cw_table_free(&row);
    double more = expected_of(t, code, &now);
    print_message("%s: %.1f, %.1f; %s\n", code, usual, more, own_sentence(now));
    assert_true(more > 1.02 * usual);
    assert_non_null(strstr(own_sentence(now), "You said 30.0 to 40.0 a clump"));
    cw_check_ok(cw_hindsight_report(t->n, &t->who, &(cw_hindsight_ask){ NULL, 0 }, &report, &err), &err);
    json_int_t said = json_integer_value(json_object_get(json_object_get(report, "own"), "said"));
    assert_true(said <= 1);
    assert_int_equal(json_integer_value(json_object_get(json_object_get(report, "own"), "held")), 0);
    e.own_low = e.own_high = 0;
    cw_check_ok(cw_catalogue_change(t->n, &t->who, code, &e, &row, &err), &err);
    cw_table_free(&row);
    cw_check_near("as before", expected_of(t, code, &after), usual, 0);
    e.own_low = 5;
    e.own_high = 4;
    assert_int_equal(cw_catalogue_change(t->n, &t->who, code, &e, &row, &err), CW_REFUSED);
    assert_string_equal(err.column, "own_low");
    cw_table_free(&row);
    json_decref(before);
    json_decref(now);
    json_decref(after);
    json_decref(report);
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

static double named(const json_t *o, const char *name)
{
    const json_t *v = json_object_get(o, name);
    assert_non_null(v);
    return json_is_string(v) ? atof(json_string_value(v)) : json_number_value(v);
}

static double cell_of(const cw_table *t, size_t row, const char *name)
{
    size_t c = (size_t)cw_table_column(t, name);
    switch (t->columns[c].type) {
    case CW_REAL_T:
        return cw_table_real(t, row, c);
    case CW_MONEY_T:
        return (double)cw_table_int(t, row, c) / 100;
    default:
        return (double)cw_table_int(t, row, c);
    }
}

/* Sentence, curve and table are of one plan, whatever decides it; and what is sold too far is told apart. */
static void test_sentence_curve_and_table_are_one_plan(void **state)
{
    static const char *const both[][2] = { { "quantity", "offered" },
                                           { "expected_short", "expected_short" },
                                           { "expected_refunds", "expected_refunds" },
                                           { "expected_unsold", "expected_unsold" },
                                           { "margin", "margin" },
                                           { "too_far", "too_far" },
                                           { "too_far_short", "too_far_short" },
                                           { "too_far_refunds", "too_far_refunds" } };
    const cw_offering_ask none = {
        .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY, .rot = 1
    };
    static const double sure[4] = { 0.9, 0.9, 0.8, 0.75 };
    cw_offering_ask asks[4] = { none, none, none, none };
    double margin[4];
    test_nursery *t = *state;
    asks[1].confidence = 0.9;
    asks[2].margin_share = 0.1; /* 0.4 / (0.1 + 0.4) */
    asks[2].short_cost_share = 0.4;
    asks[3].margin = 100; /* the same for every variety: 300 / (100 + 300) */
    asks[3].short_cost = 300;
    for (size_t i = 0; i < 4; i++) {
        cw_error err = CW_ERROR_NONE;
        cw_table rows = { 0 }, curve = { 0 };
        json_t *totals = NULL;
        int64_t quantity = 0, far = 0;
        size_t at = 0;
        cw_check_ok(cw_offering_desk(t->n, &t->who, &asks[i], &rows, &totals, &err), &err);
        cw_check_ok(cw_offering_curve(t->n, &t->who, &asks[i], &curve, &err), &err);
        while (at < cw_table_rows(&curve) && cell_of(&curve, at, "confidence") != sure[i])
            at++;
        assert_true(at < cw_table_rows(&curve) && fabs(named(totals, "confidence") - sure[i]) < 1e-9);
        for (size_t k = 0; k < sizeof both / sizeof both[0]; k++)
            if (fabs(named(totals, both[k][0]) - cell_of(&curve, at, both[k][1])) > 0.0051)
                fail_msg("ask %zu, %s: %g in sum, %g on the curve", i, both[k][0], named(totals, both[k][0]),
                         cell_of(&curve, at, both[k][1]));
        for (size_t r = 0; r < cw_table_rows(&rows); r++) {
            quantity += (int64_t)cell_of(&rows, r, "quantity");
            far += cell_of(&rows, r, "sold") > cell_of(&rows, r, "by_stock");
            assert_true(fabs(cell_of(&rows, r, "confidence") - sure[i]) < 1e-9);
        }
        assert_int_equal(quantity, (int64_t)named(totals, "quantity"));
        assert_int_equal(far, (int64_t)named(totals, "too_far"));
        assert_true(far > 5); /* twelve varieties of the demo season are truly short */
        /* Nearly all that is short at 9 in 10 lies there. */
        assert_true(sure[i] < 0.9 || named(totals, "too_far_short") > 0.8 * named(totals, "expected_short"));
        assert_true(named(totals, "too_far_short") <= named(totals, "expected_short"));
        margin[i] = named(totals, "margin");
        cw_table_free(&rows);
        cw_table_free(&curve);
        json_decref(totals);
    }
    assert_true(margin[0] == margin[1]);
    assert_true(margin[2] < margin[1] && margin[3] != margin[2]); /* the money typed is the money told */
}

/* Decimals of the first row: a digit for each column, '-' where there is no point. */
static void decimals_are(cw_table *t, const char *want)
{
    cw_error err = CW_ERROR_NONE;
    cw_text csv = CW_TEXT(1 << 22);
    char got[64] = "";
    size_t n = 0;
    cw_check_ok(cw_table_csv(t, cw_sink_text(&csv), &err), &err);
    for (const char *at = strchr(csv.data, '\n') + 1;; at++) {
        size_t length = strcspn(at, ",\n");
        const char *point = memchr(at, '.', length);
        got[n++] = point ? (char)('0' + (at + length - point - 1)) : '-';
        at += length;
        if (*at != ',')
            break;
    }
    assert_string_equal(got, want);
    cw_text_free(&csv);
    cw_table_free(t);
}

static void test_figures_have_their_decimals(void **state)
{
    test_nursery *t = *state;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_offering_ask ask = { .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY, .rot = 1 };
    cw_check_ok(cw_offering_plan(t->n, &t->who, &ask, &out, &err), &err);
    decimals_are(&out, "----3421---");
    cw_check_ok(cw_offering_desk(t->n, &t->who, &ask, &out, NULL, &err), &err);
    decimals_are(&out, "-----2--1-------------34212----");
    cw_check_ok(cw_offering_curve(t->n, &t->who, &ask, &out, &err), &err);
    decimals_are(&out, "3-11221223-12");
}

/* Rot that is as fast as it is: what is tried is the plan itself. Age, rooms, dead lots and the season's tie are of the try, too. */
static void test_a_try_of_nothing_is_the_plan(void **state)
{
    test_nursery *t = *state;
    cw_offering_ask ask = { .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY, .rot = 1 };
    cw_table plan = { 0 }, tried = { 0 };
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_offering_plan(t->n, &t->who, &ask, &plan, &err), &err);
    ask.rot = 1.0000001;
    cw_check_ok(cw_offering_plan(t->n, &t->who, &ask, &tried, &err), &err);
    assert_int_equal(cw_table_rows(&plan), cw_table_rows(&tried));
    for (size_t r = 0; r < cw_table_rows(&plan); r++) {
        assert_true(fabs(cell_of(&plan, r, "quantity") - cell_of(&tried, r, "quantity")) <= 1);
        assert_true(fabs(cell_of(&plan, r, "p_short") - cell_of(&tried, r, "p_short")) < 0.011);
    }
    cw_table_free(&plan);
    cw_table_free(&tried);
}

/* What to measure next: the best first, of what is on hand, and some of it saved elsewhere. */
static void test_measurements_save_money(void **state)
{
    test_nursery *t = *state;
    const cw_offering_ask ask = {
        .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY, .rot = 1
    };
    cw_table m = { 0 };
    cw_error err = CW_ERROR_NONE;
    double last = INFINITY, elsewhere = 0;
    cw_check_ok(cw_offering_measures(t->n, &t->who, &ask, &m, &err), &err);
    assert_int_equal(cw_table_rows(&m), 10);
    for (size_t r = 0; r < cw_table_rows(&m); r++) {
        double saves = cell_of(&m, r, "saves"), count = cell_of(&m, r, "count");
        assert_true(saves > 0 && saves <= last && count >= 1 && count <= 20);
        assert_true(cell_of(&m, r, "elsewhere") >= 0 && cell_of(&m, r, "elsewhere") <= saves);
        elsewhere += cell_of(&m, r, "elsewhere");
        last = saves;
    }
    print_message("the best saves %.2f, the tenth %.2f, elsewhere %.2f in all\n", cell_of(&m, 0, "saves"),
                  last, elsewhere);
    assert_true(elsewhere > 0);
    cw_table_free(&m);
}

static void test_shares_of_the_price_are_asked_alone(void **state)
{
    test_nursery *t = *state;
    static const struct {
        double confidence, margin_share, short_cost_share;
        cw_cents margin;
        cw_code want;
    } rows[] = {
        { 0.9, 0.6, 1.5, -1, CW_USAGE },  { 0, 0.6, 1.5, 400, CW_USAGE },   { 0, 1.1, 1.5, -1, CW_REFUSED },
        { 0, 0.6, 20.5, -1, CW_REFUSED }, { 0, -0.1, 1.5, -1, CW_REFUSED },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_error err = CW_ERROR_NONE;
        cw_table p = { 0 };
        cw_offering_ask ask = { .confidence = rows[i].confidence,
                                .margin = rows[i].margin,
                                .short_cost = rows[i].margin,
                                .ship = CW_NO_DAY,
                                .as_of = CW_NO_DAY,
                                .rot = 1,
                                .margin_share = rows[i].margin_share,
                                .short_cost_share = rows[i].short_cost_share };
        assert_int_equal(cw_offering_plan(t->n, &t->who, &ask, &p, &err), rows[i].want);
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
        cmocka_unit_test(test_sentence_curve_and_table_are_one_plan),
        cmocka_unit_test(test_figures_have_their_decimals),
        cmocka_unit_test(test_a_try_of_nothing_is_the_plan),
        cmocka_unit_test(test_measurements_save_money),
        cmocka_unit_test(test_shares_of_the_price_are_asked_alone),
        cmocka_unit_test(test_the_same_question_has_the_same_answer),
        cmocka_unit_test(test_why_adds_up),
        cmocka_unit_test(test_an_unknown_variety_is_named),
        cmocka_unit_test(test_the_owner_may_know_better),
        cmocka_unit_test(test_more_confidence_offers_less),
        cmocka_unit_test(test_more_rot_offers_less),
        cmocka_unit_test(test_a_release_is_on_record_and_bounds_sales),
        cmocka_unit_test(test_only_the_owner_releases),
        cmocka_unit_test(test_hindsight_holds_its_promise_roughly),
    };
    return cmocka_run_group_tests(tests, setup, teardown);
}

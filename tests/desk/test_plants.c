/* SPDX-License-Identifier: MIT */
/* Plants as the projection's first stage: the plan in summer, from what stands; what a walk and digging change; when nothing more is
 * to be dug; and what one division planted gives next spring. All data are invented; bench_field holds the ranges against what came
 * in many worlds. */
#include "support/intake.h"

#include "desk/forecast/forecast_inside.h"
#include "desk/beds/beds.h"
#include "model/establish.h"
#include <math.h>

#include "base/banned.h"

static void must(test_nursery *t, const char *name, const char *text)
{
    loaded l = load_one(t, name, text);
    assert_string_equal(l.first, "");
}

static void make(test_nursery *t)
{
    test_nursery_make(t);
    must(t, "varieties.csv", varieties);
    must(t, "places.csv", places);
    must(t, "history.csv",
         "season,variety,clumps,divisions\n2029,AMB,60,260\n2030,AMB,55,231\n2030,BRI,40,120\n");
    must(t, "plantings.csv", "row,variety,plants,planted_on\nr1,AMB,60,2031-05-14\nr2,BRI,40,2031-05-15\n");
}

static const cw_distribution *law(test_nursery *t, int year, int month, int day, const char *variety)
{
    cw_error err = CW_ERROR_NONE;
    const cw_forecast *f = NULL;
    cw_check_ok(cw_forecast_get(t->n, &t->who, CW_NO_DAY, cw_day_from_ymd(year, month, day), &f, &err), &err);
    return &f->law[cw_forecast_data_by_code(f->data, variety)];
}

static double width(const cw_distribution *d)
{
    return (double)(cw_distribution_quantile(d, 0.9) - cw_distribution_quantile(d, 0.1));
}

/* Of 60 plants some 85 % are expected as clumps of some 4.3 divisions, less what rots and shrivels; a walk that finds 30 more than halves it. */
static void the_plan_in_summer(void **state)
{
    test_nursery t;
    (void)state;
    make(&t);
    double before = law(&t, 2031, 7, 15, "AMB")->mean;
    assert_true(before > 60 * 0.85 * 4.3 * 0.6 && before < 60 * 0.85 * 4.3 * 1.1);
    assert_true(law(&t, 2031, 7, 15, "CIN")->mean < 1e-9);
    assert_true(law(&t, 2031, 5, 13, "AMB")->mean < 1e-9); /* not yet planted */
    must(&t, "field_rounds.csv", "row,seen_on,alive\nr1,2031-07-20,30\n");
    double after = law(&t, 2031, 7, 21, "AMB")->mean;
    assert_true(after > before * 0.15 &&
                after < before * 0.5); /* half are gone, and of so bad a season more will go */
    assert_true(law(&t, 2031, 7, 21, "BRI")->mean <
                law(&t, 2031, 7, 19, "BRI")->mean); /* a bad season for others, too */
    test_nursery_free(&t);
}

/* Past plantings that lost half say so of this season's; and the range is narrower than by the default. */
static void past_seasons_teach(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table why;
    (void)state;
    make(&t);
    double by_default = law(&t, 2031, 7, 15, "AMB")->mean;
    cw_text notes = CW_TEXT(10000);
    cw_table rows;
    const cw_forecast_ask ask = { CW_NO_DAY, cw_day_from_ymd(2031, 7, 15), "AMB" };
    cw_check_ok(cw_forecast_project(t.n, &t.who, &ask, &rows, &notes, &err), &err);
    assert_non_null(strstr(notes.data, "No planting of a past season is on record"));
    cw_table_free(&rows);
    cw_text_free(&notes);
    must(&t, "past_plantings.csv",
         "season,variety,plants,clumps\n2027,AMB,100,52\n2028,AMB,90,44\n2029,AMB,120,60\n2030,AMB,110,54\n");
    double learned = law(&t, 2031, 7, 15, "AMB")->mean;
    assert_true(learned > by_default * 0.50 && learned < by_default * 0.70);
    cw_check_ok(cw_forecast_why(t.n, &t.who, &ask, &why, &err), &err);
    assert_string_equal(cw_table_text(&why, 0, 0), "plants");
    assert_non_null(strstr(cw_table_text(&why, 0, 6), "60 plants stand in the field"));
    assert_non_null(strstr(cw_table_text(&why, 1, 6), "Learned from 420 plants"));
    double shares = 0;
    for (size_t r = 0; r < cw_table_rows(&why); r++)
        if (strchr(cw_table_text(&why, r, 0), ':') == NULL && cw_table_real(&why, r, 5) > 0)
            shares += cw_table_real(&why, r, 5);
    assert_true(fabs(shares - 1) < 0.05);
    cw_table_free(&why);
    test_nursery_free(&t);
}

/* What is dug is not counted twice, and what was not dug of a row that was dug is not waited for all winter. */
static void digging_takes_plants_out(void **state)
{
    test_nursery t;
    (void)state;
    make(&t);
    double summer = law(&t, 2031, 10, 1, "AMB")->mean, wide = width(law(&t, 2031, 10, 1, "AMB"));
    must(&t, "lots.csv", "lot,variety,dug_on,clumps,row,culled\nL1,AMB,2031-10-20,50,r1,1\n");
    double half = law(&t, 2031, 10, 20, "AMB")->mean;
    assert_true(half > summer * 0.95 &&
                half < summer * 1.35); /* 50 clumps, and 9 plants that may still come */
    double winter = law(&t, 2031, 11, 10, "AMB")->mean;
    assert_true(winter < half * 0.95); /* nobody dug them within two weeks */
    assert_true(width(law(&t, 2031, 11, 10, "AMB")) < wide);
    /* Lots that name no row: what stood of the variety was dug, nobody knows of which row. */
    double before = law(&t, 2031, 10, 20, "BRI")->mean;
    must(&t, "lots.csv", "lot,variety,dug_on,clumps\nL2,BRI,2031-10-21,30\n");
    double loose = law(&t, 2031, 10, 22, "BRI")->mean;
    assert_true(before > 0 && loose < before * 1.25);
    assert_true(law(&t, 2032, 3, 1, "BRI")->mean > 0);
    test_nursery_free(&t);
}

/* Nothing known: the settings' share. Much known: that, and as an average over seasons. */
static void one_place_for_establishment(void **state)
{
    cw_error err = CW_ERROR_NONE;
    cw_establish *e = NULL;
    double share = 0, sd = 0, mean = 0;
    cw_establish_row rows[12];
    cw_establish_data d = { .varieties = 2, .seasons = 7, .season = 6, .share = 0.85, .doubt = 0.12 };
    (void)state;
    cw_check_ok(cw_establish_fit(&d, &e, &err), &err);
    assert_false(cw_establish_informed(e));
    cw_establish_another(e, 1, &share, &sd);
    assert_true(fabs(share - 0.85) < 1e-12 && fabs(sd - 0.12) < 1e-12);
    cw_establish_free(e);
    for (int i = 0; i < 12; i++)
        rows[i] = (cw_establish_row){ i % 2, i / 2, 1, 400, i % 2 ? 200 : 40 };
    d.rows = rows;
    d.n_rows = 12;
    cw_check_ok(cw_establish_fit(&d, &e, &err), &err);
    cw_establish_another(e, 0, &share, &sd);
    assert_true(fabs(share - 0.90) < 0.015);
    cw_establish_another(e, 1, &share, &sd);
    assert_true(fabs(share - 0.50) < 0.03);
    cw_establish_now(e, 1, &mean, &sd);
    assert_true(fabs(exp(-exp(mean)) - 0.5) < 0.03 && sd > 0 && sd < 0.5);
    cw_establish_free(e);
    /* Three quarters of the losses fall before digging, half of those in the first quarter of the time. */
    assert_true(fabs(cw_establish_weight(1) - 0.75) < 1e-12 &&
                fabs(cw_establish_weight(0.25) - 0.375) < 1e-12);
    assert_true(cw_establish_weight(-1) == 0);
    /* Gauss and Hermite with five nodes is exact for moments up to the ninth: 1, 0, 1, 0, 3, 0, 15, 0, 105 (Abramowitz & Stegun
     * 1964, 25.4.46; the moments of a normal law). */
    static const double moments[9] = { 1, 0, 1, 0, 3, 0, 15, 0, 105 };
    for (int k = 0; k < 9; k++) {
        double sum = 0;
        for (int i = 0; i < CW_ESTABLISH_NODES; i++)
            sum += cw_establish_part[i] * pow(cw_establish_node[i], k);
        assert_true(fabs(sum - moments[k]) < 1e-9);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_plan_in_summer),
        cmocka_unit_test(past_seasons_teach),
        cmocka_unit_test(digging_takes_plants_out),
        cmocka_unit_test(one_place_for_establishment),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

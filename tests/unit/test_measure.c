/* SPDX-License-Identifier: MIT */
/* Which measurement saves most? Against the update of a joint normal law, worked by hand. */
#include "model/measure.h"
#include "support/check.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

enum { N = 3 };

static const size_t variety[N] = { 0, 1, 2 };
static const cw_stock stock[N] = {
    { .lot = 0, .stage = CW_DIVISION, .count = 4000, .division_weeks = 10 },
    { .lot = 1, .stage = CW_DIVISION, .count = 2000, .division_weeks = 10 },
    { .lot = 2, .stage = CW_DIVISION, .count = 1000, .division_weeks = 10 },
};

/* Hazards with a season in common (sd `season`) and something of their own; 4 of the 10 weeks have gone by. */
static cw_latent *hazards(double season, double own)
{
    cw_latent *l = cw_latent_new(N, 1, 1);
    l->point[0].weight = 1;
    for (size_t v = 0; v < N; v++) {
        l->point[0].mean[v] = log(0.02);
        l->point[0].loading[v] = season;
        l->point[0].own_sd[v] = own;
    }
    return l;
}

static size_t next(const cw_latent *rot, const double *loss, size_t most, cw_measure *out,
                   cw_distribution *law)
{
    cw_latent *rate = cw_latent_new(N, 0, 1);
    cw_projection *p = NULL;
    cw_error err = CW_ERROR_NONE;
    size_t found = 0;
    rate->point[0].weight = rate->point[0].dispersion = 1;
    cw_projection_input in = { .varieties = N,
                               .lots = N,
                               .stocks = N,
                               .lot_variety = variety,
                               .stock = stock,
                               .weeks_to_ship = 6,
                               .rate = rate,
                               .division_rot = rot };
    cw_check_ok(cw_projection_new(&in, &p, &err), &err);
    cw_projection_all(p, 1, law);
    cw_check_ok(cw_measure_next(p, law, loss, most, out, &found, &err), &err);
    cw_projection_free(p);
    cw_latent_free(rate);
    return found;
}

static void test_by_hand(void **state)
{
    (void)state;
    const double season = 0.6, own = 0.2, loss[N] = { 100, 100, 100 };
    cw_latent *rot = hazards(season, own);
    cw_distribution law[N];
    cw_measure m[5];
    assert_int_equal(next(rot, loss, 5, m, law), 3);
    assert_true(m[0].saves >= m[1].saves && m[1].saves >= m[2].saves);
    for (size_t i = 0; i < 3; i++) {
        size_t v = m[i].variety;
        double x = 0.02 * 4, p = 1 - exp(-x), information = 20 * x * x * (1 - p) / p;
        double var = season * season + own * own, noise = var + 1 / information, elsewhere = 0;
        double slope[N], sd[N];
        assert_true(m[i].kind == CW_MEASURE_DIVISIONS && m[i].count == 20);
        for (size_t u = 0; u < N; u++) {
            /* over the law of the hazard: -n E[h t exp(-h t)], by a fine sum */
            double sum = 0, total = 0;
            for (double z = -6; z <= 6; z += 0.01) {
                double risk = 0.02 * 10 * exp(sqrt(var) * z), weight = exp(-0.5 * z * z);
                sum += weight * risk * exp(-risk);
                total += weight;
            }
            slope[u] = (double)stock[u].count * sum / total;
            sd[u] = sqrt(law[u].variance);
            if (u != v)
                elsewhere += 100 * pow(slope[u] * season * season, 2) / noise / (2 * sd[u]);
        }
        double left = sd[v] * sd[v] - pow(slope[v] * var, 2) / noise, mine = 100 * (sd[v] - sqrt(left));
        assert_true(fabs(m[i].elsewhere / elsewhere - 1) < 0.05);
        assert_true(fabs((m[i].saves - m[i].elsewhere) / mine - 1) < 0.05);
    }
    assert_true(m[0].elsewhere > 0.3 * m[0].saves);
    cw_latent_free(rot);
}

/* Nothing in common: nothing is saved elsewhere. Money decides which is first; no money, no measurement. */
static void test_money_and_sharing(void **state)
{
    (void)state;
    const double loss[N] = { 0, 0, 50 }, none[N] = { 0 };
    cw_latent *rot = hazards(0, 0.6);
    cw_distribution law[N];
    cw_measure m[2];
    assert_int_equal(next(rot, loss, 2, m, law), 1);
    assert_true(m[0].variety == 2 && m[0].elsewhere == 0);
    assert_int_equal(next(rot, none, 2, m, law), 0);
    cw_latent_free(rot);
}

enum { LOTS = 4, STOCKS = 5 };
static const size_t lot_variety[LOTS] = { 0, 1, 2, 0 };
static const cw_stock crates[STOCKS] = {
    { .lot = 0, .stage = CW_DIVISION, .count = 30, .division_weeks = 10 },
    { .lot = 1, .stage = CW_DIVISION, .count = 2000, .division_weeks = 10 },
    { .lot = 2, .stage = CW_DIVISION, .count = 250, .division_weeks = 7 }, /* cut in two goes */
    { .lot = 2, .stage = CW_DIVISION, .count = 750, .division_weeks = 9 },
    { .lot = 3, .stage = CW_DIVISION, .count = 3970, .division_weeks = 10 },
};

static size_t rota(const cw_latent *rot, const double *loss, const cw_rota_ask *ask, size_t most,
                   cw_rota_look *out, cw_distribution *law)
{
    cw_latent *rate = cw_latent_new(N, 0, 1);
    cw_projection *p = NULL;
    cw_error err = CW_ERROR_NONE;
    size_t found = 0;
    rate->point[0].weight = rate->point[0].dispersion = 1;
    cw_projection_input in = { .varieties = N,
                               .lots = LOTS,
                               .stocks = STOCKS,
                               .lot_variety = lot_variety,
                               .stock = crates,
                               .weeks_to_ship = 6,
                               .rate = rate,
                               .division_rot = rot };
    cw_check_ok(cw_projection_new(&in, &p, &err), &err);
    cw_projection_all(p, 1, law);
    cw_check_ok(cw_measure_rota(p, law, loss, ask, most, out, &found, &err), &err);
    cw_projection_free(p);
    cw_latent_free(rate);
    return found;
}

/* One crate of nothing in common: what it is said to be worth is the fall of the standard deviation, with the lot's own effect in
 * the noise; it is the one that brings most a minute, and no minutes more than there are. */
static void test_the_first_crate_by_hand(void **state)
{
    (void)state;
    const double own = 0.5, lot = 0.3, loss[N] = { 100, 100, 100 };
    cw_latent *rot = hazards(0, own);
    cw_distribution law[N];
    cw_rota_look look[4];
    rot->point[0].lot_sd = lot;
    const cw_rota_ask one = { .minutes = 10, .open = 5, .look = 0.5 };
    assert_int_equal(rota(rot, loss, &one, 4, look, law), 1);
    assert_true(look[0].look == 10 && look[0].minutes == 10 && look[0].kind == CW_MEASURE_DIVISIONS);
    size_t v = look[0].variety;
    double x = 0.02 * 4, p = 1 - exp(-x), noise = own * own + lot * lot + 1 / (10 * x * x * (1 - p) / p);
    double sum = 0, total = 0;
    for (double z = -6; z <= 6;
         z += 0.01) { /* the slope, as above; lots' effects move each lot's own part only */
        double spread = sqrt(own * own + lot * lot), risk = 0.02 * 10 * exp(spread * z),
               weight = exp(-0.5 * z * z);
        sum += weight * risk * exp(-risk);
        total += weight;
    }
    double slope = (v == 0 ? 4000 : 2000) * sum / total, sd = sqrt(law[v].variance);
    double worth = 100 * (sd - sqrt(sd * sd - pow(slope * own * own, 2) / noise));
    assert_true(v < 2 && fabs(look[0].worth / worth - 1) < 0.05);
    assert_true(fabs(look[0].weeks - 4) < 1e-9 && fabs(look[0].expect - 10 * p) < 1e-9);
    cw_latent_free(rot);
}

/* Minutes are never more than there are, and what they bring falls; the second crate of a variety tells less than the first; what is
 * told in common is not paid for twice; what may not be opened is left. */
static void test_a_rota_keeps_its_laws(void **state)
{
    (void)state;
    const double loss[N] = { 100, 100, 100 };
    cw_distribution law[N];
    cw_rota_look look[8];
    double before = 1e9, minutes = 0;
    uint8_t passed[LOTS] = { 0 };
    cw_latent *rot = hazards(0.6, 0.2);
    cw_rota_ask ask = { .minutes = 75, .open = 5, .look = 0.5, .passed = passed };
    size_t n = rota(rot, loss, &ask, 8, look, law), twice = 0;
    assert_int_equal(n, LOTS); /* each crate once */
    for (size_t i = 0; i < n; i++)
        if (look[i].lot == 2) { /* weeks of all of it: a quarter one since, the rest three */
            assert_int_equal(look[i].there, 1000);
            cw_check_near("weeks", look[i].weeks, 2.5, 1e-9);
        }
    for (size_t i = 0; i < n; i++) {
        assert_true(look[i].worth / look[i].minutes <= before * (1 + 1e-9));
        before = look[i].worth / look[i].minutes;
        minutes += look[i].minutes;
        twice += look[i].variety == 0;
    }
    assert_true(twice == 2 && minutes <= 75);
    size_t left = look[0].lot;
    for (size_t i = 0; i < n;
         i++) { /* alone a crate tells more than behind others, of which it has something in common */
        cw_rota_look alone[8];
        cw_rota_ask just = ask;
        just.minutes = look[i].minutes;
        memset(passed, 1, sizeof passed);
        passed[look[i].lot] = 0;
        assert_int_equal(rota(rot, loss, &just, 8, alone, law), 1);
        assert_true(i == 0 ? fabs(alone[0].worth / look[0].worth - 1) < 1e-9
                           : alone[0].worth > 1.2 * look[i].worth);
    }
    memset(passed, 0, sizeof passed);
    passed[left] = 1;
    n = rota(rot, loss, &ask, 8, look, law);
    assert_int_equal(n, LOTS - 1);
    for (size_t i = 0; i < n; i++)
        assert_true(look[i].lot != left);
    ask.minutes = 6;
    assert_int_equal(rota(rot, loss, &ask, 8, look, law), 0);
    cw_latent_free(rot);
}

/* Information of one division that has lain so many weeks. */
static double of_one(double weeks)
{
    double x = 0.02 * weeks, p = 1 - exp(-x);
    return x * x * (1 - p) / p;
}

/* Only the second variety costs anything, so a crate of the others is worth what it tells in common: by so much less behind others as
 * those have told of it, by hand. */
static void test_what_is_told_in_common(void **state)
{
    (void)state;
    const double season = 0.6, own = 0.2, var = season * season + own * own, loss[N] = { 0, 100, 0 };
    cw_distribution law[N];
    cw_rota_look look[8], alone[8];
    uint8_t passed[LOTS] = { 0 };
    double left = 1, told[N] = { 0 };
    size_t compared = 0;
    cw_latent *rot = hazards(season, own);
    cw_rota_ask ask = { .minutes = 75, .open = 5, .look = 0.5, .passed = passed };
    size_t n = rota(rot, loss, &ask, 8, look, law);
    assert_int_equal(n, LOTS);
    for (size_t i = 0; i < n; i++) {
        size_t v = look[i].variety;
        double each = look[i].lot == 2 ? 0.25 * of_one(1) + 0.75 * of_one(3) : of_one(4);
        double adds = (double)look[i].look * each, after = told[v] + adds;
        if (loss[v] == 0 && told[v] == 0) {
            cw_rota_ask just = ask;
            just.minutes = look[i].minutes;
            memset(passed, 1, sizeof passed);
            passed[look[i].lot] = 0;
            assert_int_equal(rota(rot, loss, &just, 8, alone, law), 1);
            assert_int_equal(alone[0].look, look[i].look);
            cw_check_near("what is left in common", look[i].worth / alone[0].worth, left, 1e-9);
            compared += left < 1;
        }
        left *= 1 - season * season * (after / (1 + var * after) - told[v] / (1 + var * told[v]));
        told[v] = after;
    }
    assert_true(compared >= 1);
    cw_latent_free(rot);
}

enum { KEPT_LOTS = 9, KEPT_STOCKS = 12 };

/* Clumps and divisions, few and many, of one lot in two goes; what came in today, and a lot of which nothing is left, are not looked at. */
static const size_t kept_variety[KEPT_LOTS] = { 0, 1, 1, 2, 2, 0, 1, 2, 2 };
static const cw_stock kept_stock[KEPT_STOCKS] = {
    { .lot = 0, .stage = CW_CLUMP, .count = 12, .clump_weeks = 8, .division_weeks = 5 },
    { .lot = 0, .stage = CW_DIVISION, .count = 3, .division_weeks = 9 },
    { .lot = 1, .stage = CW_DIVISION, .count = 300, .division_weeks = 13 },
    { .lot = 2, .stage = CW_CLUMP, .count = 40, .clump_weeks = 11, .division_weeks = 3 },
    { .lot = 2, .stage = CW_CLUMP, .count = 20, .clump_weeks = 5, .division_weeks = 3 },
    { .lot = 3, .stage = CW_DIVISION, .count = 900, .division_weeks = 6 },
    { .lot = 4, .stage = CW_DIVISION, .count = 25, .division_weeks = 10 },
    { .lot = 4, .stage = CW_DIVISION, .count = 0, .division_weeks = 20 },
    { .lot = 5, .stage = CW_DIVISION, .count = 45, .division_weeks = 7.5 },
    { .lot = 6, .stage = CW_CLUMP, .count = 5, .clump_weeks = 12, .division_weeks = 2 },
    { .lot = 7, .stage = CW_CLUMP, .count = 500, .clump_weeks = 10, .division_weeks = 2 },
    { .lot = 8, .stage = CW_DIVISION, .count = 80, .division_weeks = 15 },
};

/* A rota of two stages with all that the model knows of: what two varieties have in common, lots' own part, and clumps' and divisions'
 * hazards that go together. Each look, and what it is worth. The figures were taken from the program itself (November 2026), so they say
 * only that nothing moved; the rule is held by the tests above. Who means to change it takes the new ones over, which a failure prints. */
static void test_a_rota_of_two_stages_is_kept(void **state)
{
    (void)state;
    static const struct {
        size_t lot;
        int clumps;
        int64_t there, look;
        double weeks, expect, worth, minutes;
    } kept[] = {
        { 2, 1, 60, 20, 6, 2.2328198861, 2857.66098474, 12 },
        { 8, 0, 80, 10, 9, 1.64729788589, 1335.22432872, 8 },
        { 0, 1, 12, 12, 7, 0.811274161129, 977.892098523, 8.8 },
        { 1, 0, 300, 10, 7, 1.30641764601, 786.422164281, 8 },
        { 6, 1, 5, 5, 8, 0.739281055169, 328.759677895, 6 },
        { 4, 0, 25, 20, 4, 1.53767307227, 513.58828047, 12 },
        { 5, 0, 45, 20, 1.5, 0.59108932903, 216.821291507, 12 },
    };
    const double loss[N] = { 60, 150, 100 };
    const uint8_t passed[KEPT_LOTS] = { [7] = 1 };
    cw_latent *rate = cw_latent_new(N, 0, 1), *side[2] = { hazards(0.5, 0.3), hazards(0.4, 0.5) };
    cw_projection *p = NULL;
    cw_error err = CW_ERROR_NONE;
    cw_distribution law[N];
    cw_rota_look look[12];
    size_t found = 99; /* whatever stood there */
    rate->point[0].weight = rate->point[0].dispersion = 1;
    for (size_t v = 0; v < N; v++) {
        rate->point[0].mean[v] = log(4.0 + (double)v);
        rate->point[0].own_sd[v] = 0.2;
        side[0]->point[0].mean[v] = log(0.01 + 0.01 * (double)v);
        side[1]->point[0].own_sd[v] = 0.2 + 0.2 * (double)v;
    }
    side[0]->point[0].lot_sd = 0.2;
    side[1]->point[0].lot_sd = 0.4;
    cw_projection_input in = { .varieties = N,
                               .lots = KEPT_LOTS,
                               .stocks = KEPT_STOCKS,
                               .lot_variety = kept_variety,
                               .stock = kept_stock,
                               .weeks_to_ship = 6,
                               .rate = rate,
                               .clump_rot = side[0],
                               .division_rot = side[1],
                               .rot_tie = 0.1 };
    const cw_rota_ask ask = { .minutes = 70, .open = 4, .look = 0.4, .passed = passed };
    cw_check_ok(cw_projection_new(&in, &p, &err), &err);
    cw_projection_all(p, 1, law);
    cw_check_ok(cw_measure_rota(p, law, loss, &ask, 12, look, &found, &err), &err);
    bool same = found == sizeof kept / sizeof kept[0];
    for (size_t i = 0; i < found && same; i++)
        same = look[i].lot == kept[i].lot && (look[i].kind == CW_MEASURE_CLUMPS) == kept[i].clumps &&
               look[i].variety == kept_variety[look[i].lot] && look[i].there == kept[i].there &&
               look[i].look == kept[i].look && fabs(look[i].weeks - kept[i].weeks) < 1e-9 &&
               fabs(look[i].minutes - kept[i].minutes) < 1e-9 &&
               fabs(look[i].expect / kept[i].expect - 1) < 1e-9 &&
               fabs(look[i].worth / kept[i].worth - 1) < 1e-7;
    for (size_t i = 0; i < found && !same; i++)
        print_message("        { %zu, %d, %lld, %lld, %.10g, %.12g, %.12g, %g },\n", look[i].lot,
                      look[i].kind == CW_MEASURE_CLUMPS, (long long)look[i].there, (long long)look[i].look,
                      look[i].weeks, look[i].expect, look[i].worth, look[i].minutes);
    assert_true(same);
    cw_projection_free(p);
    cw_latent_free(rate);
    cw_latent_free(side[0]);
    cw_latent_free(side[1]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_by_hand),
        cmocka_unit_test(test_money_and_sharing),
        cmocka_unit_test(test_the_first_crate_by_hand),
        cmocka_unit_test(test_a_rota_keeps_its_laws),
        cmocka_unit_test(test_what_is_told_in_common),
        cmocka_unit_test(test_a_rota_of_two_stages_is_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* SPDX-License-Identifier: MIT */
/* Scores against values from outside: pinball and ensemble CRPS from examples in manuals, from memory (they follow by hand
 * from the formulas), count CRPS and PIT computed
 * with mpmath. Formulas: Gneiting & Raftery 2007; Czado, Gneiting & Held 2009; Ferro 2014 (fair form). */
#include "support/check.h"

#include "model/score.h"
#include "model/special.h"

#include <math.h>

static void law_of(cw_distribution *d, double size, double mean)
{
    double pmf[400];
    for (int64_t k = 0; k < 400; k++)
        pmf[k] = size > 0.0 ? cw_negbin_pmf(k, size, mean) : cw_poisson_pmf(k, mean);
    cw_distribution_from_pmf(d, 0, pmf, 400);
}

static void test_pinball(void **state)
{
    (void)state;
    cw_check_near("above", cw_score_pinball(0.8, 10, 8), 1.6, 1e-15);
    cw_check_near("below", cw_score_pinball(0.8, 6, 8), 0.4, 1e-15);
}

static void test_ensemble(void **state)
{
    (void)state;
    static const double three[] = { 0, 1, 3 }, two[] = { 0, 1 };
    static const double ten[] = { 2.1, 3.5, 4.7, 1.2, 1.3, 5.2, 5.3, 4.2, 3.1, 1.7 };
    cw_check_near("0 1 3", cw_score_crps_ensemble(three, 3, 2, 0), 2.0 / 3, 1e-14);
    cw_check_near("0 1 3 fair", cw_score_crps_ensemble(three, 3, 2, 1), 1.0 / 3, 1e-14);
    cw_check_near("0 1", cw_score_crps_ensemble(two, 2, 0, 0), 0.25, 1e-14);
    cw_check_near("0 1 fair", cw_score_crps_ensemble(two, 2, 0, 1), 0.0, 1e-14);
    cw_check_near("ten", cw_score_crps_ensemble(ten, 10, 5.4, 0), 1.311, 1e-12);
    cw_check_near("ten fair", cw_score_crps_ensemble(ten, 10, 5.4, 1), 1.215555555556, 1e-11);
}

static void test_counts(void **state)
{
    (void)state;
    static const struct {
        double size, mean;
        int64_t y;
        double crps, low, high;
    } rows[] = {
        { 2, 5, 3, 0.99840946866275, 0.32319866722199, 0.44219670375439 },
        { 2, 5, 0, 2.7922453703704, 0, 0.081632653061224 },
        { 2.5, 7.5, 20, 9.8388495365575, 0.96413341125253, 0.97143474759293 },
        { 20, 100, 85, 8.5341082451229, 0.27772125045246, 0.29301335728582 },
        { 0.5, 2, 6, 3.3196215568606, 0.89113569893704, 0.91758212212052 },
        { 1, 10, 10, 2.4727705504954, 0.61445671057047, 0.64950610051861 },
    };
    cw_distribution d;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        law_of(&d, rows[i].size, rows[i].mean);
        cw_pit pit = cw_score_pit(&d, rows[i].y);
        cw_check_near("crps", cw_score_crps(&d, rows[i].y), rows[i].crps, 1e-8);
        cw_check_near("pit low", pit.low, rows[i].low, 1e-9);
        cw_check_near("pit high", pit.high, rows[i].high, 1e-9);
    }
    law_of(&d, 0.0, 3.0);
    cw_check_near("Poisson(3) at 4", cw_score_crps(&d, 4), 0.682587947651822, 1e-9);
    cw_check_near("Poisson(3) at 0", cw_score_crps(&d, 0), 2.04387332415503, 1e-9);
}

/* Poisson(1.25), expected shorts of an order of Q: Cachon & Terwiesch, Matching Supply with Demand, p. 431, print the loss
 * function; E max(0, X - Q) is what is left over when X is supply and Q is promised. */
static void test_loss_function(void **state)
{
    (void)state;
    static const double loss[] = { 1.25, 0.53650, 0.18114, 0.04961, 0.01134, 0.00221, 0.00038, 0.00006 };
    cw_distribution d;
    law_of(&d, 0.0, 1.25);
    for (int q = 0; q < 8; q++) {
        cw_check_near("L(Q)", cw_distribution_left_over(&d, q), loss[q], 6e-6);
        cw_check_near("shorts - left over = Q - mean",
                      cw_distribution_short_of(&d, q) - cw_distribution_left_over(&d, q), q - 1.25, 1e-9);
    }
}

/* Every outcome weighed by its own chance: coverage is nominal and the histogram flat, to the last digit. */
static void test_calibrated_by_definition(void **state)
{
    (void)state;
    cw_distribution d;
    law_of(&d, 2.5, 7.5);
    double cover80 = 0.0, below05 = 0.0, bins[CW_SCORE_BINS] = { 0 };
    for (int64_t y = 0; y < 200; y++) {
        cw_scores s = { 0 };
        cw_scores_add(&s, &d, y);
        double p = cw_distribution_pmf(&d, y);
        cover80 += p * s.cover80;
        below05 += p * s.below05;
        for (int b = 0; b < CW_SCORE_BINS; b++)
            bins[b] += p * s.histogram[b];
    }
    cw_check_near("cover 80", cover80, 0.80, 1e-9);
    cw_check_near("below 5", below05, 0.05, 1e-9);
    for (int b = 0; b < CW_SCORE_BINS; b++)
        cw_check_near("bin", bins[b], 0.1, 1e-9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_pinball),
        cmocka_unit_test(test_ensemble),
        cmocka_unit_test(test_counts),
        cmocka_unit_test(test_loss_function),
        cmocka_unit_test(test_calibrated_by_definition),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* SPDX-License-Identifier: MIT */
/* Establishment and multiplication against published figures of an open analogue, the seed potato.
 *
 * - Division of Seed Science and Technology, e-Courses of the Indian Council of Agricultural Research, "Rapid Multiplication of Basic
 *   Seed": sprouts cut from seed tubers established by 89 per cent on average in polythene bags and by 69 per cent in the field.
 * - Nederlandse Aardappelpagina, "In-vitro multiplication": plantlets 12 by 12 cm apart (70 a square metre) give 2 to 5 mini-tubers
 *   each, 138 to 347 a square metre.
 * - Seed Farm Kenya, "Step by step guide to getting potato seeds" (2022): one rooted cutting gives up to 15 tubers; three seasons of it
 *   15, 225 and 3,375.
 *
 * The sources give means without counts; 100 plants stand for each. */
#include "support/check.h"

#include "model/establish.h"
#include "model/projection.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Two ways of setting out, six trials each: what is learned of each is its published share, and doubt shrinks with the trials. */
static void published_shares_are_learned(void **state)
{
    static const int64_t lost[2] = { 11, 31 }; /* of 100 */
    cw_error err = CW_ERROR_NONE;
    double before = 1;
    (void)state;
    for (int trials = 1; trials <= 6; trials += 5) {
        cw_establish_row rows[12];
        cw_establish *e = NULL;
        double share = 0, sd = 0;
        for (int i = 0; i < 2 * trials; i++)
            rows[i] = (cw_establish_row){ i % 2, i / 2, 1, 100, lost[i % 2] };
        const cw_establish_data d = { .rows = rows,
                                      .n_rows = (size_t)(2 * trials),
                                      .varieties = 2,
                                      .seasons = 7,
                                      .season = 6,
                                      .share = 0.85,
                                      .doubt = 0.12 };
        cw_check_ok(cw_establish_fit(&d, &e, &err), &err);
        for (size_t v = 0; v < 2; v++) {
            double published = 1 - (double)lost[v] / 100;
            cw_establish_another(e, v, &share, &sd);
            print_message("published %.2f, after %d trials %.3f (sd of log %.3f)\n", published, trials, share,
                          sd);
            assert_true(fabs(share - published) < (trials == 1 ? 0.08 : 0.02));
            assert_true(fabs(log(share / published)) < 2 * sd);
        }
        assert_true(sd < before);
        before = sd;
        cw_establish_free(e);
    }
}

/* A rate known for sure: so many of each plant. */
static double came_of(int64_t plants, double rate, double missing)
{
    cw_error err = CW_ERROR_NONE;
    cw_latent *known = cw_latent_new(1, 1, 1);
    const size_t variety = 0;
    cw_projection *p = NULL;
    cw_distribution law;
    assert_non_null(known);
    known->point[0].weight = 1;
    known->point[0].dispersion = 1;
    known->point[0].mean[0] = log(rate);
    known->point[0].loading[0] = 0;
    known->point[0].own_sd[0] = 0;
    const cw_stock stock = { .stage = CW_CLUMP, .count = plants, .missing = missing };
    const cw_projection_input in = {
        .varieties = 1, .lots = 1, .stocks = 1, .lot_variety = &variety, .stock = &stock, .rate = known
    };
    cw_check_ok(cw_projection_new(&in, &p, &err), &err);
    cw_projection_variety(p, 0, &law);
    cw_projection_free(p);
    cw_latent_free(known);
    return law.mean;
}

static void published_multiplication_comes_out(void **state)
{
    (void)state;
    const double plants = 1 / (0.12 * 0.12);
    assert_int_equal(lround(plants), 69); /* "70 plants/m2" */
    assert_true(fabs(came_of(69, 2, 0) - 138) < 0.5);
    assert_true(fabs(came_of(69, 5, 0) - 345) < 3); /* "347": of 69.4 plants */
    int64_t tubers = 1;
    for (int season = 0; season < 3; season++) {
        static const int64_t published[3] = { 15, 225, 3375 };
        tubers = llround(came_of(tubers, 15, 0));
        assert_true(llabs(tubers - published[season]) <= 1);
    }
    /* And with 69 per cent that establish, so much fewer of each. */
    assert_true(fabs(came_of(100, 15, 0.31) - 69 * 15) < 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_shares_are_learned),
        cmocka_unit_test(published_multiplication_comes_out),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

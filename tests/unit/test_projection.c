/* SPDX-License-Identifier: MIT */
/* The projection against enumeration by hand on tiny cases, against its published composite, and against plain
 * simulation of the same posterior. */
#include "support/latent.h"

#include "bench/draws.h"
#include "model/special.h"

/* One variety, one lot, everything known to the last digit unless an sd is given. */
typedef struct tiny {
    double rate, phi, h1, h2, eta_sd, h2_sd;
    cw_stock stock[3];
    size_t stocks;
    bool dries;              /* as nurseries do that weighed and counted nothing */
    const cw_stock *stretch; /* asked of, [2] */
    cw_lying *lying;
} tiny;

static void project(const tiny *t, cw_distribution *d, cw_projection_why *why)
{
    static const size_t variety[1] = { 0 };
    cw_error err = CW_ERROR_NONE;
    cw_latent *rate = known(t->rate, t->eta_sd, t->phi);
    cw_latent *h1 = t->h1 > 0.0 ? known(t->h1, 0.0, 1.0) : NULL,
              *h2 = t->h2 > 0.0 ? known(t->h2, t->h2_sd, 1.0) : NULL;
    cw_shrink *shrink = NULL;
    if (t->dries)
        cw_check_ok(cw_shrink_fit(NULL, 0, 0, NULL, 0, 1, &shrink, &err), &err);
    cw_projection_input in = { .varieties = 1,
                               .lots = 1,
                               .stocks = t->stocks,
                               .lot_variety = variety,
                               .stock = t->stock,
                               .weeks_to_ship = 1.0,
                               .rate = rate,
                               .clump_rot = h1,
                               .division_rot = h2,
                               .shrink = shrink };
    cw_projection *p = NULL;
    cw_check_ok(cw_projection_new(&in, &p, &err), &err);
    cw_projection_variety(p, 0, d);
    if (why != NULL)
        cw_projection_explain(p, 0, why);
    if (t->stretch)
        cw_projection_lying(p, 0, t->stretch, 2, t->lying);
    cw_projection_free(p);
    cw_latent_free(rate);
    cw_latent_free(h1);
    cw_latent_free(h2);
    cw_shrink_free(shrink);
}

static void test_counted_alone_is_binomial(void **state)
{
    (void)state;
    tiny t = { .rate = 5,
               .phi = 1,
               .h2 = 0.01,
               .stock = { { .stage = CW_DIVISION, .count = 40, .division_weeks = 8 } },
               .stocks = 1 };
    cw_distribution d;
    project(&t, &d, NULL);
    for (int64_t k = 25; k <= 40; k++)
        cw_check_near("P(S <= k)", cw_distribution_cdf(&d, k), cw_binomial_p(k, 40, exp(-0.08)), 1e-6);
    cw_check_near("mean", d.mean, 40 * exp(-0.08), 1e-12);
}

/* Sum over sound clumps b, over their total, over what of it survives, plus counted divisions: all by brute force. */
static double enumerated(const tiny *t, int64_t s)
{
    double q = exp(-t->h1 * t->stock[0].clump_weeks), live = exp(-t->h2 * t->stock[0].division_weeks),
           sum = 0.0;
    double live2 = t->stocks > 1 ? exp(-t->h2 * t->stock[1].division_weeks) : 0.0;
    int64_t counted = t->stocks > 1 ? t->stock[1].count : 0;
    for (int64_t b = 0; b <= t->stock[0].count; b++) {
        double mean = (double)b * t->rate, size = mean / (t->phi - 1.0);
        for (int64_t total = 0; total < 200; total++) {
            double p = b == 0         ? (total == 0)
                       : t->phi > 1.0 ? cw_negbin_pmf(total, size, mean)
                                      : cw_poisson_pmf(total, mean);
            for (int64_t left = 0; left <= total && left <= s && p > 1e-16; left++)
                sum += cw_binomial_pmf(b, t->stock[0].count, q) * p * cw_binomial_pmf(left, total, live) *
                       cw_binomial_pmf(s - left, counted, live2);
        }
    }
    return sum;
}

static void test_few_clumps_by_enumeration(void **state)
{
    (void)state;
    tiny rows[] = {
        { .rate = 3.2,
          .phi = 1.6,
          .h1 = 0.05,
          .h2 = 0.02,
          .stock = { { .stage = CW_CLUMP, .count = 3, .clump_weeks = 6, .division_weeks = 9 } },
          .stocks = 1 },
        { .rate = 4.0,
          .phi = 1.0,
          .h1 = 0.1,
          .h2 = 0.01,
          .stock = { { .stage = CW_CLUMP, .count = 2, .clump_weeks = 10, .division_weeks = 4 },
                     { .stage = CW_DIVISION, .count = 7, .division_weeks = 12 } },
          .stocks = 2 },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_distribution d;
        project(&rows[i], &d, NULL);
        for (int64_t s = 0; s < 30; s++)
            cw_check_near("P(S = s)", cw_distribution_pmf(&d, s), enumerated(&rows[i], s), 1e-8);
    }
}

/* Where clumps are many the law is matched in three cumulants: held to the same enumeration, now as a cdf. */
static void test_many_clumps_by_enumeration(void **state)
{
    (void)state;
    tiny t = { .rate = 4.0,
               .phi = 1.5,
               .h1 = 0.02,
               .h2 = 0.02,
               .stock = { { .stage = CW_CLUMP, .count = 12, .clump_weeks = 10, .division_weeks = 8 },
                          { .stage = CW_DIVISION, .count = 20, .division_weeks = 15 } },
               .stocks = 2 };
    cw_distribution d;
    project(&t, &d, NULL);
    double run = 0.0;
    for (int64_t s = 0; s < 110; s++) {
        run += enumerated(&t, s);
        cw_check_near("P(S <= s)", cw_distribution_cdf(&d, s), run, 4e-3);
    }
}

/* Negative binomial (size 5, mean 50) thinned by a survival that is Beta(90, 10). Source of the quantiles: mpmath
 * quadrature at 25 digits. Here the survival is exp(-h t) with h lognormal of the same mean and variance of its
 * logarithm (digamma and trigamma of 90 and 100), so each quantile may be one off. */
static void test_published_composite(void **state)
{
    (void)state;
    double mean = 0.105908, sd = sqrt(log(1.0 + 0.0011167 / (mean * mean)));
    tiny t = { .rate = 2.5,
               .phi = 11,
               .h2 = mean * exp(-0.5 * sd * sd) / 10.0,
               .h2_sd = sd,
               .stock = { { .stage = CW_CLUMP, .count = 20, .division_weeks = 10 } },
               .stocks = 1 };
    static const struct {
        double p;
        int64_t k;
    } rows[] = { { 0.05, 16 }, { 0.25, 29 }, { 0.50, 42 }, { 0.75, 57 }, { 0.95, 85 } };
    cw_distribution d;
    project(&t, &d, NULL);
    cw_check_relative("mean", d.mean, 45.0, 2e-3);
    cw_check_relative("variance", d.variance, 452.673267327, 1e-2);
    cw_check_near("P(S <= 36)", cw_distribution_cdf(&d, 36), 0.392324031098, 3e-3);
    for (size_t i = 0; i < 5; i++)
        assert_in_range(cw_distribution_quantile(&d, rows[i].p), rows[i].k - 1, rows[i].k + 1);
}

/* Share not shrivelled over a stretch, the mean over what is not known of it, by the trapezoid rule. */
static double mean_sound(double from, double to)
{
    enum { STEPS = 1600 };
    cw_shrink *s = NULL;
    cw_error err = CW_ERROR_NONE;
    double sum = 0.0;
    cw_check_ok(cw_shrink_fit(NULL, 0, 0, NULL, 0, 1, &s, &err), &err);
    cw_shrink_stretch stretch = cw_shrink_between(s, 0, from, to);
    for (int i = 0; i <= STEPS; i++) {
        double z = -8.0 + 16.0 * i / STEPS;
        sum += cw_shrink_sound(&stretch, z) * cw_normal_density(z) * 16.0 / STEPS;
    }
    cw_shrink_free(s);
    return sum;
}

/* Divisions dry from their cutting on: those on hand from when they were last looked at, those still in the clump from
 * nothing. Clumps do not dry. */
static void test_divisions_dry(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        cw_stock stock;
        double all; /* divisions if none dries */
        double from, to;
    } rows[] = {
        { "divisions",
          { .stage = CW_DIVISION, .count = 200, .division_weeks = 8, .from_pa_days = 6e3, .to_pa_days = 2e4 },
          200,
          6e3,
          2e4 },
        { "divisions looked at today",
          { .stage = CW_DIVISION, .count = 200, .from_pa_days = 2e4, .to_pa_days = 2e4 },
          200,
          2e4,
          2e4 },
        { "clumps",
          { .stage = CW_CLUMP, .count = 40, .clump_weeks = 4, .division_weeks = 8, .to_pa_days = 2e4 },
          40 * 5,
          0,
          2e4 },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        tiny t = { .rate = 5, .phi = 1, .h2 = 1e-9, .stock = { rows[i].stock }, .stocks = 1, .dries = true };
        cw_distribution d;
        double sound = mean_sound(rows[i].from, rows[i].to);
        project(&t, &d, NULL);
        print_message("%s: %.3f not shrivelled\n", rows[i].name, sound);
        assert_true(rows[i].from == rows[i].to ? sound > 1.0 - 1e-9 : sound < 0.7);
        cw_check_relative(rows[i].name, d.mean, rows[i].all * sound, 0.01);
    }
}

/* What lies there on a day: by the hazard's own law, and of divisions what has dried of those that are not rotten. The stretches asked
 * about are not those of the stock. */
static void test_what_lies_there_by_hand(void **state)
{
    (void)state;
    const cw_stock stretch[2] = {
        { .stage = CW_CLUMP, .clump_weeks = 5, .division_weeks = 99, .to_pa_days = 9e4 },
        { .stage = CW_DIVISION, .division_weeks = 8, .from_pa_days = 6e3, .to_pa_days = 2e4 },
    };
    cw_lying lying[2];
    cw_distribution d;
    tiny t = { .rate = 5,
               .phi = 1,
               .h1 = 0.03,
               .h2 = 0.05,
               .stocks = 2,
               .dries = true,
               .stretch = stretch,
               .lying = lying };
    t.stock[0] = (cw_stock){ .stage = CW_CLUMP, .count = 40, .clump_weeks = 9, .division_weeks = 3 };
    t.stock[1] = (cw_stock){ .stage = CW_DIVISION, .count = 200, .division_weeks = 2, .to_pa_days = 1e4 };
    project(&t, &d, NULL);
    cw_check_relative("clumps", lying[0].rotten, 1 - exp(-0.03 * 5), 1e-3);
    assert_true(lying[0].shrivelled == 0);
    cw_check_relative("divisions", lying[1].rotten, 1 - exp(-0.05 * 8), 1e-3);
    cw_check_relative("dried", lying[1].shrivelled, exp(-0.05 * 8) * (1 - mean_sound(6e3, 2e4)), 0.01);
    t.stocks = 0; /* nothing is there */
    project(&t, &d, NULL);
    assert_true(lying[1].rotten == 0 && lying[1].shrivelled == 0);
}

static void test_nothing_on_hand(void **state)
{
    (void)state;
    tiny t = { .rate = 5, .phi = 1, .stocks = 0 };
    cw_distribution d;
    project(&t, &d, NULL);
    assert_int_equal(cw_distribution_quantile(&d, 0.5), 0);
    assert_true(d.mean == 0.0);
}

static void test_bad_input_is_refused(void **state)
{
    (void)state;
    static const size_t variety[1] = { 0 };
    cw_error err = CW_ERROR_NONE;
    cw_latent *rate = known(5, 0, 1);
    cw_stock stock = { .lot = 3, .count = 1 };
    cw_projection_input in = {
        .varieties = 1, .lots = 1, .stocks = 1, .lot_variety = variety, .stock = &stock, .rate = rate
    };
    cw_projection *p = NULL;
    assert_int_equal(cw_projection_new(&in, &p, &err), CW_REFUSED);
    assert_null(p);
    stock = (cw_stock){ .count = 1, .division_weeks = NAN };
    assert_int_equal(cw_projection_new(&in, &p, NULL), CW_REFUSED);
    cw_latent_free(rate);
}

static void test_why_adds_up(void **state)
{
    (void)state;
    tiny t = { .rate = 5,
               .phi = 1.4,
               .h1 = 0.01,
               .h2 = 0.01,
               .eta_sd = 0.2,
               .h2_sd = 0.5,
               .stock = { { .stage = CW_CLUMP, .count = 30, .clump_weeks = 10, .division_weeks = 8 },
                          { .stage = CW_DIVISION, .count = 60, .division_weeks = 12 } },
               .stocks = 2 };
    cw_distribution d;
    cw_projection_why why;
    project(&t, &d, &why);
    cw_check_near("if all sound", why.mean_if_all_sound, 30 * 5 * exp(0.02) + 60, 1e-3);
    cw_check_near("after clump rot", why.mean_after_clump_rot, 30 * 5 * exp(0.02) * exp(-0.1) + 60, 1e-3);
    assert_true(why.mean_after_division_rot < why.mean_after_clump_rot);
    cw_check_near("mean", why.mean, d.mean, 1e-9);
    cw_check_near("variance",
                  why.variance_rate + why.variance_clump_rot + why.variance_division_rot +
                      why.variance_shrink + why.variance_chance,
                  d.variance, 1e-6 * d.variance);
    assert_true(why.variance_rate > why.variance_division_rot);
    assert_int_equal(why.divide, 10);
    assert_int_equal(why.check, 20);
    /* what is not known here is the rate: dividing tells more than checking */
    assert_true(why.width_divide < why.width_now - 2.0);
    assert_true(why.width_divide < why.width_check);
}

/* A tenth of the bench's draws: quantiles within its tolerance plus what so few draws leave open. */
static void test_against_simulation(void **state)
{
    (void)state;
    enum { DRAWS = 40000 };
    static int64_t draw[DRAWS];
    static const double levels[] = { 0.05, 0.25, 0.50, 0.75, 0.95 };
    cw_draws_case c;
    cw_projection *p = NULL;
    cw_error err = CW_ERROR_NONE;
    assert_true(cw_draws_make(12, 2, &c));
    c.in.shrink = NULL;
    cw_check_ok(cw_projection_new(&c.in, &p, &err), &err);
    for (size_t v = 0; v < 12; v++) {
        cw_rng rng;
        cw_rng_init(&rng, 4, v);
        cw_draws_of_variety(&c.in, v, &rng, draw, DRAWS);
        cw_distribution d;
        cw_projection_variety(p, v, &d);
        for (size_t i = 0; i < 5; i++) {
            double want = (double)cw_draws_quantile(draw, DRAWS, levels[i]);
            double open = 3.0 * sqrt(levels[i] * (1 - levels[i]) / DRAWS) * sqrt(d.variance) /
                          cw_normal_density(cw_normal_quantile(levels[i]));
            double off = fabs((double)cw_distribution_quantile(&d, levels[i]) - want);
            if (off > fmax(1.0, 0.005 * want) + open)
                fail_msg("variety %zu, %.0f %%: off by %.0f of %.0f", v, 100 * levels[i], off, want);
        }
    }
    cw_projection_free(p);
    cw_draws_free(&c);
}

/* Old divisions of which it is not known whether rot grows with age: little is at risk at the hazard's own age, much at
 * theirs, and half of the law is elsewhere. */
static void test_old_divisions_are_in_doubt(void **state)
{
    (void)state;
    size_t variety = 0;
    cw_stock stock = { .stage = CW_DIVISION, .count = 400, .division_weeks = 10, .division_age = 30 };
    cw_latent *rate = known(5, 0.1, 1), *rot = cw_latent_new(1, 1, 2);
    cw_projection_input in = { .varieties = 1,
                               .lots = 1,
                               .stocks = 1,
                               .lot_variety = &variety,
                               .stock = &stock,
                               .rate = rate,
                               .division_rot = rot };
    for (int i = 0; i < 2; i++) {
        rot->point[i].weight = 0.5;
        rot->point[i].mean[0] = log(0.0005);
        rot->point[i].own_sd[0] = 0.1;
        rot->point[i].tilt[CW_TILT_AGE] = 2 * i;
    }
    cw_projection *p = NULL;
    cw_distribution law;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_projection_new(&in, &p, &err), &err);
    cw_projection_variety(p, 0, &law);
    /* by hand: (40^3 - 30^3) / (3 * 10^2) = 123.3 weeks at the hazard's own age instead of 10 */
    for (int64_t k = 350; k <= 400; k++)
        cw_check_near("P(S <= k)", cw_distribution_cdf(&law, k),
                      0.5 * cw_binomial_p(k, 400, exp(-0.0005 * 10)) +
                          0.5 * cw_binomial_p(k, 400, exp(-0.0005 * 123.333)),
                      0.05);
    cw_projection_free(p);
    cw_latent_free(rate);
    cw_latent_free(rot);
}

/* A lopsided law over millions of values is laid out in strides: it has the mean and variance that it is told to have, and
 * is a thousand times the law of a thousandth of the clumps, which is laid out value by value. */
static void test_many_clumps_scale(void **state)
{
    static const double levels[] = { 0.05, 0.25, 0.5, 0.75, 0.95, 0.99 };
    cw_distribution few, many;
    (void)state;
    for (double phi = 0.5; phi < 3; phi *= 2) {
        tiny t = { .rate = 5, .phi = phi, .eta_sd = 0.9, .h1 = 0.01, .h2 = 0.01, .h2_sd = 0.8, .stocks = 1 };
        t.stock[0] = (cw_stock){ .stage = CW_CLUMP, .count = 500, .clump_weeks = 8, .division_weeks = 8 };
        project(&t, &few, NULL);
        t.stock[0].count = 500000;
        project(&t, &many, NULL);
        for (size_t i = 0; i < sizeof levels / sizeof levels[0]; i++) {
            double scaled = (double)cw_distribution_quantile(&many, levels[i]) / 1000;
            assert_true(fabs(scaled / (double)cw_distribution_quantile(&few, levels[i]) - 1) < 0.015);
        }
        double mean = cw_distribution_left_over(&many, 0);
        assert_true(fabs(mean / many.mean - 1) < 0.01);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_many_clumps_scale),         cmocka_unit_test(test_counted_alone_is_binomial),
        cmocka_unit_test(test_few_clumps_by_enumeration), cmocka_unit_test(test_many_clumps_by_enumeration),
        cmocka_unit_test(test_published_composite),       cmocka_unit_test(test_divisions_dry),
        cmocka_unit_test(test_what_lies_there_by_hand),   cmocka_unit_test(test_nothing_on_hand),
        cmocka_unit_test(test_bad_input_is_refused),      cmocka_unit_test(test_why_adds_up),
        cmocka_unit_test(test_against_simulation),        cmocka_unit_test(test_old_divisions_are_in_doubt),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

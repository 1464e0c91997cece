/* SPDX-License-Identifier: MIT */
/* Tilts against the generalised linear models of R 4.2.2 (stats::glm, the base distribution), on invented crates.
 *
 *     t <- c(1, 2, 3, 4, 6, 8, 10, 12, 15, 18); n <- c(60, 55, 50, 50, 45, 40, 40, 40, 30, 30)
 *     r <- c(0, 0, 1, 1, 3, 5, 8, 10, 13, 18); why <- c(0, 1, 0, 1, 0, 1, 0, 1, 0, 1)
 *     m <- glm(cbind(r, n - r) ~ 1 + offset(k * log(t) + d * why), family = binomial(link = "cloglog"))
 *     as.numeric(logLik(m)) + 0.5 * log(vcov(m)[1, 1])
 *
 * Rotten or not at an age, with a Weibull law of shape k of the age at rot, is that regression on log t; and with the
 * intercept integrated out by Laplace's approximation (R's vcov is the expected information, so that is asked for here) the
 * last line is the log-likelihood of k and d but for a constant. */
#include "support/check.h"

#include "model/latent.h"
#include "model/mixed.h"

#include <math.h>

#include "base/banned.h"

static double density_at(const cw_mixed_data *d, const double *tilt, bool expected)
{
    cw_mixed_settings s = { .mode = CW_MIXED_PREDICT,
                            .expected_curvature = expected,
                            .sd_limit = 1,
                            .phi_median = 1,
                            .phi_spread = 1,
                            .intercept_sd = 1e3,
                            .tilt_scale = { 1e6, 1e6 },
                            .threads = 1 };
    cw_mixed_hyper at = { .known = true, .phi = 1, .tilt = { tilt[0], tilt[1] } };
    cw_error err = CW_ERROR_NONE;
    double value;
    cw_check_ok(cw_mixed_density(d, &s, &at, &value, NULL, &err), &err);
    return value;
}

static double density(const cw_mixed_data *d, const double *tilt)
{
    return density_at(d, tilt, true);
}

/* The same crates as times of an event of which only a side is known, by survreg of R's package survival 3.5-3, which has
 * the observed information:
 *
 *     s <- Surv(c(rep(NA, 10), t), c(t, rep(NA, 10)), type = "interval2"); w <- c(r, n - r)
 *     m <- survreg(s ~ 1, weights = w, subset = w > 0, dist = "weibull", scale = 1 / k)
 *     m$loglik[1] + 0.5 * log(k^2 * vcov(m)[1, 1])
 *
 * k^2, because its intercept is that of the cloglog divided by -k. */
static void test_weibull_against_survreg(void **state)
{
    (void)state;
    static const double t[] = { 1, 2, 3, 4, 6, 8, 10, 12, 15, 18 },
                        n[] = { 60, 55, 50, 50, 45, 40, 40, 40, 30, 30 },
                        r[] = { 0, 0, 1, 1, 3, 5, 8, 10, 13, 18 };
    static const double theirs[][2] = { { 1, -135.111319094 },
                                        { 1.5, -126.547379375 },
                                        { 2, -122.593602849 },
                                        { 2.4, -121.728987801 },
                                        { 3, -123.122343716 } };
    cw_mixed_row row[10];
    cw_mixed_tilt none[10] = { { 0 } };
    for (int i = 0; i < 10; i++)
        row[i] = (cw_mixed_row){ 0, 0, -1, t[i], n[i], r[i] };
    cw_mixed_data d = {
        .family = CW_MIXED_CLOGLOG, .rows = row, .n_rows = 10, .varieties = 1, .seasons = 1, .tilt = none
    };
    double first = density_at(&d, (double[]){ 0, 0 }, false);
    for (size_t i = 1; i < sizeof theirs / sizeof theirs[0]; i++)
        cw_check_near("shape", density_at(&d, (double[]){ theirs[i][0] - 1, 0 }, false) - first,
                      theirs[i][1] - theirs[0][1], 2e-5);
}

static void test_weibull_against_glm(void **state)
{
    (void)state;
    static const double t[] = { 1, 2, 3, 4, 6, 8, 10, 12, 15, 18 },
                        n[] = { 60, 55, 50, 50, 45, 40, 40, 40, 30, 30 },
                        r[] = { 0, 0, 1, 1, 3, 5, 8, 10, 13, 18 };
    static const double theirs[][3] = { { 1, 0, -28.754174146 },
                                        { 1.5, 0, -20.188195269 },
                                        { 2.4, 0, -15.355771949 },
                                        { 1.5, 0.4, -20.947446086 },
                                        { 2.4, -0.3, -15.705603779 } };
    cw_mixed_row row[10];
    cw_mixed_tilt tilt[10];
    for (int i = 0; i < 10; i++) {
        row[i] = (cw_mixed_row){ 0, 0, -1, t[i], n[i], r[i] };
        tilt[i] = (cw_mixed_tilt){ .of = { i % 2, 0 }, .x = { i % 2, 0 } };
    }
    cw_mixed_data d = {
        .family = CW_MIXED_CLOGLOG, .rows = row, .n_rows = 10, .varieties = 1, .seasons = 1, .tilt = tilt
    };
    double first = 0;
    for (size_t i = 0; i < sizeof theirs / sizeof theirs[0]; i++) {
        double ours = density(&d, (double[]){ theirs[i][0] - 1, theirs[i][1] });
        first = i == 0 ? ours : first;
        cw_check_near("shape and reason", ours - first, theirs[i][2] - theirs[0][2], 2e-5);
    }
}

/* y <- c(61, 40, 29, 88, 52, 70, 41, 33); c0 <- c(10, 8, 7, 15, 11, 12, 9, 8)
 * x <- c(.6, -.1, -.7, .4, -.6, .5, -.2, -.8); m <- glm(y ~ 1 + offset(log(c0) + g * x), family = poisson) */
static void test_order_against_glm(void **state)
{
    (void)state;
    static const double y[] = { 61, 40, 29, 88, 52, 70, 41, 33 }, c[] = { 10, 8, 7, 15, 11, 12, 9, 8 },
                        x[] = { .6, -.1, -.7, .4, -.6, .5, -.2, -.8 };
    static const double theirs[][2] = { { 0, -30.115962220 },
                                        { 0.15, -26.936028890 },
                                        { 0.3, -26.248923938 } };
    cw_mixed_row row[8];
    cw_mixed_tilt tilt[8];
    for (int i = 0; i < 8; i++) {
        row[i] = (cw_mixed_row){ 0, 0, -1, c[i], 0, y[i] };
        tilt[i] = (cw_mixed_tilt){ .of = { 1, 0 }, .x = { x[i], 0 } };
    }
    cw_mixed_data d = {
        .family = CW_MIXED_COUNT, .rows = row, .n_rows = 8, .varieties = 1, .seasons = 1, .tilt = tilt
    };
    for (int together = 0; together < 2; together++) {
        for (int i = 0; i < 8 && together; i++)
            row[i].lot = 1; /* one lot in several sessions is the same at phi = 1 */
        double first = density(&d, (double[]){ 0, 0 });
        for (size_t i = 1; i < sizeof theirs / sizeof theirs[0]; i++)
            cw_check_near("order", density(&d, (double[]){ 0, theirs[i][0] }) - first,
                          theirs[i][1] - theirs[0][1], 2e-5);
    }
}

/* The order of varieties against glmmTMB 1.1.5: seasons and varieties crossed, their sds held, the intercept integrated out
 * (REML); this season's rows lean on the share x of their variety that is cut.
 *
 *     d <- data.frame(y, o = log(n) + g * x, v = factor(v), s = factor(s))
 *     m <- glmmTMB(y ~ 1 + offset(o) + (1|v) + (1|s), family = poisson, data = d, REML = TRUE,
 *                  start = list(theta = log(c(.3, .1))), map = list(theta = factor(c(NA, NA)))); logLik(m) */
static void test_first_against_glmmTMB(void **state)
{
    (void)state;
    static const int v[] = { 0, 0, 0, 1, 1, 1, 2, 2, 2, 3, 3, 4, 4, 5 },
                     season[] = { 0, 1, 2, 0, 1, 2, 0, 1, 2, 1, 2, 0, 2, 1 };
    static const double n[] = { 20, 25, 30, 18, 22, 12, 30, 24, 10, 16, 28, 25, 9, 14 },
                        y[] = { 101, 119, 178, 70, 91, 50, 190, 139, 83, 62, 121, 98, 36, 77 },
                        x[] = { 0, 0, 1, 0, 0, .3, 0, 0, 1, 0, .6, 0, .15, 0 };
    static const double theirs[][2] = {
        { 0, -59.894198492 }, { .1, -58.661982347 }, { .2, -58.018600721 }, { .3, -57.965712969 }
    };
    cw_mixed_settings s = { .mode = CW_MIXED_PREDICT,
                            .use = { [CW_TERM_VARIETY] = true, [CW_TERM_SEASON] = true },
                            .sd_median = { [CW_TERM_VARIETY] = 1, [CW_TERM_SEASON] = 1 },
                            .sd_spread = { [CW_TERM_VARIETY] = 1, [CW_TERM_SEASON] = 1 },
                            .sd_limit = 1,
                            .phi_median = 1,
                            .phi_spread = 1,
                            .intercept_sd = 1e3,
                            .tilt_scale = { 0, 0, 1e6 },
                            .season = 2,
                            .threads = 1 };
    cw_mixed_row row[14];
    cw_mixed_tilt tilt[14] = { { 0 } };
    for (int i = 0; i < 14; i++) {
        row[i] = (cw_mixed_row){ v[i], season[i], -1, n[i], 0, y[i] };
        if (x[i] > 0)
            tilt[i] = (cw_mixed_tilt){ .of = { 0, 2 }, .x = { 0, x[i] } };
    }
    cw_mixed_data d = {
        .family = CW_MIXED_COUNT, .rows = row, .n_rows = 14, .varieties = 6, .seasons = 3, .tilt = tilt
    };
    double first = 0;
    for (size_t i = 0; i < sizeof theirs / sizeof theirs[0]; i++) {
        cw_mixed_hyper at = { .known = true,
                              .sd = { [CW_TERM_VARIETY] = 0.3, [CW_TERM_SEASON] = 0.1 },
                              .phi = 1,
                              .tilt = { [2] = theirs[i][0] } };
        cw_error err = CW_ERROR_NONE;
        double ours;
        cw_check_ok(cw_mixed_density(&d, &s, &at, &ours, NULL, &err), &err);
        first = i == 0 ? ours : first;
        cw_check_near("order of varieties", ours - first, theirs[i][1] - theirs[0][1], 2e-5);
    }
}

/* Worked by hand: hazard t / 10 from week 4 to 7 is (49 - 16) / 20 weeks' worth; a stretch in two parts is the whole. */
static void test_doses(void **state)
{
    (void)state;
    cw_check_near("4 to 7", cw_latent_dose(1, 4, 3), 1.65, 1e-12);
    cw_check_near("no age", cw_latent_dose(0, 4, 3), 3, 0);
    for (double g = -0.6; g < 2; g += 0.4)
        cw_check_near("in two", cw_latent_dose(g, 0, 4) + cw_latent_dose(g, 4, 3), cw_latent_dose(g, 0, 7),
                      1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_weibull_against_glm),
                                        cmocka_unit_test(test_weibull_against_survreg),
                                        cmocka_unit_test(test_order_against_glm),
                                        cmocka_unit_test(test_first_against_glmmTMB),
                                        cmocka_unit_test(test_doses) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

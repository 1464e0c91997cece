/* SPDX-License-Identifier: MIT */
#include "model/special.h"

#include <float.h>
#include <math.h>

#include "base/banned.h"

#define LOG_SQRT_2PI 0.918938533204672741780329736406
#define SQRT_2PI     2.50662827463100050241576528481
#define MAX_TERMS    200000 /* of a series or fraction: shapes near 1e6 need some thousands */
#define MAX_STEPS    200    /* of a root search; bisection alone needs fewer */

double cw_log_gamma(double x)
{
    int sign = 0;
    return lgamma_r(x, &sign);
}

/* log(x!) minus Stirling's approximation of it, x > 0 real. */
static double stirling_rest(double x)
{
    if (x < 16.0)
        return cw_log_gamma(x + 1.0) - (x + 0.5) * log(x) + x - LOG_SQRT_2PI;
    double y = 1.0 / (x * x);
    return (1.0 / 12 - y * (1.0 / 360 - y * (1.0 / 1260 - y * (1.0 / 1680 - y / 1188)))) / x;
}

/* x log(x / m) + m - x without cancellation near x = m (Loader 2000). */
static double deviance(double x, double m)
{
    if (fabs(x - m) >= 0.1 * (x + m))
        return x * log(x / m) + m - x;
    double v = (x - m) / (x + m);
    double sum = (x - m) * v;
    double term = 2.0 * x * v;
    for (int j = 1; j < 1000; j++) {
        term *= v * v;
        double next = sum + term / (2 * j + 1);
        if (next == sum)
            return next;
        sum = next;
    }
    return sum;
}

/* x^m e^-x ... : the Poisson weight at a real m >= 0. */
static double poisson_raw(double m, double mean)
{
    if (mean == 0.0)
        return m == 0.0 ? 1.0 : 0.0;
    if (m == 0.0)
        return exp(-mean);
    if (m < DBL_MIN * 4)
        return exp(-mean + m * log(mean) - cw_log_gamma(m + 1.0));
    return exp(-stirling_rest(m) - deviance(m, mean)) / (SQRT_2PI * sqrt(m));
}

/* Gamma(n + 1) / (Gamma(x + 1) Gamma(n - x + 1)) p^x q^(n - x) at real x in [0, n]; rest = n - x and q = 1 -
 * p are handed in so that they lose no digits. */
static double binomial_raw(double x, double rest, double p, double q)
{
    double n = x + rest;
    if (p == 0.0)
        return x == 0.0 ? 1.0 : 0.0;
    if (q == 0.0)
        return rest == 0.0 ? 1.0 : 0.0;
    if (x == 0.0)
        return p < 0.1 ? exp(rest * log1p(-p)) : exp(rest * log(q));
    if (rest == 0.0)
        return q < 0.1 ? exp(x * log1p(-q)) : exp(x * log(p));
    double log_c = stirling_rest(n) - stirling_rest(x) - stirling_rest(rest) - deviance(x, n * p) -
                   deviance(rest, n * q);
    return exp(log_c) / SQRT_2PI * sqrt(n / x / rest);
}

/* Incomplete gamma: both tails at once, the smaller without cancellation. */
static void gamma_tails(double a, double x, double *p, double *q)
{
    if (x <= 0.0) {
        *p = 0.0;
        *q = 1.0;
        return;
    }
    if (isinf(x)) {
        *p = 1.0;
        *q = 0.0;
        return;
    }
    double weight = poisson_raw(a, x); /* x^a e^-x / Gamma(a + 1) */
    if (x < a + 1.0) {
        double term = 1.0, sum = 1.0;
        for (int n = 1; n < MAX_TERMS; n++) {
            term *= x / (a + n);
            sum += term;
            if (term < sum * DBL_EPSILON * 0.25)
                break;
        }
        *p = fmin(1.0, weight * sum);
        *q = 1.0 - *p;
        return;
    }
    double b = x + 1.0 - a, c = 1.0 / DBL_MIN, d = 1.0 / b, h = d;
    for (int n = 1; n < MAX_TERMS; n++) {
        double an = -n * (n - a);
        b += 2.0;
        d = an * d + b;
        c = b + an / c;
        d = 1.0 / (fabs(d) < DBL_MIN ? DBL_MIN : d);
        c = fabs(c) < DBL_MIN ? DBL_MIN : c;
        h *= d * c;
        if (fabs(d * c - 1.0) < DBL_EPSILON)
            break;
    }
    *q = fmin(1.0, weight * a * h);
    *p = 1.0 - *q;
}

double cw_gamma_p(double shape, double x)
{
    double p = 0, q = 0;
    gamma_tails(shape, x, &p, &q);
    return p;
}

double cw_gamma_q(double shape, double x)
{
    double p = 0, q = 0;
    gamma_tails(shape, x, &p, &q);
    return q;
}

/* Continued fraction of the incomplete beta (A & S 26.5.8) by Lentz; good for x below the mean. */
static double beta_fraction(double a, double b, double x)
{
    double c = 1.0, d = 1.0 - (a + b) * x / (a + 1.0);
    d = 1.0 / (fabs(d) < DBL_MIN ? DBL_MIN : d);
    double h = d;
    for (int m = 1; m < MAX_TERMS; m++) {
        for (int odd = 0; odd < 2; odd++) {
            double an = odd ? -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
                            : m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m));
            d = 1.0 + an * d;
            c = 1.0 + an / c;
            d = 1.0 / (fabs(d) < DBL_MIN ? DBL_MIN : d);
            c = fabs(c) < DBL_MIN ? DBL_MIN : c;
            h *= d * c;
        }
        if (fabs(d * c - 1.0) < DBL_EPSILON)
            break;
    }
    return h;
}

static void beta_tails(double x, double y, double a, double b, double *p, double *q)
{
    if (x <= 0.0 || y <= 0.0) {
        *p = x <= 0.0 ? 0.0 : 1.0;
        *q = 1.0 - *p;
        return;
    }
    double weight = binomial_raw(a, b, x, y) * a * b / (a + b); /* x^a y^b / B(a, b) */
    if (x * (a + b + 2.0) < a + 1.0) {
        *p = fmin(1.0, weight * beta_fraction(a, b, x) / a);
        *q = 1.0 - *p;
    } else {
        *q = fmin(1.0, weight * beta_fraction(b, a, y) / b);
        *p = 1.0 - *q;
    }
}

double cw_beta_p(double x, double a, double b)
{
    double p = 0, q = 0;
    beta_tails(x, 1.0 - x, a, b, &p, &q);
    return p;
}

/* Root search shared by the quantiles. In t (log x, or logit x) the tails are smooth and monotone; the
 * smaller tail is matched in logs by Newton steps that may not leave the bracket. b < 0 marks a gamma. */
static void tails_at(double t, double a, double b, double *p, double *q, double *slope)
{
    if (b < 0.0) {
        double x = exp(t);
        gamma_tails(a, x, p, q);
        *slope = poisson_raw(a, x) * a;
    } else {
        double x = 1.0 / (1.0 + exp(-t)), y = 1.0 / (1.0 + exp(t));
        beta_tails(x, y, a, b, p, q);
        *slope = binomial_raw(a, b, x, y) * a * b / (a + b);
    }
}

static double root(double target, double a, double b, double t)
{
    double low = -745.0, high = 745.0;
    t = fmin(fmax(t, -700.0), 700.0);
    for (int i = 0; i < MAX_STEPS; i++) {
        double p = 0, q = 0, slope = 0;
        tails_at(t, a, b, &p, &q, &slope);
        int below = p < target;
        if (below)
            low = t;
        else
            high = t;
        double step =
            target <= 0.5 ? (log(target) - log(p)) * p / slope : (log(q) - log1p(-target)) * q / slope;
        double next = t + step;
        if (!isfinite(step) || next <= low || next >= high)
            next = 0.5 * (low + high);
        if (fabs(next - t) <= 4 * DBL_EPSILON * (1.0 + fabs(t)))
            return next;
        t = next;
    }
    return t;
}

double cw_gamma_quantile(double p, double shape)
{
    if (p <= 0.0)
        return 0.0;
    if (p >= 1.0)
        return INFINITY;
    /* For a small result P(x) = x^a / Gamma(a + 1) is already exact; it may underflow to 0, which is then
     * right. */
    double log_small = (log(p) + cw_log_gamma(shape + 1.0)) / shape;
    if (log_small < -34.0)
        return exp(log_small);
    double z = cw_normal_quantile(p), c = 1.0 - 1.0 / (9.0 * shape) + z / (3.0 * sqrt(shape));
    double start = c > 0.0 ? log(shape) + 3.0 * log(c) : log_small;
    return exp(root(p, shape, -1.0, start));
}

double cw_beta_quantile(double p, double a, double b)
{
    if (p <= 0.0)
        return 0.0;
    if (p >= 1.0)
        return 1.0;
    double log_beta = cw_log_gamma(a) + cw_log_gamma(b) - cw_log_gamma(a + b);
    double log_small = (log(p) + log(a) + log_beta) / a;
    if (log_small + log1p(b) < -34.0)
        return exp(log_small);
    double log_rest = (log1p(-p) + log(b) + log_beta) / b; /* the same at the other end */
    if (log_rest + log1p(a) < -36.0)
        return 1.0;
    double t = root(p, a, b, log(a / b));
    return 1.0 / (1.0 + exp(-t));
}

double cw_normal_density(double z)
{
    return exp(-0.5 * z * z) / SQRT_2PI;
}

double cw_normal_p(double z)
{
    return 0.5 * erfc(-z * 0.707106781186547524400844362105);
}

static double ratio8(const double *num, const double *den, double r)
{
    double n = num[7], d = den[7];
    for (int i = 6; i >= 0; i--) {
        n = n * r + num[i];
        d = d * r + den[i];
    }
    return n / d;
}

/* Wichura, Algorithm AS 241, PPND16 (about 1e-16). */
double cw_normal_quantile(double p)
{
    static const double a[] = { 3.3871328727963666080e0, 1.3314166789178437745e2, 1.9715909503065514427e3,
                                1.3731693765509461125e4, 4.5921953931549871457e4, 6.7265770927008700853e4,
                                3.3430575583588128105e4, 2.5090809287301226727e3 };
    static const double b[] = { 1.0,
                                4.2313330701600911252e1,
                                6.8718700749205790830e2,
                                5.3941960214247511077e3,
                                2.1213794301586595867e4,
                                3.9307895800092710610e4,
                                2.8729085735721942674e4,
                                5.2264952788528545610e3 };
    static const double c[] = { 1.42343711074968357734e0,  4.63033784615654529590e0,
                                5.76949722146069140550e0,  3.64784832476320460504e0,
                                1.27045825245236838258e0,  2.41780725177450611770e-1,
                                2.27238449892691845833e-2, 7.74545014278341407640e-4 };
    static const double d[] = { 1.0,
                                2.05319162663775882187e0,
                                1.67638483018380384940e0,
                                6.89767334985100004550e-1,
                                1.48103976427480074590e-1,
                                1.51986665636164571966e-2,
                                5.47593808499534494600e-4,
                                1.05075007164441684324e-9 };
    static const double e[] = { 6.65790464350110377720e0,  5.46378491116411436990e0,
                                1.78482653991729133580e0,  2.96560571828504891230e-1,
                                2.65321895265761230930e-2, 1.24266094738807843860e-3,
                                2.71155556874348757815e-5, 2.01033439929228813265e-7 };
    static const double f[] = { 1.0,
                                5.99832206555887937690e-1,
                                1.36929880922735805310e-1,
                                1.48753612908506148525e-2,
                                7.86869131145613259100e-4,
                                1.84631831751005468180e-5,
                                1.42151175831644588870e-7,
                                2.04426310338993978564e-15 };
    double q = p - 0.5;
    if (fabs(q) <= 0.425)
        return q * ratio8(a, b, 0.180625 - q * q);
    double tail = q < 0.0 ? p : 1.0 - p;
    if (tail <= 0.0)
        return q < 0.0 ? -INFINITY : INFINITY;
    double r = sqrt(-log(tail));
    double z = r <= 5.0 ? ratio8(c, d, r - 1.6) : ratio8(e, f, r - 5.0);
    return q < 0.0 ? -z : z;
}

double cw_poisson_pmf(int64_t k, double mean)
{
    return k < 0 ? 0.0 : poisson_raw((double)k, mean);
}

double cw_poisson_p(int64_t k, double mean)
{
    return k < 0 ? 0.0 : cw_gamma_q((double)k + 1.0, mean);
}

double cw_poisson_q(int64_t k, double mean)
{
    return k < 0 ? 1.0 : cw_gamma_p((double)k + 1.0, mean);
}

double cw_binomial_pmf(int64_t k, int64_t n, double chance)
{
    return k < 0 || k > n ? 0.0 : binomial_raw((double)k, (double)(n - k), chance, 1.0 - chance);
}

double cw_binomial_p(int64_t k, int64_t n, double chance)
{
    if (k < 0 || k >= n)
        return k < 0 ? 0.0 : 1.0;
    double p = 0, q = 0;
    beta_tails(chance, 1.0 - chance, (double)k + 1.0, (double)(n - k), &p, &q);
    return q;
}

double cw_negbin_pmf(int64_t k, double size, double mean)
{
    if (k < 0)
        return 0.0;
    double x = (double)k, whole = size + mean;
    return size / (size + x) * binomial_raw(size, x, size / whole, mean / whole);
}

static void negbin_tails(int64_t k, double size, double mean, double *p, double *q)
{
    double whole = size + mean;
    *p = 0.0;
    *q = 1.0;
    if (k >= 0)
        beta_tails(size / whole, mean / whole, size, (double)k + 1.0, p, q);
}

double cw_negbin_p(int64_t k, double size, double mean)
{
    double p = 0, q = 0;
    negbin_tails(k, size, mean, &p, &q);
    return p;
}

double cw_negbin_q(int64_t k, double size, double mean)
{
    double p = 0, q = 0;
    negbin_tails(k, size, mean, &p, &q);
    return q;
}

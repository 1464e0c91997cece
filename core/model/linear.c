/* SPDX-License-Identifier: MIT */
#include "model/linear.h"
#include "model/wide.h"

#include <math.h>

#include "base/banned.h"

CW_WIDE double cw_dot(const double *a, const double *b, size_t n)
{
    double sum[4] = { 0, 0, 0, 0 };
    size_t i = 0;
    for (; i + 4 <= n; i += 4)
        for (size_t k = 0; k < 4; k++)
            sum[k] += a[i + k] * b[i + k];
    for (; i < n; i++)
        sum[0] += a[i] * b[i];
    return (sum[0] + sum[1]) + (sum[2] + sum[3]);
}

bool cw_cholesky(double *s, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        double *row = s + i * n;
        for (size_t j = 0; j < i; j++)
            row[j] = (row[j] - cw_dot(row, s + j * n, j)) / s[j * n + j];
        double pivot = row[i] - cw_dot(row, row, i);
        if (!(pivot > 0))
            return false;
        row[i] = sqrt(pivot);
    }
    return true;
}

void cw_cholesky_forward(const double *l, size_t n, double *x)
{
    for (size_t i = 0; i < n; i++)
        x[i] = (x[i] - cw_dot(l + i * n, x, i)) / l[i * n + i];
}

void cw_cholesky_backward(const double *l, size_t n, double *x)
{
    for (size_t i = n; i-- > 0;) {
        x[i] /= l[i * n + i];
        for (size_t j = 0; j < i; j++)
            x[j] -= l[i * n + j] * x[i];
    }
}

void cw_cholesky_invert_factor(const double *l, size_t n, double *out)
{
    for (size_t i = 0; i < n * n; i++)
        out[i] = 0;
    for (size_t i = 0; i < n; i++) {
        double *row = out + i * n;
        for (size_t k = 0; k < i; k++) {
            const double *above = out + k * n;
            for (size_t j = 0; j <= k; j++)
                row[j] -= l[i * n + k] * above[j];
        }
        for (size_t j = 0; j < i; j++)
            row[j] /= l[i * n + i];
        row[i] = 1 / l[i * n + i];
    }
}

void cw_cholesky_inverse(const double *inverse_factor, size_t n, double *out)
{
    for (size_t i = 0; i < n * n; i++)
        out[i] = 0;
    for (size_t k = 0; k < n; k++) {
        const double *row = inverse_factor + k * n;
        for (size_t i = 0; i <= k; i++)
            for (size_t j = 0; j <= i; j++)
                out[i * n + j] += row[i] * row[j];
    }
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < i; j++)
            out[j * n + i] = out[i * n + j];
}

/* One Jacobi rotation that makes s[p][q] zero; the vectors (rows) turn with it. */
static void rotate(double *s, size_t n, double *vector, size_t p, size_t q)
{
    double angle = 0.5 * atan2(2 * s[p * n + q], s[q * n + q] - s[p * n + p]);
    double c = cos(angle), d = sin(angle);
    for (size_t k = 0; k < n; k++) {
        double a = s[p * n + k], b = s[q * n + k];
        s[p * n + k] = c * a - d * b;
        s[q * n + k] = d * a + c * b;
        double e = vector[p * n + k], f = vector[q * n + k];
        vector[p * n + k] = c * e - d * f;
        vector[q * n + k] = d * e + c * f;
    }
    for (size_t k = 0; k < n; k++) {
        double a = s[k * n + p], b = s[k * n + q];
        s[k * n + p] = c * a - d * b;
        s[k * n + q] = d * a + c * b;
    }
}

void cw_symmetric_axes(double *s, size_t n, double *value, double *vector)
{
    for (size_t i = 0; i < n * n; i++)
        vector[i] = i % (n + 1) == 0 ? 1 : 0;
    for (int sweep = 0; sweep < 60; sweep++) {
        double off = 0, size = 0;
        for (size_t i = 0; i < n; i++)
            for (size_t j = 0; j < n; j++)
                *(i == j ? &size : &off) += s[i * n + j] * s[i * n + j];
        if (off <= 1e-28 * size)
            break;
        for (size_t p = 0; p < n; p++)
            for (size_t q = p + 1; q < n; q++)
                if (s[p * n + q] != 0)
                    rotate(s, n, vector, p, q);
    }
    for (size_t k = 0; k < n; k++) {
        value[k] = s[k * n + k];
        double *v = vector + k * n, largest = 0;
        for (size_t i = 0; i < n; i++)
            if (fabs(v[i]) > fabs(largest))
                largest = v[i];
        for (size_t i = 0; i < n && largest < 0; i++)
            v[i] = -v[i];
    }
}

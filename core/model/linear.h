/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_LINEAR_H
#define CW_MODEL_LINEAR_H

#include <stdbool.h>
#include <stddef.h>

/* Small dense symmetric algebra: how is S x = b solved, S inverted, and S split into its axes?
 *
 * Matrices are square, row by row, order n; a symmetric one is given by its lower triangle. Meant for orders up to a
 * few hundred: plain loops, no blocking. Nothing allocates. */

/* Sum of a[i] b[i], in four strands so that long ones do not wait for each addition. */
double cw_dot(const double *a, const double *b, size_t n);

/* S = L L' in place (lower triangle). False when S is not positive definite; S is then spoilt. */
bool cw_cholesky(double *s, size_t n);

/* x := L^-1 x, and x := L^-T x. Both together solve S x = b. */
void cw_cholesky_forward(const double *l, size_t n, double *x);
void cw_cholesky_backward(const double *l, size_t n, double *x);

/* out := L^-1 (lower triangle, zeros above). */
void cw_cholesky_invert_factor(const double *l, size_t n, double *out);

/* out := S^-1 = L^-T L^-1, whole matrix, from `inverse_factor` = L^-1. */
void cw_cholesky_inverse(const double *inverse_factor, size_t n, double *out);

/* Eigenvalues and vectors of a symmetric matrix by cyclic Jacobi rotations: s = sum_k value[k] v_k v_k', where v_k is
 * row k of `vector`. `s` (whole matrix) is spoilt. The order is that of the diagonal, not sorted; each vector's largest
 * component is positive, so that the answer does not depend on rounding in the path. */
void cw_symmetric_axes(double *s, size_t n, double *value, double *vector);

#endif

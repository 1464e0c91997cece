/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_OPTIMUM_H
#define CW_MODEL_OPTIMUM_H

#include <stdbool.h>
#include <stddef.h>

/* Where is a smooth function of a few variables largest?
 *
 * Quasi-Newton (BFGS on the inverse curvature) with a backtracking line search that uses the slope. It stops when the
 * step it would take promises less than `tolerance` more value: 1/2 g' H g < tolerance. That is the right measure for
 * log-likelihoods: flat ridges do not matter, and neither does the scale of the variables.
 *
 * Source: Nocedal & Wright, Numerical Optimization, ch. 3 and 6 (from memory). */

#define CW_OPTIMUM_MAX 18 /* variables */

/* The value at x, and its gradient. May answer -INFINITY where the function cannot be computed. */
typedef double (*cw_optimum_function)(void *context, const double *x, double *gradient);

typedef struct cw_optimum {
    size_t n;                                         /* variables, <= CW_OPTIMUM_MAX */
    double tolerance;                                 /* promised gain at which to stop */
    double longest;                                   /* longest change of one variable in one step */
    unsigned most;                                    /* evaluations at most */
    double low[CW_OPTIMUM_MAX], high[CW_OPTIMUM_MAX]; /* bounds of x; equal: none */
    double x[CW_OPTIMUM_MAX];                         /* in: the start; out: the best point seen */
    double inverse[CW_OPTIMUM_MAX *
                   CW_OPTIMUM_MAX];         /* in: guess of the inverse of the negative Hessian (n x n) */
    double value, gradient[CW_OPTIMUM_MAX]; /* out, at x */
    unsigned evaluations;
    bool converged; /* false: ran out of evaluations or could not climb */
} cw_optimum;

void cw_optimum_climb(cw_optimum *o, cw_optimum_function f, void *context);

#endif

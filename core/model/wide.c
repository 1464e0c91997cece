/* SPDX-License-Identifier: MIT */
#include "model/wide.h"

#include <math.h>

#include "base/banned.h"

/* The C library has these for whole registers, but its header offers them with -ffast-math only. */
#if !defined(CW_PLAIN) && defined(__x86_64__) && defined(__GLIBC__) && defined(__GNUC__) &&                  \
    !defined(__clang__)
__attribute__((__simd__("notinbranch"))) extern double exp(double);
__attribute__((__simd__("notinbranch"))) extern double erfc(double);
#endif

CW_WIDE void cw_exp_each(size_t n, const double *restrict x, double *restrict out)
{
    for (size_t i = 0; i < n; i++)
        out[i] = exp(x[i]);
}

CW_WIDE void cw_erfc_each(size_t n, const double *restrict x, double *restrict out)
{
    for (size_t i = 0; i < n; i++)
        out[i] = erfc(x[i]);
}

/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_WIDE_H
#define CW_MODEL_WIDE_H

#include <stddef.h>

/* How does a loop over many numbers use the processor's vector registers? Loops over many numbers at once. A function marked
 * CW_WIDE is built twice, for every processor of its kind and for one with 256-bit registers; which is used is settled when
 * the program starts. (Not in builds with sanitizers: they are not ready yet when that is settled.) Sums keep their order, so
 * both give the same digits; the build with CW_PLAIN has none of it, and tests/twin holds the two against each other. */
#if !defined(CW_PLAIN) && defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) &&                 \
    !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#define CW_WIDE __attribute__((target_clones("avx2", "default")))
#else
#define CW_WIDE
#endif

/* Four numbers that are worked on as one (GNU C, which Clang knows too); on a processor without such registers the
 * compiler cuts it in two. */
#define CW_FOUR 4
typedef double cw_four __attribute__((vector_size(CW_FOUR * sizeof(double))));

/* max(x, 0) of each. */
#define cw_four_positive(x) ((cw_four)(((x) > 0.0) & (cw_four_bits)(x)))
typedef long long cw_four_bits __attribute__((vector_size(CW_FOUR * sizeof(long long))));

/* out[i] = exp(x[i]), erfc(x[i]); the two apart. By the C library's vector functions where it has them, to
 * 4 units in the last place (glibc manual, errors in math functions); their last digits may differ between processors,
 * never between runs. */
void cw_exp_each(size_t n, const double *restrict x, double *restrict out);
void cw_erfc_each(size_t n, const double *restrict x, double *restrict out);

#endif

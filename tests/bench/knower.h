/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_BENCH_KNOWER_H
#define CW_TESTS_BENCH_KNOWER_H

#include "bench/regimes.h"

#include "model/mixed.h"

/* What would somebody project who knows how much varieties, seasons, lots and clumps of a regime differ, and how fast things rot
 * on the whole, but of this season no more than was counted? Drying is as our own fit has it (`shrink`, borrowed). What is special
 * about a regime (a bad year, a bad room, sorting) the knower does not know: the figure is meant for those that are a random
 * sample. */
typedef struct cw_knower {
    cw_mixed *rate, *rot[2];
    cw_projection *projection;
    cw_distribution *law; /* [varieties] */
} cw_knower;
cw_code cw_knower_fit(const cw_world *w, const cw_regime *r, const cw_shrink *shrink, cw_knower *out,
                      cw_error *err) CW_MUST_CHECK;
void cw_knower_free(cw_knower *k); /* also of a fit that failed */

#endif

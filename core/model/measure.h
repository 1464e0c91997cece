/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_MEASURE_H
#define CW_MODEL_MEASURE_H

#include "model/projection.h"

/* What should be measured next, and what would it save?
 *
 * A measurement tells of one variety's predictor (log of its rate, or of a hazard), and so of all that shares its season, its
 * form, its size, its room and what is not known of the nursery. With y the measurement, Var y = Var eta + lot_sd^2 + 1 / I,
 * I its Fisher information, every variety's variance falls by (d S / d eta)^2 Cov(eta, y)^2 / Var y (normal laws). A
 * promise at a fixed confidence costs in proportion to the standard deviation of S, loss money a division, so what is saved
 * is the sum of loss times the fall of each standard deviation: exact for the variety itself, to first order for the others.
 *
 * I: n clumps divided, n rate / phi; n looked at that risked x since last known sound, n x^2 (1 - p) / p, p = 1 - exp(-x).
 * What a look finds gone is not counted as saved, only what it teaches. Source: the update of a joint normal law; expected
 * loss of the newsvendor under a normal law (Silver, Pyke & Peterson 1998), both from memory. */
typedef enum cw_measure_kind {
    CW_MEASURE_DIVIDE,    /* divide clumps */
    CW_MEASURE_CLUMPS,    /* look at clumps */
    CW_MEASURE_DIVISIONS, /* look at divisions */
    CW_MEASURE_KINDS
} cw_measure_kind;

typedef struct cw_measure {
    size_t variety;
    cw_measure_kind kind;
    int64_t count;    /* clumps or divisions */
    double saves;     /* in the unit of `loss` times divisions */
    double elsewhere; /* of that, in other varieties */
} cw_measure;

/* The best `most` measurements, the one that saves most first; *found is how many there are. laws, loss: [varieties]. */
cw_code cw_measure_next(const cw_projection *p, const cw_distribution *laws, const double *loss, size_t most,
                        cw_measure *out, size_t *found, cw_error *err) CW_MUST_CHECK;

#endif

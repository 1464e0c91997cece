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

/* Which lots to open now, and how many to look at in each?
 *
 * Opening a crate takes minutes, and so does each thing looked at. A look at n things of a lot tells of the lot's variety with precision
 * t = 1 / (lot_sd^2 + 1 / I(n)), I as above with the lot's weeks since last known sound; looks at several lots of a variety add
 * theirs up, so that the second tells less than the first. What it tells of other varieties is paid for as far as it was not told
 * before: each look leaves the share 1 - common / noise of what is not known in common. The look that is worth most a minute is
 * taken, until the minutes are used up or no look is worth anything.
 *
 * Assumed: things of a lot are taken as they come, whatever their clocks. */
typedef struct cw_rota_ask {
    double minutes;        /* that there are */
    double open, look;     /* to open a lot, to look at one thing; > 0 together */
    const uint8_t *passed; /* [lots] 1: not to be opened; NULL: all may */
} cw_rota_ask;

typedef struct cw_rota_look {
    size_t lot, variety;
    cw_measure_kind kind; /* CW_MEASURE_CLUMPS, CW_MEASURE_DIVISIONS */
    int64_t there, look;  /* things on hand, and how many of them to look at */
    double weeks;         /* since last known sound, their mean */
    double expect;        /* of those looked at, expected rotten */
    double worth;         /* as `saves` above, on top of the looks before it */
    double minutes;
} cw_rota_look;

/* The best looks, in the order in which they are worth most a minute; *found <= most. */
cw_code cw_measure_rota(const cw_projection *p, const cw_distribution *laws, const double *loss,
                        const cw_rota_ask *ask, size_t most, cw_rota_look *out, size_t *found,
                        cw_error *err) CW_MUST_CHECK;

#endif

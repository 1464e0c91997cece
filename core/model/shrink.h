/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_SHRINK_H
#define CW_MODEL_SHRINK_H

#include "base/error.h"

#include <stdatomic.h>
#include <stddef.h>
#include <stdint.h>

/* How fast does the stock dry, and what share of it is shrivelled when it has dried so far?
 *
 * Mass loss: dm/dt = -k m VPD, so m(t) / m(0) = exp(-k X) with X = integral of the vapour pressure deficit
 * (Pa days, model/air) and loss = 1 - exp(-k X). k is in 1 / (Pa day): 1 ng/(kg s Pa) = 8.64e-8 / (Pa day).
 *
 * k: repeated weighings of marked crates. Each crate's log mass is regressed on X with its own start; crates
 * of one lot share log k(lot) = mu + tau * normal, each crate has rho on top (curing, filling); all by the
 * method of moments in closed form, so that a handful of crates is enough. Crates that did not lose mass are
 * kept, not dropped.
 *
 * Limits: a division is shrivelled once its loss passes its own limit; log limit ~ normal(log w50, sigma).
 * w50 and sigma are learned from checks that counted shrivelled, given that what had shrivelled before was
 * thrown out then:  P(shrivelled) = 1 - (1 - F(loss now)) / (1 - F(loss then)); prior = the stated defaults
 * below. Source of the mass loss law: Sastry, Baird & Buffington 1978 (transpiration coefficients); the
 * defaults are common practice, no source. */

#define CW_SHRINK_DEFAULT_K 2.0e-5 /* 1/(Pa day), about 230 ng/(kg s Pa): a thin-skinned root */
#define CW_SHRINK_DEFAULT_K_SD                                                                               \
    0.65 /* of log k, before any weighing: skins differ, and so do crates and sand */
#define CW_SHRINK_DEFAULT_W50    0.35 /* half of all divisions are shrivelled at 35 % loss */
#define CW_SHRINK_DEFAULT_W50_SD 0.3  /* of log w50, before any weighing; */
#define CW_SHRINK_WEIGHED_W50_SD                                                                             \
    0.10 /* and after: what is left is how much a division bears, not how it dries */
#define CW_SHRINK_DEFAULT_SIGMA    0.22 /* spread of log limits */
#define CW_SHRINK_DEFAULT_SIGMA_SD 0.20 /* of log sigma */

typedef struct cw_weighing {
    size_t crate;   /* 0 .. crates - 1: a marked crate, always the same content */
    size_t lot;     /* 0 .. lots - 1 */
    double pa_days; /* VPD integral since any fixed day of this crate */
    double kg;      /* > 0 */
} cw_weighing;

typedef struct cw_shrivel_check {
    size_t lot;          /* 0 .. lots - 1, or CW_SHRINK_NO_LOT for a past season's total */
    double from_pa_days; /* drying since cutting when last looked at (0: never) */
    double to_pa_days;   /* drying since cutting at this check */
    int64_t inspected;   /* not rotten; of them shrivelled: */
    int64_t shrivelled;
} cw_shrivel_check;
#define CW_SHRINK_NO_LOT ((size_t)-1)

typedef struct cw_shrink {
    size_t lots;
    /* log k of a lot = lot_log_k[lot] + lot_log_k_sd[lot] * normal */
    double *lot_log_k;
    double *lot_log_k_sd;
    /* the part of lot_log_k_sd that all lots have in common: what is not known of their mean */
    double *lot_common_sd;
    /* of a lot never weighed: mean, and spread between lots with uncertainty of the mean */
    double log_k, log_k_sd;
    double lot_spread; /* tau, of log k between lots */
    double log_w50, log_w50_sd;
    double log_sigma, log_sigma_sd;
    double limit_covariance; /* of log w50 and log sigma */
    size_t crates;           /* crates that gave a slope; 0: k is the stated default */
    int64_t inspected;       /* divisions whose shrivelling was counted; 0: limits are the stated default */
    uint64_t sign;           /* of what it was learned from */
    atomic_uint holders;
} cw_shrink;

/* All arrays are borrowed and may be in any order. The result is one block. */
cw_code cw_shrink_fit(const cw_weighing *weighing, size_t weighings, size_t crates,
                      const cw_shrivel_check *check, size_t checks, size_t lots, cw_shrink **out,
                      cw_error *err) CW_MUST_CHECK;
/* The same after an earlier one, or NULL; if that was learned from the same it is *out, with one holder more. Every holder
 * frees it. */
cw_code cw_shrink_refit(const cw_weighing *weighing, size_t weighings, size_t crates,
                        const cw_shrivel_check *check, size_t checks, size_t lots, cw_shrink *before,
                        cw_shrink **out, cw_error *err) CW_MUST_CHECK;
void cw_shrink_free(cw_shrink *s);

/* Loss of mass (0 .. 1) after `pa_days` at rate k. */
double cw_shrink_loss(double k, double pa_days);

/* One stretch of drying of a lot's divisions, from when they were last known not shrivelled. In units of the
 * spread of limits, loss stands at `from` and `to` beside the middle limit; the _sd are what is not known of
 * that (k and the limits together). Made once, then asked for many z. */
typedef struct cw_shrink_stretch {
    double from, from_sd, to, to_sd;
} cw_shrink_stretch;
cw_shrink_stretch cw_shrink_between(const cw_shrink *s, size_t lot, double from_pa_days, double to_pa_days);

/* Which share of the variance of what is not known of a stretch's end do all lots have in common (limits and the mean of
 * k)? 0 .. 1. */
double cw_shrink_common(const cw_shrink *s, size_t lot, double to_pa_days);

/* Chance to be still sound at the end; z moves what is not known by that many standard deviations (0: best
 * guess, above: drier). Never above 1. */
double cw_shrink_sound(const cw_shrink_stretch *stretch, double z);
/* out[i] = the same for by * z[i]. */
void cw_shrink_sound_each(const cw_shrink_stretch *stretch, size_t n, const double *z, double by,
                          double *out);

/* The same share and its 10 % and 90 % points, for people: share shrivelled. */
typedef struct cw_shrink_share {
    double low, middle, high;
} cw_shrink_share;
cw_shrink_share cw_shrink_shrivelled(const cw_shrink *s, size_t lot, double from_pa_days, double to_pa_days);

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_MIXED_INSIDE_H
#define CW_MODEL_MIXED_INSIDE_H

/* Inside of the mixed model: shared by mixed*.c, included by nobody else.
 *
 * Effects are kept in spherical form: effect = sd * u, u standard normal, so that sd = 0 is an ordinary value.
 * Shared effects have one index: 0 the intercept, then forms, sizes, seasons. A term that is not used has no index
 * range; its coefficient (sd) is 0 and its index points at 0, which adds nothing. */
#include "model/mixed.h"

#include <pthread.h>
#include <stdatomic.h>
#include <stdint.h>

typedef struct
    mixed_item { /* cloglog: all rows of a lot with the same weeks and tilts; counts: rows of a lot with tilts */
    double exposure, trials, count;
    double age, log_from, log_to; /* logs of age and of age + exposure; 0 at age 0 */
    double x[2];
    int32_t of[2];
} mixed_item;

/* The data, sorted and summed. Lots are sorted by cell, cells by variety; x_start[i] .. x_start[i + 1] are the
 * children of i. */
typedef struct mixed_model {
    cw_mixed_family family;
    size_t rows, lots, cells, varieties, shared;
    size_t level_count[CW_TERMS]; /* effects of a shared term; 0 if it is not used */
    size_t first[CW_TERMS];       /* shared terms: index of the first effect */
    double *count, *exposure;     /* [lots], COUNT */
    size_t *item_start;           /* [lots + 1]; COUNT: of lots with tilts */
    mixed_item *item;
    size_t *lot_start;      /* [cells + 1] */
    size_t *cell_start;     /* [varieties + 1] */
    size_t *cell_season;    /* [cells] season number */
    size_t *cell_shared;    /* [cells] shared index of the season, 0 if not used */
    uint32_t *lot_cell;     /* [lots] */
    int32_t *lot_number;    /* [lots] the caller's, -1 = none */
    size_t lots_asked;      /* numbers 0 .. lots_asked - 1 of the season are answered for */
    uint32_t *cell_variety; /* [cells] */
    size_t *form, *size;    /* [varieties] shared index, 0 if not used */
    double constant;        /* log-likelihood: what no parameter touches */
    double phi_offset;      /* COUNT: Q, see mixed_data.c */
    double phi_freedom;     /* COUNT: degrees of freedom that inform phi */
    bool tilted[CW_TILTS];  /* some row has it */
    int32_t *lot_tilt;      /* [lots_asked] */
    cw_mixed_own *own;      /* [varieties] */
    int variety_tilt;
    double *variety_x; /* [varieties] 0 where there is none */
} mixed_model;

typedef struct mixed_theta {
    double sd[CW_TERMS];
    double intercept, intercept_sd; /* eta starts from intercept + intercept_sd * u[0] */
    double phi, drift, tilt[CW_TILTS];
} mixed_theta;

/* What the rest of a nursery says of the shared effects, to a model that has some varieties only (mixed_near.c): it stands
 * in place of their prior. */
typedef struct mixed_rest {
    double *precision, *pull; /* [shared^2], [shared]: exp(pull'u - u'precision u / 2) */
    double *lean;             /* [shared] its part of the right-hand side of the step from mode to mean */
} mixed_rest;

/* A point of the posterior as it was found: the shared effects' mode, the step from there to their mean, and L of the
 * Schur complement. */
typedef struct mixed_place {
    double *u, *x, *factor; /* [shared], [shared], [shared^2] */
} mixed_place;

/* One evaluation's scratch and results. Vectors of lots, cells, varieties and shared effects. */
typedef struct mixed_work {
    const mixed_model *m;
    double *u_lot, *u_cell, *u_variety, *u_shared; /* spherical effects: contiguous, `unknowns` in all */
    double *x_lot, *x_cell, *x_variety, *x_shared; /* a solution of H x = b, contiguous likewise */
    double *x_eta;                                 /* [lots] what x does to eta: Z Lambda x */
    double *x_own;                                 /* [varieties] what x does to eta in a usual season */
    double *own_off; /* [varieties] how far what is said of that lies above it */
    size_t unknowns;
    double *eta, *slope, *weight, *third;        /* [lots] dl/d eta, -d2l/d eta2, d weight/d eta */
    double *expected, *expected_third;           /* [lots] the same for the expected information */
    double *over_lot, *over_cell, *over_variety; /* 1 / pivot of the elimination: <= 1 */
    double *mass_cell, *mass_variety;            /* sum of what the children weigh */
    double *light_lot, *light_cell;              /* mass * over: what a lot or cell weighs on what is above */
    double *base_variety, *base_cell;            /* scratch: eta, or its change, down to variety or cell */
    double *pull_cell, *pull_variety;            /* the same for the right-hand side */
    /* [shared^2]: L of the Schur complement, its inverse, (LL')^-1 */
    double *factor, *inverse_factor, *covariance;
    double *scratch, *spare; /* [2 shared], [shared^2] */
    double *variance;        /* [lots] posterior variance of eta */
    double *dose, *dose_age; /* [items] exposure with tilts, and d log dose / d tilt of age */
    double *exposure;        /* [lots] COUNT: the same of all rows */
    double *item_slope, *item_weight, *item_third; /* [items] as slope .. third, for what tilts change */
    double tilt_gain;                              /* COUNT: sum of count * tilt * x */
    bool seasoned;                                 /* seasons have another prior than N(0, 1) each: */
    double *resist;                                /* [seasons] precision u - pull */
    double *season_work;                           /* [2 seasons^2] */
    /* its precision, what that changes by log drift, its pull */
    double *season_precision, *season_drift, *season_pull;
    double season_half_log;        /* half the log determinant of the prior precision that drift gives */
    double season_trace;           /* tr(K^-1 dK / d log drift) of the covariance K that drift gives */
    const cw_mixed_seasons *heard; /* from another fit, or NULL */
    const mixed_rest *rest;        /* of a nursery, or NULL: the model is the whole of it */
    bool pinned;                   /* shared effects stay where they are */
    double sd_of_u[CW_TERMS];      /* sds for which u was last found; 0 after a plain start */
    double told[CW_TERMS];         /* vanished / number of effects then: how far the data determine them */
    double vanished[CW_TERMS];     /* sum over a term of 1 - Var(u): how many effects the data determine */
    pthread_mutex_t asked; /* of scratch, once this is a fit's centre: several threads may hold one fit */
    double *block;
} mixed_work;

/* mixed_data.c */
cw_code cw_mixed_model_build(const cw_mixed_data *data, const cw_mixed_settings *settings, mixed_model **out,
                             cw_error *err) CW_MUST_CHECK;
void cw_mixed_model_free(mixed_model *m);
/* A model of some varieties only, numbered as in `variety` [n] (in order). Sums of constants are not kept. NULL without memory. */
mixed_model *cw_mixed_model_slice(const mixed_model *m, const size_t *variety, size_t n);
/* What is said of each variety, in any order of rows, as a number each, and of all lots: [varieties + 1]. False: some row
 * cannot be. */
bool cw_mixed_sign(const cw_mixed_data *data, const cw_mixed_settings *settings, uint64_t *out);

/* mixed_family.c: log-likelihood (without m->constant) at w->eta; sets slope, weight, third. */
double cw_mixed_likelihood(mixed_work *w, double phi);
void cw_mixed_expected(mixed_work *w); /* CLOGLOG: sets expected, expected_third at w->eta */

/* mixed_solve.c */
mixed_work *cw_mixed_work_new(const mixed_model *m); /* NULL without memory */
void cw_mixed_work_free(mixed_work *w);
/* Where to begin looking for a mode. */
void cw_mixed_work_copy_effects(mixed_work *to, const mixed_work *from);
/* The spherical effects of a term; their number is the answer. */
size_t cw_mixed_term_effects(const mixed_work *w, int term, double **u, double **x);
void cw_mixed_predict(mixed_work *w, const mixed_theta *t); /* eta from u */
bool cw_mixed_factor(mixed_work *w, const mixed_theta *t, const double *weight);
/* The same but for the last step: w->factor is the Schur complement, lower triangle. */
void cw_mixed_schur(mixed_work *w, const mixed_theta *t, const double *weight);
/* x_shared += what varieties pull on the shared effects; H as last factored. keep: 1 if -u is part of it, else 0. */
void cw_mixed_collect(mixed_work *w, const mixed_theta *t, const double *weight, const double *b,
                      double keep);
double cw_mixed_rest_gain(const mixed_work *w);       /* what w->rest says of u, less -u'u / 2 */
double cw_mixed_log_determinant(const mixed_work *w); /* log |H| as last factored */
/* x := H^-1 (Lambda Z' b - u) for with_u, H^-1 Lambda Z' b else; H as last factored with `weight`.
 * Answers b'Z Lambda x - u'x. */
double cw_mixed_solve(mixed_work *w, const mixed_theta *t, const double *weight, const double *b,
                      bool with_u);
/* The slope of what is said of varieties along x. */
double cw_mixed_own_slope(const mixed_work *w);
void cw_mixed_covariance(mixed_work *w, const mixed_theta *t, const double *weight);

/* mixed_tilts.c */
bool cw_mixed_is_tilted(const mixed_model *m);
void cw_mixed_set_doses(mixed_work *w, const mixed_theta *t); /* exposures with tilts */
void cw_mixed_item_slopes(mixed_work *w, double phi);         /* at w->eta */
/* After the solution of the slopes' equation: d L / d tilt. */
void cw_mixed_tilt_slopes(const mixed_work *w, double *out);

/* mixed_seasons.c: the prior of the seasons, where it is not N(0, 1) each. */
bool cw_mixed_set_seasons(mixed_work *w, const mixed_theta *t); /* false: it is no prior */
void cw_mixed_resist(const mixed_work *w, double *out);         /* [seasons] precision u - pull */
double cw_mixed_season_gain(const mixed_work *w); /* log prior density of the seasons, less -u'u / 2 */
/* After the covariance and the solution x: sum of 1 - (V P)_ii; and d L / d log drift. */
double cw_mixed_season_vanished(const mixed_work *w);
double cw_mixed_drift_slope(const mixed_work *w);

/* mixed_laplace.c */
/* Brings w->u to its mode from where it is and answers the Laplace log-likelihood; -INFINITY if it cannot be had.
 * Leaves w factored at the mode. */
double cw_mixed_laplace(mixed_work *w, const mixed_theta *t, bool expected, double tolerance);
/* After it: derivatives by log sd [CW_TERMS], log phi, intercept; leaves x = the step from mode to mean. */
typedef struct mixed_gradient {
    double log_sd[CW_TERMS], log_phi, log_drift, tilt[CW_TILTS], intercept;
} mixed_gradient;
void cw_mixed_slopes(mixed_work *w, const mixed_theta *t, bool expected, mixed_gradient *out);

/* mixed_latent.c: after cw_mixed_slopes (observed information) or, for fill, before x is overwritten. */
void cw_mixed_fill(mixed_work *w, const mixed_theta *t, int season, cw_latent_point *out);
/* The mean over varieties of what a shared effect does to eta in a season, given what is known of each: [shared]. */
void cw_mixed_mean_row(mixed_work *w, const mixed_theta *t, int season, double *row);
void cw_mixed_why_at(mixed_work *w, const mixed_theta *t, int season, size_t variety, cw_mixed_why *out);

/* mixed_points.c: the parameters as a vector (log sd of used terms, log phi, intercept) and their posterior points. */
typedef struct mixed_problem {
    const mixed_model *m;
    const cw_mixed_settings *s;
    int term[CW_TERMS]; /* term of variable i */
    size_t terms, n;    /* log sds; all variables */
    bool phi, drift;    /* variables after the log sds */
    int tilt[CW_TILTS];
    size_t tilts, first_tilt; /* the first one's place */
    bool intercept;           /* the last variable */
    double start;             /* crude intercept: log of all counts over all exposures */
} mixed_problem;
void cw_mixed_problem_init(mixed_problem *p, const mixed_model *m, const cw_mixed_settings *s);
void cw_mixed_unpack(const mixed_problem *p, const double *x, mixed_theta *t);
/* A start for the mode that nothing but the data and x decide: the intercept at its crude value, varieties drawn from
 * it by their own totals, all else 0. */
void cw_mixed_start_effects(const mixed_problem *p, const double *x, mixed_work *w);
/* Log posterior density of x (PREDICT) or log-likelihood (ML); the gradient if wanted. */
double cw_mixed_at(const mixed_problem *p, mixed_work *w, const double *x, double tolerance,
                   double *gradient);
double cw_mixed_log_prior(const mixed_problem *p, const double *x, double *gradient); /* adds to gradient */
/* The points of the posterior. */
#define MIXED_POINTS (2 * CW_MIXED_MAX + 1)
typedef struct mixed_points {
    size_t count;
    double x[MIXED_POINTS][CW_MIXED_MAX], weight[MIXED_POINTS];
} mixed_points;
/* `centre` is evaluated at x, with this gradient. On CW_OK *points are set and, unless settings.linked, *out is what is
 * known at them; and `inverse` [n x n] (PREDICT) the inverse curvature. */
cw_code cw_mixed_points(const mixed_problem *p, mixed_work *centre, const double *x, const double *gradient,
                        double value, double *inverse, mixed_points *points, mixed_place **places,
                        cw_latent **out, cw_error *err) CW_MUST_CHECK;

/* mixed_near.c: a fit that differs from another one in few varieties. */
typedef struct mixed_near {
    size_t n;
    size_t *variety;        /* [n] in order */
    mixed_model *old, *now; /* of these varieties only */
} mixed_near;
/* Varieties whose numbers differ; NULL if there are too many, the rows are too few, or there is no memory. */
mixed_near *cw_mixed_near_new(const cw_mixed_data *data, const cw_mixed_settings *settings,
                              const cw_mixed *base, const uint64_t *sign);
void cw_mixed_near_free(mixed_near *n);
/* What is known at each of `base`'s points now: *out has the same shared effects, and where they moved by little the other
 * varieties follow to first order. *centre: as at the optimum, of near->now. False: too far, or no memory. */
typedef struct mixed_stand { /* where a fit or a linked fit stands */
    const mixed_model *model;
    const mixed_problem *problem;
    double (*x)[CW_MIXED_MAX]; /* of each point */
    const mixed_place *place;
    const double *weight;
    size_t points;
    const double *inverse; /* NULL: not looked at */
    const cw_latent *latent;
    int season;
} mixed_stand;
bool cw_mixed_near_at(const mixed_near *n, const mixed_stand *at, mixed_work **centre, cw_latent **out);
/* The variety's number among them, or n. */
size_t cw_mixed_near_find(const mixed_near *n, size_t variety);
mixed_place *cw_mixed_places_new(size_t points, size_t shared); /* one block */
void cw_mixed_place_keep(const mixed_work *w, mixed_place *to);

/* Inside of a fit, for mixed_link.c. */
struct cw_mixed {
    atomic_uint holders;
    mixed_model *model;
    mixed_work *centre; /* evaluated at the optimum; of near->now if that is not NULL */
    cw_mixed_settings settings;
    mixed_theta theta;
    cw_mixed_report report;
    mixed_points points;
    mixed_place *place; /* [points], of a fit that is linked: the first only */
    size_t varieties;
    uint64_t *sign; /* [varieties + 1] */
    cw_latent *latent;
    cw_mixed *base; /* what it differs from in few varieties, held; it has no model of its own then */
    mixed_near *near;
};

#endif

/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_KEEP_INSIDE_H
#define CW_MODEL_KEEP_INSIDE_H

/* Inside of model/keep: a variety made ready. keep.c solves the seasons, keep_growth.c makes the law of N', keep_now.c tells of this
 * spring, keep_years.c of those that follow, keep_beds.c finds the price of a place. Nodes are whole numbers, ascending from 0. */
#include "model/keep.h"

#define CW_KEEP_NODES 240
#define CW_KEEP_ATOMS 96

typedef struct cw_keep_nodes {
    size_t n;
    double at[CW_KEEP_NODES];
} cw_keep_nodes;

/* Whole numbers to 44, then steps of 1/22 up to `last`. */
void cw_keep_nodes_to(cw_keep_nodes *out, double last);

/* A cubic through the four nodes about x: value = sum of w[j] f[first + j], j < count. Outside the ends it holds the end. */
typedef struct cw_keep_between {
    size_t first, count;
    double w[4];
} cw_keep_between;
void cw_keep_between_at(const cw_keep_nodes *nodes, double x, cw_keep_between *out);

/* E f(N'(p)) for each planted p as weights on the nodes of N. */
typedef struct cw_keep_row {
    size_t from, count; /* nodes of N */
    size_t at;          /* in `weight` */
} cw_keep_row;
typedef struct cw_keep_move {
    size_t rows;
    cw_keep_row *row; /* [rows] */
    float *weight;
} cw_keep_move;
/* `straight`: weights are chances (never negative), for laws; else cubic, for values. */
cw_code cw_keep_move_make(const cw_keep_ask *ask, const cw_keep_nodes *planted, const cw_keep_nodes *n,
                          bool straight, cw_keep_move *out, cw_error *err) CW_MUST_CHECK;
void cw_keep_move_free(cw_keep_move *m);

/* What W, made never falling from `keep` on, earns of what is left unsold:
 *     E W(planted) = worth + sum of bend[i] * E max(0, L - D - from[i]),  planted = min(upto, max(keep, L - D)) */
typedef struct cw_keep_rule {
    double keep, upto;
    double worth; /* W(keep) */
    size_t bends;
    int64_t from[CW_KEEP_NODES + 1];
    double bend[CW_KEEP_NODES + 1];
} cw_keep_rule;

/* Where W is hollow (a reserve makes it so: few plants only refill it), W(k) - m k has several tops. */
#define CW_KEEP_TOPS 4
typedef struct cw_keep_rules {
    size_t n;
    cw_keep_rule rule[CW_KEEP_TOPS]; /* the highest first */
} cw_keep_rules;

struct cw_keeper {
    cw_keep_ask ask;
    double price;
    bool solved;
    cw_keep_nodes n, p;
    cw_keep_move move;
    size_t room;                          /* of a table in `below` */
    size_t law[CW_KEEP_SEASONS + 1];      /* of each season: its table in `below`, */
    double law_mean[CW_KEEP_SEASONS + 1]; /* and its mean */
    double *below;                        /* [laws * room]: below[q] = E max(0, q - D) */
    size_t atoms;                         /* S this spring as few numbers with chances */
    double atom[CW_KEEP_ATOMS], chance[CW_KEEP_ATOMS];
    double atom_worth[CW_KEEP_ATOMS]; /* W of that many all kept */
    double *after;                    /* [p.n]: E max(0, L - D - p) this season */
    double *w;                        /* [seasons * p.n]: W of each season */
    double *v;                        /* [n.n]: value of the season last worked out */
};

double cw_keep_below(const cw_keeper *k, int season, double q); /* E max(0, q - D), any q */
double cw_keep_worth(const cw_keeper *k, int season, double p); /* W(p) */
double cw_keep_mean_after(const cw_keeper *k, double p);        /* E max(0, L - D - p) this season */
void cw_keep_solve(cw_keeper *k);                               /* all seasons, at the keeper's price */
void cw_keep_rule_from(const cw_keeper *k, int season, double keep, cw_keep_rule *out);
/* What is best in a season: by its W, which must have been worked out. */
void cw_keep_rules_of(const cw_keeper *k, int season, cw_keep_rules *out);
/* The best figure to keep of a node's number n in a season, what is left planted up to *upto; `value`: what that is worth. */
double cw_keep_choose(const cw_keeper *k, int season, const cw_keep_rules *rules, double n, double *upto,
                      double *value);
void cw_keep_best_now(cw_keeper *k, cw_keep_view *out); /* the best figure for this spring */
/* What is said of `keep` as the best figure. */
void cw_keep_best_about(cw_keeper *k, int64_t keep, cw_keep *out);
int64_t cw_keep_most(const cw_keeper *k); /* the largest figure that may be kept */

#endif

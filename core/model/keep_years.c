/* SPDX-License-Identifier: MIT */
/* The years that follow a figure kept: the law of N pushed through the rule of each season and through the beds. */
#include "model/keep_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Chance on the nodes of what is planted: min(upto, max(keep, L - D)), means kept. */
static void spread(const cw_keeper *k, int season, double chance, double keep, double upto, double left,
                   double *law)
{
    double at = keep, below = cw_keep_below(k, season, left - keep), carry = 1;
    size_t i = 0;
    while (i + 1 < k->p.n && k->p.at[i] < keep)
        i++;
    if (k->p.at[i] > keep && i > 0) { /* between two nodes: split to begin with */
        double part = (keep - k->p.at[i - 1]) / (k->p.at[i] - k->p.at[i - 1]);
        law[i - 1] += chance * (1 - part);
        carry = part;
        double next = cw_keep_below(k, season, left - k->p.at[i]);
        if (k->p.at[i] <= upto) {
            double risen = (below - next) / (k->p.at[i] - k->p.at[i - 1]);
            law[i - 1] -= chance * risen;
            carry += risen;
        }
        at = k->p.at[i];
        below = next;
    }
    for (; i + 1 < k->p.n && k->p.at[i + 1] <= upto && left > at; i++) {
        double next = cw_keep_below(k, season, left - k->p.at[i + 1]);
        double risen = (below - next) / (k->p.at[i + 1] - at);
        law[i] += chance * (carry - risen);
        carry = risen;
        at = k->p.at[i + 1];
        below = next;
    }
    law[i] += chance * carry;
}

typedef struct walk {
    cw_keeper *k;
    int season;
    double *planted; /* [p.n] law of what is planted */
    cw_keep_year *year;
} walk;

/* One number that may be there in a season. */
static void take(walk *w, double n, double chance, double keep, double upto)
{
    cw_keeper *k = w->k;
    double left = fmax(0, n - (double)k->ask.reserve), sale = fmax(0, left - keep);
    double unsold = cw_keep_below(k, w->season, sale);
    w->year->mean += chance * n;
    w->year->kept += chance * keep;
    w->year->sold += chance * (sale - unsold);
    w->year->met +=
        chance * (cw_keep_below(k, w->season, floor(sale) + 1) - cw_keep_below(k, w->season, floor(sale)));
    if (w->season < k->ask.seasons) {
        double most = k->p.at[k->p.n - 1];
        spread(k, w->season, chance, fmin(keep, most), fmin(fmax(keep, upto), most), fmax(left, keep),
               w->planted);
    }
}

static double quantile(const double *at, const double *chance, size_t n, double p)
{
    double run = 0;
    for (size_t i = 0; i < n; i++) {
        run += chance[i];
        if (run >= p)
            return floor(at[i] + 0.5);
    }
    return n > 0 ? floor(at[n - 1] + 0.5) : 0;
}

static void quantiles(const double *at, const double *chance, size_t n, cw_keep_year *out)
{
    out->q10 = quantile(at, chance, n, 0.10);
    out->q25 = quantile(at, chance, n, 0.25);
    out->q50 = quantile(at, chance, n, 0.50);
    out->q75 = quantile(at, chance, n, 0.75);
    out->q90 = quantile(at, chance, n, 0.90);
}

static void one_season(walk *w, const double *law, int64_t keep)
{
    cw_keeper *k = w->k;
    cw_keep_rules rules;
    int t = w->season;
    w->year->demand = k->law_mean[t];
    if (t == 0) {
        cw_keep_rule_from(k, 0, (double)keep, &rules.rule[0]);
        for (size_t a = 0; a < k->atoms; a++)
            take(w, k->atom[a], k->chance[a], fmin((double)keep, k->atom[a]), rules.rule[0].upto);
        return;
    }
    if (t < k->ask.seasons)
        cw_keep_rules_of(k, t, &rules);
    for (size_t j = 0; j < k->n.n; j++) {
        double n = k->n.at[j], kept = 0, upto = 0, value;
        if (law[j] <= 0)
            continue;
        if (t < k->ask.seasons)
            kept = cw_keep_choose(k, t, &rules, n, &upto, &value);
        take(w, n, law[j], kept, upto);
    }
}

/* Plants of a season, and the law of what they give. */
static void grow(walk *w, const cw_keep_move *move, double *law)
{
    const cw_keeper *k = w->k;
    memset(law, 0, k->n.n * sizeof *law);
    for (size_t i = 0; i < k->p.n; i++) {
        const cw_keep_row *row = &move->row[i];
        double chance = fmax(0, w->planted[i]);
        w->year->planted += chance * k->p.at[i];
        for (size_t j = 0; j < row->count; j++)
            law[row->from + j] += chance * (double)move->weight[row->at + j];
    }
}

cw_code cw_keeper_years(cw_keeper *k, int64_t keep, cw_keep_year *out, cw_error *err)
{
    cw_keep_move move = { 0 };
    double *law = calloc(k->n.n, sizeof *law), *planted = calloc(k->p.n, sizeof *planted);
    cw_code code =
        law && planted ? cw_keep_move_make(&k->ask, &k->p, &k->n, true, &move, err) : cw_error_memory(err);
    if (code == CW_OK) {
        cw_keep_solve(k);
        keep = keep > cw_keep_most(k) ? cw_keep_most(k) : keep;
        for (int t = 0; t <= k->ask.seasons; t++) {
            walk w = { k, t, planted, &out[t] };
            out[t] = (cw_keep_year){ 0 };
            memset(planted, 0, k->p.n * sizeof *planted);
            if (t == 0)
                quantiles(k->atom, k->chance, k->atoms, &out[t]);
            else
                quantiles(k->n.at, law, k->n.n, &out[t]);
            one_season(&w, law, keep);
            if (t < k->ask.seasons)
                grow(&w, &move, law);
        }
    }
    cw_keep_move_free(&move);
    free(law);
    free(planted);
    return code;
}

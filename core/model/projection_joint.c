/* SPDX-License-Identifier: MIT */
#include "model/projection_inner.h"

#include "base/parallel.h"
#include "base/rng.h"
#include "model/sampler.h"
#include "model/special.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

/* The draws are tied together by normal scores: a variety's score is a sum over the shared factors z, each
 * times how far S moves with it (slope of S times loading, in standard deviations of S), plus an own part;
 * its value is the quantile of its own law at that score. So every law is kept as it is, and varieties move
 * together as far as the shared factors move them. */

#define SEED 0x5eed0fca7a10905ULL
#define MOST_SHARE                                                                                           \
    0.98 /* of a score's variance that may be shared: rounding must not make it more than all */

struct cw_joint {
    size_t draws, varieties;
    int32_t *value; /* [varieties * draws] */
};

typedef struct work {
    const cw_projection *p;
    const cw_distribution *laws;
    const double *z; /* [draws * factors]: those of rate, clump rot, division rot in turn */
    size_t factors;
    double *pull; /* [varieties * factors] */
    cw_joint *joint;
} work;

static size_t factors_of(const cw_latent *l)
{
    return l == NULL ? 0 : l->shared;
}

/* pull = E(slope) * mean loading / sd of S, by side. Returns the share of the variance that they carry. */
static double pulls(const work *w, size_t variety, const nodes *n, double sd, double *pull)
{
    double share = 0.0;
    size_t at = 0;
    for (int s = RATE; s <= DIVISION_ROT; s++) {
        const cw_latent *l = w->p->on[0].side[s].known;
        double slope = 0.0;
        for (size_t j = 0; j < n->count; j++)
            slope += n->weight[j] * n->slope[s][j];
        for (size_t k = 0; k < factors_of(l); k++, at++) {
            double loading = 0.0;
            for (size_t i = 0; i < l->points; i++)
                loading += l->point[i].weight * l->point[i].loading[variety * l->shared + k];
            pull[at] = slope * loading / sd;
            share += pull[at] * pull[at];
        }
    }
    return share;
}

static void draw_variety(void *context, unsigned worker, size_t v)
{
    (void)worker;
    work *w = context;
    const cw_distribution *law = &w->laws[v];
    int32_t *value = w->joint->value + v * w->joint->draws;
    double *pull = w->pull + v * w->factors, share = 0.0;
    if (law->variance > 0.0) {
        nodes n;
        cohorts c = cw_projection_cohorts(w->p, v);
        cw_projection_nodes(w->p, &c, &n);
        share = pulls(w, v, &n, sqrt(law->variance), pull);
    }
    double scale = share > MOST_SHARE ? sqrt(MOST_SHARE / share) : 1.0;
    double own = sqrt(1.0 - scale * scale * share);
    cw_rng r;
    cw_rng_init(&r, SEED, v + 1);
    for (size_t d = 0; d < w->joint->draws; d++) {
        double score = 0.0;
        for (size_t k = 0; k < w->factors; k++)
            score += pull[k] * w->z[d * w->factors + k];
        score = scale * score + own * cw_draw_normal(&r);
        double u = fmin(fmax(cw_normal_p(score), 1e-12), 1.0 - 1e-12);
        value[d] = (int32_t)cw_distribution_quantile(law, u);
    }
}

cw_code cw_joint_new(const cw_projection *p, const cw_distribution *laws, size_t draws, unsigned threads,
                     cw_joint **out, cw_error *err)
{
    *out = NULL;
    cw_code code = CW_OK;
    work w = { .p = p, .laws = laws };
    w.factors = factors_of(p->in.rate) + factors_of(p->in.clump_rot) + factors_of(p->in.division_rot);
    double *z = malloc((draws * w.factors + 1) * sizeof *z);
    w.pull = calloc(p->in.varieties * w.factors + 1, sizeof *w.pull);
    cw_joint *j = calloc(1, sizeof *j);
    if (j != NULL)
        j->value = malloc((p->in.varieties * draws + 1) * sizeof *j->value);
    if (z == NULL || w.pull == NULL || j == NULL || j->value == NULL) {
        code = cw_error_memory(err);
        goto done;
    }
    j->draws = draws;
    j->varieties = p->in.varieties;
    cw_rng r;
    cw_rng_init(&r, SEED, 0);
    for (size_t i = 0; i < draws * w.factors; i++)
        z[i] = cw_draw_normal(&r);
    w.z = z;
    w.joint = j;
    cw_parallel_for(threads, p->in.varieties, draw_variety, &w);
    *out = j;
    j = NULL;
done:
    cw_joint_free(j);
    free(w.pull);
    free(z);
    return code;
}

void cw_joint_free(cw_joint *j)
{
    if (j == NULL)
        return;
    free(j->value);
    free(j);
}

size_t cw_joint_draws(const cw_joint *j)
{
    return j->draws;
}

int64_t cw_joint_value(const cw_joint *j, size_t draw, size_t variety)
{
    return j->value[variety * j->draws + draw];
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static cw_spread spread_of(double *x, size_t n)
{
    cw_spread s = { 0 };
    double *at[] = { &s.q05, &s.q10, &s.q25, &s.q50, &s.q75, &s.q90, &s.q95 };
    static const double p[] = { 0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95 };
    qsort(x, n, sizeof *x, ascending);
    for (size_t i = 0; i < n; i++)
        s.mean += x[i] / (double)n;
    for (size_t i = 0; i < sizeof p / sizeof p[0]; i++)
        *at[i] = x[(size_t)(p[i] * (double)(n - 1) + 0.5)];
    return s;
}

cw_code cw_joint_sum(const cw_joint *j, const int64_t *withheld, const int64_t *promised, const double *value,
                     cw_joint_totals *out, cw_error *err)
{
    double *sums = calloc(4 * j->draws + 1, sizeof *sums);
    if (sums == NULL)
        return cw_error_memory(err);
    double *saleable = sums, *shorts = sums + j->draws, *unsold = shorts + j->draws,
           *refunds = unsold + j->draws;
    for (size_t v = 0; v < j->varieties; v++) {
        for (size_t d = 0; d < j->draws; d++) {
            int64_t s = cw_joint_value(j, d, v) - withheld[v];
            s = s > 0 ? s : 0;
            int64_t lacking = promised[v] > s ? promised[v] - s : 0;
            saleable[d] += (double)s;
            shorts[d] += (double)lacking;
            unsold[d] += (double)(s > promised[v] ? s - promised[v] : 0);
            refunds[d] += value != NULL ? value[v] * (double)lacking : 0.0;
        }
    }
    out->saleable = spread_of(saleable, j->draws);
    out->shorts = spread_of(shorts, j->draws);
    out->unsold = spread_of(unsold, j->draws);
    out->refunds = spread_of(refunds, j->draws);
    free(sums);
    return CW_OK;
}

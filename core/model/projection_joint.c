/* SPDX-License-Identifier: MIT */
#include "model/projection_inside.h"

#include "base/parallel.h"
#include "base/rng.h"
#include "model/linear.h"
#include "model/sampler.h"
#include "model/special.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

/* The draws are tied together by normal scores. For each draw a point of each latent's mixture is chosen, the same for all
 * varieties, and shared factors z are drawn; a variety's score is the sum of
 *     its mean at the point against its mean over the mixture, with what the point says of its cohorts,
 *     its loadings there times z,
 *     what its two hazards share through the season, and what all drying shares,
 * each times how far S moves with it, in standard deviations of S; and of an own part. Its value is the quantile of its own
 * law at that score. So every law is kept as it is, and varieties move together as far as what they have in common moves
 * them, the doubt about the hyper-parameters included. */

#define SEED 0x5eed0fca7a10905ULL
#define MOST_SHARE                                                                                           \
    0.98         /* of a score's variance that may be shared: rounding must not make it more than all */
#define COMMON 2 /* factors of all: the season's tie of the hazards, drying */
enum { TIE, DRY };

struct cw_joint {
    size_t draws, varieties;
    int32_t *value; /* [varieties * draws] */
};

/* What is drawn once for all varieties. */
typedef struct common {
    size_t point[LATENT_SIDES];
    double all[COMMON];
} common;

typedef struct work {
    const cw_projection *p;
    const cw_distribution *laws;
    const common *drawn; /* [draws] */
    const double *z;     /* [draws * factors]: those of rate, clump rot, division rot in turn */
    size_t factors, pulls;
    double *pull[16]; /* a worker's: of each side, its points' shifts, then their loadings */
    cw_joint *joint;
} work;

static size_t factors_of(const cw_latent *l)
{
    return l == NULL ? 0 : l->shared;
}

static double slope_of(const nodes *n, int side_of)
{
    double slope = 0.0;
    for (size_t j = 0; j < n->count; j++)
        slope += n->weight[j] * n->slope[side_of][j];
    return slope;
}

/* One side's shifts and loadings at each point, times the slopes in standard deviations (`whole` for a shift, which moves
 * all lots alike). Returns the share of the variance that they carry. */
static double side_pulls(const cw_latent *l, size_t variety, double slope, double whole, const double *shift,
                         double *pull)
{
    double *loading = pull + l->points, share = 0.0;
    for (size_t i = 0; i < l->points; i++) {
        const cw_latent_point *at = &l->point[i];
        pull[i] = i < ROOM ? whole * shift[i] : 0.0;
        share += at->weight * pull[i] * pull[i];
        for (size_t k = 0; k < l->shared; k++, loading++) {
            *loading = slope * at->loading[variety * l->shared + k];
            share += at->weight * *loading * *loading;
        }
    }
    return share;
}

/* How S moves with the drying that all lots have in common: the slope of the node means along its axis. */
static double drying_pull(const cw_projection *p, const cohorts *c, const nodes *n)
{
    double product = 0.0, square = 0.0, common_part = 0.0, count = 0.0;
    for (size_t j = 0; j < n->count; j++) {
        double z = n->on->side[DRYING].z[j];
        product += n->weight[j] * z * n->k1[j];
        square += n->weight[j] * z * z;
    }
    if (p->in.shrink == NULL || square <= 0.0)
        return 0.0;
    for (size_t i = 0; i < c->n; i++) {
        common_part +=
            (double)c->at[i].count * cw_shrink_common(p->in.shrink, c->at[i].lot, c->at[i].to_pa_days);
        count += (double)c->at[i].count;
    }
    return product / square * sqrt(common_part / count);
}

/* All of a variety's pulls, into the worker's room and all[]; the share of the variance that they carry. */
static double pulls(const work *w, size_t v, double *pull, double *all)
{
    nodes n;
    cohorts c = cw_projection_cohorts(w->p, v);
    double sd = sqrt(w->laws[v].variance), share = 0.0, slope[LATENT_SIDES];
    cw_projection_nodes(w->p, &c, &n);
    for (int s = RATE; s <= DIVISION_ROT; s++) {
        const cw_latent *l = w->p->on[0].side[s].known;
        slope[s] = slope_of(&n, s) / sd;
        if (l == NULL)
            continue;
        share += side_pulls(l, v, slope[s], n.whole[s] / sd, n.of.shift[s], pull);
        pull += l->points * (l->shared + 1);
    }
    all[TIE] = -sqrt(fmax(0.0, 2.0 * slope[CLUMP_ROT] * slope[DIVISION_ROT] * w->p->in.rot_tie));
    all[DRY] = drying_pull(w->p, &c, &n) / sd;
    return share + all[TIE] * all[TIE] + all[DRY] * all[DRY];
}

static double shared_score(const work *w, size_t draw, const double *pull, const double *all)
{
    const common *d = &w->drawn[draw];
    const double *z = w->z + draw * w->factors;
    double score = all[TIE] * d->all[TIE] + all[DRY] * d->all[DRY];
    for (int s = RATE; s <= DIVISION_ROT; s++) {
        const cw_latent *l = w->p->on[0].side[s].known;
        if (l == NULL)
            continue;
        score += pull[d->point[s]] + cw_dot(pull + l->points + d->point[s] * l->shared, z, l->shared);
        pull += l->points * (l->shared + 1);
        z += l->shared;
    }
    return score;
}

static void draw_variety(void *context, unsigned worker, size_t v)
{
    work *w = context;
    const cw_distribution *law = &w->laws[v];
    int32_t *value = w->joint->value + v * w->joint->draws;
    double *pull = w->pull[worker], all[COMMON], share = 0.0;
    if (law->variance > 0.0)
        share = pulls(w, v, pull, all);
    double scale = share > MOST_SHARE ? sqrt(MOST_SHARE / share) : 1.0;
    double own = sqrt(1.0 - scale * scale * share);
    cw_rng r;
    cw_rng_init(&r, SEED, v + 1);
    for (size_t d = 0; d < w->joint->draws; d++) {
        double score = law->variance > 0.0 ? scale * shared_score(w, d, pull, all) : 0.0;
        score += own * cw_draw_normal(&r);
        double u = fmin(fmax(cw_normal_p(score), 1e-12), 1.0 - 1e-12);
        value[d] = (int32_t)cw_distribution_quantile(law, u);
    }
}

/* The point of a mixture at a share u of its weight. */
static size_t point_at(const cw_latent *l, double u)
{
    size_t last = 0;
    for (size_t i = 0; l != NULL && i < l->points; i++) {
        if (l->point[i].weight <= 0.0)
            continue;
        last = i;
        u -= l->point[i].weight;
        if (u <= 0.0)
            break;
    }
    return last;
}

static void draw_common(const cw_projection *p, common *drawn, double *z, size_t draws, size_t factors)
{
    cw_rng r;
    cw_rng_init(&r, SEED, 0);
    for (size_t i = 0; i < draws * factors; i++)
        z[i] = cw_draw_normal(&r);
    for (size_t d = 0; d < draws; d++) {
        for (int s = RATE; s <= DIVISION_ROT; s++)
            drawn[d].point[s] = point_at(p->on[0].side[s].known, cw_rng_uniform(&r));
        for (int k = 0; k < COMMON; k++)
            drawn[d].all[k] = cw_draw_normal(&r);
    }
}

static size_t room_of(const cw_latent *l)
{
    return l == NULL ? 0 : l->points * (l->shared + 1);
}

cw_code cw_joint_new(const cw_projection *p, const cw_distribution *laws, size_t draws, unsigned threads,
                     cw_joint **out, cw_error *err)
{
    *out = NULL;
    cw_code code = CW_OK;
    work w = { .p = p, .laws = laws };
    unsigned workers = cw_parallel_workers(threads);
    size_t room = room_of(p->in.rate) + room_of(p->in.clump_rot) + room_of(p->in.division_rot) + 1;
    w.factors = factors_of(p->in.rate) + factors_of(p->in.clump_rot) + factors_of(p->in.division_rot);
    double *z = malloc((draws * w.factors + 1) * sizeof *z);
    common *drawn = malloc((draws + 1) * sizeof *drawn);
    cw_joint *j = calloc(1, sizeof *j);
    bool ok = z != NULL && drawn != NULL && j != NULL &&
              (j->value = malloc((p->in.varieties * draws + 1) * sizeof *j->value)) != NULL;
    for (unsigned i = 0; i < workers && ok; i++)
        ok = (w.pull[i] = malloc(room * sizeof(double))) != NULL;
    if (!ok) {
        code = cw_error_memory(err);
        goto done;
    }
    j->draws = draws;
    j->varieties = p->in.varieties;
    draw_common(p, drawn, z, draws, w.factors);
    w.z = z;
    w.drawn = drawn;
    w.joint = j;
    cw_parallel_for(threads, p->in.varieties, draw_variety, &w);
    *out = j;
    j = NULL;
done:
    for (unsigned i = 0; i < workers; i++)
        free(w.pull[i]);
    cw_joint_free(j);
    free(drawn);
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

/* SPDX-License-Identifier: MIT */
#include "model/projection_inside.h"

#include "base/parallel.h"
#include "base/rng.h"
#include "model/linear.h"
#include "model/sampler.h"
#include "model/special.h"
#include "model/wide.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* The draws are tied together by normal scores. For each draw a point of each latent's mixture is chosen, the same for all
 * varieties, and shared factors z are drawn; a variety's score is the sum of
 *     its mean at the point against its mean over the mixture, with what the point says of its cohorts,
 *     its loadings there times z,
 *     what its two hazards share through the season, and what all drying shares,
 * each times how far S moves with it, in standard deviations of S; and of an own part. Its value is the quantile of its own
 * law at that score. So every law is kept as it is, and varieties move together as far as what they have in common moves
 * them, the doubt about the hyper-parameters included. */

#define SEED      0x5eed0fca7a10905ULL
#define SQRT_HALF 0.707106781186547524400844362105
#define MOST_SHARE                                                                                           \
    0.98         /* of a score's variance that may be shared: rounding must not make it more than all */
#define COMMON 2 /* factors of all: the season's tie of the hazards, drying */
enum { TIE, DRY };

struct cw_joint {
    size_t draws, varieties;
    int32_t *value; /* [varieties * draws] */
};

/* What a side has in common in each draw. Draws of one point stand side by side, so that a variety's loadings there are
 * multiplied with whole rows; `draw` scatters them. Every factor is drawn in as many slices of equal chance as there are
 * draws (a Latin hypercube), so few draws do. */
typedef struct common {
    size_t *until; /* [points] end of each point's run of places */
    size_t *draw;  /* [draws] of each place */
    double *z;     /* [shared * draws] by place */
} common;

/* A worker's room. */
typedef struct bench {
    double *pull; /* of each side, its points' shifts, then their loadings */
    double *score, *part;
} bench;

#define WORKERS 16
#define NORMALS 4096 /* slices of the normal law that a variety's own part is drawn from */

typedef struct work {
    const cw_projection *p;
    const cw_distribution *laws;
    common side[LATENT_SIDES];
    double *all[COMMON]; /* [draws] */
    double normal[NORMALS];
    bench at[WORKERS];
    cw_joint *joint;
    const bool *kept; /* varieties whose draws are there already; NULL: of none */
    cw_go_on go_on;
} work;

/* One side's shifts and loadings at each point, times the slopes in standard deviations (`whole` for a shift, which moves
 * all lots alike). Returns the share of the variance that they carry. */
static double side_pulls(const cw_latent *l, size_t variety, double slope, double whole, const double *shift,
                         double *pull)
{
    double *loading = pull + l->points, share = 0.0;
    for (size_t i = 0; i < l->points; i++) {
        const cw_latent_point *at = &l->point[i];
        const double *has = cw_latent_loading(l, i, variety);
        pull[i] = i < ROOM ? whole * shift[i] : 0.0;
        share += at->weight * pull[i] * pull[i];
        for (size_t k = 0; k < l->shared; k++, loading++) {
            *loading = slope * has[k];
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

void cw_projection_moves(const cw_projection *p, const cohorts *c, const nodes *n, moves *out)
{
    *out = (moves){ .known = true, .dry = drying_pull(p, c, n) };
    for (int s = 0; s < LATENT_SIDES; s++) {
        for (size_t j = 0; j < n->count; j++)
            out->slope[s] += n->weight[j] * n->slope[s][j];
        out->whole[s] = n->whole[s];
    }
}

static moves moves_of(const cw_projection *p, size_t v, const cohorts *c)
{
    moves m = p->move[v];
    if (!m.known) { /* the laws were made one by one */
        nodes n;
        cw_projection_nodes(p, c, &n);
        cw_projection_moves(p, c, &n, &m);
    }
    return m;
}

/* All of a variety's pulls, into the worker's room and all[]; the share of the variance that they carry. */
static double pulls(const work *w, size_t v, double *pull, double *all)
{
    cohorts c = cw_projection_cohorts(w->p, v);
    moves m = moves_of(w->p, v, &c);
    leverage of;
    cw_projection_lean(w->p, &c, &of);
    double sd = sqrt(w->laws[v].variance), share = 0.0;
    for (int s = RATE; s <= DIVISION_ROT; s++) {
        const cw_latent *l = w->p->on[0].side[s].known;
        if (l == NULL)
            continue;
        share += side_pulls(l, v, m.slope[s] / sd, m.whole[s] / sd, of.shift[s], pull);
        pull += l->points * (l->shared + 1);
    }
    all[TIE] = -sqrt(fmax(0.0, 2.0 * m.slope[CLUMP_ROT] * m.slope[DIVISION_ROT] * w->p->in.rot_tie)) / sd;
    all[DRY] = m.dry / sd;
    return share + all[TIE] * all[TIE] + all[DRY] * all[DRY];
}

CW_WIDE static void add_times(size_t n, double by, const double *restrict x, double *restrict sum)
{
    for (size_t i = 0; i < n; i++)
        sum[i] += by * x[i];
}

/* What a side adds to the score of each draw. */
static void add_side(const cw_latent *l, const common *c, size_t draws, const double *pull, double scale,
                     double *part, double *score)
{
    const double *loading = pull + l->points;
    for (size_t i = 0, from = 0; i < l->points; from = c->until[i++]) {
        size_t n = c->until[i] - from;
        for (size_t d = from; d < from + n; d++)
            part[d] = scale * pull[i];
        for (size_t k = 0; n > 0 && k < l->shared; k++)
            add_times(n, scale * loading[i * l->shared + k], c->z + k * draws + from, part + from);
    }
    for (size_t d = 0; d < draws; d++)
        score[c->draw[d]] += part[d];
}

/* A variety's own part of each score. */
static void own_part(const work *w, size_t v, double sd, double *score)
{
    cw_rng r;
    uint32_t bits = 0;
    cw_rng_init(&r, SEED, v + 1);
    for (size_t d = 0; d < w->joint->draws; d++) {
        bits = d % 2 == 0 ? cw_rng_u32(&r) : bits >> 16;
        score[d] = sd * w->normal[bits % NORMALS];
    }
}

static void draw_variety(void *context, unsigned worker, size_t v)
{
    work *w = context;
    const cw_distribution *law = &w->laws[v];
    if ((w->kept != NULL && w->kept[v]) || !cw_wanted(w->go_on))
        return;
    size_t draws = w->joint->draws;
    int32_t *value = w->joint->value + v * draws;
    double *pull = w->at[worker].pull, *score = w->at[worker].score, *part = w->at[worker].part;
    double all[COMMON], share = law->variance > 0.0 ? pulls(w, v, pull, all) : 0.0;
    double scale = share > MOST_SHARE ? sqrt(MOST_SHARE / share) : 1.0;
    own_part(w, v, sqrt(1.0 - scale * scale * share), score);
    for (int k = 0; k < COMMON && law->variance > 0.0; k++)
        add_times(draws, scale * all[k], w->all[k], score);
    for (int s = RATE; s <= DIVISION_ROT && law->variance > 0.0; s++) {
        const cw_latent *l = w->p->on[0].side[s].known;
        if (l == NULL)
            continue;
        add_side(l, &w->side[s], draws, pull, scale, part, score);
        pull += l->points * (l->shared + 1);
    }
    for (size_t d = 0; d < draws; d++)
        score[d] *= -SQRT_HALF;
    cw_erfc_each(draws, score, part);
    for (size_t d = 0; d < draws; d++)
        part[d] = fmin(fmax(0.5 * part[d], 1e-12), 1.0 - 1e-12);
    cw_distribution_quantiles(law, draws, part, value);
}

/* Normal scores of n slices of equal chance, with variance 1. */
static void normal_scores(double *x, size_t n)
{
    double square = 0.0;
    for (size_t i = 0; i < n; i++) {
        x[i] = cw_normal_quantile(((double)i + 0.5) / (double)n);
        square += x[i] * x[i] / (double)n;
    }
    for (size_t i = 0; n > 1 && i < n; i++)
        x[i] /= sqrt(square);
}

static void shuffled(cw_rng *r, const double *from, size_t n, double *to)
{
    for (size_t i = 0; i < n; i++) {
        size_t k = cw_rng_below(r, (uint32_t)i + 1);
        to[i] = to[k];
        to[k] = from[i];
    }
}

/* Each point gets its share of the draws; they go to draws of no order. */
static void lay_side(const cw_latent *l, cw_rng *r, size_t draws, common *out)
{
    double run = 0.0;
    for (size_t i = 0; i < l->points; i++) {
        run += l->point[i].weight;
        size_t to = (size_t)(run * (double)draws + 0.5);
        out->until[i] = i + 1 == l->points || to > draws ? draws : to;
    }
    for (size_t i = l->points - 1; i > 0 && l->point[i].weight <= 0.0; i--)
        out->until[i - 1] = draws; /* what rounding left does not fall to a point of no weight */
    for (size_t d = 0; d < draws; d++) {
        size_t k = cw_rng_below(r, (uint32_t)d + 1);
        out->draw[d] = out->draw[k];
        out->draw[k] = d;
    }
}

static bool side_new(const cw_latent *l, size_t draws, common *out)
{
    out->until = calloc(l->points + 1, sizeof *out->until);
    out->draw = calloc(draws + 1, sizeof *out->draw);
    out->z = calloc(l->shared * draws + 1, sizeof *out->z);
    return out->until != NULL && out->draw != NULL && out->z != NULL;
}

static bool draw_common(work *w, size_t draws)
{
    double *scores = calloc(draws + 1, sizeof *scores);
    bool ok = scores != NULL;
    cw_rng r;
    cw_rng_init(&r, SEED, 0);
    if (ok)
        normal_scores(scores, draws);
    for (int k = 0; k < COMMON && ok; k++) {
        ok = (w->all[k] = calloc(draws + 1, sizeof(double))) != NULL;
        if (ok)
            shuffled(&r, scores, draws, w->all[k]);
    }
    for (int s = RATE; s <= DIVISION_ROT && ok; s++) {
        const cw_latent *l = w->p->on[0].side[s].known;
        if (l == NULL || l->points == 0)
            continue;
        ok = side_new(l, draws, &w->side[s]);
        if (ok)
            lay_side(l, &r, draws, &w->side[s]);
        for (size_t k = 0; ok && k < l->shared; k++)
            shuffled(&r, scores, draws, w->side[s].z + k * draws);
    }
    free(scores);
    normal_scores(w->normal, NORMALS);
    return ok;
}

static size_t room_of(const cw_latent *l)
{
    return l == NULL ? 0 : l->points * (l->shared + 1);
}

static bool bench_new(const cw_projection *p, size_t draws, bench *out)
{
    size_t room = room_of(p->in.rate) + room_of(p->in.clump_rot) + room_of(p->in.division_rot) + 1;
    out->pull = malloc(room * sizeof(double));
    out->score = malloc((draws + 1) * sizeof(double));
    out->part = malloc((draws + 1) * sizeof(double));
    return out->pull != NULL && out->score != NULL && out->part != NULL;
}

static void work_free(work *w)
{
    for (int i = 0; i < WORKERS; i++) {
        free(w->at[i].pull);
        free(w->at[i].score);
        free(w->at[i].part);
    }
    for (int s = 0; s < LATENT_SIDES; s++) {
        free(w->side[s].until);
        free(w->side[s].draw);
        free(w->side[s].z);
    }
    for (int k = 0; k < COMMON; k++)
        free(w->all[k]);
    free(w);
}

cw_code cw_joint_new(const cw_projection *p, const cw_distribution *laws, size_t draws, unsigned threads,
                     cw_go_on go_on, cw_joint **out, cw_error *err)
{
    return cw_joint_new_after(p, laws, NULL, NULL, draws, threads, go_on, out, err);
}

cw_code cw_joint_new_after(const cw_projection *p, const cw_distribution *laws, cw_joint *before,
                           const bool *kept, size_t draws, unsigned threads, cw_go_on go_on, cw_joint **out,
                           cw_error *err)
{
    *out = NULL;
    unsigned workers = cw_parallel_workers(threads);
    work *w = calloc(1, sizeof *w);
    cw_joint *j = calloc(1, sizeof *j);
    bool same = before != NULL && before->draws == draws && before->varieties == p->in.varieties;
    bool ok = w != NULL && j != NULL;
    if (ok && same) {
        j->value = before->value;
        before->value = NULL;
    }
    if (ok && j->value == NULL)
        ok = (j->value = malloc((p->in.varieties * draws + 1) * sizeof *j->value)) != NULL;
    if (ok) {
        j->draws = draws;
        j->varieties = p->in.varieties;
        w->p = p;
        w->laws = laws;
        w->kept = same ? kept : NULL;
        w->joint = j;
        w->go_on = go_on;
        ok = draw_common(w, draws);
    }
    for (unsigned i = 0; i < workers && ok; i++)
        ok = bench_new(p, draws, &w->at[i]);
    if (ok)
        cw_parallel_for(threads, p->in.varieties, draw_variety, w);
    bool wanted = cw_wanted(go_on);
    if (ok && wanted) {
        *out = j;
        j = NULL;
    }
    if (w != NULL)
        work_free(w);
    cw_joint_free(j);
    return !ok ? cw_error_memory(err) : wanted ? CW_OK : cw_given_up(err);
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

CW_WIDE static void above(size_t n, const int32_t *restrict value, double withheld, double *restrict out)
{
    for (size_t d = 0; d < n; d++) {
        double left = (double)value[d] - withheld;
        out[d] = left > 0 ? left : 0;
    }
}

void cw_joint_above(const cw_joint *j, size_t variety, int64_t withheld, double *out)
{
    above(j->draws, j->value + variety * j->draws, (double)withheld, out);
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

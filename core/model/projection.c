/* SPDX-License-Identifier: MIT */
#include "model/projection.h"

#include "base/parallel.h"
#include "model/projection_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

typedef struct sorted {
    size_t variety;
    cw_stock stock;
} sorted;

static int compare(double a, double b)
{
    return (a > b) - (a < b);
}

/* All clocks, so that the order of the rows never shows in the sums. */
static int by_place(const void *a, const void *b)
{
    const sorted *x = a, *y = b;
    if (x->variety != y->variety)
        return x->variety < y->variety ? -1 : 1;
    if (x->stock.lot != y->stock.lot)
        return x->stock.lot < y->stock.lot ? -1 : 1;
    if (x->stock.stage != y->stock.stage)
        return x->stock.stage < y->stock.stage ? -1 : 1;
    int c = compare(x->stock.clump_weeks, y->stock.clump_weeks);
    c = c != 0 ? c : compare(x->stock.division_weeks, y->stock.division_weeks);
    c = c != 0 ? c : compare(x->stock.from_pa_days, y->stock.from_pa_days);
    c = c != 0 ? c : compare(x->stock.to_pa_days, y->stock.to_pa_days);
    c = c != 0 ? c : compare(x->stock.clump_age, y->stock.clump_age);
    c = c != 0 ? c : compare(x->stock.division_age, y->stock.division_age);
    c = c != 0 ? c : compare(x->stock.cut, y->stock.cut);
    return c != 0 ? c : compare(x->stock.missing, y->stock.missing);
}

static cw_code check(const cw_projection_input *in, cw_error *err)
{
    if (in->rate == NULL || in->rate->units != in->varieties)
        return cw_error_set(err, CW_REFUSED, "projection: the division rate is not known for %zu varieties",
                            in->varieties);
    if ((in->clump_rot != NULL && in->clump_rot->units != in->varieties) ||
        (in->division_rot != NULL && in->division_rot->units != in->varieties))
        return cw_error_set(err, CW_REFUSED, "projection: rot is not known for %zu varieties", in->varieties);
    const cw_latent *known[] = { in->rate, in->clump_rot, in->division_rot };
    for (size_t i = 0; i < 3; i++) {
        if (known[i] != NULL && known[i]->lots != 0 && known[i]->lots != in->lots)
            return cw_error_set(err, CW_REFUSED, "projection: %zu lots are known, not %zu", known[i]->lots,
                                in->lots);
    }
    if (in->shrink != NULL && in->shrink->lots < in->lots) /* it may know lots of past seasons, too */
        return cw_error_set(err, CW_REFUSED, "projection: drying is known for %zu lots, not for %zu",
                            in->shrink->lots, in->lots);
    for (size_t i = 0; i < in->lots; i++) {
        if (in->lot_variety[i] >= in->varieties)
            return cw_error_set(err, CW_REFUSED, "projection: lot %zu is of no variety", i);
    }
    for (size_t i = 0; i < in->stocks; i++) {
        const cw_stock *s = &in->stock[i];
        if (s->lot >= in->lots || s->count < 0)
            return cw_error_set(err, CW_REFUSED,
                                "projection: row %zu of the stock has no lot or a negative count", i);
        if (!isfinite(s->clump_weeks + s->division_weeks + s->from_pa_days + s->to_pa_days + s->clump_age +
                      s->division_age + s->cut))
            return cw_error_set(err, CW_REFUSED,
                                "projection: row %zu of the stock has a clock that is no number", i);
    }
    return CW_OK;
}

/* A clock cannot run backwards: an overdue dividing or shipping day is today. */
static cw_stock tidy(cw_stock s)
{
    s.clump_weeks = s.stage == CW_CLUMP ? fmax(0.0, s.clump_weeks) : 0.0;
    s.division_weeks = fmax(0.0, s.division_weeks);
    if (s.stage == CW_DIVISION)
        s.clump_age = s.cut = s.missing = 0.0;
    s.clump_age = fmax(0.0, s.clump_age);
    s.division_age = s.stage == CW_DIVISION ? fmax(0.0, s.division_age) : 0.0;
    return s;
}

static void index_cohorts(cw_projection *p, sorted *row, size_t rows)
{
    qsort(row, rows, sizeof *row, by_place);
    size_t n = 0;
    for (size_t i = 0; i < rows; i++) {
        if (i > 0 && by_place(&row[i - 1], &row[i]) == 0)
            p->cohort[n - 1].count += row[i].stock.count;
        else
            p->cohort[n++] = row[i].stock;
    }
    size_t at = 0;
    for (size_t v = 0; v < p->in.varieties; v++) {
        p->variety_from[v] = at;
        while (at < n && p->in.lot_variety[p->cohort[at].lot] == v)
            at++;
    }
    p->variety_from[p->in.varieties] = at;
    for (size_t i = 0; i < n; i++) {
        size_t lot = p->cohort[i].lot;
        if (i == 0 || p->cohort[i - 1].lot != lot)
            p->lot_from[lot] = i;
        p->lot_to[lot] = i + 1;
    }
}

cw_code cw_projection_new(const cw_projection_input *in, cw_projection **out, cw_error *err)
{
    *out = NULL;
    cw_code code = check(in, err);
    if (code != CW_OK)
        return code;
    sorted *row = malloc((in->stocks + 1) * sizeof *row);
    cw_projection *p = calloc(1, sizeof *p);
    if (p != NULL) {
        p->cohort = malloc((in->stocks + 1) * sizeof *p->cohort);
        p->variety_from = calloc(in->varieties + 1 + 2 * in->lots, sizeof *p->variety_from);
        p->move = calloc(in->varieties + 1, sizeof *p->move);
    }
    if (row == NULL || p == NULL || p->cohort == NULL || p->variety_from == NULL || p->move == NULL) {
        code = cw_error_memory(err);
        goto done;
    }
    p->in = *in;
    p->lot_from = p->variety_from + in->varieties + 1;
    p->lot_to = p->lot_from + in->lots;
    size_t rows = 0;
    for (size_t i = 0; i < in->stocks; i++) {
        if (in->stock[i].count > 0)
            row[rows++] = (sorted){ in->lot_variety[in->stock[i].lot], tidy(in->stock[i]) };
    }
    index_cohorts(p, row, rows);
    cw_projection_lattice(p);
    if (!cw_projection_ages(p)) {
        code = cw_error_memory(err);
        goto done;
    }
    *out = p;
    p = NULL;
done:
    cw_projection_free(p);
    free(row);
    return code;
}

void cw_projection_free(cw_projection *p)
{
    if (p == NULL)
        return;
    for (int k = 0; k < LATENT_SIDES; k++) {
        free(p->ages[k].key);
        free(p->ages[k].factors);
    }
    free(p->variety_from);
    free(p->cohort);
    free(p->move);
    free(p);
}

static cohorts run_of(const cw_projection *p, size_t variety, size_t from, size_t to)
{
    return (cohorts){ .at = p->cohort + from,
                      .n = to - from,
                      .variety = variety,
                      .unknown = { 1.0, 1.0, 1.0, 1.0 },
                      .rot_clumps = true,
                      .rot_divisions = true,
                      .shrivel = true };
}

cohorts cw_projection_cohorts(const cw_projection *p, size_t variety)
{
    return run_of(p, variety, p->variety_from[variety], p->variety_from[variety + 1]);
}

void cw_projection_variety(const cw_projection *p, size_t variety, cw_distribution *out)
{
    cohorts c = cw_projection_cohorts(p, variety);
    cw_projection_law(p, &c, out, NULL);
}

void cw_projection_lot(const cw_projection *p, size_t lot, cw_distribution *out)
{
    cohorts c = run_of(p, p->in.lot_variety[lot], p->lot_from[lot], p->lot_to[lot]);
    cw_projection_law(p, &c, out, NULL);
}

typedef struct all {
    const cw_projection *p, *before; /* before: NULL if no law can be kept */
    const cw_distribution *were;
    cw_go_on go_on;
    cw_distribution *out;
    bool *kept;
} all;

static bool point_same(const cw_latent_point *a, const cw_latent_point *b)
{
    return a->weight == b->weight && a->dispersion == b->dispersion && a->lot_sd == b->lot_sd &&
           memcmp(a->tilt, b->tilt, sizeof a->tilt) == 0;
}

/* What all varieties hang on. */
static bool all_same(const cw_projection_input *a, const cw_projection_input *b)
{
    const cw_latent *known[2][LATENT_SIDES] = { { a->rate, a->clump_rot, a->division_rot },
                                                { b->rate, b->clump_rot, b->division_rot } };
    if (a->varieties != b->varieties || a->lots != b->lots || a->rot_tie != b->rot_tie ||
        a->shrink != b->shrink || (a->dead == NULL) != (b->dead == NULL))
        return false;
    for (int k = 0; k < LATENT_SIDES; k++) {
        const cw_latent *x = known[0][k], *y = known[1][k];
        if ((x == NULL) != (y == NULL))
            return false;
        if (x != NULL && (x->points != y->points || x->shared != y->shared || x->lots != y->lots))
            return false;
        for (size_t i = 0; x != NULL && i < x->points; i++)
            if (!point_same(&x->point[i], &y->point[i]))
                return false;
    }
    return true;
}

static double larger(double a, double b)
{
    return b > a ? b : a;
}

static double furthest(const double *a, const double *b, size_t n)
{
    double far = 0;
    for (size_t i = 0; i < n; i++)
        far = larger(far, fabs(a[i] - b[i]));
    return far;
}

/* How far the variety and its lots have moved on one side. */
static double side_moved(const cw_latent *a, const cw_latent *b, size_t v, const cohorts *c)
{
    double far = 0;
    for (size_t i = 0; a != NULL && a != b && i < a->points; i++) {
        const cw_latent_point *x = &a->point[i], *y = &b->point[i];
        if (x->weight <= 0)
            continue;
        const double *now = cw_latent_loading(a, i, v), *before = cw_latent_loading(b, i, v);
        far = larger(far, larger(fabs(x->mean[v] - y->mean[v]), fabs(x->own_sd[v] - y->own_sd[v])));
        far = now == before ? far : larger(far, furthest(now, before, a->shared));
        for (size_t k = 0; k < c->n && a->lots > 0; k++) {
            size_t lot = c->at[k].lot;
            far = larger(far, fabs(x->lot_mean[lot] - y->lot_mean[lot]));
            far = larger(far, fabs(x->lot_pull[lot] - y->lot_pull[lot]));
            far = larger(far, fabs(x->lot_own_sd[lot] - y->lot_own_sd[lot]));
        }
    }
    return far;
}

/* How far all that its law hangs on has moved; INFINITY if it has other cohorts. */
static double moved(const cw_projection *p, const cw_projection *before, size_t v)
{
    cohorts a = cw_projection_cohorts(p, v), b = cw_projection_cohorts(before, v);
    if (a.n != b.n)
        return INFINITY;
    double far = 0;
    for (size_t i = 0; i < a.n; i++) {
        sorted x = { v, a.at[i] }, y = { v, b.at[i] };
        if (by_place(&x, &y) != 0 || x.stock.count != y.stock.count)
            return INFINITY;
        if (p->in.dead != NULL)
            far = fmax(far, fabs(p->in.dead[a.at[i].lot] - before->in.dead[a.at[i].lot]));
    }
    far = fmax(far, side_moved(p->in.rate, before->in.rate, v, &a));
    far = fmax(far, side_moved(p->in.clump_rot, before->in.clump_rot, v, &a));
    return fmax(far, side_moved(p->in.division_rot, before->in.division_rot, v, &a));
}

static void one(void *context, unsigned worker, size_t i)
{
    (void)worker;
    all *a = context;
    cohorts c = cw_projection_cohorts(a->p, i);
    if (!cw_wanted(a->go_on))
        return;
    double since = a->before ? a->before->move[i].since + moved(a->p, a->before, i) : INFINITY;
    if (since <= CW_PROJECTION_STILL && (a->before->move[i].known || c.n == 0)) {
        a->out[i] = a->were[i];
        a->p->move[i] = a->before->move[i];
        a->p->move[i].since = since;
        a->kept[i] = true;
        return;
    }
    cw_projection_law(a->p, &c, &a->out[i], &a->p->move[i]);
}

void cw_projection_all(const cw_projection *p, unsigned threads, cw_distribution *out)
{
    (void)cw_projection_all_while(p, threads, (cw_go_on){ 0 }, out);
}

bool cw_projection_all_while(const cw_projection *p, unsigned threads, cw_go_on go_on, cw_distribution *out)
{
    return cw_projection_all_after(p, NULL, NULL, threads, go_on, out, NULL);
}

bool cw_projection_all_after(const cw_projection *p, const cw_projection *before, const cw_distribution *were,
                             unsigned threads, cw_go_on go_on, cw_distribution *out, bool *kept)
{
    all a = { p, before != NULL && all_same(&p->in, &before->in) ? before : NULL, were, go_on, out, kept };
    if (kept != NULL)
        memset(kept, 0, p->in.varieties * sizeof *kept);
    cw_parallel_for(threads, p->in.varieties, one, &a);
    return cw_wanted(go_on);
}

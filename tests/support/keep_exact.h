/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_KEEP_EXACT_H
#define CW_TESTS_SUPPORT_KEEP_EXACT_H

/* The programme of model/keep.h solved the long way: every whole number 0 .. n, every figure kept, every demand, no grid. Laws are
 * cut off at n and their tails put on n. It shares no code with the model but the chances of single counts. */
#include "base/rng.h"
#include "model/keep.h"
#include "model/special.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

typedef struct keep_case {
    const char *name;
    double demand, demand_disp, growth, sd, disp, margin, cost, discount;
    int seasons;
    int64_t reserve, beds;
    double s_mean, s_disp;
    int n;
    double later_demand; /* mean of D in later seasons; < 0: as now */
} keep_case;

typedef struct keep_exact {
    int n, plants;
    double *later; /* [n + 1] V of the next season */
    double *w;     /* [plants + 1] W of this one */
    double *s, *d; /* [n + 1] laws */
    double *move;  /* [(plants + 1) * (n + 1)] */
    keep_case of;
} keep_exact;

static double keep_chance(int k, double mean, double disp)
{
    if (mean <= 0)
        return k == 0;
    return disp > 1 ? cw_negbin_pmf(k, mean / (disp - 1), mean) : cw_poisson_pmf(k, mean);
}

static void keep_law(double *out, int n, double mean, double disp)
{
    double sum = 0;
    for (int k = 0; k < n; k++)
        sum += out[k] = keep_chance(k, mean, disp);
    out[n] = fmax(0, 1 - sum);
}

static void keep_moves(keep_exact *x)
{
    static const double at[] = { 0, 0.723551018752838, 1.468553289216668, 2.266580584531843,
                                 3.190993201781528 };
    static const double weight[] = { 0.7202352156060510, 0.4326515590025558, 0.08847452739437657,
                                     0.004943624275536947, 3.960697726326438e-05 };
    double *law = calloc((size_t)x->n + 1, sizeof *law), s = x->of.sd;
    if (law == NULL)
        abort();
    for (int p = 0; p <= x->plants; p++)
        for (int q = -4; q <= 4; q++) {
            if (s <= 0 && q != 0)
                continue;
            double e = s > 0 ? exp(-s * s / 2 + s * sqrt(2) * (q < 0 ? -at[-q] : at[q])) : 1;
            keep_law(law, x->n, x->of.growth * p * e, x->of.disp);
            for (int k = 0; k <= x->n; k++)
                x->move[p * (x->n + 1) + k] +=
                    (s > 0 ? weight[q < 0 ? -q : q] / 1.772453850905516 : 1) * law[k];
        }
    free(law);
}

/* What `keep` of N is worth: every demand in turn, the best planting of each by trying all. */
static double keep_of(const keep_exact *x, int have, int keep)
{
    int left = have - (int)x->of.reserve > 0 ? have - (int)x->of.reserve : 0;
    int sale = left > keep ? left - keep : 0;
    double sum = 0, best = x->w[keep];
    int tried = keep; /* W's best over keep .. tried; what is left grows as demand falls */
    for (int d = x->n; d >= 0; d--) {
        int sold = d < sale ? d : sale, most = keep + sale - sold;
        most = most < x->plants ? most : x->plants;
        while (tried < most)
            best = fmax(best, x->w[++tried]);
        sum += x->d[d] * (x->of.margin * sold + best);
    }
    return sum;
}

static void keep_exact_make(const keep_case *of, keep_exact *x)
{
    *x = (keep_exact){ .n = of->n, .of = *of };
    x->plants = of->beds < of->n ? (int)of->beds : of->n;
    size_t n = (size_t)of->n + 1, p = (size_t)x->plants + 1;
    x->later = calloc(n, sizeof(double));
    x->w = calloc(p, sizeof(double));
    x->s = calloc(n, sizeof(double));
    x->d = calloc(n, sizeof(double));
    x->move = calloc(n * p, sizeof(double));
    double *now = calloc(n, sizeof(double));
    if (!x->later || !x->w || !x->s || !x->d || !x->move || !now)
        abort();
    keep_moves(x);
    keep_law(x->s, x->n, of->s_mean, of->s_disp);
    keep_law(x->d, x->n, of->later_demand >= 0 ? of->later_demand : of->demand, of->demand_disp);
    for (int have = 0; have <= x->n; have++) {
        int left = have > of->reserve ? have - (int)of->reserve : 0;
        for (int d = 0; d <= x->n; d++)
            x->later[have] += x->d[d] * of->margin * (d < left ? d : left);
    }
    for (int t = of->seasons - 1; t >= 0; t--) {
        for (int plants = 0; plants <= x->plants; plants++) {
            double sum = 0;
            for (int k = 0; k <= x->n; k++)
                sum += x->move[plants * (x->n + 1) + k] * x->later[k];
            x->w[plants] = of->discount * sum - of->cost * plants;
        }
        for (int have = 0; t > 0 && have <= x->n; have++) {
            now[have] = -INFINITY;
            for (int keep = 0; keep <= have && keep <= x->plants; keep++)
                now[have] = fmax(now[have], keep_of(x, have, keep));
        }
        for (int have = 0; t > 0 && have <= x->n; have++)
            x->later[have] = now[have];
    }
    keep_law(x->d, x->n, of->demand, of->demand_disp);
    free(now);
}

static double keep_exact_value(const keep_exact *x, int keep)
{
    double sum = 0;
    keep = keep < x->plants ? keep : x->plants;
    for (int have = 0; have <= x->n; have++)
        if (x->s[have] > 0)
            sum += x->s[have] * keep_of(x, have, keep < have ? keep : have);
    return sum;
}

static int keep_exact_best(const keep_exact *x)
{
    int best = 0;
    double value = -INFINITY;
    for (int keep = 0; keep <= x->plants; keep++) {
        double v = keep_exact_value(x, keep);
        if (v > value + 1e-9) {
            value = v;
            best = keep;
        }
    }
    return best;
}

static void keep_exact_free(keep_exact *x)
{
    free(x->later);
    free(x->w);
    free(x->s);
    free(x->d);
    free(x->move);
}

/* The same case for the model; `laws` holds what it points to. */
typedef struct keep_laws {
    cw_distribution sound, demand, later;
    const cw_distribution *year[CW_KEEP_SEASONS + 1];
} keep_laws;

static void keep_count_law(double mean, double disp, cw_distribution *out)
{
    if (mean <= 0) {
        cw_distribution_point(out, 0);
        return;
    }
    int n = (int)(mean + 12 * sqrt(mean * disp) + 12 * disp + 20);
    double *pmf = calloc((size_t)n + 1, sizeof *pmf);
    if (pmf == NULL)
        abort();
    for (int k = 0; k <= n; k++)
        pmf[k] = keep_chance(k, mean, disp);
    cw_distribution_from_pmf(out, 0, pmf, (size_t)n + 1);
    free(pmf);
}

static cw_keep_ask keep_ask_of(const keep_case *c, keep_laws *laws)
{
    keep_count_law(c->s_mean, c->s_disp, &laws->sound);
    keep_count_law(c->demand, c->demand_disp, &laws->demand);
    keep_count_law(c->later_demand >= 0 ? c->later_demand : c->demand, c->demand_disp, &laws->later);
    for (int t = 0; t <= c->seasons; t++)
        laws->year[t] = t > 0 && c->later_demand >= 0 ? &laws->later : &laws->demand;
    return (cw_keep_ask){ .sound = &laws->sound,
                          .demand = laws->year,
                          .seasons = c->seasons,
                          .growth = c->growth,
                          .growth_sd = c->sd,
                          .growth_dispersion = c->disp,
                          .margin = c->margin,
                          .cost = c->cost,
                          .discount = c->discount,
                          .reserve = c->reserve,
                          .places = c->beds };
}

#endif

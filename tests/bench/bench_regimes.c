/* SPDX-License-Identifier: MIT */
/* Does the projection keep its promise where data are not a random sample? Prints "regime_figure value unit"; with an
 * argument, only regimes whose name begins with it; a number after that: only every so manieth world; another: so many worlds
 * of each instead of its own count (0: its own); a fourth: the first world's seed instead of the regime's own. "_se" is the
 * standard error of the figure before it, over worlds: what a world's varieties share makes them no sample of their own. */
#include "bench/knower.h"
#include "bench/regimes.h"

#include "model/score.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define GAIN 6.0  /* what a division that is sold leaves */
#define LOSS 24.0 /* what one that was promised and lacks costs: the best promise is the 20 % quantile */
#define RULE 0.8  /* the rule of thumb: so much of the mean is promised */

/* Confidences at which the promise is held against that of one who knows how much things differ. */
#define SURES 5
static const double sure[SURES] = { 0.6, 0.7, 0.8, 0.9, 0.95 };

/* A ratio of sums over worlds; its standard error by the distances of the worlds' parts from it. */
typedef struct ratio {
    double up, down, up2, both, down2;
} ratio;

static void ratio_add(ratio *r, double up, double down)
{
    r->up += up;
    r->down += down;
    r->up2 += up * up;
    r->both += up * down;
    r->down2 += down * down;
}

static double ratio_of(const ratio *r)
{
    return r->up / r->down;
}

static double ratio_error(const ratio *r)
{
    double of = ratio_of(r);
    return sqrt(fmax(0.0, r->up2 - 2.0 * of * r->both + of * of * r->down2)) / r->down;
}

/* What is held against the laws of one who projects: us, or the knower. */
typedef struct account {
    ratio cover, shorts;     /* shorts: divisions short when the 10 % quantile is promised, came / expected */
    ratio total, total_off2; /* squared distance of a total from its mean, in its own standard deviations */
    double below05, below10, above90, above95;
} account;

typedef struct sums {
    cw_scores scores;
    account ours, knower;
    size_t worlds;
    double profit, best;                /* of the promise that seems best; of one that knows what will come */
    double by_rule;                     /* of the rule of thumb */
    size_t ahead;                       /* worlds in which the promise earned more than the rule */
    double earned[SURES], could[SURES]; /* at each confidence, by us and by the knower */
} sums;

static int fail(const cw_error *err)
{
    char line[1024];
    cw_error_line(err, line, sizeof line);
    fprintf(stderr, "bench_regimes: %s\n", line);
    return 3;
}

/* A nursery's total against its 10 % and 90 % points. */
static cw_code total(const cw_world *w, const cw_projection *p, const cw_distribution *law, account *a,
                     cw_error *err)
{
    cw_joint *joint = NULL;
    cw_joint_totals t;
    int64_t came = 0, zero[1500] = { 0 };
    cw_code code = cw_joint_new(p, law, 1000, 1, (cw_go_on){ 0 }, &joint, err);
    if (code == CW_OK)
        code = cw_joint_sum(joint, zero, zero, NULL, &t, err);
    cw_joint_free(joint);
    if (code != CW_OK)
        return code;
    for (size_t v = 0; v < w->varieties; v++)
        came += w->came[v];
    ratio_add(&a->total, (double)came >= t.saleable.q10 && (double)came <= t.saleable.q90, 1.0);
    double off = ((double)came - t.saleable.mean) / ((t.saleable.q90 - t.saleable.q10) / 2.5631);
    ratio_add(&a->total_off2, off * off, 1.0);
    return CW_OK;
}

static cw_code hold_against(const cw_world *w, const cw_projection *p, const cw_distribution *law, account *a,
                            cw_error *err)
{
    cw_scores here = { 0 };
    double expected = 0.0, came = 0.0;
    for (size_t v = 0; v < w->varieties; v++) {
        int64_t safe = cw_distribution_quantile(&law[v], 0.1);
        cw_scores_add(&here, &law[v], w->came[v]);
        expected += cw_distribution_short_of(&law[v], safe);
        came += fmax(0.0, (double)(safe - w->came[v]));
    }
    ratio_add(&a->cover, here.cover80, (double)here.count);
    ratio_add(&a->shorts, came, expected);
    a->below05 += here.below05;
    a->below10 += here.below10;
    a->above90 += here.above90;
    a->above95 += here.above95;
    return total(w, p, law, a, err);
}

static double profit_of(double promise, double came)
{
    return GAIN * fmin(promise, came) - LOSS * fmax(0.0, promise - came);
}

/* One division more earns 1, one that lacks costs what makes this confidence the best. */
static double earns(const cw_distribution *law, double confidence, double came)
{
    double promise = (double)cw_distribution_quantile(law, 1 - confidence),
           cost = confidence / (1 - confidence);
    return fmin(promise, came) - cost * fmax(0.0, promise - came);
}

static cw_code against_knower(const cw_world *w, const cw_regime *r, const cw_fitted *fit, sums *s,
                              cw_error *err)
{
    cw_knower knower;
    cw_code code = cw_knower_fit(w, r, fit->learned.shrink, &knower, err);
    for (size_t v = 0; v < w->varieties && code == CW_OK; v++)
        for (int k = 0; k < SURES; k++) {
            s->earned[k] += earns(&fit->law[v], sure[k], (double)w->came[v]);
            s->could[k] += earns(&knower.law[v], sure[k], (double)w->came[v]);
        }
    if (code == CW_OK)
        code = hold_against(w, knower.projection, knower.law, &s->knower, err);
    cw_knower_free(&knower);
    return code;
}

static void add(const cw_world *w, const cw_fitted *fit, sums *s)
{
    double ours = 0.0, rule = 0.0;
    for (size_t v = 0; v < w->varieties; v++) {
        const cw_distribution *law = &fit->law[v];
        double came = (double)w->came[v];
        double promise = (double)cw_distribution_quantile(law, LOSS > 0 ? GAIN / (GAIN + LOSS) : 0.5);
        cw_scores_add(&s->scores, law, w->came[v]);
        ours += profit_of(promise, came);
        rule += profit_of(floor(RULE * law->mean), came);
        s->best += GAIN * came;
    }
    s->profit += ours;
    s->by_rule += rule;
    s->ahead += ours >= rule;
    s->worlds++;
}

static void tell_account(const char *name, const char *whose, const account *a)
{
    double n = a->cover.down;
    printf("%s%s_cover80 %.3f share\n%s%s_cover80_se %.3f\n", name, whose, ratio_of(&a->cover), name, whose,
           ratio_error(&a->cover));
    printf("%s%s_tails %.3f %.3f %.3f %.3f shares below 5 %%, 10 %%, above 90 %%, 95 %%\n", name, whose,
           a->below05 / n, a->below10 / n, a->above90 / n, a->above95 / n);
    printf("%s%s_shorts %.3f came / expected\n%s%s_shorts_se %.3f\n", name, whose, ratio_of(&a->shorts), name,
           whose, ratio_error(&a->shorts));
    printf("%s%s_total_cover80 %.3f share\n%s%s_total_cover80_se %.3f\n%s%s_total_off %.2f of its own sd\n",
           name, whose, ratio_of(&a->total), name, whose, ratio_error(&a->total), name, whose,
           sqrt(ratio_of(&a->total_off2)));
}

static void tell(const char *name, const sums *s)
{
    tell_account(name, "", &s->ours);
    tell_account(name, "_knower", &s->knower);
    printf("%s_loss %.3f %% of mean\n%s_bias %.1f %%\n%s_profit %.2f %% of all known\n", name,
           100 * cw_scores_loss(&s->scores), name, 100 * (s->scores.projected / s->scores.came - 1), name,
           100 * s->profit / s->best);
    printf("%s_rule_of_thumb %.2f %% of all known\n%s_ahead %.2f of worlds\n", name,
           100 * s->by_rule / s->best, name, (double)s->ahead / (double)s->worlds);
    for (int k = 0; k < SURES; k++)
        printf("%s_of_knower_at_%g %.3f of its profit\n", name, 100 * sure[k], s->earned[k] / s->could[k]);
    fflush(stdout);
}

static int run(const cw_regime *r, uint64_t seed, size_t few, size_t worlds)
{
    sums s = { 0 };
    for (size_t i = 0; i < worlds; i += few) {
        cw_world w;
        cw_fitted fit = { 0 };
        cw_error err = CW_ERROR_NONE;
        if (!cw_regime_make(r, seed + i, &w))
            return 3;
        if (cw_world_fit(&w, 1, &fit, &err) != CW_OK ||
            hold_against(&w, fit.projection, fit.law, &s.ours, &err) != CW_OK ||
            against_knower(&w, r, &fit, &s, &err) != CW_OK)
            return fail(&err);
        add(&w, &fit, &s);
        cw_fitted_free(&fit);
        cw_world_free(&w);
    }
    tell(r->name, &s);
    return 0;
}

int main(int argc, char **argv)
{
    size_t few = argc > 2 ? strtoul(argv[2], NULL, 10) : 1,
           worlds = argc > 3 ? strtoul(argv[3], NULL, 10) : 0;
    uint64_t seed = argc > 4 ? strtoull(argv[4], NULL, 10) : 0;
    for (size_t i = 0; i < cw_regimes_count; i++) {
        const cw_regime *r = &cw_regimes[i];
        if (argc > 1 && strncmp(r->name, argv[1], strlen(argv[1])) != 0)
            continue;
        int status =
            run(r, seed > 0 ? seed : 41000 + 1000 * i, few > 1 ? few : 1, worlds > 0 ? worlds : r->worlds);
        if (status != 0)
            return status;
    }
    return 0;
}

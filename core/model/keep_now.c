/* SPDX-License-Identifier: MIT */
/* This spring: what each figure kept is worth, the best one, and how flat the top is. */
#include "model/keep_inside.h"

#include <math.h>

#include "base/banned.h"

#define NO_MATTER 1e-9  /* relative: what differs by so little is the same */
#define NEAR      0.005 /* a figure within this share of the best value is as good as the best */
#define FEW       20    /* figures about a reserve that are tried one by one */

double cw_keep_mean_after(const cw_keeper *k, double p)
{
    double sum = 0;
    for (size_t a = k->atoms; a-- > 0;) {
        double left = k->atom[a] - (double)k->ask.reserve - p;
        if (left <= 0)
            break;
        sum += k->chance[a] * cw_keep_below(k, 0, left);
    }
    return sum;
}

int64_t cw_keep_most(const cw_keeper *k)
{
    return k->ask.retired ? 0 : k->ask.places;
}

/* What is left unsold beyond `keep` and worth planting: a rule as in keep_inside.h, its expectations at the nodes made before. */
static double left_over(const cw_keeper *k, double keep, double after_keep, double *upto)
{
    const double *w = k->w;
    double at = keep, after = after_keep, sum = 0, top = cw_keep_worth(k, 0, keep);
    *upto = keep;
    for (size_t i = 0; i < k->p.n; i++) {
        if (k->p.at[i] <= keep)
            continue;
        if (w[i] > top) {
            sum += (w[i] - top) * (after - k->after[i]) / (k->p.at[i] - at);
            top = w[i];
            *upto = k->p.at[i];
        }
        at = k->p.at[i];
        after = k->after[i];
    }
    return sum;
}

void cw_keeper_view(cw_keeper *k, int64_t keep, cw_keep_view *out)
{
    cw_keep_solve(k);
    keep = keep > cw_keep_most(k) ? cw_keep_most(k) : keep;
    double figure = (double)keep, after = cw_keep_mean_after(k, figure), upto;
    *out = (cw_keep_view){ .keep = keep, .value = left_over(k, figure, after, &upto) };
    double worth = cw_keep_worth(k, 0, figure);
    for (size_t a = 0; a < k->atoms; a++) {
        bool fewer = k->atom[a] < figure;
        out->value += k->chance[a] * (fewer ? k->atom_worth[a] : worth);
        out->kept += k->chance[a] * (fewer ? k->atom[a] : figure);
        out->for_sale += k->chance[a] * fmax(0, k->atom[a] - (double)k->ask.reserve - figure);
    }
    out->sold = out->for_sale - after;
    out->value += k->ask.margin * out->sold;
    out->planted = out->kept + after - (upto > figure ? cw_keep_mean_after(k, upto) : after);
}

static double value_of(cw_keeper *k, int64_t keep)
{
    cw_keep_view view;
    cw_keeper_view(k, keep, &view);
    return view.value;
}

/* Goes to another figure if that is worth more. */
static bool better(cw_keeper *k, cw_keep_view *best, int64_t other)
{
    cw_keep_view view;
    if (other == best->keep)
        return false;
    cw_keeper_view(k, other, &view);
    if (!(view.value > best->value + NO_MATTER * fabs(best->value)))
        return false;
    *best = view;
    return true;
}

/* Up or down as long as the value rises, in growing steps, then closer. Where there is far more than can be sold nothing depends on
 * the figure: it stays. */
static void climb(cw_keeper *k, int64_t way, int64_t least, int64_t most, cw_keep_view *best)
{
    for (int64_t step = 1; step > 0;) {
        int64_t next = best->keep + way * step;
        bool risen = next >= least && next <= most && better(k, best, next);
        step = risen ? step * 2 : step / 2;
    }
}

void cw_keep_best_now(cw_keeper *k, cw_keep_view *out)
{
    cw_keep_rules rules;
    cw_keep_solve(k);
    cw_keep_rules_of(k, 0, &rules);
    int64_t most = cw_keep_most(k), least = k->ask.floor < most ? k->ask.floor : most;
    cw_keeper_view(k, (int64_t)rules.rule[0].keep, out);
    for (size_t r = 0; r < rules.n && (rules.n > 1 || k->ask.reserve > 0); r++) {
        better(k, out, (int64_t)rules.rule[r].keep);
        if (k->ask.reserve > 0) /* the reserve planted as well */
            better(k, out, (int64_t)rules.rule[r].upto);
    }
    if (k->ask.reserve > 0)
        for (int64_t few = least; few <= k->ask.reserve && few < least + FEW; few++) /* only refill it */
            better(k, out, few);
    for (int64_t was = -1; was != out->keep;) { /* a growing step may pass the top: then back */
        was = out->keep;
        climb(k, 1, least, most, out);
        climb(k, -1, least, most, out);
    }
}

/* The figure farthest from `from` that is still within NEAR; values fall on the way. */
static int64_t edge(cw_keeper *k, int64_t from, int64_t to, double enough)
{
    if (value_of(k, to) >= enough)
        return to;
    while (to - from > 1 || from - to > 1) {
        int64_t middle = from + (to - from) / 2;
        if (value_of(k, middle) >= enough)
            from = middle;
        else
            to = middle;
    }
    return from;
}

void cw_keeper_best(cw_keeper *k, cw_keep *out)
{
    cw_keep_view best;
    cw_keep_best_now(k, &best);
    cw_keep_best_about(k, best.keep, out);
}

void cw_keep_best_about(cw_keeper *k, int64_t keep, cw_keep *out)
{
    cw_keep_view more;
    double upto;
    int64_t most = cw_keep_most(k), last = cw_distribution_quantile(k->ask.sound, 0.99);
    int64_t least = k->ask.floor < keep ? k->ask.floor : keep;
    most = last < most ? last : most;
    most = most < keep ? keep : most;
    *out = (cw_keep){ 0 };
    cw_keeper_view(k, keep, &out->best);
    double enough = out->best.value - NEAR * fabs(out->best.value);
    out->low = edge(k, keep, least, enough);
    out->high = edge(k, keep, most, enough);
    left_over(k, (double)keep, cw_keep_mean_after(k, (double)keep), &upto);
    out->plant_up_to = (int64_t)upto;
    out->all = keep > 0 && cw_distribution_cdf(k->ask.sound, keep) >= 0.9;
    if (k->ask.typed >= 0)
        cw_keeper_view(k, k->ask.typed, &out->typed);
    cw_keeper_view(k, keep + 1, &more);
    out->one_more_costs = k->ask.margin * (out->best.sold - more.sold);
    out->one_more_brings = more.value - out->best.value + out->one_more_costs;
}

/* SPDX-License-Identifier: MIT */
#include "model/projection_inside.h"

#include "model/special.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define DIVIDE_MORE 10
#define CHECK_MORE  20
#define MOST_RUNS   64 /* cohorts of a variety that are looked at one by one for the next measurement */

static double mean_of(const cw_projection *p, const cohorts *c)
{
    nodes n;
    double mean = 0.0, variance = 0.0;
    cw_projection_nodes(p, c, &n);
    cw_projection_moments(&n, &mean, &variance);
    return mean;
}

/* Steps of the mean: losses put in one after the other. */
static void explain_mean(const cw_projection *p, cohorts c, cw_projection_why *out)
{
    c.rot_clumps = c.rot_divisions = c.shrivel = false;
    out->mean_if_all_sound = mean_of(p, &c);
    c.rot_clumps = true;
    out->mean_after_clump_rot = mean_of(p, &c);
    c.rot_divisions = true;
    out->mean_after_division_rot = mean_of(p, &c);
    c.shrivel = true;
    out->mean = mean_of(p, &c);
    if (out->mean_after_division_rot > 0.0)
        out->shrivelled = 1.0 - out->mean / out->mean_after_division_rot;
}

/* Each side alone: how far the mean of S moves when only that side is unknown; chance is what is left given
 * all. */
static void explain_variance(const cw_projection *p, const cohorts *c, cw_projection_why *out)
{
    nodes n;
    double mean = 0.0, parts[SIDES], sum = 0.0, chance = 0.0;
    cw_projection_nodes(p, c, &n);
    cw_projection_moments(&n, &mean, &out->variance);
    for (size_t j = 0; j < n.count; j++)
        chance += n.weight[j] * n.chance[j];
    for (int k = 0; k < SIDES; k++) {
        cohorts alone = *c;
        memset(alone.unknown, 0, sizeof alone.unknown);
        alone.unknown[k] = 1.0;
        cw_projection_nodes(p, &alone, &n);
        double m = 0.0, v = 0.0, own = 0.0;
        cw_projection_moments(&n, &m, &v);
        for (size_t j = 0; j < n.count; j++)
            own += n.weight[j] * n.chance[j];
        parts[k] = fmax(0.0, v - own);
        sum += parts[k];
    }
    double left = fmax(0.0, out->variance - chance), scale = sum > 0.0 ? left / sum : 0.0;
    out->variance_chance = out->variance - (sum > 0.0 ? left : 0.0);
    out->variance_rate = parts[RATE] * scale;
    out->variance_clump_rot = parts[CLUMP_ROT] * scale;
    out->variance_division_rot = parts[DIVISION_ROT] * scale;
    out->variance_shrink = parts[DRYING] * scale;
}

/* That lots may be dead: every step of the mean is lower by what is to be lost so, and the rest of the variance is chance. */
static void explain_dead(const cw_projection *p, const cohorts *c, cw_projection_why *out)
{
    cw_distribution law;
    if (p->in.dead == NULL || out->mean <= 0.0)
        return;
    cw_projection_law(p, c, &law, NULL);
    double share = law.mean / out->mean;
    out->mean_if_all_sound *= share;
    out->mean_after_clump_rot *= share;
    out->mean_after_division_rot *= share;
    out->mean = law.mean;
    out->variance_chance += law.variance - out->variance;
    out->variance = law.variance;
}

static double width_of(const cw_projection *p, const cohorts *c)
{
    cw_distribution d;
    cw_projection_law(p, c, &d, NULL);
    return (double)(cw_distribution_quantile(&d, 0.9) - cw_distribution_quantile(&d, 0.1));
}

/* What is left of a normal's spread after an observation of this information. */
static double left_of(double sd, double information)
{
    return 1.0 / sqrt(1.0 + sd * sd * information);
}

/* Divide `n` more clumps, the longest waiting first: they become so many divisions as is expected of them,
 * and the rate is known by a count of variance phi * mean: information mean / phi on its logarithm. */
static double width_after_dividing(const cw_projection *p, cohorts c, int64_t n)
{
    cw_stock run[2 * MOST_RUNS];
    size_t used = 0;
    double eta = 0.0, sd = 0.0, phi = 0.0, h = 0.0, h_sd = 0.0;
    cw_projection_predictor(p->in.rate, c.variety, &eta, &sd);
    for (size_t i = 0; i < p->in.rate->points; i++)
        phi += p->in.rate->point[i].weight * p->in.rate->point[i].dispersion;
    if (p->in.clump_rot != NULL)
        cw_projection_predictor(p->in.clump_rot, c.variety, &h, &h_sd);
    double sound_clumps = 0.0;
    for (size_t i = c.n; i-- > 0;) { /* within a lot the longest clocks come last */
        cw_stock s = c.at[i];
        if (s.stage == CW_CLUMP && n > 0) {
            int64_t take = s.count < n ? s.count : n;
            double sound = (double)take * (p->in.clump_rot != NULL ? exp(-exp(h) * s.clump_weeks) : 1.0);
            cw_stock made = s;
            made.stage = CW_DIVISION;
            made.count = (int64_t)(sound * exp(eta) + 0.5);
            made.clump_weeks = 0.0;
            run[used++] = made;
            s.count -= take;
            n -= take;
            sound_clumps += sound;
        }
        if (s.count > 0)
            run[used++] = s;
    }
    c.at = run;
    c.n = used;
    c.unknown[RATE] = left_of(sd, sound_clumps * exp(eta) / fmax(phi, 0.05));
    return width_of(p, &c);
}

/* Check `n` divisions that have waited longest: each tells rotten or not, information (h t)^2 (1 - r) / r on
 * log h with r its chance of rot; the sound ones start their clock anew. */
static double width_after_checking(const cw_projection *p, cohorts c, int64_t n)
{
    cw_stock run[2 * MOST_RUNS];
    size_t used = 0;
    double h = 0.0, sd = 0.0, information = 0.0;
    cw_projection_predictor(p->in.division_rot, c.variety, &h, &sd);
    for (size_t i = 0; i < c.n; i++) {
        cw_stock s = c.at[i];
        if (s.stage == CW_DIVISION && n > 0) {
            int64_t take = s.count < n ? s.count : n;
            double weeks = fmax(0.0, s.division_weeks - p->in.weeks_to_ship), risk = exp(h) * weeks;
            double rot = -expm1(-risk);
            if (rot > 0.0)
                information += (double)take * risk * risk * (1.0 - rot) / rot;
            cw_stock seen = s;
            seen.count = (int64_t)((double)take * (1.0 - rot) + 0.5);
            seen.division_weeks = s.division_weeks - weeks;
            run[used++] = seen;
            s.count -= take;
            n -= take;
        }
        if (s.count > 0)
            run[used++] = s;
    }
    c.at = run;
    c.n = used;
    c.unknown[DIVISION_ROT] = left_of(sd, information);
    return width_of(p, &c);
}

static void explain_shares(const cw_projection *p, const cohorts *c, cw_projection_why *out)
{
    double z = cw_normal_quantile(0.9), mean = 0.0, sd = 0.0, clump_weeks = 0.0, division_weeks = 0.0;
    for (size_t i = 0; i < c->n; i++) {
        double n = (double)c->at[i].count;
        if (c->at[i].stage == CW_CLUMP) {
            out->clumps += n;
            clump_weeks += n * cw_projection_weighed_weeks(p, CLUMP_ROT, &c->at[i]);
        } else {
            out->divisions += n;
            division_weeks += n * cw_projection_weighed_weeks(p, DIVISION_ROT, &c->at[i]);
        }
    }
    cw_projection_predictor(p->in.rate, c->variety, &mean, &sd);
    out->rate = exp(mean);
    out->rate_low = exp(mean - z * sd);
    out->rate_high = exp(mean + z * sd);
    out->clump_sound = out->clump_sound_low = out->clump_sound_high = 1.0;
    out->division_sound = out->division_sound_low = out->division_sound_high = 1.0;
    if (p->in.clump_rot != NULL && out->clumps > 0.0) {
        cw_projection_predictor(p->in.clump_rot, c->variety, &mean, &sd);
        double weeks = clump_weeks / out->clumps;
        out->clump_sound = exp(-exp(mean) * weeks);
        out->clump_sound_low = exp(-exp(mean + z * sd) * weeks);
        out->clump_sound_high = exp(-exp(mean - z * sd) * weeks);
    }
    if (p->in.division_rot != NULL && c->n > 0) {
        if (out->divisions <= 0.0) { /* none yet: what those to come will stand */
            for (size_t i = 0; i < c->n; i++)
                division_weeks +=
                    (double)c->at[i].count * cw_projection_weighed_weeks(p, DIVISION_ROT, &c->at[i]);
        }
        cw_projection_predictor(p->in.division_rot, c->variety, &mean, &sd);
        double weeks = division_weeks / fmax(1.0, out->divisions > 0.0 ? out->divisions : out->clumps);
        out->division_sound = exp(-exp(mean) * weeks);
        out->division_sound_low = exp(-exp(mean + z * sd) * weeks);
        out->division_sound_high = exp(-exp(mean - z * sd) * weeks);
    }
}

void cw_projection_explain(const cw_projection *p, size_t variety, cw_projection_why *out)
{
    memset(out, 0, sizeof *out);
    cohorts c = cw_projection_cohorts(p, variety);
    if (c.n == 0)
        return;
    explain_shares(p, &c, out);
    explain_mean(p, c, out);
    explain_variance(p, &c, out);
    explain_dead(p, &c, out);
    out->width_now = out->width_divide = out->width_check = width_of(p, &c);
    if (c.n > MOST_RUNS)
        return;
    out->divide = (int64_t)fmin(out->clumps, DIVIDE_MORE);
    out->check = p->in.division_rot != NULL ? (int64_t)fmin(out->divisions, CHECK_MORE) : 0;
    if (out->divide > 0)
        out->width_divide = fmin(out->width_now, width_after_dividing(p, c, out->divide));
    if (out->check > 0)
        out->width_check = fmin(out->width_now, width_after_checking(p, c, out->check));
}

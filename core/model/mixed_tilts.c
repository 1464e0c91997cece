/* SPDX-License-Identifier: MIT */
/* Exposures with tilts, and how the likelihood leans on them.
 *
 * A tilt scales the exposure of items ("dose"), so it moves an item's eta by x = d log dose / d tilt. With l', w = -l'' and
 * w' of an item by eta, v the variance of its lot's eta and p as in mixed_laplace.c,
 *     dL / d tilt = sum of x (l' - 1/2 v w' - w (Z Lambda p)),
 * as for the intercept. */
#include "model/mixed_inside.h"

#include <math.h>

#include "base/banned.h"

/* ((a + t)^k - a^k) / (k A^g), k = 1 + g, from the logs of a + t and a; *slope = d log of it / d g. */
static double aged(double g, double log_from, double log_to, bool from_new, double *slope)
{
    double k = 1 + g, high = exp(k * log_to), low = from_new ? 0 : exp(k * log_from),
           log_a = log(CW_TILT_WEEKS);
    *slope = (high * log_to - low * log_from) / (high - low) - 1 / k - log_a;
    return (high - low) / k * exp(-g * log_a);
}

bool cw_mixed_is_tilted(const mixed_model *m)
{
    for (int k = 0; k < CW_TILTS; k++)
        if (m->tilted[k])
            return true;
    return false;
}

static double dose_of(const mixed_theta *t, const mixed_item *i, bool ages, double *slope)
{
    double dose = i->exposure;
    *slope = 0;
    if (ages)
        dose = aged(t->tilt[CW_TILT_AGE], i->log_from, i->log_to, i->age <= 0, slope);
    if (i->of[0] != 0 || i->of[1] != 0)
        dose *= exp(t->tilt[i->of[0]] * i->x[0] + t->tilt[i->of[1]] * i->x[1]);
    return dose;
}

void cw_mixed_set_doses(mixed_work *w, const mixed_theta *t)
{
    const mixed_model *m = w->m;
    bool counts = m->family == CW_MIXED_COUNT, ages = m->tilted[CW_TILT_AGE];
    w->tilt_gain = 0;
    for (size_t j = 0; j < m->item_start[m->lots]; j++) {
        const mixed_item *i = &m->item[j];
        w->dose[j] = dose_of(t, i, ages, &w->dose_age[j]);
        if (counts)
            w->tilt_gain += i->count * (t->tilt[i->of[0]] * i->x[0] + t->tilt[i->of[1]] * i->x[1]);
    }
    for (size_t i = 0; i < m->lots && counts; i++) {
        double sum = 0;
        for (size_t j = m->item_start[i]; j < m->item_start[i + 1]; j++)
            sum += w->dose[j];
        w->exposure[i] = m->item_start[i + 1] > m->item_start[i] ? sum : m->exposure[i];
    }
}

static void count_item(mixed_work *w, size_t j, double rate, double phi)
{
    double mean = w->dose[j] * rate;
    w->item_slope[j] = (w->m->item[j].count - mean) / phi;
    w->item_weight[j] = w->item_third[j] = mean / phi;
}

static void cloglog_item(mixed_work *w, size_t j, double hazard)
{
    double x = w->dose[j] * hazard, r = w->m->item[j].count, sound = (w->m->item[j].trials - r) * x;
    double a = x / expm1(x), b = 1 - x - a, a1 = a * b;
    w->item_slope[j] = r * a - sound;
    w->item_weight[j] = sound - r * a1;
    w->item_third[j] = sound - r * (a1 * b - a * (x + a1));
}

void cw_mixed_item_slopes(mixed_work *w, double phi)
{
    const mixed_model *m = w->m;
    for (size_t i = 0; i < m->lots; i++) {
        double level = m->item_start[i + 1] > m->item_start[i] ? exp(w->eta[i]) : 0;
        for (size_t j = m->item_start[i]; j < m->item_start[i + 1]; j++) {
            if (m->family == CW_MIXED_COUNT)
                count_item(w, j, level, phi);
            else
                cloglog_item(w, j, level);
        }
    }
}

void cw_mixed_tilt_slopes(const mixed_work *w, double *out)
{
    const mixed_model *m = w->m;
    for (int k = 0; k < CW_TILTS; k++)
        out[k] = 0;
    for (size_t i = 0; i < m->lots; i++) {
        for (size_t j = m->item_start[i]; j < m->item_start[i + 1]; j++) {
            const mixed_item *item = &m->item[j];
            double lean =
                w->item_slope[j] - 0.5 * w->variance[i] * w->item_third[j] - w->item_weight[j] * w->x_eta[i];
            out[item->of[0]] += lean * item->x[0];
            out[item->of[1]] += lean * item->x[1];
            out[CW_TILT_AGE] += lean * w->dose_age[j]; /* "none" has x = 0, so nothing else is added there */
        }
    }
}

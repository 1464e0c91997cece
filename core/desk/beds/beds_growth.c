/* SPDX-License-Identifier: MIT */
/* What does one division planted give next spring? establishment x clumps sound at dividing x divisions per sound clump x divisions
 * sound at shipping, in a season of which nothing is known yet: the season's own effects are left out of the mean, and their spread
 * is in the doubt. Weeks in store are those of this season's lots. */
#include "desk/beds/beds_inside.h"

#include <math.h>

#include "base/banned.h"

#define WEEKS     20.0 /* from digging to shipping where no lot says it (common practice, no source) */
#define MOST_SD   1.0
#define LEAST_PHI 0.05

/* Half of the weeks from digging to shipping as a clump, half as a division: cutting goes on until shipping. */
static double weeks_in_store(const cw_forecast_data *d)
{
    double days = 0, lots = 0;
    for (size_t l = 0; l < d->lots; l++) {
        if (d->lot_variety[l] == CW_NONE || d->snapshot->lot[l].dug_on >= d->ship)
            continue;
        days += (double)(d->ship - d->snapshot->lot[l].dug_on);
        lots++;
    }
    return lots > 0 ? days / lots / 7 : WEEKS;
}

typedef struct spread {
    double mean, variance; /* of a log */
} spread;

/* A log rate or hazard without this season's own effects, and with the doubt of another season's. */
static spread another_season(double mean, double variance, const cw_mixed_hyper *h)
{
    const double *sd = h->sd;
    return (spread){ mean, fmax(0, variance) + sd[CW_TERM_SEASON] * sd[CW_TERM_SEASON] +
                               sd[CW_TERM_CELL] * sd[CW_TERM_CELL] + sd[CW_TERM_LOT] * sd[CW_TERM_LOT] };
}

static spread rate_of(const cw_forecast *f, size_t v)
{
    cw_rate_why w;
    cw_rate_explain(f->learned.rate, v, &w);
    return another_season(w.nursery.mean + w.form.mean + w.size.mean + w.history.mean,
                          w.nursery.share + w.form.share + w.size.share + w.history.share,
                          &cw_rate_report(f->learned.rate)->hyper);
}

/* Share sound after `weeks`, and the variance of its log. */
static double sound_after(const cw_forecast *f, size_t v, cw_rot_stage stage, double weeks,
                          double *log_variance)
{
    cw_mixed_why w;
    cw_rot_explain(f->learned.rot, stage, v, &w);
    spread s = another_season(w.intercept.mean + w.form.mean + w.size.mean + w.variety.mean,
                              w.intercept.share + w.form.share + w.size.share + w.variety.share,
                              &cw_rot_report(f->learned.rot, stage)->hyper);
    double lost = exp(s.mean + fmin(s.variance, 2) / 2) * weeks;
    *log_variance += lost * lost * expm1(fmin(s.variance, 2));
    return exp(-lost);
}

/* Share of divisions not shrivelled by shipping, as this season's rooms dry; of the lots together. */
static double not_shrivelled(const cw_forecast *f, double weeks)
{
    const cw_forecast_data *d = f->data;
    double sum = 0, lots = 0;
    for (size_t l = 0; l < d->lots; l++) {
        double drying = cw_forecast_data_drying(d, l, d->ship - (cw_day)lround(7 * weeks), d->ship);
        cw_shrink_stretch stretch = cw_shrink_between(f->learned.shrink, l, 0, drying);
        sum += cw_shrink_sound(&stretch, 0);
        lots++;
    }
    return lots > 0 ? sum / lots : 1;
}

cw_code cw_beds_growth_of(cw_nursery *n, const cw_forecast *f, cw_beds_growth *out, cw_error *err)
{
    double weeks = weeks_in_store(f->data) / 2, dry = not_shrivelled(f, weeks);
    cw_code code = cw_forecast_establishment(n, f, (cw_go_on){ 0 }, err);
    for (size_t v = 0; code == CW_OK && v < f->data->varieties; v++) {
        cw_beds_growth *g = &out[v];
        double log_sd = 0, variance = 0;
        spread rate = rate_of(f, v);
        /* dug sound of planted, as past plantings and this season's walks teach it; without any, the settings' */
        cw_establish_another(f->establish, v, &g->establishment, &log_sd);
        g->rate = exp(rate.mean + rate.variance / 2);
        g->clump_sound = sound_after(f, v, CW_ROT_CLUMP, weeks, &variance);
        g->division_sound = dry * sound_after(f, v, CW_ROT_DIVISION, weeks, &variance);
        double clump = g->establishment * g->clump_sound, sound = g->division_sound;
        double phi = cw_rate_report(f->learned.rate)->hyper.phi;
        g->mean = fmin(100, clump * g->rate * sound);
        g->sd = fmin(MOST_SD, sqrt(log_sd * log_sd + rate.variance + variance));
        /* of a plant: clump or none, divisions of a clump, each sound or not */
        g->dispersion = fmax(LEAST_PHI, 1 + sound * (phi - 1) + sound * g->rate * (1 - clump));
    }
    return code;
}

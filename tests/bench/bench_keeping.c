/* SPDX-License-Identifier: MIT */
/* Ten years in invented nurseries: what is kept for planting by the plan of a nursery that lives through the program itself, from dug
 * clumps to the next season's file (keeping_desk.h), and learns demand, division rates, losses and what comes of plants as the years go
 * by; by three rules of thumb; by the same programme
 * with the true hyper-parameters, which has seen no more of a variety than the nursery has (and exactly how many were asked for when it
 * sold out); and by one that knows every true figure of the world from the first day, which nobody can.
 * Each lives through the same demand, the same seasons and the same luck of the clumps. Prints "name value unit".
 *
 *     bench_keeping [NURSERIES [FIRST]]
 *
 * On stderr a line for each nursery as it is done: its seed, and what each of the policies earned of what the programme with the true
 * hyper-parameters did.
 *
 * The world: plants come to be dug with a chance of the nursery's own, clumps give divisions by a rate of variety, season and both,
 * divisions keep by a chance; demand is negative binomial about a mean of the variety. A fifth of the varieties are new: five
 * divisions, no past, and the owner's own estimate of what will be asked for, which is taken back once there are sales of TRUSTED seasons. In half of the nurseries the beds hold less than would be planted. The last spring all is sold. */
#include "base/rng.h"
#include "bench/keeping_desk.h"
#include "model/keep.h"
#include "model/rate.h"
#include "model/sampler.h"
#include "model/special.h"
#include "model/trend.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define VARIETIES 16
#define YEARS     10
#define PAST      4
#define AHEAD     6
#define SEASONS   (PAST + YEARS + 1)
#define TRUSTED   3
/* What varieties are drawn from: both log-uniform; and how far off an owner's estimate lies, by its logarithm. */
#define DEMAND_LOW  15.0
#define DEMAND_HIGH 160.0
#define RATE_LOW    2.5
#define RATE_HIGH   6.5
#define GUESS_SD    0.3
#define DISCOUNT    0.93
#define COST        100.0

typedef enum policy { OURS, HYPER, KNOWING, QUARTER, FORMULA, LAST_YEAR, POLICIES } policy;
static const char *const names[] = {
    "ours", "hyper", "knowing", "keep_25_percent", "demand_by_growth_less_1", "last_years_number"
};

typedef struct world {
    double establishment, sound, phi, season_sd, cell_sd, alpha;
    double demand[VARIETIES], rate[VARIETIES], margin[VARIETIES];
    double estimate[VARIETIES]; /* the owner's, of demand; said of new varieties, and 0 of others */
    int64_t start[VARIETIES], asked[VARIETIES][SEASONS];
    double places;
    uint64_t seed;
} world;

/* What a nursery has seen and has. */
typedef struct life {
    policy by;
    int64_t have[VARIETIES], kept[VARIETIES];
    cw_rate_row row[VARIETIES * SEASONS];
    size_t rows;
    cw_sales sale[VARIETIES * SEASONS];
    cw_trend_row trend[VARIETIES * SEASONS];
    size_t sales;
    cw_rate *fit;
    lived desk; /* of OURS: its files */
    double earned;
} life;

static double between(cw_rng *r, double low, double high)
{
    return low + (high - low) * cw_rng_uniform(r);
}

static cw_rng luck(const world *w, int what, int v, int season)
{
    cw_rng r;
    cw_rng_init(&r, w->seed, 1000003ULL * (uint64_t)what + 1009ULL * (uint64_t)v + (uint64_t)season + 7);
    return r;
}

/* What `plants` of a variety give in a season: the same luck for every policy. */
static lived_grown grown(const world *w, int v, int season, int64_t plants)
{
    lived_grown g = { .plants = plants };
    cw_rng s = luck(w, 1, 0, season), c = luck(w, 2, v, season), r = luck(w, 3, v, season);
    double rate = w->rate[v] * exp(w->season_sd * cw_draw_normal(&s) + w->cell_sd * cw_draw_normal(&c));
    g.clumps = cw_draw_binomial(&r, plants, w->establishment);
    g.divisions = g.clumps > 0 ? cw_draw_ab0(&r, (double)g.clumps * rate, w->phi) : 0;
    g.sound = cw_draw_binomial(&r, g.divisions, w->sound);
    return g;
}

static double true_growth(const world *w, int v)
{
    double sd2 = w->season_sd * w->season_sd + w->cell_sd * w->cell_sd;
    return w->establishment * w->rate[v] * exp(sd2 / 2) * w->sound;
}

static void make(world *w, uint64_t seed)
{
    cw_rng r;
    *w = (world){ .seed = seed, .phi = 1.3, .season_sd = 0.15, .cell_sd = 0.1, .alpha = 0.08 };
    cw_rng_init(&r, seed, 0);
    w->establishment = between(&r, 0.78, 0.9);
    w->sound = between(&r, 0.8, 0.92);
    for (int v = 0; v < VARIETIES; v++) {
        w->demand[v] = exp(between(&r, log(DEMAND_LOW), log(DEMAND_HIGH)));
        w->rate[v] = exp(between(&r, log(RATE_LOW), log(RATE_HIGH)));
        w->margin[v] = floor(between(&r, 300, 900)); /* whole cents, as prices are */
        double guess = w->demand[v] * exp(GUESS_SD * cw_draw_normal(&r));
        w->estimate[v] = v % 5 == 0 ? guess : 0;
        w->start[v] = v % 5 == 0 ? 5 : (int64_t)(w->demand[v] * between(&r, 0.4, 1.6));
        for (int t = 0; t < SEASONS; t++) {
            cw_rng d = luck(w, 4, v, t);
            w->asked[v][t] = cw_draw_negbin(&d, 1 / w->alpha, w->demand[v]);
        }
        w->places += w->demand[v] / (true_growth(w, v) - 1);
    }
    w->places = seed % 2 ? floor(w->places * between(&r, 0.7, 1.1)) : -1;
}

/* Seasons before the first: what was sold and divided, with stock enough. New varieties have none. */
static void begin(const world *w, policy by, life *l)
{
    *l = (life){ .by = by };
    if (by == OURS)
        lived_begin(&l->desk, w->seed, w->margin, VARIETIES);
    for (int v = 0; v < VARIETIES; v++) {
        l->have[v] = w->start[v];
        l->kept[v] = (int64_t)(0.25 * (double)w->start[v]);
        for (int t = 0; v % 5 != 0 && t < PAST; t++) {
            const lived_grown g = grown(w, v, t, 25);
            if (g.clumps > 0)
                l->row[l->rows++] = (cw_rate_row){ v, t, -1, g.clumps, g.divisions };
            if (by == OURS)
                lived_past(&l->desk, v, t, &g, w->asked[v][t]);
            l->sale[l->sales] = (cw_sales){ .variety = (size_t)v, .sold = w->asked[v][t] };
            l->trend[l->sales++] = (cw_trend_row){ (size_t)v, t, w->asked[v][t], false };
        }
    }
    const lived_terms terms = { COST, DISCOUNT, w->places, AHEAD };
    if (by == OURS)
        lived_open(&l->desk, PAST, &terms, l->have);
}

static void must(cw_code code, const cw_error *err)
{
    if (code == CW_OK)
        return;
    fprintf(stderr, "bench_keeping: %s\n", err->text);
    exit(3);
}

/* The owner's estimate of demand that stands in a season; 0: none. */
static double said_of(const world *w, int v, int season)
{
    return season < PAST + TRUSTED ? w->estimate[v] : 0;
}

typedef struct knowledge {
    double demand[VARIETIES], growth[VARIETIES], sd[VARIETIES], phi[VARIETIES];
    cw_distribution law[VARIETIES][2]; /* this season's demand, and a later one's */
} knowledge;

static void know_truth(const world *w, knowledge *k)
{
    for (int v = 0; v < VARIETIES; v++) {
        cw_demand d = { .known = true, .mean = w->demand[v] };
        d.variance = d.mean + w->alpha * d.mean * d.mean;
        cw_demand_law(&d, &k->law[v][0]);
        k->law[v][1] = k->law[v][0];
        k->demand[v] = d.mean;
        k->growth[v] = true_growth(w, v);
        k->sd[v] = sqrt(w->season_sd * w->season_sd + w->cell_sd * w->cell_sd);
        k->phi[v] = 1 + w->sound * (w->phi - 1) + w->sound * w->rate[v] * (1 - w->establishment);
    }
}

#define GRID 80

static double grid_at(double low, double high, int i)
{
    return exp(log(low) + (log(high) - log(low)) * (i + 0.5) / GRID);
}

typedef struct belief {
    double mean, variance, log_variance;
} belief;

/* Of a figure that is log-uniform from low to high, by logs of likelihood on the grid. */
static belief believed(double low, double high, const double *log_chance)
{
    double top = -INFINITY, sum = 0, at[3] = { 0 };
    for (int i = 0; i < GRID; i++)
        top = fmax(top, log_chance[i]);
    for (int i = 0; i < GRID; i++) {
        double x = grid_at(low, high, i), chance = exp(log_chance[i] - top);
        sum += chance;
        at[0] += chance * x;
        at[1] += chance * x * x;
        at[2] += chance * log(x) * log(x);
    }
    double mean = at[0] / sum, log_mean = 0;
    for (int i = 0; i < GRID; i++)
        log_mean += exp(log_chance[i] - top) / sum * log(grid_at(low, high, i));
    return (belief){ mean, at[1] / sum - mean * mean, fmax(0, at[2] / sum - log_mean * log_mean) };
}

/* What can be known of variety v before a season if the laws that it was drawn from are known: how many were asked for in each
 * season gone by, the owner's estimate and how far such ones lie off, what clumps gave. */
static void know_variety(const world *w, const life *l, int v, int season, belief *demand, belief *rate)
{
    double asked[GRID] = { 0 }, cut[GRID] = { 0 };
    double other = w->season_sd * w->season_sd + w->cell_sd * w->cell_sd;
    for (int i = 0; i < GRID; i++) {
        double mean = grid_at(DEMAND_LOW, DEMAND_HIGH, i);
        if (w->estimate[v] > 0)
            asked[i] -= pow(log(w->estimate[v] / mean) / GUESS_SD, 2) / 2;
        for (int t = w->estimate[v] > 0 ? PAST : 0; t < season; t++)
            asked[i] += log(cw_negbin_pmf(w->asked[v][t], 1 / w->alpha, mean));
        double of_clump = grid_at(RATE_LOW, RATE_HIGH, i);
        for (size_t r = 0; r < l->rows; r++) {
            const cw_rate_row *row = &l->row[r];
            double expected = (double)row->clumps * of_clump, variance = other + w->phi / expected;
            if (row->variety == v)
                cut[i] -=
                    pow(log(((double)row->divisions + 0.5) / expected), 2) / variance / 2 + log(variance) / 2;
        }
    }
    *demand = believed(DEMAND_LOW, DEMAND_HIGH, asked);
    *rate = believed(RATE_LOW, RATE_HIGH, cut);
}

static void know_hyper(const world *w, const life *l, int season, knowledge *k)
{
    double other = w->season_sd * w->season_sd + w->cell_sd * w->cell_sd;
    for (int v = 0; v < VARIETIES; v++) {
        belief demand, rate;
        know_variety(w, l, v, season, &demand, &rate);
        cw_demand d = { .known = true, .mean = demand.mean };
        d.variance = d.mean + w->alpha * (d.mean * d.mean + demand.variance) + demand.variance;
        cw_demand_law(&d, &k->law[v][0]);
        k->law[v][1] = k->law[v][0];
        k->demand[v] = d.mean;
        k->growth[v] = w->establishment * rate.mean * exp(other / 2) * w->sound;
        k->sd[v] = sqrt(other + rate.log_variance);
        k->phi[v] = 1 + w->sound * (w->phi - 1) + w->sound * rate.mean * (1 - w->establishment);
    }
}

/* For the rules of thumb: the fitted rate of another season, stated shares for the rest. */
static void learn(const world *w, life *l, int season, knowledge *k)
{
    cw_error err = CW_ERROR_NONE;
    cw_rate *fit = NULL;
    cw_demand demand[VARIETIES];
    cw_trend trend[VARIETIES];
    const cw_rate_data data = { .rows = l->row,
                                .n_rows = l->rows,
                                .varieties = VARIETIES,
                                .seasons = (size_t)season + 1,
                                .season = season };
    must(cw_rate_fit(&data, l->fit, &fit, &err), &err);
    cw_rate_free(l->fit);
    l->fit = fit;
    must(cw_demand_fit(l->sale, l->sales, VARIETIES, 0, demand, NULL, &err), &err);
    must(cw_trend_fit(l->trend, l->sales, VARIETIES, season, trend, &err), &err);
    const cw_mixed_hyper *h = &cw_rate_report(fit)->hyper;
    for (int v = 0; v < VARIETIES; v++) {
        cw_rate_why why;
        cw_demand d[2];
        cw_rate_explain(fit, (size_t)v, &why);
        double variance = fmax(0, why.nursery.share + why.form.share + why.size.share + why.history.share) +
                          h->sd[CW_TERM_SEASON] * h->sd[CW_TERM_SEASON] +
                          h->sd[CW_TERM_CELL] * h->sd[CW_TERM_CELL] + h->sd[CW_TERM_LOT] * h->sd[CW_TERM_LOT];
        double rate = exp(why.nursery.mean + why.form.mean + why.size.mean + why.history.mean + variance / 2);
        k->growth[v] = 0.85 * rate * 0.86;
        k->sd[v] = fmin(1, sqrt(variance + 0.12 * 0.12));
        k->phi[v] = fmax(0.05, 1 + 0.86 * (h->phi - 1) + 0.86 * rate * 0.15);
        for (int t = 0; t < 2; t++)
            if (said_of(w, v, season) <= 0)
                cw_trend_ahead(&trend[v], &demand[v], t * 2, &d[t]);
            else /* the owner's guess, half to twice, 8 in 10 sure */
                d[t] = (cw_demand){ .known = true,
                                    .mean = w->estimate[v],
                                    .variance = pow(0.5 * w->estimate[v], 2) + w->estimate[v] };
        k->demand[v] = d[0].mean;
        cw_demand_law(&d[0], &k->law[v][0]);
        cw_demand_law(&d[1], &k->law[v][1]);
    }
}

/* How many to keep, and up to how many what is left over is planted. */
static void decide_by_model(const world *w, const life *l, const knowledge *k, int64_t *keep, int64_t *upto)
{
    static cw_distribution sound[VARIETIES];
    static const cw_distribution *year[VARIETIES][AHEAD + 1];
    cw_keep_ask ask[VARIETIES];
    cw_keep out[VARIETIES];
    cw_keep_beds beds;
    cw_error err = CW_ERROR_NONE;
    for (int v = 0; v < VARIETIES; v++) {
        cw_distribution_point(&sound[v], l->have[v]);
        for (int t = 0; t <= AHEAD; t++)
            year[v][t] = &k->law[v][t > 0];
        ask[v] = (cw_keep_ask){ .sound = &sound[v],
                                .demand = year[v],
                                .seasons = AHEAD,
                                .growth = fmin(100, k->growth[v]),
                                .growth_sd = k->sd[v],
                                .growth_dispersion = k->phi[v],
                                .margin = w->margin[v],
                                .cost = COST,
                                .discount = DISCOUNT,
                                .typed = -1,
                                .places = w->places < 0 ? CW_KEEP_PLACES : (int64_t)w->places };
    }
    must(cw_keep_nursery(ask, VARIETIES, w->places, 0, (cw_go_on){ 0 }, out, &beds, &err), &err);
    for (int v = 0; v < VARIETIES; v++) {
        keep[v] = out[v].best.keep < l->have[v] ? out[v].best.keep : l->have[v];
        upto[v] = out[v].plant_up_to;
    }
}

static void decide(const world *w, life *l, int season, int64_t *keep, int64_t *upto)
{
    static knowledge k;
    if (l->by == OURS) {
        double estimate[VARIETIES];
        for (int v = 0; v < VARIETIES; v++)
            estimate[v] = said_of(w, v, season);
        lived_estimate(&l->desk, estimate);
        lived_plan(&l->desk, l->have, keep);
        return;
    }
    if (l->by == KNOWING || l->by == HYPER) {
        if (l->by == KNOWING)
            know_truth(w, &k);
        else
            know_hyper(w, l, season, &k);
        decide_by_model(w, l, &k, keep, upto);
        return;
    }
    learn(w, l, season, &k);
    double sum = 0;
    for (int v = 0; v < VARIETIES; v++) {
        double figure = l->by == QUARTER   ? 0.25 * (double)l->have[v]
                        : l->by == FORMULA ? k.demand[v] / fmax(0.2, k.growth[v] - 1)
                                           : (double)l->kept[v];
        keep[v] = (int64_t)fmin((double)l->have[v], round(figure));
        sum += (double)keep[v];
    }
    for (int v = 0; v < VARIETIES; v++) { /* beds that do not suffice: each its share */
        if (w->places >= 0 && sum > w->places)
            keep[v] = (int64_t)((double)keep[v] * w->places / sum);
        upto[v] = keep[v];
    }
}

/* What is sold of a season, and what of it anybody could know afterwards. */
static void sell(const world *w, life *l, int season, const int64_t *keep, double discount)
{
    int64_t asked[VARIETIES], desk[VARIETIES];
    for (int v = 0; v < VARIETIES; v++)
        asked[v] = w->asked[v][season];
    if (l->by == OURS)
        lived_sell(&l->desk, asked, desk);
    for (int v = 0; v < VARIETIES; v++) {
        int64_t sale = l->have[v] - keep[v], sold = sale < asked[v] ? sale : asked[v];
        bool out = sold < asked[v];
        if (l->by == OURS && desk[v] != sold) {
            fprintf(stderr,
                    "bench_keeping: V%02d: the desk sold %lld where %lld were for sale and asked for\n", v,
                    (long long)desk[v], (long long)sold);
            exit(3);
        }
        l->earned += discount * w->margin[v] * (double)sold;
        l->sale[l->sales] = (cw_sales){ .variety = (size_t)v,
                                        .sold = sold,
                                        .sold_out = out,
                                        .share = out ? fmax(0.01, (double)sold / (double)asked[v]) : 0,
                                        .sure = out ? 30 : 0 };
        l->trend[l->sales++] = (cw_trend_row){ (size_t)v, season, sold, out };
        l->have[v] -= sold;
    }
}

/* What is kept is planted, and of what is left unsold as much as is worth it and has a place. */
static void plant(const world *w, life *l, int season, const int64_t *keep, const int64_t *upto,
                  double discount)
{
    lived_grown g[VARIETIES];
    double left = w->places < 0 ? 1e9 : w->places;
    for (int v = 0; v < VARIETIES; v++)
        left -= (double)keep[v];
    for (int v = 0; v < VARIETIES; v++) {
        int64_t more = (upto[v] < l->have[v] ? upto[v] : l->have[v]) - keep[v];
        more = more > 0 ? more : 0;
        more = (double)more < left ? more : left > 0 ? (int64_t)left : 0;
        left -= (double)more;
        g[v] = grown(w, v, season, keep[v] + more);
        l->earned -= discount * COST * (double)g[v].plants;
        l->kept[v] = keep[v];
        l->have[v] = g[v].sound;
        if (g[v].clumps > 0)
            l->row[l->rows++] = (cw_rate_row){ v, season, -1, g[v].clumps, g[v].divisions };
    }
    if (l->by == OURS)
        lived_turn(&l->desk, g);
}

static void live(const world *w, life *l)
{
    double discount = 1;
    for (int year = 0; year <= YEARS; year++, discount *= DISCOUNT) {
        int season = PAST + year;
        int64_t keep[VARIETIES] = { 0 }, upto[VARIETIES] = { 0 };
        if (year < YEARS)
            decide(w, l, season, keep, upto);
        else if (l->by == OURS)
            lived_plan(&l->desk, l->have, NULL);
        sell(w, l, season, keep, discount);
        if (year < YEARS && l->by == OURS)
            lived_worth(&l->desk, upto);
        if (year < YEARS)
            plant(w, l, season, keep, upto, discount);
    }
    if (l->by == OURS)
        lived_end(&l->desk);
}

int main(int argc, char **argv)
{
    int nurseries = argc > 1 ? (int)strtol(argv[1], NULL, 10) : 60, ahead[POLICIES] = { 0 };
    int first = argc > 2 ? (int)strtol(argv[2], NULL, 10) : 0;
    double share[POLICIES] = { 0 }, least = 1e9, earned[POLICIES];
    life *l = calloc(1, sizeof *l);
    if (l == NULL || nurseries < 1)
        return 3;
    for (int i = 0; i < nurseries; i++) {
        world w;
        make(&w, 20320000 + (uint64_t)(first + i));
        for (int p = 0; p < POLICIES; p++) {
            begin(&w, (policy)p, l);
            live(&w, l);
            earned[p] = l->earned;
            cw_rate_free(l->fit);
        }
        for (int p = 0; p < POLICIES; p++) {
            share[p] += earned[p] / earned[HYPER] / nurseries;
            ahead[p] += earned[OURS] > earned[p];
        }
        least = fmin(least, earned[OURS] / earned[HYPER]);
        fprintf(stderr, "%llu", (unsigned long long)w.seed);
        for (int p = 0; p < POLICIES; p++)
            fprintf(stderr, " %s %.4f", names[p], earned[p] / earned[HYPER]);
        fprintf(stderr, "\n");
    }
    for (int p = 0; p < POLICIES; p++)
        if (p != HYPER)
            printf("keeping_%s %.4f of_hyper\n", names[p], share[p]);
    printf("keeping_ours_least %.4f of_hyper\n", least);
    for (int p = QUARTER; p < POLICIES; p++)
        printf("keeping_ahead_of_%s %.0f %%\n", names[p], 100.0 * ahead[p] / nurseries);
    printf("keeping_nurseries %d nurseries\n", nurseries);
    free(l);
    return 0;
}
